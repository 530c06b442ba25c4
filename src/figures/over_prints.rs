//! From the figures of single prints to those of all, and to the decision.

use crate::measure::Measurer;
use crate::{Draws, FigureRow, LimitOutcome, Measured, Verdict, judge, spread};
use motefall_physics::map::PrintOutcome;

/// Figures over all prints, and how they stand against the limits.
#[derive(Debug, Clone)]
pub struct OverPrints {
    /// All figures, in the order of [`Measurer::places`], with their intervals and remarks.
    pub figures: Vec<FigureRow>,
    /// The limits and how the prints did against each.
    pub limits: Vec<LimitOutcome>,
    /// The decision.
    pub verdict: Verdict,
}

impl Measurer {
    /// Sums up [`Measurer::measure`] of each print. Of one print alone, `first`, counting tells the intervals.
    pub fn over_prints(&self, first: &PrintOutcome, per_print: &[Vec<Option<Measured>>], draws: &Draws) -> OverPrints {
        let OverPrints { mut figures, mut limits, verdict } = self.summed(per_print, draws);
        if per_print.len() == 1 {
            self.single_print(first, &mut figures);
            for outcome in &mut limits {
                let is_same =
                    |row: &&FigureRow| row.kind.figure == outcome.limit.figure && row.place == outcome.limit.place;
                let row = figures.iter().find(is_same);
                outcome.estimate = row.and_then(|row| row.estimate).or(outcome.estimate);
            }
        }
        self.annotate(&mut figures);
        OverPrints { figures, limits, verdict }
    }

    /// The same of two prints and more.
    pub fn over_several(&self, per_print: &[Vec<Option<Measured>>], draws: &Draws) -> OverPrints {
        debug_assert!(per_print.len() > 1);
        let mut summed = self.summed(per_print, draws);
        self.annotate(&mut summed.figures);
        summed
    }

    fn summed(&self, per_print: &[Vec<Option<Measured>>], draws: &Draws) -> OverPrints {
        let (limits, verdict) = judge(&self.inputs, self.places(), per_print);
        OverPrints { figures: spread::summarise(self.places(), per_print, draws), limits, verdict }
    }
}
