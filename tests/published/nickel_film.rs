//! A film of nickel ink through a tip of 25 gauge: 2 mm/s, strokes 100 µm apart, 4 µm thick when wet; the product of the three is 48 nL/min.
//! The numbers reached us without author, year and title, so that this is a check of order only, and no evidence for the model.
//!
//! Not known to us, so assumed (common practice, no source): bore of 0.26 mm, straight over 10 mm (nominal for 25 gauge, from memory);
//! carrier 10 to 30 sccm, sheath 1 to 4 times that; droplets of 1.2 to 3 µm by count; ink of 20 % nickel by mass, from one that hardly dries
//! on its way to one of which most does; contact angle 15 to 40 degrees.

use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_run::expected::expected_in;

use super::printed_line::{Line, assumed, band};
use crate::common::{Case, jets, section, setting};

/// Wet deposit, nL/min: 2 mm/s times 100 µm times 4 µm.
const PUBLISHED: f64 = 48.0;
/// Distance of the strokes, µm.
const STEP_UM: f64 = 100.0;
/// Mist load that the program takes if none is given, µL/L.
const ASSUMED_LOAD: f64 = 10.0;
/// Fog at its thickest, µL/L.
const THICKEST_FOG: f64 = 100.0;

fn stated(carrier: f64, ratio: f64) -> Case {
    assumed()
        .set("ink.powder.0.name", "nickel")
        .set("ink.powder.0.density_g_cm3", 8.9)
        .set("head.nozzle_um", 260)
        .set("head.land_um", 10_000)
        .set("path.0.speed_mm_s", 2)
        .set("flow.carrier_sccm", carrier)
        .set("flow.sheath_sccm", carrier * ratio)
}

fn slow_to_dry(case: &Case) -> Case {
    case.clone().set("ink.solvent", vec![section("name = 'ethylene glycol'\nmass_percent = 100")])
}

/// Wet deposit for a mist load of 1 µL/L, nL/min: solids and what is left of the liquid of the ink that lands.
fn deposit_per_load(case: &Case) -> f64 {
    let case = case.clone().set("atomiser.mist_load_ul_per_l", 1);
    let inputs = case.inputs();
    let expected = expected_in(&inputs, &Atlas::new(&jets()), &Silent).unwrap_or_else(|error| panic!("{error}"));
    let row = expected.figures.iter().find(|row| row.kind.id == "landed_percent").expect("a figure of the print");
    let landed = row.value.as_ref().expect("known").mean;
    let ink = &inputs.layers[0].ink;
    let conditions = &setting(&inputs).layers[0].conditions;
    let solids = conditions.ink_density * ink.powders[0].mass_fraction / ink.powders[0].density;
    let wet = solids + (1.0 - solids) * conditions.liquid_left;
    // 1 µL/L of 1 mL/min is 1 nL/min.
    inputs.layers[0].flows.carrier.0 * 60.0 * 1e6 * landed * wet
}

/// The mist load that the published rate takes: for an ink that hardly dries a usual one, and the assumed one of the program lies in the band.
///
/// The band is wide, as carrier (3), droplets (2.7) and their losses are unknown: it holds the program's losses to an order of magnitude. Of an
/// ink that is mostly water, most dries on the way: with coarse droplets and little carrier the rate would take more than fog can hold, so
/// that not all that is assumed here can hold together.
#[test]
fn the_published_rate_takes_a_usual_mist() {
    let load = |case: Case, median: f64| PUBLISHED / deposit_per_load(&case.set("atomiser.droplet_median_um", median));
    let slow = [load(slow_to_dry(&stated(30.0, 2.0)), 1.2), load(slow_to_dry(&stated(10.0, 2.0)), 3.0)];
    let quick = [load(stated(30.0, 2.0), 1.2), load(stated(10.0, 2.0), 3.0)];
    println!("mist load {slow:.1?} uL/L if it hardly dries, {quick:.1?} uL/L if most does");
    let [least, most] = band(&slow);
    assert!((least..most).contains(&ASSUMED_LOAD) && most < THICKEST_FOG, "{least} to {most} uL/L");
    assert!(quick[0] < THICKEST_FOG && quick[1] > THICKEST_FOG, "{quick:?} uL/L");
}

/// Strokes 100 µm apart make a film if lines of that rate are as wide. With as much sheath as carrier they are; with four times as much it
/// depends on droplets and contact angle.
#[test]
fn lines_of_the_published_rate_close_to_a_film_if_little_focused() {
    let width = |ratio: f64, angle: u32, median: f64| {
        let case =
            stated(15.0, ratio).set("landing.contact_angle_deg", angle).set("atomiser.droplet_median_um", median);
        let load = PUBLISHED / deposit_per_load(&case);
        Line::of(&case.set("atomiser.mist_load_ul_per_l", load)).edge_width()
    };
    let widths = [width(1.0, 15, 1.2), width(1.0, 40, 3.0), width(4.0, 15, 3.0), width(4.0, 40, 1.2)];
    println!("{widths:.1?} um");
    assert!(widths[..2].iter().all(|width| *width > STEP_UM), "{widths:?}");
    let [low, high] = band(&widths);
    assert!((low..high).contains(&STEP_UM), "{low} to {high} um");
}
