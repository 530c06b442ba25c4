//! How a whole mist that shares its gas dries.

use super::droplet::{HeatSide, OWN_KELVIN_EXPONENT, Rates, Vapour, equilibrium_pressures, heat_balance};
use crate::constants::GAS_CONSTANT;
use crate::inputs::SolventPart;
use crate::materials::gas::GasState;
use std::f64::consts::PI;

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
    pub(crate) diameter: f64,
    /// Droplets per volume of carrier gas at the stage's temperature and pressure, 1/m^3.
    pub(crate) number: f64,
    /// What is left of each solvent, relative to the amount as generated; all 1 at the atomiser.
    pub(crate) left: Vec<f64>,
}

/// A mist in size classes.
#[derive(Debug, Clone, PartialEq)]
pub struct MistClasses(pub(crate) Vec<MistClass>);

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
    /// Vapour pressures in the carrier at the start, Pa, one per solvent; see [`super::equilibrium_pressures`].
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
    pub(crate) left: Vec<Vec<f64>>,
    /// Per class: volume of the liquid left relative to that generated.
    pub liquid_left: Vec<f64>,
    /// Liquid volume left relative to that generated, over all classes.
    pub(crate) mist_left: f64,
    /// Vapour pressures at the end in the gas that the droplets share, Pa, per solvent.
    pub(crate) vapour: Vec<f64>,
    /// Vapour pressures in all of the gas once the rest of the sheath has mixed in, Pa, per solvent.
    pub(crate) mixed_vapour: Vec<f64>,
    /// Those of the droplets' gas relative to the equilibrium over the ink as generated, per solvent. Above 1 for a solvent that is left behind by a
    /// more volatile one, because its share of the liquid rises.
    pub(crate) saturation: Vec<f64>,
    /// Largest relative gap in the balance of any solvent: liquid and vapour at the end against liquid and vapour brought in.
    pub(crate) balance_gap: f64,
    /// Largest share of the gas pressure that vapour takes among the droplets, 0 to 1, and at the surface of any.
    pub(crate) vapour_share: VapourShare,
    /// Steps taken.
    pub(crate) steps: usize,
    /// Tolerance of a step at the end; above [`STEP_TOLERANCE`] where the stage was too stiff to follow closely.
    pub(crate) tolerance: f64,
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
    pub(crate) fn max(self, other: Self) -> Self {
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
/// Per droplet: [`super::evaporation`]. Shared gas: per solvent, the volume that vapour can reach grows from the carrier's to carrier and
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
