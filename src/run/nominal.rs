//! What a layer's droplets and their flight are at the set flows and stand-off.

use super::RunError;
use super::atlas::taper;
use crate::droplet::track::Flyer;
use crate::head::mist::Flows;
use crate::inputs::{FlightModel, Ink, Layer};
use crate::jet::field::Field;
use crate::jet::solver::{JetNumbers, Surroundings};
use crate::jet::store::FieldStore;
use crate::materials::solvent::{Solvent, mixture_surface_tension};
use crate::source::atomiser::{DropletSizes, droplet_median, liquid_density};
use std::f64::consts::PI;

/// Tracks droplets at the set flows and stand-off of a layer.
pub fn nominal_flyer(layer: &Layer, flows: &Flows, fields: &FieldStore) -> Result<Flyer, RunError> {
    let nozzle_radius = 0.5 * layer.head.nozzle;
    let exit_speed = flows.total() / (PI * nozzle_radius * nozzle_radius);
    let gas = flows.head_gas;
    let field = match layer.flight.model {
        FlightModel::Straight => None,
        FlightModel::SolvedJet => {
            let numbers = JetNumbers {
                reynolds: gas.density * exit_speed * layer.head.nozzle / gas.viscosity,
                stand_off_ratio: layer.flight.stand_off / layer.head.nozzle,
                plug_blend: layer.head.plug_blend,
                surroundings: Surroundings::Open,
            };
            Some(Field::new(&fields.obtain(numbers)?.0))
        }
    };
    Ok(Flyer {
        field,
        taper: taper(layer),
        gas,
        nozzle_radius,
        exit_speed,
        core_share: flows.core_share(),
        lift_factor: layer.flight.lift_factor,
        refinement: 1.0,
    })
}

/// Droplet sizes of a layer's atomiser.
pub fn nominal_droplets(layer: &Layer) -> DropletSizes {
    DropletSizes {
        median: droplet_median(&layer.atomiser, surface_tension(&layer.ink), liquid_density(&layer.ink)),
        gsd: layer.atomiser.gsd,
    }
}

/// Mass fractions of the solvents with a property of each.
pub fn liquid_parts(ink: &Ink, property: fn(&Solvent) -> f64) -> Vec<(f64, f64)> {
    ink.solvents.iter().map(|part| (part.mass_fraction, property(&part.solvent))).collect()
}

/// Surface tension of the ink's liquid, N/m.
pub fn surface_tension(ink: &Ink) -> f64 {
    mixture_surface_tension(&liquid_parts(ink, |s| s.surface_tension))
}
