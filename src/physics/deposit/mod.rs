//! What a droplet does on contact: how far it spreads and where its particles come to lie.

pub mod bead;
pub mod wind;

use crate::inputs::{Landing, SpreadRule};
use crate::quick;

/// Splash parameter above which droplets may splash: K = We^(1/2) Re^(1/4) > 57.7.
/// Source: Mundo, Sommerfeld & Tropea 1995, Droplet-wall collisions: experimental studies of the deformation and breakup process,
/// Int. J. Multiphase Flow 21:151.
pub const SPLASH_LIMIT: f64 = 57.7;

/// Weber number, rho v^2 d / sigma.
pub fn weber(density: f64, speed: f64, diameter: f64, surface_tension: f64) -> f64 {
    density * speed * speed * diameter / surface_tension
}

/// Reynolds number of an impact, rho v d / mu.
#[inline]
pub fn impact_reynolds(density: f64, speed: f64, diameter: f64, viscosity: f64) -> f64 {
    density * speed * diameter / viscosity
}

/// Splash parameter K = We^(1/2) Re^(1/4) (Mundo et al. 1995).
pub fn splash_parameter(weber: f64, reynolds: f64) -> f64 {
    weber.sqrt() * reynolds.powf(0.25)
}

/// Contact diameter over droplet diameter of a spherical cap of the same volume: 2 / (t (3 + t^2))^(1/3), t = tan(angle/2).
///
/// From V = pi h (3 a^2 + h^2)/6 with h = a t and V = pi d^3/6. `contact_angle` in rad, above 0 and below pi.
pub fn cap_ratio(contact_angle: f64) -> f64 {
    let t = (0.5 * contact_angle).tan();
    2.0 / (t * (3.0 + t * t)).cbrt()
}

/// Largest spread on impact over droplet diameter: 0.61 (Re^2 Oh)^0.166, Oh = mu / sqrt(rho sigma d).
///
/// Source: Scheller & Bousfield 1995, Newtonian drop impact with a solid surface, AIChE J. 41:1357. Their drops were millimetres
/// large at Re 19 to 16,400 and Oh 0.002 to 0.58; droplets of micrometres are an extrapolation in size, not in these numbers.
#[inline]
pub fn impact_ratio(reynolds: f64, ohnesorge: f64) -> f64 {
    0.61 * quick::exp(0.166 * quick::ln(reynolds * reynolds * ohnesorge))
}

/// Spreading of wet droplets of one ink.
#[derive(Debug, Clone)]
pub struct Spreading {
    cap: f64,
    rule: SpreadRule,
    viscosity: f64,
    surface_tension: f64,
    rim_bias: f64,
}

impl Spreading {
    /// For an ink of a viscosity (Pa s) and a surface tension (N/m). Solids are not counted in the viscosity: inks here are dilute.
    pub fn new(landing: &Landing, viscosity: f64, surface_tension: f64) -> Self {
        Self {
            cap: cap_ratio(landing.contact_angle),
            rule: landing.spread,
            viscosity,
            surface_tension,
            rim_bias: landing.rim_bias,
        }
    }

    /// Radius of the footprint, m, of a wet droplet of a diameter (m) and density (kg/m^3) at an impact speed (m/s); never less
    /// than the droplet's own radius.
    #[inline]
    pub fn footprint(&self, diameter: f64, density: f64, speed: f64) -> f64 {
        let impact = || {
            let reynolds = impact_reynolds(density, speed, diameter, self.viscosity);
            let ohnesorge = self.viscosity / (density * self.surface_tension * diameter).sqrt();
            impact_ratio(reynolds, ohnesorge)
        };
        let ratio = match self.rule {
            SpreadRule::Cap => self.cap,
            SpreadRule::Impact => impact(),
            SpreadRule::Larger => self.cap.max(impact()),
        };
        0.5 * diameter * ratio.max(1.0)
    }

    /// Splash parameter of a droplet.
    pub fn splash(&self, diameter: f64, density: f64, speed: f64) -> f64 {
        splash_parameter(
            weber(density, speed, diameter, self.surface_tension),
            impact_reynolds(density, speed, diameter, self.viscosity),
        )
    }

    /// Place of a particle in a unit footprint, from a point `[a, b]` drawn evenly from the unit disc: even, or pushed outward.
    ///
    /// The squared radius s (even in 0..1) becomes s^(1 - bias): bias 0 leaves it even, bias 1 puts everything on the rim.
    #[inline]
    pub fn place(&self, [a, b]: [f64; 2]) -> [f64; 2] {
        if self.rim_bias == 0.0 {
            return [a, b];
        }
        let s = (a * a + b * b).max(1e-30);
        let push = s.powf(-0.5 * self.rim_bias);
        [a * push, b * push]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::BeadRule;

    fn spreading(rim_bias: f64) -> Spreading {
        let landing = Landing {
            contact_angle: 30f64.to_radians(),
            spread: SpreadRule::Larger,
            rim_bias,
            bounce: None,
            residue_packing: 0.5,
            bead: BeadRule::Keep,
            chip_temperature: 295.15,
        };
        Spreading::new(&landing, 0.005, 0.04)
    }

    #[test]
    fn a_5_um_droplet_at_20_m_s_by_hand() {
        // Re = 1000 * 20 * 5e-6/0.005 = 20; We = 1000 * 400 * 5e-6/0.04 = 50; Oh = 0.005/sqrt(1000 * 0.04 * 5e-6) = 0.35355
        // 0.61 (400 * 0.35355)^0.166 = 0.61 * 141.42^0.166 = 0.61 * 2.2751 = 1.3878; K = 7.0711 * 2.1147 = 14.953
        // cap at 30 degrees: t = 0.267949, t (3 + t^2) = 0.823086, cbrt 0.937183, ratio 2.134054
        assert!((impact_ratio(20.0, 0.353_553) - 1.3878).abs() < 1e-3);
        assert!((cap_ratio(30f64.to_radians()) - 2.1341).abs() < 1e-4);
        let s = spreading(0.0);
        assert!((s.footprint(5e-6, 1000.0, 20.0) - 0.5 * 5e-6 * 2.1341).abs() < 1e-9);
        assert!((s.splash(5e-6, 1000.0, 20.0) - 14.953).abs() < 1e-3);
    }

    #[test]
    fn rim_bias_pushes_outward_and_keeps_the_direction() {
        assert_eq!(spreading(0.0).place([0.3, 0.4]), [0.3, 0.4]);
        let [a, b] = spreading(1.0).place([0.3, 0.4]);
        assert!((a.hypot(b) - 1.0).abs() < 1e-12 && (b / a - 4.0 / 3.0).abs() < 1e-12);
    }
}
