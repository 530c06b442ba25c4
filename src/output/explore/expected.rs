//! The expected deposit for the page.

use super::figures::{cautions, figure, limit, scatter, with};
use crate::expected::{about_share, meets, row_of, scatters, shown, why_only_prints, without_chance};
use motefall_figures::ExpectedValue;
use motefall_figures::expected::{Expected, ExpectedRow, share_within};
use serde_json::{Value, json};

/// Means over prints with the standard deviation between prints, and how they stand to the limits.
pub fn expected(e: &Expected) -> Value {
    let limits: Vec<Value> = (0..e.inputs.acceptance.limits.len()).map(|number| of_limit(e, number)).collect();
    let stands = |what: bool| limits.iter().filter(|limit| limit["meets"] == json!(what)).count();
    let head = match (e.only_prints, stands(true), stands(false)) {
        (Some(why), ..) => format!("Only prints tell anything here: {}", why_only_prints(why)),
        (None, 0, 0) if limits.is_empty() => "No limits set: nothing is decided".to_owned(),
        (None, met, 0) if met == limits.len() => {
            "On average every limit is met; prints tell what share passes".to_owned()
        }
        (None, _, 0) => "On average every limit is met that can be told without prints".to_owned(),
        (None, _, missed) => format!("On average {missed} of {} limits missed", limits.len()),
    };
    json!({
        "figures": e.figures.iter().map(|row| of_row(e, row)).collect::<Vec<_>>(),
        "limits": limits,
        "head": head,
        "cautions": cautions(&e.cautions),
        "unverified": e.inputs.unverified.iter().map(|default| default.key.as_str()).collect::<Vec<_>>(),
        "only_prints": e.only_prints.map(why_only_prints),
    })
}

/// By how much prints scatter, in words. `None` if they do not, or each only says yes or no.
fn scattering(row: &ExpectedRow, value: &ExpectedValue) -> Option<String> {
    let sd = value.sd().unwrap_or_else(|| without_chance(value));
    let inputs_only = if value.sd().is_none() { " without chance" } else { "" };
    let has_one = scatters(sd, value) && !row.kind.is_share_of_prints();
    has_one.then(|| format!("{}{inputs_only}", scatter(row.kind, value.mean, sd)))
}

fn of_row(e: &Expected, row: &ExpectedRow) -> Value {
    let value = row.value.as_ref();
    let note = value.is_none().then_some("only prints tell");
    let told = value.map(|value| shown(row, value));
    let figure = figure(&e.inputs, row.kind, row.place.as_deref(), told, value.map(|value| value.mean), note);
    with(
        figure,
        json!({
            "sd": value.and_then(ExpectedValue::sd).map(|sd| sd * row.kind.per_si),
            "scatter": value.and_then(|value| scattering(row, value)),
        }),
    )
}

fn of_limit(e: &Expected, number: usize) -> Value {
    let asked = &e.inputs.acceptance.limits[number];
    let row = row_of(e, asked);
    let value = row.and_then(|row| row.value.as_ref());
    with(
        limit(&e.inputs, number, asked),
        json!({
            "mean": value.map(|value| value.mean * asked.figure.kind().per_si),
            "sd": value.and_then(ExpectedValue::sd).map(|sd| sd * asked.figure.kind().per_si),
            "text": row.zip(value).map_or("only prints tell".to_owned(), |(row, value)| shown(row, value)),
            "scatter": row.zip(value).and_then(|(row, value)| scattering(row, value)),
            "share": row.and_then(|row| share_within(asked, row)),
            "share_text": about_share(asked, row),
            "meets": row.and_then(|row| meets(asked, row)),
        }),
    )
}
