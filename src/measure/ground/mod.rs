//! Grey values against the ground that particles lie on: 0 on ground, 1 on particles, whatever the light.

mod blur;
mod brightness;
mod inner;
mod levels;
mod otsu;
mod streaks;
mod surface;

pub(crate) use blur::{edge_blur, smoothed};
pub use brightness::Brightness;
pub use levels::Separation;
pub(crate) use levels::{Levels, levels};
