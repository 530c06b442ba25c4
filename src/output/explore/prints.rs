//! What some prints of a setting tell.

use super::figures::{cautions, figure, limit, scatter, with};
use crate::numbers;
use crate::page::Decision;
use crate::words::{capital, decision, limit_name, limit_words, met_class, verdict_sentence};
use motefall_figures::over_prints::OverPrints;
use motefall_figures::statistics::wilson_95;
use motefall_figures::{Caution, Estimate, FigureKind, FigureRow, LimitOutcome, Verdict};
use motefall_physics::inputs::Inputs;
use serde_json::{Value, json};

/// Prints of a setting, and how many there will be.
#[derive(Debug, Clone, Copy)]
pub struct Prints<'a> {
    /// What was printed.
    pub inputs: &'a Inputs,
    /// What they tell.
    pub over_prints: &'a OverPrints,
    /// What the reader must know.
    pub cautions: &'a [Caution],
    /// Prints made.
    pub made: u32,
    /// Prints that a prediction makes.
    pub wanted: u32,
}

/// The decision so far, with the share of prints that pass, figures and limits.
pub fn prints(told: Prints<'_>) -> Value {
    let Prints { inputs, over_prints: OverPrints { figures, limits, verdict }, made, wanted, .. } = told;
    let required = inputs.acceptance.required_share;
    let is_whole = made >= wanted;
    let waiting = if is_whole { None } else { waits_for(limits, required) };
    let (decision, head) = match waiting {
        Some(_) => (Decision::Open, TOO_FEW),
        None => so_far(verdict, required, is_whole),
    };
    let rest = match waiting {
        Some((outcome, enough)) => bound_sentence(inputs, outcome, enough),
        None => rest(verdict, required, head == TOO_FEW),
    };
    // Prints that all miss a bound that is not shown yet are no share.
    let decided = verdict.accepted.filter(|_| waiting.is_none());
    let share = decided.map(|_| f64::from(verdict.met) / f64::from(verdict.n.max(1)));
    json!({
        "prints": made,
        "wanted": wanted,
        "done": made >= wanted,
        "share": share,
        "share_low": share.map(|_| verdict.share_interval[0]),
        "share_high": share.map(|_| verdict.share_interval[1]),
        "decision": decision.word(),
        "head": head,
        "rest": rest,
        "figures": figures.iter().map(|row| of_row(inputs, row)).collect::<Vec<_>>(),
        "limits": limits.iter().enumerate().map(|(k, outcome)| of_limit(inputs, k, outcome, is_whole)).collect::<Vec<_>>(),
        "cautions": cautions(told.cautions),
    })
}

/// A figure over prints.
pub(super) fn of_row(inputs: &Inputs, row: &FigureRow) -> Value {
    let text = row.estimate.as_ref().map(|estimate| numbers::figure(Some(estimate), row.kind).to_string());
    let mean = row.estimate.as_ref().map(|estimate| estimate.mean);
    let note = row.note.as_deref().or_else(|| row.estimate.is_none().then_some("not measured"));
    let figure = figure(inputs, row.kind, row.place.as_deref(), text, mean, note);
    let (sd, scatter) = between(row.estimate.as_ref(), row.kind);
    with(figure, json!({ "sd": sd, "scatter": scatter }))
}

fn of_limit(inputs: &Inputs, number: usize, outcome: &LimitOutcome, is_whole: bool) -> Value {
    let kind = outcome.kind();
    let waits = !is_whole && prints_to_show(outcome).is_some();
    let unknown = kind.needs_particles() && outcome.estimate.is_none() && outcome.share.is_none();
    let met_text = match outcome.share_interval() {
        _ if unknown => "not known".to_owned(),
        _ if waits => "too few prints".to_owned(),
        Some(ends) => format!("{} of {}, {}", outcome.met, outcome.n, numbers::shares(ends)),
        None => format!("{} of {}", outcome.met, outcome.n),
    };
    let all =
        if unknown || waits { "unknown" } else { met_class(outcome.met, outcome.n, inputs.acceptance.required_share) };
    let estimate = outcome.estimate.as_ref();
    let (sd, scatter) = between(estimate, kind);
    with(
        limit(inputs, number, &outcome.limit),
        json!({
            "text": numbers::predicted(outcome),
            "mean": estimate.map(|estimate| estimate.mean * kind.per_si),
            "sd": sd,
            "scatter": scatter,
            "met": outcome.met,
            "n": outcome.n,
            "met_text": met_text,
            "all": all,
        }),
    )
}

/// Standard deviation between prints, in the figure's unit and in words; no words where each print only says yes or no.
fn between(estimate: Option<&Estimate>, kind: &FigureKind) -> (Option<f64>, Option<String>) {
    let known = estimate.and_then(|estimate| Some((estimate.mean, estimate.sd?)));
    let told = known.filter(|(_, sd)| *sd > 0.0 && !kind.is_share_of_prints());
    (known.map(|(_, sd)| sd * kind.per_si), told.map(|(mean, sd)| scatter(kind, mean, sd)))
}

/// The decision as prints tell it so far, and its first words. Once all are made it is that of a prediction; before, the share that passes
/// may still cross what is required, and nothing is decided while even prints that all pass would be too few.
fn so_far(verdict: &Verdict, required: f64, is_whole: bool) -> (Decision, &'static str) {
    let [low, high] = verdict.share_interval;
    let is_open = verdict.accepted.is_some() && low + 1e-9 < required && high > required;
    match verdict.accepted {
        _ if is_whole || !is_open => decision(verdict, required),
        _ if certain_from(required, 0).is_none_or(|enough| verdict.n < enough) => (Decision::Open, TOO_FEW),
        Some(false) => (Decision::Open, "✕ Not accepted, but not yet for certain"),
        _ => decision(verdict, required),
    }
}

/// Prints that would show that a probability meets its limit, where those made are too few to show it.
fn prints_to_show(outcome: &LimitOutcome) -> Option<u32> {
    let share = outcome.share.filter(|share| !share.meets(&outcome.limit))?;
    share.prints_to_show(&outcome.limit)
}

/// The limit on a probability that waits longest for prints to show it, with how many do; `None` once another limit decides.
fn waits_for(limits: &[LimitOutcome], required: f64) -> Option<(&LimitOutcome, u32)> {
    let misses = |outcome: &LimitOutcome| match outcome.share {
        Some(share) => !share.meets(&outcome.limit) && prints_to_show(outcome).is_none(),
        None => outcome.share_interval().is_some_and(|[_, high]| high < required),
    };
    if limits.iter().any(misses) {
        return None;
    }
    let waiting = limits.iter().filter_map(|outcome| Some((outcome, prints_to_show(outcome)?)));
    waiting.max_by_key(|(_, enough)| *enough)
}

/// What is shown of a probability so far.
fn bound_sentence(inputs: &Inputs, outcome: &LimitOutcome, enough: u32) -> String {
    format!(
        "{}: {}; required: {}. It takes {enough} prints to show that, if as large a share of them says so.",
        capital(&limit_name(&outcome.limit, Some(inputs.map.resolution))),
        numbers::predicted(outcome),
        limit_words(&outcome.limit)
    )
}

/// The decision in numbers, and for how many prints to wait while there are too few.
fn rest(verdict: &Verdict, required: f64, are_few: bool) -> String {
    let sentence = verdict_sentence(verdict, required);
    let rest = capital(sentence.split_once(": ").map_or(sentence.as_str(), |(_, rest)| rest));
    match certain_from(required, verdict.n - verdict.met).filter(|_| are_few) {
        Some(n) => format!("{rest} If no other fails, {n} prints are enough to be certain."),
        None => rest,
    }
}

/// First words while there are too few prints.
const TOO_FEW: &str = "Too few prints to tell";
/// Most prints that are said to be enough.
const MOST_PRINTS: u32 = 10_000;

/// Prints from which on it is certain that enough pass if so many fail and no more.
fn certain_from(required: f64, failed: u32) -> Option<u32> {
    (failed.max(1)..=MOST_PRINTS).find(|n| wilson_95(n - failed, *n)[0] + 1e-9 >= required)
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::ShareOfPrints;
    use motefall_physics::inputs::Limit;

    fn head(met: u32, n: u32, is_whole: bool) -> (&'static str, &'static str) {
        let share_interval = wilson_95(met, n);
        let accepted = Some(f64::from(met) >= 0.9 * f64::from(n));
        let (decision, head) = so_far(&Verdict { accepted, met, n, share_interval }, 0.9, is_whole);
        (decision.word(), head)
    }

    #[test]
    fn few_prints_decide_only_what_their_interval_does() {
        // n prints that all pass show n / (n + 1.96^2) at least: 0.9 from n = 9 x 3.84 = 34.6 on.
        assert_eq!((certain_from(0.9, 0), certain_from(1.0, 0)), (Some(35), None));
        assert_eq!(head(2, 2, false), ("open", TOO_FEW));
        assert_eq!(head(34, 34, false), ("open", TOO_FEW));
        assert_eq!(head(35, 35, false), ("yes", "✓ Accepted"));
        // One of two: 9 to 91 %. None of two: 0 to 66 %, which is less than is required.
        assert_eq!(head(1, 2, false), ("open", TOO_FEW));
        assert_eq!(head(0, 2, false), ("no", "✕ Not accepted"));
        assert_eq!(head(38, 40, false), ("open", "✓ Accepted, but not yet for certain"));
        assert_eq!(head(35, 40, false), ("open", "✕ Not accepted, but not yet for certain"));
    }

    #[test]
    fn all_prints_decide_as_a_prediction_does() {
        assert_eq!(head(19, 20, true), ("open", "✓ Accepted, but not yet for certain"));
        assert_eq!(head(17, 20, true), ("no", "✕ Not accepted"));
    }

    #[test]
    fn a_bound_that_few_prints_cannot_show_is_waited_for() {
        let limit = |figure: &str, max| Limit {
            figure: motefall_figures::kinds::kind(figure).expect("a figure").figure,
            place: None,
            min: None,
            max: Some(max),
        };
        let outcome =
            |limit, share: Option<ShareOfPrints>, met, n| LimitOutcome { limit, estimate: None, share, met, n };
        let bridge = |hits, n| outcome(limit("bridge_probability", 0.15), Some(ShareOfPrints::new(hits, n)), 0, n);
        let strays = |met, n| outcome(limit("particles", 2.0), None, met, n);
        // Without a bridge, 19 prints show at most 1 - 0.05^(1/19) = 0.146, and 18 no less than 0.153.
        let few = [bridge(0, 3), strays(3, 3)];
        assert_eq!(waits_for(&few, 0.9).map(|(_, enough)| enough), Some(19));
        // Two bridges of three are more than may be, and strays in all of three are too many.
        assert!(waits_for(&[bridge(2, 3), strays(3, 3)], 0.9).is_none());
        assert!(waits_for(&[bridge(0, 3), strays(0, 3)], 0.9).is_none());
        assert!(waits_for(&[bridge(0, 19), strays(19, 19)], 0.9).is_none());
    }
}
