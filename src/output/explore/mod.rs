//! What the page of `motefall explore` is told: numbers in the units shown with their words, and maps as binary frames.

mod expected;
mod figures;
mod frame;
mod knobs;
mod map;
mod one;
mod prints;

pub use crate::expected::why_only_prints;
pub use crate::page::COLOURS;
pub use expected::expected;
pub use frame::Frame;
pub use knobs::knobs;
pub use map::{Geometry, expected_map, print_map};
pub use one::{Window, particles, print};
pub use prints::{Prints, prints};
