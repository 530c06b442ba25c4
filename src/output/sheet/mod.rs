//! The bench sheet: one page of paper, A4 or letter, that goes to the machine with the chip.
//!
//! `contents` what it is made of and how much of each list it holds; `setting`, `way`, `steps`, `expect`, `seen` and `safety` are its parts
//! in order; `whole` puts them together. Figures are those of the expected deposit, settings those of the scenario, times those of the path.

mod contents;
mod expect;
mod safety;
mod seen;
mod setting;
mod steps;
mod way;
mod whole;

pub use contents::{MOST_LAYERS, Sheet};
pub use whole::page;
