//! What lies on a region.

use super::chords::{Chords, Line, earlier};
use super::places::{Place, area};
use super::swept::Swept;
use motefall_physics::inputs::Region;
use motefall_physics::map::outline;

/// Covered share of a region below which droplets are taken never to meet.
const SPARSE: f64 = 1e-4;
/// Share of all that landed below which there is nothing on a region.
const NOTHING: f64 = 1e-12;

/// What a layer leaves on a region.
#[derive(Debug, Clone)]
pub(super) struct OnRegion {
    /// Amounts over all of the area, and over the part whose landings are its own.
    whole: Vec<f64>,
    own: Vec<f64>,
    covered: Covered,
    /// Covered area, each droplet's by itself, m^2.
    all_covered: f64,
}

/// Covered area per area, each droplet's by itself.
#[derive(Debug, Clone)]
enum Covered {
    /// Hardly any, and the same everywhere.
    Sparse(f64),
    /// At each point.
    At(Vec<f64>),
}

impl OnRegion {
    /// For the region with a number, with points that stand for its area; `landed` is all that a layer leaves anywhere.
    pub(super) fn new(layer: &Swept<'_>, regions: &[Region], k: usize, points: &[Place], landed: &[f64]) -> Self {
        let spot = layer.spot();
        let sum = |chords: &(dyn Fn(Line) -> Chords + Sync)| {
            let mut sums = vec![0.0; landed.len()];
            layer.add_in(outline::bounds(&regions[k].outline), chords, &mut sums);
            // Differences of large numbers: what is less than their digits hold is nothing.
            let something = |sum: f64, most: f64| if sum < NOTHING * most { 0.0 } else { sum };
            sums.iter_mut().zip(landed).for_each(|(sum, most)| *sum = something(*sum, *most));
            sums
        };
        let whole = sum(&|line| Chords::of_whole(regions, k, line));
        let is_overlapped = earlier(regions, k).next().is_some();
        let all_covered = whole[spot.amounts.covered()];
        let mean = all_covered / area(points);
        let at_points = || points.iter().map(|place| layer.at(place.point)[0]).collect();
        Self {
            own: if is_overlapped { sum(&|line| Chords::of_own(regions, k, line)) } else { whole.clone() },
            covered: if mean < SPARSE { Covered::Sparse(mean) } else { Covered::At(at_points()) },
            all_covered,
            whole,
        }
    }
}

impl OnRegion {
    /// Solid volume on the region, m^3.
    pub(super) fn solids(&self, powders: usize) -> f64 {
        self.whole[powders..2 * powders].iter().sum()
    }
}

/// What all layers leave on a region.
#[derive(Debug, Clone, Default)]
pub(super) struct Together {
    /// Its area, m^2, and what is bare of it.
    pub(super) area: f64,
    pub(super) bare: f64,
    /// Covered area per area at its points, each droplet's by itself, with the area that a point stands for.
    pub(super) covered: Vec<(f64, f64)>,
    /// Amounts over all of the area, and over the part whose landings are its own.
    pub(super) whole: Vec<f64>,
    pub(super) own: Vec<f64>,
}

impl Together {
    pub(super) fn new(layers: &[&OnRegion], points: &[Place]) -> Self {
        let add = |of: fn(&OnRegion) -> &Vec<f64>| -> Vec<f64> {
            let mut sums = vec![0.0; layers.first().map_or(0, |on| of(on).len())];
            layers.iter().for_each(|on| sums.iter_mut().zip(of(on)).for_each(|(sum, amount)| *sum += amount));
            sums
        };
        let covered = |n: usize| -> f64 {
            let of_layer = |on: &&OnRegion| match &on.covered {
                Covered::Sparse(mean) => *mean,
                Covered::At(points) => points[n],
            };
            layers.iter().map(of_layer).sum()
        };
        let covered: Vec<(f64, f64)> = points.iter().enumerate().map(|(n, place)| (covered(n), place.area)).collect();
        let all = layers.iter().map(|on| on.all_covered).sum();
        Self {
            area: area(points),
            bare: bare(&covered, all),
            covered,
            whole: add(|on| &on.whole),
            own: add(|on| &on.own),
        }
    }
}

/// Bare area from what is covered at points, each droplet's by itself, with their areas. The sum over the area is known exactly: that of the
/// points is set right by it, as far as more cover still makes less bare.
fn bare(points: &[(f64, f64)], all: f64) -> f64 {
    let sum = |of: fn(f64) -> f64| -> f64 { points.iter().map(|(covered, area)| area * of(*covered)).sum() };
    let (bare, at_points) = (sum(|covered| (-covered).exp()), sum(|covered| covered));
    let slope = if at_points > 0.0 { sum(|covered| covered * (-covered).exp()) / at_points } else { 0.0 };
    (bare - slope * (all - at_points)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One thin strip at x = 0.05 of ten unit squares, sum known to be 0.06: bare 9 + e^-0.05 - e^-0.05 * 0.01.
    #[test]
    fn a_known_sum_sets_points_right() {
        let mut points = vec![(0.0, 1.0); 9];
        points.push((0.05, 1.0));
        let e = (-0.05f64).exp();
        assert!((bare(&points, 0.05) - (9.0 + e)).abs() < 1e-12);
        assert!((bare(&points, 0.06) - (9.0 + e - 0.01 * e)).abs() < 1e-12);
    }
}
