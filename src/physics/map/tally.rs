//! Counts of one print that no map can give: fates, sizes, distances. All integers, so order does not matter.

use crate::source::content::Grain;
use std::sync::OnceLock;

/// Bins of a size histogram per factor e of diameter.
const BINS_PER_LOG: f64 = 12.0;
/// Smallest and largest diameter of the size histograms, m.
const SIZE_RANGE: [f64; 2] = [5e-9, 100e-6];
/// Width of a distance bin, m.
pub const REACH_BIN: f64 = 0.5e-6;
/// Distance bins; the last holds everything beyond.
pub const REACH_BINS: usize = 8000;
/// Diameter above which a particle counts as coarse, m: what ultrasonic printing of a coarse powder tends to deliver ends near
/// half a micrometre (common practice, no source).
pub const COARSE: f64 = 0.5e-6;

/// Sizes counted in bins equal in the logarithm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SizeCounts(pub Vec<u64>);

impl Default for SizeCounts {
    fn default() -> Self {
        Self(vec![0; Self::bins()])
    }
}

impl SizeCounts {
    fn bins() -> usize {
        ((SIZE_RANGE[1] / SIZE_RANGE[0]).ln() * BINS_PER_LOG).ceil() as usize
    }

    /// Edges of the bins, m.
    pub fn edges() -> Vec<f64> {
        (0..=Self::bins()).map(|k| SIZE_RANGE[0] * (k as f64 / BINS_PER_LOG).exp()).collect()
    }

    /// Counts one, by the logarithm of its diameter (m); beyond the range the end bins count.
    #[inline]
    pub fn add_log(&mut self, log_diameter: f64) {
        let place = (log_diameter - SIZE_RANGE[0].ln()) * BINS_PER_LOG;
        let last = self.0.len() - 1;
        self.0[(place.max(0.0) as usize).min(last)] += 1;
    }

    fn join(&mut self, other: &Self) {
        add_all(&mut self.0, &other.0);
    }
}

/// What became of droplets and of their particles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FateCount {
    /// Droplets.
    pub droplets: u64,
    /// Particles per powder.
    pub particles: Vec<u64>,
    /// Solid volume per powder, nm^3. A vial's solids may be more than 2^64 of them, 18 uL.
    pub volume: Vec<u128>,
    /// Particles above `COARSE`.
    pub coarse: u64,
    /// Diameter of the largest particle, as the bits of a positive float, which sort as the floats do.
    largest: u64,
    /// Distance of the farthest particle from the nearest printed electrode, in the same form.
    farthest: u64,
}

impl FateCount {
    fn new(powders: usize) -> Self {
        Self { droplets: 0, particles: vec![0; powders], volume: vec![0; powders], coarse: 0, largest: 0, farthest: 0 }
    }

    /// Counts a particle.
    #[inline]
    pub fn add(&mut self, grain: &Grain) {
        let powder = usize::from(grain.powder);
        self.particles[powder] += 1;
        self.volume[powder] += u128::from(grain.volume);
        self.coarse += u64::from(grain.diameter > COARSE);
        self.largest = self.largest.max(grain.diameter.to_bits());
    }

    /// Diameter of the largest particle, m; 0 if there is none.
    pub fn largest(&self) -> f64 {
        f64::from_bits(self.largest)
    }

    /// Notes how far from the nearest printed electrode a particle lies, m (0 on it; infinite if there is none).
    #[inline]
    pub fn note_distance(&mut self, distance: f64) {
        self.farthest = self.farthest.max(distance.to_bits());
    }

    /// Distance of the farthest particle from the nearest printed electrode, m; 0 if none lies off it; `None` if nothing is printed on.
    pub fn farthest(&self) -> Option<f64> {
        Some(f64::from_bits(self.farthest)).filter(|distance| distance.is_finite())
    }

    fn join(&mut self, other: &Self) {
        self.droplets += other.droplets;
        add_all(&mut self.particles, &other.particles);
        add_all(&mut self.volume, &other.volume);
        self.coarse += other.coarse;
        self.largest = self.largest.max(other.largest);
        self.farthest = self.farthest.max(other.farthest);
    }
}

fn add_all<T: Copy + std::ops::AddAssign>(mine: &mut [T], theirs: &[T]) {
    for (a, b) in mine.iter_mut().zip(theirs) {
        *a += *b;
    }
}

/// Index of a fate in [`Tally::fates`]; regions follow from [`fate::FIRST_REGION`].
pub mod fate {
    /// Settled in the mist tube.
    pub const SETTLED: usize = 0;
    /// Diffused to the tube's wall.
    pub const DIFFUSED: usize = 1;
    /// Hit a bend.
    pub const BEND: usize = 2;
    /// Hit the wall of the taper.
    pub const WALL: usize = 3;
    /// Swept past the chip.
    pub const ESCAPED: usize = 4;
    /// Bounced off.
    pub const BOUNCED: usize = 5;
    /// Landed outside every region.
    pub const ELSEWHERE: usize = 6;
    /// Landed beyond the chip's edge.
    pub const OFF_CHIP: usize = 7;
    /// First region, in the order of the inputs.
    pub const FIRST_REGION: usize = 8;
}

/// All counts of one print.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Droplets generated while the shutter was open, and their particles.
    pub generated: FateCount,
    /// Per powder: solid volume, nm^3, expected in the droplets that the tube keeps, most of all, by their sizes; how many there are of each
    /// size is drawn for this alone. The budget of a first print follows droplets of their own, and no figure asks for those.
    pub kept_by_tube: Vec<u128>,
    /// By fate, see [`fate`]; adds up to `generated`.
    pub fates: Vec<FateCount>,
    /// Droplet sizes: generated, tube exit, nozzle exit, landed.
    pub droplet_sizes: [SizeCounts; 4],
    /// Per powder: sizes of the landed particles.
    pub landed_sizes: Vec<SizeCounts>,
    /// Droplets with solids that landed next to the radius to which droplets are followed.
    pub at_edge: u64,
    /// Landed solid volume, nm^3, by distance from the nearest printed electrode's edge in bins of [`REACH_BIN`]; inside counts as 0.
    pub reach: Vec<u128>,
}

impl Tally {
    /// Nothing counted.
    pub fn new(powders: usize, regions: usize) -> Self {
        Self {
            generated: FateCount::new(powders),
            kept_by_tube: vec![0; powders],
            fates: vec![FateCount::new(powders); fate::FIRST_REGION + regions],
            droplet_sizes: Default::default(),
            landed_sizes: vec![SizeCounts::default(); powders],
            at_edge: 0,
            reach: vec![0; REACH_BINS],
        }
    }

    /// Back to nothing counted.
    pub(crate) fn clear(&mut self) {
        *self = Self::new(self.generated.particles.len(), self.fates.len() - fate::FIRST_REGION);
    }

    /// Adds another tally of the same shape.
    pub(crate) fn join(&mut self, other: &Self) {
        self.generated.join(&other.generated);
        add_all(&mut self.kept_by_tube, &other.kept_by_tube);
        for (a, b) in self.fates.iter_mut().zip(&other.fates) {
            a.join(b);
        }
        for (a, b) in self.droplet_sizes.iter_mut().zip(&other.droplet_sizes) {
            a.join(b);
        }
        for (a, b) in self.landed_sizes.iter_mut().zip(&other.landed_sizes) {
            a.join(b);
        }
        self.at_edge += other.at_edge;
        add_all(&mut self.reach, &other.reach);
    }

    /// Counts of what landed on a region.
    pub fn region(&self, index: usize) -> &FateCount {
        &self.fates[fate::FIRST_REGION + index]
    }

    /// Counts of everything that came through the tube.
    pub fn through_tube(&self) -> impl Iterator<Item = &FateCount> {
        self.fates[fate::WALL..].iter()
    }

    /// Counts of everything that landed on the plane.
    pub fn landed(&self) -> impl Iterator<Item = &FateCount> {
        self.fates[fate::ELSEWHERE..].iter()
    }
}

/// Counts of one print by layer. What they are together is added up when it is asked for, and again after more was counted.
#[derive(Debug, Clone)]
pub struct Tallies {
    /// One at least.
    layers: Vec<Tally>,
    /// The sum of several layers, if somebody asked for it.
    sum: OnceLock<Tally>,
}

impl Tallies {
    /// Nothing counted, in so many layers.
    pub fn new(layers: usize, powders: usize, regions: usize) -> Self {
        Self { layers: vec![Tally::new(powders, regions); layers.max(1)], sum: OnceLock::new() }
    }

    /// Counts of all layers together.
    pub(crate) fn whole(&self) -> &Tally {
        let [first, others @ ..] = &self.layers[..] else { unreachable!("there is a layer") };
        if others.is_empty() {
            return first;
        }
        self.sum.get_or_init(|| {
            let mut sum = first.clone();
            others.iter().for_each(|layer| sum.join(layer));
            sum
        })
    }

    /// Counts of each layer, in their order.
    pub fn layers(&self) -> &[Tally] {
        &self.layers
    }

    /// Counts of a layer, to count on.
    #[inline]
    pub fn layer_mut(&mut self, layer: usize) -> &mut Tally {
        self.sum.take();
        &mut self.layers[layer]
    }

    /// Back to nothing counted.
    pub fn clear(&mut self) {
        self.sum.take();
        self.layers.iter_mut().for_each(Tally::clear);
    }

    /// Adds counts of the same layers.
    pub fn join(&mut self, other: &Self) {
        self.sum.take();
        self.layers.iter_mut().zip(&other.layers).for_each(|(a, b)| a.join(b));
    }
}

impl PartialEq for Tallies {
    fn eq(&self, other: &Self) -> bool {
        self.layers == other.layers
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_over_layers_is_never_that_of_before() {
        let mut tallies = Tallies::new(2, 1, 0);
        let count = |tallies: &mut Tallies, layer: usize| tallies.layer_mut(layer).generated.add(&Grain::new(0, 1e-6));
        count(&mut tallies, 0);
        assert_eq!(tallies.whole().generated.particles, [1]);
        count(&mut tallies, 1);
        assert_eq!(tallies.whole().generated.particles, [2]);
        let other = tallies.clone();
        tallies.join(&other);
        assert_eq!(tallies.whole().generated.particles, [4]);
        assert_eq!(tallies.layers()[1].generated.particles, [2]);
        tallies.clear();
        assert_eq!(tallies.whole().generated.particles, [0]);
        // A single layer is the whole.
        let mut one = Tallies::new(1, 1, 0);
        count(&mut one, 0);
        assert_eq!(one.whole(), &one.layers()[0]);
    }
}
