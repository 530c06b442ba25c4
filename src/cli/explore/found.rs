//! What searches beside a scenario ask for and hold.

use super::answer::Refusal;
use super::place::{Found, Kind};
use super::subject::Subject;
use motefall_figures::statistics::wilson_95;
use motefall_files::whole_file::folder_of;
use motefall_output::numbers;
use motefall_physics::inputs::Axis;
use motefall_run::sweep::design::Points;
use motefall_run::sweep::store::{FILE, read_result};
use motefall_scenario::Dial;
use serde_json::{Map, Value, json};
use std::path::Path;

/// What an advice says for programs.
const ADVICE: &str = "advice.json";

/// Whether a question makes sense, before it is saved.
pub(super) fn check(text: &str, file: &Path, kind: Kind) -> Result<(), Refusal> {
    let (name, folder) = (file.display().to_string(), folder_of(file));
    let checked = match kind {
        Kind::Report => Ok(()),
        Kind::Sweep => motefall_scenario::parse_sweep(text, &name, folder).map(drop),
        Kind::Advice => motefall_scenario::parse_advise(text, &name, folder).map(drop),
    };
    checked.map_err(|faults| {
        let titles: Vec<&str> = faults.list.iter().map(|fault| fault.title.as_str()).collect();
        Refusal::Setting(titles.join("\n"))
    })
}

/// What came of a search so far.
pub(super) fn result(subject: &Subject, found: &Found) -> Result<Value, Refusal> {
    match found.kind {
        Kind::Report => Err(Refusal::Unknown),
        Kind::Sweep => sweep(subject, found),
        Kind::Advice => advice(subject, found),
    }
}

/// Numbers by which a search's own scenario differs from the one that is explored.
fn base(subject: &Subject, file: &Path) -> Result<Value, Refusal> {
    let searched = motefall_scenario::load_turnable(file).map_err(|faults| Refusal::Failed(faults.to_string()))?;
    let of_dial = |dial: &Dial| {
        let value = searched.knob(&dial.knob.key).ok()?.value;
        (value != dial.knob.value).then(|| (dial.knob.key.clone(), json!(value)))
    };
    Ok(Value::Object(subject.dials.iter().filter_map(of_dial).collect()))
}

fn sweep(subject: &Subject, Found { file, folder, .. }: &Found) -> Result<Value, Refusal> {
    if !folder.join(FILE).is_file() {
        return Err(Refusal::Unknown);
    }
    let result = read_result(folder).map_err(|error| Refusal::Failed(error.to_string()))?;
    let points = Points::new(&result.plan, result.seed).map_err(Refusal::Failed)?;
    let all: Vec<Vec<f64>> = (0..points.count()).map(|number| points.at(number)).collect();
    let axis = |(k, axis): (usize, &Axis)| {
        let mut values: Vec<f64> = all.iter().map(|values| values[k]).collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        json!({ "key": axis.key, "label": subject.label(&axis.key), "unit": axis.unit, "values": values })
    };
    let point = |point: &motefall::PointRecord| match &point.outcome {
        Ok(stats) if stats.met_each.is_empty() => json!({ "values": point.values, "prints": stats.prints }),
        Ok(stats) => {
            let [low, high] = wilson_95(stats.met, stats.prints);
            let share = f64::from(stats.met) / f64::from(stats.prints.max(1));
            json!({ "values": point.values, "share": share, "low": low, "high": high, "prints": stats.prints })
        }
        Err(reason) => json!({ "values": point.values, "share": null, "error": reason }),
    };
    Ok(json!({
        "axes": result.plan.axes.iter().enumerate().map(axis).collect::<Vec<_>>(),
        "points": result.points.iter().map(point).collect::<Vec<_>>(),
        "required": result.plan.wanted_share,
        "values": base(subject, file)?,
    }))
}

/// The choices of an advice, from what it wrote for programs.
fn advice(subject: &Subject, Found { file, folder, .. }: &Found) -> Result<Value, Refusal> {
    let text = std::fs::read_to_string(folder.join(ADVICE)).map_err(|_| Refusal::Unknown)?;
    let told: Value = serde_json::from_str(&text).map_err(|error| Refusal::Failed(error.to_string()))?;
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let keys: Vec<String> =
        list(&told["free"]).iter().filter_map(|free| Some(free["key"].as_str()?.to_owned())).collect();
    let passes = told["passes"] == json!(true);
    let choice = |(k, choice): (usize, &Value)| {
        let setting = &choice["setting"];
        let values: Map<String, Value> = keys.iter().cloned().zip(list(&setting["values"])).collect();
        let words = values.iter().map(|(key, value)| {
            let unit = subject.dials.iter().find(|dial| dial.knob.key == *key).map_or("", |dial| dial.knob.unit);
            let value = numbers::given(value.as_f64().unwrap_or(f64::NAN));
            format!("{} {value} {unit}", subject.label(key)).trim_end().to_owned()
        });
        let role = match k {
            0 if passes => "recommended",
            0 => "closest",
            _ => "of another kind",
        };
        let margin = match choice["margin_percent"].as_f64().unwrap_or(0.0) {
            percent if percent > 0.0 => {
                format!("all settings may drift by {} % together", numbers::significant(percent, 2))
            }
            _ => "no margin is shown".to_owned(),
        };
        let doubts: Vec<String> =
            list(&setting["doubts"]).iter().filter_map(|doubt| Some(doubt["words"].as_str()?.to_owned())).collect();
        let doubts =
            if doubts.is_empty() { String::new() } else { format!("; the model is in doubt: {}", doubts.join("; ")) };
        json!({
            "values": values,
            "head": format!("{} ({role})", words.collect::<Vec<_>>().join(", ")),
            "share_text": format!("{} of {} prints pass", setting["met"], setting["prints"]),
            "why": format!("{margin}{doubts}"),
        })
    };
    let blocked = (!passes).then_some(
        "No setting within what may be changed passes often enough; the whole advice says what stands in the way.",
    );
    Ok(json!({
        "choices": list(&told["choices"]).iter().enumerate().map(choice).collect::<Vec<_>>(),
        "blocked": blocked,
        "values": base(subject, file)?,
    }))
}
