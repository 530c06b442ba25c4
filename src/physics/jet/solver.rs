//! Steady laminar axisymmetric flow from the nozzle exit to the plate.
//!
//! Unknowns at every node are the stream function psi and zeta = vorticity / r, lengths in nozzle radii R, speeds in
//! the mean exit speed U. With s = r^2 (every field is even in r):
//!
//! ```text
//! 4 s psi_ss + psi_zz + s zeta = 0
//! -2 psi_z zeta_s + 2 psi_s zeta_z = (2/Re) (4 s zeta_ss + 8 zeta_s + zeta_zz)
//! u_z = 2 psi_s,   u_r / r = -psi_z / s
//! ```
//!
//! (Re = U 2R / nu.) Exit: see [`super::exit`]. Beside the exit: open (psi_z = 0, zeta = 0) or a wall.
//! Plate and walls: no slip, zeta by Thom 1933 ("The flow past circular cylinders at low speeds", Proc. R. Soc. A 141).
//! Outer edge: psi_r = 0, (r^2 zeta)_r = 0. Second-order differences, full Newton steps, sparse LU.

use super::bore::solver::{BoreError, BoreSolution, solve_bore};
use super::exit::{Exit, ExitProfile};
use super::grid::{Fineness, Grid, Stencil, bracket, stencils};
use super::newton::{Assembly, Carried, Newton, central_weights, upwind_weights};

/// What surrounds the exit plane beside the nozzle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surroundings {
    /// Open: the jet draws in the gas around it.
    Open,
    /// A flat wall in the exit plane, as in a classical impactor.
    Wall,
}

/// The dimensionless numbers that fix a jet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JetNumbers {
    /// Reynolds number on the mean exit speed and the nozzle diameter.
    pub reynolds: f64,
    /// Stand-off in nozzle diameters.
    pub stand_off_ratio: f64,
    /// Flow through the exit.
    pub exit: ExitProfile,
    /// Beside the exit.
    pub surroundings: Surroundings,
}

/// A converged solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// What was solved.
    pub numbers: JetNumbers,
    /// Where.
    pub grid: Grid,
    /// What leaves the nozzle, on the grid's nodes.
    pub(crate) exit: Exit,
    /// Stream function, node `[j * radial nodes + i]`, in U R^2.
    pub psi: Vec<f64>,
    /// Vorticity over radius, in U / R^2.
    pub zeta: Vec<f64>,
    /// Newton steps taken on the final grid.
    pub newton_steps: usize,
}

/// Why a jet could not be solved.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum JetError {
    /// Outside of what was tried.
    #[error(
        "the jet solver covers Reynolds numbers from 1 to {max_reynolds:.0} and stand-offs from 0.5 to 60 nozzle diameters; \
         this setting has Re {reynolds:.0} and {stand_off_ratio:.2} diameters: {advice}"
    )]
    OutOfRange {
        /// Reynolds number asked for.
        reynolds: f64,
        /// Stand-off asked for.
        stand_off_ratio: f64,
        /// Largest Reynolds number.
        max_reynolds: f64,
        /// What to change.
        advice: &'static str,
    },
    /// Newton's method failed.
    #[error(
        "no steady laminar jet was found at Reynolds number {reynolds:.0} and a stand-off of {stand_off_ratio:.1} nozzle \
         diameters (reached Re {reached:.0}): lower the flow, widen the nozzle or reduce the stand-off"
    )]
    NotConverged {
        /// Reynolds number asked for.
        reynolds: f64,
        /// Stand-off asked for.
        stand_off_ratio: f64,
        /// Largest Reynolds number that converged.
        reached: f64,
    },
    /// The flow in the bore was not found.
    #[error(transparent)]
    Bore(#[from] BoreError),
    /// The linear solver gave up.
    #[error("the linear solver failed: {0}")]
    Linear(String),
}

/// Largest Reynolds number accepted: above it a laminar jet does not reach a plate at any usual stand-off.
pub(crate) const MAX_REYNOLDS: f64 = 3000.0;
/// Newton stops when the largest change of psi and zeta, relative to their largest value, is below this. Convergence
/// is quadratic: a last change of 1e-5 leaves an error of some 1e-9.
const NEWTON_TOLERANCE: f64 = 1e-5;
/// The same for Reynolds steps on the way, which only serve as starting points.
const CLIMB_TOLERANCE: f64 = 3e-2;
/// Reynolds number of the creeping start.
const FIRST_REYNOLDS: f64 = 20.0;
/// Largest Reynolds step.
const LARGEST_STEP: f64 = 250.0;
/// Reynolds step below which the climb gives up.
const SMALLEST_STEP: f64 = 4.0;

/// Where the flow through the exit comes from.
#[derive(Debug, Clone, Copy)]
pub enum Source<'a> {
    /// A solved bore.
    Bore(&'a BoreSolution),
    /// A given blend of developed and plug flow.
    Blend(f64),
}

impl Source<'_> {
    /// The flow on a jet's nodes.
    pub(crate) fn on(self, grid: &Grid) -> Exit {
        match self {
            Source::Bore(bore) => Exit::of_bore(bore, &grid.s, grid.lip),
            Source::Blend(blend) => Exit::of_blend(blend, &grid.s, grid.lip),
        }
    }
}

/// Solves the bore, if the exit asks for one, and then the jet.
pub fn solve(numbers: JetNumbers, fineness: Fineness) -> Result<Solution, JetError> {
    match numbers.exit {
        ExitProfile::Blend(blend) => solve_jet(numbers, Source::Blend(blend), fineness),
        ExitProfile::Bore(shape) => {
            check_range(numbers)?;
            solve_jet(numbers, Source::Bore(&solve_bore(numbers.reynolds, shape, fineness)?), fineness)
        }
    }
}

/// Solves from a creeping start: Reynolds steps on the coarsest grid as far as they go, the rest on the finer ones.
pub(crate) fn solve_jet(numbers: JetNumbers, source: Source<'_>, fineness: Fineness) -> Result<Solution, JetError> {
    check_range(numbers)?;
    let mut solution: Option<Solution> = None;
    for level in [Fineness::Coarsest, Fineness::Coarse, Fineness::Standard] {
        let last = level == fineness || level == Fineness::Standard;
        let tolerance = if last { NEWTON_TOLERANCE } else { CLIMB_TOLERANCE };
        let climb = |start| climb(numbers, source, grid(numbers, level), start, tolerance, level != Fineness::Coarsest);
        let mut climbed = climb(solution.as_ref());
        if solution.is_some() && matches!(climbed, Err(JetError::NotConverged { .. })) {
            // The last coarser solution was no solution of the finer equations: climb on this grid alone.
            climbed = climb(None);
        }
        solution = match climbed {
            Err(JetError::NotConverged { .. }) if !last => None,
            other => Some(other?),
        };
        if last {
            break;
        }
    }
    let solution = solution.expect("the last grid has a solution or an error");
    if solution.numbers.reynolds < numbers.reynolds {
        return Err(JetError::NotConverged {
            reynolds: numbers.reynolds,
            stand_off_ratio: numbers.stand_off_ratio,
            reached: solution.numbers.reynolds,
        });
    }
    if fineness == Fineness::Fine { solve_from(&solution, numbers, source, Fineness::Fine) } else { Ok(solution) }
}

/// Solves starting from another solution: a neighbour in Reynolds number or stand-off, or the same on another grid.
pub fn solve_from(
    start: &Solution,
    numbers: JetNumbers,
    source: Source<'_>,
    fineness: Fineness,
) -> Result<Solution, JetError> {
    check_range(numbers)?;
    let grid = grid(numbers, fineness);
    let mut state = resample(start, &grid);
    let mut system = System::new(numbers, source, grid)?;
    match system.newton(&mut state, numbers.reynolds, NEWTON_TOLERANCE)? {
        Some(steps) => Ok(system.into_solution(state, steps)),
        None => Err(JetError::NotConverged {
            reynolds: numbers.reynolds,
            stand_off_ratio: numbers.stand_off_ratio,
            reached: start.numbers.reynolds,
        }),
    }
}

/// The grid of a jet.
pub(crate) fn grid(numbers: JetNumbers, fineness: Fineness) -> Grid {
    Grid::new(2.0 * numbers.stand_off_ratio, numbers.exit.layer(numbers.reynolds), numbers.reynolds, fineness)
}

/// Whether a jet lies within what was tried.
pub fn check_range(numbers: JetNumbers) -> Result<(), JetError> {
    let out = |advice| JetError::OutOfRange {
        reynolds: numbers.reynolds,
        stand_off_ratio: numbers.stand_off_ratio,
        max_reynolds: MAX_REYNOLDS,
        advice,
    };
    if !(1.0..=MAX_REYNOLDS).contains(&numbers.reynolds) {
        return Err(out("change the flow or the nozzle"));
    }
    if !(0.5..=60.0).contains(&numbers.stand_off_ratio) {
        return Err(out("change the stand-off or the nozzle"));
    }
    Ok(())
}

/// Raises the Reynolds number step by step on one grid; a step that fails is halved. The result carries the Reynolds
/// number that was reached, which is below the one asked for when the steps became too small, or, without patience, when one failed:
/// finer grids go on from there. The step to the number asked for is taken to `closest`.
fn climb(
    numbers: JetNumbers,
    source: Source<'_>,
    grid: Grid,
    start: Option<&Solution>,
    closest: f64,
    patient: bool,
) -> Result<Solution, JetError> {
    let mut reached = start.map_or(FIRST_REYNOLDS.min(numbers.reynolds), |start| start.numbers.reynolds);
    let mut state = start.map(|start| resample(start, &grid));
    let mut system = System::new(numbers, source, grid)?;
    let mut state = state.take().unwrap_or_else(|| system.creeping_state());
    let tolerance = |target| if target < numbers.reynolds { CLIMB_TOLERANCE } else { closest };
    let Some(mut steps) = system.newton(&mut state, reached, tolerance(reached))? else {
        return Err(JetError::NotConverged {
            reynolds: numbers.reynolds,
            stand_off_ratio: numbers.stand_off_ratio,
            reached: 0.0,
        });
    };
    let mut before: Option<(f64, Vec<f64>)> = None;
    let mut step = (0.6 * reached).min(LARGEST_STEP);
    while reached < numbers.reynolds && step > SMALLEST_STEP {
        let target = (reached + step).min(numbers.reynolds);
        // Secant guess from the last two solutions.
        let mut guess = state.clone();
        if let Some((earlier, old)) = &before {
            let ratio = (target - reached) / (reached - earlier);
            for (value, old) in guess.iter_mut().zip(old) {
                *value += ratio * (*value - old);
            }
        }
        if let Some(taken) = system.newton(&mut guess, target, tolerance(target))? {
            steps = taken;
            before = Some((reached, std::mem::replace(&mut state, guess)));
            reached = target;
            step = (1.6 * step).min(0.6 * reached).min(LARGEST_STEP);
        } else if patient {
            step *= 0.4;
        } else {
            break;
        }
    }
    system.equations.numbers.reynolds = reached;
    Ok(system.into_solution(state, steps))
}

/// Bilinear resampling onto another grid, heights scaled with the stand-off.
fn resample(start: &Solution, grid: &Grid) -> Vec<f64> {
    let (nr, nz) = (grid.s.len(), grid.z.len());
    let old_nr = start.grid.s.len();
    let stretch = start.grid.stand_off() / grid.stand_off();
    let mut state = vec![0.0; 2 * nr * nz];
    for j in 0..nz {
        let (below, fz) = bracket(&start.grid.z, grid.z[j] * stretch);
        for i in 0..nr {
            let (left, fs) = bracket(&start.grid.s, grid.s[i]);
            let mix = |field: &[f64]| {
                let at = |di: usize, dj: usize| field[(below + dj) * old_nr + left + di];
                (1.0 - fz) * ((1.0 - fs) * at(0, 0) + fs * at(1, 0)) + fz * ((1.0 - fs) * at(0, 1) + fs * at(1, 1))
            };
            state[2 * (j * nr + i)] = mix(&start.psi);
            state[2 * (j * nr + i) + 1] = mix(&start.zeta);
        }
    }
    state
}

/// The discrete equations on one grid.
struct System {
    equations: Equations,
    newton: Newton,
}

struct Equations {
    numbers: JetNumbers,
    grid: Grid,
    exit: Exit,
    radial: Vec<Stencil>,
    axial: Vec<Stencil>,
}

/// Radius, in nozzle radii, inside which vorticity is carried by [`Carried`] stencils biased upstream: there the gas
/// always moves towards the plate, and central differences would leave an odd-even wiggle on the axis.
const JET_CORE: f64 = 2.0;

/// Height above the plate, in nozzle radii, up to which the same holds for the outward flow along the plate.
const WALL_JET: f64 = 1.5;

impl System {
    fn new(numbers: JetNumbers, source: Source<'_>, grid: Grid) -> Result<Self, JetError> {
        let exit = source.on(&grid);
        let equations = Equations { numbers, exit, radial: stencils(&grid.s), axial: stencils(&grid.z), grid };
        let newton = Newton::new(2 * equations.grid.len(), |state, out| equations.assemble(state, 1.0, out))
            .map_err(JetError::Linear)?;
        Ok(Self { equations, newton })
    }

    /// Parallel flow with the exit's profile fading towards the plate: enough to start Newton at Re 20.
    fn creeping_state(&self) -> Vec<f64> {
        let Equations { grid, exit, .. } = &self.equations;
        let nr = grid.s.len();
        let length = grid.stand_off();
        let mut state = vec![0.0; 2 * grid.len()];
        for (j, z) in grid.z.iter().enumerate() {
            let fade = (1.0 - z / length).powi(2) * (1.0 + 2.0 * z / length);
            for i in 0..nr {
                state[2 * (j * nr + i)] = exit.psi[i.min(grid.lip)] * fade;
            }
        }
        state
    }

    /// Newton at one Reynolds number; the number of steps, or `None` if it does not converge.
    fn newton(&mut self, state: &mut [f64], reynolds: f64, tolerance: f64) -> Result<Option<usize>, JetError> {
        let equations = &self.equations;
        self.newton
            .solve(state, tolerance, |state, out| equations.assemble(state, reynolds, out))
            .map_err(JetError::Linear)
    }

    fn into_solution(self, state: Vec<f64>, newton_steps: usize) -> Solution {
        let psi = state.iter().step_by(2).copied().collect();
        let zeta = state.iter().skip(1).step_by(2).copied().collect();
        let Equations { numbers, grid, exit, .. } = self.equations;
        Solution { numbers, grid, exit, psi, zeta, newton_steps }
    }
}

/// How vorticity is carried, for each line of nodes upwind and central.
struct Weights {
    viscosity: f64,
    along: [Vec<Carried>; 2],
    outward: [Vec<Carried>; 2],
}

/// The equation of a value that is given.
fn fix(state: &[f64], row: usize, value: f64, out: &mut Assembly) {
    out.residual[row] = state[row] - value;
    out.add(row, row, 1.0);
}

impl Equations {
    /// Residuals and Jacobian at a state. The order of the entries depends on the grid only.
    fn assemble(&self, state: &[f64], reynolds: f64, out: &mut Assembly) {
        let weights = Weights {
            viscosity: 2.0 / reynolds,
            along: [upwind_weights(&self.grid.z, &self.axial), self.axial.iter().map(central_weights).collect()],
            outward: [upwind_weights(&self.grid.s, &self.radial), self.radial.iter().map(central_weights).collect()],
        };
        for j in 0..self.grid.z.len() {
            for i in 0..self.grid.s.len() {
                if !self.at_edge(state, [i, j], out) {
                    self.inside(state, [i, j], &weights, out);
                }
            }
        }
    }

    fn psi_at(&self, i: usize, j: usize) -> usize {
        2 * (j * self.grid.s.len() + i)
    }

    fn zeta_at(&self, i: usize, j: usize) -> usize {
        self.psi_at(i, j) + 1
    }

    /// Equations of a node on the chip, at the far radius or in the plane of the exit; false if it is none of these.
    fn at_edge(&self, state: &[f64], [i, j]: [usize; 2], out: &mut Assembly) -> bool {
        let Self { numbers, grid, exit, axial, .. } = self;
        let (nr, nz) = (grid.s.len(), grid.z.len());
        let (row_psi, row_zeta) = (self.psi_at(i, j), self.zeta_at(i, j));
        if j == nz - 1 {
            fix(state, row_psi, 0.0, out);
            self.thom(state, [i, j], nz - 2, 0.0, out);
        } else if i == nr - 1 {
            out.residual[row_psi] = state[row_psi] - state[self.psi_at(i - 1, j)];
            out.add(row_psi, row_psi, 1.0);
            out.add(row_psi, self.psi_at(i - 1, j), -1.0);
            let inner = grid.s[i - 1] / grid.s[i];
            out.residual[row_zeta] = state[row_zeta] - inner * state[self.zeta_at(i - 1, j)];
            out.add(row_zeta, row_zeta, 1.0);
            out.add(row_zeta, self.zeta_at(i - 1, j), -inner);
        } else if j > 0 {
            return false;
        } else if i <= grid.lip {
            fix(state, row_psi, exit.psi[i], out);
            fix(state, row_zeta, exit.zeta[i], out);
        } else if numbers.surroundings == Surroundings::Wall {
            fix(state, row_psi, 0.5, out);
            self.thom(state, [i, j], 1, 0.5, out);
        } else {
            let az = &axial[j];
            let mut residual = 0.0;
            for k in 0..3 {
                residual += az.d1[k] * state[self.psi_at(i, az.first + k)];
                out.add(row_psi, self.psi_at(i, az.first + k), az.d1[k]);
            }
            out.residual[row_psi] = residual;
            fix(state, row_zeta, 0.0, out);
        }
        true
    }

    /// Thom's relation at a no-slip wall: zeta = -2 (psi_1 - psi_wall) / (s h^2), psi_1 one node off the wall, in the line `neighbour`.
    /// On the axis psi / s is replaced by psi_s there.
    fn thom(&self, state: &[f64], [i, j]: [usize; 2], neighbour: usize, wall_psi: f64, out: &mut Assembly) {
        let row = self.zeta_at(i, j);
        let spacing = self.grid.z[j.max(neighbour)] - self.grid.z[j.min(neighbour)];
        let factor = 2.0 / (spacing * spacing);
        let mut residual = state[row];
        out.add(row, row, 1.0);
        if i == 0 {
            let ar = &self.radial[i];
            for k in 0..3 {
                let column = self.psi_at(ar.first + k, neighbour);
                residual += factor * ar.d1[k] * state[column];
                out.add(row, column, factor * ar.d1[k]);
            }
        } else {
            let column = self.psi_at(i, neighbour);
            let s = self.grid.s[i];
            residual += factor * (state[column] - wall_psi) / s;
            out.add(row, column, factor / s);
        }
        out.residual[row] = residual;
    }

    /// Equations of a node in the gas, or on the axis.
    fn inside(&self, state: &[f64], [i, j]: [usize; 2], weights: &Weights, out: &mut Assembly) {
        let (grid, ar, az) = (&self.grid, &self.radial[i], &self.axial[j]);
        let (row_psi, row_zeta) = (self.psi_at(i, j), self.zeta_at(i, j));
        let s = grid.s[i];
        let viscosity = weights.viscosity;

        // Gradients here.
        let mut psi_s = 0.0;
        let mut psi_z = 0.0;
        let mut psi_laplacian = 0.0;
        let mut zeta_laplacian = 0.0;
        for k in 0..3 {
            let (ri, zj) = (ar.first + k, az.first + k);
            psi_s += ar.d1[k] * state[self.psi_at(ri, j)];
            psi_z += az.d1[k] * state[self.psi_at(i, zj)];
            psi_laplacian += 4.0 * s * ar.d2[k] * state[self.psi_at(ri, j)] + az.d2[k] * state[self.psi_at(i, zj)];
            zeta_laplacian += (4.0 * s * ar.d2[k] + 8.0 * ar.d1[k]) * state[self.zeta_at(ri, j)]
                + az.d2[k] * state[self.zeta_at(i, zj)];
        }

        let [upwind, central] = &weights.along;
        let carried = if s <= JET_CORE * JET_CORE { &upwind[j] } else { &central[j] };
        let [upwind, central] = &weights.outward;
        let swept = if grid.stand_off() - grid.z[j] <= WALL_JET { &upwind[i] } else { &central[i] };
        let zeta_s: f64 = (0..4).map(|k| swept.d1[k] * state[self.zeta_at(swept.first + k, j)]).sum();
        let zeta_z: f64 = (0..4).map(|k| carried.d1[k] * state[self.zeta_at(i, carried.first + k)]).sum();

        if i == 0 {
            fix(state, row_psi, 0.0, out);
        } else {
            out.residual[row_psi] = psi_laplacian + s * state[row_zeta];
            for k in 0..3 {
                out.add(row_psi, self.psi_at(ar.first + k, j), 4.0 * s * ar.d2[k]);
                out.add(row_psi, self.psi_at(i, az.first + k), az.d2[k]);
            }
            out.add(row_psi, row_zeta, s);
        }

        out.residual[row_zeta] = -2.0 * psi_z * zeta_s + 2.0 * psi_s * zeta_z - viscosity * zeta_laplacian;
        for k in 0..3 {
            let (ri, zj) = (ar.first + k, az.first + k);
            out.add(row_zeta, self.psi_at(ri, j), 2.0 * ar.d1[k] * zeta_z);
            out.add(row_zeta, self.psi_at(i, zj), -2.0 * az.d1[k] * zeta_s);
            let diffusion = viscosity * (4.0 * s * ar.d2[k] + 8.0 * ar.d1[k]);
            out.add(row_zeta, self.zeta_at(ri, j), -diffusion);
            out.add(row_zeta, self.zeta_at(i, zj), -viscosity * az.d2[k]);
        }
        for k in 0..4 {
            out.add(row_zeta, self.zeta_at(i, carried.first + k), 2.0 * psi_s * carried.d1[k]);
            out.add(row_zeta, self.zeta_at(swept.first + k, j), -2.0 * psi_z * swept.d1[k]);
        }
    }
}
