//! The command line: what can be asked for.

mod advise;
mod asked;
mod calibrate;
mod explore;
mod failure;
mod files;
mod gather;
mod knobs;
mod measure;
mod path;
mod predict;
mod printable;
mod progress;
mod say;
mod sheet;
mod sweep;

pub(crate) use failure::{Exit, Failure};

use clap::{Parser, Subcommand};

const AFTER_HELP: &str = "\
A first print, from nothing:
  motefall new my-print.toml       writes a commented file to start from
  motefall check my-print.toml     shows what was understood of it
  motefall predict my-print.toml   predicts the print and writes a report

Exit codes: 0 done (and accepted, if limits are set), 1 done and not accepted, 2 bad input, 3 failed or stopped.";

/// Predicts what a sheath-focused aerosol jet leaves on a microscopy chip.
#[derive(Debug, Parser)]
#[command(name = "motefall", version, after_help = AFTER_HELP, max_term_width = 100)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Predict(predict::Predict),
    Sweep(sweep::SweepCommand),
    Gather(gather::Gather),
    Knobs(knobs::Knobs),
    Advise(advise::Advise),
    Explore(explore::Explore),
    Calibrate(calibrate::Calibrate),
    Measure(measure::Measure),
    Check(files::Check),
    Path(path::Path),
    Sheet(sheet::Sheet),
    New(files::New),
    Schema(files::Schema),
}

/// Does what the arguments ask for.
pub(crate) fn run(arguments: Arguments) -> Result<Exit, Failure> {
    match arguments.command {
        Command::Predict(predict) => predict.run(),
        Command::Sweep(sweep) => sweep.run(),
        Command::Gather(gather) => gather.run(),
        Command::Knobs(knobs) => knobs.run(),
        Command::Advise(advise) => advise.run(),
        Command::Explore(explore) => explore.run(),
        Command::Calibrate(calibrate) => calibrate.run(),
        Command::Measure(measure) => measure.run(),
        Command::Check(check) => check.run(),
        Command::Path(path) => path.run(),
        Command::Sheet(sheet) => sheet.run(),
        Command::New(new) => new.run(),
        Command::Schema(schema) => schema.run(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::command().debug_assert();
    }
}
