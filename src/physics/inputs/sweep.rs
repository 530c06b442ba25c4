//! A sweep over settings.

use crate::words::words;

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
