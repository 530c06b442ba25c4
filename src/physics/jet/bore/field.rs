//! Velocity of the gas in the bore, looked up by droplets.

use super::shape::{Line, Shape};
use super::solver::BoreSolution;
use crate::head::profile;
use crate::jet::exit::radius_of_flow;

/// The gas at a point. Units of the mean exit speed and the nozzle radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoreGas {
    /// Along the axis, towards the exit.
    pub axial: f64,
    /// Away from the axis.
    pub radial: f64,
    /// d(axial)/dr.
    pub(crate) shear: f64,
}

/// The gas in a bore from the mouth of its cone to the exit.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreField {
    /// The wall.
    pub line: Line,
    flow: Flow,
}

#[derive(Debug, Clone, PartialEq)]
enum Flow {
    /// One profile at every height, scaled with the bore: u_z = f(r/a)/a^2, u_r = u_z r a'/a. Mass is conserved, momentum is not.
    Similar(f64),
    Solved(Nodes),
}

/// Bilinear in (r/a)^2 and z of what is left of the speeds when the wall's radius and slope are taken out, so that the gas follows the
/// wall exactly.
#[derive(Debug, Clone, PartialEq)]
struct Nodes {
    sigma: Vec<f64>,
    z: Vec<f64>,
    per_sigma: Vec<f64>,
    per_z: Vec<f64>,
    /// a^2 u_z, and a^2 (u_r/r - u_z a'/a), node `[j * sigma.len() + i]`.
    speeds: Vec<[f64; 2]>,
    /// Stream function at the first height.
    psi: Vec<f64>,
}

/// Remembers the cell of the last look-up.
#[derive(Debug, Clone, Copy, Default)]
pub struct BoreCell {
    i: usize,
    j: usize,
}

impl BoreField {
    /// A given blend of developed and plug flow all along.
    pub fn similar(shape: &Shape, blend: f64) -> Self {
        Self { line: shape.line(), flow: Flow::Similar(blend) }
    }

    /// A solved bore.
    pub fn solved(solution: &BoreSolution) -> Self {
        let grid = &solution.grid;
        let line = solution.shape.line();
        let width = grid.sigma.len();
        // From the last node at or above the mouth.
        let first = grid.z[..grid.exit].partition_point(|z| *z <= line.mouth).saturating_sub(1);
        let all = solution.scaled_speeds();
        let speeds = (first..=grid.exit).flat_map(|j| all[j * width..][..=grid.lip].iter().copied()).collect();
        let (sigma, z) = (grid.sigma[..=grid.lip].to_vec(), grid.z[first..=grid.exit].to_vec());
        let inverse = |x: &[f64]| x.windows(2).map(|pair| 1.0 / (pair[1] - pair[0])).collect::<Vec<f64>>();
        let psi = solution.psi[first * width..][..=grid.lip].to_vec();
        let nodes = Nodes { per_sigma: inverse(&sigma), per_z: inverse(&z), sigma, z, speeds, psi };
        Self { line, flow: Flow::Solved(nodes) }
    }

    /// Where droplets enter, on the stream surface inside which a share of the flow lies: radius and height.
    pub(crate) fn entry(&self, share: f64) -> [f64; 2] {
        match &self.flow {
            Flow::Similar(blend) => {
                let z = self.line.mouth;
                [profile::radius_of_flow(share, *blend) * self.line.wall(z).radius, z]
            }
            Flow::Solved(nodes) => {
                let axial: Vec<f64> = nodes.speeds[..nodes.sigma.len()].iter().map(|speeds| speeds[0]).collect();
                let across = radius_of_flow(&nodes.sigma, &nodes.psi, &axial, share);
                [across * self.line.wall(nodes.z[0]).radius, nodes.z[0]]
            }
        }
    }

    /// The gas at radius `x` (of either sign) and height `z`.
    #[inline]
    pub fn at(&self, x: f64, z: f64, cell: &mut BoreCell) -> BoreGas {
        let wall = self.line.wall(z);
        let area = wall.area();
        let sigma = (x * x / area).min(1.0);
        let (scaled, turned, steepness) = match &self.flow {
            Flow::Similar(blend) => {
                let across = sigma.sqrt();
                (profile::speed(across, *blend), 0.0, -0.5 * profile::vorticity_over_radius(across, *blend))
            }
            Flow::Solved(nodes) => nodes.at(sigma, z, cell),
        };
        let axial = scaled / area;
        BoreGas {
            axial,
            radial: x * (axial * wall.slope / wall.radius + turned / area),
            shear: 2.0 * x * steepness / (area * area),
        }
    }
}

impl Nodes {
    /// Scaled speeds, and the change of the first with sigma.
    #[inline]
    fn at(&self, sigma: f64, z: f64, cell: &mut BoreCell) -> (f64, f64, f64) {
        let (last_i, last_j) = (self.sigma.len() - 2, self.z.len() - 2);
        while cell.i < last_i && sigma > self.sigma[cell.i + 1] {
            cell.i += 1;
        }
        while cell.i > 0 && sigma < self.sigma[cell.i] {
            cell.i -= 1;
        }
        while cell.j < last_j && z > self.z[cell.j + 1] {
            cell.j += 1;
        }
        while cell.j > 0 && z < self.z[cell.j] {
            cell.j -= 1;
        }
        let fs = ((sigma - self.sigma[cell.i]) * self.per_sigma[cell.i]).min(1.0);
        let fz = ((z - self.z[cell.j]) * self.per_z[cell.j]).clamp(0.0, 1.0);
        let base = cell.j * self.sigma.len() + cell.i;
        let above = base + self.sigma.len();
        let [a, b, c, d] = [self.speeds[base], self.speeds[base + 1], self.speeds[above], self.speeds[above + 1]];
        let row = |k: usize| {
            let lower = a[k] + fs * (b[k] - a[k]);
            lower + fz * (c[k] + fs * (d[k] - c[k]) - lower)
        };
        let rise = (b[0] - a[0]) + fz * ((d[0] - c[0]) - (b[0] - a[0]));
        (row(0), row(1), rise * self.per_sigma[cell.i])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scaled_profile_conserves_mass() {
        let shape = Shape { inlet_radius: 10.0, slope: 0.25, land: 2.0, mixing_length: 5.0 };
        let field = BoreField::similar(&shape, 0.3);
        let mut cell = BoreCell::default();
        let mut at = |x: f64, z: f64| field.at(x, z, &mut cell);
        // Divergence of (u_r, u_z) by central differences: (1/r) d(r u_r)/dr + du_z/dz = 0.
        let (x, z, h) = (1.3, -12.0, 1e-5);
        let radial = ((x + h) * at(x + h, z).radial - (x - h) * at(x - h, z).radial) / (2.0 * h * x);
        let axial = (at(x, z + h).axial - at(x, z - h).axial) / (2.0 * h);
        assert!((radial + axial).abs() < 1e-6 * axial.abs());
        let shear = (at(x + h, z).axial - at(x - h, z).axial) / (2.0 * h);
        assert!((shear - at(x, z).shear).abs() < 1e-6 * shear.abs());
    }
}
