//! Properties of gases, solvents, powders and what the electron beam sees.

pub mod beam;
pub mod gas;
pub mod sizes;
pub mod solvent;
