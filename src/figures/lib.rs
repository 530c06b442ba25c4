//! What a prediction says: figures with intervals, budget, sizes, profiles, maps, cautions.
//!
//! Values are SI; [`FigureKind`] knows the unit in which a figure is shown.

mod area;
pub mod beam_view;
pub mod budget;
pub mod cautions;
pub mod cells;
pub mod electrode_view;
pub mod importance;
pub mod joined;
pub mod keep_out;
pub mod measure;
mod notes;
mod one_print;
pub mod over_prints;
pub mod places;
pub mod profile;
pub mod room;
pub mod spread;
pub mod stack;
pub mod statistics;
pub mod sweep;
#[cfg(test)]
pub(crate) mod testing;

use motefall_physics::inputs::{Inputs, Layer, Limit, Varied};
use ndarray::Array2;

pub use cautions::{Caution, CautionKind, Severity};
pub use motefall_physics::figure_kinds::{
    self as kinds, Figure, FigureKind, ItemFigure, KINDS, PrintFigure, RegionFigure, Scope,
};
pub use motefall_physics::map::far::FarMap;
pub use motefall_physics::map::{Grid, MeasuringGrid, Particle};
pub use motefall_physics::path::motion::Stroke;
pub use stack::Pile;

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
            let place = self.inputs.powder_numbers(layer).iter().position(|k| usize::from(*k) == powder)?;
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

/// What follows from the inputs of a layer before any droplet flies. SI.
#[derive(Debug, Clone)]
pub struct Conditions {
    /// Gas density in the head, kg/m^3.
    pub gas_density: f64,
    /// Gas viscosity in the head, Pa s.
    pub gas_viscosity: f64,
    /// Gas mean free path in the head, m.
    pub mean_free_path: f64,
    /// Carrier flow at head conditions, m^3/s.
    pub carrier_flow: f64,
    /// Sheath flow at head conditions, m^3/s.
    pub sheath_flow: f64,
    /// Mean gas speed at the nozzle exit, m/s.
    pub exit_speed: f64,
    /// Gas speed on the axis at the exit, m/s.
    pub centre_speed: f64,
    /// Nozzle Reynolds number, mean speed and diameter.
    pub reynolds: f64,
    /// Mach number on the centreline at the exit.
    pub mach: f64,
    /// Stand-off in nozzle diameters.
    pub stand_off_ratio: f64,
    /// Radius of the aerosol core at the exit without inertia, m.
    pub core_radius: f64,
    /// Residence time in the tube, s.
    pub tube_time: f64,
    /// Residence time in the head along the axis, s.
    pub head_time: f64,
    /// Count median droplet diameter at the atomiser, m.
    pub droplet_median: f64,
    /// Mass median droplet diameter there, m: half of the liquid is in larger ones.
    pub droplet_mass_median: f64,
    /// Mean droplet volume at the atomiser, m^3.
    pub droplet_mean_volume: f64,
    /// Droplets leaving the atomiser per second, steady state.
    pub droplet_rate: f64,
    /// Whole time of the layer with moves, without the pause before it, s.
    pub print_time: f64,
    /// Time with the shutter open, s.
    pub open_time: f64,
    /// Ink leaving the vial as mist during `print_time`, m^3.
    pub ink_used: f64,
    /// Density of the ink, kg/m^3.
    pub ink_density: f64,
    /// Share of the ink's liquid that is left at the nozzle exit, 0 to 1.
    pub liquid_left: f64,
    /// Saturation of the gas around the droplets at the nozzle exit, first solvent.
    pub exit_saturation: f64,
    /// Per powder of the ink: share of its mass in the ink that can ride in droplets, 0 to 1.
    pub printable_share: Vec<f64>,
    /// Per powder of the ink: mean number of particles in a droplet at the atomiser.
    pub particles_per_droplet: Vec<f64>,
    /// Per powder of the ink: inelastic mean free path used for the beam, m.
    pub powder_mean_free_path: Vec<f64>,
    /// Path of the nozzle axis with the shutter state, for drawing.
    pub strokes: Vec<Stroke>,
}

/// A figure of one print, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured {
    /// The figure.
    Exactly(f64),
    /// A lower bound, because there is more than could be measured. No such figure is known to stay below a limit.
    AtLeast(f64),
}

impl Measured {
    /// The figure or its lower bound.
    pub fn value(self) -> f64 {
        match self {
            Self::Exactly(value) | Self::AtLeast(value) => value,
        }
    }
}

impl From<f64> for Measured {
    fn from(value: f64) -> Self {
        Self::Exactly(value)
    }
}

/// A figure over prints.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Mean over prints.
    pub mean: f64,
    /// 95 % confidence interval of the mean, of an extreme of a print that of the median; `None` for one print without a counting model and
    /// for an extreme of fewer than six prints.
    pub interval: Option<[f64; 2]>,
    /// Standard deviation between prints; `None` for one print.
    pub sd: Option<f64>,
    /// Number of prints that gave a value.
    pub n: u32,
    /// Median and largest of the prints, which are shown instead of the mean; for extremes of a print ([`FigureKind::is_extreme`]) of
    /// several prints only.
    pub extremes: Option<[f64; 2]>,
    /// Prints of these of which only a lower bound is known. If there are any, the mean is a lower bound too, without interval and spread.
    pub at_least: u32,
}

/// One figure at one place.
#[derive(Debug, Clone)]
pub struct FigureRow {
    /// Which figure.
    pub kind: &'static FigureKind,
    /// Region or path item; `None` for the whole print.
    pub place: Option<String>,
    /// Value, SI; `None` where it could not be measured (say, no line found), with the reason in `note`.
    pub estimate: Option<Estimate>,
    /// A remark such as 'no hit in 20 prints: upper bound' or how it was measured.
    pub note: Option<String>,
    /// How prints differ; `None` for fewer prints than say anything, for shares of prints, and for what is the same in every print.
    pub distribution: Option<Distribution>,
}

/// The estimate of a figure at a place; `None` if it is not among the rows or could not be measured.
pub fn estimate_at<'a>(rows: &'a [FigureRow], figure: impl Into<Figure>, place: Option<&str>) -> Option<&'a Estimate> {
    let figure = figure.into();
    rows.iter().find(|row| row.kind.figure == figure && row.place.as_deref() == place)?.estimate.as_ref()
}

/// How the prints of a figure differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Distribution {
    /// 5th, 50th and 95th percentile of the prints, SI.
    pub percentiles: [f64; 3],
    /// Between which values at least a share of all prints lies, with 95 % confidence.
    pub tolerance: Tolerance,
    /// Shares of the variance between prints that the varied inputs explain, largest first; empty if nothing is varied or the prints are
    /// too few to tell ([`importance::fewest_prints`]).
    pub explained: Vec<Explained>,
    /// Share of the variance of the ranks that no varied input explains: chance within the print and interplay. Estimate, low, high.
    pub unexplained: Option<[f64; 3]>,
    /// Values of the prints in order, SI; NaN for a print that gave none.
    pub values: Vec<f64>,
}

/// A tolerance interval and how it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Ends, SI.
    pub interval: [f64; 2],
    /// Share of all prints that it holds at least, 0 to 1: [`spread::CONTENT`], or less where the prints are too few to say it of so many.
    pub content: f64,
    /// Whether it rests on a normal law (else on order statistics, whatever the law).
    pub normal: bool,
}

/// How much of a figure's variance one varied input explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Explained {
    /// Which input.
    pub input: Varied,
    /// Share of the variance of the ranks, 0 to 1, with its 95 % interval: estimate, low, high.
    pub share: [f64; 3],
    /// Sign of the effect: the figure grows (+1) or shrinks (-1) as the input grows, or, with `both_ways`, as it gets away from its
    /// set value on either side.
    pub sign: f64,
    /// Whether the effect is mostly that of the distance from the set value, whichever way.
    pub both_ways: bool,
}

/// A limit and how the prints did.
#[derive(Debug, Clone)]
pub struct LimitOutcome {
    /// The limit, SI.
    pub limit: Limit,
    /// The figure; `None` if it could not be measured (then no print meets the limit).
    pub estimate: Option<Estimate>,
    /// What a probability is judged by; `None` of figures that each print has.
    pub share: Option<ShareOfPrints>,
    /// Prints that met the limit.
    pub met: u32,
    /// Prints made.
    pub n: u32,
}

/// How many prints said yes to what each only says yes or no to, and what that tells of the probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareOfPrints {
    /// Prints that said yes.
    pub hits: u32,
    /// Prints made.
    pub n: u32,
    /// Lower and upper bound of the probability, each at 95 % by itself ([`statistics::share_bounds`]).
    pub bounds: [f64; 2],
}

impl LimitOutcome {
    /// Which figure.
    pub fn kind(&self) -> &'static FigureKind {
        self.limit.figure.kind()
    }

    /// 95 % Wilson interval of the share of prints that meet the limit; `None` for a limit that all prints meet or fail together.
    pub fn share_interval(&self) -> Option<[f64; 2]> {
        (!self.kind().is_share_of_prints() && self.n > 0).then(|| statistics::wilson_95(self.met, self.n))
    }
}

/// The decision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// Whether the setting is accepted; `None` when no limits were given.
    pub accepted: Option<bool>,
    /// Prints that met every limit.
    pub met: u32,
    /// Prints made.
    pub n: u32,
    /// 95 % Wilson interval of the share of prints that meet every limit.
    pub share_interval: [f64; 2],
}

/// What became of a droplet, or of a particle in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// Settled in the mist tube.
    TubeSettling,
    /// Diffused to the wall of the mist tube.
    TubeDiffusion,
    /// Hit the wall in a bend.
    TubeBend,
    /// Hit the wall of the head or taper.
    HeadWall,
    /// Swept past the chip by the gas.
    Escaped,
    /// Bounced off.
    Bounced,
    /// Landed on the named region.
    Region(String),
    /// Landed on the chip outside every region.
    Elsewhere,
    /// Landed beyond the chip's edge.
    OffChip,
}

/// One line of the mass budget.
#[derive(Debug, Clone)]
pub struct BudgetRow {
    /// What became of it.
    pub fate: Fate,
    /// Droplets (a droplet's fate is where its centre went).
    pub droplets: u64,
    /// Particles per powder (a particle's fate is where its own centre went).
    pub particles: Vec<u64>,
    /// Solids per powder, kg.
    pub mass: Vec<f64>,
}

/// Mass budget of a print: the rows add up to what left the vial while the shutter was open.
#[derive(Debug, Clone)]
pub struct Budget {
    /// Droplets generated.
    pub droplets: u64,
    /// Particles generated, per powder.
    pub particles: Vec<u64>,
    /// Solids generated, per powder, kg.
    pub mass: Vec<f64>,
    /// Where they went; adds up to the above.
    pub rows: Vec<BudgetRow>,
    /// Largest relative gap between the rows' sums and the totals.
    pub closure: f64,
    /// Droplets that were expected but not simulated because of the droplet budget (0 in a complete print).
    pub not_simulated: f64,
}

/// Histograms of sizes by stage. Bins are equal in the logarithm.
#[derive(Debug, Clone)]
pub struct Sizes {
    /// Edges of the droplet bins, m.
    pub droplet_edges: Vec<f64>,
    /// Per layer: droplet counts by stage, generated, tube exit, nozzle exit, landed.
    pub droplets: Vec<[Vec<u64>; 4]>,
    /// Edges of the particle bins, m.
    pub particle_edges: Vec<f64>,
    /// Per powder.
    pub powders: Vec<PowderSizes>,
}

/// Names of the droplet stages in [`Sizes::droplets`].
pub const DROPLET_STAGES: [&str; 4] = ["generated", "tube exit", "nozzle exit", "landed"];

/// Particle sizes of one powder.
#[derive(Debug, Clone)]
pub struct PowderSizes {
    /// Share of the number in each bin, powder as received.
    pub received_number: Vec<f64>,
    /// Share of the volume in each bin, powder as received.
    pub received_volume: Vec<f64>,
    /// Particles landed in each bin.
    pub landed_count: Vec<u64>,
}

/// Fate of one droplet diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandingPoint {
    /// Droplet diameter at the nozzle exit, m.
    pub diameter: f64,
    /// Share of the aerosol flow from which such droplets land, 0 to 1.
    pub landed: f64,
    /// Landing radii at 5, 50 and 95 % of the landed flow, m; NaN if none lands.
    pub radius: [f64; 3],
    /// Impact speed on the axis, m/s; NaN if none lands.
    pub impact_speed: f64,
}

/// Mean thickness across a printed item.
#[derive(Debug, Clone)]
pub struct Profile {
    /// Path item.
    pub item: String,
    /// Distance from the item's axis, m; bin centres.
    pub distance: Vec<f64>,
    /// Per powder: projected solid thickness, m.
    pub thickness: Vec<Vec<f64>>,
    /// Share of the line's length at this distance that is covered, 0 to 1.
    pub coverage: Vec<f64>,
    /// Length of line over which it was averaged, m.
    pub length: f64,
}

/// Maps of one print; arrays are `[row, column]`, row 0 at the lowest y.
#[derive(Debug, Clone)]
pub struct Maps {
    /// Grid.
    pub grid: Grid,
    /// Per powder: projected solid thickness, m.
    pub thickness: Vec<Array2<f64>>,
    /// Deposit height from packing, m.
    pub height: Array2<f64>,
    /// Highest point of the particles when each rests on what lies below it, m; if particles were kept.
    pub top_height: Option<Array2<f64>>,
    /// Covered share of each pixel, 0 to 1.
    pub coverage: Array2<f64>,
}

/// Gaps between electrodes over prints.
#[derive(Debug, Clone, PartialEq)]
pub struct Bridging {
    /// Prints that were looked at.
    pub prints: u32,
    /// The narrowest gaps, narrowest first.
    pub gaps: Vec<GapOutcome>,
}

/// A gap between two electrodes over prints.
#[derive(Debug, Clone, PartialEq)]
pub struct GapOutcome {
    /// Regions of the two electrodes.
    pub between: [String; 2],
    /// Least distance of their edges, m.
    pub width: f64,
    /// Prints in which conducting particles joined the two.
    pub bridged: u32,
    /// The conducting cluster that spans most of the gap, in any print.
    pub largest: joined::GapCluster,
    /// Mean over prints of the share of the gap that the print's largest cluster spans, 0 to 1.
    pub mean_spanned: f64,
}
