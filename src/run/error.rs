//! Why a run gave no result.

use motefall_physics::jet::exit::LARGEST_MACH;
use motefall_physics::jet::solver::JetError;

/// Why a run gave no result.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The gas jet has no steady laminar solution here.
    #[error(transparent)]
    Jet(#[from] JetError),
    /// The gas would leave the nozzle near the speed of sound.
    #[error(
        "the nozzle chokes{}: the gas would leave it at Mach {mach:.2} on the axis ({speed:.0} m/s on average), but at most {LARGEST_MACH} \
         is computed; use a nozzle above {least_nozzle_um:.0} µm, or lower carrier and sheath together to below {most_flow_sccm:.0} sccm",
        if *.in_some_prints { " in some prints, as far as the spread of the flows reaches" } else { "" }
    )]
    Choked {
        /// Mach number on the axis.
        mach: f64,
        /// Mean speed, m/s.
        speed: f64,
        /// As set it does not choke, but in prints of larger flows.
        in_some_prints: bool,
        /// Nozzle from which it would not choke, micrometres.
        least_nozzle_um: f64,
        /// Total set flow below which it would not choke, sccm.
        most_flow_sccm: f64,
    },
    /// The user stopped it.
    #[error("stopped before two prints were done; nothing was written")]
    Cancelled,
}
