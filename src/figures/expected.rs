//! The expected deposit: what figures are on average, without making a print.

use crate::{FigureKind, FigureRow};
use motefall_physics::inputs::{Inputs, Varied};

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

/// What a figure is on average over prints, SI.
#[derive(Debug, Clone)]
pub struct ExpectedValue {
    /// Mean over prints.
    pub mean: f64,
    /// Standard deviation of it that the varied inputs bring about; chance within the print comes on top.
    pub from_inputs: f64,
    /// Variance that each varied input brings about by itself.
    pub variances: Vec<(Varied, f64)>,
    /// Error of the arithmetic: half the difference of two independent sets of droplets.
    pub error: f64,
}

/// Distance of the mean of prints from what was expected, in standard errors: of the prints' mean and of the arithmetic together. `None` where
/// either is missing or nothing scatters.
pub fn distance(row: &FigureRow, expected: &ExpectedRow) -> Option<f64> {
    let (estimate, value) = (row.estimate.as_ref()?, expected.value.as_ref()?);
    let of_prints = estimate.sd? / f64::from(estimate.n).sqrt();
    let error = of_prints.hypot(value.error);
    (error > 0.0).then(|| (estimate.mean - value.mean) / error)
}
