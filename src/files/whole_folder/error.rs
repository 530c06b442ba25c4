//! Why a result has no place.

use super::LIST;
use crate::whole_file::WriteError;
use std::io::{self, ErrorKind};
use std::path::PathBuf;

/// Why a result could not be written to its place. Nothing half-written is left behind.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// The folder is there already.
    #[error("{} already exists; choose another folder with --out, or pass --overwrite to replace an earlier result", dir.display())]
    Exists {
        /// The folder.
        dir: PathBuf,
    },
    /// The folder is there and is not one of our results.
    #[error(
        "{} exists and is not a result of this program (no {LIST} that lists the files of a result), so it is left alone; \
         choose another folder",
        dir.display()
    )]
    NotOurs {
        /// The folder.
        dir: PathBuf,
    },
    /// Not everything in the folder is the result's own.
    #[error(
        "{} holds more than the result that was written there: {}; only the result is ever replaced, so move the rest away, \
         or choose another folder",
        dir.display(),
        listed(others)
    )]
    NotOnlyOurs {
        /// The folder.
        dir: PathBuf,
        /// What else lies there.
        others: Vec<String>,
    },
    /// What stands at the place cannot be moved aside.
    #[error(
        "{} cannot be moved aside for a new result: {source}{}; choose another folder with --out, in a mount point a new \
         one such as {}",
        dir.display(),
        guess(source),
        dir.join("result").display()
    )]
    CannotMove {
        /// The folder.
        dir: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The result is complete, but not at its place.
    #[error("the result is complete, but not at its place: it is in {}. {reason}", kept.display())]
    Elsewhere {
        /// Where it is.
        kept: PathBuf,
        /// Why it is not where it should be.
        reason: Box<FolderError>,
    },
    /// What stood at the place moved aside, and neither the new result nor that itself could get there.
    #[error(
        "cannot rename to {}: {source}. Nothing is lost: what stood there is in {}{}. Fix the cause; \
         the next run into the same folder then puts it right",
        dir.display(),
        old.display(),
        new.as_ref().map(|new| format!(", the new result in {}", new.display())).unwrap_or_default()
    )]
    Stranded {
        /// The place.
        dir: PathBuf,
        /// Where that is which stood there.
        old: PathBuf,
        /// Where the new result is, if there is one.
        new: Option<PathBuf>,
        /// What the system said.
        source: io::Error,
    },
    /// The path names no folder that could be made.
    #[error("\"{}\" does not name a folder that can be made; give a name such as results/first-print", dir.display())]
    NoName {
        /// The path.
        dir: PathBuf,
    },
    /// The place refuses to be written to.
    #[error("cannot write to {}: {source}; choose a folder you may write to with --out", path.display())]
    NotWritable {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A file in it cannot be written.
    #[error("{0}; nothing was left behind")]
    File(WriteError),
}

/// What usually stands behind a folder that cannot be renamed.
fn guess(source: &io::Error) -> &'static str {
    match source.kind() {
        ErrorKind::PermissionDenied => " (a protected folder, or one of another user?)",
        ErrorKind::ResourceBusy => " (a mount point?)",
        _ => "",
    }
}

/// The first few of several names.
fn listed(names: &[String]) -> String {
    const MOST: usize = 5;
    let more = names.len().saturating_sub(MOST);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", names[..names.len().min(MOST)].join(", "))
}
