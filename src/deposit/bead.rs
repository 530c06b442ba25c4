//! The bead that a line becomes when it carries more liquid than its own width holds.
//!
//! A line's liquid stays where it lands as long as it fits under a circular segment that meets the chip at the contact angle at most. What
//! is more pushes the contact line outward until it fits, and the particles go with the liquid. Once wetted, the chip stays wetted: the
//! contact line does not come back as the bead dries.

use crate::constants::GAS_CONSTANT;
use crate::head::drying::equilibrium_pressures;
use crate::inputs::SolventPart;
use std::f64::consts::PI;

/// Intervals of the table of a bead's quantiles.
const QUANTILES: usize = 256;

/// Area of a circular segment, m^2: A = (w / (2 sin t))^2 (t - sin t cos t).
///
/// Width w of contact, m; contact angle t, rad, above 0 and below pi. Geometry.
pub fn segment_area(width: f64, contact_angle: f64) -> f64 {
    let (sin, cos) = contact_angle.sin_cos();
    (0.5 * width / sin).powi(2) * (contact_angle - sin * cos)
}

/// Width of contact, m, of a circular segment of an area (m^2): the inverse of [`segment_area`].
pub fn segment_width(area: f64, contact_angle: f64) -> f64 {
    let (sin, cos) = contact_angle.sin_cos();
    2.0 * sin * (area / (contact_angle - sin * cos)).sqrt()
}

/// Height of a circular segment, m: h = (w/2) tan(t/2).
pub fn segment_height(width: f64, contact_angle: f64) -> f64 {
    0.5 * width * (0.5 * contact_angle).tan()
}

/// Cross-section that a resting bead loses per second, m^2/s: liquid evaporates by diffusion into still gas.
///
/// dA/dt = (pi / ln(4 L / w)) sum_i D_i (p_i - e_i) M_i / (R T rho): a strip of width w gives off vapour as a half cylinder of radius w/4
/// does (conformal mapping of a strip), to gas at a distance L that holds the vapour pressures e.
/// p_i are pressures over the liquid as it lands, Pa; `gas_vapour` e_i, Pa; T temperature of the platen, K; density rho of the liquid,
/// kg/m^3; pressure, Pa; L the `reach`, m, above w/4.
///
/// An estimate, on the slow side: the jet thins the still layer while it is above, which is a small part of the time between passes, and
/// solvents are taken as they land although the more volatile leaves first. Capacity of a strip: from memory.
pub fn drying_rate(
    width: f64,
    reach: f64,
    solvents: &[SolventPart],
    gas_vapour: &[f64],
    temperature: f64,
    pressure: f64,
    density: f64,
) -> f64 {
    let over = equilibrium_pressures(solvents, temperature);
    let vapour: f64 = solvents
        .iter()
        .zip(over)
        .zip(gas_vapour)
        .map(|((part, over), around)| {
            let diffusivity = part.solvent.vapour_diffusivity(temperature, pressure);
            diffusivity * (over - around).max(0.0) * part.solvent.molar_mass / (GAS_CONSTANT * temperature)
        })
        .sum();
    // A bead nearly as wide as the still layer is thick would make the logarithm vanish.
    PI / (4.0 * reach / width).ln().max(1.0) * vapour / density
}

/// Cross-sections of liquid and solids in a bead after each pass, m^2: each pass adds `per_pass`, of which `solids` stay, and the bead loses
/// `rate(area)` (m^2/s) over `interval` (s) before the next.
pub fn areas_by_pass(per_pass: f64, solids: f64, passes: u32, interval: f64, rate: impl Fn(f64) -> f64) -> Vec<f64> {
    debug_assert!(solids <= per_pass && interval >= 0.0);
    let mut left = 0.0;
    (1..=passes)
        .map(|pass| {
            let area: f64 = left + per_pass;
            left = (area - rate(area) * interval).max(f64::from(pass) * solids);
            area
        })
        .collect()
}

/// How a bead's solids lie across it: as the liquid's height over the contact width, a circular segment.
#[derive(Debug, Clone)]
pub struct SegmentProfile {
    /// Places, in half widths, below which 0, 1/n, 2/n ... 1 of the bead lies.
    quantiles: Vec<f64>,
}

impl SegmentProfile {
    /// For a contact angle, rad, above 0 and below pi.
    pub fn new(contact_angle: f64) -> Self {
        // By the angle a from the top: x = R sin a, height = R (cos a - cos t); the integral is R^2 ((a + sin a cos a)/2 - cos t sin a). Beyond
        // a right angle the liquid hangs over the contact line; its solids are taken to end within it, spread like the rest.
        let (sin, cos) = contact_angle.sin_cos();
        let half = if contact_angle > 0.5 * PI { PI - contact_angle } else { contact_angle };
        let below = |a: f64| 0.5 * (a + a.sin() * a.cos()) - cos * a.sin();
        let whole = below(half);
        let inner = (1..QUANTILES).map(|k| {
            let wanted = (2.0 * k as f64 / QUANTILES as f64 - 1.0) * whole;
            let (mut low, mut high) = (-half, half);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if below(middle) < wanted { low = middle } else { high = middle }
            }
            (0.5 * (low + high)).sin() / sin
        });
        // The height vanishes at the ends, so no search finds them sharply.
        Self { quantiles: std::iter::once(-1.0).chain(inner).chain(std::iter::once(1.0)).collect() }
    }

    /// Place, in half widths (-1 to 1), below which a share (0 to 1) of the bead lies.
    #[inline]
    pub fn quantile(&self, share: f64) -> f64 {
        let place = share.clamp(0.0, 1.0) * QUANTILES as f64;
        let k = (place as usize).min(QUANTILES - 1);
        let (a, b) = (self.quantiles[k], self.quantiles[k + 1]);
        a + (place - k as f64) * (b - a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::solvent::Solvent;
    use proptest::prelude::*;

    #[test]
    fn a_half_cylinder_by_hand() {
        // 10 um wide at 90 degrees: pi 25/2 = 39.26991 um^2, 5 um high.
        assert!((segment_area(10e-6, 0.5 * PI) * 1e12 - 39.269_908).abs() < 1e-6);
        assert!((segment_height(10e-6, 0.5 * PI) * 1e6 - 5.0).abs() < 1e-12);
        assert!((segment_width(39.269_908e-12, 0.5 * PI) * 1e6 - 10.0).abs() < 1e-6);
    }

    #[test]
    fn a_strip_of_water_by_hand() {
        // Water at 293.15 K: 2339 Pa, D 24.2 mm^2/s or so: 24.2e-6 * 2339 * 0.018015 / (8.31446 * 293.15) = 4.1838e-7 kg/(m s);
        // w 20 um, L 2 mm: pi / ln 400 = 0.52434; over 998.2 kg/m^3: 2.1977e-10 m^2/s = 220 um^2/s. In gas half saturated: half of it.
        let water = Solvent::built_in("water", 293.15).expect("built in");
        let own = water.vapour_diffusivity(293.15, 101_325.0) * water.saturation_pressure(293.15) / (24.2e-6 * 2339.0);
        let parts = [SolventPart { mass_fraction: 1.0, solvent: water }];
        let rate = |around: f64| drying_rate(20e-6, 2e-3, &parts, &[around], 293.15, 101_325.0, 998.2);
        assert!((rate(0.0) / (2.1977e-10 * own) - 1.0).abs() < 1e-3, "{}", rate(0.0));
        let half = 0.5 * parts[0].solvent.saturation_pressure(293.15);
        assert!((rate(half) / rate(0.0) - 0.5).abs() < 1e-9);
        assert_eq!(rate(1e5), 0.0);
    }

    #[test]
    fn passes_add_up_unless_they_dry() {
        // 10 of which 1 is solid, 4 dry away in between: 10, 16, 22. With 30: the solids stay: 10, 11, 12.
        assert_eq!(areas_by_pass(10.0, 1.0, 3, 2.0, |_| 2.0), [10.0, 16.0, 22.0]);
        assert_eq!(areas_by_pass(10.0, 1.0, 3, 2.0, |_| 15.0), [10.0, 11.0, 12.0]);
    }

    #[test]
    fn quantiles_follow_the_segments_height() {
        for degrees in [2.0, 25.0, 60.0, 90.0, 120.0, 170.0_f64] {
            let angle = degrees.to_radians();
            let profile = SegmentProfile::new(angle);
            let radius = 1.0 / angle.sin();
            let height = |x: f64| (radius * radius - x * x).max(0.0).sqrt() - radius * angle.cos();
            // Simpson over the height between two quantiles against their share.
            let integral = |a: f64, b: f64| {
                const STEPS: usize = 2000;
                let step = (b - a) / STEPS as f64;
                let inner: f64 =
                    (1..STEPS).map(|k| height(a + k as f64 * step) * if k % 2 == 1 { 4.0 } else { 2.0 }).sum();
                (height(a) + inner + height(b)) * step / 3.0
            };
            let whole = integral(-1.0, 1.0);
            if degrees <= 90.0 {
                assert!((whole / segment_area(2.0, angle) - 1.0).abs() < 1e-4, "{degrees}");
            }
            for k in [1, 16, 64, 128, 200, 255] {
                let x = profile.quantile(f64::from(k) / 256.0);
                assert!((integral(-1.0, x) / whole - f64::from(k) / 256.0).abs() < 1e-4, "{degrees} {k}");
            }
            assert!((profile.quantile(1.0) - 1.0).abs() < 1e-12 && (profile.quantile(0.0) + 1.0).abs() < 1e-12);
        }
    }

    proptest! {
        #[test]
        fn width_and_area_are_inverse_and_scale(width in 1e-7..1e-3f64, degrees in 1.0..179.0f64) {
            let angle = degrees.to_radians();
            let area = segment_area(width, angle);
            prop_assert!((segment_width(area, angle) / width - 1.0).abs() < 1e-9);
            prop_assert!((segment_area(2.0 * width, angle) / area - 4.0).abs() < 1e-9);
            prop_assert!(area > 0.0 && segment_height(width, angle) > 0.0);
        }
    }
}
