//! What follows from the inputs of a layer before any droplet flies.

use super::flights::Flights;
use super::mist::LayerMist;
use motefall_figures::Conditions;
use motefall_physics::inputs::{Layer, Powder};
use motefall_physics::materials::beam;
use motefall_physics::path::motion::Timeline;
use motefall_physics::source::atomiser::{
    Retention, ink_density, mean_particles_per_droplet, number_concentration, printable_mass_share,
};

/// What the report shows of a layer. `voltage` is that of the electron beam, V.
pub(super) fn conditions(
    layer: &Layer,
    LayerMist { flows, droplets, mist, .. }: &LayerMist,
    flights: &Flights,
    timeline: &Timeline,
    voltage: f64,
) -> Conditions {
    let powders = &layer.ink.powders;
    let (gas, retention, density) = (&flows.head_gas, Retention::of(&layer.atomiser), ink_density(&layer.ink));
    let mean_volume = droplets.mean_volume();
    let in_droplet =
        |p: &Powder| mean_particles_per_droplet(&p.sizes, number_concentration(p, density), retention, droplets);
    let path = |p: &Powder| p.mean_free_path.unwrap_or_else(|| beam::mean_free_path(p.density, voltage));
    Conditions {
        gas_density: gas.density,
        gas_viscosity: gas.viscosity,
        mean_free_path: gas.mean_free_path,
        carrier_flow: flows.head_carrier,
        sheath_flow: flows.head_sheath,
        exit_speed: flights.exit_speed,
        reynolds: flights.reynolds,
        centre_speed: flights.exit.centre_speed * flights.exit_speed,
        mach: flights.mach,
        stand_off_ratio: layer.flight.stand_off / layer.head.nozzle,
        core_radius: flights.exit.core_radius * (0.5 * layer.head.nozzle),
        tube_time: mist.tube_time,
        head_time: mist.head_time,
        droplet_median: droplets.median,
        droplet_mass_median: droplets.volume_median(),
        droplet_mean_volume: mean_volume,
        droplet_rate: layer.atomiser.mist_load * layer.flows.carrier.0 / mean_volume,
        print_time: timeline.duration,
        open_time: timeline.open_time(),
        ink_used: layer.atomiser.mist_load * layer.flows.carrier.0 * timeline.duration,
        ink_density: density,
        liquid_left: mist.liquid_left,
        exit_saturation: mist.saturation.first().copied().unwrap_or(0.0),
        printable_share: powders.iter().map(|p| printable_mass_share(&p.sizes, retention, droplets)).collect(),
        particles_per_droplet: powders.iter().map(in_droplet).collect(),
        powder_mean_free_path: powders.iter().map(path).collect(),
        strokes: timeline.drawing(),
    }
}
