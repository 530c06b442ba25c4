//! `motefall sweep`: from a scenario with a `[sweep]` section to a store of points and the picture of the operating window.

use super::asked::{Computing, ScenarioFile};
use super::failure::{Exit, Failure, OrFail};
use super::files;
use super::predict::{fields, set_threads};
use super::progress::{Reporter, SweepReporter, listen_for_stop, point_words};
use super::say::{remark, say};
use anyhow::{Context, anyhow};
use clap::Args;
use motefall::{Earlier, Progress, RunError, Shard, Shared, StoreError, SweepError, SweepResult, SweepScenario};
use motefall_figures::statistics::wilson_95;
use motefall_files::whole_folder::{check_place, recover};
use motefall_output as output;
use motefall_output::sweep::best;
use motefall_run::sweep::store;
use std::path::{Path, PathBuf};

/// Folder of the best point's own print report, in the sweep's folder.
const BEST: &str = "best";

/// Run a scenario over many settings; resumes where it was stopped
///
/// Runs every point of the scenario's [sweep] section and keeps each as soon as it is done.
/// Stop it when you like, with Ctrl-C or by switching the computer off: the same command
/// goes on from the last point kept. At the end it writes the operating window (window.html),
/// tables (sweep.csv, sweep.npz), and the print report of the recommended setting (best/).
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "\
Examples:
  motefall sweep my-sweep.toml                             result in motefall-sweep-my-sweep
  motefall sweep my-sweep.toml --out results/a             result in results/a; goes on if begun
  motefall sweep my-sweep.toml --shard 2/8 --out part-2    the second eighth of the points

The parts of a sweep run anywhere, on several computers or as jobs of a cluster; then
  motefall gather part-* --out whole
joins them. scenarios/jobs/ has job scripts for Slurm and GNU parallel.

Exit codes: 0 done (and some setting passes often enough, if limits are set), 1 done and none does,
2 bad input, or the folder holds another sweep, 3 failed or stopped: run it again to go on."
)]
pub(super) struct SweepCommand {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Folder of the sweep, begun or new (default: motefall-sweep- and the scenario's name)
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Take what test lines taught of your bench: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// Run only part I of N: every Nth point, from the Ith on
    #[arg(long, value_name = "I/N", value_parser = shard)]
    shard: Option<Shard>,
    #[command(flatten)]
    computing: Computing,
    /// Show no progress and no summary, only the path of the result
    #[arg(short, long)]
    quiet: bool,
}

fn shard(text: &str) -> Result<Shard, String> {
    let parts = text.split_once('/').and_then(|(number, of)| Some((number.parse().ok()?, of.parse().ok()?)));
    match parts {
        Some((number, of)) if (1..=of).contains(&number) && of <= 1_000_000 => Ok(Shard { number, of }),
        Some((number, of)) if (1..=1_000_000).contains(&of) => {
            Err(format!("there is no part {number} of {of}: parts count from 1 to {of}"))
        }
        _ => Err("give two whole numbers such as 2/8: part 2 of 8 parts".to_owned()),
    }
}

impl SweepCommand {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let file = &self.scenario.file;
        files::is_there(file)?;
        let scenario = motefall::load_sweep_calibrated(file, self.calibration.as_deref()).map_err(Failure::Faults)?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let folder = self.out.clone().unwrap_or_else(|| {
            PathBuf::from(format!("motefall-sweep-{}", file.file_stem().unwrap_or_default().to_string_lossy()))
        });
        let folder = check_folder(&folder)?;
        let shard = self.shard.unwrap_or(Shard::WHOLE);
        if shard == Shard::WHOLE {
            check_best(&folder)?;
        }
        let fields = fields(self.computing.no_cache);
        let shared = scenario.shared(&fields);
        let reporter = SweepReporter::new(self.quiet, &scenario.written.plan, &folder);
        let done = motefall::sweep_shard(&scenario, shard, &folder, &shared, &reporter);
        reporter.end();
        let points = done.map_err(failure)?;

        let shown = folder.display();
        if shard != Shard::WHOLE {
            say(&if self.quiet {
                format!("{shown}\n")
            } else {
                format!(
                    "Shard {shard}: all {points} points are in {shown}.\nWhen all shards are done: motefall gather DIR... --out WHOLE\n"
                )
            })?;
            return Ok(Exit::Done);
        }
        let result = motefall::stored_sweep(&scenario, &folder).or_failed()?;
        let reporter = Reporter::new(self.quiet);
        let best_report = best_print(&scenario, &result, &folder, &shared, &reporter);
        reporter.end();
        let best_report = best_report.or_failed()?;
        finish(&result, &folder, best_report, self.quiet)
    }
}

/// Whether a sweep can live in the folder, tried before anything is computed: a new or empty one, or one that a sweep began; the folder
/// without a slash at the end.
pub(super) fn check_folder(folder: &Path) -> Result<PathBuf, Failure> {
    let refuse = |what: &str| {
        let shown = folder.display();
        Err(Failure::BadInput(anyhow!("{shown} {what}; name a new or empty folder with --out")))
    };
    // A link with a slash at the end looks like the folder that it leads to, even if there is none.
    let plain: PathBuf = folder.components().collect();
    match std::fs::metadata(&plain) {
        Ok(kind) if !kind.is_dir() => return refuse("is no folder"),
        Ok(_) => {}
        Err(_) if plain.is_symlink() => return refuse("is a link to a folder that is not there"),
        Err(_) => return check_place(&plain, Earlier::Kept).or_bad_input().map(|()| plain),
    }
    let listed = std::fs::read_dir(&plain).and_then(|entries| entries.collect::<Result<Vec<_>, _>>());
    let names = match listed {
        Ok(entries) => entries.iter().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect::<Vec<_>>(),
        Err(error) => return refuse(&format!("cannot be read ({error})")),
    };
    let ours = |name: &String| name == store::LOCK || name.starts_with('.');
    if let Some(other) = names.iter().find(|name| !ours(name))
        && !names.iter().any(|name| name == store::FILE)
    {
        return refuse(&format!("is no sweep's folder: it holds {other}"));
    }
    match tempfile::tempfile_in(&plain) {
        Ok(_) => Ok(plain),
        Err(error) => refuse(&format!("cannot be written to ({error})")),
    }
}

/// Whether the report of the recommended setting could be put at its place.
fn check_best(folder: &Path) -> Result<(), Failure> {
    let best = folder.join(BEST);
    remark(&recover(&best));
    if best.symlink_metadata().is_err() {
        return Ok(());
    }
    let checked = check_place(&best, Earlier::Replaced);
    checked.context("the report of the recommended setting has no place").or_bad_input()
}

fn failure(error: SweepError) -> Failure {
    match error {
        SweepError::Design(_) => Failure::BadInput(error.into()),
        SweepError::Store(error) => store_failure(error),
        SweepError::Stopped { .. } => Failure::Failed(error.into()),
    }
}

/// What the user has to change, or what failed.
pub(super) fn store_failure(error: StoreError) -> Failure {
    match error {
        StoreError::File { .. } | StoreError::Write { .. } => Failure::Failed(error.into()),
        _ => Failure::BadInput(error.into()),
    }
}

/// Predicts the recommended point on its own, print for print as in the sweep, and writes its report; gives its place in the folder.
pub(super) fn best_print(
    scenario: &SweepScenario,
    result: &SweepResult,
    folder: &Path,
    shared: &Shared,
    progress: &dyn Progress,
) -> anyhow::Result<Option<String>> {
    let prediction = match motefall::predict_best(scenario, result, shared, progress) {
        Err(RunError::Cancelled) => {
            anyhow::bail!(
                "stopped before the report of the recommended setting; all points are stored, run the same command again"
            )
        }
        predicted => predicted?,
    };
    let Some(prediction) = prediction else { return Ok(None) };
    let written = motefall::write(&prediction, &folder.join(BEST), Earlier::Replaced, None).context(
        "cannot write the report of the recommended setting; the points are stored, run the same command again",
    )?;
    remark(&written.remarks);
    Ok(Some(format!("{BEST}/report.html")))
}

/// Writes tables and report of a whole sweep, and says what came of it.
pub(super) fn finish(
    result: &SweepResult,
    folder: &Path,
    best_report: Option<String>,
    quiet: bool,
) -> Result<Exit, Failure> {
    motefall::write_sweep(result, folder, best_report)
        .context("the points are stored; run the same command again to write the tables")
        .or_failed()?;
    let window = folder.join("window.html");
    let wanted = result.plan.wanted_share;
    let pass = |met: u32, prints: u32| f64::from(met) + 1e-6 >= wanted * f64::from(prints);
    let ran: Vec<_> = result.points.iter().filter_map(|point| point.outcome.as_ref().ok()).collect();
    let passing = ran.iter().filter(|stats| pass(stats.met, stats.prints)).count();
    if quiet {
        say(&format!("{}\n", window.display()))?;
    } else {
        say(&summary(result, ran.len(), passing, &window))?;
    }
    let accepted = result.limits.is_empty() || passing > 0;
    Ok(if accepted { Exit::Done } else { Exit::NotAccepted })
}

fn summary(result: &SweepResult, ran: usize, passing: usize, window: &Path) -> String {
    let points = result.points.len();
    let mut text = format!("{}\n{points} points", result.name);
    if ran < points {
        let reason = result.points.iter().find_map(|point| point.outcome.as_ref().err());
        let reason = reason.and_then(|reason| reason.lines().next()).unwrap_or_default();
        text += &format!(", {} of them cannot run (the first: {reason})", points - ran);
    }
    text.push('\n');
    if result.limits.is_empty() {
        text += "No limits are set, so there is no operating window: the figures can be compared in the report.\n";
    } else {
        let wanted = output::numbers::share(result.plan.wanted_share);
        let sure = |met: u32, prints: u32| wilson_95(met, prints)[0] + 1e-9 >= result.plan.wanted_share;
        let certain = result
            .points
            .iter()
            .filter_map(|point| point.outcome.as_ref().ok())
            .filter(|stats| stats.prints > 0 && sure(stats.met, stats.prints))
            .count();
        text += &format!("{passing} of {ran} settings pass in {wanted} or more of their prints");
        text += &match certain {
            0 if passing > 0 => ", none of them for certain: more prints would settle it.\n".to_owned(),
            n if n < passing => format!(", {n} of them for certain.\n"),
            _ => ".\n".to_owned(),
        };
        if let Some(point) = best(result).map(|index| &result.points[index])
            && let Ok(stats) = &point.outcome
        {
            text += &format!(
                "{}: {}\n  {} of {} prints pass ({}, at 95 % confidence)\n",
                if passing > 0 { "Recommended" } else { "The best of them" },
                point_words(&result.plan, &point.values),
                stats.met,
                stats.prints,
                output::numbers::shares(wilson_95(stats.met, stats.prints)),
            );
        }
    }
    text + &format!("Report: {}\n", window.display())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shards_are_read_strictly() {
        assert_eq!(shard("2/8"), Ok(Shard { number: 2, of: 8 }));
        for wrong in ["0/3", "4/3", "3", "a/b", "1/", "-1/2", "1/0"] {
            assert!(shard(wrong).is_err(), "{wrong}");
        }
    }
}
