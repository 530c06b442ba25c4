//! SVG: shapes, groups, transforms, physical size.
//!
//! A group or an element with a name (`id`, or the label that drawing programs give to layers) is a layer, and layers nest. Styles
//! are not looked at, but what is not displayed is left out. y grows upwards in the result, downwards in the file. The drawing's
//! zero is that of the file's coordinates.

mod file;
mod path;
mod shapes;
mod tree;
mod values;
mod walk;

pub(super) use file::read;
