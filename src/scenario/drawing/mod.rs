//! Drawings of chips and of what is printed: contours by layer, read from DXF and SVG.
//!
//! What is read: from DXF (text or binary, R12 and newer) lines, polylines with bulges, circles, arcs, ellipses, splines by control
//! points, boundaries of hatches, and blocks inserted with shift, scale, rotation, mirroring and arrays; from SVG paths with all
//! their commands, the basic shapes, groups, `use`, nested `svg`, and transforms. What is not read (text, dimensions, pictures) is
//! counted by name. Lines and arcs whose ends meet are joined.
//!
//! Curves become straight pieces. No piece departs from its curve by more than [`CHORD_TOLERANCE`] of the curve's size (the radius
//! of an arc, the extent of a free curve's control points), so that areas and lengths hold to 0.02 % for arcs and better than 0.1 %
//! for what else is drawn with them.
//!
//! Files may be broken or made to do harm: size, number of entities and of points, and depth of nesting are limited, before and
//! after blocks are inserted, and entities of XML are refused, so that time and memory stay within bounds.

mod contour;
mod curves;
mod dxf;
mod error;
mod gather;
mod join;
mod limits;
mod read;
mod svg;

pub use contour::{Contour, Drawing, DrawingLayer, Ends, NoSuchLayer};
pub use error::{DrawingError, ErrorKind, FilePlace};
pub use limits::{CHORD_TOLERANCE, LARGEST_FILE};
pub use read::{Format, fingerprint, read};
