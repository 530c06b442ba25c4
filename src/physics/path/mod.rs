//! From printed shapes to the motion of the nozzle axis and the times at which mist reaches the chip.

pub mod fill;
pub mod motion;
pub mod shutter;
pub mod size;
pub mod strokes;
