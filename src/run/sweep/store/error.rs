//! Why a store cannot be used.

use super::FILE;
use motefall_files::whole_file::WriteError;
use std::io;
use std::path::PathBuf;

/// Why a store cannot be used. Nothing that was stored is lost by any of these.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The folder or a file in it cannot be made, read or written.
    #[error("cannot {what} {}: {source}; {advice}", path.display())]
    File {
        /// What was tried.
        what: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What to do.
        advice: String,
        /// What the system says.
        source: io::Error,
    },
    /// A file in it cannot be written.
    #[error("{source}; {advice}")]
    Write {
        /// Which one, and why.
        source: WriteError,
        /// What to do.
        advice: String,
    },
    /// Another sweep runs here.
    #[error("{} is in use by {holder}; wait for it, stop it, or choose another folder with --out", folder.display())]
    InUse {
        /// The folder.
        folder: PathBuf,
        /// Who holds it.
        holder: String,
    },
    /// There is no sweep in the folder.
    #[error("{} holds no sweep (there is no {FILE} in it); give the folder that a sweep wrote", folder.display())]
    NoStore {
        /// The folder.
        folder: PathBuf,
    },
    /// A file in the folder is something that it cannot be.
    #[error("{}: {reason}; remove it, or choose another folder", path.display())]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A line is damaged that cannot be made again from the rest.
    #[error("line {line} of {} is damaged: {reason}; restore the file from a copy, or start in another folder", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: u64,
        /// What is wrong.
        reason: String,
    },
    /// The store was written by another version of the program.
    #[error("{} was written by {stored}, this is {this}: results may differ between versions, so they are not mixed; go on with that version, or start in another folder with --out", path.display())]
    OtherVersion {
        /// The file.
        path: PathBuf,
        /// What wrote it.
        stored: String,
        /// What this is.
        this: String,
    },
    /// The store is of another sweep.
    #[error("{} is of another sweep:\n  {}\nput the scenario and its files back as they were to go on, or start in another folder with --out", path.display(), differences.join("\n  "))]
    OtherSweep {
        /// The file.
        path: PathBuf,
        /// What is different.
        differences: Vec<String>,
    },
}
