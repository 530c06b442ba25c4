//! A coarse map of the whole chip: how many particles landed on each tile.
//!
//! The fine grid reaches a little beyond regions and path; single strays fly on to the chip's edge. They are few, so tiles of ten or more
//! micrometres show all there is to see, at the memory of a small picture.

use super::Grid;
use crate::inputs::Chip;

/// Most tiles along the chip's longer side.
const MOST_TILES: f64 = 240.0;
/// Smallest tile, m.
const LEAST_TILE: f64 = 5e-6;

/// Counts of particles on tiles of the whole chip. All integers, so order does not matter.
#[derive(Debug, Clone, PartialEq)]
pub struct FarMap {
    grid: Grid,
    /// Tiles per length, 1/m.
    per_metre: f64,
    counts: Vec<u64>,
    prints: u32,
}

impl FarMap {
    /// Nothing counted yet. Tiles are 1, 2 or 5 times a power of ten of micrometres.
    pub fn new(chip: Chip) -> Self {
        let wanted = (chip.width.max(chip.height) / MOST_TILES).max(LEAST_TILE);
        let power = 10f64.powf((wanted * 1e6).log10().floor());
        let factor = [1.0, 2.0, 5.0].into_iter().find(|f| f * power >= wanted * 1e6 * (1.0 - 1e-9)).unwrap_or(10.0);
        let pitch = factor * power * 1e-6;
        let side = |length: f64| ((length / pitch - 1e-9).ceil().max(1.0)) as usize;
        let (columns, rows) = (side(chip.width), side(chip.height));
        let origin = [columns, rows].map(|count| -0.5 * count as f64 * pitch);
        Self {
            grid: Grid { origin, pitch, columns, rows },
            per_metre: 1.0 / pitch,
            counts: vec![0; columns * rows],
            prints: 0,
        }
    }

    /// Where the tiles lie.
    pub fn grid(&self) -> Grid {
        self.grid
    }

    /// Prints that were counted.
    pub fn prints(&self) -> u32 {
        self.prints
    }

    /// Counts another print.
    pub fn begin_print(&mut self) {
        self.prints += 1;
    }

    /// Counts a particle by its centre; beyond the tiles it counts nowhere.
    #[inline]
    pub fn add(&mut self, point: [f64; 2]) {
        let [column, row] = [0, 1].map(|k| (point[k] - self.grid.origin[k]) * self.per_metre);
        if column >= 0.0 && row >= 0.0 && column < self.grid.columns as f64 && row < self.grid.rows as f64 {
            self.counts[row as usize * self.grid.columns + column as usize] += 1;
        }
    }

    /// Back to nothing counted.
    pub fn clear(&mut self) {
        self.counts.fill(0);
        self.prints = 0;
    }

    /// Adds the counts of other prints of the same chip.
    pub fn join(&mut self, other: &Self) {
        debug_assert!(self.grid == other.grid);
        for (mine, theirs) in self.counts.iter_mut().zip(&other.counts) {
            *mine += theirs;
        }
        self.prints += other.prints;
    }

    /// Particles of all prints on a tile.
    pub fn count(&self, row: usize, column: usize) -> u64 {
        self.counts[row * self.grid.columns + column]
    }

    /// Particles of all prints on all tiles.
    pub fn total(&self) -> u64 {
        self.counts.iter().sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_cover_the_chip_and_strays_are_counted_where_they_lie() {
        // 4 mm / 240 = 16.7 um: tiles of 20 um, 200 x 150.
        let mut far = FarMap::new(Chip { width: 4e-3, height: 3e-3 });
        let grid = far.grid();
        assert!((grid.pitch - 20e-6).abs() < 1e-12 && (grid.columns, grid.rows) == (200, 150));
        far.begin_print();
        for point in [[0.0, 0.0], [1e-6, 19e-6], [-1.999e-3, 1.499e-3], [1.205e-3, -0.695e-3], [5e-3, 0.0]] {
            far.add(point);
        }
        assert_eq!((far.count(75, 100), far.count(149, 0), far.total()), (2, 1, 4));
        // (1.205 + 2)/0.02 = 160.25; (-0.695 + 1.5)/0.02 = 40.25.
        assert_eq!(far.count(40, 160), 1);
        let mut both = far.clone();
        both.join(&far);
        assert_eq!((both.total(), both.prints()), (8, 2));
        both.clear();
        assert_eq!((both.total(), both.prints()), (0, 0));
        // A wafer and a sliver.
        assert!((FarMap::new(Chip { width: 0.1, height: 0.1 }).grid().pitch - 500e-6).abs() < 1e-9);
        assert!((FarMap::new(Chip { width: 50e-6, height: 80e-6 }).grid().pitch - 5e-6).abs() < 1e-12);
    }
}
