//! How well a setting meets the limits, by what is known of it.

use super::desk::OfPrint;
use super::outlook::Outlook;
use motefall_figures::advice::Candidate;
use motefall_figures::expected::share_of_law;
use motefall_figures::statistics::FigureAt;
use motefall_figures::{Measured, judge};
use motefall_physics::inputs::{Inputs, Limit};
use statrs::distribution::{ContinuousCDF, Normal};

/// Deviates beyond which nothing is told apart.
const FARTHEST: f64 = 8.0;
/// Scatter, in logarithms, given to a probability, which all prints have together: its limit is met or missed as a whole.
const OF_PROBABILITY: f64 = 0.15;
/// Least standard deviation, relative to the end of the limit.
const LEAST_SD: f64 = 1e-3;

/// The limits and what they ask.
pub(super) struct Judge<'a> {
    inputs: &'a Inputs,
}

impl<'a> Judge<'a> {
    pub(super) fn new(inputs: &'a Inputs) -> Self {
        Self { inputs }
    }

    pub(super) fn limits(&self) -> &'a [Limit] {
        &self.inputs.acceptance.limits
    }

    pub(super) fn required(&self) -> f64 {
        self.inputs.acceptance.required_share
    }

    /// Standard deviations by which a figure keeps away from its limit, negative beyond it: the normal deviate of the share of prints that
    /// meet it.
    pub(super) fn deviate(&self, limit: &Limit, mean: f64, sd: f64) -> f64 {
        let kind = limit.figure.kind();
        if kind.is_share_of_prints() {
            let below = |max: f64| (max / mean.max(1e-9)).ln() / OF_PROBABILITY;
            let above = |min: f64| (mean.max(1e-9) / min.max(1e-9)).ln() / OF_PROBABILITY;
            let all = [limit.max.map(below), limit.min.map(above)];
            return all.into_iter().flatten().fold(FARTHEST, f64::min).max(-FARTHEST);
        }
        let end = limit.max.or(limit.min).unwrap_or(mean).abs();
        let sd = sd.max(LEAST_SD * end).max(f64::MIN_POSITIVE);
        let share = share_of_law(limit, mean, sd);
        let normal = Normal::standard();
        if share > 1e-12 && share < 1.0 - 1e-12 {
            return normal.inverse_cdf(share);
        }
        // Too near to 0 or 1 for a share: by the distance itself, so that one bad setting still is better than another.
        let all = [limit.max.map(|max| (max - mean) / sd), limit.min.map(|min| (mean - min) / sd)];
        let distance = all.into_iter().flatten().fold(f64::INFINITY, f64::min);
        if share >= 0.5 { distance.clamp(0.0, FARTHEST) } else { distance.min(-FARTHEST + 1.0) }
    }

    /// The setting with its prints: what they met.
    pub(super) fn candidate(&self, outlook: &Outlook, figures: &[FigureAt], prints: &[OfPrint]) -> Candidate {
        let per_print: Vec<Vec<Option<Measured>>> = prints.iter().map(measured).collect();
        let (outcomes, verdict) = judge(self.inputs, figures, &per_print);
        let means = outcomes
            .iter()
            .zip(&outlook.means)
            .map(|(outcome, expected)| outcome.estimate.as_ref().map(|estimate| estimate.mean).or(*expected));
        Candidate {
            printed: outcomes.iter().map(|outcome| outcome.estimate).collect(),
            values: outlook.values.clone(),
            means: means.collect(),
            expected: outlook.share,
            tightest: outlook.tightest(),
            prints: verdict.n,
            met: verdict.met,
            met_each: outcomes.iter().map(|outcome| outcome.met).collect(),
            used: outlook.used,
            doubts: outlook.doubts.clone(),
        }
    }

    /// Whether a share of passing prints is enough with room to spare: at most half as many prints fail as may. What only just passes may fail
    /// when more is printed, and no lack of doubts makes up for that.
    pub(super) fn has_spare(&self, share: f64) -> bool {
        1.0 - share <= 0.5 * (1.0 - self.required()) + 1e-6
    }

    /// Whether enough prints of a setting met all limits.
    pub(super) fn passes(&self, candidate: &Candidate) -> bool {
        candidate.prints > 0 && f64::from(candidate.met) + 1e-6 >= self.required() * f64::from(candidate.prints)
    }
}

fn measured(print: &OfPrint) -> Vec<Option<Measured>> {
    let of =
        |(value, at_least): (f64, bool)| if at_least { Measured::AtLeast(value) } else { Measured::Exactly(value) };
    print.iter().map(|told| told.map(of)).collect()
}
