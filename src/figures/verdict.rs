//! Limits and how the prints did, and the decision.

use crate::rows::{Estimate, Measured};
use crate::statistics::{CONFIDENCE, FigureAt, over_prints, share_bounds, wilson_95};
use motefall_physics::figure_kinds::FigureKind;
use motefall_physics::inputs::{Inputs, Limit};

/// A limit and how the prints did.
#[derive(Debug, Clone)]
pub struct LimitOutcome {
    /// The limit, SI.
    pub limit: Limit,
    /// The figure; `None` if it could not be measured (then no print meets the limit).
    pub estimate: Option<Estimate>,
    /// What a probability is judged by; `None` of figures that each print has.
    pub share: Option<ShareOfPrints>,
    /// Prints that met the limit.
    pub met: u32,
    /// Prints made.
    pub n: u32,
}

/// How many prints said yes to what each only says yes or no to, and what that tells of the probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareOfPrints {
    /// Prints that said yes.
    pub hits: u32,
    /// Prints made.
    pub n: u32,
    /// Lower and upper bound of the probability, each at 95 % by itself ([`share_bounds`]).
    pub bounds: [f64; 2],
}

impl LimitOutcome {
    /// Which figure.
    pub fn kind(&self) -> &'static FigureKind {
        self.limit.figure.kind()
    }

    /// 95 % Wilson interval of the share of prints that meet the limit; `None` for a limit that all prints meet or fail together.
    pub fn share_interval(&self) -> Option<[f64; 2]> {
        (!self.kind().is_share_of_prints() && self.n > 0).then(|| wilson_95(self.met, self.n))
    }
}

/// The decision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// Whether the setting is accepted: the share of prints that met every limit reaches the required one. `None` when no limits were given.
    pub accepted: Option<bool>,
    /// Prints that met every limit.
    pub met: u32,
    /// Prints made.
    pub n: u32,
    /// 95 % Wilson interval of the share of prints that meet every limit: low and high, 0 to 1.
    pub share_interval: [f64; 2],
}

/// Most prints that are advised.
const MOST_ADVISED: f64 = 1e6;

impl ShareOfPrints {
    /// Of prints of which `hits` of `n` said yes.
    pub fn new(hits: u32, n: u32) -> Self {
        Self { hits, n, bounds: share_bounds(f64::from(hits), f64::from(n), 1.0 - CONFIDENCE) }
    }

    /// Whether a limit is shown to be met: its largest value by the upper bound, its least value by the lower one.
    pub fn meets(&self, limit: &Limit) -> bool {
        within(limit, self.bounds)
    }

    /// Prints that would show that the limit is met, if the share stays as it was; `None` if that share misses it, or it takes more than a
    /// million.
    pub fn prints_to_show(&self, limit: &Limit) -> Option<u32> {
        let share = f64::from(self.hits) / f64::from(self.n.max(1));
        let enough = |n: f64| within(limit, share_bounds((share * n).min(n), n, 1.0 - CONFIDENCE));
        if !enough(MOST_ADVISED) {
            return None;
        }
        let (mut low, mut high) = (1, MOST_ADVISED as u32);
        while low < high {
            let middle = low + (high - low) / 2;
            if enough(f64::from(middle)) { high = middle } else { low = middle + 1 }
        }
        Some(low)
    }
}

/// Whether a limit holds at both bounds.
fn within(limit: &Limit, [low, high]: [f64; 2]) -> bool {
    limit.min.is_none_or(|min| low >= min) && limit.max.is_none_or(|max| high <= max)
}

/// The share of prints of a figure that a single print only says yes or no to; `None` of another figure or without prints.
fn share_of_prints(kind: &FigureKind, values: &[Measured]) -> Option<ShareOfPrints> {
    let hits = values.iter().filter(|value| value.value() > 0.0).count() as u32;
    (kind.is_share_of_prints() && !values.is_empty()).then(|| ShareOfPrints::new(hits, values.len() as u32))
}

/// Whether a figure of a print lies within a limit, ends included. A lower bound may show that it reaches a least value, never that it
/// stays below a largest one.
fn meets(limit: &Limit, measured: Measured) -> bool {
    let below = |max: f64| matches!(measured, Measured::Exactly(value) if value <= max);
    limit.min.is_none_or(|min| measured.value() >= min) && limit.max.is_none_or(below)
}

/// Each limit against the prints, and the decision: accepted when the share of prints that meet every limit reaches the required one.
///
/// A figure that could not be measured meets no limit. A probability belongs to all prints together, so its limit is met by all of
/// them or by none, whatever the number of hits by its bounds at 95 % ([`ShareOfPrints`]): to show less than 5 % takes 59 prints
/// without a hit, or 93 with one.
pub fn judge<M: Into<Measured> + Copy>(
    inputs: &Inputs,
    places: &[FigureAt],
    per_print: &[Vec<Option<M>>],
) -> (Vec<LimitOutcome>, Verdict) {
    let n = per_print.len() as u32;
    let mut all_met = vec![true; per_print.len()];
    let mut outcomes = vec![];
    for limit in &inputs.acceptance.limits {
        let kind = limit.figure.kind();
        let index = places.iter().position(|(k, place)| k.figure == limit.figure && *place == limit.place);
        let values: Vec<Option<Measured>> =
            per_print.iter().map(|print| index.and_then(|index| print[index].map(Into::into))).collect();
        let known: Vec<Measured> = values.iter().filter_map(|value| *value).collect();
        let (estimate, _) = over_prints(kind, &known);
        let share = share_of_prints(kind, &known);
        let met: Vec<bool> = if kind.is_share_of_prints() {
            vec![share.is_some_and(|share| share.meets(limit)); values.len()]
        } else {
            values.iter().map(|value| value.is_some_and(|value| meets(limit, value))).collect()
        };
        all_met.iter_mut().zip(&met).for_each(|(all, met)| *all &= met);
        let met = met.iter().filter(|met| **met).count() as u32;
        outcomes.push(LimitOutcome { limit: limit.clone(), estimate, share, met, n });
    }
    let met = all_met.iter().filter(|met| **met).count() as u32;
    // A millionth of a print of slack: 0.9 is not a binary fraction.
    let enough = n > 0 && f64::from(met) + 1e-6 >= inputs.acceptance.required_share * f64::from(n);
    let accepted = (!inputs.acceptance.limits.is_empty()).then_some(enough);
    (outcomes, Verdict { accepted, met, n, share_interval: wilson_95(met, n) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::estimates_only;
    use crate::{Figure, ItemFigure, RegionFigure, Scope, kinds::kind, testing};

    fn place(id: &str, at: Option<&str>) -> FigureAt {
        (kind(id).expect("a known figure"), at.map(str::to_owned))
    }

    #[test]
    fn limits_decide_and_a_missing_value_meets_none() {
        let mut inputs = testing::inputs();
        let limit = |figure: Figure, place: &str, min, max| Limit { figure, place: Some(place.into()), min, max };
        inputs.acceptance.required_share = 0.9;
        inputs.acceptance.limits = vec![
            limit(RegionFigure::Coverage.into(), "target", Some(0.5), None),
            limit(ItemFigure::LineWidth.into(), "line", None, Some(20e-6)),
        ];
        let places = [place("line_width_um", Some("line")), place("coverage_percent", Some("target"))];
        let mut prints = vec![vec![Some(10e-6), Some(0.6)]; 10];
        prints[0][1] = Some(0.4);
        let (outcomes, verdict) = judge(&inputs, &places, &prints);
        assert_eq!((outcomes[0].met, outcomes[1].met, verdict.met, verdict.n), (9, 10, 9, 10));
        assert_eq!(verdict.accepted, Some(true));
        assert_eq!(verdict.share_interval, wilson_95(9, 10));
        prints[1][0] = None;
        let (outcomes, verdict) = judge(&inputs, &places, &prints);
        assert_eq!((outcomes[1].met, verdict.met, verdict.accepted), (9, 8, Some(false)));
        assert_eq!(outcomes[1].estimate.expect("nine values").n, 9);
        assert_eq!(estimates_only(&places, &prints)[0].note.as_deref(), Some("no value in 1 of 10 prints"));
        inputs.acceptance.limits.clear();
        assert_eq!(judge(&inputs, &places, &prints).1.accepted, None);
    }

    /// A line whose width is known as 'at least 20 um' in two of ten prints: these may meet a least width, never a largest one, and no
    /// interval is given of a mean that is itself a lower bound.
    #[test]
    fn a_lower_bound_never_shows_that_a_width_stays_small() {
        let places = [place("width_99_um", Some("line"))];
        let mut prints = vec![vec![Some(Measured::Exactly(30e-6))]; 10];
        prints[0] = vec![Some(Measured::AtLeast(20e-6))];
        prints[7] = vec![Some(Measured::AtLeast(20e-6))];
        let met = |min, max| {
            let mut inputs = testing::inputs();
            inputs.acceptance.limits =
                vec![Limit { figure: ItemFigure::Width99.into(), place: Some("line".into()), min, max }];
            judge(&inputs, &places, &prints).0[0].met
        };
        assert_eq!(met(None, Some(40e-6)), 8);
        assert_eq!(met(Some(15e-6), None), 10);
        assert_eq!(met(Some(25e-6), None), 8);
        assert_eq!(met(Some(15e-6), Some(40e-6)), 8);
        let row = &estimates_only(&places, &prints)[0];
        let e = row.estimate.expect("a lower bound");
        assert!((e.mean - 28e-6).abs() < 1e-12);
        assert_eq!((e.interval, e.sd, e.n, e.at_least), (None, None, 10, 2));
        assert_eq!(row.note.as_deref(), Some("a lower bound in 2 of 10 prints"));
    }

    /// Whether prints of which the first `hits` say yes are accepted.
    fn accepted(figure: &str, hits: usize, n: usize, min: Option<f64>, max: Option<f64>) -> bool {
        let mut inputs = testing::inputs();
        let kind = kind(figure).expect("a known figure");
        let at = (kind.scope == Scope::Region).then_some("target");
        inputs.acceptance.limits = vec![Limit { figure: kind.figure, place: at.map(str::to_owned), min, max }];
        let prints: Vec<_> = (0..n).map(|k| vec![Some(if k < hits { 1.0 } else { 0.0 })]).collect();
        judge(&inputs, &[place(figure, at)], &prints).1.accepted.expect("a limit")
    }

    #[test]
    fn a_probability_is_judged_by_its_bound() {
        let at_most = |hits, n, max| accepted("hit_probability", hits, n, None, Some(max));
        assert!(!at_most(0, 20, 0.05) && !at_most(0, 58, 0.05) && at_most(0, 59, 0.05));
        // One hit in 20 leaves up to 0.216: 0.784^20 + 20 * 0.216 * 0.784^19 = 0.0077 + 0.0424 = 0.050.
        assert!(!at_most(1, 20, 0.1) && !at_most(1, 20, 0.21) && at_most(1, 20, 0.22));
        // Planted fault: the reported value, which is a bound without a hit and a share with one, would accept one hit and not none.
        let reported = |hits: usize| {
            let prints: Vec<_> = (0..20).map(|k| vec![Some(if k < hits { 1.0 } else { 0.0 })]).collect();
            estimates_only(&[place("hit_probability", Some("target"))], &prints)[0].estimate.expect("prints").mean
        };
        assert!(reported(0) > 0.1 && reported(1) < 0.1);
        // The same from below: 19 of 20 show 0.784 at least.
        assert!(accepted("hit_probability", 19, 20, Some(0.78), None));
        assert!(!accepted("hit_probability", 19, 20, Some(0.79), None));
    }

    #[test]
    fn more_hits_never_meet_a_largest_limit_and_fewer_never_a_least_one() {
        for figure in ["hit_probability", "bridge_probability"] {
            for n in [1, 2, 5, 20, 29, 59, 100] {
                for limit in [0.001, 0.01, 0.05, 0.1, 0.14, 0.25, 0.5, 0.75, 0.9, 0.99, 1.0] {
                    let most: Vec<bool> = (0..=n).map(|hits| accepted(figure, hits, n, None, Some(limit))).collect();
                    assert!(most.is_sorted_by(|few, more| few >= more), "at most {limit}, {n} prints: {most:?}");
                    let least: Vec<bool> = (0..=n).map(|hits| accepted(figure, hits, n, Some(limit), None)).collect();
                    assert!(least.is_sorted_by(|few, more| few <= more), "at least {limit}, {n} prints: {least:?}");
                    // The same counts in more prints.
                    let share = |n: u32| ShareOfPrints::new(1, n).bounds[1];
                    assert!(share(n as u32 + 1) <= share(n as u32));
                }
            }
        }
    }

    #[test]
    fn prints_that_would_show_it() {
        let at_most =
            |max| Limit { figure: RegionFigure::HitProbability.into(), place: None, min: None, max: Some(max) };
        // Without a hit ln 0.05/ln 0.9 = 28.4.
        assert_eq!(ShareOfPrints::new(0, 20).prints_to_show(&at_most(0.1)), Some(29));
        // One in 20 hits: that share shows less than 0.1 once the bound has come down to it, and not one print sooner.
        let found = ShareOfPrints::new(1, 20).prints_to_show(&at_most(0.1)).expect("a number");
        let bound = |n: u32| share_bounds(0.05 * f64::from(n), f64::from(n), 0.05)[1];
        assert!(bound(found) <= 0.1 && bound(found - 1) > 0.1 && (60..140).contains(&found), "{found}");
        assert_eq!(ShareOfPrints::new(2, 20).prints_to_show(&at_most(0.1)), None, "as many as allowed");
        assert_eq!(ShareOfPrints::new(0, 20).prints_to_show(&at_most(0.0)), None);
    }
}
