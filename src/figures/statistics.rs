//! From single prints to estimates with intervals.
//!
//! The independent unit is the print. Intervals are at 95 %.

use super::joined::HEIGHT_PRINTS;
use super::percentile::percentile;
use super::rows::{Estimate, FigureRow, Measured};
use motefall_physics::figure_kinds::{FigureKind, Law};
use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, StudentsT};

/// Confidence of every interval.
pub(crate) const CONFIDENCE: f64 = 0.95;
/// Fewest prints of which a distribution is given: with 20 the 5th percentile is about the lowest print.
pub(crate) const FEWEST_PRINTS: usize = 20;
/// Two-sided 95 % quantile of the normal distribution (from memory: 1.959964).
const NORMAL_95: f64 = 1.959_963_984_540_054;

/// A figure at a place: the region or path item, `None` for the whole print.
pub type FigureAt = (&'static FigureKind, Option<String>);

/// Wilson's interval of a share, `hits` of `n`, at the two-sided normal quantile `z` (1.96 for 95 %).
///
/// (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n), p = hits/n. Any hits and n; `n` = 0 gives 0 to 1.
/// Source: Wilson 1927, Probable inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22:209.
pub fn wilson(hits: u32, n: u32, z: f64) -> [f64; 2] {
    debug_assert!(hits <= n);
    if n == 0 {
        return [0.0, 1.0];
    }
    let count = f64::from(n);
    let share = f64::from(hits) / count;
    let middle = share + z * z / (2.0 * count);
    let half = z * (share * (1.0 - share) / count + z * z / (4.0 * count * count)).sqrt();
    let scale = 1.0 + z * z / count;
    // At the ends the closed form is 0 or 1 but for rounding.
    let low = if hits == 0 { 0.0 } else { ((middle - half) / scale).max(0.0) };
    let high = if hits == n { 1.0 } else { ((middle + half) / scale).min(1.0) };
    [low, high]
}

/// Wilson's interval at 95 %.
pub fn wilson_95(hits: u32, n: u32) -> [f64; 2] {
    wilson(hits, n, NORMAL_95)
}

/// Largest probability that still gives no hit in `n` prints with 5 % chance: 1 - 0.05^(1/n), about 3/n.
///
/// Source: Hanley & Lippman-Hand 1983, If nothing goes wrong, is everything all right?, J. Am. Med. Assoc. 249:1743.
pub fn zero_hit_bound(n: u32) -> f64 {
    if n == 0 { 1.0 } else { 1.0 - (1.0 - CONFIDENCE).powf(1.0 / f64::from(n)) }
}

/// Lower and upper bound of a share, `hits` of `n`, each of which holds by itself with the probability 1 - `tail`.
///
/// The lower one is the `tail` quantile of Beta(hits, n - hits + 1), 0 without a hit; the upper one the 1 - `tail` quantile of
/// Beta(hits + 1, n - hits), 1 if all are hits. Both grow with the hits. `hits` and `n` may be fractions, for planning; `n` = 0 gives
/// 0 to 1.
/// Source: Clopper & Pearson 1934, The use of confidence or fiducial limits illustrated in the case of the binomial, Biometrika 26:404.
pub fn share_bounds(hits: f64, n: f64, tail: f64) -> [f64; 2] {
    debug_assert!((0.0..=n).contains(&hits));
    let quantile = |a: f64, b: f64, share: f64| Beta::new(a, b).map_or(f64::NAN, |law| law.inverse_cdf(share));
    let low = if hits > 0.0 { quantile(hits, n - hits + 1.0, tail) } else { 0.0 };
    let high = if hits == 0.0 && n > 0.0 {
        // In closed form, as in [`zero_hit_bound`].
        1.0 - tail.powf(1.0 / n)
    } else if hits < n {
        quantile(hits + 1.0, n - hits, 1.0 - tail)
    } else {
        1.0
    };
    [low, high]
}

/// Exact 95 % interval of a Poisson mean from one count (a fraction for scaled counts): chi-square quantiles, chi2(0.025; 2k)/2 to chi2(0.975; 2k + 2)/2.
///
/// Source: Garwood 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437.
pub(crate) fn garwood(count: f64) -> [f64; 2] {
    let tail = 0.5 * (1.0 - CONFIDENCE);
    let half_quantile =
        |freedom: f64, share: f64| ChiSquared::new(freedom).map_or(f64::NAN, |law| 0.5 * law.inverse_cdf(share));
    let low = if count <= 0.0 { 0.0 } else { half_quantile(2.0 * count, tail) };
    [low, half_quantile(2.0 * count + 2.0, 1.0 - tail)]
}

/// Mean, 95 % t-interval of the mean and standard deviation of prints; `None` without values. No figure can be negative, so the
/// interval is cut at 0.
///
/// Source: Student 1908, The probable error of a mean, Biometrika 6:1.
pub fn estimate(values: &[f64]) -> Option<Estimate> {
    let first = *values.first()?;
    let n = values.len();
    // Counted from the first value, equal values have exactly that mean and no spread at all.
    let mean = first + values.iter().map(|v| v - first).sum::<f64>() / n as f64;
    if n == 1 {
        return Some(Estimate { mean, interval: None, sd: None, n: 1, at_least: 0, extremes: None });
    }
    let sd = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    let quantile =
        StudentsT::new(0.0, 1.0, (n - 1) as f64).map_or(f64::NAN, |law| law.inverse_cdf(0.5 + 0.5 * CONFIDENCE));
    let half = quantile * sd / (n as f64).sqrt();
    Some(Estimate {
        mean,
        interval: Some([(mean - half).max(0.0), mean + half]),
        sd: Some(sd),
        n: n as u32,
        at_least: 0,
        extremes: None,
    })
}

/// 95 % interval of the median of any continuous law: between the r-th lowest and the r-th highest of sorted values, for the largest r at
/// which as few as r of n lie below the median with at most 2.5 % chance: `P(Bin(n, 1/2) < r) <= 0.025`. `None` of fewer than six values.
///
/// Source: Thompson 1936, On confidence ranges for the median and other expectation distributions, Ann. Math. Stat. 7:122.
pub(crate) fn median_interval(sorted: &[f64]) -> Option<[f64; 2]> {
    debug_assert!(sorted.is_sorted());
    let n = sorted.len();
    // P(Bin(n, 1/2) < r) is the law of the r-th of n even numbers, Beta(r, n - r + 1), above one half.
    let beyond = |r: usize| Beta::new(r as f64, (n + 1 - r) as f64).map_or(1.0, |law| law.sf(0.5));
    let rank = (1..=n / 2).take_while(|r| beyond(*r) <= 0.5 * (1.0 - CONFIDENCE)).last()?;
    Some([sorted[rank - 1], sorted[n - rank]])
}

/// One figure over prints, with a remark where the interval is not the plain one. Of lower bounds only their mean is known.
pub(crate) fn over_prints(kind: &FigureKind, measured: &[Measured]) -> (Option<Estimate>, Option<String>) {
    let values: Vec<f64> = measured.iter().map(|value| value.value()).collect();
    let bounds = measured.iter().filter(|value| matches!(value, Measured::AtLeast(_))).count() as u32;
    let (estimate, note) = over_values(kind, &values);
    if bounds == 0 {
        return (estimate, note);
    }
    let estimate = estimate.map(|e| Estimate { interval: None, sd: None, at_least: bounds, ..e });
    let of = if bounds < values.len() as u32 {
        format!(" in {bounds} of {}", prints(values.len() as u32))
    } else {
        String::new()
    };
    (estimate, Some(format!("a lower bound{of}")))
}

/// The same of values that are all known.
fn over_values(kind: &FigureKind, values: &[f64]) -> (Option<Estimate>, Option<String>) {
    let n = values.len() as u32;
    if let (Law::ShareOfPrints(yes), 1..) = (kind.law, n) {
        let hits = values.iter().filter(|value| **value > 0.0).count() as u32;
        if hits == 0 {
            let bound = zero_hit_bound(n);
            let note = format!("no {yes} in {}: upper bound", prints(n));
            return (
                Some(Estimate { mean: bound, interval: Some([0.0, bound]), sd: None, n, at_least: 0, extremes: None }),
                Some(note),
            );
        }
        let share = f64::from(hits) / f64::from(n);
        return (
            Some(Estimate {
                mean: share,
                interval: Some(wilson_95(hits, n)),
                sd: None,
                n,
                at_least: 0,
                extremes: None,
            }),
            None,
        );
    }
    let Some(mut estimate) = estimate(values) else { return (None, None) };
    if kind.is_extreme() && n > 1 {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        estimate.extremes = Some([percentile(&sorted, 0.5), sorted[sorted.len() - 1]]);
        // One print in ten may set the mean, so that no interval from the scatter of the prints holds it.
        estimate.interval = median_interval(&sorted);
    }
    if kind.is_count() && estimate.mean == 0.0 {
        // The sum over prints is 0: one-sided bound of a Poisson mean, -ln 0.05 = 3.0, shared by the prints.
        estimate.interval = Some([0.0, -(1.0 - CONFIDENCE).ln() / f64::from(n)]);
        return (
            Some(estimate),
            Some(format!(
                "none in {}: the interval ends at the upper bound for particles that arrive singly",
                prints(n)
            )),
        );
    }
    if kind.law == Law::RareCount && n == 1 {
        estimate.interval = Some(garwood(estimate.mean));
        return (
            Some(estimate),
            Some("one print: counting interval for particles that arrive singly (Garwood 1936)".into()),
        );
    }
    if estimate.mean == 0.0 {
        estimate.interval = None;
        return (Some(estimate), (n > 1).then(|| format!("0 in each of {}: no interval", prints(n))));
    }
    (Some(estimate), None)
}

fn prints(n: u32) -> String {
    if n == 1 { "1 print".into() } else { format!("{n} prints") }
}

/// Estimates over prints; `per_print[print][place]`.
///
/// A probability without a hit is given as its upper bound (mean and upper end; the lower end is 0). One print has no interval, except
/// for coarse particles, which are few enough to arrive singly: other counts and masses come several to a droplet, and a Poisson
/// interval of the particle count would be too narrow ([`super::measure::Measurer::over_prints`] gives a better one).
pub fn estimates_only<M: Into<Measured> + Copy>(places: &[FigureAt], per_print: &[Vec<Option<M>>]) -> Vec<FigureRow> {
    places
        .iter()
        .enumerate()
        .map(|(index, (kind, place))| {
            let values: Vec<Measured> = per_print.iter().filter_map(|print| print[index].map(Into::into)).collect();
            let (estimate, note) = over_prints(kind, &values);
            let (first, later) = per_print.split_at(per_print.len().min(HEIGHT_PRINTS as usize));
            let of_first_alone = kind.needs_heights() && later.iter().all(|print| print[index].is_none());
            let looked_at = if of_first_alone { first.len() } else { per_print.len() };
            let missing = looked_at - values.len();
            let gaps = (missing > 0).then(|| format!("no value in {missing} of {}", prints(looked_at as u32)));
            let part = (of_first_alone && !later.is_empty()).then(|| {
                format!(
                    "of the first {} only, for the time it takes; a limit on it has all looked at",
                    prints(looked_at as u32)
                )
            });
            let notes: Vec<String> = [note, gaps, part].into_iter().flatten().collect();
            let note = (!notes.is_empty() && !values.is_empty()).then(|| notes.join("; "));
            FigureRow {
                kind,
                place: place.clone(),
                estimate,
                note,
                expected: None,
                controlled: None,
                from_unknown: None,
                distribution: None,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::kind;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};

    fn place(id: &str, at: Option<&str>) -> FigureAt {
        (kind(id).expect("a known figure"), at.map(str::to_owned))
    }

    #[test]
    fn student_interval_by_hand() {
        // 1, 2, 3, 4: mean 2.5, sd sqrt(5/3) = 1.290994, t(3; 0.975) = 3.182446 (printed tables), half = 3.182446 * 1.290994/2 = 2.054260
        let e = estimate(&[1.0, 2.0, 3.0, 4.0]).expect("values");
        assert!((e.mean - 2.5).abs() < 1e-12 && (e.sd.expect("sd") - 1.290_994).abs() < 1e-6);
        let [low, high] = e.interval.expect("interval");
        assert!((low - (2.5 - 2.054_260)).abs() < 1e-5 && (high - (2.5 + 2.054_260)).abs() < 1e-5, "{low} {high}");
        assert_eq!(estimate(&[7.0]).expect("value").interval, None);
        // A print time is the same in every print: rounding must not look like spread.
        let same = estimate(&[0.7405; 20]).expect("values");
        assert_eq!((same.mean, same.sd, same.interval), (0.7405, Some(0.0), Some([0.7405; 2])));
        assert!(estimate(&[]).is_none());
        // Cut at 0.
        assert_eq!(estimate(&[0.0, 1.0]).expect("values").interval.expect("interval")[0], 0.0);
    }

    #[test]
    fn garwood_by_hand() {
        // k = 0: -ln 0.025 = 3.688879. k = 1: low -ln 0.975 = 0.025318; k = 10: 4.795, 18.390 (printed tables, from memory).
        assert!((garwood(0.0)[1] - 3.688_879).abs() < 1e-5);
        assert!((garwood(1.0)[0] - 0.025_318).abs() < 1e-5);
        assert!((garwood(10.0)[0] - 4.795).abs() < 1e-3 && (garwood(10.0)[1] - 18.390).abs() < 1e-3);
    }

    #[test]
    fn no_hit_is_a_bound_and_never_zero() {
        // 1 - 0.05^(1/20) = 1 - exp(-2.995732/20) = 1 - 0.860892 = 0.139108
        let places = [place("hit_probability", Some("reference")), place("particles", Some("reference"))];
        let rows = estimates_only(&places, &vec![vec![Some(0.0), Some(0.0)]; 20]);
        let e = rows[0].estimate.expect("a bound");
        assert!((e.mean - 0.139_108).abs() < 1e-6);
        assert_eq!(e.interval, Some([0.0, e.mean]));
        assert_eq!(rows[0].note.as_deref(), Some("no hit in 20 prints: upper bound"));
        // Mean number: 2.995732/20 = 0.149787.
        assert!((rows[1].estimate.and_then(|e| e.interval).expect("a bound")[1] - 0.149_787).abs() < 1e-6);
        // The rule of three.
        assert!((zero_hit_bound(1000) * 1000.0 - 3.0).abs() < 0.01);
        let mut some = vec![vec![Some(0.0), Some(0.0)]; 9];
        some.push(vec![Some(1.0), Some(4.0)]);
        let e = estimates_only(&places, &some)[0].estimate.expect("a share");
        assert!((e.mean - 0.1).abs() < 1e-12 && e.interval == Some(wilson_95(1, 10)));
    }

    #[test]
    fn an_extreme_is_told_by_its_median_and_its_largest() {
        // 18 prints between 30 and 87 and two that reach far: mean 129, which is what no print had.
        let mut values: Vec<f64> = (0..18).map(|i| 30.0 + f64::from(i) * 57.0 / 17.0).collect();
        values.extend([655.0, 889.0]);
        let prints: Vec<Vec<Option<f64>>> = values.iter().map(|v| vec![Some(v * 1e-6), Some(v * 1e-6)]).collect();
        let places = [place("farthest_stray_um", None), place("overspray_reach_um", None)];
        let rows = estimates_only(&places, &prints);
        let [median, largest] = rows[0].estimate.and_then(|e| e.extremes).expect("several prints");
        // Between the tenth and the eleventh: 30 + 9.5 * 57/17.
        assert!((median - (30.0 + 9.5 * 57.0 / 17.0) * 1e-6).abs() < 1e-12 && largest == 889.0 * 1e-6, "{median}");
        assert!(rows[0].estimate.is_some_and(|e| e.mean > 1.9 * median));
        // Of 20 the sixth lowest to the sixth highest: P(Bin(20, 1/2) <= 5) = 21700/2^20 = 0.0207, of 6 it is 0.0577.
        let ends = rows[0].estimate.and_then(|e| e.interval).expect("enough prints");
        for (end, rank) in ends.into_iter().zip([5.0, 14.0]) {
            assert!((end - (30.0 + rank * 57.0 / 17.0) * 1e-6).abs() < 1e-12, "{ends:?}");
        }
        assert_eq!(median_interval(&[1.0, 2.0, 3.0, 4.0, 5.0]), None);
        assert_eq!(median_interval(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), Some([1.0, 6.0]));
        assert_eq!(rows[1].estimate.and_then(|e| e.extremes), None, "many particles share in it");
        assert_eq!(estimates_only(&places, &prints[..1])[0].estimate.and_then(|e| e.extremes), None, "one print");
    }

    /// Farthest strays of a law with a heavy tail, in which one print in ten or so goes far: the interval of the median holds it as often
    /// as it says, that of the mean from the scatter does not.
    ///
    /// 2000 sets of 20 prints: the exact confidence is 1 - 2 * 0.0207 = 0.959, its standard error 0.0044; alpha 1e-6 is 4.9 of these, 0.022,
    /// so that below 0.936 is asked for and 0.914 is found for sure.
    #[test]
    fn the_interval_of_an_extreme_holds_its_median() {
        // Pareto of exponent 1.5 from 30 um on: median 30 * 2^(2/3), mean 90.
        let (median, mean) = (30.0 * 2f64.powf(2.0 / 3.0), 90.0);
        let mut random = Xoshiro256PlusPlus::seed_from_u64(77);
        let places = [place("farthest_stray_um", None), place("overspray_reach_um", None)];
        let (mut held, mut held_mean) = (0, 0);
        for _ in 0..2000 {
            let prints: Vec<_> = (0..20)
                .map(|_| Some(30.0 * (1.0 - random.random::<f64>()).powf(-2.0 / 3.0)))
                .map(|value| vec![value, value])
                .collect();
            let rows = estimates_only(&places, &prints);
            let holds = |row: &FigureRow, value: f64| {
                let [low, high] = row.estimate.and_then(|e| e.interval).expect("20 prints");
                low <= value && value <= high
            };
            held += u32::from(holds(&rows[0], median));
            held_mean += u32::from(holds(&rows[1], mean));
        }
        assert!((1872..=1962).contains(&held), "{held} of 2000");
        // Planted fault: Student's interval of the mean.
        assert!(held_mean < 1600, "{held_mean} of 2000");
    }

    #[test]
    fn what_takes_heights_is_of_the_first_prints() {
        let places = [place("joined_percent", Some("target")), place("coverage_percent", Some("target"))];
        let mut all = vec![vec![Some(0.5), Some(0.6)]; HEIGHT_PRINTS as usize + 7];
        let note = |prints: &[Vec<Option<f64>>]| estimates_only(&places, prints)[0].note.clone().unwrap_or_default();
        assert_eq!(note(&all), "", "a limit asks for all");
        all[HEIGHT_PRINTS as usize..].iter_mut().for_each(|print| print[0] = None);
        assert_eq!(note(&all), "of the first 100 prints only, for the time it takes; a limit on it has all looked at");
        assert_eq!(estimates_only(&places, &all)[0].estimate.expect("many").n, 100);
        all[3] = vec![None, None];
        assert!(note(&all).starts_with("no value in 1 of 100 prints; of the first 100"), "{}", note(&all));
        assert_eq!(estimates_only(&places, &all)[1].note.as_deref(), Some("no value in 1 of 107 prints"));
        assert_eq!(note(&all[..5]), "no value in 1 of 5 prints");
    }
}
