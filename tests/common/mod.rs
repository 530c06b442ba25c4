//! Inputs for tests and benches: a scenario's text with values replaced, read through the same reader as a user's file.

#![allow(dead_code, reason = "each test binary and bench uses a part of this")]

use motefall_figures::{FigureRow, Prediction};
use motefall_physics::inputs::Inputs;
use motefall_physics::jet::store::FieldStore;
use motefall_run::setting::Setting;
use motefall_run::{self as run, Silent};
use motefall_scenario as scenario;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use toml::{Table, Value};

/// A scenario in the making.
#[derive(Debug, Clone)]
pub(crate) struct Case(Table);

impl Case {
    /// From the text of a scenario.
    pub(crate) fn from_text(text: &str) -> Self {
        Self(text.parse().unwrap_or_else(|error| panic!("{error}")))
    }

    /// One of the shipped scenarios, by its name without ending.
    pub(crate) fn shipped(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name).with_extension("toml");
        let mut case = Self::from_text(&std::fs::read_to_string(path).expect("a shipped scenario"));
        // Drawings lie beside the scenario.
        for list in ["region", "path", "layer"] {
            each_file(case.0.get_mut(list), &|file| *file = format!("scenarios/{file}"));
        }
        case
    }

    /// Sets a value by its place, such as `head.nozzle_um` or `path.0.speed_mm_s`; sections that are missing are made. A key that the
    /// reader does not know makes [`Self::inputs`] fail.
    #[must_use]
    pub(crate) fn set(mut self, place: &str, value: impl Into<Value>) -> Self {
        *self.slot(place) = value.into();
        self
    }

    /// Removes a key or a section.
    #[must_use]
    pub(crate) fn without(mut self, place: &str) -> Self {
        let removed = match place.rsplit_once('.') {
            Some((parent, key)) => self.slot(parent).as_table_mut().expect("a section").remove(key),
            None => self.0.remove(place),
        };
        assert!(removed.is_some(), "there is no {place} to remove");
        self
    }

    fn slot(&mut self, place: &str) -> &mut Value {
        let mut parts = place.split('.');
        let first = parts.next().expect("a place has a first part");
        let empty = || Value::Table(Table::new());
        parts.fold(self.0.entry(first).or_insert_with(empty), |value, part| match value {
            Value::Table(table) => table.entry(part).or_insert_with(empty),
            Value::Array(list) => {
                let index: usize = part.parse().unwrap_or_else(|_| panic!("{place}: {part} is no index"));
                list.get_mut(index).unwrap_or_else(|| panic!("{place}: there is no item {index}"))
            }
            _ => panic!("{place}: nothing can lie inside a value"),
        })
    }

    /// The inputs, as a user's file would give them.
    pub(crate) fn inputs(&self) -> Inputs {
        let text = toml::to_string(&self.0).expect("a table can be written");
        let read = scenario::parse(&text, "case.toml", Path::new(env!("CARGO_MANIFEST_DIR")));
        read.unwrap_or_else(|faults| panic!("{faults}")).inputs
    }

    /// The prediction.
    pub(crate) fn predict(&self) -> Prediction {
        run::predict(&self.inputs(), &jets(), &Silent).unwrap_or_else(|error| panic!("{error}"))
    }
}

/// Calls `change` for every `file` within a value.
fn each_file(value: Option<&mut Value>, change: &dyn Fn(&mut String)) {
    match value {
        Some(Value::Array(list)) => list.iter_mut().for_each(|item| each_file(Some(item), change)),
        Some(Value::Table(table)) => {
            for (key, value) in table.iter_mut() {
                match value {
                    Value::String(file) if key == "file" => change(file),
                    other => each_file(Some(other), change),
                }
            }
        }
        _ => {}
    }
}

/// A section of a scenario.
pub(crate) fn section(text: &str) -> Table {
    text.parse().unwrap_or_else(|error| panic!("{error}"))
}

/// What all prints of these inputs share.
pub(crate) fn setting(inputs: &Inputs) -> Setting<'_> {
    Setting::new(inputs, &jets(), &Silent).unwrap_or_else(|error| panic!("{error}"))
}

/// Jets solved once per process: the folder is emptied at first use, so no solution of an older program is met.
pub(crate) fn jets() -> FieldStore {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = std::env::temp_dir().join(format!("motefall-jets-of-{}", env!("CARGO_CRATE_NAME")));
        let _ = std::fs::remove_dir_all(&folder);
        folder
    });
    FieldStore::in_folder(folder.clone())
}

/// A figure's row by its identifier and place.
pub(crate) fn figure<'a>(prediction: &'a Prediction, id: &str, place: Option<&str>) -> &'a FigureRow {
    let row = prediction.figures.iter().find(|row| row.kind.id == id && row.place.as_deref() == place);
    row.unwrap_or_else(|| panic!("there is no figure {id} at {place:?}"))
}

/// Mean of a figure over the prints, SI.
pub(crate) fn mean(prediction: &Prediction, id: &str, place: Option<&str>) -> f64 {
    let row = figure(prediction, id, place);
    row.estimate.unwrap_or_else(|| panic!("{id} at {place:?} was not measured: {:?}", row.note)).mean
}

/// Standard error of that mean, SI.
pub(crate) fn error(prediction: &Prediction, id: &str, place: Option<&str>) -> f64 {
    let estimate = figure(prediction, id, place).estimate.expect("measured");
    estimate.sd.expect("several prints") / f64::from(estimate.n).sqrt()
}
