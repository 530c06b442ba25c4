//! Limits and how the prints did, and the decision.

use crate::rows::Estimate;
use crate::statistics;
use motefall_physics::figure_kinds::FigureKind;
use motefall_physics::inputs::Limit;

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
    /// Whether the setting is accepted: the share of prints that met every limit reaches the required one. `None` when no limits were given.
    pub accepted: Option<bool>,
    /// Prints that met every limit.
    pub met: u32,
    /// Prints made.
    pub n: u32,
    /// 95 % Wilson interval of the share of prints that meet every limit: low and high, 0 to 1.
    pub share_interval: [f64; 2],
}
