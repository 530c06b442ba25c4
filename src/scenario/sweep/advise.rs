//! The `[advise]` section: which settings may be changed, within what the machine can set.

use super::knobs::{Turnable, turnable};
use super::target::{Whole, named};
use crate::faults::{Fault, Faults};
use crate::key::show_number;
use crate::reader::{Collector, Reader};
use crate::side_files::SideFiles;
use crate::{Knob, folder_of, parse_with, read_text};
use motefall_figures::advice::Freed;
use motefall_physics::inputs::{Axis, AxisValues, Design};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::Arc;

/// A scenario and the settings of it that may be changed.
#[derive(Debug)]
pub struct AdviseScenario {
    /// The scenario.
    pub turnable: Turnable,
    /// What may be changed; at least one setting.
    pub freed: Vec<Freed>,
    /// Whether the file says so; if not, these are the usual ones.
    pub is_stated: bool,
}

/// Settings that may be changed if the file does not say which, each item of a list by itself: what heads and stages of such printers can
/// usually set (common practice, no source).
const USUAL: [(&str, [f64; 2], f64); 3] = [
    ("flow.sheath_sccm", [10.0, 150.0], 0.5),
    ("path[].speed_mm_s", [0.2, 20.0], 0.1),
    ("path[].passes", [1.0, 12.0], 1.0),
];
/// Items of the path up to which each is free by itself.
const MOST_ITEMS: usize = 2;
/// Most settings that may be changed: each doubles the corners that a margin is proved at.
const MOST_FREED: usize = 6;

/// One `[[advise.free]]`.
struct Free {
    key: String,
    least: f64,
    most: f64,
    step: Option<f64>,
}

/// Reads a scenario and which settings of it may be changed.
pub fn load_advise(path: &Path) -> Result<AdviseScenario, Faults> {
    parse_advise(&read_text(path)?, &path.display().to_string(), folder_of(path))
}

/// The same from text. `name` appears in messages; files that the text names are looked for in `base_dir`.
pub fn parse_advise(text: &str, name: &str, base_dir: &Path) -> Result<AdviseScenario, Faults> {
    let files = Arc::new(SideFiles::new(base_dir));
    let (_, stated) = parse_with(text, name, &files, |root, collector, scenario| {
        let file: toml::Table = scenario.source_text.parse().unwrap_or_default();
        stated(root, collector, &file)
    })?;
    let turnable = turnable(text, name, files)?;
    let fault = |title: String, advice: String| Faults::new(vec![Fault::of_file(title, advice)], name, text);
    if turnable.scenario.inputs.acceptance.limits.is_empty() {
        let title = format!("{name} sets no limits, so that no setting is better than another");
        return Err(fault(title, "add what the print has to meet, each as an `[[acceptance.limit]]`".to_owned()));
    }
    let is_stated = stated.is_some();
    let free = stated.unwrap_or_else(|| usual(&turnable));
    let freed: Vec<Freed> = free.into_iter().filter_map(|free| freed(&turnable, free)).collect();
    if freed.is_empty() {
        let title = format!("{name} does not say which settings may be changed");
        return Err(fault(title, EXAMPLE.to_owned()));
    }
    Ok(AdviseScenario { turnable, freed, is_stated })
}

const EXAMPLE: &str = "add, for example:\n\n[[advise.free]]\nkey = \"flow.sheath_sccm\"\nleast = 20\nmost = 80\nstep = 0.5\n\n\
                       [[advise.free]]\nkey = \"path[1].speed_mm_s\"\nleast = 0.5\nmost = 8\nstep = 0.1";

impl AdviseScenario {
    /// What decides an advice, to recognise the same question by.
    pub fn identity(&self) -> Json {
        let freed: Vec<Json> = self
            .freed
            .iter()
            .map(|freed| json!({ "key": freed.key, "least": freed.least, "most": freed.most, "step": freed.step }))
            .collect();
        let required = self.turnable.scenario.inputs.acceptance.required_share;
        json!({ "scenario": self.turnable.identity(), "free": freed, "required_share": required })
    }

    /// The numbers of the scenario that may be changed, in the order of what is freed.
    pub fn knobs(&self) -> Vec<Knob> {
        self.freed.iter().filter_map(|freed| self.turnable.knob(&freed.key).ok()).collect()
    }
}

/// What the file frees; `None` without `[advise]`.
fn stated(root: &Reader<'_>, collector: &Collector, file: &toml::Table) -> Option<Vec<Free>> {
    let section = root.optional_table("advise")?;
    let (mut all, mut places) = (vec![], vec![]);
    for free in section.tables("free") {
        let (least, most, step) = (free.number("least"), free.number("most"), free.optional("step"));
        let Some((key, target)) = named(&free, collector, file) else { continue };
        if places.contains(&target.place) {
            free.fault("key", format!("`{key}` is freed twice"), "again", "", "remove one of the two");
        }
        let shown = |value: f64| format!("{} {}", show_number(value), target.unit).trim_end().to_owned();
        for (name, value) in [("least", least), ("most", most)] {
            if value < target.spec.least || value > target.spec.most {
                let (from, to) = (show_number(target.spec.least), shown(target.spec.most));
                free.fault(
                    name,
                    format!("`{key}` cannot be {}: it must lie between {from} and {to}", shown(value)),
                    format!("allowed: {from} to {to}"),
                    target.spec.why,
                    format!("write a value from {from} to {to}"),
                );
            }
        }
        if least >= most {
            let title = format!("`{key}` may go from {} to {}", shown(least), shown(most));
            free.fault("least", title, "not below `most`", "", "make `least` the smaller and `most` the larger value");
        } else if step.is_some_and(|step| step > most - least) {
            let title = format!("the step of `{key}` is larger than its range");
            free.fault("step", title, "too large", "there must be a choice", "write a smaller step, or leave it out");
        } else if target.whole == Whole::Only && step.is_some_and(|step| step.fract() != 0.0) {
            let title = format!("`{key}` takes whole numbers, so its step is one, too");
            free.fault("step", title, "not whole", "", "write `step = 1`, or leave it out");
        }
        places.push(target.place);
        all.push(Free { key, least, most, step });
    }
    if all.len() > MOST_FREED {
        section.fault(
            "free",
            format!("{} settings are freed, and at most {MOST_FREED} can be", all.len()),
            "too many",
            "how far all may drift together is proved at every corner, and each setting doubles these",
            "free what you would really turn",
        );
    }
    Some(all)
}

/// What is free if the file does not say so: not of a print of layers or of many items, where only the user knows what belongs together.
fn usual(turnable: &Turnable) -> Vec<Free> {
    let inputs = &turnable.scenario.inputs;
    let items = inputs.items().count();
    if inputs.is_layered() || items > MOST_ITEMS {
        return vec![];
    }
    let keys = USUAL.iter().flat_map(|(key, range, step)| {
        let each = match key.split_once("[]") {
            Some((list, rest)) => (1..=items).map(|n| format!("{list}[{n}]{rest}")).collect(),
            None => vec![(*key).to_owned()],
        };
        each.into_iter().map(move |key| Free { key, least: range[0], most: range[1], step: Some(*step) })
    });
    keys.collect()
}

/// A freed setting with its unit, step and today's value; `None` if the scenario has no such number.
fn freed(turnable: &Turnable, Free { key, least, most, step }: Free) -> Option<Freed> {
    let knob = turnable.knob(&key).ok()?;
    let unit = knob.unit.to_owned();
    let usual = || {
        let values = AxisValues::Linear { from: least, to: most, count: 2 };
        Axis { key: key.clone(), unit: unit.clone(), values }.step(Design::Sobol(1)).unwrap_or(1.0)
    };
    let step = step.unwrap_or_else(|| if knob.is_whole { 1.0 } else { usual() });
    Some(Freed { least, most, step, is_whole: knob.is_whole, today: knob.value, unit, key })
}
