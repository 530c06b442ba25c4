//! Advice: which setting to use, from a scenario file to the answer.

use crate::calibrated::{Named, add_calibration};
use crate::test_plan::{self, BENCHES};
use motefall_calibrate::possible::usual_benches;
use motefall_figures::advice::{Advice, Change};
use motefall_physics::jet::store::FieldStore;
use motefall_run::advise::{AdviseError, Asked, Effort, passing};
use motefall_run::atlas::Atlas;
use motefall_run::cautions::{calibration, remarks};
use motefall_run::expected::expected_in;
use motefall_run::sweep::Case;
use motefall_run::{Progress, Silent};
use motefall_scenario::{self as scenario, Faults, Knob, Turnable};
use std::path::Path;

/// What is tried by itself where nothing passes, and by which factors: nozzle, ink, mist.
const CHANGES: [(&str, [f64; 2]); 3] = [
    ("head.nozzle_um", [0.67, 1.5]),
    ("ink.powder[1].mass_percent", [0.5, 2.0]),
    ("atomiser.mist_load_ul_per_l", [0.5, 2.0]),
];

/// Reads a scenario and which settings of it may be changed, and a calibration: the given one, or else the one that it names.
pub fn load_advise(file: &Path, given: Option<&Path>) -> Result<AdviseScenario, Faults> {
    let written = scenario::load_advise(file)?;
    let calibration = Named::of(file, written.turnable.scenario.inputs.calibration.as_deref(), given)?;
    Ok(AdviseScenario { written, calibration })
}

/// A scenario whose best setting is asked for, with what a calibration taught.
#[derive(Debug)]
pub struct AdviseScenario {
    /// The scenario and what may be changed.
    pub written: scenario::AdviseScenario,
    calibration: Option<Named>,
}

impl AdviseScenario {
    /// Works out which setting to use. What was tried is remembered in `folder`, if there is one, so that an advice that was stopped goes on.
    pub fn advise(
        &self,
        effort: Effort,
        jets: &FieldStore,
        folder: Option<&Path>,
        progress: &dyn Progress,
    ) -> Result<Advice, AdviseError> {
        let turnable = &self.written.turnable;
        let knobs = self.written.knobs();
        let atlas = Atlas::for_like_droplets(jets);
        let mut advice = motefall_run::advise::advise(&self.asked(turnable, effort), &atlas, folder, progress)?;
        if let Some(blocked) = &mut advice.blocked {
            blocked.changes = self.changes(&atlas, progress)?;
        }
        if let Some(first) = advice.choices.first() {
            let values: Vec<(&Knob, f64)> = knobs.iter().zip(first.candidate.values.iter().copied()).collect();
            let chip = turnable.put(&values).map_err(AdviseError::Today)?;
            let as_set = |scenario: &Turnable| match &self.calibration {
                Some(named) => named.applied(scenario, 0),
                None => Ok(scenario.scenario.clone()),
            };
            let setting = as_set(&chip).map_err(AdviseError::Today)?;
            advice.cautions = expected_in(&setting.inputs, &atlas, &Silent)?.cautions;
            let used = setting.calibrated.iter().flat_map(|calibrated| calibration(&calibrated.used, &[]));
            advice.cautions.extend(used.chain(remarks(&setting.notes)));
            let benches = match &self.calibration {
                Some(named) => named.file.benches(&chip, BENCHES, chip.scenario.inputs.seed),
                None => usual_benches(&chip, BENCHES, chip.scenario.inputs.seed),
            };
            advice.plan = test_plan::plan(&advice, &chip, &benches, &as_set, &atlas, progress)?;
        }
        Ok(advice)
    }

    /// The question, of the scenario or of it with something changed.
    fn asked<'a>(&'a self, turnable: &'a Turnable, effort: Effort) -> Asked<'a> {
        let knobs = self.written.knobs();
        let case = move |values: &[f64], draws: u32| {
            let values: Vec<(&Knob, f64)> = knobs.iter().zip(values.iter().copied()).collect();
            match &self.calibration {
                Some(named) => named.case(&turnable.put(&values)?, draws),
                None => turnable.with(&values).map(Case::from),
            }
        };
        let mut identity = self.written.identity();
        add_calibration(&mut identity, self.calibration.as_ref());
        let (inputs, freed) = (&turnable.scenario.inputs, &self.written.freed[..]);
        Asked { effort, inputs, freed, identity, case: Box::new(case) }
    }

    /// Which change of nozzle, ink or mist by itself lets a setting pass.
    fn changes(&self, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Vec<Change>, AdviseError> {
        let turnable = &self.written.turnable;
        let is_free = |key: &str| self.written.freed.iter().any(|freed| freed.key == key);
        let tried: Vec<(Knob, f64)> = CHANGES
            .iter()
            .filter(|(key, _)| !is_free(key))
            .filter_map(|(key, factors)| Some((turnable.knob(key).ok()?, factors)))
            .flat_map(|(knob, factors)| factors.map(|factor| (knob.clone(), tidy(knob.value * factor))))
            .collect();
        progress.begin("whether another nozzle, ink or mist would help", Some(tried.len() as u64));
        let mut changes = vec![];
        for (knob, to) in tried {
            if progress.cancelled() {
                return Err(motefall_run::RunError::Cancelled.into());
            }
            if let Ok(changed) = turnable.put(&[(&knob, to)])
                && let Some(candidate) = passing(&self.asked(&changed, Effort::GLANCE), atlas, &Silent)?
            {
                let Knob { key, unit, value, .. } = knob;
                changes.push(Change { key, unit: unit.to_owned(), from: value, to, candidate });
            }
            progress.advance(1);
        }
        Ok(changes)
    }

    /// The scenario at a setting as a text that can be predicted alone; comments are not kept.
    pub fn text_at(&self, values: &[f64]) -> String {
        let knobs = self.written.knobs();
        let values: Vec<(&Knob, f64)> = knobs.iter().zip(values.iter().copied()).collect();
        let calibration = self.calibration.as_ref().map(|named| named.name.as_path());
        let text = self.written.turnable.text_with(&values, calibration);
        let settings: String = self
            .written
            .freed
            .iter()
            .zip(&values)
            .map(|(freed, (_, value))| format!("# {} = {value}\n", freed.key))
            .collect();
        format!("# Recommended by `motefall advise`:\n{settings}\n{text}")
    }
}

/// Two digits.
fn tidy(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}
