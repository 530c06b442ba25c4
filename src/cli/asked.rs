//! What several commands take.

use std::path::{Path, PathBuf};

/// A path given on the command line that stands for standard output.
pub(crate) fn is_dash(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// A scenario file, as every command takes it.
#[derive(Debug, clap::Args)]
pub(crate) struct ScenarioFile {
    /// Scenario file (TOML); `motefall new` writes one to start from
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
}

/// How a command computes; no result depends on it.
#[derive(Debug, clap::Args)]
pub(crate) struct Computing {
    /// Processor cores to use (default: all); the result does not depend on it
    #[arg(long, value_name = "N", value_parser = threads)]
    pub(crate) threads: Option<usize>,
    /// Solve the gas jets anew and keep none for the next run
    #[arg(long)]
    pub(crate) no_cache: bool,
}

/// More threads than any bench computer has is a slip of the pen.
pub(crate) fn threads(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(n @ 1..=1024) => Ok(n),
        _ => Err("give a whole number from 1 to 1024, or leave --threads out to use every core".to_owned()),
    }
}
