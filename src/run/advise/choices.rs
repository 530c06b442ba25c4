//! The choices that are told: judged by fresh prints, with how far they may drift, in order.

use super::desk::Chance;
use super::judge::Judge;
use super::margin::margin;
use super::search::{OTHER_KIND, Search, less_in_doubt};
use super::{AdviseError, Values};
use motefall_figures::advice::{Candidate, Choice, Freed, Margin};
use std::cmp::Ordering;

/// Choices that are told: the recommended one and two of another kind.
const CHOICES: usize = 3;
/// Difference of two shares of passing prints that 200 prints can tell: two standard errors near 0.95.
const CLEAR: f64 = 0.03;

/// A setting with fresh prints.
pub(super) fn fresh(search: &Search<'_>, values: &Values) -> Result<Candidate, AdviseError> {
    let prints = search.desk.prints(&[(values.clone(), Chance::Fresh, search.asked.effort.fresh)])?;
    Ok(search.candidate(values, &prints[0]))
}

/// Of settings, the best first, those that pass by fresh prints, the recommended one first; if none does, the nearest alone. Whether any passes.
pub(super) fn choices(search: &mut Search<'_>, best: &[Values]) -> Result<(Vec<Choice>, bool), AdviseError> {
    search.desk.begin("confirming with fresh prints", None);
    let mut candidates = best.iter().map(|values| fresh(search, values)).collect::<Result<Vec<_>, _>>()?;
    if !candidates.iter().any(|candidate| search.judge.passes(candidate)) {
        candidates.truncate(1);
        let nearest = |candidate| Choice { candidate, margin: Margin::default(), rooms: vec![] };
        return Ok((candidates.into_iter().map(nearest).collect(), false));
    }
    candidates.retain(|candidate| search.judge.passes(candidate));
    candidates.sort_by(|a, b| by_doubts(&search.judge, a, b));
    let mut choices: Vec<Choice> = vec![];
    for candidate in candidates {
        // Settings alike are one choice: the margin of the first tells that of the others.
        let is_alike = |choice: &Choice| search.distance(&choice.candidate.values, &candidate.values) < OTHER_KIND;
        if choices.len() < CHOICES && !choices.iter().any(is_alike) {
            choices.push(with_margin(search, candidate)?);
        }
    }
    choices.sort_by(|a, b| better(&search.judge, a, b));
    let middle = amid_doubts(search, &choices[0]);
    if middle != choices[0].candidate.values {
        let candidate = fresh(search, &middle)?;
        if search.judge.passes(&candidate) {
            let other = with_margin(search, candidate)?;
            if better(&search.judge, &other, &choices[0]).is_lt() {
                choices[0] = other;
            }
        }
    }
    Ok((choices, true))
}

fn with_margin(search: &mut Search<'_>, candidate: Candidate) -> Result<Choice, AdviseError> {
    let (margin, rooms) = margin(search, &candidate)?;
    Ok(Choice { candidate, margin, rooms })
}

/// The setting moved to the middle of its room without doubts wherever doubts cut that: nothing in the search keeps it away from where they
/// begin.
fn amid_doubts(search: &Search<'_>, choice: &Choice) -> Values {
    let values = choice.candidate.values.iter().zip(&choice.rooms).zip(search.freed());
    let moved = values.map(|((value, room), freed)| {
        let end = |side: usize| room.doubted[side].as_ref().map_or(room.range[side], |doubted| doubted.from);
        match room.doubted.iter().any(Option::is_some) {
            true => freed.on_step(Freed::between(end(0), end(1))),
            false => *value,
        }
    });
    moved.collect()
}

/// First what passes with room to spare, and of that what is less in doubt.
fn by_doubts(judge: &Judge<'_>, a: &Candidate, b: &Candidate) -> Ordering {
    less_in_doubt([a, b].map(|candidate| (judge.has_spare(candidate.share()), candidate.doubts.len())))
}

/// The order of choices that pass: by doubts, then clearly more prints that pass, then by margin, time and ink.
fn better(judge: &Judge<'_>, a: &Choice, b: &Choice) -> Ordering {
    let [share, other_share] = [a, b].map(|choice| choice.candidate.share());
    // Prints cannot tell apart what passes nearly always; the margin does.
    let by_share = if (share - other_share).abs() > CLEAR { other_share.total_cmp(&share) } else { Ordering::Equal };
    let fewer_doubts = a.candidate.doubts.len().cmp(&b.candidate.doubts.len());
    let each = |of: fn(&Margin) -> f64| of(&b.margin).total_cmp(&of(&a.margin));
    let by_margin = each(|margin| margin.undoubted).then_with(|| each(|margin| margin.part));
    let (one, other) = (&a.candidate.used, &b.candidate.used);
    let by_cost = one.print_time.total_cmp(&other.print_time).then(one.ink_per_chip.total_cmp(&other.ink_per_chip));
    by_doubts(judge, &a.candidate, &b.candidate).then(by_share).then(fewer_doubts).then(by_margin).then(by_cost)
}
