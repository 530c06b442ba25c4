//! Keys that the table does not have, and what may have been meant.

use super::numbers::{number_of, number_spec, tidy};
use super::section::{Reader, Value};
use crate::faults::nearest;
use crate::key::{Key, Kind, Section, UNITS, Unit, show_number};
use crate::keys::{PRINT_LAYER, RENAMED, root};

impl Reader<'_> {
    pub(super) fn report_unknown_keys(&self) {
        let Some(table) = self.table else { return };
        let is_shape = self
            .spec
            .key("kind")
            .is_some_and(|key| matches!(key.kind, Kind::Choice([word]) if *word == self.spec.name));
        for (written, value) in table {
            let name: &str = written.get_ref();
            if self.spec.key(name).is_some() || self.collector.is_full() {
                continue;
            }
            let place =
                if self.path.is_empty() { "at the top of the file".to_owned() } else { format!("in `{}`", self.path) };
            let of = if is_shape { format!(" (kind \"{}\")", self.spec.name) } else { String::new() };
            let (label, advice) = self.suggest(name, value);
            self.collector.fault(written.span(), format!("unknown key `{name}` {place}{of}"), label, "", advice);
        }
    }

    /// Whether an unknown key was clearly meant to be this one.
    pub(super) fn is_misspelt(&self, key: &Key) -> bool {
        let tables = self.table.into_iter().chain(self.below.as_ref().map(|(_, table)| *table));
        let unknown = tables
            .flatten()
            .map(|(written, _)| written.get_ref().as_ref())
            .filter(|name| self.spec.key(name).is_none())
            .take(100);
        unknown.into_iter().any(|name: &str| match other_unit(self.spec, name) {
            Some((meant, ..)) => meant.name == key.name,
            None => nearest(name, self.spec.keys.iter().map(|k| k.name)) == Some(key.name),
        })
    }

    /// What an unknown key may have been meant to be.
    fn suggest(&self, name: &str, value: &Value<'_>) -> (String, String) {
        if let Some((_, new)) = RENAMED.iter().find(|(old, new)| *old == name && self.spec.key(new).is_some()) {
            return (format!("now called `{new}`"), format!("write `{new}` instead of `{name}`"));
        }
        if let Some((key, from, to)) = other_unit(self.spec, name) {
            let label = format!("did you mean `{}`?", key.name);
            // A number that the key cannot take in its own unit may have been meant in that unit.
            let takes = |v: f64| number_spec(key).is_none_or(|spec| (spec.least..=spec.most).contains(&v));
            let written = match number_of(value.get_ref()).map(|v| (v, tidy(to.of_si(from.to_si(v))))) {
                Some((v, turned)) if !takes(turned) && takes(v) => format!("write `{} = {}`", key.name, show_number(v)),
                Some((_, turned)) => format!("write `{} = {}`", key.name, show_number(turned)),
                None => format!("write `{} = ...`", key.name),
            };
            return (label, format!("this key is counted in {}: {written}", to.symbol));
        }
        let keys = || self.spec.keys.iter().map(|key| key.name);
        if let Some(near) = nearest(name, keys()) {
            return (format!("did you mean `{near}`?"), format!("rename it to `{near}`, or remove it"));
        }
        let homes = homes_of(name);
        if !homes.is_empty() {
            return (
                format!("belongs in {}", homes.join(" or ")),
                "move it there, below that section's header".to_owned(),
            );
        }
        let all: Vec<&str> = keys().collect();
        ("not known here".to_owned(), format!("keys here: {}", all.join(", ")))
    }
}

/// A key of the section that has the same stem as `name` and another unit: the key, the unit of `name`, its own unit.
pub(crate) fn other_unit(section: &Section, name: &str) -> Option<(&'static Key, Unit, Unit)> {
    section.keys.iter().find_map(|key| {
        let to = number_spec(key)?.unit;
        let stem = key.name.strip_suffix(to.suffix)?.trim_end_matches('_');
        let rest = name.strip_prefix(stem)?.trim_start_matches('_');
        let from = UNITS.iter().find(|unit| unit.kind == to.kind && unit.suffix == rest && **unit != to)?;
        Some((key, *from, to))
    })
}

/// Sections elsewhere in the file that have a key of this name.
pub(crate) fn homes_of(name: &str) -> Vec<String> {
    fn search(section: &'static Section, path: &str, name: &str, found: &mut Vec<String>) {
        for key in section.keys {
            let inner_path = if path.is_empty() { key.name.to_owned() } else { format!("{path}.{}", key.name) };
            match key.kind {
                Kind::Table(inner) => {
                    if inner.key(name).is_some() {
                        found.push(format!("[{inner_path}]"));
                    }
                    search(inner, &inner_path, name, found);
                }
                // What a layer holds stands at the top of the file, too.
                Kind::Tables(inner) if inner.name == PRINT_LAYER.name => {}
                Kind::Tables(inner) => {
                    if inner.key(name).is_some() {
                        found.push(format!("[[{inner_path}]]"));
                    }
                    search(inner, &inner_path, name, found);
                }
                _ => {}
            }
        }
    }
    let mut found = Vec::new();
    search(&root::TABLE, "", name, &mut found);
    if found.len() > 3 { Vec::new() } else { found }
}
