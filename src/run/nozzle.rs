//! A layer's nozzle, its gas jet, and droplets on their way through both.

use super::RunError;
use motefall_physics::droplet::track::Flyer;
use motefall_physics::head::mist::Flows;
use motefall_physics::head::profile;
use motefall_physics::inputs::{Flight, FlightModel, Layer};
use motefall_physics::jet::bore::field::BoreField;
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::exit::{Exit, ExitProfile};
use motefall_physics::jet::field::Field;
use motefall_physics::jet::solver::{JetNumbers, Surroundings, check_range};
use motefall_physics::jet::store::{FieldStore, Flow};
use motefall_physics::materials::gas::GasState;
use std::f64::consts::PI;

/// Everything that fixes a flight besides total flow, stand-off and the share of the flow that the aerosol takes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Nozzle {
    /// Gas in the head.
    pub(crate) gas: GasState,
    /// Radius of the exit, m.
    pub(crate) radius: f64,
    /// The bore, in radii of the exit.
    pub(crate) bore: Shape,
    /// How the flow through the exit is known.
    pub(crate) exit: ExitProfile,
    /// Share of Saffman's lift that is applied, 0 to 1.
    pub(crate) lift_factor: f64,
    /// See [`Flyer::radius_factor`].
    pub(crate) radius_factor: f64,
}

impl Nozzle {
    /// That of a layer.
    pub(crate) fn of(layer: &Layer, gas: GasState) -> Self {
        let head = &layer.head;
        let radius = 0.5 * head.nozzle;
        let bore = Shape {
            inlet_radius: head.inlet_bore / head.nozzle,
            slope: head.half_angle.tan(),
            land: head.land / radius,
            mixing_length: head.mixing_length / radius,
        };
        let exit = head.plug_blend.map_or(ExitProfile::Bore(bore), ExitProfile::Blend);
        let Flight { lift_factor, radius_factor, .. } = layer.flight;
        Self { gas, radius, bore, exit, lift_factor, radius_factor }
    }

    /// Mean speed of a total flow (m^3/s at the head) at the exit, m/s.
    pub(crate) fn exit_speed(&self, total_flow: f64) -> f64 {
        total_flow / (PI * self.radius * self.radius)
    }

    /// Reynolds number of a total flow, mean speed and diameter.
    pub(crate) fn reynolds(&self, total_flow: f64) -> f64 {
        self.gas.density * self.exit_speed(total_flow) * 2.0 * self.radius / self.gas.viscosity
    }

    /// The dimensionless numbers of the jet of a total flow onto a chip at a stand-off, m.
    fn jet(&self, total_flow: f64, stand_off: f64) -> JetNumbers {
        JetNumbers {
            reynolds: self.reynolds(total_flow),
            stand_off_ratio: stand_off / (2.0 * self.radius),
            exit: self.exit,
            surroundings: Surroundings::Open,
        }
    }

    /// Tracks droplets through bore and solved jet.
    pub(crate) fn flyer(
        &self,
        total_flow: f64,
        stand_off: f64,
        core_share: f64,
        fields: &FieldStore,
    ) -> Result<Flyer, RunError> {
        let Flow { jet, bore, .. } = fields.obtain(self.jet(total_flow, stand_off))?;
        let bore = match (bore.as_deref(), self.exit) {
            (Some(solved), _) => BoreField::solved(solved),
            (None, exit) => BoreField::similar(&self.bore, exit.blend().unwrap_or(0.0)),
        };
        Ok(self.flyer_in(Some(Field::new(&jet)), bore, total_flow, core_share))
    }

    /// Lets droplets fly straight down from the exit. Without a jet no bore is solved, and the profile is the developed one.
    fn straight_flyer(&self, total_flow: f64, core_share: f64) -> Flyer {
        let bore = BoreField::similar(&self.bore, self.exit.blend().unwrap_or(0.0));
        self.flyer_in(None, bore, total_flow, core_share)
    }

    fn flyer_in(&self, field: Option<Field>, bore: BoreField, total_flow: f64, core_share: f64) -> Flyer {
        Flyer {
            field,
            bore,
            gas: self.gas,
            nozzle_radius: self.radius,
            exit_speed: self.exit_speed(total_flow),
            core_share,
            lift_factor: self.lift_factor,
            radius_factor: self.radius_factor,
            refinement: 1.0,
        }
    }
}

/// Tracks droplets at the set flows and stand-off of a layer, as its model says.
pub(crate) fn nominal_flyer(layer: &Layer, flows: &Flows, fields: &FieldStore) -> Result<Flyer, RunError> {
    let nozzle = Nozzle::of(layer, flows.head_gas);
    match layer.flight.model {
        FlightModel::Straight => Ok(nozzle.straight_flyer(flows.total(), flows.core_share())),
        FlightModel::SolvedJet => nozzle.flyer(flows.total(), layer.flight.stand_off, flows.core_share(), fields),
    }
}

/// The flow through the exit at the set flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ExitFlow {
    /// Speed on the axis over the mean speed.
    pub(crate) centre_speed: f64,
    /// Radius inside which the aerosol leaves, nozzle radii.
    pub(crate) core_radius: f64,
}

/// The flow through the exit at the set flows of a layer.
pub(crate) fn exit_flow(layer: &Layer, flows: &Flows, fields: &FieldStore) -> Result<ExitFlow, RunError> {
    let share = flows.core_share();
    let nozzle = Nozzle::of(layer, flows.head_gas);
    let exit = match (layer.flight.model, nozzle.exit) {
        (FlightModel::Straight, exit) => ExitProfile::Blend(exit.blend().unwrap_or(0.0)),
        (FlightModel::SolvedJet, exit) => exit,
    };
    Ok(match exit {
        ExitProfile::Blend(blend) => {
            ExitFlow { centre_speed: profile::speed(0.0, blend), core_radius: profile::radius_of_flow(share, blend) }
        }
        ExitProfile::Bore(shape) => {
            let numbers = nozzle.jet(flows.total(), layer.flight.stand_off);
            check_range(numbers)?;
            let (bore, _) = fields.bore(numbers.reynolds, shape)?;
            let exit = Exit::of_bore(&bore, &bore.grid.sigma, bore.grid.lip);
            ExitFlow { centre_speed: exit.axial[0], core_radius: exit.radius_of_flow(share) }
        }
    })
}
