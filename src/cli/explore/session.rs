//! The scenario that is explored, and what is known of it.

use super::jobs::Jobs;
use super::refusal::Refusal;
use super::work::{Pages, Printed};
use motefall::{Atlas, FieldStore, Prediction, Scenario, Trial, Turnable};
use motefall_files::whole_file::folder_of;
use motefall_scenario::{Dial, Knob};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// Numbers of a scenario that differ from the file, by key, each in its unit.
pub(super) type Values = BTreeMap<String, f64>;

/// A print that was made for its pictures: setting, number, print.
pub(super) type Shown = Option<(String, u32, Arc<Prediction>)>;

/// What all questions share.
pub(super) struct Session {
    /// The scenario's file.
    pub(super) file: PathBuf,
    /// Calibration that was given beside the file.
    pub(super) given: Option<PathBuf>,
    pub(super) trial: Trial,
    /// Everything of it that can be turned.
    pub(super) dials: Vec<Dial>,
    pub(super) jets: &'static FieldStore,
    /// Landing tables as prints take them, and for a quick look.
    pub(super) atlas: Atlas<'static>,
    pub(super) quick: Atlas<'static>,
    pub(super) pages: Pages,
    pub(super) printed: Printed,
    pub(super) shown: Mutex<Shown>,
    pub(super) sheets: Mutex<Vec<String>>,
    pub(super) jobs: Jobs,
}

impl Session {
    pub(super) fn new(file: &Path, given: Option<PathBuf>, trial: Trial, jets: &'static FieldStore) -> Self {
        let atlas = match trial.calibration() {
            Some(_) => Atlas::for_like_droplets(jets),
            None => Atlas::new(jets),
        };
        Self {
            file: file.to_owned(),
            given,
            dials: trial.written.dials(),
            trial,
            jets,
            quick: atlas.for_a_look(),
            atlas,
            pages: Pages::default(),
            printed: Printed::default(),
            shown: Mutex::default(),
            sheets: Mutex::default(),
            jobs: Jobs::found(file),
        }
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

/// A setting as a text, the same for the same numbers.
pub(super) fn named(values: &Values) -> String {
    serde_json::to_string(values).unwrap_or_default()
}
