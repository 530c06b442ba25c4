//! What differs from print to print besides chance: drawn once per print.

use super::streams::{Purpose, stream};
use motefall_physics::inputs::{Inputs, Law, Varied, VariedInput};
use motefall_physics::source::content::uniform;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Deviations of one layer of a print from the setting.
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

    /// Those of a layer from the deviation of each varied input of the print.
    pub fn new(varied: &[Varied], deviations: &[f64], layer: usize) -> Self {
        let mut all = Self::NONE;
        for (varied, &deviation) in varied.iter().zip(deviations) {
            if varied.layer.is_some_and(|of| of != layer) {
                continue;
            }
            let factor = (1.0 + deviation).max(0.0);
            match varied.input {
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

/// Draws the deviation of each of [`Inputs::varied`] for one print. Each has its own stream: to vary one more, or to add a layer,
/// changes no other.
pub fn draw(inputs: &Inputs, print: u32) -> Vec<f64> {
    let one = |varied: &Varied| {
        let law = inputs.spread.iter().find(|variation| variation.input == varied.input);
        law.map_or(0.0, |variation| {
            let number = ((varied.layer.unwrap_or(0) as u64) << 16) | varied.input as u64;
            let mut rng = stream(inputs.seed, print, number, Purpose::Spread);
            variation.sd * deviate(variation.law, &mut rng)
        })
    };
    inputs.varied().iter().map(one).collect()
}

/// A deviation in standard deviations.
fn deviate(law: Law, rng: &mut impl Rng) -> f64 {
    match law {
        Law::Normal => loop {
            let z: f64 = StandardNormal.sample(rng);
            if z.abs() <= law.reach() {
                return z;
            }
        },
        Law::Uniform => law.reach() * (2.0 * uniform(rng) - 1.0),
        // The sum of two even deviates is triangular.
        Law::Triangular => law.reach() * (uniform(rng) + uniform(rng) - 1.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::inputs::Variation;

    /// Inputs of which some differ between prints.
    fn varying(spread: Vec<Variation>, seed: u64) -> Inputs {
        let text = include_str!("../../tests/scenarios/good/least.toml");
        let read = motefall_scenario::parse(text, "least.toml", std::path::Path::new(".")).expect("a good file");
        Inputs { spread, seed, ..read.inputs }
    }

    #[test]
    fn every_law_has_its_mean_spread_and_ends() {
        // 40,000 draws: standard error of the mean 0.005, of the standard deviation at most 0.0043 (normal). Five of them.
        for law in [Law::Normal, Law::Uniform, Law::Triangular] {
            let inputs = varying(vec![Variation { input: VariedInput::StandOff, law, sd: 2.0 }], 3);
            let n = 40_000;
            let (mut sum, mut squares, mut largest) = (0.0, 0.0, 0.0f64);
            for print in 0..n {
                let d = draw(&inputs, print)[0] / 2.0;
                sum += d;
                squares += d * d;
                largest = largest.max(d.abs());
            }
            let mean = sum / f64::from(n);
            let sd = (squares / f64::from(n) - mean * mean).sqrt();
            assert!(mean.abs() < 0.025, "{law:?}: mean {mean}");
            assert!((sd - 1.0).abs() < 0.022, "{law:?}: sd {sd}");
            assert!(largest <= law.reach() && largest > 0.95 * law.reach(), "{law:?}: {largest}");
        }
    }

    #[test]
    fn one_more_varied_input_changes_no_other() {
        let vary = |input| Variation { input, law: Law::Normal, sd: 1.0 };
        let both = draw(&varying(vec![vary(VariedInput::Carrier), vary(VariedInput::Sheath)], 5), 9);
        let one = varying(vec![vary(VariedInput::Sheath)], 5);
        assert_eq!(draw(&one, 9), both[1..]);
        assert_ne!(both[0], both[1]);
        assert_ne!(draw(&one, 10), both[1..]);
        let all = Deviations::new(&[Varied { input: VariedInput::Carrier, layer: None }], &[0.02], 0);
        assert_eq!(all, Deviations { carrier: 1.02, ..Deviations::NONE });
    }

    #[test]
    fn layers_share_the_chips_place_and_draw_their_own_flows() {
        let vary = |input| Variation { input, law: Law::Normal, sd: 0.01 };
        let one = varying(vec![vary(VariedInput::Rotation), vary(VariedInput::Sheath)], 5);
        let mut two = one.clone();
        two.layers.push(two.layers[0].clone());
        let varied = two.varied();
        assert_eq!(varied.iter().map(|v| v.layer).collect::<Vec<_>>(), [None, Some(0), Some(1)]);
        let (alone, together) = (draw(&one, 4), draw(&two, 4));
        assert_eq!(alone, together[..2], "a second layer changes nothing that the first draws");
        let [first, second] = [0, 1].map(|layer| Deviations::new(&varied, &together, layer));
        assert!(first.rotation == second.rotation && first.rotation != 0.0);
        assert!(first.sheath != second.sheath && second.sheath == 1.0 + together[2]);
    }
}
