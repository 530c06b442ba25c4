//! Which numbers of a scenario can be turned one at a time.

use super::target::{Place, Step, target};
use super::{put, reasons, written};
use crate::faults::Faults;
use crate::side_files::SideFiles;
use crate::{Scenario, echo, folder_of, parse_with, read_text};
use motefall_physics::inputs::Inputs;
use serde_json::Value as Json;
use std::path::Path;

/// Settings of the bench and what is not known of it, in the order of the process; `[]` stands for each item of a list. Not what makes whole
/// strokes more or less.
const KEYS: [&str; 21] = [
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
    place: Place,
}

/// A scenario whose numbers can be turned.
#[derive(Debug)]
pub struct Turnable {
    /// The scenario as it is.
    pub scenario: Scenario,
    /// What can be turned.
    pub knobs: Vec<Knob>,
    file: toml::Table,
    files: SideFiles,
}

/// Reads a scenario and finds what of it can be turned. A `[sweep]` is left aside.
pub fn load_turnable(path: &Path) -> Result<Turnable, Faults> {
    turnable(&read_text(path)?, &path.display().to_string(), folder_of(path))
}

fn turnable(text: &str, file_name: &str, base_dir: &Path) -> Result<Turnable, Faults> {
    let files = SideFiles::new(base_dir);
    let (scenario, ()) = parse_with(text, file_name, &files, |_, _, _| ())?;
    let mut file: toml::Table = scenario.source_text.parse().unwrap_or_default();
    file.remove("sweep");
    let resolved = echo::resolved(&scenario.inputs);
    let layers = file.get("layer").and_then(toml::Value::as_array).map_or(0, Vec::len);
    let homes: Vec<String> =
        if layers == 0 { vec![String::new()] } else { (1..=layers).map(|n| format!("layer[{n}].")).collect() };
    let keys = homes.iter().flat_map(|home| KEYS.iter().flat_map(move |key| each(&format!("{home}{key}"))));
    let knob = |key: String| {
        let found = target(&file, &key).ok()?;
        let value = found.place.iter().try_fold(&resolved, step)?.as_f64().filter(|value| *value > 0.0)?;
        let is_unverified = scenario.inputs.unverified_default(&key).is_some();
        let range = [found.spec.least, found.spec.most];
        Some(Knob { key, unit: found.unit, value, is_unverified, range, place: found.place })
    };
    let knobs = keys.filter_map(knob).collect();
    Ok(Turnable { scenario, knobs, file, files })
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

impl Turnable {
    /// The inputs with another value of a knob, in its unit, read again with every check; otherwise why not.
    pub fn turned(&self, knob: &Knob, value: f64) -> Result<Inputs, String> {
        let mut file = toml::Value::Table(self.file.clone());
        put(&mut file, &knob.place, value.into());
        let text = file.as_table().map(written).unwrap_or_default();
        let read = parse_with(&text, "this setting", &self.files, |_, _, _| ());
        read.map(|(scenario, ())| scenario.inputs).map_err(|faults| reasons(&faults))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shipped(name: &str) -> Turnable {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios").join(name);
        load_turnable(&path).unwrap_or_else(|faults| panic!("{faults}"))
    }

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
