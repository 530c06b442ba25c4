//! Sections of the file that checks across keys point at.

use super::reader::Reader;
use motefall_physics::inputs::VariedInput;

/// Sections to which faults across keys point.
pub(crate) struct Sections<'a> {
    /// Those of each layer.
    pub(crate) layers: Vec<LayerSections<'a>>,
    /// `[map]`.
    pub(crate) map: Reader<'a>,
    /// `[[region]]`.
    pub(crate) regions: Vec<Reader<'a>>,
    /// `[[acceptance.limit]]`.
    pub(crate) limits: Vec<Reader<'a>>,
    /// Sections of `[spread]`, those left out among them; none if it was not given.
    pub(crate) spread: Vec<(VariedInput, Reader<'a>)>,
}

impl<'a> Sections<'a> {
    /// Those of every path item, in order.
    pub(crate) fn paths(&self) -> impl Iterator<Item = &Reader<'a>> {
        self.layers.iter().flat_map(|own| &own.paths)
    }
}

/// Sections of a layer, or of the whole file if it has no layers.
pub(crate) struct LayerSections<'a> {
    /// `[head]`.
    pub(crate) head: Reader<'a>,
    /// `[ink]`.
    pub(crate) ink: Reader<'a>,
    /// `[[path]]`.
    pub(crate) paths: Vec<Reader<'a>>,
}
