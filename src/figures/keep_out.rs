//! Places that must stay clean: how many particles reach them, how likely, and from how far.

use super::{Estimate, FigureRow, RegionFigure, estimate_at};
use motefall_physics::inputs::{Inputs, Role};

/// A place that must stay clean, over prints.
#[derive(Debug, Clone)]
pub struct KeepOut<'a> {
    /// Name of its region.
    pub region: &'a str,
    /// Another electrode or a keep-out.
    pub role: Role,
    /// Particles in a print.
    pub particles: Option<Estimate>,
    /// Probability of at least one; the upper bound if no print had any.
    pub hit: Option<Estimate>,
    /// Distance of the farthest particle inside from the nearest printed electrode, m; of the prints that had any.
    pub farthest: Option<Estimate>,
}

/// Places that must stay clean, in the order of the scenario.
pub fn keep_outs<'a>(inputs: &'a Inputs, figures: &[FigureRow]) -> Vec<KeepOut<'a>> {
    let regions = inputs.regions.iter().filter(|region| matches!(region.role, Role::Electrode | Role::KeepOut));
    regions
        .map(|region| {
            let get = |figure: RegionFigure| estimate_at(figures, figure, Some(&region.name)).copied();
            KeepOut {
                region: &region.name,
                role: region.role,
                particles: get(RegionFigure::Particles),
                hit: get(RegionFigure::HitProbability),
                farthest: get(RegionFigure::FarthestParticle),
            }
        })
        .collect()
}
