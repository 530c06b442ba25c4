//! What tests here share.

use motefall_scenario::{Turnable, load_turnable};
use std::path::Path;

/// A shipped scenario.
pub(crate) fn shipped(name: &str) -> Turnable {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios").join(name);
    load_turnable(&path).unwrap_or_else(|faults| panic!("{faults}"))
}

/// That of the test lines.
pub(crate) fn first_line() -> Turnable {
    shipped("first-line.toml")
}

/// The shipped table of measured lines. Invented.
pub(crate) const EXAMPLE: &str = include_str!("../../scenarios/first-line-measured.csv");
