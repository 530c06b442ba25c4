//! Properties of gases, solvents, powders and what the electron beam sees.

pub mod beam;
mod capacity;
pub mod drag;
pub mod gas;
#[rustfmt::skip]
pub mod hazards;
pub mod sizes;
pub mod solvent;

pub use capacity::faraday_capacity;
