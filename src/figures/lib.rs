//! What a prediction says: figures with intervals, budget, sizes, profiles, maps, cautions.
//!
//! Values are SI; [`FigureKind`] knows the unit in which a figure is shown.

pub mod advice;
mod area;
pub mod beam_view;
pub mod bench_use;
pub mod budget;
pub mod calibration;
pub mod cautions;
pub mod cells;
mod conditions;
mod controlled;
pub mod electrode_view;
pub mod expected;
pub mod importance;
pub mod joined;
pub mod keep_out;
pub mod knobs;
pub mod maps;
pub mod measure;
pub mod memory;
mod notes;
mod one_print;
pub mod over_prints;
pub mod percentile;
pub mod places;
mod prediction;
pub mod profile;
mod rows;
pub mod sizes;
pub mod spread;
pub mod stack;
pub mod statistics;
pub mod sweep;
#[cfg(test)]
pub(crate) mod testing;
mod verdict;

pub use bench_use::BenchUse;
pub use budget::{Budget, BudgetRow, Fate};
pub use cautions::{Caution, CautionKind, Severity};
pub use conditions::{Conditions, LandingPoint};
pub use joined::{Bridging, GapOutcome};
pub use maps::Maps;
pub use motefall_physics::figure_kinds::{
    self as kinds, Figure, FigureKind, ItemFigure, KINDS, PrintFigure, RegionFigure, Scope,
};
pub use motefall_physics::map::far::FarMap;
pub use motefall_physics::map::{Grid, MeasuringGrid, Particle};
pub use motefall_physics::path::motion::Stroke;
pub use prediction::{Draws, LayerPart, Prediction};
pub use profile::Profile;
pub use rows::{
    ByInput, Controlled, Distribution, Estimate, ExpectedValue, Explained, FigureRow, Measured, Tolerance, estimate_at,
};
pub use sizes::{DROPLET_STAGES, PowderSizes, Sizes};
pub use stack::Pile;
pub use verdict::{LimitOutcome, ShareOfPrints, Verdict, judge};
