//! The wall of the bore: a straight inlet, a cone, a straight land.

/// Half the length over which the wall turns from cone to land, nozzle radii. A drilled or etched edge is not sharper; an estimate.
const EDGE: f64 = 0.15;
/// The same from inlet to cone, inlet radii.
const INLET_EDGE: f64 = 0.3;
/// Largest share of the contraction's radius that each of the two edges takes.
const EDGE_SHARE: f64 = 0.25;

/// A bore, lengths in nozzle radii.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    /// Inlet radius, above 1.
    pub inlet_radius: f64,
    /// Tangent of the cone's half angle.
    pub slope: f64,
    /// Length of the straight land; 0: the cone ends at the exit.
    pub land: f64,
    /// Straight length above the cone.
    pub mixing_length: f64,
}

/// The wall at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Radius.
    pub radius: f64,
    /// Its first and second derivative along z.
    pub(crate) slope: f64,
    /// See `slope`.
    pub(crate) curvature: f64,
}

impl Wall {
    /// Square of the radius.
    #[inline]
    pub fn area(&self) -> f64 {
        self.radius * self.radius
    }

    /// Relative change of the area along z: 2 a'/a.
    #[inline]
    pub(crate) fn narrowing(&self) -> f64 {
        2.0 * self.slope / self.radius
    }
}

/// The wall's parts, worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    inlet_radius: f64,
    /// Tangent of the cone's half angle.
    pub(crate) slope: f64,
    /// Half lengths of the arcs from inlet to cone and from cone to land.
    inlet_edge: f64,
    edge: f64,
    throat_radius: f64,
    /// Where the cone's wall has turned into that of the land. Without a land the lines of the grid go on beyond the exit as if the cone
    /// turned there: inside the bore it does not.
    pub(crate) throat: f64,
    /// Where the inlet's wall begins to turn.
    pub mouth: f64,
    /// Where the sheath joins.
    pub(crate) start: f64,
}

impl Shape {
    /// Its wall.
    pub(crate) fn line(&self) -> Line {
        let most = EDGE_SHARE * (self.inlet_radius - 1.0) / self.slope;
        let (edge, inlet_edge) = (EDGE.min(most), (INLET_EDGE * self.inlet_radius).min(most));
        let (throat, throat_radius) =
            if self.land > 0.0 { (-self.land, 1.0) } else { (2.0 * edge, 1.0 - self.slope * edge) };
        let mouth = throat - (edge + inlet_edge) - (self.inlet_radius - throat_radius) / self.slope;
        Line {
            inlet_radius: self.inlet_radius,
            slope: self.slope,
            inlet_edge,
            edge,
            throat_radius,
            throat,
            mouth,
            start: mouth - self.mixing_length,
        }
    }
}

impl Line {
    /// The wall at a height; parabolic arcs join its straight parts.
    #[inline]
    pub fn wall(&self, z: f64) -> Wall {
        let (above, below) = (self.throat - z, z - self.mouth);
        if above <= 0.0 {
            return Wall { radius: self.throat_radius, slope: 0.0, curvature: 0.0 };
        }
        if below <= 0.0 {
            return Wall { radius: self.inlet_radius, slope: 0.0, curvature: 0.0 };
        }
        if above < 2.0 * self.edge {
            let turn = self.slope / (2.0 * self.edge);
            let radius = self.throat_radius + 0.5 * turn * above * above;
            return Wall { radius, slope: -turn * above, curvature: turn };
        }
        if below < 2.0 * self.inlet_edge {
            let turn = self.slope / (2.0 * self.inlet_edge);
            let radius = self.inlet_radius - 0.5 * turn * below * below;
            return Wall { radius, slope: -turn * below, curvature: -turn };
        }
        Wall { radius: self.throat_radius + self.slope * (above - self.edge), slope: -self.slope, curvature: 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wall_is_smooth_and_ends_where_it_should() {
        for shape in [
            Shape { inlet_radius: 1.0 / 0.15, slope: 6f64.to_radians().tan(), land: 2.0, mixing_length: 200.0 },
            Shape { inlet_radius: 10.0, slope: 1.0, land: 0.0, mixing_length: 0.0 },
            Shape { inlet_radius: 1.1, slope: 0.3, land: 0.2, mixing_length: 3.0 },
        ] {
            let line = shape.line();
            assert!((line.wall(0.0).radius - 1.0).abs() < 1e-12);
            assert!((line.wall(line.start).radius - shape.inlet_radius).abs() < 1e-12);
            let (from, h) = (line.mouth - 1.0, 1e-6);
            for k in 0..2000 {
                let z = from * (1.0 - f64::from(k) / 2000.0);
                let [before, here, after] = [z - h, z, z + h].map(|z| line.wall(z));
                assert!((after.radius - before.radius - 2.0 * h * here.slope).abs() < 1e-9, "{shape:?} {z}");
            }
        }
    }
}
