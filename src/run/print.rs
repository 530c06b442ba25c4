//! One print: every droplet drawn, carried and landed.

use crate::figures::Particle;
use crate::map::canvas::Canvas;
use crate::map::tally::Tally;

/// What one print left behind.
#[derive(Debug, Clone)]
pub struct PrintOutcome {
    /// Maps in the making.
    pub canvas: Canvas,
    /// Counts.
    pub tally: Tally,
    /// Particles in order of landing, with their heights; empty if they were too many to keep or not asked for.
    pub particles: Vec<Particle>,
    /// Droplets expected but left out because of the droplet budget.
    pub not_simulated: f64,
}
