//! Sections of a DXF file, and what they hold.

use super::block;
use super::entity;
use super::parts::{DxfBlock, Entity, SectionReader};
use super::tags::Tags;
use crate::drawing::{Drawing, DrawingError, ErrorKind};
use kurbo::Point;
use motefall_physics::units::LengthUnit;

/// Metres per unit by the number of `$INSUNITS`, for units in which chips may be drawn.
fn unit_of_number(number: i64) -> Option<f64> {
    Some(match number {
        1 => 25.4e-3,
        2 => 0.3048,
        4 => 1e-3,
        5 => 1e-2,
        6 => 1.0,
        8 => 25.4e-9,
        9 => 25.4e-6,
        10 => 0.9144,
        11 => 1e-10,
        12 => 1e-9,
        13 => 1e-6,
        14 => 0.1,
        _ => return None,
    })
}

/// Reads a DXF file.
pub(crate) fn read(bytes: &[u8], unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    let mut reader = SectionReader::default();
    let mut tags = Tags::new(bytes);
    reader.file(&mut tags)?;
    let stated_unit = reader.stated.and_then(unit_of_number);
    let metres = match (unit, stated_unit, reader.stated) {
        (Some(unit), ..) => unit.metres(),
        (None, Some(metres), _) => metres,
        (None, None, stated) => {
            let what = match stated {
                None | Some(0) => "the file does not state its unit of length ($INSUNITS)".to_owned(),
                Some(other) => {
                    format!("the file states a unit of length that is not used for chips ($INSUNITS = {other})")
                }
            };
            return Err(DrawingError::no_unit(what, ""));
        }
    };
    // Layers of the file's table come first and in its order; used or not, they can be asked for. Names stand once each, so that
    // a layer has the same number here and there.
    let SectionReader { names, blocks, entities, mut gatherer, .. } = reader;
    for name in &names {
        gatherer.layer(name, None);
    }
    gatherer.recount();
    block::draw(&names, &blocks, &entities, &mut gatherer)?;
    Ok(gatherer.finish(metres, stated_unit))
}

impl SectionReader {
    fn file(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        let first = tags.peek()?;
        if first.code != 0 || !(first.is("SECTION") || first.is("EOF")) {
            return Err(DrawingError::new(
                ErrorKind::Broken,
                Some(first.place),
                "a DXF file begins with a SECTION; this one does not",
                "is it a DXF file? Save it again as DXF",
            ));
        }
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if tag.is("EOF") {
                return Ok(());
            }
            if !tag.is("SECTION") {
                continue;
            }
            let name = tags.next_tag()?;
            if name.is("HEADER") {
                self.header(tags)?;
            } else if name.is("TABLES") {
                self.tables(tags)?;
            } else if name.is("BLOCKS") {
                self.block_section(tags)?;
            } else if name.is("ENTITIES") {
                let entities = self.entities_until(tags, &["ENDSEC"])?;
                self.entities.extend(entities);
            }
            // Others hold nothing that is drawn: the loop passes over their tags.
        }
    }

    fn header(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.peek()?;
            if tag.code == 0 {
                return Ok(());
            }
            let tag = tags.next_tag()?;
            if tag.code == 9 && tag.is("$INSUNITS") {
                let value = tags.peek()?;
                if value.code == 70 {
                    self.stated = Some(value.whole()?);
                }
            }
        }
    }

    fn tables(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.next_tag()?;
            if tag.code == 0 && tag.is("ENDSEC") {
                return Ok(());
            }
            if tag.code == 0 && tag.is("LAYER") {
                while tags.peek()?.code != 0 {
                    let tag = tags.next_tag()?;
                    if tag.code == 2 {
                        let name = tag.text();
                        self.name(&name);
                    }
                }
            }
        }
    }

    fn block_section(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if tag.is("ENDSEC") {
                return Ok(());
            }
            if !tag.is("BLOCK") {
                continue;
            }
            let (mut name, mut base) = (String::new(), Point::ZERO);
            while tags.peek()?.code != 0 {
                let tag = tags.next_tag()?;
                match tag.code {
                    2 => name = tag.text().into_owned(),
                    10 => base.x = tag.number()?,
                    20 => base.y = tag.number()?,
                    _ => {}
                }
            }
            let entities = self.entities_until(tags, &["ENDBLK", "ENDSEC"])?;
            // Names of blocks do not differ by case.
            self.blocks.insert(name.to_uppercase(), DxfBlock { base, entities });
        }
    }

    /// Entities up to a tag that ends them, which is taken.
    fn entities_until(&mut self, tags: &mut Tags<'_>, ends: &[&str]) -> Result<Vec<Entity>, DrawingError> {
        let mut entities = Vec::new();
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if ends.iter().any(|end| tag.is(end)) {
                return Ok(entities);
            }
            if tag.is("EOF") {
                let what = "the file ends (EOF) inside a section";
                return Err(DrawingError::new(ErrorKind::Truncated, Some(tag.place), what, "save it again"));
            }
            self.gatherer.count("entities", tag.place)?;
            entity::read(self, tag, tags, &mut entities)?;
        }
    }
}
