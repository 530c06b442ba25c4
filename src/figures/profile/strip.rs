//! The stretch of the measuring grid along which a profile is averaged.

use super::curve::ratio;
use super::lane::Lane;
use crate::Grid;
use motefall_physics::inputs::Inputs;
use motefall_physics::map::canvas::Canvas;
use std::ops::Range;

/// Shortest piece of a strip that is looked at alone, in pixels.
const PIECE_PIXELS: f64 = 4.0;
/// Most pieces of a strip.
const MOST_PIECES: usize = 240;

/// A straight strip of the measuring grid along which a profile is averaged.
#[derive(Debug, Clone)]
pub struct Strip {
    pub(super) grid: Grid,
    pub(super) lane: Lane,
    /// Bins on each side of the axis; a bin is one pixel wide.
    pub(super) side_bins: usize,
    /// Pieces along the strip.
    pub(super) pieces: usize,
    /// Pixels per piece and bin.
    pub(super) weights: Vec<f64>,
}

/// Mean thickness across a printed item.
#[derive(Debug, Clone)]
pub struct Profile {
    /// Path item.
    pub item: String,
    /// Distance from the item's axis, m; bin centres.
    pub distance: Vec<f64>,
    /// Per powder: projected solid thickness, m.
    pub thickness: Vec<Vec<f64>>,
    /// Share of the line's length at this distance that is covered, 0 to 1.
    pub coverage: Vec<f64>,
    /// Length of line over which it was averaged, m.
    pub length: f64,
}

/// Where the pixels of a row of the grid lie in a strip.
#[derive(Debug, Clone, Copy)]
pub(super) struct PixelRow<'a> {
    strip: &'a Strip,
    /// Along and across, in pixels: of column 0, and from column to column.
    first: [f64; 2],
    step: [f64; 2],
    /// Half the strip's length and half a pixel, in pixels.
    end: f64,
    pieces_per_pixel: f64,
}

impl PixelRow<'_> {
    /// The piece of a pixel, its place across in bins, and its weight, which falls from 1 to 0 over the last pixel at the ends.
    #[inline]
    pub(super) fn of(&self, column: usize) -> (usize, f64, f64) {
        let strip = self.strip;
        let [s, d] = [0, 1].map(|k| self.first[k] + column as f64 * self.step[k]);
        let weight = (self.end - s.abs()).clamp(0.0, 1.0);
        let piece = ((s * self.pieces_per_pixel + 0.5 * strip.pieces as f64).max(0.0) as usize).min(strip.pieces - 1);
        (piece, d + strip.side_bins as f64, weight)
    }
}

impl Strip {
    /// The strip of a printed item. `Err` says why there is none.
    pub fn new(inputs: &Inputs, item: usize, grid: Grid) -> Result<Self, &'static str> {
        let lane = Lane::new(inputs, item, grid)?;
        let pieces = ((2.0 * lane.half_length / (PIECE_PIXELS * grid.pitch)) as usize).clamp(1, MOST_PIECES);
        let mut strip = Self { grid, side_bins: lane.side_bins(grid), lane, pieces, weights: vec![] };
        let bins = strip.bins();
        let mut weights = vec![0.0; strip.pieces * bins];
        strip.visit(|_, columns, places| {
            for column in columns {
                let (piece, place, weight) = places.of(column);
                Between::new(place).add(&mut weights[piece * bins..(piece + 1) * bins], weight);
            }
        });
        strip.weights = weights;
        Ok(strip)
    }

    /// Where it lies.
    pub(crate) fn lane(&self) -> &Lane {
        &self.lane
    }

    /// Number of bins, an odd one.
    pub(crate) fn bins(&self) -> usize {
        2 * self.side_bins + 1
    }

    /// Length averaged over, m.
    pub fn length(&self) -> f64 {
        2.0 * self.lane.half_length
    }

    /// Distance from the axis up to which the profile goes, m.
    pub(crate) fn reach(&self) -> f64 {
        self.lane.reach
    }

    /// Length of a piece, m.
    pub(super) fn piece_length(&self) -> f64 {
        self.length() / self.pieces as f64
    }

    /// Pieces that make one sample of an edge: about a quarter of the line's width long.
    pub(super) fn pieces_per_sample(&self, width: f64) -> usize {
        ((0.25 * width / self.piece_length()).round() as usize).max(1)
    }

    /// Distance between samples of an edge for a line of a width, m.
    pub(crate) fn sampling(&self, width: f64) -> f64 {
        self.pieces_per_sample(width) as f64 * self.piece_length()
    }

    /// Calls `f(row, columns, places)` for the part of every row that lies in the strip.
    #[inline]
    pub(super) fn visit(&self, mut f: impl FnMut(usize, Range<usize>, PixelRow<'_>)) {
        let pitch = self.grid.pitch;
        let (most_s, most_d) = (self.lane.half_length / pitch + 0.5, self.side_bins as f64 + 1.0);
        let pieces_per_pixel = self.pieces as f64 * pitch / self.length();
        // Along a row, both coordinates change by a fixed step per column.
        let (step_s, step_d) = (self.lane.along[0], -self.lane.along[1]);
        for row in 0..self.grid.rows {
            let (s, d) =
                self.lane.place([self.grid.origin[0] + 0.5 * pitch, self.grid.origin[1] + (row as f64 + 0.5) * pitch]);
            let (s, d) = (s / pitch, d / pitch);
            let (mut first, mut last) = (0.0f64, self.grid.columns as f64 - 1.0);
            for (start, step, most) in [(s, step_s, most_s), (d, step_d, most_d)] {
                if step.abs() < 1e-12 {
                    if start.abs() >= most {
                        last = -1.0;
                    }
                } else {
                    let (a, b) = ((-most - start) / step, (most - start) / step);
                    first = first.max(a.min(b).ceil());
                    last = last.min(a.max(b).floor());
                }
            }
            if last < first {
                continue;
            }
            let places = PixelRow { strip: self, first: [s, d], step: [step_s, step_d], end: most_s, pieces_per_pixel };
            f(row, first as usize..last as usize + 1, places);
        }
    }

    /// Profile for the table and the plot: thickness by powder, and coverage.
    fn profile(&self, item: &str, canvas: &Canvas) -> Profile {
        let bins = self.bins();
        let mut thickness = vec![vec![0.0; bins]; canvas.powders()];
        let mut weights = vec![0.0; bins];
        self.visit(|row, columns, places| {
            for column in columns {
                let (_, place, weight) = places.of(column);
                let between = Between::new(place);
                between.add(&mut weights, weight);
                for (powder, sums) in thickness.iter_mut().enumerate() {
                    between.add(sums, weight * canvas.thickness_at(powder, row, column));
                }
            }
        });
        for sums in &mut thickness {
            sums.iter_mut().zip(&weights).for_each(|(sum, weight)| *sum = ratio(*sum, *weight));
        }
        let distance = (0..bins).map(|k| (k as f64 - self.side_bins as f64) * self.grid.pitch).collect();
        let coverage = self.collect(canvas).coverage;
        Profile { item: item.to_owned(), distance, thickness, coverage, length: self.length() }
    }
}

/// The two bins next to a place, which share what lies there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Between {
    /// Number of the lower bin; that before the first is the largest number there is.
    low: usize,
    high_share: f64,
}

impl Between {
    #[inline]
    pub(super) fn new(place: f64) -> Self {
        let low = place.floor();
        Self { low: low as i64 as usize, high_share: place - low }
    }

    /// Adds an amount to those of the two that are there.
    #[inline]
    pub(super) fn add(self, bins: &mut [f64], amount: f64) {
        if let Some(bin) = bins.get_mut(self.low) {
            *bin += amount * (1.0 - self.high_share);
        }
        if let Some(bin) = bins.get_mut(self.low.wrapping_add(1)) {
            *bin += amount * self.high_share;
        }
    }
}

/// Mean profiles across the printed items that have one (not dots), in the order of the path.
pub fn profiles(inputs: &Inputs, canvas: &Canvas) -> Vec<Profile> {
    inputs
        .items()
        .enumerate()
        .filter_map(|(k, item)| Some(Strip::new(inputs, k, canvas.grid).ok()?.profile(&item.name, canvas)))
        .collect()
}
