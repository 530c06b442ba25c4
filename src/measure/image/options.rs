//! How a picture is to be measured.

use crate::ground::{Brightness, Separation};
use crate::line::{Along, Kind};
use crate::picture::Crop;

/// What a picture is said to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sought {
    /// Whatever is found.
    Any,
    /// This.
    Only(Kind),
}

/// How a picture is to be measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ImageOptions {
    /// Side of a pixel, m; from the file if left out.
    pub pixel: Option<f64>,
    /// Standard deviation of the size of a pixel, as a share of it.
    pub scale_error: f64,
    /// The part that is measured.
    pub crop: Crop,
    /// Whether particles are bright or dark. If left out, they are bright, unless what is bright may well be ground.
    pub brightness: Option<Brightness>,
    /// Where particles begin.
    pub separation: Separation,
    /// Roughly where the line runs to.
    pub along: Option<Along>,
    /// What the picture shows.
    pub sought: Sought,
}

impl Default for ImageOptions {
    fn default() -> Self {
        Self {
            pixel: None,
            scale_error: 0.0,
            crop: Crop::default(),
            brightness: None,
            separation: Separation::Found,
            along: None,
            sought: Sought::Any,
        }
    }
}
