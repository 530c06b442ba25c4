//! Built-in solvents.

use super::Solvent;
use super::table::{BUILT_IN, BuiltIn, SolventTable};
use crate::constants::CELSIUS_ZERO;

/// A built-in solvent by any of its names. Case, hyphens and underscores do not matter.
fn find(name: &str) -> Option<&'static BuiltIn> {
    let plain = name.trim().to_lowercase().replace(['-', '_'], " ");
    BUILT_IN.iter().find(|solvent| solvent.names.contains(&plain.as_str()))
}

impl Solvent {
    /// Built-in properties at a temperature (K), or `None` for an unknown name. Case, hyphens and underscores do not matter.
    ///
    /// Linear between the tabulated temperatures in density, surface tension and latent heat; in viscosity and vapour pressure
    /// the logarithm is linear in 1/T. Between [`Solvent::tabulated`] temperatures, extrapolated outside.
    pub fn built_in(name: &str, temperature: f64) -> Option<Self> {
        let found = find(name)?;
        let celsius = temperature - CELSIUS_ZERO;
        let [a, b] = found.around(celsius);
        let linear = (celsius - a.celsius) / (b.celsius - a.celsius);
        let inverse = |c: f64| 1.0 / (c + CELSIUS_ZERO);
        let arrhenius = (1.0 / temperature - inverse(a.celsius)) / (inverse(b.celsius) - inverse(a.celsius));
        let straight = |x: f64, y: f64| x + linear * (y - x);
        let curved = |x: f64, y: f64| x * (y / x).powf(arrhenius);
        Some(Self {
            name: found.names[0].to_owned(),
            molar_mass: found.molar_mass,
            density: straight(a.density, b.density),
            viscosity: curved(a.viscosity, b.viscosity),
            surface_tension: straight(a.surface_tension, b.surface_tension),
            latent_heat: straight(a.latent_heat, b.latent_heat),
            vapour_pressure: curved(a.vapour_pressure, b.vapour_pressure),
            vapour_temperature: temperature,
            vapour_heat_capacity: found.vapour_heat_capacity,
            table: Some(SolventTable { of: found, temperature }),
            diffusivity: found.diffusivity,
            flash_point: found.flash_point_celsius.map(|c| c + CELSIUS_ZERO),
            reproductive_toxicity: found.reproductive_toxicity,
        })
    }

    /// Temperatures between which a built-in solvent is tabulated, K; `None` for an unknown name.
    pub fn tabulated(name: &str) -> Option<[f64; 2]> {
        let found = find(name)?;
        Some([found.rows.first()?.celsius, found.rows.last()?.celsius].map(|celsius| celsius + CELSIUS_ZERO))
    }

    /// Names that [`Solvent::built_in`] knows (each also under common other names).
    pub fn built_in_names() -> &'static [&'static str] {
        const NAMES: [&str; BUILT_IN.len()] = {
            let mut names = [""; BUILT_IN.len()];
            let mut i = 0;
            while i < BUILT_IN.len() {
                names[i] = BUILT_IN[i].names[0];
                i += 1;
            }
            names
        };
        &NAMES
    }

    /// By how much of its volume the liquid grows per kelvin, 1/K, and from which temperature on, K: that at which the solvent was read from
    /// its table. It does not grow if it is not built in.
    pub(crate) fn expansion(&self) -> (f64, f64) {
        self.table.map_or((0.0, self.vapour_temperature), |SolventTable { of, temperature }| {
            let [a, b] = of.around(temperature - CELSIUS_ZERO);
            let per_kelvin = 2.0 * (a.density - b.density) / ((a.density + b.density) * (b.celsius - a.celsius));
            (per_kelvin, temperature)
        })
    }
}
