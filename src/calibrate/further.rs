//! What a further line would teach.
//!
//! About what the lines leave possible, the model of a further line is taken to be linear and all laws normal: the line then narrows the
//! unknowns by what a step of a Kalman filter does (Kalman 1960, A new approach to linear filtering and prediction problems, J. Basic Eng.
//! 82:35).

use crate::asked::Asked;
use crate::density::{LACKS, lack_on};
use crate::draws::{column, covariance, mean};
use crate::file::{There, by_name};
use crate::lines::{Line, Value};
use crate::model::{Model, at_deviates};
use crate::prepared::Prepared;
use motefall_figures::calibration::{Further, QUANTITIES, Quantity, RankedBy, WORTH_PRINTING, What};
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
/// Factors on the speed.
const SPEEDS: [f64; 2] = [0.5, 2.0];
/// Relative difference of a setting within which two lines are printed alike.
const ALIKE: f64 = 0.05;
/// Lines that are told.
const MOST_TOLD: usize = 5;

/// A line that might be printed.
#[derive(Clone)]
struct Candidate {
    words: String,
    line: Line,
}

/// What lines are ranked by, and those that are worth printing, the best first.
pub(crate) fn further(
    asked: &Asked<'_>,
    model: &Model<'_>,
    prepared: &Prepared<'_>,
    draws: &[Vec<f64>],
    progress: &dyn Progress,
) -> Result<(RankedBy, Vec<Further>), RunError> {
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
    let by = match found.iter().any(|further| further.of_print.is_some()) {
        true => RankedBy::Print,
        false => RankedBy::Unknowns,
    };
    found.retain(|further| further.gain(by) >= WORTH_PRINTING);
    found.sort_by(|a, b| b.gain(by).total_cmp(&a.gain(by)));
    found.truncate(MOST_TOLD);
    Ok((by, found))
}

/// Lines like one that was measured, at settings at which none was, and the vial on the balance.
fn candidates(asked: &Asked<'_>, model: &Model<'_>) -> Vec<Candidate> {
    let printed = || asked.lines.iter().rev().filter(|line| line.item.is_some());
    let pattern = printed().find(|line| line.settings.is_empty()).or_else(|| printed().next());
    let lines = pattern.map_or(vec![], |pattern| lines_like(asked, model, pattern));
    lines.into_iter().chain(vial(asked)).collect()
}

/// The pattern once more, and at other settings.
fn lines_like(asked: &Asked<'_>, model: &Model<'_>, pattern: &Line) -> Vec<Candidate> {
    let item = pattern.item.clone().unwrap_or_default();
    let values: Vec<Value> = pattern.values.iter().map(|value| usual(model, value.quantity)).collect();
    let line = |words: String, settings: Vec<(String, f64)>| Candidate {
        words,
        line: Line { settings, values: values.clone(), prints: 1, ..pattern.clone() },
    };
    let mut all = vec![line(format!("\"{}\" once more", pattern.name), pattern.settings.clone())];
    let speed = speed_key(asked.scenario, &item);
    let speed = speed.as_deref().map(|key| (key, "speed", SPEEDS));
    for (key, name, factors) in SETTINGS.into_iter().chain(speed) {
        let Ok(knob) = asked.scenario.knob(key) else { continue };
        let own = setting(asked.scenario, pattern, key);
        for value in factors.map(|factor| own.map_or(f64::NAN, |own| rounded(own * factor))) {
            let mut settings: Vec<(String, f64)> =
                pattern.settings.iter().filter(|(own, _)| own != key).cloned().collect();
            settings.push((key.to_owned(), value));
            let words = format!("as \"{}\", but with a {name} of {value} {}", pattern.name, knob.unit);
            all.push(line(words, settings));
        }
    }
    let is_printed = |own: &Candidate| asked.lines.iter().any(|other| are_alike(asked.scenario, &own.line, other));
    let (repeat, others) = all.split_at(1);
    repeat.iter().chain(others.iter().filter(|own| !is_printed(own))).cloned().collect()
}

/// Three digits.
fn rounded(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// The key of an item's speed.
fn speed_key(scenario: &Turnable, item: &str) -> Option<String> {
    let place = scenario.scenario.inputs.items().position(|own| own.name == item)?;
    Some(format!("path[{}].speed_mm_s", place + 1))
}

/// What a line was printed with: its own value, or that of the scenario.
fn setting(scenario: &Turnable, line: &Line, key: &str) -> Option<f64> {
    let own = line.settings.iter().find(|(own, _)| own == key).map(|(_, value)| *value);
    own.or_else(|| scenario.knob(key).ok().map(|knob| knob.value))
}

/// Whether two lines are printed alike, by whichever items of the path: at about the same speed, flows, stand-off and other settings.
fn are_alike(scenario: &Turnable, a: &Line, b: &Line) -> bool {
    let lines = [a, b];
    let near = |values: [Option<f64>; 2]| match values {
        [Some(a), Some(b)] => (a - b).abs() <= ALIKE * a.abs().max(b.abs()),
        _ => false,
    };
    let speed = |line: &Line| {
        let key = speed_key(scenario, line.item.as_deref()?)?;
        setting(scenario, line, &key)
    };
    let mut keys = lines.into_iter().flat_map(|line| line.settings.iter().map(|(key, _)| key.as_str()));
    near(lines.map(speed))
        && keys.all(|key| key.ends_with(".speed_mm_s") || near(lines.map(|line| setting(scenario, line, key))))
}

/// The vial on the balance.
fn vial(asked: &Asked<'_>) -> Option<Candidate> {
    let quantity = QUANTITIES.iter().find(|quantity| quantity.what == What::VialLoss)?;
    let again = if asked.lines.iter().any(Line::is_vial) { " once more" } else { "" };
    Some(Candidate {
        words: format!("the vial weighed before and after {} minutes of mist{again}", VIAL_TIME / 60.0),
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
    })
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
        most: (prepared.unknowns[k].name.clone(), factors[k]),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::parse;
    use crate::testing::first_line;

    /// The item at 4 mm/s with half its speed is the item at 2 mm/s; 64 sccm is no other line than 65.
    #[test]
    fn a_line_that_was_printed_is_not_asked_for() {
        let scenario = first_line();
        let text = "name,item,flow.sheath_sccm,path[4].speed_mm_s,edge_width_um,edge_width_sd_um\n\
                    a,2 mm/s,,,50,1\nb,4 mm/s,65,,40,1\nc,4 mm/s,,2,50,1\nd,4 mm/s,,,40,1\n";
        let lines = parse(text, "lines.csv", &scenario).unwrap_or_else(|faults| panic!("{faults}")).lines;
        let alike = |a: usize, b: usize| are_alike(&scenario, &lines[a], &lines[b]);
        assert!(alike(0, 2) && alike(0, 0));
        assert!(!alike(0, 1) && !alike(1, 3) && !alike(2, 3));
        let asked = Asked { scenario: &scenario, lines: &lines, free: &[], print: None };
        let store = motefall_physics::jet::store::FieldStore::in_folder(std::env::temp_dir());
        let atlas = Atlas::for_like_droplets(&store);
        let model = Model::new(&scenario, &atlas, &lines);
        let words: Vec<String> = candidates(&asked, &model).into_iter().map(|candidate| candidate.words).collect();
        assert!(words.contains(&"\"d\" once more".into()), "{words:?}");
        assert!(words.contains(&"as \"d\", but with a sheath of 24 sccm".into()), "{words:?}");
        assert!(words.contains(&"as \"d\", but with a speed of 8 mm/s".into()), "{words:?}");
        assert!(
            words.iter().all(|words| !words.contains("64 sccm") && !words.contains("speed of 2 mm/s")),
            "{words:?}"
        );
    }
}
