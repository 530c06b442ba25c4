//! The gas in the bore above the exit: where the sheath joins, through the cone and the land, to the exit.
//!
//! Lengths in nozzle radii R, speeds in the mean exit speed U. z is 0 at the exit plane and negative above it.

pub mod field;
pub mod grid;
pub mod shape;
pub mod solver;
