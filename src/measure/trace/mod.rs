//! Traces of a profilometer.

mod measure;
mod read;

pub use measure::{Calibrated, TraceMeasured, measure_trace};
pub(crate) use read::{Trace, read};
