//! How a long computation reports and is stopped.

use crate::print::StageTimes;
use std::time::Duration;

/// How a long computation reports and is told to stop.
pub trait Progress: Sync {
    /// A new stage begins, e.g. "solving the gas jet"; `total` units of work if known.
    fn begin(&self, what: &str, total: Option<u64>);
    /// So many units are done.
    fn advance(&self, units: u64);
    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
    /// Time since some moment, if the stages of prints are to be measured: the engine has no clock.
    fn clock(&self) -> Option<Duration> {
        None
    }
    /// What a thread spent in stages of prints.
    fn spent(&self, _: &StageTimes) {}
}

/// Says nothing, never stops.
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: &str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn cancelled(&self) -> bool {
        false
    }
}

/// Progress that is not shown, of work that can be stopped.
pub struct Stoppable<'a>(pub &'a dyn Progress);

impl Progress for Stoppable<'_> {
    fn begin(&self, _: &str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}
