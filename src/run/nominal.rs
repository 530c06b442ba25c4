//! What a layer's droplets and their flight are at the set flows and stand-off.

use super::RunError;
use super::atlas::{bore_field, bore_shape, exit_profile};
use motefall_physics::droplet::track::Flyer;
use motefall_physics::head::mist::Flows;
use motefall_physics::head::profile;
use motefall_physics::inputs::{FlightModel, Layer};
use motefall_physics::jet::exit::{Exit, ExitProfile};
use motefall_physics::jet::field::Field;
use motefall_physics::jet::solver::{JetNumbers, Surroundings, check_range};
use motefall_physics::jet::store::{FieldStore, Flow};
use std::f64::consts::PI;

/// Tracks droplets at the set flows and stand-off of a layer.
pub fn nominal_flyer(layer: &Layer, flows: &Flows, fields: &FieldStore) -> Result<Flyer, RunError> {
    let nozzle_radius = 0.5 * layer.head.nozzle;
    let exit_speed = flows.total() / (PI * nozzle_radius * nozzle_radius);
    let gas = flows.head_gas;
    let (shape, exit) = (bore_shape(layer), exit_profile(layer));
    let (field, bore) = match layer.flight.model {
        FlightModel::Straight => (None, None),
        FlightModel::SolvedJet => {
            let Flow { jet, bore, .. } = fields.obtain(jet_numbers(layer, flows))?;
            (Some(Field::new(&jet)), bore)
        }
    };
    Ok(Flyer {
        field,
        bore: bore_field(&shape, exit, bore.as_deref()),
        gas,
        nozzle_radius,
        exit_speed,
        core_share: flows.core_share(),
        lift_factor: layer.flight.lift_factor,
        refinement: 1.0,
    })
}

/// The dimensionless numbers of the jet at the set flows and stand-off of a layer.
fn jet_numbers(layer: &Layer, flows: &Flows) -> JetNumbers {
    let (gas, nozzle) = (&flows.head_gas, layer.head.nozzle);
    let exit_speed = flows.total() / (0.25 * PI * nozzle * nozzle);
    JetNumbers {
        reynolds: gas.density * exit_speed * nozzle / gas.viscosity,
        stand_off_ratio: layer.flight.stand_off / nozzle,
        exit: exit_profile(layer),
        surroundings: Surroundings::Open,
    }
}

/// The flow through the exit at the set flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExitFlow {
    /// Speed on the axis over the mean speed.
    pub centre_speed: f64,
    /// Radius inside which the aerosol leaves, nozzle radii.
    pub core_radius: f64,
}

/// The flow through the exit at the set flows of a layer.
pub fn exit_flow(layer: &Layer, flows: &Flows, fields: &FieldStore) -> Result<ExitFlow, RunError> {
    let share = flows.core_share();
    let exit = match (layer.flight.model, exit_profile(layer)) {
        (FlightModel::Straight, exit) => ExitProfile::Blend(exit.blend().unwrap_or(0.0)),
        (FlightModel::SolvedJet, exit) => exit,
    };
    Ok(match exit {
        ExitProfile::Blend(blend) => {
            ExitFlow { centre_speed: profile::speed(0.0, blend), core_radius: profile::radius_of_flow(share, blend) }
        }
        ExitProfile::Bore(shape) => {
            let numbers = jet_numbers(layer, flows);
            check_range(numbers)?;
            let (bore, _) = fields.bore(numbers.reynolds, shape)?;
            let exit = Exit::of_bore(&bore, &bore.grid.sigma, bore.grid.lip);
            ExitFlow { centre_speed: exit.axial[0], core_radius: exit.radius_of_flow(share) }
        }
    })
}
