//! What differs from print to print besides chance.

use crate::words::words;

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
    pub(crate) fn is_shared(self) -> bool {
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
    pub(crate) fn label(self) -> &'static str {
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
    pub(crate) fn key(self) -> &'static str {
        self.words().3
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
