//! What lies under the middles of a grid's pixels.

use super::swept::Swept;
use motefall_figures::Grid;
use rayon::prelude::*;

/// Nodes between which pixels are interpolated are no farther apart than this part of the length over which a spot changes.
const NODES_APART: f64 = 1.0 / 8.0;

/// Covered area per area, each droplet's by itself, and solids, m, of what layers leave together: row after row, the lowest y first.
///
/// What dries as it lands is smooth: where pixels are much closer than that asks for, they are interpolated between nodes. The error of a
/// bell of the length s is below (1/8)^2/8 of its height.
pub(super) fn pixels(layers: &[Swept<'_>], grid: Grid) -> Vec<[f64; 2]> {
    let smooth = layers.iter().map(Swept::smooth_over).fold(f64::INFINITY, f64::min);
    let times = (smooth * NODES_APART / grid.pitch).floor();
    if !(2.0..1e6).contains(&times) {
        return at_middles(layers, grid);
    }
    let times = times as usize;
    // Nodes lie in the middle of the first pixel and of others so many apart; the last ones beyond the end.
    let pitch = times as f64 * grid.pitch;
    let count = |pixels: usize| pixels.div_ceil(times) + 1;
    let nodes = Grid {
        origin: grid.origin.map(|at| at + 0.5 * grid.pitch - 0.5 * pitch),
        pitch,
        columns: count(grid.columns),
        rows: count(grid.rows),
    };
    let values = at_middles(layers, nodes);
    let mut pixels = vec![[0.0; 2]; grid.columns * grid.rows];
    pixels.par_chunks_mut(grid.columns.max(1)).enumerate().for_each(|(row, pixels)| {
        let (low, up) = (row / times, (row % times) as f64 / times as f64);
        let node = |row: usize, column: usize| values[row * nodes.columns + column];
        let mix = |a: [f64; 2], b: [f64; 2], share: f64| [0, 1].map(|k| a[k] + share * (b[k] - a[k]));
        for left in 0..nodes.columns - 1 {
            let [from, to] = [left, left + 1].map(|column| mix(node(low, column), node(low + 1, column), up));
            let end = ((left + 1) * times).min(grid.columns);
            for (k, pixel) in pixels[(left * times).min(end)..end].iter_mut().enumerate() {
                *pixel = mix(from, to, k as f64 / times as f64);
            }
        }
    });
    pixels
}

/// The same with every pixel looked at.
fn at_middles(layers: &[Swept<'_>], grid: Grid) -> Vec<[f64; 2]> {
    let mut pixels = vec![[0.0; 2]; grid.columns * grid.rows];
    pixels.par_chunks_mut(grid.columns.max(1)).enumerate().for_each(|(row, pixels)| {
        let y = grid.origin[1] + (row as f64 + 0.5) * grid.pitch;
        for (column, pixel) in pixels.iter_mut().enumerate() {
            let point = [grid.origin[0] + (column as f64 + 0.5) * grid.pitch, y];
            *pixel =
                layers.iter().map(|layer| layer.at(point)).fold([0.0; 2], |sum, own| [0, 1].map(|k| sum[k] + own[k]));
        }
    });
    pixels
}
