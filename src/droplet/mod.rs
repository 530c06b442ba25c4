//! Droplets in flight: drag, tracks, and the table of landing points.

pub mod drag;
pub mod table;
pub mod track;
