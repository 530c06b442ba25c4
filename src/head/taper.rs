//! The converging bore above the nozzle exit.
//!
//! Lengths in nozzle radii, speeds in the mean exit speed. z runs from a negative start to 0 at the exit plane.

use crate::jet::profile;

/// A cone from the inlet bore to the nozzle bore, then a straight land.
///
/// The gas keeps the shape of its profile while the bore narrows: u_z = U(z) f(r/R(z)), U(z) = 1/R(z)^2,
/// u_r = u_z (r/R) R'(z), which conserves mass on every stream tube. A similarity estimate for a slowly narrowing bore;
/// a short steep cone makes the profile flatter (see [`profile`]'s blend).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taper {
    /// Inlet radius over nozzle radius, at least 1.
    pub inlet_radius: f64,
    /// Tangent of the half angle.
    pub slope: f64,
    /// Length of the straight land, nozzle radii.
    pub land: f64,
    /// Profile: 0 developed, 1 plug.
    pub plug_blend: f64,
}

impl Taper {
    /// Where the cone begins (negative).
    pub fn start(&self) -> f64 {
        -self.land - (self.inlet_radius - 1.0) / self.slope
    }

    /// Bore radius at a height.
    #[inline]
    pub fn radius(&self, z: f64) -> f64 {
        1.0 + (-z - self.land).max(0.0) * self.slope
    }

    /// Gas at radius `x` and height `z`: radial and axial speed. `in_cone` tells which side of the corner between cone and land is meant.
    #[inline]
    pub fn gas(&self, x: f64, z: f64, in_cone: bool) -> [f64; 2] {
        let per_radius = self.per_radius(z, in_cone);
        let across = x * per_radius;
        let axial = per_radius * per_radius * profile::speed(across.abs().min(1.0), self.plug_blend);
        let narrowing = if in_cone { -self.slope } else { 0.0 };
        [axial * across * narrowing, axial]
    }

    /// d(axial)/dr of the same gas.
    #[inline]
    pub fn shear(&self, x: f64, z: f64, in_cone: bool) -> f64 {
        let per_radius = self.per_radius(z, in_cone);
        let across = x * per_radius;
        let steepness = profile::vorticity_over_radius(across.abs().min(1.0), self.plug_blend);
        -steepness * across * per_radius.powi(3)
    }

    /// Inverse of the bore radius.
    #[inline]
    fn per_radius(&self, z: f64, in_cone: bool) -> f64 {
        if in_cone { 1.0 / (1.0 + (-z - self.land) * self.slope) } else { 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_taper_conserves_mass_and_ends_at_one() {
        let taper = Taper { inlet_radius: 10.0, slope: 0.25, land: 2.0, plug_blend: 0.3 };
        assert!((taper.start() + 2.0 + 36.0).abs() < 1e-12);
        assert!((taper.radius(taper.start()) - 10.0).abs() < 1e-12);
        // Divergence of (u_r, u_z) by central differences: (1/r) d(r u_r)/dr + du_z/dz = 0.
        let (x, z, h) = (1.3, -12.0, 1e-5);
        let radial = ((x + h) * taper.gas(x + h, z, true)[0] - (x - h) * taper.gas(x - h, z, true)[0]) / (2.0 * h * x);
        let axial = (taper.gas(x, z + h, true)[1] - taper.gas(x, z - h, true)[1]) / (2.0 * h);
        assert!((radial + axial).abs() < 1e-6 * axial.abs());
        let shear = (taper.gas(x + h, z, true)[1] - taper.gas(x - h, z, true)[1]) / (2.0 * h);
        assert!((shear - taper.shear(x, z, true)).abs() < 1e-6 * shear.abs());
    }
}
