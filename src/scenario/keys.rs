//! The one table of keys: name, unit, range and its reason, default, meaning, and the field that the key fills.
//!
//! The reader, the echo and the editors' schema all follow this table, so a key is described in one place only.

use super::bind::{Out, Value, section};
use super::choices::{DesignWord, Draw, Scale};
use super::key::*;
use super::reader::Reader;
use motefall_physics::contours::Contours;
use motefall_physics::units::LengthUnit;
use motefall_physics::inputs::*;
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution, Weighting};
use motefall_physics::materials::solvent::{Solvent, SolventTable};
use motefall_physics::units::FlowReference;
use serde_json::Value as Json;
use std::sync::Arc;

const fn key(name: &'static str, kind: Kind, need: Need, help: &'static str) -> Key {
    Key { name, kind, need, help }
}

const fn number(name: &'static str, unit: Unit, range: [f64; 2], why: &'static str, need: Need, help: &'static str) -> Key {
    key(name, Kind::Number(Number { unit, least: range[0], most: range[1], why }), need, help)
}

const fn place(unit: Unit) -> Number {
    Number { unit, least: -2e5, most: 2e5, why: "coordinates count from the centre of the chip" }
}

use Need::{Assumed, Default, Follows, Optional, Required, Word};

/// Keys of earlier versions and what they are called now.
pub(crate) const RENAMED: [(&str, &str); 1] = [("platen_c", "chip_c")];

section! {
    /// The whole file.
    root: Inputs;
    with layers: Vec<Layer>, chip: Chip, regions: Vec<Region>, map: MapInputs, beam: Beam, cell: Cell, acceptance: Acceptance, spread: Vec<Variation>, unverified: Vec<UnverifiedDefault>;
    "scenario", "One print for motefall: ink, atomiser, tube, head, stage, chip, path and limits";
    key("name", Kind::Text, Required, "short title of the report") => name;
    key("note", Kind::Text, Optional, "free text for the report") => note;
    key("calibration", Kind::Text, Optional, "what test lines taught of this bench: the calibration.toml that `motefall calibrate` wrote; beside the scenario") => calibration;
    key("seed", Kind::Integer(0, i64::MAX as u64), Default(1.0), "number that fixes all chance: same seed, same print") => seed;
    key("prints", Kind::IntegerOrAuto(1, 1_000_000), Optional, "how many times the print is repeated, or \"auto\"") => prints;
    number("droplet_budget", COUNT, [1.0, 1e13], "below 1 nothing flies, above 10^13 a run takes weeks", Default(2e9),
        "largest number of droplets simulated one to one per print") => droplet_budget;
    key("gas", Kind::Table(&gas::TABLE), Optional, "carrier and sheath gas");
    key("flow", Kind::Table(&flow::TABLE), Required, "flows as set on the controllers");
    key("ink", Kind::Table(&INK), Required, "what is in the vial");
    key("atomiser", Kind::Table(&atomiser::TABLE), Required, "how ink becomes mist");
    key("tube", Kind::Tables(&tube::TABLE), Required, "pieces of tubing from atomiser to head, in order");
    key("head", Kind::Table(&head::TABLE), Required, "print head");
    key("flight", Kind::Table(&flight::TABLE), Required, "from the nozzle to the chip");
    key("landing", Kind::Table(&landing::TABLE), Optional, "what a droplet does on contact");
    key("stage", Kind::Table(&stage::TABLE), Optional, "motion stage and shutter");
    key("output", Kind::Table(&output::TABLE), Optional, "change of the mist output with time");
    key("path", Kind::Shapes(PATH), Required, "what is printed, in order");
    key("layer", Kind::Tables(&PRINT_LAYER), Optional, "layers printed one upon the other, in order, each with its own path and, if wanted, ink and setting");
    key("chip", Kind::Table(&chip::TABLE), Required, "extent of the chip; its centre is x = 0, y = 0");
    key("region", Kind::Shapes(REGION), Optional, "named areas on the chip");
    key("map", Kind::Table(&map::TABLE), Required, "grid of the maps");
    key("beam", Kind::Table(&beam::TABLE), Optional, "electron beam");
    key("cell", Kind::Table(&cell::TABLE), Optional, "the cell that the electrodes make");
    key("acceptance", Kind::Table(&acceptance::TABLE), Optional, "limits that decide whether the setting is accepted");
    key("spread", Kind::Table(&SPREAD), Optional, "what differs from print to print besides chance; nothing if left out");
    key("advise", Kind::Table(&ADVISE), Optional, "settings that `motefall advise` may change; of no effect on one print");
    key("sweep", Kind::Table(&SWEEP), Optional, "settings that `motefall sweep` varies; of no effect on one print");
}

/// `[[layer]]`; the sections are those of the whole file.
pub(crate) const PRINT_LAYER: Section = Section {
    name: "print layer",
    help: "One layer of the print; sections and keys that it leaves out are those at the top of the file",
    keys: &[
        key("name", Kind::Text, Required, "name in tables and captions"),
        number("pause_s", S, [0.0, 604_800.0], "after more than a week it is another print", Default(0.0), "wait before the layer begins, e.g. to change the ink"),
        key("gas", Kind::Table(&gas::TABLE), Optional, "carrier and sheath gas of this layer"),
        key("flow", Kind::Table(&flow::TABLE), Required, "flows of this layer"),
        key("ink", Kind::Table(&INK), Required, "what is in the vial for this layer; a list of solvents or powders here replaces the whole list at the top"),
        key("atomiser", Kind::Table(&atomiser::TABLE), Required, "how ink becomes mist for this layer"),
        key("tube", Kind::Tables(&tube::TABLE), Required, "tubing of this layer; replaces the whole list at the top"),
        key("head", Kind::Table(&head::TABLE), Required, "print head of this layer"),
        key("flight", Kind::Table(&flight::TABLE), Required, "from the nozzle to the chip for this layer"),
        key("landing", Kind::Table(&landing::TABLE), Optional, "what a droplet of this layer does on contact"),
        key("stage", Kind::Table(&stage::TABLE), Optional, "motion stage and shutter for this layer"),
        key("output", Kind::Table(&output::TABLE), Optional, "change of the mist output with time, counted from the start of this layer"),
        key("path", Kind::Shapes(PATH), Required, "what this layer prints, in order"),
    ],
};

/// Keys that a layer never takes from the top of the file.
pub(crate) const NOT_INHERITED: [&str; 4] = ["name", "pause_s", "path", "layer"];
/// Keys of which only one may be given.
pub(crate) const ALTERNATIVES: [[&str; 2]; 2] = [["frequency_mhz", "droplet_median_um"], ["droplet_median_um", "frequency_mhz"]];

/// Most repeated sections under a key; so many others. Bounds on time and memory, far above what a bench needs.
pub(crate) const MOST_SECTIONS: [(&str, usize); 8] = [
    ("region", 1000), ("layer", 1000), ("limit", 1000), ("tube", 1000), ("powder", MOST_POWDERS), ("solvent", 100), ("sizes", 100), ("axis", 100),
];
/// Most repeated sections under any other key.
pub(crate) const MOST_OTHER_SECTIONS: usize = 10_000;
/// Most powders of all inks together: each has maps of its own.
pub(crate) const MOST_POWDERS: usize = 100;

/// A key of this name, in whichever section it stands first.
pub(crate) fn anywhere(name: &str) -> Option<&'static Key> {
    fn search(section: &'static Section, name: &str) -> Option<&'static Key> {
        section.key(name).or_else(|| {
            section.keys.iter().find_map(|key| match key.kind {
                Kind::Table(inner) | Kind::Tables(inner) => search(inner, name),
                Kind::Shapes(shapes) => shapes.iter().find_map(|shape| search(shape, name)),
                _ => None,
            })
        })
    }
    search(&root::TABLE, name)
}

section! {
    /// `[gas]`.
    gas: GasInputs;
    "gas", "Carrier and sheath gas";
    key("kind", Kind::Choice(GasSpecies::WORDS), Word("nitrogen"), "which gas") => species;
    number("temperature_c", CELSIUS, [5.0, 90.0], "the properties of inks and gas are known over this range", Default(22.0),
        "temperature of ink, atomiser and tube") => temperature;
    number("pressure_kpa", KPA, [50.0, 300.0], "the head works near ambient pressure", Default(101.325),
        "absolute pressure in tube and head") => pressure;
    number("flow_reference_c", CELSIUS, [0.0, 30.0], "flow controllers refer to a temperature of 0 to 30 C", Assumed(0.0,
        "0 taken for 20 makes all flows wrong by 7 %: the data sheet of the controllers tells"),
        "temperature to which the controllers' standard litres refer; usually 0 or 20");
    number("carrier_saturation", RATIO, [0.0, 1.0], "0 is dry, 1 is saturated", Assumed(1.0,
        "mist dries in a carrier that is not saturated: weigh a solvent bubbler before and after an hour of carrier flow"),
        "saturation of the carrier with the ink's solvents after the atomiser") => carrier_saturation;
    number("sheath_saturation", RATIO, [0.0, 1.0], "0 is dry, 1 is saturated", Default(0.0),
        "saturation of the sheath with the ink's solvents; 0 if it comes from a bottle") => sheath_saturation;
}

section! {
    /// `[flow]`.
    flow: Flows;
    with reference: FlowReference;
    "flow", "Flows as set on the controllers";
    number("carrier_sccm", SCCM, [0.5, 500.0], "without carrier no mist leaves the atomiser; above 500 sccm no head focuses", Required,
        "carrier gas through the atomiser") => carrier;
    number("sheath_sccm", SCCM, [0.0, 2000.0], "0 means no focusing; above 2000 sccm nozzles of this kind choke", Required, "sheath gas") => sheath;
}

/// `[ink]`.
pub(crate) const INK: Section = Section {
    name: "ink",
    help: "What is in the vial",
    keys: &[
        key("solvent", Kind::Tables(&solvent::TABLE), Required, "the liquid"),
        key("powder", Kind::Tables(&powder::TABLE), Required, "the solids"),
        number("settling_percent_per_h", PERCENT_PER_H, [0.0, 99.0], "it is a share of the solids", Optional,
            "share of the solids that settles in the vial in an hour without stirring, of what is left: dry and weigh 1 mL from the vial at the start and after an hour of mist. For the figure of a whole fill; prints take the ink as it is stated"),
    ],
};

section! {
    /// `[[ink.solvent]]`.
    solvent: Solvent;
    with name: String, vapour_heat_capacity: f64, table: Option<SolventTable>, reproductive_toxicity: bool;
    after base: &Solvent;
    "solvent", "One solvent; a built-in one needs only its name and share, any property given here wins over the built-in value";
    key("name", Kind::Text, Required, "name of the solvent");
    number("mass_percent", PERCENT, [0.01, 100.0], "it is a share of the liquid", Default(100.0), "share of the liquid's mass");
    number("molar_mass_g_mol", G_MOL, [10.0, 1000.0], "molecules of solvents weigh 18 to some hundred g/mol", Optional, "molar mass") => molar_mass or base.molar_mass;
    number("density_g_cm3", G_CM3, [0.5, 3.5], "liquids lie there", Optional, "density of the liquid") => density or base.density;
    number("viscosity_mpa_s", MPA_S, [0.1, 5000.0], "thinner is no liquid, thicker cannot be atomised", Optional, "viscosity of the liquid") => viscosity or base.viscosity;
    number("surface_tension_mn_m", MN_M, [5.0, 100.0], "liquids at room temperature lie there", Optional, "surface tension") => surface_tension or base.surface_tension;
    number("latent_heat_kj_kg", KJ_KG, [50.0, 3000.0], "liquids lie there", Optional, "latent heat of evaporation") => latent_heat or base.latent_heat;
    number("vapour_pressure_pa", PA, [1e-4, 1e5], "above one atmosphere it boils", Optional, "saturation vapour pressure") => vapour_pressure or base.vapour_pressure;
    number("vapour_temperature_c", CELSIUS, [0.0, 150.0], "it is the temperature of the vapour pressure's measurement", Optional,
        "temperature at which vapour_pressure_pa holds") => vapour_temperature or base.vapour_temperature;
    number("diffusivity_mm2_s", MM2_S, [0.5, 100.0], "vapours in gas at one atmosphere lie there", Optional,
        "diffusivity of the vapour in the gas at 25 C and one atmosphere") => diffusivity or base.diffusivity;
    number("flash_point_c", CELSIUS, [-60.0, 400.0], "flash points of solvents lie there", Optional, "flash point, for the cautions") => flash_point or base.flash_point;
}

section! {
    /// `[[ink.powder]]`.
    powder: Powder;
    with sizes: SizeDistribution;
    "powder", "One powder";
    key("name", Kind::Text, Required, "name on maps and in tables; hazards are recognised from it") => name;
    number("mass_percent", PERCENT, [1e-4, 60.0], "above 60 % nothing flows", Required, "share of the whole ink's mass") => mass_fraction;
    number("density_g_cm3", G_CM3, [0.5, 23.0], "the lightest and the densest solids lie there", Required, "density of the solid itself, not of the heap") => density;
    key("sizes", Kind::Tables(&size::TABLE), Optional, "particle sizes as received: one or more lognormal modes");
    key("size_csv", Kind::Text, Optional, "particle sizes as received: file with the columns lower_um, upper_um, amount; beside the scenario");
    key("size_weighting", Kind::Choice(Weighting::WORDS), Word("volume"),
        "what the sizes count: volume (laser diffraction) or number (counted in images)");
    number("packing_fraction", RATIO, [0.05, 0.95], "0.64 is random packing of equal balls; loose deposits lie at 0.3 to 0.6", Assumed(0.5,
        "deposit height goes as its inverse: weigh a coupon and measure its height with a profiler"),
        "solid volume per volume of the deposit") => packing_fraction;
    number("capacity_mah_g", MAH_G, [0.0, 5000.0], "lithium, the best, holds 3860 mAh/g", Default(0.0), "theoretical capacity; 0 if not active") => capacity;
    number("mean_free_path_nm", NM, [10.0, 2000.0], "inelastic mean free paths at 60 to 300 kV lie there", Optional,
        "inelastic mean free path at the beam's voltage; estimated from the density if left out") => mean_free_path;
    key("conducting", Kind::Flag, Word("false"), "whether it conducts electrons") => conduction;
    key("hazards", Kind::Choices(Hazard::WORDS), Optional,
        "hazard groups beside those recognised from the name") => hazards;
}

section! {
    /// `sizes = [{ ... }]`.
    size: LognormalMode;
    with weighting: Weighting;
    "sizes", "One lognormal mode";
    number("median_um", UM, [0.001, 100.0], "finer is a molecule, coarser never rides in a droplet", Required, "median diameter in the given weighting") => median;
    number("gsd", COUNT, [1.01, 5.0], "1 would be all equal; measured powders reach about 3", Required, "geometric standard deviation") => gsd;
    number("share", COUNT, [1e-9, 1e9], "it must be positive; shares are normalised", Default(1.0), "share of this mode, relative to the others") => share;
}

section! {
    /// `[atomiser]`.
    atomiser: Atomiser;
    with median: DropletMedian;
    "atomiser", "How ink becomes mist: give either frequency_mhz or droplet_median_um";
    number("frequency_mhz", MHZ, [0.02, 10.0], "ultrasonic atomisers work there", Optional,
        "ultrasonic frequency; the median droplet diameter by count follows from it (Lang 1962), roughly. At MHz measured medians by mass agree with it, so that by count droplets may be smaller by exp(3 ln^2 GSD), 1.6 times at a GSD of 1.5");
    number("droplet_median_um", UM, [0.2, 30.0], "finer droplets carry nothing, coarser ones settle in the tube", Optional,
        "measured median droplet diameter, by count; a median by mass or volume is larger, divide it by exp(3 ln^2 GSD): by 1.6 at a GSD of 1.5");
    number("droplet_gsd", COUNT, [1.01, 3.0], "1 would be all equal; atomisers give 1.3 to 1.8", Assumed(1.5,
        "it sets how many coarse droplets fly, and how far the median by mass lies above that by count: measure it with an aerosol sizer or from droplet marks on an oiled slide, and note whether the instrument counts or weighs"),
        "geometric standard deviation of the droplet diameters; the same by count and by mass") => gsd;
    number("mist_load_ul_per_l", UL_PER_L, [1e-3, 500.0], "fog at its thickest holds about 100 µL/L", Assumed(10.0,
        "deposited mass goes with it: weigh the vial before and after half an hour of mist and divide by the carrier volume"),
        "ink that leaves as mist, per standard litre of carrier") => mist_load;
    number("retention_midpoint", COUNT, [0.01, 1.0], "a particle larger than its droplet cannot ride", Assumed(0.33,
        "it cuts the coarse particles off: compare printed particle sizes in images with the powder as received"),
        "particle-to-droplet diameter ratio at which half the particles ride") => retention_midpoint;
    number("retention_steepness", COUNT, [0.5, 50.0], "below 0.5 there is no cut, above 50 it is a step", Assumed(8.0,
        "fit it together with retention_midpoint"), "exponent of the retention curve") => retention_steepness;
    number("fill_ml", ML, [1e-3, 1000.0], "vials hold up to some hundred mL", Optional,
        "ink of one filling that can become mist: what is filled in less what stays in the vial; tells how many chips it is enough for") => fill;
}

section! {
    /// `[[tube]]`.
    tube: TubePiece;
    "tube", "One piece of tubing";
    number("length_mm", MM, [1.0, 10_000.0], "mist is led over millimetres to metres", Required, "length") => length;
    number("bore_mm", MM, [0.3, 30.0], "narrower clogs, wider lets all mist settle", Required, "inner diameter") => bore;
    number("inclination_deg", DEG, [-90.0, 90.0], "0 is horizontal, 90 is vertical", Default(0.0), "angle to the horizontal") => inclination;
    key("bends_deg", Kind::Numbers(Number { unit: DEG, least: 1.0, most: 360.0, why: "a bend turns by 1 to 360 degrees" }), Optional,
        "angles of the bends in this piece, e.g. [90, 90]") => bends;
}

section! {
    /// `[head]`.
    head: Head;
    after gas_temperature: f64;
    "head", "Print head: the sheath joins, droplets dry, the bore tapers to the nozzle";
    number("temperature_c", CELSIUS, [5.0, 100.0], "the properties of the gas are known up to 100 C", Optional, "gas temperature in the head; that of the gas if left out") => temperature or gas_temperature;
    number("inlet_bore_mm", MM, [0.1, 20.0], "heads are made so", Required, "bore where the sheath joins, before the taper") => inlet_bore;
    number("mixing_length_mm", MM, [0.0, 200.0], "heads are made so", Required, "straight length from where the sheath joins to the taper") => mixing_length;
    number("nozzle_um", UM, [10.0, 2000.0], "finer nozzles clog at once, wider ones do not focus", Required, "bore of the nozzle exit (diameter)") => nozzle;
    number("half_angle_deg", DEG, [1.0, 45.0], "it is half of the full angle of the cone; beyond 45 degrees the flow is another", Assumed(6.0,
        "line widths depend on it: look at the maker's drawing, measure a cast of the bore or a nozzle cut lengthways under a microscope, or fit it to a printed test line"),
        "half angle of the taper, from the axis to the wall") => half_angle;
    number("land_um", UM, [0.0, 20_000.0], "it is a short straight end", Follows("line widths depend on it: look at the maker's drawing, measure a cast of the bore or a nozzle cut lengthways under a microscope, or fit it to a printed test line together with the half angle"),
        "straight length at the exit; if left out, as long as the nozzle is wide (unverified)") => land or nozzle;
    number("plug_blend", RATIO, [0.0, 1.0], "0 is a developed profile, 1 is plug flow", Optional,
        "flow profile at the exit, in place of the one that is solved for the bore: for fitting to the width of lines printed at two or three sheath flows") => plug_blend;
}

section! {
    /// `[flight]`.
    flight: Flight;
    "flight", "From the nozzle exit to the chip";
    number("stand_off_mm", MM, [0.2, 50.0], "nearer the nozzle touches, farther no laminar jet lasts", Required, "distance from nozzle exit to chip") => stand_off;
    number("lift_factor", RATIO, [0.0, 1.0], "0 is no lift, 1 is Saffman's lift in full", Assumed(0.0,
        "whether shear lift narrows or widens lines depends on the setting: fit it last, to line widths at two stand-offs or more"),
        "share of the shear lift that is applied") => lift_factor;
    number("radius_factor", COUNT, [0.2, 5.0], "a focus that far from the computed one is another one", Default(1.0),
        "what the distances from the axis at which droplets land are multiplied by: above 1 the jet focuses less than computed; learnt from test lines") => radius_factor;
    key("model", Kind::Choice(FlightModel::WORDS), Word("jet"), "jet: droplets tracked through the solved jet; straight: for exact checks only") => model;
    key("landing", Kind::Choice(LandingMethod::WORDS), Word("table"), "table: fast; direct: every droplet tracked, slow (not where [spread] lets flows or stand-off differ: each print would need a jet of its own, so tables are used)") => landing;
}

section! {
    /// `[landing]`.
    landing: Landing;
    after gas_temperature: f64;
    "landing", "What a droplet does on contact";
    number("contact_angle_deg", DEG, [1.0, 179.0], "0 wets without end, 180 does not touch", Assumed(30.0,
        "it sets how far a wet droplet spreads: photograph a drop of ink on a chip from the side"), "contact angle of the ink on the chip") => contact_angle;
    key("spread", Kind::Choice(SpreadRule::WORDS), Word("larger"), "footprint of a wet droplet: resting cap, spread by the impact, or the larger of both") => spread;
    key("bead", Kind::Choice(BeadRule::WORDS), Word("spread"),
        "lines with more liquid than their width holds: spread lets the line run to a bead that holds it, keep leaves particles where their droplets land") => bead;
    number("chip_c", CELSIUS, [5.0, 150.0], "beyond it no vapour pressure is known well", Optional,
        "temperature of the chip, for how wet lines dry between passes (droplets in flight do not feel it); that of the gas if left out") => chip_temperature or gas_temperature;
    number("rim_bias", RATIO, [0.0, 1.0], "0 is even, 1 is all at the rim", Assumed(0.0,
        "look at a single dried droplet in an electron microscope: is there a ring?"), "how far particles gather at the rim of the footprint") => rim_bias;
    number("residue_packing", RATIO, [0.05, 0.95], "0.64 is random packing of equal balls", Assumed(0.55,
        "it sets the size of droplets that dry in flight; look at dry residues far from the line"),
        "solid volume per volume of a residue that dried in flight") => residue_packing;
    key("bounce", Kind::Table(&bounce::TABLE), Optional, "bounce of dry grains; none if left out") => bounce;
}

section! {
    /// `bounce = { ... }`.
    bounce: Bounce;
    "bounce", "Bounce of dry grains";
    number("above_m_s", M_S, [0.01, 300.0], "slower grains stick, and none is faster than the gas", Required, "normal impact speed above which grains may bounce") => above_speed;
    number("probability", RATIO, [0.0, 1.0], "it is a probability", Required, "probability of bouncing off") => probability;
}

impl Value for Option<Bounce> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.optional_table(name).map(|bounce| bounce::read(&bounce))
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(bounce::write(self.as_ref()?).done())
    }
}

section! {
    /// `[stage]`.
    stage: Stage;
    "stage", "Motion stage and shutter";
    number("acceleration_m_s2", M_S2, [1e-3, 100.0], "stages reach 0.1 to 20 m/s^2", Assumed(1.0,
        "line ends come out thick where the stage is slow: see the stage's data sheet"), "acceleration limit") => acceleration;
    number("travel_mm_s", MM_S, [0.01, 1000.0], "stages move so", Default(20.0), "speed of moves with the shutter closed") => travel_speed;
    number("shutter_open_ms", MS, [0.0, 5000.0], "shutters take 2 to 20 ms", Assumed(10.0,
        "line starts shift by it: print a line at two speeds and compare where they start"), "delay from command to open") => shutter_open_delay;
    number("shutter_close_ms", MS, [0.0, 5000.0], "shutters take 2 to 20 ms", Assumed(10.0,
        "line ends shift by it: print a line at two speeds and compare where they end"), "delay from command to closed") => shutter_close_delay;
    key("shutter_lead", Kind::Choice(ShutterLead::WORDS), Word("none"),
        "when the shutter is told: none: at the first and the last point of a stroke, so that mist is late by the delays; compensated: earlier by the delays, so that mist reaches the chip from the first to the last point; the stage waits where the way between strokes is too short for that") => shutter_lead;
    number("jitter_um", UM, [0.0, 100.0], "beyond 100 µm it is no stage for chips", Assumed(0.5,
        "print the same dot place ten times and measure the scatter"), "standard deviation of the position error per axis") => jitter;
    number("run_up_um", UM, [0.0, 50_000.0], "it is a short straight before each stroke", Default(0.0),
        "straight before and after each stroke with the shutter closed") => run_up;
}

section! {
    /// `[output]`.
    output: OutputDrift;
    "output", "Change of the mist output with time";
    number("warm_up_s", S, [0.0, 86_400.0], "at most a day", Assumed(600.0,
        "the output rises while the mist runs in: note when the atomiser was switched on"), "time from the start of atomising to the start of the print") => warm_up;
    key("chips_per_warm_up", Kind::Integer(1, 10_000), Default(1.0), "how many chips are printed, one after the other, after one warm-up: shares its time and ink among them") => chips_per_warm_up;
    number("chip_change_s", S, [0.0, 86_400.0], "at most a day", Default(0.0),
        "time from the end of a print to the begin of the next with the mist running; 0 if it is switched off meanwhile") => chip_change;
    number("run_in_s", S, [1.0, 86_400.0], "at most a day", Assumed(300.0,
        "print a line every minute from the start and compare their heights"), "time constant of the run-in") => run_in_time;
    number("run_in_deficit_percent", PERCENT, [0.0, 99.0], "it is the share missing at first", Assumed(10.0,
        "print a line every minute from the start and compare their heights"), "missing share of the output when atomising starts") => run_in_deficit;
    number("trend_percent_per_h", PERCENT_PER_H, [-90.0, 90.0], "faster change is no steady output", Assumed(0.0,
        "weigh coupons printed at the start and the end of a day"), "slow relative change") => trend;
    number("noise_percent", PERCENT, [0.0, 50.0], "more is no steady output", Assumed(3.0,
        "print twenty equal lines and take the scatter of their heights"), "standard deviation of the output") => noise_sd;
    number("noise_time_s", S, [0.01, 3600.0], "shorter averages out, longer is a trend", Assumed(10.0,
        "print one long line and see over which length its height wanders"), "time over which the output keeps its deviation") => noise_time;
}

const fn shape(kind: &'static [&'static str]) -> Key {
    key("kind", Kind::Choice(kind), Required, "which shape")
}

const NAME: Key = key("name", Kind::Text, Required, "name in tables and limits");
const SPEED: Key = number("speed_mm_s", MM_S, [0.001, 500.0], "slower floods, faster leaves nothing", Required, "stage speed while printing");
const PASSES: Key = key("passes", Kind::Integer(1, 10_000), Default(1.0), "how many times it is printed over");
const CENTER: Key = key("center_um", Kind::Point(place(UM)), Required, "centre [x, y]");
const SIDE: Number = Number { unit: UM, least: 0.2, most: 2e5, why: "sides are lengths in µm, between a droplet and a wafer" };
const SIZES: Key = key("size_um", Kind::Point(SIDE), Required, "width along x and height along y, before rotation");
const ROTATION: Key = number("rotation_deg", DEG, [-360.0, 360.0], "one full turn is enough", Default(0.0), "rotation, counter-clockwise");
const RADIUS: Key = number("radius_um", UM, [0.1, 1e5], "it is a length in µm, between a droplet and a wafer", Required, "radius");
const SPACING: Key = number("spacing_um", UM, [0.5, 5000.0], "closer strokes take hours, wider ones leave gaps", Required, "distance between strokes");

const FILE: Key = key("file", Kind::Text, Required, "drawing in DXF or SVG; beside the scenario");
const IN_LAYER: Key = key("layer", Kind::Text, Optional, "layer of a DXF, or name of a group in an SVG; the whole drawing if left out");
const DRAWING_UNIT: Key = key("drawing_unit", Kind::Choice(LengthUnit::WORDS), Optional, "length of one unit of the drawing; as the file states if left out");
const AT: Key = key("at_um", Kind::Point(place(UM)), Optional, "where the drawing's zero comes to lie [x, y]; the chip's centre if left out");
const FINGERPRINT: Key = key("fingerprint", Kind::Text, Optional, "if given, the drawing must still be the one with this fingerprint; `motefall check` shows it");

/// `[[path]]`, one section per kind.
pub(crate) const PATH: &[Section] = &[LINE, POLYLINE, path_rectangle::TABLE, path_disc::TABLE, path_dot::TABLE, path_drawing::TABLE];

/// Two points of a [`Shape::Polyline`].
pub(crate) const LINE: Section = Section {
    name: "line",
    help: "A straight line",
    keys: &[shape(&["line"]), NAME, key("from_um", Kind::Point(place(UM)), Required, "start [x, y]"), key("to_um", Kind::Point(place(UM)), Required, "end [x, y]"), SPEED, PASSES],
};

/// Any other [`Shape::Polyline`].
pub(crate) const POLYLINE: Section = Section {
    name: "polyline",
    help: "Straight strokes through points",
    keys: &[shape(&["polyline"]), NAME, key("points_um", Kind::Points(place(UM), 2), Required, "points [[x, y], ...]"), SPEED, PASSES],
};

section! {
    /// A rectangle of the path.
    path_rectangle: Shape::FilledRectangle;
    "rectangle", "Back-and-forth strokes over a rectangle";
    shape(&["rectangle"]);
    NAME;
    CENTER => center;
    SIZES => size;
    ROTATION => rotation;
    SPACING => spacing;
    SPEED;
    PASSES;
}

section! {
    /// A disc of the path.
    path_disc: Shape::FilledDisc;
    "disc", "Back-and-forth strokes over a disc";
    shape(&["disc"]);
    NAME;
    CENTER => center;
    RADIUS => radius;
    SPACING => spacing;
    SPEED;
    PASSES;
}

section! {
    /// A dot.
    path_dot: Shape::Dot;
    "dot", "The shutter opens at a resting point";
    shape(&["dot"]);
    NAME;
    key("at_um", Kind::Point(place(UM)), Required, "place [x, y]") => at;
    number("dwell_s", S, [1e-3, 3600.0], "shorter than the shutter's delays nothing lands", Required, "commanded open time; with stage.shutter_lead = \"compensated\", how long mist reaches the chip") => dwell;
    PASSES;
}

section! {
    /// A drawing of the path, if it is filled; where it comes from is a [`drawing_source`].
    path_drawing: Filled;
    with area: Arc<Contours>, spacing: Spacing, source: Option<DrawingSource>;
    "drawing", "Shapes of a drawing: closed ones filled with parallel strokes, or all of them drawn as lines";
    shape(&["drawing"]);
    NAME;
    FILE;
    IN_LAYER;
    DRAWING_UNIT;
    FINGERPRINT;
    AT;
    ROTATION;
    key("draw", Kind::Choice(Draw::WORDS), Word("fill"), "fill: parallel strokes over the area of closed shapes; lines: along every line");
    number("spacing_um", UM, [0.5, 5000.0], "closer strokes take hours, wider ones leave gaps", Optional,
        "distance between strokes; if left out, half the computed width of a line at half height");
    number("angle_deg", DEG, [-360.0, 360.0], "one full turn is enough", Default(0.0), "direction of the strokes, counter-clockwise from the x axis") => angle;
    key("turns", Kind::Choice(Turns::WORDS), Word("open"),
        "open: the stage turns to the next stroke with the shutter open; shut: the shutter closes after every stroke, and with stage.run_up_um the stage turns outside of the area") => turns;
    key("edge", Kind::Flag, Word("false"), "whether the edge is drawn before the area is filled") => edge;
    SPEED;
    PASSES;
}

section! {
    /// What the drawings of path and regions have in common.
    drawing_source: DrawingSource;
    with fingerprint: String;
    "drawing", "Where a drawing is and how it lies on the chip";
    FILE => file;
    IN_LAYER => layer;
    DRAWING_UNIT => unit;
    AT => at or [0.0; 2];
    ROTATION => rotation;
}

const ROLE: Key = key("role", Kind::Choice(Role::WORDS), Required,
    "target: print here; counter: print the counter electrode here; electrode: nothing may land; window: thin membrane, may lie under others; keep-out: nothing may land, and if the file sets limits, a print with a particle there fails unless a limit of your own on that region says otherwise");

/// `[[region]]`, one section per kind.
pub(crate) const REGION: &[Section] = &[region_rectangle::TABLE, region_disc::TABLE, POLYGON, DRAWN_REGION];

section! {
    /// A rectangular region.
    region_rectangle: Outline::Rectangle;
    "rectangle", "A rectangular area";
    shape(&["rectangle"]);
    NAME;
    ROLE;
    CENTER => center;
    SIZES => size;
    ROTATION => rotation;
}

section! {
    /// A round region.
    region_disc: Outline::Disc;
    "disc", "A round area";
    shape(&["disc"]);
    NAME;
    ROLE;
    CENTER => center;
    RADIUS => radius;
}

/// An [`Outline::Area`] by its corners.
pub(crate) const POLYGON: Section = Section {
    name: "polygon",
    help: "An area inside a polygon",
    keys: &[shape(&["polygon"]), NAME, ROLE, key("points_um", Kind::Points(place(UM), 3), Required, "corners [[x, y], ...], the first not repeated")],
};

/// An [`Outline::Area`] of a drawing.
pub(crate) const DRAWN_REGION: Section = Section {
    name: "drawing",
    help: "The area of closed shapes of a drawing; a shape within another is a hole",
    keys: &[shape(&["drawing"]), NAME, ROLE, FILE, IN_LAYER, DRAWING_UNIT, FINGERPRINT, AT, ROTATION],
};

section! {
    /// `[chip]`.
    chip: Chip;
    "chip", "Extent of the chip; its centre is x = 0, y = 0";
    number("width_mm", MM, [0.05, 300.0], "from a sliver to a wafer", Required, "width along x") => width;
    number("height_mm", MM, [0.05, 300.0], "from a sliver to a wafer", Required, "height along y") => height;
}

section! {
    /// `[map]`.
    map: MapInputs;
    "map", "Resolution of the figures, and grid of the maps";
    number("resolution_um", UM, [0.02, 1000.0], "finer than a small grain, a place is a grain or none; coarser than a spot on a test disc, nothing is told apart", Assumed(0.5,
        "take what your question averages over: the diameter of the beam or of the selected area where you will measure, or the pixel of your detector on the chip; half a micrometre is a usual selected area (common practice, no source)"),
        "edge of the squares over which thickness is averaged before its percentiles, its unevenness, and what is usable or too thick are taken") => resolution;
    number("pitch_um", UM, [0.01, 1000.0], "finer than a grain shows nothing new, coarser shows nothing", Required, "edge of a map pixel, for pictures and map files; no figure depends on it") => pitch;
    number("margin_um", UM, [0.0, 20_000.0], "maps reach a little beyond regions and path", Default(50.0), "how far maps reach beyond regions and path") => margin;
    key("write_particles", Kind::Flag, Word("false"), "whether every landed particle is listed in a file") => write_particles;
}

section! {
    /// `[beam]`.
    beam: Beam;
    with layers: Vec<BeamLayer>;
    "beam", "Electron beam and the layers it crosses besides the deposit";
    number("voltage_kv", KV, [60.0, 300.0], "the relation for the mean free path is used from 60 to 300 kV", Default(200.0), "accelerating voltage") => voltage;
    number("limit_mean_free_paths", COUNT, [0.05, 20.0], "images fade beyond one or two mean free paths", Default(1.0),
        "thickness over mean free path above which a place is too thick") => limit;
    key("layer", Kind::Tables(&beam_layer::TABLE), Optional, "layers such as membranes or liquid");
}

section! {
    /// `[[beam.layer]]`.
    beam_layer: BeamLayer;
    with mean_free_path: f64;
    "layer", "A uniform layer in the beam";
    key("material", Kind::Text, Required, "material") => material;
    number("thickness_nm", NM, [0.1, 100_000.0], "thicker than 100 µm no electrons pass", Required, "thickness") => thickness;
    number("density_g_cm3", G_CM3, [0.05, 23.0], "the lightest and the densest solids lie there", Optional, "density, if the material is not built in");
    number("mean_free_path_nm", NM, [10.0, 2000.0], "inelastic mean free paths at 60 to 300 kV lie there", Optional, "inelastic mean free path, if measured");
}

/// C-rates at which currents are given unless the scenario names others.
pub(crate) const USUAL_RATES: [f64; 3] = [0.1, 1.0, 10.0];

section! {
    /// `[cell]`.
    cell: Cell;
    "cell", "The cell that the electrodes make";
    key("c_rates", Kind::Numbers(Number { unit: COUNT, least: 1e-4, most: 1e4, why: "from a discharge over a year to one in less than a second" }),
        Optional, "C-rates at which the report gives currents, of the theoretical capacity; 0.1, 1 and 10 if left out") => rates or USUAL_RATES.to_vec();
}

section! {
    /// `[acceptance]`.
    acceptance: Acceptance;
    with limits: Vec<Limit>, implied: usize;
    "acceptance", "Limits that decide whether the setting is accepted";
    number("required_share_percent", PERCENT, [1.0, 100.0], "it is the share of prints that must meet every limit", Default(90.0),
        "share of prints that must meet every limit") => required_share;
    key("limit", Kind::Tables(&LIMIT), Optional, "the limits");
}

/// `[[acceptance.limit]]`.
pub(crate) const LIMIT: Section = Section {
    name: "limit",
    help: "One limit, in the unit of its figure",
    keys: &[
        key("figure", Kind::Text, Required, "which figure"),
        key("place", Kind::Text, Optional, "region or path item; none for figures of the whole print"),
        number("min", COUNT, [-1e12, 1e12], "it must be a finite number", Optional, "least accepted value"),
        number("max", COUNT, [-1e12, 1e12], "it must be a finite number", Optional, "largest accepted value"),
    ],
};

/// An input that may differ from print to print.
pub(crate) struct SpreadPart {
    /// Which.
    pub(crate) input: VariedInput,
    /// Its section within `[spread]`.
    pub(crate) section: &'static Section,
    /// The key of its standard deviation.
    pub(crate) sd: &'static str,
}

macro_rules! spreads {
    ($($table:ident $input:ident $name:literal $sd:literal $unit:ident $most:literal $why:literal, $assumed:literal, $advice:literal, $help:literal;)*) => {
        $(const $table: Section = Section {
            name: $name,
            help: $help,
            keys: &[
                key("law", Kind::Choice(Law::WORDS), Word("normal"),
                    "law of the deviation; its mean is 0, and a normal one is cut at four standard deviations"),
                number($sd, $unit, [0.0, $most], $why, Assumed($assumed, $advice), concat!("standard deviation of the ", $help, "; 0 if it never differs")),
            ],
        };)*
        /// What may differ, in the order of the sections of [`SPREAD`].
        pub(crate) const VARIED: &[SpreadPart] = &[$(SpreadPart { input: VariedInput::$input, section: &$table, sd: $sd }),*];

        /// `[spread]`.
        pub(crate) const SPREAD: Section = Section {
            name: "spread",
            help: "What differs from print to print besides chance; a part that is left out takes an unverified default, sd 0 switches it off",
            keys: &[$(key($name, Kind::Table(&$table), Optional, $help)),*],
        };
    };
}

spreads! {
    SPREAD_X AlignmentX "alignment_x" "sd_um" UM 500.0 "0 switches it off; beyond 500 µm the print is not on its electrode", 3.0,
        "print a cross beside a mark ten times, taking the chip out in between, and take the scatter along x", "shift of the print along x";
    SPREAD_Y AlignmentY "alignment_y" "sd_um" UM 500.0 "0 switches it off; beyond 500 µm the print is not on its electrode", 3.0,
        "print a cross beside a mark ten times, taking the chip out in between, and take the scatter along y", "shift of the print along y";
    SPREAD_ROTATION Rotation "rotation" "sd_deg" DEG 5.0 "0 switches it off; 5 degrees are seen by eye", 0.2,
        "print a long line beside a straight edge ten times, taking the chip out in between, and take the scatter of its angle", "rotation of the print about the centre of the chip";
    SPREAD_STAND_OFF StandOff "stand_off" "sd_um" UM 500.0 "0 switches it off; beyond 500 µm nobody set it", 30.0,
        "set the stand-off ten times and measure it with a gauge or the side camera", "stand-off";
    SPREAD_CARRIER Carrier "carrier" "sd_percent" PERCENT 10.0 "0 switches it off; flow controllers hold 1 to 2 %, beyond 10 % they are broken", 1.0,
        "the data sheet of the controller tells its repeatability; or set the flow ten times and read a bubble meter", "carrier flow, of the set value";
    SPREAD_SHEATH Sheath "sheath" "sd_percent" PERCENT 10.0 "0 switches it off; flow controllers hold 1 to 2 %, beyond 10 % they are broken", 1.0,
        "the data sheet of the controller tells its repeatability; or set the flow ten times and read a bubble meter", "sheath flow, of the set value";
    SPREAD_OUTPUT Output "output" "sd_percent" PERCENT 20.0 "0 switches it off; beyond 20 % four standard deviations leave hardly any mist", 5.0,
        "print the same line on ten days and take the scatter of its height", "level of the mist output, of its mean";
    SPREAD_TREND Trend "trend" "sd_percent_per_h" PERCENT_PER_H 20.0 "0 switches it off; more is no steady output", 5.0,
        "weigh coupons printed at the start and the end of five days and take the scatter of the change", "slow change of the mist output";
    SPREAD_WARM_UP WarmUp "warm_up" "sd_s" S 3600.0 "0 switches it off; an hour more or less is no routine", 30.0,
        "note for ten prints when the atomiser was switched on and when the print began", "time from the start of atomising to the start of the print";
    SPREAD_SOLIDS Solids "solids" "sd_percent" PERCENT 20.0 "0 switches it off; beyond 20 % it is another ink", 3.0,
        "dry and weigh 1 mL of ink from ten fillings of the vial", "solids in the ink, of the set value";
    SPREAD_DROPLET DropletMedian "droplet_median" "sd_percent" PERCENT 20.0 "0 switches it off; beyond 20 % the atomiser is not in order", 3.0,
        "measure the droplet median on ten days with an aerosol sizer or from droplet marks on an oiled slide", "median droplet diameter, by count and by mass alike, of the set value";
}

/// Most points of a sweep: the Sobol sequence is built for so many.
pub(crate) const MOST_POINTS: u64 = 65_536;

/// `[sweep]`.
pub(crate) const SWEEP: Section = Section {
    name: "sweep",
    help: "Settings that `motefall sweep` varies",
    keys: &[
        key("design", Kind::Choice(DesignWord::WORDS), Word("grid"),
            "grid: every combination; sobol, latin-hypercube: so many points spread evenly over all axes"),
        key("points", Kind::Integer(1, MOST_POINTS), Optional, "number of points; not for a grid, whose axes tell"),
        key("prints", Kind::Integer(2, 10_000), Default(50.0), "prints of each point; with most_prints, prints of a round"),
        key("most_prints", Kind::Integer(2, 100_000), Optional, "if given, a point gets rounds of prints until its pass probability is known well enough, at most so many prints"),
        number("half_width_percent", PERCENT, [0.5, 25.0], "finer takes tens of thousands of prints, coarser says nothing", Default(5.0),
            "with most_prints: half width of the pass probability's interval that is narrow enough"),
        key("chance", Kind::Choice(Chance::WORDS), Word("common"),
            "common: print k meets the same chance at every point, so differences show sooner; own: every point has its own"),
        number("wanted_share_percent", PERCENT, [1.0, 100.0], "it is a share of the prints", Optional,
            "pass probability that counts as good enough; that of acceptance if left out"),
        key("axis", Kind::Tables(&AXIS), Required, "the settings that vary"),
    ],
};

/// `[advise]`.
pub(crate) const ADVISE: Section = Section {
    name: "advise",
    help: "Settings that `motefall advise` may change",
    keys: &[key("free", Kind::Tables(&FREE), Required, "the settings that may be changed")],
};

/// `[[advise.free]]`.
pub(crate) const FREE: Section = Section {
    name: "free",
    help: "One setting that may be changed, and what the machine can set",
    keys: &[
        key("key", Kind::Text, Required, "key of this file, e.g. flow.sheath_sccm, path[1].speed_mm_s or path[\"line\"].speed_mm_s"),
        key("least", Kind::Number(ANY), Required, "least value, in the unit of the key"),
        key("most", Kind::Number(ANY), Required, "largest value, in the unit of the key"),
        key("step", Kind::Number(Number { unit: COUNT, least: 1e-9, most: 1e13, why: "it must be above 0" }), Optional,
            "step that the machine can set; if left out, a usual one for the range"),
    ],
};

const ANY: Number = Number { unit: COUNT, least: -1e13, most: 1e13, why: "it must be a finite number" };

const fn any_number(help: &'static str, name: &'static str) -> Key {
    number(name, COUNT, [-1e13, 1e13], "it must be a finite number", Optional, help)
}

/// `[[sweep.axis]]`.
pub(crate) const AXIS: Section = Section {
    name: "axis",
    help: "One setting that varies: give either values, or from and to",
    keys: &[
        key("key", Kind::Text, Required, "key of this file, e.g. flow.sheath_sccm, path[1].speed_mm_s or path[\"line\"].speed_mm_s"),
        key("values", Kind::Numbers(Number { unit: COUNT, least: -1e13, most: 1e13, why: "it must be a finite number" }), Optional,
            "the values, in the unit of the key"),
        any_number("first value, in the unit of the key", "from"),
        any_number("last value, in the unit of the key", "to"),
        key("count", Kind::Integer(2, 1000), Default(5.0), "number of values on a grid; other designs take any value between from and to"),
        key("scale", Kind::Choice(Scale::WORDS), Word("linear"), "linear: even steps; log: even factors"),
    ],
};

#[cfg(test)]
mod tests {
    use super::*;

    /// Calls `visit` with every section of the file.
    fn every_section(section: &'static Section, visit: &mut impl FnMut(&'static Section)) {
        visit(section);
        for key in section.keys {
            match key.kind {
                Kind::Table(inner) | Kind::Tables(inner) => every_section(inner, visit),
                Kind::Shapes(shapes) => shapes.iter().for_each(|shape| every_section(shape, visit)),
                _ => {}
            }
        }
    }

    #[test]
    fn keys_end_with_their_unit_stand_once_and_default_within_their_range() {
        let mut n = 0;
        every_section(&root::TABLE, &mut |section| {
            for (i, key) in section.keys.iter().enumerate() {
                n += 1;
                assert!(section.keys[i + 1..].iter().all(|k| k.name != key.name), "{} stands twice in {}", key.name, section.name);
                if let (Kind::Choice(words), Need::Word(word)) = (key.kind, key.need) {
                    assert!(words.contains(&word), "{}: {word}", key.name);
                }
                let (Kind::Number(number) | Kind::Numbers(number) | Kind::Point(number) | Kind::Points(number, _)) = key.kind else {
                    continue;
                };
                assert!(number.unit.suffix.is_empty() || key.name.ends_with(&format!("_{}", number.unit.suffix)), "{}", key.name);
                assert!(number.least < number.most, "{}", key.name);
                if let Need::Default(value) | Need::Assumed(value, _) = key.need {
                    assert!((number.least..=number.most).contains(&value), "{}", key.name);
                }
            }
        });
        assert!(n > 100);
    }
}
