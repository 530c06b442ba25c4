//! Profiles across printed items, and what is read off them.
//!
//! A profile is the map's thickness averaged along a straight strip. Each pixel is shared between the two nearest bins by linear
//! weights of its centre's distance from the axis, so a line at any angle gives a profile without beats between pixels and bins. That
//! blurs a profile by a variance of a sixth of a pixel squared, and the pixels themselves by a twelfth. Widths at half height are
//! corrected for it: they are right to 1 % for a line of developed sheath flow 15 pixels wide. Bands are not: they
//! come out 0.1 % wide there.

mod curve;
mod exact;
mod height;
mod lane;
mod pieces;
mod roughness;
mod strip;
#[cfg(test)]
mod tests;

pub use curve::{smooth, smoothing};
pub use exact::ExactProfile;
pub use lane::{END_SHARE, End, Lane};
pub use pieces::{EDGE_PART, EDGE_WINDOW, Edges, LEAST_EDGE_COVER, Pieces, Smoothed};
pub use roughness::{nearest_crossing, squares_from_line};
pub use strip::{Profile, Strip, profiles};
