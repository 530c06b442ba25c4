//! Reads values out of a parsed file after the table of keys, and collects every fault on the way.
//!
//! A value with a fault reads as NaN (or as a stand-in), so that checks across keys stay silent about it: every
//! comparison with NaN is false. Nothing read this way is used once there is a fault.

mod collector;
mod missing;
mod numbers;
mod section;
mod sections;
mod unknown;
mod values;

pub(crate) use collector::Collector;
pub(crate) use numbers::{Worded, number_of, number_spec, other_reading, plain_sign, tidy, worded_number};
pub(crate) use section::{Reader, Value};
pub(crate) use unknown::{homes_of, other_unit};
