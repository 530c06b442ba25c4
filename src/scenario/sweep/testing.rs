//! Scenarios for tests.

use super::{Turnable, load_turnable};
use std::path::Path;

/// A shipped scenario.
pub(super) fn shipped(name: &str) -> Turnable {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios").join(name);
    load_turnable(&path).unwrap_or_else(|faults| panic!("{faults}"))
}
