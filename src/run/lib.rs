//! Runs prints: random streams, one print, several prints, the prediction.

pub mod advise;
pub mod atlas;
pub mod beads;
pub mod cautions;
mod error;
pub mod expected;
mod landed;
pub mod line_width;
mod nozzle;
mod predict;
pub mod print;
mod progress;
pub mod ranges;
pub mod screen;
pub mod setting;
pub mod spread;
pub mod streams;
pub mod sweep;
#[cfg(test)]
mod testing;
pub mod width_doubts;

pub use error::RunError;
pub use predict::{Series, Told, one_print, predict, predict_in, predict_keeping, predict_possible};
pub use progress::{Progress, Silent, Stoppable};
