//! Lines: their direction, the profile across them, widths and edges.

mod direction;
mod edges;
mod height;
mod kind;
mod profile;
mod roughness;
mod strip;

pub use direction::Along;
pub(crate) use direction::find_direction;
pub(crate) use edges::{EdgeReader, Edges, NoEdges};
pub(crate) use height::Height;
pub use kind::Kind;
pub(crate) use kind::{Look, look, side_words};
pub(crate) use profile::{LineRead, half_height, read_line};
pub(crate) use roughness::{Roughness, roughness};
pub(crate) use strip::{Strip, turned};
