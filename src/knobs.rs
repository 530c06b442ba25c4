//! Which setting to turn: what figures do when a number of the scenario is a little larger.

use motefall_figures::knobs::{Effect, Knobs};
use motefall_physics::inputs::Inputs;
use motefall_physics::jet::store::FieldStore;
use motefall_run::atlas::Atlas;
use motefall_run::expected::{expected_in, means_as_set};
use motefall_run::{Progress, RunError, Stoppable};
use motefall_scenario::{Knob, Turnable};
use rayon::prelude::*;

/// Part of its value by which a number is turned to each side; of one whose 0 means nothing, part of this many units, if it has no more.
const TURN: f64 = 0.02;
const LEAST_TURNED: f64 = 10.0;
/// Part of its value by which more of a number is told, and how much of one that is 0 now.
const MORE: f64 = 0.1;

/// Turns every number by which a print is set a little to both sides, all others as they are, and sees what the expected figures do. What
/// differs between prints is left out.
pub fn turn(scenario: &Turnable, jets: &FieldStore, progress: &dyn Progress) -> Result<Knobs, RunError> {
    turned(scenario, &scenario.every_knob(), &Atlas::new(jets), progress)
}

/// The same as [`turn`] of the usual numbers alone, with landing tables that are at hand.
pub fn turn_in(scenario: &Turnable, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Knobs, RunError> {
    turned(scenario, &scenario.knobs, atlas, progress)
}

fn turned(scenario: &Turnable, knobs: &[Knob], atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Knobs, RunError> {
    progress.begin("turning one setting after the other", Some(knobs.len() as u64 + 1));
    let inputs = plain(&scenario.scenario.inputs);
    let expected = expected_in(&inputs, atlas, &Stoppable(progress))?;
    let means = means_as_set(&inputs, atlas, &Stoppable(progress))?;
    progress.advance(1);
    let effect_of = |knob: &Knob| {
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        let effect = effect(scenario, &means, knob, atlas, progress);
        // What was stopped looks like a side where the scenario does not hold.
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        progress.advance(1);
        Ok(effect)
    };
    let effects: Result<Vec<Option<Effect>>, RunError> = knobs.par_iter().map(effect_of).collect();
    let effects = effects?.into_iter().flatten().collect();
    Ok(Knobs { expected, effects })
}

/// By how much a number is turned to each side, and by how much more of it is told, in its unit.
fn steps(knob: &Knob) -> [f64; 2] {
    let [step, more] = if knob.is_whole {
        [1.0, 1.0]
    } else if !knob.has_zero() {
        [TURN * knob.value.abs().max(LEAST_TURNED), 1.0]
    } else if knob.value > 0.0 {
        [TURN * knob.value, MORE * knob.value]
    } else {
        [TURN * knob.range[1].min(1.0), MORE]
    };
    // Of what can be no more, less is told.
    [step, if knob.value + more > knob.range[1] { -more } else { more }]
}

/// What a number does; `None` if the scenario holds at no other value.
fn effect(
    scenario: &Turnable,
    means: &[Option<f64>],
    knob: &Knob,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Option<Effect> {
    let [step, more] = steps(knob);
    // A side where the scenario does not hold, or no jet is steady, is left out.
    let side = |sign: f64| {
        let value = (knob.value + sign * step).clamp(knob.range[0], knob.range[1]);
        let inputs = scenario.turned(knob, value).ok().filter(|_| value != knob.value)?;
        Some((value, means_as_set(&plain(&inputs), atlas, &Stoppable(progress)).ok()?))
    };
    let (below, above) = (side(-1.0), side(1.0));
    if below.is_none() && above.is_none() {
        return None;
    }
    let as_set = || (knob.value, means.to_vec());
    let ((low, below), (high, above)) = (below.unwrap_or_else(as_set), above.unwrap_or_else(as_set));
    let has_parts = knob.has_zero() && low > 0.0;
    let power = |(a, b): (&Option<f64>, &Option<f64>)| {
        let (a, b) = (a.filter(|a| *a > 0.0)?, b.filter(|b| *b > 0.0)?);
        has_parts.then(|| (b / a).ln() / (high / low).ln())
    };
    let slope = |(a, b): (&Option<f64>, &Option<f64>)| Some(((*b)? - (*a)?) / (high - low));
    Some(Effect {
        key: knob.key.clone(),
        unit: knob.unit,
        value: knob.value,
        is_unverified: knob.is_unverified,
        powers: below.iter().zip(&above).map(power).collect(),
        slopes: below.iter().zip(&above).map(slope).collect(),
        more,
    })
}

/// Inputs without what differs between prints.
fn plain(inputs: &Inputs) -> Inputs {
    Inputs { spread: Vec::new(), ..inputs.clone() }
}
