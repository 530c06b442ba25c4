//! Profiles across printed items.

use super::places::{Points, nodes};
use super::swept::{Lying, Swept};
use motefall_figures::places::{is_even, is_line};
use motefall_figures::profile::{ExactProfile, Lane};
use motefall_physics::contours::Bounds;
use motefall_physics::figure_kinds::ItemFigure;
use motefall_physics::inputs::Shape;

/// Bins on each side of an item's axis, and the least width of one, m.
const SIDE_BINS: f64 = 256.0;
const LEAST_BIN: f64 = 0.05e-6;
/// Parts of the length of a strip, of close and of wide points.
const PARTS: [f64; 2] = [4.0, 2.0];

/// Where the profile of an item is looked at.
#[derive(Debug, Clone)]
pub(super) struct Across {
    /// Width of a bin, m, and middles of the bins from the axis, m.
    bin: f64,
    middles: Vec<f64>,
    lane: Lane,
}

/// What a layer leaves along an item, by bin and place along.
pub(super) type OnItem = Vec<Lying>;

impl Across {
    pub(super) fn new(lane: &Lane) -> Self {
        let (_, _, _, reach) = lane.extent();
        let bin = (reach / SIDE_BINS).max(LEAST_BIN);
        let side = (reach / bin) as i32;
        Self { bin, middles: (-side..=side).map(|k| f64::from(k) * bin).collect(), lane: lane.clone() }
    }

    /// Places along the strip and their weights, m.
    fn along(&self, points: Points) -> Vec<(f64, f64)> {
        let (_, _, half_length, _) = self.lane.extent();
        nodes(-half_length, half_length, 2.0 * half_length / PARTS[points as usize])
    }

    /// Length of the strip, m.
    pub(super) fn length(&self) -> f64 {
        let (_, _, half_length, _) = self.lane.extent();
        2.0 * half_length
    }

    /// Bounds of the middle of the strip.
    pub(super) fn bounds(&self) -> Bounds {
        let (middle, along, half_length, _) = self.lane.extent();
        let ends = [-half_length, half_length].map(|at| [0, 1].map(|k| middle[k] + at * along[k]));
        Bounds { low: [0, 1].map(|k| ends[0][k].min(ends[1][k])), high: [0, 1].map(|k| ends[0][k].max(ends[1][k])) }
    }

    pub(super) fn of_layer(&self, layer: &Swept<'_>, points: Points) -> OnItem {
        let (middle, [ax, ay], _, _) = self.lane.extent();
        let along = self.along(points);
        let at = |across: f64, along: f64| {
            layer.at([middle[0] + along * ax - across * ay, middle[1] + along * ay + across * ax])
        };
        self.middles.iter().flat_map(|across| along.iter().map(|(place, _)| at(*across, *place))).collect()
    }

    /// The profile of what layers leave together.
    pub(super) fn together(&self, layers: &[&OnItem], points: Points) -> ExactProfile {
        let along = self.along(points);
        let length: f64 = along.iter().map(|(_, weight)| weight).sum();
        let mean = |bin: usize, of: &dyn Fn(usize) -> f64| -> f64 {
            along.iter().enumerate().map(|(k, (_, weight))| weight * of(bin * along.len() + k)).sum::<f64>() / length
        };
        let sum = |k: usize, what: usize| layers.iter().map(|layer| layer[k][what]).sum::<f64>();
        let bins = 0..self.middles.len();
        ExactProfile {
            bin: self.bin,
            thickness: bins.clone().map(|bin| mean(bin, &|k| sum(k, 1))).collect(),
            coverage: bins.map(|bin| mean(bin, &|k| -(-sum(k, 0)).exp_m1())).collect(),
        }
    }
}

/// A figure of an item, read off its profile; `None` where only prints tell, or there is nothing to read. The largest thickness of a filled
/// shape is one of the chance in its profile.
pub(super) fn of_item(figure: ItemFigure, shape: &Shape, profile: &ExactProfile) -> Option<f64> {
    let band = |share: f64| profile.band(share).filter(|_| is_even(shape));
    match figure {
        ItemFigure::EdgeWidth => profile.edge_width().filter(|_| is_even(shape)),
        ItemFigure::LineWidth => profile.width().filter(|_| is_line(shape)),
        ItemFigure::Width90 => band(0.9),
        ItemFigure::Width99 => band(0.99),
        ItemFigure::PeakThickness => Some(profile.peak()).filter(|peak| is_line(shape) && *peak > 0.0),
        ItemFigure::EdgeRoughness => None,
    }
}

/// By how much a figure of an item as read off prints may differ, because their profiles are grainy: of particles that cover `speck` each,
/// m^2.
pub(super) fn doubt_of_item(figure: ItemFigure, profile: &ExactProfile, speck: f64, length: f64) -> f64 {
    match figure {
        ItemFigure::LineWidth => profile.width_doubt(),
        ItemFigure::PeakThickness => profile.peak_doubt(),
        ItemFigure::EdgeWidth => profile.edge_doubt(speck, length),
        ItemFigure::Width90 | ItemFigure::Width99 | ItemFigure::EdgeRoughness => 0.0,
    }
}
