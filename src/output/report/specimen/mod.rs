//! The print as a specimen: what the beam sees, what the potentiostat sees, what reaches places that must stay clean.

mod beam;
mod far;
mod potentiostat;
mod strays;
mod told;
mod transmitted;

pub use beam::beam;
pub use potentiostat::potentiostat;
pub use strays::strays;

/// Room for a picture, drawing units.
const ROOM: [f64; 2] = [560.0, 560.0];
