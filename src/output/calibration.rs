//! What a calibration says in words and numbers, the same on the terminal and on its page.

use crate::numbers::{self, beside_sd, percent, share, significant, with_sd};
use motefall_figures::calibration::{
    Agreement, Calibration, Fit, FittedValue, Further, Learnt, POOR, RankedBy, WORTH_PRINTING, contradicting,
};

/// Probability of a larger misfit above which values lie closer to the model than their uncertainties let expect.
const TOO_CLOSE: f64 = 0.95;
/// Most lines that are named.
const MOST_NAMED: usize = 3;
/// Share of the former width from which an interval is as it was.
const AS_BEFORE: f64 = 0.95;

/// What the lines say of the model, in a few words.
pub(crate) fn agreement_words(agreement: Agreement) -> &'static str {
    match agreement {
        Agreement::Untested => "Nothing tests the model yet",
        Agreement::Fits => "The model fits the lines",
        Agreement::FitsPoorly => "The model fits the lines poorly",
        Agreement::DoesNotFit => "The model does not fit the lines",
    }
}

/// What it rests on, sentence by sentence.
pub(crate) fn sentences(calibration: &Calibration) -> Vec<String> {
    let fit = &calibration.fit;
    let agreement = calibration.agreement();
    let all = [
        Some(learnt_from(calibration)),
        Some(misfit(fit, agreement)),
        agreement.is_against().then(|| against(calibration)),
        held_out(calibration),
        Some(ruled_out(fit)),
        lacks(fit),
    ];
    all.into_iter().flatten().collect()
}

fn learnt_from(calibration: &Calibration) -> String {
    let kept = calibration.held_out;
    match kept.lines + kept.vials {
        0 => format!("Learnt from {}.", calibration.learnt_from),
        1 => format!("Learnt from {}; {kept} is kept for judging.", calibration.learnt_from),
        _ => format!("Learnt from {}; {kept} are kept for judging.", calibration.learnt_from),
    }
}

/// How measured values and model go together.
fn misfit(fit: &Fit, agreement: Agreement) -> String {
    let sums = format!(
        "misfit {}, where about {} is usual",
        significant(fit.chi_square, 2),
        significant(fit.freedom.max(1.0), 2)
    );
    let cases = match fit.probability {
        p if p < 1e-4 => "fewer than 0.01\u{a0}%".to_owned(),
        p => share(p),
    };
    match fit.probability {
        _ if agreement == Agreement::Untested => format!(
            "The unknowns can meet what was measured ({}) whatever it is, so that they do says nothing about the model. Print and measure a line at \
             another speed or flow.",
            numbers::counted(fit.values as u64, "value", "values")
        ),
        p if p < POOR => format!(
            "Measured values differ from the calibrated model by more than measurement and prints explain ({sums}; a right model is as far off in \
             {cases} of cases)."
        ),
        p if p > TOO_CLOSE => format!(
            "Measured values lie closer to the calibrated model than their uncertainties let expect ({sums}). That is no fault of the model: the \
             true uncertainties may be smaller than those in the table, prints may differ less than the scenario says, or the computation may be more \
             exact than it claims."
        ),
        _ => format!(
            "Measured values differ from the calibrated model about as much as measurement and prints let expect ({sums}; a right model is as far \
             off in {cases} of cases)."
        ),
    }
}

/// Which lines stand against the others, and what to do.
fn against(calibration: &Calibration) -> String {
    let mut far: Vec<&FittedValue> = contradicting(&calibration.values).collect();
    let head = match far.is_empty() {
        false => "What contradicts the other lines (in standard deviations of all that is uncertain)",
        true => "Farthest from what the other lines let expect (in standard deviations of all that is uncertain)",
    };
    if far.is_empty() {
        far = calibration.values.iter().filter(|value| value.distance_from_others().is_some()).collect();
    }
    let size = |value: &FittedValue| value.distance_from_others().unwrap_or_default();
    far.sort_by(|a, b| size(b).abs().total_cmp(&size(a).abs()));
    let mut names: Vec<&str> = vec![];
    far.iter().for_each(|value| {
        if !names.contains(&value.line.as_str()) {
            names.push(&value.line);
        }
    });
    let of_line = |name: &&str| {
        let values = far.iter().filter(|value| value.line == *name);
        let values: Vec<String> =
            values.map(|value| format!("{} {}", value.quantity.label, distance(size(value)))).collect();
        format!("\"{name}\" ({})", values.join(", "))
    };
    let named: Vec<String> = names.iter().take(MOST_NAMED).map(of_line).collect();
    let named = if named.is_empty() { String::new() } else { format!("{head}: {}. ", named.join("; ")) };
    format!(
        "{named}Look at units, uncertainties and settings in their rows; if they are right, free other unknowns with --free. What the model lacks \
         widens every prediction."
    )
}

/// How much of what was thought possible the lines rule out.
fn ruled_out(fit: &Fit) -> String {
    let ruled_out = match fit.not_ruled_out {
        share if share < 1e-4 => "more than 99.99\u{a0}%".to_owned(),
        share => numbers::share(1.0 - share),
    };
    format!("By themselves, the lines rule out {ruled_out} of what was thought possible.")
}

/// What the model lacks from line to line; `None` where too few lines tell.
fn lacks(fit: &Fit) -> Option<String> {
    let words = ["widths", "amounts"].into_iter().zip(fit.lacks);
    let words: Vec<String> = words.filter_map(|(what, lack)| Some(format!("{} of {what}", percent(lack?)))).collect();
    (!words.is_empty())
        .then(|| format!("From line to line the model lacks about {}, which predictions carry.", words.join(" and ")))
}

/// How held-out lines came out.
fn held_out(calibration: &Calibration) -> Option<String> {
    let distances: Vec<f64> =
        calibration.values.iter().filter(|value| value.is_held_out).map(|value| value.distance).collect();
    let within = distances.iter().filter(|distance| distance.abs() <= 1.96).count();
    let worst = distances.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    Some(format!(
        "Kept for judging: {within} of {} lie within their 95\u{a0}% interval, the farthest is off by {} standard deviations.",
        numbers::counted(distances.len() as u64, "value", "values"),
        distance(worst)
    ))
}

/// A value with the ends of its 95 % interval, before and after to the same digits.
pub(crate) fn intervals(learnt: &Learnt) -> [String; 2] {
    let half = |[_, low, high]: [f64; 3]| 0.5 * (high - low);
    let finer = half(learnt.before).min(half(learnt.after));
    [learnt.before, learnt.after].map(|values| {
        let [middle, low, high] = values.map(|value| beside_sd(value, finer));
        format!("{middle} ({low} to {high}) {}", learnt.unit).trim_end().to_owned()
    })
}

/// Measured, before and after, in the quantity's unit.
pub(crate) fn three(value: &FittedValue) -> [String; 3] {
    let per_si = value.quantity.per_si;
    let [measured, sd] = value.measured.map(|v| v * per_si);
    let [after, spread] = value.after.map(|v| v * per_si);
    [with_sd(measured, sd), beside_sd(value.before * per_si, sd), with_sd(after, spread)]
}

/// How far off, in units of the uncertainty.
pub(crate) fn distance(distance: f64) -> String {
    match format!("{:.1}", distance.abs()) {
        text if text == "0.0" => text,
        text => format!("{}{text}", if distance < 0.0 { "−" } else { "+" }),
    }
}

/// A correlation: two digits, and none that is rounded to certainty.
pub(crate) fn correlation(correlation: f64) -> String {
    let text = match format!("{:.2}", correlation.abs()) {
        text if text == "1.00" => "0.99+".to_owned(),
        text => text,
    };
    let sign = if correlation < 0.0 && text != "0.00" { "−" } else { "" };
    format!("{sign}{text}")
}

/// What part of the former width an interval has now.
pub(crate) fn now_over_before(learnt: &Learnt) -> String {
    match learnt.narrowed_to() {
        part if part >= AS_BEFORE => "as before".to_owned(),
        part => share(part),
    }
}

/// What further lines are ranked by, in words.
fn ranked_by(by: RankedBy) -> &'static str {
    match by {
        RankedBy::Unknowns => "the unknowns",
        RankedBy::Print => "what is unknown of your print",
    }
}

/// That no further line tells much.
pub(crate) fn nothing_further(calibration: &Calibration) -> String {
    format!(
        "No further line of those looked at (this one again or at other speeds, flows and stand-offs, or the vial on the balance) would narrow {} \
         by {} or more.",
        ranked_by(calibration.ranked_by),
        share(WORTH_PRINTING)
    )
}

/// A part by which something narrows: of a factor.
pub(crate) fn narrower(factor: f64) -> String {
    share((1.0 - factor).max(0.0))
}

/// What a further line narrows, in words.
pub(crate) fn further_words(further: &Further) -> String {
    let of_print = further
        .of_print
        .map_or(String::new(), |factor| format!("{} by {}, ", ranked_by(RankedBy::Print), narrower(factor)));
    let (name, factor) = &further.most;
    format!(
        "{}: narrows {of_print}{} by {} on average, {name} by {}",
        further.line,
        ranked_by(RankedBy::Unknowns),
        narrower(further.narrows),
        narrower(*factor)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::calibration::{Counted, QUANTITIES};

    fn calibration(values: Vec<FittedValue>, freedom: f64, probability: f64) -> Calibration {
        Calibration {
            scenario: "lines".into(),
            learnt_from: Counted { lines: 10, vials: 1 },
            held_out: Counted { lines: 1, vials: 0 },
            unknowns: vec![],
            correlations: vec![],
            draws: vec![],
            lacks: vec![],
            fit: Fit {
                values: 4,
                chi_square: 9.41,
                freedom,
                probability,
                not_ruled_out: 0.07,
                lacks: [None, Some(0.017)],
            },
            values,
            untold: vec![],
            ranked_by: RankedBy::Print,
            further: vec![],
            remarks: vec![],
        }
    }

    fn value(line: &str, left_out: f64) -> FittedValue {
        let quantity = QUANTITIES.iter().find(|quantity| quantity.column == "coverage_percent").expect("it is listed");
        FittedValue {
            line: line.into(),
            quantity,
            measured: [0.1547, 0.0061],
            before: 0.097,
            after: [0.154, 0.0095],
            distance: 0.5 * left_out,
            left_out: Some(left_out),
            is_held_out: false,
        }
    }

    fn words(values: Vec<FittedValue>, freedom: f64, probability: f64) -> String {
        sentences(&calibration(values, freedom, probability)).join("\n").replace('\u{a0}', " ")
    }

    #[test]
    fn what_the_verdict_rests_on_is_told() {
        let good = words(vec![value("a", 0.4)], 21.2, 0.6);
        assert!(good.starts_with("Learnt from 10 lines and a vial; 1 line is kept for judging."), "{good}");
        assert!(
            good.contains("misfit 9.4, where about 21 is usual; a right model is as far off in 60 % of cases"),
            "{good}"
        );
        // No line has a width.
        assert!(good.contains("lacks about 1.7 % of amounts, which"), "{good}");
        assert!(!good.contains("contradict") && !good.contains("Farthest"), "{good}");
        let close = words(vec![value("a", 0.4)], 21.2, 0.99);
        assert!(close.contains("lie closer to the calibrated model than their uncertainties let expect"), "{close}");
        let poor = words(vec![value("a", 4.0), value("b", -0.4), value("c", -4.2)], 2.0, 0.053);
        assert!(poor.contains("): \"c\" (coverage −4.2); \"a\" (coverage +4.0). Look at units"), "{poor}");
        let vague = words(vec![value("a", 1.0), value("b", -2.0)], 2.0, 0.005);
        assert!(vague.contains("by more than measurement and prints explain"), "{vague}");
        assert!(vague.contains("Farthest from what the other lines let expect"), "{vague}");
        let untested = words(vec![], 0.0, 0.9);
        assert!(untested.contains("can meet what was measured (4 values) whatever it is"), "{untested}");
        assert!(!untested.contains("misfit"), "{untested}");
    }

    #[test]
    fn digits_are_honest() {
        assert_eq!([0.01, -0.04, 0.06, -1.26].map(distance), ["0.0", "0.0", "+0.1", "−1.3"]);
        assert_eq!([-0.004, 0.004, 0.31, -0.998].map(correlation), ["0.00", "0.00", "0.31", "−0.99+"]);
        assert_eq!(three(&value("a", 0.0)), ["15.47 ± 0.61", "9.70", "15.40 ± 0.95"]);
        assert_eq!([narrower(0.74), narrower(1.01)].map(|text| text.replace('\u{a0}', " ")), ["26 %", "0 %"]);
    }
}
