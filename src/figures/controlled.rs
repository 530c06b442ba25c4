//! Means over prints, freed of what the drawn inputs happened to do: the expected deposit as control variate.
//!
//! What the inputs of a print do to a figure is told, about, by the expected deposit, and so is its mean over prints. Where the prints drew
//! more of it than that, their figures are higher, and their mean is set right in proportion (Glasserman 2003, Monte Carlo Methods in
//! Financial Engineering, section 4.1; from memory). An error of the
//! expected deposit does not bias it, since the mean of what is taken off is that of its own parabolas: it only makes it save less.

use crate::prediction::Draws;
use crate::rows::{Controlled, ExpectedValue, Measured};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Prints from which on a mean is set right, and the least share of the variance that must be saved.
const FEWEST: usize = 20;
const LEAST_SAVED: f64 = 0.1;

impl Controlled {
    /// From the figures of prints and what they drew; `None` for few prints, where some did not tell the figure, and where it does not help.
    pub fn new(
        expected: &ExpectedValue,
        figures: impl Iterator<Item = Option<Measured>>,
        draws: &Draws,
    ) -> Option<Self> {
        let exact = |measured: Option<Measured>| match measured {
            Some(Measured::Exactly(value)) => Some(value),
            Some(Measured::AtLeast(_)) | None => None,
        };
        let figures: Vec<f64> = figures.map(exact).collect::<Option<_>>()?;
        let of_input = |own: &crate::ByInput| Some((draws.inputs.iter().position(|input| *input == own.input)?, *own));
        let by_input: Vec<_> = expected.by_input.iter().map(of_input).collect::<Option<_>>()?;
        let beyond_mean = |print: &Vec<f64>| by_input.iter().map(|(place, own)| own.at(print[*place]) - own.mean).sum();
        let controls: Vec<f64> = draws.per_print.iter().map(beyond_mean).collect();
        set_right(&figures, &controls)
    }
}

/// The mean of figures with controls whose mean is known to be 0.
fn set_right(figures: &[f64], controls: &[f64]) -> Option<Controlled> {
    if figures.len() < FEWEST || figures.len() != controls.len() {
        return None;
    }
    let n = figures.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let (figure, control) = (mean(figures), mean(controls));
    let sum = |a: &dyn Fn(usize) -> f64, b: &dyn Fn(usize) -> f64| (0..figures.len()).map(|k| a(k) * b(k)).sum::<f64>();
    let (of_figure, of_control) = (|k: usize| figures[k] - figure, |k: usize| controls[k] - control);
    let (all, own) = (sum(&of_figure, &of_figure), sum(&of_control, &of_control));
    if all <= 0.0 || own <= 0.0 {
        return None;
    }
    let slope = sum(&of_figure, &of_control) / own;
    let left = (all - slope * slope * own).max(0.0);
    // The slope is an estimate, too: the farther the controls' mean is off, the less sure is what is set right.
    let error = (left / (n - 2.0) * (1.0 / n + control * control / own)).sqrt();
    let saved = 1.0 - error * error / (all / (n - 1.0) / n);
    let half = StudentsT::new(0.0, 1.0, n - 2.0).ok()?.inverse_cdf(0.975) * error;
    let mean = figure - slope * control;
    (saved >= LEAST_SAVED).then_some(Controlled { mean, interval: [mean - half, mean + half], saved })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ByInput;
    use motefall_physics::inputs::{Varied, VariedInput};

    /// A figure that is 3 d + 50 d^2 above 7 where an input deviates by d, with an input that is even between +- 0.1 and one that does nothing to
    /// it: both are found by what they are, the mean of what is taken off is that of the law (50 * 0.1^2/3 = 1/6), and all is taken off.
    #[test]
    fn a_figure_of_its_inputs_alone_loses_all_its_variance() {
        let varied = |input| Varied { input, layer: None };
        let [own, other] = [varied(VariedInput::Output), varied(VariedInput::Carrier)];
        let change = |d: f64| 3.0 * d + 50.0 * d * d;
        let by = |input, of: &dyn Fn(f64) -> f64, mean| {
            // Any place to the sides tells a parabola.
            let reach = 0.08;
            ByInput { input, reach, changes: [of(-reach), of(reach)], mean, variance: 0.0 }
        };
        let by_input = vec![by(other, &|_| 0.0, 0.0), by(own, &change, 1.0 / 6.0)];
        let (from_chance, from_unknown) = (Some(0.0), 0.0);
        let expected = ExpectedValue {
            mean: 7.0,
            from_inputs: 1.0,
            from_noise: 0.0,
            from_chance,
            from_unknown,
            by_input,
            error: 0.0,
        };
        // Prints that drew more to one side.
        let drawn: Vec<f64> = (0..30).map(|k| -0.05 + 0.005 * f64::from(k)).collect();
        let figures = drawn.iter().map(|d| Some(Measured::Exactly(7.0 + change(*d))));
        let draws = Draws { inputs: vec![own, other], per_print: drawn.iter().map(|d| vec![*d, 0.3]).collect() };
        let told = Controlled::new(&expected, figures.clone(), &draws).expect("it helps");
        assert!((told.mean - (7.0 + 1.0 / 6.0)).abs() < 1e-9 && told.saved > 0.999_999, "{told:?}");
        // Where one print did not tell the figure, nothing is told.
        let gap = figures.enumerate().map(|(k, figure)| figure.filter(|_| k != 4));
        assert_eq!(Controlled::new(&expected, gap, &draws), None);
    }

    /// Figures 5 + 2 c + e of controls and noise that are drawn evenly.
    #[test]
    fn a_mean_is_freed_of_what_the_controls_did() {
        let controls: Vec<f64> = (0..40).map(|k| f64::from(k % 8) - 3.0).collect();
        let noise = |k: i32| if k % 2 == 0 { 0.1 } else { -0.1 };
        let figures: Vec<f64> = (0..40).map(|k| 5.0 + 2.0 * controls[k as usize] + noise(k / 8)).collect();
        // The controls' mean is 1/2 by chance: the plain mean is 1 too high.
        let told = set_right(&figures, &controls).expect("it helps");
        let plain = figures.iter().sum::<f64>() / 40.0;
        assert!((plain - 6.02).abs() < 1e-9 && (told.mean - 5.02).abs() < 1e-9, "{plain} {told:?}");
        assert!(
            told.interval[0] < 5.0 && told.interval[1] > 5.0 && told.interval[1] - told.interval[0] < 0.08,
            "{told:?}"
        );
        assert!(told.saved > 0.99, "{told:?}");
        // What has nothing to do with the figure saves nothing, and few prints tell nothing.
        let other: Vec<f64> = (0..40).map(|k| noise(k / 8)).collect();
        assert_eq!(set_right(&controls, &other), None);
        assert_eq!(set_right(&figures[..16], &controls[..16]), None);
    }
}
