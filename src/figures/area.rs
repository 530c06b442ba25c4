//! The area of a region on the measuring grid: coverage, thickness and depth of what lies on it.

use super::beam_view::AreaCounts;
use super::{Grid, MeasuringGrid};
use motefall_physics::contours::Bounds;
use motefall_physics::inputs::Outline;
use motefall_physics::map::canvas::{Bits, Canvas, SUB};
use motefall_physics::map::outline::{bounds, contains};
use motefall_physics::units::CUBIC_NANOMETRE;
use std::ops::Range;

/// Bins in which thicknesses are first counted to find a percentile; the value itself is then exact.
const COARSE_BINS: usize = 4096;

/// What the beam goes through.
#[derive(Debug, Clone)]
pub(super) struct Depths {
    /// Thickness of the layers besides the deposit, in mean free paths.
    pub(crate) layers: f64,
    /// Depth above which a place is too thick, in mean free paths.
    pub(crate) limit: f64,
    /// Of each powder, m.
    pub(crate) mean_free_paths: Vec<f64>,
}

/// A region on the measuring grid.
#[derive(Debug, Clone, Default)]
pub(super) struct RegionArea {
    /// Sub-pixels inside.
    pub(crate) area: u64,
    /// Pixels along the edge of a square.
    per_square: usize,
    /// Runs of squares wholly inside: row, columns.
    whole: Vec<(usize, Range<usize>)>,
    /// Squares cut by the edge: row, column.
    cut: Vec<(usize, usize)>,
    /// For each pixel of each cut square, row after row: which sub-pixels are inside.
    inside: Vec<u64>,
}

/// What lies in a square of the measuring grid.
#[derive(Debug, Clone, Copy, Default)]
struct Square {
    /// Sub-pixels of the region in it.
    inside: u64,
    /// Covered sub-pixels of the region in it.
    covered_inside: u64,
    /// Covered sub-pixels, of the region or not.
    covered: u64,
    /// Solid volume, nm^3.
    volume: u64,
    /// Solid volume of each powder times what makes it mean free paths.
    paths: f64,
    /// The same two for the region's part of each pixel, by its share of the pixel's area.
    volume_inside: f64,
    paths_inside: f64,
}

impl Square {
    #[inline]
    fn add(&mut self, inside: u64, cover: u64, volumes: &[u64], to_paths: &[f64]) {
        let volume: u64 = volumes.iter().sum();
        let paths: f64 = volumes.iter().zip(to_paths).map(|(volume, to_paths)| *volume as f64 * to_paths).sum();
        let share = f64::from(inside.count_ones()) / f64::from(u64::BITS);
        self.covered_inside += u64::from((cover & inside).count_ones());
        self.covered += u64::from(cover.count_ones());
        self.volume += volume;
        self.paths += paths;
        self.volume_inside += share * volume as f64;
        self.paths_inside += share * paths;
    }

    fn is_empty(&self) -> bool {
        self.volume == 0 && self.covered == 0
    }
}

impl RegionArea {
    pub(crate) fn new(mask: &Bits, outline: &Outline, measuring: MeasuringGrid) -> Self {
        let MeasuringGrid { grid, per_square } = measuring;
        let full = per_square * per_square * SUB * SUB;
        let mut work = Self { per_square, ..Self::default() };
        let Bounds { low: corner, high: far_corner } = bounds(outline);
        let range = |k: usize, count: usize| {
            let square = |at: f64| ((at - grid.origin[k]) / (grid.pitch * per_square as f64)).floor();
            let first = square(corner[k]).max(0.0) as usize;
            first.min(count)..(square(far_corner[k]).max(-1.0) as isize + 1).cast_unsigned().min(count)
        };
        for row in range(1, grid.rows / per_square) {
            for column in range(0, grid.columns / per_square) {
                let before = work.inside.len();
                for y in row * per_square..(row + 1) * per_square {
                    work.inside.extend((column * per_square..(column + 1) * per_square).map(|x| mask.pixel(y, x)));
                }
                let inside: usize = work.inside[before..].iter().map(|bits| bits.count_ones() as usize).sum();
                work.area += inside as u64;
                if inside > 0 && inside < full {
                    work.cut.push((row, column));
                    continue;
                }
                work.inside.truncate(before);
                if inside == 0 {
                    continue;
                }
                if let Some((_, run)) = work.whole.last_mut().filter(|(at, run)| *at == row && run.end == column) {
                    run.end += 1;
                } else {
                    work.whole.push((row, column..column + 1));
                }
            }
        }
        work
    }

    /// Whether the middle of any of its pixels lies inside an outline.
    pub(crate) fn meets(&self, outline: &Outline, grid: Grid) -> bool {
        let n = self.per_square;
        let inside = |row: usize, column: usize| {
            contains(outline, [(column, 0), (row, 1)].map(|(at, k)| grid.origin[k] + (at as f64 + 0.5) * grid.pitch))
        };
        let any = |rows: Range<usize>, columns: Range<usize>| {
            rows.into_iter().any(|row| columns.clone().any(|column| inside(row, column)))
        };
        self.whole.iter().any(|(row, run)| any(row * n..(row + 1) * n, run.start * n..run.end * n))
            || self.cut.iter().zip(self.inside.chunks_exact(n * n)).any(|((row, column), bits)| {
                (0..n * n).any(|k| bits[k] != 0 && inside(row * n + k / n, column * n + k % n))
            })
    }

    /// Calls `f` for every square of the region that holds something.
    fn visit(&self, canvas: &Canvas, to_paths: &[f64], mut f: impl FnMut(&Square)) {
        let n = self.per_square;
        let full = (n * n * SUB * SUB) as u64;
        let mut squares = vec![];
        for (row, run) in &self.whole {
            if n == 1 {
                // A square is a pixel: no need to go through those that hold nothing.
                canvas.visit(*row, run.clone(), |_, cover, volumes| {
                    let mut square = Square { inside: full, ..Square::default() };
                    square.add(!0, cover, volumes, to_paths);
                    if !square.is_empty() {
                        f(&square);
                    }
                });
                continue;
            }
            squares.clear();
            squares.resize(run.len(), Square { inside: full, ..Square::default() });
            for y in row * n..(row + 1) * n {
                canvas.visit(y, run.start * n..run.end * n, |x, cover, volumes| {
                    squares[x / n - run.start].add(!0, cover, volumes, to_paths);
                });
            }
            squares.iter().filter(|square| !square.is_empty()).for_each(&mut f);
        }
        for ((row, column), bits) in self.cut.iter().zip(self.inside.chunks_exact(n * n)) {
            let inside = bits.iter().map(|bits| u64::from(bits.count_ones())).sum();
            let mut square = Square { inside, ..Square::default() };
            for y in 0..n {
                canvas.visit(row * n + y, column * n..(column + 1) * n, |x, cover, volumes| {
                    square.add(bits[y * n + x - column * n], cover, volumes, to_paths);
                });
            }
            if !square.is_empty() {
                f(&square);
            }
        }
    }

    /// Statistics of thickness over a region. Mean, coverage and bare share are those of the region's own area; percentiles, unevenness
    /// and what is too thick are those of squares of the resolution, each weighted by its share inside.
    pub(crate) fn thickness(&self, canvas: &Canvas, depths: &Depths, values: &mut Vec<(f64, u64)>) -> Thickness {
        values.clear();
        let limit = depths.limit - depths.layers;
        let layers_too_thick = limit < 0.0;
        let pixel = canvas.grid.pitch * canvas.grid.pitch;
        let to_thickness = CUBIC_NANOMETRE / pixel;
        let to_paths: Vec<f64> = depths.mean_free_paths.iter().map(|path| to_thickness / path).collect();
        let pixels = (self.per_square * self.per_square) as f64;
        let (mut mean, mut paths, mut sum, mut most) = (0.0, 0.0, 0.0, 0.0f64);
        let mut area = AreaCounts::default();
        let (mut filled, mut covered) = (0u64, 0u64);
        self.visit(canvas, &to_paths, |square| {
            // The deposit of a square lies on its covered part.
            let is_too_thick = square.paths * (SUB * SUB) as f64 > limit * square.covered.max(1) as f64;
            let bare = square.inside - square.covered_inside;
            area.add(square.covered_inside, bare, is_too_thick, layers_too_thick);
            covered += square.covered_inside;
            if square.volume == 0 {
                return;
            }
            filled += square.inside;
            let here = square.volume as f64 * to_thickness / pixels;
            sum += square.inside as f64 * here;
            mean += square.volume_inside;
            paths += square.paths_inside;
            most = most.max(here);
            values.push((here, square.inside));
        });
        // Squares that hold nothing were not visited.
        area.add(0, self.area - area.total(), false, layers_too_thick);
        let bare = self.area - filled;
        let whole = self.area as f64;
        let of_squares = sum / whole;
        let squares: f64 = values.iter().map(|(t, w)| *w as f64 * (t - of_squares).powi(2)).sum::<f64>()
            + bare as f64 * of_squares * of_squares;
        // Sub-pixels to pixels: an average over the region's area.
        let per_area = (SUB * SUB) as f64 / whole;
        Thickness {
            coverage: covered as f64 / whole,
            mean: mean * to_thickness * per_area,
            unevenness: (of_squares > 0.0).then(|| (squares / whole).sqrt() / of_squares),
            percentiles: percentiles(values, bare, self.area, most),
            too_thick: area.too_thick as f64 / whole,
            usable: area.usable as f64 / whole,
            mean_free_paths: paths * per_area + depths.layers,
        }
    }
}

/// Thickness over a region.
pub(super) struct Thickness {
    pub(crate) coverage: f64,
    pub(crate) mean: f64,
    /// Standard deviation over mean of the squares; `None` if nothing is there.
    pub(crate) unevenness: Option<f64>,
    pub(crate) percentiles: [f64; 4],
    pub(crate) too_thick: f64,
    pub(crate) usable: f64,
    pub(crate) mean_free_paths: f64,
}

/// Shares of the percentiles in [`Thickness::percentiles`].
const PERCENTILES: [f64; 4] = [0.05, 0.5, 0.95, 0.99];

/// Weighted percentiles: the least thickness that a share of the area does not exceed.
///
/// Values are counted in coarse bins, then sorted inside the bin that holds the percentile.
fn percentiles(values: &[(f64, u64)], bare: u64, area: u64, most: f64) -> [f64; 4] {
    let mut out = [0.0; 4];
    if most <= 0.0 {
        return out;
    }
    let scale = (COARSE_BINS as f64 - 1e-6) / most;
    let mut coarse = vec![0u64; COARSE_BINS];
    let bin = |t: f64| ((t * scale) as usize).min(COARSE_BINS - 1);
    for (t, weight) in values {
        coarse[bin(*t)] += weight;
    }
    for (out, share) in out.iter_mut().zip(PERCENTILES) {
        let wanted = share * area as f64;
        let mut below = bare;
        if below as f64 >= wanted {
            continue;
        }
        let Some(found) = coarse.iter().position(|weight| {
            below += weight;
            below as f64 >= wanted
        }) else {
            *out = most;
            continue;
        };
        below -= coarse[found];
        let mut inside: Vec<(f64, u64)> = values.iter().filter(|(t, _)| bin(*t) == found).copied().collect();
        inside.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        *out = inside
            .iter()
            .find(|(_, weight)| {
                below += weight;
                below as f64 >= wanted
            })
            .map_or(most, |(t, _)| *t);
    }
    out
}
