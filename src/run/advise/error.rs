//! Why there is no advice.

use crate::RunError;
use std::path::PathBuf;

/// Why there is no advice.
#[derive(Debug, thiserror::Error)]
pub enum AdviseError {
    /// A setting could not be worked out, or the user stopped it.
    #[error(transparent)]
    Run(#[from] RunError),
    /// The file of what was asked.
    #[error(transparent)]
    Desk(#[from] DeskError),
    /// Today's setting cannot run.
    #[error("the scenario's own setting cannot run: {0}")]
    Today(String),
}

/// What went wrong with the file.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// It cannot be read or written.
    #[error("cannot {what} {}: {source}; choose another folder with --out", path.display())]
    File {
        /// What was tried.
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// Why not.
        source: std::io::Error,
    },
    /// Another process writes to it.
    #[error("another advice is being worked out in {}; wait for it, or choose another folder with --out", .0.display())]
    Busy(PathBuf),
    /// It belongs to another question.
    #[error("{} holds the advice on another scenario, on this one before it was changed, or by another version of motefall; choose another folder with --out", .0.display())]
    Other(PathBuf),
}
