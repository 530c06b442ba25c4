//! Measures pictures and traces of printed lines.

mod error;
mod figure;
mod grains;
mod ground;
mod image;
mod line;
mod overlay;
mod picture;
mod raster;
mod row;
mod trace;
mod words;

pub use error::MeasureError;
pub use figure::{Figure, Value, Values, combined, scatter};
pub use grains::{Network, SizeBin};
pub use ground::{Brightness, Separation};
pub use image::{ImageMeasured, ImageOptions, Light, LineFacts, Sought, measure_image};
pub use line::{Along, Kind};
pub use overlay::{OVERLAY_COLOURS, is_overlay};
pub use picture::{Crop, FileScale, MOST_PIXELS, Picture, Scale, ScaleFrom, decode};
pub use raster::Raster;
pub use row::{COLUMNS, Row};
pub use trace::{TraceMeasured, measure_trace};
pub use words::{size_histogram, sizes_csv};
