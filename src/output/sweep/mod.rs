//! Writes a sweep down: tables and the picture of the operating window.
//!
//! | file | what it holds |
//! |---|---|
//! | `sweep.csv` | one row a point: settings, why it could not run, prints, pass probability, margin, cautions, cost, figures |
//! | `sweep.npz` | the same numbers as arrays, shaped like the grid if it is a full one; described in `tables` |
//! | `window.html` | the operating window, the ranked settings, main effects, cost; one file that needs no network |
//!
//! The folder is there already (it holds the store of the points). Each file is made beside its place and renamed, the
//! first only when all three are on the disk. The same result gives the same bytes.

mod effects;
mod extra;
mod page;
mod panel;
mod parallel;
mod rank;
mod space;
pub(crate) mod tables;

use super::OutputError;
use motefall_figures::sweep::SweepResult;
use motefall_files::whole_file::Prepared;
use std::path::{Path, PathBuf};

pub use extra::Extra;
pub use rank::{Class, Drift, End, Ranked, ranked};

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
        ("window.html", page::html(result, extra).map_err(|e| encode("window.html", e.to_string()))?.into_bytes()),
    ];
    let ready =
        contents.iter().map(|(name, bytes)| Prepared::new(&dir.join(name), &[bytes])).collect::<Result<Vec<_>, _>>()?;
    ready.into_iter().try_for_each(Prepared::put)?;
    Ok(contents.iter().map(|(name, _)| dir.join(name)).collect())
}
