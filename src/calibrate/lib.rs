//! What test lines teach: measured lines, the unknowns of a bench, and the fit that joins them.
//!
//! [`lines`] reads a table of measured lines; `unknowns` are what nobody has measured, with what is thought possible before; the model of the
//! lines is the expected deposit (`model`), replaced by polynomials in the unknowns where it is needed thousands of times (`cheap`);
//! `told` says which unknowns the lines can tell at all; `density`, `best` and `sampler` find what the lines leave possible; `prepared`, `learn`
//! and [`calibrate()`] do all this in order, `further` says which line to print next, and `file` keeps the result.

mod asked;
mod best;
mod calibrate;
mod cheap;
mod density;
mod draws;
pub mod file;
mod further;
mod learn;
pub mod lines;
mod model;
pub mod possible;
mod prepared;
mod sampler;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod told;
mod unknowns;

pub use asked::{Asked, CalibrateError};
pub use calibrate::calibrate;
