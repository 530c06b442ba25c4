//! Predicts what a sheath-focused aerosol jet leaves on a microscopy chip.
//!
//! A scenario file says what is printed onto what; [`load`] reads it and gives either a [`Scenario`] or all faults of the file at once.
//! [`predict`] prints it many times and gives figures with intervals, maps and a verdict; [`write()`] makes a folder of that with a report to
//! open in a browser. [`load_sweep`], [`sweep()`] and [`write_sweep`] do the same at many settings. The program `motefall` calls these.
//!
//! ```
//! use motefall::{FieldStore, Silent};
//!
//! let mut scenario = motefall::load("scenarios/sodium-chip.toml".as_ref())?;
//! scenario.inputs.prints = motefall::PrintCount::Fixed(2);
//! let prediction = motefall::predict(&scenario, &FieldStore::none(), &Silent)?;
//! for row in &prediction.figures {
//!     let place = row.place.as_deref().unwrap_or("print");
//!     if let Some(estimate) = &row.estimate {
//!         println!("{} of {place}: {} {}", row.kind.label, estimate.mean * row.kind.per_si, row.kind.unit);
//!     }
//! }
//! assert_eq!(prediction.verdict.n, 2);
//!
//! let folder = tempfile::tempdir()?;
//! let written = motefall::write(&prediction, &folder.path().join("result"), motefall::Earlier::Kept, None)?;
//! assert!(written.report.ends_with("report.html"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Values are in SI units and shares from 0 to 1; [`FigureKind::per_si`] leads to the unit in which a figure is shown.
//! The same inputs give the same prediction, to the bit, with any number of threads.

mod advice;
mod calibrated;
mod knobs;
mod sheet;
mod test_line;
mod test_plan;

pub use advice::{AdviseScenario, load_advise};
pub use calibrated::{
    SweepScenario, Trial, load, load_calibrated, load_sweep, load_sweep_calibrated, load_trial, load_turnable,
};
pub use knobs::{turn, turn_in};
pub use sheet::sheet;
pub use test_line::test_line;

use motefall_figures::calibration::Used;
pub use motefall_run::atlas::Atlas;
use motefall_run::cautions::{Apart, calibration};
use std::path::{Path, PathBuf};

pub use motefall_calibrate::file::{CalibrationFile, Source};
pub use motefall_calibrate::{Asked, CalibrateError, calibrate, lines};
pub use motefall_figures::ExpectedValue;
pub use motefall_figures::advice::Advice;
pub use motefall_figures::calibration::Calibration;
pub use motefall_figures::expected::{Expected, ExpectedMap, ExpectedRow, OnlyPrints};
pub use motefall_figures::knobs::{Effect, Knobs};
pub use motefall_figures::sweep::{PointRecord, SweepResult};
pub use motefall_figures::{
    Budget, Caution, CautionKind, Distribution, Estimate, Figure, FigureKind, FigureRow, Grid, LimitOutcome, Maps,
    Measured, Pile, Prediction, Profile, Severity, Verdict, estimate_at,
};
pub use motefall_files::whole_file::WriteError;
pub use motefall_files::whole_folder::{Earlier, FolderError};
pub use motefall_output::{OutputError, Took, Written};
pub use motefall_physics::inputs::{Inputs, Limit, PrintCount};
pub use motefall_physics::jet::store::FieldStore;
pub use motefall_run::advise::{AdviseError, Effort};
pub use motefall_run::print::StageTimes;
pub use motefall_run::sweep::point::Shared;
pub use motefall_run::sweep::store::{Opened, Shard, StoreError};
pub use motefall_run::sweep::{SweepError, Watch};
pub use motefall_run::{Progress, RunError, Silent};
pub use motefall_scenario::{Calibrated, Fault, Faults, Knob, Scenario, Style, Turnable};

/// Predicts what a scenario's print leaves; with a calibration each print draws what that leaves unknown. `jets` keeps solved gas jets for the next time; `progress` is told how far it is and may stop it.
///
/// If it is stopped after two prints or more, the prediction is that of the prints made ([`Prediction::is_stopped`]); before, it is
/// [`RunError::Cancelled`]. The other errors are nozzles that choke and jets without a steady solution. A setting that misses its limits
/// is no error: see [`Prediction::verdict`].
pub fn predict(scenario: &Scenario, jets: &FieldStore, progress: &dyn Progress) -> Result<Prediction, RunError> {
    let mut prediction = match &scenario.calibrated {
        None => motefall_run::predict(&scenario.inputs, jets, progress)?,
        Some(Calibrated { possible, used }) => {
            let atlas = atlas_for(scenario, jets);
            let mut prediction = motefall_run::predict_possible(&scenario.inputs, possible, &atlas, progress)?;
            say_calibrated(&mut prediction, used);
            prediction
        }
    };
    prediction.cautions.extend(motefall_run::cautions::remarks(&scenario.notes));
    Ok(prediction)
}

/// Adds what a prediction says of its calibration, by the figures with a limit.
fn say_calibrated(prediction: &mut Prediction, used: &Used) {
    let limited = prediction.limits.iter().filter_map(|outcome| {
        let limit = &outcome.limit;
        let row = prediction.figures.iter().find(|row| row.kind.figure == limit.figure && row.place == limit.place)?;
        let (estimate, unknown) = (row.estimate.as_ref()?, row.from_unknown?);
        let prints = (estimate.sd?.powi(2) - unknown * unknown).max(0.0).sqrt();
        apart(row.kind, row.place.as_deref(), estimate.mean, prints, unknown)
    });
    let said = calibration(used, &limited.collect::<Vec<_>>());
    prediction.cautions.extend(said);
}

/// What is to be said of a calibration before any print.
pub fn calibration_words(used: &Used) -> impl Iterator<Item = String> {
    calibration(used, &[]).into_iter().map(|caution| caution.text)
}

/// How far a figure is moved by prints and by what is unknown, relative to its mean; `None` where so little happens that a share says nothing.
fn apart(kind: &FigureKind, place: Option<&str>, mean: f64, prints: f64, unknown: f64) -> Option<Apart> {
    let name = place.map_or(kind.label.to_owned(), |place| format!("{}, {place}", kind.label));
    (mean > 0.0 && prints < mean).then(|| Apart { name, prints: prints / mean, unknown: unknown / mean })
}

/// What prints of a scenario give on average, worked out without making any: in a moment, once its jet and landing table are in the store.
pub fn expect(scenario: &Scenario, jets: &FieldStore, progress: &dyn Progress) -> Result<Expected, RunError> {
    expect_in(scenario, &atlas_for(scenario, jets), progress)
}

/// The landing tables that a scenario's prints take.
pub fn atlas_for<'a>(scenario: &Scenario, jets: &'a FieldStore) -> Atlas<'a> {
    if scenario.calibrated.is_some() { Atlas::for_like_droplets(jets) } else { Atlas::new(jets) }
}

/// The same as [`expect`] with landing tables that are at hand: those of [`atlas_for`], of this or of another setting.
pub fn expect_in(scenario: &Scenario, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Expected, RunError> {
    let inputs = &scenario.inputs;
    let mut expected = match &scenario.calibrated {
        None => motefall_run::expected::expected_in(inputs, atlas, progress)?,
        Some(Calibrated { possible, used }) => {
            let mut expected = motefall_run::expected::expected_possible(inputs, possible, atlas, progress)?;
            say_calibrated_of_mean(&mut expected, used);
            expected
        }
    };
    expected.cautions.extend(motefall_run::cautions::remarks(&scenario.notes));
    Ok(expected)
}

/// Adds what is said of a calibration where no print is made.
fn say_calibrated_of_mean(expected: &mut Expected, used: &Used) {
    let limited = expected.inputs.acceptance.limits.iter().filter_map(|limit| {
        let row = expected.figures.iter().find(|row| row.kind.figure == limit.figure && row.place == limit.place)?;
        let value = row.value.as_ref()?;
        let prints = value.from_inputs.hypot(value.from_noise).hypot(value.from_chance.unwrap_or(0.0));
        apart(row.kind, row.place.as_deref(), value.mean, prints, value.from_unknown)
    });
    let said = calibration(used, &limited.collect::<Vec<_>>());
    expected.cautions.extend(said);
}

/// What prints of a scenario leave where on average, by the middles of a grid's pixels, without what differs between prints; `None` where only
/// prints tell.
pub fn expected_map(
    scenario: &Scenario,
    grid: Grid,
    jets: &FieldStore,
    progress: &dyn Progress,
) -> Result<Option<ExpectedMap>, RunError> {
    motefall_run::expected::map_as_set(&scenario.inputs, &motefall_run::atlas::Atlas::new(jets), grid, progress)
}

/// Writes an advice into its folder: a page, `advice.json`, and `recommended` as a scenario; gives the place of the page.
pub fn write_advice(advice: &Advice, recommended: Option<&str>, folder: &Path) -> Result<PathBuf, OutputError> {
    motefall_output::advice::write(advice, recommended, folder)
}

/// Writes what a calibration taught into a folder, which is complete or not there: `calibration.toml`, which predictions take, and a report.
pub fn write_calibration(
    calibration: &Calibration,
    file: &CalibrationFile,
    folder: &Path,
    earlier: Earlier,
) -> Result<Written, OutputError> {
    motefall_output::write_calibration(calibration, &file.text(), folder, earlier)
}

/// Writes a prediction into a folder, which is complete or not there; `took` is how long the run took, if known.
///
/// With [`Earlier::Kept`] a result that is there already is an error ([`FolderError::Exists`]).
pub fn write(
    prediction: &Prediction,
    folder: &Path,
    earlier: Earlier,
    took: Option<&Took>,
) -> Result<Written, OutputError> {
    let resolved = motefall_scenario::resolved(&prediction.inputs);
    motefall_output::write(prediction, &resolved, folder, earlier, took)
}

/// Runs the points of a sweep that `folder` does not hold yet, and gives all of them. Each is stored as soon as it is done: a sweep that was
/// stopped goes on from there.
pub fn sweep(
    scenario: &SweepScenario,
    folder: &Path,
    jets: &FieldStore,
    watch: &dyn Watch,
) -> Result<SweepResult, SweepError> {
    sweep_shard(scenario, Shard::WHOLE, folder, &scenario.shared(jets), watch)?;
    Ok(stored_sweep(scenario, folder)?)
}

/// Runs the points of one part of a sweep, as on one of several computers, and gives their number. What is `shared` need not be worked out
/// again for other points.
pub fn sweep_shard(
    scenario: &SweepScenario,
    shard: Shard,
    folder: &Path,
    shared: &Shared,
    watch: &dyn Watch,
) -> Result<u64, SweepError> {
    let who = format!("{}, since {}", std::process::id(), motefall_output::timestamp(std::time::SystemTime::now()));
    motefall_run::sweep::run(&scenario.swept(), shard, folder, &who, shared, watch)
}

/// The points of a sweep that is complete in a folder.
pub fn stored_sweep(scenario: &SweepScenario, folder: &Path) -> Result<SweepResult, StoreError> {
    let mut result = motefall_run::sweep::store::read_result(folder)?;
    // These may be changed without running the points again.
    let written = &scenario.written;
    result.name.clone_from(&written.scenario.inputs.name);
    result.note.clone_from(&written.scenario.inputs.note);
    result.plan = written.plan.clone();
    Ok(result)
}

/// Predicts the best point of a sweep on its own, print for print as in the sweep. `None` if no point could run.
pub fn predict_best(
    scenario: &SweepScenario,
    result: &SweepResult,
    shared: &Shared,
    progress: &dyn Progress,
) -> Result<Option<Prediction>, RunError> {
    let Some(point) = motefall_output::sweep::best(result).map(|index| &result.points[index]) else { return Ok(None) };
    let (Ok(mut case), Ok(stats)) = (scenario.swept().case_at(point.point, &point.values), &point.outcome) else {
        return Ok(None);
    };
    case.inputs.prints = PrintCount::Fixed(stats.prints);
    let mut prediction = motefall_run::predict_possible(&case.inputs, &case.possible, &shared.atlas, progress)?;
    if let Some(used) = &case.used {
        say_calibrated(&mut prediction, used);
    }
    prediction.cautions.extend(motefall_run::cautions::remarks(&scenario.written.scenario.notes));
    Ok(Some(prediction))
}

/// Writes tables and the page of the operating window into a sweep's folder; `best_report` is the place in it of the best point's own report.
pub fn write_sweep(result: &SweepResult, folder: &Path, best_report: Option<String>) -> Result<(), OutputError> {
    let extra = motefall_output::sweep::Extra { best_report };
    motefall_output::sweep::write(result, folder, &extra).map(drop)
}
