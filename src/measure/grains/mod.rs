//! What is covered: connected pieces, grains in them, sizes.

mod distance;
mod pieces;
mod shape;
mod sizes;
mod split;

pub(crate) use distance::inside_distance;
pub(crate) use pieces::{Pieces, without_specks};
pub(crate) use shape::{Network, network};
pub use sizes::SizeBin;
pub(crate) use sizes::{Grain, SizeMoments, grains, histogram};
pub(crate) use split::split;
