//! Particles in a droplet, drawn one by one.
//!
//! The number of particles of a powder that ride in a droplet is Poisson with mean n V E[P(d_p/d)]. It is drawn by thinning: a
//! Poisson number of candidates with mean n V F(d'), F the share of the powder's number below the upper end d' of the droplet's size
//! class, each kept with probability P(d_p/d). The result is exactly Poisson with the right sizes; the classes only save work.

use super::atomiser::{DropletSizes, Retention, number_concentration, sphere_volume};
use crate::inputs::Powder;
use crate::units::CUBIC_NANOMETRE;
use rand::Rng;
use rand_distr::{Distribution, Poisson};

/// Size classes of the droplets, even in the standard normal deviate over plus and minus [`DEVIATE_LIMIT`].
pub const CLASSES: usize = 256;
/// Deviates beyond are counted in the end classes.
pub const DEVIATE_LIMIT: f64 = 7.0;
/// Bins of the particle sizes, even in the logarithm; within a bin, about 1 % wide, sizes are even. Below anything measurable, and few
/// enough to stay near the processor.
const SIZE_BINS: usize = 512;
/// Nodes of the tabulated retention curve over d_p/d from 0 to 1.
const RETENTION_NODES: usize = 1024;
/// Mean above which the Poisson number is drawn by the library's method rather than by inversion.
const INVERSION_LIMIT: f64 = 12.0;

/// A particle in a droplet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grain {
    /// Index of the powder.
    pub powder: u16,
    /// Diameter, m.
    pub diameter: f64,
    /// Solid volume, nm^3.
    pub volume: u64,
}

impl Grain {
    /// A particle of a powder and a diameter (m).
    #[inline]
    pub fn new(powder: u16, diameter: f64) -> Self {
        Self { powder, diameter, volume: whole_volume(diameter) }
    }
}

/// Solid volume of a sphere in whole nm^3.
#[inline]
pub fn whole_volume(diameter: f64) -> u64 {
    // By way of i64: its conversion is one instruction.
    (sphere_volume(diameter) * (1.0 / CUBIC_NANOMETRE) + 0.5) as i64 as u64
}

/// Draws sizes of one powder.
#[derive(Debug, Clone)]
struct Sizes {
    /// Diameters at the bin edges, m.
    edges: Vec<f64>,
    /// Share of the number below each edge.
    below: Vec<f64>,
    /// For each of `SIZE_BINS` even shares, the first bin to look at.
    guide: Vec<u32>,
}

impl Sizes {
    fn new(powder: &Powder) -> Self {
        let (low, high) = powder.sizes.support();
        let step = (high / low).ln() / SIZE_BINS as f64;
        let edges: Vec<f64> = (0..=SIZE_BINS).map(|k| low * (k as f64 * step).exp()).collect();
        let mut below: Vec<f64> = edges.iter().map(|&d| powder.sizes.number_below(d)).collect();
        below[0] = 0.0;
        below[SIZE_BINS] = 1.0;
        let guide = (0..SIZE_BINS)
            .map(|k| {
                let share = k as f64 / SIZE_BINS as f64;
                (below.partition_point(|b| *b <= share).max(1) - 1) as u32
            })
            .collect();
        Self { edges, below, guide }
    }

    /// Diameter below which a share (0 to 1) of the number lies.
    #[inline]
    fn at(&self, share: f64) -> f64 {
        let mut bin = self.guide[((share * SIZE_BINS as f64) as usize).min(SIZE_BINS - 1)] as usize;
        while bin + 1 < SIZE_BINS && self.below[bin + 1] <= share {
            bin += 1;
        }
        let width = self.below[bin + 1] - self.below[bin];
        let inside = if width > 0.0 { ((share - self.below[bin]) / width).clamp(0.0, 1.0) } else { 0.5 };
        self.edges[bin] + inside * (self.edges[bin + 1] - self.edges[bin])
    }
}

/// Candidates of one droplet class.
#[derive(Debug, Clone)]
struct Class {
    /// Candidates of all powders per volume of droplet, 1/m^3.
    density: f64,
    /// Share of the candidates that belong to powders up to each.
    up_to: Vec<f64>,
    /// Per powder: share of its number below the class's upper end.
    number_below: Vec<f64>,
    /// Per powder: expected solid volume per volume of droplet, in the middle of the class.
    solids: Vec<f64>,
}

/// Draws the particles in droplets of an ink.
#[derive(Debug, Clone)]
pub struct Contents {
    classes: Vec<Class>,
    sizes: Vec<Sizes>,
    retention: Vec<f64>,
}

/// Deviates at both ends of a class.
pub fn class_ends(class: usize) -> [f64; 2] {
    let end = |k: usize| -DEVIATE_LIMIT + k as f64 * 2.0 * DEVIATE_LIMIT / CLASSES as f64;
    [end(class), end(class + 1)]
}

/// Class of a standard normal deviate.
#[inline]
pub fn class_of(deviate: f64) -> usize {
    let place = (deviate + DEVIATE_LIMIT) * (CLASSES as f64 / (2.0 * DEVIATE_LIMIT));
    (place.max(0.0) as usize).min(CLASSES - 1)
}

/// Deviate in the middle of a class.
pub fn class_middle(class: usize) -> f64 {
    let [low, high] = class_ends(class);
    0.5 * (low + high)
}

impl Contents {
    /// Expected solid volume of each powder in a droplet of a class and volume (m^3), m^3.
    #[inline]
    pub fn expected(&self, class: usize, volume: f64) -> impl Iterator<Item = f64> + '_ {
        self.classes[class].solids.iter().map(move |solids| solids * volume)
    }

    /// For the powders of an ink of a density (kg/m^3) in droplets of given sizes.
    pub fn new(powders: &[Powder], ink_density: f64, droplets: &DropletSizes, retention: Retention) -> Self {
        let classes = (0..CLASSES)
            .map(|k| {
                // The end classes stand for everything beyond: no upper end there.
                let upper =
                    if k + 1 == CLASSES { f64::INFINITY } else { droplets.at_deviate(class_ends(k)[1]) * (1.0 + 1e-9) };
                let number_below: Vec<f64> = powders.iter().map(|p| p.sizes.number_below(upper)).collect();
                let parts: Vec<f64> = powders
                    .iter()
                    .zip(&number_below)
                    .map(|(p, below)| number_concentration(p, ink_density) * below)
                    .collect();
                let density: f64 = parts.iter().sum();
                let mut sum = 0.0;
                let up_to = parts
                    .iter()
                    .map(|part| {
                        sum += part;
                        if density > 0.0 { sum / density } else { 1.0 }
                    })
                    .collect();
                let middle = droplets.at_deviate(class_middle(k));
                let solids = powders
                    .iter()
                    .map(|p| {
                        let volume = |x: f64| sphere_volume(x) * retention.probability(x, middle);
                        number_concentration(p, ink_density) * p.sizes.expectation_between(0.0, middle, volume)
                    })
                    .collect();
                Class { density, up_to, number_below, solids }
            })
            .collect();
        let retention = (0..=RETENTION_NODES)
            .map(|k| {
                let x = k as f64 / RETENTION_NODES as f64;
                // The value just below 1 at the end: at 1 and above nothing rides.
                retention.probability(x.min(1.0 - 1e-12), 1.0)
            })
            .collect();
        Self { classes, sizes: powders.iter().map(Sizes::new).collect(), retention }
    }

    /// Candidates expected in a droplet of a class and volume (m^3). Grows with both.
    #[inline]
    pub fn candidates(&self, class: usize, volume: f64) -> f64 {
        self.classes[class].density * volume
    }

    /// Replaces `grains` by the particles of a droplet of a class, diameter (m) and volume (m^3).
    #[inline]
    pub fn draw(&self, class: usize, diameter: f64, volume: f64, rng: &mut impl Rng, grains: &mut Vec<Grain>) {
        let candidates = poisson(self.candidates(class, volume), rng);
        self.keep(class, diameter, candidates, rng, grains);
    }

    /// The same for a droplet that is known to have a candidate.
    #[inline]
    pub fn draw_some(&self, class: usize, diameter: f64, volume: f64, rng: &mut impl Rng, grains: &mut Vec<Grain>) {
        let candidates = poisson_above_zero(self.candidates(class, volume), rng);
        self.keep(class, diameter, candidates, rng, grains);
    }

    /// Replaces `grains` by those of a number of candidates that the droplet retains.
    #[inline]
    fn keep(&self, class: usize, diameter: f64, candidates: u64, rng: &mut impl Rng, grains: &mut Vec<Grain>) {
        grains.clear();
        let class = &self.classes[class];
        for _ in 0..candidates {
            let mut powder = 0;
            if self.sizes.len() > 1 {
                let pick = uniform(rng);
                while powder + 1 < self.sizes.len() && pick >= class.up_to[powder] {
                    powder += 1;
                }
            }
            let grain = self.sizes[powder].at(uniform(rng) * class.number_below[powder]);
            let ratio = grain / diameter;
            if ratio < 1.0 {
                let place = ratio * RETENTION_NODES as f64;
                let node = place as usize;
                let (low, high) = (self.retention[node], self.retention[node + 1]);
                if uniform(rng) < low + (place - node as f64) * (high - low) {
                    grains.push(Grain::new(powder as u16, grain));
                }
            }
        }
    }
}

/// Even in [0, 1).
#[inline]
pub fn uniform(rng: &mut impl Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
}

/// A Poisson number: by inversion for small means, by the library's rejection method for large ones.
#[inline]
pub fn poisson(mean: f64, rng: &mut impl Rng) -> u64 {
    if mean <= INVERSION_LIMIT {
        return inverted(mean, (-mean).exp(), uniform(rng));
    }
    match Poisson::new(mean) {
        Ok(law) => law.sample(rng) as u64,
        Err(_) => unreachable!("a mean above {INVERSION_LIMIT} is a valid Poisson mean"),
    }
}

/// A Poisson number that is known not to be 0; `mean` above 0.
#[inline]
pub fn poisson_above_zero(mean: f64, rng: &mut impl Rng) -> u64 {
    if mean <= INVERSION_LIMIT {
        let none = (-mean).exp();
        return inverted(mean, none, none + uniform(rng) * (1.0 - none)).max(1);
    }
    loop {
        let count = poisson(mean, rng);
        if count > 0 {
            return count;
        }
    }
}

/// The Poisson number up to which a share of the probability lies; `none` is exp(-mean).
#[inline]
fn inverted(mean: f64, none: f64, mut share: f64) -> u64 {
    let mut probability = none;
    let mut count = 0;
    while share >= probability && count < 200 {
        share -= probability;
        count += 1;
        probability *= mean / count as f64;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::{Conduction, Powder};
    use crate::materials::sizes::{LognormalMode, SizeDistribution, Weighting};
    use crate::source::atomiser::rideable_number;
    use rand::SeedableRng;
    use rand::rngs::Xoshiro256PlusPlus;

    fn powder(median: f64, gsd: f64, mass_fraction: f64) -> Powder {
        let mode = LognormalMode { share: 1.0, median, gsd, weighting: Weighting::Number };
        Powder {
            name: "p".into(),
            mass_fraction,
            density: 3000.0,
            sizes: SizeDistribution::from_modes(&[mode]).expect("valid"),
            packing_fraction: 0.5,
            capacity: 0.0,
            mean_free_path: None,
            conduction: Conduction::Insulating,
            hazards: Vec::new(),
        }
    }

    #[test]
    fn numbers_and_volumes_are_those_of_the_quadrature() {
        // One fine and one coarse powder; 200,000 droplets of 2.5 um. Standard error of the mean number about
        // sqrt(mean/n), of the volume from the sample. Bound 5 standard errors: alpha 6e-7.
        let powders = [powder(0.25e-6, 1.5, 0.01), powder(1.2e-6, 1.4, 0.05)];
        let retention = Retention { midpoint: 0.33, steepness: 8.0 };
        let droplets = DropletSizes { median: 2e-6, gsd: 1.5 };
        let contents = Contents::new(&powders, 1100.0, &droplets, retention);
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(3);
        // About 2.5 um: the middle of its class.
        let class = class_of((2.5e-6f64 / droplets.median).ln() / droplets.gsd.ln());
        let d = droplets.at_deviate(class_middle(class));
        let mut grains = Vec::new();
        let n = 200_000;
        let mut sums = [[0.0f64; 3]; 2];
        for _ in 0..n {
            contents.draw(class, d, sphere_volume(d), &mut rng, &mut grains);
            for grain in &grains {
                let cube = (grain.diameter / 1e-6).powi(3);
                let sum = &mut sums[usize::from(grain.powder)];
                sum[0] += 1.0;
                sum[1] += cube;
                sum[2] += cube * cube;
                assert!(grain.diameter < d);
            }
        }
        for (k, expected) in contents.expected(class, sphere_volume(d)).enumerate() {
            // Variance of a compound Poisson sum is n E[X^2].
            let (mean, error) = (sums[k][1] / f64::from(n), 5.0 * sums[k][2].sqrt() / f64::from(n));
            let per_cube = std::f64::consts::PI / 6.0 * 1e-18;
            assert!((expected / per_cube - mean).abs() < error, "{} {mean}", expected / per_cube);
        }
        for (powder, sum) in powders.iter().zip(sums) {
            let concentration = number_concentration(powder, 1100.0);
            let mean = rideable_number(&powder.sizes, concentration, retention, d);
            let error = 5.0 * (mean / f64::from(n)).sqrt();
            assert!((sum[0] / f64::from(n) - mean).abs() < error, "{} {mean}", sum[0] / f64::from(n));
            let cube = concentration
                * sphere_volume(d)
                * powder.sizes.expectation_between(0.0, d, |x| (x / 1e-6).powi(3) * retention.probability(x, d));
            // Variance of a compound Poisson sum is n E[X^2].
            let error = 5.0 * sum[2].sqrt() / f64::from(n);
            assert!((sum[1] / f64::from(n) - cube).abs() < error, "{} {cube}", sum[1] / f64::from(n));
        }
    }

    #[test]
    fn poisson_numbers_have_the_law_of_poisson() {
        // Mean and variance at a small and a large mean; 10^5 draws, five standard errors.
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(4);
        for mean in [0.3, 5.0, 40.0] {
            let n = 100_000;
            let (mut s, mut ss) = (0.0, 0.0);
            for _ in 0..n {
                let k = poisson(mean, &mut rng) as f64;
                s += k;
                ss += k * k;
            }
            let m = s / f64::from(n);
            let v = ss / f64::from(n) - m * m;
            assert!((m - mean).abs() < 5.0 * (mean / f64::from(n)).sqrt());
            assert!((v - mean).abs() < 5.0 * ((2.0 * mean * mean + mean) / f64::from(n)).sqrt());
        }
    }

    #[test]
    fn numbers_above_zero_have_the_law_that_zero_leaves() {
        // E[N | N > 0] = m / (1 - e^-m), E[N^2 | N > 0] = (m + m^2) / (1 - e^-m); 10^5 draws, five standard errors of the mean.
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(5);
        for mean in [1e-9f64, 0.02, 0.7, 5.0, 14.0] {
            let n = 100_000;
            let (mut s, mut ones) = (0.0, 0u32);
            for _ in 0..n {
                let k = poisson_above_zero(mean, &mut rng);
                assert!(k > 0);
                s += k as f64;
                ones += u32::from(k == 1);
            }
            let some = -(-mean).exp_m1();
            let expected = mean / some;
            let variance = (mean + mean * mean) / some - expected * expected;
            assert!((s / f64::from(n) - expected).abs() <= 5.0 * (variance / f64::from(n)).sqrt() + 1e-9, "{mean}");
            let one = mean * (-mean).exp() / some;
            let error = 5.0 * (one * (1.0 - one) / f64::from(n)).sqrt() + 1e-9;
            assert!((f64::from(ones) / f64::from(n) - one).abs() <= error, "{mean}");
        }
    }
}
