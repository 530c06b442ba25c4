//! The grid on which the jet is solved.
//!
//! Lengths in nozzle radii. The radial coordinate enters the equations only through `s = r^2`, because every field is
//! even in r: with differences taken in s the parabolic exit profile is represented exactly.

/// Radial extent of the grid, nozzle radii.
pub const OUTER_RADIUS: f64 = 25.0;
/// Radius up to which the radial spacing is even, nozzle radii.
const EVEN_RADIUS: f64 = 1.5;
/// Relative growth of the radial spacing per node beyond [`EVEN_RADIUS`].
const RADIAL_GROWTH: f64 = 0.075;
/// Axial spacing at the exit and at the plate, nozzle radii.
const AXIAL_SPACING: f64 = 0.022;
/// Relative growth of the axial spacing per node away from exit and plate.
const AXIAL_GROWTH: f64 = 0.09;
/// Radial intervals over one nozzle radius for a developed exit profile.
const RADIAL_INTERVALS: usize = 20;

/// Nodes of the grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Squared radii of the nodes, nozzle radii squared; rising from 0.
    pub s: Vec<f64>,
    /// Heights of the nodes, nozzle radii; 0 at the exit plane, the last at the plate.
    pub z: Vec<f64>,
}

/// How fine the grid is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fineness {
    /// A quarter as many intervals as standard, for the first steps of a cold solution.
    Coarsest,
    /// Half as many intervals, for the steps after these.
    Coarse,
    /// What predictions use.
    Standard,
    /// Twice as many intervals: shows what the grid costs.
    Fine,
}

impl Grid {
    /// Grid for a stand-off (nozzle radii) and an exit profile (0 developed, 1 plug).
    ///
    /// A plug exit carries a thin shear layer at the lip and gets twice as many radial nodes.
    pub fn new(stand_off: f64, plug_blend: f64, fineness: Fineness) -> Self {
        // Standard intervals per interval of this grid.
        let stride = match fineness {
            Fineness::Coarsest => 4.0,
            Fineness::Coarse => 2.0,
            Fineness::Standard => 1.0,
            Fineness::Fine => 0.5,
        };
        let per_radius = if plug_blend > 0.2 { 2 * RADIAL_INTERVALS } else { RADIAL_INTERVALS };
        let spacing = 1.0 / per_radius as f64;
        let even = EVEN_RADIUS / spacing;
        let stretched = ((OUTER_RADIUS - EVEN_RADIUS) * RADIAL_GROWTH / spacing + 1.0).ln() / RADIAL_GROWTH;
        let radial = 2 * ((even + stretched) / 2.0).ceil() as usize;
        // The lip stays a node; the outermost interval may reach a little further.
        let count = (radial as f64 / stride).ceil() as usize;
        let s = (0..=count)
            .map(|i| {
                let node = i as f64 * stride;
                let beyond = (node - even).max(0.0);
                let r = spacing * (node.min(even) + ((RADIAL_GROWTH * beyond).exp() - 1.0) / RADIAL_GROWTH);
                r * r
            })
            .collect();

        // From both ends the spacing grows as exp(growth * nodes); the count is rounded up, the spacing scaled to fit.
        let side = |nodes: f64| ((AXIAL_GROWTH * nodes).exp() - 1.0) / AXIAL_GROWTH;
        let per_side = ((0.5 * stand_off * AXIAL_GROWTH / AXIAL_SPACING + 1.0).ln() / AXIAL_GROWTH).max(12.0);
        let axial = 4 * (per_side / 2.0).ceil() as usize;
        let scale = 0.5 * stand_off / side(axial as f64 / 2.0);
        let count = (axial as f64 / stride) as usize;
        let z = (0..=count)
            .map(|j| {
                let node = j as f64 * stride;
                let from_end = node.min(axial as f64 - node);
                let distance = scale * side(from_end);
                if 2 * j <= count { distance } else { stand_off - distance }
            })
            .collect();
        Self { s, z }
    }

    /// Stand-off, nozzle radii.
    pub fn stand_off(&self) -> f64 {
        *self.z.last().expect("a grid has nodes")
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.s.len() * self.z.len()
    }

    /// Whether the grid has no nodes (never, by construction).
    pub fn is_empty(&self) -> bool {
        self.s.is_empty() || self.z.is_empty()
    }
}

/// Weights of a first and a second derivative on three neighbouring nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stencil {
    /// Index of the first of the three nodes.
    pub first: usize,
    /// Weights of the first derivative.
    pub d1: [f64; 3],
    /// Weights of the second derivative.
    pub d2: [f64; 3],
}

/// Three-point derivative weights at every node; one-sided at the two ends. Exact for parabolas.
pub fn stencils(x: &[f64]) -> Vec<Stencil> {
    (0..x.len())
        .map(|i| {
            let first = i.saturating_sub(1).min(x.len() - 3);
            let (a, b, c) = (x[first], x[first + 1], x[first + 2]);
            let at = x[i];
            // Derivatives of the Lagrange polynomials.
            let weight = |p: f64, q: f64, r: f64| {
                let denominator = (p - q) * (p - r);
                ((2.0 * at - q - r) / denominator, 2.0 / denominator)
            };
            let (wa, wb, wc) = (weight(a, b, c), weight(b, a, c), weight(c, a, b));
            Stencil { first, d1: [wa.0, wb.0, wc.0], d2: [wa.1, wb.1, wc.1] }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stencils_are_exact_for_a_parabola() {
        let x = [0.0, 0.3, 1.0, 1.2, 2.5];
        for (i, stencil) in stencils(&x).iter().enumerate() {
            let value = |k: usize| 3.0 * x[k] * x[k] - 2.0 * x[k] + 7.0;
            let sum = |w: &[f64; 3]| (0..3).map(|k| w[k] * value(stencil.first + k)).sum::<f64>();
            assert!((sum(&stencil.d1) - (6.0 * x[i] - 2.0)).abs() < 1e-12);
            assert!((sum(&stencil.d2) - 6.0).abs() < 1e-11);
        }
    }

    #[test]
    fn grid_holds_the_lip_and_is_nested() {
        let standard = Grid::new(40.0, 0.0, Fineness::Standard);
        let coarse = Grid::new(40.0, 0.0, Fineness::Coarse);
        assert!(standard.s.iter().any(|s| (s - 1.0).abs() < 1e-12));
        assert!((standard.stand_off() - 40.0).abs() < 1e-12);
        assert!(standard.s.last().is_some_and(|s| s.sqrt() >= OUTER_RADIUS));
        for (i, s) in coarse.s.iter().enumerate() {
            assert!((s - standard.s[2 * i]).abs() < 1e-9 * (1.0 + s));
        }
        for (j, z) in coarse.z.iter().enumerate() {
            assert!((z - standard.z[2 * j]).abs() < 1e-9 * (1.0 + z));
        }
    }
}
