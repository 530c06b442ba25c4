//! The figures of a region.

use super::Measurer;
use crate::area::Thickness;
use crate::budget::masses;
use crate::electrode_view::{self, HOUR};
use crate::joined::{ActiveShare, Joined};
use motefall_physics::figure_kinds::RegionFigure;
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::tally::FateCount;

/// What is known of a region in a print.
pub(super) struct OfRegion<'a> {
    thickness: Option<Thickness>,
    count: &'a FateCount,
    /// Mass, kg, and capacity, C, of all powders.
    mass: f64,
    capacity: f64,
    particles: u64,
    active: u64,
    /// Active particles on an electrode; `None` without any, or if it is not known what touches what.
    joined: Option<ActiveShare>,
}

impl OfRegion<'_> {
    pub(super) fn value(&self, figure: RegionFigure) -> Option<f64> {
        let of_area = |value: fn(&Thickness) -> f64| self.thickness.as_ref().map(value);
        match figure {
            RegionFigure::Coverage => of_area(|t| t.coverage),
            RegionFigure::Bare => of_area(|t| 1.0 - t.coverage),
            RegionFigure::MeanThickness => of_area(|t| t.mean),
            RegionFigure::ThicknessCv => self.thickness.as_ref().and_then(|t| t.unevenness),
            RegionFigure::ThicknessP5 => of_area(|t| t.percentiles[0]),
            RegionFigure::ThicknessP50 => of_area(|t| t.percentiles[1]),
            RegionFigure::ThicknessP95 => of_area(|t| t.percentiles[2]),
            RegionFigure::ThicknessP99 => of_area(|t| t.percentiles[3]),
            RegionFigure::TooThick => of_area(|t| t.too_thick),
            RegionFigure::Usable => of_area(|t| t.usable),
            RegionFigure::MeanFreePaths => of_area(|t| t.mean_free_paths),
            RegionFigure::Mass => Some(self.mass),
            RegionFigure::Particles => Some(self.particles as f64),
            RegionFigure::ActiveParticles => Some(self.active as f64),
            RegionFigure::Capacity => Some(self.capacity),
            RegionFigure::CurrentAt1C => Some(self.capacity / HOUR),
            RegionFigure::Joined => self.joined.map(|a| a.joined as f64 / a.particles as f64),
            RegionFigure::JoinedCapacity => self.joined.map(|a| a.joined_capacity / a.capacity),
            RegionFigure::ChargePerParticle => electrode_view::charge_per_particle(self.capacity, self.active),
            RegionFigure::FarthestParticle => self.count.farthest().filter(|_| self.particles > 0),
            RegionFigure::LargestParticle => Some(self.count.largest()),
            RegionFigure::CoarseParticles => Some(self.count.coarse as f64),
            RegionFigure::HitProbability => Some(f64::from(self.particles > 0)),
        }
    }
}

impl Measurer {
    pub(super) fn region<'a>(
        &self,
        k: usize,
        outcome: &'a PrintOutcome,
        joined: Option<&Joined>,
        scratch: &mut Vec<(f64, u64)>,
    ) -> OfRegion<'a> {
        let area = &self.regions[k];
        let count = outcome.tally().region(k);
        let mass = masses(&self.inputs, count);
        let of_powders = count.particles.iter().zip(&self.capacities);
        let over = self.electrode_regions.iter().position(|region| *region == k);
        OfRegion {
            thickness: (area.area > 0).then(|| area.thickness(&outcome.canvas, &self.depths, scratch)),
            count,
            capacity: mass.iter().zip(&self.capacities).map(|(mass, capacity)| mass * capacity).sum(),
            mass: mass.iter().sum(),
            particles: count.particles.iter().sum(),
            active: of_powders.filter(|(_, capacity)| **capacity > 0.0).map(|(n, _)| n).sum(),
            joined: over.and_then(|electrode| Some(joined?.active.as_ref()?[electrode])).filter(|a| a.particles > 0),
        }
    }
}
