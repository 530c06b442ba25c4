//! TIFF.

use super::pixels::{Picture, broken, check_size, lightness, lightness_of};
use super::scale::FileScale;
use crate::error::MeasureError;
use crate::raster::Raster;
use std::borrow::Cow;
use std::io::Cursor;
use tiff::ColorType;
use tiff::decoder::ifd::Value;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

type Reader<'a> = Decoder<Cursor<&'a [u8]>>;

/// Memory that decoding may take for the picture, bytes.
const MOST_MEMORY: usize = 400_000_000;
/// The value of the tag PhotometricInterpretation for a palette, and for grey with black as zero (TIFF 6.0, section 5).
const PALETTE: u16 = 3;
const BLACK_IS_ZERO: u16 = 1;

/// Reads the first picture of a TIFF: grey, colour or palette, 8 or 16 bit.
pub(super) fn decode(bytes: &[u8]) -> Result<Picture, MeasureError> {
    // The decoder knows no palettes. Such a picture is read as grey, and its values are then looked up.
    let (bytes, is_palette) = without_palette(bytes);
    let mut limits = Limits::default();
    limits.decoding_buffer_size = MOST_MEMORY;
    limits.intermediate_buffer_size = MOST_MEMORY;
    let mut reader = Decoder::new(Cursor::new(bytes.as_ref())).map_err(|error| broken(&error))?.with_limits(limits);
    let (columns, rows) = reader.dimensions().map_err(|error| broken(&error))?;
    check_size(columns, rows)?;
    let channels = channels(&mut reader)?;
    let samples = reader.read_image().map_err(|error| broken(&error))?;
    let (mut values, mut full_scale) = match samples {
        DecodingResult::U8(v) => (lightness(v.iter().map(|s| f32::from(*s)), channels), 255.0),
        DecodingResult::U16(v) => (lightness(v.iter().map(|s| f32::from(*s)), channels), 65_535.0),
        _ => return Err(unsupported("its values are neither 8 nor 16 bit")),
    };
    if is_palette {
        values = looked_up(&values, &mut reader)?;
        full_scale = 255.0;
    }
    if values.len() != columns as usize * rows as usize {
        return Err(broken(&"it holds fewer pixels than it says"));
    }
    Ok(Picture {
        grey: Raster { columns: columns as usize, rows: rows as usize, values },
        full_scale,
        scale: scale(&mut reader),
        more: reader.more_images(),
    })
}

fn unsupported(what: &str) -> MeasureError {
    MeasureError::NotAPicture { what: format!("it is a TIFF, but {what}"), remedy: "save it as one of these" }
}

/// Samples of a pixel.
fn channels(reader: &mut Reader<'_>) -> Result<usize, MeasureError> {
    let channels = match reader.colortype().map_err(|error| broken(&error))? {
        ColorType::Gray(8 | 16) => 1,
        ColorType::GrayA(8 | 16) => 2,
        ColorType::RGB(8 | 16) => 3,
        ColorType::RGBA(8 | 16) => 4,
        _ => return Err(unsupported("its pixels are neither grey nor red, green and blue, of 8 or 16 bit")),
    };
    let planes: u16 = reader.find_tag_unsigned(Tag::PlanarConfiguration).ok().flatten().unwrap_or(1);
    if channels > 1 && planes != 1 {
        return Err(unsupported("it keeps its colours in planes of their own"));
    }
    Ok(channels)
}

/// The same file, said to be grey if it is said to have a palette.
fn without_palette(bytes: &[u8]) -> (Cow<'_, [u8]>, bool) {
    let Some(place) = photometric_place(bytes) else { return (bytes.into(), false) };
    let is_little = bytes[0] == b'I';
    let raw = [bytes[place], bytes[place + 1]];
    let value = if is_little { u16::from_le_bytes(raw) } else { u16::from_be_bytes(raw) };
    if value != PALETTE {
        return (bytes.into(), false);
    }
    let mut changed = bytes.to_vec();
    let grey = if is_little { BLACK_IS_ZERO.to_le_bytes() } else { BLACK_IS_ZERO.to_be_bytes() };
    changed[place..place + 2].copy_from_slice(&grey);
    (changed.into(), true)
}

/// Where the value of the tag PhotometricInterpretation of the first picture stands (TIFF 6.0, section 2: a directory is a count and
/// entries of 12 bytes).
fn photometric_place(bytes: &[u8]) -> Option<usize> {
    let is_little = bytes.first()? == &b'I';
    let short = |at: usize| -> Option<u16> {
        let raw = bytes.get(at..at + 2)?.try_into().ok()?;
        Some(if is_little { u16::from_le_bytes(raw) } else { u16::from_be_bytes(raw) })
    };
    let raw = bytes.get(4..8)?.try_into().ok()?;
    let directory = if is_little { u32::from_le_bytes(raw) } else { u32::from_be_bytes(raw) } as usize;
    let entries = short(directory)? as usize;
    let entry = |k: usize| directory + 2 + 12 * k;
    let found = (0..entries).find(|k| short(entry(*k)) == Some(Tag::PhotometricInterpretation.to_u16()))?;
    bytes.get(entry(found) + 8..entry(found) + 10).map(|_| entry(found) + 8)
}

/// Lightness of each pixel's entry in the palette, 0 to 255.
fn looked_up(values: &[f32], reader: &mut Reader<'_>) -> Result<Vec<f32>, MeasureError> {
    let map = reader.get_tag_u16_vec(Tag::ColorMap).map_err(|error| broken(&error))?;
    let entries = map.len() / 3;
    // Red of all, then green, then blue, each up to 65 535 (TIFF 6.0, section 5); 257 of that are one count of 8 bit.
    let lightness: Vec<f32> = (0..entries)
        .map(|k| lightness_of([0, 1, 2].map(|channel| f32::from(map[channel * entries + k]) / 257.0)))
        .collect();
    let entry = |value: &f32| lightness.get(*value as usize).copied();
    values.iter().map(entry).collect::<Option<_>>().ok_or_else(|| broken(&"its palette is too short"))
}

/// What the resolution tags say.
fn scale(reader: &mut Reader<'_>) -> FileScale {
    let mut ratio = |tag| match reader.find_tag(tag) {
        Ok(Some(Value::Rational(above, below))) if below > 0 => Some(f64::from(above) / f64::from(below)),
        _ => None,
    };
    let (Some(across), Some(down)) = (ratio(Tag::XResolution), ratio(Tag::YResolution)) else {
        return FileScale::Absent;
    };
    // Without the tag, inches are meant (TIFF 6.0, section 8).
    match reader.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok().flatten().unwrap_or(2) {
        2 => FileScale::of_resolution(across, down, 0.0254),
        3 => FileScale::of_resolution(across, down, 0.01),
        _ => FileScale::Distrusted("the file gives a resolution without a unit".into()),
    }
}
