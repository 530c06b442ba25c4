//! DXF: sections, layers, entities, blocks. The meaning of group codes is that of the published DXF reference, from memory, checked
//! against files written by another library (`tests/drawings.rs`).

mod block;
mod entity;
mod fields;
mod hatch;
mod parts;
mod sections;
mod spline;
mod tags;

pub(super) use sections::read;
