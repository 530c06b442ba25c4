//! What all layers of a setting share.

use super::LayerSetting;
use super::mist::LayerMist;
use crate::atlas::Atlas;
use crate::line_width::spacing_from_line;
use crate::{Progress, RunError, beads};
use motefall_figures::measure::Measurer;
use motefall_figures::profile::Lane;
use motefall_figures::{BenchUse, Grid, MeasuringGrid};
use motefall_physics::inputs::Inputs;
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::grid::LEAST_MARGIN;
use motefall_physics::map::near::Near;
use motefall_physics::map::regions::RegionIndex;
use rayon::prelude::*;
use std::sync::Arc;

/// What all prints of one setting share.
pub struct Setting<'a> {
    /// The inputs.
    pub inputs: &'a Inputs,
    /// What belongs to single layers, in their order.
    pub layers: Vec<LayerSetting<'a>>,
    /// What figures are measured on.
    pub measuring: MeasuringGrid,
    /// Grid of the maps.
    pub(crate) grid: Grid,
    /// Where the profile of each item of the path lies, over all layers; `None` if it has none.
    pub(crate) lanes: Vec<Option<Lane>>,
    /// Finds regions under points.
    pub regions: Arc<RegionIndex>,
    /// Electrodes to be printed.
    pub(crate) printed: Vec<Near>,
    /// Density of each powder of the print, kg/m^3.
    pub(crate) densities: Vec<f64>,
}

impl<'a> Setting<'a> {
    /// Works the setting out. Solves the gas jet unless the store has it.
    pub fn new(inputs: &'a Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Self, RunError> {
        Self::in_atlas(inputs, &Atlas::new(store), progress)
    }

    /// The same with landing tables that settings share.
    pub(crate) fn in_atlas(inputs: &'a Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Self, RunError> {
        let spacings = inputs.layers.iter().map(|layer| spacing_from_line(layer, atlas, progress));
        let spacings = spacings.collect::<Result<Vec<_>, _>>()?;
        let mut layers = Vec::with_capacity(inputs.layers.len());
        let mut first_block = 0;
        progress.begin("drying the mist", None);
        let mists: Vec<LayerMist> =
            inputs.layers.par_iter().map(|layer| LayerMist::new(layer, &inputs.spread, atlas)).collect();
        for ((layer, mist), spacing) in inputs.layers.iter().zip(mists).zip(spacings) {
            let setting = LayerSetting::new(inputs, layer, mist, spacing, first_block, atlas, progress)?;
            first_block += setting.blocks.len();
            layers.push(setting);
        }
        let reach = beads::reach(inputs, layers.iter().map(|layer: &LayerSetting<'_>| &layer.beads));
        let measuring = MeasuringGrid::new(inputs, reach.max(LEAST_MARGIN));
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

    /// Measures prints of the setting.
    pub fn measurer(&self) -> Measurer {
        Measurer::new(self.inputs, self.measuring, &self.regions, self.bench_use())
    }

    /// The inputs with the spacing that each fill is printed with.
    pub fn spaced_inputs(&self) -> Inputs {
        self.inputs.with_spacings(self.layers.iter().map(|layer| layer.spacing))
    }

    /// Droplets expected in one print with a steady output.
    pub fn expected_droplets(&self) -> f64 {
        self.layers.iter().map(LayerSetting::expected_droplets).sum()
    }

    /// Open stretches of the path of all layers.
    pub(crate) fn blocks(&self) -> usize {
        self.layers.iter().map(|layer| layer.blocks.len()).sum()
    }

    /// The layer of a block counted over all layers.
    pub(crate) fn layer_of(&self, block: usize) -> usize {
        self.layers.partition_point(|layer| layer.first_block <= block) - 1
    }

    /// The item that a block of a layer belongs to, counted over all layers, and where its profile lies, if the block lies along it.
    pub(crate) fn lane_of(&self, layer: usize, block: usize) -> Option<(usize, &Lane)> {
        let setting = &self.layers[layer];
        let earlier: usize = self.inputs.layers[..layer].iter().map(|layer| layer.path.len()).sum();
        let item = earlier + setting.beads.item_of(block)?;
        let piece = &setting.blocks[block];
        let lane = self.lanes[item].as_ref()?;
        lane.holds(piece.at(0.5 * piece.duration)).then_some((item, lane))
    }

    /// Time and ink that the print and a chip take.
    pub fn bench_use(&self) -> BenchUse {
        let times: Vec<f64> = self.layers.iter().map(|layer| layer.conditions.print_time).collect();
        BenchUse::new(self.inputs, &times)
    }
}
