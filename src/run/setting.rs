//! Everything that all prints of one setting share: per layer gas, mist, jet, landing table, motion; for all layers grid and regions.

use super::atlas::{Atlas, Family, LandingGrid, MistChanges};
use super::beads::{self, Arriving, Beads};
use super::nominal::{exit_flow, nominal_flyer};
use super::screen::Screen;
use super::spread::Deviations;
use super::{Progress, RunError};
use motefall_figures::profile::Lane;
use motefall_figures::{Conditions, Grid, LandingPoint, MeasuringGrid};
use motefall_physics::deposit::Spreading;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::LandingTable;
use motefall_physics::droplet::track::Flyer;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{FlightModel, Inputs, LandingMethod, Layer, Variation, VariedInput, farthest};
use motefall_physics::jet::exit::LARGEST_MACH;
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::grid::LEAST_MARGIN;
use motefall_physics::map::near::Near;
use motefall_physics::map::regions::RegionIndex;
use motefall_physics::materials::beam;
use motefall_physics::materials::solvent::mixture_viscosity;
use motefall_physics::path::motion::{BLOCK_DROPLETS, LONGEST_BLOCK, Piece, Timeline};
use motefall_physics::source::atomiser::{
    DropletSizes, Retention, ink_density, mean_particles_per_droplet, number_concentration, printable_mass_share,
};
use motefall_physics::source::atomiser::{liquid_parts, nominal_droplets, surface_tension};
use motefall_physics::source::content::{Contents, DEVIATE_LIMIT, Grain};
use rayon::prelude::*;
use std::f64::consts::PI;
use std::sync::Arc;

/// Step of the logarithm of the flows at which changes of losses and drying are computed. A print's flows differ by a few percent, and
/// the change with them is taken from flows at most 13 % away.
const CHANGES_STEP: f64 = 0.25;
/// Droplets smaller than this, m, do not land by inertia in any jet here; their size is not followed further.
pub const LEAST_DIAMETER: f64 = 20e-9;

/// What all prints of one setting share.
pub struct Setting<'a> {
    /// The inputs.
    pub inputs: &'a Inputs,
    /// What belongs to single layers, in their order.
    pub layers: Vec<LayerSetting<'a>>,
    /// What figures are measured on.
    pub measuring: MeasuringGrid,
    /// Grid of the maps.
    pub grid: Grid,
    /// Where the profile of each item of the path lies, over all layers; `None` if it has none.
    pub lanes: Vec<Option<Lane>>,
    /// Finds regions under points.
    pub regions: Arc<RegionIndex>,
    /// Electrodes to be printed.
    pub printed: Vec<Near>,
    /// Density of each powder of the print, kg/m^3.
    pub densities: Vec<f64>,
}

/// What all prints of one setting share of a layer.
pub struct LayerSetting<'a> {
    /// The layer.
    pub layer: &'a Layer,
    /// Place of each powder of the ink among those of the print.
    pub powders: Vec<u16>,
    /// Whether these places differ from those in the ink.
    pub renumbered: bool,
    /// Number of its first block: blocks are counted over all layers.
    pub first_block: usize,
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
    /// Lines that become wet beads.
    pub beads: Beads,
    /// Motion and shutter.
    pub timeline: Timeline,
    /// Open stretches of the path, one block each.
    pub blocks: Vec<Piece>,
    /// Droplets per second at the atomiser with a steady output.
    pub droplet_rate: f64,
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
        let mut layers = Vec::with_capacity(inputs.layers.len());
        let mut first_block = 0;
        progress.begin("drying the mist", None);
        let mists: Vec<LayerMist> =
            inputs.layers.par_iter().map(|layer| LayerMist::new(layer, &inputs.spread, atlas)).collect();
        for (layer, mist) in inputs.layers.iter().zip(mists) {
            let setting = LayerSetting::new(inputs, layer, mist, first_block, atlas, progress)?;
            first_block += setting.blocks.len();
            layers.push(setting);
        }
        let measuring = MeasuringGrid::new(inputs, beads::reach(inputs, &layers).max(LEAST_MARGIN));
        let regions = atlas.regions(&inputs.regions, measuring.grid);
        let densities = inputs.powders().iter().map(|powder| powder.density).collect();
        let printed = inputs
            .regions
            .iter()
            .filter(|region| region.role.is_printed())
            .map(|region| Near::new(region.outline.clone()))
            .collect();
        let lanes = (0..inputs.items().count()).map(|item| Lane::new(inputs, item, measuring.grid).ok()).collect();
        Ok(Self { inputs, layers, measuring, lanes, grid: Grid::of_maps(inputs), regions, printed, densities })
    }

    /// Droplets expected in one print with a steady output.
    pub fn expected_droplets(&self) -> f64 {
        self.layers.iter().map(LayerSetting::expected_droplets).sum()
    }

    /// Particles expected to leave the vials in one print with a steady output.
    pub fn expected_particles(&self) -> f64 {
        let each = |layer: &LayerSetting<'_>| {
            layer.expected_droplets() * layer.conditions.particles_per_droplet.iter().sum::<f64>()
        };
        self.layers.iter().map(each).sum()
    }

    /// Open stretches of the path of all layers.
    pub fn blocks(&self) -> usize {
        self.layers.iter().map(|layer| layer.blocks.len()).sum()
    }

    /// The layer of a block counted over all layers.
    pub fn layer_of(&self, block: usize) -> usize {
        self.layers.partition_point(|layer| layer.first_block <= block) - 1
    }

    /// The item that a block of a layer belongs to, counted over all layers, and where its profile lies, if the block lies along it.
    pub fn lane_of(&self, layer: usize, block: usize) -> Option<(usize, &Lane)> {
        let setting = &self.layers[layer];
        let earlier: usize = self.inputs.layers[..layer].iter().map(|layer| layer.path.len()).sum();
        let item = earlier + setting.beads.item_of(block)?;
        let piece = &setting.blocks[block];
        let lane = self.lanes[item].as_ref()?;
        lane.holds(piece.at(0.5 * piece.duration)).then_some((item, lane))
    }

    /// Whole time of the print with moves and pauses, s.
    pub fn print_time(&self) -> f64 {
        self.layers.iter().map(|layer| layer.layer.pause + layer.conditions.print_time).sum()
    }

    /// Ink leaving the vials as mist during the print, m^3.
    pub fn ink_used(&self) -> f64 {
        self.layers.iter().map(|layer| layer.conditions.ink_used).sum()
    }
}

impl<'a> LayerSetting<'a> {
    fn new(
        inputs: &Inputs,
        layer: &'a Layer,
        LayerMist { flows, droplets, mist, mist_changes }: LayerMist,
        first_block: usize,
        atlas: &Atlas<'_>,
        progress: &dyn Progress,
    ) -> Result<Self, RunError> {
        let ink = &layer.ink;
        let surface_tension = surface_tension(ink);
        let viscosity = mixture_viscosity(&liquid_parts(ink, |s| s.viscosity));
        let density = ink_density(ink);
        let retention = Retention::of(&layer.atomiser);
        let contents = Contents::new(&ink.powders, density, &droplets, retention);

        let nozzle_radius = 0.5 * layer.head.nozzle;
        let exit_speed = flows.total() / (PI * nozzle_radius * nozzle_radius);
        let gas = &flows.head_gas;
        let reynolds = gas.density * exit_speed * layer.head.nozzle / gas.viscosity;
        let stand_off_ratio = layer.flight.stand_off / layer.head.nozzle;
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        let exit = exit_flow(layer, &flows, atlas.fields())?;
        let mach = exit.centre_speed * exit_speed / gas.sound_speed;
        refuse_choked(layer, &inputs.spread, &flows, mach)?;
        let densities = density_range(layer, &mist);
        let diameters = [LEAST_DIAMETER, droplets.at_deviate(DEVIATE_LIMIT).max(2.0 * LEAST_DIAMETER)];
        let landings = landings(layer, &inputs.spread, &flows, diameters, densities, atlas, progress)?;
        let finder = match &landings {
            Some(grid) => Finder::Table(grid.at(flows.total(), layer.flight.stand_off, flows.core_share())),
            None => {
                if layer.flight.model == FlightModel::SolvedJet {
                    progress.begin("solving the gas jet", None);
                }
                let flyer = nominal_flyer(layer, &flows, atlas.fields())?;
                if progress.cancelled() {
                    return Err(RunError::Cancelled);
                }
                let direct = flyer.field.is_none() || layer.flight.landing == LandingMethod::Direct;
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

        let timeline = Timeline::new(&layer.path, &layer.stage);
        let mean_volume = droplets.mean_volume();
        let droplet_rate = layer.atomiser.mist_load * layer.flows.carrier.0 / mean_volume;
        let blocks = timeline.open_pieces((BLOCK_DROPLETS / droplet_rate).min(LONGEST_BLOCK));
        let powders = inputs.powder_numbers(layer);
        let conditions = Conditions {
            gas_density: gas.density,
            gas_viscosity: gas.viscosity,
            mean_free_path: gas.mean_free_path,
            carrier_flow: flows.head_carrier,
            sheath_flow: flows.head_sheath,
            exit_speed,
            reynolds,
            centre_speed: exit.centre_speed * exit_speed,
            mach,
            stand_off_ratio,
            core_radius: exit.core_radius * nozzle_radius,
            tube_time: mist.tube_time,
            head_time: mist.head_time,
            droplet_median: droplets.median,
            droplet_mass_median: droplets.volume_median(),
            droplet_mean_volume: mean_volume,
            droplet_rate,
            print_time: timeline.duration,
            open_time: timeline.open_time(),
            ink_used: layer.atomiser.mist_load * layer.flows.carrier.0 * timeline.duration,
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
        let spreading = Spreading::new(&layer.landing, viscosity, surface_tension);
        let arriving = Arriving {
            finder: &finder,
            mist: &mist,
            droplets: &droplets,
            spreading: &spreading,
            centre_speed: conditions.centre_speed,
        };
        Ok(Self {
            beads: Beads::new(layer, &timeline, &blocks, arriving),
            spreading,
            layer,
            renumbered: powders.iter().enumerate().any(|(k, number)| usize::from(*number) != k),
            powders,
            first_block,
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
            conditions,
        })
    }

    /// Gives particles, whose powder is a place in the ink, its place among those of the print.
    #[inline]
    pub fn number(&self, grains: &mut [Grain]) {
        if self.renumbered {
            grains.iter_mut().for_each(|grain| grain.powder = self.powders[usize::from(grain.powder)]);
        }
    }

    /// Droplets expected in one print with a steady output.
    pub fn expected_droplets(&self) -> f64 {
        self.droplet_rate * self.conditions.open_time
    }
}

/// Flows and mist of a layer.
struct LayerMist {
    flows: Flows,
    droplets: DropletSizes,
    mist: Arc<MistTable>,
    mist_changes: Arc<MistChanges>,
}

impl LayerMist {
    fn new(layer: &Layer, spread: &[Variation], atlas: &Atlas<'_>) -> Self {
        let flows = Flows::new(layer);
        let droplets = nominal_droplets(layer);
        let mist = atlas.mist(mist_key(layer, &droplets), || MistTable::new(layer, &flows, &droplets));
        let near = rounded_flows(layer);
        let mist_changes = atlas.mist_changes(
            format!("{} {:?}", mist_key(&near, &droplets), mist_variations(spread).collect::<Vec<_>>()),
            || mist_changes(&near, &droplets, spread),
        );
        Self { flows, droplets, mist, mist_changes }
    }
}

/// What differs in a print of a layer: landing points, losses and drying, flows.
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
    pub fn new(setting: &LayerSetting<'_>, deviations: Deviations) -> Self {
        let Flows { head_carrier, head_sheath, .. } = setting.flows;
        let (carrier, sheath) = (head_carrier * deviations.carrier, head_sheath * deviations.sheath);
        let core_share = carrier / (carrier + sheath);
        let finder = match (&setting.landings, &setting.finder) {
            (Some(grid), _) => {
                let stand_off = setting.layer.flight.stand_off + deviations.stand_off;
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
fn mist_variations(spread: &[Variation]) -> impl Iterator<Item = &Variation> {
    spread.iter().filter(|v| v.sd > 0.0 && factor_of(&Deviations::NONE, v.input).is_some())
}

/// All that losses and drying depend on, in words.
fn mist_key(layer: &Layer, droplets: &DropletSizes) -> String {
    let Layer { gas, flows, ink, atomiser, tube, head, .. } = layer;
    let density = ink_density(ink);
    format!("{gas:?} {flows:?} {:?} {density:?} {droplets:?} {:?} {tube:?} {head:?}", ink.solvents, atomiser.mist_load)
}

/// The same layer at flows of a coarse lattice, which neighbouring settings have in common.
fn rounded_flows(layer: &Layer) -> Layer {
    let mut near = layer.clone();
    for flow in [&mut near.flows.carrier.0, &mut near.flows.sheath.0] {
        if *flow > 0.0 {
            *flow = ((flow.ln() / CHANGES_STEP).round() * CHANGES_STEP).exp();
        }
    }
    near
}

/// Losses and drying at two standard deviations to each side of the setting.
fn mist_changes(layer: &Layer, droplets: &DropletSizes, spread: &[Variation]) -> MistChanges {
    let varied: Vec<_> = mist_variations(spread).collect();
    varied
        .into_par_iter()
        .map(|variation| {
            let unit = 2.0 * variation.sd;
            let side = |factor: f64| {
                let (mut layer, mut droplets) = (layer.clone(), *droplets);
                match variation.input {
                    VariedInput::Carrier => layer.flows.carrier.0 *= factor,
                    VariedInput::Sheath => layer.flows.sheath.0 *= factor,
                    _ => droplets.median *= factor,
                }
                MistTable::coarse(&layer, &Flows::new(&layer), &droplets)
            };
            let (minus, plus) = rayon::join(|| side(1.0 - unit), || side(1.0 + unit));
            (variation.input, unit, [minus, plus])
        })
        .collect()
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
    if layer.flight.model == FlightModel::Straight || carrier + sheath + stand_off == 0.0 {
        return Ok(None);
    }
    let total = |sign: f64| {
        flows.head_carrier * (1.0 + sign * carrier).max(0.0) + flows.head_sheath * (1.0 + sign * sheath).max(0.0)
    };
    let most_carrier = flows.head_carrier * (1.0 + carrier);
    let share = most_carrier / (most_carrier + flows.head_sheath * (1.0 - sheath).max(0.0));
    let family = Family::new(layer, flows.head_gas, share, diameters, densities);
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
    use motefall_physics::droplet::table::Found;
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
