//! The command `advise`: which setting to use.

use super::asked::{Computing, ScenarioFile};
use super::failure::{Exit, Failure, OrFail};
use super::files;
use super::predict::{failure, fields, set_threads, width};
use super::progress::{Reporter, listen_for_stop};
use super::say::{remark, say};
use anyhow::{Context, anyhow};
use clap::Args;
use motefall::{Advice, AdviseError, AdviseScenario, Effort, FieldStore, RunError, Silent, Source};
use motefall_files::whole_file;
use motefall_output::advice::{RECOMMENDED, SHEET};
use motefall_output::terminal;
use std::path::{Path, PathBuf};

/// Find the setting to use, with its margin
///
/// Searches the settings that the section [advise] of the scenario frees (or flows, speed and passes within what such
/// machines can usually set), and says which one meets your limits, how sure that is, how far settings may drift, what
/// it costs, and what stands in the way if none does. Stop it when you like: the same command goes on from there.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  motefall advise my-print.toml                               result in motefall-advice-my-print
  motefall advise my-print.toml --calibration calibration/calibration.toml
  motefall advise my-print.toml --out advice

Exit codes: 0 done and a setting passes, 1 done and none does, 2 bad input, 3 failed or stopped: run it again to go on.")]
pub(super) struct Advise {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Folder of the advice, begun or new (default: motefall-advice- and the scenario's name)
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Take what test lines taught of your bench: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// Look at fewer settings and make fewer prints: a first answer in about a third of the time
    #[arg(long)]
    quick: bool,
    #[command(flatten)]
    computing: Computing,
    /// Show no progress and no summary, only the path of the result
    #[arg(short, long)]
    quiet: bool,
}

impl Advise {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let file = &self.scenario.file;
        files::is_there(file)?;
        let scenario = motefall::load_advise(file, self.calibration.as_deref()).map_err(Failure::Faults)?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let folder = self.out.clone().unwrap_or_else(|| PathBuf::from(format!("motefall-advice-{stem}")));
        std::fs::create_dir_all(&folder).with_context(|| format!("cannot make {}", folder.display())).or_bad_input()?;
        if !scenario.written.is_stated && !self.quiet {
            remark(&[
                "the scenario does not say which settings may be changed; the usual ones are, see [advise]".to_owned()
            ]);
        }
        let reporter = Reporter::new(self.quiet);
        let effort = if self.quick { Effort::QUICK } else { Effort::USUAL };
        let advised = scenario.advise(effort, &fields(self.computing.no_cache), Some(&folder), &reporter);
        reporter.end();
        let advice = advised.map_err(|error| match error {
            AdviseError::Run(RunError::Cancelled) => {
                Failure::Failed(anyhow!("stopped; what was tried is kept, run the same command again to go on"))
            }
            AdviseError::Run(error) => failure(error),
            AdviseError::Desk(error) => Failure::BadInput(error.into()),
            AdviseError::Today(_) => Failure::BadInput(error.into()),
        })?;
        let jets = fields(self.computing.no_cache);
        let page = write_advice(&scenario, &advice, &folder, &jets).or_failed()?;
        let page = page.display();
        say(&match self.quiet {
            true => format!("{page}\n"),
            false => format!("{}\nAdvice: {page}\n", terminal::advice(&advice, width())),
        })?;
        Ok(if advice.passes() { Exit::Done } else { Exit::NotAccepted })
    }
}

/// Writes an advice into its folder, and if a setting passes its scenario and bench sheet; gives the place of the page.
pub(super) fn write_advice(
    scenario: &AdviseScenario,
    advice: &Advice,
    folder: &Path,
    jets: &FieldStore,
) -> anyhow::Result<PathBuf> {
    let recommended =
        advice.choices.first().filter(|_| advice.passes()).map(|choice| scenario.text_at(&choice.candidate.values));
    let page = motefall::write_advice(advice, recommended.as_deref(), folder)
        .context("what was tried is kept; run the same command again to write the advice")?;
    if advice.passes() {
        let (recommended, sheet) = (folder.join(RECOMMENDED), folder.join(SHEET));
        let content = std::fs::read(&recommended).context("cannot read what was recommended")?;
        let setting = motefall::load(&recommended).map_err(|faults| anyhow!("{faults}"))?;
        let text = motefall::sheet(&setting, &Source::of(&recommended, &content), jets, &Silent)?;
        whole_file::replace(&sheet, &[text.as_bytes()])?;
    }
    Ok(page)
}
