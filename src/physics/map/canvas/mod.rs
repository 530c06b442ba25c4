//! Where particles are collected: solid volume per pixel and covered sub-pixels.
//!
//! Both are integers, so collecting in any order and on any number of threads gives the same bytes.

mod bits;
mod cells;
mod corners;
mod stamp;

pub use bits::{Bits, SUB};
pub use cells::Canvas;
