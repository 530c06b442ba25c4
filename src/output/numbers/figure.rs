//! Figures of prints with their intervals.

use super::plain::{decimals_for_uncertainty, fixed, significant, ten_to, trimmed};
use motefall_figures::{Estimate, FigureKind, LimitOutcome, ShareOfPrints};

/// A figure in the reader's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Value with its interval, without the unit: `312 ± 9`, `0.21 (0.05 to 0.60)`, `below 0.15`, `median 62.1 (48.0 to 81.0), largest 889`, `not measured`.
    pub value: String,
    /// Unit, empty for pure numbers.
    pub(crate) unit: String,
}

impl Shown {
    /// For a column that says its unit: the value alone, with its own unit only where that is another one.
    pub(crate) fn below(&self, unit: &str) -> String {
        if self.unit == unit || self.unit.is_empty() { self.value.clone() } else { self.to_string() }
    }
}

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.unit.is_empty() { f.write_str(&self.value) } else { write!(f, "{}\u{a0}{}", self.value, self.unit) }
    }
}

/// Name of a figure with the edge of the squares that it is averaged over, m, where it is.
pub fn label_at(kind: &FigureKind, resolution: f64) -> String {
    if kind.is_of_squares() {
        format!("{} (squares of {}\u{a0}µm)", kind.label, trimmed(resolution * 1e6))
    } else {
        kind.label.into()
    }
}

/// Prefixes of units by thousands, downward.
const SMALLER: [&str; 5] = ["m", "µ", "n", "p", "f"];

/// The unit in which a value of a figure is shown, and the factor to it from the figure's own unit: a smaller one where the value is below a
/// hundredth of that (0.35 fAh, not 0.00000035 nAh). `value` in the figure's own unit.
pub fn suited(kind: &FigureKind, value: f64) -> (f64, String) {
    let start = SMALLER.iter().position(|prefix| {
        let base = kind.unit.strip_prefix(prefix);
        base.is_some_and(|base| matches!(base, "Ah" | "A" | "C" | "g" | "L"))
    });
    let (Some(start), true) = (start, value > 0.0 && value < 0.01) else { return (1.0, kind.unit.into()) };
    let base = &kind.unit[SMALLER[start].len()..];
    let mut factor = 1.0;
    for prefix in &SMALLER[start + 1..] {
        factor *= 1e3;
        if value * factor >= 0.1 || *prefix == SMALLER[SMALLER.len() - 1] {
            return (factor, format!("{prefix}{base}"));
        }
    }
    (factor, kind.unit.into())
}

/// A figure over prints, given in SI, as the reader sees it.
///
/// With an interval, the last digit shown is the first digit of the half width (the first two, if they are below 20);
/// without one, three digits. An interval that is lopsided by more than a fifth is written out. Extremes of a print are told by the median
/// and the largest of the prints.
pub fn figure(estimate: Option<&Estimate>, kind: &FigureKind) -> Shown {
    let Some(estimate) = estimate else { return Shown { value: "not measured".into(), unit: String::new() } };
    let own = estimate.mean.abs().max(estimate.interval.map_or(0.0, |i| i[1])) * kind.per_si;
    let (factor, unit) = suited(kind, own);
    let scale = kind.per_si * factor;
    let value = match estimate.extremes {
        Some(extremes) => extremes_words(extremes, estimate.interval, scale),
        None => mean_words(estimate, kind, scale),
    };
    Shown { value, unit }
}

/// A mean without an interval, given in SI.
pub fn mean(mean: f64, kind: &FigureKind) -> Shown {
    let estimate = Estimate { mean, interval: None, sd: None, n: 1, extremes: None, at_least: 0 };
    figure(Some(&estimate), kind)
}

/// Median and largest of the prints; `scale` leads to the unit shown.
fn extremes_words(extremes: [f64; 2], interval: Option<[f64; 2]>, scale: f64) -> String {
    let [median, largest] = extremes.map(|v| significant(v * scale, 3));
    let between = interval.map_or(String::new(), |ends| {
        let [low, high] = ends.map(|v| significant(v * scale, 3));
        format!(" ({low} to {high})")
    });
    if median == largest { median } else { format!("median {median}{between}, largest {largest}") }
}

/// A mean with its interval; `scale` leads to the unit shown.
fn mean_words(estimate: &Estimate, kind: &FigureKind, scale: f64) -> String {
    let mean = estimate.mean * scale;
    if estimate.at_least > 0 {
        return format!("at least {}", significant(mean, 3));
    }
    let ends = estimate.interval.map(|ends| ends.map(|end| end * scale));
    match ends.filter(|ends| [mean, ends[0], ends[1]].iter().all(|v| v.is_finite())) {
        None => significant(mean, 3),
        Some([_, high]) if is_upper_bound(estimate, kind) => format!("below {}", significant(high, 2)),
        Some(ends) => between_words(mean, ends),
    }
}

/// `312 ± 9`, or `0.21 (0.05 to 0.60)` where the interval is lopsided.
fn between_words(mean: f64, [low, high]: [f64; 2]) -> String {
    let (below, above) = (mean - low, high - mean);
    let half = below.max(above);
    if half <= 0.0 {
        return significant(mean, 3);
    }
    let lopsided = (above - below).abs() > 0.2 * half;
    // Very small values: one common power of ten, so that zeros do not hide the digits.
    let largest = mean.abs().max(half);
    if largest < 1e-3 {
        let exponent = largest.log10().floor() as i32;
        let by = 10f64.powi(-exponent);
        let decimals = decimals_for_uncertainty(half * by);
        let [mean, low, high, half] = [mean, low, high, half].map(|v| fixed(v * by, decimals));
        let power = ten_to(exponent);
        return if lopsided {
            format!("{mean} ({low} to {high})\u{a0}×\u{a0}{power}")
        } else {
            format!("({mean} ± {half})\u{a0}×\u{a0}{power}")
        };
    }
    let decimals = decimals_for_uncertainty(half);
    if lopsided {
        let narrow = decimals_for_uncertainty(if below.min(above) > 0.0 { below.min(above) } else { half });
        let decimals = decimals.max(narrow.min(decimals + 1));
        let [mean, low, high] = [mean, low, high].map(|v| fixed(v, decimals));
        return format!("{mean} ({low} to {high})");
    }
    format!("{} ± {}", fixed(mean, decimals), fixed(half, decimals))
}

/// What was predicted for a limit: the figure, or the share of prints and the bound that the limit is judged by.
pub fn predicted(outcome: &LimitOutcome) -> String {
    let Some(ShareOfPrints { hits, n, bounds: [low, high] }) = outcome.share else {
        return figure(outcome.estimate.as_ref(), outcome.kind()).to_string();
    };
    let judged = match (outcome.limit.min, outcome.limit.max) {
        (Some(_), Some(_)) => format!("bounds {} and {}", significant(low, 2), significant(high, 2)),
        (Some(_), None) => format!("lower bound {}", significant(low, 2)),
        (None, _) => format!("upper bound {}", significant(high, 2)),
    };
    let seen = match hits {
        0 => format!("none in {n}"),
        _ => format!("{} ({hits} of {n})", significant(f64::from(hits) / f64::from(n), 2)),
    };
    format!("{seen}, {judged} at 95\u{a0}%")
}

/// The same for a narrow column: `up to 0.22`, and extremes without their interval.
pub fn predicted_short(outcome: &LimitOutcome) -> String {
    let Some(ShareOfPrints { bounds, .. }) = outcome.share else {
        let short = outcome.estimate.map(|e| Estimate { interval: e.interval.filter(|_| e.extremes.is_none()), ..e });
        return figure(short.as_ref(), outcome.kind()).to_string();
    };
    let [low, high] = bounds.map(|bound| significant(bound, 2));
    match (outcome.limit.min, outcome.limit.max) {
        (Some(_), Some(_)) => format!("{low} to {high}"),
        (Some(_), None) => format!("from {low}"),
        (None, _) => format!("up to {high}"),
    }
}

/// Whether the figure is a probability that no print ever showed, of which only an upper bound is known.
pub fn is_upper_bound(estimate: &Estimate, kind: &FigureKind) -> bool {
    kind.is_share_of_prints()
        && estimate.interval.is_some_and(|[low, high]| low <= 0.0 && (estimate.mean <= 0.0 || estimate.mean >= high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::kinds::kind;
    use motefall_physics::inputs::Limit;

    fn estimate(mean: f64, half: f64) -> Estimate {
        Estimate {
            mean,
            interval: Some([mean - half, mean + half]),
            sd: Some(half),
            n: 20,
            at_least: 0,
            extremes: None,
        }
    }

    fn text(id: &str, estimate: Option<Estimate>) -> String {
        figure(estimate.as_ref(), kind(id).expect("known figure")).to_string().replace('\u{a0}', " ")
    }

    #[test]
    fn digits_follow_the_half_width() {
        assert_eq!(text("mean_thickness_nm", Some(estimate(312.4e-9, 9.2e-9))), "312 ± 9 nm");
        assert_eq!(text("mean_thickness_nm", Some(estimate(312.4e-9, 1.24e-9))), "312.4 ± 1.2 nm");
        assert_eq!(text("coverage_percent", Some(estimate(0.93219, 0.0031))), "93.2 ± 0.3 %");
        assert_eq!(text("particles", Some(estimate(18_244.0, 133.0))), "18\u{202f}240 ± 130");
        assert_eq!(text("line_width_um", Some(estimate(0.812e-6, 0.0996e-6))), "0.81 ± 0.10 µm");
        // Half widths just under a power of ten: 9.96 reads as 10 with two digits.
        assert_eq!(text("mean_thickness_nm", Some(estimate(312.4e-9, 9.96e-9))), "312 ± 10 nm");
        assert_eq!(text("mean_thickness_nm", Some(estimate(312.4e-9, 19.7e-9))), "310 ± 20 nm");
    }

    #[test]
    fn very_small_values_take_a_smaller_unit() {
        // 2.13e-4 nAh = 2.13e-4 * 3.6e-6 C.
        let e = estimate(2.13e-4 * 3.6e-6, 4.1e-6 * 3.6e-6);
        assert_eq!(text("capacity_nah", Some(e)), "0.213 ± 0.004 pAh");
        let tiny = Estimate { interval: None, ..estimate(3.5e-7 * 3.6e-6, 0.0) };
        assert_eq!(text("capacity_nah", Some(tiny)), "0.350 fAh");
        assert_eq!(text("capacity_nah", Some(Estimate { mean: 3.5e-11 * 3.6e-6, ..tiny })), "3.50 × 10⁻⁵ fAh");
        let shown = figure(Some(&tiny), kind("capacity_nah").expect("known"));
        assert_eq!((shown.below("nAh"), shown.below("fAh")), ("0.350\u{a0}fAh".into(), "0.350".into()));
        assert_eq!(text("ink_used_ul", Some(estimate(2.33e-12, 0.0))), "2.33 nL");
        // Without a smaller unit: a common power of ten.
        assert_eq!(text("capacity_ratio", Some(estimate(2.13e-4, 4.1e-6))), "(2.13 ± 0.04) × 10⁻⁴");
    }

    #[test]
    fn an_extreme_has_no_mean_in_words() {
        let e = Estimate {
            interval: Some([48e-6, 81e-6]),
            extremes: Some([62.13e-6, 889.2e-6]),
            ..estimate(120e-6, 110e-6)
        };
        assert_eq!(text("farthest_stray_um", Some(e)), "median 62.1 (48.0 to 81.0), largest 889 µm");
        let few = Estimate { interval: None, ..e };
        assert_eq!(text("farthest_stray_um", Some(few)), "median 62.1, largest 889 µm");
        let same = Estimate { extremes: Some([62.13e-6; 2]), ..estimate(62.13e-6, 0.0) };
        assert_eq!(text("farthest_stray_um", Some(same)), "62.1 µm");
    }

    #[test]
    fn a_lopsided_interval_is_written_out() {
        let e = Estimate { mean: 0.2, interval: Some([0.05, 0.6]), sd: None, n: 10, at_least: 0, extremes: None };
        assert_eq!(text("hit_probability", Some(e)), "0.20 (0.05 to 0.60)");
    }

    #[test]
    fn a_probability_never_seen_is_an_upper_bound() {
        let e = Estimate { mean: 0.0, interval: Some([0.0, 0.139]), sd: None, n: 20, at_least: 0, extremes: None };
        assert_eq!(text("hit_probability", Some(e)), "below 0.14");
        // The engine may carry the bound itself as the value.
        let e = Estimate { mean: 0.139, interval: Some([0.0, 0.139]), sd: None, n: 20, at_least: 0, extremes: None };
        assert_eq!(text("hit_probability", Some(e)), "below 0.14");
    }

    #[test]
    fn a_limit_on_a_probability_says_what_was_judged() {
        let words = |hits, min, max| {
            let kind = kind("hit_probability").expect("known figure");
            let limit = Limit { figure: kind.figure, place: None, min, max };
            let share = Some(ShareOfPrints::new(hits, 20));
            let outcome = LimitOutcome { limit, estimate: None, share, met: 0, n: 20 };
            [predicted(&outcome).replace('\u{a0}', " "), predicted_short(&outcome)]
        };
        assert_eq!(words(1, None, Some(0.1)), ["0.050 (1 of 20), upper bound 0.22 at 95 %", "up to 0.22"]);
        assert_eq!(words(0, None, Some(0.1)), ["none in 20, upper bound 0.14 at 95 %", "up to 0.14"]);
        assert_eq!(words(19, Some(0.9), None), ["0.95 (19 of 20), lower bound 0.78 at 95 %", "from 0.78"]);
        assert_eq!(words(10, Some(0.2), Some(0.8)), ["0.50 (10 of 20), bounds 0.30 and 0.70 at 95 %", "0.30 to 0.70"]);
    }

    #[test]
    fn nothing_measured_and_one_print() {
        assert_eq!(text("line_width_um", None), "not measured");
        let one = Estimate { mean: 12.345e-6, interval: None, sd: None, n: 1, at_least: 0, extremes: None };
        assert_eq!(text("line_width_um", Some(one)), "12.3 µm");
        let bound = Estimate { at_least: 1, ..one };
        assert_eq!(text("line_width_um", Some(bound)), "at least 12.3 µm");
        let zero = Estimate { mean: 0.0, interval: Some([0.0, 0.0]), sd: Some(0.0), n: 4, at_least: 0, extremes: None };
        assert_eq!(text("particles", Some(zero)), "0");
    }
}
