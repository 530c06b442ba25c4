//! Predicts what a sheath-focused aerosol jet leaves on a microscopy chip.
//!
//! The modules stand in the order in which a droplet meets them:
//!
//! ```text
//! scenario -> inputs -> source -> head -> jet -> droplet -> path -> deposit -> map -> figures -> run -> output
//!             (what     (ink,     (sheath, (bore, (drag,    (stage, (foot-     (grids) (numbers)  (one     (report,
//!              to do)    mist,     drying)  gas    tracks,   shutter) prints)                      print)    files)
//!                        tube)              field) landing)
//! ```
//!
//! A scenario file is read and validated into [`inputs::Inputs`], which is immutable, in SI units, and the
//! only thing the physics sees. [`run`] turns it into a [`figures::Prediction`]; [`output`] writes that down.
//! Files, clocks and printing exist in `main`, `cli`, `scenario`, `output` and `plain_file` and in the stores of jets and sweeps only.

pub mod constants;
pub mod contours;
pub mod deposit;
pub mod drawing;
pub mod droplet;
pub mod figure_kinds;
pub mod figures;
pub mod file_kind;
pub mod head;
pub mod inputs;
pub mod jet;
pub mod map;
pub mod materials;
pub mod output;
pub mod path;
pub mod plain_file;
pub mod run;
pub mod scenario;
pub mod source;
pub mod units;
mod words;
