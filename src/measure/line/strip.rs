//! What is covered along and across a direction.

use crate::grains::turning;
use crate::raster::Raster;
use std::ops::Range;

/// Most pieces along a line.
const MOST_PIECES: usize = 480;
/// Least length of a piece, pixels.
const PIECE_PIXELS: f64 = 2.0;
/// A place across the line counts if the picture shows at least this part of the length that it shows of the longest one: corners of a
/// turned picture do not.
const LEAST_LENGTH: f64 = 0.25;

/// Covered pixels by piece along and bin of one pixel across a direction.
#[derive(Debug, Clone)]
pub(crate) struct Strip {
    /// Direction of the line, radians from the rows, turning downward.
    pub(crate) angle: f64,
    /// Distance of the middle of the first bin from the middle of the picture, pixels.
    pub(crate) first: f64,
    /// Bins across.
    pub(crate) bins: usize,
    /// Pieces along.
    pub(crate) pieces: usize,
    /// Length of a piece, pixels.
    pub(crate) piece_length: f64,
    covered: Vec<f32>,
    pixels: Vec<f32>,
}

/// Distance along and across of a place from the middle of a picture, pixels.
pub(crate) fn turned(columns: usize, rows: usize, angle: f64, [x, y]: [f64; 2]) -> (f64, f64) {
    turned_by(columns, rows, angle.sin_cos(), [x, y])
}

/// The same by the sine and cosine of the angle.
fn turned_by(columns: usize, rows: usize, (sin, cos): (f64, f64), [x, y]: [f64; 2]) -> (f64, f64) {
    let (x, y) = (x - 0.5 * columns as f64, y - 0.5 * rows as f64);
    (x * cos + y * sin, y * cos - x * sin)
}

impl Strip {
    /// Each pixel is shared between the two nearest bins. Bins that hardly lie in the picture are left out at both sides. What blur, of a
    /// standard deviation in pixels, took from outlines is put back where they turn (see `Reading::new`): single grains beside a line lose
    /// more than crowded ones in it, and the line would come out narrower.
    pub(crate) fn collect(mask: &Raster<bool>, angle: f64, blur: f64) -> Self {
        let (sin, cos) = (angle.sin().abs(), angle.cos().abs());
        let (width, height) = (mask.columns as f64, mask.rows as f64);
        let length = (width * cos + height * sin).min(width.hypot(height));
        let across = width * sin + height * cos;
        let bins = across.ceil() as usize + 3;
        let pieces = ((length / PIECE_PIXELS) as usize).clamp(1, MOST_PIECES);
        let piece_length = length / pieces as f64;
        let first = -0.5 * (bins - 1) as f64;
        let (mut covered, mut pixels) = (vec![0.0f32; bins * pieces], vec![0.0f32; bins * pieces]);
        let sin_cos = angle.sin_cos();
        let lost = std::f64::consts::PI * blur * blur;
        let bin_at = |x: f64, y: f64| {
            let (along, across) = turned_by(mask.columns, mask.rows, sin_cos, [x, y]);
            let piece = ((along / piece_length + 0.5 * pieces as f64).max(0.0) as usize).min(pieces - 1);
            let at = across - first;
            let bin = (at.max(0.0) as usize).min(bins - 2);
            (piece * bins + bin, (at - bin as f64) as f32)
        };
        for (k, is_covered) in mask.values.iter().enumerate() {
            let (column, row) = (k % mask.columns, k / mask.columns);
            let (index, upper) = bin_at(column as f64 + 0.5, row as f64 + 0.5);
            let value = if *is_covered { 1.0 } else { 0.0 };
            pixels[index] += 1.0 - upper;
            pixels[index + 1] += upper;
            covered[index] += (1.0 - upper) * value;
            covered[index + 1] += upper * value;
            let turn = if column > 0 && row > 0 { turning(mask, column, row) } else { 0.0 };
            if turn != 0.0 {
                let (index, upper) = bin_at(column as f64, row as f64);
                covered[index] += (1.0 - upper) * (lost * turn) as f32;
                covered[index + 1] += upper * (lost * turn) as f32;
            }
        }
        Self { angle, first, bins, pieces, piece_length, covered, pixels }.trimmed()
    }

    fn trimmed(self) -> Self {
        let lengths: Vec<f64> = (0..self.bins).map(|bin| self.total(&self.pixels, bin, &(0..self.pieces))).collect();
        let least = LEAST_LENGTH * lengths.iter().copied().fold(0.0, f64::max);
        let from = lengths.iter().position(|l| *l >= least).unwrap_or(0);
        let to = lengths.iter().rposition(|l| *l >= least).map_or(self.bins, |last| last + 1);
        let cut = |values: &[f32]| values.chunks_exact(self.bins).flat_map(|piece| piece[from..to].to_vec()).collect();
        let (covered, pixels) = (cut(&self.covered), cut(&self.pixels));
        Self { first: self.first + from as f64, bins: to - from, covered, pixels, ..self }
    }

    fn total(&self, of: &[f32], bin: usize, pieces: &Range<usize>) -> f64 {
        pieces.clone().map(|piece| f64::from(of[piece * self.bins + bin])).sum()
    }

    /// Pixels of a bin over all pieces.
    pub(crate) fn length(&self, bin: usize) -> f64 {
        self.length_in(&(0..self.pieces), bin)
    }

    /// Sum of each bin over some pieces.
    fn sums(&self, of: &[f32], pieces: &Range<usize>) -> Vec<f64> {
        let mut sums = vec![0.0; self.bins];
        for piece in of[pieces.start * self.bins..pieces.end * self.bins].chunks_exact(self.bins) {
            sums.iter_mut().zip(piece).for_each(|(sum, value)| *sum += f64::from(*value));
        }
        sums
    }

    /// Covered share by bin, over some pieces.
    pub(crate) fn profile(&self, pieces: &Range<usize>) -> Vec<f64> {
        shares(&self.sums(&self.covered, pieces), &self.sums(&self.pixels, pieces))
    }

    /// Pixels of a bin over some pieces.
    pub(crate) fn length_in(&self, pieces: &Range<usize>, bin: usize) -> f64 {
        self.total(&self.pixels, bin, pieces)
    }

    /// Covered share by bin, over some pieces; where the picture shows none of a bin, as at the corners of a turned one, that of the nearest bin.
    pub(crate) fn seen_profile(&self, pieces: &Range<usize>) -> Vec<f64> {
        let mut profile = self.profile(pieces);
        let is_seen = |bin: &usize| self.length_in(pieces, *bin) > 0.0;
        let ends = (0..self.bins).find(is_seen).zip((0..self.bins).rev().find(is_seen));
        if let Some((first, last)) = ends {
            let [low, high] = [profile[first], profile[last]];
            profile[..first].fill(low);
            profile[last + 1..].fill(high);
        }
        profile
    }

    /// Covered share by bin, over all pieces but some.
    pub(crate) fn profile_without(&self, left_out: &Range<usize>) -> Vec<f64> {
        let others = |of: &[f32]| -> Vec<f64> {
            let (before, after) = (0..left_out.start, left_out.end..self.pieces);
            self.sums(of, &before).iter().zip(self.sums(of, &after)).map(|(a, b)| a + b).collect()
        };
        shares(&others(&self.covered), &others(&self.pixels))
    }

    /// Covered share and pixels by piece, over some bins.
    pub(crate) fn lengthwise(&self, bins: Range<usize>) -> Vec<(f64, f64)> {
        let sum =
            |of: &[f32], piece: usize| -> f64 { bins.clone().map(|bin| f64::from(of[piece * self.bins + bin])).sum() };
        let part = |piece| {
            let pixels = sum(&self.pixels, piece);
            (if pixels > 0.0 { sum(&self.covered, piece) / pixels } else { 0.0 }, pixels)
        };
        (0..self.pieces).map(part).collect()
    }
}

/// Covered over all, bin by bin; 0 of nothing.
fn shares(covered: &[f64], pixels: &[f64]) -> Vec<f64> {
    covered.iter().zip(pixels).map(|(covered, pixels)| if *pixels > 0.0 { covered / pixels } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_gives_a_box() {
        let mut mask = Raster::filled(200, 100, false);
        for row in 40..50 {
            for column in 0..200 {
                mask.values[row * 200 + column] = true;
            }
        }
        let strip = Strip::collect(&mask, 0.0, 0.0);
        let profile = strip.profile(&(0..strip.pieces));
        assert!((profile.iter().sum::<f64>() - 10.0).abs() < 1e-3);
        let middle = profile.iter().enumerate().map(|(k, v)| (strip.first + k as f64) * v).sum::<f64>() / 10.0;
        assert!((middle + 5.0).abs() < 1e-3, "{middle}");
        // Turned by a right angle, it is even across and a box along.
        let turned = Strip::collect(&mask, std::f64::consts::FRAC_PI_2, 0.0);
        assert!(turned.profile(&(0..turned.pieces)).iter().skip(1).rev().skip(1).all(|v| (v - 0.1).abs() < 1e-3));
        let along = turned.lengthwise(0..turned.bins);
        assert!(along.iter().any(|(share, _)| *share > 0.99) && along[0].0 == 0.0);
    }
}
