//! The grid on which the bore's flow is solved: stream-wise heights, and across the bore the radius over the wall's, squared.

use super::shape::Shape;
use crate::jet::grid::{Fineness, radial_nodes, spaced};

/// Length of free jet below the exit that is solved with the bore, and its outer radius: what streams away acts back on the exit.
const SPOUT: f64 = 4.0;
const SPOUT_RADIUS: f64 = 4.0;
/// Spacing at the exit and at the turn of cone into land, nozzle radii.
const EXIT_SPACING: f64 = 0.015;
const EDGE_SPACING: f64 = 0.04;
/// Spacing at the start of the inlet and at the mouth of the cone, inlet radii; longest one in the inlet.
const START_SPACING: f64 = 0.1;
const MOUTH_SPACING: f64 = 0.25;
const LONGEST_SPACING: f64 = 3.0;
/// Share by which the cone narrows from node to node.
const CONE_SHRINK: f64 = 0.1;
/// Growth of the spacing with distance from these places.
const GROWTH: f64 = 0.2;

/// Nodes.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreGrid {
    /// Radius over the wall's, squared; 1 at the wall, more in the free jet.
    pub sigma: Vec<f64>,
    /// Place of the wall in `sigma`.
    pub lip: usize,
    /// Heights.
    pub z: Vec<f64>,
    /// Place of the exit plane in `z`.
    pub(crate) exit: usize,
}

impl BoreGrid {
    /// For a bore whose layer at the exit's wall has a thickness (nozzle radii).
    pub(crate) fn new(shape: &Shape, layer: f64, fineness: Fineness) -> Self {
        let (sigma, lip) = radial_nodes(layer, SPOUT_RADIUS, SPOUT_RADIUS, fineness);
        let line = shape.line();
        let (start, mouth, throat) = (line.start, line.mouth, line.throat);
        let inlet = shape.inlet_radius;
        let spacing = |z: f64| {
            let near = |place: f64, least: f64| least + GROWTH * (z - place).abs();
            let cone = if z < throat { CONE_SHRINK * line.wall(z).radius / shape.slope } else { f64::INFINITY };
            let into_cone = if z < mouth {
                MOUTH_SPACING * inlet + GROWTH * (mouth - z)
            } else {
                near(mouth, MOUTH_SPACING * inlet)
            };
            [
                near(start, START_SPACING * inlet),
                into_cone,
                cone.max(EDGE_SPACING),
                near(throat, EDGE_SPACING),
                near(0.0, EXIT_SPACING),
                LONGEST_SPACING * inlet,
            ]
            .into_iter()
            .fold(f64::INFINITY, f64::min)
        };
        let mut z = spaced(start, 0.0, spacing, fineness);
        let exit = z.len() - 1;
        z.extend(&spaced(0.0, SPOUT, |z| EXIT_SPACING + GROWTH * z, fineness)[1..]);
        Self { sigma, lip, z, exit }
    }

    /// Number of nodes, with those in the wall.
    pub(crate) fn len(&self) -> usize {
        self.sigma.len() * self.z.len()
    }
}
