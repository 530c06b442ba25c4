//! Solvent properties.

/// A solvent at the temperature of ink and head. SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Solvent {
    /// Name as the user wrote it or as built in.
    pub name: String,
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Liquid density, kg/m^3.
    pub density: f64,
    /// Liquid viscosity, Pa s.
    pub viscosity: f64,
    /// Surface tension, N/m.
    pub surface_tension: f64,
    /// Latent heat of evaporation, J/kg.
    pub latent_heat: f64,
    /// Saturation vapour pressure at `vapour_temperature`, Pa.
    pub vapour_pressure: f64,
    /// Temperature of `vapour_pressure`, K.
    pub vapour_temperature: f64,
    /// Diffusivity of the vapour in the gas at 298.15 K and one atmosphere, m^2/s.
    pub diffusivity: f64,
    /// Flash point, K, if it has one that matters.
    pub flash_point: Option<f64>,
    /// Whether it is toxic to reproduction (NMP).
    pub reproductive_toxicity: bool,
}

impl Solvent {
    /// Built-in properties at a temperature (K), or `None` for an unknown name.
    pub fn built_in(_name: &str, _temperature: f64) -> Option<Self> {
        None
    }

    /// Names that [`Solvent::built_in`] knows.
    pub fn built_in_names() -> &'static [&'static str] {
        &[]
    }
}
