//! What lands wet on a line.

use crate::landed::LandedClass;
use crate::line_width::width_at_half_height;
use motefall_physics::deposit::bead::{Across, Ring, mean_footprint};
use motefall_physics::head::mist::MistTable;
use motefall_physics::inputs::Layer;

/// Share of the landed liquid that belongs to a line; the rest lies beside it and is left aside.
pub(super) const OWN_SHARE: f64 = 0.99;

/// What lands wet.
pub(super) struct Landed {
    /// How it is spread across a line.
    pub(super) across: Across,
    /// Half of its width at half height, or of a droplet's footprint if that is larger, m.
    pub(super) core: f64,
    /// A line's own volume of each solvent per time, m^3/s.
    pub(super) solvents: Vec<f64>,
    /// The same of the solids that come with it.
    pub(super) solids: f64,
}

impl Landed {
    /// `None` if nothing lands wet.
    pub(super) fn new(layer: &Layer, mist: &MistTable, classes: &[LandedClass]) -> Option<Self> {
        let mut rings = Vec::new();
        // Per volume of ink atomised.
        let (mut liquid_landed, mut solids_landed) = (0.0, 0.0);
        for class in classes.iter().filter(|class| class.liquid > 0.0) {
            let volume = class.liquid + class.solids;
            rings.push(Ring { radius: class.radius, footprint: class.footprint, volume });
            liquid_landed += class.liquid;
            solids_landed += class.solids;
        }
        let rate = OWN_SHARE * layer.atomiser.mist_load * layer.flows.carrier.0;
        let left: Vec<f64> = layer
            .ink
            .solvents
            .iter()
            .zip(&mist.solvents_left)
            .map(|(part, left)| part.mass_fraction / part.solvent.density * left)
            .collect();
        let whole = left.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        (!rings.is_empty()).then(|| Self {
            across: Across::new(&rings),
            core: (0.5 * width_at_half_height(classes)).max(mean_footprint(&rings)),
            solvents: left.iter().map(|part| rate * liquid_landed * part / whole).collect(),
            solids: rate * solids_landed,
        })
    }
}
