//! Cooled droplets in dry nitrogen at 20 to 85 C against the exact steady solution, computed here anew. Vapour pressures: McGarry 1983,
//! Correlation and prediction of the vapor pressures of pure liquids over large pressure ranges, Ind. Eng. Chem. Process Des. Dev. 22:313.
//! Latent heats and densities: Perry's Chemical Engineers' Handbook, 8th ed. 2008, tables 2-150 and 2-32; density of water: Kell 1975,
//! J. Chem. Eng. Data 20:97. Constants of water's density from memory, the others read from a compilation.
//!
//! Around a resting sphere, vapour that streams off takes up heat on its way: m (L + c (T - Td)) = 4 pi r^2 k dT/dr, and only vapour moves:
//! m = -4 pi r^2 (P M D/(R T)) (dy/dr)/(1 - y). Dividing one by the other leaves T as the only variable, with k and D free to follow it:
//!   m/r = 4 pi int k dT/(L + c (T - Td)),   ln(1/(1 - ys)) = (1/M) int k R T/(P D (L + c (T - Td))) dT,
//! both from Td to the gas's temperature. The second gives Td by bisection. No film temperature, no linear step, no transfer factors.

use std::f64::consts::PI;

use motefall_physics::constants::{ATMOSPHERE, GAS_CONSTANT};
use motefall_physics::head::drying::{DryingStage, MistClasses, dry, evaporation};
use motefall_physics::inputs::SolventPart;
use motefall_physics::materials::gas::{GasSpecies, GasState};
use motefall_physics::materials::solvent::Solvent;
use motefall_physics::units::{celsius, kelvin};

use super::table::{close, near};

/// Constants of a liquid.
struct Liquid {
    name: &'static str,
    /// kg/mol.
    molar_mass: f64,
    /// Diffusivity in nitrogen at 25 C and one atmosphere, m^2/s (Fuller, Schettler & Giddings 1966).
    diffusivity: f64,
    /// Heat capacity of the vapour as an ideal gas near 40 C, J/(kg K): reference equations of water and ethanol, TRC for isopropanol.
    vapour_heat_capacity: f64,
    /// Critical temperature, K, pressure, Pa, and the four constants of Wagner's equation.
    wagner: ([f64; 2], [f64; 4]),
    /// Critical temperature, K, and the constants of the latent heat in J/kmol.
    latent: (f64, [f64; 4]),
    /// kg/m^3 at a temperature, K.
    density: fn(f64) -> f64,
}

const LIQUIDS: [Liquid; 3] = [
    Liquid {
        name: "water",
        molar_mass: 18.015_28e-3,
        diffusivity: 2.577e-5,
        vapour_heat_capacity: 1868.0,
        wagner: ([647.35, 22_122_300.0], [-7.764_51, 1.458_38, -2.775_8, -1.233_03]),
        latent: (647.096, [52_053e3, 0.319_9, -0.212, 0.257_95]),
        density: |t| {
            let c = celsius(t);
            1000.0 * (1.0 - (c + 288.941_4) / (508_929.2 * (c + 68.129_63)) * (c - 3.986_3).powi(2))
        },
    },
    Liquid {
        name: "ethanol",
        molar_mass: 46.068_44e-3,
        diffusivity: 1.26e-5,
        vapour_heat_capacity: 1466.0,
        wagner: ([513.92, 6_130_870.0], [-8.518_38, 0.341_626, -5.736_83, 8.325_81]),
        latent: (514.0, [55_789e3, 0.312_45, 0.0, 0.0]),
        density: |t| 1.6288 / 0.274_69f64.powf(1.0 + (1.0 - t / 514.0).powf(0.231_78)) * 46.068_44,
    },
    Liquid {
        name: "isopropanol",
        molar_mass: 60.095_02e-3,
        diffusivity: 1.053e-5,
        vapour_heat_capacity: 1548.0,
        wagner: ([508.3, 4_742_440.0], [-8.169_27, -0.094_321_3, -8.100_4, 7.85]),
        latent: (508.3, [72_542e3, 0.791_37, -0.660_92, 0.342_23]),
        density: |t| 1.1799 / 0.264_4f64.powf(1.0 + (1.0 - t / 508.3).powf(0.246_53)) * 60.095_02,
    },
];

impl Liquid {
    /// Pa: ln(p/pc) = (a x + b x^1.5 + c x^3 + d x^6) Tc/T, x = 1 - T/Tc.
    fn pressure(&self, t: f64) -> f64 {
        let ([tc, pc], [a, b, c, d]) = self.wagner;
        let x = 1.0 - t / tc;
        pc * (tc / t * (a * x + b * x.powf(1.5) + c * x.powi(3) + d * x.powi(6))).exp()
    }

    /// J/kg: C1 (1 - Tr)^(C2 + C3 Tr + C4 Tr^2).
    fn latent_heat(&self, t: f64) -> f64 {
        let (tc, [c1, c2, c3, c4]) = self.latent;
        let tr = t / tc;
        c1 * 1e-3 * (1.0 - tr).powf(c2 + c3 * tr + c4 * tr * tr) / self.molar_mass
    }

    /// P D/(R T), mol/(m s), in nitrogen.
    fn molar_diffusivity(&self, t: f64) -> f64 {
        ATMOSPHERE / (GAS_CONSTANT * t) * self.diffusivity * (t / 298.15).powf(1.75)
    }

    /// Temperature, K, and mass rate over radius, kg/(m s), of a droplet in dry nitrogen at a temperature (K).
    fn steady(&self, gas: f64) -> (f64, f64) {
        // Midpoint sums over temperature.
        let over = |droplet: f64, f: &dyn Fn(f64) -> f64| -> f64 {
            let step = (gas - droplet) / 200.0;
            (0..200).map(|i| f(droplet + (f64::from(i) + 0.5) * step) * step).sum()
        };
        let conductivity = |t: f64| GasState::new(GasSpecies::Nitrogen, t, ATMOSPHERE).heat_conductivity;
        let heat = |t: f64, droplet: f64| self.latent_heat(droplet) + self.vapour_heat_capacity * (t - droplet);
        let (mut low, mut high) = (gas - 90.0, gas);
        for _ in 0..60 {
            let droplet = 0.5 * (low + high);
            let share = self.pressure(droplet) / ATMOSPHERE;
            let carried = over(droplet, &|t| conductivity(t) / (self.molar_diffusivity(t) * heat(t, droplet)));
            let too_warm = share >= 1.0 || -(1.0 - share).ln() > carried / self.molar_mass;
            if too_warm { high = droplet } else { low = droplet }
        }
        (low, 4.0 * PI * over(low, &|t| conductivity(t) / heat(t, low)))
    }

    /// Time, s, in which a droplet that was made at the gas's temperature with a diameter (m) loses half of its mass; it shrinks as it cools.
    fn half_life(&self, gas: f64, diameter: f64) -> f64 {
        let (droplet, rate) = self.steady(gas);
        let made = PI / 6.0 * diameter.powi(3) * (self.density)(gas);
        let radius = |mass: f64| (0.75 * mass / (PI * (self.density)(droplet))).cbrt();
        (0..1000).map(|i| 0.5e-3 * made / (rate * radius(made * (1.0 - 0.5e-3 * (f64::from(i) + 0.5))))).sum()
    }
}

const CELSIUS: [f64; 4] = [20.0, 40.0, 60.0, 85.0];

fn pure(name: &str, gas: f64) -> [SolventPart; 1] {
    [SolventPart { mass_fraction: 1.0, solvent: Solvent::built_in(name, gas).expect("built in") }]
}

/// The tolerance covers the tables against these relations (0.5 % in vapour pressure, 0.7 % in latent heat) and the film temperature.
#[test]
fn temperature_and_rate_of_a_cooled_droplet() {
    for liquid in LIQUIDS {
        for t in CELSIUS {
            // So wide that curvature and transition vanish.
            let diameter = 10e-3;
            let gas = GasState::new(GasSpecies::Nitrogen, kelvin(t), ATMOSPHERE);
            let own = evaporation(diameter, &pure(liquid.name, kelvin(t)), &gas, &[0.0]);
            let (droplet, rate) = liquid.steady(kelvin(t));
            let what = format!("{} at {t} C", liquid.name);
            let ratio = own.mass_rates[0] / (rate * 0.5 * diameter);
            println!(
                "{what}: {:.2} C against {:.2}, rate {:+.2} %",
                celsius(own.temperature),
                celsius(droplet),
                100.0 * (ratio - 1.0)
            );
            near(own.temperature, droplet, 0.2, &what);
            close(ratio, 1.0, 0.01, &what);
        }
    }
}

/// A lone droplet of 0.2 mm, dried by the solver that mists are dried by. The time is compared: in still gas d^2 falls evenly with it.
#[test]
fn time_in_which_a_droplet_dries() {
    for liquid in LIQUIDS {
        for t in CELSIUS {
            let diameter = 0.2e-3;
            let gas = GasState::new(GasSpecies::Nitrogen, kelvin(t), ATMOSPHERE);
            let solvents = pure(liquid.name, kelvin(t));
            let stage = DryingStage {
                solvents: &solvents,
                gas: &gas,
                carrier_vapour: &[0.0],
                sheath_vapour: &[0.0],
                sheath_ratio: 0.0,
                mixing_radius: 0.0,
                duration: liquid.half_life(kelvin(t), diameter),
            };
            let left = dry(&MistClasses::generated([(diameter, 1e-6)], 1), &stage).liquid_left[0];
            let ratio = (1.0 - left.powf(2.0 / 3.0)) / (1.0 - 0.5f64.powf(2.0 / 3.0));
            println!("{} at {t} C: {:+.2} % too fast", liquid.name, 100.0 * (ratio - 1.0));
            close(ratio, 1.0, 0.01, &format!("{} at {t} C", liquid.name));
        }
    }
}
