//! `motefall predict`: from a scenario file to a result folder.

use super::asked::{ScenarioFile, threads};
use super::failure::{Exit, Failure, OrFail};
use super::files;
use super::progress::{Reporter, Timed, listen_for_stop};
use super::say::{remark, say};
use anyhow::{Context, anyhow};
use clap::Args;
use motefall::{Earlier, FolderError, Took};
use motefall_files::whole_folder::{check_place, recover};
use motefall_output::{self as output, terminal};
use motefall_physics::inputs::{Inputs, PrintCount};
use motefall_physics::jet::solver::JetError;
use motefall_physics::jet::store::FieldStore;
use motefall_run::RunError;
use motefall_scenario::{self as scenario, Scenario};
use std::path::{Path, PathBuf};
use std::time::{Instant, SystemTime};

/// Names another folder for solved gas jets.
const CACHE_VARIABLE: &str = "MOTEFALL_CACHE";
/// Columns when the terminal does not say how wide it is.
const USUAL_WIDTH: usize = 80;

/// Predict a print and write a report
///
/// Follows every droplet of the print from the vial to the chip, repeats the print to see
/// its spread by chance, and judges it against your limits. Writes a new folder with a
/// report to open in a browser, maps to load elsewhere, and tables; prints a short summary.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    allow_negative_numbers = true,
    after_long_help = "\
Examples:
  motefall predict my-print.toml                     result in a new folder, named after file and time
  motefall predict my-print.toml --out results/a     result in results/a
  motefall predict my-print.toml --prints 50         50 repeated prints: narrower intervals
  motefall predict my-print.toml --seed 2            the same print with other random numbers
  motefall predict my-print.toml --json > a.json     the figures for a program
  motefall predict my-print.toml --expected          means over prints without making one
  motefall predict my-print.toml --calibration calibration/calibration.toml
                                                     with what your test lines taught
  motefall predict my-print.toml --knobs             with what turning each setting does, in the report
  motefall predict my-print.toml --set flow.sheath_sccm=60 --set \"path['line'].speed_mm_s=2\"
                                                     with other numbers than the file's

Exit codes: 0 done (and accepted, if limits are set), 1 done and not accepted, 2 bad input, 3 failed or stopped.
Ctrl-C stops the run; what its prints gave so far is written, from two prints on.
Again it ends the program at once.
Solved gas jets are kept in your cache folder, so that the next run with the same nozzle
and flows starts sooner; the variable MOTEFALL_CACHE names another folder."
)]
pub(super) struct Predict {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// New folder for the result (default: one here, named after file and time in UTC)
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace an earlier result in the folder given by --out; a folder with anything else in it is left alone
    #[arg(long, requires = "out")]
    overwrite: bool,
    /// Number of repeated prints, in place of the scenario's
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    prints: Option<u32>,
    /// Random seed, in place of the scenario's: same seed, same print
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(..=i64::MAX as u64))]
    seed: Option<u64>,
    /// Also write a list of all particles of the first print
    #[arg(long)]
    particles: bool,
    /// Processor cores to use (default: all); the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads)]
    threads: Option<usize>,
    /// Solve the gas jet anew and keep nothing for the next run
    #[arg(long)]
    no_cache: bool,
    /// Predict for a bench that `motefall calibrate` learnt: the calibration.toml it wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// Another value of a number of the scenario, in the unit of its key; may be given several times
    #[arg(long = "set", value_name = "KEY=VALUE", value_parser = setting)]
    set: Vec<(String, f64)>,
    /// Only tell what figures are on average, without making a print: at once, if the jet is kept
    #[arg(long, conflicts_with_all = ["out", "overwrite", "prints", "seed", "particles"])]
    expected: bool,
    /// Also tell in the report what turning each setting does; takes a minute the first time, seconds then
    #[arg(long, conflicts_with = "expected")]
    knobs: bool,
    /// Print everything but the maps as JSON instead of the summary
    #[arg(long)]
    json: bool,
    /// Show no progress and no summary, only the path of the report
    #[arg(short, long)]
    quiet: bool,
}

/// A number of the scenario and its value.
fn setting(text: &str) -> Result<(String, f64), String> {
    let parts = text.rsplit_once('=').map(|(key, value)| (key.trim(), value.trim().parse::<f64>()));
    match parts {
        Some((key, Ok(value))) if !key.is_empty() && value.is_finite() => Ok((key.to_owned(), value)),
        _ => Err("give a key and a number, such as flow.sheath_sccm=60 or \"path['line'].speed_mm_s=2\"".to_owned()),
    }
}

impl Predict {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let began = Instant::now();
        let (file, calibration) = (&self.scenario.file, self.calibration.as_deref());
        let (mut scenario, turnable) = files::load_with(file, calibration, &self.set, self.knobs)?;
        if self.expected {
            return self.expect(&scenario);
        }
        scenario.all_inputs().for_each(|inputs| self.change(inputs));
        let place = Destination::new(&self)?;
        set_threads(self.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;

        let reporter = Reporter::new(self.quiet);
        let fields = fields(self.no_cache);
        let timed = Timed::new(&reporter);
        let predicted = motefall::predict(&scenario, &fields, &timed);
        let turned = |mut prediction: motefall::Prediction| {
            prediction.knobs = turnable.map(|turnable| motefall::turn(&turnable, &fields, &reporter)).transpose()?;
            Ok(prediction)
        };
        let predicted = predicted.and_then(turned);
        reporter.end();
        let prediction = predicted.map_err(failure)?;
        let took = Took { whole: began.elapsed(), stages: timed.stages() };
        let written = motefall::write(&prediction, &place.folder()?, self.earlier(), Some(&took)).or_failed()?;
        remark(&written.remarks);
        if self.json {
            let resolved = scenario::resolved(&prediction.inputs);
            say(&format!("{:#}\n", output::json(&prediction, &resolved, Some(&written))))?;
        } else if self.quiet {
            say(&format!("{}\n", written.report.display()))?;
        } else {
            say(&terminal::summary(&prediction, Some(&written.report), width()))?;
        }
        if prediction.is_stopped() {
            let error = anyhow!(
                "stopped after {} prints; what they gave is in {}",
                prediction.verdict.n,
                written.dir.display()
            );
            return Err(Failure::Failed(error));
        }
        Ok(if prediction.verdict.accepted == Some(false) { Exit::NotAccepted } else { Exit::Done })
    }

    /// Tells what figures are on average.
    fn expect(&self, scenario: &Scenario) -> Result<Exit, Failure> {
        set_threads(self.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let reporter = Reporter::new(self.quiet);
        let fields = fields(self.no_cache);
        let expected = motefall::expect(scenario, &fields, &reporter);
        reporter.end();
        let expected = expected.map_err(failure)?;
        say(&match self.json {
            true => format!("{:#}\n", output::expected_json(&expected)),
            false => terminal::expected(&expected, &self.scenario.file.display().to_string(), width()),
        })?;
        Ok(Exit::Done)
    }

    fn earlier(&self) -> Earlier {
        if self.overwrite { Earlier::Replaced } else { Earlier::Kept }
    }

    /// Puts what the command line says in place of what the scenario says.
    fn change(&self, inputs: &mut Inputs) {
        if let Some(prints) = self.prints {
            inputs.prints = PrintCount::Fixed(prints);
        }
        inputs.seed = self.seed.unwrap_or(inputs.seed);
        inputs.map.write_particles |= self.particles;
    }
}

/// Starts so many threads; without a number one per core.
pub(super) fn set_threads(threads: Option<usize>) -> Result<(), Failure> {
    let Some(n) = threads else { return Ok(()) };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build_global();
    pool.with_context(|| format!("cannot start {n} threads; give fewer with --threads")).or_failed()
}

/// Where solved gas jets are kept. A computer without a place for such things does without.
pub(super) fn fields(no_cache: bool) -> FieldStore {
    if no_cache {
        return FieldStore::none();
    }
    let named = std::env::var_os(CACHE_VARIABLE).filter(|folder| !folder.is_empty()).map(PathBuf::from);
    let usual = || Some(directories::ProjectDirs::from("", "", "motefall")?.cache_dir().join("jets"));
    named.or_else(usual).map_or_else(FieldStore::none, FieldStore::in_folder)
}

/// What a run that gave no result means for the user.
pub(super) fn failure(error: RunError) -> Failure {
    match error {
        // The scenario asks for a jet that the program does not cover.
        RunError::Jet(JetError::OutOfRange { .. }) | RunError::Choked { .. } => Failure::BadInput(error.into()),
        _ => Failure::Failed(error.into()),
    }
}

/// Columns for the summary.
pub(super) fn width() -> usize {
    std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok()).unwrap_or(USUAL_WIDTH)
}

/// Where the result goes.
enum Destination {
    /// Where the user said.
    Given(PathBuf),
    /// A new folder here whose name begins so.
    Dated(PathBuf),
}

impl Destination {
    /// Settles the place and tries it, so that no long run ends at a closed door.
    fn new(predict: &Predict) -> Result<Self, Failure> {
        let place = match &predict.out {
            Some(folder) => Destination::Given(folder.clone()),
            None => Destination::Dated(dated(&predict.scenario.file, SystemTime::now())),
        };
        let (Destination::Given(name) | Destination::Dated(name)) = &place;
        remark(&recover(name));
        let folder = place.folder()?;
        check_place(&folder, predict.earlier()).or_bad_input()?;
        Ok(place)
    }

    /// The folder; a dated name that is taken gets a number.
    fn folder(&self) -> Result<PathBuf, Failure> {
        let name = match self {
            Destination::Given(folder) => return Ok(folder.clone()),
            Destination::Dated(name) => name,
        };
        let numbered = |n: u32| {
            let mut name = name.clone().into_os_string();
            if n > 1 {
                name.push(format!("-{n}"));
            }
            PathBuf::from(name)
        };
        let free = (1..1000)
            .map(numbered)
            .find(|folder| !matches!(check_place(folder, Earlier::Kept), Err(FolderError::Exists { .. })));
        free.ok_or_else(|| anyhow!("too many folders are named {}; choose one with --out", name.display()))
            .or_bad_input()
    }
}

/// `motefall-sodium-chip-2026-11-25-083012`: scenario and time in UTC.
fn dated(file: &Path, time: SystemTime) -> PathBuf {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let time = output::timestamp(time).replace('T', "-").replace([':', 'Z'], "");
    PathBuf::from(format!("motefall-{stem}-{time}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_setting_is_a_key_and_a_number() {
        assert_eq!(setting("flow.sheath_sccm = 6e1"), Ok(("flow.sheath_sccm".to_owned(), 60.0)));
        assert_eq!(setting("path['a=b'].speed_mm_s=2"), Ok(("path['a=b'].speed_mm_s".to_owned(), 2.0)));
        for bad in ["", "a", "=1", "a=", "a=b", "a=nan", "a=inf", "a=1,5"] {
            assert!(setting(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn folders_are_named_after_scenario_and_time() {
        // `date -u -d @1795595412` gives 2026-11-25 08:30:12.
        let time = SystemTime::UNIX_EPOCH + Duration::from_secs(1_795_595_412);
        assert_eq!(dated(Path::new("a/sodium-chip.toml"), time), Path::new("motefall-sodium-chip-2026-11-25-083012"));
    }
}
