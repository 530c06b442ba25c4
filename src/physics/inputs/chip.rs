//! The chip: its regions, its cell, and how it is looked at.

use super::DrawingSource;
use crate::contours::Contours;
use crate::words::words;
use std::sync::Arc;

/// Extent of the chip, centred on the origin.
#[derive(Debug, Clone, Copy)]
pub struct Chip {
    /// Width along x, m.
    pub width: f64,
    /// Height along y, m.
    pub height: f64,
}

/// A named area.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Name used in limits and tables.
    pub name: String,
    /// What it is.
    pub role: Role,
    /// Where it is.
    pub outline: Outline,
}

words! {
    /// What a region is.
    pub enum Role {
        /// Electrode that is to be printed on: the working electrode, if there is a counter electrode.
        Target = "target",
        /// Counter electrode that is to be printed on.
        Counter = "counter",
        /// Another electrode: nothing must land on it.
        Electrode = "electrode",
        /// Thin window; may lie under other regions.
        Window = "window",
        /// Nothing must land here: seal, window rim.
        KeepOut = "keep-out",
    }
}

impl Role {
    /// Whether it is to be printed on.
    pub fn is_printed(self) -> bool {
        matches!(self, Self::Target | Self::Counter)
    }

    /// Whether it is a conductor of the chip.
    pub fn is_electrode(self) -> bool {
        matches!(self, Self::Target | Self::Counter | Self::Electrode)
    }
}

/// Outline of a region, m, chip coordinates.
#[derive(Debug, Clone, PartialEq)]
pub enum Outline {
    /// Rectangle.
    Rectangle {
        /// Centre.
        center: [f64; 2],
        /// Width along x and height along y before rotation.
        size: [f64; 2],
        /// Rotation, rad.
        rotation: f64,
    },
    /// Disc.
    Disc {
        /// Centre.
        center: [f64; 2],
        /// Radius.
        radius: f64,
    },
    /// Inside of a polygon, or area of a drawing, with holes.
    Area(Area),
}

impl Outline {
    /// The inside of a simple polygon, either orientation, the first corner not repeated.
    pub fn polygon(corners: Vec<[f64; 2]>) -> Self {
        Self::Area(Area { contours: Arc::new(Contours::new(vec![corners])), source: None })
    }
}

/// An area bounded by contours.
#[derive(Debug, Clone, PartialEq)]
pub struct Area {
    /// The contours.
    pub contours: Arc<Contours>,
    /// Where they came from, if from a drawing.
    pub source: Option<DrawingSource>,
}

/// Resolution of the figures, and grid of the maps.
#[derive(Debug, Clone, Copy)]
pub struct MapInputs {
    /// Edge of the squares over which thickness is averaged for percentiles, unevenness, usable and too thick, m.
    pub resolution: f64,
    /// Pixel edge of the maps, m. No figure depends on it.
    pub pitch: f64,
    /// How far the maps reach beyond regions and path, m.
    pub margin: f64,
    /// Whether the list of single particles is written.
    pub write_particles: bool,
}

/// Electron beam.
#[derive(Debug, Clone)]
pub struct Beam {
    /// Accelerating voltage, V.
    pub voltage: f64,
    /// Layers besides the deposit, such as membranes or liquid.
    pub layers: Vec<BeamLayer>,
    /// Thickness over mean free path above which the place is too thick.
    pub limit: f64,
}

/// A uniform layer in the beam.
#[derive(Debug, Clone)]
pub struct BeamLayer {
    /// Material, for the table.
    pub material: String,
    /// Thickness, m.
    pub thickness: f64,
    /// Inelastic mean free path at the beam's voltage, m.
    pub mean_free_path: f64,
}

/// The cell that the electrodes make.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// C-rates at which currents are given, 1/h of the theoretical capacity.
    pub rates: Vec<f64>,
}
