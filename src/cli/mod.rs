//! The command line: what can be asked for, and how an answer or a failure leaves the program.

mod advise;
mod calibrate;
mod explore;
mod files;
mod gather;
mod knobs;
mod measure;
mod path;
mod predict;
mod progress;
mod sheet;
mod sweep;

use clap::{Parser, Subcommand};
use motefall_scenario::{Faults, Style};
use std::borrow::Cow;
use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

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

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done, and accepted if there were limits.
    Done = 0,
    /// Done, and the limits are not met.
    NotAccepted = 1,
    /// The scenario, a file name or an option has to be changed.
    BadInput = 2,
    /// The run failed or was stopped.
    Failed = 3,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit as u8)
    }
}

/// Why there is no answer.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The scenario is faulty.
    Faults(Faults),
    /// Something else the user has to change.
    BadInput(anyhow::Error),
    /// The run failed or was stopped.
    Failed(anyhow::Error),
}

impl Failure {
    /// The exit code it leads to.
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Failure::Faults(_) | Failure::BadInput(_) => Exit::BadInput,
            Failure::Failed(_) => Exit::Failed,
        }
    }

    /// Tells the user, on standard error.
    pub(crate) fn print(&self) {
        let (text, coloured) = match self {
            Failure::Faults(faults) => (faults.render(error_style()), error_style() == Style::Coloured),
            Failure::BadInput(error) | Failure::Failed(error) => (format!("error: {}", chain(error)), false),
        };
        let text = printable(&text, coloured);
        // If standard error is closed there is no other place to complain.
        let _ = writeln!(std::io::stderr(), "{text}");
    }
}

/// Colours on a terminal, unless the user forbids them (common practice: a variable NO_COLOR that is not empty).
fn error_style() -> Style {
    let forbidden = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if std::io::stderr().is_terminal() && !forbidden { Style::Coloured } else { Style::Plain }
}

/// An error and its causes in one line; a cause that the line already tells is left out.
fn chain(error: &anyhow::Error) -> String {
    let mut text = String::new();
    for cause in error.chain().map(ToString::to_string) {
        if text.is_empty() {
            text = cause;
        } else if !text.contains(&cause) {
            text = format!("{text}: {cause}");
        }
    }
    text
}

/// Turns errors into failures of one kind or the other.
trait OrFail<T> {
    /// The user has to change something.
    fn or_bad_input(self) -> Result<T, Failure>;
    /// The run failed.
    fn or_failed(self) -> Result<T, Failure>;
}

impl<T, E: Into<anyhow::Error>> OrFail<T> for Result<T, E> {
    fn or_bad_input(self) -> Result<T, Failure> {
        self.map_err(|error| Failure::BadInput(error.into()))
    }

    fn or_failed(self) -> Result<T, Failure> {
        self.map_err(|error| Failure::Failed(error.into()))
    }
}

/// A text without what would steer a terminal: control characters, and signs that turn the direction of writing, are written out. Colours
/// stay where the program itself sets them.
fn printable(text: &str, coloured: bool) -> Cow<'_, str> {
    let steers = |c: char| {
        c.is_control() && !matches!(c, '\n' | '\t')
            || ('\u{202a}'..='\u{202e}').contains(&c)
            || ('\u{2066}'..='\u{2069}').contains(&c)
    };
    if !text.contains(steers) {
        return text.into();
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let colour = if coloured { colour_length(rest) } else { 0 };
        if colour > 0 {
            out.push_str(&rest[..colour]);
            rest = &rest[colour..];
            continue;
        }
        if steers(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
        rest = &rest[c.len_utf8()..];
    }
    out.into()
}

/// Length of the sign for a colour or weight at the begin of a text; 0 if there is none.
fn colour_length(text: &str) -> usize {
    let Some(code) = text.strip_prefix("\u{1b}[") else { return 0 };
    let digits = code.find(|c: char| !c.is_ascii_digit() && c != ';').unwrap_or(code.len());
    if code[digits..].starts_with('m') { digits + 3 } else { 0 }
}

/// Prints to standard output. A reader that went away (`| head`) has seen enough and is no failure.
fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(printable(text, false).as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::Failed(anyhow::Error::new(error).context("cannot print the result")))
        }
        _ => Ok(()),
    }
}

/// Tells on standard error what the user should know beside the result.
fn remark(texts: &[String]) {
    for text in texts {
        // If standard error is closed there is no other place to tell it.
        let _ = writeln!(std::io::stderr(), "note: {}", printable(text, false));
    }
}

/// A path given on the command line that stands for standard output.
fn is_dash(path: &std::path::Path) -> bool {
    path.as_os_str() == "-"
}

/// A scenario file, as every command takes it.
#[derive(Debug, clap::Args)]
struct ScenarioFile {
    /// Scenario file (TOML); `motefall new` writes one to start from
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// How a command computes; no result depends on it.
#[derive(Debug, clap::Args)]
struct Computing {
    /// Processor cores to use (default: all); the result does not depend on it
    #[arg(long, value_name = "N", value_parser = predict::threads)]
    threads: Option<usize>,
    /// Solve the gas jets anew and keep none for the next run
    #[arg(long)]
    no_cache: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn nothing_steers_the_terminal() {
        assert_eq!(printable("a\tb\nµm²", false), "a\tb\nµm²");
        assert_eq!(printable("x\u{1b}[2Jy\u{7}\u{9b}1m\u{202e}z", false), "x\\u{1b}[2Jy\\u{7}\\u{9b}1m\\u{202e}z");
        assert_eq!(
            printable("\u{1b}[1;31merror\u{1b}[0m \u{1b}]0;title", true),
            "\u{1b}[1;31merror\u{1b}[0m \\u{1b}]0;title"
        );
        assert_eq!(printable("\u{1b}[1;31merror", false), "\\u{1b}[1;31merror");
    }

    #[test]
    fn a_cause_is_told_once() {
        let cause = || std::io::Error::other("no room");
        assert_eq!(chain(&anyhow::Error::new(cause()).context("cannot write")), "cannot write: no room");
        assert_eq!(
            chain(&anyhow::Error::new(cause()).context("cannot write: no room; go")),
            "cannot write: no room; go"
        );
    }
}
