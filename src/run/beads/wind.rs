//! The gas of the nozzle, which dries what lies on the chip.

use super::passing::Passing;
use motefall_physics::deposit::bead::{Around, BeadSolvents, Heat, LIQUID_CONDUCTIVITY, Nozzle};
use motefall_physics::deposit::wind::{stagnation_layer, strain_rate, strip_conductance};
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{Layer, SolventPart};
use motefall_physics::materials::gas::GasState;
use std::f64::consts::PI;

/// The gas of the nozzle as it dries what lies on the chip.
///
/// Vapour and heat go through a layer of gas: thin under the jet, thicker away from it, at most as thick as the stand-off. Under the jet the
/// chip is swept by the gas that the mist came in, which holds its vapour; elsewhere by all of the gas, mixed. The chip keeps its temperature,
/// which a thin membrane does not.
pub(super) struct Wind<'a> {
    pub(super) solvents: BeadSolvents<'a>,
    /// Thickness of the layer under the jet for each solvent's vapour, m.
    pub(super) layers: Vec<f64>,
    /// The same for heat.
    pub(super) heat_layer: f64,
    /// Their largest thickness anywhere, m.
    pub(super) thickest: f64,
    /// Vapour pressures under the jet, Pa, per solvent.
    pub(super) above: &'a [f64],
    /// Vapour pressures elsewhere.
    pub(super) away: &'a [f64],
    pub(super) gas: GasState,
    pub(super) chip_temperature: f64,
}

impl<'a> Wind<'a> {
    /// `centre_speed` is that of the gas on the axis of the exit, m/s.
    pub(super) fn new(layer: &'a Layer, mist: &'a MistTable, centre_speed: f64) -> Self {
        let flows = Flows::new(layer);
        let (nozzle, gas) = (layer.head.nozzle, flows.head_gas);
        let exit_speed = flows.total() / (PI * 0.25 * nozzle * nozzle);
        let strain = strain_rate(exit_speed, centre_speed / exit_speed, nozzle);
        let thickness = |diffusivity: f64| stagnation_layer(strain, gas.viscosity / gas.density, diffusivity);
        let chip_temperature = layer.landing.chip_temperature;
        let film = 0.5 * (chip_temperature + gas.temperature);
        let solvents = &layer.ink.solvents;
        let of_vapour = |part: &SolventPart| thickness(part.solvent.vapour_diffusivity(film, gas.pressure));
        Self {
            solvents: BeadSolvents::new(solvents, gas.pressure),
            layers: solvents.iter().map(of_vapour).collect(),
            heat_layer: thickness(gas.heat_conductivity / (gas.density * gas.heat_capacity)),
            thickest: layer.flight.stand_off,
            above: &mist.vapour,
            away: &mist.mixed_vapour,
            gas,
            chip_temperature,
        }
    }

    /// What a strip of a width (m) gives off through a layer of this thickness (m) under the jet, over these growths of the layer and their
    /// shares of the time.
    pub(super) fn conductance(&self, layer: f64, width: f64, growths: &[(f64, f64)]) -> f64 {
        growths
            .iter()
            .map(|(growth, share)| share * strip_conductance(width, (layer * growth).min(self.thickest)))
            .sum()
    }
}

/// What a bead of a width (m) that holds these cross-sections of each solvent (m^2) loses of them, m^2/s.
pub(super) fn drying(wind: &Wind, passing: &Passing, nozzle: Nozzle, width: f64, liquid: &[f64]) -> Vec<f64> {
    let (growths, vapour) = match nozzle {
        Nozzle::Above => (&[(1.0, 1.0)][..], wind.above),
        Nozzle::Away => (&passing.away[..], wind.away),
    };
    let conductances: Vec<f64> = wind.layers.iter().map(|layer| wind.conductance(*layer, width, growths)).collect();
    let height = liquid.iter().sum::<f64>() / width;
    let around = Around {
        conductances: &conductances,
        vapour,
        chip: Heat { conductance: LIQUID_CONDUCTIVITY * width / height, temperature: wind.chip_temperature },
        gas: Heat {
            conductance: wind.gas.heat_conductivity * wind.conductance(wind.heat_layer, width, growths),
            temperature: wind.gas.temperature,
        },
    };
    wind.solvents.rates(liquid, &around)
}
