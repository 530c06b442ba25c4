//! What is expected of a setting.

use super::Values;
use motefall_figures::{BenchUse, CautionKind};

/// Deviates above which a setting is not preferred for being farther from its limits: nothing that prints could tell.
pub(super) const FAR_ENOUGH: f64 = 6.0;

/// What is expected of a setting.
#[derive(Debug, Clone)]
pub(super) struct Outlook {
    pub(super) values: Values,
    /// Of each limit: mean, and deviate from the limit; `None` where nothing tells it.
    pub(super) means: Vec<Option<f64>>,
    pub(super) deviates: Vec<Option<f64>>,
    /// Share of prints that meet all limits, taking these for independent.
    pub(super) share: f64,
    /// What a chip takes.
    pub(super) used: BenchUse,
    /// What doubts the model there.
    pub(super) doubts: Vec<CautionKind>,
}

impl Outlook {
    /// The limit that is nearest to being missed.
    pub(super) fn tightest(&self) -> Option<(usize, f64)> {
        let known = self.deviates.iter().enumerate().filter_map(|(k, z)| Some((k, (*z)?)));
        known.min_by(|(_, a), (_, b)| a.total_cmp(b))
    }

    /// How far it keeps away from its limits.
    pub(super) fn room(&self) -> f64 {
        self.tightest().map_or(-FAR_ENOUGH, |(_, z)| z.min(FAR_ENOUGH))
    }
}
