//! The elements of an SVG file as a tree.

use crate::drawing::limits::{DEEPEST, MOST_ENTITIES};
use crate::drawing::{DrawingError, ErrorKind, FilePlace};
use quick_xml::events::{BytesStart, Event};
use std::collections::HashMap;

/// Deepest nesting of elements.
pub(crate) const DEEPEST_ELEMENT: usize = 4 * DEEPEST;

/// Attributes that are looked at.
const ATTRIBUTES: &str = "id inkscape:label transform display style x y width height viewBox preserveAspectRatio d points rx ry r cx cy \
                          x1 y1 x2 y2 href xlink:href";

/// An element.
pub(crate) struct Element {
    pub(crate) name: String,
    attributes: Vec<(&'static str, String)>,
    pub(crate) children: Vec<usize>,
    /// The end of its tag in the file.
    pub(crate) place: FilePlace,
}

impl Element {
    /// An attribute.
    pub(crate) fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| *key == name).map(|(_, value)| value.as_str())
    }

    /// What is wrong with an attribute.
    pub(crate) fn broken(&self, attribute: &str, what: &str) -> DrawingError {
        DrawingError::broken(self.place, format!("{attribute} of <{}>: {what}", self.name))
    }

    /// An attribute's value as something else.
    pub(super) fn read<T>(&self, name: &str, read: fn(&str) -> Result<T, String>) -> Result<Option<T>, DrawingError> {
        self.get(name).map(read).transpose().map_err(|what| self.broken(name, &what))
    }
}

/// A file as a tree; the first element holds all others.
#[derive(Default)]
pub(crate) struct Tree {
    pub(crate) elements: Vec<Element>,
    pub(crate) by_id: HashMap<String, usize>,
}

impl Tree {
    /// Reads a file. Places in it are bytes.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, DrawingError> {
        let mut reader = quick_xml::Reader::from_reader(bytes);
        let mut tree = Self::default();
        let mut open: Vec<usize> = Vec::new();
        let place_of = |byte: u64| FilePlace::Byte(usize::try_from(byte).unwrap_or(bytes.len()));
        loop {
            let event = reader.read_event().map_err(|error| xml_error(place_of(reader.error_position()), &error))?;
            let place = place_of(reader.buffer_position());
            // The one element has ended, or is to begin.
            let ended = open.is_empty() && !tree.elements.is_empty();
            match event {
                Event::Start(element) | Event::Empty(element)
                    if ended || (open.is_empty() && element.local_name().as_ref() != b"svg") =>
                {
                    let what = "an SVG file is one svg element; this is none";
                    let advice = "is it an SVG file? Save it again as SVG";
                    return Err(DrawingError::new(ErrorKind::Broken, Some(place), what, advice));
                }
                Event::Start(element) => {
                    open.push(tree.add(&element, place, open.last().copied())?);
                    if open.len() > DEEPEST_ELEMENT {
                        let what = format!("elements are nested more than {DEEPEST_ELEMENT} deep");
                        return Err(DrawingError::too_much(Some(place), what));
                    }
                }
                Event::Empty(element) => {
                    tree.add(&element, place, open.last().copied())?;
                }
                Event::End(_) => {
                    open.pop();
                }
                // The name of a document type does no harm; definitions in it could.
                Event::DocType(text) if text.contains(&b'[') || text.len() > 1000 => {
                    let what =
                        "the file defines entities of its own (DOCTYPE with [ ... ]), which are not read for safety";
                    return Err(DrawingError::new(ErrorKind::Unsupported, Some(place), what, "save it as plain SVG"));
                }
                Event::Eof if ended => return Ok(tree),
                Event::Eof => {
                    let what = "the file ends here, before its svg element ends";
                    let advice = "it was cut off when it was saved or copied: copy or save it again";
                    return Err(DrawingError::new(ErrorKind::Truncated, Some(place), what, advice));
                }
                _ => {}
            }
        }
    }

    fn add(
        &mut self,
        element: &BytesStart<'_>,
        place: FilePlace,
        parent: Option<usize>,
    ) -> Result<usize, DrawingError> {
        if self.elements.len() >= MOST_ENTITIES {
            return Err(DrawingError::too_much(Some(place), format!("more than {MOST_ENTITIES} elements")));
        }
        let mut attributes = Vec::new();
        for attribute in element.attributes().with_checks(false) {
            let attribute = attribute.map_err(|error| DrawingError::broken(place, format!("an attribute: {error}")))?;
            let key = attribute.key.as_ref();
            let Some(known) = ATTRIBUTES.split(' ').find(|known| known.as_bytes() == key) else { continue };
            let value = attribute
                .unescape_value()
                .map_err(|error| DrawingError::broken(place, format!("an attribute's value: {error}")))?;
            attributes.push((known, value.into_owned()));
        }
        let name = String::from_utf8_lossy(element.local_name().as_ref()).into_owned();
        let element = Element { name, attributes, children: Vec::new(), place };
        let index = self.elements.len();
        if let Some(id) = element.get("id") {
            self.by_id.entry(id.to_owned()).or_insert(index);
        }
        self.elements.push(element);
        if let Some(parent) = parent {
            self.elements[parent].children.push(index);
        }
        Ok(index)
    }
}

fn xml_error(place: FilePlace, error: &quick_xml::Error) -> DrawingError {
    if matches!(error, quick_xml::Error::Syntax(_)) {
        let what = format!("the file ends inside a tag, or a tag is broken ({error})");
        return DrawingError::new(ErrorKind::Truncated, Some(place), what, "copy or save it again");
    }
    let what = format!("not valid XML: {error}");
    DrawingError::new(ErrorKind::Broken, Some(place), what, "save it again as plain SVG")
}
