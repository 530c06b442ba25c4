//! The print head: sheath joins, droplets dry, the bore tapers to the nozzle (its flow: `jet::bore`).

pub mod drying;
pub mod mist;
pub mod profile;
