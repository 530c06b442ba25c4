//! How rough the edges of a line are.

use super::curve::smooth;
use super::pieces::Pieces;

/// Fewest samples along an edge that give a roughness.
const FEWEST_SAMPLES: usize = 10;
/// Largest share of samples without an edge at which a roughness is still given.
const LARGEST_GAP_SHARE: f64 = 0.1;

impl Pieces<'_> {
    /// Three standard deviations of both edges from their lines, in bins. Edges: where each sample's smoothed profile crosses half of
    /// the mean profile's peak nearest to the mean edge.
    ///
    /// Source of the definition: SEMI P47-0307, Test method for evaluation of line-edge roughness and linewidth roughness (three
    /// standard deviations: from memory). Particles make edges grainy, and noise can only add: Villarrubia & Bunday 2005, Unbiased
    /// estimation of linewidth roughness, Proc. SPIE 5752:480.
    pub(super) fn roughness(&self, mean_edges: [f64; 2], half_window: usize, level: f64) -> Option<f64> {
        let per_sample = self.strip.pieces_per_sample((mean_edges[1] - mean_edges[0]) * self.strip.grid.pitch);
        let samples = self.strip.pieces / per_sample;
        if samples < FEWEST_SAMPLES {
            return None;
        }
        let mut found: [Vec<(f64, f64)>; 2] = [vec![], vec![]];
        for k in 0..samples {
            let smoothed = smooth(&self.mean(k * per_sample..(k + 1) * per_sample), half_window);
            for (side, points) in found.iter_mut().enumerate() {
                if let Some(at) = nearest_crossing(&smoothed, level, mean_edges, side) {
                    points.push((k as f64, at));
                }
            }
        }
        let most_missing = LARGEST_GAP_SHARE * samples as f64;
        let (mut squares, mut freedom) = (0.0, 0.0);
        for points in &found {
            if samples as f64 - points.len() as f64 > most_missing {
                return None;
            }
            squares += squares_from_line(points);
            freedom += points.len() as f64 - 2.0;
        }
        Some(3.0 * (squares / freedom).sqrt())
    }
}

/// The place nearest to the mean edge at which a curve passes a level outwards, in bins; within one line width of it.
pub fn nearest_crossing(values: &[f64], level: f64, mean_edges: [f64; 2], side: usize) -> Option<f64> {
    let width = mean_edges[1] - mean_edges[0];
    (0..values.len() - 1)
        .filter(|k| {
            let (inner, outer) = if side == 0 { (values[k + 1], values[*k]) } else { (values[*k], values[k + 1]) };
            inner >= level && outer < level
        })
        .map(|k| k as f64 + (level - values[k]) / (values[k + 1] - values[k]))
        .filter(|at| (at - mean_edges[side]).abs() <= width)
        .min_by(|a, b| (a - mean_edges[side]).abs().total_cmp(&(b - mean_edges[side]).abs()))
}

/// Sum of squared residuals from the best-fit straight line.
pub fn squares_from_line(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    points.iter().map(|p| (p.1 - my - slope * (p.0 - mx)).powi(2)).sum()
}
