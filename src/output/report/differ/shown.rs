//! Values with as many digits as the prints tell.

use crate::numbers;
use motefall_figures::{Distribution, FigureRow};

/// Writes a value of this row with as many digits as its spread calls for; and its unit.
pub(super) fn shown(row: &FigureRow, d: &Distribution) -> (impl Fn(f64) -> String + use<>, String) {
    let (factor, unit) = numbers::suited(row.kind, d.percentiles[2] * row.kind.per_si);
    let scale = row.kind.per_si * factor;
    // A percentile of some hundred prints is known to about a fifth of the standard deviation. Extremes have digits as everywhere.
    let precision = 0.2 * row.estimate.filter(|e| e.extremes.is_none()).and_then(|e| e.sd).unwrap_or(0.0) * scale;
    (move |value| numbers::at_precision(value * scale, precision), unit)
}
