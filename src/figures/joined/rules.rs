//! What touches, and what conducts.

use motefall_physics::inputs::Conduction;

/// Gap between surfaces across which two particles still touch, m. An estimate: about as far as electrons tunnel.
pub const TOUCH: f64 = 1e-9;

/// What touches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Gap between surfaces across which two particles still touch, m.
    pub touch: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self { touch: TOUCH }
    }
}

/// Prints in which heights of single particles are worked out, unless a limit asks for what follows from them: it takes about as long as
/// the print itself, and a mean over so many is known well enough.
pub(crate) const HEIGHT_PRINTS: u32 = 100;

/// Which contacts are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Contacts {
    /// Those seen from above.
    FromAbove,
    /// Those in space as well, for which particles are dropped.
    InSpace,
}

/// The solid of a powder, as far as contacts ask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solid {
    /// Whether it conducts electrons.
    pub conduction: Conduction,
    /// Theoretical capacity, C/m^3 of solid; 0 if not active.
    pub capacity: f64,
}

impl Solid {
    pub(crate) fn conducts(&self) -> bool {
        self.conduction == Conduction::Conducting
    }

    pub(crate) fn is_active(&self) -> bool {
        self.capacity > 0.0
    }
}
