//! One bit per sub-pixel.

use crate::contours::Bounds;
use crate::inputs::Outline;
use crate::map::Grid;
use crate::map::outline::{bounds, contains};

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
    pub(crate) fn new(grid: Grid) -> Self {
        const { assert!(SUB == 8, "a pixel's sub-pixels fill one word") };
        Self { columns: grid.columns, rows: grid.rows, words: vec![0; grid.columns * grid.rows] }
    }

    /// The sub-pixels whose centre is inside an outline.
    pub(crate) fn of_outline(grid: Grid, outline: &Outline) -> Self {
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

    /// The sub-pixels of one pixel, row after row from the lowest bit.
    #[inline]
    pub fn pixel(&self, row: usize, column: usize) -> u64 {
        self.words[row * self.columns + column]
    }
}

/// Calls `f(pixel, sub-pixels of it)` for a span of sub-pixels in one row.
#[inline]
pub(super) fn each_byte(first: usize, last: usize, mut f: impl FnMut(usize, u64)) {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_cross_pixels() {
        let mut bits = Bits::new(Grid { origin: [0.0, 0.0], pitch: 1.0, columns: 40, rows: 40 });
        bits.set_span(3, 5, 200);
        assert_eq!(bits.count(), 196);
        bits.set_span(3, 64, 127);
        assert_eq!(bits.count(), 196);
        assert_eq!(bits.pixel(0, 0), 0xe0 << 24);
    }
}
