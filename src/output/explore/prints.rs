//! What some prints of a setting tell.

use super::figures::{cautions, figure, limit, with};
use crate::numbers;
use crate::words::{capital, decision, met_class, verdict_sentence};
use motefall_figures::over_prints::OverPrints;
use motefall_figures::{Caution, FigureRow, LimitOutcome};
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
    let sentence = verdict_sentence(verdict, required);
    let rest = sentence.split_once(": ").map_or(sentence.as_str(), |(_, rest)| rest);
    let (decision, head) = decision(verdict, required);
    let share = verdict.accepted.map(|_| f64::from(verdict.met) / f64::from(verdict.n.max(1)));
    json!({
        "prints": made,
        "wanted": wanted,
        "done": made >= wanted,
        "share": share,
        "share_low": share.map(|_| verdict.share_interval[0]),
        "share_high": share.map(|_| verdict.share_interval[1]),
        "decision": decision.word(),
        "head": head,
        "rest": capital(rest),
        "figures": figures.iter().map(|row| of_row(inputs, row)).collect::<Vec<_>>(),
        "limits": limits.iter().enumerate().map(|(k, outcome)| of_limit(inputs, k, outcome)).collect::<Vec<_>>(),
        "cautions": cautions(told.cautions),
    })
}

/// A figure over prints.
pub(super) fn of_row(inputs: &Inputs, row: &FigureRow) -> Value {
    let text = row.estimate.as_ref().map(|estimate| numbers::figure(Some(estimate), row.kind).to_string());
    let mean = row.estimate.as_ref().map(|estimate| estimate.mean);
    let note = row.note.as_deref().or_else(|| row.estimate.is_none().then_some("not measured"));
    let figure = figure(inputs, row.kind, row.place.as_deref(), text, mean, note);
    with(figure, json!({ "sd": row.estimate.and_then(|estimate| estimate.sd).map(|sd| sd * row.kind.per_si) }))
}

fn of_limit(inputs: &Inputs, number: usize, outcome: &LimitOutcome) -> Value {
    let kind = outcome.kind();
    let unknown = kind.needs_particles() && outcome.estimate.is_none() && outcome.share.is_none();
    let met_text = match outcome.share_interval() {
        _ if unknown => "not known".to_owned(),
        Some(ends) => format!("{} of {}, {}", outcome.met, outcome.n, numbers::shares(ends)),
        None => format!("{} of {}", outcome.met, outcome.n),
    };
    let all = if unknown { "unknown" } else { met_class(outcome.met, outcome.n, inputs.acceptance.required_share) };
    let estimate = outcome.estimate.as_ref();
    with(
        limit(inputs, number, &outcome.limit),
        json!({
            "text": numbers::predicted(outcome),
            "mean": estimate.map(|estimate| estimate.mean * kind.per_si),
            "sd": estimate.and_then(|estimate| estimate.sd).map(|sd| sd * kind.per_si),
            "met": outcome.met,
            "n": outcome.n,
            "met_text": met_text,
            "all": all,
        }),
    )
}
