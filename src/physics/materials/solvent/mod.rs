//! Solvent properties.

mod built_in;
mod mixture;
mod properties;
mod table;
mod vapour;

pub use mixture::{mixture_density, mixture_surface_tension, mixture_viscosity};
pub use properties::{DIFFUSIVITY_TEMPERATURE, Solvent, USUAL_VAPOUR_HEAT_CAPACITY};
pub use table::SolventTable;
pub use vapour::VapourCurve;
