//! Everything that all prints of one setting share: per layer gas, mist, jet, landing table, motion; for all layers grid and regions.

mod conditions;
mod flights;
mod layer;
mod mist;
mod print_state;
mod whole;

pub use flights::LEAST_DIAMETER;
pub use layer::LayerSetting;
pub use print_state::PrintState;
pub use whole::Setting;
