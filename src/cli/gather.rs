//! `motefall gather`: joins the shards of a sweep.

use super::failure::{Exit, Failure, OrFail};
use super::printable::printable;
use super::say::say;
use super::sweep::{check_folder, finish, store_failure};
use anyhow::anyhow;
use clap::Args;
use motefall_output::sweep::best;
use motefall_run::sweep::gather::{self, GatherError, Gathered, Missing};
use motefall_run::sweep::store;
use std::io::Write;
use std::path::PathBuf;

/// Points listed in a message.
const MOST_LISTED: usize = 10;

/// Join the parts of a sweep that ran with --shard
///
/// Checks that the parts belong together and that each point is there, joins them into one
/// sweep, the same as if it had run in one piece, and writes the operating window and tables.
/// If points are missing it says which, and how to run them, and writes nothing.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "\
Example:
  motefall gather part-1 part-2 part-3 --out whole

Exit codes: 0 done (and some setting passes often enough, if limits are set), 1 done and none does,
2 the parts do not belong together, 3 points are missing, or the result cannot be written."
)]
pub(super) struct Gather {
    /// Folders of the parts
    #[arg(value_name = "DIR", required = true)]
    parts: Vec<PathBuf>,
    /// Folder for the whole
    #[arg(short, long, value_name = "DIR")]
    out: PathBuf,
    /// Show only the path of the result
    #[arg(short, long)]
    quiet: bool,
}

impl Gather {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let out = check_folder(&self.out)?;
        let gathered = gather::read(&self.parts).map_err(failure)?;
        if !self.quiet {
            remarks(&gathered);
        }
        let missing = gathered.missing();
        if !missing.is_empty() {
            return Err(Failure::Failed(anyhow!("{}", missing_words(&gathered, &missing))));
        }
        gathered.write(&out).map_err(failure)?;
        let result = store::read_result(&out).or_failed()?;
        let exit = finish(&result, &out, None, self.quiet)?;
        if !self.quiet && best(&result).is_some() {
            let out = out.display();
            say(&format!("For the print report of the best setting itself: motefall sweep FILE --out {out}\n"))?;
        }
        Ok(exit)
    }
}

fn failure(error: GatherError) -> Failure {
    match error {
        GatherError::Store(error) => store_failure(error),
        GatherError::Write(_) => Failure::Failed(error.into()),
        GatherError::Unequal { .. } | GatherError::Taken { .. } => Failure::BadInput(error.into()),
    }
}

/// What is worth knowing and no fault.
fn remarks(gathered: &Gathered) {
    let mut lines = Vec::new();
    if !gathered.doubled.is_empty() {
        lines.push(format!("given more than once, and identical: {}", listed(&gathered.doubled)));
    }
    lines.extend(gathered.damaged.iter().map(ToString::to_string));
    for folder in &gathered.torn {
        lines.push(format!("{}: its last line is incomplete and does not count", folder.display()));
    }
    for line in lines {
        let _ = writeln!(std::io::stderr(), "{}", printable(&line, false));
    }
}

fn missing_words(gathered: &Gathered, missing: &[Missing]) -> String {
    let count: usize = missing.iter().map(|part| part.points.len()).sum();
    let mut text = format!("{count} of {} points are missing; nothing was written. Run:", gathered.points());
    for Missing { shard, folder, points } in missing {
        let folder = folder.clone().unwrap_or_else(|| PathBuf::from(format!("shard-{}", shard.number)));
        let part = if shard.of == 1 { String::new() } else { format!(" --shard {shard}") };
        text += &format!("\n  motefall sweep FILE{part} --out {}    # {}", folder.display(), listed(points));
    }
    text + "\nand gather again with these folders"
}

/// Numbers of points, from 0 as in the tables.
fn listed(points: &[u64]) -> String {
    let shown: Vec<String> = points.iter().take(MOST_LISTED).map(u64::to_string).collect();
    let more = points.len().saturating_sub(MOST_LISTED);
    let word = if points.len() == 1 { "point" } else { "points" };
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{word} {}{more}", shown.join(", "))
}
