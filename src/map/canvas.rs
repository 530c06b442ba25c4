//! Where particles are collected: solid volume per pixel and covered sub-pixels.
//!
//! Both are integers, so collecting in any order and on any number of threads gives the same bytes.

use super::outline::{bounds, bounds_of_points, bounds_of_shape, contains};
use crate::figures::Grid;
use crate::inputs::{Inputs, Outline};
use crate::units::CUBIC_NANOMETRE;
use ndarray::Array2;
use std::f64::consts::PI;
use std::ops::Range;
use std::sync::OnceLock;

/// Sub-pixels along a pixel's edge for coverage.
pub const SUB: usize = 8;

impl Grid {
    /// The grid that holds all regions and the path, with the margin asked for, cut at the chip's edge.
    pub fn of_inputs(inputs: &Inputs) -> Self {
        let boxes = inputs
            .regions
            .iter()
            .map(|region| bounds(&region.outline))
            .chain(inputs.path.iter().map(|item| bounds_of_shape(&item.shape)));
        let corners: Vec<[f64; 2]> = boxes.flatten().collect();
        let [low, high] = bounds_of_points(&corners);
        let half = [0.5 * inputs.chip.width, 0.5 * inputs.chip.height];
        let pitch = inputs.map.pitch;
        let margin = inputs.map.margin;
        // Whole pixels from the origin, so that a shifted region sees the same pixel edges.
        let side = |k: usize| {
            let first = ((low[k] - margin).max(-half[k]) / pitch).floor();
            let last = ((high[k] + margin).min(half[k]) / pitch).ceil();
            (first, (last - first).max(1.0) as usize)
        };
        let ((x, columns), (y, rows)) = (side(0), side(1));
        Self { origin: [x * pitch, y * pitch], pitch, columns, rows }
    }
}

/// One bit per sub-pixel, `SUB` x `SUB` of them in a pixel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bits {
    columns: usize,
    rows: usize,
    words_per_row: usize,
    words: Vec<u64>,
}

impl Bits {
    /// No bit set.
    pub fn new(grid: Grid) -> Self {
        let (columns, rows) = (grid.columns * SUB, grid.rows * SUB);
        let words_per_row = columns.div_ceil(64);
        Self { columns, rows, words_per_row, words: vec![0; words_per_row * rows] }
    }

    /// The sub-pixels whose centre is inside an outline.
    pub fn of_outline(grid: Grid, outline: &Outline) -> Self {
        let mut bits = Self::new(grid);
        let step = grid.pitch / SUB as f64;
        let [low, high] = bounds(outline);
        let range = |k: usize, count: usize| {
            let first = ((low[k] - grid.origin[k]) / step).floor().max(0.0) as usize;
            let last = ((high[k] - grid.origin[k]) / step).ceil().max(0.0) as usize;
            first.min(count)..last.min(count)
        };
        for row in range(1, bits.rows) {
            for column in range(0, bits.columns) {
                let point =
                    [grid.origin[0] + (column as f64 + 0.5) * step, grid.origin[1] + (row as f64 + 0.5) * step];
                if contains(outline, point) {
                    bits.words[row * bits.words_per_row + column / 64] |= 1 << (column % 64);
                }
            }
        }
        bits
    }

    /// Sets the bits `first..=last` of a row; both within the grid.
    #[inline]
    fn set_span(&mut self, row: usize, first: usize, last: usize) {
        let base = row * self.words_per_row;
        let (a, b) = (first / 64, last / 64);
        let head = !0u64 << (first % 64);
        let tail = !0u64 >> (63 - last % 64);
        if a == b {
            self.words[base + a] |= head & tail;
        } else {
            self.words[base + a] |= head;
            for word in &mut self.words[base + a + 1..base + b] {
                *word = !0;
            }
            self.words[base + b] |= tail;
        }
    }

    /// Sets every bit whose centre lies in the disc; place and radius in sub-pixels.
    #[inline]
    fn set_disc(&mut self, u: f64, v: f64, radius: f64) {
        let first = (v - radius - 0.5).ceil().max(0.0);
        let last = (v + radius - 0.5).floor().min(self.rows as f64 - 1.0);
        let mut row = first;
        while row <= last {
            let dy = row + 0.5 - v;
            let half = (radius * radius - dy * dy).max(0.0).sqrt();
            let left = (u - half - 0.5).ceil().max(0.0);
            let right = (u + half - 0.5).floor().min(self.columns as f64 - 1.0);
            if left <= right {
                self.set_span(row as usize, left as usize, right as usize);
            }
            row += 1.0;
        }
    }

    /// Number of bits set.
    pub fn count(&self) -> u64 {
        self.words.iter().map(|w| u64::from(w.count_ones())).sum()
    }

    /// Number of bits set in both.
    pub fn count_common(&self, other: &Self) -> u64 {
        self.words.iter().zip(&other.words).map(|(a, b)| u64::from((a & b).count_ones())).sum()
    }

    /// Number of bits set in both, where `other` has none outside the given pixels (a region's box): looks there only.
    pub fn count_common_within(&self, other: &Self, rows: Range<usize>, columns: Range<usize>) -> u64 {
        let words = columns.start * SUB / 64..(columns.end * SUB).div_ceil(64);
        (rows.start * SUB..rows.end * SUB)
            .map(|row| {
                let base = row * self.words_per_row;
                let at = base + words.start..base + words.end;
                self.words[at.clone()].iter().zip(&other.words[at]).map(|(a, b)| u64::from((a & b).count_ones())).sum::<u64>()
            })
            .sum()
    }

    /// Adds the bits of another.
    pub fn join(&mut self, other: &Self) {
        for (a, b) in self.words.iter_mut().zip(&other.words) {
            *a |= b;
        }
    }

    /// Number of bits set in one pixel, 0 to `SUB * SUB`.
    #[inline]
    pub fn in_pixel(&self, row: usize, column: usize) -> u32 {
        let start = column * SUB;
        let mask = ((1u64 << SUB) - 1) << (start % 64);
        (0..SUB)
            .map(|k| (self.words[(row * SUB + k) * self.words_per_row + start / 64] & mask).count_ones())
            .sum()
    }
}

/// Solid volume and cover of one print.
#[derive(Debug, Clone, PartialEq)]
pub struct Canvas {
    /// Grid of the pixels.
    pub grid: Grid,
    /// Per powder, per pixel: solid volume, nm^3.
    volumes: Vec<Vec<u64>>,
    /// Covered sub-pixels.
    cover: Bits,
}

/// Solid volume of a sphere in whole nm^3.
#[inline]
pub fn whole_volume(diameter: f64) -> u64 {
    (PI / 6.0 * diameter * diameter * diameter / CUBIC_NANOMETRE + 0.5) as u64
}

impl Canvas {
    /// An empty canvas.
    pub fn new(grid: Grid, powders: usize) -> Self {
        Self { grid, volumes: vec![vec![0; grid.columns * grid.rows]; powders], cover: Bits::new(grid) }
    }

    /// Adds a sphere seen from above: centre (m), diameter (m), powder.
    ///
    /// Its volume is shared among the pixels under it (to about 0.3 % of the sphere's volume per pixel) without loss; what lies
    /// beyond the grid is dropped here and is kept in the budget.
    pub fn stamp(&mut self, x: f64, y: f64, diameter: f64, powder: usize) {
        let u = (x - self.grid.origin[0]) / self.grid.pitch;
        let v = (y - self.grid.origin[1]) / self.grid.pitch;
        let radius = 0.5 * diameter / self.grid.pitch;
        let (columns, rows) = (self.grid.columns as f64, self.grid.rows as f64);
        if u + radius < 0.0 || v + radius < 0.0 || u - radius >= columns || v - radius >= rows {
            return;
        }
        let sub = SUB as f64;
        self.cover.set_disc(u * sub, v * sub, radius * sub);

        let total = whole_volume(diameter);
        let (left, right) = ((u - radius).floor(), (u + radius).floor());
        let (low, high) = ((v - radius).floor(), (v + radius).floor());
        if right - left <= 1.0 && high - low <= 1.0 {
            self.stamp_small(powder, total, [left, low], [right > left, high > low], [u, v], radius);
        } else {
            self.stamp_large(powder, total, [left, low], [right, high], [u, v], radius);
        }
    }

    #[inline]
    fn add(&mut self, powder: usize, column: f64, row: f64, volume: u64) {
        if column >= 0.0 && row >= 0.0 && column < self.grid.columns as f64 && row < self.grid.rows as f64 {
            self.volumes[powder][row as usize * self.grid.columns + column as usize] += volume;
        }
    }

    /// A sphere over at most two pixels each way: exact along a single edge, tabulated at a corner.
    #[inline]
    fn stamp_small(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [f64; 2],
        split: [bool; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let whole = total as f64;
        let part = |edge: f64, center: f64| sphere_left_of((edge - center) / radius);
        match split {
            [false, false] => self.add(powder, left, low, total),
            [true, false] => {
                let a = (whole * part(left + 1.0, u)) as u64;
                self.add(powder, left, low, a);
                self.add(powder, left + 1.0, low, total - a);
            }
            [false, true] => {
                let a = (whole * part(low + 1.0, v)) as u64;
                self.add(powder, left, low, a);
                self.add(powder, left, low + 1.0, total - a);
            }
            [true, true] => {
                let (x, y) = (part(left + 1.0, u), part(low + 1.0, v));
                let corner = sphere_in_corner((left + 1.0 - u) / radius, (low + 1.0 - v) / radius).min(x).min(y);
                let a = (whole * corner) as u64;
                let b = (whole * (y - corner)) as u64;
                let c = (whole * (x - corner)) as u64;
                self.add(powder, left, low, a);
                self.add(powder, left + 1.0, low, b.min(total - a));
                self.add(powder, left, low + 1.0, c.min(total - a - b.min(total - a)));
                self.add(powder, left + 1.0, low + 1.0, total.saturating_sub(a + b + c));
            }
        }
    }

    /// A sphere over many pixels: chords at sub-points, scaled so that the volume is kept.
    fn stamp_large(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [f64; 2],
        [right, high]: [f64; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let points = if radius < 4.0 { 4 } else if radius < 16.0 { 2 } else { 1 };
        let step = 1.0 / f64::from(points);
        let chord = |column: f64, row: f64| {
            let mut sum = 0.0;
            for i in 0..points {
                for j in 0..points {
                    let dx = column + (f64::from(i) + 0.5) * step - u;
                    let dy = row + (f64::from(j) + 0.5) * step - v;
                    sum += (radius * radius - dx * dx - dy * dy).max(0.0).sqrt();
                }
            }
            sum
        };
        let (across, up) = ((right - left) as usize + 1, (high - low) as usize + 1);
        let chords: Vec<f64> =
            (0..across * up).map(|k| chord(left + (k % across) as f64, low + (k / across) as f64)).collect();
        let scale = total as f64 / chords.iter().sum::<f64>();
        // Rounding is carried along so that the parts add up to the whole.
        let mut given = 0;
        let mut reached = 0.0;
        for (k, chord) in chords.iter().enumerate() {
            reached += chord * scale;
            let here = if k + 1 == chords.len() { total - given } else { (reached as u64).clamp(given, total) - given };
            given += here;
            if here > 0 {
                self.add(powder, left + (k % across) as f64, low + (k / across) as f64, here);
            }
        }
    }

    /// Adds what another canvas on the same grid has collected.
    pub fn join(&mut self, other: &Self) {
        for (mine, theirs) in self.volumes.iter_mut().zip(&other.volumes) {
            for (a, b) in mine.iter_mut().zip(theirs) {
                *a += b;
            }
        }
        self.cover.join(&other.cover);
    }

    /// Covered sub-pixels.
    pub fn cover(&self) -> &Bits {
        &self.cover
    }

    /// Number of powders.
    pub fn powders(&self) -> usize {
        self.volumes.len()
    }

    /// Solid thickness of a powder in one pixel, m.
    #[inline]
    pub fn thickness_at(&self, powder: usize, row: usize, column: usize) -> f64 {
        self.volumes[powder][row * self.grid.columns + column] as f64 * CUBIC_NANOMETRE
            / (self.grid.pitch * self.grid.pitch)
    }

    /// Map of a powder's projected solid thickness, m.
    pub fn thickness(&self, powder: usize) -> Array2<f64> {
        Array2::from_shape_fn((self.grid.rows, self.grid.columns), |(row, column)| self.thickness_at(powder, row, column))
    }

    /// Map of the covered share of each pixel, 0 to 1.
    pub fn coverage(&self) -> Array2<f64> {
        Array2::from_shape_fn((self.grid.rows, self.grid.columns), |(row, column)| {
            f64::from(self.cover.in_pixel(row, column)) / (SUB * SUB) as f64
        })
    }

    /// Map of the deposit's height, m: solid thickness over packing fraction, powders added.
    pub fn height(&self, packing: &[f64]) -> Array2<f64> {
        Array2::from_shape_fn((self.grid.rows, self.grid.columns), |(row, column)| {
            packing.iter().enumerate().map(|(k, share)| self.thickness_at(k, row, column) / share).sum()
        })
    }
}

/// Share of a unit sphere's volume with x below `s`: 1/2 + 3/4 s - 1/4 s^3 (spherical cap).
#[inline]
fn sphere_left_of(s: f64) -> f64 {
    let s = s.clamp(-1.0, 1.0);
    0.5 + 0.75 * s - 0.25 * s * s * s
}

/// Intervals of the corner table along each axis.
const CORNER_INTERVALS: usize = 48;

/// Share of a unit sphere's volume with x below `s` and y below `t`, from a table (error below 0.1 %).
#[inline]
fn sphere_in_corner(s: f64, t: f64) -> f64 {
    static TABLE: OnceLock<Vec<f64>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let n = CORNER_INTERVALS;
        let fine = 16;
        // Chords summed over fine cells, then added up from the lower left corner.
        let cell = 2.0 / (n * fine) as f64;
        let mut sums = vec![0.0; (n + 1) * (n + 1)];
        for i in 0..n {
            for j in 0..n {
                let mut sum = 0.0;
                for a in 0..fine {
                    for b in 0..fine {
                        let x = -1.0 + ((i * fine + a) as f64 + 0.5) * cell;
                        let y = -1.0 + ((j * fine + b) as f64 + 0.5) * cell;
                        sum += (1.0 - x * x - y * y).max(0.0).sqrt();
                    }
                }
                sums[(i + 1) * (n + 1) + j + 1] =
                    sum + sums[i * (n + 1) + j + 1] + sums[(i + 1) * (n + 1) + j] - sums[i * (n + 1) + j];
            }
        }
        let whole = sums[(n + 1) * (n + 1) - 1];
        sums.iter().map(|sum| sum / whole).collect()
    });
    let n = CORNER_INTERVALS;
    let place = |s: f64| {
        let at = ((s + 1.0) * 0.5 * n as f64).clamp(0.0, n as f64);
        let cell = (at as usize).min(n - 1);
        (cell, at - cell as f64)
    };
    let ((i, fx), (j, fy)) = (place(s), place(t));
    let at = |di: usize, dj: usize| table[(i + di) * (n + 1) + j + dj];
    let low = at(0, 0) + fy * (at(0, 1) - at(0, 0));
    let high = at(1, 0) + fy * (at(1, 1) - at(1, 0));
    low + fx * (high - low)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(pitch: f64, size: usize) -> Grid {
        Grid { origin: [0.0, 0.0], pitch, columns: size, rows: size }
    }

    #[test]
    fn a_stamp_keeps_the_volume_whatever_its_size_and_place() {
        for (pitch, diameter) in [(1e-6, 0.2e-6), (1e-6, 0.9e-6), (0.25e-6, 0.9e-6), (0.1e-6, 3e-6), (0.05e-6, 3e-6)] {
            for k in 0..50 {
                let mut canvas = Canvas::new(grid(pitch, 100), 1);
                let x = pitch * (50.0 + 0.617 * f64::from(k) % 1.0);
                let y = pitch * (50.0 + 0.381 * f64::from(k) % 1.0);
                canvas.stamp(x, y, diameter, 0);
                assert_eq!(canvas.volumes[0].iter().sum::<u64>(), whole_volume(diameter), "{pitch} {diameter}");
            }
        }
        // pi/6 (200 nm)^3 = 4188790.2 nm^3
        assert_eq!(whole_volume(0.2e-6), 4_188_790);
    }

    #[test]
    fn a_sphere_on_an_edge_and_on_a_corner_is_halved_and_quartered() {
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 1.5e-6, 0.5e-6, 0);
        let total = whole_volume(0.5e-6) as f64;
        assert!((canvas.volumes[0][4 + 1] as f64 / total - 0.5).abs() < 1e-6);
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 2e-6, 0.5e-6, 0);
        for k in [5, 6, 9, 10] {
            assert!((canvas.volumes[0][k] as f64 / total - 0.25).abs() < 1e-3);
        }
        // A plane at half a radius cuts off the cap (1 - h)^2 (2 + h)/4 = 0.25 * 2.5/4 = 0.15625 for h = 1/2.
        assert!((sphere_left_of(-0.5) - 0.156_25).abs() < 1e-12);
        // Corner table against the cap where the other plane is beyond the sphere.
        assert!((sphere_in_corner(-0.5, 1.0) - 0.156_25).abs() < 1e-3);
    }

    #[test]
    fn covered_area_is_that_of_the_disc() {
        // Average over places: unbiased at any pitch. Area pi/4 d^2.
        for (pitch, diameter) in [(0.5e-6, 0.3e-6), (0.5e-6, 2.2e-6)] {
            let n = 400;
            let mut sum = 0.0;
            for k in 0..n {
                let mut canvas = Canvas::new(grid(pitch, 16), 1);
                let x = pitch * (8.0 + (0.754_877_666 * f64::from(k)) % 1.0);
                let y = pitch * (8.0 + (0.569_840_290 * f64::from(k)) % 1.0);
                canvas.stamp(x, y, diameter, 0);
                sum += canvas.cover.count() as f64 * (pitch / SUB as f64).powi(2);
                let map = canvas.coverage().sum() * pitch * pitch;
                assert!((map - canvas.cover.count() as f64 * (pitch / SUB as f64).powi(2)).abs() < 1e-20);
            }
            let area = PI / 4.0 * diameter * diameter;
            assert!((sum / f64::from(n) / area - 1.0).abs() < 0.01, "{}", sum / f64::from(n) / area);
        }
    }

    #[test]
    fn spans_cross_words() {
        let mut bits = Bits::new(grid(1.0, 40));
        bits.set_span(3, 5, 200);
        assert_eq!(bits.count(), 196);
        bits.set_span(3, 64, 127);
        assert_eq!(bits.count(), 196);
        bits.set_disc(0.0, 0.0, 10.0);
        bits.set_disc(320.0, 320.0, 10.0);
        assert!(bits.count() > 196 + 2 * 70 && bits.count() < 196 + 2 * 80 + 10);
    }
}
