//! Pixels deep inside of ground or of particles, where blur of the edges does not reach.

use super::blur::quantile;
use crate::raster::Raster;

/// Depths, pixels: the first at which enough is left is taken.
const DEPTHS: [usize; 6] = [8, 6, 4, 3, 2, 1];
/// Fewest pixels, and the least share of all on this side.
const FEWEST: usize = 100;
const LEAST_SHARE: f64 = 0.02;
/// Most pixels that are looked at.
const MOST_LOOKED_AT: usize = 2_000_000;
/// Tiles along each side of a picture, and the share of those in which the side has pixels that must still have some.
const TILES: usize = 5;
const LEAST_TILES: f64 = 0.7;

/// A side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Larger values.
    Above,
    /// Smaller ones.
    Below,
}

impl Side {
    pub(super) fn holds(self, value: f32, limit: f32) -> bool {
        if self == Self::Above { value > limit } else { value < limit }
    }
}

/// Places on a side of a limit that lie as deep inside as leaves enough of them, all over the picture. Of grains of few pixels, those that
/// are farthest from the limit.
pub(super) fn inner(values: &Raster<f32>, limit: f32, side: Side) -> Vec<usize> {
    // Of large pictures, a part of the pixels tells as much; a step that is no part of a row's length does not stay in a column.
    let step = (values.area() / MOST_LOOKED_AT).max(1);
    let step = if values.columns.is_multiple_of(step) { step + usize::from(step > 1) } else { step };
    let all: Vec<usize> = (0..values.area()).step_by(step).filter(|k| side.holds(values.values[*k], limit)).collect();
    let tiles = tiles(values, &all);
    for depth in DEPTHS {
        let deep: Vec<usize> = all.iter().copied().filter(|k| is_deep(values, *k, depth, limit, side)).collect();
        let enough = FEWEST.max((all.len() as f64 * LEAST_SHARE) as usize);
        if deep.len() >= enough && self::tiles(values, &deep) as f64 >= LEAST_TILES * tiles as f64 {
            return deep;
        }
    }
    let mut sorted: Vec<f32> = all.iter().map(|k| values.values[*k]).collect();
    let far = quantile(&mut sorted, if side == Side::Above { 0.67 } else { 0.33 });
    all.into_iter().filter(|k| values.values[*k] == far || side.holds(values.values[*k], far)).collect()
}

/// Whether what lies around a place at a distance and at half of it is on the side, too.
fn is_deep(values: &Raster<f32>, place: usize, depth: usize, limit: f32, side: Side) -> bool {
    let (column, row) = (place % values.columns, place / values.columns);
    if column < depth || row < depth || column + depth >= values.columns || row + depth >= values.rows {
        return false;
    }
    let ring = |depth: usize| {
        let diagonal = (depth * 7).div_ceil(10);
        let down = |from: usize, by: usize| from * values.columns - by * values.columns;
        let (here, up, below) = (row * values.columns + column, down(row, depth), (row + depth) * values.columns);
        let (slant_up, slant_down) = (down(row, diagonal), (row + diagonal) * values.columns);
        [
            here - depth,
            here + depth,
            up + column,
            below + column,
            slant_up + column - diagonal,
            slant_up + column + diagonal,
            slant_down + column - diagonal,
            slant_down + column + diagonal,
        ]
    };
    let on_side = |depth: usize| ring(depth).iter().all(|k| side.holds(values.values[*k], limit));
    on_side(depth) && (depth < 3 || on_side(depth / 2))
}

/// How many tiles of a picture have places.
fn tiles(values: &Raster<f32>, places: &[usize]) -> usize {
    let mut seen = [false; TILES * TILES];
    for place in places {
        let (column, row) = (place % values.columns, place / values.columns);
        seen[row * TILES / values.rows * TILES + column * TILES / values.columns] = true;
    }
    seen.iter().filter(|seen| **seen).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_deepest_that_is_all_over() {
        // Bars 9 wide, 11 apart: 4 deep, so that the middle column is left; ground is 5 deep, but 8 and 6 are too much.
        let mut values = Raster::filled(200, 100, 0.0f32);
        for (k, value) in values.values.iter_mut().enumerate() {
            *value = if k % 200 % 20 < 9 { 1.0 } else { 0.0 };
        }
        let columns = |side| {
            let mut columns: Vec<usize> = inner(&values, 0.5, side).into_iter().map(|k| k % 200 % 20).collect();
            columns.sort_unstable();
            columns.dedup();
            columns
        };
        assert_eq!(columns(Side::Above), [4]);
        assert_eq!(columns(Side::Below), [13, 14, 15]);
    }
}
