//! The `[sweep]` section: which settings vary, checked as strictly as the scenario, and the scenario at each point.
//!
//! A point's values are put into the parsed file, and its text is read again, so that every check of a scenario holds
//! at every point.

use super::echo::resolved;
use super::faults::{Fault, Faults, did_you_mean, nearest};
use super::key::{COUNT, Kind, Need, Number, Section, Unit, show_number};
use super::keys::{ALTERNATIVES, DesignWord, MOST_POINTS, PRINT_LAYER, RENAMED, Scale, root};
use super::reader::{Collector, Reader, Value, homes_of, number_of, number_spec, other_reading, other_unit, tidy};
use super::side_files::SideFiles;
use super::{Scenario, folder_of, parse_with, read_text};
use crate::figures::kinds;
use crate::inputs::{Axis, AxisValues, Design, Inputs, PointPrints, SweepPlan};
use serde_json::{Value as Json, json};
use std::path::Path;
use std::sync::Arc;
use toml::de::DeValue;

/// A scenario and the sweep that its file describes.
#[derive(Debug, Clone)]
pub struct SweepScenario {
    /// The scenario as written, without any value of an axis.
    pub scenario: Scenario,
    /// What varies.
    pub plan: SweepPlan,
    /// The file without `[sweep]`.
    file: toml::Table,
    /// Files that it names, as they were when it was read.
    files: Arc<SideFiles>,
    /// Where each axis's value stands.
    places: Vec<Place>,
    identity: Json,
}

/// Reads a scenario with its sweep. Files it names are looked for beside it.
pub fn load_sweep(path: &Path) -> Result<SweepScenario, Faults> {
    parse_sweep(&read_text(path)?, &path.display().to_string(), folder_of(path))
}

/// Reads a scenario with its sweep from text. `file_name` appears in messages; files that the text names are looked for
/// in `base_dir`.
pub fn parse_sweep(text: &str, file_name: &str, base_dir: &Path) -> Result<SweepScenario, Faults> {
    let files = SideFiles::new(base_dir);
    let (scenario, more) = parse_with(text, file_name, &files, |root, collector, scenario| {
        let file: toml::Table = scenario.source_text.parse().unwrap_or_default();
        let read = plan(root, collector, &file, &scenario.inputs);
        let axes = file.get("sweep").and_then(|sweep| sweep.get("axis")).and_then(toml::Value::as_array);
        let counted = axes.into_iter().flatten().any(|axis| axis.get("count").is_some());
        if counted && read.as_ref().is_some_and(|(plan, _)| plan.design != Design::Grid) {
            scenario
                .notes
                .push("the `count` of an axis is of no effect: the design spreads its own number of points".to_owned());
        }
        if scenario.inputs.acceptance.limits.is_empty() {
            scenario.notes.push("without acceptance limits a sweep compares figures, but finds no window".to_owned());
        }
        (file, read)
    })?;
    let (mut file, read) = more;
    let Some((plan, places)) = read else { return Err(without_sweep(file_name, text)) };
    file.remove("sweep");
    let identity = identity(&scenario.inputs, &plan, &file, &files);
    Ok(SweepScenario { scenario, plan, file, files: Arc::new(files), places, identity })
}

impl SweepScenario {
    /// Inputs at a point: the values, each in the unit of its axis, put into the file and read again with every check;
    /// otherwise why not, in one or two lines.
    pub fn inputs(&self, values: &[f64]) -> Result<Inputs, String> {
        if values.len() != self.places.len() {
            return Err(format!("{} values for {} axes", values.len(), self.places.len()));
        }
        let text = written(&self.at(values));
        let read = parse_with(&text, "this point", &self.files, |_, _, _| ());
        read.map(|(scenario, ())| scenario.inputs).map_err(|faults| reasons(&faults))
    }

    /// The scenario's text at a point, without `[sweep]`, so that it can be predicted alone. Comments are not kept.
    pub fn text_at(&self, values: &[f64]) -> String {
        let settings: Vec<String> =
            self.plan.axes.iter().zip(values).map(|(axis, value)| format!("# {} = {value}\n", axis.key)).collect();
        let mut file = self.at(values);
        // The text will stand in another folder.
        full_paths(&mut file, self.files.base_dir());
        let layers = file.get_mut("layer").and_then(toml::Value::as_array_mut);
        layers
            .into_iter()
            .flatten()
            .filter_map(toml::Value::as_table_mut)
            .for_each(|l| full_paths(l, self.files.base_dir()));
        format!("# One point of a sweep:\n{}\n{}", settings.concat(), written(&file))
    }

    /// What decides the results: every resolved value, the content of every file that is named, and the plan, without what only names or judges the whole. The same
    /// sweep is recognised by it. Values are given to 12 digits; what differs by less is rounding.
    pub fn identity(&self) -> Json {
        self.identity.clone()
    }

    fn at(&self, values: &[f64]) -> toml::Table {
        let mut file = toml::Value::Table(self.file.clone());
        for (place, value) in self.places.iter().zip(values) {
            // Numbers may be written as whole ones; whole ones must.
            let whole = value.fract() == 0.0 && value.abs() < 1e15;
            put(&mut file, place, if whole { (*value as i64).into() } else { (*value).into() });
        }
        match file {
            toml::Value::Table(table) => table,
            _ => unreachable!("it was made from a table"),
        }
    }
}

/// Gives the full path of each size table that an ink names.
fn full_paths(part: &mut toml::Table, base_dir: &Path) {
    let make_full = |item: &mut toml::Value, key: &str| {
        if let Some(toml::Value::String(file)) = item.get_mut(key)
            && let Ok(full) = std::path::absolute(base_dir.join(file.as_str()))
        {
            *file = full.display().to_string();
        }
    };
    let powders = part.get_mut("ink").and_then(|ink| ink.get_mut("powder")).and_then(toml::Value::as_array_mut);
    powders.into_iter().flatten().for_each(|powder| make_full(powder, "size_csv"));
    for list in ["path", "region"] {
        let items = part.get_mut(list).and_then(toml::Value::as_array_mut);
        items.into_iter().flatten().for_each(|item| make_full(item, "file"));
    }
}

/// A place in the file.
type Place = Vec<Step>;

/// One step towards a place in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Step {
    /// Into a key of a section.
    Key(&'static str),
    /// Into an item of a list, from 0.
    Item(usize),
}

fn put(value: &mut toml::Value, place: &[Step], new: toml::Value) {
    match (place, value) {
        ([], value) => *value = new,
        ([Step::Key(key), rest @ ..], toml::Value::Table(table)) => {
            put(table.entry(*key).or_insert_with(|| toml::Table::new().into()), rest, new)
        }
        ([Step::Item(i), rest @ ..], toml::Value::Array(items)) => {
            if let Some(item) = items.get_mut(*i) {
                put(item, rest, new)
            }
        }
        _ => debug_assert!(false, "the place was found in this file"),
    }
}

/// A file as text, its sections in the order of the table of keys.
fn written(file: &toml::Table) -> String {
    let sections = root::TABLE.keys.iter().filter_map(|key| {
        let part = toml::Table::from_iter([(key.name.to_owned(), file.get(key.name)?.clone())]);
        let gap = if matches!(key.kind, Kind::Table(_) | Kind::Tables(_) | Kind::Shapes(_)) { "\n" } else { "" };
        Some(format!("{gap}{}", toml::to_string(&part).expect("a part of a parsed file can be written")))
    });
    sections.collect()
}

/// Why a point cannot run, in a line or two.
fn reasons(faults: &Faults) -> String {
    let shown: Vec<&str> = faults.list.iter().take(2).map(|fault| fault.title.as_str()).collect();
    match faults.list.len() {
        n @ 3.. => format!("{}\n{} (and {} more)", shown[0], shown[1], n - 2),
        _ => shown.join("\n"),
    }
}

fn without_sweep(file_name: &str, text: &str) -> Faults {
    let fault = Fault {
        span: None,
        title: format!("{file_name} has no section `[sweep]`"),
        label: String::new(),
        why: "a sweep needs to know which settings vary, and over which values".to_owned(),
        advice: "add, for example:\n\n[sweep]\nprints = 50\n\n[[sweep.axis]]\nkey = \"flow.sheath_sccm\"\nvalues = [20, 30, 40, 60]\n\n[[sweep.axis]]\nkey = \"path[1].speed_mm_s\"\nfrom = 1\nto = 8\ncount = 5\nscale = \"log\"".to_owned(),
    };
    Faults::new(vec![fault], file_name, text)
}

/// The plan and where its values stand; `None` without `[sweep]`. Of use only if the collector has no faults.
fn plan(
    root: &Reader<'_>,
    collector: &Collector,
    file: &toml::Table,
    inputs: &Inputs,
) -> Option<(SweepPlan, Vec<Place>)> {
    let sweep = root.optional_table("sweep")?;
    let design = design(&sweep);
    let (mut axes, mut places) = (Vec::new(), Vec::<Place>::new());
    for section in sweep.tables("axis") {
        let key = section.text("key");
        if key.is_empty() {
            continue;
        }
        let target = match target(file, &key) {
            Ok(target) => target,
            Err(slip) => {
                collector.fault(section.span("key"), slip.title, slip.label, slip.why, slip.advice);
                continue;
            }
        };
        if let Some(slip) = unused(file, &key, &target.place) {
            collector.fault(section.span("key"), slip.title, slip.label, slip.why, slip.advice);
            continue;
        }
        if let Some(first) = places.iter().position(|place| *place == target.place) {
            section.fault(
                "key",
                format!("`{key}` is varied twice"),
                format!("axis {} varies it already", first + 1),
                "a setting can have only one value at a point",
                "remove one of the two axes",
            );
            continue;
        }
        if let Some(values) = axis_values(&section, collector, &key, &target, design) {
            axes.push(Axis { key, unit: target.unit.to_owned(), values });
            places.push(target.place);
        }
    }
    if design == Design::Grid {
        grid_size(&sweep, &axes);
    }
    let wanted_share = sweep.optional("wanted_share_percent").unwrap_or(inputs.acceptance.required_share);
    let prints = point_prints(&sweep, inputs);
    let chance = sweep.choice("chance");
    Some((SweepPlan { axes, design, prints, chance, wanted_share }, places))
}

fn design(sweep: &Reader<'_>) -> Design {
    let chosen = sweep.choice("design");
    let points = sweep.has("points").then(|| sweep.integer("points")).flatten().unwrap_or(1) as u32;
    let made = match chosen {
        DesignWord::Grid => Design::Grid,
        DesignWord::Sobol => Design::Sobol(points),
        DesignWord::LatinHypercube => Design::LatinHypercube(points),
    };
    if made == Design::Grid && sweep.has("points") {
        sweep.fault(
            "points",
            "`sweep.points` is given for a grid",
            "not for a grid",
            "a grid runs every combination of the axes' values, so the axes tell how many points there are",
            "remove it, or add `design = \"sobol\"` to spread so many points evenly",
        );
    }
    if made != Design::Grid && !sweep.has("points") {
        sweep.fault(
            "design",
            "`sweep.points` is missing",
            "how many points?",
            "such a design spreads a given number of points evenly over all axes",
            format!("add `points = ...`, a whole number from 1 to {MOST_POINTS}; powers of 2 spread best"),
        );
    }
    made
}

fn point_prints(sweep: &Reader<'_>, inputs: &Inputs) -> PointPrints {
    let prints = sweep.integer("prints").unwrap_or(2) as u32;
    let half_width = sweep.number("half_width_percent");
    if !sweep.has("most_prints") {
        if sweep.has("half_width_percent") {
            sweep.fault(
                "half_width_percent",
                "`sweep.half_width_percent` is given without `most_prints`",
                "of no effect",
                "without `most_prints` every point gets the same number of prints",
                "add `most_prints = ...`, or remove it",
            );
        }
        return PointPrints::Fixed(prints);
    }
    let most = sweep.integer("most_prints").unwrap_or(u64::MAX) as u32;
    if most < prints {
        sweep.fault(
            "most_prints",
            format!("`sweep.most_prints` is {most}, less than `prints`, {prints}"),
            "less than one round",
            "with `most_prints` a point gets rounds of `prints` prints until its pass probability is known well enough",
            format!("write {prints} or more, or lower `prints`"),
        );
    }
    if inputs.acceptance.limits.is_empty() {
        sweep.fault(
            "most_prints",
            "`sweep.most_prints` needs acceptance limits, and there are none",
            "no pass probability",
            "prints are added until the pass probability is known well enough; without limits there is none",
            "add an `[[acceptance.limit]]`, or remove `most_prints`",
        );
    }
    PointPrints::Adaptive { round: prints, most, half_width }
}

fn grid_size(sweep: &Reader<'_>, axes: &[Axis]) {
    let counts: Vec<u64> = axes
        .iter()
        .map(|axis| match &axis.values {
            AxisValues::List(values) => values.len() as u64,
            AxisValues::Linear { count, .. } | AxisValues::Log { count, .. } => u64::from(*count),
        })
        .collect();
    let points = counts.iter().fold(1, |product: u64, count| product.saturating_mul(*count));
    if points > MOST_POINTS {
        let product: Vec<String> = counts.iter().map(u64::to_string).collect();
        sweep.fault(
            "axis",
            format!("the grid has {} = {points} points, more than {MOST_POINTS}", product.join(" x ")),
            "too many combinations",
            "a grid runs every combination of the axes' values",
            "use fewer values, or `design = \"sobol\"` with `points = ...`",
        );
    }
}

/// A number of the file that can be varied.
#[derive(Debug)]
struct Target {
    place: Place,
    /// Range as written.
    spec: Number,
    /// Unit in text.
    unit: &'static str,
    whole: Whole,
}

/// Which numbers a key takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Whole {
    /// Whole ones.
    Only,
    /// Any.
    Any,
}

/// Why a key cannot be varied.
#[derive(Debug, Default)]
struct Slip {
    title: String,
    label: String,
    why: String,
    advice: String,
}

fn axis_values(
    axis: &Reader<'_>,
    collector: &Collector,
    key: &str,
    target: &Target,
    design: Design,
) -> Option<AxisValues> {
    let ends = [axis.value("from"), axis.value("to")];
    let others = ["from", "to", "count", "scale"].map(|name| axis.has(name));
    let listed = axis.value("values");
    if listed.is_some() == others.contains(&true) || (listed.is_none() && ends.iter().any(Option::is_none)) {
        let (title, label) = match listed {
            Some(_) => (format!("the axis `{key}` has `values` and a range"), "give one of them"),
            None => (format!("the axis `{key}` has neither `values` nor both `from` and `to`"), "over which values?"),
        };
        axis.fault(
            if listed.is_some() { "values" } else { "key" },
            title,
            label,
            "an axis is a list of values, or a range",
            "keep either `values = [...]`, or `from = ...`, `to = ...` and, if wanted, `count` and `scale`",
        );
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

/// A part of a key as written: `name`, `[2]`, `["label"]`.
#[derive(Debug, PartialEq)]
enum Part<'a> {
    Name(&'a str),
    Number(usize),
    Label(&'a str),
}

/// Splits a key into its parts.
fn parts(key: &str) -> Option<Vec<Part<'_>>> {
    let mut found = Vec::new();
    let mut rest = key;
    loop {
        let end = rest.find(|c: char| !(c.is_alphanumeric() || c == '_' || c == '-')).unwrap_or(rest.len());
        if end == 0 {
            return None;
        }
        found.push(Part::Name(&rest[..end]));
        rest = &rest[end..];
        while let Some(inner) = rest.strip_prefix('[') {
            let quote = inner.chars().next().filter(|c| matches!(c, '"' | '\''));
            let (part, after) = match quote {
                Some(quote) => {
                    let (label, after) = inner[1..].split_once(quote)?;
                    (Part::Label(label), after.strip_prefix(']')?)
                }
                None => {
                    let (number, after) = inner.split_once(']')?;
                    (Part::Number(number.trim().parse().ok()?), after)
                }
            };
            found.push(part);
            rest = after;
        }
        match rest.strip_prefix('.') {
            Some(after) => rest = after,
            None if rest.is_empty() => return Some(found),
            None => return None,
        }
    }
}

/// Sections whose mere presence changes the print, so that an axis must not bring them in.
const NEVER_ADDED: [&str; 2] = ["spread", "bounce"];

/// Finds the number that a key names.
fn target(file: &toml::Table, key: &str) -> Result<Target, Slip> {
    let Some(parts) = parts(key) else {
        return Err(Slip {
            title: format!("\"{key}\" is not a key"),
            label: "not a key".to_owned(),
            why: "a key names sections and their keys with dots between them".to_owned(),
            advice:
                "write e.g. flow.sheath_sccm, path[1].speed_mm_s, path['line'].speed_mm_s or region[1].center_um[2]"
                    .to_owned(),
        });
    };
    let layers = file.get("layer").and_then(toml::Value::as_array).filter(|_| parts[0] == Part::Name("path"));
    if let Some(first) = layers.and_then(|layers| layers.first()) {
        let name = first.get("name").and_then(toml::Value::as_str).unwrap_or("name").trim();
        return Err(Slip {
            title: format!("`{key}` is not at the top of the file: the paths stand in its layers"),
            label: "of which layer?".to_owned(),
            advice: format!("write layer[1].{key}, or layer['{name}'].{key} by the layer's name"),
            ..Slip::default()
        });
    }
    let mut parts = parts.into_iter().peekable();
    let (mut section, mut table) = (&root::TABLE, Some(file));
    let (mut path, mut place) = (String::new(), Place::new());
    loop {
        let name = match parts.next() {
            Some(Part::Name(name)) => name,
            Some(Part::Number(_) | Part::Label(_)) => return Err(not_a_list(&path)),
            None => return Err(ends_early(section, &path)),
        };
        let Some(spec) = section.key(name) else { return Err(unknown(section, &path, name, key)) };
        let full = if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
        place.push(Step::Key(spec.name));
        let here = table.and_then(|table| table.get(name));
        if section.name == root::TABLE.name && matches!(name, "sweep" | "prints") || name == "required_share_percent" {
            return Err(Slip {
                title: format!("`{full}` cannot be varied"),
                label: "not a setting of the print".to_owned(),
                why: "it says how prints are counted or judged, not how they are made".to_owned(),
                advice: "vary a setting; `sweep.prints` tells how many prints a point gets".to_owned(),
            });
        }
        match spec.kind {
            Kind::Table(inner) => {
                if here.is_none() && NEVER_ADDED.contains(&name) {
                    return Err(Slip {
                        title: format!("`{key}` cannot be varied: the file has no section `{full}`"),
                        label: "no such section in this file".to_owned(),
                        why: inner.help.to_owned(),
                        advice: format!("add a section `[{full}]`"),
                    });
                }
                (section, table) = (inner, here.and_then(toml::Value::as_table));
                path = full;
            }
            Kind::Tables(_) | Kind::Shapes(_) => {
                let items = here.and_then(toml::Value::as_array).map_or(&[][..], Vec::as_slice);
                let i = item(&full, items, parts.next())?;
                let item = items[i].as_table();
                section = match spec.kind {
                    Kind::Tables(inner) => inner,
                    Kind::Shapes(shapes) => {
                        let kind = item.and_then(|item| item.get("kind")).and_then(toml::Value::as_str);
                        shapes.iter().find(|shape| Some(shape.name) == kind).unwrap_or(&shapes[0])
                    }
                    _ => unreachable!("matched above"),
                };
                table = item;
                path = format!("{full}[{}]", i + 1);
                place.push(Step::Item(i));
            }
            Kind::Numbers(_) | Kind::Point(_) | Kind::Points(..) => {
                let deep = if matches!(spec.kind, Kind::Points(..)) { 2 } else { 1 };
                let mut here = here;
                let mut full = full;
                for _ in 0..deep {
                    let items = here.and_then(toml::Value::as_array).map_or(&[][..], Vec::as_slice);
                    let i = entry(&full, items.len(), parts.next())?;
                    place.push(Step::Item(i));
                    full = format!("{full}[{}]", i + 1);
                    here = items.get(i);
                }
                let number = number_spec(spec).expect("it holds numbers");
                return end(parts.next(), &full, place, number, number.unit, Whole::Any);
            }
            Kind::Number(number) => {
                let other = ALTERNATIVES.iter().find(|pair| pair[0] == name).map(|pair| pair[1]);
                if let Some(other) =
                    other.filter(|other| here.is_none() && table.is_some_and(|t| t.contains_key(*other)))
                {
                    return Err(Slip {
                        title: format!("`{full}` cannot be varied: the file gives `{other}` instead"),
                        label: "the other one is given".to_owned(),
                        why: section.help.to_owned(),
                        advice: format!("replace `{other}` by `{name}` in `[{path}]`, or vary `{path}.{other}`"),
                    });
                }
                let figure = table.and_then(|t| t.get("figure")).and_then(toml::Value::as_str).and_then(kinds::kind);
                let found = end(parts.next(), &full, place, number, number.unit, Whole::Any)?;
                // A limit is in the unit of its figure.
                return Ok(Target { unit: figure.map_or(found.unit, |figure| figure.unit), ..found });
            }
            Kind::Integer(least, most) => {
                // Larger whole numbers are not exact as floating-point numbers.
                let most = most.min(1 << 53);
                let number = Number { unit: COUNT, least: least as f64, most: most as f64, why: spec.help };
                return end(parts.next(), &full, place, number, COUNT, Whole::Only);
            }
            Kind::IntegerOrAuto(..) | Kind::Text | Kind::Choice(_) | Kind::Choices(_) | Kind::Flag => {
                return Err(Slip {
                    title: format!("`{full}` is not a number"),
                    label: "not a number".to_owned(),
                    why: format!("{name}: {}", spec.help),
                    advice: "an axis varies a number; for words, run one sweep for each".to_owned(),
                });
            }
        }
    }
}

/// What is wrong with a place at the top of the file that no layer makes use of.
fn unused(file: &toml::Table, key: &str, place: &[Step]) -> Option<Slip> {
    let Some(Step::Key(section)) = place.first() else { return None };
    let layers = file.get("layer").and_then(toml::Value::as_array)?;
    if PRINT_LAYER.key(section).is_none() || layers.is_empty() {
        return None;
    }
    // A list in a layer replaces the whole list at the top.
    let own = |layer: &toml::Value| {
        let mut here = Some(layer);
        for step in place {
            let Step::Key(name) = step else { break };
            let other = ALTERNATIVES.iter().find(|[key, _]| key == name).map(|[_, other]| *other);
            here = here.and_then(|here| here.get(name).or_else(|| here.get(other?)));
        }
        here.is_some()
    };
    layers.iter().all(own).then(|| Slip {
        title: format!("`{key}` at the top of the file changes nothing: every layer has its own"),
        label: "used by no layer".to_owned(),
        why: "a layer takes from the top of the file only what it leaves out".to_owned(),
        advice: format!("write layer[1].{key}, or layer['name'].{key} by the layer's name"),
    })
}

fn end(
    more: Option<Part<'_>>,
    full: &str,
    place: Place,
    spec: Number,
    unit: Unit,
    whole: Whole,
) -> Result<Target, Slip> {
    match more {
        None => Ok(Target { place, spec, unit: unit.symbol, whole }),
        Some(_) => Err(Slip {
            title: format!("`{full}` is one number and has no parts"),
            label: "goes too far".to_owned(),
            advice: format!("write {full}"),
            ..Slip::default()
        }),
    }
}

fn not_a_list(path: &str) -> Slip {
    Slip {
        title: format!("`{path}` is one section, not a list"),
        label: "not a list".to_owned(),
        advice: format!("write {path} without brackets behind it"),
        ..Slip::default()
    }
}

fn ends_early(section: &Section, path: &str) -> Slip {
    let numbers = section.keys.iter().filter(|key| {
        !matches!(key.kind, Kind::Text | Kind::Choice(_) | Kind::Choices(_) | Kind::Flag | Kind::IntegerOrAuto(..))
    });
    let names: Vec<&str> = numbers.map(|key| key.name).collect();
    Slip {
        title: format!("`{path}` is a section, not a number"),
        label: "which of its keys?".to_owned(),
        advice: format!("write {path}. and one of {}", names.join(", ")),
        ..Slip::default()
    }
}

fn unknown(section: &Section, path: &str, name: &str, key: &str) -> Slip {
    let full = |name: &str| if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") };
    let place = if path.is_empty() { "at the top of the file".to_owned() } else { format!("in `{path}`") };
    let is_shape =
        matches!(section.key("kind").map(|key| (key.kind, key.need)), Some((Kind::Choice([_]), Need::Required)));
    let of = if is_shape { format!(" (kind \"{}\")", section.name) } else { String::new() };
    let title = format!("unknown key `{name}` {place}{of}");
    if let Some((old, new)) = RENAMED.iter().find(|(old, new)| *old == name && section.key(new).is_some()) {
        let advice = format!("write {}", key.replacen(old, new, 1));
        return Slip { title, label: format!("now called `{}`", full(new)), advice, ..Slip::default() };
    }
    if let Some((key, _, to)) = other_unit(section, name) {
        return Slip {
            title,
            label: format!("did you mean `{}`?", full(key.name)),
            advice: format!(
                "this key is counted in {}: write {}, and its values in {}",
                to.symbol,
                full(key.name),
                to.symbol
            ),
            ..Slip::default()
        };
    }
    if let Some(near) = nearest(name, section.keys.iter().map(|key| key.name)) {
        let advice = format!("write {}", key.replacen(name, near, 1));
        return Slip { title, label: format!("did you mean `{}`?", full(near)), advice, ..Slip::default() };
    }
    let homes: Vec<String> = homes_of(name)
        .iter()
        .map(|home| match home.trim_start_matches('[').trim_end_matches(']') {
            list if home.starts_with("[[") => format!("{list}[1].{name}"),
            one => format!("{one}.{name}"),
        })
        .collect();
    if !homes.is_empty() {
        return Slip {
            title,
            label: format!("did you mean `{}`?", homes.join("` or `")),
            why: "a key is written with its section".to_owned(),
            advice: format!("write {}", homes.join(" or ")),
        };
    }
    let all: Vec<&str> = section.keys.iter().map(|key| key.name).collect();
    Slip {
        title,
        label: "not known here".to_owned(),
        advice: format!("keys here: {}", all.join(", ")),
        ..Slip::default()
    }
}

/// Which of repeated sections is meant, from 0.
fn item(full: &str, items: &[toml::Value], part: Option<Part<'_>>) -> Result<usize, Slip> {
    let names: Vec<&str> = items.iter().filter_map(|item| item.get("name")?.as_str().map(str::trim)).collect();
    match part {
        Some(Part::Label(label)) => {
            let named =
                |item: &toml::Value| item.get("name").and_then(toml::Value::as_str).map(str::trim) == Some(label);
            items.iter().position(named).ok_or_else(|| Slip {
                title: format!("no `{full}` is named \"{label}\""),
                label: did_you_mean(label, names.iter().copied()),
                advice: format!("write {full}[1], or the name of one of them: {full}['...']"),
                ..Slip::default()
            })
        }
        Some(Part::Number(_)) => entry(full, items.len(), part),
        Some(Part::Name(_)) | None => Err(Slip {
            title: format!("`{full}` is a list of sections"),
            label: "which one?".to_owned(),
            advice: match names.first() {
                Some(name) => format!("write {full}[1], or {full}['{name}'] by its name"),
                None => format!("write {full}[1] for the first"),
            },
            ..Slip::default()
        }),
    }
}

/// Which entry of a list is meant, from 0.
fn entry(full: &str, n: usize, part: Option<Part<'_>>) -> Result<usize, Slip> {
    match part {
        Some(Part::Number(i)) if (1..=n).contains(&i) => Ok(i - 1),
        Some(Part::Number(i)) => Err(Slip {
            title: format!(
                "`{full}[{i}]` is not in the file: `{full}` has {n} {}",
                if n == 1 { "entry" } else { "entries" }
            ),
            label: "no such entry".to_owned(),
            why: "entries count from 1".to_owned(),
            advice: match n {
                0 => format!("add `{full}` to the file first"),
                1 => format!("there is only {full}[1]"),
                n => format!("write {full}[1] to {full}[{n}]"),
            },
        }),
        _ => Err(Slip {
            title: format!("`{full}` is a list"),
            label: "which entry?".to_owned(),
            advice: format!("write {full}[1] for the first"),
            ..Slip::default()
        }),
    }
}

fn identity(inputs: &Inputs, plan: &SweepPlan, file: &toml::Table, files: &SideFiles) -> Json {
    let mut scenario = resolved(inputs);
    if let Json::Object(map) = &mut scenario {
        map.retain(|key, _| !matches!(key.as_str(), "name" | "note" | "prints"));
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
    json!({ "files": files.fingerprints(), "scenario": scenario, "sweep": plan_json(plan) })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::{Outline, VariedInput};
    use std::path::PathBuf;

    const TEXT: &str = include_str!("../../tests/scenarios/good/sweep.toml");

    fn folder() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios/good")
    }

    fn read(text: &str) -> SweepScenario {
        parse_sweep(text, "sweep.toml", &folder()).unwrap_or_else(|faults| panic!("{faults}"))
    }

    /// A point away from the base on every axis.
    const POINT: [f64; 9] = [45.5, 0.7, 3.0, -300.25, 60.0, 12.5, 0.25, 15.0, 0.1 + 0.2];

    #[test]
    fn values_reach_sections_lists_entries_and_sections_that_are_not_in_the_file() {
        let sweep = read(TEXT);
        let base = &sweep.scenario.inputs;
        assert_eq!((base.layers[0].flows.sheath.sccm().round(), base.layers[0].path[1].passes), (30.0, 2));
        let inputs = sweep.inputs(&POINT).expect("it is a good point");
        let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
        near(inputs.layers[0].flows.sheath.sccm(), 45.5);
        near(inputs.layers[0].path[0].speed, 0.7e-3);
        near(inputs.layers[0].path[1].speed, 4e-3);
        assert_eq!(inputs.layers[0].path[1].passes, 3);
        let Outline::Polygon(points) = &inputs.regions[0].outline else { panic!("a polygon") };
        near(points[2][1], -300.25e-6);
        near(points[2][0], 400e-6);
        near(inputs.layers[0].tube[0].bends[1], std::f64::consts::PI / 3.0);
        near(inputs.layers[0].tube[0].bends[0], std::f64::consts::PI / 2.0);
        let stand_off = inputs.spread.iter().find(|v| v.input == VariedInput::StandOff).expect("it differs");
        near(stand_off.sd, 12.5e-6);
        near(inputs.layers[0].ink.powders[1].mass_fraction, 0.0025);
        near(inputs.layers[0].ink.powders[0].mass_fraction, 0.01);
        near(inputs.acceptance.limits[0].max.expect("given"), 0.15);
        // Exactly: no digit is lost on the way through the text.
        assert_eq!(inputs.layers[0].stage.jitter, (0.1 + 0.2) * 1e-6);
        assert_eq!(inputs.seed, base.seed);
        assert!(inputs.unverified.iter().all(|u| u.key != "stage.jitter_um"));
    }

    #[test]
    fn the_shape_of_the_nozzle_can_be_varied_whether_or_not_the_file_gives_it() {
        let (file, _) = TEXT.split_once("[sweep]").expect("it has one");
        let axes = "[sweep]\nprints = 2\n[[sweep.axis]]\nkey = \"head.half_angle_deg\"\nfrom = 3\nto = 15\ncount = 5\n\
                    [[sweep.axis]]\nkey = \"head.land_um\"\nvalues = [0, 450]\n";
        let without = file.replace("half_angle_deg = 6\n", "");
        assert_ne!(without, file);
        for file in [file, &without] {
            let sweep = read(&format!("{file}{axes}"));
            let inputs = sweep.inputs(&[15.0, 450.0]).expect("it is a good point");
            let head = &inputs.layers[0].head;
            assert!((head.half_angle.to_degrees() - 15.0).abs() < 1e-9 && (head.land - 450e-6).abs() < 1e-12);
            // What is swept is not assumed.
            assert!(
                inputs.unverified.iter().all(|u| !["head.half_angle_deg", "head.land_um"].contains(&u.key.as_str()))
            );
        }
        // A land that is left out goes with the nozzle.
        let nozzles = "[sweep]\nprints = 2\n[[sweep.axis]]\nkey = \"head.nozzle_um\"\nvalues = [150, 200]\n";
        let inputs = read(&format!("{file}{nozzles}")).inputs(&[200.0]).expect("it is a good point");
        assert_eq!(inputs.layers[0].head.land, inputs.layers[0].head.nozzle);
        let land = inputs.unverified_default("head.land_um").expect("it was left out");
        assert_eq!(land.value, "200 µm");
    }

    #[test]
    fn the_plan_holds_values_in_the_units_of_the_keys() {
        let plan = read(TEXT).plan;
        assert_eq!(plan.axes[0].values, AxisValues::List(vec![20.0, 30.0, 45.5]));
        assert_eq!((plan.axes[0].key.as_str(), plan.axes[0].unit.as_str()), ("flow.sheath_sccm", "sccm"));
        assert_eq!(plan.axes[1].values, AxisValues::Log { from: 0.5, to: 8.0, count: 3 });
        assert_eq!(plan.axes[2].values, AxisValues::List(vec![1.0, 2.0, 3.0]), "whole numbers stay whole");
        assert_eq!(plan.axes[2].unit, "");
        assert_eq!(plan.axes[7].unit, "%", "a limit is in the unit of its figure");
        assert_eq!((plan.design, plan.prints), (Design::Grid, PointPrints::Fixed(20)));
        assert!((plan.wanted_share - 0.9).abs() < 1e-12);
        // Between points of a space-filling design whole numbers stay whole, too.
        let sobol =
            read(&TEXT.replace("prints = 20", "prints = 20\ndesign = \"sobol\"\npoints = 64\nmost_prints = 400"));
        assert_eq!(sobol.plan.design, Design::Sobol(64));
        assert_eq!(sobol.plan.prints, PointPrints::Adaptive { round: 20, most: 400, half_width: 0.05 });
        assert_eq!(sobol.plan.axes[2].values, AxisValues::List(vec![1.0, 2.0, 3.0]));
    }

    #[test]
    fn a_point_that_cannot_run_says_why_in_plain_words() {
        let sweep = read(TEXT);
        let with = |axis: usize, value: f64| {
            let mut point = POINT;
            point[axis] = value;
            sweep.inputs(&point).expect_err("it is a bad point")
        };
        let choked = with(0, 400.0);
        assert!(choked.starts_with("the nozzle chokes") && !choked.contains('^'), "{choked}");
        assert!(with(2, 1.5).contains("must be a whole number"), "{}", with(2, 1.5));
        assert!(with(3, 1e9).contains("region[1].points_um"), "{}", with(3, 1e9));
        assert!(with(5, f64::NAN).contains("spread.stand_off.sd_um"), "{}", with(5, f64::NAN));
        assert!(sweep.inputs(&POINT[..3]).is_err());
    }

    #[test]
    fn the_text_of_a_point_is_a_scenario_with_the_same_inputs() {
        let sweep = read(TEXT);
        let text = sweep.text_at(&POINT);
        assert!(!text.contains("[sweep"), "{text}");
        // Read from another folder.
        let alone =
            crate::scenario::parse(&text, "point.toml", Path::new("/")).unwrap_or_else(|f| panic!("{f}\n{text}"));
        let inputs = sweep.inputs(&POINT).expect("it is a good point");
        assert_eq!(format!("{:?}", alone.inputs), format!("{inputs:?}"));
        assert!(parse_sweep(&text, "point.toml", Path::new("/")).is_err(), "it is no sweep any more");
    }

    #[test]
    fn a_scenario_without_a_sweep_is_told_what_one_looks_like() {
        let text = TEXT.split("[sweep]").next().expect("the part before");
        let message = parse_sweep(text, "x.toml", &folder()).expect_err("it has none").to_string();
        let example = message.split("for example:").nth(1).expect("an example");
        let example: String =
            example.lines().take(16).map(|line| format!("{}\n", line.trim_start_matches([' ', '|']))).collect();
        let example = example.split("1 fault").next().expect("the part before");
        assert_eq!(read(&format!("{text}\n{example}")).plan.axes.len(), 2, "{example}");
    }

    #[test]
    fn the_identity_changes_with_values_and_with_nothing_else() {
        let identity = |text: &str| read(text).identity();
        let first = identity(TEXT);
        let same = TEXT
            .replace("# Axes of every form. Invented.", "# Other words.\n\n")
            .replace("name = \"sweep\"", "name   =   \"another name\"")
            .replace("note = \"invented\"", "prints = 7")
            .replace("carrier_sccm = 10", "carrier_sccm = 1.0e1")
            .replace("[map]\n", "[gas]\nkind = \"nitrogen\"\n[map]\n");
        assert_ne!(same, TEXT);
        assert_eq!(identity(&same), first);
        // Every number and every word that is a value, one after the other.
        let mut changed = 0;
        for (i, line) in TEXT.lines().enumerate().filter(|(_, line)| line.contains(" = ")) {
            for (start, _) in line.match_indices(|c: char| c.is_ascii_digit()) {
                // The first digit after the point, or a digit put behind the number.
                let end =
                    start + line[start..].find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(line.len() - start);
                let begins = !line[..start].ends_with(|c: char| c.is_ascii_digit() || c == '.');
                if !begins || line.contains("key =") {
                    continue;
                }
                let number = &line[start..end];
                let whole = ["passes", "seed", "prints", "count"].iter().any(|key| line.contains(key));
                let new = match (number.contains('.'), whole) {
                    (true, _) => format!("{number}01"),
                    (false, true) => (number.parse::<u64>().expect("whole") + 2).to_string(),
                    (false, false) => format!("{number}.001"),
                };
                let mut lines: Vec<String> = TEXT.lines().map(str::to_owned).collect();
                lines[i] = format!("{}{new}{}", &line[..start], &line[end..]);
                if let Ok(read) = parse_sweep(&lines.join("\n"), "sweep.toml", &folder()) {
                    assert_ne!(read.identity(), first, "{}", lines[i]);
                    changed += 1;
                }
            }
        }
        assert!(changed > 40, "only {changed} values were changed");
        for (old, new) in [
            ("size_weighting = \"number\"", "size_weighting = \"volume\""),
            ("scale = \"log\"", "scale = \"linear\""),
            ("stand_off = { sd_um = 25 }", "stand_off = { sd_um = 25, law = \"uniform\" }"),
            ("prints = 20", "prints = 20\nchance = \"own\""),
            ("path['first line'].speed_mm_s", "path[2].speed_mm_s"),
            ("\"alumina\"", "\"silica\""),
        ] {
            assert_ne!(identity(&TEXT.replace(old, new)), first, "{new}");
        }
    }

    #[test]
    fn keys_are_taken_apart() {
        use Part::{Label, Name, Number};
        assert_eq!(parts("a.b"), Some(vec![Name("a"), Name("b")]));
        assert_eq!(parts("a[2].b[1][3]"), Some(vec![Name("a"), Number(2), Name("b"), Number(1), Number(3)]));
        assert_eq!(parts("a[\"x. y]\"].b"), Some(vec![Name("a"), Label("x. y]"), Name("b")]));
        for bad in ["", ".", "a.", "a[", "a[]", "a[x]", "a[1", "a['x]", "a b", "a[1]b", "a..b", "[1]"] {
            assert_eq!(parts(bad), None, "{bad}");
        }
    }
}
