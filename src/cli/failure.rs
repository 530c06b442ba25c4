//! How the program ends, and why there is no answer.

use super::printable::printable;
use motefall_scenario::{Faults, Style};
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// How the program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Exit {
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
pub(crate) trait OrFail<T> {
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

#[cfg(test)]
mod tests {
    use super::*;

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
