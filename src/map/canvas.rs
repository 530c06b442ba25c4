//! Where particles are collected: solid volume per pixel and covered sub-pixels.
//!
//! Both are integers, so collecting in any order and on any number of threads gives the same bytes.

use super::Grid;
use super::outline::{bounds, bounds_of_points, bounds_of_shape, contains};
use crate::inputs::{Inputs, Outline};
use crate::source::content::Grain;
use crate::units::CUBIC_NANOMETRE;
use ndarray::Array2;

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

/// One bit per sub-pixel, `SUB` x `SUB` of them in a pixel: a word per pixel, its sub-pixels row after row from the lowest bit. A particle
/// then touches a few neighbouring words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bits {
    columns: usize,
    rows: usize,
    /// Row by row.
    words: Vec<u64>,
}

/// Pixels along an axis up to which a disc is set in one go.
const DISC_PIXELS: usize = 6;

impl Bits {
    /// No bit set.
    pub fn new(grid: Grid) -> Self {
        const { assert!(SUB == 8, "a pixel's sub-pixels fill one word") };
        Self { columns: grid.columns, rows: grid.rows, words: vec![0; grid.columns * grid.rows] }
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
        let columns = range(0, bits.columns * SUB);
        for row in range(1, bits.rows * SUB) {
            let inside = |column: &usize| {
                let point =
                    [grid.origin[0] + (*column as f64 + 0.5) * step, grid.origin[1] + (row as f64 + 0.5) * step];
                contains(outline, point)
            };
            if matches!(outline, Outline::Polygon(_)) {
                for column in columns.clone().filter(inside) {
                    bits.set_span(row, column, column);
                }
            } else if let Some(first) = columns.clone().find(inside)
                && let Some(last) = columns.clone().rev().find(inside)
            {
                // A row of a rectangle or a disc has no gaps.
                bits.set_span(row, first, last);
            }
        }
        bits
    }

    /// Sets the bits `first..=last` of a row of sub-pixels; both within the grid.
    #[inline]
    fn set_span(&mut self, row: usize, first: usize, last: usize) {
        let base = row / SUB * self.columns;
        let shift = (row % SUB) * SUB;
        let (a, b) = (first / SUB, last / SUB);
        let head = 0xff << (first % SUB) & 0xff;
        let tail = 0xff >> (SUB - 1 - last % SUB);
        for pixel in a..=b {
            let mut byte: u64 = 0xff;
            if pixel == a {
                byte &= head;
            }
            if pixel == b {
                byte &= tail;
            }
            self.words[base + pixel] |= byte << shift;
        }
    }

    /// Sets every bit whose centre lies in the disc; place and radius in sub-pixels.
    #[inline]
    fn set_disc(&mut self, u: f64, v: f64, radius: f64) {
        let sub = SUB as i64;
        let first = ceil(v - radius - 0.5);
        let last = floor(v + radius - 0.5);
        let square = radius * radius;
        // The usual particle, a few pixels wide and off the grid's sides.
        let (left, right) = (floor(u - radius - 1.0), floor(u + radius + 1.0));
        let inside = left >= 0 && first >= 0 && right < self.columns as i64 * sub && last < self.rows as i64 * sub;
        let pixels = (left / sub, right / sub);
        if inside && (pixels.1 - pixels.0) < DISC_PIXELS as i64 {
            let local = u - (pixels.0 * sub) as f64;
            let across = (pixels.1 - pixels.0) as usize + 1;
            let mut row = first;
            while row <= last {
                let pixel_row = row / sub;
                let end = last.min(pixel_row * sub + sub - 1);
                let mut words = [0u64; DISC_PIXELS];
                while row <= end {
                    let dy = row as f64 + 0.5 - v;
                    let half = (square - dy * dy).max(0.0).sqrt();
                    // Bits whose centre is within `half`: from the first centre beyond local - half to the last before local + half.
                    let from = (local - half + 0.5) as i64;
                    let to = (local + half + 0.5) as i64;
                    if to > from {
                        let span = ((1u64 << (to - from)) - 1) << from;
                        let shift = (row % sub) * sub;
                        for (k, word) in words.iter_mut().enumerate() {
                            *word |= (span >> (k * SUB) & 0xff) << shift;
                        }
                    }
                    row += 1;
                }
                let base = pixel_row as usize * self.columns + pixels.0 as usize;
                for (mine, word) in self.words[base..base + across].iter_mut().zip(&words) {
                    *mine |= word;
                }
            }
            return;
        }
        for row in first.max(0)..=last.min(self.rows as i64 * sub - 1) {
            let dy = row as f64 + 0.5 - v;
            let half = (square - dy * dy).max(0.0).sqrt();
            let left = ceil(u - half - 0.5).max(0);
            let right = floor(u + half - 0.5).min(self.columns as i64 * sub - 1);
            if left <= right {
                self.set_span(row as usize, left as usize, right as usize);
            }
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

    /// Number of bits set in a run of pixels of one row.
    pub fn count_run(&self, row: usize, columns: Range<usize>) -> u64 {
        let base = row * self.columns;
        self.words[base + columns.start..base + columns.end].iter().map(|w| u64::from(w.count_ones())).sum()
    }

    /// The sub-pixels of one pixel, row after row from the lowest bit.
    #[inline]
    pub fn pixel(&self, row: usize, column: usize) -> u64 {
        self.words[row * self.columns + column]
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
        self.pixel(row, column).count_ones()
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
    /// One bit per pixel that may hold something, row by row in whole words.
    occupied: Vec<u64>,
    words_per_row: usize,
}

impl Canvas {
    /// An empty canvas.
    pub fn new(grid: Grid, powders: usize) -> Self {
        Self {
            grid,
            volumes: (0..powders).map(|_| vec![0; grid.columns * grid.rows]).collect(),
            cover: Bits::new(grid),
            occupied: vec![0; grid.columns.div_ceil(64) * grid.rows],
            words_per_row: grid.columns.div_ceil(64),
        }
    }

    /// Calls `f` for stretches of a row that may hold something, within a range of columns, in order; what lies between is empty.
    #[inline]
    pub fn stretches(&self, row: usize, columns: Range<usize>, mut f: impl FnMut(Range<usize>)) {
        if columns.is_empty() {
            return;
        }
        let words = &self.occupied[row * self.words_per_row..(row + 1) * self.words_per_row];
        let (first, last) = (columns.start / 64, (columns.end - 1) / 64);
        for (k, word) in words.iter().enumerate().take(last + 1).skip(first) {
            let mut left = *word;
            if k == first {
                left &= !0 << (columns.start % 64);
            }
            if k == last {
                left &= !0 >> (63 - (columns.end - 1) % 64);
            }
            while left != 0 {
                let start = left.trailing_zeros();
                let length = (left >> start).trailing_ones();
                f(k * 64 + start as usize..k * 64 + (start + length) as usize);
                if start + length == 64 {
                    break;
                }
                left &= !0 << (start + length);
            }
        }
    }

    /// Whether a pixel may hold something.
    #[inline]
    pub fn is_occupied(&self, row: usize, column: usize) -> bool {
        self.occupied[row * self.words_per_row + column / 64] >> (column % 64) & 1 == 1
    }

    /// Adds a particle seen from above at a place (m).
    ///
    /// Its volume is shared among the pixels under it (to about 0.3 % of the sphere's volume per pixel) without loss; what lies
    /// beyond the grid is dropped here and is kept in the budget.
    pub fn stamp(&mut self, x: f64, y: f64, grain: &Grain) {
        let Grain { powder, diameter, volume: total } = *grain;
        let powder = usize::from(powder);
        let per_metre = 1.0 / self.grid.pitch;
        let u = (x - self.grid.origin[0]) * per_metre;
        let v = (y - self.grid.origin[1]) * per_metre;
        let radius = 0.5 * diameter * per_metre;
        let (columns, rows) = (self.grid.columns as f64, self.grid.rows as f64);
        if !(u + radius >= 0.0 && v + radius >= 0.0 && u - radius < columns && v - radius < rows) {
            return;
        }
        let sub = SUB as f64;
        self.cover.set_disc(u * sub, v * sub, radius * sub);

        let (left, right) = (floor(u - radius), floor(u + radius));
        let (low, high) = (floor(v - radius), floor(v + radius));
        let (first, beyond) = (left.max(0) as usize, (right + 1).min(self.grid.columns as i64) as usize);
        let rows = low.max(0) as usize..(high + 1).min(self.grid.rows as i64) as usize;
        for row in rows {
            let base = row * self.words_per_row;
            // Mostly one or two pixels.
            for column in first..beyond {
                self.occupied[base + column / 64] |= 1 << (column % 64);
            }
        }
        if left == right && low == high {
            self.add(powder, left, low, total);
        } else if right - left < MOST_LINES as i64 && high - low < MOST_LINES as i64 {
            self.stamp_small(powder, total, [left, low], [right, high], [u, v], radius);
        } else {
            self.stamp_large(powder, total, [left, low], [right, high], [u, v], radius);
        }
    }

    #[inline]
    fn add(&mut self, powder: usize, column: i64, row: i64, volume: u64) {
        // Negative numbers become huge ones.
        let (column, row) = (column as usize, row as usize);
        if column < self.grid.columns && row < self.grid.rows {
            self.volumes[powder][row * self.grid.columns + column] += volume;
        }
    }

    /// A sphere over a few pixels each way, cut along the pixel edges with the table of [`Corners`].
    #[inline]
    fn stamp_small(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [i64; 2],
        [right, high]: [i64; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let corners = Corners::table();
        let whole = total as f64;
        let scale = 0.5 * CORNER_INTERVALS as f64 / radius;
        let middle = 0.5 * CORNER_INTERVALS as f64;
        let across = (right - left) as usize + 1;
        // Places of the pixel edges between the columns; the last one lies beyond the sphere.
        let mut edges = [(0usize, 0.0f64); MOST_LINES];
        for (k, edge) in edges.iter_mut().enumerate().take(across) {
            *edge = Corners::place(middle + (left as f64 + 1.0 + k as f64 - u) * scale);
        }
        edges[across - 1] = (CORNER_INTERVALS - 1, 1.0);
        let mut below = [0.0f64; MOST_LINES];
        let mut given_rows = 0;
        for row in low..=high {
            let line = if row == high {
                (CORNER_INTERVALS - 1, 1.0)
            } else {
                Corners::place(middle + (row as f64 + 1.0 - v) * scale)
            };
            let reached =
                if row == high { total } else { (whole * corners.at((CORNER_INTERVALS - 1, 1.0), line)) as u64 };
            // What is in this row, and how it is shared among its pixels: rounding is carried along, so nothing is lost.
            let in_row = reached.max(given_rows) - given_rows;
            given_rows += in_row;
            let mut given = 0;
            for k in 0..across {
                let here = corners.at(edges[k], line);
                let reached = if k + 1 == across {
                    in_row
                } else {
                    ((whole * (here - below[k])).max(0.0) as u64).clamp(given, in_row)
                };
                below[k] = here;
                self.add(powder, left + k as i64, row, reached - given);
                given = reached;
            }
        }
    }

    /// A sphere over many pixels: chords at sub-points, scaled so that the volume is kept.
    fn stamp_large(
        &mut self,
        powder: usize,
        total: u64,
        [left, low]: [i64; 2],
        [right, high]: [i64; 2],
        [u, v]: [f64; 2],
        radius: f64,
    ) {
        let points = if radius < 16.0 { 2 } else { 1 };
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
        let chords: Vec<f64> = (0..across * up)
            .map(|k| chord(left as f64 + (k % across) as f64, low as f64 + (k / across) as f64))
            .collect();
        let scale = total as f64 / chords.iter().sum::<f64>();
        // Rounding is carried along so that the parts add up to the whole.
        let mut given = 0;
        let mut reached = 0.0;
        for (k, chord) in chords.iter().enumerate() {
            reached += chord * scale;
            let here = if k + 1 == chords.len() { total - given } else { (reached as u64).clamp(given, total) - given };
            given += here;
            if here > 0 {
                self.add(powder, left + (k % across) as i64, low + (k / across) as i64, here);
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
        for (mine, theirs) in self.occupied.iter_mut().zip(&other.occupied) {
            *mine |= theirs;
        }
    }

    /// Empties the canvas for another print, touching only what was used.
    pub fn clear(&mut self) {
        for row in 0..self.grid.rows {
            for word in 0..self.words_per_row {
                let occupied = &mut self.occupied[row * self.words_per_row + word];
                if std::mem::take(occupied) == 0 {
                    continue;
                }
                let base = row * self.grid.columns;
                let pixels = base + word * 64..base + (word * 64 + 64).min(self.grid.columns);
                for volumes in &mut self.volumes {
                    volumes[pixels.clone()].fill(0);
                }
                self.cover.words[pixels].fill(0);
            }
        }
    }

    /// Covered sub-pixels.
    pub fn cover(&self) -> &Bits {
        &self.cover
    }

    /// Number of powders.
    pub fn powders(&self) -> usize {
        self.volumes.len()
    }

    /// Solid volume of a powder per pixel, nm^3, row by row.
    pub fn volumes(&self, powder: usize) -> &[u64] {
        &self.volumes[powder]
    }

    /// Solid thickness of a powder in one pixel, m.
    #[inline]
    pub fn thickness_at(&self, powder: usize, row: usize, column: usize) -> f64 {
        self.volumes[powder][row * self.grid.columns + column] as f64 * CUBIC_NANOMETRE
            / (self.grid.pitch * self.grid.pitch)
    }

    /// Map of a powder's projected solid thickness, m.
    pub fn thickness(&self, powder: usize) -> Array2<f64> {
        Array2::from_shape_fn((self.grid.rows, self.grid.columns), |(row, column)| {
            self.thickness_at(powder, row, column)
        })
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

/// Largest whole number not above `x`, for numbers well within the range of i64. (A call into the maths library on processors
/// without the instruction costs more than the rest of a stamp.)
#[inline]
fn floor(x: f64) -> i64 {
    let whole = x as i64;
    whole - i64::from(x < whole as f64)
}

/// Smallest whole number not below `x`.
#[inline]
fn ceil(x: f64) -> i64 {
    let whole = x as i64;
    whole + i64::from(x > whole as f64)
}

/// Most pixels along an axis for which a sphere is cut with the table.
const MOST_LINES: usize = 12;
/// Intervals of the corner table along each axis.
const CORNER_INTERVALS: usize = 64;

/// Share of a unit sphere's volume with x below s and y below t, for s and t from -1 to 1.
///
/// Linear between the nodes, that is, even within small squares: a share is never negative, and the error is below 0.1 % of the
/// sphere's volume.
struct Corners(Vec<f64>);

impl Corners {
    fn table() -> &'static Self {
        static TABLE: OnceLock<Corners> = OnceLock::new();
        TABLE.get_or_init(|| {
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
            Self(sums.iter().map(|sum| sum / whole).collect())
        })
    }

    /// Interval and fraction of a place in units of intervals from the sphere's edge.
    #[inline]
    fn place(at: f64) -> (usize, f64) {
        let at = at.clamp(0.0, CORNER_INTERVALS as f64);
        let interval = (at as usize).min(CORNER_INTERVALS - 1);
        (interval, at - interval as f64)
    }

    #[inline]
    fn at(&self, (i, fx): (usize, f64), (j, fy): (usize, f64)) -> f64 {
        let base = i * (CORNER_INTERVALS + 1) + j;
        let row = &self.0[base..base + CORNER_INTERVALS + 3];
        let low = row[0] + fy * (row[1] - row[0]);
        let high = row[CORNER_INTERVALS + 1] + fy * (row[CORNER_INTERVALS + 2] - row[CORNER_INTERVALS + 1]);
        low + fx * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::content::whole_volume;
    use std::f64::consts::PI;

    fn grain(diameter: f64) -> Grain {
        Grain::new(0, diameter)
    }

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
                canvas.stamp(x, y, &grain(diameter));
                assert_eq!(canvas.volumes[0].iter().sum::<u64>(), whole_volume(diameter), "{pitch} {diameter}");
            }
        }
        // pi/6 (200 nm)^3 = 4188790.2 nm^3
        assert_eq!(whole_volume(0.2e-6), 4_188_790);
    }

    #[test]
    fn a_sphere_on_an_edge_and_on_a_corner_is_halved_and_quartered() {
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 1.5e-6, &grain(0.5e-6));
        let total = whole_volume(0.5e-6) as f64;
        assert!((canvas.volumes[0][4 + 1] as f64 / total - 0.5).abs() < 1e-6);
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 2e-6, &grain(0.5e-6));
        for k in [5, 6, 9, 10] {
            assert!((canvas.volumes[0][k] as f64 / total - 0.25).abs() < 1e-3);
        }
        // A plane at half a radius cuts off the cap (1 - h)^2 (2 + h)/4 = 0.25 * 2.5/4 = 0.15625 for h = 1/2.
        let corners = Corners::table();
        let half = CORNER_INTERVALS as f64 * 0.5;
        let cap = corners.at(Corners::place(0.5 * half), Corners::place(2.0 * half));
        assert!((cap - 0.156_25).abs() < 1e-4, "{cap}");
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
                canvas.stamp(x, y, &grain(diameter));
                sum += canvas.cover.count() as f64 * (pitch / SUB as f64).powi(2);
                let map = canvas.coverage().sum() * pitch * pitch;
                assert!((map - canvas.cover.count() as f64 * (pitch / SUB as f64).powi(2)).abs() < 1e-20);
            }
            let area = PI / 4.0 * diameter * diameter;
            assert!((sum / f64::from(n) / area - 1.0).abs() < 0.01, "{}", sum / f64::from(n) / area);
        }
    }

    #[test]
    fn runs_and_single_pixels_count_the_same() {
        let mut bits = Bits::new(grid(1.0, 40));
        bits.set_disc(100.3, 150.2, 77.0);
        bits.set_disc(300.0, 40.0, 50.0);
        for (row, columns) in [(3, 0..40), (19, 5..6), (19, 5..13), (12, 7..9), (25, 8..16), (18, 3..29)] {
            let run: u64 = bits.count_run(row, columns.clone());
            let single: u32 = columns.clone().map(|column| bits.in_pixel(row, column)).sum();
            let words: u32 = columns.map(|column| bits.pixel(row, column).count_ones()).sum();
            assert!(run == u64::from(single) && single == words && run > 0, "{row}: {run} {single} {words}");
        }
    }

    #[test]
    fn a_cleared_canvas_is_as_new() {
        let mut canvas = Canvas::new(grid(0.25e-6, 80), 1);
        for k in 0..500 {
            let x = 20e-6 * (0.754_877_666 * f64::from(k)).fract() - 0.2e-6;
            let y = 20e-6 * (0.569_840_290 * f64::from(k)).fract() + 0.2e-6;
            canvas.stamp(x, y, &grain(0.1e-6 * f64::from(1 + k % 30)));
        }
        assert!(canvas.cover.count() > 1000);
        canvas.clear();
        assert_eq!(canvas, Canvas::new(grid(0.25e-6, 80), 1));
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
