//! What a sweep is recognised by.

use crate::choices::{DesignWord, Scale};
use crate::echo::resolved;
use crate::reader::tidy;
use crate::side_files::SideFiles;
use motefall_physics::inputs::{AxisValues, Design, Inputs, PointPrints, SweepPlan};
use serde_json::{Value as Json, json};

/// Every resolved value, the content of every file that is named, and the plan.
pub(crate) fn identity(inputs: &Inputs, plan: &SweepPlan, file: &toml::Table, files: &SideFiles) -> Json {
    json!({ "files": files.fingerprints(), "scenario": scenario(inputs, file), "sweep": plan_json(plan) })
}

/// Every resolved value but what only names or judges the whole.
pub(super) fn scenario(inputs: &Inputs, file: &toml::Table) -> Json {
    let mut scenario = resolved(inputs);
    if let Json::Object(map) = &mut scenario {
        map.retain(|key, _| !matches!(key.as_str(), "name" | "note" | "calibration" | "prints"));
    }
    if let Some(Json::Object(acceptance)) = scenario.get_mut("acceptance") {
        acceptance.remove("required_share_percent");
    }
    // Resolved sizes are percentiles of three digits.
    let powders_of =
        |ink: Option<&toml::Value>| ink.and_then(|ink| ink.get("powder")).and_then(toml::Value::as_array).cloned();
    let top = powders_of(file.get("ink"));
    match file.get("layer").and_then(toml::Value::as_array) {
        None => {
            for (i, powder) in top.iter().flatten().enumerate() {
                scenario["ink"]["powder"][i]["sizes"] = sizes(powder);
            }
        }
        Some(layers) => {
            for (k, layer) in layers.iter().enumerate() {
                let own = powders_of(layer.get("ink"));
                for (i, powder) in own.as_ref().or(top.as_ref()).into_iter().flatten().enumerate() {
                    scenario["layer"][k]["ink"]["powder"][i]["sizes"] = sizes(powder);
                }
            }
        }
    }
    scenario
}

fn sizes(powder: &toml::Value) -> Json {
    let number = |value: &toml::Value| value.as_float().or(value.as_integer().map(|n| n as f64));
    let weighting = powder.get("size_weighting").and_then(toml::Value::as_str).unwrap_or("volume").to_lowercase();
    if let Some(csv) = powder.get("size_csv").and_then(toml::Value::as_str) {
        return json!({ "weighting": weighting, "size_csv": csv.trim() });
    }
    let modes = powder.get("sizes").and_then(toml::Value::as_array).into_iter().flatten();
    let modes: Vec<Json> = modes
        .map(|mode| {
            let value = |key: &str| mode.get(key).and_then(number);
            json!({ "median_um": value("median_um"), "gsd": value("gsd"), "share": value("share").unwrap_or(1.0) })
        })
        .collect();
    json!({ "weighting": weighting, "modes": modes })
}

fn plan_json(plan: &SweepPlan) -> Json {
    let is_grid = plan.design == Design::Grid;
    let range = |scale: Scale, from: f64, to: f64, count: u32| match is_grid {
        true => json!({ "scale": scale.word(), "from": from, "to": to, "count": count }),
        false => json!({ "scale": scale.word(), "from": from, "to": to }),
    };
    let axes: Vec<Json> = plan
        .axes
        .iter()
        .map(|axis| {
            let values = match &axis.values {
                AxisValues::List(values) => json!(values),
                AxisValues::Linear { from, to, count } => range(Scale::Linear, *from, *to, *count),
                AxisValues::Log { from, to, count } => range(Scale::Log, *from, *to, *count),
            };
            json!({ "key": axis.key, "values": values })
        })
        .collect();
    let (design, points) = match plan.design {
        Design::Grid => (DesignWord::Grid, None),
        Design::Sobol(n) => (DesignWord::Sobol, Some(n)),
        Design::LatinHypercube(n) => (DesignWord::LatinHypercube, Some(n)),
    };
    let prints = match plan.prints {
        PointPrints::Fixed(prints) => json!({ "prints": prints }),
        // Here the wanted share decides when a point has prints enough.
        PointPrints::Adaptive { round, most, half_width } => json!({
            "prints": round, "most_prints": most, "half_width_percent": tidy(half_width * 100.0),
            "wanted_share_percent": tidy(plan.wanted_share * 100.0),
        }),
    };
    json!({ "axis": axes, "design": design.word(), "points": points, "prints": prints, "chance": plan.chance.word() })
}
