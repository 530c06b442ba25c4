//! The mist as it leaves the atomiser: droplet sizes, and which particles ride in them.

use std::f64::consts::PI;

use crate::inputs::{Atomiser, DropletMedian, Ink, Layer, Powder};
use crate::materials::sizes::SizeDistribution;
use crate::materials::solvent::{Solvent, mixture_density, mixture_surface_tension};

/// Frequencies (Hz) of Lang's experiments. At the MHz of ink atomisers the relation is an extrapolation: +-30 % and more.
pub const LANG_RANGE: [f64; 2] = [10e3, 800e3];

/// Median droplet diameter, m, from an ultrasonic surface: d = 0.34 (8 pi sigma/(rho f^2))^(1/3).
///
/// `surface_tension` sigma (N/m) and `density` rho (kg/m^3) of the liquid, `frequency` f (Hz). Range: [`LANG_RANGE`].
/// Source: Lang 1962, Ultrasonic atomization of liquids, J. Acoust. Soc. Am. 34:6, whose constant is that of the median by number (abstract),
/// and so it is taken. A bath at 1.6 MHz, beyond his range, had about this as its median by mass (Rodes et al. 1990), which is larger, see
/// [`DropletSizes::volume_median`]. Measure.
pub fn lang_median(surface_tension: f64, density: f64, frequency: f64) -> f64 {
    0.34 * (8.0 * PI * surface_tension / (density * frequency * frequency)).cbrt()
}

/// Count median droplet diameter, m, of an atomiser with an ink of a surface tension (N/m) and density (kg/m^3).
pub(crate) fn droplet_median(atomiser: &Atomiser, surface_tension: f64, density: f64) -> f64 {
    match atomiser.median {
        DropletMedian::Measured(median) => median,
        DropletMedian::Ultrasonic(frequency) => lang_median(surface_tension, density, frequency),
    }
}

/// Volume of a sphere, m^3, of a diameter (m).
pub fn sphere_volume(diameter: f64) -> f64 {
    PI / 6.0 * diameter.powi(3)
}

/// Lognormal droplet sizes by number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropletSizes {
    /// Count median diameter, m.
    pub median: f64,
    /// Geometric standard deviation, at least 1.
    pub gsd: f64,
}

impl DropletSizes {
    /// Mean droplet volume, m^3: (pi/6) CMD^3 exp(4.5 ln^2 gsd) (Hatch & Choate 1929).
    pub fn mean_volume(&self) -> f64 {
        sphere_volume(self.median) * (4.5 * self.gsd.ln().powi(2)).exp()
    }

    /// Volume median diameter, m: CMD exp(3 ln^2 gsd) (Hatch & Choate 1929).
    pub fn volume_median(&self) -> f64 {
        self.median * (3.0 * self.gsd.ln().powi(2)).exp()
    }

    /// Diameter, m, at a standard normal deviate z: CMD gsd^z.
    #[inline]
    pub fn at_deviate(&self, z: f64) -> f64 {
        self.median * (z * self.gsd.ln()).exp()
    }
}

/// Which particles ride in a droplet: P(x) = 1/(1 + (x/midpoint)^steepness) for x = d_particle/d_droplet below 1, else 0.
///
/// A particle as large as its droplet or larger cannot ride. The curve is an assumption (common practice, no source); its two numbers are
/// inputs to be measured by comparing printed sizes with the powder as received.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Retention {
    /// Ratio at which half the particles ride.
    pub(crate) midpoint: f64,
    /// Exponent.
    pub(crate) steepness: f64,
}

impl Retention {
    /// From the atomiser's inputs.
    pub fn of(atomiser: &Atomiser) -> Self {
        Self { midpoint: atomiser.retention_midpoint, steepness: atomiser.retention_steepness }
    }

    /// Probability that a particle of a diameter (m) rides in a droplet of a diameter (m).
    #[inline]
    pub fn probability(&self, particle: f64, droplet: f64) -> f64 {
        let x = particle / droplet;
        if x >= 1.0 { 0.0 } else { 1.0 / (1.0 + (x / self.midpoint).powf(self.steepness)) }
    }
}

/// Density of the liquid of an ink, kg/m^3, without change of volume on mixing.
pub(crate) fn liquid_density(ink: &Ink) -> f64 {
    let parts: Vec<_> = ink.solvents.iter().map(|s| (s.mass_fraction, s.solvent.density)).collect();
    mixture_density(&parts)
}

/// Density of an ink with its powders, kg/m^3, without change of volume on mixing.
pub fn ink_density(ink: &Ink) -> f64 {
    let mut parts: Vec<_> = ink.powders.iter().map(|p| (p.mass_fraction, p.density)).collect();
    let solids: f64 = parts.iter().map(|(w, _)| w).sum();
    parts.extend(ink.solvents.iter().map(|s| (s.mass_fraction * (1.0 - solids), s.solvent.density)));
    mixture_density(&parts)
}

/// Particles of a powder per volume of ink, 1/m^3: w rho_ink/(rho_powder (pi/6) E[d^3]).
pub fn number_concentration(powder: &Powder, ink_density: f64) -> f64 {
    powder.mass_fraction * ink_density / (powder.density * PI / 6.0 * powder.sizes.moment(3))
}

/// Expected share of a powder's particles that may ride in a droplet of a diameter (m): E[P(d_p/d); d_p < d] by number.
pub(crate) fn rideable_share(sizes: &SizeDistribution, retention: Retention, droplet: f64) -> f64 {
    sizes.expectation_between(0.0, droplet, |d| retention.probability(d, droplet))
}

/// Expected number of particles in a droplet of a diameter (m): concentration (1/m^3) times its volume times `rideable_share`.
pub fn rideable_number(sizes: &SizeDistribution, concentration: f64, retention: Retention, droplet: f64) -> f64 {
    concentration * sphere_volume(droplet) * rideable_share(sizes, retention, droplet)
}

/// Standard deviations of the droplet sizes covered by the averages below.
const DROPLET_TAIL: f64 = 8.0;
/// Steps of those averages; the trapezoidal rule on a bell curve converges faster than any power.
const DROPLET_STEPS: usize = 160;

/// Average of `f(diameter)` over droplets weighted by number (`power` 0) or by volume (`power` 3).
fn droplet_mean(droplets: &DropletSizes, power: f64, f: impl Fn(f64) -> f64) -> f64 {
    let sigma = droplets.gsd.ln();
    let middle = droplets.median * (power * sigma * sigma).exp();
    let (mut sum, mut weights) = (0.0, 0.0);
    for i in 0..=DROPLET_STEPS {
        let z = DROPLET_TAIL * (2.0 * i as f64 / DROPLET_STEPS as f64 - 1.0);
        let weight = (-0.5 * z * z).exp();
        sum += weight * f(middle * (z * sigma).exp());
        weights += weight;
    }
    sum / weights
}

/// Share of a powder's mass in the atomised ink that can ride in its droplets, 0 to 1. The rest stays in the vial.
///
/// Average over the droplets, by volume, of E[d_p^3 P(d_p/d); d_p < d]/E[d_p^3].
pub fn printable_mass_share(sizes: &SizeDistribution, retention: Retention, droplets: &DropletSizes) -> f64 {
    let whole = sizes.moment(3);
    droplet_mean(droplets, 3.0, |droplet| {
        sizes.expectation_between(0.0, droplet, |d| d.powi(3) * retention.probability(d, droplet)) / whole
    })
}

/// Mean number of a powder's particles per droplet, over all droplets.
pub fn mean_particles_per_droplet(
    sizes: &SizeDistribution,
    concentration: f64,
    retention: Retention,
    droplets: &DropletSizes,
) -> f64 {
    concentration * droplets.mean_volume() * droplet_mean(droplets, 3.0, |d| rideable_share(sizes, retention, d))
}

/// Droplet sizes of a layer's atomiser.
pub fn nominal_droplets(layer: &Layer) -> DropletSizes {
    DropletSizes {
        median: droplet_median(&layer.atomiser, surface_tension(&layer.ink), liquid_density(&layer.ink)),
        gsd: layer.atomiser.gsd,
    }
}

/// Mass fractions of the solvents with a property of each.
pub fn liquid_parts(ink: &Ink, property: fn(&Solvent) -> f64) -> Vec<(f64, f64)> {
    ink.solvents.iter().map(|part| (part.mass_fraction, property(&part.solvent))).collect()
}

/// Surface tension of the ink's liquid, N/m.
pub fn surface_tension(ink: &Ink) -> f64 {
    mixture_surface_tension(&liquid_parts(ink, |s| s.surface_tension))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::sizes::{LognormalMode, Weighting};

    fn powder(median: f64, gsd: f64) -> SizeDistribution {
        let mode = LognormalMode { share: 1.0, median, gsd, weighting: Weighting::Number };
        SizeDistribution::from_modes(&[mode]).expect("valid")
    }

    #[test]
    fn lang_for_water_at_2_4_megahertz_by_hand() {
        // 8 pi 0.07274/(998.208 * (2.4e6)^2) = 1.828155/5.749678e15 = 3.179578e-16; cube root 6.8252e-6; * 0.34 = 2.3206e-6
        assert!((lang_median(0.072_74, 998.208, 2.4e6) / 2.320_6e-6 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn droplet_volumes_by_hand() {
        // gsd e^0.4: 4.5 * 0.16 = 0.72, e^0.72 = 2.054433; (pi/6) 8e-18 = 4.188790e-18; product 8.605589e-18
        let d = DropletSizes { median: 2e-6, gsd: 0.4f64.exp() };
        assert!((d.mean_volume() / 8.605_589e-18 - 1.0).abs() < 1e-6);
        // e^(3 * 0.16) = 1.616074
        assert!((d.volume_median() / 3.232_149e-6 - 1.0).abs() < 1e-6);
        assert!((droplet_mean(&d, 0.0, sphere_volume) / d.mean_volume() - 1.0).abs() < 1e-9);
        // all droplets alike are allowed
        let same = DropletSizes { median: 2e-6, gsd: 1.0 };
        assert!((droplet_mean(&same, 3.0, |x| x) / 2e-6 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn retention_at_its_points() {
        let r = Retention { midpoint: 1.0 / 3.0, steepness: 6.0 };
        assert!((r.probability(1.0, 3.0) - 0.5).abs() < 1e-12);
        // x = 1/6, (1/2)^6 = 1/64: 64/65
        assert!((r.probability(1.0, 6.0) - 64.0 / 65.0).abs() < 1e-12);
        assert_eq!(r.probability(3.0, 3.0), 0.0);
        assert_eq!(r.probability(0.0, 3.0), 1.0);
    }

    #[test]
    fn a_fine_powder_rides_whole_and_a_coarse_one_not() {
        let r = Retention { midpoint: 1.0 / 3.0, steepness: 6.0 };
        let droplets = DropletSizes { median: 2e-6, gsd: 1.4 };
        let fine = powder(20e-9, 1.2);
        assert!(printable_mass_share(&fine, r, &droplets) > 0.999_99);
        // concentration times the mean volume when everything rides: 1e17 * (pi/6) 8e-18 e^(4.5 ln^2 1.4) = 0.697
        let n = mean_particles_per_droplet(&fine, 1e17, r, &droplets);
        assert!((n / (1e17 * droplets.mean_volume()) - 1.0).abs() < 1e-5);
        assert!(printable_mass_share(&powder(20e-6, 1.2), r, &droplets) < 1e-6);
        let one = rideable_number(&fine, 1e17, r, 2e-6);
        assert!((one / (1e17 * sphere_volume(2e-6)) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn the_printable_share_agrees_with_plain_counting() {
        // Midpoint sums over 1000 x 1000 quantiles against the quadrature; the cut tails cost about 1 %.
        let r = Retention { midpoint: 0.3, steepness: 5.0 };
        let droplets = DropletSizes { median: 2e-6, gsd: 1.5 };
        let sizes = powder(0.5e-6, 1.5);
        let n = 1000;
        let d: Vec<f64> = (0..n).map(|i| sizes.quantile((i as f64 + 0.5) / n as f64)).collect();
        let drop = powder(droplets.volume_median(), 1.5);
        let w: Vec<f64> = (0..n).map(|i| drop.quantile((i as f64 + 0.5) / n as f64)).collect();
        let whole: f64 = d.iter().map(|x| x.powi(3)).sum::<f64>() * n as f64;
        let riding: f64 = w.iter().flat_map(|b| d.iter().map(|x| x.powi(3) * r.probability(*x, *b))).sum();
        let counted = riding / whole;
        let exact = printable_mass_share(&sizes, r, &droplets);
        assert!((counted / exact - 1.0).abs() < 0.02, "{counted} {exact}");
    }
}
