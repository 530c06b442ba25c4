//! The command `measure` against made-up pictures whose truth is known, and against what a user gets wrong.
//!
//! Pictures are drawn by `measure/draw.rs`: discs at known places, blurred, with noise, uneven light and streaks. All are invented.

#[path = "measure/accuracy.rs"]
mod accuracy;
#[path = "measure/draw.rs"]
mod draw;
#[path = "measure/program.rs"]
mod program;
