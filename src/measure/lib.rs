//! Measures pictures and traces of printed lines. Bytes in, figures out; files are read and written by the program.
//!
//! A picture goes this way: `picture` reads it, with its scale, and crops it; `ground` levels light and streaks, finds ground and particles
//! and gives each pixel its share of the step between them; `image` cuts that at a threshold, midway to each grain's own grey; `grains` takes
//! pieces apart, sizes them and says whether they are grains at all; `line` finds the direction and reads the profile across it. All of this is done four times: at the
//! threshold, at one above and one below it, and blurred once more; what the figures change by is their uncertainty (`figure`). `trace`
//! does the same for a profilometer. `overlay` draws what was found, `row` adds to a measurements file, `words` says how it was done.
//!
//! Widths, edges and roughness are those of predictions (`motefall_figures::profile`): the same smoothing, parts and windows. Edges of
//! sparse lines are not: predictions do not look for them where less than `LEAST_EDGE_COVER` is covered, so they stay out of rows.

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
pub use picture::{Crop, FileScale, Scale, ScaleFrom};
pub use raster::Raster;
pub use row::{Method, Row};
pub use trace::{Calibrated, TraceMeasured, measure_trace};
pub use words::{size_histogram, sizes_csv};
