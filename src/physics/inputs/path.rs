//! What is printed: shapes, and where drawn ones come from.

use crate::contours::Contours;
use crate::units::LengthUnit;
use crate::words::words;
use std::sync::Arc;

/// A printed shape.
#[derive(Debug, Clone)]
pub struct PathItem {
    /// Name shown in tables.
    pub name: String,
    /// Geometry.
    pub shape: Shape,
    /// Stage speed while printing, m/s (not used by dots).
    pub speed: f64,
    /// Number of passes.
    pub passes: u32,
}

/// Geometry of a printed shape, m, chip coordinates.
#[derive(Debug, Clone)]
pub enum Shape {
    /// Straight strokes through the points; a line is two points.
    Polyline(Vec<[f64; 2]>),
    /// Back-and-forth strokes over a rectangle.
    FilledRectangle {
        /// Centre.
        center: [f64; 2],
        /// Width along x and height along y before rotation.
        size: [f64; 2],
        /// Rotation, rad.
        rotation: f64,
        /// Distance between strokes.
        spacing: f64,
    },
    /// Back-and-forth strokes over a disc.
    FilledDisc {
        /// Centre.
        center: [f64; 2],
        /// Radius.
        radius: f64,
        /// Distance between strokes.
        spacing: f64,
    },
    /// The shutter opens at a resting point.
    Dot {
        /// Place.
        at: [f64; 2],
        /// Commanded open time, s.
        dwell: f64,
    },
    /// Parallel strokes over an area of a drawing.
    Filled(Filled),
    /// Lines of a drawing.
    Polylines(DrawnLines),
}

/// An area of a drawing covered by parallel strokes.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The area.
    pub area: Arc<Contours>,
    /// Distance between strokes.
    pub spacing: Spacing,
    /// Direction of the strokes, rad from the x axis.
    pub angle: f64,
    /// What happens at the ends of the strokes.
    pub turns: Turns,
    /// Whether the edge is drawn, too.
    pub edge: EdgeStroke,
    /// Where the area came from.
    pub source: Option<DrawingSource>,
}

/// Distance between the strokes of a filled area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spacing {
    /// So far apart, m.
    Given(f64),
    /// Left out: it follows from how wide a line of the layer becomes, which takes its gas jet.
    FromLineWidth {
        /// About how much it will be, m, for what is checked before; it stays where no mist lands.
        estimate: f64,
    },
}

impl Spacing {
    /// The distance, m, with what follows from the layer's line; `None`: the line is not known.
    pub fn with(self, from_line: Option<f64>) -> f64 {
        match self {
            Self::Given(distance) => distance,
            Self::FromLineWidth { estimate } => from_line.unwrap_or(estimate),
        }
    }
}

words! {
    /// What happens at the ends of the strokes of a filled area.
    pub enum Turns {
        /// The stage turns to the next stroke with the shutter open.
        Open = "open",
        /// The shutter closes at the end of every stroke; with a run-up, the stage turns outside of the area.
        Shut = "shut",
    }
}

/// Whether the edge of a filled area is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeStroke {
    /// It is not.
    Without,
    /// It is, before the area is filled.
    Along,
}

/// Lines of a drawing, each drawn in one go.
#[derive(Debug, Clone)]
pub struct DrawnLines {
    /// Points, m; a closed line ends with its first point.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Where the lines came from.
    pub source: Option<DrawingSource>,
}

/// Where a drawn shape came from.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawingSource {
    /// File, as the scenario names it.
    pub file: String,
    /// Layer; `None`: the whole drawing.
    pub layer: Option<String>,
    /// Length of one unit of the drawing; `None`: as the file states.
    pub unit: Option<LengthUnit>,
    /// Where the drawing's zero lies on the chip, m.
    pub at: [f64; 2],
    /// Rotation about it, rad.
    pub rotation: f64,
    /// Tells one content of the file from another.
    pub fingerprint: String,
}
