//! Values put into a parsed file, and the file as text again.

use super::target::Step;
use crate::faults::Faults;
use crate::key::Kind;
use crate::keys::root;
use std::path::Path;

/// Numbers may be written as whole ones; whole ones must.
pub(super) fn number(value: f64) -> toml::Value {
    let is_whole = value.fract() == 0.0 && value.abs() < 1e15;
    if is_whole { (value as i64).into() } else { value.into() }
}

pub(super) fn put(value: &mut toml::Value, place: &[Step], new: toml::Value) {
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
pub(super) fn written(file: &toml::Table) -> String {
    let sections = root::TABLE.keys.iter().filter_map(|key| {
        let part = toml::Table::from_iter([(key.name.to_owned(), file.get(key.name)?.clone())]);
        let gap = if matches!(key.kind, Kind::Table(_) | Kind::Tables(_) | Kind::Shapes(_)) { "\n" } else { "" };
        Some(format!("{gap}{}", toml::to_string(&part).expect("a part of a parsed file can be written")))
    });
    sections.collect()
}

/// Why a point cannot run, in a line or two.
pub(super) fn reasons(faults: &Faults) -> String {
    let shown: Vec<&str> = faults.list.iter().take(2).map(|fault| fault.title.as_str()).collect();
    match faults.list.len() {
        n @ 3.. => format!("{}\n{} (and {} more)", shown[0], shown[1], n - 2),
        _ => shown.join("\n"),
    }
}

/// The text of a file that will stand in another folder than the files that it names.
pub(super) fn text_elsewhere(mut file: toml::Table, base_dir: &Path) -> String {
    full_paths(&mut file, base_dir);
    make_full(&mut file, "calibration", base_dir);
    let layers = file.get_mut("layer").and_then(toml::Value::as_array_mut);
    let layers = layers.into_iter().flatten().filter_map(toml::Value::as_table_mut);
    layers.for_each(|layer| full_paths(layer, base_dir));
    written(&file)
}

/// Gives the full path of each size table that an ink names.
fn full_paths(part: &mut toml::Table, base_dir: &Path) {
    let powders = part.get_mut("ink").and_then(|ink| ink.get_mut("powder")).and_then(toml::Value::as_array_mut);
    powders
        .into_iter()
        .flatten()
        .filter_map(toml::Value::as_table_mut)
        .for_each(|powder| make_full(powder, "size_csv", base_dir));
    for list in ["path", "region"] {
        let items = part.get_mut(list).and_then(toml::Value::as_array_mut);
        let items = items.into_iter().flatten().filter_map(toml::Value::as_table_mut);
        items.for_each(|item| make_full(item, "file", base_dir));
    }
}

fn make_full(item: &mut toml::Table, key: &str, base_dir: &Path) {
    if let Some(toml::Value::String(file)) = item.get_mut(key)
        && let Ok(full) = std::path::absolute(base_dir.join(file.as_str()))
    {
        *file = full.display().to_string();
    }
}
