//! Gas properties.

use std::f64::consts::PI;

use crate::constants::{CELSIUS_ZERO, GAS_CONSTANT};
use crate::words::words;

words! {
    /// Gases the tool knows.
    pub enum GasSpecies {
        /// N2.
        Nitrogen = "nitrogen",
        /// Ar.
        Argon = "argon",
        /// Dry air.
        Air = "air",
    }
}

/// Constants of one gas.
struct GasConstants {
    /// Molar mass, kg/mol (IUPAC atomic weights; air: U.S. Standard Atmosphere 1976).
    molar_mass: f64,
    /// Viscosity at 0 C, Pa s (White 2006, Viscous Fluid Flow, table 1-2).
    viscosity: f64,
    /// Sutherland's constant of the viscosity, K (same table; air 110.4 K as in the U.S. Standard Atmosphere 1976).
    sutherland: f64,
    /// Heat conductivity at 0 C, W/(m K), and its exponent in temperature: a power law through reference values at 0 and
    /// 100 C (argon 20 and 80 C) computed from Lemmon & Jacobsen 2004, Int. J. Thermophys. 25:21. Within 0.5 % from 0 to 100 C.
    conductivity: f64,
    conductivity_exponent: f64,
    /// Heat capacity at constant pressure, J/(kg K), 0-100 C (Span et al. 2000; Lemmon et al. 2000; Tegeler et al. 1999). Within 0.4 %.
    heat_capacity: f64,
}

impl GasSpecies {
    fn constants(self) -> GasConstants {
        match self {
            GasSpecies::Nitrogen => GasConstants {
                molar_mass: 28.0134e-3,
                viscosity: 1.663e-5,
                sutherland: 107.0,
                conductivity: 0.024_001,
                conductivity_exponent: 0.824_2,
                heat_capacity: 1041.6,
            },
            GasSpecies::Argon => GasConstants {
                molar_mass: 39.948e-3,
                viscosity: 2.125e-5,
                sutherland: 144.0,
                conductivity: 0.016_508,
                conductivity_exponent: 0.822_3,
                heat_capacity: 521.4,
            },
            GasSpecies::Air => GasConstants {
                molar_mass: 28.9644e-3,
                viscosity: 1.716e-5,
                sutherland: 110.4,
                conductivity: 0.024_36,
                conductivity_exponent: 0.836_1,
                heat_capacity: 1007.0,
            },
        }
    }
}

/// Temperatures (K) over which the properties here were compared with reference values: 0 to 100 C.
pub const GAS_TEMPERATURE_RANGE: [f64; 2] = [CELSIUS_ZERO, CELSIUS_ZERO + 100.0];

/// A gas at one temperature and pressure. SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasState {
    /// Which gas.
    pub(crate) species: GasSpecies,
    /// Temperature, K.
    pub temperature: f64,
    /// Pressure, Pa.
    pub pressure: f64,
    /// Molar mass, kg/mol.
    pub(crate) molar_mass: f64,
    /// Density, kg/m^3.
    pub density: f64,
    /// Viscosity, Pa s.
    pub viscosity: f64,
    /// Mean free path of the gas molecules, m.
    pub mean_free_path: f64,
    /// Heat conductivity, W/(m K).
    pub heat_conductivity: f64,
    /// Heat capacity at constant pressure, J/(kg K).
    pub heat_capacity: f64,
    /// Speed of sound, m/s.
    pub sound_speed: f64,
}

impl GasState {
    /// Properties at a temperature (K) and pressure (Pa), both above 0.
    ///
    /// Density: ideal gas. Viscosity: [`sutherland_viscosity`]. Mean free path: [`jennings_mean_free_path`].
    /// Speed of sound: sqrt(gamma R T / M), gamma = cp / (cp - R/M).
    /// Range: 0 to 100 C near one atmosphere ([`GAS_TEMPERATURE_RANGE`]); viscosity then within 0.4 % (nitrogen), 0.8 % (air)
    /// and 1.1 % (argon) of the reference equation of Lemmon & Jacobsen 2004.
    pub fn new(species: GasSpecies, temperature: f64, pressure: f64) -> Self {
        debug_assert!(temperature > 0.0 && pressure > 0.0);
        let c = species.constants();
        let specific = GAS_CONSTANT / c.molar_mass;
        let density = pressure / (specific * temperature);
        let viscosity = sutherland_viscosity(c.viscosity, CELSIUS_ZERO, c.sutherland, temperature);
        let gamma = c.heat_capacity / (c.heat_capacity - specific);
        Self {
            species,
            temperature,
            pressure,
            molar_mass: c.molar_mass,
            density,
            viscosity,
            mean_free_path: jennings_mean_free_path(viscosity, density, pressure),
            heat_conductivity: c.conductivity * (temperature / CELSIUS_ZERO).powf(c.conductivity_exponent),
            heat_capacity: c.heat_capacity,
            sound_speed: (gamma * specific * temperature).sqrt(),
        }
    }

    /// Mean speed of the gas molecules, m/s: sqrt(8 R T / (pi M)).
    pub(crate) fn molecular_speed(&self) -> f64 {
        (8.0 * GAS_CONSTANT * self.temperature / (PI * self.molar_mass)).sqrt()
    }
}

/// Viscosity of a dilute gas, Pa s: mu = mu0 (T/T0)^(3/2) (T0 + S)/(T + S).
///
/// `reference_viscosity` mu0 (Pa s) at `reference_temperature` T0 (K), Sutherland's constant S (K), `temperature` T (K).
/// Source: Sutherland 1893, The viscosity of gases and molecular force, Phil. Mag. 36:507.
pub fn sutherland_viscosity(
    reference_viscosity: f64,
    reference_temperature: f64,
    sutherland: f64,
    temperature: f64,
) -> f64 {
    reference_viscosity * (temperature / reference_temperature).powf(1.5) * (reference_temperature + sutherland)
        / (temperature + sutherland)
}

/// Jennings' numerical factor u.
const JENNINGS_FACTOR: f64 = 0.498_744_5;

/// Mean free path, m: lambda = sqrt(pi/8) (mu/u) / sqrt(rho p), u = 0.4987445.
///
/// `viscosity` mu (Pa s), `density` rho (kg/m^3), `pressure` p (Pa). Derived for air, applied here to pure gases.
/// Source: Jennings 1988, The mean free path in air, J. Aerosol Sci. 19:159.
pub fn jennings_mean_free_path(viscosity: f64, density: f64, pressure: f64) -> f64 {
    (PI / 8.0).sqrt() * viscosity / JENNINGS_FACTOR / (density * pressure).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::ATMOSPHERE;

    #[test]
    fn nitrogen_at_25_celsius_by_hand() {
        let gas = GasState::new(GasSpecies::Nitrogen, 298.15, ATMOSPHERE);
        // 101325 * 0.0280134 / (8.314463 * 298.15) = 2838.458 / 2478.957 = 1.145021
        assert!((gas.density - 1.145_02).abs() < 1e-5);
        // 1.663e-5 * (298.15/273.15)^1.5 * (273.15+107)/(298.15+107)
        //   = 1.663e-5 * 1.140370 * 0.938294 = 1.77940e-5
        assert!((gas.viscosity / 1.779_40e-5 - 1.0).abs() < 2e-5);
        // sqrt(pi/8) = 0.626657; 0.626657 * 1.77940e-5 / 0.4987445 / sqrt(1.145021 * 101325)
        //   = 2.235767e-5 / 340.6153 = 6.5639e-8
        assert!((gas.mean_free_path / 6.563_9e-8 - 1.0).abs() < 1e-4);
        // gamma = 1041.6 / (1041.6 - 296.803) = 1.398502; sqrt(1.398502 * 296.803 * 298.15) = 351.79
        assert!((gas.sound_speed - 351.79).abs() < 0.02);
    }

    #[test]
    fn half_the_pressure_doubles_the_free_path() {
        let a = GasState::new(GasSpecies::Argon, 300.0, ATMOSPHERE);
        let b = GasState::new(GasSpecies::Argon, 300.0, ATMOSPHERE / 2.0);
        assert!((b.mean_free_path / a.mean_free_path - 2.0).abs() < 1e-12);
        assert_eq!(a.viscosity, b.viscosity);
    }
}
