//! Particles in a droplet, drawn one by one.
//!
//! The number of particles of a powder that ride in a droplet is Poisson with mean n V E[P(d_p/d)]. It is drawn by thinning: a
//! Poisson number of candidates with mean n V F(d'), F the share of the powder's number below the upper end d' of the droplet's size
//! class, each kept with probability P(d_p/d). The result is exactly Poisson with the right sizes; the classes only save work.

use super::atomiser::{DropletSizes, Retention, number_concentration, sphere_volume};
use super::inverse::Inverse;
use crate::inputs::Powder;
use crate::quick;
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
/// Even shares for which the bin is known at once: so many that hardly any search is left.
const SIZE_GUIDES: usize = 4096;
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
pub(crate) fn whole_volume(diameter: f64) -> u64 {
    // By way of i64: its conversion is one instruction.
    (sphere_volume(diameter) * (1.0 / CUBIC_NANOMETRE) + 0.5) as i64 as u64
}

/// Draws sizes of one powder, m.
fn sizes(powder: &Powder) -> Inverse {
    let (low, high) = powder.sizes.support();
    let step = (high / low).ln() / SIZE_BINS as f64;
    let diameters = (0..=SIZE_BINS).map(|k| low * (k as f64 * step).exp());
    let mut edges: Vec<[f64; 2]> = diameters.map(|d| [powder.sizes.number_below(d), d]).collect();
    (edges[0][0], edges[SIZE_BINS][0]) = (0.0, 1.0);
    Inverse::new(edges, SIZE_GUIDES)
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
    sizes: Vec<Inverse>,
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
    /// Number of powders.
    pub fn powders(&self) -> usize {
        self.sizes.len()
    }

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
        Self { classes, sizes: powders.iter().map(sizes).collect(), retention }
    }

    /// Candidates expected in a droplet of a class and volume (m^3). Grows with both.
    #[inline]
    pub(crate) fn candidates(&self, class: usize, volume: f64) -> f64 {
        self.classes[class].density * volume
    }

    /// What droplets of a class and up to a diameter (m) may hold, of which `share` of the volume counts.
    pub fn allowance(&self, class: usize, diameter: f64, share: f64) -> Allowance {
        let mean = self.candidates(class, sphere_volume(diameter) * share);
        Allowance { class, mean, per_cube: diameter.powi(-3) }
    }

    /// Adds the particles of a droplet of a diameter (m) to `grains`.
    #[inline]
    pub fn draw(&self, allowance: &Allowance, diameter: f64, rng: &mut impl Rng, grains: &mut Vec<Grain>) {
        self.keep(allowance, diameter, poisson(allowance.mean, rng), rng, grains);
    }

    /// Adds those of a number of candidates that the droplet has room for and retains.
    #[inline]
    pub fn keep(
        &self,
        allowance: &Allowance,
        diameter: f64,
        candidates: u64,
        rng: &mut impl Rng,
        grains: &mut Vec<Grain>,
    ) {
        let class = &self.classes[allowance.class];
        let room = diameter * diameter * diameter * allowance.per_cube;
        let per_diameter = 1.0 / diameter;
        // All are written, one after the last that was kept: whether one is kept is no branch.
        let mut kept = grains.len();
        grains.resize(kept + candidates as usize, Grain { powder: 0, diameter: 0.0, volume: 0 });
        for _ in 0..candidates {
            let mut powder = 0;
            if self.sizes.len() > 1 {
                let pick = uniform(rng);
                while powder + 1 < self.sizes.len() && pick >= class.up_to[powder] {
                    powder += 1;
                }
            }
            let (_, grain) = self.sizes[powder].at(uniform(rng) * class.number_below[powder]);
            let ratio = grain * per_diameter;
            let place = ratio.min(1.0) * RETENTION_NODES as f64;
            let node = (place as usize).min(RETENTION_NODES - 1);
            let (low, high) = (self.retention[node], self.retention[node + 1]);
            let retained = low + (place - node as f64) * (high - low);
            grains[kept] = Grain::new(powder as u16, grain);
            kept += usize::from((ratio < 1.0) & (uniform(rng) < room * retained));
        }
        grains.truncate(kept);
    }
}

/// Candidates of the largest droplet of a class: those of a smaller one are thinned by its volume, which leaves them Poisson.
#[derive(Debug, Clone, Copy)]
pub struct Allowance {
    class: usize,
    /// Expected number.
    mean: f64,
    /// Inverse cube of the largest diameter, 1/m^3.
    per_cube: f64,
}

impl Allowance {
    /// Chance that there is at least one candidate.
    #[inline]
    pub fn some(&self) -> f64 {
        -(-self.mean).exp_m1()
    }

    /// Expected number of candidates.
    pub fn mean(&self) -> f64 {
        self.mean
    }
}

/// Draws Poisson numbers that are known not to be 0, for one mean after another: by inversion with a guide, exactly.
#[derive(Debug, Clone, Default)]
pub struct AboveZero {
    means: Vec<AboveZeroMean>,
    /// Share of the probability up to each number from 1 on, mean after mean.
    up_to: Vec<f64>,
}

#[derive(Debug, Clone)]
struct AboveZeroMean {
    mean: f64,
    /// Where its shares begin.
    first: usize,
    /// For each of [`NUMBER_GUIDES`] even shares, the first number to look at, less 1.
    guide: [u8; NUMBER_GUIDES],
}

/// Even shares for which the number is nearly known at once.
const NUMBER_GUIDES: usize = 16;
/// Mean above which a number is drawn by the library's method: shares of larger ones would take too long to add up for every print.
const LARGEST_GUIDED: f64 = 40.0;
/// Share of the probability below which no number is drawn: less than a step between the shares that are drawn.
const LEAST_SHARE: f64 = 1e-17;

impl AboveZero {
    /// For means of at least 0; where one is 0, the number is 1.
    pub fn new(means: impl IntoIterator<Item = f64>) -> Self {
        let mut all = Self::default();
        for mean in means {
            let first = all.up_to.len();
            let mut guide = [0; NUMBER_GUIDES];
            if mean <= LARGEST_GUIDED {
                all.add_shares(mean);
                let shares = &all.up_to[first..];
                let mut number = 0;
                for (k, guide) in guide.iter_mut().enumerate() {
                    while shares[number] <= k as f64 / NUMBER_GUIDES as f64 {
                        number += 1;
                    }
                    *guide = u8::try_from(number).expect("numbers of guided means are below 200");
                }
            }
            all.means.push(AboveZeroMean { mean, first, guide });
        }
        all
    }

    fn add_shares(&mut self, mean: f64) {
        // m e^-m/(1 - e^-m)
        let mut share = if mean > 0.0 { mean / mean.exp_m1() } else { 1.0 };
        let (mut sum, mut number) = (0.0, 1.0);
        while share > LEAST_SHARE || number < mean {
            sum += share;
            self.up_to.push(sum.min(1.0));
            number += 1.0;
            share *= mean / number;
        }
        *self.up_to.last_mut().expect("1 has a share") = 1.0;
    }

    /// A number for one of the means.
    #[inline]
    pub fn draw(&self, mean: usize, rng: &mut impl Rng) -> u64 {
        let AboveZeroMean { mean, first, guide } = &self.means[mean];
        if *mean > LARGEST_GUIDED {
            return large_above_zero(*mean, rng);
        }
        let share = uniform(rng);
        let mut number = usize::from(guide[(share * NUMBER_GUIDES as f64) as usize]);
        while self.up_to[first + number] <= share {
            number += 1;
        }
        number as u64 + 1
    }
}

#[cold]
fn large_above_zero(mean: f64, rng: &mut impl Rng) -> u64 {
    loop {
        let count = poisson(mean, rng);
        if count > 0 {
            return count;
        }
    }
}

/// Even in [0, 1).
#[inline]
pub fn uniform(rng: &mut impl Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
}

/// A point even in the unit disc.
#[inline]
pub fn in_disc(rng: &mut impl Rng) -> [f64; 2] {
    of_disc(share_and_turn(rng))
}

/// So many points even in the unit disc, in place of those that are there. Nothing is drawn again, so the processor has nothing to guess, and
/// several are worked out at a time.
pub fn in_discs(count: usize, rng: &mut impl Rng, points: &mut Vec<[f64; 2]>) {
    points.clear();
    points.extend((0..count).map(|_| share_and_turn(rng)));
    points.iter_mut().for_each(|point| *point = of_disc(*point));
}

/// A number even in 0 to 1, neither 0 nor 1, and one even in [0, 1).
#[inline]
fn share_and_turn(rng: &mut impl Rng) -> [f64; 2] {
    const HALF_STEP: f64 = 0.5 / (1u64 << 53) as f64;
    [uniform(rng) + HALF_STEP, uniform(rng)]
}

/// The point of the unit disc at a squared radius and a share of the turn.
#[inline]
fn of_disc([square, turn]: [f64; 2]) -> [f64; 2] {
    let radius = square.sqrt();
    quick::on_circle(turn).map(|part| radius * part)
}

/// A Poisson number: by inversion for small means, by the library's rejection method for large ones.
#[inline]
pub fn poisson(mean: f64, rng: &mut impl Rng) -> u64 {
    if mean <= INVERSION_LIMIT {
        return inverted(mean, uniform(rng));
    }
    match Poisson::new(mean) {
        Ok(law) => law.sample(rng) as u64,
        Err(_) => unreachable!("a mean above {INVERSION_LIMIT} is a valid Poisson mean"),
    }
}

/// The Poisson number up to which a share of the probability lies.
#[inline]
fn inverted(mean: f64, mut share: f64) -> u64 {
    let mut probability = (-mean).exp();
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
        // Of a largest droplet that is 5 % wider.
        let allowance = contents.allowance(class, 1.05 * d, 1.0);
        let mut grains = Vec::new();
        let n = 200_000;
        let mut sums = [[0.0f64; 3]; 2];
        for _ in 0..n {
            grains.clear();
            contents.draw(&allowance, d, &mut rng, &mut grains);
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
        let means = [1e-9f64, 0.02, 0.7, 5.0, 14.0, 40.0, 55.0];
        let numbers = AboveZero::new(means);
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(5);
        for (place, mean) in means.into_iter().enumerate() {
            let n = 100_000;
            let (mut s, mut ones) = (0.0, 0u32);
            for _ in 0..n {
                let k = numbers.draw(place, &mut rng);
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

    #[test]
    fn shares_of_numbers_above_zero_are_those_of_poisson() {
        // m = 2: P(1) = 2/(e^2 - 1) = 0.313035, P(2) the same, P(3) two thirds of it.
        let numbers = AboveZero::new([0.0, 2.0, 40.0]);
        let shares = &numbers.up_to[numbers.means[1].first..numbers.means[2].first];
        for (k, up_to) in [0.313_035, 0.626_070, 0.834_760].into_iter().enumerate() {
            assert!((shares[k] - up_to).abs() < 1e-6, "{shares:?}");
        }
        // Nothing is lost at the end: what the sum lacks of 1 is rounding.
        for mean in [0.5, 2.0, 40.0] {
            let one = AboveZero::new([mean]);
            let before_last = one.up_to[one.up_to.len() - 2];
            assert!((before_last - 1.0).abs() < 1e-14 && one.up_to.is_sorted(), "{mean}: {before_last}");
        }
        // Without candidates there is one all the same: nobody asks.
        assert_eq!(numbers.means[1].first, 1);
    }
}
