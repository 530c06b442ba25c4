//! Limits against broken and harmful files, and how finely curves are drawn.

/// Largest departure of a straight piece from its curve, as a share of the curve's size.
pub const CHORD_TOLERANCE: f64 = 5e-5;
/// Largest file, bytes.
pub const LARGEST_FILE: usize = 100_000_000;
/// Most entities of a file, and most after blocks are inserted.
pub(crate) const MOST_ENTITIES: usize = 1_000_000;
/// Most points of all contours together.
pub(crate) const MOST_POINTS: usize = 1_000_000;
/// Most values of one entity.
pub(crate) const MOST_VALUES: usize = 2_500_000;
/// Deepest nesting of blocks or groups.
pub(crate) const DEEPEST: usize = 64;
/// Largest number that stands for a coordinate, in units of the drawing: beyond it, squares and cubes lose their meaning.
pub(crate) const LARGEST_NUMBER: f64 = 1e12;
/// Ends nearer than this, as a share of the drawing's extent, meet.
pub(crate) const JOINING_SHARE: f64 = 1e-7;
