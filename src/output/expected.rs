//! The expected deposit for programs, and how it is said wherever it is shown.

use crate::numbers;
use motefall_figures::ExpectedValue;
use motefall_figures::expected::{Expected, ExpectedRow, OnlyPrints, share_within};
use motefall_physics::inputs::Limit;
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
            value.by_input.iter().map(|own| (own.input.key(&e.inputs.layers), share(own.variance).into())).collect()
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

/// The row that a limit is set on.
pub(crate) fn row_of<'a>(e: &'a Expected, limit: &Limit) -> Option<&'a ExpectedRow> {
    e.figures.iter().find(|row| row.kind.figure == limit.figure && row.place == limit.place)
}

/// A mean in its unit.
pub(crate) fn shown(row: &ExpectedRow, value: &ExpectedValue) -> String {
    numbers::mean(value.mean, row.kind).to_string()
}

/// From SI to the unit in which the mean of a figure is shown.
pub(crate) fn scale(row: &ExpectedRow, value: &ExpectedValue) -> f64 {
    row.kind.per_si * numbers::suited(row.kind, value.mean * row.kind.per_si).0
}

/// Standard deviation between prints in the unit of the mean, as far as it is known: `± 1.2`. `None` if prints do not scatter.
pub(crate) fn between_prints(row: &ExpectedRow, value: &ExpectedValue) -> Option<String> {
    let sd = value.sd().unwrap_or_else(|| without_chance(value));
    (scatters(sd, value) && !row.kind.is_share_of_prints())
        .then(|| format!("± {}", numbers::significant(sd * scale(row, value), 2)))
}

/// Scatter, as a part of the mean, that is the rounding of its arithmetic.
const ROUNDING: f64 = 1e-6;

/// Whether a standard deviation (SI) is more than the rounding of its arithmetic.
pub(crate) fn scatters(sd: f64, value: &ExpectedValue) -> bool {
    sd > ROUNDING * value.mean.abs()
}

/// Standard deviation between prints, SI, without that by chance within a print.
pub(crate) fn without_chance(value: &ExpectedValue) -> f64 {
    value.from_inputs.hypot(value.from_noise).hypot(value.from_unknown)
}

/// The error of the arithmetic in the unit of the mean, where it shows.
pub(crate) fn known_to(row: &ExpectedRow, value: &ExpectedValue) -> Option<String> {
    let shows = value.error > 0.02 * value.mean;
    shows.then(|| numbers::significant(value.error * scale(row, value), 1))
}

/// Whether a mean meets a limit. Of a number, whether most prints should: 0.06 particles on average are none in most.
pub(crate) fn meets(limit: &Limit, row: &ExpectedRow) -> Option<bool> {
    let mean = row.value.as_ref()?.mean;
    let of_prints = share_within(limit, row).filter(|_| row.kind.is_count()).map(|share| share >= 0.5);
    let of_mean = limit.min.is_none_or(|min| mean >= min) && limit.max.is_none_or(|max| mean <= max);
    Some(of_prints.unwrap_or(of_mean))
}

/// How a figure stands to a limit on average; empty if only prints tell.
pub(crate) fn stands(limit: &Limit, row: &ExpectedRow) -> &'static str {
    meets(limit, row).map_or("", |meets| if meets { "meets it" } else { "misses it" })
}

/// The share of prints that a normal law has within a limit, in words: its last per cent is not to be trusted. Empty if it is not known.
pub(crate) fn about_share(limit: &Limit, row: Option<&ExpectedRow>) -> String {
    match row.and_then(|row| share_within(limit, row)).map(|share| 100.0 * share) {
        None => String::new(),
        Some(percent) if percent > 99.0 => "nearly all".into(),
        Some(percent) if percent < 1.0 => "hardly any".into(),
        Some(percent) => format!("about {percent:.0} %"),
    }
}

/// Why only prints tell anything.
pub fn why_only_prints(why: OnlyPrints) -> &'static str {
    match why {
        OnlyPrints::ManyPowders => "there are too many powders",
        OnlyPrints::LongPath => "the path has so many pieces that prints are quicker",
        OnlyPrints::Tracked => "each droplet is tracked through the jet, as [run] landing asks",
    }
}
