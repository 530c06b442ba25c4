//! Newton's method on the nodes of a grid with two unknowns each, psi and the vorticity.

use super::grid::Stencil;
use super::linear::Factors;
use faer::sparse::Pair;

/// Largest change below which the factors of a Newton step serve for further steps, which then converge by a constant factor each: they
/// go on until the change is below [`CHORD_TOLERANCE`] times the tolerance, or until one gains less than [`CHORD_GAIN`].
const CHORD_START: f64 = 0.1;
const CHORD_TOLERANCE: f64 = 0.03;
const CHORD_GAIN: f64 = 0.5;
/// Newton steps before a Reynolds step counts as failed, and steps that change more than the one before: where a solution was found,
/// none had more than two.
const NEWTON_LIMIT: usize = 14;
const GROWTH_LIMIT: usize = 3;

/// Collects residuals and Jacobian entries in a fixed order.
pub(crate) struct Assembly {
    /// Residual of each equation.
    pub(crate) residual: Vec<f64>,
    places: Option<Vec<Pair<usize, usize>>>,
    values: Vec<f64>,
}

impl Assembly {
    /// Adds to the derivative of equation `row` by unknown `column`.
    #[inline]
    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        if let Some(places) = &mut self.places {
            places.push(Pair { row, col: column });
        }
        self.values.push(value);
    }
}

/// The factors of a system whose pattern does not change.
pub(crate) struct Newton {
    factors: Factors,
}

impl Newton {
    /// For a number of unknowns and equations that `assemble` writes; it must add the same places in the same order at any state.
    pub(crate) fn new(unknowns: usize, assemble: impl Fn(&[f64], &mut Assembly)) -> Result<Self, String> {
        let mut assembly = Assembly { residual: vec![0.0; unknowns], places: Some(Vec::new()), values: Vec::new() };
        assemble(&vec![0.0; unknowns], &mut assembly);
        let places = assembly.places.take().expect("places were asked for");
        Ok(Self { factors: Factors::new(unknowns, &places)? })
    }

    /// Moves a state to the solution; the number of steps, or `None` if it does not converge.
    pub(crate) fn solve(
        &mut self,
        state: &mut [f64],
        tolerance: f64,
        assemble: impl Fn(&[f64], &mut Assembly),
    ) -> Result<Option<usize>, String> {
        let mut assembly = Assembly { residual: vec![0.0; state.len()], places: None, values: Vec::new() };
        let assemble = |state: &[f64], assembly: &mut Assembly| {
            assembly.values.clear();
            assemble(state, assembly);
        };
        let mut last_change = f64::INFINITY;
        let mut growths = 0;
        for step in 1..=NEWTON_LIMIT {
            assemble(state, &mut assembly);
            if !self.factors.factor(&assembly.values)? {
                return Ok(None);
            }
            let mut relative = advance(state, &assembly.residual, &mut self.factors);
            growths += usize::from(relative > last_change);
            if !relative.is_finite() || growths == GROWTH_LIMIT {
                return Ok(None);
            }
            if relative < tolerance {
                return Ok(Some(step));
            }
            while relative < CHORD_START {
                assemble(state, &mut assembly);
                let next = advance(state, &assembly.residual, &mut self.factors);
                if next < CHORD_TOLERANCE * tolerance {
                    return Ok(Some(step));
                }
                let gain = next / relative;
                relative = next;
                if !relative.is_finite() || gain > CHORD_GAIN {
                    break;
                }
            }
            last_change = relative;
        }
        Ok(None)
    }
}

/// Moves a state by what the factors make of the residual; the largest change of psi or zeta over its largest value.
fn advance(state: &mut [f64], residual: &[f64], factors: &mut Factors) -> f64 {
    let change = factors.solve(|k| -residual[k]);
    let mut largest_change = [0.0_f64; 2];
    let mut largest = [1e-30_f64; 2];
    for (k, value) in state.iter_mut().enumerate() {
        let delta = change[(k, 0)];
        *value += delta;
        largest_change[k % 2] = largest_change[k % 2].max(delta.abs());
        largest[k % 2] = largest[k % 2].max(value.abs());
    }
    (largest_change[0] / largest[0]).max(largest_change[1] / largest[1])
}

/// Weights of a first derivative on four nodes: three upstream and here, one downstream.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Carried {
    /// Index of the first of the four nodes.
    pub(crate) first: usize,
    /// Weights of the first derivative.
    pub(crate) d1: [f64; 4],
}

/// Third-order weights biased upstream where there are two nodes upstream, central elsewhere.
pub(crate) fn upwind_weights(z: &[f64], axial: &[Stencil]) -> Vec<Carried> {
    (0..z.len())
        .map(|j| {
            if j < 2 || j + 1 >= z.len() {
                return central_weights(&axial[j]);
            }
            let nodes = [z[j - 2], z[j - 1], z[j], z[j + 1]];
            let mut d1 = [0.0; 4];
            for (k, weight) in d1.iter_mut().enumerate() {
                let others: Vec<f64> = (0..4).filter(|m| *m != k).map(|m| nodes[m]).collect();
                let denominator: f64 = others.iter().map(|x| nodes[k] - x).product();
                let x = nodes[2];
                *weight = ((x - others[0]) * (x - others[1])
                    + (x - others[0]) * (x - others[2])
                    + (x - others[1]) * (x - others[2]))
                    / denominator;
            }
            Carried { first: j - 2, d1 }
        })
        .collect()
}

/// The three-node weights in the same shape.
pub(crate) fn central_weights(stencil: &Stencil) -> Carried {
    // Room for a fourth node so that both kinds share a shape; its weight is zero.
    if stencil.first == 0 {
        Carried { first: 0, d1: [stencil.d1[0], stencil.d1[1], stencil.d1[2], 0.0] }
    } else {
        Carried { first: stencil.first - 1, d1: [0.0, stencil.d1[0], stencil.d1[1], stencil.d1[2]] }
    }
}
