//! Straight flight from the exit plane: the one case whose profile is known in closed form.
//!
//! A developed flow 2(1 - r^2/R^2) carries the mist evenly inside the core radius rc, so a line along x receives at the distance y
//! h(y) ~ 2 L [1 - (y^2 + L^2/3)/R^2], L = sqrt(rc^2 - y^2), the flow through the chord; rc = R sqrt(1 - sqrt(1 - q)), q the
//! carrier's share of the flow. Integrals of that by hand (or numerically); no source is needed.

use crate::common::{Case, mean};
use std::collections::HashSet;

/// Nozzle radius, m. Large, so that footprints of a micrometre do not blur the profile.
pub(super) const RADIUS: f64 = 500e-6;

/// A long line under a wide nozzle: small droplets, wet air all the way, a steady mist, no wander of the stage. Particles stay
/// where their droplets land, because the laws here are those of landing, whatever the liquid does afterwards. Invented.
pub(super) const LINE: &str = r#"
name = "straight line"
seed = 11
prints = 1
path = [{ kind = "line", name = "line", from_um = [-5000, 0], to_um = [5000, 0], speed_mm_s = 10 }]
tube = [{ length_mm = 20, bore_mm = 4, inclination_deg = 90 }]
gas = { carrier_saturation = 1, sheath_saturation = 1 }
flow = { carrier_sccm = 10, sheath_sccm = 50 }
head = { inlet_bore_mm = 4, mixing_length_mm = 5, half_angle_deg = 10, nozzle_um = 1000 }
flight = { stand_off_mm = 5, model = "straight" }
landing = { bead = "keep" }
stage = { acceleration_m_s2 = 100, jitter_um = 0, run_up_um = 1000, shutter_open_ms = 0, shutter_close_ms = 0 }
output = { run_in_deficit_percent = 0, noise_percent = 0 }
chip = { width_mm = 14, height_mm = 4 }
map = { pitch_um = 4, margin_um = 600 }

[ink]
solvent = [{ name = "ethylene glycol" }]
powder = [{ name = "alumina", mass_percent = 0.5, density_g_cm3 = 3.95, sizes = [{ median_um = 0.12, gsd = 1.05 }] }]

[atomiser]
droplet_median_um = 1
droplet_gsd = 1.05
mist_load_ul_per_l = 1.5
"#;

/// Thickness at the distance `y`, any unit, for a core radius; lengths in nozzle radii.
pub(super) fn thickness(y: f64, core: f64) -> f64 {
    let half_chord = (core * core - y * y).max(0.0).sqrt();
    2.0 * half_chord * (1.0 - (y * y + half_chord * half_chord / 3.0))
}

/// Core radius over nozzle radius for a sheath-to-carrier ratio.
pub(super) fn core_radius(ratio: f64) -> f64 {
    let q = 1.0 / (1.0 + ratio);
    (1.0 - (1.0 - q).sqrt()).sqrt()
}

/// Full width at half maximum over core diameter.
pub(super) fn width_over_core(core: f64) -> f64 {
    let (mut low, mut high) = (0.0, core);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if thickness(middle, core) > 0.5 * thickness(0.0, core) { low = middle } else { high = middle }
    }
    low / core
}

/// Share of the mist below each of even places from -core to core, by Simpson's rule on the angle y = core sin(a).
fn cumulative(core: f64, steps: usize) -> Vec<f64> {
    let density = |a: f64| thickness(core * a.sin(), core) * core * a.cos();
    let mut sum = 0.0;
    let mut sums = vec![0.0];
    for k in 0..steps {
        let at = |share: f64| std::f64::consts::PI * ((k as f64 + share) / steps as f64 - 0.5);
        sum += density(at(0.0)) + 4.0 * density(at(0.5)) + density(at(1.0));
        sums.push(sum);
    }
    sums.iter().map(|s| s / sum).collect()
}

/// Largest distance between the shares of sorted values and the closed form (Kolmogorov-Smirnov).
fn largest_distance(values: &[f64], core: f64) -> f64 {
    const STEPS: usize = 20_000;
    let law = cumulative(core, STEPS);
    let n = values.len() as f64;
    values
        .iter()
        .enumerate()
        .map(|(k, y)| {
            let place =
                ((y / core).clamp(-1.0, 1.0).asin() / std::f64::consts::PI + 0.5).clamp(0.0, 1.0) * STEPS as f64;
            let share = law[place.round() as usize];
            (share - k as f64 / n).abs().max((share - (k + 1) as f64 / n).abs())
        })
        .fold(0.0, f64::max)
}

#[test]
fn line_profile_and_width_follow_the_closed_form() {
    for (ratio, known) in [(1.0, 0.812), (2.0, 0.835), (5.0, 0.853), (10.0, 0.859)] {
        let core = core_radius(ratio);
        assert!((width_over_core(core) - known).abs() < 5e-4, "closed form at {ratio}: {}", width_over_core(core));

        let prediction = Case::from_text(LINE).set("flow.sheath_sccm", 10.0 * ratio).set("prints", 6).predict();
        assert!((prediction.layers[0].conditions.core_radius / (core * RADIUS) - 1.0).abs() < 1e-9);
        // Read off the map as a user sees it.
        let width = mean(&prediction, "line_width_um", Some("line")) / (2.0 * core * RADIUS);
        println!("sheath/carrier {ratio}: FWHM/core diameter {width:.4}, known {known}");
        assert!((width / known - 1.0).abs() < 0.01, "sheath/carrier {ratio}: {width} is not {known}");

        // One particle of each droplet, so that they are independent.
        let mut seen = HashSet::new();
        let first = prediction.pile.particles().iter().filter(|particle| seen.insert(particle.droplet));
        let mut places: Vec<f64> = first.map(|particle| particle.y / RADIUS).collect();
        places.sort_by(f64::total_cmp);
        // sqrt(n) D exceeds 2.69 with a probability of 2 exp(-2 * 2.69^2) = 1e-6. n is about 3e5: a distance of 0.005 is noticed.
        let n = places.len();
        let limit = 2.69 / (n as f64).sqrt();
        let distance = largest_distance(&places, core);
        // Planted fault: a core 2 % too wide must be noticed.
        let wide: Vec<f64> = places.iter().map(|y| 1.02 * y).collect();
        let planted = largest_distance(&wide, core);
        println!("  n {n}, largest distance {distance:.5}, limit {limit:.5}, of a core 2 % too wide {planted:.5}");
        assert!(n > 200_000, "{n} droplets are too few");
        assert!(distance < limit, "sheath/carrier {ratio}: {distance} over {limit}");
        assert!(planted > limit, "a core 2 % too wide is not noticed");
    }
}
