//! How large a pixel is.

use crate::error::MeasureError;

/// Pixels larger than this are those of screens, printers and scanners (5000 per inch are 5.08 µm), or of magnifications at which no grain
/// shows; a file that gives them gives a default. An estimate.
const LARGEST_TRUSTED: f64 = 5e-6;
/// Pixels smaller than an atom, m.
const SMALLEST_TRUSTED: f64 = 5e-11;
/// By how much the sides of a pixel may differ.
const MOST_OBLONG: f64 = 0.002;
/// Difference from what the file says that is told.
const MOST_DIFFERENT: f64 = 0.01;

/// What a file says of the size of its pixels.
#[derive(Debug, Clone, PartialEq)]
pub enum FileScale {
    /// Nothing.
    Absent,
    /// A side of a pixel, m.
    Trusted(f64),
    /// Something that is not taken, and why.
    Distrusted(String),
}

/// Where the scale is from.
#[derive(Debug, Clone, PartialEq)]
pub enum ScaleFrom {
    /// Given by hand. The file says something else, m, if that could be trusted.
    Given(Option<f64>),
    /// From the file.
    File,
}

/// The size of a pixel, and where it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Side of a pixel, m.
    pub pixel: f64,
    /// Where it is from.
    pub from: ScaleFrom,
}

impl FileScale {
    /// Of so many pixels to a length, m.
    pub(super) fn of_resolution(across: f64, down: f64, length: f64) -> Self {
        if across <= 0.0 || down <= 0.0 {
            return Self::Distrusted("the file gives a resolution of nothing".into());
        }
        let (width, height) = (length / across, length / down);
        if (width / height - 1.0).abs() > MOST_OBLONG {
            return Self::Distrusted(format!(
                "the file says that pixels are {:.4} by {:.4} µm, and oblong ones are not measured",
                width * 1e6,
                height * 1e6
            ));
        }
        if width > LARGEST_TRUSTED {
            let dpi = (0.0254 / width).round();
            return Self::Distrusted(format!(
                "the file says {dpi} pixels per inch, which is a default for screens and printers, not a magnification"
            ));
        }
        if width < SMALLEST_TRUSTED {
            return Self::Distrusted("the file says that pixels are smaller than atoms".into());
        }
        Self::Trusted(width)
    }
}

impl Scale {
    /// The scale given, m per pixel, or else that of the file.
    pub fn resolve(given: Option<f64>, file: &FileScale) -> Result<Self, MeasureError> {
        match (given, file) {
            (Some(pixel), _) if pixel < SMALLEST_TRUSTED => Err(MeasureError::NoScale {
                why: format!("{} nm is less than an atom; was it meant in µm?", pixel * 1e9),
            }),
            (Some(pixel), FileScale::Trusted(own)) if (own / pixel - 1.0).abs() > MOST_DIFFERENT => {
                Ok(Self { pixel, from: ScaleFrom::Given(Some(*own)) })
            }
            (Some(pixel), _) => Ok(Self { pixel, from: ScaleFrom::Given(None) }),
            (None, FileScale::Trusted(pixel)) => Ok(Self { pixel: *pixel, from: ScaleFrom::File }),
            (None, FileScale::Distrusted(why)) => Err(MeasureError::NoScale { why: why.clone() }),
            (None, FileScale::Absent) => Err(MeasureError::NoScale { why: "the file does not say".into() }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_of_screens_are_not_taken() {
        for dpi in [72.0, 96.0, 300.0, 2400.0] {
            let scale = FileScale::of_resolution(dpi, dpi, 0.0254);
            assert!(matches!(&scale, FileScale::Distrusted(why) if why.contains(&format!("{dpi} pixels per inch"))));
            assert!(Scale::resolve(None, &scale).is_err());
            assert_eq!(Scale::resolve(Some(1e-8), &scale).expect("given").from, ScaleFrom::Given(None));
        }
        // 8e7 pixels per metre are 12.5 nm.
        assert_eq!(FileScale::of_resolution(8e7, 8e7, 1.0), FileScale::Trusted(1.25e-8));
        assert!(matches!(FileScale::of_resolution(8e7, 7e7, 1.0), FileScale::Distrusted(_)));
        let given = Scale::resolve(Some(1e-8), &FileScale::Trusted(1.25e-8)).expect("given");
        assert_eq!(given, Scale { pixel: 1e-8, from: ScaleFrom::Given(Some(1.25e-8)) });
    }
}
