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
use tally::Tally;

pub use grid::{Grid, MeasuringGrid};

/// A landed particle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Particle {
    /// Centre, m.
    pub x: f64,
    /// Centre, m.
    pub y: f64,
    /// Height of the centre above the chip, m: half the diameter until it is stacked.
    pub z: f64,
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
    /// Counts of all layers.
    pub tally: Tally,
    /// Counts of each layer, which add up to `tally`; empty if there is only one.
    pub layers: Vec<Tally>,
    /// What each item of the path brought beside its profile, in their order over all layers.
    pub lines: Vec<LineVolume>,
    /// Particles on coarse tiles of the whole chip; nothing counted if only the figures were wanted.
    pub far: FarMap,
    /// Particles in order of landing, each as if it lay on the bare chip; empty if they were too many to keep or not asked for.
    pub particles: Vec<Particle>,
    /// Droplets expected but left out because of the droplet budget.
    pub not_simulated: f64,
}

impl PrintOutcome {
    /// Particles that landed on the plane.
    pub fn landed_particles(&self) -> u64 {
        self.tally.landed().flat_map(|count| &count.particles).sum()
    }

    /// Makes `tally` the sum of the layers' counts, if there are several.
    pub fn add_up(&mut self) {
        if !self.layers.is_empty() {
            self.tally.clear();
            self.layers.iter().for_each(|layer| self.tally.join(layer));
        }
    }

    /// Counts of each layer.
    pub fn tallies(&self) -> &[Tally] {
        if self.layers.is_empty() { std::slice::from_ref(&self.tally) } else { &self.layers }
    }
}
