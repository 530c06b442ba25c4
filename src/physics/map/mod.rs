//! Grids on the chip plane and what is collected on them.

pub mod canvas;
pub mod compared;
pub mod far;
pub mod grid;
pub mod near;
pub mod outline;
pub mod regions;
pub mod tally;

use canvas::Canvas;
use far::FarMap;
use tally::{Tallies, Tally};

pub use grid::{Grid, MeasuringGrid};

/// A landed particle, seen from above: how high it lies follows from those that landed before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Particle {
    /// Centre, m.
    pub x: f64,
    /// Centre, m.
    pub y: f64,
    /// Diameter, m.
    pub diameter: f64,
    /// Index of the powder in [`crate::inputs::Inputs::powders`].
    pub powder: u16,
    /// Number of the droplet that brought it.
    pub droplet: u64,
}

/// Solids that an item of the path brought to the stretch along which its profile is averaged, nm^3.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LineVolume {
    /// As far to the sides as the profile goes.
    pub within: u64,
    /// Farther out.
    pub beyond: u64,
}

impl LineVolume {
    /// Share that lies farther out than the profile goes, 0 to 1.
    pub fn share_beyond(self) -> f64 {
        self.beyond as f64 / (self.within + self.beyond).max(1) as f64
    }

    /// Adds what another thread counted.
    pub fn join(&mut self, other: Self) {
        self.within += other.within;
        self.beyond += other.beyond;
    }
}

/// What one print left behind.
#[derive(Debug, Clone)]
pub struct PrintOutcome {
    /// What the figures are measured on.
    pub canvas: Canvas,
    /// The same on the grid of the maps, for pictures; `None` if only figures were wanted.
    pub picture: Option<Canvas>,
    /// Counts of each layer and of all.
    pub tallies: Tallies,
    /// What each item of the path brought beside its profile, in their order over all layers.
    pub lines: Vec<LineVolume>,
    /// Particles on coarse tiles of the whole chip; nothing counted if only the figures were wanted.
    pub far: FarMap,
    /// Particles in order of landing; `None` if they were too many to keep or not asked for.
    pub particles: Option<Vec<Particle>>,
    /// Droplets expected but left out because of the droplet budget.
    pub not_simulated: f64,
}

impl PrintOutcome {
    /// Counts of all layers together.
    pub fn tally(&self) -> &Tally {
        self.tallies.whole()
    }

    /// Particles that landed on the plane.
    pub fn landed_particles(&self) -> u64 {
        self.tally().landed().flat_map(|count| &count.particles).sum()
    }
}
