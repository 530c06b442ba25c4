//! What the electron beam sees: inelastic mean free path.

/// Inelastic mean free path, m, of a solid of the given density (kg/m^3) at an accelerating voltage (V).
pub fn mean_free_path(_density: f64, _voltage: f64) -> f64 {
    0.0
}

/// Density, kg/m^3, of built-in layer materials (silicon nitride, silicon, carbon, water, ...), or `None`.
pub fn built_in_density(_material: &str) -> Option<f64> {
    None
}

/// Names that [`built_in_density`] knows.
pub fn built_in_materials() -> &'static [&'static str] {
    &[]
}
