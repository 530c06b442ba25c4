//! A table of measured lines: one CSV, a row for each printed line, spot, coupon or weighed vial.

mod columns;
mod faults;
mod line;
mod read;
mod starter;

pub use faults::{LineFault, LineFaults};
pub use line::{Line, Measured, Value};
pub use read::{load, parse};
pub use starter::starter;
