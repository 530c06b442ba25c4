//! The scenario that is explored, and other values of its numbers.

use super::answer::Refusal;
use motefall::{FieldStore, Scenario, Trial, Turnable};
use motefall_files::whole_file::{self, folder_of};
use motefall_scenario::{Dial, Knob};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Numbers of a scenario that differ from the file, by key, each in its unit.
pub(super) type Values = BTreeMap<String, f64>;

/// A setting as a text, the same for the same numbers.
pub(super) fn named(values: &Values) -> String {
    serde_json::to_string(values).unwrap_or_default()
}

/// The scenario.
pub(super) struct Subject {
    /// Its file.
    pub(super) file: PathBuf,
    /// Calibration that was given beside the file.
    pub(super) given: Option<PathBuf>,
    pub(super) trial: Trial,
    /// Everything of it that can be turned.
    pub(super) dials: Vec<Dial>,
    /// Where solved jets are kept.
    pub(super) jets: &'static FieldStore,
}

impl Subject {
    pub(super) fn new(file: &Path, given: Option<PathBuf>, trial: Trial, jets: &'static FieldStore) -> Self {
        Self { file: file.to_owned(), given, dials: trial.written.dials(), trial, jets }
    }

    /// The folder of the scenario: the only one that is written to.
    pub(super) fn folder(&self) -> &Path {
        folder_of(&self.file)
    }

    /// The name of a number by its key, with what it is of.
    pub(super) fn label(&self, key: &str) -> String {
        match self.dials.iter().find(|dial| dial.knob.key == key) {
            Some(Dial { label, of, .. }) if of.is_empty() => label.clone(),
            Some(Dial { label, of, .. }) => format!("{label}, {of}"),
            None => key.to_owned(),
        }
    }

    /// The scenario with other numbers.
    pub(super) fn scenario(&self, values: &Values) -> Result<Scenario, Refusal> {
        self.with(values, |values| self.trial.scenario(values))
    }

    /// The same, to be turned further.
    pub(super) fn turnable(&self, values: &Values) -> Result<Turnable, Refusal> {
        self.with(values, |values| self.trial.turnable(values))
    }

    /// Something of the scenario with other numbers.
    pub(super) fn with<T>(
        &self,
        values: &Values,
        make: impl FnOnce(&[(&Knob, f64)]) -> Result<T, String>,
    ) -> Result<T, Refusal> {
        let knob = |(key, value): (&String, &f64)| match value.is_finite() {
            true => self.trial.written.knob(key).map(|knob| (knob, *value)).map_err(Refusal::Setting),
            false => Err(Refusal::Setting(format!("`{key}` is not a number"))),
        };
        let knobs: Vec<(Knob, f64)> = values.iter().map(knob).collect::<Result<_, _>>()?;
        let values: Vec<(&Knob, f64)> = knobs.iter().map(|(knob, value)| (knob, *value)).collect();
        make(&values).map_err(Refusal::Setting)
    }
}

/// Writes a new file.
pub(super) fn put_new(place: &Path, text: &str) -> Result<(), Refusal> {
    whole_file::create(place, &[text.as_bytes()]).map_err(|error| match error {
        whole_file::WriteError::Exists { .. } => {
            Refusal::Taken(format!("{} is there already; choose another name", shown_name(place)))
        }
        error => Refusal::Failed(error.to_string()),
    })
}

/// The name of a file without its folder.
pub(super) fn shown_name(place: &Path) -> String {
    place.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
