//! Measures pictures and traces of printed lines.

mod error;
mod grains;
mod ground;
mod line;
mod picture;
mod raster;

pub use error::MeasureError;
pub use picture::{Crop, FileScale, MOST_PIXELS, Picture, Scale, ScaleFrom, decode};
pub use raster::Raster;
