//! Where results of long work lie: beside the scenario, under its name, so that they are found again.

use super::answer::Refusal;
use motefall_files::whole_file::folder_of;
use std::path::{Path, PathBuf};

/// Most results of a kind beside a scenario.
const MOST: u32 = 1000;
/// What a job does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Kind {
    /// A prediction with its report.
    #[default]
    Report,
    /// Many settings.
    Sweep,
    /// The setting to use.
    Advice,
}

impl Kind {
    /// As a word, and in names of files.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Report => "report",
            Self::Sweep => "sweep",
            Self::Advice => "advice",
        }
    }

    /// The page in its folder.
    pub(super) fn page(self) -> &'static str {
        match self {
            Self::Report => "report.html",
            Self::Sweep => "window.html",
            Self::Advice => "advice.html",
        }
    }
}

/// Where a job's question and result lie.
#[derive(Debug, Clone, Default)]
pub(super) struct Found {
    pub(super) kind: Kind,
    /// The scenario with its section, of a search.
    pub(super) file: PathBuf,
    pub(super) folder: PathBuf,
}

fn name(scenario: &Path, kind: Kind, number: u32) -> PathBuf {
    let stem = scenario.file_stem().unwrap_or_default().to_string_lossy();
    folder_of(scenario).join(format!("{stem}-{}-{number}", kind.word()))
}

/// A folder for a new result: `my-print-sweep-2`.
pub(super) fn free_name(scenario: &Path, kind: Kind) -> Result<PathBuf, Refusal> {
    let is_free = |folder: &PathBuf| {
        folder.symlink_metadata().is_err() && folder.with_added_extension("toml").symlink_metadata().is_err()
    };
    let too_many = || Refusal::Bad(format!("there are {MOST} results of this kind already; move some elsewhere"));
    (1..=MOST).map(|number| name(scenario, kind, number)).find(is_free).ok_or_else(too_many)
}

/// Searches whose questions lie beside a scenario, and whether they are done.
pub(super) fn beside(scenario: &Path) -> Vec<(Found, bool)> {
    let of_kind = |kind: Kind| {
        (1..=MOST).map(move |number| name(scenario, kind, number)).filter_map(move |folder| {
            let file = folder.with_added_extension("toml");
            let is_done = folder.join(kind.page()).is_file();
            file.is_file().then_some((Found { kind, file, folder }, is_done))
        })
    };
    of_kind(Kind::Sweep).chain(of_kind(Kind::Advice)).collect()
}
