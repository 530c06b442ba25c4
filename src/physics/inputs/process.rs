//! From the vial to the chip: gas, ink, atomiser, tube, head, flight, landing, stage.

use crate::materials::gas::GasSpecies;
use crate::materials::hazards::Hazard;
use crate::materials::sizes::SizeDistribution;
use crate::materials::solvent::Solvent;
use crate::units::{FlowReference, StandardFlow};
use crate::words::words;

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
    /// Share of the solids that settles in the vial in the first hour, per s; `None` if it is not known.
    pub settling: Option<f64>,
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
    /// Ink in the vial that can become mist, m^3; `None` if it is not known.
    pub fill: Option<f64>,
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
    /// What landing radii are multiplied by: 1 is as computed.
    pub radius_factor: f64,
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

words! {
    /// When the shutter is told.
    pub enum ShutterLead {
        /// When the stage is at the first and the last point of a stroke: what is printed is late by its delays.
        None = "none",
        /// Earlier by its delays, so that mist reaches the chip from the first to the last point.
        Compensated = "compensated",
    }
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
    /// When it is told.
    pub shutter_lead: ShutterLead,
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
    /// Chips printed after one warm-up.
    pub chips_per_warm_up: u32,
    /// Time with the mist running from the end of a print to the begin of the next, s.
    pub chip_change: f64,
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
