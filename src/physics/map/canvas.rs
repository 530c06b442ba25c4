//! Where particles are collected: solid volume per pixel and covered sub-pixels.
//!
//! Both are integers, so collecting in any order and on any number of threads gives the same bytes.

use super::Grid;
use super::outline::{bounds, contains};
use crate::contours::Bounds;
use crate::inputs::Outline;
use crate::source::content::Grain;
use crate::units::CUBIC_NANOMETRE;
use ndarray::Array2;

use std::ops::Range;
use std::sync::OnceLock;

/// Sub-pixels along a pixel's edge for coverage.
pub const SUB: usize = 8;

/// One bit per sub-pixel, `SUB` x `SUB` of them in a pixel: a word per pixel, its sub-pixels row after row from the lowest bit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bits {
    columns: usize,
    rows: usize,
    /// Row by row.
    words: Vec<u64>,
}

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
        let Bounds { low, high } = bounds(outline);
        let range = |k: usize, count: usize| {
            let first = ((low[k] - grid.origin[k]) / step).floor().max(0.0) as usize;
            let last = ((high[k] - grid.origin[k]) / step).ceil().max(0.0) as usize;
            first.min(count)..last.min(count)
        };
        let columns = range(0, bits.columns * SUB);
        if let Outline::Area(area) = outline {
            for row in range(1, bits.rows * SUB) {
                // Centres at or after the begin and before the end of a stretch.
                let place = |x: f64| ((x - grid.origin[0]) / step - 0.5).ceil().max(0.0) as usize;
                for [from, to] in area.contours.spans(grid.origin[1] + (row as f64 + 0.5) * step) {
                    let (first, end) = (place(from), place(to).min(bits.columns * SUB));
                    if first < end {
                        bits.set_span(row, first, end - 1);
                    }
                }
            }
            return bits;
        }
        for row in range(1, bits.rows * SUB) {
            let inside = |column: &usize| {
                let point =
                    [grid.origin[0] + (*column as f64 + 0.5) * step, grid.origin[1] + (row as f64 + 0.5) * step];
                contains(outline, point)
            };
            if let Some(first) = columns.clone().find(inside)
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
        each_byte(first, last, |pixel, byte| self.words[base + pixel] |= byte << (row % SUB * SUB));
    }

    /// Number of bits set.
    pub fn count(&self) -> u64 {
        self.words.iter().map(|w| u64::from(w.count_ones())).sum()
    }

    /// Number of bits set in both.
    pub fn count_common(&self, other: &Self) -> u64 {
        self.words.iter().zip(&other.words).map(|(a, b)| u64::from((a & b).count_ones())).sum()
    }

    /// The sub-pixels of one pixel, row after row from the lowest bit.
    #[inline]
    pub fn pixel(&self, row: usize, column: usize) -> u64 {
        self.words[row * self.columns + column]
    }
}

/// Calls `f(pixel, sub-pixels of it)` for a span of sub-pixels in one row.
#[inline]
fn each_byte(first: usize, last: usize, mut f: impl FnMut(usize, u64)) {
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
        f(pixel, byte);
    }
}

/// Pixels along the edge of a tile.
const TILE: usize = 8;
/// Pixels across a disc up to which its cover is set in one go.
const DISC_PIXELS: usize = 6;

/// Solid volume and cover of one print.
///
/// What belongs to a pixel lies together, and pixels lie in square tiles: a print works its way across the chip, and a particle touches
/// a few pixels that are neighbours in memory, too.
#[derive(Debug, Clone, PartialEq)]
pub struct Canvas {
    /// Grid of the pixels.
    pub grid: Grid,
    powders: usize,
    tiles_across: usize,
    /// Per pixel: its covered sub-pixels as in [`Bits`], then the solid volume of each powder, nm^3.
    cells: Vec<u64>,
    /// Per tile: one bit per pixel that may hold something, row after row.
    occupied: Vec<u64>,
}

impl Canvas {
    /// An empty canvas.
    pub fn new(grid: Grid, powders: usize) -> Self {
        const { assert!(TILE * TILE == 64, "a tile's pixels fill one word") };
        let tiles_across = grid.columns.div_ceil(TILE);
        let tiles = tiles_across * grid.rows.div_ceil(TILE);
        Self {
            grid,
            powders,
            tiles_across,
            cells: vec![0; tiles * TILE * TILE * (1 + powders)],
            occupied: vec![0; tiles],
        }
    }

    /// Tile of a pixel, and its number therein.
    #[inline]
    fn place(&self, row: usize, column: usize) -> (usize, usize) {
        (row / TILE * self.tiles_across + column / TILE, row % TILE * TILE + column % TILE)
    }

    /// Where a pixel's record begins.
    #[inline]
    fn index(&self, row: usize, column: usize) -> usize {
        let (tile, inside) = self.place(row, column);
        (tile * TILE * TILE + inside) * (1 + self.powders)
    }

    /// A pixel's covered sub-pixels, then the solid volume of each powder, nm^3.
    #[inline]
    fn record(&self, row: usize, column: usize) -> &[u64] {
        let start = self.index(row, column);
        &self.cells[start..start + 1 + self.powders]
    }

    /// Calls `f(column, cover, volumes)` for the pixels of a row within a range of columns that may hold something: covered sub-pixels as
    /// in [`Bits`], solid volume of each powder, nm^3. All others are empty.
    #[inline]
    pub fn visit(&self, row: usize, columns: Range<usize>, mut f: impl FnMut(usize, u64, &[u64])) {
        if columns.is_empty() {
            return;
        }
        let shift = row % TILE * TILE;
        let tiles = row / TILE * self.tiles_across;
        for tile in columns.start / TILE..=(columns.end - 1) / TILE {
            let mut left = self.occupied[tiles + tile] >> shift & 0xff;
            while left != 0 {
                let column = tile * TILE + left.trailing_zeros() as usize;
                left &= left - 1;
                if columns.contains(&column) {
                    let record = self.record(row, column);
                    f(column, record[0], &record[1..]);
                }
            }
        }
    }

    /// Covered sub-pixels of one pixel, as in [`Bits`].
    #[inline]
    pub fn cover(&self, row: usize, column: usize) -> u64 {
        self.cells[self.index(row, column)]
    }

    /// Number of covered sub-pixels.
    pub fn covered(&self) -> u64 {
        self.cells.chunks_exact(1 + self.powders).map(|record| u64::from(record[0].count_ones())).sum()
    }

    /// Covers every sub-pixel whose centre lies in the disc; place and radius in sub-pixels.
    #[inline]
    fn cover_disc(&mut self, u: f64, v: f64, radius: f64) {
        let sub = SUB as i64;
        let (columns, rows) = (self.grid.columns as i64 * sub, self.grid.rows as i64 * sub);
        let first = ceil(v - radius - 0.5).max(0);
        let last = floor(v + radius - 0.5).min(rows - 1);
        let square = radius * radius;
        let half = |row: i64| {
            let dy = row as f64 + 0.5 - v;
            (square - dy * dy).max(0.0).sqrt()
        };
        // The usual particle, a few pixels wide and off the grid's sides.
        let (left, right) = (floor(u - radius - 1.0), floor(u + radius + 1.0));
        let (west, east) = (left / sub, right / sub);
        if left >= 0 && right < columns && east - west < DISC_PIXELS as i64 {
            let local = u - (west * sub) as f64;
            // All rows first: their square roots do not wait for each other.
            let mut halves = [0.0; (DISC_PIXELS + 1) * SUB];
            let height = (last + 1 - first).max(0) as usize;
            for (k, of_row) in halves[..height].iter_mut().enumerate() {
                *of_row = half(first + k as i64);
            }
            let mut row = first;
            while row <= last {
                let pixel_row = row / sub;
                let top = last.min(pixel_row * sub + sub - 1);
                let mut spans = [0u64; SUB];
                for half in &halves[(row - first) as usize..=(top - first) as usize] {
                    // Bits whose centre is within `half`: from the first centre beyond local - half to the last before local + half.
                    let from = (local - half + 0.5) as i64;
                    let to = (local + half + 0.5) as i64;
                    spans[(row % sub) as usize] = if to > from { ((1u64 << (to - from)) - 1) << from } else { 0 };
                    row += 1;
                }
                for column in west..=east {
                    let shift = (column - west) * sub;
                    let mut word = 0;
                    for (k, span) in spans.iter().enumerate() {
                        word |= (span >> shift & 0xff) << (k * SUB);
                    }
                    let index = self.index(pixel_row as usize, column as usize);
                    self.cells[index] |= word;
                }
            }
            return;
        }
        for row in first..=last {
            let half = half(row);
            let left = ceil(u - half - 0.5).max(0);
            let right = floor(u + half - 0.5).min(columns - 1);
            if left <= right {
                let row = row as usize;
                each_byte(left as usize, right as usize, |pixel, byte| {
                    let index = self.index(row / SUB, pixel);
                    self.cells[index] |= byte << (row % SUB * SUB);
                });
            }
        }
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
        let (left, right) = (floor(u - radius), floor(u + radius));
        let (low, high) = (floor(v - radius), floor(v + radius));
        let inside = left >= 0 && low >= 0 && left + 1 < self.grid.columns as i64 && low + 1 < self.grid.rows as i64;
        if right - left <= 1 && high - low <= 1 && inside {
            let place = [u - left as f64, v - low as f64];
            self.stamp_tiny(powder, total, [low as usize, left as usize], place, radius, [right > left, high > low]);
            return;
        }
        let sub = SUB as f64;
        self.cover_disc(u * sub, v * sub, radius * sub);
        let (first, beyond) = (left.max(0) as usize, (right + 1).min(self.grid.columns as i64) as usize);
        let rows = low.max(0) as usize..(high + 1).min(self.grid.rows as i64) as usize;
        for row in rows {
            for column in first..beyond {
                let (tile, inside) = self.place(row, column);
                self.occupied[tile] |= 1 << inside;
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

    /// A particle within two by two pixels, the usual one: hardly anything to decide on the way, so hardly anything to guess for the
    /// processor. The same
    /// as [`Canvas::cover_disc`] and [`Canvas::stamp_small`] together. Place in pixels from the corner of the lower left one; `over` says
    /// whether it reaches over the edge between the columns, and between the rows.
    #[inline]
    fn stamp_tiny(
        &mut self,
        powder: usize,
        total: u64,
        [row, column]: [usize; 2],
        [u, v]: [f64; 2],
        radius: f64,
        [over_column, over_row]: [bool; 2],
    ) {
        let sub = SUB as f64;
        let (across, up, reach) = (u * sub, v * sub, radius * sub);
        let mut words = [[0u64; 2]; 2];
        for (k, pair) in words.iter_mut().enumerate().take(1 + usize::from(over_row)) {
            // Ends of each row's span, rounded to whole sub-pixels: see [`TO_WHOLE`].
            let (mut from, mut to) = ([0u64; SUB], [0u64; SUB]);
            let base = (k * SUB) as f64 + 0.5 - up;
            for i in 0..SUB {
                let dy = base + i as f64;
                let square = reach * reach - dy * dy;
                // Not `max`, which minds more cases.
                let half = if square > 0.0 { square } else { 0.0 }.sqrt();
                from[i] = (across - half + TO_WHOLE).to_bits();
                to[i] = (across + half + TO_WHOLE).to_bits();
            }
            for (i, (from, to)) in from.into_iter().zip(to).enumerate() {
                // As in `cover_disc`; where the disc does not reach, both ends are the same.
                let span = ((1u64 << (to - from)) - 1) << (from & 0x1f);
                pair[0] |= (span & 0xff) << (i * SUB);
                pair[1] |= (span >> SUB & 0xff) << (i * SUB);
            }
        }

        let corners = Corners::table();
        let whole = total as f64;
        let scale = 0.5 * CORNER_INTERVALS as f64 / radius;
        let end = (CORNER_INTERVALS - 1, 1.0);
        let cut = |at: f64| Corners::place(0.5 * CORNER_INTERVALS as f64 + (1.0 - at) * scale);
        let (edge, line) = (cut(u), cut(v));
        let corner = corners.at(edge, line);
        let first_row = if over_row { ((whole * corners.at(end, line)) as u64).min(total) } else { total };
        let second_row = total - first_row;
        let below = if over_row { corner } else { corners.at(edge, end) };
        let (a, b) = if over_column {
            let a = ((whole * below) as u64).min(first_row);
            (a, ((whole * (corners.at(edge, end) - corner)).max(0.0) as u64).min(second_row))
        } else {
            (first_row, second_row)
        };
        self.put(row, column, words[0][0], powder, a);
        if over_column {
            self.put(row, column + 1, words[0][1], powder, first_row - a);
        }
        if over_row {
            self.put(row + 1, column, words[1][0], powder, b);
            if over_column {
                self.put(row + 1, column + 1, words[1][1], powder, second_row - b);
            }
        }
    }

    /// Covers sub-pixels of a pixel and adds volume to it.
    #[inline]
    fn put(&mut self, row: usize, column: usize, cover: u64, powder: usize, volume: u64) {
        let (tile, inside) = self.place(row, column);
        self.occupied[tile] |= 1 << inside;
        let record = (tile * TILE * TILE + inside) * (1 + self.powders);
        self.cells[record] |= cover;
        self.cells[record + 1 + powder] += volume;
    }

    #[inline]
    fn add(&mut self, powder: usize, column: i64, row: i64, volume: u64) {
        // Negative numbers become huge ones.
        let (column, row) = (column as usize, row as usize);
        if column < self.grid.columns && row < self.grid.rows {
            let index = self.index(row, column);
            self.cells[index + 1 + powder] += volume;
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
        let records = self.cells.chunks_exact_mut(1 + self.powders).zip(other.cells.chunks_exact(1 + self.powders));
        for (mine, theirs) in records {
            mine[0] |= theirs[0];
            mine[1..].iter_mut().zip(&theirs[1..]).for_each(|(a, b)| *a += b);
        }
        self.occupied.iter_mut().zip(&other.occupied).for_each(|(a, b)| *a |= b);
    }

    /// Empties the canvas for another print, touching only what was used.
    pub fn clear(&mut self) {
        let length = TILE * TILE * (1 + self.powders);
        for (occupied, tile) in self.occupied.iter_mut().zip(self.cells.chunks_exact_mut(length)) {
            if std::mem::take(occupied) != 0 {
                tile.fill(0);
            }
        }
    }

    /// Number of powders.
    pub fn powders(&self) -> usize {
        self.powders
    }

    /// Solid thickness of a powder in one pixel, m.
    #[inline]
    pub fn thickness_at(&self, powder: usize, row: usize, column: usize) -> f64 {
        self.record(row, column)[1 + powder] as f64 * CUBIC_NANOMETRE / (self.grid.pitch * self.grid.pitch)
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
            f64::from(self.cover(row, column).count_ones()) / (SUB * SUB) as f64
        })
    }

    /// Map of the deposit's height, m: solid thickness over packing fraction, powders added.
    pub fn height(&self, packing: &[f64]) -> Array2<f64> {
        Array2::from_shape_fn((self.grid.rows, self.grid.columns), |(row, column)| {
            packing.iter().enumerate().map(|(k, share)| self.thickness_at(k, row, column) / share).sum()
        })
    }
}

/// Added to a number between 0 and 2^51 it leaves the nearest whole number in the lowest bits. Quicker than a conversion, several at a time.
const TO_WHOLE: f64 = 6_755_399_441_055_744.0;

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
struct Corners(Vec<f32>);

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
            Self(sums.iter().map(|sum| (sum / whole) as f32).collect())
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
        let mix = |a: f32, b: f32| f64::from(a) + fy * f64::from(b - a);
        let (low, high) = (mix(row[0], row[1]), mix(row[CORNER_INTERVALS + 1], row[CORNER_INTERVALS + 2]));
        low + fx * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::content::whole_volume;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
    use std::f64::consts::PI;

    fn grain(diameter: f64) -> Grain {
        Grain::new(0, diameter)
    }

    fn grid(pitch: f64, size: usize) -> Grid {
        Grid { origin: [0.0, 0.0], pitch, columns: size, rows: size }
    }

    fn volume_in(canvas: &Canvas, rows: Range<usize>) -> u64 {
        rows.map(|row| (0..canvas.grid.columns).map(|column| canvas.record(row, column)[1]).sum::<u64>()).sum()
    }

    #[test]
    fn a_stamp_keeps_the_volume_whatever_its_size_and_place() {
        for (pitch, diameter) in [(1e-6, 0.2e-6), (1e-6, 0.9e-6), (0.25e-6, 0.9e-6), (0.1e-6, 3e-6), (0.05e-6, 3e-6)] {
            for k in 0..50 {
                let mut canvas = Canvas::new(grid(pitch, 100), 1);
                let x = pitch * (50.0 + 0.617 * f64::from(k) % 1.0);
                let y = pitch * (50.0 + 0.381 * f64::from(k) % 1.0);
                canvas.stamp(x, y, &grain(diameter));
                assert_eq!(volume_in(&canvas, 0..100), whole_volume(diameter), "{pitch} {diameter}");
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
        assert!((canvas.record(1, 1)[1] as f64 / total - 0.5).abs() < 1e-6);
        let mut canvas = Canvas::new(grid(1e-6, 4), 1);
        canvas.stamp(2e-6, 2e-6, &grain(0.5e-6));
        for k in [5, 6, 9, 10] {
            assert!((canvas.record(k / 4, k % 4)[1] as f64 / total - 0.25).abs() < 1e-3);
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
                sum += canvas.covered() as f64 * (pitch / SUB as f64).powi(2);
                let map = canvas.coverage().sum() * pitch * pitch;
                assert!((map - canvas.covered() as f64 * (pitch / SUB as f64).powi(2)).abs() < 1e-20);
            }
            let area = PI / 4.0 * diameter * diameter;
            assert!((sum / f64::from(n) / area - 1.0).abs() < 0.01, "{}", sum / f64::from(n) / area);
        }
    }

    #[test]
    fn visits_find_everything_and_nothing_twice() {
        let mut canvas = Canvas::new(grid(0.25e-6, 45), 2);
        for k in 0..60 {
            let x = 11e-6 * (0.754_877_666 * f64::from(k)).fract();
            let y = 11e-6 * (0.569_840_290 * f64::from(k)).fract();
            canvas.stamp(x, y, &Grain::new((k % 2) as u16, 0.15e-6 * f64::from(1 + k % 20)));
        }
        let (mut covered, mut volume) = (0, [0u64; 2]);
        for row in 0..45 {
            let mut before = None;
            for columns in [0..7, 7..8, 8..31, 31..31, 31..45] {
                canvas.visit(row, columns.clone(), |column, cover, volumes| {
                    assert!(columns.contains(&column) && before < Some(column));
                    assert_eq!(cover, canvas.cover(row, column));
                    before = Some(column);
                    covered += u64::from(cover.count_ones());
                    (volume[0], volume[1]) = (volume[0] + volumes[0], volume[1] + volumes[1]);
                });
            }
        }
        assert_eq!(covered, canvas.covered());
        let all = |powder| canvas.thickness(powder).sum() * 0.25e-6 * 0.25e-6 / CUBIC_NANOMETRE;
        assert!((all(0) / volume[0] as f64 - 1.0).abs() < 1e-9 && (all(1) / volume[1] as f64 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_tiny_stamp_is_what_the_general_one_gives() {
        let grid = grid(0.5e-6, 40);
        let (mut tiny, mut general) = (Canvas::new(grid, 1), Canvas::new(grid, 1));
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(11);
        for _ in 0..20_000 {
            tiny.clear();
            general.cells.fill(0);
            let mut even = || rng.random::<f64>();
            let (u, v, radius) = (1.0 + 38.0 * even(), 1.0 + 38.0 * even(), 0.02 + 0.6 * even());
            let grain = grain(2.0 * radius * grid.pitch);
            tiny.stamp(u * grid.pitch, v * grid.pitch, &grain);
            let ends = |at: f64| (floor(at - radius), floor(at + radius));
            let ((left, right), (low, high)) = (ends(u), ends(v));
            general.cover_disc(u * SUB as f64, v * SUB as f64, radius * SUB as f64);
            general.stamp_small(0, grain.volume, [left, low], [right, high], [u, v], radius);
            let different = |k: usize| (0..tiny.cells.len()).filter(move |i| i % 2 == k);
            let covers = different(0).map(|i| (tiny.cells[i] ^ general.cells[i]).count_ones()).sum::<u32>();
            assert_eq!(covers, 0, "{u} {v} {radius}");
            assert!(different(1).all(|i| tiny.cells[i].abs_diff(general.cells[i]) <= 1), "{u} {v} {radius}");
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
        assert!(canvas.covered() > 1000);
        canvas.clear();
        assert_eq!(canvas, Canvas::new(grid(0.25e-6, 80), 1));
    }

    #[test]
    fn discs_of_any_size_cover_what_a_plain_count_says() {
        // Within the grid, over its sides, small enough to be set in one go and not.
        let canvas = || Canvas::new(grid(1.0, 40), 1);
        for (u, v, radius) in [
            (100.3, 150.2, 77.0),
            (300.0, 40.0, 50.0),
            (160.1, 99.7, 11.3),
            (0.0, 0.0, 10.0),
            (320.0, 318.0, 12.0),
            (77.5, 77.5, 0.4),
        ] {
            let mut canvas = canvas();
            canvas.cover_disc(u, v, radius);
            let inside = |k: usize| {
                let (x, y) = ((k % 320) as f64 + 0.5 - u, (k / 320) as f64 + 0.5 - v);
                x * x + y * y < radius * radius
            };
            let expected = (0..320 * 320).filter(|k| inside(*k)).count() as u64;
            assert_eq!(canvas.covered(), expected, "{u} {v} {radius}");
        }
    }

    #[test]
    fn spans_cross_pixels() {
        let mut bits = Bits::new(grid(1.0, 40));
        bits.set_span(3, 5, 200);
        assert_eq!(bits.count(), 196);
        bits.set_span(3, 64, 127);
        assert_eq!(bits.count(), 196);
        assert_eq!(bits.pixel(0, 0), 0xe0 << 24);
    }
}
