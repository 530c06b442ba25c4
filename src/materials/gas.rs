//! Gas properties.

/// Gases the tool knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GasSpecies {
    /// N2.
    Nitrogen,
    /// Ar.
    Argon,
    /// Dry air.
    Air,
}
