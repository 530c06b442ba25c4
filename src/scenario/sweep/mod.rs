//! The `[sweep]` section: which settings vary, checked as strictly as the scenario, and the scenario at each point.
//!
//! A point's values are put into the parsed file, and its text is read again, so that every check of a scenario holds
//! at every point.

mod advise;
mod axis;
mod dials;
mod identity;
mod kept;
mod knobs;
mod plan;
mod target;
#[cfg(test)]
mod testing;
mod text;

pub use advise::{AdviseScenario, load_advise, parse_advise};
pub use dials::{Dial, STATIONS, Station};
pub use knobs::{Knob, Turnable, load_turnable};

use super::faults::{Fault, Faults};
use super::side_files::SideFiles;
use super::{Scenario, folder_of, parse_with, read_text};
use motefall_physics::inputs::{Design, Inputs, SweepPlan};
use serde_json::Value as Json;
use std::path::Path;
use std::sync::Arc;
use target::Place;
use text::{number, put, reasons, text_elsewhere, written};

/// A scenario and the sweep that its file describes.
#[derive(Debug, Clone)]
pub struct SweepScenario {
    /// The scenario as written, without any value of an axis.
    pub scenario: Scenario,
    /// What varies.
    pub plan: SweepPlan,
    /// The file without `[sweep]`.
    file: toml::Table,
    /// Files that it names, as they were when it was read.
    files: Arc<SideFiles>,
    /// Where each axis's value stands.
    places: Vec<Place>,
    identity: Json,
}

/// Reads a scenario with its sweep. Files it names are looked for beside it.
pub fn load_sweep(path: &Path) -> Result<SweepScenario, Faults> {
    parse_sweep(&read_text(path)?, &path.display().to_string(), folder_of(path))
}

/// Reads a scenario with its sweep from text. `file_name` appears in messages; files that the text names are looked for
/// in `base_dir`.
pub fn parse_sweep(text: &str, file_name: &str, base_dir: &Path) -> Result<SweepScenario, Faults> {
    let files = SideFiles::new(base_dir);
    let (scenario, more) = parse_with(text, file_name, &files, |root, collector, scenario| {
        let file: toml::Table = scenario.source_text.parse().unwrap_or_default();
        let read = plan::plan(root, collector, &file, &scenario.inputs);
        let axes = file.get("sweep").and_then(|sweep| sweep.get("axis")).and_then(toml::Value::as_array);
        let counted = axes.into_iter().flatten().any(|axis| axis.get("count").is_some());
        if counted && read.as_ref().is_some_and(|(plan, _)| plan.design != Design::Grid) {
            scenario
                .notes
                .push("the `count` of an axis is of no effect: the design spreads its own number of points".to_owned());
        }
        if scenario.inputs.acceptance.limits.is_empty() {
            scenario.notes.push("without acceptance limits a sweep compares figures, but finds no window".to_owned());
        }
        (file, read)
    })?;
    let (mut file, read) = more;
    let Some((plan, places)) = read else { return Err(without_sweep(file_name, text)) };
    file.remove("sweep");
    file.remove("advise");
    let identity = identity::identity(&scenario.inputs, &plan, &file, &files);
    Ok(SweepScenario { scenario, plan, file, files: Arc::new(files), places, identity })
}

impl SweepScenario {
    /// Inputs at a point: the values, each in the unit of its axis, put into the file and read again with every check;
    /// otherwise why not, in one or two lines.
    pub fn inputs(&self, values: &[f64]) -> Result<Inputs, String> {
        if values.len() != self.places.len() {
            return Err(format!("{} values for {} axes", values.len(), self.places.len()));
        }
        let text = written(&self.at(values));
        let read = parse_with(&text, "this point", &self.files, |_, _, _| ());
        read.map(|(scenario, ())| scenario.inputs).map_err(|faults| reasons(&faults))
    }

    /// The scenario at a point, with the numbers of it that can be turned further; otherwise why there is none.
    pub fn turnable(&self, values: &[f64]) -> Result<Turnable, String> {
        knobs::turnable(&written(&self.at(values)), "this point", self.files.clone()).map_err(|faults| reasons(&faults))
    }

    /// The scenario's text at a point, without `[sweep]`, so that it can be predicted alone. Comments are not kept.
    pub fn text_at(&self, values: &[f64]) -> String {
        let settings: Vec<String> =
            self.plan.axes.iter().zip(values).map(|(axis, value)| format!("# {} = {value}\n", axis.key)).collect();
        let text = text_elsewhere(self.at(values), self.files.base_dir());
        format!("# One point of a sweep:\n{}\n{text}", settings.concat())
    }

    /// What decides the results: every resolved value, the content of every file that is named, and the plan, without what only names or judges the whole. The same
    /// sweep is recognised by it. Values are given to 12 digits; what differs by less is rounding.
    pub fn identity(&self) -> Json {
        self.identity.clone()
    }

    fn at(&self, values: &[f64]) -> toml::Table {
        let mut file = toml::Value::Table(self.file.clone());
        for (place, value) in self.places.iter().zip(values) {
            put(&mut file, place, number(*value));
        }
        match file {
            toml::Value::Table(table) => table,
            _ => unreachable!("it was made from a table"),
        }
    }
}

fn without_sweep(file_name: &str, text: &str) -> Faults {
    let fault = Fault {
        span: None,
        title: format!("{file_name} has no section `[sweep]`"),
        label: String::new(),
        why: "a sweep needs to know which settings vary, and over which values".to_owned(),
        advice: "add, for example:\n\n[sweep]\nprints = 50\n\n[[sweep.axis]]\nkey = \"flow.sheath_sccm\"\nvalues = [20, 30, 40, 60]\n\n[[sweep.axis]]\nkey = \"path[1].speed_mm_s\"\nfrom = 1\nto = 8\ncount = 5\nscale = \"log\"".to_owned(),
    };
    Faults::new(vec![fault], file_name, text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::inputs::{AxisValues, Outline, PointPrints, VariedInput};
    use std::path::PathBuf;

    const TEXT: &str = include_str!("../../../tests/scenarios/good/sweep.toml");

    fn folder() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/scenarios/good")
    }

    fn read(text: &str) -> SweepScenario {
        parse_sweep(text, "sweep.toml", &folder()).unwrap_or_else(|faults| panic!("{faults}"))
    }

    /// A point away from the base on every axis.
    const POINT: [f64; 9] = [45.5, 0.7, 3.0, -300.25, 60.0, 12.5, 0.25, 15.0, 0.1 + 0.2];

    #[test]
    fn values_reach_sections_lists_entries_and_sections_that_are_not_in_the_file() {
        let sweep = read(TEXT);
        let base = &sweep.scenario.inputs;
        assert_eq!((base.layers[0].flows.sheath.sccm().round(), base.layers[0].path[1].passes), (30.0, 2));
        let inputs = sweep.inputs(&POINT).expect("it is a good point");
        let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
        near(inputs.layers[0].flows.sheath.sccm(), 45.5);
        near(inputs.layers[0].path[0].speed, 0.7e-3);
        near(inputs.layers[0].path[1].speed, 4e-3);
        assert_eq!(inputs.layers[0].path[1].passes, 3);
        let Outline::Area(area) = &inputs.regions[0].outline else { panic!("a polygon") };
        let points = &area.contours.contours()[0];
        near(points[2][1], -300.25e-6);
        near(points[2][0], 400e-6);
        near(inputs.layers[0].tube[0].bends[1], std::f64::consts::PI / 3.0);
        near(inputs.layers[0].tube[0].bends[0], std::f64::consts::PI / 2.0);
        let stand_off = inputs.spread.iter().find(|v| v.input == VariedInput::StandOff).expect("it differs");
        near(stand_off.sd, 12.5e-6);
        near(inputs.layers[0].ink.powders[1].mass_fraction, 0.0025);
        near(inputs.layers[0].ink.powders[0].mass_fraction, 0.01);
        near(inputs.acceptance.limits[0].max.expect("given"), 0.15);
        // Exactly: no digit is lost on the way through the text.
        assert_eq!(inputs.layers[0].stage.jitter, (0.1 + 0.2) * 1e-6);
        assert_eq!(inputs.seed, base.seed);
        assert!(inputs.unverified.iter().all(|u| u.key != "stage.jitter_um"));
    }

    #[test]
    fn the_shape_of_the_nozzle_can_be_varied_whether_or_not_the_file_gives_it() {
        let (file, _) = TEXT.split_once("[sweep]").expect("it has one");
        let axes = "[sweep]\nprints = 2\n[[sweep.axis]]\nkey = \"head.half_angle_deg\"\nfrom = 3\nto = 15\ncount = 5\n\
                    [[sweep.axis]]\nkey = \"head.land_um\"\nvalues = [0, 450]\n";
        let without = file.replace("half_angle_deg = 6\n", "");
        assert_ne!(without, file);
        for file in [file, &without] {
            let sweep = read(&format!("{file}{axes}"));
            let inputs = sweep.inputs(&[15.0, 450.0]).expect("it is a good point");
            let head = &inputs.layers[0].head;
            assert!((head.half_angle.to_degrees() - 15.0).abs() < 1e-9 && (head.land - 450e-6).abs() < 1e-12);
            // What is swept is not assumed.
            assert!(
                inputs.unverified.iter().all(|u| !["head.half_angle_deg", "head.land_um"].contains(&u.key.as_str()))
            );
        }
        // A land that is left out goes with the nozzle.
        let nozzles = "[sweep]\nprints = 2\n[[sweep.axis]]\nkey = \"head.nozzle_um\"\nvalues = [150, 200]\n";
        let inputs = read(&format!("{file}{nozzles}")).inputs(&[200.0]).expect("it is a good point");
        assert_eq!(inputs.layers[0].head.land, inputs.layers[0].head.nozzle);
        let land = inputs.unverified_default("head.land_um").expect("it was left out");
        assert_eq!(land.value, "200 µm");
    }

    #[test]
    fn the_plan_holds_values_in_the_units_of_the_keys() {
        let plan = read(TEXT).plan;
        assert_eq!(plan.axes[0].values, AxisValues::List(vec![20.0, 30.0, 45.5]));
        assert_eq!((plan.axes[0].key.as_str(), plan.axes[0].unit.as_str()), ("flow.sheath_sccm", "sccm"));
        assert_eq!(plan.axes[1].values, AxisValues::Log { from: 0.5, to: 8.0, count: 3 });
        assert_eq!(plan.axes[2].values, AxisValues::List(vec![1.0, 2.0, 3.0]), "whole numbers stay whole");
        assert_eq!(plan.axes[2].unit, "");
        assert_eq!(plan.axes[7].unit, "%", "a limit is in the unit of its figure");
        assert_eq!((plan.design, plan.prints), (Design::Grid, PointPrints::Fixed(20)));
        assert!((plan.wanted_share - 0.9).abs() < 1e-12);
        // Between points of a space-filling design whole numbers stay whole, too.
        let sobol =
            read(&TEXT.replace("prints = 20", "prints = 20\ndesign = \"sobol\"\npoints = 64\nmost_prints = 400"));
        assert_eq!(sobol.plan.design, Design::Sobol(64));
        assert_eq!(sobol.plan.prints, PointPrints::Adaptive { round: 20, most: 400, half_width: 0.05 });
        assert_eq!(sobol.plan.axes[2].values, AxisValues::List(vec![1.0, 2.0, 3.0]));
    }

    #[test]
    fn a_point_that_cannot_run_says_why_in_plain_words() {
        let sweep = read(TEXT);
        let with = |axis: usize, value: f64| {
            let mut point = POINT;
            point[axis] = value;
            sweep.inputs(&point).expect_err("it is a bad point")
        };
        let choked = with(0, 400.0);
        assert!(choked.starts_with("the nozzle chokes") && !choked.contains('^'), "{choked}");
        assert!(with(2, 1.5).contains("must be a whole number"), "{}", with(2, 1.5));
        assert!(with(3, 1e9).contains("region[1].points_um"), "{}", with(3, 1e9));
        assert!(with(5, f64::NAN).contains("spread.stand_off.sd_um"), "{}", with(5, f64::NAN));
        assert!(sweep.inputs(&POINT[..3]).is_err());
    }

    #[test]
    fn the_text_of_a_point_is_a_scenario_with_the_same_inputs() {
        let sweep = read(TEXT);
        let text = sweep.text_at(&POINT);
        assert!(!text.contains("[sweep"), "{text}");
        // Read from another folder.
        let alone = crate::parse(&text, "point.toml", Path::new("/")).unwrap_or_else(|f| panic!("{f}\n{text}"));
        let inputs = sweep.inputs(&POINT).expect("it is a good point");
        assert_eq!(format!("{:?}", alone.inputs), format!("{inputs:?}"));
        assert!(parse_sweep(&text, "point.toml", Path::new("/")).is_err(), "it is no sweep any more");
    }

    #[test]
    fn a_scenario_without_a_sweep_is_told_what_one_looks_like() {
        let text = TEXT.split("[sweep]").next().expect("the part before");
        let message = parse_sweep(text, "x.toml", &folder()).expect_err("it has none").to_string();
        let example = message.split("for example:").nth(1).expect("an example");
        let example: String =
            example.lines().take(16).map(|line| format!("{}\n", line.trim_start_matches([' ', '|']))).collect();
        let example = example.split("1 fault").next().expect("the part before");
        assert_eq!(read(&format!("{text}\n{example}")).plan.axes.len(), 2, "{example}");
    }

    #[test]
    fn the_identity_changes_with_values_and_with_nothing_else() {
        let identity = |text: &str| read(text).identity();
        let first = identity(TEXT);
        let same = TEXT
            .replace("# Axes of every form. Invented.", "# Other words.\n\n")
            .replace("name = \"sweep\"", "name   =   \"another name\"")
            .replace("note = \"invented\"", "prints = 7")
            .replace("carrier_sccm = 10", "carrier_sccm = 1.0e1")
            .replace("[map]\n", "[gas]\nkind = \"nitrogen\"\n[map]\n");
        assert_ne!(same, TEXT);
        assert_eq!(identity(&same), first);
        // Every number and every word that is a value, one after the other.
        let mut changed = 0;
        for (i, line) in TEXT.lines().enumerate().filter(|(_, line)| line.contains(" = ")) {
            for (start, _) in line.match_indices(|c: char| c.is_ascii_digit()) {
                // The first digit after the point, or a digit put behind the number.
                let end =
                    start + line[start..].find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(line.len() - start);
                let begins = !line[..start].ends_with(|c: char| c.is_ascii_digit() || c == '.');
                if !begins || line.contains("key =") {
                    continue;
                }
                let number = &line[start..end];
                let whole = ["passes", "seed", "prints", "count"].iter().any(|key| line.contains(key));
                let new = match (number.contains('.'), whole) {
                    (true, _) => format!("{number}01"),
                    (false, true) => (number.parse::<u64>().expect("whole") + 2).to_string(),
                    (false, false) => format!("{number}.001"),
                };
                let mut lines: Vec<String> = TEXT.lines().map(str::to_owned).collect();
                lines[i] = format!("{}{new}{}", &line[..start], &line[end..]);
                if let Ok(read) = parse_sweep(&lines.join("\n"), "sweep.toml", &folder()) {
                    assert_ne!(read.identity(), first, "{}", lines[i]);
                    changed += 1;
                }
            }
        }
        assert!(changed > 40, "only {changed} values were changed");
        for (old, new) in [
            ("size_weighting = \"number\"", "size_weighting = \"volume\""),
            ("scale = \"log\"", "scale = \"linear\""),
            ("stand_off = { sd_um = 25 }", "stand_off = { sd_um = 25, law = \"uniform\" }"),
            ("prints = 20", "prints = 20\nchance = \"own\""),
            ("path['first line'].speed_mm_s", "path[2].speed_mm_s"),
            ("\"alumina\"", "\"silica\""),
        ] {
            assert_ne!(identity(&TEXT.replace(old, new)), first, "{new}");
        }
    }
}
