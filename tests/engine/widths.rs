//! What the cautions say of line widths with other lift and another shape of the nozzle, against lines printed so.

use crate::common::{Case, error, jets, mean, section};
use motefall_physics::inputs::Inputs;
use motefall_run::atlas::Atlas;
use motefall_run::width_doubts::{Tried, WidthDoubts, width_doubts};

/// A line of a shipped scenario, of a powder so fine that every droplet holds its share of it. Invented.
fn line(scenario: &str, speed: f64) -> Case {
    let fine = "name = 'fine'\nmass_percent = 3\ndensity_g_cm3 = 3\nsize_weighting = 'number'\nsizes = [{ median_um = 0.05, gsd = 1.2 }]";
    let path = "kind = 'line'\nname = 'line'\nfrom_um = [-100, 300]\nto_um = [100, 300]\nspeed_mm_s = 5";
    let case = Case::shipped(scenario)
        .set("landing.bead", "keep")
        .set("prints", 6)
        .set("acceptance.limit", Vec::<toml::Value>::new());
    let case = if case.inputs().spread.is_empty() { case } else { case.without("spread") };
    case.set("ink.powder", vec![section(fine)]).set("path", vec![section(path)]).set("path.0.speed_mm_s", speed)
}

fn doubts(inputs: &Inputs) -> WidthDoubts {
    width_doubts(inputs, &Atlas::new(&jets())).expect("the jet converges").remove(0).expect("something lands")
}

#[test]
fn lift_and_nozzle_do_to_lines_what_the_cautions_say() {
    // Speeds at which some thousand droplets make a line. Noticed: errors of a tenth of the width.
    for (scenario, speed) in [("sodium-chip", 0.2), ("first-line", 5.0)] {
        let case = line(scenario, speed).without("head.half_angle_deg").without("head.land_um");
        let doubts = doubts(&case.inputs());
        let lift = doubts.lift.expect("the jet is solved");
        let tried = [
            ("flight.lift_factor", Tried { value: 0.0, width: doubts.set }, 1.0),
            ("flight.lift_factor", *lift.with.last().expect("several"), 1.0),
            ("head.half_angle_deg", *doubts.half_angle.last().expect("several"), 1f64.to_degrees()),
            ("head.land_um", doubts.land[0], 1e6),
        ];
        // One that showed no effect, or always the same, would be noticed.
        assert!(tried.iter().any(|(_, tried, _)| (tried.width / doubts.set - 1.0).abs() > 0.15), "{tried:?}");
        for (key, Tried { value, width }, shown) in tried {
            let value = value * shown;
            let prints = case.clone().set(key, value).predict();
            let printed = mean(&prints, "width_90_um", Some("line"));
            let sigma = error(&prints, "width_90_um", Some("line")) / printed;
            let off = width / printed - 1.0;
            println!("{scenario}, {key} {value:.2}: {:.2} µm, off by {off:.3}, one sigma {sigma:.3}", width * 1e6);
            // That few sizes and shares of the flow stand for all takes up to 5 %, chance of the prints the rest.
            assert!(off.abs() < 0.1, "{scenario}, {key} {value}: {width}, printed {printed}");
            assert!(sigma < 0.02, "it scatters too much to be a check: {sigma}");
        }
    }
}

/// Droplets cross the axis on their way, so lift does not narrow lines in general. Made-up settings of one head: the longer stand-off and
/// the slenderer taper.
#[test]
fn lift_widens_lines_at_one_setting_and_narrows_them_at_another() {
    for (key, value, expected) in
        [("flight.stand_off_mm", 4.0, "it widens lines"), ("head.half_angle_deg", 3.0, "it narrows lines")]
    {
        let case = line("sodium-chip", 1.0).set(key, value);
        let [without, with] = [0.0, 1.0].map(|factor| case.clone().set("flight.lift_factor", factor).predict());
        let [none, full] = [&without, &with].map(|p| mean(p, "width_90_um", Some("line")) * 1e6);
        let told = &with.cautions.iter().find(|caution| caution.kind.id() == "lift-on").expect("it acts").text;
        println!("{key} {value}: printed {none:.1} µm without lift, {full:.1} µm with; {told}");
        assert!(told.contains(expected), "{told}");
        assert_eq!(full > none, expected.contains("widens"), "{none} {full}");
        assert!((full / none - 1.0).abs() > 0.1, "{none} {full}");
    }
}
