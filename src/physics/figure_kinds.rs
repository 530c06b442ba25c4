//! The list of figures: what a print can be asked for, and all that is told of each in one entry.
//!
//! It depends on nothing else: scenarios name figures in limits, `figures` measures them, `output` shows them. An entry needs a rule for its
//! value in `measure` of the figures; the compiler asks for it.

/// Where a figure applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// Regions of the chip.
    Region,
    /// Items of the path.
    Item,
    /// The whole print.
    Print,
}

/// What the value of a print is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// The whole area of a region.
    Area,
    /// Squares of the edge `map.resolution_um` over the region, over each of which thickness is averaged.
    Squares,
    /// A sum over the particles that landed.
    Sum(Weight),
    /// Other counts of what landed where.
    Counts,
    /// What touches what, seen from above, which takes the single particles of a print.
    Touching,
    /// What rests on what, which takes the heights of the single particles of a print.
    Heights,
    /// The strip along an item.
    Strip,
    /// The setting: the same in every print.
    Setting,
}

/// What a particle adds to a sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// One.
    One,
    /// One if it is active.
    Active,
    /// Its mass.
    Mass,
    /// Its capacity.
    Capacity,
}

/// What law the prints of a figure follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Law {
    /// Many particles share in it.
    Continuous,
    /// The same, and it lies between 0 and 1.
    Share,
    /// A whole number of particles, several of which come in a droplet.
    Count,
    /// A whole number of particles, so few that they come singly.
    RareCount,
    /// A single particle of each print decides it: a mean over prints says little, for one print in ten sets it.
    Extreme,
    /// It belongs to all prints together, and a single print only says yes or no; the word for yes.
    ShareOfPrints(&'static str),
}

/// Regions by what they are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// All of them, and what is no region.
    Everywhere,
    /// Printed electrodes.
    Printed,
    /// All others.
    Unprinted,
    /// Those that must stay clean: other electrodes and keep-outs.
    Clean,
}

/// What chip and ink must have for a figure to be measured at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// The region is an electrode.
    Electrode,
    /// A powder with a capacity.
    ActivePowder,
    /// A region that is printed on.
    PrintedRegion,
    /// Two electrodes.
    TwoElectrodes,
    /// A working and a counter electrode.
    TargetAndCounter,
    /// A vial whose fill is known.
    Fill,
    /// An ink whose settling is known.
    Settling,
    /// A beam crosses the region: where a chip has windows, it does so there only.
    Beam,
}

/// When a figure stands on the terminal without a limit on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Terminal {
    /// Never; the report has it.
    Never,
    /// Always, at these places.
    Told(On),
    /// There if it could be measured: passed over where there is no such particle, electrode or powder.
    IfMeasured(On),
}

/// All that is told of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureKind {
    /// Which figure.
    pub figure: Figure,
    /// Identifier used in scenarios and tables; ends with the unit where there is one.
    pub id: &'static str,
    /// Name in words.
    pub label: &'static str,
    /// Unit in which it is shown; empty for plain numbers.
    pub unit: &'static str,
    /// Shown value = SI value times this.
    pub per_si: f64,
    /// Where it applies.
    pub scope: Scope,
    /// What its value is taken from.
    pub source: Source,
    /// What law its prints follow.
    pub law: Law,
    /// When it stands on the terminal.
    pub terminal: Terminal,
    /// Regions of which it is listed unasked.
    pub on: On,
    /// What a limit on it takes to be judged.
    pub needs: &'static [Need],
    /// What it takes to be listed unasked.
    pub listed: &'static [Need],
    /// What it means, one sentence.
    pub meaning: &'static str,
}

impl FigureKind {
    /// Whether the figure belongs to all prints together and a single print only says yes or no.
    pub fn is_share_of_prints(&self) -> bool {
        matches!(self.law, Law::ShareOfPrints(_))
    }

    /// Whether it is a whole number of particles.
    pub fn is_count(&self) -> bool {
        matches!(self.law, Law::Count | Law::RareCount)
    }

    /// Whether a single particle of each print decides it.
    pub fn is_extreme(&self) -> bool {
        self.law == Law::Extreme
    }

    /// Whether it is continuous and many particles of a print share in it, so that a distance from its mean can be told in standard
    /// deviations between prints.
    pub fn has_normal_margin(&self) -> bool {
        matches!(self.law, Law::Continuous | Law::Share)
    }

    /// Whether it is that of squares of the edge `map.resolution_um`, over each of which thickness is averaged.
    pub fn is_of_squares(&self) -> bool {
        self.source == Source::Squares
    }

    /// Whether it is measured over the area of a region, not by counting particles.
    pub fn is_of_area(&self) -> bool {
        matches!(self.source, Source::Area | Source::Squares)
    }

    /// Whether it counts the particles of a region or of the print.
    pub fn is_from_counts(&self) -> bool {
        matches!(self.source, Source::Sum(_) | Source::Counts)
    }

    /// Whether it takes the single particles of a print.
    pub fn needs_particles(&self) -> bool {
        self.source == Source::Touching || self.needs_heights()
    }

    /// Whether it takes the heights of single particles.
    pub fn needs_heights(&self) -> bool {
        self.source == Source::Heights
    }

    /// Largest value the figure can have, SI; `None` if there is none. The least is 0 for all.
    pub fn most(&self) -> Option<f64> {
        matches!(self.law, Law::Share | Law::ShareOfPrints(_)).then_some(1.0)
    }
}

/// Looks a figure up by its identifier.
pub fn kind(id: &str) -> Option<&'static FigureKind> {
    KINDS.iter().find(|k| k.id == id)
}

/// A unit and the factor to it from SI.
type Unit = (&'static str, f64);
const PLAIN: Unit = ("", 1.0);
const PERCENT: Unit = ("%", 1e2);
const NM: Unit = ("nm", 1e9);
const UM: Unit = ("µm", 1e6);
const PG: Unit = ("pg", 1e15);
const NAH: Unit = ("nAh", 1.0 / 3.6e-6);
const NA: Unit = ("nA", 1e9);
const PC: Unit = ("pC", 1e12);
const SECONDS: Unit = ("s", 1.0);
const UL: Unit = ("µL", 1e9);

/// Entries of one scope: identifier, label, unit, source, law, when it stands on the terminal; then, where they apply, the regions of which
/// it is listed (`on`), what it takes to be judged (`needs`) and, if that differs, to be listed (`listed`); the meaning.
macro_rules! figures {
    ($($(#[$doc:meta])* $scope:ident $name:ident {
        $($variant:ident: $id:literal, $label:literal, $unit:ident, $source:expr, $law:expr, $terminal:expr,
            $(on $on:ident,)? $(needs [$($need:ident),*] $(listed [$($listed:ident),*])?,)? $meaning:literal;)*
    })*) => {
        /// A figure that the program can give and that a limit can be set on.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Figure {
            $($(#[$doc])* $scope($name),)*
        }

        $($(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name {
            $(#[doc = $label] $variant,)*
        }

        impl $name {
            /// All of them, deciding ones first.
            pub const ALL: &[Self] = &[$(Self::$variant),*];

            /// What is told of it.
            pub fn kind(self) -> &'static FigureKind {
                Figure::$scope(self).kind()
            }
        }

        impl From<$name> for Figure {
            fn from(figure: $name) -> Self {
                Self::$scope(figure)
            }
        })*

        /// Every figure, deciding ones first.
        pub const KINDS: &[FigureKind] = {
            use {Law::*, Source::*, Terminal::*, On::*};
            &[$($(FigureKind {
                figure: Figure::$scope($name::$variant),
                id: $id,
                label: $label,
                unit: $unit.0,
                per_si: $unit.1,
                scope: Scope::$scope,
                source: $source,
                law: $law,
                terminal: $terminal,
                on: figures!(@or [$(On::$on)?] On::Everywhere),
                needs: figures!(@or [$(&[$(Need::$need),*])?] &[]),
                listed: figures!(@or [$($(&[$(Need::$listed),*])?)?] figures!(@or [$(&[$(Need::$need),*])?] &[])),
                meaning: $meaning,
            },)*)*]
        };
    };
    (@or [$given:expr] $otherwise:expr) => { $given };
    (@or [] $otherwise:expr) => { $otherwise };
}

figures! {
    /// A figure of a region of the chip.
    Region RegionFigure {
        Coverage: "coverage_percent", "coverage", PERCENT, Area, Share, Told(Printed),
            "share of the region's area under at least one particle";
        MeanThickness: "mean_thickness_nm", "mean solid thickness", NM, Area, Continuous, Told(Printed),
            "solid volume over area, as a beam sees it";
        ThicknessCv: "thickness_cv_percent", "unevenness of thickness", PERCENT, Squares, Continuous, Told(Printed),
            "standard deviation over mean of the thickness, from square to square";
        ThicknessP5: "thickness_p5_nm", "thickness, 5th percentile", NM, Squares, Continuous, Never,
            "5 % of the region is thinner, averaged over squares";
        ThicknessP50: "thickness_p50_nm", "thickness, median", NM, Squares, Continuous, Never,
            "half of the region is thinner, averaged over squares";
        ThicknessP95: "thickness_p95_nm", "thickness, 95th percentile", NM, Squares, Continuous, Never,
            "5 % of the region is thicker, averaged over squares";
        ThicknessP99: "thickness_p99_nm", "thickness, 99th percentile", NM, Squares, Continuous, Never,
            "1 % of the region is thicker, averaged over squares";
        TooThick: "too_thick_percent", "too thick for the beam", PERCENT, Squares, Share, Told(Printed), needs [Beam],
            "share of the area under particles, or under the layers alone, where all together exceed the limit in mean free paths; the deposit of a square lies evenly on its covered part";
        Usable: "usable_percent", "usable for the beam", PERCENT, Squares, Share, Told(Printed), needs [Beam],
            "share of the area that is under at least one particle and not too thick for the beam";
        Bare: "bare_percent", "bare", PERCENT, Area, Share, Never,
            "share of the area under no particle";
        MeanFreePaths: "mean_free_paths", "thickness in mean free paths", PLAIN, Area, Continuous, Never, needs [Beam],
            "mean of thickness over inelastic mean free path, deposit and other layers together";
        Mass: "mass_pg", "solid mass", PG, Sum(Weight::Mass), Continuous, Never,
            "mass of the particles whose centre is inside";
        Particles: "particles", "particles", PLAIN, Sum(Weight::One), Count, Told(Clean),
            "number of particles whose centre is inside";
        ActiveParticles: "active_particles", "active particles", PLAIN, Sum(Weight::Active), Count, Never,
            "number of particles with a capacity";
        Capacity: "capacity_nah", "theoretical capacity", NAH, Sum(Weight::Capacity), Continuous, Told(Printed),
            "sum over powders of mass times theoretical capacity";
        CurrentAt1C: "current_1c_na", "current at 1C", NA, Sum(Weight::Capacity), Continuous, Never,
            "current that passes the theoretical capacity in one hour";
        Joined: "joined_percent", "active particles joined", PERCENT, Heights, Share, IfMeasured(Printed), on Printed, needs [Electrode, ActivePowder],
            "share of the active particles over the electrode that rest on it or on conducting particles that lead to it";
        JoinedCapacity: "joined_capacity_percent", "capacity joined", PERCENT, Heights, Share, Never, on Printed, needs [Electrode, ActivePowder],
            "share of the capacity over the electrode in particles that are joined to it";
        ChargePerParticle: "charge_per_particle_pc", "charge of an active particle", PC, Counts, Continuous, Never, on Printed, needs [ActivePowder],
            "theoretical capacity over the number of active particles";
        LargestParticle: "largest_particle_um", "largest particle", UM, Counts, Extreme, Told(Printed),
            "diameter of the largest particle inside";
        CoarseParticles: "coarse_particles", "particles above 0.5 µm", PLAIN, Counts, RareCount, Never,
            "number of particles larger than 0.5 µm";
        HitProbability: "hit_probability", "probability of at least one particle", PLAIN, Counts, ShareOfPrints("hit"), Told(Clean),
            "share of prints with at least one particle inside; upper bound if none";
        FarthestParticle: "farthest_particle_um", "farthest particle", UM, Counts, Extreme, IfMeasured(Clean), on Unprinted, needs [PrintedRegion],
            "distance from the nearest printed electrode to the particle inside that lies farthest from it";
    }
    /// A figure of an item of the path.
    Item ItemFigure {
        EdgeWidth: "edge_width_um", "width from edge to edge", UM, Strip, Continuous, Told(Everywhere),
            "as one measures it in a micrograph: between the outermost places on both sides where particles still cover a tenth as much of the line's length as where they cover most";
        LineWidth: "line_width_um", "line width (FWHM)", UM, Strip, Continuous, Told(Everywhere),
            "full width at half maximum of the mean profile";
        Width90: "width_90_um", "width holding 90 % of the mass", UM, Strip, Continuous, Never,
            "narrowest band about the line's centre that holds 90 % of the profile's mass";
        Width99: "width_99_um", "width holding 99 % of the mass", UM, Strip, Continuous, Told(Everywhere),
            "narrowest band about the line's centre that holds 99 % of the profile's mass";
        PeakThickness: "peak_thickness_nm", "peak of the profile", NM, Strip, Continuous, Told(Everywhere),
            "largest value of the mean profile";
        EdgeRoughness: "edge_roughness_um", "edge roughness (3 sigma)", UM, Strip, Continuous, Never,
            "three standard deviations of the half-height edges from their best-fit lines";
    }
    /// A figure of the whole print.
    Print PrintFigure {
        Landed: "landed_percent", "mist solids that land", PERCENT, Counts, Share, Told(Everywhere),
            "share of the solids leaving the vial that reach the chip plane";
        OnTarget: "on_target_percent", "landed solids on target", PERCENT, Counts, Share, Never, needs [PrintedRegion] listed [],
            "share of the landed solids inside target regions";
        Overspray: "overspray_percent", "overspray", PERCENT, Counts, Share, Told(Everywhere), needs [PrintedRegion] listed [],
            "share of the landed solids outside target regions";
        OversprayReach: "overspray_reach_um", "reach of the overspray", UM, Counts, Continuous, Told(Everywhere), needs [PrintedRegion] listed [],
            "distance from the nearest target edge within which 99 % of the solids lie that land within 20 nozzle radii of the axis";
        FarthestStray: "farthest_stray_um", "farthest stray particle", UM, Counts, Extreme, IfMeasured(Everywhere), needs [PrintedRegion],
            "distance from the nearest printed electrode to the particle that landed farthest from it; droplets are followed to 20 nozzle radii from the axis";
        Bridge: "bridge_probability", "probability of a bridge", PLAIN, Touching, ShareOfPrints("bridge"), IfMeasured(Everywhere), needs [TwoElectrodes],
            "share of prints in which conducting particles, seen from above, join two electrodes; upper bound if none";
        CapacityRatio: "capacity_ratio", "counter to working capacity", PLAIN, Counts, Continuous, IfMeasured(Everywhere), needs [TargetAndCounter, ActivePowder] listed [TargetAndCounter],
            "theoretical capacity of the counter electrodes over that of the targets";
        PrintTime: "print_time_s", "print time", SECONDS, Setting, Continuous, Told(Everywhere),
            "with all moves";
        InkUsed: "ink_used_ul", "ink used", UL, Setting, Continuous, Told(Everywhere),
            "ink leaving the vials as mist while the stage is at work, shutter closed or not; pauses left aside";
        TimePerChip: "time_per_chip_s", "time per chip", SECONDS, Setting, Continuous, Told(Everywhere),
            "print with moves and pauses, change of the chip (output.chip_change_s) and the chip's share of the warm-up before the first layer (output.warm_up_s over chips_per_warm_up)";
        InkPerChip: "ink_per_chip_ul", "ink per chip", UL, Setting, Continuous, Told(Everywhere),
            "ink leaving the vials as mist in that time at the set output, with the chip's share of each layer's warm-up; a closed shutter does not save ink, pauses are left aside";
        ChipsPerFill: "chips_per_fill", "chips per fill", PLAIN, Setting, Continuous, Told(Everywhere), needs [Fill],
            "whole chips that atomiser.fill_ml is enough for, each warm-up counted; with several vials, of the one that is empty first";
        Settled: "solids_settled_percent", "solids settled", PERCENT, Setting, Share, Told(Everywhere), needs [Settling],
            "share of the solids that has settled in the vial, unstirred, when the last chip of a fill is done, or of a warm-up if no fill is given; prints take the ink as it is stated";
    }
}

impl Figure {
    /// What is told of it.
    pub fn kind(self) -> &'static FigureKind {
        let place = match self {
            Self::Region(figure) => figure as usize,
            Self::Item(figure) => RegionFigure::ALL.len() + figure as usize,
            Self::Print(figure) => RegionFigure::ALL.len() + ItemFigure::ALL.len() + figure as usize,
        };
        &KINDS[place]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_are_unique_and_lead_back() {
        assert_eq!(KINDS.len(), RegionFigure::ALL.len() + ItemFigure::ALL.len() + PrintFigure::ALL.len());
        for (i, a) in KINDS.iter().enumerate() {
            assert!(KINDS[i + 1..].iter().all(|b| b.id != a.id), "{} stands twice", a.id);
            assert_eq!(a.figure.kind().id, a.id);
            assert_eq!(kind(a.id).map(|k| k.figure), Some(a.figure));
        }
    }

    #[test]
    fn an_identifier_ends_with_its_unit() {
        for kind in KINDS {
            let ending = kind.unit.to_lowercase().replace('µ', "u").replace('%', "percent");
            assert!(ending.is_empty() || kind.id.ends_with(&format!("_{ending}")), "{} in {}", kind.id, kind.unit);
        }
    }
}
