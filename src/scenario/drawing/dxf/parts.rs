//! What a DXF file holds: entities, blocks, and what has been read so far.

use crate::drawing::FilePlace;
use crate::drawing::curves::RawLine;
use crate::drawing::gather::Gatherer;
use kurbo::{Affine, Point, Vec2};
use std::collections::HashMap;

/// An entity, in the coordinates of the block or drawing it stands in.
#[derive(Debug)]
pub(super) struct Entity {
    /// Its layer, as the number of its name.
    pub(crate) layer: usize,
    pub(crate) place: FilePlace,
    pub(crate) what: What,
}

#[derive(Debug)]
pub(super) enum What {
    /// A line, and its name for messages.
    Line(RawLine, &'static str),
    Insert(Box<Insert>),
}

/// An inserted block.
#[derive(Debug)]
pub(super) struct Insert {
    pub(crate) block: String,
    /// Places of the array's copies: shift from one to the next, and number, along columns and rows.
    pub(crate) array: [(Vec2, i64); 2],
    pub(crate) transform: Affine,
}

/// A block: a group of entities with a point of its own.
#[derive(Debug, Default)]
pub(super) struct DxfBlock {
    pub(crate) base: Point,
    pub(crate) entities: Vec<Entity>,
}

/// What has been read so far.
#[derive(Default)]
pub(super) struct SectionReader {
    pub(super) names: Vec<String>,
    pub(super) name_of: HashMap<String, usize>,
    pub(super) blocks: HashMap<String, DxfBlock>,
    pub(super) entities: Vec<Entity>,
    /// The number of the unit, if one is stated.
    pub(super) stated: Option<i64>,
    /// Counts entities and what is not read; contours come when blocks are inserted.
    pub(super) gatherer: Gatherer,
    /// Points of all lines.
    pub(super) points: usize,
}

impl SectionReader {
    /// Number of a layer's name.
    pub(super) fn name(&mut self, name: &str) -> usize {
        if let Some(known) = self.name_of.get(name) {
            return *known;
        }
        self.names.push(name.to_owned());
        self.name_of.insert(name.to_owned(), self.names.len() - 1);
        self.names.len() - 1
    }
}
