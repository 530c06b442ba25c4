//! How likely values of the unknowns are, given the lines.
//!
//! What is fitted is normal about the model: by the measurement, by how prints scatter, by the error of the polynomials, and by what the model
//! lacks. What prints share (inputs, output) moves all values of a line together; what the model lacks moves its widths together, and its
//! amounts. How much the model lacks from line to line is unknown itself, with half a normal law before: a discrepancy in the sense of Kennedy &
//! O'Hagan 2001, Bayesian calibration of computer models, J. R. Stat. Soc. B 63:425, reduced to two numbers. What it lacks in all lines alike
//! is `flight.radius_factor` for widths and the mist load for amounts.

use crate::cheap::Cheap;
use crate::model::{Observation, Scatter};
use crate::unknowns::Unknown;
use motefall_figures::calibration::What;
use nalgebra::{Cholesky, DMatrix, DVector};

/// Standard deviation of the half normal law of what the model lacks from line to line: of widths and of amounts. Estimates.
pub(crate) const LACKS: [f64; 2] = [0.03, 0.06];
/// Logarithms of what the model lacks below which it lacks nothing.
const LEAST_LACK: f64 = -9.0;

/// The density of unknowns and lacks.
pub(crate) struct Density<'a> {
    pub(crate) unknowns: &'a [Unknown],
    pub(crate) observations: &'a [Observation],
    pub(crate) scatter: &'a [Scatter],
    pub(crate) cheap: &'a Cheap,
    /// Values of each line that takes part.
    blocks: Vec<Vec<usize>>,
}

/// Which of the two lacks moves a value; none that of a balance, whose model is a product.
pub(crate) fn lack_of(observation: &Observation) -> Option<usize> {
    let quantity = observation.value.quantity;
    (quantity.what != What::VialLoss).then(|| usize::from(!quantity.is_width()))
}

/// How far a lack moves a value.
pub(crate) fn lack_on(observation: &Observation, lacks: [f64; 2]) -> f64 {
    lack_of(observation).map_or(0.0, |lack| lacks[lack])
}

impl<'a> Density<'a> {
    /// Of the values that the polynomials know, of lines that take part.
    pub(crate) fn new(
        unknowns: &'a [Unknown],
        observations: &'a [Observation],
        scatter: &'a [Scatter],
        cheap: &'a Cheap,
        takes_part: &dyn Fn(usize) -> bool,
    ) -> Self {
        let lines = observations.iter().map(|o| o.line + 1).max().unwrap_or(0);
        let mut blocks = vec![vec![]; lines];
        for (k, observation) in observations.iter().enumerate() {
            if takes_part(observation.line) && cheap.error(k).is_some() {
                blocks[observation.line].push(k);
            }
        }
        blocks.retain(|block: &Vec<usize>| !block.is_empty());
        Self { unknowns, observations, scatter, cheap, blocks }
    }

    /// Values that take part.
    pub(crate) fn values(&self) -> impl Iterator<Item = usize> + '_ {
        self.blocks.iter().flatten().copied()
    }

    /// Unknowns and the two lacks.
    pub(crate) fn dimensions(&self) -> usize {
        self.unknowns.len() + LACKS.len()
    }

    /// Logarithm of the density of deviates, followed by the logarithms of the lacks; minus infinity where nothing is thought possible.
    pub(crate) fn log(&self, place: &[f64]) -> f64 {
        let (deviates, lacks) = place.split_at(self.unknowns.len());
        let mut sum = 0.0;
        for (deviate, unknown) in deviates.iter().zip(self.unknowns) {
            if !(unknown.bounds[0]..=unknown.bounds[1]).contains(deviate) {
                return f64::NEG_INFINITY;
            }
            sum -= 0.5 * deviate * deviate;
        }
        for (lack, sd) in lacks.iter().zip(LACKS) {
            if *lack < LEAST_LACK {
                return f64::NEG_INFINITY;
            }
            // Of its logarithm: times the lack itself.
            sum += lack - 0.5 * (lack.exp() / sd).powi(2);
        }
        sum + self.log_likelihood(deviates, [lacks[0].exp(), lacks[1].exp()])
    }

    fn log_likelihood(&self, deviates: &[f64], lacks: [f64; 2]) -> f64 {
        let residuals = self.residuals(deviates);
        let mut sum = 0.0;
        for block in &self.blocks {
            let Some(cholesky) = Cholesky::new(self.covariance(block, lacks)) else { return f64::NEG_INFINITY };
            let own = DVector::from_iterator(block.len(), block.iter().map(|k| residuals[*k]));
            let lower = cholesky.l_dirty();
            let white = lower.solve_lower_triangular(&own).unwrap_or(own);
            sum -= 0.5 * white.norm_squared() + (0..block.len()).map(|i| lower[(i, i)].ln()).sum::<f64>();
        }
        sum
    }

    /// Measured less modelled, for all values.
    pub(crate) fn residuals(&self, deviates: &[f64]) -> Vec<f64> {
        let products = self.cheap.products(deviates);
        self.observations.iter().enumerate().map(|(k, own)| own.fitted - self.cheap.value(k, &products)).collect()
    }

    /// Covariance of the values of a line.
    fn covariance(&self, block: &[usize], lacks: [f64; 2]) -> DMatrix<f64> {
        DMatrix::from_fn(block.len(), block.len(), |i, j| {
            let [(a, x), (b, y)] = [block[i], block[j]].map(|k| (&self.observations[k], &self.scatter[k]));
            let mut sum = x.shared * y.shared;
            if lack_of(a) == lack_of(b) {
                sum += lack_on(a, lacks).powi(2);
            }
            if i == j {
                sum += self.own_variance(block[i]);
            }
            sum
        })
    }

    /// Variance of a value that it shares with no other.
    fn own_variance(&self, value: usize) -> f64 {
        let (sd, own) = (self.observations[value].sd, self.scatter[value].own);
        sd * sd + own * own + self.cheap.error(value).map_or(0.0, |error| error * error)
    }

    /// Variance of a value with what the model lacks.
    pub(crate) fn variance(&self, value: usize, lacks: [f64; 2]) -> f64 {
        let lack = lack_on(&self.observations[value], lacks);
        self.own_variance(value) + self.scatter[value].shared.powi(2) + lack * lack
    }

    /// Residuals of each line made independent and of the variance 1, if the model lacks nothing.
    pub(crate) fn white(&self, residuals: &[f64]) -> Vec<f64> {
        let mut all = vec![];
        for block in &self.blocks {
            let own = DVector::from_iterator(block.len(), block.iter().map(|k| residuals[*k]));
            let white = Cholesky::new(self.covariance(block, [0.0; 2]))
                .and_then(|cholesky| cholesky.l_dirty().solve_lower_triangular(&own));
            all.extend(white.unwrap_or(own).iter());
        }
        all
    }
}
