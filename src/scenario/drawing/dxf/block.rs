//! Blocks: groups of entities that are inserted, and what comes of it.

use super::parts::{DxfBlock, Entity, Insert, What};
use super::tags::shown_text;
use crate::drawing::gather::Gatherer;
use crate::drawing::limits::DEEPEST;
use crate::drawing::{DrawingError, ErrorKind, FilePlace};
use kurbo::Affine;
use std::collections::HashMap;

/// Draws entities and the blocks that they insert.
pub(super) fn draw(
    names: &[String],
    blocks: &HashMap<String, DxfBlock>,
    entities: &[Entity],
    gatherer: &mut Gatherer,
) -> Result<(), DrawingError> {
    Inserter { names, blocks, gatherer, open: Vec::new() }.draw(entities, Affine::IDENTITY, None)
}

/// Puts entities with their blocks into one drawing.
struct Inserter<'r> {
    names: &'r [String],
    blocks: &'r HashMap<String, DxfBlock>,
    gatherer: &'r mut Gatherer,
    /// Blocks that are being inserted, the outermost first.
    open: Vec<&'r str>,
}

impl<'r> Inserter<'r> {
    /// `outer` is the layer of the insert, which entities on layer 0 of a block take over.
    fn draw(&mut self, entities: &'r [Entity], shown: Affine, outer: Option<usize>) -> Result<(), DrawingError> {
        for entity in entities {
            self.gatherer.count("entities", entity.place)?;
            let layer = match outer {
                Some(outer) if self.names[entity.layer] == "0" => outer,
                _ => entity.layer,
            };
            match &entity.what {
                What::Line(line, name) => self.gatherer.add(line, shown, layer, entity.place, name)?,
                What::Insert(insert) => self.insert(insert, shown, layer, entity.place)?,
            }
        }
        Ok(())
    }

    fn insert(
        &mut self,
        insert: &'r Insert,
        shown: Affine,
        layer: usize,
        place: FilePlace,
    ) -> Result<(), DrawingError> {
        let Some(block) = self.blocks.get(&insert.block) else {
            let what =
                format!("the block \"{}\" is inserted, but the file does not hold it", shown_text(&insert.block));
            return Err(DrawingError::broken(place, what));
        };
        if self.open.contains(&insert.block.as_str()) {
            let chain: Vec<String> =
                self.open.iter().chain([&insert.block.as_str()]).map(|name| shown_text(name)).collect();
            let what = format!("a block is inserted into itself: {}", chain.join(" > "));
            return Err(DrawingError::new(
                ErrorKind::TooMuch,
                Some(place),
                what,
                "explode the blocks in the drawing program and save it again",
            ));
        }
        if self.open.len() >= DEEPEST {
            let what = format!("blocks are nested more than {DEEPEST} deep");
            return Err(DrawingError::too_much(Some(place), what));
        }
        self.open.push(&insert.block);
        let [(column, columns), (row, rows)] = insert.array;
        for (i, j) in (0..rows).flat_map(|i| (0..columns).map(move |j| (i, j))) {
            self.gatherer.count("entities", place)?;
            let shift = Affine::translate(column * j as f64 + row * i as f64);
            let inner = shown * (shift * insert.transform) * Affine::translate(-block.base.to_vec2());
            self.draw(&block.entities, inner, Some(layer))?;
        }
        self.open.pop();
        Ok(())
    }
}
