//! Figures of a print and over prints.

use motefall_physics::figure_kinds::{Figure, FigureKind};
use motefall_physics::inputs::Varied;

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
    /// Mean over prints, SI.
    pub mean: f64,
    /// 95 % confidence interval, low and high, SI: of the mean, or of the median for an extreme of a print. `None` for one print without
    /// a counting model and for an extreme of fewer than six prints.
    pub interval: Option<[f64; 2]>,
    /// Standard deviation between prints, SI; `None` for one print.
    pub sd: Option<f64>,
    /// Number of prints that gave a value.
    pub n: u32,
    /// Median and largest of the prints, SI, which are shown instead of the mean; for extremes of a print ([`FigureKind::is_extreme`]) of
    /// several prints only.
    pub extremes: Option<[f64; 2]>,
    /// How many of the `n` prints gave only a lower bound. If any did, the mean is a lower bound too, without interval and spread.
    pub at_least: u32,
}

/// What a figure is on average over prints, SI.
#[derive(Debug, Clone)]
pub struct ExpectedValue {
    /// Mean over prints.
    pub mean: f64,
    /// Standard deviation between prints that the varied inputs bring about.
    pub from_inputs: f64,
    /// That which the noise of the mist output brings about.
    pub from_noise: f64,
    /// That which chance within a print brings about; `None` where it is not worked out.
    pub from_chance: Option<f64>,
    /// That which is still unknown of the bench; 0 without a calibration.
    pub from_unknown: f64,
    /// What each varied input does by itself.
    pub by_input: Vec<ByInput>,
    /// Error of the arithmetic, as a standard deviation: half the difference of two independent sets of droplets, and a part of what the
    /// inputs that differ do to the mean, which three places of each do not tell exactly.
    pub error: f64,
}

/// What an input that differs between prints does to a figure by itself, SI.
#[derive(Debug, Clone, Copy)]
pub struct ByInput {
    /// Which input.
    pub input: Varied,
    /// Deviation of the input from its set value, in the units of [`motefall_physics::inputs::VariedInput`], to both sides, ...
    pub reach: f64,
    /// ... and how the figure changes below and above.
    pub changes: [f64; 2],
    /// Mean over prints of the parabola through these.
    pub mean: f64,
    /// Variance that it brings about, by more places where a parabola does not tell it.
    pub variance: f64,
}

impl ByInput {
    /// How the figure changes with a deviation of the input: the parabola through the changes to both sides.
    pub fn at(&self, deviation: f64) -> f64 {
        let [below, above] = self.changes;
        let x = deviation / self.reach;
        0.5 * x * (above - below + x * (above + below))
    }
}

impl ExpectedValue {
    /// Standard deviation between prints; `None` where that by chance is not worked out.
    pub fn sd(&self) -> Option<f64> {
        Some(self.from_inputs.hypot(self.from_noise).hypot(self.from_unknown).hypot(self.from_chance?))
    }
}

/// A mean over prints that was set right, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controlled {
    /// The mean.
    pub mean: f64,
    /// Its 95 % interval.
    pub interval: [f64; 2],
    /// Share of the variance of the mean that is saved: with 0.75 a quarter of the prints would do.
    pub saved: f64,
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
    /// What it is on average without chance, from the same tables; `None` where only prints tell, or it was not worked out.
    pub expected: Option<ExpectedValue>,
    /// Its mean freed of what the inputs drawn happened to do; `None` where that is not known or does not help.
    pub controlled: Option<Controlled>,
    /// Part of the standard deviation between prints, SI, that is not the prints' own but what is still unknown of the bench; `None` without a
    /// calibration, and where only prints tell.
    pub from_unknown: Option<f64>,
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
    /// too few to tell ([`crate::importance::fewest_prints`]).
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
    /// Share of all prints that it holds at least, 0 to 1: [`crate::spread::CONTENT`], or less where the prints are too few to say it of so many.
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
