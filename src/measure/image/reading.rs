//! What is read off a levelled picture at one threshold.

use crate::grains::{
    Grain, Joined, LARGEST_NECK, NARROW_NECK, Network, Pieces, cut_further, fill_relief, grains, inside_distance,
    joined, network, part_areas, split, total_turning, without_specks,
};
use crate::ground::edge_blur;
use crate::raster::Raster;
use std::f64::consts::PI;

/// Fewest pixels of a grain.
const LEAST_AREA: f64 = 6.0;
/// Least radius of a grain, in standard deviations of the blur: smaller ones hardly reach the threshold.
const LEAST_RADIUS: f64 = 1.5;

/// A picture cut into ground and grains.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    /// What is covered.
    pub(crate) mask: Raster<bool>,
    /// Numbers of grains.
    pub(crate) labels: Raster<u32>,
    /// The grains.
    pub(crate) grains: Vec<Grain>,
    /// What speaks for a network.
    pub(crate) network: Network,
    /// Covered share.
    pub(crate) coverage: f64,
    /// Standard deviation of that by the number of grains, if these lie by chance: root of the sum of their squared areas, over the area. A
    /// film is none of them.
    pub(crate) by_count: f64,
    /// Area of the grain that a covered pixel belongs to on average, pixels; 1 if there are none.
    pub(crate) mean_grain: f64,
    /// Blur of the edges, pixels.
    pub(crate) blur: f64,
    /// Area that blur took from the outlines, as a share of the picture.
    pub(crate) restored: f64,
}

/// The smallest grain that counts, pixels, and the blur of the edges.
pub(crate) fn smallest_and_blur(share: &Raster<f32>, threshold: f64) -> (usize, f64) {
    let mask = without_specks(&share.map(|v| f64::from(v) > threshold), LEAST_AREA as usize);
    let blur = edge_blur(share, &mask, &inside_distance(&mask));
    ((PI * (LEAST_RADIUS * blur).powi(2)).max(LEAST_AREA).ceil() as usize, blur)
}

impl Reading {
    /// Reads a picture of shares; pieces of fewer than `smallest` pixels are left out, holes as small are filled.
    ///
    /// Blur of the standard deviation s draws an outline in by s^2/2 times its curvature, and the curvature along a closed outline
    /// adds up to 2 pi (Gauss-Bonnet), so the area lost is pi s^2 for each piece, less as much for each hole. It is put back.
    pub(crate) fn new(share: &Raster<f32>, threshold: f64, smallest: usize, blur: f64) -> Self {
        let mut mask = without_specks(&share.map(|v| f64::from(v) > threshold), smallest);
        let pieces = Pieces::of(&mask, true, Joined::ByCorners);
        let whole = fill_relief(&mut mask, &pieces);
        let pieces = if whole.is_empty() { pieces } else { Pieces::of(&mask, true, Joined::ByCorners) };
        let distance = inside_distance(&mask);
        let split = |neck: f32| split(&mask, &distance, smallest, neck);
        let (coarse, coarse_count) = joined(split(NARROW_NECK), &whole);
        let network = network(&mask, &pieces, &coarse, coarse_count);
        let parts = split(LARGEST_NECK);
        let parts = if network.is_one() { parts } else { cut_further(parts, share, smallest, blur) };
        let (labels, count) = joined(parts, &whole);
        let piece_of = pieces.of_each(&labels, count);
        let grains = grains(&labels, count, &grains_in_piece(&piece_of, &pieces), blur);
        let pixels = mask.area() as f64;
        let restored = PI * blur * blur * total_turning(&mask) / pixels;
        let areas = part_areas(&labels, count);
        // A film is no grain that lies there by chance.
        let is_single = |k: &usize| !network.films.contains(&piece_of[*k]);
        let sum: f64 = areas.iter().map(|area| *area as f64).sum();
        let single: Vec<f64> = (1..=count).filter(is_single).map(|k| areas[k] as f64).collect();
        let squares: f64 = single.iter().map(|area| area * area).sum();
        Self {
            mask,
            labels,
            grains,
            network,
            coverage: (sum / pixels + restored).clamp(0.0, 1.0),
            by_count: squares.sqrt() / pixels,
            mean_grain: if single.is_empty() { 1.0 } else { squares / single.iter().sum::<f64>() },
            blur,
            restored,
        }
    }
}

impl Reading {
    /// Covered share of the outermost pixels.
    pub(crate) fn frame_share(&self) -> f64 {
        let mask = &self.mask;
        let sides = (1..mask.rows - 1).flat_map(|row| [mask.at(0, row), mask.at(mask.columns - 1, row)]);
        let frame: Vec<bool> = [mask.row(0), mask.row(mask.rows - 1)].concat().into_iter().chain(sides).collect();
        frame.iter().filter(|covered| **covered).count() as f64 / frame.len() as f64
    }
}

/// For each grain, how many are in its piece.
fn grains_in_piece(piece_of: &[u32], pieces: &Pieces) -> Vec<usize> {
    let mut in_piece = vec![0usize; pieces.areas.len()];
    piece_of.iter().skip(1).for_each(|piece| in_piece[*piece as usize] += 1);
    piece_of.iter().map(|piece| in_piece[*piece as usize]).collect()
}
