//! Intervals of a single print, where counting allows them.

use super::FigureRow;
use super::budget::masses;
use super::measure::Measurer;
use super::places::{Task, Work};
use super::statistics::garwood;
use motefall_physics::figure_kinds::{ItemFigure, Source, Weight};
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::tally::{FateCount, SizeCounts, Tally};
use motefall_physics::units::CUBIC_NANOMETRE;
use std::f64::consts::PI;

impl Measurer {
    /// Gives rows of a single print an interval where counting allows one: particles, mass, capacity, current, width of a line.
    ///
    /// Droplets arrive as a Poisson process and each brings a Poisson number of particles in proportion to its volume, so for a sum S
    /// of w over particles, `var S = N E[w^2] + S^2 E[V^2]/(E[V]^2 D)`: N particles, D droplets that landed here, V droplet volume at
    /// the tube's exit, w mass (or capacity, or 1) of a particle. The interval is that of a Poisson count with the same relative
    /// error, scaled. It is the chance of this print alone: drift and alignment between prints come on top.
    ///
    /// Source: compound Poisson variance, Feller 1968, An introduction to probability theory and its applications, vol. 1, XII.2;
    /// scaled counts, Dobson et al. 1991, Confidence intervals for weighted sums of Poisson parameters, Stat. Med. 10:457 (memory).
    pub(super) fn single_print(&self, outcome: &PrintOutcome, rows: &mut [FigureRow]) {
        let spreads = Spreads::of(outcome.tally());
        for (row, task) in rows.iter_mut().zip(self.works.iter().flat_map(Work::tasks)) {
            let Some(estimate) = row.estimate.as_mut().filter(|e| e.n == 1 && e.mean > 0.0) else { continue };
            match (task, row.kind.source) {
                (Task::Item(k, ItemFigure::LineWidth), _) if estimate.at_least == 0 => {
                    estimate.interval = self.width_interval(k, outcome);
                    row.note = Some("one print: interval from the scatter along the line".into());
                }
                (Task::Region(k, _), Source::Sum(weight)) => {
                    let Some(counts) = self.effective(outcome.tally().region(k), weight, &spreads) else { continue };
                    estimate.interval = Some(garwood(counts).map(|bound| estimate.mean * bound / counts));
                    row.note = Some("one print: interval from counting droplets and particles alone".into());
                }
                _ => {}
            }
        }
    }

    /// The Poisson count with the relative error of a sum over what landed in a region; `None` if the sum is 0.
    fn effective(&self, count: &FateCount, weight: Weight, spreads: &Spreads) -> Option<f64> {
        // Per powder: sum of w, and E[w^2]/E[w]^2.
        let part = |(k, mass): (usize, f64)| {
            let (particles, spread, capacity) = (count.particles[k] as f64, spreads.particles[k], self.capacities[k]);
            match weight {
                Weight::One => (particles, 1.0),
                Weight::Active => (if capacity > 0.0 { particles } else { 0.0 }, 1.0),
                Weight::Mass => (mass, spread),
                Weight::Capacity => (mass * capacity, spread),
            }
        };
        let parts: Vec<(f64, f64)> = masses(&self.inputs, count).into_iter().enumerate().map(part).collect();
        let sum: f64 = parts.iter().map(|(s, _)| s).sum();
        if sum <= 0.0 {
            return None;
        }
        let from_particles: f64 = parts
            .iter()
            .zip(&count.particles)
            .filter(|(_, n)| **n > 0)
            .map(|((s, spread), n)| s * s * spread / *n as f64)
            .sum();
        let relative_variance = from_particles / (sum * sum) + spreads.droplets / count.droplets.max(1) as f64;
        Some(1.0 / relative_variance)
    }
}

/// `E[V^2]/E[V]^2` of the volumes of droplets at the tube's exit, and of the landed particles of each powder.
struct Spreads {
    droplets: f64,
    particles: Vec<f64>,
}

impl Spreads {
    fn of(tally: &Tally) -> Self {
        Self {
            droplets: volume_spread(&tally.droplet_sizes[1]).unwrap_or(1.0),
            particles: tally.landed_sizes.iter().map(|sizes| volume_spread(sizes).unwrap_or(1.0)).collect(),
        }
    }
}

/// `E[V^2]/E[V]^2` of sphere volumes from counts of diameters, each bin at its middle; `None` if nothing was counted.
fn volume_spread(sizes: &SizeCounts) -> Option<f64> {
    let edges = SizeCounts::edges();
    let (mut n, mut first, mut second) = (0.0, 0.0, 0.0);
    for (k, count) in sizes.0.iter().enumerate().filter(|(_, count)| **count > 0) {
        let (count, volume) = (*count as f64, PI / 6.0 * (edges[k] * edges[k + 1]).powf(1.5) / CUBIC_NANOMETRE);
        n += count;
        first += count * volume;
        second += count * volume * volume;
    }
    (n > 0.0).then(|| second * n / (first * first))
}
