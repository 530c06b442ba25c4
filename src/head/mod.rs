//! The print head.

pub mod drying;
