//! The expected deposit against the means of prints, and against itself.

use crate::common::{Case, jets};
use motefall_figures::expected::{Distance, Expected, distances};
use motefall_figures::{CautionKind, Grid, Prediction};
use motefall_physics::inputs::{Inputs, Outline};
use motefall_run::atlas::Atlas;
use motefall_run::expected::{expected_in, map_as_set};
use motefall_run::{Silent, predict_in};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};

fn expect(inputs: &Inputs) -> Expected {
    expected_in(inputs, &Atlas::new(&jets()), &Silent).expect("it runs")
}

fn mean(expected: &Expected, id: &str, place: Option<&str>) -> f64 {
    let row = expected.figures.iter().find(|row| row.kind.id == id && row.place.as_deref() == place);
    row.and_then(|row| row.value.as_ref()).unwrap_or_else(|| panic!("{id} of {place:?} is known")).mean
}

/// Every figure that both give, of five scenarios with and without spread, layers, dry and wet lines: the mean of the prints lies within what
/// chance exceeds in one figure of a million (4.9 standard errors of many prints). Smallest error that would show: about 1 % of the mass on a
/// target (300 prints that scatter by 3.5 %), 0.2 % of the share on target.
#[test]
fn prints_scatter_about_what_is_expected() {
    let mut squares = vec![];
    for (name, prints, has_spread, bead) in [
        ("sodium-chip", 300, true, "keep"),
        ("sodium-chip", 300, false, "keep"),
        ("window-sweep", 150, false, "keep"),
        ("two-electrode-cell", 80, true, "spread"),
        ("usual-mist-chip", 150, true, "spread"),
        ("first-line", 20, false, "spread"),
    ] {
        let case = Case::shipped(name).set("prints", prints).set("landing.bead", bead);
        let has_own = !case.inputs().spread.is_empty();
        let inputs = if has_own && !has_spread { case.without("spread").inputs() } else { case.inputs() };
        let printed = predict_in(&inputs, &Atlas::new(&jets()), &Silent).expect("it runs");
        let (mut compared, mut worst) = (0, 0.0_f64);
        for (row, Distance { errors, most }) in distances(&printed.figures) {
            let place = row.place.as_deref().unwrap_or("");
            println!("{name} {:24} {place:20} {errors:+.2}", row.kind.id);
            assert!(errors.abs() < most, "{name}: {} of {place} is {errors} standard errors off", row.kind.id);
            squares.push(errors * errors);
            (compared, worst) = (compared + 1, worst.max(errors.abs()));
        }
        println!("{name}: {compared} figures, at most {worst:.2} off");
        assert!(compared > 20, "{name}: {compared}");
        scatter_as_expected(name, &printed);
        let told = controlled_as_expected(name, &printed);
        assert!(told >= if name == "sodium-chip" && has_spread { 10 } else { 0 }, "{name}: {told}");
        assert!(printed.cautions.iter().all(|caution| caution.kind != CautionKind::NotAsExpected));
    }
    let rms = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
    println!("{} figures, rms {rms:.2}", squares.len());
    // Figures of one scenario go together, so that no law tells how far from 1 this may be: a plain bound.
    assert!((0.5..1.5).contains(&rms), "{rms}");
}

/// Means freed of what the inputs drawn did, where that brings about half of the variance and more: as expected, within 4.9 standard errors, of
/// which there are fewer than of the plain means. How many there are.
fn controlled_as_expected(name: &str, printed: &Prediction) -> usize {
    let told = printed.figures.iter().filter_map(|row| Some((row, row.controlled.filter(|c| c.saved > 0.5)?)));
    let mut count = 0;
    for (row, controlled) in told {
        let expected = row.expected.as_ref().expect("it is controlled by it");
        let half = 0.5 * (controlled.interval[1] - controlled.interval[0]);
        let errors = (controlled.mean - expected.mean) / (half / 1.96).hypot(expected.error);
        println!("{name} {} {:?} freed: {errors:+.2}, {:.2} saved", row.kind.id, row.place, controlled.saved);
        assert!(errors.abs() < 4.9, "{name}: {} of {:?} is {errors} standard errors off", row.kind.id, row.place);
        let [low, high] = row.estimate.and_then(|estimate| estimate.interval).expect("it has an interval");
        assert!(half < 0.75 * 0.5 * (high - low), "{name}: {}", row.kind.id);
        count += 1;
    }
    count
}

/// Twenty settings at random: flows, nozzle, stand-off, droplets, mist, speed, passes, spacing, direction and contact angle; wet and dry; with
/// and without what differs between prints (but flows, which would take jets of their own).
///
/// One figure of each that is counted over many droplets, the mass that landed on target: the sum of the squared distances is chi-square of
/// twenty degrees of freedom, two-sided at 1e-6 between 2.6 and 71. The smallest error that shows: one of all means by twice their standard
/// error of 60 prints, mostly below 2 %. Every other figure as above.
#[test]
fn settings_at_random_scatter_about_what_is_expected() {
    let (mut squares, mut told) = (vec![], 0);
    for number in 0..20 {
        let inputs = at_random(number).inputs();
        let printed = predict_in(&inputs, &Atlas::new(&jets()), &Silent).expect("it runs");
        let mut worst = (0.0_f64, "");
        for (row, Distance { errors, most }) in distances(&printed.figures) {
            let place = row.place.as_deref().unwrap_or("");
            assert!(errors.abs() < most, "{number}: {} of {place} is {errors} standard errors off", row.kind.id);
            if row.kind.id == "mass_pg" && place == "target" {
                squares.push(errors * errors);
            }
            if errors.abs() > worst.0.abs() {
                worst = (errors, row.kind.id);
            }
            told += 1;
        }
        let beads = printed.cautions.iter().filter(|caution| caution.kind == CautionKind::Bead).count();
        println!("{number}: {} off by {:.2}, {beads} beads", worst.1, worst.0);
    }
    let sum: f64 = squares.iter().sum();
    println!("{told} figures; {} on target, sum of squares {sum:.1}", squares.len());
    assert!(squares.len() >= 18 && (2.6..71.0).contains(&sum), "{sum} of {}", squares.len());
}

/// One of the settings.
fn at_random(number: u64) -> Case {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(number);
    let mut even = |low: f64, high: f64| low + (high - low) * random.random::<f64>();
    let case = Case::shipped(["sodium-chip", "sodium-chip", "usual-mist-chip"][even(0.0, 3.0) as usize])
        .set("prints", 60)
        .set("flow.carrier_sccm", even(4.0, 20.0))
        .set("flow.sheath_sccm", even(15.0, 90.0))
        .set("head.nozzle_um", [100, 150, 200, 250][even(0.0, 4.0) as usize])
        .set("flight.stand_off_mm", even(1.0, 5.0))
        .set("atomiser.droplet_median_um", even(1.2, 3.5))
        .set("atomiser.droplet_gsd", even(1.2, 1.7))
        .set("atomiser.mist_load_ul_per_l", 10f64.powf(even(-0.3, 1.0)))
        .set("path.0.speed_mm_s", even(1.0, 8.0))
        .set("path.0.passes", [1, 2, 4][even(0.0, 3.0) as usize])
        .set("path.0.spacing_um", even(3.0, 9.0))
        .set("path.0.rotation_deg", [90, 90, 30, 75][even(0.0, 4.0) as usize])
        .set("landing.contact_angle_deg", [10, 25, 60][even(0.0, 3.0) as usize]);
    if even(0.0, 1.0) < 0.5 {
        return case.without("spread");
    }
    case.without("spread.carrier").without("spread.sheath").without("spread.stand_off")
}

/// Standard deviations of figures of enough particles are those expected: within five standard errors of that of a normal law, and a tenth for
/// what is left out (two inputs together, noise by how near the jet is).
fn scatter_as_expected(name: &str, printed: &Prediction) {
    let particles = |place: &str| {
        let mut rows = printed.figures.iter();
        let row = rows.find(|row| row.kind.id == "particles" && row.place.as_deref() == Some(place));
        row.and_then(|row| row.estimate.as_ref()).map_or(0.0, |estimate| estimate.mean)
    };
    let mut compared = 0;
    for row in &printed.figures {
        let place = row.place.as_deref();
        let is_told = place.is_none_or(|place| particles(place) > 50.0) && !row.kind.is_share_of_prints();
        let (Some(estimate), Some(expected)) = (&row.estimate, &row.expected) else { continue };
        let (Some(sd), Some(expected)) = (estimate.sd, expected.sd().filter(|sd| *sd > 0.0)) else { continue };
        if is_told && estimate.n > 10 && sd > 0.0 {
            let ratio = sd / expected;
            let room = 5.0 / (2.0 * f64::from(estimate.n - 1)).sqrt() + 0.1;
            println!("{name} {:24} {:20} sd {ratio:.2} of expected", row.kind.id, place.unwrap_or(""));
            assert!(ratio.ln().abs() < room, "{name}: {} of {place:?} scatters {ratio} times as expected", row.kind.id);
            compared += 1;
        }
    }
    assert!(compared >= 10, "{name}: {compared}");
}

/// Without chance, what must be so is so to the last digits.
#[test]
fn passes_and_speed_tell_as_they_must() {
    let case = Case::shipped("first-line").set("landing.bead", "keep");
    let strip = Some("strip at 1 mm/s");
    let of = |case: &Case| {
        let expected = expect(&case.clone().inputs());
        ["mean_thickness_nm", "particles", "coverage_percent"].map(|id| mean(&expected, id, strip))
    };
    let once = of(&case);
    // A second pass lays the same on top: twice the solids, and the bare share squared. The mist runs in and drifts a little meanwhile.
    let twice = of(&case.clone().set("path.1.passes", 2));
    for k in 0..2 {
        assert!((twice[k] / once[k] - 2.0).abs() < 0.01, "{twice:?} {once:?}");
    }
    let bare = |values: [f64; 3]| 1.0 - values[2];
    assert!(bare(twice) > bare(once).powi(2) * 0.99, "{} {}", bare(twice), bare(once));
    // Half the speed, twice the solids, but for the ends of the line, which the shutter's delays shift with the speed.
    let slow = of(&case.clone().set("path.1.speed_mm_s", 0.5));
    for k in 0..2 {
        assert!((slow[k] / once[k] - 2.0).abs() < 0.02, "{slow:?} {once:?}");
    }
}

/// The map adds up to the figures: over the target its mean thickness and coverage, over all of it what landed there.
#[test]
fn the_map_adds_up_to_the_figures() {
    let inputs = Case::shipped("sodium-chip").without("spread").set("output.noise_percent", 0).inputs();
    let expected = expect(&inputs);
    // The target of 30 by 140 um in pixels of a quarter of a micrometre, most of which are interpolated.
    let target = inputs.regions.iter().find(|region| region.name == "target").expect("it has one");
    let Outline::Rectangle { center, size, .. } = target.outline else { panic!("the target is a rectangle") };
    let pitch = 0.25e-6;
    let grid = Grid {
        origin: [0, 1].map(|k| center[k] - 0.5 * size[k]),
        pitch,
        columns: (size[0] / pitch).round() as usize,
        rows: (size[1] / pitch).round() as usize,
    };
    let map = map_as_set(&inputs, &Atlas::new(&jets()), grid, &Silent).expect("it runs").expect("it is worked out");
    for (id, map) in [("mean_thickness_nm", &map.thickness), ("coverage_percent", &map.coverage)] {
        let (of_map, of_figure) = (map.mean().expect("it has pixels"), mean(&expected, id, Some("target")));
        println!("{id}: {of_map} {of_figure}");
        assert!((of_map / of_figure - 1.0).abs() < 5e-3, "{id}: {of_map} {of_figure}");
    }
    let (of_map, of_figure) = (map.density.sum() * pitch * pitch, mean(&expected, "particles", Some("target")));
    println!("particles: {of_map} {of_figure}");
    assert!((of_map / of_figure - 1.0).abs() < 5e-3, "particles: {of_map} {of_figure}");
}

/// What only prints tell is left open, and nothing else.
#[test]
fn what_only_prints_tell_is_left_open() {
    let expected = expect(&Case::shipped("sodium-chip").inputs());
    let open = |id: &str| {
        let mut rows = expected.figures.iter().filter(|row| row.kind.id == id).peekable();
        assert!(rows.peek().is_some(), "{id}");
        rows.all(|row| row.value.is_none())
    };
    for id in ["thickness_p95_nm", "joined_percent", "largest_particle_um", "peak_thickness_nm", "bridge_probability"] {
        assert!(open(id), "{id}");
    }
    for id in ["coverage_percent", "mass_pg", "hit_probability", "landed_percent", "print_time_s", "width_99_um"] {
        assert!(!open(id), "{id}");
    }
}
