//! What stands in the way where nothing passes.

use super::desk::Chance;
use super::outlook::Outlook;
use super::search::Search;
use super::{AdviseError, Values};
use motefall_figures::advice::{Blocked, Relaxation};
use motefall_physics::inputs::Limit;
use statrs::distribution::{ContinuousCDF, Normal};

/// Relaxations that are told.
const MOST_TOLD: usize = 3;
/// Rounds in which a smaller relaxation is looked for, and the box of the first.
const ROUNDS: i32 = 5;
const BOX: f64 = 0.15;
/// A relaxation is tried with so much more each time, until fresh prints pass.
const MORE: [f64; 4] = [0.0, 0.05, 0.12, 0.25];

/// Which limits conflict, and the smallest relaxation of each that opens a window.
pub(super) fn blocked(search: &mut Search<'_>) -> Result<Blocked, AdviseError> {
    search.desk.begin("what stands in the way", None);
    let limits = search.judge.limits();
    let needed = Normal::standard().inverse_cdf(search.judge.required().min(0.999));
    let outlooks = search.outlooks()?;
    let meets = |outlook: &Outlook, k: usize| outlook.deviates[k].is_none_or(|z| z >= needed);
    let never: Vec<usize> = (0..limits.len()).filter(|k| !outlooks.iter().any(|o| meets(o, *k))).collect();
    let mut conflicts = vec![];
    for a in 0..limits.len() {
        for b in a + 1..limits.len() {
            let each = [a, b].iter().all(|k| !never.contains(k));
            if each && !outlooks.iter().any(|o| meets(o, a) && meets(o, b)) {
                conflicts.push([a, b]);
            }
        }
    }
    let mut relaxations = vec![];
    for k in 0..limits.len() {
        relaxations.extend(relaxation(search, k)?);
    }
    let size = |relaxation: &Relaxation| {
        let limit = &limits[relaxation.limit];
        let from = if relaxation.is_max { limit.max } else { limit.min }.unwrap_or(relaxation.to);
        ((relaxation.to + f64::MIN_POSITIVE) / (from + f64::MIN_POSITIVE)).ln().abs()
    };
    relaxations.sort_by(|a, b| size(a).total_cmp(&size(b)));
    relaxations.truncate(MOST_TOLD);
    Ok(Blocked { conflicts, never, relaxations, changes: vec![] })
}

/// The smallest relaxation of a limit alone that opens a window; `None` if none does: another limit is missed all the same.
fn relaxation(search: &mut Search<'_>, k: usize) -> Result<Option<Relaxation>, AdviseError> {
    let limit = search.judge.limits()[k].clone();
    if limit.figure.kind().is_share_of_prints() {
        return Ok(None);
    }
    let Some(mut best) = nearest(search, &search.outlooks()?, k)? else { return Ok(None) };
    for round in 0..ROUNDS {
        let near = search.around(&best.values, BOX * 0.6_f64.powi(round), round);
        search.look(&near)?;
        let mut outlooks = vec![search.outlook(&best.values)?];
        for values in &near {
            outlooks.push(search.outlook(values)?);
        }
        if let Some(found) = nearest(search, &outlooks, k)? {
            best = found;
        }
    }
    let Nearest { values, to, is_max } = best;
    let prints = search.desk.prints(&[(values.clone(), Chance::Fresh, search.asked.effort.fresh)])?;
    for more in MORE {
        let to = if is_max { to * (1.0 + more) } else { to * (1.0 - more) };
        let to = tidy(to, is_max);
        let moved =
            if is_max { Limit { max: Some(to), ..limit.clone() } } else { Limit { min: Some(to), ..limit.clone() } };
        let candidate = search.candidate_with(&values, &prints[0], k, moved)?;
        if search.judge.passes(&candidate) {
            return Ok(Some(Relaxation { limit: k, to, is_max, candidate }));
        }
    }
    Ok(None)
}

/// A setting that passes once an end of a limit is moved.
struct Nearest {
    values: Values,
    to: f64,
    is_max: bool,
}

/// Of settings that meet all other limits, the one that needs the least of this one, and where its end has to be for it.
fn nearest(search: &Search<'_>, outlooks: &[Outlook], k: usize) -> Result<Option<Nearest>, AdviseError> {
    let required = search.judge.required();
    let limit = &search.judge.limits()[k];
    let size = |to: f64, is_max: bool| {
        let from = if is_max { limit.max } else { limit.min }.unwrap_or(to);
        ((to + f64::MIN_POSITIVE) / (from + f64::MIN_POSITIVE)).ln().abs()
    };
    // Fresh prints have to bear it out: the other limits need room of their own.
    let needed = 0.5 * (1.0 + required);
    let mut best: Option<Nearest> = None;
    for outlook in outlooks {
        let others: f64 = (0..outlook.deviates.len())
            .filter(|other| *other != k)
            .map(|other| outlook.deviates[other].map_or(1.0, |z| Normal::standard().cdf(z)))
            .product();
        let Some([mean, sd]) = search.told_of(outlook, k)?.filter(|_| others > needed) else { continue };
        // What is left of the required share is this limit's.
        let z = Normal::standard().inverse_cdf((required / others).min(0.999));
        let is_max = limit.max.is_some_and(|max| limit.min.is_none_or(|min| mean > 0.5 * (min + max)));
        let to = if is_max { mean + z * sd } else { (mean - z * sd).max(0.0) };
        if best.as_ref().is_none_or(|other| size(to, is_max) < size(other.to, other.is_max)) {
            best = Some(Nearest { values: outlook.values.clone(), to, is_max });
        }
    }
    Ok(best)
}

/// Two digits, rounded to the generous side.
fn tidy(value: f64, is_max: bool) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let step = 10f64.powi(value.log10().floor() as i32 - 1);
    let rounded = if is_max { (value / step).ceil() } else { (value / step).floor() } * step;
    format!("{rounded:.6e}").parse().unwrap_or(rounded)
}
