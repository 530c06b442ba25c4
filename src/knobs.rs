//! Which setting to turn: what figures do when a number of the scenario is a little larger.

use motefall_figures::expected::Expected;
use motefall_physics::inputs::Inputs;
use motefall_physics::jet::store::FieldStore;
use motefall_run::atlas::Atlas;
use motefall_run::expected::expected_in;
use motefall_run::{Progress, RunError, Silent};
use motefall_scenario::{Knob, Turnable};

/// Part of its value by which a number is turned to each side.
const TURN: f64 = 0.02;

/// What figures do when numbers of a scenario are turned.
#[derive(Debug)]
pub struct Turned {
    /// Figures as the scenario is, without what differs between prints.
    pub expected: Expected,
    /// Numbers, and the power of them that each figure follows here, in the order of the figures: with 1 % more of a number a figure of the
    /// power 2 grows by 2 %. `None` where only prints tell, or there is nothing.
    pub effects: Vec<(Knob, Vec<Option<f64>>)>,
}

/// Turns each number of a scenario a little to both sides, all others as they are, and sees what the expected figures do. What differs
/// between prints is left out.
pub fn turn(scenario: &Turnable, jets: &FieldStore, progress: &dyn Progress) -> Result<Turned, RunError> {
    let atlas = Atlas::new(jets);
    let plain = |inputs: &Inputs| Inputs { spread: Vec::new(), ..inputs.clone() };
    progress.begin("turning one setting after the other", Some(scenario.knobs.len() as u64 + 1));
    let expected = expected_in(&plain(&scenario.scenario.inputs), &atlas, &Silent)?;
    progress.advance(1);
    let mut effects = Vec::new();
    for knob in &scenario.knobs {
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        // A side where the scenario does not hold, or no jet is steady, is left out.
        let side = |sign: f64| {
            let value = (knob.value * (1.0 + sign * TURN)).clamp(knob.range[0], knob.range[1]);
            let inputs = scenario.turned(knob, value).ok().filter(|_| value != knob.value)?;
            let figures = expected_in(&plain(&inputs), &atlas, &Silent).ok()?.figures;
            Some((value, figures.into_iter().map(|row| row.value.map(|value| value.mean)).collect::<Vec<_>>()))
        };
        let as_set = || (knob.value, expected.figures.iter().map(|row| row.value.as_ref().map(|v| v.mean)).collect());
        let (below, above) = (side(-1.0), side(1.0));
        if below.is_some() || above.is_some() {
            let ((low, below), (high, above)) = (below.unwrap_or_else(as_set), above.unwrap_or_else(as_set));
            let power = |(a, b): (&Option<f64>, &Option<f64>)| {
                let (a, b) = (a.filter(|a| *a > 0.0)?, b.filter(|b| *b > 0.0)?);
                Some((b / a).ln() / (high / low).ln())
            };
            effects.push((knob.clone(), below.iter().zip(&above).map(power).collect()));
        }
        progress.advance(1);
    }
    Ok(Turned { expected, effects })
}
