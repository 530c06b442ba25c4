//! Pixels as files hold them, and grey values of them.

use super::scale::FileScale;
use crate::error::MeasureError;
use crate::raster::Raster;

/// Most pixels that are read. About 40 bytes a pixel are at work, so this stays below 2 GB; a camera has a fifth of it.
const MOST_PIXELS: u64 = 48_000_000;

/// Weights of red, green and blue in the lightness of a colour. Source: Recommendation ITU-R BT.601 (from memory).
const LIGHTNESS: [f32; 3] = [0.299, 0.587, 0.114];

/// A picture.
#[derive(Debug, Clone)]
pub(crate) struct Picture {
    /// Lightness, in the file's own counts: 0 to `full_scale`.
    pub grey: Raster<f32>,
    /// The lightest grey that the file can hold: 255 or 65 535.
    pub full_scale: f32,
    /// What the file says of the size of its pixels.
    pub scale: FileScale,
    /// How many more pictures the file holds at least, which are not looked at.
    pub more: bool,
}

/// Refuses what would fill the memory, before it is decoded.
pub(super) fn check_size(columns: u32, rows: u32) -> Result<(), MeasureError> {
    let (columns, rows) = (u64::from(columns), u64::from(rows));
    if columns * rows > MOST_PIXELS {
        return Err(MeasureError::TooLarge { columns, rows, most: MOST_PIXELS });
    }
    Ok(())
}

/// A file that begins like a picture and does not go on like one.
pub(super) fn broken(what: &dyn std::fmt::Display) -> MeasureError {
    MeasureError::NotAPicture {
        what: format!("it begins like a picture but is damaged or cut short ({what})"),
        remedy: "copy or save it again",
    }
}

/// Lightness of samples that lie side by side, `channels` a pixel: grey, grey and opacity, colours, colours and opacity. Opacity is left
/// out.
pub(super) fn lightness(samples: impl ExactSizeIterator<Item = f32>, channels: usize) -> Vec<f32> {
    let mut grey = Vec::with_capacity(samples.len() / channels);
    let mut pixel = [0.0; 4];
    for (k, sample) in samples.enumerate() {
        let channel = k % channels;
        pixel[channel] = sample;
        if channel + 1 == channels {
            grey.push(if channels < 3 { pixel[0] } else { lightness_of([pixel[0], pixel[1], pixel[2]]) });
        }
    }
    grey
}

/// Lightness of one colour.
pub(super) fn lightness_of([red, green, blue]: [f32; 3]) -> f32 {
    // Grey stays what it is to the bit.
    if red == green && green == blue {
        return red;
    }
    LIGHTNESS[0] * red + LIGHTNESS[1] * green + LIGHTNESS[2] * blue
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lightness_of_pixels() {
        let grey = |samples: &[f32], channels| lightness(samples.iter().copied(), channels);
        assert_eq!(grey(&[1.0, 2.0], 1), [1.0, 2.0]);
        assert_eq!(grey(&[7.0, 255.0, 8.0, 0.0], 2), [7.0, 8.0]);
        // 0.299 * 100 + 0.587 * 50 + 0.114 * 200 = 29.9 + 29.35 + 22.8.
        assert!((grey(&[100.0, 50.0, 200.0, 255.0], 4)[0] - 82.05).abs() < 1e-4);
        assert_eq!(grey(&[9.0, 9.0, 9.0], 3), [9.0]);
    }

    #[test]
    fn what_would_fill_the_memory_is_refused() {
        assert!(check_size(40_000, 40_000).is_err() && check_size(8000, 6000).is_ok());
    }
}
