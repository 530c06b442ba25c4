//! Particle size distributions.

mod distribution;
mod fault;
mod laws;
mod made;

pub use distribution::SizeDistribution;
pub use fault::{LARGEST_GSD, SizesError};
pub use laws::{LognormalMode, Weighting, count_median, hatch_choate};
