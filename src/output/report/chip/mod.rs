//! Pictures of the chip: the map with outlines and path, the deposit at particle scale, every map by itself.

mod hero;
mod labels;
mod map;
mod multiples;
mod view;

pub(crate) use hero::hero;
pub(crate) use multiples::multiples;
pub(crate) use view::main_region;

/// Length over breadth beyond which a map needs an enlarged part to be read.
const LONG: f64 = 8.0;
