//! Pictures as they are read: grey values, and what the file says of its scale.

mod crop;
mod decode;
mod pixels;
mod png_file;
mod scale;
mod tiff_file;

pub use crop::Crop;
pub(crate) use decode::decode;
pub(crate) use pixels::Picture;
pub use scale::{FileScale, Scale, ScaleFrom};
