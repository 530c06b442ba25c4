//! The grid on which the jet is solved.
//!
//! Lengths in nozzle radii. The radial coordinate enters the equations only through `s = r^2`, because every field is
//! even in r: with differences taken in s the parabolic exit profile is represented exactly.

/// Radial extent of the grid, nozzle radii.
pub(crate) const OUTER_RADIUS: f64 = 25.0;
/// Radius up to which the radial spacing is even, nozzle radii: of a short jet, and by how much it grows with the plate's distance X (see
/// [`development`]), over which a free jet widens.
const EVEN_RADIUS: f64 = 1.5;
const EVEN_PER_X: f64 = 3.0;
/// Largest X that counts.
const MOST_X: f64 = 1.0;
/// Relative growth of the radial spacing per node beyond [`EVEN_RADIUS`].
const RADIAL_GROWTH: f64 = 0.05;
/// Axial spacing at the exit and at the plate, nozzle radii.
const AXIAL_SPACING: f64 = 0.022;
/// Relative growth of the axial spacing per node away from exit and plate.
const AXIAL_GROWTH: f64 = 0.09;
/// Largest axial spacing over the Reynolds number, nozzle radii: a free jet changes over lengths that grow with its Reynolds number.
const LONGEST_SPACING: f64 = 0.01;
/// Radial spacing inside the nozzle radius, nozzle radii.
const RADIAL_SPACING: f64 = 0.05;
/// Intervals over the layer at the exit's wall, least spacing there, and its growth away from the lip.
const LAYER_NODES: f64 = 20.0;
const LEAST_SPACING: f64 = 0.006;
const LIP_GROWTH: f64 = 0.15;

/// Nodes of the grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Squared radii of the nodes, nozzle radii squared; rising from 0.
    pub s: Vec<f64>,
    /// Place of the nozzle's lip among them.
    pub(crate) lip: usize,
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

impl Fineness {
    /// Intervals of the standard grid per interval of this one.
    fn stride(self) -> f64 {
        match self {
            Self::Coarsest => 4.0,
            Self::Coarse => 2.0,
            Self::Standard => 1.0,
            Self::Fine => 0.5,
        }
    }
}

/// Nodes from one place to another, spaced as `spacing` says on the standard grid; the count of intervals is a multiple of four there, so
/// that grids are nested.
pub(crate) fn spaced(from: f64, to: f64, spacing: impl Fn(f64) -> f64, fineness: Fineness) -> Vec<f64> {
    // Place over the number of intervals passed, in steps of a sixteenth of an interval.
    let mut table = vec![(0.0, from)];
    let (mut passed, mut place) = (0.0, from);
    while place < to {
        let step = 0.0625 * spacing(place + 0.03125 * spacing(place));
        let part = ((to - place) / step).min(1.0);
        passed += 0.0625 * part;
        place = if part < 1.0 { to } else { place + step };
        table.push((passed, place));
    }
    let standard = (4.0 * (passed / 4.0 - 1e-9).ceil()).max(4.0);
    let count = (standard / fineness.stride()).round() as usize;
    let mut k = 0;
    (0..=count)
        .map(|i| {
            if i == count {
                return to;
            }
            let wanted = passed * i as f64 / count as f64;
            while k + 2 < table.len() && table[k + 1].0 < wanted {
                k += 1;
            }
            let ((a, x), (b, y)) = (table[k], table[k + 1]);
            x + (y - x) * (wanted - a) / (b - a)
        })
        .collect()
}

/// Stream-wise place in a free jet, X = x nu/(U R^2), of a distance in nozzle radii.
pub(crate) fn development(distance: f64, reynolds: f64) -> f64 {
    2.0 * distance / reynolds
}

/// Squared radii of the nodes out to a radius, and the place of the lip (1) among them. The spacing is 0.05 up to `even` and
/// stretched beyond; at the lip it is a share of the thickness of the exit's layer there, if that is less.
pub(crate) fn radial_nodes(layer: f64, even: f64, outer: f64, fineness: Fineness) -> (Vec<f64>, usize) {
    let lip = (layer / LAYER_NODES).clamp(LEAST_SPACING, RADIAL_SPACING);
    let spacing = |r: f64| {
        let near_lip = lip + LIP_GROWTH * (r - 1.0).abs();
        near_lip.min(RADIAL_SPACING + RADIAL_GROWTH * (r - even).max(0.0))
    };
    let mut r = spaced(0.0, 1.0, spacing, fineness);
    let lip = r.len() - 1;
    r.extend(&spaced(1.0, outer, spacing, fineness)[1..]);
    (r.into_iter().map(|r| r * r).collect(), lip)
}

impl Grid {
    /// Grid for a stand-off (nozzle radii), a layer at the wall of the exit (its thickness in nozzle radii) and a Reynolds number.
    pub(crate) fn new(stand_off: f64, layer: f64, reynolds: f64, fineness: Fineness) -> Self {
        let even = EVEN_RADIUS + EVEN_PER_X * development(stand_off, reynolds).min(MOST_X);
        let (s, lip) = radial_nodes(layer, even, OUTER_RADIUS, fineness);
        let longest = LONGEST_SPACING * reynolds;
        let spacing = |distance: f64| (AXIAL_SPACING + AXIAL_GROWTH * distance).min(longest.max(AXIAL_SPACING));
        let upper = spaced(0.0, 0.5 * stand_off, spacing, fineness);
        let lower = upper.iter().rev().skip(1).map(|z| stand_off - z);
        let z = upper.iter().copied().chain(lower).collect();
        Self { s, lip, z }
    }

    /// Stand-off, nozzle radii.
    pub(crate) fn stand_off(&self) -> f64 {
        *self.z.last().expect("a grid has nodes")
    }

    /// Number of nodes.
    pub(crate) fn len(&self) -> usize {
        self.s.len() * self.z.len()
    }
}

/// Interval that holds `x` and the fraction of the way through it.
pub(crate) fn bracket(nodes: &[f64], x: f64) -> (usize, f64) {
    let left = nodes.partition_point(|&node| node <= x).saturating_sub(1).min(nodes.len() - 2);
    (left, ((x - nodes[left]) / (nodes[left + 1] - nodes[left])).clamp(0.0, 1.0))
}

/// Weights of a first and a second derivative on three neighbouring nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stencil {
    /// Index of the first of the three nodes.
    pub(crate) first: usize,
    /// Weights of the first derivative.
    pub(crate) d1: [f64; 3],
    /// Weights of the second derivative.
    pub(crate) d2: [f64; 3],
}

/// Three-point derivative weights at every node; one-sided at the two ends. Exact for parabolas.
pub(crate) fn stencils(x: &[f64]) -> Vec<Stencil> {
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
        let standard = Grid::new(40.0, 0.3, 400.0, Fineness::Standard);
        let coarse = Grid::new(40.0, 0.3, 400.0, Fineness::Coarse);
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
