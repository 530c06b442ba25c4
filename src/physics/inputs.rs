//! Everything the physics may see: validated, immutable, SI.
//!
//! Lengths in m, times in s, masses in kg, temperatures in K, pressures in Pa, angles in rad. Only `scenario` builds
//! these values (tests and benches may), and nothing downstream changes them.

use crate::contours::Contours;
use crate::figure_kinds::{Figure, RegionFigure};
use crate::materials::gas::GasSpecies;
pub use crate::materials::hazards::Hazard;
use crate::materials::sizes::SizeDistribution;
use crate::materials::solvent::Solvent;
use crate::units::{FlowReference, LengthUnit, StandardFlow};
use crate::words::words;
use std::sync::Arc;

/// One print, fully described.
#[derive(Debug, Clone)]
pub struct Inputs {
    /// Short title shown on the report.
    pub name: String,
    /// Free text shown on the report; shipped examples say here that they are invented.
    pub note: String,
    /// Seed of every random stream.
    pub seed: u64,
    /// What is printed one upon the other, in order: an ink and its setting each. At least one.
    pub layers: Vec<Layer>,
    /// Extent of the chip, centred on the origin of all coordinates.
    pub chip: Chip,
    /// Named areas on the chip.
    pub regions: Vec<Region>,
    /// Resolution of the figures, and grid of the maps.
    pub map: MapInputs,
    /// Electron beam and what else it crosses.
    pub beam: Beam,
    /// The cell that the electrodes make.
    pub cell: Cell,
    /// Limits that decide whether the setting is accepted; may be empty.
    pub acceptance: Acceptance,
    /// How many times the print is repeated to find the spread between prints.
    pub prints: PrintCount,
    /// What differs between prints besides chance; empty: nothing.
    pub spread: Vec<Variation>,
    /// Largest number of droplets simulated one to one per print before the run says that it stops short.
    pub droplet_budget: f64,
    /// Inputs that nobody has measured: defaults the user did not set.
    pub unverified: Vec<UnverifiedDefault>,
}

impl Inputs {
    /// Whether the print is given as layers with names, one or more.
    pub fn is_layered(&self) -> bool {
        self.layers.iter().any(|layer| !layer.name.is_empty())
    }

    /// Every powder once, in order of first use. Powders of the same name are the same powder; its mass fraction here is that of the
    /// first ink that holds it.
    pub fn powders(&self) -> Vec<&Powder> {
        let mut all: Vec<&Powder> = Vec::new();
        for powder in self.layers.iter().flat_map(|layer| &layer.ink.powders) {
            if !all.iter().any(|other| other.name == powder.name) {
                all.push(powder);
            }
        }
        all
    }

    /// Place in [`Self::powders`] of each powder of a layer's ink.
    pub fn powder_numbers(&self, layer: &Layer) -> Vec<u16> {
        let all = self.powders();
        let number = |powder: &Powder| {
            let place =
                all.iter().position(|other| other.name == powder.name).expect("all holds the powders of each layer");
            u16::try_from(place).expect("a scenario has at most a hundred powders")
        };
        layer.ink.powders.iter().map(number).collect()
    }

    /// Every printed item of all layers, in order.
    pub fn items(&self) -> impl Iterator<Item = &PathItem> {
        self.layers.iter().flat_map(|layer| &layer.path)
    }

    /// What differs from print to print, in the order of the draws: what belongs to the chip's place on the stage once, what belongs to
    /// an ink and its flows once a layer.
    pub fn varied(&self) -> Vec<Varied> {
        let each = |variation: &Variation| {
            let own = self.layers.len() > 1 && !variation.input.is_shared();
            let layers = if own { self.layers.len() } else { 1 };
            let input = variation.input;
            (0..layers).map(move |layer| Varied { input, layer: own.then_some(layer) })
        };
        self.spread.iter().flat_map(each).collect()
    }

    /// The unverified default behind a key of the resolved inputs, if there is one. What all layers take from the same default bears no
    /// layer in its name.
    pub fn unverified_default(&self, key: &str) -> Option<&UnverifiedDefault> {
        let of_all = key.strip_prefix("layer[").and_then(|rest| rest.split_once("].")).map(|(_, rest)| rest);
        self.unverified.iter().find(|u| u.key == key || Some(u.key.as_str()) == of_all)
    }

    /// Whether a layer, counted from 0, takes an unverified default for a key such as `head.land_um`.
    pub fn is_unverified(&self, layer: usize, key: &str) -> bool {
        let full = if self.is_layered() { format!("layer[{}].{key}", layer + 1) } else { key.to_owned() };
        self.unverified_default(&full).is_some()
    }
}

/// One layer of the print: an ink, how it is printed, and what.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Name shown in tables; empty in a print that is not given as layers.
    pub name: String,
    /// Wait before the layer begins, s.
    pub pause: f64,
    /// Carrier and sheath gas.
    pub gas: GasInputs,
    /// Flows as set on the controllers.
    pub flows: Flows,
    /// What is in the vial.
    pub ink: Ink,
    /// How the ink becomes mist.
    pub atomiser: Atomiser,
    /// Pieces of tubing from the atomiser to the head, in order.
    pub tube: Vec<TubePiece>,
    /// Print head.
    pub head: Head,
    /// From the nozzle exit to the chip.
    pub flight: Flight,
    /// What a droplet does on contact.
    pub landing: Landing,
    /// Motion stage and shutter.
    pub stage: Stage,
    /// Change of mist output with time, counted from the start of the layer.
    pub output: OutputDrift,
    /// What is printed, in order.
    pub path: Vec<PathItem>,
}

/// Number of repeated prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PrintCount {
    /// As many as are cheap, at most 20.
    Automatic,
    /// As asked for.
    Fixed(u32),
}

/// An input that took its default value and that matters.
#[derive(Debug, Clone, PartialEq)]
pub struct UnverifiedDefault {
    /// Scenario key, e.g. `atomiser.droplet_gsd`.
    pub key: String,
    /// Value with unit, as text.
    pub value: String,
    /// Why it matters and how to measure it.
    pub advice: String,
}

/// One input that differs from print to print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Variation {
    /// Which input.
    pub input: VariedInput,
    /// Law of its deviation from the set value; its mean is zero.
    pub law: Law,
    /// Standard deviation, in the unit of [`VariedInput`]. Above 0.
    pub sd: f64,
}

/// Inputs that may differ from print to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum VariedInput {
    /// Shift of the whole path along x on the chip, m.
    AlignmentX,
    /// Shift of the whole path along y on the chip, m.
    AlignmentY,
    /// Rotation of the whole path about the chip's centre, rad.
    Rotation,
    /// Stand-off, m.
    StandOff,
    /// Carrier flow, relative.
    Carrier,
    /// Sheath flow, relative.
    Sheath,
    /// Level of the mist output, relative.
    Output,
    /// Slow trend of the mist output, 1/s.
    Trend,
    /// Time from the start of atomising to the start of the print, s.
    WarmUp,
    /// Solids in the ink, relative.
    Solids,
    /// Median droplet diameter, relative.
    DropletMedian,
}

impl VariedInput {
    /// Whether one deviation holds for all layers of a print: where the chip lies under the nozzle does not change while it stays on the
    /// stage. Flows, mist and ink are set or filled for each layer, and deviate for each.
    pub fn is_shared(self) -> bool {
        matches!(self, Self::AlignmentX | Self::AlignmentY | Self::Rotation | Self::StandOff)
    }

    /// Every one, in the order of tables.
    pub const ALL: [Self; 11] = [
        Self::AlignmentX,
        Self::AlignmentY,
        Self::Rotation,
        Self::StandOff,
        Self::Carrier,
        Self::Sheath,
        Self::Output,
        Self::Trend,
        Self::WarmUp,
        Self::Solids,
        Self::DropletMedian,
    ];

    /// Name in words, unit as written after numbers, shown value = SI value times the factor, and key with the unit at its end.
    fn words(self) -> (&'static str, &'static str, f64, &'static str) {
        match self {
            Self::AlignmentX => ("alignment, x", "µm", 1e6, "alignment_x_um"),
            Self::AlignmentY => ("alignment, y", "µm", 1e6, "alignment_y_um"),
            Self::Rotation => ("rotation", "deg", 180.0 / std::f64::consts::PI, "rotation_deg"),
            Self::StandOff => ("stand-off", "µm", 1e6, "stand_off_um"),
            Self::Carrier => ("carrier flow", "%", 100.0, "carrier_percent"),
            Self::Sheath => ("sheath flow", "%", 100.0, "sheath_percent"),
            Self::Output => ("mist output", "%", 100.0, "output_percent"),
            Self::Trend => ("output trend", "%/h", 100.0 * 3600.0, "trend_percent_per_h"),
            Self::WarmUp => ("warm-up", "s", 1.0, "warm_up_s"),
            Self::Solids => ("solids in the ink", "%", 100.0, "solids_percent"),
            Self::DropletMedian => ("droplet size", "%", 100.0, "droplet_median_percent"),
        }
    }

    /// Name in words.
    pub fn label(self) -> &'static str {
        self.words().0
    }

    /// Unit in which a deviation is shown.
    pub fn unit(self) -> &'static str {
        self.words().1
    }

    /// Shown deviation = SI deviation times this.
    pub fn per_si(self) -> f64 {
        self.words().2
    }

    /// Key in scenarios and tables; ends with the unit.
    pub fn key(self) -> &'static str {
        self.words().3
    }
}

/// A varied input of the whole print or of one of its layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Varied {
    /// Which input.
    pub input: VariedInput,
    /// Number of the layer, from 0; `None`: of the whole print, or of its only layer.
    pub layer: Option<usize>,
}

impl Varied {
    fn layer_name(self, layers: &[Layer]) -> Option<&str> {
        self.layer.and_then(|k| layers.get(k)).map(|layer| layer.name.as_str())
    }

    /// Name in words, with that of the layer.
    pub fn label(self, layers: &[Layer]) -> String {
        let label = self.input.label();
        self.layer_name(layers).map_or_else(|| label.to_owned(), |name| format!("{label} ({name})"))
    }

    /// Key in tables: that of the input, with the layer's name in brackets.
    pub fn key(self, layers: &[Layer]) -> String {
        let key = self.input.key();
        self.layer_name(layers).map_or_else(|| key.to_owned(), |name| format!("{key} [{name}]"))
    }
}

words! {
    /// Laws of a deviation with mean zero.
    pub enum Law {
        /// Normal, cut at four standard deviations.
        Normal = "normal",
        /// Even between plus and minus sqrt(3) standard deviations.
        Uniform = "uniform",
        /// Triangular between plus and minus sqrt(6) standard deviations, highest in the middle.
        Triangular = "triangular",
    }
}

impl Law {
    /// Farthest deviation, in standard deviations.
    pub fn reach(self) -> f64 {
        match self {
            Law::Normal => 4.0,
            Law::Uniform => 3f64.sqrt(),
            Law::Triangular => 6f64.sqrt(),
        }
    }
}

/// Farthest that an input can lie from what was set, in the unit of its standard deviation; 0 if it does not vary.
pub fn farthest(spread: &[Variation], input: VariedInput) -> f64 {
    spread
        .iter()
        .find(|variation| variation.input == input)
        .map_or(0.0, |variation| variation.sd * variation.law.reach())
}

/// A sweep over settings.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepPlan {
    /// What is varied, in the order of the scenario.
    pub axes: Vec<Axis>,
    /// Which points are run.
    pub design: Design,
    /// How many prints a point gets.
    pub prints: PointPrints,
    /// Whether every point sees the same chance (common random numbers) or its own.
    pub chance: Chance,
    /// Pass probability that counts as good enough: the contour of the window.
    pub wanted_share: f64,
}

/// One setting that a sweep varies.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Scenario key, e.g. `flow.sheath_sccm` or `path[1].speed_mm_s`.
    pub key: String,
    /// Unit as written after numbers; empty for plain numbers.
    pub unit: String,
    /// Values, in the key's own unit.
    pub values: AxisValues,
}

/// Fewest steps between the ends of an axis.
const FEWEST_STEPS: f64 = 20.0;

impl Axis {
    /// Step to which values between the ends are rounded, in the key's own unit, so that each is a number that a controller takes; `None`
    /// for listed values.
    ///
    /// A power of ten: about a two-hundredth of the range (on a logarithm also a twentieth of the lower end), not finer than what is set on
    /// the bench (0.1 sccm, 0.01 mm/s, 10 um of stand-off, 0.1 um in drawings: common practice, no source), and at most half the
    /// distance of neighbouring values of a grid.
    pub fn step(&self, design: Design) -> Option<f64> {
        let (from, to, count, is_log) = match self.values {
            AxisValues::List(_) => return None,
            AxisValues::Linear { from, to, count } => (from, to, count, false),
            AxisValues::Log { from, to, count } => (from, to, count, true),
        };
        let (low, high) = (from.min(to), from.max(to));
        let range = high - low;
        let fine = power_of_ten_below((range / 200.0).min(if is_log { low / FEWEST_STEPS } else { f64::INFINITY }));
        let bench = [("stand_off_mm", 0.01), ("_um", 0.1), ("_sccm", 0.1), ("_mm_s", 0.01)];
        let bench = bench.into_iter().find(|(ending, _)| self.key.ends_with(ending)).map_or(0.0, |(_, step)| step);
        let parts = f64::from(count.max(2) - 1);
        let gap = match (design, is_log) {
            (Design::Grid, false) => range / parts,
            (Design::Grid, true) => low * ((high / low).powf(1.0 / parts) - 1.0),
            _ => range / FEWEST_STEPS,
        };
        (range > 0.0).then(|| fine.max(bench).min(power_of_ten_below(0.5 * gap)))
    }
}

/// Largest power of ten that is not above a positive value.
fn power_of_ten_below(value: f64) -> f64 {
    10f64.powi((value.log10() + 1e-9).floor() as i32)
}

/// Values of an axis, in the key's own unit.
#[derive(Debug, Clone, PartialEq)]
pub enum AxisValues {
    /// These.
    List(Vec<f64>),
    /// From the first to the last in so many even steps' ends; a space-filling design takes any value between.
    Linear {
        /// First.
        from: f64,
        /// Last.
        to: f64,
        /// Number of values on a grid.
        count: u32,
    },
    /// The same, even in the logarithm; both positive.
    Log {
        /// First.
        from: f64,
        /// Last.
        to: f64,
        /// Number of values on a grid.
        count: u32,
    },
}

/// Which points of the axes are run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// Every combination; the last axis varies fastest.
    Grid,
    /// Sobol sequence (Owen-scrambled by the seed) of so many points.
    Sobol(u32),
    /// Latin hypercube of so many points.
    LatinHypercube(u32),
}

/// How many prints a point gets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PointPrints {
    /// So many.
    Fixed(u32),
    /// In rounds until the Wilson interval of the pass probability is narrow enough or lies on one side of the wanted share.
    Adaptive {
        /// Prints of a round; the fewest.
        round: u32,
        /// The most.
        most: u32,
        /// Half width of the interval that is narrow enough.
        half_width: f64,
    },
}

words! {
    /// Chance at the points of a sweep.
    pub enum Chance {
        /// Print k has the same random streams at every point: differences between points show sooner.
        Common = "common",
        /// Every point has its own.
        Own = "own",
    }
}

/// Gas that carries the mist and forms the sheath.
#[derive(Debug, Clone)]
pub struct GasInputs {
    /// Which gas.
    pub species: GasSpecies,
    /// Temperature of ink, atomiser and tube, K.
    pub temperature: f64,
    /// Pressure in tube and head, Pa.
    pub pressure: f64,
    /// Saturation of the carrier with the ink's solvents as it leaves the atomiser, 0 to 1.
    pub carrier_saturation: f64,
    /// Saturation of the sheath with the ink's solvents, 0 (dry) to 1.
    pub sheath_saturation: f64,
}

/// Flows as set on the controllers.
#[derive(Debug, Clone, Copy)]
pub struct Flows {
    /// Carrier gas through the atomiser.
    pub carrier: StandardFlow,
    /// Sheath gas.
    pub sheath: StandardFlow,
    /// State the controllers refer to.
    pub reference: FlowReference,
}

/// The ink: solvents and powders.
#[derive(Debug, Clone)]
pub struct Ink {
    /// Solvents; their mass fractions are of the liquid and sum to 1.
    pub solvents: Vec<SolventPart>,
    /// Powders; their mass fractions are of the whole ink.
    pub powders: Vec<Powder>,
}

/// One solvent of the ink.
#[derive(Debug, Clone)]
pub struct SolventPart {
    /// Mass fraction within the liquid.
    pub mass_fraction: f64,
    /// Properties.
    pub solvent: Solvent,
}

/// One powder of the ink.
#[derive(Debug, Clone)]
pub struct Powder {
    /// Name shown on maps and tables.
    pub name: String,
    /// Mass fraction of the whole ink.
    pub mass_fraction: f64,
    /// Density of the solid, kg/m^3.
    pub density: f64,
    /// Sizes as received.
    pub sizes: SizeDistribution,
    /// Solid volume per deposit volume.
    pub packing_fraction: f64,
    /// Theoretical capacity, C/kg; 0 if not active.
    pub capacity: f64,
    /// Inelastic mean free path at the beam voltage, m; `None`: from density (Iakoubovskii et al. 2008).
    pub mean_free_path: Option<f64>,
    /// Whether it conducts electrons.
    pub conduction: Conduction,
    /// Hazard groups that bring cautions with them.
    pub hazards: Vec<Hazard>,
}

/// Whether a solid conducts electrons.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conduction {
    /// Conducts.
    Conducting,
    /// Does not.
    Insulating,
}

/// Atomiser.
#[derive(Debug, Clone)]
pub struct Atomiser {
    /// Where the median droplet diameter, by number, comes from.
    pub median: DropletMedian,
    /// Geometric standard deviation of the droplet diameters; of a lognormal law the same by number and by mass.
    pub gsd: f64,
    /// Volume of ink that leaves as mist, per volume of carrier gas at the controller's reference state (m^3/m^3).
    pub mist_load: f64,
    /// Particle-to-droplet diameter ratio at which half the particles ride.
    pub retention_midpoint: f64,
    /// Steepness of the retention curve (exponent of the ratio).
    pub retention_steepness: f64,
}

/// Source of the droplet median.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DropletMedian {
    /// Count median diameter, m, measured.
    Measured(f64),
    /// Ultrasonic frequency, Hz; Lang 1962.
    Ultrasonic(f64),
}

/// A piece of mist tube.
#[derive(Debug, Clone)]
pub struct TubePiece {
    /// Length, m.
    pub length: f64,
    /// Bore (inner diameter), m.
    pub bore: f64,
    /// Angle to the horizontal, rad (0 horizontal, pi/2 vertical).
    pub inclination: f64,
    /// Angles of the bends in this piece, rad.
    pub bends: Vec<f64>,
}

/// Print head: the sheath joins, droplets dry, the bore tapers to the nozzle.
#[derive(Debug, Clone)]
pub struct Head {
    /// Gas temperature in the head, K.
    pub temperature: f64,
    /// Bore where the sheath joins and before the taper, m (diameter).
    pub inlet_bore: f64,
    /// Straight length from where the sheath joins to the taper, m.
    pub mixing_length: f64,
    /// Nozzle exit bore, m (diameter).
    pub nozzle: f64,
    /// Half angle of the taper, from the axis to the wall, rad.
    pub half_angle: f64,
    /// Straight length at the exit, m.
    pub land: f64,
    /// A profile that is taken as given instead of the solved flow, all along the bore: 0 developed (parabolic), 1 plug.
    pub plug_blend: Option<f64>,
}

/// From the exit plane to the chip.
#[derive(Debug, Clone)]
pub struct Flight {
    /// Distance from exit plane to chip, m.
    pub stand_off: f64,
    /// How droplets fly.
    pub model: FlightModel,
    /// Share of Saffman's lift that is applied, 0 to 1.
    pub lift_factor: f64,
    /// How landing points are found.
    pub landing: LandingMethod,
}

words! {
    /// Flight models.
    pub enum FlightModel {
        /// Taper and solved jet, droplets tracked with drag.
        SolvedJet = "jet",
        /// Straight down from the sheath-core position at the exit: for exact checks only.
        Straight = "straight",
    }
}

words! {
    /// How landing points are found.
    pub enum LandingMethod {
        /// Interpolated in a table computed once per setting.
        Table = "table",
        /// Every droplet tracked: slow, the check of the table.
        Direct = "direct",
    }
}

/// What a droplet does on contact.
#[derive(Debug, Clone)]
pub struct Landing {
    /// Contact angle of the ink on the chip, rad.
    pub contact_angle: f64,
    /// Which footprint a wet droplet takes.
    pub spread: SpreadRule,
    /// 0: particles even over the footprint; 1: all at its rim.
    pub rim_bias: f64,
    /// Bounce of dry grains, if wanted.
    pub bounce: Option<Bounce>,
    /// Solid volume per volume of a dried droplet's residue in flight.
    pub residue_packing: f64,
    /// What becomes of lines that carry more liquid than their width holds.
    pub bead: BeadRule,
    /// Temperature of the chip, K.
    pub chip_temperature: f64,
}

words! {
    /// What becomes of lines that carry more liquid than their width holds at the contact angle.
    pub enum BeadRule {
        /// Their particles spread with the liquid to a bead that holds it; a caution tells.
        Spread = "spread",
        /// They stay where their droplets land; a caution tells.
        Keep = "keep",
    }
}

words! {
    /// Footprint of a wet droplet.
    pub enum SpreadRule {
        /// The larger of the two below (the contact line stays where the impact drove it).
        Larger = "larger",
        /// Spherical cap at the contact angle.
        Cap = "cap",
        /// Maximum spread on impact (Scheller & Bousfield 1995).
        Impact = "impact",
    }
}

/// Bounce of dry grains.
#[derive(Debug, Clone, Copy)]
pub struct Bounce {
    /// Normal impact speed above which grains may bounce, m/s.
    pub above_speed: f64,
    /// Probability of bouncing off (the grain is lost).
    pub probability: f64,
}

/// Stage and shutter.
#[derive(Debug, Clone)]
pub struct Stage {
    /// Acceleration limit, m/s^2.
    pub acceleration: f64,
    /// Speed of moves with the shutter closed, m/s.
    pub travel_speed: f64,
    /// Delay from command to open, s.
    pub shutter_open_delay: f64,
    /// Delay from command to closed, s.
    pub shutter_close_delay: f64,
    /// Standard deviation of the position error per axis, m.
    pub jitter: f64,
    /// Straight run-up before and after each stroke with the shutter closed, m.
    pub run_up: f64,
}

/// Change of mist output with time: run-in, slow trend, and noise.
#[derive(Debug, Clone)]
pub struct OutputDrift {
    /// Time from the start of atomising to the start of the print, s.
    pub warm_up: f64,
    /// Time constant of the run-in, s.
    pub run_in_time: f64,
    /// Missing share of the output at the start of the run-in, 0 to 1.
    pub run_in_deficit: f64,
    /// Slow relative change per second.
    pub trend: f64,
    /// Standard deviation of the log of the output.
    pub noise_sd: f64,
    /// Correlation time of the noise, s.
    pub noise_time: f64,
}

/// A printed shape.
#[derive(Debug, Clone)]
pub struct PathItem {
    /// Name shown in tables.
    pub name: String,
    /// Geometry.
    pub shape: Shape,
    /// Stage speed while printing, m/s (not used by dots).
    pub speed: f64,
    /// Number of passes.
    pub passes: u32,
}

/// Geometry of a printed shape, m, chip coordinates.
#[derive(Debug, Clone)]
pub enum Shape {
    /// Straight strokes through the points; a line is two points.
    Polyline(Vec<[f64; 2]>),
    /// Back-and-forth strokes over a rectangle.
    FilledRectangle {
        /// Centre.
        center: [f64; 2],
        /// Width along x and height along y before rotation.
        size: [f64; 2],
        /// Rotation, rad.
        rotation: f64,
        /// Distance between strokes.
        spacing: f64,
    },
    /// Back-and-forth strokes over a disc.
    FilledDisc {
        /// Centre.
        center: [f64; 2],
        /// Radius.
        radius: f64,
        /// Distance between strokes.
        spacing: f64,
    },
    /// The shutter opens at a resting point.
    Dot {
        /// Place.
        at: [f64; 2],
        /// Commanded open time, s.
        dwell: f64,
    },
    /// Parallel strokes over an area of a drawing.
    Filled(Filled),
    /// Lines of a drawing.
    Polylines(DrawnLines),
}

/// An area of a drawing covered by parallel strokes.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The area.
    pub area: Arc<Contours>,
    /// Distance between strokes, m.
    pub spacing: f64,
    /// Whether it was left out and the line's width is not known yet: then it is an estimate.
    pub spacing_left_out: bool,
    /// Direction of the strokes, rad from the x axis.
    pub angle: f64,
    /// What happens at the ends of the strokes.
    pub turns: Turns,
    /// Whether the edge is drawn, too.
    pub edge: EdgeStroke,
    /// Where the area came from.
    pub source: Option<DrawingSource>,
}

words! {
    /// What happens at the ends of the strokes of a filled area.
    pub enum Turns {
        /// The stage turns to the next stroke with the shutter open.
        Open = "open",
        /// The shutter closes at the end of every stroke; with a run-up, the stage turns outside of the area.
        Shut = "shut",
    }
}

/// Whether the edge of a filled area is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeStroke {
    /// It is not.
    Without,
    /// It is, before the area is filled.
    Along,
}

/// Lines of a drawing, each drawn in one go.
#[derive(Debug, Clone)]
pub struct DrawnLines {
    /// Points, m; a closed line ends with its first point.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Where the lines came from.
    pub source: Option<DrawingSource>,
}

/// Where a drawn shape came from.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawingSource {
    /// File, as the scenario names it.
    pub file: String,
    /// Layer; `None`: the whole drawing.
    pub layer: Option<String>,
    /// Length of one unit of the drawing; `None`: as the file states.
    pub unit: Option<LengthUnit>,
    /// Where the drawing's zero lies on the chip, m.
    pub at: [f64; 2],
    /// Rotation about it, rad.
    pub rotation: f64,
    /// Tells one content of the file from another.
    pub fingerprint: String,
}

/// Extent of the chip, centred on the origin.
#[derive(Debug, Clone, Copy)]
pub struct Chip {
    /// Width along x, m.
    pub width: f64,
    /// Height along y, m.
    pub height: f64,
}

/// A named area.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Name used in limits and tables.
    pub name: String,
    /// What it is.
    pub role: Role,
    /// Where it is.
    pub outline: Outline,
}

words! {
    /// What a region is.
    pub enum Role {
        /// Electrode that is to be printed on: the working electrode, if there is a counter electrode.
        Target = "target",
        /// Counter electrode that is to be printed on.
        Counter = "counter",
        /// Another electrode: nothing must land on it.
        Electrode = "electrode",
        /// Thin window; may lie under other regions.
        Window = "window",
        /// Nothing must land here: seal, window rim.
        KeepOut = "keep-out",
    }
}

impl Role {
    /// Whether it is to be printed on.
    pub fn is_printed(self) -> bool {
        matches!(self, Self::Target | Self::Counter)
    }

    /// Whether it is a conductor of the chip.
    pub fn is_electrode(self) -> bool {
        matches!(self, Self::Target | Self::Counter | Self::Electrode)
    }
}

/// Outline of a region, m, chip coordinates.
#[derive(Debug, Clone, PartialEq)]
pub enum Outline {
    /// Rectangle.
    Rectangle {
        /// Centre.
        center: [f64; 2],
        /// Width along x and height along y before rotation.
        size: [f64; 2],
        /// Rotation, rad.
        rotation: f64,
    },
    /// Disc.
    Disc {
        /// Centre.
        center: [f64; 2],
        /// Radius.
        radius: f64,
    },
    /// Inside of a polygon, or area of a drawing, with holes.
    Area(Area),
}

impl Outline {
    /// The inside of a simple polygon, either orientation, the first corner not repeated.
    pub fn polygon(corners: Vec<[f64; 2]>) -> Self {
        Self::Area(Area { contours: Arc::new(Contours::new(vec![corners])), source: None })
    }
}

/// An area bounded by contours.
#[derive(Debug, Clone, PartialEq)]
pub struct Area {
    /// The contours.
    pub contours: Arc<Contours>,
    /// Where they came from, if from a drawing.
    pub source: Option<DrawingSource>,
}

/// Resolution of the figures, and grid of the maps.
#[derive(Debug, Clone, Copy)]
pub struct MapInputs {
    /// Edge of the squares over which thickness is averaged for percentiles, unevenness, usable and too thick, m.
    pub resolution: f64,
    /// Pixel edge of the maps, m. No figure depends on it.
    pub pitch: f64,
    /// How far the maps reach beyond regions and path, m.
    pub margin: f64,
    /// Whether the list of single particles is written.
    pub write_particles: bool,
}

/// Electron beam.
#[derive(Debug, Clone)]
pub struct Beam {
    /// Accelerating voltage, V.
    pub voltage: f64,
    /// Layers besides the deposit, such as membranes or liquid.
    pub layers: Vec<BeamLayer>,
    /// Thickness over mean free path above which the place is too thick.
    pub limit: f64,
}

/// A uniform layer in the beam.
#[derive(Debug, Clone)]
pub struct BeamLayer {
    /// Material, for the table.
    pub material: String,
    /// Thickness, m.
    pub thickness: f64,
    /// Inelastic mean free path at the beam's voltage, m.
    pub mean_free_path: f64,
}

/// The cell that the electrodes make.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// C-rates at which currents are given, 1/h of the theoretical capacity.
    pub rates: Vec<f64>,
}

/// Limits that decide.
#[derive(Debug, Clone)]
pub struct Acceptance {
    /// Share of prints that must meet every limit.
    pub required_share: f64,
    /// The limits, in SI: those stated, then those that follow from a role.
    pub limits: Vec<Limit>,
    /// How many of them, at the end, follow from a role.
    pub implied: usize,
}

impl Acceptance {
    /// Limits that somebody wrote.
    pub fn stated(&self) -> &[Limit] {
        &self.limits[..self.limits.len() - self.implied]
    }

    /// Whether a limit, counted from 0, follows from a role.
    pub fn is_implied(&self, number: usize) -> bool {
        number >= self.stated().len()
    }

    /// If any limit is stated: no particle may lie on a keep-out for which none is.
    pub fn imply(&mut self, regions: &[Region]) {
        debug_assert!(self.implied == 0, "implied once");
        if self.limits.is_empty() {
            return;
        }
        let silent = |region: &&Region| !self.limits.iter().any(|limit| limit.place.as_ref() == Some(&region.name));
        let clean = |region: &Region| Limit {
            figure: RegionFigure::Particles.into(),
            place: Some(region.name.clone()),
            min: None,
            max: Some(0.0),
        };
        let keep_outs = regions.iter().filter(|region| region.role == Role::KeepOut);
        let implied: Vec<Limit> = keep_outs.filter(silent).map(clean).collect();
        self.implied = implied.len();
        self.limits.extend(implied);
    }
}

/// One limit.
#[derive(Debug, Clone)]
pub struct Limit {
    /// Which figure.
    pub figure: Figure,
    /// Region or path item it applies to; `None` for figures of the whole print.
    pub place: Option<String>,
    /// Least accepted value, SI.
    pub min: Option<f64>,
    /// Largest accepted value, SI.
    pub max: Option<f64>,
}
