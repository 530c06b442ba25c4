//! Runs prints: random streams, one print, several prints, the prediction.

pub mod print;
pub mod setting;

use crate::figures::Prediction;
use crate::inputs::Inputs;
use crate::jet::solver::JetError;
use crate::jet::store::FieldStore;

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

/// Why a run gave no result.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The gas jet has no steady laminar solution here.
    #[error(transparent)]
    Jet(#[from] JetError),
    /// The user stopped it.
    #[error("stopped before the end; nothing was written")]
    Cancelled,
}

/// Predicts a print. Results depend on the inputs alone: not on threads, nor on whether the jet was in the store.
pub fn predict(_inputs: &Inputs, _store: &FieldStore, _progress: &dyn Progress) -> Result<Prediction, RunError> {
    Err(RunError::Cancelled)
}
