//! The command `knobs`: which setting to turn.

use super::asked::{Computing, ScenarioFile};
use super::failure::{Exit, Failure, OrFail};
use super::predict::{failure, fields, set_threads, width};
use super::progress::{Reporter, listen_for_stop};
use super::say::say;
use anyhow::Context;
use clap::Args;
use motefall_output::terminal;
use std::path::PathBuf;

/// Tell which setting changes a figure most
///
/// Turns one number of the scenario after the other by 2 % to both sides, works out what figures are
/// on average without making a print, and lists for each figure with a limit what more of each
/// setting would do. What differs between prints is left out.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  motefall knobs my-print.toml              settings by what they do to each figure with a limit

The first time takes a while: other flows and nozzles have jets of their own, which are kept.")]
pub(super) struct Knobs {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Turn what test lines taught of your bench: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    computing: Computing,
    /// Show no progress
    #[arg(short, long)]
    quiet: bool,
}

impl Knobs {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let scenario = super::files::load_turnable(&self.scenario.file, self.calibration.as_deref())?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let reporter = Reporter::new(self.quiet);
        let turned = motefall::turn(&scenario, &fields(self.computing.no_cache), &reporter);
        reporter.end();
        let turned = turned.map_err(failure)?;
        say(&terminal::knobs(&turned, width()))?;
        Ok(Exit::Done)
    }
}
