//! The scenario file: from TOML text to [`Inputs`], with every fault of the file reported at once.
//!
//! One table (`keys`) describes each key: unit, range and its reason, default, meaning, and the field that it fills. The reader, the
//! echo and the editors' schema follow it, so units exist here and nowhere further inside.

mod bind;
mod build;
mod checks;
mod choices;
pub mod drawing;
mod drawn;
mod echo;
mod faults;
mod hazards;
mod key;
#[rustfmt::skip]
mod keys;
mod layers;
mod limits;
mod memory;
mod reader;
mod schema;
mod sections;
mod side_files;
mod sizes_csv;
mod slips;
mod sweep;
mod units;

pub use echo::{echo, resolved};
pub use faults::{Fault, Faults, Style, did_you_mean, nearest};
pub use schema::schema;
pub use sweep::{
    AdviseScenario, Dial, Knob, STATIONS, Station, SweepScenario, Turnable, load_advise, load_sweep, load_turnable,
    parse_advise, parse_sweep,
};

use motefall_figures::calibration::Used;
use motefall_files::file_kind::FileKind;
use motefall_physics::inputs::Inputs;
use reader::{Collector, Reader};
use side_files::SideFiles;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use toml::de::DeTable;

/// A scenario that passed every check.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// All values of the file and the defaults, in SI units. The number of prints and the seed may be changed; what is changed here is not
    /// checked again.
    pub inputs: Inputs,
    /// Remarks about inputs that are allowed and unusual.
    pub notes: Vec<String>,
    /// What test lines taught of the bench, once a calibration was put in.
    pub calibrated: Option<Calibrated>,
    /// The file as it was read.
    pub(crate) source_text: String,
}

/// What a calibration makes of a scenario, besides the values in its inputs.
#[derive(Debug, Clone)]
pub struct Calibrated {
    /// The inputs as the bench may be: what is still unknown, and what the model lacks, drawn anew in each.
    pub possible: Vec<Inputs>,
    /// What is to be said of the calibration.
    pub used: Used,
}

impl Scenario {
    /// Its inputs, and those that are possible by a calibration: what holds for all prints is changed in each.
    pub fn all_inputs(&mut self) -> impl Iterator<Item = &mut Inputs> {
        let possible = self.calibrated.iter_mut().flat_map(|calibrated| &mut calibrated.possible);
        possible.chain([&mut self.inputs])
    }
}

/// Whether a file can be read and asks for a sweep.
pub fn is_sweep_file(path: &Path) -> bool {
    read_text(path).is_ok_and(|text| asks_for_sweep(&text))
}

/// Whether a scenario's text asks for a sweep.
fn asks_for_sweep(text: &str) -> bool {
    text.parse::<toml::Table>().is_ok_and(|table| table.contains_key("sweep"))
}

/// Reads a scenario file. Files it names are looked for beside it.
pub fn load(path: &Path) -> Result<Scenario, Faults> {
    parse(&read_text(path)?, &path.display().to_string(), folder_of(path))
}

/// Reads a scenario from text. `file_name` appears in messages; files that the text names are looked for in `base_dir`.
pub fn parse(text: &str, file_name: &str, base_dir: &Path) -> Result<Scenario, Faults> {
    parse_with(text, file_name, &SideFiles::new(base_dir), |_, _, _| ()).map(|(scenario, ())| scenario)
}

fn folder_of(path: &Path) -> &Path {
    path.parent().unwrap_or(Path::new("."))
}

/// Largest scenario file, bytes: as values in memory it takes some fifty times as much.
const LARGEST_FILE: u64 = 16_000_000;

fn read_text(path: &Path) -> Result<String, Faults> {
    let file_name = path.display().to_string();
    let unreadable =
        |title: String, advice: &str| Faults::new(vec![Fault::of_file(title, advice.to_owned())], &file_name, "");
    let mut bytes = Vec::new();
    // A device has no size and no end.
    let read = File::open(path).and_then(|file| file.take(LARGEST_FILE + 1).read_to_end(&mut bytes));
    read.map_err(|error| {
        unreadable(
            format!("cannot read {file_name}: {error}"),
            "check the name; `motefall new` writes a file to start from",
        )
    })?;
    if bytes.len() as u64 > LARGEST_FILE {
        let title =
            format!("{file_name} has more than {} MB, the most that is read as a scenario", LARGEST_FILE / 1_000_000);
        return Err(unreadable(title, "give a scenario; shapes of many corners can stand in a drawing beside it"));
    }
    String::from_utf8(bytes).map_err(|error| {
        let text = error.as_bytes();
        if let Some(kind) = FileKind::of(text) {
            return Faults::new(vec![slips::wrong_kind(&file_name, kind)], &file_name, "");
        }
        let line = text[..error.utf8_error().valid_up_to()].iter().filter(|byte| **byte == b'\n').count() + 1;
        unreadable(
            format!("{file_name} is not a text file in UTF-8: line {line} holds other bytes"),
            "save it as UTF-8 text; editors ask for the encoding under \"Save as\"",
        )
    })
}

/// Reads a scenario, and with `further` what else the file holds. `further` may be given stand-ins for faulty inputs; what
/// it makes is used only if it, too, found no fault.
fn parse_with<T>(
    text: &str,
    file_name: &str,
    files: &SideFiles,
    further: impl FnOnce(&Reader<'_>, &Collector, &mut Scenario) -> T,
) -> Result<(Scenario, T), Faults> {
    // Some editors begin a file with a byte order mark.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        let (list, left_out) = match FileKind::of(text.as_bytes()) {
            Some(kind) => (vec![slips::wrong_kind(file_name, kind)], 0),
            None => slips::syntax(text, errors.iter().map(|error| (error.span(), error.message()))),
        };
        return Err(Faults::new(list, file_name, text).and_more(left_out));
    }
    let collector = Collector::default();
    let root = Reader::root(&collector, table.get_ref());
    let (inputs, notes) = build::build(&root, files);
    let mut scenario = Scenario { inputs, notes, calibrated: None, source_text: text.to_owned() };
    let more = further(&root, &collector, &mut scenario);
    let (faults, left_out, assumed) = collector.into_parts();
    if !faults.is_empty() {
        return Err(Faults::new(faults, file_name, text).and_more(left_out));
    }
    let layers = scenario.inputs.layers.len();
    scenario.inputs.unverified =
        if scenario.inputs.is_layered() { layers::shared_defaults(assumed, layers) } else { assumed };
    Ok((scenario, more))
}

/// A commented scenario to start from; it runs as it is.
pub fn starter() -> &'static str {
    include_str!("starter.toml")
}
