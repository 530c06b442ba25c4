//! Every number of a scenario that can be turned, in the order of a droplet's way, for people who try settings.

use super::knobs::{KEYS, Knob, Turnable};
use crate::key::{Key, Kind, Section};
use crate::keys::root;
use motefall_physics::figure_kinds;
use serde_json::Value as Json;

/// A part of a droplet's way, and the sections of a file that belong to it.
pub struct Station {
    /// Short name.
    pub id: &'static str,
    /// What it is called.
    pub title: &'static str,
    sections: &'static [&'static str],
    /// Whether the print is set there; else it is given there, or judged by it.
    is_set: bool,
}

const fn station(id: &'static str, title: &'static str, sections: &'static [&'static str]) -> Station {
    Station { id, title, sections, is_set: true }
}

const fn given(id: &'static str, title: &'static str, sections: &'static [&'static str]) -> Station {
    Station { id, title, sections, is_set: false }
}

/// The stations in the order of the way; behind them the chip, and what the print is judged by.
pub const STATIONS: [Station; 10] = [
    station("ink", "Ink", &["ink"]),
    station("mist", "Mist", &["atomiser", "output"]),
    station("tube", "Tube", &["tube"]),
    station("head", "Head and gas", &["flow", "head", "gas"]),
    station("jet", "Jet and landing", &["flight", "landing"]),
    station("stage", "Stage and shutter", &["stage"]),
    station("path", "Path", &["path"]),
    given("chip", "Chip, beam and cell", &["chip", "region", "map", "beam", "cell"]),
    given("spread", "From print to print", &["spread"]),
    given("limits", "Limits", &["acceptance"]),
];

/// Settings that are shown at once, besides those that a bench has or does not know of itself.
const ALSO_USUAL: [&str; 3] = ["path[].passes", "path[].spacing_um", "landing.chip_c"];
/// Names in words where those of the keys do not say enough: section, key without its unit, name.
const NAMES: [(&str, &str, &str); 13] = [
    ("gas", "temperature", "gas temperature"),
    ("gas", "pressure", "gas pressure"),
    ("gas", "flow_reference", "reference temperature of the flows"),
    ("head", "temperature", "head temperature"),
    ("head", "half_angle", "half angle of the cone"),
    ("landing", "chip", "chip temperature"),
    ("solvent", "mass", "share of the liquid"),
    ("powder", "mass", "share of the ink"),
    ("sizes", "median", "median size"),
    ("sizes", "gsd", "geometric SD of sizes"),
    ("atomiser", "droplet_gsd", "geometric SD of droplets"),
    ("limit", "min", "at least"),
    ("limit", "max", "at most"),
];

/// Most dials of a file.
const MOST: usize = 500;
/// Times by which a slider goes to each side of a value.
const REACH: f64 = 4.0;
/// Shortest way of a slider that goes to both sides of a place, in the unit of the key.
const LEAST_WAY: f64 = 20.0;
/// Steps along a slider, about.
const STEPS: f64 = 200.0;

/// A number that can be turned, with what a person needs to turn it.
#[derive(Debug, Clone)]
pub struct Dial {
    /// The number.
    pub knob: Knob,
    /// [`Station::id`] of where it belongs.
    pub station: &'static str,
    /// Its name in words.
    pub label: String,
    /// What it is of: a layer, a powder, an item of the path; empty if there is one only.
    pub of: String,
    /// What it means.
    pub help: &'static str,
    /// From where to where a slider goes.
    pub slider: [f64; 2],
    /// Step of the slider.
    pub step: f64,
    /// Whether the file gives it.
    pub is_given: bool,
    /// Whether it is among those that are turned most.
    pub is_usual: bool,
}

/// A number found in the file or among the defaults.
struct Found {
    key: String,
    spec: &'static Key,
    coordinate: Option<usize>,
    of: Vec<String>,
    is_given: bool,
}

/// Numbers of a path that make whole strokes more or less.
const OF_STROKES: [&str; 2] = ["spacing_um", "size_um"];

impl Turnable {
    /// Every number by which a print is set: what the file gives, what a bench does not know of itself, and [`Turnable::knobs`]. In a print of
    /// layers what all have from the top of the file is turned in each layer, if it is one of these, and for all otherwise. Not what makes
    /// whole strokes more or less.
    pub fn every_knob(&self) -> Vec<Knob> {
        let is_known = |dial: &Dial| self.knobs.iter().any(|knob| knob.key == dial.knob.key);
        let is_layered = self.file().contains_key("layer");
        let is_set = |dial: &Dial| {
            let plain = without_numbers(&dial.knob.key);
            let in_layer = plain.strip_prefix("layer[].").unwrap_or(&plain);
            let is_of_layers = is_layered && KEYS.contains(&in_layer);
            let makes_strokes = dial.station == "path" && OF_STROKES.iter().any(|name| plain.contains(name));
            STATIONS.iter().any(|station| station.is_set && station.id == dial.station)
                && !makes_strokes
                && !is_of_layers
                && (dial.is_given || dial.knob.is_unverified)
        };
        let dials = self.dials().into_iter();
        if is_layered {
            let more = dials.filter(|dial| is_set(dial) && !is_known(dial)).map(|dial| dial.knob);
            return self.knobs.iter().cloned().chain(more).collect();
        }
        dials.filter(|dial| is_set(dial) || is_known(dial)).map(|dial| dial.knob).collect()
    }

    /// All numbers that can be turned, in the order of the stations.
    pub fn dials(&self) -> Vec<Dial> {
        let mut found = vec![];
        let file = toml::Value::Table(self.file().clone());
        walk(&root::TABLE, "", Some(self.resolved()), Some(&file), &[], &mut found);
        let mut dials: Vec<Dial> = found.into_iter().filter_map(|found| self.dial(found)).collect();
        let place = |dial: &Dial| STATIONS.iter().position(|station| station.id == dial.station);
        dials.sort_by_key(place);
        dials
    }

    fn dial(&self, found: Found) -> Option<Dial> {
        let plain = without_numbers(&found.key);
        let in_layer = plain.strip_prefix("layer[].").unwrap_or(&plain);
        let section = in_layer.split(['.', '[']).next()?;
        let station = STATIONS.iter().find(|station| station.sections.contains(&section))?;
        let knob = self.knob(&found.key).ok()?;
        let slider = slider(&knob);
        let is_usual = KEYS.contains(&in_layer) || ALSO_USUAL.contains(&in_layer);
        // A layer has much from the top of the file, where it is turned for all layers.
        let is_usual = is_usual && (in_layer == plain || found.is_given);
        Some(Dial {
            station: station.id,
            label: label(&found),
            of: found.of.join(", "),
            help: found.spec.help,
            step: if knob.is_whole { 1.0 } else { tidy_step((slider[1] - slider[0]) / STEPS) },
            slider,
            is_given: found.is_given,
            is_usual,
            knob,
        })
    }
}

/// From where to where a slider goes: around the value, within what the key allows.
fn slider(knob: &Knob) -> [f64; 2] {
    let [least, most] = knob.range;
    let value = knob.value;
    let is_one_sided = least >= 0.0 || knob.key.starts_with("acceptance.");
    let [low, high] = if value > 0.0 && is_one_sided {
        [value / REACH, value * REACH]
    } else {
        let way = (2.0 * value.abs()).max(LEAST_WAY);
        [value - way, value + way]
    };
    let [low, high] = if knob.is_whole { [low.floor().max(1.0), high.ceil().max(8.0)] } else { [low, high] };
    [two_digits(low).clamp(least, most), two_digits(high).clamp(least, most)]
        .map(|end| if end == 0.0 { 0.0 } else { end })
}

fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// The power of ten, or 2 or 5 times that, next below.
fn tidy_step(step: f64) -> f64 {
    let power = 10f64.powf(step.max(1e-12).log10().floor());
    let times = [5.0, 2.0, 1.0].into_iter().find(|times| times * power <= step * (1.0 + 1e-9)).unwrap_or(1.0);
    two_digits(times * power)
}

/// A key without the numbers of list items.
fn without_numbers(key: &str) -> String {
    let mut plain = String::new();
    let mut inside = false;
    for c in key.chars() {
        inside = inside && c != ']';
        if !inside {
            plain.push(c);
        }
        inside = inside || c == '[';
    }
    plain
}

/// A key's name in words, without its unit.
fn label(found: &Found) -> String {
    let name = found.spec.name;
    let unit = match found.spec.kind {
        Kind::Number(number) | Kind::Point(number) => number.unit.suffix,
        _ => "",
    };
    let plain = name.strip_suffix(unit).filter(|_| !unit.is_empty()).map_or(name, |name| name.trim_end_matches('_'));
    let plain = if plain.is_empty() { name } else { plain };
    let key = without_numbers(&found.key);
    let parent = key.rsplit('.').nth(1).unwrap_or_default().trim_end_matches("[]");
    if key.starts_with("spread.") {
        // A standard deviation needs to say of what.
        return format!("{}, {plain}", parent.replace('_', " "));
    }
    let named = NAMES.iter().find(|(section, key, _)| (*section, *key) == (parent, plain)).map(|(.., name)| *name);
    let words = named.map_or_else(|| plain.replace('_', " ").replace("center", "centre"), str::to_owned);
    format!("{words}{}", found.coordinate.map_or("", |at| [" x", " y"][at]))
}

fn walk(
    section: &'static Section,
    path: &str,
    resolved: Option<&Json>,
    file: Option<&toml::Value>,
    of: &[String],
    found: &mut Vec<Found>,
) {
    for key in section.keys {
        if found.len() >= MOST {
            return;
        }
        let full = if path.is_empty() { key.name.to_owned() } else { format!("{path}.{}", key.name) };
        let resolved = resolved.and_then(|all| all.get(key.name)).filter(|value| !value.is_null());
        let file = file.and_then(|all| all.get(key.name));
        if resolved.is_none() && file.is_none() {
            continue;
        }
        let mut add = |key_text: String, coordinate| {
            found.push(Found { key: key_text, spec: key, coordinate, of: of.to_vec(), is_given: file.is_some() });
        };
        match key.kind {
            Kind::Number(_) | Kind::Integer(..) => add(full, None),
            Kind::Point(_) => (0..2).for_each(|k| add(format!("{full}[{}]", k + 1), Some(k))),
            Kind::Table(inner) => walk(inner, &full, resolved, file, of, found),
            Kind::Tables(_) | Kind::Shapes(_) => items(key, &full, resolved, file, of, found),
            _ => (),
        }
    }
}

/// Each item of a list of sections, in the file or resolved.
fn items(
    key: &'static Key,
    full: &str,
    resolved: Option<&Json>,
    file: Option<&toml::Value>,
    of: &[String],
    found: &mut Vec<Found>,
) {
    let resolved = resolved.and_then(Json::as_array).map_or(&[][..], Vec::as_slice);
    let file = file.and_then(toml::Value::as_array).map_or(&[][..], Vec::as_slice);
    let count = resolved.len().max(file.len());
    for k in 0..count {
        let (resolved, file) = (resolved.get(k), file.get(k));
        let word = |name: &str| {
            let in_file = file.and_then(|item| item.get(name)).and_then(toml::Value::as_str);
            in_file.or_else(|| resolved.and_then(|item| item.get(name)).and_then(Json::as_str))
        };
        let inner = match key.kind {
            Kind::Tables(inner) => Some(inner),
            Kind::Shapes(shapes) => shapes.iter().find(|shape| word("kind") == Some(shape.name)),
            _ => None,
        };
        let Some(inner) = inner else { continue };
        let name = match (word("name"), word("figure")) {
            (Some(name), _) => name.trim().to_owned(),
            (None, Some(figure)) => {
                let figure = figure_kinds::kind(figure).map_or(figure, |kind| kind.label);
                [Some(figure), word("place")].into_iter().flatten().collect::<Vec<_>>().join(", ")
            }
            (None, None) if count == 1 => String::new(),
            (None, None) => format!("{} {}", key.name, k + 1),
        };
        let of: Vec<String> = of.iter().cloned().chain((!name.is_empty()).then_some(name)).collect();
        walk(inner, &format!("{full}[{}]", k + 1), resolved, file, &of, found);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::shipped;
    use super::*;

    #[test]
    fn every_dial_can_be_turned_to_both_ends_of_its_slider() {
        for name in ["sodium-chip.toml", "first-line.toml", "two-electrode-cell.toml"] {
            let scenario = shipped(name);
            let dials = scenario.dials();
            assert!(dials.len() > 60, "{name}: {}", dials.len());
            for dial in &dials {
                let ([low, high], [least, most], value) = (dial.slider, dial.knob.range, dial.knob.value);
                assert!(least <= low && low <= value && value <= high && high <= most, "{name}: {dial:?}");
                assert!(dial.step > 0.0 && !dial.label.is_empty() && !dial.help.is_empty(), "{name}: {dial:?}");
            }
            let same = scenario.scenario_with(&[]).expect("it is as it was");
            assert_eq!(format!("{:?}", same.inputs), format!("{:?}", scenario.scenario.inputs));
        }
    }

    #[test]
    fn every_knob_is_a_number_by_which_a_print_is_set() {
        for name in ["sodium-chip.toml", "two-electrode-cell.toml"] {
            let scenario = shipped(name);
            let every: Vec<String> = scenario.every_knob().into_iter().map(|knob| knob.key).collect();
            assert!(scenario.knobs.iter().all(|knob| every.contains(&knob.key)), "{name}: {every:?}");
            let mut once = every.clone();
            once.sort();
            once.dedup();
            assert_eq!(once.len(), every.len(), "{name}: {every:?}");
            assert!(every.iter().any(|key| key == "tube[1].length_mm"), "{name}: {every:?}");
            let no_setting = |key: &String| {
                ["region", "acceptance", "spread", "map", "chip"].iter().any(|section| key.starts_with(section))
                    || key.contains("spacing")
            };
            assert!(!every.iter().any(no_setting), "{name}: {every:?}");
        }
    }

    #[test]
    fn dials_say_what_they_are_of_and_where_they_belong() {
        let dials = shipped("sodium-chip.toml").dials();
        let find = |key: &str| dials.iter().find(|dial| dial.knob.key == key).unwrap_or_else(|| panic!("{key}"));
        let told = |key: &str| {
            let dial = find(key);
            (dial.station, dial.label.clone(), dial.of.clone(), dial.is_given, dial.is_usual)
        };
        let words = |label: &str, of: &str| (label.to_owned(), of.to_owned());
        let expect = |station, label, of, given, usual| {
            let (label, of) = words(label, of);
            (station, label, of, given, usual)
        };
        assert_eq!(told("flow.sheath_sccm"), expect("head", "sheath", "", true, true));
        assert_eq!(told("ink.powder[2].mass_percent"), expect("ink", "share of the ink", "carbon black", true, true));
        assert_eq!(told("path[1].passes"), expect("path", "passes", "electrode fill", true, true));
        assert_eq!(told("region[2].center_um[2]"), expect("chip", "centre y", "target", true, false));
        assert_eq!(told("acceptance.limit[1].min"), expect("limits", "at least", "coverage, target", true, false));
        assert_eq!(told("ink.powder[1].sizes[1].gsd").0, "ink");
        assert!(told("spread.output.sd_percent").1.starts_with("output, "));
        let order: Vec<usize> =
            dials.iter().filter_map(|dial| STATIONS.iter().position(|s| s.id == dial.station)).collect();
        assert!(order.is_sorted());
    }
}
