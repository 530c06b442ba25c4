//! The print head: sheath joins, droplets dry, the bore tapers to the nozzle.

pub mod drying;
pub mod mist;
pub mod taper;
