//! Which region a point or a sub-pixel belongs to.

use super::Grid;
use super::canvas::Bits;
use super::outline::{bounds, contains};
use crate::inputs::{Region, Role};

/// Label of a pixel in which no region lies.
const NONE: u8 = 254;
/// Label of a pixel cut by an edge: the point itself must be tested.
const MIXED: u8 = 255;
/// Pixels along the edge of a tile.
const TILE: usize = 8;

/// Finds the region under a point, quickly on the grid and exactly everywhere.
///
/// Where regions overlap (a window under an electrode), windows come last.
#[derive(Debug, Clone)]
pub struct RegionIndex {
    regions: Vec<Region>,
    /// Order in which regions claim a point.
    order: Vec<usize>,
    grid: Grid,
    labels: Vec<u8>,
    /// Labels of squares of [`TILE`] x [`TILE`] pixels: few enough to stay near the processor. [`MIXED`]: look at the pixel.
    tiles: Vec<u8>,
    tiles_across: usize,
}

impl RegionIndex {
    /// For the regions of a chip, at most 250, on a grid.
    pub fn new(regions: &[Region], grid: Grid) -> Self {
        let mut order: Vec<usize> = (0..regions.len()).collect();
        order.sort_by_key(|&k| regions[k].role == Role::Window);
        let tiles_across = grid.columns.div_ceil(TILE);
        let mut index =
            Self { regions: regions.to_vec(), order, grid, labels: Vec::new(), tiles: Vec::new(), tiles_across };
        let label = |hit: Option<usize>| hit.and_then(|k| u8::try_from(k).ok()).filter(|k| *k < NONE);
        let corner_hits = |row: usize| -> Vec<Option<u8>> {
            (0..=grid.columns)
                .map(|column| {
                    let x = grid.origin[0] + column as f64 * grid.pitch;
                    let y = grid.origin[1] + row as f64 * grid.pitch;
                    label(index.exact([x, y]))
                })
                .collect()
        };
        let mut labels = vec![NONE; grid.columns * grid.rows];
        let mut below = corner_hits(0);
        for row in 0..grid.rows {
            let above = corner_hits(row + 1);
            for column in 0..grid.columns {
                let corners = [below[column], below[column + 1], above[column], above[column + 1]];
                labels[row * grid.columns + column] =
                    if corners.iter().all(|c| *c == corners[0]) { corners[0].unwrap_or(NONE) } else { MIXED };
            }
            below = above;
        }
        // A region smaller than a pixel can hide between corners: all pixels its box touches are tested point by point.
        for region in regions {
            let [low, high] = bounds(&region.outline);
            if (high[0] - low[0]).min(high[1] - low[1]) < 4.0 * grid.pitch {
                for row in 0..grid.rows {
                    for column in 0..grid.columns {
                        let x = grid.origin[0] + column as f64 * grid.pitch;
                        let y = grid.origin[1] + row as f64 * grid.pitch;
                        if x <= high[0] && x + grid.pitch >= low[0] && y <= high[1] && y + grid.pitch >= low[1] {
                            labels[row * grid.columns + column] = MIXED;
                        }
                    }
                }
            }
        }
        index.tiles = (0..tiles_across * grid.rows.div_ceil(TILE))
            .map(|tile| {
                let (row, column) = (tile / tiles_across * TILE, tile % tiles_across * TILE);
                let first = labels[row * grid.columns + column];
                let same = (row..grid.rows.min(row + TILE)).all(|row| {
                    let start = row * grid.columns;
                    labels[start + column..start + grid.columns.min(column + TILE)].iter().all(|l| *l == first)
                });
                if same { first } else { MIXED }
            })
            .collect();
        index.labels = labels;
        index
    }

    /// The grid it is for.
    pub fn grid(&self) -> Grid {
        self.grid
    }

    /// The region under a point, by exact geometry.
    fn exact(&self, point: [f64; 2]) -> Option<usize> {
        self.order.iter().copied().find(|&k| contains(&self.regions[k].outline, point))
    }

    /// The region under a point.
    #[inline]
    pub fn of(&self, point: [f64; 2]) -> Option<usize> {
        let u = (point[0] - self.grid.origin[0]) / self.grid.pitch;
        let v = (point[1] - self.grid.origin[1]) / self.grid.pitch;
        if u < 0.0 || v < 0.0 || u >= self.grid.columns as f64 || v >= self.grid.rows as f64 {
            return self.exact(point);
        }
        let (column, row) = (u as usize, v as usize);
        let label = match self.tiles[row / TILE * self.tiles_across + column / TILE] {
            MIXED => self.labels[row * self.grid.columns + column],
            label => label,
        };
        match label {
            NONE => None,
            MIXED => self.exact(point),
            label => Some(usize::from(label)),
        }
    }

    /// Sub-pixels of a region, whole region whatever lies on it.
    pub fn mask(&self, region: usize) -> Bits {
        Bits::of_outline(self.grid, &self.regions[region].outline)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::Outline;

    #[test]
    fn quick_and_exact_answers_agree() {
        let region = |name: &str, role, outline| Region { name: name.into(), role, outline };
        let regions = [
            region("window", Role::Window, Outline::Rectangle { center: [0.0, 0.0], size: [8.0, 8.0], rotation: 0.3 }),
            region("disc", Role::Target, Outline::Disc { center: [1.0, 0.5], radius: 2.0 }),
            region("speck", Role::KeepOut, Outline::Disc { center: [-2.63, -1.61], radius: 0.1 }),
        ];
        let grid = Grid { origin: [-5.0, -5.0], pitch: 0.5, columns: 20, rows: 20 };
        let index = RegionIndex::new(&regions, grid);
        for i in 0..200 {
            for j in 0..200 {
                let point = [-6.0 + 0.0603 * f64::from(i), -6.0 + 0.0603 * f64::from(j)];
                assert_eq!(index.of(point), index.exact(point), "{point:?}");
            }
        }
        assert_eq!(index.of([-2.63, -1.61]), Some(2));
        assert_eq!(index.of([1.0, 0.5]), Some(1));
        // Area of the disc on sub-pixels of 1/16: pi 4 = 12.566.
        let area = index.mask(1).count() as f64 * (0.5f64 / 8.0).powi(2);
        assert!((area - 12.566).abs() < 0.05);
    }
}
