//! Evaporation of a droplet, and of a whole mist that shares its gas.
//!
//! Solids are ignored here: a droplet is treated as liquid alone. The caller keeps each droplet's own residue as the floor of its size.
//!
//! The mist feeds back on the gas: at 20 uL of NMP per litre of carrier the liquid (20 g/m^3) is ten times what the gas can hold
//! as vapour (1.8 g/m^3), so the gas saturates long before the droplets are dry, and drying is set by how much sheath has mixed in.
//! The gas stays at the wall's temperature: heat from the wall reaches it about as fast as the vapours mix. With water and a heavy

mod droplet;
mod mist;
#[cfg(test)]
mod tests;

pub use droplet::{
    Evaporation, equilibrium_pressures, evaporation, isothermal_constant, stefan_flow, transition_correction,
};
pub use mist::{DryingResult, DryingStage, MistClass, MistClasses, STEP_TOLERANCE, VapourShare, dry, mixing_time};
