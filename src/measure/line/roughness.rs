//! How rough the edges of a line are.

use super::profile::LineRead;
use super::strip::Strip;
use motefall_figures::profile::{nearest_crossing, squares_from_line};
use motefall_figures::profile::{smooth, smoothing};

/// Fewest samples along an edge that give a roughness.
const FEWEST_SAMPLES: usize = 10;
/// Largest share of samples without an edge at which a roughness is still given.
const LARGEST_GAP_SHARE: f64 = 0.1;
/// Length of a sample, in widths of the line.
const SAMPLE_WIDTHS: f64 = 0.25;

/// Roughness of the edges, pixels.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Roughness {
    /// Three standard deviations of both edges from their best-fit straight lines.
    pub(crate) three_sigma: f64,
    /// Degrees of freedom that this rests on.
    pub(crate) freedom: f64,
    /// Length over which it was taken.
    pub(crate) length: f64,
    /// Length of a sample.
    pub(crate) sampling: f64,
    /// The edges: distance along and across from the middle of the picture.
    pub(crate) points: [Vec<(f64, f64)>; 2],
}

/// Edges: where each sample's smoothed profile crosses half of the mean profile's peak nearest to the mean edge. `None` of a line that is too
/// short or too sparse.
///
/// Source of the definition: SEMI P47-0307, Test method for evaluation of line-edge roughness and linewidth roughness (three standard
/// deviations: from memory). Particles make edges grainy, and noise can only add: Villarrubia & Bunday 2005, Unbiased estimation of
/// linewidth roughness, Proc. SPIE 5752:480.
pub(crate) fn roughness(strip: &Strip, read: &LineRead) -> Option<Roughness> {
    let width = read.width_half();
    let per_sample = ((SAMPLE_WIDTHS * width / strip.piece_length).round() as usize).max(1);
    let samples = strip.pieces / per_sample;
    if samples < FEWEST_SAMPLES {
        return None;
    }
    let half_window = smoothing(&strip.profile(&(0..strip.pieces)));
    let sampling = per_sample as f64 * strip.piece_length;
    let mut points = [vec![], vec![]];
    for sample in 0..samples {
        let smoothed = smooth(&strip.profile(&(sample * per_sample..(sample + 1) * per_sample)), half_window);
        let along = (sample as f64 + 0.5) * sampling - 0.5 * strip.piece_length * strip.pieces as f64;
        for (side, points) in points.iter_mut().enumerate() {
            if let Some(at) = nearest_crossing(&smoothed, 0.5 * read.peak, read.half, side) {
                points.push((along, strip.first + at));
            }
        }
    }
    let most_missing = LARGEST_GAP_SHARE * samples as f64;
    if points.iter().any(|points| samples as f64 - points.len() as f64 > most_missing) {
        return None;
    }
    let freedom: f64 = points.iter().map(|points| points.len() as f64 - 2.0).sum();
    // Straight edges are off their straight line by rounding alone.
    let squares = points.iter().map(|points| squares_from_line(points)).sum::<f64>();
    let squares = if squares < f64::EPSILON * freedom { 0.0 } else { squares };
    let length = samples as f64 * sampling;
    Some(Roughness { three_sigma: 3.0 * (squares / freedom).sqrt(), freedom, length, sampling, points })
}
