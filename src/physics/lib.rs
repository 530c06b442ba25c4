//! What happens between the ink and the deposit on the chip plane. The modules stand in the order in which a droplet meets them:
//!
//! ```text
//! inputs -> source -> head -> jet -> droplet -> path -> deposit -> map
//! (what     (ink,     (sheath, (bore, (drag,    (stage, (foot-     (grids,
//!  to do)    mist,     drying)  gas    tracks,   shutter) prints)   counts)
//!            tube)              field) landing)
//! ```
//!
//! Everything is in SI units.

pub mod constants;
pub mod contours;
pub mod deposit;
pub mod droplet;
pub mod figure_kinds;
pub mod head;
pub mod inputs;
pub mod jet;
pub mod map;
pub mod materials;
pub mod path;
pub mod quick;
pub mod source;
pub mod units;
pub mod words;
