//! Which way a line runs.

use crate::raster::Raster;
use std::f64::consts::{FRAC_PI_2, PI};

/// Cells of the coarse picture along its longer side.
const CELLS: usize = 240;
/// Step of the first look, radians (2 degrees), and of the second.
const COARSE: f64 = PI / 90.0;
const FINE: f64 = PI / 3600.0;
/// Part of the highest unevenness above which directions count.
const TOP: f64 = 0.97;
/// How far from the rows or columns a line runs that is said to go along them, radians (12 degrees).
const GIVEN_REACH: f64 = PI / 15.0;

/// Roughly where a line runs to, if it is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Along {
    /// Along the rows.
    X,
    /// Along the columns.
    Y,
}

/// The direction, radians from the rows, across which what is covered differs most.
pub(crate) fn find_direction(mask: &Raster<bool>, along: Option<Along>) -> f64 {
    let cells = Cells::of(mask);
    let (from, to) = match along {
        None => (-FRAC_PI_2, FRAC_PI_2),
        Some(Along::X) => (-GIVEN_REACH, GIVEN_REACH),
        Some(Along::Y) => (FRAC_PI_2 - GIVEN_REACH, FRAC_PI_2 + GIVEN_REACH),
    };
    let looks = |from: f64, to: f64, step: f64| -> Vec<(f64, f64)> {
        let count = ((to - from) / step).round() as usize;
        (0..=count).map(|k| from + k as f64 * step).map(|angle| (angle, cells.unevenness(angle))).collect()
    };
    let best = |looks: &[(f64, f64)]| looks.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((from, 0.0));
    let (rough, _) = best(&looks(from, to, COARSE));
    let near = looks(rough - 1.5 * COARSE, rough + 1.5 * COARSE, FINE);
    let (highest, most) = best(&near);
    // The top is flat, and chance takes part in which place of it is highest: its middle counts.
    let weights = near.iter().map(|(angle, value)| (angle, (value - TOP * most).max(0.0)));
    let (sum, moment) =
        weights.fold((0.0, 0.0), |sum, (angle, weight)| (sum.0 + weight, sum.1 + weight * (angle - rough)));
    if sum > 0.0 { rough + moment / sum } else { highest }
}

/// A coarse picture.
struct Cells {
    columns: usize,
    /// Middle from the picture's middle in cells, covered share.
    cells: Vec<f64>,
    rows: usize,
}

impl Cells {
    fn of(mask: &Raster<bool>) -> Self {
        let side = mask.columns.max(mask.rows).div_ceil(CELLS).max(1);
        // What is left over at the right and the bottom is less than a cell.
        let (columns, rows) = ((mask.columns / side).max(1), (mask.rows / side).max(1));
        let mut cells = vec![0.0; columns * rows];
        for row in 0..rows * side {
            for (column, covered) in mask.row(row)[..columns * side].iter().enumerate() {
                if *covered {
                    cells[row / side * columns + column / side] += 1.0 / (side * side) as f64;
                }
            }
        }
        Self { columns, cells, rows }
    }

    /// Variance of the covered share across a direction.
    fn unevenness(&self, angle: f64) -> f64 {
        let (sin, cos) = angle.sin_cos();
        let half = (0.5 * (self.columns as f64).hypot(self.rows as f64)).ceil() + 2.0;
        let mut bins = vec![(0.0, 0.0); 2 * half as usize + 2];
        for (k, share) in self.cells.iter().enumerate() {
            let x = (k % self.columns) as f64 + 0.5 - 0.5 * self.columns as f64;
            let y = (k / self.columns) as f64 + 0.5 - 0.5 * self.rows as f64;
            // Shared among three bins so that each cell is as wide wherever it falls: between two, edges along the rows would look sharper in
            // pictures of some heights and turned a little in others.
            let at = y * cos - x * sin + half;
            let nearest = at.round();
            let off = at - nearest;
            let weights = [0.5 * (0.5 - off).powi(2), 0.75 - off * off, 0.5 * (0.5 + off).powi(2)];
            for (bin, weight) in weights.into_iter().enumerate() {
                let bin = &mut bins[nearest as usize + bin - 1];
                bin.0 += weight * share;
                bin.1 += weight;
            }
        }
        let least = 0.25 * bins.iter().map(|b| b.1).fold(0.0, f64::max);
        let used = || bins.iter().filter(|b| b.1 >= least);
        let (covered, cells) = used().fold((0.0, 0.0), |sum, b| (sum.0 + b.0, sum.1 + b.1));
        let mean = covered / cells;
        used().map(|b| b.1 * (b.0 / b.1 - mean).powi(2)).sum::<f64>() / cells
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_direction_of_a_bar_is_found() {
        for degrees in [0.0f64, 7.3, 45.0, 88.0, -31.0] {
            let angle = degrees.to_radians();
            let mut mask = Raster::filled(640, 400, false);
            for (k, inside) in mask.values.iter_mut().enumerate() {
                let (x, y) = ((k % 640) as f64 - 320.0, (k / 640) as f64 - 200.0);
                *inside = (y * angle.cos() - x * angle.sin()).abs() < 30.0;
            }
            let found = find_direction(&mask, None).to_degrees();
            let off = (found - degrees + 270.0).rem_euclid(180.0) - 90.0;
            assert!(off.abs() < 0.2, "{degrees}: {found}");
        }
    }

    #[test]
    fn a_bar_along_the_rows_is_not_turned() {
        for rows in [400, 402, 405] {
            let values = (0..640 * rows).map(|k| (150..230).contains(&(k / 640))).collect();
            let found = find_direction(&Raster { columns: 640, rows, values }, None);
            assert!(found.abs() < 1e-9, "{rows}: {}", found.to_degrees());
        }
    }
}
