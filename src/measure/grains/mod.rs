//! What is covered: connected pieces, grains in them, sizes.

mod cut;
mod distance;
mod hidden;
mod own;
mod pieces;
mod relief;
mod shape;
mod sizes;
mod split;

pub(crate) use cut::cut_further;
pub(crate) use distance::inside_distance;
pub(crate) use hidden::hidden_share;
pub(crate) use own::own_steps;
pub(crate) use pieces::{Joined, Pieces, total_turning, turning, without_specks};
pub(crate) use relief::fill_relief;
pub use shape::Network;
pub(crate) use shape::{network, part_areas};
pub use sizes::SizeBin;
pub(crate) use sizes::{Grain, SizeMoments, grains, histogram};
pub(crate) use split::{LARGEST_NECK, NARROW_NECK, joined, split};
