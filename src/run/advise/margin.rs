//! How far settings may drift.

use super::desk::Chance;
use super::search::Search;
use super::{AdviseError, Values};
use motefall_figures::CautionKind;
use motefall_figures::advice::{Candidate, Doubted, Margin, Room};

/// Parts of their values by which all settings together may drift.
const MARGINS: [f64; 16] =
    [0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10, 0.12, 0.14, 0.17, 0.20, 0.24, 0.30, 0.40];
/// Halvings of a range when a room's end is looked for: of one from a value to fifty times as much, to 1 %.
const HALVINGS: usize = 9;

/// How far all settings may drift together, and the room of each alone.
pub(super) fn margin(search: &mut Search<'_>, candidate: &Candidate) -> Result<(Margin, Vec<Room>), AdviseError> {
    search.desk.begin("how far settings may drift", None);
    let required = search.judge.required();
    // By what is expected first. Where nothing drifts there is no margin.
    let mut largest = 0;
    let all_stay = search.freed().iter().zip(&candidate.values).all(|(freed, value)| freed.stays(*value));
    for (k, margin) in MARGINS.iter().enumerate().filter(|_| !all_stay) {
        let corners = corners(search, &candidate.values, *margin);
        search.desk.means(&corners)?;
        let mut worst = 1.0_f64;
        for corner in &corners {
            worst = worst.min(search.outlook(corner)?.share);
        }
        if worst < required {
            break;
        }
        largest = k + 1;
    }
    // Then by prints.
    let mut proved = 0.0;
    for margin in MARGINS[..largest].iter().rev() {
        if holds(search, &corners(search, &candidate.values, *margin))? {
            proved = *margin;
            break;
        }
    }
    let rooms = (0..candidate.values.len()).map(|k| room(search, candidate, k, proved)).collect::<Result<_, _>>()?;
    Ok((doubted(search, candidate, proved)?, rooms))
}

/// A margin with the part of it in which no corner doubts the model more than the setting itself.
fn doubted(search: &Search<'_>, candidate: &Candidate, part: f64) -> Result<Margin, AdviseError> {
    let mut undoubted = 0.0;
    let mut doubts: Vec<CautionKind> = vec![];
    for margin in MARGINS.into_iter().filter(|margin| *margin <= part) {
        for corner in corners(search, &candidate.values, margin) {
            doubts.extend(search.doubts_beyond(&corner, &candidate.doubts)?);
        }
        if doubts.is_empty() {
            undoubted = margin;
        }
    }
    Ok(Margin { part, undoubted, doubts: CautionKind::doubts(&doubts) })
}

/// Settings with each value moved up or down by a part of itself, but for those that stay.
fn corners(search: &Search<'_>, values: &Values, part: f64) -> Vec<Values> {
    let mut all = vec![values.clone()];
    for (k, freed) in search.freed().iter().enumerate() {
        if freed.stays(values[k]) {
            continue;
        }
        let moved = |corner: &Values, sign: f64| {
            let mut corner = corner.clone();
            corner[k] *= 1.0 + sign * part;
            corner
        };
        all = all.iter().flat_map(|corner| [moved(corner, -1.0), moved(corner, 1.0)]).collect();
    }
    all
}

/// Whether the required share of prints passes at every one of these, the doubtful ones first.
fn holds(search: &Search<'_>, corners: &[Values]) -> Result<bool, AdviseError> {
    let mut order = vec![];
    for corner in corners {
        order.push((search.outlook(corner)?.share, corner));
    }
    order.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    for (_, corner) in order {
        let prints = search.desk.prints(&[(corner.clone(), Chance::Fresh, search.asked.effort.at_corner)])?;
        let printed = search.candidate(corner, &prints[0]);
        if !search.judge.passes(&printed) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// How far one setting may move with the others as they are, by what is expected; the part of it that was proved by prints for all together
/// at least.
fn room(search: &Search<'_>, candidate: &Candidate, k: usize, proved: f64) -> Result<Room, AdviseError> {
    let (freed, values) = (&search.freed()[k], &candidate.values);
    let required = search.judge.required();
    let with = |value: f64| {
        let mut values = values.clone();
        values[k] = value;
        values
    };
    let passes = |value: f64| -> Result<bool, AdviseError> { Ok(search.outlook(&with(value))?.share >= required) };
    let mut room = Room { range: [values[k]; 2], missed: [None; 2], doubted: [None, None] };
    for (side, end) in [freed.least, freed.most].into_iter().enumerate() {
        let end = freed.on_step(end);
        if (end - values[k]) * if side == 0 { -1.0 } else { 1.0 } <= 0.0 || passes(end)? {
            room.range[side] = if side == 0 { end.min(values[k]) } else { end.max(values[k]) };
        } else {
            let [good, bad] = border([values[k], end], freed.is_whole, &passes)?;
            let moved = values[k] * (1.0 + if side == 0 { -proved } else { proved });
            room.range[side] = match (freed.stays(values[k]), side) {
                (true, _) => good,
                (false, 0) => good.min(moved.max(freed.least)),
                (false, _) => good.max(moved.min(freed.most)),
            };
            room.missed[side] = search.outlook(&with(bad))?.tightest().map(|(limit, _)| limit);
        }
        let end = room.range[side];
        let doubts = |value: f64| search.doubts_beyond(&with(value), &candidate.doubts);
        if !doubts(end)?.is_empty() {
            let is_free = |value: f64| Ok(doubts(value)?.is_empty());
            let [from, beyond] = border([values[k], end], freed.is_whole, &is_free)?;
            room.doubted[side] = Some(Doubted { from, doubts: doubts(beyond)? });
        }
    }
    Ok(room)
}

/// Between a good and a bad value: a good and a bad one that lie close together.
fn border(
    [mut good, mut bad]: [f64; 2],
    is_whole: bool,
    is_good: &dyn Fn(f64) -> Result<bool, AdviseError>,
) -> Result<[f64; 2], AdviseError> {
    for _ in 0..HALVINGS {
        let middle = match is_whole {
            true => (0.5 * (good + bad)).round(),
            // By ratio: a range may end at many times the value.
            false if good > 0.0 && bad > 0.0 => (good * bad).sqrt(),
            false => 0.5 * (good + bad),
        };
        if middle == good || middle == bad {
            break;
        }
        if is_good(middle)? { good = middle } else { bad = middle }
    }
    Ok([good, bad])
}
