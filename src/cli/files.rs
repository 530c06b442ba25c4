//! Commands about scenario files: check, new, schema. And how a scenario file is found.

use super::asked::{ScenarioFile, is_dash};
use super::failure::{Exit, Failure, OrFail};
use super::say::say;
use anyhow::anyhow;
use clap::Args;
use motefall::{Turnable, lines};
use motefall_files::whole_file::{self, WriteError, folder_of};
use motefall_output::numbers::trimmed;
use motefall_physics::contours::Contours;
use motefall_physics::inputs::{Inputs, Outline, PointPrints, Shape};
use motefall_run::sweep::design::Points;
use motefall_scenario::{self as scenario, Scenario, SweepScenario};
use std::path::{Path, PathBuf};

/// Most files listed in a message.
const MOST_LISTED: usize = 8;

/// Check a scenario and show what was understood
///
/// Lists every fault of the file at once. Without faults it shows all values with their
/// units, the ones you did not set filled in. Defaults that matter and that nobody has
/// measured for your bench are marked, with a hint how to measure them. Nothing is computed
/// and nothing is written.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment, after_long_help = "Example:\n  motefall check my-print.toml")]
pub(super) struct Check {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Show the values as a calibration has them: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
}

impl Check {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let file = &self.scenario.file;
        is_there(file)?;
        // Read as what it is, so that its faults show all at once.
        let is_sweep = scenario::is_sweep_file(file);
        let sweep = match is_sweep {
            true => sweep_words(&scenario::load_sweep(file).map_err(Failure::Faults)?).or_bad_input()?,
            false => String::new(),
        };
        let scenario = load(file, self.calibration.as_deref())?;
        let used: String = match &scenario.calibrated {
            Some(calibrated) => motefall::calibration_words(&calibrated.used).map(|text| format!("{text}\n")).collect(),
            None => String::new(),
        };
        let unverified = match scenario.inputs.unverified.len() {
            0 => String::new(),
            1 => ", with 1 unverified default".to_owned(),
            n => format!(", with {n} unverified defaults"),
        };
        let drawn = drawn_words(&scenario.inputs);
        say(&format!(
            "{}\n{used}{drawn}{sweep}{}: no faults{unverified}\n",
            scenario::echo(&scenario),
            file.display()
        ))?;
        Ok(Exit::Done)
    }
}

/// How large the shapes of drawings are: a wrong unit shows.
fn drawn_words(inputs: &Inputs) -> String {
    let mut out = String::new();
    let mut line = |name: &str, contours: &Contours| {
        let [width, height] = contours.bounds().size().map(|side| side * 1e6);
        let closed = match contours.contours().len() {
            1 => "one closed line".to_owned(),
            n => format!("{n} closed lines"),
        };
        out += &format!(
            "  {name}: {} x {} µm, {} µm², {closed}\n",
            trimmed(tidy(width)),
            trimmed(tidy(height)),
            trimmed(tidy(contours.area() * 1e12))
        );
    };
    for region in &inputs.regions {
        if let Outline::Area(area) = &region.outline
            && area.source.is_some()
        {
            line(&region.name, &area.contours);
        }
    }
    for item in inputs.items() {
        if let Shape::Filled(filled) = &item.shape {
            line(&item.name, &filled.area);
        }
    }
    if out.is_empty() { out } else { format!("Shapes from drawings, width x height:\n{out}\n") }
}

/// Four digits.
fn tidy(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

/// Most points of a sweep whose settings are looked at.
const MOST_TRIED: u64 = 200;

/// What a sweep will run, and whether its points can.
fn sweep_words(sweep: &SweepScenario) -> anyhow::Result<String> {
    let plan = &sweep.plan;
    let points = Points::new(plan, sweep.scenario.inputs.seed).map_err(|reason| anyhow!(reason))?;
    let count = points.count();
    let prints = match plan.prints {
        PointPrints::Fixed(prints) => format!("{prints} prints each"),
        PointPrints::Adaptive { round, most, .. } => format!("{round} to {most} prints each"),
    };
    let mut out = format!("Sweep: {count} points, {prints}\n");
    let step = count.div_ceil(MOST_TRIED).max(1) as usize;
    let tried: Vec<Vec<f64>> = (0..count).step_by(step).map(|number| points.at(number)).collect();
    for (k, axis) in plan.axes.iter().enumerate() {
        let (low, high) = tried
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), values| (low.min(values[k]), high.max(values[k])));
        let range = format!("{} to {} {}", trimmed(low), trimmed(high), axis.unit);
        out += &format!("  {}: {}\n", axis.key, range.trim_end());
    }
    let reasons: Vec<String> = tried.iter().filter_map(|values| sweep.inputs(values).err()).collect();
    if let Some(first) = reasons.first() {
        let of = if step == 1 { format!("{count} points") } else { format!("{} points looked at", tried.len()) };
        out += &format!("  {} of {of} cannot run; the first: {first}\n", reasons.len());
    }
    Ok(out)
}

/// Write a commented scenario to start from
///
/// The file describes one invented print completely, with comments, and runs as it is.
/// Replace its values by what stands on your bench. A file that exists is never replaced.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "Examples:\n  motefall new                  writes my-print.toml\n  \
    motefall new cathode.toml     writes cathode.toml\n  motefall new -                prints it\n  \
    motefall new --measurements   writes lines.csv, a table to fill in with the lines of scenarios/first-line.toml"
)]
pub(super) struct New {
    /// File to write; - prints it (default: my-print.toml, or lines.csv with --measurements)
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Write an empty table for measured test lines instead, which `motefall calibrate` reads
    #[arg(long)]
    measurements: bool,
}

impl New {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let (text, usual, next) = match self.measurements {
            true => (lines::starter(), "lines.csv", "motefall calibrate scenarios/first-line.toml --measured FILE\n"),
            false => (scenario::starter(), "my-print.toml", "motefall check FILE\n  motefall predict FILE\n"),
        };
        let file = self.file.unwrap_or_else(|| usual.into());
        if is_dash(&file) {
            say(text)?;
        } else {
            write_new(&file, text).or_bad_input()?;
            let name = file.display().to_string();
            say(&format!("Wrote {name}. Put your values in, then:\n  {}", next.replace("FILE", &name)))?;
        }
        Ok(Exit::Done)
    }
}

/// Write the JSON schema of scenarios, for editors that check while you type
///
/// Editors with a TOML extension read the schema and then complete keys, show their
/// meaning and mark mistakes. The manual of the extension says how it is told of a schema.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "Examples:\n  motefall schema                          prints it\n  \
    motefall schema motefall.schema.json     writes a file"
)]
pub(super) struct Schema {
    /// File to write; without it the schema is printed
    #[arg(value_name = "FILE", default_value = "-", hide_default_value = true)]
    file: PathBuf,
}

impl Schema {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        if is_dash(&self.file) {
            say(&scenario::schema())?;
        } else {
            write_new(&self.file, &scenario::schema()).or_bad_input()?;
            say(&format!("Wrote {}.\n", self.file.display()))?;
        }
        Ok(Exit::Done)
    }
}

/// Writes a file that must not exist yet: complete or not at all.
pub(super) fn write_new(path: &Path, text: &str) -> anyhow::Result<()> {
    whole_file::create(path, &[text.as_bytes()]).map_err(|error| match &error {
        WriteError::Exists { .. } => anyhow!("{error} and is left as it is; give another name, or remove it first"),
        WriteError::NoFolder { .. } => anyhow!("{error}; make it first"),
        WriteError::DiskFull { .. } => error.into(),
        _ => anyhow!("{error}; choose a folder you may write to"),
    })
}

/// Reads a scenario, with the calibration given or the one that it names; a wrong file name is answered with the scenario files nearby.
pub(super) fn load(path: &Path, calibration: Option<&Path>) -> Result<Scenario, Failure> {
    is_there(path)?;
    motefall::load_calibrated(path, calibration).map_err(Failure::Faults)
}

/// The same with other values of some of its numbers, and if asked for as a scenario that can be turned further.
pub(super) fn load_with(
    path: &Path,
    calibration: Option<&Path>,
    set: &[(String, f64)],
    turns: bool,
) -> Result<(Scenario, Option<Turnable>), Failure> {
    if set.is_empty() {
        let turnable = if turns { Some(load_turnable(path, calibration)?) } else { None };
        return Ok((load(path, calibration)?, turnable));
    }
    is_there(path)?;
    let trial = motefall::load_trial(path, calibration).map_err(Failure::Faults)?;
    let knob = |(key, value): &(String, f64)| trial.written.knob(key).map(|knob| (knob, *value));
    let refuse = |reason: String| Failure::BadInput(anyhow!("--set: {reason}"));
    let knobs: Vec<_> = set.iter().map(knob).collect::<Result<_, _>>().map_err(refuse)?;
    let values: Vec<_> = knobs.iter().map(|(knob, value)| (knob, *value)).collect();
    let turnable = if turns { Some(trial.turnable(&values).map_err(refuse)?) } else { None };
    Ok((trial.scenario(&values).map_err(refuse)?, turnable))
}

/// The same, with the numbers of it that can be turned.
pub(super) fn load_turnable(path: &Path, calibration: Option<&Path>) -> Result<Turnable, Failure> {
    is_there(path)?;
    motefall::load_turnable(path, calibration).map_err(Failure::Faults)
}

/// A scenario that is to be calibrated, which names no calibration: what lines teach starts from what the scenario itself says.
pub(super) fn load_uncalibrated(path: &Path) -> Result<Turnable, Failure> {
    is_there(path)?;
    let turnable = scenario::load_turnable(path).map_err(Failure::Faults)?;
    match &turnable.scenario.inputs.calibration {
        None => Ok(turnable),
        Some(named) => Err(Failure::BadInput(anyhow!(
            "{} names a calibration already ({named}), and lines teach of what the scenario itself says; remove its line `calibration` for this",
            path.display()
        ))),
    }
}

/// Whether there is such a file; if not, the scenario files nearby are named.
pub(super) fn is_there(path: &Path) -> Result<(), Failure> {
    let shown = path.display();
    if path.is_dir() {
        let files = toml_files(path);
        let advice = match files.len() {
            0 => "give a scenario file; `motefall new` writes one to start from".to_owned(),
            _ => format!("give one of the files in it: {}", listed(path, &files)),
        };
        return Err(Failure::BadInput(anyhow!("{shown} is a folder; {advice}")));
    }
    if !path.exists() {
        return Err(Failure::BadInput(anyhow!("there is no file {shown}; {}", files_nearby(path))));
    }
    Ok(())
}

/// What might have been meant by a file name that does not exist.
fn files_nearby(path: &Path) -> String {
    let folder = folder_of(path);
    if !folder.is_dir() {
        return format!("there is no folder {} either", folder.display());
    }
    let files = toml_files(folder);
    let wanted = path.file_name().unwrap_or_default().to_string_lossy();
    match scenario::nearest(&wanted, files.iter().map(String::as_str)) {
        _ if files.is_empty() => "`motefall new` writes one to start from".to_owned(),
        Some(near) => format!("did you mean {}?", beside(folder, near)),
        None => format!("TOML files there: {}", listed(folder, &files)),
    }
}

/// Names of the TOML files in a folder, in order.
fn toml_files(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let paths = entries.flatten().map(|entry| entry.path());
    let mut names: Vec<String> = paths
        .filter(|path| path.is_file() && path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml")))
        .filter_map(|path| Some(path.file_name()?.to_str()?.to_owned()))
        .collect();
    names.sort();
    names
}

/// Files of a folder in words, the first few of them.
fn listed(folder: &Path, files: &[String]) -> String {
    let shown: Vec<String> = files.iter().take(MOST_LISTED).map(|name| beside(folder, name)).collect();
    let more = if files.len() > MOST_LISTED { ", ..." } else { "" };
    format!("{}{more}", shown.join(", "))
}

/// A file of a folder as the user would type it.
fn beside(folder: &Path, name: &str) -> String {
    if folder == Path::new(".") { name.to_owned() } else { folder.join(name).display().to_string() }
}
