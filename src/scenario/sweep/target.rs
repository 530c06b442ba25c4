//! Which number of the file a key of an axis names, and why it may not be varied.

use crate::faults::{did_you_mean, nearest};
use crate::key::{COUNT, Key, Kind, Need, Number, Section, Unit};
use crate::keys::{ALTERNATIVES, PRINT_LAYER, RENAMED, root};
use crate::reader::{Collector, Reader, homes_of, number_spec, other_unit};
use motefall_physics::figure_kinds;

/// A place in the file.
pub(crate) type Place = Vec<Step>;

/// One step towards a place in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    /// Into a key of a section.
    Key(&'static str),
    /// Into an item of a list, from 0.
    Item(usize),
}

/// A number of the file that can be varied.
#[derive(Debug)]
pub(crate) struct Target {
    pub(crate) place: Place,
    /// Range as written.
    pub(crate) spec: Number,
    /// Unit in text.
    pub(crate) unit: &'static str,
    pub(crate) whole: Whole,
}

/// Which numbers a key takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Whole {
    /// Whole ones.
    Only,
    /// Any.
    Any,
}

/// Why a key cannot be varied.
#[derive(Debug, Default)]
pub(crate) struct Slip {
    pub(crate) title: String,
    pub(crate) label: String,
    pub(crate) why: String,
    pub(crate) advice: String,
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
pub(crate) fn target(file: &toml::Table, key: &str) -> Result<Target, Slip> {
    let parts = parts(key).ok_or_else(|| no_key(key))?;
    stands_in_layers(file, key, &parts)?;
    let mut parts = parts.into_iter();
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
        if section.name == root::TABLE.name && matches!(name, "sweep" | "advise" | "prints")
            || name == "required_share_percent"
        {
            return Err(no_setting(&full));
        }
        match spec.kind {
            Kind::Table(inner) => {
                if here.is_none() && NEVER_ADDED.contains(&name) {
                    return Err(no_such_section(inner, &full, key));
                }
                (section, table) = (inner, here.and_then(toml::Value::as_table));
                path = full;
            }
            Kind::Tables(_) | Kind::Shapes(_) => {
                let items = here.and_then(toml::Value::as_array).map_or(&[][..], Vec::as_slice);
                let i = item(&full, items, parts.next())?;
                table = items[i].as_table();
                section = section_of(spec.kind, table);
                path = format!("{full}[{}]", i + 1);
                place.push(Step::Item(i));
            }
            Kind::Numbers(_) | Kind::Point(_) | Kind::Points(..) => return in_list(spec, here, full, place, parts),
            Kind::Number(number) => {
                replaced(section, table, &path, name)?;
                let figure =
                    table.and_then(|t| t.get("figure")).and_then(toml::Value::as_str).and_then(figure_kinds::kind);
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
                return Err(not_a_number(spec, &full));
            }
        }
    }
}

/// A key of the path, which in a print of layers stands in one of them.
fn stands_in_layers(file: &toml::Table, key: &str, parts: &[Part<'_>]) -> Result<(), Slip> {
    let layers = file.get("layer").and_then(toml::Value::as_array).filter(|_| parts[0] == Part::Name("path"));
    let Some(first) = layers.and_then(|layers| layers.first()) else { return Ok(()) };
    let name = first.get("name").and_then(toml::Value::as_str).unwrap_or("name").trim();
    Err(Slip {
        title: format!("`{key}` is not at the top of the file: the paths stand in its layers"),
        label: "of which layer?".to_owned(),
        advice: format!("write layer[1].{key}, or layer['{name}'].{key} by the layer's name"),
        ..Slip::default()
    })
}

/// Keys of one of repeated sections.
fn section_of(kind: Kind, item: Option<&toml::Table>) -> &'static Section {
    match kind {
        Kind::Tables(inner) => inner,
        Kind::Shapes(shapes) => {
            let kind = item.and_then(|item| item.get("kind")).and_then(toml::Value::as_str);
            shapes.iter().find(|shape| Some(shape.name) == kind).unwrap_or(&shapes[0])
        }
        _ => unreachable!("it repeats"),
    }
}

/// One number of a list, a point, or a list of points.
fn in_list<'a>(
    spec: &Key,
    mut here: Option<&toml::Value>,
    mut full: String,
    mut place: Place,
    mut parts: impl Iterator<Item = Part<'a>>,
) -> Result<Target, Slip> {
    let deep = if matches!(spec.kind, Kind::Points(..)) { 2 } else { 1 };
    for _ in 0..deep {
        let items = here.and_then(toml::Value::as_array).map_or(&[][..], Vec::as_slice);
        let i = entry(&full, items.len(), parts.next())?;
        place.push(Step::Item(i));
        full = format!("{full}[{}]", i + 1);
        here = items.get(i);
    }
    let number = number_spec(spec).expect("it holds numbers");
    end(parts.next(), &full, place, number, number.unit, Whole::Any)
}

/// A key that the file leaves out because it gives its alternative.
fn replaced(section: &Section, table: Option<&toml::Table>, path: &str, name: &str) -> Result<(), Slip> {
    let gives = |key: &str| table.is_some_and(|table| table.contains_key(key));
    let other = ALTERNATIVES.iter().find(|pair| pair[0] == name).map(|pair| pair[1]);
    match other {
        Some(other) if !gives(name) && gives(other) => Err(Slip {
            title: format!("`{path}.{name}` cannot be varied: the file gives `{other}` instead"),
            label: "the other one is given".to_owned(),
            why: section.help.to_owned(),
            advice: format!("replace `{other}` by `{name}` in `[{path}]`, or vary `{path}.{other}`"),
        }),
        _ => Ok(()),
    }
}

fn no_key(key: &str) -> Slip {
    Slip {
        title: format!("\"{key}\" is not a key"),
        label: "not a key".to_owned(),
        why: "a key names sections and their keys with dots between them".to_owned(),
        advice: "write e.g. flow.sheath_sccm, path[1].speed_mm_s, path['line'].speed_mm_s or region[1].center_um[2]"
            .to_owned(),
    }
}

fn no_setting(full: &str) -> Slip {
    Slip {
        title: format!("`{full}` cannot be varied"),
        label: "not a setting of the print".to_owned(),
        why: "it says how prints are counted or judged, not how they are made".to_owned(),
        advice: "vary a setting; `sweep.prints` tells how many prints a point gets".to_owned(),
    }
}

fn no_such_section(section: &Section, full: &str, key: &str) -> Slip {
    Slip {
        title: format!("`{key}` cannot be varied: the file has no section `{full}`"),
        label: "no such section in this file".to_owned(),
        why: section.help.to_owned(),
        advice: format!("add a section `[{full}]`"),
    }
}

fn not_a_number(spec: &Key, full: &str) -> Slip {
    Slip {
        title: format!("`{full}` is not a number"),
        label: "not a number".to_owned(),
        why: format!("{}: {}", spec.name, spec.help),
        advice: "an axis varies a number; for words, run one sweep for each".to_owned(),
    }
}

/// What is wrong with a place at the top of the file that no layer makes use of.
pub(crate) fn unused(file: &toml::Table, key: &str, place: &[Step]) -> Option<Slip> {
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

/// The number that the `key` of a section names; if it is none that can be varied, that is a fault.
pub(super) fn named(section: &Reader<'_>, collector: &Collector, file: &toml::Table) -> Option<(String, Target)> {
    let key = section.text("key");
    if key.is_empty() {
        return None;
    }
    let found = target(file, &key).and_then(|target| match unused(file, &key, &target.place) {
        Some(slip) => Err(slip),
        None => Ok(target),
    });
    match found {
        Ok(target) => Some((key, target)),
        Err(slip) => {
            collector.fault(section.span("key"), slip.title, slip.label, slip.why, slip.advice);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
