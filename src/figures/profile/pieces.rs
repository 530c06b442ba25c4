//! What is read off the profile along an item.

use super::curve::{
    LEAST_SMOOTHING, Total, band, crossings, highest, means, moving_mean, outermost, ratio, smooth, smoothing, width_at,
};
use super::strip::{Between, Strip};
use crate::Measured;
use motefall_physics::map::LineVolume;
use motefall_physics::map::canvas::{Canvas, SUB};
use motefall_physics::units::CUBIC_NANOMETRE;
use std::ops::Range;

/// Largest relative standard error of a line's peak at which a width is still given.
const LARGEST_PEAK_ERROR: f64 = 0.25;

/// A line's edge is where particles cover this part of what they cover where they cover most: about where, in a micrograph, the line ends
/// and single particles beside it begin. Strays cover less, and a deposit thins out so steeply there that half or twice as much moves the
/// edge by little. A convention of ours.
pub const EDGE_PART: f64 = 0.1;
/// Least covered share at an edge: of lines of few particles, single ones would decide.
pub const LEAST_EDGE_COVER: f64 = 0.02;
/// Distance across the line over which that share is averaged, m.
pub const EDGE_WINDOW: f64 = 1e-6;
/// A band that holds a share of the mass is at least as wide as given if the mass beyond the profile is more than this part of what the
/// band leaves out.
const BEYOND_PART: f64 = 0.1;

/// Total thickness over a strip, m, by piece and bin, and the covered share of each bin.
#[derive(Debug, Clone)]
pub struct Pieces<'a> {
    pub(super) strip: &'a Strip,
    pub(super) sums: Vec<f64>,
    pub(super) coverage: Vec<f64>,
}

impl Strip {
    /// Total thickness of all powders by piece and bin, and what is covered.
    pub(crate) fn collect(&self, canvas: &Canvas) -> Pieces<'_> {
        let bins = self.bins();
        let (mut sums, mut covered) = (vec![0.0; self.pieces * bins], vec![0.0; bins]);
        let to_thickness = CUBIC_NANOMETRE / (self.grid.pitch * self.grid.pitch);
        self.visit(|row, columns, places| {
            canvas.visit(row, columns, |column, cover, volumes| {
                let volume: u64 = volumes.iter().sum();
                let (piece, place, weight) = places.of(column);
                let between = Between::new(place);
                between.add(&mut sums[piece * bins..(piece + 1) * bins], weight * volume as f64 * to_thickness);
                between.add(&mut covered, weight * f64::from(cover.count_ones()) / (SUB * SUB) as f64);
            });
        });
        let mut pieces = Pieces { strip: self, sums, coverage: covered };
        let total = pieces.total(0..self.pieces);
        pieces.coverage.iter_mut().zip(total).for_each(|(covered, [_, weight])| *covered = ratio(*covered, weight));
        pieces
    }
}

/// What is read off a line's profile, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edges {
    /// Full width at half maximum; at least as much as the profile shows if it does not fall so low within it.
    pub(crate) width: Measured,
    /// Three standard deviations of the half-height edges from their best-fit straight lines; `None` if the line is too short or too
    /// sparse.
    pub(crate) roughness: Option<f64>,
}

/// How a profile is smoothed before its peak is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Smoothed {
    /// As little as its chance allows.
    Line,
    /// Over `FILL_SMOOTHING`: strokes stay visible.
    Filled,
}

/// Half of the length over which the profile of a filled shape is smoothed, m.
const FILL_SMOOTHING: f64 = 1e-6;

impl Pieces<'_> {
    /// Total thickness per bin over the given pieces, m, and pixels.
    pub(super) fn total(&self, pieces: Range<usize>) -> Total {
        let bins = self.strip.bins();
        let mut total = vec![[0.0; 2]; bins];
        for piece in pieces {
            let own = piece * bins..(piece + 1) * bins;
            let of_piece = self.sums[own.clone()].iter().zip(&self.strip.weights[own]);
            total.iter_mut().zip(of_piece).for_each(|(total, (sum, weight))| {
                (total[0], total[1]) = (total[0] + sum, total[1] + weight);
            });
        }
        total
    }

    /// Mean thickness per bin over the given pieces, m.
    pub(super) fn mean(&self, pieces: Range<usize>) -> Vec<f64> {
        means(&self.total(pieces))
    }

    /// Mean profile over the whole strip, m.
    pub fn profile(&self) -> Vec<f64> {
        self.mean(0..self.strip.pieces)
    }

    /// Width of the narrowest band about the profile's centroid that holds a share of its mass, m; `None` of an empty profile. It is a lower
    /// bound if more of the item's mass lies beyond the profile than a tenth of what the band leaves out.
    pub(crate) fn band(&self, profile: &[f64], share: f64, line: LineVolume) -> Option<Measured> {
        let width = band(profile, share)? * self.strip.grid.pitch;
        let all_there = line.share_beyond() <= BEYOND_PART * (1.0 - share);
        Some(if all_there { Measured::Exactly(width) } else { Measured::AtLeast(width) })
    }

    /// Distance between the outermost places on both sides beyond which particles cover, over the next [`EDGE_WINDOW`], less than
    /// [`EDGE_PART`] of the most that they cover anywhere over such a distance, m. `None` if that is less than [`LEAST_EDGE_COVER`]
    /// everywhere; a lower bound if it still is more at the profile's end.
    pub(crate) fn edge_width(&self) -> Option<Measured> {
        let window = EDGE_WINDOW / self.strip.grid.pitch;
        let most = moving_mean(&self.coverage, window).into_iter().map(|(_, mean)| mean).fold(0.0, f64::max);
        let outwards = |values: &[f64]| outermost(values, window, (EDGE_PART * most).max(LEAST_EDGE_COVER));
        let right = outwards(&self.coverage)?;
        let mirrored: Vec<f64> = self.coverage.iter().rev().copied().collect();
        let left = outwards(&mirrored)?;
        let width = (right.value() + left.value() + 1.0 - self.coverage.len() as f64) * self.strip.grid.pitch;
        let width = width.max(0.0);
        let known = [left, right].iter().all(|edge| matches!(edge, Measured::Exactly(_)));
        Some(if known { Measured::Exactly(width) } else { Measured::AtLeast(width) })
    }

    /// Height of the profile, m: of a line as for its width, of a `Filled` shape the largest value smoothed over `FILL_SMOOTHING`.
    pub(crate) fn peak(&self, profile: &[f64], kind: Smoothed) -> f64 {
        let largest = |half: usize| smooth(profile, half).into_iter().fold(0.0, f64::max);
        match kind {
            Smoothed::Line => self.height(profile).map_or_else(|| largest(smoothing(profile)), |height| height.value),
            Smoothed::Filled => {
                largest(((FILL_SMOOTHING / self.strip.grid.pitch).round() as usize).max(LEAST_SMOOTHING))
            }
        }
    }

    /// Width and roughness of a line; `None` if it is too sparse.
    pub fn edges(&self, profile: &[f64]) -> Option<Edges> {
        let height = self.height(profile).filter(|height| height.error <= LARGEST_PEAK_ERROR)?;
        let half_window = smoothing(profile);
        let pitch = self.strip.grid.pitch;
        let (bins, ended) = width_at(profile, half_window, 0.5 * height.value)?;
        if !ended {
            return Some(Edges { width: Measured::AtLeast(bins * pitch), roughness: None });
        }
        let smoothed = smooth(profile, half_window);
        let top = highest(&smoothed)?;
        let level = 0.5 * smoothed[top];
        let roughness = match crossings(&smoothed, top, level) {
            [Some(left), Some(right)] => self.roughness([left, right], half_window, level),
            _ => None,
        };
        Some(Edges { width: Measured::Exactly(bins * pitch), roughness: roughness.map(|bins| bins * pitch) })
    }
}
