//! Evaporation of a droplet, and of a whole mist that shares its gas.
//!
//! Solids are ignored here: a droplet is treated as liquid alone. The caller keeps each droplet's own residue as the floor of its size.
//!
//! The mist feeds back on the gas: at 20 uL of NMP per litre of carrier the liquid (20 g/m^3) is ten times what the gas can hold
//! as vapour (1.8 g/m^3), so the gas saturates long before the droplets are dry, and drying is set by how much sheath has mixed in.
//! The gas stays at the wall's temperature: heat from the wall reaches it about as fast as the vapours mix. With water and a heavy
//! mist it would be cooler, and drying slower.

use std::f64::consts::PI;

use crate::constants::GAS_CONSTANT;
use crate::inputs::SolventPart;
use crate::materials::gas::GasState;
use crate::materials::solvent::{Solvent, VapourCurve};

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
const LARGEST_SHARE: f64 = 0.98;
/// Largest exponent of the Kelvin effect of droplets whose vapour is looked at for that caution: smaller ones are about to vanish.
const OWN_KELVIN_EXPONENT: f64 = 0.1;
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
struct Vapour {
    /// Vapour pressure and latent heat at the droplet's temperature.
    curve: VapourCurve,
    /// Molar mass, kg/mol.
    molar_mass: f64,
    /// Molar heat capacity of the vapour, J/(mol K).
    molar_heat_capacity: f64,
    /// D/(R T), mol/(m s Pa), at the gas temperature.
    conductance: f64,
    /// 3 D/c, m.
    mean_free_path: f64,
    /// Kelvin length 4 sigma M/(rho R T), m.
    kelvin_length: f64,
    /// Molar volume of the liquid at the ink's temperature, m^3/mol.
    molar_volume: f64,
    /// By how much of itself that grows per kelvin, 1/K, and the temperature from which on, K.
    expansion: (f64, f64),
    /// D, m^2/s.
    diffusivity: f64,
}

impl Vapour {
    fn new(solvent: &Solvent, gas: &GasState) -> Self {
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
    fn molar_heat(&self, temperature: f64) -> f64 {
        self.curve.latent_heat(temperature) * self.molar_mass
    }

    /// Molar volume of the liquid, m^3/mol, at a temperature, K.
    #[inline]
    fn molar_volume_at(&self, temperature: f64) -> f64 {
        let (per_kelvin, from) = self.expansion;
        self.molar_volume * (1.0 + per_kelvin * (temperature - from))
    }
}

/// The gas as the heat balance sees it.
#[derive(Debug, Clone, Copy)]
struct HeatSide {
    temperature: f64,
    pressure: f64,
    conductivity: f64,
    mean_free_path: f64,
}

impl HeatSide {
    fn new(gas: &GasState) -> Self {
        Self {
            temperature: gas.temperature,
            pressure: gas.pressure,
            conductivity: gas.heat_conductivity,
            mean_free_path: 3.0 * gas.heat_conductivity / (gas.density * gas.heat_capacity * gas.molecular_speed()),
        }
    }
}

/// Rates of one droplet: solvent i leaves at `conductance[i] * (surface[i] x_i - p_i)` mol/s, x_i its mole fraction.
struct Rates<'a> {
    /// mol/(s Pa), with transition correction and Stefan flow.
    conductance: &'a mut [f64],
    /// Vapour pressure over the pure liquid at the droplet's curvature and temperature, Pa.
    surface: &'a mut [f64],
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
fn heat_balance(
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

/// Time constant of mixing across a round bore, s: R^2/(3.8317^2 D), the slowest radial mode of diffusion with a tight wall
/// (3.8317: first zero of the Bessel function J1).
///
/// `radius` R (m), `diffusivity` D of the vapour (m^2/s).
pub fn mixing_time(radius: f64, diffusivity: f64) -> f64 {
    const FIRST_ZERO: f64 = 3.831_705_970_207_512;
    radius * radius / (FIRST_ZERO * FIRST_ZERO * diffusivity)
}

/// Droplets of one size.
#[derive(Debug, Clone, PartialEq)]
pub struct MistClass {
    /// Diameter as generated, m, counted as liquid alone.
    pub diameter: f64,
    /// Droplets per volume of carrier gas at the stage's temperature and pressure, 1/m^3.
    pub number: f64,
    /// What is left of each solvent, relative to the amount as generated; all 1 at the atomiser.
    pub left: Vec<f64>,
}

/// A mist in size classes.
#[derive(Debug, Clone, PartialEq)]
pub struct MistClasses(pub Vec<MistClass>);

impl MistClasses {
    /// Mist as generated: diameters (m) and droplets per volume of carrier (1/m^3), of `solvents` solvents.
    pub fn generated(classes: impl IntoIterator<Item = (f64, f64)>, solvents: usize) -> Self {
        let class = |(diameter, number)| MistClass { diameter, number, left: vec![1.0; solvents] };
        Self(classes.into_iter().map(class).collect())
    }
}

/// A stretch of the way in which the mist dries.
#[derive(Debug, Clone, Copy)]
pub struct DryingStage<'a> {
    /// The ink's solvents; mass fractions are those of the liquid as generated.
    pub solvents: &'a [SolventPart],
    /// Gas at the stage's temperature and pressure.
    pub gas: &'a GasState,
    /// Vapour pressures in the carrier at the start, Pa, one per solvent; see [`equilibrium_pressures`].
    pub carrier_vapour: &'a [f64],
    /// Vapour pressures in the sheath, Pa, one per solvent.
    pub sheath_vapour: &'a [f64],
    /// Sheath flow over carrier flow; 0 in the mist tube.
    pub sheath_ratio: f64,
    /// Radius of the bore across which sheath and carrier mix, m; not used without a sheath.
    pub mixing_radius: f64,
    /// Time spent, s.
    pub duration: f64,
}

/// The mist after a stage.
#[derive(Debug, Clone, PartialEq)]
pub struct DryingResult {
    /// Per class, per solvent: amount left relative to that generated. Slightly above 1 where vapour has condensed.
    pub left: Vec<Vec<f64>>,
    /// Per class: volume of the liquid left relative to that generated.
    pub liquid_left: Vec<f64>,
    /// Liquid volume left relative to that generated, over all classes.
    pub mist_left: f64,
    /// Vapour pressures at the end in the gas that the droplets share, Pa, per solvent.
    pub vapour: Vec<f64>,
    /// Vapour pressures in all of the gas once the rest of the sheath has mixed in, Pa, per solvent.
    pub mixed_vapour: Vec<f64>,
    /// Those of the droplets' gas relative to the equilibrium over the ink as generated, per solvent. Above 1 for a solvent that is left behind by a
    /// more volatile one, because its share of the liquid rises.
    pub saturation: Vec<f64>,
    /// Largest relative gap in the balance of any solvent: liquid and vapour at the end against liquid and vapour brought in.
    pub balance_gap: f64,
    /// Largest share of the gas pressure that vapour takes among the droplets, 0 to 1, and at the surface of any.
    pub vapour_share: VapourShare,
    /// Steps taken.
    pub steps: usize,
    /// Tolerance of a step at the end; above [`STEP_TOLERANCE`] where the stage was too stiff to follow closely.
    pub tolerance: f64,
}

/// Largest shares of the gas pressure that vapour takes, summed over the solvents; above 1 if the gas could not hold it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct VapourShare {
    /// In the gas among the droplets.
    pub in_gas: f64,
    /// At the surface of a droplet.
    pub at_surface: f64,
}

impl VapourShare {
    /// The larger ones of both.
    pub fn max(self, other: Self) -> Self {
        Self { in_gas: self.in_gas.max(other.in_gas), at_surface: self.at_surface.max(other.at_surface) }
    }
}

/// Largest accepted difference between one step and two half steps in a class's volume (relative to that generated) or in the vapour
/// pressures (relative to equilibrium). Against a tolerance twenty times finer (60 classes of NMP, ethanol with ethylene glycol, water
/// with isopropanol, 20 uL/L): the mist's whole volume agrees to 5e-5 of that generated; a single class to 0.013 over 0.3 s of head, 0.02
/// over 1 s and 0.044 over 3 s of tube, worst in the class that is just vanishing. 450 to 1200 steps.
pub const STEP_TOLERANCE: f64 = 2e-4;
/// Steps after which the tolerance is loosened with the third power of their number. Volatile mixtures in nearly saturated gas at some
/// 60 C and above are so stiff that their smallest droplets would otherwise take 10^5 steps and more. The result says so.
const PATIENCE: f64 = 4000.0;
/// A droplet with less than this share of its generated volume has vanished; the rest counts as vapour.
const VANISHED: f64 = 1e-9;

/// Dries a mist that shares its gas over one stage.
///
/// Per droplet: [`evaporation`]. Shared gas: per solvent, the volume that vapour can reach grows from the carrier's to carrier and
/// sheath as V(t)/V_carrier = 1 + (Qs/Qc)(1 - exp(-t/t_mix)), t_mix from [`mixing_time`] with that solvent's diffusivity, bringing the
/// sheath's own vapour along; within it the vapour is even. Liquid and vapour of each solvent are conserved.
///
/// Method: linearly implicit Euler in the amounts, coupled through the vapour pressure at the end of the step (one linear
/// equation per solvent, so amounts stay positive at any step), with step doubling and extrapolation.
///
/// Arguments: `mist` as it enters; between stages at different temperatures scale `number` by T1/T2, while vapour pressures stay.
pub fn dry(mist: &MistClasses, stage: &DryingStage) -> DryingResult {
    Mist::new(mist, stage).run()
}

/// A state: amounts per class and solvent (mol per droplet), vapour per solvent (mol per m^3 of carrier), droplet temperatures.
#[derive(Clone)]
struct State {
    amounts: Vec<f64>,
    pressure: Vec<f64>,
    temperature: Vec<f64>,
}

struct Mist<'a> {
    stage: &'a DryingStage<'a>,
    vapours: Vec<Vapour>,
    heat: HeatSide,
    number: Vec<f64>,
    generated: Vec<f64>,
    generated_volume: Vec<f64>,
    equilibrium: Vec<f64>,
    mixing_times: Vec<f64>,
    /// Liquid and vapour brought in with the carrier, mol per m^3 of carrier, per solvent.
    brought: Vec<f64>,
    start: State,
    conductance: Vec<f64>,
    surface: Vec<f64>,
    fractions: Vec<f64>,
    cooling: Vec<f64>,
}

impl<'a> Mist<'a> {
    fn new(mist: &MistClasses, stage: &'a DryingStage<'a>) -> Self {
        let m = stage.solvents.len();
        debug_assert!(stage.carrier_vapour.len() == m && stage.sheath_vapour.len() == m);
        let vapours: Vec<Vapour> = stage.solvents.iter().map(|s| Vapour::new(&s.solvent, stage.gas)).collect();
        // Volume fraction of each solvent over its molar volume: mol per m^3 of liquid.
        let per_mass: f64 = stage.solvents.iter().map(|s| s.mass_fraction / s.solvent.density).sum();
        let content: Vec<f64> =
            stage.solvents.iter().map(|s| s.mass_fraction / s.solvent.molar_mass / per_mass).collect();
        let volumes: Vec<f64> = mist.0.iter().map(|c| PI / 6.0 * c.diameter.powi(3)).collect();
        let generated: Vec<f64> = volumes.iter().flat_map(|v| content.iter().map(move |c| v * c)).collect();
        let amounts: Vec<f64> = mist
            .0
            .iter()
            .enumerate()
            .flat_map(|(j, c)| (0..m).map(move |i| (j, i, c.left[i])))
            .map(|(j, i, left)| generated[j * m + i] * left)
            .collect();
        let number: Vec<f64> = mist.0.iter().map(|c| c.number).collect();
        let rt = GAS_CONSTANT * stage.gas.temperature;
        let liquid = |i: usize| -> f64 { number.iter().enumerate().map(|(j, n)| n * amounts[j * m + i]).sum() };
        let brought = (0..m).map(|i| stage.carrier_vapour[i] / rt + liquid(i)).collect();
        let mixing_times = vapours.iter().map(|v| mixing_time(stage.mixing_radius, v.diffusivity)).collect();
        Self {
            stage,
            heat: HeatSide::new(stage.gas),
            equilibrium: equilibrium_pressures(stage.solvents, stage.gas.temperature),
            brought,
            mixing_times,
            start: State {
                amounts,
                pressure: stage.carrier_vapour.to_vec(),
                temperature: vec![stage.gas.temperature; number.len()],
            },
            conductance: vec![0.0; m],
            surface: vec![0.0; m],
            fractions: vec![0.0; m],
            cooling: vec![0.0; m],
            generated,
            generated_volume: volumes,
            number,
            vapours,
        }
    }

    /// Sheath volume reached by vapour i at a time, per volume of carrier.
    fn sheath_reached(&self, i: usize, time: f64) -> f64 {
        if self.stage.sheath_ratio > 0.0 && time > 0.0 {
            self.stage.sheath_ratio * -(-time / self.mixing_times[i]).exp_m1()
        } else {
            0.0
        }
    }

    /// Vapour of solvent i, mol per m^3 of carrier, when a given liquid (same unit) is left at a time: everything brought in less the liquid.
    fn vapour_amount(&self, i: usize, time: f64, liquid: f64) -> f64 {
        let rt = GAS_CONSTANT * self.stage.gas.temperature;
        self.brought[i] + self.stage.sheath_vapour[i] * self.sheath_reached(i, time) / rt - liquid
    }

    fn pressure_of(&self, i: usize, time: f64, amount: f64) -> f64 {
        amount * GAS_CONSTANT * self.stage.gas.temperature / (1.0 + self.sheath_reached(i, time))
    }

    fn volume(&self, amounts: &[f64], class: usize) -> f64 {
        let m = self.vapours.len();
        self.vapours.iter().enumerate().map(|(i, v)| amounts[class * m + i] * v.molar_volume).sum()
    }

    /// Per class and solvent, from a state: k and c such that a droplet loses c n - k p mol/s near that state, n its amount of the
    /// solvent and p the vapour pressure; updates droplet temperatures.
    ///
    /// A droplet that loses more cools and so loses less. To first order its conductance falls by 1 + G/(1 + G'), where
    /// G = L^2 k x ps/(R Td^2 H) of the solvent, G' the sum over the others, H the heat taken up per kelvin; c is set so that
    /// the rate at the state itself is unchanged. Without this, steps in nearly saturated gas would have to be very short.
    ///
    /// Returns the largest vapour pressure at the surface of a droplet, Pa.
    fn rates(&mut self, state: &mut State, k: &mut [f64], c: &mut [f64]) -> f64 {
        let m = self.vapours.len();
        let mut largest = 0.0f64;
        for j in 0..self.number.len() {
            let total: f64 = state.amounts[j * m..(j + 1) * m].iter().sum();
            if total <= 0.0 {
                k[j * m..(j + 1) * m].fill(0.0);
                c[j * m..(j + 1) * m].fill(0.0);
                continue;
            }
            for i in 0..m {
                self.fractions[i] = state.amounts[j * m + i] / total;
            }
            let amounts = &state.amounts[j * m..(j + 1) * m];
            let parts = amounts.iter().zip(&self.vapours);
            let volume: f64 = parts.map(|(amount, v)| amount * v.molar_volume_at(state.temperature[j])).sum();
            let radius = (volume * 0.75 / PI).cbrt();
            let rates = Rates { conductance: &mut self.conductance, surface: &mut self.surface };
            let (temperature, heat_conductance) = heat_balance(
                radius,
                &self.fractions,
                &self.vapours,
                self.heat,
                &state.pressure,
                state.temperature[j],
                rates,
            );
            state.temperature[j] = temperature;
            if self.vapours.iter().all(|v| v.kelvin_length < 2.0 * radius * OWN_KELVIN_EXPONENT) {
                largest = largest.max(self.fractions.iter().zip(&*self.surface).map(|(x, p)| x * p).sum());
            }
            let mut cooling_sum = 0.0;
            for (i, v) in self.vapours.iter().enumerate() {
                let slope = v.curve.log_pressure(temperature).1;
                let per_fraction = v.molar_heat(temperature) * self.conductance[i] * self.surface[i] * slope
                    / (temperature * temperature * heat_conductance);
                self.cooling[i] = per_fraction;
                cooling_sum += per_fraction * self.fractions[i];
            }
            for i in 0..m {
                let others = 1.0 + cooling_sum - self.cooling[i] * self.fractions[i];
                let per_fraction = self.cooling[i] / others;
                let factor = 1.0 + per_fraction * self.fractions[i];
                // From (x ps - p) k = (x ps' - p) k/factor.
                let surface = factor * self.surface[i] - per_fraction * state.pressure[i];
                let (conductance, surface) = if surface > 0.0 {
                    (self.conductance[i] / factor, surface)
                } else {
                    (self.conductance[i], self.surface[i])
                };
                k[j * m + i] = conductance;
                c[j * m + i] = conductance * surface / total;
            }
        }
        largest
    }

    /// One linearly implicit step of a length to a time: n1 = (n0 + h k p1)/(1 + h c), with p1 from the balance of the vapour.
    fn step(&self, from: &State, k: &[f64], c: &[f64], length: f64, time: f64, to: &mut State) {
        let m = self.vapours.len();
        let rt = GAS_CONSTANT * self.stage.gas.temperature;
        to.temperature.copy_from_slice(&from.temperature);
        for i in 0..m {
            let (mut fixed, mut taken) = (0.0, 0.0);
            for (j, number) in self.number.iter().enumerate() {
                let shrink = 1.0 / (1.0 + length * c[j * m + i]);
                fixed += number * from.amounts[j * m + i] * shrink;
                taken += number * length * k[j * m + i] * shrink;
            }
            let available = self.vapour_amount(i, time, fixed).max(0.0);
            let p = available / ((1.0 + self.sheath_reached(i, time)) / rt + taken);
            to.pressure[i] = p;
            for j in 0..self.number.len() {
                let at = j * m + i;
                to.amounts[at] = (from.amounts[at] + length * k[at] * p) / (1.0 + length * c[at]);
            }
        }
    }

    /// Sets the pressures of a state from the balance; false if a vapour came out negative.
    fn close(&self, state: &mut State, time: f64) -> bool {
        let m = self.vapours.len();
        let mut sound = true;
        for i in 0..m {
            let liquid: f64 = self.number.iter().enumerate().map(|(j, n)| n * state.amounts[j * m + i]).sum();
            let amount = self.vapour_amount(i, time, liquid);
            sound &= amount >= -1e-12 * self.brought[i];
            state.pressure[i] = self.pressure_of(i, time, amount.max(0.0));
        }
        sound
    }

    fn run(mut self) -> DryingResult {
        let m = self.vapours.len();
        let classes = self.number.len();
        let end = self.stage.duration;
        let mut state = self.start.clone();
        let (mut full, mut half, mut two) = (state.clone(), state.clone(), state.clone());
        let (mut k, mut c) = (vec![0.0; classes * m], vec![0.0; classes * m]);
        let (mut k2, mut c2) = (k.clone(), c.clone());
        let mut time = 0.0;
        let mut length = (1e-7f64).min(end);
        let mut steps = 0;
        let mut tolerance = STEP_TOLERANCE;
        let mut fresh = true;
        let mut share = VapourShare::default();
        while time < end {
            tolerance = STEP_TOLERANCE * (steps as f64 / PATIENCE).max(1.0).powi(3);
            length = length.min(end - time);
            let last = length >= (end - time) * (1.0 - 1e-12);
            let next = if last { end } else { time + length };
            if fresh {
                let at_surface = self.rates(&mut state, &mut k, &mut c) / self.stage.gas.pressure;
                share = share.max(VapourShare { at_surface, in_gas: self.share_in_gas(&state) });
            }
            self.step(&state, &k, &c, length, next, &mut full);
            self.step(&state, &k, &c, 0.5 * length, time + 0.5 * length, &mut half);
            self.rates(&mut half, &mut k2, &mut c2);
            self.step(&half, &k2, &c2, 0.5 * length, next, &mut two);
            let mut error = 0.0f64;
            for j in 0..classes {
                let gap = (self.volume(&two.amounts, j) - self.volume(&full.amounts, j)).abs();
                error = error.max(gap / self.generated_volume[j]);
            }
            for i in 0..m {
                let scale = self.equilibrium[i].max(f64::MIN_POSITIVE);
                error = error.max((two.pressure[i] - full.pressure[i]).abs() / scale);
            }
            let factor = (0.9 * (tolerance / error.max(1e-12)).sqrt()).clamp(0.2, 3.0);
            steps += 1;
            // The floor only guards against a stall; it lies far below the life of the smallest droplets.
            if error > tolerance && length > 1e-12 * end {
                length *= factor;
                fresh = false;
                continue;
            }
            let mut kept = two.clone();
            for (at, amount) in kept.amounts.iter_mut().enumerate() {
                let better = 2.0 * two.amounts[at] - full.amounts[at];
                if better > 0.0 {
                    *amount = better;
                }
            }
            if !self.close(&mut kept, next) {
                kept.amounts.copy_from_slice(&two.amounts);
                self.close(&mut kept, next);
            }
            for j in 0..classes {
                if self.volume(&kept.amounts, j) < VANISHED * self.generated_volume[j] {
                    kept.amounts[j * m..(j + 1) * m].fill(0.0);
                }
            }
            self.close(&mut kept, next);
            state = kept;
            time = next;
            length *= factor;
            fresh = true;
        }
        let vapour_share = share.max(VapourShare { in_gas: self.share_in_gas(&state), ..share });
        self.result(&state, end, vapour_share, steps, tolerance)
    }

    fn share_in_gas(&self, state: &State) -> f64 {
        state.pressure.iter().sum::<f64>() / self.stage.gas.pressure
    }

    fn result(&self, state: &State, end: f64, vapour_share: VapourShare, steps: usize, tolerance: f64) -> DryingResult {
        let m = self.vapours.len();
        let rt = GAS_CONSTANT * self.stage.gas.temperature;
        let share = |at: usize| if self.generated[at] > 0.0 { state.amounts[at] / self.generated[at] } else { 0.0 };
        let liquid_left: Vec<f64> =
            (0..self.number.len()).map(|j| self.volume(&state.amounts, j) / self.generated_volume[j]).collect();
        let weight = |j: usize| self.number[j] * self.generated_volume[j];
        let whole: f64 = (0..self.number.len()).map(weight).sum();
        let balance_gap = (0..m)
            .map(|i| {
                let liquid: f64 = self.number.iter().enumerate().map(|(j, n)| n * state.amounts[j * m + i]).sum();
                let vapour = state.pressure[i] * (1.0 + self.sheath_reached(i, end)) / rt;
                let sheath = self.stage.sheath_vapour[i] * self.sheath_reached(i, end) / rt;
                let brought = self.brought[i] + sheath;
                if brought > 0.0 { (liquid + vapour - brought).abs() / brought } else { 0.0 }
            })
            .fold(0.0, f64::max);
        DryingResult {
            left: (0..self.number.len()).map(|j| (0..m).map(|i| share(j * m + i)).collect()).collect(),
            mist_left: if whole > 0.0 {
                (0..self.number.len()).map(|j| weight(j) * liquid_left[j]).sum::<f64>() / whole
            } else {
                0.0
            },
            liquid_left,
            vapour: state.pressure.clone(),
            mixed_vapour: (0..m)
                .map(|i| {
                    let (ratio, reached) = (self.stage.sheath_ratio, self.sheath_reached(i, end));
                    (state.pressure[i] * (1.0 + reached) + self.stage.sheath_vapour[i] * (ratio - reached))
                        / (1.0 + ratio)
                })
                .collect(),
            saturation: (0..m).map(|i| state.pressure[i] / self.equilibrium[i].max(f64::MIN_POSITIVE)).collect(),
            balance_gap,
            vapour_share,
            steps,
            tolerance,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::ATMOSPHERE;
    use crate::materials::gas::GasSpecies;

    fn nitrogen(celsius: f64) -> GasState {
        GasState::new(GasSpecies::Nitrogen, 273.15 + celsius, ATMOSPHERE)
    }

    fn liquid(parts: &[(&str, f64)], celsius: f64) -> Vec<SolventPart> {
        let part = |(name, mass_fraction): &(&str, f64)| SolventPart {
            mass_fraction: *mass_fraction,
            solvent: Solvent::built_in(name, 273.15 + celsius).expect("built in"),
        };
        parts.iter().map(part).collect()
    }

    /// Lognormal mist: 60 classes over +-3.5 sigma, `load` m^3 of liquid per m^3 of carrier.
    fn mist(median: f64, gsd: f64, load: f64, solvents: usize) -> MistClasses {
        let z = |i: usize| -3.5 + 7.0 * i as f64 / 59.0;
        let classes: Vec<(f64, f64)> =
            (0..60).map(|i| (median * (z(i) * gsd.ln()).exp(), (-0.5 * z(i) * z(i)).exp())).collect();
        let volume: f64 = classes.iter().map(|(d, n)| n * PI / 6.0 * d.powi(3)).sum();
        MistClasses::generated(classes.into_iter().map(|(d, n)| (d, n * load / volume)), solvents)
    }

    fn stage<'a>(
        solvents: &'a [SolventPart],
        gas: &'a GasState,
        carrier: &'a [f64],
        sheath: &'a [f64],
        ratio: f64,
        duration: f64,
    ) -> DryingStage<'a> {
        DryingStage {
            solvents,
            gas,
            carrier_vapour: carrier,
            sheath_vapour: sheath,
            sheath_ratio: ratio,
            mixing_radius: 1.5e-3,
            duration,
        }
    }

    #[test]
    fn isothermal_constant_of_water_at_20_celsius_by_hand() {
        // 8 * 2.502e-5 * 0.01801528 * 2339.3/(998.208 * 8.314463 * 293.15) = 8.43527e-3/2.433041e6 = 3.46697e-9
        let k = isothermal_constant(2.502e-5, 0.018_015_28, 2339.3, 998.208, 293.15);
        assert!((k / 3.466_97e-9 - 1.0).abs() < 1e-4);
    }

    /// A wide water droplet in dry nitrogen at 60 C: both sides of the balance per 4 pi r, by hand at 19.28 C, then by bisection. Vapour
    /// pressure by Wagner & Pruss 1993 (J. Phys. Chem. Ref. Data 22:783, constants from memory), latent heat 2500.9 - 2.386 t/C kJ/kg.
    ///
    /// By hand: ps = 2237 Pa, ys = 0.02208, ln(1/(1 - ys)) = 0.022326; film 312.79 K: D = 2.577e-5 * 1.0875 = 2.8025e-5 m^2/s,
    /// P/(R T) = 38.960 mol/m^3, so 0.018015 * 38.960 * 2.8025e-5 * 0.022326 = 4.392e-7 kg/(m s) leave. k = 0.024001 * 1.1181 =
    /// 0.026837 W/(m K), L = 2454.9 kJ/kg, so heat comes for 0.026837/1870 * ln(1 + 1870 * 40.72/2454900) = 4.384e-7 kg/(m s). The gap of
    /// 0.2 %, at 6.3 + 2.5 % per kelvin, is 0.02 K: 19.26 C and 4.386e-7 kg/(m s).
    #[test]
    fn the_wet_bulb_of_water_in_hot_dry_nitrogen() {
        let gas = nitrogen(60.0);
        let pressure = |t: f64| {
            let x = 1.0 - t / 647.096;
            let sum = -7.859_517_83 * x + 1.844_082_59 * x.powf(1.5) - 11.786_649_7 * x.powi(3)
                + 22.680_741_1 * x.powf(3.5)
                - 15.961_871_9 * x.powi(4)
                + 1.801_225_02 * x.powf(7.5);
            22.064e6 * (647.096 / t * sum).exp()
        };
        let sides = |t: f64| {
            let film = 0.5 * (t + gas.temperature);
            let diffusivity = 2.577e-5 * (film / 298.15).powf(1.75);
            let leaves =
                0.018_015_28 * ATMOSPHERE / (GAS_CONSTANT * film) * diffusivity * -(-pressure(t) / ATMOSPHERE).ln_1p();
            let conductivity = 0.024_001 * (film / 273.15).powf(0.824_2);
            let latent_heat = 2_500_900.0 - 2386.0 * (t - 273.15);
            let comes = conductivity / 1870.0 * (1870.0 * (gas.temperature - t) / latent_heat).ln_1p();
            (leaves, comes)
        };
        let by_hand = sides(273.15 + 19.28);
        assert!((by_hand.0 / 4.392e-7 - 1.0).abs() < 5e-4 && (by_hand.1 / 4.384e-7 - 1.0).abs() < 5e-4, "{by_hand:?}");
        let (mut low, mut high) = (273.15, 333.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let (leaves, comes) = sides(middle);
            if leaves > comes { high = middle } else { low = middle }
        }
        assert!((low - 273.15 - 19.26).abs() < 0.01, "{low}");
        let own = evaporation(10e-3, &liquid(&[("water", 1.0)], 60.0), &gas, &[0.0]);
        assert!((own.temperature - low).abs() < 0.02, "{} {low}", own.temperature);
        let rate = own.mass_rates[0] / (4.0 * PI * 5e-3);
        assert!((rate / sides(low).0 - 1.0).abs() < 1e-3, "{rate} {}", sides(low).0);
    }

    #[test]
    fn stefan_flow_by_hand() {
        // Half of the gas is vapour at the surface, none far away: B = 1, 2 ln 2 = 1.386294. As much far away: P/(P - ps) = 2.
        assert!((stefan_flow(5e4, 0.0, 1e5) - 1.386_294).abs() < 1e-6);
        assert!((stefan_flow(5e4, 5e4, 1e5) - 2.0).abs() < 1e-9);
        assert!((stefan_flow(1.0, 0.0, 1e5) - 1.0).abs() < 1e-5);
        // More vapour than gas: no sense in it, but a number.
        assert!(stefan_flow(2e5, 3e5, 1e5).is_finite());
    }

    /// Water of 60 C in dry nitrogen: by hand its droplets end at 19.3 C, 2239 Pa over 101,325; at first they are as warm as the gas gets
    /// them, but the balance holds from the start. In a carrier at 57.9 kPa of 64 kPa, 90 % is vapour.
    #[test]
    fn shares_of_vapour_are_looked_at() {
        let solvents = liquid(&[("water", 1.0)], 60.0);
        let thin = mist(2.5e-6, 1.3, 1e-9, 1);
        let gas = nitrogen(60.0);
        let r = dry(&thin, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 1e-5));
        assert!((r.vapour_share.at_surface / (2239.0 / ATMOSPHERE) - 1.0).abs() < 0.02, "{:?}", r.vapour_share);
        assert!(r.vapour_share.in_gas < 1e-4);
        let hot = GasState::new(GasSpecies::Nitrogen, 358.15, 64e3);
        let solvents = liquid(&[("water", 1.0)], 85.0);
        let full = equilibrium_pressures(&solvents, hot.temperature);
        let r = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &hot, &full, &[0.0], 0.0, 0.1));
        let VapourShare { in_gas, at_surface } = r.vapour_share;
        assert!((in_gas - 0.904).abs() < 0.005 && (at_surface - 0.904).abs() < 0.005, "{in_gas} {at_surface}");
        // Hotter gas of the same vapour: more evaporates than it can hold, and still there are numbers.
        let hotter = GasState::new(GasSpecies::Nitrogen, 373.15, 64e3);
        let r = dry(&mist(2.5e-6, 1.5, 4e-4, 1), &stage(&solvents, &hotter, &full, &[0.0], 0.0, 0.1));
        assert!(
            r.vapour_share.in_gas > 0.98 && r.liquid_left.iter().all(|left| left.is_finite()),
            "{:?}",
            r.vapour_share
        );
    }

    #[test]
    fn a_droplet_in_its_own_vapour_neither_cools_nor_shrinks() {
        for celsius in [25.0, 60.0] {
            let solvents = liquid(&[("water", 0.5), ("ethanol", 0.3), ("ethylene glycol", 0.2)], celsius);
            let gas = nitrogen(celsius);
            let diameter = 0.2e-6;
            let over: Vec<f64> = equilibrium_pressures(&solvents, gas.temperature)
                .iter()
                .zip(&solvents)
                .map(|(p, part)| p * part.solvent.kelvin_ratio(diameter, gas.temperature))
                .collect();
            let still = evaporation(diameter, &solvents, &gas, &over);
            let free = evaporation(diameter, &solvents, &gas, &[0.0; 3]);
            assert!((still.temperature - gas.temperature).abs() < 1e-3, "{}", still.temperature);
            for (a, b) in still.mass_rates.iter().zip(&free.mass_rates) {
                assert!(a.abs() < 1e-4 * b, "{a} {b}");
            }
        }
    }

    #[test]
    fn a_lone_droplet_follows_the_d_squared_law() {
        // One ethylene glycol droplet of 40 um, so thin a mist that the gas stays dry. Kelvin and transition effects below 1 %
        // until it is small; from K of the full rate at 40 um: d^2 falls by 40 % when t = 0.4 d0^2/K.
        let solvents = liquid(&[("ethylene glycol", 1.0)], 25.0);
        let gas = nitrogen(25.0);
        let d0 = 40e-6;
        let rate = evaporation(d0, &solvents, &gas, &[0.0]).mass_rates[0];
        let k = 4.0 * rate / (PI * solvents[0].solvent.density * d0);
        let alone = MistClasses::generated([(d0, 1e-3)], 1);
        let result = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.4 * d0 * d0 / k));
        assert!((result.liquid_left[0] - 0.6f64.powf(1.5)).abs() < 2e-3, "{}", result.liquid_left[0]);
        // The transition correction lengthens its end: r^2/2 + 0.71 lambda r falls evenly, lambda = 3 * 1.146e-5/319 = 1.08e-7 m,
        // so it lives (1 + 2 * 0.71 * 1.08e-7/2e-5) * (1 - 0.71 * 1.08e-7/2e-5) = 1.004 d0^2/K, and is gone by 1.03.
        let nearly = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.95 * d0 * d0 / k));
        assert!(nearly.liquid_left[0] > 0.005 && nearly.liquid_left[0] < 0.015, "{}", nearly.liquid_left[0]);
        let gone = dry(&alone, &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 1.03 * d0 * d0 / k));
        assert_eq!(gone.liquid_left[0], 0.0);
    }

    #[test]
    fn a_dense_mist_stops_drying_when_its_gas_is_full() {
        // NMP at 25 C, 20 uL/L, dry carrier, long tube. The gas holds M p/(R T) = 0.09913 * 45/2478.96 = 1.7995e-3 kg/m^3; the liquid
        // is 1028 * 2e-5 = 2.056e-2 kg/m^3; so 1 - 0.08753 = 0.9125 is left, but for the Kelvin effect (under 1 % more vapour).
        let solvents = liquid(&[("NMP", 1.0)], 25.0);
        let gas = nitrogen(25.0);
        let result = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, 0.5));
        assert!((result.mist_left - 0.9125).abs() < 1e-3, "{}", result.mist_left);
        assert!(result.saturation[0] > 1.0 && result.saturation[0] < 1.01, "{}", result.saturation[0]);
        // With ten times the gas in a dry sheath, fully mixed: 11 * 0.08753 = 0.963 evaporates.
        let wet = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[0.0], &[0.0], 10.0, 20.0));
        assert!((wet.mist_left - 0.037).abs() < 5e-3, "{}", wet.mist_left);
        assert!((wet.mixed_vapour[0] / wet.vapour[0] - 1.0).abs() < 1e-6, "all has mixed");
        // The carrier full and nothing of ten times the sheath in it yet: an eleventh.
        let early = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &[45.0], &[0.0], 10.0, 1e-7));
        assert!((early.mixed_vapour[0] * 11.0 / 45.0 - 1.0).abs() < 1e-3, "{:?}", early.mixed_vapour);
        // With a sheath as moist as equilibrium, nothing evaporates beyond the carrier's share.
        let p = equilibrium_pressures(&solvents, gas.temperature);
        let kept = dry(&mist(2.5e-6, 1.5, 2e-5, 1), &stage(&solvents, &gas, &p, &p, 10.0, 0.5));
        assert!((kept.mist_left - 1.0).abs() < 0.02, "{}", kept.mist_left);
    }

    #[test]
    fn solvents_are_conserved_and_drying_is_monotone() {
        let gas = nitrogen(25.0);
        for parts in [
            vec![("ethanol", 0.5), ("ethylene glycol", 0.5)],
            vec![("NMP", 1.0)],
            vec![("water", 0.8), ("isopropanol", 0.2)],
        ] {
            let solvents = liquid(&parts, 25.0);
            let dry_gas = vec![0.0; parts.len()];
            let full = equilibrium_pressures(&solvents, gas.temperature);
            let part: Vec<f64> = full.iter().map(|p| 0.9 * p).collect();
            let mut before = f64::INFINITY;
            for duration in [1e-5, 1e-4, 1e-3, 1e-2, 0.1, 0.3, 1.0] {
                let r =
                    dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &dry_gas, 3.0, duration));
                assert!(r.balance_gap < 1e-9, "{parts:?} {duration}: {}", r.balance_gap);
                assert!(r.mist_left <= before + 1e-9, "{parts:?} {duration}: {} after {before}", r.mist_left);
                assert!(r.left.iter().flatten().all(|x| *x >= 0.0 && x.is_finite()));
                // larger droplets keep a larger share
                assert!(r.liquid_left.windows(2).all(|w| w[0] <= w[1] + 1e-3), "{parts:?} {duration}");
                before = r.mist_left;
            }
            // a drier sheath leaves less
            let moist = dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &part, 3.0, 0.3));
            let arid = dry(&mist(2.5e-6, 1.6, 2e-5, parts.len()), &stage(&solvents, &gas, &part, &dry_gas, 3.0, 0.3));
            assert!(arid.mist_left < moist.mist_left);
            // the more volatile solvent goes first
            if parts.len() == 2 && parts[0].0 == "ethanol" {
                assert!(arid.left[45][0] < arid.left[45][1]);
            }
        }
    }

    #[test]
    fn what_leaves_the_droplets_is_in_the_gas() {
        // Counted anew from diameters, shares and pressures, without a sheath: mol per m^3 of carrier before and after.
        let solvents = liquid(&[("ethanol", 0.4), ("ethylene glycol", 0.6)], 25.0);
        let gas = nitrogen(25.0);
        let m = mist(2.5e-6, 1.6, 3e-6, 2);
        let r = dry(&m, &stage(&solvents, &gas, &[500.0, 1.0], &[0.0; 2], 0.0, 0.05));
        let per_mass: f64 = solvents.iter().map(|s| s.mass_fraction / s.solvent.density).sum();
        for (i, part) in solvents.iter().enumerate() {
            let content = part.mass_fraction / per_mass / part.solvent.molar_mass;
            let moles = |left: &dyn Fn(usize) -> f64| -> f64 {
                m.0.iter().enumerate().map(|(j, c)| c.number * PI / 6.0 * c.diameter.powi(3) * content * left(j)).sum()
            };
            let before = moles(&|_| 1.0) + [500.0, 1.0][i] / (GAS_CONSTANT * gas.temperature);
            let after = moles(&|j| r.left[j][i]) + r.vapour[i] / (GAS_CONSTANT * gas.temperature);
            assert!((after / before - 1.0).abs() < 1e-9, "{before} {after}");
        }
        assert!(r.mist_left > 0.05 && r.mist_left < 0.9, "the case must be between the ends: {}", r.mist_left);
    }

    #[test]
    fn the_ends_of_the_inputs_are_survived() {
        let sound = |r: &DryingResult| {
            assert!(r.balance_gap < 1e-9);
            assert!(r.left.iter().flatten().chain(&r.liquid_left).chain(&r.vapour).all(|x| x.is_finite() && *x >= 0.0));
        };
        let hot = nitrogen(90.0);
        let cool = nitrogen(25.0);
        for parts in
            [vec![("ethanol", 1.0)], vec![("water", 0.5), ("NMP", 0.5)], vec![("water", 1.0), ("alpha-terpineol", 0.0)]]
        {
            let n = parts.len();
            for gas in [&hot, &cool] {
                let solvents = liquid(&parts, gas.temperature - 273.15);
                let none = vec![0.0; n];
                let over: Vec<f64> =
                    equilibrium_pressures(&solvents, gas.temperature).iter().map(|p| (1.05 * p).min(5e4)).collect();
                for m in [
                    mist(2.5e-6, 1.8, 1e-4, n),
                    mist(0.2e-6, 1.3, 1e-9, n),
                    mist(2.5e-6, 1.5, 0.0, n),
                    MistClasses(Vec::new()),
                ] {
                    for duration in [0.0, 1e-9, 0.3] {
                        sound(&dry(&m, &stage(&solvents, gas, &none, &none, 50.0, duration)));
                        sound(&dry(&m, &stage(&solvents, gas, &over, &none, 0.0, duration)));
                    }
                }
            }
        }
    }

    #[test]
    fn two_stages_make_one() {
        let solvents = liquid(&[("ethanol", 0.3), ("ethylene glycol", 0.7)], 25.0);
        let gas = nitrogen(25.0);
        let whole_mist = mist(2.0e-6, 1.5, 1e-5, 2);
        let whole = dry(&whole_mist, &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 0.0, 0.02));
        let first = dry(&whole_mist, &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 0.0, 0.005));
        let mut between = whole_mist.clone();
        between.0.iter_mut().zip(&first.left).for_each(|(class, left)| class.left.clone_from(left));
        let second = dry(&between, &stage(&solvents, &gas, &first.vapour, &[0.0; 2], 0.0, 0.015));
        for (a, b) in whole.liquid_left.iter().zip(&second.liquid_left) {
            assert!((a - b).abs() < 2e-3, "{a} {b}");
        }
    }

    #[test]
    fn fine_explicit_steps_give_the_same() {
        // 20,000 explicit Euler steps for one class and one solvent against the implicit solver.
        let solvents = liquid(&[("isopropanol", 1.0)], 25.0);
        let gas = nitrogen(25.0);
        let (d0, number, duration) = (4e-6, 1e11, 3e-4);
        let density = solvents[0].solvent.density;
        let mut mass = density * PI / 6.0 * f64::powi(d0, 3);
        let start = mass;
        let steps = 20_000;
        for _ in 0..steps {
            let vapour = (start - mass) * number / solvents[0].solvent.molar_mass * GAS_CONSTANT * gas.temperature;
            let d = (6.0 * mass / (PI * density)).cbrt();
            mass -= evaporation(d, &solvents, &gas, &[vapour]).mass_rates[0] * duration / f64::from(steps);
        }
        let r = dry(&MistClasses::generated([(d0, number)], 1), &stage(&solvents, &gas, &[0.0], &[0.0], 0.0, duration));
        assert!((r.liquid_left[0] - mass / start).abs() < 1e-3, "{} {}", r.liquid_left[0], mass / start);
        assert!(
            r.liquid_left[0] > 0.2 && r.liquid_left[0] < 0.95,
            "the case must be between the ends: {}",
            r.liquid_left[0]
        );
    }

    #[test]
    fn drying_is_quick_enough() {
        // Counted in steps, not seconds: a step costs about 20 us for 60 classes and 2 solvents (one core), so this is under 50 ms.
        let solvents = liquid(&[("ethanol", 0.5), ("ethylene glycol", 0.5)], 25.0);
        let gas = nitrogen(25.0);
        let r = dry(&mist(2.5e-6, 1.6, 2e-5, 2), &stage(&solvents, &gas, &[0.0; 2], &[0.0; 2], 3.0, 1.0));
        assert!(r.steps < 2000 && r.tolerance == STEP_TOLERANCE, "{} steps", r.steps);
    }
}
