//! Which lines of a layer become wet beads, and how wide.

mod beads_of_layer;
mod item;
mod landed;
mod passing;
mod wind;

pub(crate) use beads_of_layer::{Arriving, Beads, Mover, reach};
pub use item::{DryingMatters, WetLine};
