//! Droplets of a bath at 1.6 MHz. Rodes, Smith, Crouse & Ramachandran 1990, Measurements of the size distribution of aerosols produced by
//! ultrasonic humidification, Aerosol Sci. Technol. 13:220 (abstract): water with 102 mg/L of minerals, mass median 2.9 µm.
//!
//! Lang's constant of 0.34 is that of the median by number (Lang 1962, Ultrasonic atomization of liquids, J. Acoust. Soc. Am. 34:6, abstract),
//! and so the program takes it; but at 1.6 MHz, beyond Lang's range, it gives the median by mass. This holds the program to what it says of
//! that; the width of the measured sizes is not known to us, and their temperature is taken to be 20 to 40 C.

use motefall_physics::materials::solvent::Solvent;
use motefall_physics::source::atomiser::{DropletSizes, lang_median};
use motefall_physics::units::kelvin;

use super::table::close;

const FREQUENCY: f64 = 1.6e6;
const MASS_MEDIAN: f64 = 2.9e-6;
/// As for the drops measured at 1 MHz (`lang_1962`), which likewise lie beyond Lang's range.
const TOLERANCE: f64 = 0.15;
/// Geometric standard deviations of ultrasonic atomisers (common practice, no source).
const WIDTHS: [f64; 3] = [1.3, 1.5, 1.8];

fn lang(celsius: f64) -> f64 {
    let water = Solvent::built_in("water", kelvin(celsius)).expect("built in");
    lang_median(water.surface_tension, water.density, FREQUENCY)
}

#[test]
fn the_relation_gives_the_median_by_mass() {
    for celsius in [20.0, 40.0] {
        close(lang(celsius), MASS_MEDIAN, TOLERANCE, &format!("Lang against the median by mass, {celsius} C"));
    }
}

/// Were it the median by number there, half of the mass would be in droplets that are larger than measured by 23 to 180 %.
#[test]
fn taken_as_the_median_by_number_it_is_too_coarse() {
    for gsd in WIDTHS {
        let sizes = DropletSizes { median: lang(20.0), gsd };
        let ratio = sizes.volume_median() / MASS_MEDIAN;
        println!("gsd {gsd}: {ratio:.2} times the measured median by mass");
        assert!(ratio > 1.0 + TOLERANCE, "gsd {gsd}: {ratio}");
        // Divided as the help of `droplet_median_um` says, the median by number leads back to that by mass.
        let divided = DropletSizes { median: lang(20.0) / (3.0 * gsd.ln().powi(2)).exp(), gsd };
        close(divided.volume_median(), MASS_MEDIAN, TOLERANCE, &format!("divided, gsd {gsd}"));
    }
}
