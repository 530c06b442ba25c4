//! What lies under the middles of a grid's pixels.

use super::swept::{Lying, Swept};
use motefall_figures::Grid;
use motefall_figures::expected::ExpectedMap;
use motefall_physics::quick;
use rayon::prelude::*;

/// Nodes between which pixels are interpolated are no farther apart than this part of the distance within which half of the particles fall: of
/// a bell, 0.3 standard deviations.
const NODES_APART: f64 = 1.0 / 4.0;
/// Nodes that a cubic goes through.
const AROUND: usize = 4;

/// What layers leave together.
///
/// What dries as it lands is smooth: where pixels are much closer than that asks for, they are interpolated between nodes, by cubics that
/// have at the nodes the slope from neighbour to neighbour (Catmull & Rom 1974, A class of local interpolating splines; from memory).
pub(super) fn of_layers(layers: &[Swept<'_>], grid: Grid) -> ExpectedMap {
    let smooth = layers.iter().map(Swept::smooth_over).fold(f64::INFINITY, f64::min);
    let times = (smooth * NODES_APART / grid.pitch).floor();
    let [mut coverage, thickness, density] = if (2.0..1e6).contains(&times) {
        between(grid, times as usize, |nodes| at_middles(layers, nodes))
    } else {
        let pixels = at_middles(layers, grid);
        [0, 1, 2].map(|k| pixels.iter().map(|pixel| pixel[k]).collect())
    };
    coverage.par_chunks_mut(grid.columns.max(1)).for_each(|row| row.iter_mut().for_each(|c| *c = quick::covered(*c)));
    ExpectedMap::of_planes(grid, coverage, thickness, density)
}

/// One of [`Lying`] by pixel: row after row, the lowest y first.
type Plane = Vec<f64>;

/// Pixels from nodes so many pixels apart, whose values `at` tells row after row.
fn between(grid: Grid, times: usize, at: impl FnOnce(Grid) -> Vec<Lying>) -> [Plane; 3] {
    // The second node lies in the middle of the first pixel; the last two lie beyond the end.
    let pitch = times as f64 * grid.pitch;
    let count = |pixels: usize| pixels.div_ceil(times) + AROUND - 1;
    let nodes = Grid {
        origin: grid.origin.map(|at| at + 0.5 * grid.pitch - 1.5 * pitch),
        pitch,
        columns: count(grid.columns),
        rows: count(grid.rows),
    };
    let values = at(nodes);
    let weights: Vec<[f64; AROUND]> = (0..times).map(|k| weights(k as f64 / times as f64)).collect();
    let columns = grid.columns.max(1);
    [0, 1, 2].map(|which| {
        // First along each row of nodes, then from row to row.
        let mut rows = vec![0.0; nodes.rows * columns];
        rows.par_chunks_mut(columns).zip(values.par_chunks(nodes.columns)).for_each(|(row, values)| {
            for (pixels, around) in row.chunks_mut(times).zip(values.windows(AROUND)) {
                let around = [0, 1, 2, 3].map(|k| around[k][which]);
                pixels.iter_mut().zip(&weights).for_each(|(pixel, weights)| *pixel = mixed(weights, around));
            }
        });
        let mut plane = vec![0.0; grid.columns * grid.rows];
        plane.par_chunks_mut(columns).enumerate().for_each(|(row, pixels)| {
            let weights = &weights[row % times];
            let [a, b, c, d] = [0, 1, 2, 3].map(|k| &rows[(row / times + k) * columns..][..columns]);
            for (((pixel, a), (b, c)), d) in pixels.iter_mut().zip(a).zip(b.iter().zip(c)).zip(d) {
                // Beside something a cubic may pass below nothing.
                *pixel = mixed(weights, [*a, *b, *c, *d]).max(0.0);
            }
        });
        plane
    })
}

/// Weights of the four nodes around a place, which is a share of the way from the second to the third.
fn weights(x: f64) -> [f64; AROUND] {
    let (square, cube) = (x * x, x * x * x);
    [
        0.5 * (-x + 2.0 * square - cube),
        0.5 * (2.0 - 5.0 * square + 3.0 * cube),
        0.5 * (x + 4.0 * square - 3.0 * cube),
        0.5 * (cube - square),
    ]
}

fn mixed(weights: &[f64; AROUND], around: [f64; AROUND]) -> f64 {
    (weights[0] * around[0] + weights[1] * around[1]) + (weights[2] * around[2] + weights[3] * around[3])
}

/// What lies at the middle of each pixel.
fn at_middles(layers: &[Swept<'_>], grid: Grid) -> Vec<Lying> {
    let mut pixels = vec![Lying::default(); grid.columns * grid.rows];
    pixels.par_chunks_mut(grid.columns.max(1)).enumerate().for_each(|(row, pixels)| {
        let y = grid.origin[1] + (row as f64 + 0.5) * grid.pitch;
        for (column, pixel) in pixels.iter_mut().enumerate() {
            let point = [grid.origin[0] + (column as f64 + 0.5) * grid.pitch, y];
            for lying in layers.iter().map(|layer| layer.at(point)) {
                *pixel = [0, 1, 2].map(|k| pixel[k] + lying[k]);
            }
        }
    });
    pixels
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A parabola is exact between nodes; a bell, nodes a quarter of its standard deviation and less apart, is off by less than 0.1 % of its
    /// height.
    #[test]
    fn pixels_follow_a_smooth_map() {
        let grid = Grid { origin: [-3e-6, 1e-6], pitch: 0.25e-6, columns: 61, rows: 37 };
        let middle = |grid: Grid, row: usize, column: usize| {
            [column, row]
                .map(|k| k as f64)
                .iter()
                .zip(grid.origin)
                .map(|(k, o)| o + (k + 0.5) * grid.pitch)
                .collect::<Vec<_>>()
        };
        let parabola =
            |p: &[f64]| 40.0 + (p[0] / 1e-6) + 0.3 * (p[1] / 1e-6).powi(2) - 0.1 * (p[0] / 1e-6) * (p[1] / 1e-6);
        let bell = |p: &[f64]| (-0.5 * ((p[0] - 4e-6).powi(2) + (p[1] - 5e-6).powi(2)) / 4e-6f64.powi(2)).exp();
        let of = |grid: Grid| -> Vec<Lying> {
            let all = (0..grid.rows).flat_map(|row| (0..grid.columns).map(move |column| (row, column)));
            all.map(|(row, column)| middle(grid, row, column)).map(|p| [parabola(&p), bell(&p), 0.0]).collect()
        };
        for times in [2, 4, 7] {
            let found = between(grid, times, of);
            for (k, exact) in of(grid).into_iter().enumerate() {
                let found = [0, 1, 2].map(|which| found[which][k]);
                assert!((found[0] / exact[0] - 1.0).abs() < 1e-9, "{times}: {found:?} {exact:?}");
                assert!(times > 4 || (found[1] - exact[1]).abs() < 1e-3, "{times}: {found:?} {exact:?}");
                assert_eq!(found[2], 0.0);
            }
        }
    }
}
