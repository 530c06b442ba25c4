//! A solvent and what follows from its properties.

use super::SolventTable;
use crate::constants::{ATMOSPHERE, GAS_CONSTANT};
use std::f64::consts::PI;

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
    /// Heat capacity of the vapour at constant pressure, J/(kg K).
    pub vapour_heat_capacity: f64,
    /// What it does at other temperatures, if it is built in.
    pub table: Option<SolventTable>,
    /// Diffusivity of the vapour in the gas at 298.15 K and one atmosphere, m^2/s.
    pub diffusivity: f64,
    /// Flash point, K, if it has one that matters.
    pub flash_point: Option<f64>,
    /// Whether it is toxic to reproduction (NMP).
    pub reproductive_toxicity: bool,
}

/// Temperature of [`Solvent::diffusivity`], K.
pub const DIFFUSIVITY_TEMPERATURE: f64 = 298.15;

/// Heat capacity of a vapour that is not known better, J/(kg K). An ESTIMATE: vapours of organic liquids lie between 1000 and 1900.
/// It slows the evaporation of a cooled droplet by at most some 5 %.
pub const USUAL_VAPOUR_HEAT_CAPACITY: f64 = 1400.0;

impl Solvent {
    /// Saturation vapour pressure over the flat pure liquid, Pa, at a temperature (K); see `Solvent::vapour_curve`.
    pub fn saturation_pressure(&self, temperature: f64) -> f64 {
        self.vapour_curve().log_pressure(temperature).0.exp()
    }

    /// Diffusivity of the vapour, m^2/s, at a temperature (K) and pressure (Pa): proportional to T^1.75/p.
    ///
    /// Source: Fuller, Schettler & Giddings 1966, A new method for prediction of binary gas-phase diffusion coefficients,
    /// Ind. Eng. Chem. 58(5):18.
    pub fn vapour_diffusivity(&self, temperature: f64, pressure: f64) -> f64 {
        self.diffusivity * (temperature / DIFFUSIVITY_TEMPERATURE).powf(1.75) * (ATMOSPHERE / pressure)
    }

    /// Length of the Kelvin effect, m, at a temperature (K): 4 sigma M/(rho R T); see [`Solvent::kelvin_ratio`].
    pub(crate) fn kelvin_length(&self, temperature: f64) -> f64 {
        4.0 * self.surface_tension * self.molar_mass / (self.density * GAS_CONSTANT * temperature)
    }

    /// Vapour pressure over a droplet of a diameter (m) relative to the flat liquid: exp(4 sigma M/(rho R T d)).
    ///
    /// Source: Thomson 1871, On the equilibrium of vapour at a curved surface of liquid, Phil. Mag. 42:448.
    pub fn kelvin_ratio(&self, diameter: f64, temperature: f64) -> f64 {
        (self.kelvin_length(temperature) / diameter).exp()
    }

    /// Mean speed of the vapour's molecules, m/s: sqrt(8 R T/(pi M)).
    pub(crate) fn molecular_speed(&self, temperature: f64) -> f64 {
        (8.0 * GAS_CONSTANT * temperature / (PI * self.molar_mass)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::CELSIUS_ZERO;

    #[test]
    fn names_are_forgiving() {
        let nmp = Solvent::built_in("N-Methyl-2-Pyrrolidone", 298.15).expect("known");
        assert_eq!(nmp, Solvent::built_in("nmp", 298.15).expect("known"));
        assert!(nmp.reproductive_toxicity && nmp.vapour_pressure == 45.0);
        assert_eq!(Solvent::built_in("IPA", 293.15).expect("known").name, "isopropanol");
        assert!(Solvent::built_in("ethylene_glycol", 293.15).is_some() && Solvent::built_in("gin", 293.15).is_none());
        for name in Solvent::built_in_names() {
            assert!(Solvent::built_in(name, 300.0).is_some_and(|s| s.name == *name));
        }
    }

    #[test]
    fn tables_are_met_and_joined() {
        let at = |c: f64| Solvent::built_in("water", CELSIUS_ZERO + c).expect("known");
        assert!((at(20.0).vapour_pressure - 2339.3).abs() < 1e-9);
        assert!((at(60.0).viscosity - 4.66e-4).abs() < 1e-12);
        assert!((at(80.0).density - 971.791).abs() < 1e-9);
        // halfway 40-60 C: (992.217 + 983.196)/2 = 987.7065
        assert!((at(50.0).density - 987.7065).abs() < 1e-9);
        // 50 C: 7384.9 (19946/7384.9)^0.51547 = 12324.7 Pa by hand; the reference (IAPWS-95, from memory) is 12352 Pa, 0.2 % above
        assert!((at(50.0).vapour_pressure / 12_324.7 - 1.0).abs() < 1e-4);
        for name in Solvent::built_in_names() {
            for c in [5.0, 20.0, 25.0, 40.0, 59.999, 60.0] {
                let (a, b) = (CELSIUS_ZERO + c, CELSIUS_ZERO + c + 1.0);
                let (a, b) = (Solvent::built_in(name, a).expect("known"), Solvent::built_in(name, b).expect("known"));
                assert!(b.vapour_pressure > a.vapour_pressure && b.viscosity < a.viscosity && b.density < a.density);
                assert!(b.vapour_pressure < 1.15 * a.vapour_pressure, "{name} jumps at {c} C");
            }
        }
    }

    #[test]
    fn clausius_clapeyron_by_hand() {
        let own = Solvent { table: None, ..Solvent::built_in("water", 298.15).expect("known") };
        // 2441700 * 0.01801528/8.314463 = 5290.51 K; 1/298.15 - 1/288.15 = -1.163997e-4; 3169.9 * exp(-0.615814) = 1712.5
        assert!((own.saturation_pressure(288.15) - 1712.5).abs() < 0.5);
        assert_eq!(own.vapour_curve().latent_heat(350.0), own.latent_heat);
    }

    /// What the table says at a temperature does not depend on the one at which the solvent was read; what the user gives scales it.
    #[test]
    fn a_built_in_solvent_follows_its_table_from_any_temperature() {
        for name in Solvent::built_in_names() {
            let read = |celsius: f64| Solvent::built_in(name, CELSIUS_ZERO + celsius).expect("known");
            for t in [2.0, 20.0, 33.0, 60.0, 79.0] {
                let there = read(t);
                for from in [22.0, 60.0, 90.0] {
                    let curve = read(from).vapour_curve();
                    let (log, _) = curve.log_pressure(CELSIUS_ZERO + t);
                    assert!((log.exp() / there.vapour_pressure - 1.0).abs() < 1e-9, "{name} at {t} C read at {from} C");
                    let heat = curve.latent_heat(CELSIUS_ZERO + t);
                    assert!((heat / there.latent_heat - 1.0).abs() < 1e-9, "{name} at {t} C read at {from} C");
                }
            }
        }
        // Half as much again at 25 C and a tenth less heat at 60 C: so everywhere.
        let plain = Solvent::built_in("ethanol", CELSIUS_ZERO + 60.0).expect("known");
        let mine = Solvent {
            vapour_pressure: 1.5 * 7885.4,
            vapour_temperature: CELSIUS_ZERO + 25.0,
            latent_heat: 0.9 * 877_530.0,
            ..plain.clone()
        };
        let (cool, warm) = (CELSIUS_ZERO + 10.0, CELSIUS_ZERO + 70.0);
        assert!((mine.saturation_pressure(warm) / plain.saturation_pressure(warm) - 1.5).abs() < 1e-9);
        let [own, table] = [&mine, &plain].map(|solvent| solvent.vapour_curve().latent_heat(cool));
        assert!((own / table - 0.9).abs() < 1e-9);
        // (754.054 - 734.853)/(744.4535 * 20) = 1.2896e-3 per kelvin
        let (per_kelvin, from) = plain.expansion();
        assert!((per_kelvin / 1.289_6e-3 - 1.0).abs() < 1e-4 && from == CELSIUS_ZERO + 60.0);
    }

    #[test]
    fn diffusivity_and_kelvin_effect_by_hand() {
        let water = Solvent::built_in("water", 298.15).expect("known");
        assert!((water.vapour_diffusivity(298.15, 2.0 * ATMOSPHERE) / (2.577e-5 / 2.0) - 1.0).abs() < 1e-12);
        // 4 * 0.07197 * 0.01801528/(997.048 * 8.314463 * 298.15) = 5.186239e-3/2.471616e6 = 2.09832e-9 m; over 0.1 um: e^0.0209832
        assert!((water.kelvin_ratio(0.1e-6, 298.15) - 1.021_205).abs() < 1e-5);
    }
}
