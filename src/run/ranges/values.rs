//! Which values a layer uses the relations at.

use super::Relation;
use crate::setting::{LEAST_DIAMETER, LayerSetting};
use motefall_physics::deposit::impact_reynolds;
use motefall_physics::head::drying::{equilibrium_pressures, evaporation};
use motefall_physics::inputs::{DropletMedian, FlightModel, Inputs, SolventPart, SpreadRule};
use motefall_physics::materials::drag::sphere_reynolds;
use motefall_physics::materials::gas::{GasSpecies, GasState};
use motefall_physics::materials::solvent::{Solvent, mixture_viscosity};
use motefall_physics::source::atomiser::{liquid_parts, surface_tension};
use motefall_physics::source::tube::tube_reynolds;
use motefall_physics::units::celsius;

/// Diameter of a droplet that cools as far as any, m: neither curvature nor the free path slow its drying.
const COOLED_DROPLET: f64 = 100e-6;

impl Relation {
    /// The values at which a layer uses it, in the unit of its range, each with what it belongs to.
    pub(super) fn values(self, setting: &LayerSetting<'_>, inputs: &Inputs) -> Vec<(String, f64)> {
        let layer = setting.layer;
        let one = |value: f64| vec![(String::new(), value)];
        let tubes = |wanted: &dyn Fn(usize) -> bool| -> Vec<(String, f64)> {
            let reynolds = |bore: f64| tube_reynolds(setting.flows.tube_carrier, bore, &setting.flows.tube_gas);
            let pieces = layer.tube.iter().enumerate().filter(|(k, _)| wanted(*k));
            pieces.map(|(k, piece)| (format!("tube piece {}", k + 1), reynolds(piece.bore))).collect()
        };
        let temperatures = [("in the tube", layer.gas.temperature), ("in the head", layer.head.temperature)];
        let [tube, head] = temperatures;
        let places = [tube, head, ("on the chip", layer.landing.chip_temperature)];
        let largest = || {
            let gas = &setting.flows.head_gas;
            let speed = setting.conditions.centre_speed;
            // Two standard deviations of the droplets' sizes hold nearly all of the mist's volume that lands on a line.
            one(sphere_reynolds(speed, setting.droplets.at_deviate(2.0), gas.density, gas.viscosity))
        };
        match self {
            Self::Lang => match layer.atomiser.median {
                DropletMedian::Ultrasonic(frequency) => one(frequency * 1e-3),
                DropletMedian::Measured(_) => vec![],
            },
            Self::LaminarTube => tubes(&|_| true),
            Self::Bend => tubes(&|k| !layer.tube[k].bends.is_empty()),
            Self::GasProperties => temperatures.iter().map(|(at, t)| ((*at).into(), celsius(*t))).collect(),
            Self::Slip => one(2.0 * setting.conditions.mean_free_path / LEAST_DIAMETER),
            Self::Drag => largest(),
            Self::Lift if layer.flight.lift_factor > 0.0 => largest(),
            Self::Lift => vec![],
            Self::SolventTable => {
                let beyond = |name: &str| {
                    let [low, high] = Solvent::tabulated(name)?;
                    let by = |(at, t): (&str, f64)| (format!("{name} {at}"), (low - t).max(t - high).max(0.0));
                    Some(places.map(by))
                };
                layer.ink.solvents.iter().filter_map(|part| beyond(&part.solvent.name)).flatten().collect()
            }
            Self::VapourPressure => {
                let of = |solvent: &Solvent| {
                    // As cold as a droplet of it gets.
                    let part = SolventPart { mass_fraction: 1.0, solvent: solvent.clone() };
                    let droplet = evaporation(COOLED_DROPLET, &[part], &setting.flows.head_gas, &[0.0]).temperature;
                    places
                        .into_iter()
                        .chain([("in droplets in the head", droplet)])
                        .map(|(at, t)| (format!("{} {at}", solvent.name), (t - solvent.vapour_temperature).abs()))
                        .collect::<Vec<_>>()
                };
                let own = layer.ink.solvents.iter().filter(|part| part.solvent.table.is_none());
                own.flat_map(|part| of(&part.solvent)).collect()
            }
            Self::VapourInGas => {
                let [tube, head] = setting.mist.vapour_shares.map(|share| 100.0 * share.in_gas);
                vec![("in the tube".into(), tube), ("in the head".into(), head)]
            }
            Self::VapourAtSurface => {
                let [tube, head] = setting.mist.vapour_shares.map(|share| 100.0 * share.at_surface);
                let landing = layer.landing.chip_temperature;
                let chip: f64 = equilibrium_pressures(&layer.ink.solvents, landing).iter().sum();
                let chip = 100.0 * chip / layer.gas.pressure;
                vec![("in the tube".into(), tube), ("in the head".into(), head), ("on the chip".into(), chip)]
            }
            Self::RoomGas if layer.flight.model == FlightModel::Straight => vec![],
            Self::RoomGas => {
                // The room is as warm as the ink.
                let room = GasState::new(GasSpecies::Air, layer.gas.temperature, layer.gas.pressure);
                one(setting.flows.head_gas.density / room.density)
            }
            Self::BeamPath => match layer.ink.powders.iter().any(|powder| powder.mean_free_path.is_none()) {
                true => one(inputs.beam.voltage * 1e-3),
                false => vec![],
            },
            Self::ImpactReynolds => impact(setting).map_or(vec![], |[reynolds, _]| one(reynolds)),
            Self::ImpactOhnesorge => impact(setting).map_or(vec![], |[_, ohnesorge]| one(ohnesorge)),
        }
    }
}

/// Reynolds and Ohnesorge number of the landed droplet of median size, where the rule of impact is used and droplets land wet.
fn impact(setting: &LayerSetting<'_>) -> Option<[f64; 2]> {
    let layer = setting.layer;
    if layer.landing.spread == SpreadRule::Cap || setting.conditions.liquid_left < 0.05 {
        return None;
    }
    let wanted = setting.droplets.median * setting.conditions.liquid_left.cbrt();
    let landed = setting.landing_curve.iter().filter(|point| point.landed > 0.0 && point.impact_speed.is_finite());
    let gap = |diameter: f64| (diameter / wanted).ln().abs();
    let point = landed.min_by(|a, b| gap(a.diameter).total_cmp(&gap(b.diameter)))?;
    let viscosity = mixture_viscosity(&liquid_parts(&layer.ink, |s| s.viscosity));
    let density = setting.conditions.ink_density;
    let ohnesorge = viscosity / (density * surface_tension(&layer.ink) * point.diameter).sqrt();
    Some([impact_reynolds(density, point.impact_speed, point.diameter, viscosity), ohnesorge])
}
