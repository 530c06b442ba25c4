//! How one droplet evaporates.

use crate::constants::GAS_CONSTANT;
use crate::inputs::SolventPart;
use crate::materials::gas::GasState;
use crate::materials::solvent::{Solvent, VapourCurve};
use std::f64::consts::PI;

/// Evaporation constant K of the d^2-law, m^2/s: d^2 = d0^2 - K t, K = 8 D M p/(rho R T), for a pure liquid in dry gas at the
/// gas's temperature, without Kelvin effect, transition correction or cooling.
///
/// `diffusivity` D (m^2/s), `molar_mass` M (kg/mol), `saturation_pressure` p (Pa), liquid `density` rho (kg/m^3), `temperature` T (K).
/// Source: Maxwell 1877; Fuchs 1959, Evaporation and Droplet Growth in Gaseous Media; Hinds 1999, Aerosol Technology, ch. 13.
pub fn isothermal_constant(
    diffusivity: f64,
    molar_mass: f64,
    saturation_pressure: f64,
    density: f64,
    temperature: f64,
) -> f64 {
    8.0 * diffusivity * molar_mass * saturation_pressure / (density * GAS_CONSTANT * temperature)
}

/// Transition correction of diffusion to a sphere, 0 to 1: (1 + Kn)/(1 + (4/3 + 0.377) Kn + (4/3) Kn^2), all molecules sticking.
///
/// `knudsen` Kn = lambda/r with lambda = 3 D/c (D diffusivity, c mean molecular speed), so that it meets free-molecular flow at large Kn.
/// Source: Fuchs & Sutugin 1971, High-dispersed aerosols, in Topics in Current Aerosol Research 2.
#[inline]
pub fn transition_correction(knudsen: f64) -> f64 {
    const STICKING: f64 = 4.0 / 3.0;
    (1.0 + knudsen) / (1.0 + (STICKING + 0.377) * knudsen + STICKING * knudsen * knudsen)
}

/// Vapour pressures in equilibrium with the ink's liquid, Pa, one per solvent, by Raoult's law (ideal mixture) at a temperature (K).
/// A saturation of S means S times these.
pub fn equilibrium_pressures(solvents: &[SolventPart], temperature: f64) -> Vec<f64> {
    let moles: Vec<f64> = solvents.iter().map(|s| s.mass_fraction / s.solvent.molar_mass).collect();
    let total: f64 = moles.iter().sum();
    solvents.iter().zip(&moles).map(|(s, n)| n / total * s.solvent.saturation_pressure(temperature)).collect()
}

/// Largest share of the gas that vapour takes at a surface or far from it; beyond it the liquid would boil. Such shares raise a caution.
pub(super) const LARGEST_SHARE: f64 = 0.98;
/// Largest exponent of the Kelvin effect of droplets whose vapour is looked at for that caution: smaller ones are about to vanish.
pub(super) const OWN_KELVIN_EXPONENT: f64 = 0.1;
/// Largest exponent of the Kelvin effect followed (droplets of a fraction of a nanometre, which are about to vanish).
const LARGEST_KELVIN_EXPONENT: f64 = 20.0;

/// How much faster vapour leaves a surface than it would diffuse through still gas, because it pushes the gas away:
/// (P/(P - ps)) ln(1 + B)/B with B = (ps - pg)/(P - ps); 1 where vapour is scarce.
///
/// `surface` ps and `far` pg: vapour pressures at the surface and far away, summed, Pa; `pressure` P of the gas, Pa. Both are taken as at
/// most 0.98 P. Gas that is still but for what the vapour moves. Source: Stefan 1873, Sitzungsber. Akad. Wiss. Wien 68:385 (from memory).
pub fn stefan_flow(surface: f64, far: f64, pressure: f64) -> f64 {
    let limit = LARGEST_SHARE * pressure;
    let (surface, far) = (surface.min(limit), far.min(limit));
    let b = (surface - far) / (pressure - surface);
    pressure / (pressure - surface) * if b.abs() < 1e-6 { 1.0 - 0.5 * b } else { b.ln_1p() / b }
}

/// A solvent with what the rates need, in gas of one temperature and pressure.
#[derive(Debug, Clone)]
pub(super) struct Vapour {
    /// Vapour pressure and latent heat at the droplet's temperature.
    pub(super) curve: VapourCurve,
    /// Molar mass, kg/mol.
    pub(super) molar_mass: f64,
    /// Molar heat capacity of the vapour, J/(mol K).
    pub(super) molar_heat_capacity: f64,
    /// D/(R T), mol/(m s Pa), at the gas temperature.
    pub(super) conductance: f64,
    /// 3 D/c, m.
    pub(super) mean_free_path: f64,
    /// Kelvin length 4 sigma M/(rho R T), m.
    pub(super) kelvin_length: f64,
    /// Molar volume of the liquid at the ink's temperature, m^3/mol.
    pub(super) molar_volume: f64,
    /// By how much of itself that grows per kelvin, 1/K, and the temperature from which on, K.
    pub(super) expansion: (f64, f64),
    /// D, m^2/s.
    pub(super) diffusivity: f64,
}

impl Vapour {
    pub(super) fn new(solvent: &Solvent, gas: &GasState) -> Self {
        let t = gas.temperature;
        let diffusivity = solvent.vapour_diffusivity(t, gas.pressure);
        Self {
            curve: solvent.vapour_curve(),
            molar_mass: solvent.molar_mass,
            molar_heat_capacity: solvent.vapour_heat_capacity * solvent.molar_mass,
            conductance: diffusivity / (GAS_CONSTANT * t),
            mean_free_path: 3.0 * diffusivity / solvent.molecular_speed(t),
            kelvin_length: solvent.kelvin_length(t),
            molar_volume: solvent.molar_mass / solvent.density,
            expansion: solvent.expansion(),
            diffusivity,
        }
    }

    /// Molar latent heat, J/mol, at a temperature, K.
    #[inline]
    pub(super) fn molar_heat(&self, temperature: f64) -> f64 {
        self.curve.latent_heat(temperature) * self.molar_mass
    }

    /// Molar volume of the liquid, m^3/mol, at a temperature, K.
    #[inline]
    pub(super) fn molar_volume_at(&self, temperature: f64) -> f64 {
        let (per_kelvin, from) = self.expansion;
        self.molar_volume * (1.0 + per_kelvin * (temperature - from))
    }
}

/// The gas as the heat balance sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeatSide {
    pub(super) temperature: f64,
    pub(super) pressure: f64,
    pub(super) conductivity: f64,
    pub(super) mean_free_path: f64,
}

impl HeatSide {
    pub(super) fn new(gas: &GasState) -> Self {
        Self {
            temperature: gas.temperature,
            pressure: gas.pressure,
            conductivity: gas.heat_conductivity,
            mean_free_path: 3.0 * gas.heat_conductivity / (gas.density * gas.heat_capacity * gas.molecular_speed()),
        }
    }
}

/// Rates of one droplet: solvent i leaves at `conductance[i] * (surface[i] x_i - p_i)` mol/s, x_i its mole fraction.
pub(super) struct Rates<'a> {
    /// mol/(s Pa), with transition correction and Stefan flow.
    pub(super) conductance: &'a mut [f64],
    /// Vapour pressure over the pure liquid at the droplet's curvature and temperature, Pa.
    pub(super) surface: &'a mut [f64],
}

/// x/(e^x - 1): how much less heat reaches a sphere that gives off vapour, x the heat that the vapour takes up per kelvin over the heat
/// that is conducted per kelvin.
#[inline]
fn blowing(x: f64) -> f64 {
    if x.abs() < 1e-4 { 1.0 - 0.5 * x } else { x / x.exp_m1() }
}

/// Solves the heat balance of a droplet and fills its rates; returns its temperature, K, and the heat it takes up per kelvin, W/K.
///
/// 4 pi r k bT (T - Td) x/(e^x - 1) = sum L_i n_i,  n_i = 4 pi r D_i b_i F/(R Tf) (x_i K_i p_i(Td) - p_i): the heat conducted in, less what
/// the vapour takes up on its way out, is the latent heat carried off.
/// b: transition corrections; K: Kelvin ratio; F: [`stefan_flow`] of the vapours' sum; x = sum n_i c_i/(4 pi r k bT), c_i molar heat capacities of the vapours. p_i and L_i
/// are those at the droplet's temperature; D/T and k are taken at the film temperature Tf = (T + Td)/2.
/// Range: D, k and the vapours' heat capacities as in gas that holds little vapour.
/// Source: Fuchs 1959, Evaporation and Droplet Growth in Gaseous Media; x/(e^x - 1): Ackermann 1937, Wärmeübergang und molekulare
/// Stoffübertragung im gleichen Feld bei großen Temperatur- und Partialdruckdifferenzen, VDI-Forschungsheft 382 (from memory).
pub(super) fn heat_balance(
    radius: f64,
    fractions: &[f64],
    vapours: &[Vapour],
    heat: HeatSide,
    far: &[f64],
    guess: f64,
    rates: Rates,
) -> (f64, f64) {
    let Rates { conductance, surface } = rates;
    let shape = 4.0 * PI * radius;
    let to_droplet = shape * heat.conductivity * transition_correction(heat.mean_free_path / radius);
    let far_sum: f64 = far.iter().sum();
    let limit = LARGEST_SHARE * heat.pressure;
    let mut temperature = guess;
    let mut heat_conductance = to_droplet;
    let kelvin = |v: &Vapour| (v.kelvin_length / (2.0 * radius)).min(LARGEST_KELVIN_EXPONENT);
    for _ in 0..40 {
        let film = 0.5 * (heat.temperature + temperature) / heat.temperature;
        // D/T goes with T^0.75 and k with about T^0.82.
        let (film_d, film_k) = (film.powf(0.75), film.powf(0.82));
        let mut surface_sum = 0.0;
        for (i, v) in vapours.iter().enumerate() {
            surface[i] = (v.curve.log_pressure(temperature).0 + kelvin(v)).exp();
            surface_sum += fractions[i] * surface[i];
        }
        if surface_sum > limit {
            let scale = limit / surface_sum;
            surface.iter_mut().for_each(|s| *s *= scale);
            surface_sum = limit;
        }
        let stefan = stefan_flow(surface_sum, far_sum, heat.pressure);
        // Latent heat carried off, W, heat that the vapour takes up, W/K, and how both grow per kelvin of the droplet.
        let (mut latent, mut taken, mut latent_slope, mut taken_slope) = (0.0, 0.0, 0.0, 0.0);
        for (i, v) in vapours.iter().enumerate() {
            conductance[i] = shape * v.conductance * film_d * transition_correction(v.mean_free_path / radius) * stefan;
            let leaving = conductance[i] * (fractions[i] * surface[i] - far[i]);
            let rise = conductance[i] * fractions[i] * surface[i] * v.curve.log_pressure(temperature).1
                / (temperature * temperature);
            let molar_heat = v.molar_heat(temperature);
            latent += molar_heat * leaving;
            latent_slope += molar_heat * rise;
            taken += v.molar_heat_capacity * leaving;
            taken_slope += v.molar_heat_capacity * rise;
        }
        heat_conductance = to_droplet * film_k * blowing(taken / (to_droplet * film_k));
        let gap = heat.temperature - temperature;
        // x/(e^x - 1) falls by about x/2.
        let slope = -heat_conductance - 0.5 * taken_slope * gap - latent_slope;
        let step = -(heat_conductance * gap - latent) / slope;
        // The gas cannot cool a droplet by more than some tens of kelvin; the bound only keeps a bad guess from running off.
        let next = (temperature + step.clamp(-30.0, 30.0)).max(0.5 * heat.temperature);
        let done = (next - temperature).abs() < 1e-4;
        temperature = next;
        if done {
            break;
        }
    }
    (temperature, heat_conductance)
}

/// A droplet's steady state while it evaporates.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaporation {
    /// Temperature of the droplet, K.
    pub temperature: f64,
    /// Mass that leaves, kg/s, per solvent; negative where vapour condenses.
    pub mass_rates: Vec<f64>,
}

/// How one droplet evaporates, with Kelvin effect, Raoult's law, transition correction, cooling and Stefan flow; heat balance in
/// steady state. A droplet reaches it in some twentieth of its life, and if it was warmer before, gives off c dT/L of its mass on the way
/// (water 2 % and alcohols 3 % for 10 K), which is not counted here.
///
/// `diameter` (m); `solvents` with their mass fractions in the droplet now; `gas` around it; `vapour` pressures far away (Pa), one per solvent.
/// Vapour pressure and latent heat are those at the droplet's temperature; its surface tension is that at the solvents' own.
pub fn evaporation(diameter: f64, solvents: &[SolventPart], gas: &GasState, vapour: &[f64]) -> Evaporation {
    let vapours: Vec<Vapour> = solvents.iter().map(|s| Vapour::new(&s.solvent, gas)).collect();
    let moles: Vec<f64> = solvents.iter().map(|s| s.mass_fraction / s.solvent.molar_mass).collect();
    let total: f64 = moles.iter().sum();
    let fractions: Vec<f64> = moles.iter().map(|n| n / total).collect();
    let (mut conductance, mut surface) = (vec![0.0; solvents.len()], vec![0.0; solvents.len()]);
    let rates = Rates { conductance: &mut conductance, surface: &mut surface };
    let (temperature, _) =
        heat_balance(0.5 * diameter, &fractions, &vapours, HeatSide::new(gas), vapour, gas.temperature, rates);
    let mass_rates = (0..solvents.len())
        .map(|i| solvents[i].solvent.molar_mass * conductance[i] * (fractions[i] * surface[i] - vapour[i]))
        .collect();
    Evaporation { temperature, mass_rates }
}
