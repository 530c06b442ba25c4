//! Which numbers of a scenario can be turned one at a time.

use super::identity;
use super::target::{Place, Step, Whole, target};
use super::text::{number, put, reasons, text_elsewhere, written};
use crate::faults::Faults;
use crate::side_files::SideFiles;
use crate::{Scenario, echo, folder_of, parse_with, read_text};
use motefall_physics::inputs::{DropletMedian, Inputs};
use motefall_physics::source::atomiser::nominal_droplets;
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::Arc;

/// The number that stands for the key below it, where the file gives that.
const MEDIAN: &str = "atomiser.droplet_median_um";
/// The key that it replaces, and the section of both.
pub(super) const REPLACED: &str = "frequency_mhz";
pub(super) const MEDIAN_SECTION: &str = "atomiser";

/// Settings of the bench and what is not known of it, in the order of the process; `[]` stands for each item of a list. Not what makes whole
/// strokes more or less.
pub(super) const KEYS: [&str; 21] = [
    "ink.powder[].mass_percent",
    "atomiser.mist_load_ul_per_l",
    "atomiser.droplet_median_um",
    "atomiser.droplet_gsd",
    "atomiser.retention_midpoint",
    "flow.carrier_sccm",
    "flow.sheath_sccm",
    "head.temperature_c",
    "head.mixing_length_mm",
    "head.half_angle_deg",
    "head.nozzle_um",
    "head.land_um",
    "flight.stand_off_mm",
    "flight.lift_factor",
    "landing.contact_angle_deg",
    "landing.residue_packing",
    "stage.shutter_open_ms",
    "stage.shutter_close_ms",
    "output.warm_up_s",
    "output.run_in_deficit_percent",
    "path[].speed_mm_s",
];

/// A number of a scenario that can be turned.
#[derive(Debug, Clone)]
pub struct Knob {
    /// Its key, as an axis of a sweep names it.
    pub key: String,
    /// Unit of the key.
    pub unit: &'static str,
    /// Its value in this unit, as given or by default.
    pub value: f64,
    /// Whether it is a default that nobody has measured.
    pub is_unverified: bool,
    /// Least and largest value that it may have.
    pub range: [f64; 2],
    /// Whether it takes whole numbers only.
    pub is_whole: bool,
    place: Place,
    /// Whether it takes the place of another key of its section.
    replaces: bool,
}

impl Knob {
    /// Whether it takes the place of another key, from which its value follows.
    pub fn replaces(&self) -> bool {
        self.replaces
    }

    /// Whether its value 0 is nothing of it, so that parts of it mean something: not of temperatures, places and what may be negative.
    pub fn has_zero(&self) -> bool {
        self.range[0] >= 0.0 && self.unit != "C"
    }

    pub(super) fn place(&self) -> &[Step] {
        &self.place
    }
}

/// A scenario whose numbers can be turned.
#[derive(Debug)]
pub struct Turnable {
    /// The scenario as it is.
    pub scenario: Scenario,
    /// What can be turned.
    pub knobs: Vec<Knob>,
    file: toml::Table,
    files: Arc<SideFiles>,
    resolved: Json,
}

/// Reads a scenario and finds what of it can be turned. A `[sweep]` is left aside.
pub fn load_turnable(path: &Path) -> Result<Turnable, Faults> {
    let files = SideFiles::new(folder_of(path));
    turnable(&read_text(path)?, &path.display().to_string(), Arc::new(files))
}

pub(super) fn turnable(text: &str, file_name: &str, files: Arc<SideFiles>) -> Result<Turnable, Faults> {
    let (scenario, ()) = parse_with(text, file_name, &files, |_, _, _| ())?;
    let mut file: toml::Table = scenario.source_text.parse().unwrap_or_default();
    file.remove("sweep");
    file.remove("advise");
    let resolved = echo::resolved(&scenario.inputs);
    let layers = file.get("layer").and_then(toml::Value::as_array).map_or(0, Vec::len);
    let homes: Vec<String> =
        if layers == 0 { vec![String::new()] } else { (1..=layers).map(|n| format!("layer[{n}].")).collect() };
    let keys = homes.iter().flat_map(|home| KEYS.iter().flat_map(move |key| each(&format!("{home}{key}"))));
    let turnable = Turnable { scenario, knobs: Vec::new(), file, files, resolved };
    let knobs = keys.filter_map(|key| turnable.knob(&key).ok().filter(|knob| knob.value > 0.0 && !knob.replaces));
    let knobs = knobs.collect();
    Ok(Turnable { knobs, ..turnable })
}

/// Most items of a list that are looked at.
const MOST_ITEMS: usize = 4;

/// A key for each item of the list in it.
fn each(key: &str) -> Vec<String> {
    match key.split_once("[]") {
        Some((list, rest)) => (1..=MOST_ITEMS).map(|n| format!("{list}[{n}]{rest}")).collect(),
        None => vec![key.to_owned()],
    }
}

fn step<'a>(value: &'a Json, step: &Step) -> Option<&'a Json> {
    match step {
        Step::Key(key) => value.get(key),
        Step::Item(item) => value.get(item),
    }
}

/// A number as the file gives it.
fn written_number(file: &toml::Table, place: &[Step]) -> Option<f64> {
    let (Step::Key(first), rest) = place.split_first()? else { return None };
    let step = |value: &'_ toml::Value, step: &Step| match step {
        Step::Key(key) => value.get(key).cloned(),
        Step::Item(item) => value.get(*item).cloned(),
    };
    let value = rest.iter().try_fold(file.get(*first)?.clone(), |value, next| step(&value, next))?;
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64))
}

impl Turnable {
    pub(super) fn file(&self) -> &toml::Table {
        &self.file
    }

    pub(super) fn resolved(&self) -> &Json {
        &self.resolved
    }

    /// What decides what is printed: every resolved value and the content of every file that is named.
    pub(super) fn identity(&self) -> Json {
        let scenario = identity::scenario(&self.scenario.inputs, &self.file);
        json!({ "files": self.files.fingerprints(), "scenario": scenario })
    }

    /// The number that a key names, as an axis of a sweep does; otherwise why there is none, and what to write.
    pub fn knob(&self, key: &str) -> Result<Knob, String> {
        let atomiser = self.file.get(MEDIAN_SECTION).and_then(toml::Value::as_table);
        let replaces = key == MEDIAN && atomiser.is_some_and(|atomiser| atomiser.contains_key(REPLACED));
        let found = match replaces {
            true => target(&without_frequency(&self.file), key),
            false => target(&self.file, key),
        };
        let found = found.map_err(|slip| format!("{}: {}", slip.title, slip.advice))?;
        let value = match &self.scenario.inputs.layers[0].atomiser.median {
            DropletMedian::Ultrasonic(_) if replaces => {
                Some(nominal_droplets(&self.scenario.inputs.layers[0]).median * 1e6)
            }
            // Sizes of powders are resolved to percentiles.
            _ => found
                .place
                .iter()
                .try_fold(&self.resolved, step)
                .and_then(Json::as_f64)
                .or_else(|| written_number(&self.file, &found.place)),
        };
        let value = value.ok_or_else(|| format!("`{key}` has no value in this scenario: give it one"))?;
        // What follows from a frequency is an extrapolation at best.
        let is_unverified = replaces || self.scenario.inputs.unverified_default(&numbered(&found.place)).is_some();
        let range = [found.spec.least, found.spec.most];
        let is_whole = found.whole == Whole::Only;
        let key = key.to_owned();
        Ok(Knob { key, unit: found.unit, value, is_unverified, range, is_whole, place: found.place, replaces })
    }

    /// The inputs with another value of a knob, in its unit, read again with every check; otherwise why not.
    pub fn turned(&self, knob: &Knob, value: f64) -> Result<Inputs, String> {
        self.with(&[(knob, value)])
    }

    /// The inputs with other values of several knobs, each in its unit, read again with every check; otherwise why not.
    pub fn with(&self, values: &[(&Knob, f64)]) -> Result<Inputs, String> {
        self.scenario_with(values).map(|scenario| scenario.inputs)
    }

    /// The same, as a scenario with its remarks.
    pub fn scenario_with(&self, values: &[(&Knob, f64)]) -> Result<Scenario, String> {
        let read = parse_with(&written(&self.at(values)), "this setting", &self.files, |_, _, _| ());
        read.map(|(scenario, ())| scenario).map_err(|faults| reasons(&faults))
    }

    /// The same, to be turned further.
    pub fn put(&self, values: &[(&Knob, f64)]) -> Result<Turnable, String> {
        turnable(&written(&self.at(values)), "this setting", self.files.clone()).map_err(|faults| reasons(&faults))
    }

    /// The text of the scenario with other values of several knobs and, if given, another calibration, to stand in any folder. Comments are
    /// not kept.
    pub fn text_with(&self, values: &[(&Knob, f64)], calibration: Option<&Path>) -> String {
        let mut file = self.at(values);
        if let Some(Ok(full)) = calibration.map(std::path::absolute) {
            file.insert("calibration".into(), full.display().to_string().into());
        }
        text_elsewhere(file, self.files.base_dir())
    }

    fn at(&self, values: &[(&Knob, f64)]) -> toml::Table {
        let is_replaced = values.iter().any(|(knob, _)| knob.replaces);
        let mut file = toml::Value::Table(if is_replaced { without_frequency(&self.file) } else { self.file.clone() });
        values.iter().for_each(|(knob, value)| put(&mut file, &knob.place, number(*value)));
        match file {
            toml::Value::Table(table) => table,
            _ => unreachable!("it was made from a table"),
        }
    }
}

/// The key of a place with numbers in place of names.
fn numbered(place: &[Step]) -> String {
    let part = |step: &Step| match step {
        Step::Key(key) => format!(".{key}"),
        Step::Item(item) => format!("[{}]", item + 1),
    };
    place.iter().map(part).collect::<String>().trim_start_matches('.').to_owned()
}

/// A file that leaves its droplet size to another key than the frequency.
fn without_frequency(file: &toml::Table) -> toml::Table {
    let mut file = file.clone();
    if let Some(atomiser) = file.get_mut(MEDIAN_SECTION).and_then(toml::Value::as_table_mut) {
        atomiser.remove(REPLACED);
    }
    file
}

#[cfg(test)]
mod tests {
    use super::super::testing::shipped;

    #[test]
    fn a_knob_turns_its_number_and_no_other() {
        let chip = shipped("sodium-chip.toml");
        let find = |key: &str| chip.knobs.iter().find(|knob| knob.key == key).unwrap_or_else(|| panic!("{key}"));
        let sheath = find("flow.sheath_sccm");
        assert_eq!((sheath.value, sheath.unit, sheath.is_unverified), (40.0, "sccm", false));
        let turned = chip.turned(sheath, 44.0).expect("a good value");
        let mut back = turned.clone();
        back.layers[0].flows.sheath = chip.scenario.inputs.layers[0].flows.sheath;
        assert!((turned.layers[0].flows.sheath.0 / chip.scenario.inputs.layers[0].flows.sheath.0 - 1.1).abs() < 1e-12);
        assert_eq!(format!("{back:?}"), format!("{:?}", chip.scenario.inputs));
        // A default, an item of a list, and a value out of range.
        assert!(find("output.warm_up_s").value > 0.0 && find("path[1].speed_mm_s").value == 2.0);
        assert!(chip.turned(sheath, -1.0).is_err());
        // In a print of layers each layer has its own.
        let cell = shipped("two-electrode-cell.toml");
        assert!(cell.knobs.iter().any(|knob| knob.key.starts_with("layer[2].") && knob.key.contains("speed")));
    }
}
