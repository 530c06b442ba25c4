//! The values of an axis, each of which the varied key must be able to take.

use super::target::{Target, Whole};
use crate::choices::Scale;
use crate::key::show_number;
use crate::reader::{Collector, Reader, Value, number_of, other_reading};
use motefall_physics::inputs::{AxisValues, Design};
use toml::de::DeValue;

/// The values; `None` if there is a fault, which is reported.
pub(crate) fn axis_values(
    axis: &Reader<'_>,
    collector: &Collector,
    key: &str,
    target: &Target,
    design: Design,
) -> Option<AxisValues> {
    let ends = [axis.value("from"), axis.value("to")];
    let listed = axis.value("values");
    if !is_one_of_both(axis, key) {
        return None;
    }
    if let Some(list) = listed {
        return value_list(axis, collector, key, target, list);
    }
    let [from, to] = ends.map(|end| end.and_then(|value| allowed(collector, axis, key, target, value)));
    let count = axis.integer("count")? as u32;
    let scale: Scale = axis.choice("scale");
    let (from, to) = (from?, to?);
    let unit = |value: f64| shown(target, value);
    if from >= to {
        axis.fault(
            "from",
            format!("the axis `{key}` goes from {} to {}", unit(from), unit(to)),
            "not below `to`",
            "",
            "make `from` the smaller and `to` the larger value, or write `values = [...]`",
        );
        return None;
    }
    if scale == Scale::Log && from <= 0.0 {
        axis.fault(
            "from",
            format!("the axis `{key}` has log steps from {}", unit(from)),
            "must be above 0",
            "log steps are equal factors, and no factor leads away from 0",
            "start above 0, or write `scale = \"linear\"`",
        );
        return None;
    }
    let values = match scale {
        Scale::Linear => AxisValues::Linear { from, to, count },
        Scale::Log => AxisValues::Log { from, to, count },
    };
    if target.whole == Whole::Any {
        return Some(values);
    }
    whole_values(axis, key, values, design)
}

/// Whether an axis is either a list or a range; reports it if not.
fn is_one_of_both(axis: &Reader<'_>, key: &str) -> bool {
    let is_ranged = ["from", "to", "count", "scale"].iter().any(|name| axis.has(name));
    let has_ends = ["from", "to"].iter().all(|name| axis.has(name));
    let is_listed = axis.has("values");
    if is_listed != is_ranged && (is_listed || has_ends) {
        return true;
    }
    let (title, label) = if is_listed {
        (format!("the axis `{key}` has `values` and a range"), "give one of them")
    } else {
        (format!("the axis `{key}` has neither `values` nor both `from` and `to`"), "over which values?")
    };
    axis.fault(
        if is_listed { "values" } else { "key" },
        title,
        label,
        "an axis is a list of values, or a range",
        "keep either `values = [...]`, or `from = ...`, `to = ...` and, if wanted, `count` and `scale`",
    );
    false
}

/// Most values of an axis of whole numbers.
const MOST_WHOLE: f64 = 1000.0;

/// A range of a key that takes only whole numbers, as the list of them.
fn whole_values(axis: &Reader<'_>, key: &str, values: AxisValues, design: Design) -> Option<AxisValues> {
    let (from, to, count) = match values {
        AxisValues::Linear { from, to, count } => (from, to, count),
        AxisValues::Log { .. } | AxisValues::List(_) => {
            axis.fault(
                "scale",
                format!("`{key}` takes whole numbers, and log steps are none"),
                "not whole",
                "",
                "list the wanted ones: `values = [1, 2, 4, 8]`",
            );
            return None;
        }
    };
    let span = to - from;
    let steps = if design == Design::Grid { f64::from(count) - 1.0 } else { span };
    if span % steps != 0.0 || span / steps < 1.0 || steps >= MOST_WHOLE {
        axis.fault(
            if axis.has("count") { "count" } else { "to" },
            format!(
                "`{key}` takes whole numbers, and {} steps from {} to {} are not",
                show_number(steps),
                show_number(from),
                show_number(to)
            ),
            "steps that are not whole",
            "",
            "change `count` so that the steps are whole, or write `values = [...]`",
        );
        return None;
    }
    let step = span / steps;
    Some(AxisValues::List((0..=steps as u32).map(|i| from + step * f64::from(i)).collect()))
}

fn value_list(
    axis: &Reader<'_>,
    collector: &Collector,
    key: &str,
    target: &Target,
    list: &Value<'_>,
) -> Option<AxisValues> {
    let DeValue::Array(items) = list.get_ref() else {
        axis.wrong_type("values", list, "a list of numbers, e.g. [20, 30, 40]");
        return None;
    };
    if items.is_empty() {
        axis.fault("values", format!("the axis `{key}` has no values"), "empty", "", "write at least one value");
        return None;
    }
    let mut values = Vec::new();
    let mut sound = true;
    for item in items {
        let Some(value) = allowed(collector, axis, key, target, item) else {
            sound = false;
            continue;
        };
        if values.contains(&value) {
            let title = format!("the axis `{key}` has {} twice", shown(target, value));
            collector.fault(
                item.span(),
                title,
                "again",
                "both points would be the same",
                "remove it, or write another value",
            );
            sound = false;
        }
        values.push(value);
    }
    sound.then_some(AxisValues::List(values))
}

fn shown(target: &Target, value: f64) -> String {
    format!("{} {}", show_number(value), target.unit).trim_end().to_owned()
}

/// The number, if the key may take it.
fn allowed(collector: &Collector, axis: &Reader<'_>, key: &str, target: &Target, value: &Value<'_>) -> Option<f64> {
    let (least, most) = (show_number(target.spec.least), shown(target, target.spec.most));
    let Some(number) = number_of(value.get_ref()) else {
        collector.fault(
            value.span(),
            format!("a value of the axis `{}` is not a number", axis.path()),
            "not a number",
            if target.unit.is_empty() { String::new() } else { format!("`{key}` is counted in {}", target.unit) },
            format!("write a number from {least} to {most}, without quotes and without its unit"),
        );
        return None;
    };
    if !number.is_finite() || !(target.spec.least..=target.spec.most).contains(&number) {
        let advice = match other_reading(&target.spec, number) {
            Some((other, meant)) if number.is_finite() => {
                let symbol = if target.unit.is_empty() { "a plain ratio" } else { target.unit };
                format!(
                    "`{key}` is counted in {symbol}: if {} was meant, write {}",
                    other.show(number),
                    show_number(meant)
                )
            }
            _ => format!("write a value from {least} to {most}"),
        };
        collector.fault(
            value.span(),
            format!("`{key}` cannot be {}: it must lie between {least} and {most}", shown(target, number)),
            format!("allowed: {least} to {most}"),
            target.spec.why,
            advice,
        );
        return None;
    }
    if target.whole == Whole::Only && number.fract() != 0.0 {
        collector.fault(
            value.span(),
            format!("`{key}` cannot be {}: it must be a whole number", shown(target, number)),
            "not whole",
            target.spec.why,
            "write whole numbers",
        );
        return None;
    }
    Some(number)
}
