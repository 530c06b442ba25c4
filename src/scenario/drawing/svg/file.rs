//! A file and how large it is.

use super::shapes::UnitsPerPixel;
use super::tree::{Element, Tree};
use super::values::{PIXEL, physical, view_box};
use super::walk;
use crate::drawing::{Drawing, DrawingError, ErrorKind, FilePlace};
use kurbo::Affine;
use motefall_physics::units::LengthUnit;

/// Reads an SVG file.
pub(crate) fn read(bytes: &[u8], unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    read_with_bytes(bytes, unit).map_err(|error| {
        // Lines are counted only if there is something to complain about: that takes time.
        let line = |byte: usize| 1 + bytes[..byte.min(bytes.len())].iter().filter(|b| **b == b'\n').count();
        let place = error.place.map(|place| match place {
            FilePlace::Byte(byte) => FilePlace::Line(line(byte)),
            line @ FilePlace::Line(_) => line,
        });
        DrawingError { place, ..error }
    })
}

/// The same; places of faults are bytes.
fn read_with_bytes(bytes: &[u8], unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    if bytes.starts_with(&[0x1f, 0x8b]) {
        return Err(DrawingError::new(
            ErrorKind::Unsupported,
            None,
            "the file is compressed",
            "save it as plain SVG, not compressed",
        ));
    }
    let tree = Tree::read(bytes)?;
    let stated = stated_unit(&tree.elements[0])?;
    let metres = match (unit, stated) {
        (Some(unit), _) => [unit.metres(); 2],
        (None, Some(stated)) => stated,
        (None, None) => {
            let what = "the file does not state how large it is: width and height of its svg element are no lengths in mm or the like";
            return Err(DrawingError::no_unit(what, "; or set the page's size in mm and save it again"));
        }
    };
    // By the standard, a pixel of CSS is one unit. Without a page of stated size, the unit is what the user says.
    let pixel = UnitsPerPixel(if stated.is_some() { 1.0 } else { PIXEL / metres[0] });
    // One unit along y may be another length than along x; both are counted in the unit along x.
    let upright = Affine::scale_non_uniform(1.0, -metres[1] / metres[0]);
    Ok(walk::draw(&tree, upright, pixel)?.finish(metres[0], stated.map(|stated| stated[0])))
}

/// Metres per unit along x and y, if width or height are lengths that have one.
fn stated_unit(root: &Element) -> Result<Option<[f64; 2]>, DrawingError> {
    let length = |name: &str| root.get(name).and_then(physical).filter(|v| *v > 0.0 && v.is_finite());
    let (width, height) = (length("width"), length("height"));
    if width.is_none() && height.is_none() {
        return Ok(None);
    }
    let Some([_, _, w, h]) = root.read("viewBox", view_box)? else { return Ok(Some([PIXEL; 2])) };
    let (x, y) = (width.map(|width| width / w), height.map(|height| height / h));
    let both = [x.or(y).unwrap_or(PIXEL), y.or(x).unwrap_or(PIXEL)];
    if root.get("preserveAspectRatio").is_some_and(|text| text.trim().starts_with("none")) {
        return Ok(Some(both));
    }
    Ok(Some([both[0].min(both[1]); 2]))
}
