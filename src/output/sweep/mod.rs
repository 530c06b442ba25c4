//! Writes a sweep down: tables and the picture of the operating window.
//!
//! | file | what it holds |
//! |---|---|
//! | `sweep.csv` | one row a point: settings, why it could not run, prints, pass probability, margin, cautions, cost, figures |
//! | `sweep.npz` | the same numbers as arrays, shaped like the grid if it is a full one; described in [`tables`] |
//! | `window.html` | the operating window, the ranked settings, main effects, cost; one file that needs no network |
//!
//! The folder is there already (it holds the store of the points). Each file is made beside its place and renamed, the
//! first only when all three are on the disk. The same result gives the same bytes.

mod effects;
mod panel;
mod parallel;
mod rank;
mod report;
mod space;
pub mod tables;

use super::{OutputError, write_error};
use motefall_figures::sweep::SweepResult;
use std::io::Write;
use std::path::{Path, PathBuf};

pub use rank::{Class, Drift, End, Ranked, ranked};

/// What a report of a sweep can say beyond the result.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Extra {
    /// Link to the print report of the recommended point, relative to the folder, e.g. `best/report.html`.
    pub best_report: Option<String>,
}

/// Index of the recommended point: the first of the ranking (see [`ranked`]). It may fail too often: its class says so.
/// `None` if no point could run.
pub fn best(result: &SweepResult) -> Option<usize> {
    ranked(result).first().map(|r| r.index)
}

/// Writes `sweep.csv`, `sweep.npz` and `window.html` into the folder `dir`, replacing earlier ones; gives their paths.
pub fn write(result: &SweepResult, dir: &Path, extra: &Extra) -> Result<Vec<PathBuf>, OutputError> {
    let encode = |file: &str, reason: String| OutputError::Encode { file: file.into(), reason };
    let contents = [
        ("sweep.csv", tables::csv(result).map_err(|e| encode("sweep.csv", e.to_string()))?),
        ("sweep.npz", tables::npz(result).map_err(|e| encode("sweep.npz", e.to_string()))?),
        ("window.html", report::html(result, extra).map_err(|e| encode("window.html", e.to_string()))?.into_bytes()),
    ];
    let mut ready = vec![];
    for (name, bytes) in &contents {
        ready.push((beside(dir, name, bytes)?, dir.join(name)));
    }
    let mut written = vec![];
    for (file, path) in ready {
        file.persist(&path).map_err(|e| OutputError::NotWritable { path: path.clone(), source: e.error })?;
        written.push(path);
    }
    if let Ok(folder) = std::fs::File::open(dir) {
        // Some file systems cannot sync a folder; the files are complete either way.
        let _ = folder.sync_all();
    }
    Ok(written)
}

/// A file with its content on the disk, not yet under its name; gone when dropped.
fn beside(dir: &Path, name: &str, bytes: &[u8]) -> Result<tempfile::NamedTempFile, OutputError> {
    let size = bytes.len() as u64;
    let failed = |source| write_error(&dir.join(name), source, size, size);
    let mut builder = tempfile::Builder::new();
    builder.prefix(motefall_files::plain_file::UNFINISHED);
    // Temporary files are private by default; a result is as open as any file the user makes.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(dir).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    Ok(file)
}
