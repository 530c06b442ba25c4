//! What is known of touching particles when many leave the vial, when too many land, and when what makes a bridge changes.

use crate::common::{Case, figure, jets, setting};
use motefall_figures::CautionKind;
use motefall_figures::{GapOutcome, Prediction};
use motefall_output::{self as output, terminal};
use motefall_physics::inputs::PointPrints;
use motefall_run::atlas::Atlas;
use motefall_run::print::{Keep, Printer};
use motefall_run::sweep::point::{Effort, Shared, run_point_keeping};
use motefall_run::{Silent, predict_keeping};
use std::time::Duration;
use toml::{Table, Value};

/// The two-electrode cell with one pass of each ink; prints differ by chance alone.
fn cell() -> Case {
    let once = Case::shipped("two-electrode-cell").without("spread").set("prints", 2).set("map.pitch_um", 1.0);
    once.set("layer.0.path.0.passes", 1).set("layer.1.path.0.passes", 1)
}

fn keeping(case: &Case, most_kept: usize) -> Prediction {
    let jets = jets();
    let found = predict_keeping(&case.inputs(), &Atlas::new(&jets), most_kept, &Silent);
    found.unwrap_or_else(|error| panic!("{error}"))
}

/// Particles that left the vial and that landed, first print.
fn left_and_landed(p: &Prediction) -> [u64; 2] {
    [p.budget.particles.iter().sum(), p.sizes.powders.iter().flat_map(|sizes| &sizes.landed_count).sum()]
}

fn landed_in(case: &Case, prints: u32) -> Vec<u64> {
    let inputs = case.inputs();
    let setting = setting(&inputs);
    let mut printer = Printer::keeping(&setting, Keep::Maps);
    (0..prints).map(|print| printer.make(print, &Silent).expect("nobody stops it").landed_particles()).collect()
}

fn report_and_terminal(p: &Prediction) -> [String; 2] {
    let folder = tempfile::tempdir().expect("a folder");
    let written = output::write(
        p,
        &serde_json::Value::Null,
        &folder.path().join("r"),
        motefall::Earlier::Kept,
        Some(&Duration::from_secs(1).into()),
    );
    let report = std::fs::read_to_string(written.expect("it is written").report).expect("there is a report");
    let words = terminal::summary(p, None, 100);
    [report, words.split_whitespace().collect::<Vec<_>>().join(" ")]
}

/// Joined shares of both electrodes, bridges, particles and strays are there.
fn knows_all(p: &Prediction) -> bool {
    let joined = ["working electrode", "counter electrode"]
        .iter()
        .all(|place| figure(p, "joined_percent", Some(place)).estimate.is_some());
    joined
        && figure(p, "bridge_probability", None).estimate.is_some()
        && p.bridging.is_some()
        && !p.pile.is_empty()
        && p.maps.top_height.is_some()
        && p.too_many_particles().is_none()
}

#[test]
fn what_lands_decides_whether_particles_are_kept() {
    // A long tube keeps most particles: those that land fit, those that leave the vial would not.
    let case = cell().set("tube.0.length_mm", 3000);
    let [left, landed] = left_and_landed(&keeping(&case, usize::MAX));
    println!("{left} particles leave the vial, {landed} land");
    assert!(landed > 1000 && left > 4 * landed, "the case tells something");
    let room = 2 * landed as usize;
    let p = keeping(&case, room);
    assert!(knows_all(&p) && (room as u64) < left);
    let [report, _] = report_and_terminal(&p);
    assert!(report.contains("Bridges between electrodes: probability") && report.contains("A: particle scale."));
    assert!(report.contains("All particles that landed on the chip"));
}

#[test]
fn too_many_particles_are_told_where_the_answer_would_stand() {
    let limit: Table = "figure = 'joined_percent'\nplace = 'working electrode'\nmin = 10".parse().expect("a table");
    let case = cell().set("acceptance.limit", Value::Array(vec![Value::Table(limit)]));
    let whole = keeping(&case, usize::MAX);
    let [_, landed] = left_and_landed(&whole);
    let p = keeping(&case, landed as usize / 2);
    assert!(p.bridging.is_none() && p.pile.is_empty() && p.maps.top_height.is_none());
    assert!(figure(&p, "joined_percent", Some("working electrode")).estimate.is_none());
    // The map of strays takes no single particle and is the same.
    assert!(p.far == whole.far && p.far.prints() == 2);
    let [report, words] = report_and_terminal(&p);
    assert!(report.contains("Joined particles and bridges between electrodes: not known"));
    assert!(report.contains("All particles that landed on the chip"));
    assert!(report.contains("is not known (required at least"), "the verdict calls it unknown, not failed");
    assert!(!report.contains("was met in 0 of"));
    assert!(words.contains("not known") && words.contains("fewer passes, a shorter path or a smaller area"), "{words}");
    assert!(knows_all(&whole));
}

#[test]
fn a_fuller_later_print_is_not_left_out_of_a_mean() {
    // Prints with very different output: print 0 fits, a later one does not.
    let prints = 6;
    let case = cell().set("seed", 1).set("prints", i64::from(prints)).set("spread.output.sd_percent", 20.0);
    let landed = landed_in(&case, prints);
    let room = landed[0] as usize;
    let fuller = landed.iter().filter(|landed| **landed as f64 > 1.25 * room as f64).count();
    println!("particles landed: {landed:?}");
    assert!(fuller > 0 && fuller < landed.len() - 1, "the case tells something");
    let p = keeping(&case, room);
    let bridge = figure(&p, "bridge_probability", None);
    assert!(bridge.estimate.is_none() && p.bridging.is_none(), "no mean over the sparse prints alone");
    let why = p.too_many_particles().expect("it is told");
    // The first print is there, so its picture is.
    assert!(!p.pile.is_empty() && !why.contains("picture"), "{why}");
    assert_eq!(p.far.prints(), prints);
    assert!(report_and_terminal(&p)[0].contains("Joined particles and bridges between electrodes: not known"));

    // A point of a sweep knows it too, and from all prints.
    let limit: Table = "figure = 'bridge_probability'\nmax = 0.9".parse().expect("a table");
    let inputs = case.set("acceptance.limit", Value::Array(vec![Value::Table(limit)])).inputs();
    let effort = Effort { prints: PointPrints::Fixed(prints), wanted_share: 0.9 };
    let jets = jets();
    let point = |room| {
        let point = run_point_keeping(&inputs.clone().into(), effort, &Shared::new(&jets), room, &Silent);
        let point = point.unwrap_or_else(|error| panic!("{error}"));
        let told = point.cautions.iter().filter(|kind| **kind == CautionKind::TooManyParticles).count();
        let place = motefall_run::sweep::point::places(&inputs);
        let bridge = place.iter().position(|(kind, _)| kind.id == "bridge_probability").expect("a figure");
        (told, point.figures[bridge].is_some())
    };
    assert_eq!((point(room), point(usize::MAX)), ((1, false), (0, true)));
}

#[test]
fn a_gap_s_cluster_follows_its_cause() {
    let gap = |case: &Case, one: &str, other: &str| -> GapOutcome {
        let p = keeping(case, usize::MAX);
        let gaps = p.bridging.expect("known").gaps;
        let ends = |gap: &GapOutcome| {
            gap.between.iter().any(|name| name == one) && gap.between.iter().any(|name| name == other)
        };
        let gap = gaps.into_iter().find(ends).expect("a gap");
        println!("{:?} {:?} {:?}", gap.width, gap.largest, gap.mean_spanned);
        gap
    };
    let base = Case::shipped("two-electrode-cell").without("spread").set("prints", 2).set("map.pitch_um", 1.0);
    let as_shipped = gap(&base, "counter electrode", "reference");
    let lean = base.clone().set("layer.1.ink.powder.1.mass_percent", 0.08);
    let lean = gap(&lean, "counter electrode", "reference");
    assert!(lean.largest.particles < as_shipped.largest.particles);
    assert!(lean.mean_spanned < as_shipped.mean_spanned);
    // The reference on the counter's other side, 30 µm from it: another stretch of bare chip.
    let moved: Table = "kind = 'disc'\nname = 'reference'\nrole = 'electrode'\ncenter_um = [430, 0]\nradius_um = 20"
        .parse()
        .expect("a table");
    let moved = gap(&base.set("region.3", Value::Table(moved)), "counter electrode", "reference");
    assert!((moved.width / 30e-6 - 1.0).abs() < 0.01);
    assert!(moved.largest != as_shipped.largest && moved.mean_spanned > as_shipped.mean_spanned);
}
