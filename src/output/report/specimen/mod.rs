//! The print as a specimen: what the beam sees, what the potentiostat sees, what reaches places that must stay clean.

mod beam;
mod far;
mod potentiostat;
mod strays;
mod told;
mod transmitted;

pub(crate) use beam::beam;
pub(crate) use potentiostat::potentiostat;
pub(crate) use strays::strays;

/// Room for a picture, drawing units.
const ROOM: [f64; 2] = [560.0, 560.0];
