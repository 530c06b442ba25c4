//! The command `calibrate`: what test lines teach about a bench.

use super::asked::{Computing, ScenarioFile};
use super::failure::{Exit, Failure, OrFail};
use super::predict::{failure, fields, set_threads, width};
use super::progress::{Reporter, listen_for_stop};
use super::say::{remark, say};
use anyhow::{Context, anyhow};
use clap::Args;
use motefall::{Asked, CalibrateError, CalibrationFile, Earlier, RunError, Source, lines};
use motefall_files::whole_folder::{check_place, recover};
use motefall_output::{terminal, timestamp};
use std::fs;
use std::path::PathBuf;
use std::time::SystemTime;

/// Learn from measured test lines
///
/// Fits what nobody has measured of your bench (mist load, droplet sizes, contact angle, ...) to
/// lines that you printed and measured, says how well it fits, what the lines cannot tell, and
/// which further line would teach most. The result is a file that predictions take.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  motefall new --measurements lines.csv                              a table to fill in
  motefall calibrate first-line.toml --measured lines.csv
  motefall predict my-chip.toml --calibration calibration/calibration.toml
  motefall calibrate first-line.toml --measured lines.csv --free atomiser.mist_load_ul_per_l=5..40 --free landing.contact_angle_deg")]
pub(super) struct Calibrate {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Table of measured lines (CSV)
    #[arg(long, value_name = "LINES")]
    measured: PathBuf,
    /// Fit this key, or KEY=LOW..HIGH with what you think possible (95 %); may be repeated. Left out: what nobody has measured and the lines
    /// can tell
    #[arg(long, value_name = "KEY")]
    free: Vec<String>,
    /// The print that you plan: further lines are ranked by what they would tell of its figures with a limit
    #[arg(long, value_name = "SCENARIO")]
    r#for: Option<PathBuf>,
    /// New folder for the result
    #[arg(short, long, value_name = "DIR", default_value = "calibration")]
    out: PathBuf,
    /// Replace an earlier result in that folder; a folder with anything else in it is left alone
    #[arg(long)]
    overwrite: bool,
    #[command(flatten)]
    computing: Computing,
    /// Show no progress and no summary, only the path of the report
    #[arg(short, long)]
    quiet: bool,
}

impl Calibrate {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let scenario = super::files::load_uncalibrated(&self.scenario.file)?;
        let print = self.r#for.as_deref().map(super::files::load_uncalibrated).transpose()?;
        let measured = lines::load(&self.measured, &scenario).or_bad_input()?;
        let lines = &measured.lines;
        // As they are now: they may be edited while the fit runs.
        let source = |path: &PathBuf| fs::read(path).map(|content| Source::of(path, &content)).or_failed();
        let sources = [source(&self.scenario.file)?, source(&self.measured)?];
        let earlier = if self.overwrite { Earlier::Replaced } else { Earlier::Kept };
        remark(&recover(&self.out));
        check_place(&self.out, earlier).or_bad_input()?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let reporter = Reporter::new(self.quiet);
        let asked = Asked { scenario: &scenario, lines, free: &self.free, print: print.as_ref() };
        let calibrated = motefall::calibrate(&asked, &fields(self.computing.no_cache), &reporter);
        reporter.end();
        let mut calibration = match calibrated {
            Ok(calibration) => calibration,
            Err(CalibrateError::Run(RunError::Cancelled)) => {
                return Err(Failure::Failed(anyhow!("stopped before the fit was done; nothing was written")));
            }
            Err(CalibrateError::Run(error)) => return Err(failure(error)),
            // An answer, though not the one that was hoped for.
            Err(error @ CalibrateError::NothingFits(_)) => {
                say(&format!("{error}\n"))?;
                return Ok(Exit::NotAccepted);
            }
            Err(error) => return Err(Failure::BadInput(anyhow!(error))),
        };
        calibration.remarks.extend(measured.remark());
        let created = timestamp(SystemTime::now());
        let file = CalibrationFile::new(&calibration, &scenario, lines, sources, created);
        let written = motefall::write_calibration(&calibration, &file, &self.out, earlier).or_failed()?;
        remark(&written.remarks);
        let report = written.report.display();
        say(&match self.quiet {
            true => format!("{report}\n"),
            false => {
                let text = terminal::calibration(&calibration, width());
                let file = written.dir.join("calibration.toml");
                format!(
                    "{text}\nReport: {report}\nPredictions take it: motefall predict FILE --calibration {}\n",
                    file.display()
                )
            }
        })?;
        Ok(Exit::Done)
    }
}
