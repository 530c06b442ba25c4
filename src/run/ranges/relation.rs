//! The relations and their ranges.

use motefall_figures::CautionKind;
use motefall_physics::materials::drag::SCHILLER_NAUMANN_LIMIT;
use motefall_physics::materials::gas::GAS_TEMPERATURE_RANGE;
use motefall_physics::source::atomiser::LANG_RANGE;
use motefall_physics::source::tube::LARGEST_LAMINAR_REYNOLDS;
use motefall_physics::units::celsius;

/// How much the gas of the room may matter, an ESTIMATE: a jet of air alone with the same momentum makes lines 18, 38 and 33 % narrower than
/// argon does at Re 417 and 7.5, 15 and 25 nozzle diameters (solved with a mist that does not dry). The axis, where the mist is, holds at
/// most as much air as it has lost of its speed: 14, 29 and 48 %. The product is 3, 11 and 16 %.
const ROOM_GAS_ADVICE: &str = "On its way the jet draws in air of the room. Line widths may be off by some 3 % at a stand-off of 7 nozzle \
                               diameters, 10 % at 15 and 15 % at 25 (an estimate for argon), unless the same gas at the same temperature \
                               fills the space around the nozzle.";

/// The relations, one after another.
macro_rules! relations {
    ($($(#[$doc:meta])* $relation:ident,)*) => {
        /// A relation with a range.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Relation {
            $($(#[$doc])* $relation,)*
        }

        impl Relation {
            /// All of them.
            pub(crate) const ALL: &[Self] = &[$(Self::$relation),*];
        }
    };
}

relations! {
    /// Droplet median of an ultrasonic atomiser.
    Lang,
    /// Tube losses of laminar flow.
    LaminarTube,
    /// Losses in bends.
    Bend,
    /// Viscosity and conductivity of the gas.
    GasProperties,
    /// Slip correction.
    Slip,
    /// Drag of a sphere.
    Drag,
    /// Shear lift.
    Lift,
    /// Tables of built-in solvents.
    SolventTable,
    /// Vapour pressure away from the temperature where it is known.
    VapourPressure,
    /// Drying in gas that holds little vapour: share in the gas.
    VapourInGas,
    /// The same: share at a liquid's surface.
    VapourAtSurface,
    /// The jet of one gas in a room of the same.
    RoomGas,
    /// Inelastic mean free path from the density.
    BeamPath,
    /// Spread on impact: Reynolds number.
    ImpactReynolds,
    /// Spread on impact: Ohnesorge number.
    ImpactOhnesorge,
}

/// A range in the unit in which it is told.
pub(super) struct Range {
    pub(super) caution: CautionKind,
    pub(super) what: &'static str,
    pub(super) quantity: &'static str,
    pub(super) unit: &'static str,
    pub(super) ends: [f64; 2],
    /// What follows, or what to do.
    pub(super) advice: &'static str,
}

impl Relation {
    /// Its caution.
    #[cfg(test)]
    pub(crate) fn caution(self) -> CautionKind {
        self.range().caution
    }

    pub(super) fn range(self) -> Range {
        let range = |caution, what, quantity, unit, ends, advice| Range { caution, what, quantity, unit, ends, advice };
        match self {
            Self::Lang => range(
                CautionKind::LangRange,
                "Lang's relation for the droplet median, here by count (Lang 1962)",
                "frequency",
                "kHz",
                LANG_RANGE.map(|f| f * 1e-3),
                "Take the median as +-30 % or more. A bath at 1.6 MHz had as much by mass (2.9 µm, Rodes et al. 1990), which is 40 % less by count at a GSD of 1.5. Better measure it, and give droplet_median_um by count.",
            ),
            Self::LaminarTube => range(
                CautionKind::TubeTurbulent,
                "Tube losses are computed for laminar flow",
                "Reynolds number",
                "",
                [0.0, LARGEST_LAMINAR_REYNOLDS],
                "The flow may be turbulent: take a wider tube.",
            ),
            Self::Bend => range(
                CautionKind::BendRange,
                "The loss in bends was fitted near a Reynolds number of 1000 (Pui et al. 1987)",
                "Reynolds number",
                "",
                // Within a factor of two of where it was measured: our estimate.
                [500.0, LARGEST_LAMINAR_REYNOLDS],
                "Slow flow in bends takes little of such fine mist; how little is not well known.",
            ),
            Self::GasProperties => range(
                CautionKind::GasRange,
                "Viscosity and conductivity of the gas",
                "temperature",
                "C",
                GAS_TEMPERATURE_RANGE.map(celsius),
                "They are extrapolated.",
            ),
            Self::Slip => range(
                CautionKind::SlipRange,
                "The slip correction",
                "Knudsen number of the smallest droplets",
                "",
                [0.0, 100.0],
                "The smallest droplets hardly land and bring little.",
            ),
            Self::Drag => range(
                CautionKind::DragRange,
                "The drag of a sphere (Schiller and Naumann 1933)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, SCHILLER_NAUMANN_LIMIT],
                "Where the largest droplets land is less sure.",
            ),
            Self::Lift => range(
                CautionKind::LiftRange,
                "Shear lift (Mei 1992)",
                "Reynolds number of the largest droplets against still gas",
                "",
                [0.0, 100.0],
                "Lift on the largest droplets is a guess.",
            ),
            Self::SolventTable => range(
                CautionKind::SolventRange,
                "Properties of built-in solvents are tabulated",
                "temperature beyond the table",
                "K",
                [0.0, 0.0],
                "They are extrapolated: give measured properties of the solvent (viscosity_mpa_s, vapour_pressure_pa and so on).",
            ),
            Self::VapourPressure => range(
                CautionKind::VapourRange,
                "The vapour pressure of a solvent that is not built in follows from that at one temperature and a constant latent heat",
                "distance from that temperature",
                "K",
                [0.0, 30.0],
                "Drying there may be off by 10 % or more: give its vapour pressure near the temperature of its droplets or of the chip, whichever matters more.",
            ),
            // Both ends are our estimate: with a tenth of vapour between surface and gas, density, viscosity and conductivity of the gas are
            // off by some 5 %.
            Self::VapourInGas => range(
                CautionKind::VapourShareRange,
                "Flow and drying are computed with the properties of the gas alone, as if it held little vapour",
                "share of vapour in the gas",
                "%",
                [0.0, 10.0],
                "Drying may be off by about as much as that share: take cooler gas, more pressure, or a solvent that is less volatile.",
            ),
            Self::VapourAtSurface => range(
                CautionKind::VapourShareRange,
                "Drying is computed with the properties of the gas alone, as if it held little vapour",
                "share of vapour at the surface of the liquid",
                "%",
                [0.0, 20.0],
                "Drying there may be off by about half of that share; at 100 % the liquid boils, and bubbles scatter its powder.",
            ),
            // A tenth of density is a twentieth of speed at the same momentum: our estimate of what hardly matters.
            Self::RoomGas => range(
                CautionKind::RoomGasRange,
                "The jet is solved as if the room held the same gas at the same temperature",
                "density relative to the air of the room",
                "",
                [0.9, 1.1],
                ROOM_GAS_ADVICE,
            ),
            Self::BeamPath => range(
                CautionKind::BeamRange,
                "Mean free paths from the density were fitted at 200 kV and anchored at 300 kV (Iakoubovskii et al. 2008, Potapov 2014)",
                "voltage",
                "kV",
                [200.0, 300.0],
                "Depths for the beam may be off by 20 % or more: give mean_free_path_nm if you know it.",
            ),
            Self::ImpactReynolds => range(
                CautionKind::ImpactRange,
                "The spread on impact (Scheller and Bousfield 1995)",
                "Reynolds number of the median droplet",
                "",
                [19.0, 16_400.0],
                "Slower or smaller droplets spread as far as their contact angle lets them.",
            ),
            Self::ImpactOhnesorge => range(
                CautionKind::ImpactRange,
                "The spread on impact (Scheller and Bousfield 1995)",
                "Ohnesorge number of the median droplet",
                "",
                [0.002, 0.58],
                "Footprints of wet droplets are less sure.",
            ),
        }
    }
}
