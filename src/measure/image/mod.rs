//! One picture, measured.

mod cautions;
mod measure;
mod options;
mod reading;
mod threshold;
mod values;

pub(crate) use measure::Seen;
pub use measure::{ImageMeasured, Light, LineFacts, measure_image};
pub use options::{ImageOptions, Sought};
pub(crate) use reading::Reading;
