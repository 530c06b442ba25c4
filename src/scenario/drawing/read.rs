//! Reading a file of either format.

use super::limits::LARGEST_FILE;
use super::{Drawing, DrawingError, ErrorKind, dxf, svg};
use motefall_files::file_kind::FileKind;
use motefall_physics::units::LengthUnit;

/// File formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// DXF, text or binary.
    Dxf,
    /// SVG.
    Svg,
}

impl Format {
    /// From the ending of a file's name.
    pub fn of_name(name: &str) -> Option<Self> {
        let ending = name.rsplit_once('.')?.1;
        if ending.eq_ignore_ascii_case("dxf") {
            Some(Self::Dxf)
        } else if ending.eq_ignore_ascii_case("svg") {
            Some(Self::Svg)
        } else {
            None
        }
    }
}

/// Reads a drawing. `unit` is the length of one unit of the drawing; without it, what the file states counts, and a file that
/// states nothing is refused.
pub fn read(bytes: &[u8], format: Format, unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    if bytes.len() > LARGEST_FILE {
        return Err(DrawingError::too_much(
            None,
            format!(
                "the file has {} MB, but at most {} MB are read",
                bytes.len() / 1_000_000,
                LARGEST_FILE / 1_000_000
            ),
        ));
    }
    if let Some(error) = wrong_kind(bytes, format) {
        return Err(error);
    }
    match format {
        Format::Dxf => dxf::read(bytes, unit),
        Format::Svg => svg::read(bytes, unit),
    }
}

/// What is wrong with a file that is something else than its name says.
fn wrong_kind(bytes: &[u8], format: Format) -> Option<DrawingError> {
    let kind = FileKind::of(bytes)?;
    let wanted = match format {
        Format::Dxf => "DXF",
        Format::Svg => "SVG",
    };
    let advice = match (kind, format) {
        (FileKind::Dxf, Format::Dxf) | (FileKind::Svg | FileKind::Xml | FileKind::Compressed, Format::Svg) => {
            return None;
        }
        (FileKind::Dxf, Format::Svg) => "let its name end with .dxf",
        (FileKind::Svg, Format::Dxf) => "let its name end with .svg",
        (FileKind::Dwg | FileKind::Gdsii | FileKind::Oasis, _) => {
            "save it as DXF in the program that it comes from; another ending of the name does not change what it is"
        }
        (FileKind::Picture | FileKind::Pdf, _) => {
            "a picture has no outlines to read: draw them in a drawing program and save them as DXF or SVG"
        }
        (FileKind::Utf16, _) => "save it as UTF-8",
        _ => "name the file of the drawing",
    };
    let what = format!("the file is {}, not {wanted}", kind.words());
    Some(DrawingError::new(ErrorKind::Unsupported, None, what, advice))
}

/// A number by which a changed file is noticed (FNV-1a, 64 bits: Fowler, Noll & Vo 1991), as 16 hexadecimal digits.
pub fn fingerprint(bytes: &[u8]) -> String {
    let hash = bytes
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3));
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_and_fingerprints() {
        // Test vectors of the authors of the hash: "" and "a".
        assert_eq!(fingerprint(b""), "cbf29ce484222325");
        assert_eq!(fingerprint(b"a"), "af63dc4c8601ec8c");
        assert_eq!(Format::of_name("Chip.DXF"), Some(Format::Dxf));
        assert_eq!(Format::of_name("chip"), None);
    }
}
