//! Sections of the file that checks across keys point at.

use super::reader::Reader;
use motefall_physics::inputs::VariedInput;

/// Sections to which faults across keys point.
pub struct Sections<'a> {
    /// Those of each layer.
    pub layers: Vec<LayerSections<'a>>,
    /// `[map]`.
    pub map: Reader<'a>,
    /// `[[region]]`.
    pub regions: Vec<Reader<'a>>,
    /// `[[acceptance.limit]]`.
    pub limits: Vec<Reader<'a>>,
    /// Sections of `[spread]`, those left out among them; none if it was not given.
    pub spread: Vec<(VariedInput, Reader<'a>)>,
}

impl<'a> Sections<'a> {
    /// Those of every path item, in order.
    pub fn paths(&self) -> impl Iterator<Item = &Reader<'a>> {
        self.layers.iter().flat_map(|own| &own.paths)
    }
}

/// Sections of a layer, or of the whole file if it has no layers.
pub struct LayerSections<'a> {
    /// `[head]`.
    pub head: Reader<'a>,
    /// `[ink]`.
    pub ink: Reader<'a>,
    /// `[[path]]`.
    pub paths: Vec<Reader<'a>>,
}
