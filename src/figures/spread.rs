//! How the prints of a figure differ: percentiles, and the interval that holds nearly all prints one would ever make.

use super::percentile::percentile;
use super::statistics::{CONFIDENCE, FEWEST_PRINTS, FigureAt, estimates_only};
use super::{Distribution, Draws, FigureKind, FigureRow, Measured, Tolerance, importance};
use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, Normal};
use std::collections::BTreeMap;

/// Share of all prints that a tolerance interval holds.
pub const CONTENT: f64 = 0.95;
/// Percentiles that are given.
const PERCENTILES: [f64; 3] = [0.05, 0.5, 0.95];
/// Modified statistic of Anderson and Darling above which a sample of unknown mean and deviation contradicts a normal law at 5 %.
/// Source: Stephens 1986, Tests based on EDF statistics, in D'Agostino & Stephens, Goodness-of-fit techniques, table 4.7 (from memory,
/// and simulated in the tests).
const ANDERSON_DARLING_5_PERCENT: f64 = 0.752;
/// Even number of steps of the integral over the sample's mean, and how many of its standard deviations it covers.
const STEPS: usize = 200;
const REACH: f64 = 8.0;

/// Whether sorted values do not contradict a normal law at 5 %.
///
/// `A^2 = -n - (1/n) sum (2i - 1) [ln F(z_i) + ln(1 - F(z_(n+1-i)))]`, z standardised by the sample's mean and deviation, and
/// `A^2 (1 + 0.75/n + 2.25/n^2)` against the critical value. It weighs the tails, on which a tolerance interval rests.
///
/// Source: Anderson & Darling 1954, A test of goodness of fit, J. Am. Stat. Assoc. 49:765; factor and value: Stephens 1986 as above.
pub(crate) fn looks_normal(sorted: &[f64], mean: f64, sd: f64) -> bool {
    let n = sorted.len() as f64;
    let law = Normal::standard();
    // Beyond all doubt improbable values must not give the logarithm of zero.
    let ln = |share: f64| share.max(1e-300).ln();
    let sum: f64 = sorted
        .iter()
        .zip(sorted.iter().rev())
        .enumerate()
        .map(|(i, (low, high))| (2 * i + 1) as f64 * (ln(law.cdf((low - mean) / sd)) + ln(law.sf((high - mean) / sd))))
        .sum();
    let statistic = (-n - sum / n) * (1.0 + 0.75 / n + 2.25 / (n * n));
    statistic <= ANDERSON_DARLING_5_PERCENT
}

/// Close approximation of [`normal_factor`]: `z sqrt((n - 1)(1 + 1/n) / chi2)`, z the two-sided normal quantile of the content and chi2
/// the lower quantile of n - 1 degrees of freedom.
///
/// Source: Howe 1969, Two-sided tolerance limits for normal populations: some improvements, J. Am. Stat. Assoc. 64:610.
pub fn howe_factor(n: usize, content: f64, confidence: f64) -> f64 {
    let count = n as f64;
    let z = Normal::standard().inverse_cdf(0.5 + 0.5 * content);
    let chi = ChiSquared::new(count - 1.0).map_or(f64::NAN, |law| law.inverse_cdf(1.0 - confidence));
    z * ((count - 1.0) * (1.0 + 1.0 / count) / chi).sqrt()
}

/// Factor k such that mean +- k sd of `n` normal values holds at least the share `content` of the law with the probability
/// `confidence`. `n` from 2.
///
/// k solves `confidence = 2 int_0^inf phi(t) P(chi2(n - 1) > (n - 1) r(t/sqrt n)^2 / k^2) dt`, where phi is the normal density and r(x)
/// the half width about an off-centre place x that holds the content: `Phi(x + r) - Phi(x - r) = content`. Simpson's rule and bisection.
///
/// Source: Wald & Wolfowitz 1946, Tolerance limits for a normal distribution, Ann. Math. Stat. 17:208; exact integral as in Odeh 1978,
/// Tables of two-sided tolerance factors for a normal distribution, Commun. Stat. Simul. 7:183.
pub fn normal_factor(n: usize, content: f64, confidence: f64) -> f64 {
    debug_assert!(n >= 2);
    let law = Normal::standard();
    let freedom = n as f64 - 1.0;
    let Ok(chi) = ChiSquared::new(freedom) else { return f64::NAN };
    let step = REACH / STEPS as f64;
    let nodes: Vec<(f64, f64)> = (0..=STEPS)
        .map(|i| {
            let t = i as f64 * step;
            let simpson = if i == 0 || i == STEPS {
                1.0
            } else if i % 2 == 1 {
                4.0
            } else {
                2.0
            };
            let density = (-0.5 * t * t).exp() / std::f64::consts::TAU.sqrt();
            let x = t / (n as f64).sqrt();
            let half = bisect(x, x + 8.0, |r| law.cdf(x + r) - law.cdf(x - r) - content);
            // For x near 0 the half width is above x as well: content beyond 0.5.
            (2.0 * density * simpson * step / 3.0, half)
        })
        .collect();
    let held = |k: f64| nodes.iter().map(|(w, r)| w * chi.sf(freedom * r * r / (k * k))).sum::<f64>();
    let near = howe_factor(n, content, confidence);
    bisect(0.5 * near, 1.5 * near, |k| held(k) - confidence)
}

/// Where a rising function passes through zero.
fn bisect(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if rising(middle) < 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Largest r such that the r-th lowest and r-th highest of `n` values hold the share `content` of any continuous law with at least the
/// probability `confidence`; `None` if not even the extremes do (95/95: fewer than 93).
///
/// What lies between them has a Beta(n + 1 - 2r, 2r) law.
/// Source: Wilks 1941, Determination of sample sizes for setting tolerance limits, Ann. Math. Stat. 12:91.
pub fn order_rank(n: usize, content: f64, confidence: f64) -> Option<usize> {
    let enough = |r: usize| {
        let (a, b) = ((n + 1 - 2 * r) as f64, (2 * r) as f64);
        Beta::new(a, b).is_ok_and(|law| law.sf(content) >= confidence)
    };
    (1..=n / 2).take_while(|r| enough(*r)).last()
}

/// Share of any continuous law that the lowest and the highest of `n` values hold with the probability `confidence`: 0.784 for 20 at 95 %.
///
/// The quantile 1 - confidence of what lies between them, whose law is Beta(n - 1, 2). `n` from 2.
/// Source: Wilks 1941 as for [`order_rank`].
pub(crate) fn order_content(n: usize, confidence: f64) -> f64 {
    debug_assert!(n >= 2);
    Beta::new(n as f64 - 1.0, 2.0).map_or(f64::NAN, |law| law.inverse_cdf(1.0 - confidence))
}

/// What a tolerance interval of `n` prints takes.
#[derive(Debug, Clone, Copy)]
struct Factors {
    normal: f64,
    rank: usize,
    content: f64,
}

/// What is known of how the prints of a figure are distributed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Known {
    /// Many particles share in it and nothing but chance differs between prints: a normal law, unless the prints contradict it.
    Chance,
    /// Nothing. A test on 20 prints finds out too seldom that a law is not normal for relying on it.
    Nothing,
}

impl Factors {
    fn of(n: usize) -> Self {
        let rank = order_rank(n, CONTENT, CONFIDENCE);
        Self {
            normal: normal_factor(n, CONTENT, CONFIDENCE),
            rank: rank.unwrap_or(1),
            content: rank.map_or_else(|| order_content(n, CONFIDENCE), |_| CONTENT),
        }
    }

    /// Interval of sorted values, cut where the figure can have no value: by the normal law where that is known and the values do not
    /// contradict it, else by their order, whatever the law.
    fn interval(&self, kind: &FigureKind, known: Known, sorted: &[f64], mean: f64, sd: f64) -> Tolerance {
        if known == Known::Chance && looks_normal(sorted, mean, sd) {
            let (low, high) = (mean - self.normal * sd, mean + self.normal * sd);
            let most = kind.most().unwrap_or(f64::INFINITY);
            return Tolerance { interval: [low.max(0.0), high.min(most)], content: CONTENT, normal: true };
        }
        let ends = [sorted[self.rank - 1], sorted[sorted.len() - self.rank]];
        Tolerance { interval: ends, content: self.content, normal: false }
    }
}

/// [`estimates_only`], and from `FEWEST_PRINTS` prints on how the prints differ and which varied input makes them differ.
pub fn summarise<M: Into<Measured> + Copy>(
    places: &[FigureAt],
    per_print: &[Vec<Option<M>>],
    draws: &Draws,
) -> Vec<FigureRow> {
    let mut rows = estimates_only(places, per_print);
    let value = |measured: &Option<M>| measured.map(|measured| measured.into().value());
    let values: Vec<Vec<Option<f64>>> = per_print.iter().map(|print| print.iter().map(value).collect()).collect();
    fill(&mut rows, &values, draws);
    rows
}

/// Fills in how the prints differ, wherever they do and are enough. Lower bounds have no spread.
fn fill(rows: &mut [FigureRow], per_print: &[Vec<Option<f64>>], draws: &Draws) {
    let mut factors: BTreeMap<usize, Factors> = BTreeMap::new();
    // Figures by the prints that gave a value: mostly all in one group.
    let mut groups: BTreeMap<Vec<usize>, Vec<usize>> = BTreeMap::new();
    for (index, row) in rows.iter_mut().enumerate() {
        let Some((mean, sd)) = row.estimate.and_then(|e| Some((e.mean, e.sd?))) else { continue };
        let values: Vec<f64> = per_print.iter().map(|print| print[index].unwrap_or(f64::NAN)).collect();
        let given: Vec<usize> = (0..values.len()).filter(|i| values[*i].is_finite()).collect();
        let mut sorted: Vec<f64> = given.iter().map(|i| values[*i]).collect();
        sorted.sort_by(f64::total_cmp);
        if row.kind.is_share_of_prints() || sorted.len() < FEWEST_PRINTS || sorted.first() == sorted.last() {
            continue;
        }
        let factors = factors.entry(sorted.len()).or_insert_with(|| Factors::of(sorted.len()));
        let by_chance = draws.inputs.is_empty() && row.kind.has_normal_margin();
        let known = if by_chance { Known::Chance } else { Known::Nothing };
        row.distribution = Some(Distribution {
            percentiles: PERCENTILES.map(|share| percentile(&sorted, share)),
            tolerance: factors.interval(row.kind, known, &sorted, mean, sd),
            explained: vec![],
            unexplained: None,
            values,
        });
        groups.entry(given).or_default().push(index);
    }
    if draws.inputs.is_empty() || draws.per_print.len() != per_print.len() {
        return;
    }
    for (given, indices) in groups {
        let deviations: Vec<&[f64]> = given.iter().map(|i| draws.per_print[*i].as_slice()).collect();
        let figures: Vec<Vec<f64>> =
            indices.iter().map(|index| given.iter().filter_map(|i| per_print[*i][*index]).collect()).collect();
        let found = importance::explain(&draws.inputs, &deviations, &figures);
        for (index, shares) in indices.into_iter().zip(found) {
            if let (Some(distribution), Some(shares)) = (&mut rows[index].distribution, shares) {
                distribution.explained = shares.explained;
                distribution.unexplained = Some(shares.unexplained);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::kind;
    use crate::statistics::estimate;
    use motefall_physics::inputs::{Varied, VariedInput};
    use rand::rngs::Xoshiro256PlusPlus;
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution as _, Exp1, StandardNormal};

    #[test]
    fn percentiles_by_hand() {
        // n = 20, p = 0.05: h = 20.3333 * 0.05 + 0.3333 = 1.35, between the first and the second.
        let values: Vec<f64> = (1..=20).map(f64::from).collect();
        assert!((percentile(&values, 0.05) - 1.35).abs() < 1e-12);
        assert!((percentile(&values, 0.5) - 10.5).abs() < 1e-12);
        assert!((percentile(&values, 0.95) - 19.65).abs() < 1e-12);
        assert_eq!((percentile(&values, 0.0), percentile(&values, 1.0)), (1.0, 20.0));
    }

    #[test]
    fn ranks_for_any_law() {
        // 1 - n 0.95^(n-1) + (n-1) 0.95^n: 0.9474 to 0.9501 between 91 and 93 values (Wilks 1941: 93).
        let by_hand = |n: i32| 1.0 - f64::from(n) * 0.95f64.powi(n - 1) + f64::from(n - 1) * 0.95f64.powi(n);
        assert!(by_hand(92) < 0.95 && by_hand(93) >= 0.95);
        assert_eq!((order_rank(92, 0.95, 0.95), order_rank(93, 0.95, 0.95)), (None, Some(1)));
        let ranks: Vec<_> = [200, 500, 1000].map(|n| order_rank(n, 0.95, 0.95)).into();
        assert!(ranks.windows(2).all(|pair| pair[0] < pair[1]), "{ranks:?}");
        assert_eq!(order_rank(1, 0.95, 0.95), None);
    }

    /// Of repeated samples: share of intervals that hold what they say, share that rest on a normal law, share of these that hold, and share
    /// of mean +- 1.96 deviations that hold 95 %.
    struct Held {
        all: f64,
        normal: f64,
        of_normal: f64,
        two_sigma: f64,
    }

    fn held(n: usize, known: Known, law: impl Fn(&mut Xoshiro256PlusPlus) -> f64, cdf: impl Fn(f64) -> f64) -> Held {
        const REPEATS: usize = 4000;
        let factors = Factors::of(n);
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(41);
        let (mut good, mut normal, mut good_normal, mut good_two) = (0usize, 0usize, 0usize, 0usize);
        for _ in 0..REPEATS {
            let mut values: Vec<f64> = (0..n).map(|_| law(&mut rng)).collect();
            values.sort_by(f64::total_cmp);
            let e = estimate(&values).expect("values");
            let sd = e.sd.expect("several");
            let found = factors.interval(kind("line_width_um").expect("known"), known, &values, e.mean, sd);
            let holds = |[low, high]: [f64; 2], content: f64| usize::from(cdf(high) - cdf(low) >= content);
            good += holds(found.interval, found.content);
            normal += usize::from(found.normal);
            good_normal += if found.normal { holds(found.interval, CONTENT) } else { 0 };
            good_two += holds([e.mean - 1.96 * sd, e.mean + 1.96 * sd], CONTENT);
        }
        let share = |count: usize| count as f64 / REPEATS as f64;
        Held {
            all: share(good),
            normal: share(normal),
            of_normal: share(good_normal) / share(normal),
            two_sigma: share(good_two),
        }
    }

    // 4000 samples: the standard error of a share of 0.95 is 0.0034; alpha 1e-6 is 4.9 of them, 0.017: a confidence of 0.93 shows.
    const SLACK: f64 = 0.017;

    #[test]
    fn normal_intervals_hold_what_they_promise_and_two_sigma_does_not() {
        let normal = |rng: &mut Xoshiro256PlusPlus| 10.0 + 0.5 * rng.sample_normal();
        let cdf = |x: f64| Normal::standard().cdf((x - 10.0) / 0.5);
        for n in [20, 60, 200] {
            let found = held(n, Known::Chance, normal, cdf);
            assert!(
                (found.all - 0.95).abs() < SLACK && (found.of_normal - 0.95).abs() < SLACK,
                "{n} prints: {}",
                found.all
            );
            // A test at 5 % keeps 95 % of normal samples.
            assert!((found.normal - 0.95).abs() < SLACK, "{n} prints: {} look normal", found.normal);
            assert!(found.two_sigma < 0.95 - SLACK, "{n} prints: mean +- 1.96 sd passes with {}", found.two_sigma);
        }
    }

    trait SampleNormal {
        fn sample_normal(&mut self) -> f64;
    }

    impl SampleNormal for Xoshiro256PlusPlus {
        fn sample_normal(&mut self) -> f64 {
            StandardNormal.sample(self)
        }
    }

    /// Laws that prints have if something varies: a skew one, one of largest values, the square of a misalignment, and two kinds of prints.
    /// With 20 prints the outermost hold 78.4 % at 95 % confidence: 1 - 20 p^19 + 19 p^20 = 0.95. The confidence is exact for any
    /// continuous law, so that the slack is that of counting.
    #[test]
    fn intervals_of_any_law_hold_what_they_promise() {
        let content = order_content(20, 0.95);
        assert!((content - 0.7839).abs() < 1e-4, "{content}");
        assert!((1.0 - 20.0 * content.powi(19) + 19.0 * content.powi(20) - 0.95).abs() < 1e-9);
        let rises = |x: f64, value: f64| if x > 0.0 { value } else { 0.0 };
        let phi = |x: f64| Normal::standard().cdf(x);
        type Sampler = fn(&mut Xoshiro256PlusPlus) -> f64;
        type Law<'a> = (&'a str, Sampler, Box<dyn Fn(f64) -> f64>);
        let laws: [Law; 4] = [
            ("exponential", |rng| Exp1.sample(rng), Box::new(move |x| rises(x, 1.0 - (-x).exp()))),
            ("largest value", |rng| -f64::ln(Exp1.sample(rng)), Box::new(|x| (-(-x).exp()).exp())),
            (
                "square",
                |rng| rng.sample_normal().powi(2),
                Box::new(move |x| rises(x, 2.0 * phi(x.max(0.0).sqrt()) - 1.0)),
            ),
            (
                "two kinds",
                |rng| rng.sample_normal() + if rng.random::<f64>() < 0.1 { 5.0 } else { 0.0 },
                Box::new(move |x| 0.9 * phi(x) + 0.1 * phi(x - 5.0)),
            ),
        ];
        for (name, law, cdf) in &laws {
            for n in [20, 60, 200] {
                let found = held(n, Known::Nothing, law, cdf);
                // From 93 prints on the rank is a whole number, so that they may hold more.
                let most = if n < 93 { 0.95 + SLACK } else { 1.0 };
                assert!(
                    found.all > 0.95 - SLACK && found.all < most && found.normal == 0.0,
                    "{name} {n}: {}",
                    found.all
                );
            }
            // Planted fault: the normal law wherever 20 prints do not contradict it.
            let fault = held(20, Known::Chance, law, cdf);
            assert!(fault.of_normal < 0.95 - SLACK, "{name}: {}", fault.of_normal);
        }
    }

    fn places() -> Vec<FigureAt> {
        ["coverage_percent", "print_time_s", "hit_probability"].map(|id| (kind(id).expect("known"), None)).into()
    }

    #[test]
    fn only_what_differs_has_a_distribution() {
        let print = |i: u32| vec![Some(0.9 + 0.001 * f64::from(i % 7)), Some(3.25), Some(f64::from(i % 2))];
        let prints: Vec<_> = (0..20).map(print).collect();
        let rows = summarise(&places(), &prints, &Draws::default());
        let given: Vec<bool> = rows.iter().map(|row| row.distribution.is_some()).collect();
        assert_eq!(given, [true, false, false]);
        assert!(rows[0].distribution.as_ref().is_some_and(|d| d.explained.is_empty() && d.values.len() == 20));
        let rows = summarise(&places(), &prints[..19], &Draws::default());
        assert!(rows.iter().all(|row| row.distribution.is_none()));
        // A print without a value keeps its place.
        let mut prints: Vec<_> = (0..21).map(print).collect();
        prints[3][0] = None;
        let rows = summarise(&places(), &prints, &Draws::default());
        let values = &rows[0].distribution.as_ref().expect("20 values").values;
        assert!(values.len() == 21 && values[3].is_nan() && values[4] == 0.904);
    }

    #[test]
    fn intervals_end_where_figures_end() {
        let mut values: Vec<f64> =
            (1..40).map(|i| 0.975 + 0.012 * Normal::standard().inverse_cdf(f64::from(i) / 40.0)).collect();
        values.sort_by(f64::total_cmp);
        let e = estimate(&values).expect("values");
        let coverage = kind("coverage_percent").expect("known");
        let found = Factors::of(39).interval(coverage, Known::Chance, &values, e.mean, e.sd.expect("sd"));
        assert!(found.normal && found.interval[1] == 1.0 && found.interval[0] < 0.95, "{found:?}");
        // Where inputs vary, or of an extreme, the outermost prints tell.
        let print = |value: &f64| vec![Some(*value), Some(*value)];
        let prints: Vec<_> = values.iter().map(print).collect();
        let places = ["coverage_percent", "largest_particle_um"].map(|id| (kind(id).expect("known"), None));
        let tolerance = |draws: &Draws, index: usize| {
            summarise(&places, &prints, draws)[index].distribution.as_ref().expect("39 prints").tolerance
        };
        let none = Draws::default();
        assert!(tolerance(&none, 0).normal && !tolerance(&none, 1).normal);
        let varied = Draws {
            inputs: vec![Varied { input: VariedInput::StandOff, layer: None }],
            per_print: (0..39).map(|i| vec![f64::from(i)]).collect(),
        };
        let found = tolerance(&varied, 0);
        assert!(!found.normal && found.interval == [values[0], values[38]] && found.content < CONTENT, "{found:?}");
    }
}
