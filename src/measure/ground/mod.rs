//! Grey values against the ground that particles lie on: 0 on ground, 1 on particles, whatever the light.

mod blur;
mod inner;
mod levels;
mod otsu;
mod streaks;
mod surface;

pub(crate) use blur::{edge_blur, smoothed};
pub use levels::{Brightness, Separation};
pub(crate) use levels::{Levels, levels};
