//! What leaves the nozzle: the flow through its exit plane.

use super::bore::shape::Shape;
use super::bore::solver::{BoreSolution, layer_thickness};
use super::grid::stencils;
use crate::head::profile;

/// Mach number on the axis from which a flow is refused. The model's gas has one density; near 1 a nozzle chokes. An estimate with a
/// margin.
pub const LARGEST_MACH: f64 = 0.9;

/// How the flow through the exit is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ExitProfile {
    /// Solved through a bore.
    Bore(Shape),
    /// Taken as given: 0 developed, 1 plug ([`profile`]).
    Blend(f64),
}

impl ExitProfile {
    /// The blend, if it is given.
    pub fn blend(&self) -> Option<f64> {
        match self {
            Self::Bore(_) => None,
            Self::Blend(blend) => Some(*blend),
        }
    }

    /// Thickness of the layer at the exit's wall, nozzle radii: sizes grids.
    pub(crate) fn layer(&self, reynolds: f64) -> f64 {
        match self {
            Self::Bore(shape) => layer_thickness(reynolds, shape),
            Self::Blend(blend) => {
                if *blend > 0.2 {
                    PLUG_LAYER
                } else {
                    1.0
                }
            }
        }
    }
}

/// Layer of the near-plug profile.
const PLUG_LAYER: f64 = 0.2;

/// Flow through the exit, at the nodes of a grid up to the lip. Units of the mean exit speed and the nozzle radius.
#[derive(Debug, Clone, PartialEq)]
pub struct Exit {
    /// Squared radii, from 0 to 1.
    pub(crate) s: Vec<f64>,
    /// Stream function.
    pub(crate) psi: Vec<f64>,
    /// Vorticity over radius; at the lip that of the gas's whole step down to rest.
    pub(crate) zeta: Vec<f64>,
    /// Axial speed.
    pub axial: Vec<f64>,
    /// Radial speed over radius, where the bore gives it; otherwise it follows from the jet.
    pub(crate) radial_over_r: Option<Vec<f64>>,
}

/// Vorticity over radius from the stream function alone, the gas at rest beyond the lip: so what leaves adds up to the very profile,
/// however thin its shear layer. (Taken from a profile's formula instead, the centreline speed converges only to first order, and a plug's
/// is off by some per cent.) `s` are the nodes of the jet, beyond the lip too.
fn vorticity(s: &[f64], psi: &[f64]) -> Vec<f64> {
    let psi = |i: usize| psi.get(i).copied().unwrap_or(0.5);
    let stencils = stencils(s);
    stencils.iter().map(|at| -4.0 * (0..3).map(|k| at.d2[k] * psi(at.first + k)).sum::<f64>()).collect()
}

impl Exit {
    /// A given blend, at the nodes `s` of a jet whose lip is node `lip`.
    pub(crate) fn of_blend(blend: f64, s: &[f64], lip: usize) -> Self {
        let radii = || s[..=lip].iter().map(|s| s.sqrt().min(1.0));
        let psi: Vec<f64> = radii().map(|x| 0.5 * profile::flow_inside(x, blend)).collect();
        let mut zeta = vorticity(s, &psi);
        zeta.truncate(lip + 1);
        let axial = radii().map(|x| profile::speed(x, blend)).collect();
        Self { s: s[..=lip].to_vec(), psi, zeta, axial, radial_over_r: None }
    }

    /// A solved bore, at the nodes `s` of a jet whose lip is node `lip`. On the bore's own nodes, or every second of them, the values are
    /// the bore's; between them psi follows the cubic through its values and slopes, the rest straight lines.
    pub fn of_bore(bore: &BoreSolution, s: &[f64], lip: usize) -> Self {
        let grid = &bore.grid;
        let width = grid.sigma.len();
        let row = grid.exit * width;
        let speeds = bore.scaled_speeds();
        let narrowing = bore.shape.line().wall(0.0).narrowing();
        let mut exit = Self { s: s[..=lip].to_vec(), psi: vec![], zeta: vec![], axial: vec![], radial_over_r: None };
        let mut radial = vec![];
        for s in &exit.s {
            let left = grid.sigma.partition_point(|x| x <= s).saturating_sub(1).min(grid.lip - 1);
            let step = grid.sigma[left + 1] - grid.sigma[left];
            let t = (s - grid.sigma[left]) / step;
            let [a, b] = [row + left, row + left + 1];
            let line = |from: f64, to: f64| from + t * (to - from);
            let (slope_a, slope_b) = (0.5 * speeds[a][0] * step, 0.5 * speeds[b][0] * step);
            let (rise, u) = (bore.psi[b] - bore.psi[a], 1.0 - t);
            exit.psi.push(bore.psi[a] + rise * t * t * (3.0 - 2.0 * t) + slope_a * t * u * u - slope_b * t * t * u);
            exit.zeta.push(line(bore.scaled_vorticity[a], bore.scaled_vorticity[b]));
            let axial = line(speeds[a][0], speeds[b][0]);
            exit.axial.push(axial);
            radial.push(0.5 * narrowing * axial + line(speeds[a][1], speeds[b][1]));
        }
        exit.zeta[lip] = vorticity(s, &exit.psi)[lip];
        exit.radial_over_r = Some(radial);
        exit
    }

    /// Radius (nozzle radii) inside which a share of the flow leaves.
    pub fn radius_of_flow(&self, share: f64) -> f64 {
        radius_of_flow(&self.s, &self.psi, &self.axial, share)
    }
}

/// Radius inside which psi is half a share, from psi at squared radii `s`, and the axial speeds there: 2 psi_s.
pub fn radius_of_flow(s: &[f64], psi: &[f64], axial: &[f64], share: f64) -> f64 {
    let wanted = 0.5 * share.clamp(0.0, 1.0);
    let left = psi.partition_point(|psi| *psi <= wanted).saturating_sub(1).min(s.len() - 2);
    let (step, rise) = (s[left + 1] - s[left], psi[left + 1] - psi[left]);
    // psi = a + b t + c t^2 through both values with the speed's straight line between: b from the ratio of the speeds.
    let (low, high) = (axial[left].max(0.0), axial[left + 1].max(0.0));
    let first = if low + high > 0.0 { 2.0 * rise * low / (low + high) } else { rise };
    let second = rise - first;
    let beyond = (wanted - psi[left]).max(0.0);
    let t = 2.0 * beyond / (first + (first * first + 4.0 * second * beyond).max(0.0).sqrt()).max(1e-300);
    (s[left] + step * t.min(1.0)).sqrt()
}
