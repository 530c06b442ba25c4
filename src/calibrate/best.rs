//! The values that go best with the lines and with what was thought possible: least squares from several starts.

use crate::density::Density;
use crate::unknowns::Unknown;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

/// Step of deviates for slopes.
const STEP: f64 = 1e-4;
/// Places from which is searched: what was thought most likely, and others that fill what was thought possible.
const STARTS: usize = 12;

/// Deviates of the least sum of squares: of whitened residuals and of the deviates themselves.
pub(crate) fn best(density: &Density<'_>) -> Vec<f64> {
    let start = |k: usize| -> Vec<f64> {
        let at = |(j, unknown): (usize, &Unknown)| match k {
            0 => 0.0,
            _ => unknown.at_share(f64::from(sobol_burley::sample(k as u32, j as u32, 0))),
        };
        density.unknowns.iter().enumerate().map(at).collect()
    };
    let from = |k: usize| {
        let problem = Problem { density, deviates: DVector::from_vec(start(k)) };
        let (problem, report) = LevenbergMarquardt::new().minimize(problem);
        (report.objective_function, inside(density, problem.deviates.as_slice()))
    };
    let found = (0..STARTS).map(from).filter(|(sum, _)| sum.is_finite()).min_by(|a, b| a.0.total_cmp(&b.0));
    found.map_or_else(|| start(0), |(_, deviates)| deviates)
}

/// Deviates within their bounds.
fn inside(density: &Density<'_>, deviates: &[f64]) -> Vec<f64> {
    deviates.iter().zip(density.unknowns).map(|(x, unknown)| x.clamp(unknown.bounds[0], unknown.bounds[1])).collect()
}

struct Problem<'a> {
    density: &'a Density<'a>,
    deviates: DVector<f64>,
}

impl Problem<'_> {
    /// Beyond its bounds, a deviate counts for what was thought possible, but changes the model no more.
    fn all(&self, deviates: &[f64]) -> Vec<f64> {
        let mut all = self.density.white(&self.density.residuals(&inside(self.density, deviates)));
        all.extend_from_slice(deviates);
        all
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, deviates: &DVector<f64>) {
        self.deviates.copy_from(deviates);
    }

    fn params(&self) -> DVector<f64> {
        self.deviates.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(DVector::from_vec(self.all(self.deviates.as_slice())))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let columns: Vec<DVector<f64>> = (0..self.deviates.len())
            .map(|k| {
                let side = |sign: f64| {
                    let mut place = self.deviates.clone();
                    place[k] += sign * STEP;
                    DVector::from_vec(self.all(place.as_slice()))
                };
                (side(1.0) - side(-1.0)) / (2.0 * STEP)
            })
            .collect();
        Some(DMatrix::from_columns(&columns))
    }
}
