//! Which region a point or a sub-pixel belongs to.

use super::Grid;
use super::canvas::Bits;
use super::outline::{bounds, contains};
use crate::inputs::{Outline, Region, Role};
use rayon::prelude::*;

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
        let hits: Vec<Vec<Option<u8>>> = (0..=grid.rows).into_par_iter().map(corner_hits).collect();
        let mut labels = vec![NONE; grid.columns * grid.rows];
        for (row, [below, above]) in hits.array_windows().enumerate() {
            for column in 0..grid.columns {
                let corners = [below[column], below[column + 1], above[column], above[column + 1]];
                labels[row * grid.columns + column] =
                    if corners.iter().all(|c| *c == corners[0]) { corners[0].unwrap_or(NONE) } else { MIXED };
            }
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
        // A drawn area may have necks and slits narrower than a pixel: its edge is followed.
        for region in regions {
            if let Outline::Shape(area) = &region.outline {
                area.contours.each_edge(|a, b| mark_edge(&mut labels, grid, a, b));
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

/// Marks the pixels that an edge passes as mixed.
fn mark_edge(labels: &mut [u8], grid: Grid, a: [f64; 2], b: [f64; 2]) {
    let at = |p: [f64; 2]| [0, 1].map(|k| (p[k] - grid.origin[k]) / grid.pitch);
    let (a, b) = (at(a), at(b));
    // A little more than the edge itself, against rounding.
    let span = |low: f64, high: f64, count: usize| {
        let (low, high) = ((low - 1e-6).floor().max(0.0), (high + 1e-6).floor().min(count as f64 - 1.0));
        if high < low { 0..0 } else { low as usize..high as usize + 1 }
    };
    for row in span(a[1].min(b[1]), a[1].max(b[1]), grid.rows) {
        // The part of the edge within the row.
        let cut = |y: f64| {
            let t = if a[1] == b[1] { 0.0 } else { (y.clamp(a[1].min(b[1]), a[1].max(b[1])) - a[1]) / (b[1] - a[1]) };
            a[0] + t * (b[0] - a[0])
        };
        let (x, y) = if a[1] == b[1] { (a[0], b[0]) } else { (cut(row as f64 - 1e-6), cut(row as f64 + 1.0 + 1e-6)) };
        for column in span(x.min(y), x.max(y), grid.columns) {
            labels[row * grid.columns + column] = MIXED;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::DrawnArea;
    use std::sync::Arc;

    #[test]
    fn a_drawn_comb_is_found_point_by_point() {
        // A comb with teeth of 0.1 and slits of 0.13, far narrower than a pixel of 0.5, and a slanting hole.
        let mut comb = vec![[-4.0, -4.0], [4.0, -4.0], [4.0, -3.0]];
        for k in (0..30).rev() {
            let x = -3.5 + 0.23 * f64::from(k);
            comb.extend([[x + 0.1, -3.0], [x + 0.1, 4.0], [x, 4.0], [x, -3.0]]);
        }
        comb.push([-4.0, -3.0]);
        let hole = vec![[-3.0, -3.9], [3.0, -3.3], [3.0, -3.2], [-3.0, -3.8]];
        let area = DrawnArea { contours: Arc::new(Contours::new(vec![comb, hole])), source: None };
        let regions = [Region { name: "comb".into(), role: Role::Target, outline: Outline::Shape(area.clone()) }];
        let grid = Grid { origin: [-5.0, -5.0], pitch: 0.5, columns: 20, rows: 20 };
        let index = RegionIndex::new(&regions, grid);
        for i in 0..300 {
            for j in 0..300 {
                let point = [-6.0 + 0.0403 * f64::from(i), -6.0 + 0.0403 * f64::from(j)];
                assert_eq!(index.of(point), index.exact(point), "{point:?}");
            }
        }
        // Sub-pixels of 1/16 cannot resolve the teeth, but their count must agree with point by point.
        let step = 0.5 / 8.0;
        let by_point = (0..160 * 160)
            .filter(|k| {
                let (i, j) = (f64::from(k % 160), f64::from(k / 160));
                area.contours.contains([-5.0 + (i + 0.5) * step, -5.0 + (j + 0.5) * step])
            })
            .count();
        assert_eq!(index.mask(0).count(), by_point as u64);
    }

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
