//! How a long computation reports and is stopped.

/// How a long computation reports and is told to stop.
pub trait Progress: Sync {
    /// A new stage begins, e.g. "solving the gas jet"; `total` units of work if known.
    fn begin(&self, what: &str, total: Option<u64>);
    /// So many units are done.
    fn advance(&self, units: u64);
    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
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
