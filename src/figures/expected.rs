//! The expected deposit: what figures are on average, without making a print.

use crate::rows::{ExpectedValue, FigureRow, estimate_at};
use crate::{FigureKind, RegionFigure};
use motefall_physics::inputs::Inputs;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// The expected deposit of a setting.
#[derive(Debug, Clone)]
pub struct Expected {
    /// The inputs.
    pub inputs: Inputs,
    /// Figures and places, in the order of [`crate::measure::Measurer::places`].
    pub figures: Vec<ExpectedRow>,
}

/// One figure at one place.
#[derive(Debug, Clone)]
pub struct ExpectedRow {
    /// Which figure.
    pub kind: &'static FigureKind,
    /// Region or path item; `None` for the whole print.
    pub place: Option<String>,
    /// What it is on average; `None` where only prints tell.
    pub value: Option<ExpectedValue>,
}

/// How far the mean of prints lies from what is expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distance {
    /// In standard errors: of the prints' mean and of the arithmetic together.
    pub errors: f64,
    /// Standard errors that chance exceeds in one figure of a million.
    pub most: f64,
}

/// Chance of more than [`Distance::most`].
const CHANCE: f64 = 1e-6;
/// Particles that must have landed in all prints together, and prints on each side of a probability, for a law of large numbers to hold.
const ENOUGH_PARTICLES: f64 = 100.0;
const ENOUGH_PRINTS: f64 = 8.0;

/// How far a figure lies from what is expected, `particles` being those that land at its place in a print on average, if it is counted by
/// them; `None` where either is not known, or too little happens to tell.
pub fn distance(row: &FigureRow, particles: Option<f64>) -> Option<Distance> {
    let (estimate, value) = (row.estimate.as_ref()?, row.expected.as_ref()?);
    let n = f64::from(estimate.n);
    let counted = if row.kind.is_count() { Some(estimate.mean.max(value.mean)) } else { particles };
    if counted.is_some_and(|counted| counted * n < ENOUGH_PARTICLES) || estimate.at_least > 0 || estimate.n < 3 {
        return None;
    }
    let of_prints = if row.kind.is_share_of_prints() {
        let p = value.mean;
        // Without a hit, an upper bound stands in place of the mean.
        (n * p.min(1.0 - p) > ENOUGH_PRINTS).then(|| (p * (1.0 - p) / n).sqrt())?
    } else {
        estimate.sd? / n.sqrt()
    };
    let error = of_prints.hypot(value.error);
    let law = StudentsT::new(0.0, 1.0, n - 1.0).ok()?;
    (error > 0.0)
        .then(|| Distance { errors: (estimate.mean - value.mean) / error, most: law.inverse_cdf(1.0 - 0.5 * CHANCE) })
}

/// [`distance`] of each figure that both give.
pub fn distances(rows: &[FigureRow]) -> impl Iterator<Item = (&FigureRow, Distance)> {
    rows.iter().filter_map(|row| {
        let place = row.place.as_deref();
        let landed = place.and_then(|place| estimate_at(rows, RegionFigure::Particles, Some(place)));
        Some((row, distance(row, landed.map(|landed| landed.mean))?))
    })
}
