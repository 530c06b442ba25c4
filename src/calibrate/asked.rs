//! What is asked for, and why nothing may be learnt.

use crate::lines::Line;
use motefall_run::RunError;
use motefall_scenario::Turnable;

/// What is asked for.
#[derive(Debug)]
pub struct Asked<'a> {
    /// The scenario that the lines were printed by.
    pub scenario: &'a Turnable,
    /// What was measured.
    pub lines: &'a [Line],
    /// What is free, as keys or `KEY=LOW..HIGH`; empty: what nobody has measured and the lines can tell.
    pub free: &'a [String],
    /// The print that all this is for: further lines are ranked by what they would tell of its figures with a limit.
    pub print: Option<&'a Turnable>,
}

/// Why nothing was learnt.
#[derive(Debug, thiserror::Error)]
pub enum CalibrateError {
    /// The run failed or was stopped.
    #[error(transparent)]
    Run(#[from] RunError),
    /// An unknown that was asked for.
    #[error("{0}")]
    Unknown(String),
    /// Every line is held out.
    #[error("every line is held out for judging; leave `held_out` empty for those to learn from")]
    AllHeldOut,
    /// No unknown is seen.
    #[error("these lines tell nothing of what is free: {0}")]
    NothingToLearn(String),
    /// No value has an answer of the model.
    #[error("the model gives nothing for {0}; look at the item, the region and the settings of its row")]
    NoAnswer(String),
    /// Nothing that was thought possible goes with the lines.
    #[error("nothing that was thought possible fits these lines. {0}")]
    NothingFits(String),
}
