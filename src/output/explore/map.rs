//! Maps with what is drawn upon them.

use super::{Frame, Window};
use crate::picture::top_value;
use motefall_figures::expected::ExpectedMap;
use motefall_figures::{Grid, Maps, Pile};
use motefall_physics::inputs::Inputs;
use motefall_physics::map::outline::rings;
use motefall_physics::path::motion::Stroke;
use ndarray::{Array2, ArrayView2, Axis, Slice};
use serde_json::{Value, json};
use std::ops::Range;

/// What is drawn upon a map.
#[derive(Debug, Clone, Copy)]
pub struct Geometry<'a> {
    /// The chip, its regions and the items of the path.
    pub inputs: &'a Inputs,
    /// Path of the nozzle axis.
    pub strokes: &'a [Stroke],
    /// Where the profile of each item begins and ends, m; `None` if it has none.
    pub across: &'a [Option<[[f64; 2]; 2]>],
}

/// Most strokes that are drawn.
const MOST_STROKES: usize = 4000;

/// The expected deposit on a grid; without a map what is drawn upon it alone.
pub fn expected_map(grid: &Grid, map: Option<&ExpectedMap>, geometry: Geometry<'_>) -> Frame {
    let arrays =
        map.map_or(vec![], |map| vec![in_nm(&map.thickness), plain(&map.coverage), per_square_um(&map.density)]);
    let top = map.map_or(0.0, |map| top_value(&map.thickness));
    Frame { head: head("expected", grid, top, arrays.len(), geometry), arrays }
}

/// The maps of one print, or of a window (m) on them, averaged to so many pixels or fewer; particles are counted if there are any.
pub fn print_map(maps: &Maps, pile: &Pile, window: Option<Window>, pixels: f64, geometry: Geometry<'_>) -> Frame {
    let [columns, rows] = pixels_in(&maps.grid, window);
    let by = ((columns.len() * rows.len()) as f64 / pixels.max(1.0)).sqrt().ceil().max(1.0) as usize;
    let part = |map: &Array2<f64>| {
        let rows = map.slice_axis(Axis(0), Slice::from(rows.clone()));
        averaged(rows.slice_axis(Axis(1), Slice::from(columns.clone())), by)
    };
    let thickness = maps.thickness.iter().map(part).reduce(|sum, own| sum + own);
    let coverage = part(&maps.coverage);
    let thickness = thickness.unwrap_or_else(|| Array2::zeros(coverage.dim()));
    let (rows_left, columns_left) = coverage.dim();
    let from = [columns.start, rows.start];
    let grid = Grid {
        origin: [0, 1].map(|k| maps.grid.origin[k] + from[k] as f64 * maps.grid.pitch),
        pitch: maps.grid.pitch * by as f64,
        columns: columns_left,
        rows: rows_left,
    };
    let mut arrays = vec![in_nm(&thickness), plain(&coverage)];
    let reach = (SQUARE / grid.pitch / 2.0 - 0.5).ceil().max(0.0) as usize;
    arrays.extend((!pile.is_empty()).then(|| counted(pile, &grid, reach)));
    let mut head = head("print", &grid, top_value(&thickness), arrays.len(), geometry);
    head["square_um"] = json!((2 * reach + 1) as f64 * grid.pitch * 1e6);
    Frame { head, arrays }
}

/// Least edge of the squares in which particles of a print are counted, m: in smaller ones they are none or one, however many lie around.
const SQUARE: f64 = 1e-6;

/// Columns and rows of a grid that a window touches; one pixel at least.
fn pixels_in(grid: &Grid, window: Option<Window>) -> [Range<usize>; 2] {
    let counts = [grid.columns, grid.rows];
    [0, 1].map(|k| {
        let Some(window) = window else { return 0..counts[k] };
        let place = |at: f64| (at - grid.origin[k]) / grid.pitch;
        let first = (place(window[k]).floor().max(0.0) as usize).min(counts[k] - 1);
        let end = (place(window[k + 2]).ceil().max(0.0) as usize).clamp(first + 1, counts[k]);
        first..end
    })
}

/// Particles per um^2 whose centre lies in a square about each pixel, which reaches so many pixels to each side.
fn counted(pile: &Pile, grid: &Grid, reach: usize) -> Vec<f32> {
    // Around the grid, too, as far as squares reach.
    let [columns, rows] = [grid.columns, grid.rows].map(|count| count + 2 * reach);
    let origin = grid.origin.map(|at| at - reach as f64 * grid.pitch);
    let mut counts = Array2::<u32>::zeros((rows, columns));
    for (particle, _) in pile.iter() {
        let [column, row] = [particle.x - origin[0], particle.y - origin[1]].map(|at| (at / grid.pitch).floor());
        if column >= 0.0 && row >= 0.0 && column < columns as f64 && row < rows as f64 {
            counts[[row as usize, column as usize]] += 1;
        }
    }
    let edge = (2 * reach + 1) as f64 * grid.pitch * 1e6;
    let sums = in_windows(&in_windows(&counts, 2 * reach + 1).reversed_axes(), 2 * reach + 1).reversed_axes();
    sums.iter().map(|count| (f64::from(*count) / (edge * edge)) as f32).collect()
}

/// Sums of so many neighbours in each row, one after the other.
fn in_windows(map: &Array2<u32>, width: usize) -> Array2<u32> {
    let mut sums = Array2::zeros((map.nrows(), map.ncols() + 1 - width));
    for (row, mut own) in map.rows().into_iter().zip(sums.rows_mut()) {
        let mut sum = row.iter().take(width).sum::<u32>();
        for (k, one) in own.iter_mut().enumerate() {
            if k > 0 {
                sum = sum + row[k + width - 1] - row[k - 1];
            }
            *one = sum;
        }
    }
    sums
}

fn head(kind: &str, grid: &Grid, top: f64, arrays: usize, Geometry { inputs, strokes, across }: Geometry<'_>) -> Value {
    let regions: Vec<Value> = inputs
        .regions
        .iter()
        .map(|region| {
            let outline: Vec<Vec<[f64; 2]>> =
                rings(&region.outline).iter().map(|ring| ring.iter().map(um).collect()).collect();
            json!({ "name": region.name, "role": region.role.word(), "outline": outline })
        })
        .collect();
    let step = strokes.len().div_ceil(MOST_STROKES).max(1);
    let path: Vec<[[f64; 2]; 2]> = strokes
        .iter()
        .filter(|stroke| stroke.open)
        .step_by(step)
        .map(|stroke| [um(&stroke.from), um(&stroke.to)])
        .collect();
    let cuts: Vec<Value> = inputs
        .items()
        .zip(across)
        .filter_map(|(item, across)| Some((item, across.as_ref()?)))
        .map(|(item, [from, to])| json!({ "item": item.name, "from": um(from), "to": um(to) }))
        .collect();
    let names = &["thickness_nm", "coverage", "per_um2"][..arrays];
    json!({
        "kind": kind,
        "columns": grid.columns,
        "rows": grid.rows,
        "x0": grid.origin[0] * 1e6,
        "y0": grid.origin[1] * 1e6,
        "pitch": grid.pitch * 1e6,
        "arrays": names,
        "top_nm": top * 1e9,
        "regions": regions,
        "path": path,
        "chip": [inputs.chip.width * 1e6, inputs.chip.height * 1e6],
        "cuts": cuts,
    })
}

fn um(point: &[f64; 2]) -> [f64; 2] {
    // A tenth of a nanometre.
    point.map(|at| (at * 1e10).round() / 1e4)
}

fn in_nm(map: &Array2<f64>) -> Vec<f32> {
    map.iter().map(|thickness| (thickness * 1e9) as f32).collect()
}

/// Numbers per area, 1/m^2, as numbers per um^2.
fn per_square_um(map: &Array2<f64>) -> Vec<f32> {
    map.iter().map(|density| (density * 1e-12) as f32).collect()
}

fn plain(map: &Array2<f64>) -> Vec<f32> {
    map.iter().map(|value| *value as f32).collect()
}

/// The means of squares of `by` times `by` pixels; at the upper ends of what is left of them.
fn averaged(map: ArrayView2<'_, f64>, by: usize) -> Array2<f64> {
    if by <= 1 {
        return map.to_owned();
    }
    let (rows, columns) = map.dim();
    let mut sums = Array2::<f64>::zeros((rows.div_ceil(by), columns.div_ceil(by)));
    let mut counts = Array2::<f64>::zeros(sums.dim());
    for ((row, column), value) in map.indexed_iter() {
        sums[[row / by, column / by]] += value;
        counts[[row / by, column / by]] += 1.0;
    }
    sums / counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::array;

    #[test]
    fn wider_pixels_hold_means() {
        let map = array![[1.0, 3.0, 5.0], [1.0, 3.0, 7.0], [2.0, 4.0, 9.0]];
        assert_eq!(averaged(map.view(), 2), array![[2.0, 6.0], [3.0, 9.0]]);
        assert_eq!(averaged(map.view(), 1), map);
    }

    #[test]
    fn particles_are_counted_where_they_lie() {
        let grid = Grid { origin: [-1e-6, 0.0], pitch: 0.5e-6, columns: 2, rows: 2 };
        let at = |x: f64, y: f64| (motefall_figures::Particle { x, y, diameter: 1e-7, powder: 0, droplet: 0 }, 0.0);
        // Two in the first pixel, one in the last, two beside the grid.
        let pile: Pile =
            [at(-0.9e-6, 0.1e-6), at(-0.6e-6, 0.4e-6), at(-0.1e-6, 0.9e-6), at(0.1e-6, 0.1e-6), at(-1.1e-6, 0.1e-6)]
                .into_iter()
                .collect();
        assert_eq!(counted(&pile, &grid, 0), [8.0, 0.0, 0.0, 4.0]);
        // In squares of three pixels, 2.25 um^2, those beside the grid count.
        let row = Grid { columns: 4, rows: 1, ..grid };
        assert_eq!(counted(&pile, &row, 1), [4.0, 4.0, 2.0, 1.0].map(|count: f64| (count / 2.25) as f32));
    }

    #[test]
    fn a_window_takes_the_pixels_that_it_touches() {
        let grid = Grid { origin: [-2.0, 0.0], pitch: 1.0, columns: 4, rows: 3 };
        assert_eq!(pixels_in(&grid, None), [0..4, 0..3]);
        assert_eq!(pixels_in(&grid, Some([-0.5, 1.0, 0.5, 1.5])), [1..3, 1..2]);
        assert_eq!(pixels_in(&grid, Some([-9.0, -9.0, 9.0, 9.0])), [0..4, 0..3]);
        assert_eq!(pixels_in(&grid, Some([7.0, 7.0, 9.0, 9.0])), [3..4, 2..3]);
    }
}
