//! What is worked out before any value is looked at: which unknowns the lines can tell, and the model at places that fill what is possible.

use crate::asked::{Asked, CalibrateError};
use crate::cheap::{Cheap, Tried, wanted_places};
use crate::density::Density;
use crate::lines::Line;
use crate::model::{Model, Observation, Scatter, at_deviates};
use crate::told::{self, Slopes};
use crate::unknowns::{self, Unknown};
use motefall_run::{Progress, RunError};
use motefall_scenario::Turnable;
use rayon::prelude::*;

/// Most unknowns that are free unless the user names them: those that the lines see best.
const MOST_FREE: usize = 6;
/// How well an unknown must be seen to be free by itself: by so many standard deviations of all values together as it moves by its spread.
const SEEN: f64 = 0.5;

/// What is worked out before any value is looked at.
pub(crate) struct Prepared<'a> {
    pub(crate) lines: &'a [Line],
    pub(crate) unknowns: Vec<Unknown>,
    pub(crate) scatter: Vec<Scatter>,
    pub(crate) before: Vec<Option<f64>>,
    pub(crate) tried: Tried,
    pub(crate) untold: Vec<String>,
    pub(crate) remarks: Vec<String>,
}

impl<'a> Prepared<'a> {
    pub(crate) fn new(asked: &Asked<'a>, model: &Model<'_>, progress: &dyn Progress) -> Result<Self, CalibrateError> {
        let lines = asked.lines;
        if lines.iter().all(|line| line.is_held_out) {
            return Err(CalibrateError::AllHeldOut);
        }
        let candidates = match asked.free {
            [] => unknowns::usual_unknowns(asked.scenario),
            free => unknowns::asked_for(asked.scenario, free).map_err(CalibrateError::Unknown)?,
        };
        progress.begin("looking at what the lines can tell", Some(candidates.len() as u64 + 2));
        let before = model.at(&[], progress)?;
        progress.advance(1);
        if let Some(k) = before.iter().position(Option::is_none) {
            return Err(CalibrateError::NoAnswer(name(lines, &model.observations[k])));
        }
        let scatter = model.scatter(progress)?;
        progress.advance(1);
        let slopes = slopes(model, &candidates, &scatter, progress)?;
        let (unknowns, slopes, mut remarks) = chosen(asked, model, candidates, slopes)?;
        match asked.free {
            [] => remarks.extend(left_as_they_are(asked.scenario)),
            _ => remarks.extend(unknowns.iter().filter_map(|unknown| unknowns::meaning(asked.scenario, unknown))),
        }
        let untold = told::untold(&slopes, &unknowns);
        let places = first_places(&unknowns, wanted_places(unknowns.len()));
        let tried = tried(model, &unknowns, places, progress)?;
        Ok(Self { lines, unknowns, scatter, before, tried, untold, remarks })
    }

    pub(crate) fn density<'b>(
        &'b self,
        observations: &'b [Observation],
        cheap: &'b Cheap,
        takes_part: &dyn Fn(usize) -> bool,
    ) -> Density<'b> {
        Density::new(&self.unknowns, observations, &self.scatter, cheap, takes_part)
    }
}

/// What is said of unverified defaults that are not free by themselves.
fn left_as_they_are(scenario: &Turnable) -> Option<String> {
    let left: Vec<String> = unknowns::left_as_they_are(scenario).iter().map(Unknown::name_and_key).collect();
    (!left.is_empty()).then(|| {
        format!(
            "Left as they are: {}. Free them with --free if they are doubtful; that takes minutes, since each value has gas jets of its own.",
            left.join(", ")
        )
    })
}

/// A value in words.
pub(crate) fn name(lines: &[Line], observation: &Observation) -> String {
    format!("{} of \"{}\"", observation.value.quantity.label, lines[observation.line].name)
}

/// What each value does as each unknown moves by its spread, in units of the value's uncertainty.
fn slopes(
    model: &Model<'_>,
    unknowns: &[Unknown],
    scatter: &[Scatter],
    progress: &dyn Progress,
) -> Result<Slopes, RunError> {
    let of = |unknown: &Unknown| -> Result<Vec<f64>, RunError> {
        let spread = unknown.spread();
        let at = |sign: f64| {
            let deviate = (sign * spread).clamp(unknown.bounds[0], unknown.bounds[1]);
            model.at(&[(unknown, unknown.value(deviate))], progress).map(|values| (deviate, values))
        };
        let ((low, below), (high, above)) = (at(-1.0)?, at(1.0)?);
        progress.advance(1);
        let value = |k: usize| {
            let Scatter { shared, own } = scatter[k];
            let uncertainty = model.observations[k].sd.hypot(shared).hypot(own);
            Some((above[k]? - below[k]?) / (high - low) * spread / uncertainty)
        };
        Ok((0..model.observations.len()).map(|k| value(k).unwrap_or(0.0)).collect())
    };
    let columns: Vec<Result<Vec<f64>, RunError>> = unknowns.par_iter().map(of).collect();
    let columns = columns.into_iter().collect::<Result<Vec<_>, _>>()?;
    Ok(Slopes::from_fn(model.observations.len(), unknowns.len(), |i, j| columns[j][i]))
}

/// The unknowns that are free, their slopes on lines that take part, and what is to be said of the others.
fn chosen(
    asked: &Asked<'_>,
    model: &Model<'_>,
    candidates: Vec<Unknown>,
    slopes: Slopes,
) -> Result<(Vec<Unknown>, Slopes, Vec<String>), CalibrateError> {
    let takes_part = |k: &usize| !asked.lines[model.observations[*k].line].is_held_out;
    let rows: Vec<usize> = (0..model.observations.len()).filter(takes_part).collect();
    let slopes = slopes.select_rows(&rows);
    let seen: Vec<f64> = (0..candidates.len()).map(|k| told::seen(&slopes, k)).collect();
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    // What is always in doubt comes first, then what is seen best.
    order.sort_by(|a, b| {
        let doubtful = |k: &usize| candidates[*k].is_always_doubtful();
        doubtful(b).cmp(&doubtful(a)).then(seen[*b].total_cmp(&seen[*a]))
    });
    let is_free = |(place, k): &(usize, usize)| !asked.free.is_empty() || (*place < MOST_FREE && seen[*k] >= SEEN);
    let (free, left): (Vec<_>, Vec<_>) = order.into_iter().enumerate().partition(is_free);
    let mut free: Vec<usize> = free.into_iter().map(|(_, k)| k).collect();
    let mut left: Vec<usize> = left.into_iter().map(|(_, k)| k).collect();
    free.sort_unstable();
    left.retain(|k| seen[*k] >= SEEN);
    if free.iter().all(|k| seen[*k] < SEEN) {
        let names: Vec<String> = candidates.iter().map(Unknown::name_and_key).collect();
        return Err(CalibrateError::NothingToLearn(names.join(", ")));
    }
    let mut remarks = vec![];
    if !left.is_empty() {
        let names: Vec<String> = left.iter().map(|k| candidates[*k].name_and_key()).collect();
        remarks.push(format!(
            "The lines also see {}. At most {MOST_FREE} unknowns are free unless you name them with --free.",
            names.join(", ")
        ));
    }
    let slopes = slopes.select_columns(&free);
    Ok((free.iter().map(|k| candidates[*k].clone()).collect(), slopes, remarks))
}

/// Places that fill what is thought possible evenly.
fn first_places(unknowns: &[Unknown], count: usize) -> Vec<Vec<f64>> {
    let at = |k: usize, (j, unknown): (usize, &Unknown)| {
        unknown.at_share(f64::from(sobol_burley::sample(k as u32, j as u32, 7)).clamp(1e-4, 1.0 - 1e-4))
    };
    (0..count).map(|k| unknowns.iter().enumerate().map(|unknown| at(k, unknown)).collect()).collect()
}

/// The model at places.
pub(crate) fn tried(
    model: &Model<'_>,
    unknowns: &[Unknown],
    places: Vec<Vec<f64>>,
    progress: &dyn Progress,
) -> Result<Tried, RunError> {
    progress.begin("working the lines out at many values of the unknowns", Some(places.len() as u64));
    let at = |place: &Vec<f64>| {
        let values = model.at(&at_deviates(unknowns, place), progress);
        progress.advance(1);
        values
    };
    let values: Vec<Result<Vec<Option<f64>>, RunError>> = places.par_iter().map(at).collect();
    Ok(Tried { values: values.into_iter().collect::<Result<_, _>>()?, places })
}
