//! Gas velocity between exit plane and plate, looked up by droplets.

use super::grid::stencils;
use super::solver::Solution;

/// Velocity of the gas at a point. Units of the mean exit speed and radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Along the axis, towards the plate.
    pub axial: f64,
    /// Radial velocity over radius.
    pub radial_over_r: f64,
}

/// Velocity field on the solver's grid; bilinear in r^2 and z, so the parabolic exit profile is exact; quadratic in z next to the plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    s: Vec<f64>,
    z: Vec<f64>,
    /// Inverse lengths of the intervals in s, in r and in z.
    per_s: Vec<f64>,
    per_r: Vec<f64>,
    per_z: Vec<f64>,
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
                // At the exit the flow itself: differences across the lip would round its corner off.
                let inside = j == 0 && i <= grid.lip;
                nodes[j * nr + i][0] = if inside { solution.exit.axial[i] } else { 2.0 * psi_s };
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
        if let Some(radial) = &solution.exit.radial_over_r {
            nodes.iter_mut().zip(radial).for_each(|(node, radial)| node[1] = *radial);
        }
        let inverse = |x: &[f64]| x.windows(2).map(|pair| 1.0 / (pair[1] - pair[0])).collect::<Vec<f64>>();
        let radii: Vec<f64> = grid.s.iter().map(|s| s.sqrt()).collect();
        Self {
            s: grid.s.clone(),
            z: grid.z.clone(),
            per_s: inverse(&grid.s),
            per_r: inverse(&radii),
            per_z: inverse(&grid.z),
            nodes,
        }
    }

    /// Stand-off in nozzle radii.
    pub fn stand_off(&self) -> f64 {
        *self.z.last().expect("a field has nodes")
    }

    /// Cells per length, along r and z, at the last look-up.
    #[inline]
    pub(crate) fn cells_per_length(&self, cell: Cell) -> [f64; 2] {
        [self.per_r[cell.i], self.per_z[cell.j]]
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
        let fs = ((s - self.s[cell.i]) * self.per_s[cell.i]).min(1.0);
        let fz = ((z - self.z[cell.j]) * self.per_z[cell.j]).clamp(0.0, 1.0);
        let fz_axial = if cell.j == last_j { towards_plate(fz) } else { fz };
        let [a, b, c, d] = self.corners(*cell);
        let mix = |k: usize, f: f64| {
            let lower = a[k] + fs * (b[k] - a[k]);
            let upper = c[k] + fs * (d[k] - c[k]);
            lower + f * (upper - lower)
        };
        Gas { axial: mix(0, fz_axial), radial_over_r: mix(1, fz) }
    }

    /// d(axial)/d(r^2) at height `z` in the cell of the last look-up: the gradient that Saffman's lift needs.
    pub(crate) fn shear_over_2r(&self, z: f64, cell: Cell) -> f64 {
        let fz = ((z - self.z[cell.j]) * self.per_z[cell.j]).clamp(0.0, 1.0);
        let fz_axial = if cell.j == self.z.len() - 2 { towards_plate(fz) } else { fz };
        let [a, b, c, d] = self.corners(cell);
        ((b[0] - a[0]) + fz_axial * ((d[0] - c[0]) - (b[0] - a[0]))) * self.per_s[cell.i]
    }

    /// Velocities at the nodes around a cell.
    #[inline]
    fn corners(&self, cell: Cell) -> [[f64; 2]; 4] {
        let base = cell.j * self.s.len() + cell.i;
        let above = base + self.s.len();
        [self.nodes[base], self.nodes[base + 1], self.nodes[above], self.nodes[above + 1]]
    }
}

/// At the no-slip plate the axial speed falls as the square of the distance, for the radial one falls linearly and mass is conserved. A
/// straight line down to the plate instead would let stream lines end there, and droplets without any inertia land.
#[inline]
fn towards_plate(fz: f64) -> f64 {
    fz * (2.0 - fz)
}
