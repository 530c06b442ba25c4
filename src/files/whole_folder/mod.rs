//! Writing of folders that are complete or not there: tried before the run, put together in a hidden folder beside the place, and renamed.
//!
//! The hidden folder is `.motefall-*` beside the place. `new/NAME` is the result being put together, `old/NAME` what
//! stood at the place, and `lock` is locked as long as the run lives: the system lets go of it however the run ends, so
//! [`recover()`] never touches the folder of a run that is alive. Renaming is the last step, and what stood there is
//! removed only after it.
//!
//! A result lists its own files, with length and checksum, in [`LIST`], which is written last: only a folder with such a list is ever replaced,
//! and of it only what is unchanged.

mod error;
mod hidden;
mod own;
mod place;
mod put;
mod recover;
#[cfg(test)]
mod testing;
mod trial;
mod writing;

pub use error::FolderError;
pub use own::{LIST, MARK, OwnFile};
pub use recover::recover;
pub use trial::check_place;
pub use writing::{Placed, WholeFolder};

/// What becomes of an earlier result in the folder that a new one is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Earlier {
    /// It stays, and nothing is written.
    Kept,
    /// It goes, once the new one is in its place. What is no result of this program always stays.
    Replaced,
}
