//! Pictures as they are read: grey values, and what the file says of its scale.

mod crop;
mod decode;
mod png_file;
mod scale;
mod tiff_file;

pub use crop::Crop;
pub(crate) use decode::{Picture, decode};
pub use scale::{FileScale, Scale, ScaleFrom};
