//! What a calibration says in words and numbers, the same on the terminal and on its page.

use crate::numbers::at_precision;
use motefall_figures::calibration::{Calibration, Fit, FittedValue, Learnt};

/// Whether model and lines agree, in a sentence.
pub(crate) fn fit_sentence(fit: &Fit) -> String {
    let p = match fit.probability {
        p if p < 1e-4 => "less than 0.0001".to_owned(),
        p => crate::numbers::significant(p, 2),
    };
    let sum = crate::numbers::significant(fit.chi_square, 3);
    let freedom = crate::numbers::significant(fit.freedom, 3);
    match fit.agrees() {
        true => format!(
            "The model fits these lines: misfit {sum} at {freedom} degrees of freedom, as large or larger by chance in {p} of cases."
        ),
        false => format!(
            "The model does not fit these lines within the uncertainty of measurement and prints: misfit {sum} at {freedom} degrees of freedom, by chance in {p} of cases. What it lacks widens every prediction."
        ),
    }
}

/// How much of what was thought possible the lines rule out, in a sentence.
pub(crate) fn ruled_out_sentence(fit: &Fit) -> String {
    let ruled_out = match fit.not_ruled_out {
        share if share < 1e-4 => "more than 99.99 %".to_owned(),
        share => crate::numbers::share(1.0 - share),
    };
    format!("By themselves, the lines rule out {ruled_out} of what was thought possible.")
}

/// What the model lacks from line to line, in a sentence.
pub(crate) fn lacks_sentence(fit: &Fit) -> String {
    let [widths, amounts] = fit.lacks.map(crate::numbers::percent);
    format!("From line to line it lacks about {widths} of widths and {amounts} of amounts, which predictions carry.")
}

/// A value with the ends of its 95 % interval, before and after to the same digits.
pub(crate) fn intervals(learnt: &Learnt) -> [String; 2] {
    let half = |[_, low, high]: [f64; 3]| 0.5 * (high - low);
    let finer = half(learnt.before).min(half(learnt.after));
    [learnt.before, learnt.after].map(|values| in_unit(with_interval(values, finer), &learnt.unit))
}

fn with_interval([middle, low, high]: [f64; 3], half: f64) -> String {
    let [middle, low, high] = [middle, low, high].map(|value| at_precision(value, half));
    format!("{middle} ({low} to {high})")
}

/// The unit behind a value.
fn in_unit(text: String, unit: &str) -> String {
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

/// Measured, before and after, in the quantity's unit.
pub(crate) fn three(value: &FittedValue) -> [String; 3] {
    let per_si = value.quantity.per_si;
    let [measured, sd] = value.measured.map(|v| v * per_si);
    let [after, spread] = value.after.map(|v| v * per_si);
    [
        format!("{} ± {}", at_precision(measured, sd), crate::numbers::significant(sd, 2)),
        at_precision(value.before * per_si, sd),
        format!("{} ± {}", at_precision(after, spread), crate::numbers::significant(spread, 2)),
    ]
}

/// How far off, in units of the uncertainty.
pub(crate) fn distance(distance: f64) -> String {
    let sign = if distance < 0.0 { "−" } else { "+" };
    format!("{sign}{:.1}", distance.abs())
}

/// How much of an unknown the lines told.
pub(crate) fn learnt_words(learnt: &Learnt) -> String {
    match learnt.learnt {
        share if share < 0.05 => "nothing".to_owned(),
        share => crate::numbers::share(share),
    }
}

/// How held-out lines came out, in a sentence; `None` without any.
pub(crate) fn held_out_sentence(calibration: &Calibration) -> Option<String> {
    let distances: Vec<f64> =
        calibration.values.iter().filter(|value| value.is_held_out).map(|value| value.distance).collect();
    let within = distances.iter().filter(|distance| distance.abs() <= 1.96).count();
    let worst = distances.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    Some(format!(
        "Kept for judging: {within} of {} held-out values lie within their 95 % interval, the farthest is off by {} standard deviations.",
        distances.len(),
        self::distance(worst)
    ))
}
