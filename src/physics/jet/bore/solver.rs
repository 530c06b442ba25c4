//! Steady laminar axisymmetric flow through the bore and out of it.
//!
//! Unknowns are the stream function psi (U R^2) and Z = a^4 zeta (zeta = vorticity / r, U/R^2), a the wall's radius: both are of order
//! one all along the bore. Coordinates are sigma = (r/a)^2 and z; with A = a^2, g = A'/A and the derivative at constant radius
//! P = d/dz - sigma g d/dsigma, the equations of [`crate::jet::solver`] become
//!
//! ```text
//! 4 sigma psi_ss + A P^2 psi + sigma Z = 0
//! psi_s (Z_z - 2 g Z) - psi_z Z_s = (1/Re) (4 sigma Z_ss + 8 Z_s + A (P^2 - 4 g P + 4 g^2 - 2 g') Z) 2
//! u_z = 2 psi_s / A,   u_r / r = g u_z / 2 - psi_z / (sigma A)
//! ```
//!
//! (s stands for sigma.) Where the sheath joins the flow is flat ([`profile`]); the wall has no slip. Below the exit the lines of the grid
//! go on into a short free jet, open beside the nozzle as in the jet's own solution: what streams away acts back on the exit.

use super::grid::BoreGrid;
use super::shape::{Shape, Wall};
use crate::head::profile;
use crate::jet::grid::{Fineness, Stencil, bracket, stencils};
use crate::jet::newton::{Assembly, Carried, Newton, central_weights, upwind_weights};

/// A solved bore.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreSolution {
    /// Reynolds number on the mean exit speed and the nozzle diameter.
    pub(crate) reynolds: f64,
    /// The wall.
    pub(crate) shape: Shape,
    /// Where.
    pub grid: BoreGrid,
    /// Stream function, node `[j * radial nodes + i]`, U R^2.
    pub(crate) psi: Vec<f64>,
    /// Vorticity over radius times the fourth power of the wall's radius, U R^2.
    pub(crate) scaled_vorticity: Vec<f64>,
    /// Newton steps taken on the final grid.
    pub(crate) newton_steps: usize,
}

/// Why a bore could not be solved.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BoreError {
    /// Newton's method failed.
    #[error(
        "no steady laminar flow was found in the nozzle's bore at Reynolds number {reynolds:.0} (reached {reached:.0}): lower the flow or \
         widen the nozzle, or set head.plug_blend to take a profile as given"
    )]
    NotConverged {
        /// Reynolds number asked for.
        reynolds: f64,
        /// Largest Reynolds number that converged.
        reached: f64,
    },
    /// The linear solver gave up.
    #[error("the linear solver failed: {0}")]
    Linear(String),
}

/// Newton stops when the largest change, relative to the largest value, is below this; on the way to the Reynolds number asked for, below
/// the second.
const TOLERANCE: f64 = 1e-5;
const CLIMB_TOLERANCE: f64 = 3e-2;
/// Reynolds number of the first solution, from a developed profile everywhere.
const FIRST_REYNOLDS: f64 = 100.0;
/// Factor between Reynolds numbers on the way; smallest factor below which the climb gives up.
const STEP: f64 = 4.0;
const LEAST_STEP: f64 = 1.05;

/// Thickness (nozzle radii) of the layer at the exit's wall: in a cone the gas speeds up toward its apex, which keeps the layer thin.
/// 2.5 sqrt(nu rho / u) for a sink of speed u at the distance rho from the apex; an estimate that sizes the grid only.
pub(crate) fn layer_thickness(reynolds: f64, shape: &Shape) -> f64 {
    let sine = shape.slope / (1.0 + shape.slope * shape.slope).sqrt();
    (2.5 / (reynolds * sine).sqrt()).min(1.0)
}

/// Solves a bore: Reynolds steps on the coarse grid, the last on the grid asked for.
pub fn solve_bore(reynolds: f64, shape: Shape, fineness: Fineness) -> Result<BoreSolution, BoreError> {
    let layer = layer_thickness(reynolds, &shape);
    let mut climber = System::new(shape, BoreGrid::new(&shape, layer, Fineness::Coarse))?;
    let (mut state, mut reached) = (climber.creeping_state(), 0.0);
    let mut target = reynolds.min(FIRST_REYNOLDS);
    let mut factor = STEP;
    loop {
        let mut guess = state.clone();
        if climber.newton(&mut guess, target, CLIMB_TOLERANCE)?.is_some() {
            (state, reached) = (guess, target);
            if reached >= reynolds {
                break;
            }
        } else {
            factor = factor.sqrt();
            if reached == 0.0 || factor < LEAST_STEP {
                return Err(BoreError::NotConverged { reynolds, reached });
            }
        }
        target = (reached * factor).min(reynolds);
    }
    let coarse = climber.into_solution(reynolds, state, 0);
    refine(&coarse, fineness)
}

/// The same bore on another grid.
pub fn refine(start: &BoreSolution, fineness: Fineness) -> Result<BoreSolution, BoreError> {
    let (reynolds, shape) = (start.reynolds, start.shape);
    let grid = BoreGrid::new(&shape, layer_thickness(reynolds, &shape), fineness);
    let mut state = resample(start, &grid);
    let mut system = System::new(shape, grid)?;
    match system.newton(&mut state, reynolds, TOLERANCE)? {
        Some(steps) => Ok(system.into_solution(reynolds, state, steps)),
        None => Err(BoreError::NotConverged { reynolds, reached: 0.0 }),
    }
}

/// Bilinear resampling onto another grid of the same bore.
fn resample(start: &BoreSolution, grid: &BoreGrid) -> Vec<f64> {
    let old = start.grid.sigma.len();
    let mut state = Vec::with_capacity(2 * grid.len());
    for z in &grid.z {
        let (below, fz) = bracket(&start.grid.z, *z);
        for sigma in &grid.sigma {
            let (left, fs) = bracket(&start.grid.sigma, *sigma);
            for field in [&start.psi, &start.scaled_vorticity] {
                let at = |di: usize, dj: usize| field[(below + dj) * old + left + di];
                let row = |dj| (1.0 - fs) * at(0, dj) + fs * at(1, dj);
                state.push((1.0 - fz) * row(0) + fz * row(1));
            }
        }
    }
    state
}

/// The discrete equations on one grid.
struct System {
    equations: Equations,
    newton: Newton,
}

/// What the equations need at each height.
struct Row {
    area: f64,
    /// g and g'.
    narrowing: f64,
    narrowing_change: f64,
    axial: Stencil,
    /// How vorticity is carried, inside the nozzle's radius or wherever the gas comes from above, and elsewhere.
    carried: Carried,
    central: Carried,
}

struct Equations {
    shape: Shape,
    grid: BoreGrid,
    radial: Vec<Stencil>,
    rows: Vec<Row>,
}

/// Squared radius inside which the free jet carries its vorticity by weights biased upstream.
const JET_CORE: f64 = 4.0;

impl System {
    fn new(shape: Shape, grid: BoreGrid) -> Result<Self, BoreError> {
        let axial = stencils(&grid.z);
        let upwind = upwind_weights(&grid.z, &axial);
        let line = shape.line();
        let rows = (0..grid.z.len())
            .map(|j| {
                let Wall { radius, slope, curvature } = line.wall(grid.z[j]);
                let narrowing = 2.0 * slope / radius;
                Row {
                    area: radius * radius,
                    narrowing,
                    narrowing_change: 2.0 * curvature / radius - 0.5 * narrowing * narrowing,
                    axial: axial[j],
                    // Next to the exit plane the weights would reach back into the wall.
                    carried: if j == grid.exit + 1 { central_weights(&axial[j]) } else { upwind[j] },
                    central: central_weights(&axial[j]),
                }
            })
            .collect();
        let equations = Equations { shape, radial: stencils(&grid.sigma), grid, rows };
        let newton = Newton::new(2 * equations.grid.len(), |state, out| equations.assemble(state, 1.0, out))
            .map_err(BoreError::Linear)?;
        Ok(Self { equations, newton })
    }

    /// A developed profile in the bore and a jet of its width below.
    fn creeping_state(&self) -> Vec<f64> {
        let grid = &self.equations.grid;
        let of_node = |sigma: &f64| {
            let inside = sigma.min(1.0);
            [0.5 * inside * (2.0 - inside), if *sigma < 1.0 { 4.0 } else { 0.0 }]
        };
        grid.z.iter().flat_map(|_| grid.sigma.iter().flat_map(of_node)).collect()
    }

    fn newton(&mut self, state: &mut [f64], reynolds: f64, tolerance: f64) -> Result<Option<usize>, BoreError> {
        let equations = &self.equations;
        self.newton
            .solve(state, tolerance, |state, out| equations.assemble(state, reynolds, out))
            .map_err(BoreError::Linear)
    }

    fn into_solution(self, reynolds: f64, state: Vec<f64>, newton_steps: usize) -> BoreSolution {
        BoreSolution {
            reynolds,
            shape: self.equations.shape,
            grid: self.equations.grid,
            psi: state.iter().step_by(2).copied().collect(),
            scaled_vorticity: state.iter().skip(1).step_by(2).copied().collect(),
            newton_steps,
        }
    }
}

impl Equations {
    fn psi(&self, i: usize, j: usize) -> usize {
        2 * (j * self.grid.sigma.len() + i)
    }

    /// Residuals and Jacobian at a state. The order of the entries depends on the grid only.
    fn assemble(&self, state: &[f64], reynolds: f64, out: &mut Assembly) {
        let BoreGrid { sigma, lip, z, exit } = &self.grid;
        let (outer, last) = (sigma.len() - 1, z.len() - 1);
        for j in 0..=last {
            for i in 0..=outer {
                if j <= *exit && i > *lip {
                    self.beside(state, i, j, out);
                } else if j == 0 {
                    self.inlet(state, i, out);
                } else if j <= *exit && i == *lip {
                    self.wall(state, j, out);
                } else if i == outer {
                    self.outer_edge(state, j, out);
                } else if j == last {
                    self.outflow(state, i, out);
                } else {
                    self.inside(state, i, j, reynolds, out);
                }
            }
        }
    }

    fn fix(&self, state: &[f64], row: usize, value: f64, out: &mut Assembly) {
        out.residual[row] = state[row] - value;
        out.add(row, row, 1.0);
    }

    /// Within the wall nothing moves; beside the exit the gas is drawn in straight along the axis and brings no vorticity.
    fn beside(&self, state: &[f64], i: usize, j: usize, out: &mut Assembly) {
        let row = self.psi(i, j);
        self.fix(state, row + 1, 0.0, out);
        if j < self.grid.exit {
            return self.fix(state, row, 0.5, out);
        }
        // psi_z = 0 at constant radius, from the side of the jet.
        let ahead = stencils(&self.grid.z[j..j + 3])[0];
        out.residual[row] = 0.0;
        let turn = -self.grid.sigma[i] * self.rows[j].narrowing;
        let radial = self.radial[i];
        for k in 0..3 {
            let (above, across) = (self.psi(i, j + k), self.psi(radial.first + k, j));
            out.residual[row] += ahead.d1[k] * state[above] + turn * radial.d1[k] * state[across];
            out.add(row, above, ahead.d1[k]);
            out.add(row, across, turn * radial.d1[k]);
        }
    }

    /// Where the sheath joins: a flat profile.
    fn inlet(&self, state: &[f64], i: usize, out: &mut Assembly) {
        let (sigma, row) = (&self.grid.sigma, self.psi(i, 0));
        let psi = |i: usize| 0.5 * profile::flow_inside(sigma[i].sqrt().min(1.0), 1.0);
        self.fix(state, row, psi(i), out);
        let Stencil { first, d2, .. } = self.radial[i];
        let curvature: f64 = (0..3).map(|k| d2[k] * psi(first + k)).sum();
        self.fix(state, row + 1, -4.0 * curvature, out);
    }

    /// No slip: with psi_s = 0 at the wall, its curvature follows from two nodes inside, and Z = -4 (1 + a'^2) psi_ss.
    fn wall(&self, state: &[f64], j: usize, out: &mut Assembly) {
        let (lip, sigma) = (self.grid.lip, &self.grid.sigma);
        let row = self.psi(lip, j);
        self.fix(state, row, 0.5, out);
        let (near, far) = (1.0 - sigma[lip - 1], 1.0 - sigma[lip - 2]);
        // psi - 1/2 = c d^2 + e d^3 through both nodes.
        let scale = 2.0 / (near * near * far * far * (far - near));
        let weights = [scale * far.powi(3), -scale * near.powi(3)];
        let tilt = 4.0 + self.rows[j].area * self.rows[j].narrowing.powi(2);
        out.residual[row + 1] = state[row + 1];
        out.add(row + 1, row + 1, 1.0);
        for (k, weight) in weights.into_iter().enumerate() {
            let column = self.psi(lip - 1 - k, j);
            out.residual[row + 1] += tilt * weight * (state[column] - 0.5);
            out.add(row + 1, column, tilt * weight);
        }
    }

    /// Far beside the free jet: gas comes straight from the side, without vorticity of its own.
    fn outer_edge(&self, state: &[f64], j: usize, out: &mut Assembly) {
        let i = self.grid.sigma.len() - 1;
        let (row, inner) = (self.psi(i, j), self.psi(i - 1, j));
        let ratio = self.grid.sigma[i - 1] / self.grid.sigma[i];
        for (shift, factor) in [(0, 1.0), (1, ratio)] {
            out.residual[row + shift] = state[row + shift] - factor * state[inner + shift];
            out.add(row + shift, row + shift, 1.0);
            out.add(row + shift, inner + shift, -factor);
        }
    }

    /// Where the free jet leaves: stream lines go on straight, vorticity is carried along.
    fn outflow(&self, state: &[f64], i: usize, out: &mut Assembly) {
        let (j, z) = (self.grid.z.len() - 1, &self.grid.z);
        let row = self.psi(i, j);
        let [one, two] = [self.psi(i, j - 1), self.psi(i, j - 2)];
        let ratio = (z[j] - z[j - 1]) / (z[j - 1] - z[j - 2]);
        out.residual[row] = state[row] - (1.0 + ratio) * state[one] + ratio * state[two];
        out.add(row, row, 1.0);
        out.add(row, one, -(1.0 + ratio));
        out.add(row, two, ratio);
        out.residual[row + 1] = state[row + 1] - state[one + 1];
        out.add(row + 1, row + 1, 1.0);
        out.add(row + 1, one + 1, -1.0);
    }

    fn inside(&self, state: &[f64], i: usize, j: usize, reynolds: f64, out: &mut Assembly) {
        let sigma = self.grid.sigma[i];
        let (ar, line) = (self.radial[i], &self.rows[j]);
        let (az, area, g, change) = (line.axial, line.area, line.narrowing, line.narrowing_change);
        let row = self.psi(i, j);
        let viscosity = 2.0 / reynolds;
        let above = j <= self.grid.exit || sigma <= JET_CORE;
        let carried = if above { &line.carried } else { &line.central };
        // P^2 = d_zz - 2 sigma g d_sz + sigma (g^2 - g') d_s + sigma^2 g^2 d_ss.
        let (cross, first, second) = (-2.0 * sigma * g, sigma * (g * g - change), sigma * sigma * g * g);

        if i == 0 {
            self.fix(state, row, 0.0, out);
        } else {
            out.residual[row] = sigma * state[row + 1];
            out.add(row, row + 1, sigma);
        }
        let (mut psi_s, mut psi_z, mut z_s, mut z_z) = (0.0, 0.0, 0.0, 0.0);
        for k in 0..3 {
            psi_s += ar.d1[k] * state[self.psi(ar.first + k, j)];
            psi_z += az.d1[k] * state[self.psi(i, az.first + k)];
            z_s += ar.d1[k] * state[self.psi(ar.first + k, j) + 1];
        }
        for k in 0..4 {
            z_z += carried.d1[k] * state[self.psi(i, carried.first + k) + 1];
        }
        let here = state[row + 1];
        out.residual[row + 1] = 2.0 * psi_s * (z_z - 2.0 * g * here) - 2.0 * psi_z * z_s;
        for k in 0..3 {
            let (across, along) = (self.psi(ar.first + k, j), self.psi(i, az.first + k));
            out.add(row + 1, across, 2.0 * ar.d1[k] * (z_z - 2.0 * g * here));
            out.add(row + 1, along, -2.0 * az.d1[k] * z_s);
            out.add(row + 1, across + 1, -2.0 * psi_z * ar.d1[k]);
        }
        for k in 0..4 {
            out.add(row + 1, self.psi(i, carried.first + k) + 1, 2.0 * psi_s * carried.d1[k]);
        }
        let source = viscosity * area * (4.0 * g * g - 2.0 * change);
        out.residual[row + 1] -= source * here;
        out.add(row + 1, row + 1, -4.0 * psi_s * g - source);

        // Second derivatives, of psi and of Z.
        let mut entry = |row: usize, column: usize, weight: f64| {
            out.residual[row] += weight * state[column];
            out.add(row, column, weight);
        };
        for k in 0..3 {
            let (across, along) = (self.psi(ar.first + k, j), self.psi(i, az.first + k));
            if i > 0 {
                entry(row, across, 4.0 * sigma * ar.d2[k] + area * (first * ar.d1[k] + second * ar.d2[k]));
                entry(row, along, area * az.d2[k]);
            }
            // -4 g P = -4 g d_z + 4 sigma g^2 d_s.
            let radially =
                (4.0 * sigma + area * second) * ar.d2[k] + (8.0 + area * (first + 4.0 * sigma * g * g)) * ar.d1[k];
            entry(row + 1, across + 1, -viscosity * radially);
            entry(row + 1, along + 1, -viscosity * area * (az.d2[k] - 4.0 * g * az.d1[k]));
            for m in 0..3 {
                let corner = self.psi(ar.first + k, az.first + m);
                let weight = area * cross * ar.d1[k] * az.d1[m];
                if i > 0 {
                    entry(row, corner, weight);
                }
                entry(row + 1, corner + 1, -viscosity * weight);
            }
        }
    }
}

impl BoreSolution {
    /// Axial speed at a node times the wall's radius squared, U R^2: 2 psi_s; and -psi_z / sigma, the part of the radial speed over radius
    /// that the wall's slope does not make, times the same.
    pub fn scaled_speeds(&self) -> Vec<[f64; 2]> {
        let BoreGrid { sigma, lip, z, exit } = &self.grid;
        let width = sigma.len();
        let radial = stencils(sigma);
        let inner = stencils(&sigma[..=*lip]);
        let axial = stencils(z);
        let at = |i: usize, j: usize| self.psi[j * width + i];
        let mut speeds = vec![[0.0; 2]; self.grid.len()];
        for j in 0..z.len() {
            let outermost = if j <= *exit { *lip } else { width - 1 };
            for i in 0..=outermost {
                let across = if j <= *exit { inner[i] } else { radial[i] };
                let along = axial[j];
                let psi_s: f64 = (0..3).map(|k| across.d1[k] * at(across.first + k, j)).sum();
                let psi_z: f64 = (0..3).map(|k| along.d1[k] * at(i, along.first + k)).sum();
                let wall = j <= *exit && i == *lip;
                speeds[j * width + i] =
                    if wall { [0.0, 0.0] } else { [2.0 * psi_s, if i > 0 { -psi_z / sigma[i] } else { 0.0 }] };
            }
        }
        // On the axis psi = psi_s sigma, so -psi_z / sigma = -(1/2) d(2 psi_s)/dz.
        for j in 0..z.len() {
            let along = axial[j];
            let slope: f64 = (0..3).map(|k| along.d1[k] * speeds[(along.first + k) * width][0]).sum();
            speeds[j * width][1] = -0.5 * slope;
        }
        speeds
    }
}
