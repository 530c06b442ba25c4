//! Wet lines: what the print does with lines that carry more liquid than they hold. The ink is invented.

use crate::SIGMAS;
use crate::common::{Case, setting};
use motefall::deposit::bead::{SegmentProfile, segment_area, segment_width};
use motefall::inputs::{BeadRule, Inputs};
use motefall::map::Particle;
use motefall::run::Silent;
use motefall::run::print::{Keep, print_parallel};
use motefall::scenario;
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
    print_parallel(&setting(inputs), 0, Keep::Particles, &Silent).expect("runs").particles
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
        "{:.1} um2 on {:.1} um that hold {:.1}: {:.1} um",
        wet[0].area * 1e12,
        wet[0].track * 1e6,
        wet[0].holds * 1e12,
        width * 1e6
    );
    assert!(wet[0].area > 2.0 * wet[0].holds);
    assert!((segment_area(width, angle) / wet[0].area - 1.0).abs() < 1e-9);
    assert!((wet[0].holds / segment_area(wet[0].track, angle) - 1.0).abs() < 1e-9);

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

/// At their own settings the shipped prints keep their lines; the test lines show two beads and two lines that hold.
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
    assert_eq!(wet(&Case::shipped("first-line").inputs()), ["0.5 mm/s", "1 mm/s"]);
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
    let (cold, hot) = (widths(20.0), widths(120.0));
    assert_eq!(cold.len(), 4);
    // Nothing dries at 20 C in gas that holds all the vapour it can: four passes hold four times the liquid, twice as wide as one.
    assert!((cold[3] / cold[0] - 2.0).abs() < 0.02, "{cold:?}");
    assert!(hot[3] < 0.9 * cold[3] && (hot[0] / cold[0] - 1.0).abs() < 1e-12, "{hot:?}");
    let area = setting(&with("keep", 10.0)).layers[0].beads.wet[0].area;
    assert!((segment_width(area, 30f64.to_radians()) / cold[0] - 1.0).abs() < 1e-12);
}
