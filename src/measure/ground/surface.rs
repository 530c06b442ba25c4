//! Smooth surfaces under uneven light.

/// Terms of a surface of second order in two directions.
pub(super) const TERMS: usize = 6;

/// A surface of second order over a picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surface {
    terms: [f64; TERMS],
    columns: f64,
    rows: f64,
}

/// Sums of a weighted least-squares fit of a surface.
pub(super) struct Fit {
    matrix: [[f64; TERMS + 1]; TERMS],
    columns: f64,
    rows: f64,
}

fn powers(x: f64, y: f64) -> [f64; TERMS] {
    [1.0, x, y, x * x, x * y, y * y]
}

/// A column and a row from -1 to 1.
fn place(columns: f64, rows: f64, column: f64, row: f64) -> (f64, f64) {
    (2.0 * column / columns - 1.0, 2.0 * row / rows - 1.0)
}

impl Fit {
    pub(super) fn new(columns: usize, rows: usize) -> Self {
        Self { matrix: [[0.0; TERMS + 1]; TERMS], columns: columns as f64, rows: rows as f64 }
    }

    pub(super) fn add(&mut self, column: f64, row: f64, value: f64, weight: f64) {
        let (x, y) = place(self.columns, self.rows, column, row);
        let p = powers(x, y);
        for i in 0..TERMS {
            for j in 0..TERMS {
                self.matrix[i][j] += weight * p[i] * p[j];
            }
            self.matrix[i][TERMS] += weight * p[i] * value;
        }
    }

    /// The surface; where the points leave a term open, it stays small.
    pub(super) fn solve(mut self) -> Surface {
        let scale = self.matrix[0][0].max(f64::MIN_POSITIVE);
        for (i, row) in self.matrix.iter_mut().enumerate().skip(1) {
            row[i] += 1e-6 * scale;
        }
        let m = &mut self.matrix;
        for pivot in 0..TERMS {
            // The matrix is positive definite, so its diagonal serves as it comes.
            let row = m[pivot];
            for lower in m.iter_mut().skip(pivot + 1) {
                let factor = lower[pivot] / row[pivot].max(f64::MIN_POSITIVE);
                for (value, above) in lower.iter_mut().zip(row) {
                    *value -= factor * above;
                }
            }
        }
        let mut terms = [0.0; TERMS];
        for i in (0..TERMS).rev() {
            let rest: f64 = (i + 1..TERMS).map(|j| m[i][j] * terms[j]).sum();
            terms[i] = (m[i][TERMS] - rest) / m[i][i].max(f64::MIN_POSITIVE);
        }
        Surface { terms, columns: self.columns, rows: self.rows }
    }
}

impl Surface {
    pub(super) fn at(&self, column: f64, row: f64) -> f64 {
        let (x, y) = place(self.columns, self.rows, column, row);
        powers(x, y).iter().zip(self.terms).map(|(p, t)| p * t).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_surface_of_second_order_is_found() {
        let truth = |x: f64, y: f64| 3.0 + 0.01 * x - 0.02 * y + 1e-4 * x * x - 2e-4 * x * y + 5e-5 * y * y;
        let mut fit = Fit::new(100, 80);
        for row in (0..80).step_by(7) {
            for column in (0..100).step_by(9) {
                fit.add(column as f64, row as f64, truth(column as f64, row as f64), 1.0);
            }
        }
        let surface = fit.solve();
        for (x, y) in [(0.0, 0.0), (99.0, 79.0), (50.0, 3.0)] {
            assert!((surface.at(x, y) - truth(x, y)).abs() < 1e-4, "{x} {y}");
        }
    }
}
