//! A figure, a limit, a caution.

use crate::numbers::{self, Shown, trimmed};
use crate::words::{limit_name, limit_words, severity_word};
use motefall_figures::cautions::Bearing;
use motefall_figures::{Caution, FigureKind};
use motefall_physics::inputs::{Inputs, Limit};
use serde_json::{Map, Value, json};

/// A figure at a place: `text` its value in words, `mean` in `unit`; null where it is not known, with a note.
pub(super) fn figure(
    inputs: &Inputs,
    kind: &FigureKind,
    place: Option<&str>,
    text: Option<String>,
    mean: Option<f64>,
    note: Option<&str>,
) -> Map<String, Value> {
    object(json!({
        "id": kind.id,
        "place": place,
        "label": numbers::label_at(kind, inputs.map.resolution),
        "meaning": kind.meaning,
        "text": text,
        "mean": mean.filter(|mean| mean.is_finite()).map(|mean| mean * kind.per_si),
        "unit": kind.unit,
        "note": note,
    }))
}

/// What is required of a figure.
pub(super) fn limit(inputs: &Inputs, number: usize, limit: &Limit) -> Map<String, Value> {
    let kind = limit.figure.kind();
    let shown = |si: f64| tidy(si * kind.per_si);
    object(json!({
        "id": kind.id,
        "place": limit.place,
        "name": limit_name(limit, Some(inputs.map.resolution)),
        "meaning": kind.meaning,
        "required": limit_words(limit),
        "implied": inputs.acceptance.is_implied(number),
        "min": limit.min.map(shown),
        "max": limit.max.map(shown),
        "unit": kind.unit,
    }))
}

/// A standard deviation between prints in the unit in which the mean is shown, both in SI: `1.4 %`.
pub(super) fn scatter(kind: &FigureKind, mean: f64, sd: f64) -> String {
    let (factor, unit) = numbers::suited(kind, mean.abs() * kind.per_si);
    Shown { value: numbers::significant(sd * kind.per_si * factor, 2), unit }.to_string()
}

/// A limit as it is written: without the digits of a change of units.
fn tidy(value: f64) -> f64 {
    trimmed(value).replace(['\u{202f}', '\u{a0}'], "").parse().unwrap_or(value)
}

/// Cautions, in their order.
pub(super) fn cautions(all: &[Caution]) -> Vec<Value> {
    let one = |caution: &Caution| {
        json!({
            "id": caution.kind.id(),
            "severity": severity_word(caution.severity()),
            "text": caution.text,
            "decision": caution.kind.bearing() == Bearing::Decision,
        })
    };
    all.iter().map(one).collect()
}

/// With more entries.
pub(super) fn with(mut map: Map<String, Value>, more: Value) -> Value {
    map.extend(object(more));
    Value::Object(map)
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => unreachable!("it was written as one"),
    }
}
