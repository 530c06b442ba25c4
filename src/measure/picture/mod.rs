//! Pictures as they are read: grey values, and what the file says of its scale.

mod crop;
mod decode;
mod png_file;
mod scale;
mod tiff_file;

pub use crop::Crop;
pub use decode::{MOST_PIXELS, Picture, decode};
pub use scale::{FileScale, Scale, ScaleFrom};
