//! How a layer's droplets fly: at the set flows and stand-off, and around them.

use super::mist::LayerMist;
use crate::atlas::{Atlas, Family, LandingGrid};
use crate::nozzle::{ExitFlow, Nozzle, exit_flow, nominal_flyer};
use crate::{Progress, RunError};
use motefall_figures::LandingPoint;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::Found;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{FlightModel, LandingMethod, Layer, Variation, VariedInput, farthest};
use motefall_physics::jet::exit::LARGEST_MACH;
use motefall_physics::source::atomiser::DropletSizes;
use motefall_physics::source::content::DEVIATE_LIMIT;
use std::f64::consts::PI;

/// Droplets smaller than this, m, do not land by inertia in any jet here; their size is not followed further.
pub const LEAST_DIAMETER: f64 = 20e-9;

/// What is worked out of a layer's flights.
pub(super) struct Flights {
    /// The flow through the exit.
    pub(crate) exit: ExitFlow,
    /// Its mean speed, m/s.
    pub(crate) exit_speed: f64,
    /// Its Reynolds number.
    pub(crate) reynolds: f64,
    /// Mach number on the axis.
    pub(crate) mach: f64,
    /// Landing points at the set flows and stand-off.
    pub(crate) finder: Finder,
    /// Landing tables around them, if flows or stand-off differ between prints.
    pub(crate) landings: Option<LandingGrid>,
    /// Share of the aerosol flow that lands, by diameter, and landing radii.
    pub(crate) landing_curve: Vec<LandingPoint>,
}

impl Flights {
    pub(crate) fn new(
        layer: &Layer,
        spread: &[Variation],
        LayerMist { flows, droplets, mist, .. }: &LayerMist,
        atlas: &Atlas<'_>,
        progress: &dyn Progress,
    ) -> Result<Self, RunError> {
        let go_on = || if progress.cancelled() { Err(RunError::Cancelled) } else { Ok(()) };
        let nozzle = Nozzle::of(layer, flows.head_gas);
        let (exit_speed, reynolds) = (nozzle.exit_speed(flows.total()), nozzle.reynolds(flows.total()));
        go_on()?;
        let exit = exit_flow(layer, flows, atlas.fields())?;
        let mach = exit.centre_speed * exit_speed / flows.head_gas.sound_speed;
        refuse_choked(layer, spread, flows, mach)?;
        let densities = density_range(layer, mist);
        let diameters = [LEAST_DIAMETER, droplets.at_deviate(DEVIATE_LIMIT).max(2.0 * LEAST_DIAMETER)];
        let landings = landings(layer, spread, flows, diameters, densities, atlas, progress)?;
        let direct = layer.flight.model == FlightModel::Straight || layer.flight.landing == LandingMethod::Direct;
        if landings.is_none() && layer.flight.model == FlightModel::SolvedJet {
            progress.begin("solving the jet and tracking droplets to the chip", None);
        }
        let factor = layer.flight.radius_factor;
        let finder = match &landings {
            Some(grid) => {
                Finder::Table(grid.at(flows.total(), layer.flight.stand_off, flows.core_share()).widened(factor))
            }
            None if direct => Finder::Direct(nominal_flyer(layer, flows, atlas.fields())?),
            None => {
                let at = [flows.total(), layer.flight.stand_off, flows.core_share()];
                Finder::Table(atlas.at_setting(nozzle, at, diameters, densities)?.widened(factor))
            }
        };
        let landing_curve = landing_curve(&finder, droplets, densities[0]);
        go_on()?;
        Ok(Self { exit, exit_speed, reynolds, mach, finder, landings, landing_curve })
    }
}

/// Refuses a nozzle that chokes at the set flows, where the Mach number on the axis is known, or at the largest of any print.
fn refuse_choked(layer: &Layer, spread: &[Variation], flows: &Flows, mach: f64) -> Result<(), RunError> {
    let most = flows.head_carrier * (1.0 + farthest(spread, VariedInput::Carrier))
        + flows.head_sheath * (1.0 + farthest(spread, VariedInput::Sheath));
    let fastest = mach * most / flows.total();
    if fastest < LARGEST_MACH {
        return Ok(());
    }
    let in_some_prints = mach < LARGEST_MACH;
    let nozzle = layer.head.nozzle;
    let over = fastest / LARGEST_MACH;
    Err(RunError::Choked {
        mach: fastest,
        speed: most / (0.25 * PI * nozzle * nozzle),
        in_some_prints,
        least_nozzle_um: (nozzle * 1e6 * over.sqrt()).ceil(),
        most_flow_sccm: ((layer.flows.carrier.0 + layer.flows.sheath.0) * 60.0 * 1e6 / over).floor(),
    })
}

/// Landing tables around the setting, if flows or stand-off differ between prints and droplets are looked up.
fn landings(
    layer: &Layer,
    spread: &[Variation],
    flows: &Flows,
    diameters: [f64; 2],
    densities: [f64; 2],
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Option<LandingGrid>, RunError> {
    let (carrier, sheath) = (farthest(spread, VariedInput::Carrier), farthest(spread, VariedInput::Sheath));
    let stand_off = farthest(spread, VariedInput::StandOff);
    // Straight flight needs no table, and to track every droplet of every print through a jet of its own would take days.
    if layer.flight.model == FlightModel::Straight {
        return Ok(None);
    }
    let total = |sign: f64| {
        flows.head_carrier * (1.0 + sign * carrier).max(0.0) + flows.head_sheath * (1.0 + sign * sheath).max(0.0)
    };
    let most_carrier = flows.head_carrier * (1.0 + carrier);
    let share = most_carrier / (most_carrier + flows.head_sheath * (1.0 - sheath).max(0.0));
    let family = Family::new(Nozzle::of(layer, flows.head_gas), share, diameters, densities);
    if carrier + sheath + stand_off == 0.0 {
        let is_looked_up = layer.flight.landing != LandingMethod::Direct;
        let known = || atlas.known_around(&family, [flows.total(), layer.flight.stand_off]);
        return Ok(is_looked_up.then(known).flatten());
    }
    let at = |sign: f64| [total(sign), layer.flight.stand_off + sign * stand_off];
    atlas.around(&family, at(0.0), at(-1.0), at(1.0), progress).map(Some)
}

/// Least and largest density of a droplet at the nozzle: between its liquid, its dry residue, and a residue whose pores are full.
fn density_range(layer: &Layer, mist: &MistTable) -> [f64; 2] {
    let packing = layer.landing.residue_packing;
    let [mut low, mut high] = mist.density_range();
    let liquid = high;
    for powder in &layer.ink.powders {
        low = low.min(packing * powder.density);
        high = high.max(packing * powder.density + (1.0 - packing) * liquid);
    }
    [low, high]
}

/// Fate and landing radii of the droplet sizes that matter, at the density of the liquid.
fn landing_curve(finder: &Finder, droplets: &DropletSizes, density: f64) -> Vec<LandingPoint> {
    const POINTS: usize = 80;
    const FLOW_POINTS: usize = 400;
    let (low, high) = (50e-9_f64, droplets.at_deviate(3.5).max(100e-9));
    (0..POINTS)
        .map(|k| {
            let diameter = low * (high / low).powf(k as f64 / (POINTS - 1) as f64);
            let mut radii: Vec<f64> = Vec::new();
            let mut speed = f64::NAN;
            for j in 0..FLOW_POINTS {
                let q = (j as f64 + 0.5) / FLOW_POINTS as f64;
                if let Found::Landed { offset, speed: on_impact } = finder.find(q, diameter, diameter.ln(), density) {
                    if radii.is_empty() {
                        speed = on_impact;
                    }
                    radii.push((offset * q.sqrt()).abs());
                }
            }
            let landed = radii.len() as f64 / FLOW_POINTS as f64;
            radii.sort_by(f64::total_cmp);
            let at = |share: f64| {
                if radii.is_empty() { f64::NAN } else { radii[((radii.len() - 1) as f64 * share).round() as usize] }
            };
            LandingPoint { diameter, landed, radius: [at(0.05), at(0.5), at(0.95)], impact_speed: speed }
        })
        .collect()
}
