//! PNG.

use super::pixels::{Picture, broken, check_size, lightness};
use super::scale::FileScale;
use crate::error::MeasureError;
use crate::raster::Raster;
use std::io::Cursor;

/// Memory that decoding may take besides the picture, bytes.
const MOST_MEMORY: usize = 600_000_000;

/// Reads a PNG of any kind: grey, colour or palette, 1 to 16 bit.
pub(super) fn decode(bytes: &[u8]) -> Result<Picture, MeasureError> {
    let limits = png::Limits { bytes: MOST_MEMORY };
    let mut decoder = png::Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_transformations(png::Transformations::EXPAND);
    let header = decoder.read_header_info().map_err(|error| broken(&error))?;
    check_size(header.width, header.height)?;
    let mut reader = decoder.read_info().map_err(|error| broken(&error))?;
    let size = reader.output_buffer_size().ok_or_else(|| broken(&"its size overflows"))?;
    let mut samples = vec![0; size];
    let frame = reader.next_frame(&mut samples).map_err(|error| broken(&error))?;
    samples.truncate(frame.buffer_size());
    let (colour, depth) = reader.output_color_type();
    let channels = colour.samples();
    let (values, full_scale) = if depth == png::BitDepth::Sixteen {
        let wide = samples.chunks_exact(2).map(|pair| f32::from(u16::from_be_bytes([pair[0], pair[1]])));
        (lightness(wide, channels), 65_535.0)
    } else {
        (lightness(samples.iter().map(|sample| f32::from(*sample)), channels), 255.0)
    };
    Ok(Picture {
        grey: Raster { columns: frame.width as usize, rows: frame.height as usize, values },
        full_scale,
        scale: reader.info().pixel_dims.map_or(FileScale::Absent, scale),
        more: false,
    })
}

fn scale(dimensions: png::PixelDimensions) -> FileScale {
    match dimensions.unit {
        png::Unit::Meter => FileScale::of_resolution(dimensions.xppu.into(), dimensions.yppu.into(), 1.0),
        png::Unit::Unspecified => FileScale::Distrusted("the file gives the shape of a pixel, not its size".into()),
    }
}
