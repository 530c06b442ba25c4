//! Figures in words, as tables of these sections show them.

use crate::numbers;
use motefall_figures::{Estimate, Figure, Prediction, PrintFigure, RegionFigure, estimate_at};

/// The estimate of a figure at a place.
pub(super) fn figure<'a>(p: &'a Prediction, figure: impl Into<Figure>, place: Option<&str>) -> Option<&'a Estimate> {
    estimate_at(&p.figures, figure, place)
}

/// A figure of the print in words, with its unit.
pub(super) fn words(p: &Prediction, of: PrintFigure) -> String {
    numbers::figure(figure(p, of, None), of.kind()).to_string()
}

/// An estimate in words, in the unit of a figure.
pub(super) fn shown(estimate: Option<&Estimate>, figure: RegionFigure) -> String {
    let kind = figure.kind();
    estimate.map_or_else(|| "–".into(), |_| numbers::figure(estimate, kind).below(kind.unit))
}
