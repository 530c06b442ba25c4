//! What all prints of one setting share of a layer.

use super::conditions::conditions;
use super::flights::Flights;
use super::mist::LayerMist;
use crate::atlas::{Atlas, LandingGrid, MistChanges};
use crate::beads::{Arriving, Beads};
use crate::{Progress, RunError};
use motefall_figures::{Conditions, LandingPoint};
use motefall_physics::deposit::Spreading;
use motefall_physics::droplet::Finder;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{Inputs, Layer};
use motefall_physics::materials::solvent::mixture_viscosity;
use motefall_physics::path::motion::{BLOCK_DROPLETS, LONGEST_BLOCK, Piece, Timeline};
use motefall_physics::source::atomiser::{DropletSizes, Retention, liquid_parts, surface_tension};
use motefall_physics::source::content::{Contents, Grain};
use std::sync::Arc;

/// What all prints of one setting share of a layer.
pub struct LayerSetting<'a> {
    /// The layer.
    pub layer: &'a Layer,
    /// Place of each powder of the ink among those of the print.
    pub(crate) powders: Vec<u16>,
    /// Whether these places differ from those in the ink.
    pub(crate) renumbered: bool,
    /// Distance between strokes of fills whose spacing was left out, m; `None` if none was, or nothing lands.
    pub(crate) spacing: Option<f64>,
    /// Number of its first block: blocks are counted over all layers.
    pub(crate) first_block: usize,
    /// Flows and gas.
    pub flows: Flows,
    /// Droplet sizes at the atomiser.
    pub droplets: DropletSizes,
    /// Losses and drying by droplet size.
    pub mist: Arc<MistTable>,
    /// How they change with the inputs that differ between prints.
    pub(crate) mist_changes: Arc<MistChanges>,
    /// Particles in droplets.
    pub contents: Contents,
    /// Landing points at the set flows and stand-off.
    pub finder: Finder,
    /// Landing tables around them, if flows or stand-off differ between prints.
    pub(crate) landings: Option<LandingGrid>,
    /// Share of the aerosol flow that lands, by diameter, and landing radii.
    pub(crate) landing_curve: Vec<LandingPoint>,
    /// Spreading of wet droplets.
    pub(crate) spreading: Spreading,
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

impl<'a> LayerSetting<'a> {
    pub(super) fn new(
        inputs: &Inputs,
        layer: &'a Layer,
        mist: LayerMist,
        spacing: Option<f64>,
        first_block: usize,
        atlas: &Atlas<'_>,
        progress: &dyn Progress,
    ) -> Result<Self, RunError> {
        let ink = &layer.ink;
        let flights = Flights::new(layer, &inputs.spread, &mist, atlas, progress)?;
        let timeline = Timeline::new(&layer.path, &layer.stage, spacing);
        let conditions = conditions(layer, &mist, &flights, &timeline, inputs.beam.voltage);
        let blocks = timeline.open_pieces((BLOCK_DROPLETS / conditions.droplet_rate).min(LONGEST_BLOCK));
        let viscosity = mixture_viscosity(&liquid_parts(ink, |s| s.viscosity));
        let spreading = Spreading::new(&layer.landing, viscosity, surface_tension(ink));
        let arriving = Arriving {
            finder: &flights.finder,
            mist: &mist.mist,
            droplets: &mist.droplets,
            spreading: &spreading,
            centre_speed: conditions.centre_speed,
        };
        let powders = inputs.powder_places(layer);
        let retention = Retention::of(&layer.atomiser);
        Ok(Self {
            beads: Beads::new(layer, spacing, &timeline, &blocks, arriving),
            contents: Contents::new(&ink.powders, conditions.ink_density, &mist.droplets, retention),
            spreading,
            layer,
            renumbered: powders.iter().enumerate().any(|(k, number)| usize::from(*number) != k),
            powders,
            spacing,
            first_block,
            flows: mist.flows,
            droplets: mist.droplets,
            mist: mist.mist,
            mist_changes: mist.mist_changes,
            finder: flights.finder,
            landings: flights.landings,
            landing_curve: flights.landing_curve,
            timeline,
            blocks,
            droplet_rate: conditions.droplet_rate,
            conditions,
        })
    }

    /// Gives particles, whose powder is a place in the ink, its place among those of the print.
    #[inline]
    pub(crate) fn place_powders(&self, grains: &mut [Grain]) {
        if self.renumbered {
            grains.iter_mut().for_each(|grain| grain.powder = self.powders[usize::from(grain.powder)]);
        }
    }

    /// Droplets expected in one print with a steady output.
    pub fn expected_droplets(&self) -> f64 {
        self.droplet_rate * self.conditions.open_time
    }
}
