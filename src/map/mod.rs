//! Grids on the chip plane and what is collected on them.

pub mod canvas;
pub mod outline;
pub mod regions;
pub mod tally;
