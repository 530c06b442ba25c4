//! Everything that all prints of one setting share: gas, mist, jet, landing table, motion, grid.

use super::atlas::{Atlas, Family, LandingGrid, MistChanges, taper};
use super::screen::Screen;
use super::spread::{Deviations, most};
use super::{Progress, RunError};
use crate::deposit::Spreading;
use crate::droplet::Finder;
use crate::droplet::table::LandingTable;
use crate::droplet::track::Flyer;
use crate::figures::{Conditions, Grid, LandingPoint};
use crate::head::mist::{Flows, MistTable};
use crate::inputs::{FlightModel, Inputs, LandingMethod, Variation, VariedInput};
use crate::jet::field::Field;
use crate::jet::profile;
use crate::jet::solver::{JetNumbers, Surroundings};
use crate::jet::store::FieldStore;
use crate::map::regions::RegionIndex;
use crate::materials::beam;
use crate::materials::solvent::{mixture_surface_tension, mixture_viscosity};
use crate::path::motion::{Piece, Timeline};
use crate::source::atomiser::{
    DropletSizes, Retention, droplet_median, ink_density, liquid_density, mean_particles_per_droplet,
    number_concentration, printable_mass_share,
};
use crate::source::content::{Contents, DEVIATE_LIMIT};
use rayon::prelude::*;
use std::f64::consts::PI;
use std::sync::Arc;

/// Expected droplets in a block of the path: the unit of work and of random streams.
const BLOCK_DROPLETS: f64 = 4096.0;
/// Longest block, s, so that output and stage wander are followed.
const LONGEST_BLOCK: f64 = 0.02;
/// Step of the logarithm of the flows at which changes of losses and drying are computed. A print's flows differ by a few percent, and
/// the change with them is taken from flows at most 13 % away.
const CHANGES_STEP: f64 = 0.25;
/// Droplets smaller than this, m, do not land by inertia in any jet here; their size is not followed further.
pub const LEAST_DIAMETER: f64 = 20e-9;

/// What all prints of one setting share.
pub struct Setting<'a> {
    /// The inputs.
    pub inputs: &'a Inputs,
    /// Flows and gas.
    pub flows: Flows,
    /// Droplet sizes at the atomiser.
    pub droplets: DropletSizes,
    /// Losses and drying by droplet size.
    pub mist: Arc<MistTable>,
    /// How they change with the inputs that differ between prints.
    pub mist_changes: Arc<MistChanges>,
    /// Particles in droplets.
    pub contents: Contents,
    /// Landing points at the set flows and stand-off.
    pub finder: Finder,
    /// Landing tables around them, if flows or stand-off differ between prints.
    pub landings: Option<LandingGrid>,
    /// Share of the aerosol flow that lands, by diameter, and landing radii.
    pub landing_curve: Vec<LandingPoint>,
    /// Spreading of wet droplets.
    pub spreading: Spreading,
    /// Motion and shutter.
    pub timeline: Timeline,
    /// Open stretches of the path, one block each.
    pub blocks: Vec<Piece>,
    /// Droplets per second at the atomiser with a steady output.
    pub droplet_rate: f64,
    /// Map grid.
    pub grid: Grid,
    /// Finds regions under points.
    pub regions: Arc<RegionIndex>,
    /// What the report shows of all this.
    pub conditions: Conditions,
}

impl<'a> Setting<'a> {
    /// Works the setting out. Solves the gas jet unless the store has it.
    pub fn new(inputs: &'a Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Self, RunError> {
        Self::in_atlas(inputs, &Atlas::new(store), progress)
    }

    /// The same with landing tables that settings share.
    pub fn in_atlas(inputs: &'a Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Self, RunError> {
        let flows = Flows::new(inputs);
        let ink = &inputs.ink;
        let liquid_parts = |property: fn(&crate::materials::solvent::Solvent) -> f64| -> Vec<(f64, f64)> {
            ink.solvents.iter().map(|part| (part.mass_fraction, property(&part.solvent))).collect()
        };
        let surface_tension = mixture_surface_tension(&liquid_parts(|s| s.surface_tension));
        let viscosity = mixture_viscosity(&liquid_parts(|s| s.viscosity));
        let density = ink_density(ink);
        let droplets = DropletSizes {
            median: droplet_median(&inputs.atomiser, surface_tension, liquid_density(ink)),
            gsd: inputs.atomiser.gsd,
        };
        let retention = Retention::of(&inputs.atomiser);

        progress.begin("drying the mist", None);
        let mist = atlas.mist(mist_key(inputs, &droplets), || MistTable::new(inputs, &flows, &droplets));
        let near = rounded_flows(inputs);
        let mist_changes = atlas.mist_changes(
            format!("{} {:?}", mist_key(&near, &droplets), mist_variations(inputs).collect::<Vec<_>>()),
            || mist_changes(&near, &droplets),
        );
        let contents = Contents::new(&ink.powders, density, &droplets, retention);

        let nozzle_radius = 0.5 * inputs.head.nozzle;
        let exit_speed = flows.total() / (PI * nozzle_radius * nozzle_radius);
        let gas = &flows.head_gas;
        let reynolds = gas.density * exit_speed * inputs.head.nozzle / gas.viscosity;
        let stand_off_ratio = inputs.flight.stand_off / inputs.head.nozzle;
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        let densities = density_range(inputs, &mist);
        let diameters = [LEAST_DIAMETER, droplets.at_deviate(DEVIATE_LIMIT).max(2.0 * LEAST_DIAMETER)];
        let landings = landings(inputs, &flows, diameters, densities, atlas, progress)?;
        let finder = match &landings {
            Some(grid) => Finder::Table(grid.at(flows.total(), inputs.flight.stand_off, flows.core_share())),
            None => {
                let field = match inputs.flight.model {
                    FlightModel::Straight => None,
                    FlightModel::SolvedJet => {
                        progress.begin("solving the gas jet", None);
                        let numbers = JetNumbers {
                            reynolds,
                            stand_off_ratio,
                            plug_blend: inputs.head.plug_blend,
                            surroundings: Surroundings::Open,
                        };
                        Some(Field::new(&atlas.fields().obtain(numbers)?.0))
                    }
                };
                if progress.cancelled() {
                    return Err(RunError::Cancelled);
                }
                let flyer = Flyer {
                    field,
                    taper: taper(inputs),
                    gas: *gas,
                    nozzle_radius,
                    exit_speed,
                    core_share: flows.core_share(),
                    lift_factor: inputs.flight.lift_factor,
                    refinement: 1.0,
                };
                let direct = flyer.field.is_none() || inputs.flight.landing == LandingMethod::Direct;
                progress.begin("tracking droplets to the chip", None);
                if direct {
                    Finder::Direct(flyer)
                } else {
                    Finder::Table(LandingTable::new(&flyer, diameters, densities))
                }
            }
        };
        let landing_curve = landing_curve(&finder, &droplets, densities[0]);
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }

        let timeline = Timeline::new(&inputs.path, &inputs.stage);
        let mean_volume = droplets.mean_volume();
        let droplet_rate = inputs.atomiser.mist_load * inputs.flows.carrier.0 / mean_volume;
        let blocks = timeline.open_pieces((BLOCK_DROPLETS / droplet_rate).min(LONGEST_BLOCK));
        let grid = Grid::of_inputs(inputs);
        let regions = atlas.regions(&inputs.regions, grid);
        let conditions = Conditions {
            gas_density: gas.density,
            gas_viscosity: gas.viscosity,
            mean_free_path: gas.mean_free_path,
            carrier_flow: flows.head_carrier,
            sheath_flow: flows.head_sheath,
            exit_speed,
            reynolds,
            mach: profile::speed(0.0, inputs.head.plug_blend) * exit_speed / gas.sound_speed,
            stand_off_ratio,
            core_radius: profile::radius_of_flow(flows.core_share(), inputs.head.plug_blend) * nozzle_radius,
            tube_time: mist.tube_time,
            head_time: mist.head_time,
            droplet_median: droplets.median,
            droplet_mean_volume: mean_volume,
            droplet_rate,
            print_time: timeline.duration,
            open_time: timeline.open_time(),
            ink_used: inputs.atomiser.mist_load * inputs.flows.carrier.0 * timeline.duration,
            ink_density: density,
            liquid_left: mist.liquid_left,
            exit_saturation: mist.saturation.first().copied().unwrap_or(0.0),
            printable_share: ink.powders.iter().map(|p| printable_mass_share(&p.sizes, retention, &droplets)).collect(),
            particles_per_droplet: ink
                .powders
                .iter()
                .map(|p| mean_particles_per_droplet(&p.sizes, number_concentration(p, density), retention, &droplets))
                .collect(),
            powder_mean_free_path: ink
                .powders
                .iter()
                .map(|p| p.mean_free_path.unwrap_or_else(|| beam::mean_free_path(p.density, inputs.beam.voltage)))
                .collect(),
            strokes: timeline.drawing(),
        };
        Ok(Self {
            spreading: Spreading::new(&inputs.landing, viscosity, surface_tension),
            inputs,
            flows,
            droplets,
            mist,
            mist_changes,
            contents,
            finder,
            landings,
            landing_curve,
            timeline,
            blocks,
            droplet_rate,
            grid,
            regions,
            conditions,
        })
    }

    /// Droplets expected in one print with a steady output.
    pub fn expected_droplets(&self) -> f64 {
        self.droplet_rate * self.conditions.open_time
    }
}

/// What differs in a print: landing points, losses and drying, flows.
pub struct PrintState {
    /// Deviations from the setting.
    pub deviations: Deviations,
    /// Landing points; `None`: those of the setting.
    pub finder: Option<Finder>,
    /// Losses and drying; `None`: those of the setting.
    pub mist: Option<MistTable>,
    /// Which droplets need to be followed.
    pub screen: Screen,
}

impl PrintState {
    /// For the deviations of one print.
    pub fn new(setting: &Setting, deviations: Deviations) -> Self {
        let Flows { head_carrier, head_sheath, .. } = setting.flows;
        let (carrier, sheath) = (head_carrier * deviations.carrier, head_sheath * deviations.sheath);
        let core_share = carrier / (carrier + sheath);
        let finder = match (&setting.landings, &setting.finder) {
            (Some(grid), _) => {
                let stand_off = setting.inputs.flight.stand_off + deviations.stand_off;
                Some(Finder::Table(grid.at(carrier + sheath, stand_off, core_share)))
            }
            (None, Finder::Direct(flyer)) if flyer.field.is_none() => {
                Some(Finder::Direct(Flyer { core_share, ..flyer.clone() }))
            }
            _ => None,
        };
        let changes: Vec<_> = setting
            .mist_changes
            .iter()
            .map(|(input, unit, [minus, plus])| {
                (minus, plus, factor_of(&deviations, *input).map_or(0.0, |f| (f - 1.0) / unit))
            })
            .collect();
        let mist = (!changes.is_empty()).then(|| setting.mist.moved(&changes));
        let table = mist.as_ref().unwrap_or(&setting.mist);
        let screen = Screen::new(&setting.contents, table, &setting.droplets, &deviations);
        Self { deviations, finder, mist, screen }
    }
}

/// The factor on an input that losses and drying depend on.
fn factor_of(deviations: &Deviations, input: VariedInput) -> Option<f64> {
    match input {
        VariedInput::Carrier => Some(deviations.carrier),
        VariedInput::Sheath => Some(deviations.sheath),
        VariedInput::DropletMedian => Some(deviations.droplet_median),
        _ => None,
    }
}

/// Variations that losses and drying depend on.
fn mist_variations(inputs: &Inputs) -> impl Iterator<Item = &Variation> {
    inputs.spread.iter().filter(|v| v.sd > 0.0 && factor_of(&Deviations::NONE, v.input).is_some())
}

/// All that losses and drying depend on, in words.
fn mist_key(inputs: &Inputs, droplets: &DropletSizes) -> String {
    let Inputs { gas, flows, ink, atomiser, tube, head, .. } = inputs;
    let density = ink_density(ink);
    format!("{gas:?} {flows:?} {:?} {density:?} {droplets:?} {:?} {tube:?} {head:?}", ink.solvents, atomiser.mist_load)
}

/// The same inputs at flows of a coarse lattice, which neighbouring settings have in common.
fn rounded_flows(inputs: &Inputs) -> Inputs {
    let mut near = inputs.clone();
    for flow in [&mut near.flows.carrier.0, &mut near.flows.sheath.0] {
        if *flow > 0.0 {
            *flow = ((flow.ln() / CHANGES_STEP).round() * CHANGES_STEP).exp();
        }
    }
    near
}

/// Losses and drying at two standard deviations to each side of the setting.
fn mist_changes(inputs: &Inputs, droplets: &DropletSizes) -> MistChanges {
    let varied: Vec<_> = mist_variations(inputs).collect();
    varied
        .into_par_iter()
        .map(|variation| {
            let unit = 2.0 * variation.sd;
            let side = |factor: f64| {
                let (mut inputs, mut droplets) = (inputs.clone(), *droplets);
                match variation.input {
                    VariedInput::Carrier => inputs.flows.carrier.0 *= factor,
                    VariedInput::Sheath => inputs.flows.sheath.0 *= factor,
                    _ => droplets.median *= factor,
                }
                MistTable::coarse(&inputs, &Flows::new(&inputs), &droplets)
            };
            let (minus, plus) = rayon::join(|| side(1.0 - unit), || side(1.0 + unit));
            (variation.input, unit, [minus, plus])
        })
        .collect()
}

/// Landing tables around the setting, if flows or stand-off differ between prints and droplets are looked up.
fn landings(
    inputs: &Inputs,
    flows: &Flows,
    diameters: [f64; 2],
    densities: [f64; 2],
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Option<LandingGrid>, RunError> {
    let reach =
        |input: VariedInput| inputs.spread.iter().find(|v| v.input == input).map_or(0.0, |v| v.sd * most(v.law));
    let (carrier, sheath) = (reach(VariedInput::Carrier), reach(VariedInput::Sheath));
    let stand_off = reach(VariedInput::StandOff);
    // Straight flight needs no table, and to track every droplet of every print through a jet of its own would take days.
    if inputs.flight.model == FlightModel::Straight || carrier + sheath + stand_off == 0.0 {
        return Ok(None);
    }
    let total = |sign: f64| {
        flows.head_carrier * (1.0 + sign * carrier).max(0.0) + flows.head_sheath * (1.0 + sign * sheath).max(0.0)
    };
    let most_carrier = flows.head_carrier * (1.0 + carrier);
    let share = most_carrier / (most_carrier + flows.head_sheath * (1.0 - sheath).max(0.0));
    let family = Family::new(inputs, flows.head_gas, share, diameters, densities);
    let at = |sign: f64| [total(sign), inputs.flight.stand_off + sign * stand_off];
    atlas.around(&family, at(0.0), at(-1.0), at(1.0), progress).map(Some)
}

/// Least and largest density of a droplet at the nozzle: between its liquid, its dry residue, and a residue whose pores are full.
fn density_range(inputs: &Inputs, mist: &MistTable) -> [f64; 2] {
    let packing = inputs.landing.residue_packing;
    let [mut low, mut high] = mist.density_range();
    let liquid = high;
    for powder in &inputs.ink.powders {
        low = low.min(packing * powder.density);
        high = high.max(packing * powder.density + (1.0 - packing) * liquid);
    }
    [low, high]
}

/// Fate and landing radii of the droplet sizes that matter, at the density of the liquid.
fn landing_curve(finder: &Finder, droplets: &DropletSizes, density: f64) -> Vec<LandingPoint> {
    use crate::droplet::table::Found;
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
