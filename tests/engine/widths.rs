//! What the cautions say of line widths with other lift and another shape of the nozzle, against lines printed so.

use crate::common::{Case, jets, mean, section};
use motefall::inputs::Inputs;
use motefall::run::line_width::{WidthDoubts, width_doubts};

/// A line of a shipped scenario, of a powder so fine that every droplet holds its share of it. Invented.
fn line(scenario: &str) -> Case {
    let fine = "name = 'fine'\nmass_percent = 3\ndensity_g_cm3 = 3\nsize_weighting = 'number'\nsizes = [{ median_um = 0.05, gsd = 1.2 }]";
    let path = "kind = 'line'\nname = 'line'\nfrom_um = [-100, 300]\nto_um = [100, 300]\nspeed_mm_s = 5";
    let case = Case::shipped(scenario)
        .set("landing.bead", "keep")
        .set("prints", 2)
        .set("acceptance.limit", Vec::<toml::Value>::new());
    let case = if case.inputs().spread.is_empty() { case } else { case.without("spread") };
    case.set("ink.powder", vec![section(fine)]).set("path", vec![section(path)])
}

fn doubts(inputs: &Inputs) -> WidthDoubts {
    width_doubts(inputs, &jets()).expect("the jet converges").remove(0).expect("something lands")
}

#[test]
fn lift_and_nozzle_do_to_lines_what_the_cautions_say() {
    for scenario in ["sodium-chip", "first-line"] {
        let case = line(scenario).without("head.half_angle_deg").without("head.land_um");
        let doubts = doubts(&case.inputs());
        let lift = doubts.lift.expect("the jet is solved");
        let of_lift = lift.with.iter().filter(|t| t.value == 0.25 || t.value == 1.0);
        let tried = of_lift.map(|t| ("flight.lift_factor", t.value, t.width));
        let angles = doubts.half_angle.iter().map(|t| ("head.half_angle_deg", t.value.to_degrees(), t.width));
        let lands = doubts.land.iter().map(|t| ("head.land_um", t.value * 1e6, t.width));
        let tried: Vec<_> =
            [("flight.lift_factor", 0.0, doubts.set)].into_iter().chain(tried).chain(angles).chain(lands).collect();
        assert_eq!(tried.len(), 7);
        // One that showed no effect, or always the same, would be noticed.
        assert!(tried.iter().any(|(_, _, width)| (width / doubts.set - 1.0).abs() > 0.15), "{tried:?}");
        for (key, value, width) in tried {
            let printed = mean(&case.clone().set(key, value).predict(), "width_90_um", Some("line"));
            println!("{scenario}, {key} {value:.2}: {:.2} µm, printed {:.2} µm", width * 1e6, printed * 1e6);
            assert!((width / printed - 1.0).abs() < 0.07, "{scenario}, {key} {value}: {width}, printed {printed}");
        }
    }
}
