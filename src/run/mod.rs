//! Runs a print: random streams, one print, several prints.

/// How a long computation reports and is told to stop.
pub trait Progress: Sync {
    /// A new stage begins, e.g. "solving the gas jet"; `total` units of work if known.
    fn begin(&self, what: &str, total: Option<u64>);
    /// So many units are done.
    fn advance(&self, units: u64);
    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
}
