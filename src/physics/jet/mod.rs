//! The free gas jet between nozzle and chip: solved once, kept, looked up.

pub mod bore;
pub mod exit;
pub mod field;
pub mod grid;
pub mod linear;
pub mod newton;
pub mod solver;
pub mod store;
