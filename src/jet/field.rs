//! Gas velocity between exit plane and plate, looked up by droplets.

use super::grid::stencils;
use super::profile;
use super::solver::Solution;

/// Velocity of the gas at a point, and the gradient that Saffman's lift needs. Units of the mean exit speed and radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Along the axis, towards the plate.
    pub axial: f64,
    /// Radial velocity over radius.
    pub radial_over_r: f64,
    /// d(axial)/d(r^2).
    pub shear_over_2r: f64,
}

/// Velocity field on the solver's grid; bilinear in r^2 and z, so the parabolic exit profile is exact; quadratic in z next to the plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    s: Vec<f64>,
    z: Vec<f64>,
    /// Axial velocity and radial velocity over radius, node `[j * radial nodes + i]`.
    nodes: Vec<[f64; 2]>,
}

/// Remembers the cell of the last look-up: a droplet moves to neighbouring cells only.
#[derive(Debug, Clone, Copy, Default)]
pub struct Cell {
    i: usize,
    j: usize,
}

impl Field {
    /// From a solution: u_z = 2 psi_s, u_r / r = -psi_z / s.
    pub fn new(solution: &Solution) -> Self {
        let grid = &solution.grid;
        let (nr, nz) = (grid.s.len(), grid.z.len());
        let radial = stencils(&grid.s);
        let axial = stencils(&grid.z);
        let mut nodes = vec![[0.0; 2]; nr * nz];
        for j in 0..nz - 1 {
            for i in 0..nr {
                let psi_s: f64 = (0..3).map(|k| radial[i].d1[k] * solution.psi[j * nr + radial[i].first + k]).sum();
                // At the exit the profile itself: differences across the lip would round its corner off.
                let inside = j == 0 && grid.s[i] <= 1.0 + 1e-9;
                nodes[j * nr + i][0] = if inside {
                    profile::speed(grid.s[i].sqrt().min(1.0), solution.numbers.plug_blend)
                } else {
                    2.0 * psi_s
                };
                if i > 0 {
                    let psi_z: f64 = (0..3).map(|k| axial[j].d1[k] * solution.psi[(axial[j].first + k) * nr + i]).sum();
                    nodes[j * nr + i][1] = -psi_z / grid.s[i];
                }
            }
        }
        // On the axis u_r / r = -(1/2) du_z/dz, by continuity.
        for j in 0..nz - 1 {
            let slope: f64 = (0..3).map(|k| axial[j].d1[k] * nodes[(axial[j].first + k) * nr][0]).sum();
            nodes[j * nr][1] = -0.5 * slope;
        }
        Self { s: grid.s.clone(), z: grid.z.clone(), nodes }
    }

    /// Stand-off in nozzle radii.
    pub fn stand_off(&self) -> f64 {
        *self.z.last().expect("a field has nodes")
    }

    /// Edges of the cell around the last look-up: lengths along r and z.
    #[inline]
    pub fn cell_size(&self, cell: Cell) -> [f64; 2] {
        let (inner, outer) = (self.s[cell.i].sqrt(), self.s[cell.i + 1].sqrt());
        [outer - inner, self.z[cell.j + 1] - self.z[cell.j]]
    }

    /// Velocity at squared radius `s` and height `z`; beyond the grid the nearest edge counts.
    #[inline]
    pub fn at(&self, s: f64, z: f64, cell: &mut Cell) -> Gas {
        let (last_i, last_j) = (self.s.len() - 2, self.z.len() - 2);
        while cell.i < last_i && s > self.s[cell.i + 1] {
            cell.i += 1;
        }
        while cell.i > 0 && s < self.s[cell.i] {
            cell.i -= 1;
        }
        while cell.j < last_j && z > self.z[cell.j + 1] {
            cell.j += 1;
        }
        while cell.j > 0 && z < self.z[cell.j] {
            cell.j -= 1;
        }
        let ds = self.s[cell.i + 1] - self.s[cell.i];
        let fs = ((s - self.s[cell.i]) / ds).min(1.0);
        let fz = ((z - self.z[cell.j]) / (self.z[cell.j + 1] - self.z[cell.j])).clamp(0.0, 1.0);
        // At the no-slip plate the axial speed falls as the square of the distance, for the radial one falls linearly and mass is
        // conserved. A straight line down to the plate instead would let stream lines end there, and droplets without any inertia land.
        let fz_axial = if cell.j == last_j { fz * (2.0 - fz) } else { fz };
        let base = cell.j * self.s.len() + cell.i;
        let (a, b) = (self.nodes[base], self.nodes[base + 1]);
        let (c, d) = (self.nodes[base + self.s.len()], self.nodes[base + self.s.len() + 1]);
        let mix = |k: usize, f: f64| {
            let lower = a[k] + fs * (b[k] - a[k]);
            let upper = c[k] + fs * (d[k] - c[k]);
            lower + f * (upper - lower)
        };
        let slope = (b[0] - a[0]) + fz_axial * ((d[0] - c[0]) - (b[0] - a[0]));
        Gas { axial: mix(0, fz_axial), radial_over_r: mix(1, fz), shear_over_2r: slope / ds }
    }
}
