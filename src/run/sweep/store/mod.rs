//! Where the points of a sweep are kept: a folder with a text file that only grows, one line a point.
//!
//! `sweep.jsonl` holds a [`Header`] on its first line and then one JSON object a point, in the order of the design. A line is written by one
//! writer and is on the disk before it counts. Each line ends with a check of its own bytes, so that no damage passes for a result: a damaged
//! line does not count, its point is computed again, and at the end the lines are put in order. Numbers are in SI and as short as reads back
//! exactly; what is not finite is null. There is no time and no computer's name in the file, so that a sweep that was killed and resumed
//! leaves the same bytes as one that ran straight. `sweep.lock` is held while a sweep runs.

mod error;
mod header;
mod line;
mod lock;
mod plan;
mod reading;
mod shard;
#[cfg(test)]
mod testing;
mod writing;

pub use error::StoreError;
pub use header::Header;
pub use line::{point_line, read_point, store_parts};
pub use lock::LOCK;
pub use reading::{DamagedLine, StoreReader, StoredLine, read_result};
pub use shard::Shard;
pub use writing::{Opened, Store};

/// Name of the file of points.
pub const FILE: &str = "sweep.jsonl";
