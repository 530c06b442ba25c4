//! Plane geometry: the one place where it is asked what a segment, a box or an area bounded by contours holds, meets or is near to.

mod bounds;
mod overlap;
mod polygon;
mod segment;
mod tree;

pub use bounds::Bounds;
pub use overlap::{MOST_PAIRS, PairBudget, TooTangled};
pub use polygon::{PolygonFault, polygon_fault};
pub use segment::{Point, are_near, crossing, edges, from_segment, line_length, ring_area, turned};
pub use tree::Contours;

/// Distances below this count as touching, not as overlap, m.
pub const TOUCH: f64 = 1e-9;
