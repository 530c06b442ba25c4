//! The pixels of a print: what is kept of each, and how it is read.

use super::bits::SUB;
use crate::map::Grid;
use crate::units::CUBIC_NANOMETRE;
use ndarray::Array2;
use std::hint::black_box;
use std::ops::{Range, RangeInclusive};

/// Pixels along the edge of a tile.
pub(super) const TILE: usize = 8;
/// Words that memory gives at a time.
const LINE: usize = 8;

/// Solid volume and cover of one print.
///
/// What belongs to a pixel lies together, and pixels lie in square tiles: a print works its way across the chip, and a particle touches
/// a few pixels that are neighbours in memory, too.
#[derive(Debug, Clone, PartialEq)]
pub struct Canvas {
    /// Grid of the pixels.
    pub grid: Grid,
    pub(super) powders: usize,
    /// Pixels per length, 1/m, and numbers of the last column and row.
    pub(super) per_metre: f64,
    pub(super) last: [f64; 2],
    tiles_across: usize,
    /// Per pixel: its covered sub-pixels as in [`super::Bits`], then the solid volume of each powder, nm^3.
    pub(super) cells: Vec<u64>,
    /// Per tile: one bit per pixel that may hold something, row after row.
    pub(super) occupied: Vec<u64>,
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
            per_metre: 1.0 / grid.pitch,
            last: [grid.columns, grid.rows].map(|count| count as f64 - 1.0),
            tiles_across,
            cells: vec![0; tiles * TILE * TILE * (1 + powders)],
            occupied: vec![0; tiles],
        }
    }

    /// Memory of a canvas, bytes.
    pub fn bytes(grid: Grid, powders: usize) -> f64 {
        grid.pixels() * ((1 + powders) * size_of::<u64>()) as f64
    }

    /// Number of a pixel: tile by tile, in each row after row.
    #[inline]
    pub(super) fn pixel(&self, row: usize, column: usize) -> usize {
        (row / TILE * self.tiles_across + column / TILE) * (TILE * TILE) + row % TILE * TILE + column % TILE
    }

    /// Where a pixel's record begins.
    #[inline]
    pub(super) fn index(&self, row: usize, column: usize) -> usize {
        self.pixel(row, column) * (1 + self.powders)
    }

    /// A pixel's covered sub-pixels, then the solid volume of each powder, nm^3.
    #[inline]
    pub(super) fn record(&self, row: usize, column: usize) -> &[u64] {
        let start = self.index(row, column);
        &self.cells[start..start + 1 + self.powders]
    }

    /// Calls `f(column, cover, volumes)` for the pixels of a row within a range of columns that may hold something: covered sub-pixels as
    /// in [`super::Bits`], solid volume of each powder, nm^3. All others are empty.
    #[inline]
    pub fn visit(&self, row: usize, columns: Range<usize>, mut f: impl FnMut(usize, u64, &[u64])) {
        if columns.is_empty() {
            return;
        }
        let shift = row % TILE * TILE;
        let tiles = row / TILE * self.tiles_across;
        if shift == 0 {
            self.fetch(tiles + columns.start / TILE..=tiles + (columns.end - 1) / TILE);
        }
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

    /// Reads tiles that may hold something one after another, so that the processor has them at hand when their rows are visited in turn.
    #[inline]
    fn fetch(&self, tiles: RangeInclusive<usize>) {
        let length = TILE * TILE * (1 + self.powders);
        let first = *tiles.start();
        for (k, _) in self.occupied[tiles].iter().enumerate().filter(|(_, occupied)| **occupied != 0) {
            let tile = &self.cells[(first + k) * length..][..length];
            black_box(tile.iter().step_by(LINE).fold(0, |all, word| all | word));
        }
    }

    /// Covered sub-pixels of one pixel, as in [`super::Bits`].
    #[inline]
    pub fn cover(&self, row: usize, column: usize) -> u64 {
        self.cells[self.index(row, column)]
    }

    /// Number of covered sub-pixels.
    pub fn covered(&self) -> u64 {
        self.cells.chunks_exact(1 + self.powders).map(|record| u64::from(record[0].count_ones())).sum()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::content::Grain;

    fn grid(pitch: f64, size: usize) -> Grid {
        Grid { origin: [0.0, 0.0], pitch, columns: size, rows: size }
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
    fn a_cleared_canvas_is_as_new() {
        let mut canvas = Canvas::new(grid(0.25e-6, 80), 1);
        for k in 0..500 {
            let x = 20e-6 * (0.754_877_666 * f64::from(k)).fract() - 0.2e-6;
            let y = 20e-6 * (0.569_840_290 * f64::from(k)).fract() + 0.2e-6;
            canvas.stamp(x, y, &Grain::new(0, 0.1e-6 * f64::from(1 + k % 30)));
        }
        assert!(canvas.covered() > 1000);
        canvas.clear();
        assert_eq!(canvas, Canvas::new(grid(0.25e-6, 80), 1));
    }
}
