//! The scenario as it was understood.

use crate::numbers;
use crate::page::table;
use maud::{Markup, html};
use motefall_figures::Prediction;
use serde_json::{Number, Value};

/// Most rows of a section.
const MOST_ROWS: usize = 300;

/// Leaves of the resolved scenario, grouped by top section.
fn leaves(value: &Value, key: &str, out: &mut Vec<(String, String)>) {
    let plain = |v: &Value| match v {
        Value::String(s) => s.clone(),
        Value::Null => "–".into(),
        Value::Number(number) => as_given(number),
        other => other.to_string(),
    };
    match value {
        Value::Object(map) => {
            for (k, v) in map {
                leaves(v, &if key.is_empty() { k.clone() } else { format!("{key}.{k}") }, out);
            }
        }
        Value::Array(items) if items.iter().any(Value::is_object) => {
            for (i, v) in items.iter().enumerate() {
                leaves(v, &format!("{key}[{}]", i + 1), out);
            }
        }
        Value::Array(items) => {
            let shown: Vec<String> = items.iter().take(40).map(plain).collect();
            let more = if items.len() > 40 { format!(", … ({} in all)", items.len()) } else { String::new() };
            out.push((key.into(), format!("{}{more}", shown.join(", "))));
        }
        other => out.push((key.into(), plain(other))),
    }
}

/// A number as it was given: all its digits, and none that say nothing.
fn as_given(number: &Number) -> String {
    const EXACT: f64 = 9e15;
    match number.as_f64() {
        Some(value) if value.fract() == 0.0 && (0.0..EXACT).contains(&value) => numbers::count(value as u64),
        _ => number.to_string(),
    }
}

/// Sections of the resolved scenario with their rows.
fn sections(scenario: &Value) -> Vec<(String, Vec<(String, String)>)> {
    let mut sections = vec![];
    let mut general = vec![];
    for (section, value) in scenario.as_object().into_iter().flatten() {
        let mut rows = vec![];
        leaves(value, section, &mut rows);
        if matches!(value, Value::Object(_) | Value::Array(_)) {
            sections.push((section.clone(), rows));
        } else {
            general.append(&mut rows);
        }
    }
    if !general.is_empty() {
        sections.insert(0, ("general".into(), general));
    }
    sections
}

/// The scenario as it was understood, defaults that nobody has measured first.
pub(super) fn section(p: &Prediction, scenario: &Value) -> Markup {
    let unverified = &p.inputs.unverified;
    html! {
        @if !unverified.is_empty() {
            (table(
                "",
                html! { th { "default that nobody has measured" } th { "value" } th { "why it matters and how to measure it" } },
                html! { @for u in unverified { tr { td { code { (u.key) } } td { (u.value) } td { (u.advice) } } } },
            ))
        }
        p class="note" { "All inputs as understood, defaults included, under the scenario's own keys; each key ends with its unit." @if !unverified.is_empty() { " Marked ◆: unverified default." } }
        div class="inputs" { @for (section, rows) in &sections(scenario) { (one_section(p, section, rows)) } }
    }
}

fn one_section(p: &Prediction, name: &str, rows: &[(String, String)]) -> Markup {
    html! { section {
        h3 { (name) }
        table { @for (key, value) in rows.iter().take(MOST_ROWS) {
            @let short = key.strip_prefix(name).map_or(key.as_str(), |k| k.trim_start_matches('.'));
            tr {
                td { code { (short) } @if let Some(u) = p.inputs.unverified_default(key) { " " span class="flag" title=(u.advice) { "◆" } } }
                td { (value) }
            }
        } }
        @if rows.len() > MOST_ROWS { p class="note" { "… and " (rows.len() - MOST_ROWS) " more, in " code { "summary.json" } "." } }
    } }
}
