//! What a further line would teach.
//!
//! About what the lines leave possible, the model of a further line is taken to be linear and all laws normal: the line then narrows the
//! unknowns by what a step of a Kalman filter does (Kalman 1960, A new approach to linear filtering and prediction problems, J. Basic Eng.
//! 82:35).

use crate::calibrate::{Asked, Prepared};
use crate::density::{LACKS, lack_on};
use crate::draws::{column, covariance, mean};
use crate::file::{There, by_name};
use crate::lines::{Line, Value};
use crate::model::{Model, at_deviates};
use motefall_figures::calibration::{Further, QUANTITIES, Quantity, What};
use motefall_figures::places;
use motefall_figures::statistics::FigureAt;
use motefall_physics::inputs::{Inputs, Limit};
use motefall_run::atlas::Atlas;
use motefall_run::expected::means_as_set;
use motefall_run::{Progress, RunError, Silent};
use motefall_scenario::{Knob, Turnable};
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

/// Relative uncertainty of a quantity that no line has: common practice, no source.
const USUAL_SD: f64 = 0.05;
/// What a balance tells a vial's loss to, relative.
const VIAL_SD: f64 = 0.03;
/// How long a vial is weighed over, s.
const VIAL_TIME: f64 = 1800.0;
/// Factors on settings of further lines.
const SETTINGS: [(&str, &str, [f64; 2]); 3] = [
    ("flow.sheath_sccm", "sheath", [0.6, 1.6]),
    ("flow.carrier_sccm", "carrier", [0.6, 1.6]),
    ("flight.stand_off_mm", "stand-off", [0.6, 1.5]),
];
/// Lines that are told.
const MOST_TOLD: usize = 5;

/// A line that might be printed.
struct Candidate {
    words: String,
    line: Line,
}

/// Lines that would narrow the unknowns, the best first.
pub(crate) fn further(
    asked: &Asked<'_>,
    model: &Model<'_>,
    prepared: &Prepared<'_>,
    draws: &[Vec<f64>],
    progress: &dyn Progress,
) -> Result<Vec<Further>, RunError> {
    let unknowns = prepared.unknowns.len();
    let now = covariance(draws, unknowns);
    let middle: Vec<f64> = (0..unknowns).map(|k| mean(&column(draws, k))).collect();
    let candidates = candidates(asked, model);
    let print = match asked.print {
        Some(print) => Some(of_print(asked, print, model.atlas(), prepared, &middle, &now, progress)?),
        None => None,
    };
    progress.begin("looking for further lines", Some(candidates.len() as u64));
    let of = |candidate: &Candidate| -> Result<Option<Further>, RunError> {
        let found = narrowed(asked, model.atlas(), candidate, prepared, (&middle, &now, print.as_ref()), progress);
        progress.advance(1);
        found
    };
    let found: Vec<Result<Option<Further>, RunError>> = candidates.par_iter().map(of).collect();
    let mut found: Vec<Further> = found.into_iter().collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect();
    let worth = |further: &Further| further.of_print.unwrap_or(further.narrows);
    found.sort_by(|a, b| worth(a).total_cmp(&worth(b)));
    found.truncate(MOST_TOLD);
    Ok(found)
}

/// Lines like one that was measured, at other settings, and the vial on the balance.
fn candidates(asked: &Asked<'_>, model: &Model<'_>) -> Vec<Candidate> {
    let mut all = vec![];
    let pattern = asked.lines.iter().rev().find(|line| line.item.is_some() && line.settings.is_empty());
    let pattern = pattern.or_else(|| asked.lines.iter().rev().find(|line| line.item.is_some()));
    if let Some(pattern) = pattern {
        let item = pattern.item.clone().unwrap_or_default();
        let values: Vec<Value> = pattern.values.iter().map(|value| usual(model, value.quantity)).collect();
        let line = |words: String, settings: Vec<(String, f64)>| Candidate {
            words,
            line: Line { settings, values: values.clone(), prints: 1, ..pattern.clone() },
        };
        all.push(line(format!("\"{item}\" once more"), pattern.settings.clone()));
        let speed = asked
            .scenario
            .scenario
            .inputs
            .items()
            .position(|own| own.name == item)
            .map(|place| format!("path[{}].speed_mm_s", place + 1));
        let speed = speed.as_deref().map(|key| (key, "speed", [0.5, 2.0]));
        for (key, name, factors) in SETTINGS.into_iter().chain(speed) {
            let own = pattern.settings.iter().find(|(own, _)| own == key).map(|(_, value)| *value);
            let Some(value) = own.or_else(|| asked.scenario.knob(key).ok().map(|knob| knob.value)) else { continue };
            for factor in factors {
                let value = format!("{:.2e}", value * factor).parse().unwrap_or(value);
                let unit = asked.scenario.knob(key).map_or("", |knob| knob.unit);
                let mut settings: Vec<(String, f64)> =
                    pattern.settings.iter().filter(|(own, _)| own != key).cloned().collect();
                settings.push((key.to_owned(), value));
                all.push(line(format!("\"{item}\" at a {name} of {value} {unit}"), settings));
            }
        }
    }
    let weighed = QUANTITIES.iter().find(|quantity| quantity.what == What::VialLoss);
    all.extend(weighed.map(|quantity| Candidate {
        words: format!("the vial weighed before and after {} minutes of mist", VIAL_TIME / 60.0),
        line: Line {
            name: String::new(),
            row: 0,
            item: None,
            region: None,
            settings: vec![],
            vial_time: Some(VIAL_TIME),
            prints: 1,
            method: None,
            is_held_out: false,
            values: vec![Value { quantity, value: 1.0, sd: VIAL_SD }],
        },
    }));
    all
}

/// A quantity with the relative uncertainty that it has on the lines.
fn usual(model: &Model<'_>, quantity: &'static Quantity) -> Value {
    let mut known: Vec<f64> =
        model.observations.iter().filter(|own| own.value.quantity == quantity).map(|own| own.sd).collect();
    known.sort_by(f64::total_cmp);
    let sd = known.get(known.len() / 2).copied().unwrap_or(USUAL_SD);
    // A value of which the uncertainty is that of what is fitted: half, of a share.
    let value = 0.5;
    Value { quantity, value, sd: sd / quantity.fitted_sd(value, 1.0) }
}

fn narrowed(
    asked: &Asked<'_>,
    atlas: &Atlas<'_>,
    candidate: &Candidate,
    prepared: &Prepared<'_>,
    (middle, now, print): (&[f64], &DMatrix<f64>, Option<&DMatrix<f64>>),
    progress: &dyn Progress,
) -> Result<Option<Further>, RunError> {
    let lines = [candidate.line.clone()];
    let model = Model::new(asked.scenario, atlas, &lines);
    let at = |place: &[f64]| model.at(&at_deviates(&prepared.unknowns, place), progress);
    let base = at(middle)?;
    let mut slopes = DMatrix::zeros(base.len(), middle.len());
    for k in 0..middle.len() {
        let place = moved(prepared, middle, now, k);
        let moved = at(&place)?;
        for (i, (before, after)) in base.iter().zip(&moved).enumerate() {
            let (Some(before), Some(after)) = (before, after) else { return Ok(None) };
            slopes[(i, k)] = (after - before) / (place[k] - middle[k]);
        }
    }
    let scatter = model.scatter(progress)?;
    let noise = model.observations.iter().zip(&scatter).map(|(own, scatter)| {
        [own.sd, scatter.shared, scatter.own, lack_on(own, LACKS)].iter().map(|sd| sd * sd).sum::<f64>()
    });
    let noise = DMatrix::from_diagonal(&DVector::from_iterator(model.observations.len(), noise));
    let Some(inverse) = (noise + &slopes * now * slopes.transpose()).try_inverse() else { return Ok(None) };
    let after = now - now * slopes.transpose() * inverse * &slopes * now;
    let factors: Vec<f64> = (0..middle.len()).map(|k| (after[(k, k)].max(0.0) / now[(k, k)]).sqrt()).collect();
    let narrows = (factors.iter().map(|factor| factor.max(1e-6).ln()).sum::<f64>() / factors.len() as f64).exp();
    let most = (0..factors.len()).min_by(|a, b| factors[*a].total_cmp(&factors[*b]));
    Ok(most.map(|k| Further {
        line: candidate.words.clone(),
        narrows,
        most: (prepared.unknowns[k].knob.key.clone(), factors[k]),
        of_print: print.and_then(|slopes| {
            let spread = |covariance: &DMatrix<f64>| (slopes * covariance * slopes.transpose()).trace().max(0.0);
            (spread(now) > 0.0).then(|| (spread(&after) / spread(now)).sqrt())
        }),
    }))
}

/// The middle of what is possible with one unknown moved by its spread, to the side where there is room.
fn moved(prepared: &Prepared<'_>, middle: &[f64], now: &DMatrix<f64>, k: usize) -> Vec<f64> {
    let mut place = middle.to_vec();
    let step = now[(k, k)].sqrt().max(0.05);
    place[k] += if place[k] + step <= prepared.unknowns[k].bounds[1] { step } else { -step };
    place
}

/// What the logarithm of each figure with a limit of a print (rows) does with each unknown (columns).
fn of_print(
    asked: &Asked<'_>,
    print: &Turnable,
    atlas: &Atlas<'_>,
    prepared: &Prepared<'_>,
    middle: &[f64],
    now: &DMatrix<f64>,
    progress: &dyn Progress,
) -> Result<DMatrix<f64>, RunError> {
    let layer = &asked.scenario.scenario.inputs.layers[0];
    let keys: Vec<String> = prepared.unknowns.iter().map(|unknown| by_name(&unknown.knob.key, layer)).collect();
    let there = |k: usize| {
        let unknown = &prepared.unknowns[k];
        There {
            key: &keys[k],
            set: unknown.knob.value,
            was_default: unknown.knob.is_unverified,
            by_factor: unknown.is_by_factor(),
        }
    };
    let knobs: Vec<Option<Knob>> = (0..middle.len()).map(|k| there(k).knob(print)).collect();
    let limits = &print.scenario.inputs.acceptance.limits;
    let at = |place: &[f64]| -> Result<Vec<Option<f64>>, RunError> {
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        let value = |k: usize, knob| there(k).value(knob, prepared.unknowns[k].value(place[k]));
        let values = knobs.iter().enumerate().filter_map(|(k, knob)| knob.as_ref().map(|knob| (knob, value(k, knob))));
        let Ok(inputs) = print.with(&values.collect::<Vec<_>>()) else { return Ok(vec![None; limits.len()]) };
        let inputs = Inputs { spread: Vec::new(), ..inputs };
        let means = means_as_set(&inputs, atlas, &Silent)?;
        let asked = places::asked(&inputs);
        let of = |limit: &Limit| {
            let same = |(kind, place): &FigureAt| kind.figure == limit.figure && *place == limit.place;
            means[asked.iter().position(same)?].filter(|mean| *mean > 0.0).map(f64::ln)
        };
        Ok(limits.iter().map(of).collect())
    };
    let base = at(middle)?;
    let mut slopes = DMatrix::zeros(limits.len(), middle.len());
    for k in (0..middle.len()).filter(|k| knobs[*k].is_some()) {
        let place = moved(prepared, middle, now, k);
        for (i, (before, after)) in base.iter().zip(at(&place)?).enumerate() {
            slopes[(i, k)] = before.zip(after).map_or(0.0, |(before, after)| (after - before) / (place[k] - middle[k]));
        }
    }
    Ok(slopes)
}
