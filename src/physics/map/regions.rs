//! Which region a point or a sub-pixel belongs to.

use super::Grid;
use super::canvas::Bits;
use super::outline::{bounds, contains};
use crate::contours::Bounds;
use crate::inputs::{Outline, Region, Role};
use std::sync::OnceLock;

/// What lies in a pixel or in a tile of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Label {
    /// No region.
    Bare,
    /// Nothing but this region.
    Region(u16),
    /// More than one of these, or a region whose number has no label: the point itself must be tested.
    Mixed,
}

impl Label {
    fn of(region: Option<usize>) -> Self {
        region.map_or(Self::Bare, |region| u16::try_from(region).map_or(Self::Mixed, Self::Region))
    }
}

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
    /// Pixels per length, 1/m.
    per_metre: f64,
    /// Box around each region: most points lie in few of them.
    boxes: Vec<Bounds>,
    /// Made when the first point is asked for: the expected deposit asks for none.
    labels: OnceLock<Labels>,
}

/// What lies where on the grid.
#[derive(Debug, Clone)]
struct Labels {
    pixels: Vec<Label>,
    /// Labels of squares of [`TILE`] x [`TILE`] pixels: few enough to stay near the processor. Where they are mixed the pixel tells.
    tiles: Vec<Label>,
    tiles_across: usize,
}

impl RegionIndex {
    /// For the regions of a chip on a grid.
    pub fn new(regions: &[Region], grid: Grid) -> Self {
        let mut order: Vec<usize> = (0..regions.len()).collect();
        order.sort_by_key(|&k| regions[k].role == Role::Window);
        Self {
            regions: regions.to_vec(),
            order,
            grid,
            per_metre: 1.0 / grid.pitch,
            boxes: regions.iter().map(|region| bounds(&region.outline)).collect(),
            labels: OnceLock::new(),
        }
    }

    /// Looks at the corners of pixels. On one thread: others wait for it, and must not be given work of their own meanwhile.
    fn look(&self) -> Labels {
        let grid = self.grid;
        let corner_hits = |row: usize| -> Vec<Label> {
            let y = grid.origin[1] + row as f64 * grid.pitch;
            let reach_it = |k: &usize| self.boxes[*k].low[1] <= y && self.boxes[*k].high[1] >= y;
            let of_row: Vec<usize> = self.order.iter().copied().filter(reach_it).collect();
            let x = |column: usize| grid.origin[0] + column as f64 * grid.pitch;
            (0..=grid.columns).map(|column| Label::of(self.first_of(&of_row, [x(column), y]))).collect()
        };
        let hits: Vec<Vec<Label>> = (0..=grid.rows).map(corner_hits).collect();
        let mut labels = vec![Label::Bare; grid.columns * grid.rows];
        for (row, [below, above]) in hits.array_windows().enumerate() {
            for column in 0..grid.columns {
                let corners = [below[column], below[column + 1], above[column], above[column + 1]];
                labels[row * grid.columns + column] =
                    if corners.iter().all(|c| *c == corners[0]) { corners[0] } else { Label::Mixed };
            }
        }
        self.mark_small(&mut labels);
        // An area may have necks and slits narrower than a pixel: its edge is followed.
        for region in &self.regions {
            if let Outline::Area(area) = &region.outline {
                area.contours.each_edge(|a, b| mark_edge(&mut labels, grid, a, b));
            }
        }
        let tiles_across = grid.columns.div_ceil(TILE);
        let tile = |tile: usize| {
            let (row, column) = (tile / tiles_across * TILE, tile % tiles_across * TILE);
            let first = labels[row * grid.columns + column];
            let same = (row..grid.rows.min(row + TILE)).all(|row| {
                let start = row * grid.columns;
                labels[start + column..start + grid.columns.min(column + TILE)].iter().all(|l| *l == first)
            });
            if same { first } else { Label::Mixed }
        };
        let tiles = (0..tiles_across * grid.rows.div_ceil(TILE)).map(tile).collect();
        Labels { pixels: labels, tiles, tiles_across }
    }

    /// A region smaller than a pixel can hide between corners: all pixels its box touches are tested point by point.
    fn mark_small(&self, labels: &mut [Label]) {
        let grid = self.grid;
        let pixels =
            |at: f64, k: usize, count: usize| (((at - grid.origin[k]) / grid.pitch).max(0.0) as usize).min(count);
        let is_small = |bounds: &&Bounds| bounds.size()[0].min(bounds.size()[1]) < 4.0 * grid.pitch;
        for Bounds { low, high } in self.boxes.iter().filter(is_small) {
            // A pixel more on each side, against rounding.
            let range = |k: usize, count: usize| {
                pixels(low[k] - grid.pitch, k, count)..pixels(high[k] + 2.0 * grid.pitch, k, count)
            };
            for row in range(1, grid.rows) {
                labels[row * grid.columns..][range(0, grid.columns)].fill(Label::Mixed);
            }
        }
    }

    /// The grid it is for.
    pub fn grid(&self) -> Grid {
        self.grid
    }

    /// The region under a point, by exact geometry.
    fn exact(&self, point: [f64; 2]) -> Option<usize> {
        self.first_of(&self.order, point)
    }

    /// The first of some regions that holds a point.
    fn first_of(&self, regions: &[usize], point: [f64; 2]) -> Option<usize> {
        regions.iter().copied().find(|&k| self.boxes[k].contains(point) && contains(&self.regions[k].outline, point))
    }

    /// The region under a point.
    #[inline]
    pub fn of(&self, point: [f64; 2]) -> Option<usize> {
        let [u, v] = [0, 1].map(|k| (point[k] - self.grid.origin[k]) * self.per_metre);
        if u < 0.0 || v < 0.0 || u >= self.grid.columns as f64 || v >= self.grid.rows as f64 {
            return self.exact(point);
        }
        let (column, row) = (u as usize, v as usize);
        let Labels { pixels, tiles, tiles_across } = self.labels.get_or_init(|| self.look());
        let label = match tiles[row / TILE * tiles_across + column / TILE] {
            Label::Mixed => pixels[row * self.grid.columns + column],
            label => label,
        };
        match label {
            Label::Bare => None,
            Label::Region(region) => Some(usize::from(region)),
            Label::Mixed => self.exact(point),
        }
    }

    /// Sub-pixels of a region, whole region whatever lies on it.
    pub fn mask(&self, region: usize) -> Bits {
        Bits::of_outline(self.grid, &self.regions[region].outline)
    }
}

/// Marks the pixels that an edge passes as mixed.
fn mark_edge(labels: &mut [Label], grid: Grid, a: [f64; 2], b: [f64; 2]) {
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
            labels[row * grid.columns + column] = Label::Mixed;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::Area;
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
        let area = Area { contours: Arc::new(Contours::new(vec![comb, hole])), source: None };
        let regions = [Region { name: "comb".into(), role: Role::Target, outline: Outline::Area(area.clone()) }];
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
    fn a_polygon_is_found_where_it_is_narrower_than_a_pixel() {
        // A beam of 0.3 with teeth of 0.1, on pixels of 0.5.
        let mut comb = vec![[-4.1, -0.4], [4.1, -0.4], [4.1, -0.1]];
        for k in (0..10).rev() {
            let x = -3.9 + 0.8 * f64::from(k);
            comb.extend([[x + 0.1, -0.1], [x + 0.1, 3.9], [x, 3.9], [x, -0.1]]);
        }
        comb.push([-4.1, -0.1]);
        let outline = Outline::polygon(comb);
        let regions = [Region { name: "comb".into(), role: Role::Target, outline: outline.clone() }];
        let index = RegionIndex::new(&regions, Grid { origin: [-5.0, -5.0], pitch: 0.5, columns: 20, rows: 20 });
        let mut found = 0;
        for (i, j) in (0..200).flat_map(|i| (0..200).map(move |j| (i, j))) {
            let point = [-4.9 + 0.0487 * f64::from(i), -4.9 + 0.0487 * f64::from(j)];
            assert_eq!(index.of(point).is_some(), contains(&outline, point), "{point:?}");
            found += usize::from(index.of(point).is_some());
        }
        // 8.2 x 0.3 and ten teeth of 4 x 0.1, at 0.0487^2 a point: 2724.
        assert!((2600..2850).contains(&found), "{found}");
    }

    #[test]
    fn particles_are_counted_on_each_of_many_regions() {
        // 900 squares of 2 pixels' width, beside each other with a gap, and a window below all of them.
        let place = |k: usize| [-60.0 + 4.0 * (k % 30) as f64, -60.0 + 4.0 * (k / 30) as f64];
        let mut regions: Vec<Region> = (0..900)
            .map(|k| Region {
                name: format!("pad {k}"),
                role: Role::Electrode,
                outline: Outline::Rectangle { center: place(k), size: [3.0, 3.0], rotation: 0.0 },
            })
            .collect();
        let window = Outline::Rectangle { center: [0.0, 0.0], size: [130.0, 130.0], rotation: 0.0 };
        regions.insert(0, Region { name: "window".into(), role: Role::Window, outline: window });
        for pitch in [0.5, 1.7] {
            let side = (140.0 / pitch) as usize;
            let grid = Grid { origin: [-70.0, -70.0], pitch, columns: side, rows: side };
            let index = RegionIndex::new(&regions, grid);
            for k in 0..900 {
                let [x, y] = place(k);
                assert_eq!(index.of([x + 0.9, y - 0.7]), Some(k + 1));
                assert_eq!(index.of([x + 1.9, y]), Some(0));
            }
            let labels = index.labels.get().expect("points were asked for");
            let pure = labels.pixels.iter().filter(|label| matches!(label, Label::Region(k) if *k > 254)).count();
            assert!(pitch > 1.0 || pure > 5000, "{pure} pixels lie in one of the later regions");
        }
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
