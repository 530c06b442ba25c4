//! Scenarios with what a calibration taught put in: one that the file names, or one given in its place.

use motefall_calibrate::file::{CalibrationFile, DRAWS};
use motefall_files::whole_file::folder_of;
use motefall_physics::inputs::PointPrints;
use motefall_physics::jet::store::FieldStore;
use motefall_run::sweep::point::Shared;
use motefall_run::sweep::{Case, Sweep};
use motefall_scenario::{self as scenario, Calibrated, Faults, Knob, Scenario, Turnable};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Reads a scenario; a calibration that it names is put in.
pub fn load(file: &Path) -> Result<Scenario, Faults> {
    load_calibrated(file, None)
}

/// Reads a scenario and puts a calibration in: the given one, or else the one that it names.
pub fn load_calibrated(file: &Path, given: Option<&Path>) -> Result<Scenario, Faults> {
    let scenario = scenario::load(file)?;
    let Some(named) = Named::of(file, scenario.inputs.calibration.as_deref(), given)? else { return Ok(scenario) };
    named.applied(&scenario::load_turnable(file)?, DRAWS).map_err(|reason| named.fault(&reason, file))
}

/// Reads a scenario whose numbers can be turned; a calibration, the given one or else the one that it names, gives those that are learnt.
pub fn load_turnable(file: &Path, given: Option<&Path>) -> Result<Turnable, Faults> {
    let turnable = scenario::load_turnable(file)?;
    let Some(named) = Named::of(file, turnable.scenario.inputs.calibration.as_deref(), given)? else {
        return Ok(turnable);
    };
    named.file.central(&turnable).map_err(|reason| named.fault(&reason, file))
}

/// Reads a scenario with its sweep; a calibration that it names is taken.
pub fn load_sweep(file: &Path) -> Result<SweepScenario, Faults> {
    load_sweep_calibrated(file, None)
}

/// Reads a scenario with its sweep, and a calibration: the given one, or else the one that it names.
pub fn load_sweep_calibrated(file: &Path, given: Option<&Path>) -> Result<SweepScenario, Faults> {
    let written = scenario::load_sweep(file)?;
    let calibration = Named::of(file, written.scenario.inputs.calibration.as_deref(), given)?;
    Ok(SweepScenario { written, calibration })
}

/// A scenario with its sweep, and with what a calibration taught.
#[derive(Debug)]
pub struct SweepScenario {
    /// The scenario and the sweep as they are written.
    pub written: scenario::SweepScenario,
    calibration: Option<Named>,
}

impl SweepScenario {
    /// What its points share.
    pub fn shared<'a>(&self, jets: &'a FieldStore) -> Shared<'a> {
        match self.calibration {
            Some(_) => Shared::for_possible(jets),
            None => Shared::new(jets),
        }
    }

    /// What is swept.
    pub(crate) fn swept(&self) -> Sweep<'_> {
        Sweep {
            nominal: &self.written.scenario.inputs,
            plan: &self.written.plan,
            identity: self.identity(),
            case: Box::new(|values| match &self.calibration {
                Some(named) => {
                    let (PointPrints::Fixed(most) | PointPrints::Adaptive { most, .. }) = self.written.plan.prints;
                    named.case(&self.written.turnable(values)?, most)
                }
                None => self.written.inputs(values).map(Case::from),
            }),
        }
    }

    /// What decides the results.
    fn identity(&self) -> Value {
        let mut identity = self.written.identity();
        add_calibration(&mut identity, self.calibration.as_ref());
        identity
    }
}

/// Reads a scenario to try other values of its numbers, and a calibration: the given one, or else the one that it names.
pub fn load_trial(file: &Path, given: Option<&Path>) -> Result<Trial, Faults> {
    let written = scenario::load_turnable(file)?;
    let calibration = Named::of(file, written.scenario.inputs.calibration.as_deref(), given)?;
    Ok(Trial { written, calibration })
}

/// A scenario of which other values are tried, with what a calibration taught.
#[derive(Debug)]
pub struct Trial {
    /// The scenario as it is written.
    pub written: Turnable,
    calibration: Option<Named>,
}

impl Trial {
    /// The scenario with other values of some of its numbers, each in its unit, read again with every check; otherwise why not.
    pub fn scenario(&self, values: &[(&Knob, f64)]) -> Result<Scenario, String> {
        match &self.calibration {
            Some(named) => named.applied(&self.written.put(values)?, DRAWS),
            None => self.written.scenario_with(values),
        }
    }

    /// The same, to be turned further; what a calibration teaches is at its middle.
    pub fn turnable(&self, values: &[(&Knob, f64)]) -> Result<Turnable, String> {
        let turnable = self.written.put(values)?;
        match &self.calibration {
            Some(named) => named.file.central(&turnable),
            None => Ok(turnable),
        }
    }

    /// The calibration as the user calls it.
    pub fn calibration(&self) -> Option<&Path> {
        self.calibration.as_ref().map(|named| named.name.as_path())
    }
}

/// Adds a calibration to what decides a result.
pub(crate) fn add_calibration(identity: &mut Value, calibration: Option<&Named>) {
    if let (Some(named), Value::Object(map)) = (calibration, identity) {
        map.insert("calibration".into(), json!({ "created": named.file.created(), "crc32": named.file.crc32() }));
    }
}

/// A calibration and how the user calls it.
#[derive(Debug)]
pub(crate) struct Named {
    pub(crate) file: CalibrationFile,
    pub(crate) name: PathBuf,
}

impl Named {
    /// The given one, or else the one that a scenario names, which stands beside it.
    pub(crate) fn of(scenario: &Path, named: Option<&str>, given: Option<&Path>) -> Result<Option<Self>, Faults> {
        let beside = || match folder_of(scenario) {
            here if here == Path::new(".") => named.map(PathBuf::from),
            folder => named.map(|named| folder.join(named)),
        };
        let Some(name) = given.map(Path::to_owned).or_else(beside) else { return Ok(None) };
        let advice = match given {
            Some(_) => "name another with --calibration, or leave that out",
            None => "write another name under `calibration`, or remove that line",
        };
        let file =
            CalibrationFile::load(&name).map_err(|reason| Faults::beside(reason, advice.to_owned(), scenario))?;
        Ok(Some(Self { file, name }))
    }

    fn fault(&self, reason: &str, scenario: &Path) -> Faults {
        let title = format!("{} does not go with {}: {reason}", self.name.display(), scenario.display());
        Faults::beside(title, "calibrate with lines that are printed as this print is".to_owned(), scenario)
    }

    pub(crate) fn applied(&self, turnable: &Turnable, draws: usize) -> Result<Scenario, String> {
        self.file.applied(turnable, &self.name.display().to_string(), draws)
    }

    /// What is printed, with so many possible inputs at most.
    pub(crate) fn case(&self, turnable: &Turnable, draws: u32) -> Result<Case, String> {
        let scenario = self.applied(turnable, DRAWS.min(draws as usize))?;
        let Some(Calibrated { possible, used }) = scenario.calibrated else { return Ok(scenario.inputs.into()) };
        Ok(Case { inputs: scenario.inputs, possible, used: Some(used) })
    }
}
