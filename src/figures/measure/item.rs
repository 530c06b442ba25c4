//! The figures of an item of the path.

use super::Measurer;
use crate::Measured;
use crate::places::{is_even, is_line};
use crate::profile::{Edges, Pieces, Smoothed};
use motefall_physics::figure_kinds::ItemFigure;
use motefall_physics::inputs::Shape;
use motefall_physics::map::{LineVolume, PrintOutcome};

/// What is known of an item in a print.
pub(super) struct OfItem<'a> {
    pieces: Pieces<'a>,
    profile: Vec<f64>,
    /// Whether anything landed along it.
    any: bool,
    edges: Option<Edges>,
    line: LineVolume,
    shape: &'a Shape,
}

impl OfItem<'_> {
    pub(super) fn value(&self, figure: ItemFigure) -> Option<Measured> {
        let band = |share: f64| self.pieces.band(&self.profile, share, self.line).filter(|_| is_even(self.shape));
        let smoothed = if is_line(self.shape) { Smoothed::Line } else { Smoothed::Filled };
        match figure {
            ItemFigure::EdgeWidth => self.pieces.edge_width().filter(|_| is_even(self.shape)),
            ItemFigure::LineWidth => self.edges.as_ref().map(|edges| edges.width),
            ItemFigure::Width90 => band(0.9),
            ItemFigure::Width99 => band(0.99),
            ItemFigure::PeakThickness => self.any.then(|| self.pieces.peak(&self.profile, smoothed).into()),
            ItemFigure::EdgeRoughness => self.edges.as_ref().and_then(|edges| edges.roughness).map(Measured::Exactly),
        }
    }
}

impl Measurer {
    pub(super) fn item<'a>(&'a self, k: usize, outcome: &'a PrintOutcome) -> Option<OfItem<'a>> {
        let pieces = self.items[k].as_ref().ok()?.collect(&outcome.canvas);
        let shape = &self.shapes[k];
        let profile = pieces.profile();
        let any = profile.iter().any(|t| *t > 0.0);
        Some(OfItem {
            edges: if any && is_line(shape) { pieces.edges(&profile) } else { None },
            any,
            line: outcome.lines.get(k).copied().unwrap_or_default(),
            shape,
            pieces,
            profile,
        })
    }

    /// Widths between which that of a line of a single print lies at 95 %, m.
    pub(crate) fn width_interval(&self, item: usize, outcome: &PrintOutcome) -> Option<[f64; 2]> {
        let pieces = self.items[item].as_ref().ok()?.collect(&outcome.canvas);
        pieces.width_interval(&pieces.profile())
    }
}
