//! Which side of the ground particles are on.

/// Whether particles are brighter or darker than the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Brightness {
    /// Brighter.
    Bright,
    /// Darker.
    Dark,
}
