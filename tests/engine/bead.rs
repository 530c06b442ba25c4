//! Wet lines: what the print does with lines that carry more liquid than they hold. The ink is invented.

use crate::SIGMAS;
use crate::common::{Case, figure, jets, mean, section, setting};
use motefall_figures::Prediction;
use motefall_physics::deposit::bead::{SegmentProfile, segment_area, segment_width};
use motefall_physics::inputs::{BeadRule, Inputs, PointPrints};
use motefall_physics::map::Particle;
use motefall_run::Silent;
use motefall_run::beads::DryingMatters;
use motefall_run::print::{Keep, MOST_KEPT, print_parallel};
use motefall_run::sweep::point::{Effort, Shared, run_point};
use motefall_scenario as scenario;
use std::path::Path;

/// A line along x, 1 mm long; straight flight, gas that holds all the vapour it can, so that nothing dries.
const LINE: &str = r#"
name = "wet line"
note = "Invented."
seed = 3
prints = 1
tube = [{ length_mm = 100, bore_mm = 3, inclination_deg = 90 }]
path = [{ kind = "line", name = "line", from_um = [-500, 0], to_um = [500, 0], speed_mm_s = 1 }]
flow = { carrier_sccm = 8, sheath_sccm = 24 }
gas = { carrier_saturation = 1, sheath_saturation = 1 }
head = { inlet_bore_mm = 1, mixing_length_mm = 10, half_angle_deg = 6, nozzle_um = 150, land_um = 150 }
flight = { stand_off_mm = 1.5, model = "straight" }
landing = { contact_angle_deg = 30 }
chip = { width_mm = 3, height_mm = 2 }
map = { pitch_um = 1, margin_um = 150 }
output = { noise_percent = 0, run_in_deficit_percent = 0 }
stage = { jitter_um = 0, shutter_open_ms = 0, shutter_close_ms = 0 }
region = [{ kind = "rectangle", name = "pad", role = "target", center_um = [0, 0], size_um = [1000, 40] }]
ink.solvent = [{ name = "nmp" }]
ink.powder = [{ name = "alumina", mass_percent = 1, density_g_cm3 = 3.95, sizes = [{ median_um = 0.3, gsd = 1.2 }] }]
atomiser = { droplet_median_um = 2.2, droplet_gsd = 1.3, mist_load_ul_per_l = 10 }
"#;

fn particles(inputs: &Inputs) -> Vec<Particle> {
    print_parallel(&setting(inputs), 0, Keep::Particles, MOST_KEPT, &Silent).expect("runs").particles.expect("kept")
}

fn with(rule: &str, load: f64) -> Inputs {
    Case::from_text(LINE).set("landing.bead", rule).set("atomiser.mist_load_ul_per_l", load).inputs()
}

#[test]
fn a_wet_line_lies_as_a_circular_segment() {
    let (kept, spread) = (with("keep", 10.0), with("spread", 10.0));
    let wet = setting(&spread).layers[0].beads.wet.clone();
    assert_eq!(wet.len(), 1);
    let angle = 30f64.to_radians();
    let width = wet[0].widths[0];
    println!(
        "{:.1} µm² on {:.1} µm that hold {:.1}: {:.1} µm",
        wet[0].area * 1e12,
        wet[0].band * 1e6,
        wet[0].holds * 1e12,
        width * 1e6
    );
    assert!(wet[0].area > 2.0 * wet[0].holds);
    assert!((segment_area(width, angle) / wet[0].area - 1.0).abs() < 1e-9);
    // Within its width at half height lie most of a line.
    let within = segment_area(wet[0].band, angle) / wet[0].holds;
    assert!((0.5..1.0).contains(&within), "{within}");

    let (before, after) = (particles(&kept), particles(&spread));
    // The same particles, moved across the line only; not one is lost.
    assert_eq!(before.len(), after.len());
    assert!(before.iter().zip(&after).all(|(a, b)| a.diameter == b.diameter && (a.x - b.x).abs() < 1e-12));
    let middle: Vec<&Particle> = after.iter().filter(|p| p.x.abs() < 450e-6).collect();
    let mut droplets: Vec<u64> = middle.iter().map(|p| p.droplet).collect();
    droplets.dedup();
    assert!(droplets.len() > 20_000, "{} droplets", droplets.len());
    // A share is known to the chance of the droplets, each of which brings its particles together (on average less than three, so that
    // the chance is at most about twice that of single ones), and to the hundredth of the liquid that lies beside the track.
    let allowed = SIGMAS * 2.0 * (0.25 / droplets.len() as f64).sqrt() + 0.01;
    let profile = SegmentProfile::new(angle);
    for tenth in 1..10 {
        let share = f64::from(tenth) / 10.0;
        let edge = 0.5 * width * profile.quantile(share);
        let below = |list: &[Particle]| {
            let inside: Vec<_> = list.iter().filter(|p| p.x.abs() < 450e-6).collect();
            inside.iter().filter(|p| p.y < edge).count() as f64 / inside.len() as f64
        };
        assert!((below(&after) - share).abs() < allowed, "{} against {share}, allowed {allowed:.4}", below(&after));
        // Where the droplets landed is something else.
        if tenth == 2 {
            assert!((below(&before) - share).abs() > allowed);
        }
    }
}

#[test]
fn a_line_that_holds_its_liquid_is_unchanged() {
    let (kept, spread) = (with("keep", 0.1), with("spread", 0.1));
    assert!(setting(&spread).layers[0].beads.wet.is_empty());
    let (a, b) = (particles(&kept), particles(&spread));
    assert!(a.len() > 100);
    assert!(a == b, "to the byte");
}

#[test]
fn lines_spread_unless_told_otherwise() {
    assert_eq!(Case::from_text(LINE).inputs().layers[0].landing.bead, BeadRule::Spread);
}

/// At their own settings the shipped prints keep their fills; the test lines are wet at every speed.
#[test]
fn shipped_prints_hold_their_liquid() {
    let wet = |inputs: &Inputs| -> Vec<String> {
        setting(inputs).layers.iter().flat_map(|layer| layer.beads.wet.iter().map(|wet| wet.item.clone())).collect()
    };
    for name in ["sodium-chip", "window-sweep", "overnight-sweep", "foil-coupon"] {
        assert_eq!(wet(&Case::shipped(name).inputs()), [""; 0], "{name}");
    }
    let cell = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/two-electrode-cell.toml");
    let cell = scenario::load(&cell).unwrap_or_else(|faults| panic!("{faults}")).inputs;
    assert_eq!(wet(&cell), [""; 0]);
    assert_eq!(wet(&Case::shipped("first-line").inputs()), ["0.5 mm/s", "1 mm/s", "2 mm/s", "4 mm/s"]);
    // Ten times as much mist is too much for the chip.
    assert_eq!(wet(&Case::shipped("sodium-chip").set("atomiser.mist_load_ul_per_l", 12).inputs()), ["electrode fill"]);
}

/// What is left of the solvents adds up to what is left of the liquid, and the more volatile one has lost more.
#[test]
fn a_bead_gets_the_solvents_that_the_way_has_left() {
    let inputs = Case::shipped("sodium-chip").inputs();
    let setting = setting(&inputs);
    let (layer, mist) = (&setting.layers[0], &setting.layers[0].mist);
    let volumes: Vec<f64> =
        layer.layer.ink.solvents.iter().map(|part| part.mass_fraction / part.solvent.density).collect();
    let left: f64 = volumes.iter().zip(&mist.solvents_left).map(|(volume, left)| volume * left).sum();
    assert!((left / volumes.iter().sum::<f64>() - mist.liquid_left).abs() < 1e-9, "{left} {}", mist.liquid_left);
    println!("{:?} left of NMP and ethylene glycol", mist.solvents_left);
    assert!(mist.solvents_left[0] < mist.solvents_left[1] - 0.05, "{:?}", mist.solvents_left);
}

#[test]
fn time_and_heat_between_passes_keep_a_bead_narrow() {
    let widths = |chip: f64| {
        let case = Case::from_text(LINE).set("path.0.passes", 4).set("landing.chip_c", chip);
        setting(&case.inputs()).layers[0].beads.wet[0].widths.clone()
    };
    let (cold, hot) = (widths(20.0), widths(45.0));
    assert_eq!(cold.len(), 4);
    // Nothing dries at 20 C in gas that holds all the vapour it can: four passes hold four times the liquid, twice as wide as one.
    assert!((cold[3] / cold[0] - 2.0).abs() < 0.02, "{cold:?}");
    // On a warm chip even the first pass dries while it lands.
    assert!(hot[3] < 0.9 * cold[3] && hot[0] < cold[0], "{hot:?}");
    let area = setting(&with("keep", 10.0)).layers[0].beads.wet[0].area;
    assert!((segment_width(area, 30f64.to_radians()) / cold[0] - 1.0).abs() < 1e-12);
}

/// Particles of four passes in gas that holds all the vapour it can: those of the first lie as widely as those of the last, in the bead
/// that the last one made.
#[test]
fn particles_go_with_a_bead_that_is_still_wet() {
    let spread_of = |chip: f64, passes: i64| -> Vec<f64> {
        let case = Case::from_text(LINE).set("path.0.passes", passes).set("landing.chip_c", chip);
        let inputs = case.inputs();
        let list = particles(&inputs);
        // Particles lie in the order of their droplets, and droplets in that of their passes.
        let quarter = list.len() / passes as usize;
        let middle = |part: &[Particle]| -> f64 {
            let inside: Vec<f64> = part.iter().filter(|p| p.x.abs() < 450e-6).map(|p| p.y * p.y).collect();
            (inside.iter().sum::<f64>() / inside.len() as f64).sqrt()
        };
        list.chunks(quarter).take(passes as usize).map(middle).collect()
    };
    let alone = spread_of(20.0, 1)[0];
    let wet = spread_of(20.0, 4);
    println!("one pass {alone:.3e}, each of four wet ones {wet:?}");
    // A bead of four times the liquid is twice as wide. The root mean square of 20,000 droplets is known to 0.5 %.
    assert!(wet.iter().all(|width| (width / (2.0 * alone) - 1.0).abs() < 0.03), "{wet:?}");
}

/// From a cold chip to a hot one a line of four passes is wet whatever the estimate of its drying, then wet by the estimate, then dry by it,
/// then dry whatever it is; and each is said.
#[test]
fn it_is_told_when_the_estimate_of_drying_decides() {
    let mut seen = vec![];
    for chip in (20..=150).step_by(5) {
        let case =
            Case::from_text(LINE).set("path.0.passes", 4).set("path.0.speed_mm_s", 8).set("landing.chip_c", chip);
        let inputs = case.inputs();
        let setting = setting(&inputs);
        let beads = &setting.layers[0].beads;
        let state = match (beads.wet.first(), beads.nearly_wet.first()) {
            (Some(wet), None) if wet.drying == DryingMatters::Aside => 0,
            (Some(_), None) => 1,
            (None, Some(_)) => 2,
            (None, None) => 3,
            (Some(_), Some(_)) => panic!("wet and nearly wet at {chip} C"),
        };
        if seen.last() != Some(&state) {
            println!("{chip} C: {state}");
            seen.push(state);
            let cautions = case.predict().cautions;
            let own =
                |id: &str| cautions.iter().find(|caution| caution.kind.id() == id).map(|caution| caution.text.as_str());
            assert_eq!(own("bead").is_some(), state < 2);
            assert_eq!(own("bead").is_some_and(|text| text.contains("if it dries twice as fast")), state == 1);
            assert_eq!(own("bead-drying").is_some_and(|text| text.contains("dries half as fast")), state == 2);
        }
    }
    assert_eq!(seen, [0, 1, 2, 3]);
}

/// A narrow core of mist with a wide skirt, and an output that scatters by 5 %. Invented. The gas leaves developed, so that the skirt holds
/// little: of a wider one ever more lies outside of the bead, which then narrows faster than by the root of the speed.
fn core_and_skirt(speed: f64) -> Case {
    Case::from_text(LINE)
        .set("flight.model", "jet")
        .set("flow.sheath_sccm", 40)
        .set("head.plug_blend", 0)
        .set("landing.contact_angle_deg", 25)
        .set("prints", 12)
        .set("ink.powder.0.mass_percent", 3)
        .set("output.noise_percent", 5)
        .set("path.0.speed_mm_s", speed)
}

/// From a wet line to one whose droplets hardly touch: every width falls with the speed no faster than the liquid lets it, as the root of
/// the speed, and prints scatter by half as much as their output does.
#[test]
fn widths_change_steadily_from_wet_to_dry() {
    let speeds = [1.0, 2.0, 4.0, 8.0, 9.0, 10.0, 12.0, 16.0, 32.0, 64.0, 256.0];
    let mut before: Option<(f64, [f64; 3])> = None;
    let mut said_wet = vec![];
    for speed in speeds {
        let p = core_and_skirt(speed).predict();
        let wet = p.cautions.iter().any(|caution| caution.kind.id() == "bead");
        let widths = ["edge_width_um", "line_width_um", "width_99_um"].map(|id| mean(&p, id, Some("line")) * 1e6);
        let scatter =
            figure(&p, "line_width_um", Some("line")).estimate.and_then(|e| Some(e.sd? / e.mean)).expect("prints");
        println!(
            "{speed} mm/s, wet {wet}: edge to edge, FWHM, 99 % {widths:.2?} µm, FWHM scatters by {:.1} %",
            100.0 * scatter
        );
        if let Some((slower, wider)) = before {
            // Chance is left a twentieth. What no longer is a bead has a flat top instead of a dome, whose width at half height is
            // 1/sqrt(2) of its own.
            let most = 1.05 * (speed / slower).sqrt();
            let falls = |k: usize, least: f64| (least..most).contains(&(wider[k] / widths[k]));
            assert!(falls(0, 0.95) && falls(1, 0.95 / 2f64.sqrt()) && falls(2, 0.95), "{slower} to {speed} mm/s");
        }
        assert!(scatter < 0.05, "{speed} mm/s: {scatter}");
        said_wet.push(wet);
        before = Some((speed, widths));
    }
    assert!(said_wet[0] && !said_wet[said_wet.len() - 1], "{said_wet:?}");
}

/// Wet is decided in each print and along it by what its output brings: a line that is dry at the set output becomes a bead where a print
/// brings three times as much, and a sweep's point says the same as the prediction.
#[test]
fn each_print_decides_by_its_own_output() {
    let dry = with("spread", 0.05);
    let setting_of_dry = setting(&dry);
    let beads = &setting_of_dry.layers[0].beads;
    let block = &setting_of_dry.layers[0].blocks[0];
    let mover = |amount: f64| beads.mover(0, block, 0.0, [0.0; 2], amount);
    assert!(mover(1.0).is_none() && mover(0.0).is_none());
    assert!((1..100).any(|times| mover(f64::from(times)).is_some()));

    let inputs = core_and_skirt(9.0).set("prints", 3).inputs();
    let predicted = motefall_run::predict(&inputs, &jets(), &Silent).unwrap_or_else(|error| panic!("{error}"));
    let jets = jets();
    let effort = Effort { prints: PointPrints::Fixed(3), wanted_share: 0.9 };
    let point = run_point(&inputs.clone().into(), effort, &Shared::new(&jets), &Silent)
        .unwrap_or_else(|error| panic!("{error}"));
    let widths = |id: &str| {
        let row = predicted.figures.iter().position(|row| row.kind.id == id).expect("there");
        (predicted.figures[row].estimate.expect("a width").mean, point.figures[row].expect("a width").mean)
    };
    for id in ["edge_width_um", "line_width_um", "width_90_um", "width_99_um"] {
        let (a, b) = widths(id);
        assert_eq!(a, b, "{id}");
    }
}

/// Liquid that runs farther than half way to the next line: the profile ends there, and widths are told as lower bounds.
#[test]
fn a_width_that_the_next_line_cuts_off_is_a_lower_bound() {
    let lines = |spacing: f64| {
        let y = 0.5 * spacing;
        let text = format!(
            r#"
            path = [
                {{ kind = "line", name = "line", from_um = [-500, {y}], to_um = [500, {y}], speed_mm_s = 1 }},
                {{ kind = "line", name = "next", from_um = [-500, -{y}], to_um = [500, -{y}], speed_mm_s = 1 }},
            ]
            limit = [
                {{ figure = "width_99_um", place = "line", max = 90 }},
                {{ figure = "width_99_um", place = "line", min = 40 }},
            ]
            "#
        );
        let parts = section(&text);
        Case::from_text(LINE)
            .set("prints", 3)
            .set("path", parts["path"].clone())
            .set("acceptance.limit", parts["limit"].clone())
    };
    let far = lines(300.0).predict();
    let near = lines(80.0).predict();
    let width = |p: &Prediction| figure(p, "width_99_um", Some("line")).estimate.expect("a width");
    println!("{:?}\n{:?}", width(&far), width(&near));
    assert_eq!((width(&far).at_least, width(&near).at_least), (0, 3));
    // The bead is 120 um wide; what fits between the lines is below the limit, and yet does not meet it.
    assert!(width(&near).mean < 90e-6 && width(&far).mean > 100e-6, "{:?}", width(&far));
    for p in [&far, &near] {
        assert_eq!(p.limits.iter().map(|limit| limit.met).collect::<Vec<_>>(), [0, 3]);
    }
    let note = figure(&near, "width_99_um", Some("line")).note.clone().expect("a note");
    assert!(note.contains("a lower bound") && note.contains("half way to the next stroke"), "{note}");
}

/// Mist is measured as far as it lands: the grid reaches there by itself, whatever the map's margin.
#[test]
fn the_profile_reaches_as_far_as_the_liquid() {
    let p = with("spread", 40.0);
    let wet = setting(&p).layers[0].beads.wet[0].widths[0];
    let prediction = Case::from_text(LINE)
        .set("landing.bead", "spread")
        .set("atomiser.mist_load_ul_per_l", 40.0)
        .set("map.margin_um", 20)
        .predict();
    let width = figure(&prediction, "width_99_um", Some("line")).estimate.expect("a width");
    println!("a bead of {:.1} µm: 99 % of the mass in {:.1} µm", 1e6 * wet, 1e6 * width.mean);
    assert_eq!(width.at_least, 0);
    assert!((width.mean / wet - 0.93).abs() < 0.04, "{} {wet}", width.mean);
}
