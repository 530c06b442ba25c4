//! The expected deposit for programs.

use motefall_figures::ExpectedValue;
use motefall_figures::expected::{Expected, ExpectedRow};
use serde_json::{Value, json};

/// The expected deposit in the units shown: `figures` with `figure`, `place`, `mean`, `sd` between prints, its parts
/// `sd_from_inputs`, `sd_from_output_noise`, `sd_from_unknown` (of a calibrated bench) and `sd_from_chance`, `share_of_inputs` (variance that each varied input brings about over that of
/// all) and `error` of the mean; null where only prints tell.
pub fn expected_json(e: &Expected) -> Value {
    let row = |row: &ExpectedRow| {
        let value = row.value.as_ref();
        let shown = |of: f64| of * row.kind.per_si;
        let shares: Option<serde_json::Map<String, Value>> = value.map(|value| {
            let all = value.from_inputs * value.from_inputs;
            let share = |variance: f64| if all > 0.0 { variance / all } else { 0.0 };
            value
                .variances
                .iter()
                .map(|(input, variance)| (input.key(&e.inputs.layers), share(*variance).into()))
                .collect()
        });
        json!({
            "figure": row.kind.id,
            "place": row.place,
            "mean": value.map(|value| shown(value.mean)),
            "sd": value.and_then(ExpectedValue::sd).map(shown),
            "sd_from_inputs": value.map(|value| shown(value.from_inputs)),
            "sd_from_output_noise": value.map(|value| shown(value.from_noise)),
            "sd_from_unknown": value.map(|value| shown(value.from_unknown)),
            "sd_from_chance": value.and_then(|value| value.from_chance).map(shown),
            "share_of_inputs": shares,
            "error": value.map(|value| shown(value.error)),
        })
    };
    json!({
        "name": e.inputs.name,
        "note": e.inputs.note,
        "figures": e.figures.iter().map(row).collect::<Vec<_>>(),
    })
}
