//! Grids: that of the maps, which is for pictures, and the one that figures are measured on.

use super::outline::{bounds, bounds_of_shape};
use crate::contours::Bounds;
use crate::inputs::{Inputs, Outline, Role};

/// Most pixels of a grid that reaches as far as the keep-outs do; with more it leaves them to the coarse map and the counts.
pub(crate) const MOST_FAR_PIXELS: f64 = 6e6;
/// Pixels of the measuring grid are no larger than this, m, where they are not too many: a profile takes some 15 of them across a line.
const USUAL_PIXEL: f64 = 0.5e-6;
/// Most pixels to which squares are cut finer than the resolution asks.
const MOST_FINE_PIXELS: f64 = 4e6;
/// How far beyond regions and path profiles reach at least, where the grid does not become too large, m.
pub const LEAST_MARGIN: f64 = 50e-6;
/// Most pixels of the measuring grid. At two powders 24 bytes each, for every thread.
pub const MOST_MEASURED_PIXELS: f64 = 32e6;

/// Place and size of a grid on the chip plane. Row 0 is the lowest y.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Lower left corner of the first pixel, x and y from the centre of the chip, m.
    pub origin: [f64; 2],
    /// Pixel edge, m.
    pub pitch: f64,
    /// Pixels along x.
    pub columns: usize,
    /// Pixels along y.
    pub rows: usize,
}

impl Grid {
    /// The grid of the maps: it holds all regions and the path, with the margin asked for, cut at the chip's edge.
    ///
    /// Keep-outs may lie far away: where the grid would have more than `MOST_FAR_PIXELS` with them, it goes without.
    pub fn of_maps(inputs: &Inputs) -> Self {
        let [pitch, margin] = [inputs.map.pitch, inputs.map.margin];
        Self::around(inputs, far_enough(inputs, pitch, margin), pitch, 1, margin)
    }

    /// Whether an outline lies on the grid as a whole, or as far as the chip reaches.
    pub fn holds(&self, outline: &Outline) -> bool {
        let Bounds { low, high } = bounds(outline);
        let slack = 1e-6 * self.pitch;
        let end = [self.columns, self.rows];
        (0..2)
            .all(|k| low[k] >= self.origin[k] - slack && high[k] <= self.origin[k] + end[k] as f64 * self.pitch + slack)
    }

    /// Number of pixels.
    pub fn pixels(&self) -> f64 {
        self.columns as f64 * self.rows as f64
    }

    /// Squares of an edge (m), each of `per_square` x `per_square` pixels, that hold regions and path with a margin, m. They are counted
    /// from the chip's centre, so that a shifted region sees the same edges.
    fn around(inputs: &Inputs, wanted: fn(Role) -> bool, square: f64, per_square: usize, margin: f64) -> Self {
        let boxes = inputs
            .regions
            .iter()
            .filter(|region| wanted(region.role))
            .map(|region| bounds(&region.outline))
            .chain(inputs.items().map(|item| bounds_of_shape(&item.shape)));
        let Bounds { low, high } = boxes.fold(Bounds::NONE, Bounds::and);
        let half = [0.5 * inputs.chip.width, 0.5 * inputs.chip.height];
        let side = |k: usize| {
            let first = ((low[k] - margin).max(-half[k]) / square + 1e-9).floor();
            let last = ((high[k] + margin).min(half[k]) / square - 1e-9).ceil();
            (first, (last - first).max(1.0) as usize * per_square)
        };
        let ((x, columns), (y, rows)) = (side(0), side(1));
        Self { origin: [x * square, y * square], pitch: square / per_square as f64, columns, rows }
    }
}

/// All roles, or all but keep-outs where a grid with them would be too large.
fn far_enough(inputs: &Inputs, square: f64, margin: f64) -> fn(Role) -> bool {
    let any_left = inputs.items().next().is_some() || inputs.regions.iter().any(|region| region.role != Role::KeepOut);
    let whole = Grid::around(inputs, |_| true, square, 1, margin);
    if whole.pixels() > MOST_FAR_PIXELS && any_left { |role| role != Role::KeepOut } else { |_| true }
}

/// What figures are measured on: squares of the edge `map.resolution_um`, counted from the chip's centre, and pixels that divide them.
///
/// Percentiles and unevenness of thickness and the shares usable and too thick are those of the squares. The grid of the maps has no
/// part in any figure, and neither has the number of pixels in a square, up to how well they find edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuringGrid {
    /// The pixels: whole squares.
    pub grid: Grid,
    /// Pixels along the edge of a square.
    pub per_square: usize,
}

impl MeasuringGrid {
    /// For all regions and the path. `margin`, m: how far beyond them profiles would reach; less where the grid would be too large with it.
    pub fn new(inputs: &Inputs, margin: f64) -> Self {
        let square = inputs.map.resolution;
        // Which regions are on it does not depend on the margin.
        let wanted = far_enough(inputs, square, 0.0);
        let with = |per_square: usize, margin: f64| Grid::around(inputs, wanted, square, per_square, margin);
        let margin = (0..=20)
            .rev()
            .map(|part| f64::from(part) / 20.0 * margin)
            .find(|margin| with(1, *margin).pixels() <= MOST_MEASURED_PIXELS)
            .unwrap_or(0.0);
        let usual = (square / USUAL_PIXEL - 1e-9).ceil().max(1.0) as usize;
        let most = (MOST_FINE_PIXELS / with(1, margin).pixels()).sqrt() as usize;
        Self::of_pixels(inputs, usual.min(most).max(1), margin)
    }

    /// The same with so many pixels along the edge of a square.
    pub fn of_pixels(inputs: &Inputs, per_square: usize, margin: f64) -> Self {
        let square = inputs.map.resolution;
        let wanted = far_enough(inputs, square, 0.0);
        Self { grid: Grid::around(inputs, wanted, square, per_square, margin), per_square }
    }

    /// Squares that it takes without a margin, and the smallest resolution, m, that takes no more than [`MOST_MEASURED_PIXELS`].
    pub fn squares_needed(inputs: &Inputs) -> (f64, f64) {
        let square = inputs.map.resolution;
        let squares = Self::of_pixels(inputs, 1, 0.0).grid.pixels();
        (squares, square * (squares / MOST_MEASURED_PIXELS).sqrt())
    }
}
