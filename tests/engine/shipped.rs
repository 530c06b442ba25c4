//! The shipped scenarios: budget, threads, pitch, table against direct tracking.

use crate::SIGMAS;
use crate::common::{Case, error, jets, mean, setting};
use motefall_figures::Prediction;
use motefall_physics::inputs::{Inputs, PrintCount};
use motefall_physics::map::{Particle, PrintOutcome, outline};
use motefall_run::print::{Keep, MOST_KEPT, print_parallel};
use motefall_run::setting::Setting;
use motefall_run::{self as run, RunError, Silent};
use motefall_scenario as scenario;
use std::f64::consts::PI;
use std::path::Path;

/// Rows of a budget add up to its totals: counts exactly, mass to 1e-9.
fn closes(prediction: &Prediction) {
    let budget = &prediction.budget;
    assert!(budget.closure < 1e-9, "{}", budget.closure);
    assert!(budget.droplets > 1000);
    assert_eq!(budget.rows.iter().map(|row| row.droplets).sum::<u64>(), budget.droplets);
    for (k, particles) in budget.particles.iter().enumerate() {
        assert!(*particles > 100);
        assert_eq!(budget.rows.iter().map(|row| row.particles[k]).sum::<u64>(), *particles);
        let mass: f64 = budget.rows.iter().map(|row| row.mass[k]).sum();
        assert!((mass / budget.mass[k] - 1.0).abs() < 1e-9);
    }
}

/// The chip scenario by chance alone: to spread its prints would take nine jets for each of the settings here.
fn chip() -> Case {
    Case::shipped("sodium-chip").without("spread")
}

#[test]
fn the_budget_closes_in_every_shipped_scenario() {
    for name in ["sodium-chip", "first-line"] {
        let prediction = Case::shipped(name).set("prints", 1).predict();
        closes(&prediction);
        assert_eq!(prediction.budget.not_simulated, 0.0);
    }
    // The coupon in full takes minutes: here 2 million of its droplets, and the run says how many it left out.
    let prediction = Case::shipped("foil-coupon").set("droplet_budget", 2e6).predict();
    closes(&prediction);
    let expected = prediction.layers[0].conditions.droplet_rate * prediction.layers[0].conditions.open_time;
    println!("coupon: {expected:.3e} droplets expected, {:.3e} not simulated", prediction.budget.not_simulated);
    assert!(expected > 1e8);
    assert!((prediction.budget.not_simulated + 2e6 - expected).abs() < 1e-6 * expected);
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let inputs = chip().set("map.pitch_um", 0.5).inputs();
    let with = |threads: usize| -> PrintOutcome {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        // The setting too is worked out on these threads: table and field must not depend on them either.
        pool.install(|| print_parallel(&setting(&inputs), 0, Keep::Particles, MOST_KEPT, &Silent)).expect("runs")
    };
    let one = with(1);
    assert!(one.particles.as_deref().expect("kept").len() > 1000);
    for threads in [2, 7] {
        let many = with(threads);
        assert!(many.canvas == one.canvas && many.tallies == one.tallies, "{threads} threads");
        assert!(many.particles == one.particles, "{threads} threads");
    }
    let figures = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        let case = chip().set("map.pitch_um", 1.0).set("prints", 5);
        let prediction = pool.install(|| case.predict());
        // Floating-point values written so that every bit shows.
        format!("{:?} {:?} {:?}", prediction.figures, prediction.limits, prediction.budget)
    };
    let one = figures(1);
    assert!(one == figures(2) && one == figures(7));
}

#[test]
fn coverage_converges_with_the_resolution() {
    let coverage = |pitch: f64| {
        let p = chip().set("map.resolution_um", pitch).set("prints", 1).predict();
        mean(&p, "coverage_percent", Some("target"))
    };
    let finest = coverage(0.125);
    for (pitch, allowed) in [(1.0, 0.02), (0.5, 0.005), (0.25, 0.002)] {
        let coarse = coverage(pitch);
        println!("resolution {pitch} µm: coverage {:.4} %, at 0.125 µm {:.4} %", 100.0 * coarse, 100.0 * finest);
        assert!((coarse / finest - 1.0).abs() < allowed, "resolution {pitch}: {coarse} {finest}");
    }
}

#[test]
fn table_and_direct_prints_agree_in_figures() {
    // Short, so that every droplet can be tracked. The random numbers are the same, so figures differ by the table's error alone: they
    // must agree far better than prints scatter.
    let case = chip().set("path.0.passes", 1).set("prints", 3).set("map.pitch_um", 0.5);
    let table = case.predict();
    let direct = case.set("flight.landing", "direct").predict();
    for (id, place) in [
        ("coverage_percent", Some("target")),
        ("mean_thickness_nm", Some("target")),
        ("particles", Some("target")),
        ("thickness_p95_nm", Some("target")),
        ("landed_percent", None),
        ("on_target_percent", None),
        ("overspray_percent", None),
    ] {
        let (a, b) = (mean(&table, id, place), mean(&direct, id, place));
        let (sigma_a, sigma_b) = (error(&table, id, place), error(&direct, id, place));
        println!("{id}: table {a:.6e} direct {b:.6e}, {:+.3} %, one sigma {sigma_a:.1e}", 100.0 * (a / b - 1.0));
        assert!((a - b).abs() < SIGMAS * sigma_a.hypot(sigma_b), "{id}: {a} {b}");
        assert!((a / b - 1.0).abs() < 0.01, "{id}: {a} {b}");
    }
}

/// The shipped cell without spread, printed so many times.
fn cell(prints: u32) -> Inputs {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/two-electrode-cell.toml");
    let mut inputs = scenario::load(&path).unwrap_or_else(|faults| panic!("{faults}")).inputs;
    inputs.prints = PrintCount::Fixed(prints);
    inputs.spread.clear();
    inputs
}

/// The cell's capacity ratio from the list of particles of one print: the solids whose centres lie on an electrode, times density and
/// capacity as the scenario gives them.
#[test]
fn the_two_electrode_cell_balances_as_worked_from_its_particles() {
    let inputs = cell(1);
    let prediction = run::predict(&inputs, &jets(), &Silent).expect("runs");
    closes(&prediction);
    let charge = |name: &str, powder: &str, density: f64, capacity: f64| -> f64 {
        let region = inputs.regions.iter().find(|region| region.name == name).expect("there");
        let number = inputs.powders().iter().position(|p| p.name == powder).expect("there");
        let on = |p: &&Particle| usize::from(p.powder) == number && outline::contains(&region.outline, [p.x, p.y]);
        let volume: f64 = prediction.pile.particles().iter().filter(on).map(|p| p.diameter.powi(3) * PI / 6.0).sum();
        // mAh/g is 3.6 C/g.
        volume * density * capacity * 3600.0
    };
    let working = charge("working electrode", "Na3V2(PO4)3", 3170.0, 117.5);
    // What strays from one layer to the other's electrode is far less than a thousandth.
    let counter = charge("counter electrode", "Na2Ti3O7", 3400.0, 177.0);
    assert!(working > 0.0 && counter > working);
    assert!((mean(&prediction, "capacity_nah", Some("working electrode")) / working - 1.0).abs() < 1e-3);
    assert!((mean(&prediction, "capacity_ratio", None) / (counter / working) - 1.0).abs() < 1e-3);
}

/// Texts of the cautions with an identifier.
fn cautions_of(inputs: &Inputs, id: &str) -> Vec<String> {
    let prediction = run::predict(inputs, &jets(), &Silent).expect("runs");
    prediction.cautions.iter().filter(|caution| caution.kind.id() == id).map(|caution| caution.text.clone()).collect()
}

#[test]
fn strokes_that_miss_their_shape_are_told() {
    let told = |delay: f64| {
        let mut inputs = cell(1);
        for layer in &mut inputs.layers {
            (layer.stage.shutter_open_delay, layer.stage.shutter_close_delay) = (delay, delay);
        }
        cautions_of(&inputs, "strokes-outside")
    };
    // 40 ms at 2 and 4 mm/s shift strokes of at most 90 um by 80 um, and those of the counter electrode by 160 um.
    let slow = told(40e-3);
    assert_eq!(slow.len(), 2, "{slow:?}");
    assert!(slow[0].contains("working fill") && slow[0].contains("80 µm late"), "{slow:?}");
    assert!(slow[1].contains("counter fill") && slow[1].contains("160 µm late"), "{slow:?}");
    assert!(told(0.0).is_empty());
}

#[test]
fn a_bound_above_its_limit_for_want_of_prints_is_told() {
    // No bridge in n prints leaves 1 - 0.05^(1/n): 0.26 for 10, and at most 0.15 from 19 on (0.85^18 = 0.054, 0.85^19 = 0.046).
    let few = cautions_of(&cell(10), "too-few-prints");
    assert!(few.len() == 1 && few[0].contains("0.26") && few[0].contains("At least 19 prints"), "{few:?}");
    assert!(cautions_of(&cell(19), "too-few-prints").is_empty());
}

#[test]
fn an_electrode_off_the_window_has_no_figures_of_the_beam() {
    let prediction = run::predict(&cell(1), &jets(), &Silent).expect("runs");
    let told = |place: &str| {
        prediction.figures.iter().any(|row| row.kind.id == "too_thick_percent" && row.place.as_deref() == Some(place))
    };
    assert!(told("window") && told("working electrode") && !told("counter electrode"));
}

/// What somebody runs first passes, and so does a chip print at the mist load that is assumed if nobody has weighed it.
#[test]
fn the_starter_and_a_chip_at_the_usual_mist_load_pass() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for file in ["src/scenario/starter.toml", "scenarios/usual-mist-chip.toml"] {
        let mut inputs = scenario::load(&root.join(file)).unwrap_or_else(|faults| panic!("{faults}")).inputs;
        assert_eq!(inputs.unverified.iter().filter(|u| u.key == "atomiser.mist_load_ul_per_l").count(), 1, "{file}");
        inputs.prints = PrintCount::Fixed(10);
        let p = run::predict(&inputs, &jets(), &Silent).expect("runs");
        assert_eq!(p.verdict.accepted, Some(true), "{file}: {:?}", p.limits);
        assert!(p.cautions.iter().all(|caution| caution.kind.id() != "little-lands"), "{file}");
    }
}

/// The chip scenario through a nozzle of 80 um: gas at 0.7 of the speed of sound on average, which plug flow would pass and a developed
/// profile would not. What decides is the solved bore, and what is advised helps.
#[test]
fn a_nozzle_that_chokes_by_its_solved_bore_is_refused() {
    let fast =
        |sheath: f64| chip().set("head.nozzle_um", 80).set("flow.carrier_sccm", 10).set("flow.sheath_sccm", sheath);
    let error =
        |case: Case| Setting::new(&case.inputs(), &jets(), &Silent).err().map(|error| (error.to_string(), error));
    let Some((words, RunError::Choked { mach, speed, in_some_prints, most_flow_sccm, .. })) = error(fast(60.0)) else {
        panic!("it must be refused");
    };
    println!("{words}");
    assert!(!in_some_prints && words.contains("on the axis") && words.contains(" sccm"), "{words}");
    // 70 sccm by hand, as for the fault of a narrower nozzle: 250.8 m/s, Mach 0.716 on average.
    assert!((speed / 250.8 - 1.0).abs() < 0.01, "{speed}");
    assert!(mach / 0.716 > 1.2 && mach / 0.716 < 1.8, "{mach}");
    // The profile differs a little at a lower flow: hence not the very last bit.
    assert!(error(fast(0.98 * most_flow_sccm - 10.0)).is_none());
    let spread = fast(0.98 * most_flow_sccm - 10.0).set("spread.sheath.sd_percent", 2);
    let Some((words, RunError::Choked { in_some_prints: true, .. })) = error(spread) else {
        panic!("the largest sheath flow of all prints must be refused");
    };
    assert!(words.contains("in some prints"), "{words}");
}
