//! The command `sheet`: a page of paper to take to the machine.

use super::asked::{Computing, ScenarioFile, is_dash};
use super::failure::{Exit, Failure, OrFail};
use super::files::{load, write_new};
use super::predict::{failure, fields, set_threads};
use super::progress::{Reporter, listen_for_stop};
use super::say::say;
use anyhow::Context;
use clap::Args;
use motefall::Source;
use std::fs;
use std::path::PathBuf;

/// Write a bench sheet: one page to print and take to the machine
///
/// Setting, path, steps with boxes to tick, how wide a test line should be and within which
/// range, what the print should be, and what to check first if it is not. It takes seconds:
/// no print is made. Print it from the browser, on A4 or letter. A file that exists is never
/// replaced.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "Examples:\n  motefall sheet my-print.toml                      writes my-print-sheet.html\n  \
    motefall sheet my-print.toml --out today.html\n  \
    motefall sheet my-print.toml --calibration calibration/calibration.toml\n  \
    motefall sheet my-print.toml --out -              prints it"
)]
pub(super) struct Sheet {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Take what test lines taught of your bench: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// File to write; - prints it (default: the scenario's name and -sheet.html, here)
    #[arg(short, long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    computing: Computing,
    /// Show no progress
    #[arg(short, long)]
    quiet: bool,
}

impl Sheet {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let file = &self.scenario.file;
        let scenario = load(file, self.calibration.as_deref())?;
        let content = fs::read(file).with_context(|| format!("cannot read {}", file.display())).or_failed()?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let reporter = Reporter::new(self.quiet);
        let fields = fields(self.computing.no_cache);
        let page = motefall::sheet(&scenario, &Source::of(file, &content), &fields, &reporter);
        reporter.end();
        let page = page.map_err(failure)?;
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let out = self.out.unwrap_or_else(|| PathBuf::from(format!("{stem}-sheet.html")));
        if is_dash(&out) {
            say(&page)?;
        } else {
            write_new(&out, &page).or_bad_input()?;
            say(&format!("Wrote {}. Open it in a browser and print it, on A4 or letter.\n", out.display()))?;
        }
        Ok(Exit::Done)
    }
}
