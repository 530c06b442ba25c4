//! Result of a prediction.

use crate::beam_view;
use crate::budget::Budget;
use crate::cautions::{Caution, CautionKind};
use crate::conditions::{Conditions, LandingPoint};
use crate::joined::Bridging;
use crate::knobs::Knobs;
use crate::maps::Maps;
use crate::profile::Profile;
use crate::rows::FigureRow;
use crate::sizes::Sizes;
use crate::stack::Pile;
use crate::verdict::{LimitOutcome, Verdict};
use motefall_physics::inputs::{Inputs, Layer, Varied};
use motefall_physics::map::far::FarMap;
use motefall_physics::path::motion::Stroke;

/// Result of `predict`.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// What was asked.
    pub inputs: Inputs,
    /// What belongs to single layers, in their order.
    pub layers: Vec<LayerPart>,
    /// All figures, grouped by place, deciding ones first.
    pub figures: Vec<FigureRow>,
    /// The user's limits and how the prints did against each.
    pub limits: Vec<LimitOutcome>,
    /// The decision.
    pub verdict: Verdict,
    /// Where every droplet and every picogram of all layers went, first print.
    pub budget: Budget,
    /// Droplet and particle sizes by stage, first print.
    pub sizes: Sizes,
    /// Profiles across each printed item, first print.
    pub profiles: Vec<Profile>,
    /// Maps of the first print.
    pub maps: Maps,
    /// How the inputs deviated in each print.
    pub draws: Draws,
    /// Particles on coarse tiles of the whole chip, over the prints that it says.
    pub far: FarMap,
    /// Gaps between electrodes and what lies in them; `None` with fewer than two electrodes or particles too many to keep.
    pub bridging: Option<Bridging>,
    /// Particles of the first print as they lie on each other; empty when there are too many to keep.
    pub pile: Pile,
    /// What turning settings does, if somebody asked.
    pub knobs: Option<Knobs>,
    /// What the reader must know before relying on this.
    pub cautions: Vec<Caution>,
    /// Random generator, with version.
    pub generator: String,
}

impl Prediction {
    /// Whether the user stopped the run before all prints were made.
    pub fn is_stopped(&self) -> bool {
        self.cautions.iter().any(|caution| caution.kind == CautionKind::StoppedEarly)
    }

    /// Path of the nozzle axis over all layers.
    pub fn strokes(&self) -> impl Iterator<Item = &Stroke> {
        self.layers.iter().flat_map(|layer| &layer.conditions.strokes)
    }

    /// Inelastic mean free path of each powder of [`Inputs::powders`] at the beam's voltage, m.
    pub fn powder_mean_free_paths(&self) -> Vec<f64> {
        beam_view::mean_free_paths(&self.inputs)
    }

    /// What is not known because too many particles land, and why; `None` if nothing.
    pub fn too_many_particles(&self) -> Option<&str> {
        self.cautions
            .iter()
            .find(|caution| caution.kind == CautionKind::TooManyParticles)
            .map(|caution| caution.text.as_str())
    }

    /// Whether nobody knows if prints meet a limit: its figure takes single particles, and too many landed.
    pub fn is_undecided(&self, limit: &LimitOutcome) -> bool {
        limit.kind().needs_particles() && limit.estimate.is_none() && self.too_many_particles().is_some()
    }

    /// Share of a powder's mass (its place in [`Inputs::powders`]) that can ride in droplets of the first layer that holds it, 0 to 1.
    pub fn printable_share(&self, powder: usize) -> Option<f64> {
        let of_layer = |(layer, part): (&Layer, &LayerPart)| {
            let place = self.inputs.powder_places(layer).iter().position(|k| usize::from(*k) == powder)?;
            part.conditions.printable_share.get(place).copied()
        };
        self.inputs.layers.iter().zip(&self.layers).find_map(of_layer)
    }
}

/// Result of one layer.
#[derive(Debug, Clone)]
pub struct LayerPart {
    /// What follows from the inputs before any droplet flies.
    pub conditions: Conditions,
    /// Landing radius and fate against droplet diameter.
    pub landing_curve: Vec<LandingPoint>,
    /// Where every droplet and every picogram of this layer went, first print.
    pub budget: Budget,
}

/// Deviations of the varied inputs, print by print.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Draws {
    /// What is varied; empty: nothing.
    pub inputs: Vec<Varied>,
    /// Deviation from the set value of each of them in each print, in the units of [`motefall_physics::inputs::VariedInput`]; empty if nothing is varied.
    pub per_print: Vec<Vec<f64>>,
}
