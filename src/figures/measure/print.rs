//! The figures of a print as a whole.

use super::Measurer;
use crate::budget::{masses, masses_of};
use crate::joined::Joined;
use crate::{Measured, electrode_view};
use motefall_physics::figure_kinds::PrintFigure;
use motefall_physics::inputs::Role;
use motefall_physics::map::tally::{FateCount, REACH_BIN, Tally};

/// Share of the landed solids that the reach of the overspray holds.
const REACH_SHARE: f64 = 0.99;

/// What is known of a print as a whole.
pub(super) struct OfPrint<'a> {
    measurer: &'a Measurer,
    tally: &'a Tally,
    joined: Option<&'a Joined>,
    /// Solids that left the vials, and those that landed, kg.
    left: f64,
    landed: f64,
    /// Share of these on target regions; `None` without such a region or if nothing landed.
    on_target: Option<f64>,
}

impl OfPrint<'_> {
    pub(super) fn value(&self, figure: PrintFigure) -> Option<Measured> {
        let measurer = self.measurer;
        let exact = match figure {
            PrintFigure::Landed => (self.left > 0.0).then(|| self.landed / self.left),
            PrintFigure::OnTarget => self.on_target,
            PrintFigure::Overspray => self.on_target.map(|share| 1.0 - share),
            PrintFigure::OversprayReach if measurer.targets.is_empty() => None,
            PrintFigure::OversprayReach => reach(&self.tally.reach),
            PrintFigure::FarthestStray => return self.farthest(),
            PrintFigure::Bridge => {
                let between = self.joined.filter(|_| measurer.electrodes.len() > 1);
                between.map(|joined| f64::from(!joined.bridges.is_empty()))
            }
            PrintFigure::CapacityRatio => {
                let on = |role| measurer.capacity(self.tally, role);
                electrode_view::capacity_ratio(on(Role::Counter), on(Role::Target))
            }
            PrintFigure::PrintTime => Some(measurer.bench.print_time),
            PrintFigure::InkUsed => Some(measurer.bench.ink_used),
            PrintFigure::TimePerChip => Some(measurer.bench.time_per_chip),
            PrintFigure::InkPerChip => Some(measurer.bench.ink_per_chip),
            PrintFigure::ChipsPerFill => measurer.bench.chips_per_fill,
            PrintFigure::Settled => measurer.bench.settled,
        };
        exact.map(Measured::Exactly)
    }

    /// Where some land next to the edge of what is followed, others land beyond it.
    fn farthest(&self) -> Option<Measured> {
        let each = self.tally.landed().map(FateCount::farthest).collect::<Option<Vec<f64>>>();
        let farthest = each.filter(|_| self.landed > 0.0)?.into_iter().fold(0.0, f64::max);
        Some(if self.tally.at_edge > 0 { Measured::AtLeast(farthest) } else { Measured::Exactly(farthest) })
    }
}

impl Measurer {
    /// Capacity on regions of a role, C.
    fn capacity(&self, tally: &Tally, role: Role) -> f64 {
        let regions = self.targets.iter().filter(|k| self.inputs.regions[**k].role == role);
        regions
            .flat_map(|k| masses(&self.inputs, tally.region(*k)).into_iter().zip(&self.capacities))
            .map(|(mass, capacity)| mass * capacity)
            .sum()
    }

    pub(super) fn print<'a>(&'a self, tally: &'a Tally, joined: Option<&'a Joined>) -> OfPrint<'a> {
        let mass = |count: &FateCount| masses(&self.inputs, count).iter().sum::<f64>();
        // The same in every print, whether it drew what the tube keeps or not.
        let left = masses_of(&self.inputs, &tally.kept_by_tube).iter().sum::<f64>()
            + tally.through_tube().map(mass).sum::<f64>();
        let landed: f64 = tally.landed().map(mass).sum();
        let on_target: f64 = self.targets.iter().map(|k| mass(tally.region(*k))).sum();
        let on_target = (landed > 0.0 && !self.targets.is_empty()).then(|| on_target / landed);
        OfPrint { measurer: self, tally, joined, left, landed, on_target }
    }
}

/// Distance from the nearest target edge within which 99 % of the landed solids lie, m, taken to lie evenly within a bin; `None` if nothing
/// landed or the last, open bin is needed.
pub(super) fn reach(volumes: &[u128]) -> Option<f64> {
    let wanted = REACH_SHARE * volumes.iter().sum::<u128>() as f64;
    let mut below = 0;
    let bin = volumes.iter().position(|volume| {
        below += volume;
        wanted > 0.0 && below as f64 >= wanted
    })?;
    let missing = (below as f64 - wanted) / volumes[bin] as f64;
    (bin + 1 < volumes.len()).then(|| ((bin + 1) as f64 - missing) * REACH_BIN)
}
