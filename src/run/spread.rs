//! What differs from print to print besides chance: drawn once per print.

use super::streams::{Purpose, stream};
use crate::inputs::{Law, Variation, VariedInput};
use crate::source::content::uniform;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Deviations of one print from the setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviations {
    /// Shift of the path on the chip, m.
    pub shift: [f64; 2],
    /// Rotation of the path about the chip's centre, rad.
    pub rotation: f64,
    /// Added to the stand-off, m.
    pub stand_off: f64,
    /// Factor on the carrier flow.
    pub carrier: f64,
    /// Factor on the sheath flow.
    pub sheath: f64,
    /// Factor on the mist output.
    pub output: f64,
    /// Added to the trend of the output, 1/s.
    pub trend: f64,
    /// Added to the time of warm-up, s.
    pub warm_up: f64,
    /// Factor on the solids in the ink.
    pub solids: f64,
    /// Factor on the median droplet diameter.
    pub droplet_median: f64,
}

impl Deviations {
    /// No deviation at all.
    pub const NONE: Self = Self {
        shift: [0.0; 2],
        rotation: 0.0,
        stand_off: 0.0,
        carrier: 1.0,
        sheath: 1.0,
        output: 1.0,
        trend: 0.0,
        warm_up: 0.0,
        solids: 1.0,
        droplet_median: 1.0,
    };

    /// From the deviation of each varied input.
    pub fn new(spread: &[Variation], deviations: &[f64]) -> Self {
        let mut all = Self::NONE;
        for (variation, &deviation) in spread.iter().zip(deviations) {
            let factor = (1.0 + deviation).max(0.0);
            match variation.input {
                VariedInput::AlignmentX => all.shift[0] = deviation,
                VariedInput::AlignmentY => all.shift[1] = deviation,
                VariedInput::Rotation => all.rotation = deviation,
                VariedInput::StandOff => all.stand_off = deviation,
                VariedInput::Carrier => all.carrier = factor,
                VariedInput::Sheath => all.sheath = factor,
                VariedInput::Output => all.output = factor,
                VariedInput::Trend => all.trend = deviation,
                VariedInput::WarmUp => all.warm_up = deviation,
                VariedInput::Solids => all.solids = factor,
                VariedInput::DropletMedian => all.droplet_median = factor,
            }
        }
        all
    }
}

/// Draws the deviation of each varied input for one print. Each input has its own stream: to vary one more changes no other.
pub fn draw(spread: &[Variation], seed: u64, print: u32) -> Vec<f64> {
    spread
        .iter()
        .map(|variation| {
            let mut rng = stream(seed, print, variation.input as u64, Purpose::Spread);
            variation.sd * deviate(variation.law, &mut rng)
        })
        .collect()
}

/// Largest deviation that a law allows, in standard deviations.
pub fn most(law: Law) -> f64 {
    match law {
        Law::Normal => 4.0,
        Law::Uniform => 3f64.sqrt(),
        Law::Triangular => 6f64.sqrt(),
    }
}

/// A deviation in standard deviations.
fn deviate(law: Law, rng: &mut impl Rng) -> f64 {
    match law {
        Law::Normal => loop {
            let z: f64 = StandardNormal.sample(rng);
            if z.abs() <= most(law) {
                return z;
            }
        },
        Law::Uniform => most(law) * (2.0 * uniform(rng) - 1.0),
        // The sum of two even deviates is triangular.
        Law::Triangular => most(law) * (uniform(rng) + uniform(rng) - 1.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_law_has_its_mean_spread_and_ends() {
        // 40,000 draws: standard error of the mean 0.005, of the standard deviation at most 0.0043 (normal). Five of them.
        for law in [Law::Normal, Law::Uniform, Law::Triangular] {
            let variation = Variation { input: VariedInput::StandOff, law, sd: 2.0 };
            let n = 40_000;
            let (mut sum, mut squares, mut largest) = (0.0, 0.0, 0.0f64);
            for print in 0..n {
                let d = draw(&[variation], 3, print)[0] / 2.0;
                sum += d;
                squares += d * d;
                largest = largest.max(d.abs());
            }
            let mean = sum / f64::from(n);
            let sd = (squares / f64::from(n) - mean * mean).sqrt();
            assert!(mean.abs() < 0.025, "{law:?}: mean {mean}");
            assert!((sd - 1.0).abs() < 0.022, "{law:?}: sd {sd}");
            assert!(largest <= most(law) && largest > 0.95 * most(law), "{law:?}: {largest}");
        }
    }

    #[test]
    fn one_more_varied_input_changes_no_other() {
        let vary = |input| Variation { input, law: Law::Normal, sd: 1.0 };
        let both = draw(&[vary(VariedInput::Carrier), vary(VariedInput::Sheath)], 5, 9);
        assert_eq!(draw(&[vary(VariedInput::Sheath)], 5, 9), both[1..]);
        assert_ne!(both[0], both[1]);
        assert_ne!(draw(&[vary(VariedInput::Sheath)], 5, 10), both[1..]);
        let all = Deviations::new(&[vary(VariedInput::Carrier)], &[0.02]);
        assert_eq!(all, Deviations { carrier: 1.02, ..Deviations::NONE });
    }
}
