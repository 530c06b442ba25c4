//! Everything the physics may see: validated, immutable, SI.
//!
//! Lengths in m, times in s, masses in kg, temperatures in K, pressures in Pa, angles in rad. Only `scenario` builds
//! these values (tests and benches may), and nothing downstream changes them.

mod acceptance;
mod chip;
mod path;
mod print;
mod process;
mod spread;
mod sweep;

pub use crate::materials::hazards::Hazard;
pub use acceptance::{Acceptance, Limit, implied_limits};
pub use chip::{Area, Beam, BeamLayer, Cell, Chip, MapInputs, Outline, Region, Role};
pub use path::{DrawingSource, DrawnLines, EdgeStroke, Filled, PathItem, Shape, Spacing, Turns};
pub use print::{Inputs, Layer, PrintCount, UnverifiedDefault, Varied};
pub use process::{
    Atomiser, BeadRule, Bounce, Conduction, DropletMedian, Flight, FlightModel, Flows, GasInputs, Head, Ink, Landing,
    LandingMethod, OutputDrift, Powder, ShutterLead, SolventPart, SpreadRule, Stage, TubePiece,
};
pub use spread::{Law, Variation, VariedInput, farthest};
pub use sweep::{Axis, AxisValues, Chance, Design, PointPrints, SweepPlan};
