//! The print head: sheath joins, droplets dry, the bore tapers to the nozzle.

pub mod taper;
