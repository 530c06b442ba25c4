//! The list of cautions: all that is told of each in one entry, besides its text, which holds the numbers of a print.
//!
//! A caution is raised in `run::cautions`, where a test asks for a case that raises it and one that does not.

use motefall_physics::materials::hazards::Hazard;

/// How much a caution weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know.
    Note,
    /// The prediction may be off.
    Caution,
    /// Someone may be hurt.
    Safety,
}

/// Where a caution stands besides the list of all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bearing {
    /// Nowhere.
    Aside,
    /// It doubts the model: named at the best point of a sweep, and avoided by an advice where a setting without it passes.
    Model,
    /// It bears on the decision: whole beside it.
    Decision,
}

/// Something the reader must know.
#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    /// Which caution.
    pub kind: CautionKind,
    /// One or two sentences in the user's words and units.
    pub text: String,
}

impl Caution {
    /// Weight.
    pub fn severity(&self) -> Severity {
        self.kind.severity()
    }
}

/// All that is told of a caution.
struct Entry {
    id: &'static str,
    severity: Severity,
    bearing: Bearing,
    words: &'static str,
}

/// Entries: identifier, severity, bearing, what it is about.
macro_rules! cautions {
    ($($variant:ident: $id:literal, $severity:ident, $bearing:ident, $words:literal;)*) => {
        /// A caution that the program can give.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum CautionKind {
            $(#[doc = concat!("`", $id, "`")] $variant,)*
        }

        impl CautionKind {
            /// All of them, safety first.
            pub const ALL: &[Self] = &[$(Self::$variant),*];

            fn entry(self) -> Entry {
                match self {
                    $(Self::$variant => Entry {
                        id: $id,
                        severity: Severity::$severity,
                        bearing: Bearing::$bearing,
                        words: $words,
                    },)*
                }
            }
        }
    };
}

cautions! {
    MistAndPowder: "mist-and-powder", Safety, Aside, "mist and powder can be breathed: enclosure and extraction";
    Nickel: "nickel", Safety, Aside, "nickel compounds are carcinogenic when breathed";
    Cobalt: "cobalt", Safety, Aside, "cobalt compounds harm the lungs";
    TitaniumDioxide: "titanium-dioxide", Safety, Aside, "fine titanium dioxide is suspected of causing cancer when breathed";
    CarbonBlack: "carbon-black", Safety, Aside, "carbon black is possibly carcinogenic when breathed";
    Manganese: "manganese", Safety, Aside, "manganese dust harms the nerves";
    Vanadium: "vanadium", Safety, Aside, "vanadium compounds irritate the airways";
    Chromium: "chromium", Safety, Aside, "chromium(VI) compounds are carcinogenic when breathed";
    Lead: "lead", Safety, Aside, "lead compounds harm nerves, blood and the unborn child";
    Cadmium: "cadmium", Safety, Aside, "cadmium compounds are carcinogenic when breathed";
    Indium: "indium", Safety, Aside, "indium compounds harm the lungs";
    Arsenic: "arsenic", Safety, Aside, "arsenic compounds are carcinogenic";
    Nanotubes: "nanotubes", Safety, Aside, "nanotubes and nanofibres may harm the lungs";
    InertGas: "inert-gas", Safety, Aside, "nitrogen or argon displaces air in a closed room";
    ToxicSolvent: "toxic-solvent", Safety, Aside, "a solvent is toxic";
    WarmSolvent: "warm-solvent", Safety, Aside, "a warm chip drives a harmful or flammable solvent off as vapour";
    ReproductiveToxicity: "reproductive-toxicity", Safety, Aside, "a solvent may harm the unborn child";
    Flammable: "flammable", Safety, Aside, "a solvent is flammable";
    LangRange: "lang-range", Caution, Model, "droplet size is estimated from the atomiser's frequency, outside the relation's range";
    TubeTurbulent: "tube-turbulent", Caution, Model, "flow in the mist tube may be turbulent; its losses are computed for laminar flow";
    BendRange: "bend-range", Note, Aside, "losses in bends are computed outside of where they were measured";
    GasRange: "gas-range", Caution, Aside, "gas is colder or warmer than its properties are known";
    SlipRange: "slip-range", Note, Aside, "the smallest droplets slip more than the relation covers";
    DragRange: "drag-range", Caution, Aside, "the largest droplets are faster than the law of drag covers";
    LiftRange: "lift-range", Caution, Aside, "the largest droplets are faster than the law of lift covers";
    SolventRange: "solvent-range", Caution, Aside, "a solvent's properties are extrapolated";
    VapourRange: "vapour-range", Note, Aside, "a vapour pressure is taken far from where it is known";
    VapourShareRange: "vapour-share-range", Caution, Aside, "vapour is no small share of the gas: drying is less sure";
    RoomGasRange: "room-gas-range", Caution, Aside, "the gas is much heavier or lighter than the air of the room, which the model of the jet does not know";
    BeamRange: "beam-range", Note, Aside, "mean free paths are taken at a voltage where they were not measured";
    ImpactRange: "impact-range", Note, Aside, "spreading on impact is taken outside of where it was measured";
    DryingTolerance: "drying-tolerance", Note, Aside, "drying was followed less closely than usual";
    ChanceOnly: "chance-only", Note, Aside, "prints differ by chance only: no [spread] is given";
    MixedTables: "mixed-tables", Note, Aside, "landing points of prints with other flows or stand-off are interpolated (to 0.3 µm or 1.5 %)";
    Mach: "mach", Caution, Model, "gas leaves the nozzle above Mach 0.3, where the model of the jet begins to be off";
    StraightFlight: "straight-flight", Caution, Model, "droplets fly straight down: a check, not a prediction";
    JetLength: "jet-length", Caution, Model, "stand-off is longer than the jet stays laminar: real lines are wider than shown";
    Reynolds: "reynolds", Caution, Model, "jet is likely unsteady (Reynolds number above 1500): real lines are wider than shown";
    LiftOn: "lift-on", Caution, Aside, "shear lift acts: no law is known to hold here, meant for fitting";
    LiftOff: "lift-off", Note, Aside, "shear lift is not counted: real lines may be wider or narrower";
    NoSheath: "no-sheath", Caution, Model, "no sheath gas focuses the mist";
    Bounce: "bounce", Caution, Aside, "dry grains may bounce off, by an assumed probability";
    Splash: "splash", Caution, Model, "large droplets may splash on the chip, which is not modelled";
    EntranceLength: "entrance-length", Note, Aside, "head is short for its flow: the aerosol core may be wider than shown";
    CoarsePowder: "coarse-powder", Caution, Model, "most of a powder is too coarse to ride in the droplets";
    DropletBudget: "droplet-budget", Caution, Model, "only a part of the print's droplets was simulated";
    ParticlesNotListed: "particles-not-listed", Note, Aside, "a list of particles was asked for, but none landed";
    TooManyParticles: "too-many-particles", Caution, Decision, "too many particles land to tell what touches what";
    StoppedEarly: "stopped-early", Caution, Decision, "the run was stopped before all prints were made";
    LittleLands: "little-lands", Caution, Aside, "hardly any of the solids that leave the vial land";
    NotFollowed: "not-followed", Note, Aside, "some of what comes out of the nozzle is carried far away and not followed";
    OffChip: "off-chip", Note, Aside, "some droplets land beyond the chip's edge";
    Bead: "bead", Caution, Model, "lines carry more liquid than holds where it lands: they run out to wet beads";
    UnverifiedDefaults: "unverified-defaults", Caution, Model, "some inputs are defaults that nobody has measured";
    Calibrated: "calibrated", Caution, Decision, "calibrated by test lines";
    CalibrationOutside: "calibration-outside", Caution, Model, "the calibration comes from lines that differ from this print";
    CalibrationMisfit: "calibration-misfit", Caution, Model, "the lines of the calibration do not bear the model out";
    KeepOutUnlimited: "keep-out-unlimited", Caution, Decision, "particles land on a keep-out region that no limit covers";
    BeadDrying: "bead-drying", Caution, Aside, "a line stays narrow only if it dries as fast as estimated";
    StrokesOutside: "strokes-outside", Caution, Aside, "much of what is printed lies outside of the shape to be filled";
    FillTooSmall: "fill-too-small", Caution, Decision, "the vial holds too little ink for one chip";
    Settling: "settling", Caution, Aside, "solids settle in the vial during a fill: stir it";
    ShortStrokes: "short-strokes", Caution, Aside, "strokes are too short for the shutter, although it is told in advance";
    ShutterWaits: "shutter-waits", Note, Aside, "the stage waits for the shutter between strokes";
    TooFewPrints: "too-few-prints", Caution, Aside, "too few prints to tell whether a limit on a probability is met";
    Bridge: "bridge", Caution, Aside, "conducting particles may join two electrodes";
    NotAsExpected: "not-as-expected", Caution, Model, "prints and what is expected without chance contradict each other";
    FewParticles: "few-particles", Caution, Aside, "so few active particles that each responds on its own";
    NotJoined: "not-joined", Note, Aside, "a part of the active particles touches no electrode";
    NoMembrane: "no-membrane", Note, Aside, "no membrane is given for the beam";
    Remark: "scenario", Note, Aside, "a remark on the scenario";
}

impl CautionKind {
    /// Short stable identifier in result files, e.g. `lang-range`.
    pub fn id(self) -> &'static str {
        self.entry().id
    }

    /// Weight.
    pub fn severity(self) -> Severity {
        self.entry().severity
    }

    /// Where it stands besides the list of all.
    pub fn bearing(self) -> Bearing {
        self.entry().bearing
    }

    /// What it is about in a few words, for places where the text of a print's own report has no room or no numbers.
    pub fn words(self) -> &'static str {
        self.entry().words
    }

    /// Those of some that doubt the model, each once.
    pub fn doubts(of: &[Self]) -> Vec<Self> {
        let doubt = |kind: &&Self| kind.bearing() == Bearing::Model && of.contains(kind);
        Self::ALL.iter().filter(doubt).copied().collect()
    }

    /// Looks a caution up by its identifier.
    pub fn of_id(id: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.id() == id)
    }

    /// With a text.
    pub fn with(self, text: impl Into<String>) -> Caution {
        Caution { kind: self, text: text.into() }
    }

    /// The caution of a powder that harms people; `None` for what any fine powder does, which [`Self::MistAndPowder`] tells.
    pub fn of_powder(hazard: Hazard) -> Option<Self> {
        Some(match hazard {
            Hazard::Nickel => Self::Nickel,
            Hazard::Cobalt => Self::Cobalt,
            Hazard::Manganese => Self::Manganese,
            Hazard::Vanadium => Self::Vanadium,
            Hazard::Chromium => Self::Chromium,
            Hazard::Lead => Self::Lead,
            Hazard::Cadmium => Self::Cadmium,
            Hazard::Indium => Self::Indium,
            Hazard::Arsenic => Self::Arsenic,
            Hazard::TitaniumDioxide => Self::TitaniumDioxide,
            Hazard::CarbonBlack => Self::CarbonBlack,
            Hazard::Nanotubes => Self::Nanotubes,
            Hazard::FinePowder => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::materials::hazards::GROUPS;

    #[test]
    fn identifiers_are_unique_and_lead_back() {
        for kind in CautionKind::ALL {
            assert_eq!(CautionKind::of_id(kind.id()), Some(*kind));
        }
        assert!(CautionKind::ALL.is_sorted_by_key(|kind| kind.severity() != Severity::Safety), "safety first");
    }

    #[test]
    fn each_hazard_group_has_the_caution_of_its_name() {
        for group in GROUPS {
            let kind = CautionKind::of_powder(group.hazard).unwrap_or_else(|| panic!("{:?} has none", group.hazard));
            assert!(kind.id() == group.hazard.word() && kind.severity() == Severity::Safety, "{kind:?}");
        }
    }
}
