//! Finds the setting to use: screened by the expected deposit, printed where that is promising, confirmed by fresh prints.
//!
//! ```text
//! today -> screen (means) -> try (a few prints) -> refine around the best -> race -> margin at every corner -> fresh prints
//! ```
//!
//! Every step asks the `desk` for means or prints of settings; the desk remembers what it was asked, also in a file, so that an advice that
//! was stopped goes on by asking again. Which settings are asked for follows from the answers alone: the same bytes for any number of threads.

mod blocked;
mod desk;
mod judge;
mod margin;
mod search;
mod window;

pub use desk::{DeskError, JOURNAL};

use crate::atlas::Atlas;
use crate::sweep::Case;
use crate::{Progress, RunError};
use desk::{Chance, Desk};
use judge::Judge;
use motefall_figures::advice::{Advice, Blocked, Candidate, Choice, Freed, Margin};
use motefall_physics::inputs::Inputs;
use search::{OTHER_KIND, Search};
use serde_json::Value;
use std::cmp::Ordering;
use std::path::Path;

/// Choices that are told: the recommended one and two of another kind.
const CHOICES: usize = 3;

/// A setting: values of what is freed, each in the unit of its key.
pub type Values = Vec<f64>;
/// The case at a setting, with as many possible inputs of its prints, at most, as asked for where something is unknown of the bench; or why
/// there is none.
pub type CaseAt<'a> = Box<dyn Fn(&[f64], u32) -> Result<Case, String> + Sync + 'a>;

/// How much is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Settings that are spread over all that can be set.
    spread: u32,
    /// Rounds of refining around the best.
    rounds: i32,
    /// Fresh prints by which a choice is judged.
    fresh: u32,
    /// Prints at each corner by which a margin is proved.
    at_corner: u32,
}

impl Effort {
    /// As a decision needs it.
    pub const USUAL: Self = Self { spread: 256, rounds: 8, fresh: 200, at_corner: 64 };
    /// Whether anything passes at all.
    pub const GLANCE: Self = Self { spread: 48, rounds: 3, fresh: 60, at_corner: 0 };
    /// A first answer.
    pub const QUICK: Self = Self { spread: 64, rounds: 3, fresh: 60, at_corner: 24 };
}

/// What an advice is asked for.
pub struct Asked<'a> {
    /// How much is looked at.
    pub effort: Effort,
    /// The scenario as it is; it has limits.
    pub inputs: &'a Inputs,
    /// What may be changed.
    pub freed: &'a [Freed],
    /// What decides the result, to recognise the same question by.
    pub identity: Value,
    /// The case at a setting.
    pub case: CaseAt<'a>,
}

/// Why there is no advice.
#[derive(Debug, thiserror::Error)]
pub enum AdviseError {
    /// A setting could not be worked out, or the user stopped it.
    #[error(transparent)]
    Run(#[from] RunError),
    /// The file of what was asked.
    #[error(transparent)]
    Desk(#[from] DeskError),
    /// Today's setting cannot run.
    #[error("the scenario's own setting cannot run: {0}")]
    Today(String),
}

/// A setting that passes by fresh prints, if a search finds one; nothing of it is remembered.
pub fn passing(
    asked: &Asked<'_>,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Option<Candidate>, AdviseError> {
    let desk = Desk::open(asked, atlas, None, progress)?;
    let mut search = match Search::new(asked, &desk, Judge::new(asked.inputs)) {
        Ok(search) => search,
        // With another nozzle, today's setting may not run at all.
        Err(AdviseError::Today(_)) => return Ok(None),
        Err(error) => return Err(error),
    };
    search.screen()?;
    search.refine()?;
    let Some(best) = search.race()?.into_iter().next() else { return Ok(None) };
    let prints = desk.prints(&[(best.clone(), Chance::Fresh, asked.effort.fresh)])?;
    let candidate = search.candidate(&best, &prints[0]);
    Ok(search.judge.passes(&candidate).then_some(candidate))
}

/// Works an advice out. What is asked for is remembered in `folder`, if there is one.
pub fn advise(
    asked: &Asked<'_>,
    atlas: &Atlas<'_>,
    folder: Option<&Path>,
    progress: &dyn Progress,
) -> Result<Advice, AdviseError> {
    let desk = Desk::open(asked, atlas, folder, progress)?;
    let judge = Judge::new(asked.inputs);
    let mut search = Search::new(asked, &desk, judge)?;
    let today = search.today.clone();
    search.screen()?;
    search.refine()?;
    let best = search.race()?;
    let fresh = |values: &Values| -> Result<Candidate, AdviseError> {
        let prints = desk.prints(&[(values.clone(), Chance::Fresh, asked.effort.fresh)])?;
        Ok(search.candidate(values, &prints[0]))
    };
    progress.begin("confirming with fresh prints", None);
    let mut candidates = best.iter().map(fresh).collect::<Result<Vec<_>, _>>()?;
    let passes = |candidate: &Candidate| search.judge.passes(candidate);
    let any = candidates.iter().any(passes);
    if any {
        candidates.retain(passes);
    }
    let today = fresh(&today)?;
    let mut choices = vec![];
    for candidate in candidates {
        // Settings alike are one choice: the margin of the first tells that of the others.
        let is_alike = |choice: &Choice| search.distance(&choice.candidate.values, &candidate.values) < OTHER_KIND;
        if choices.len() == if any { CHOICES } else { 1 } || choices.iter().any(is_alike) {
            continue;
        }
        let (margin, rooms) = if any { margin::margin(&mut search, &candidate)? } else { (Margin::default(), vec![]) };
        choices.push(Choice { candidate, margin, rooms });
    }
    choices.sort_by(better);
    let cut = match choices.first() {
        Some(first) if any => window::cut(&mut search, first)?,
        _ => None,
    };
    let blocked: Option<Blocked> = if any { None } else { Some(blocked::blocked(&mut search)?) };
    Ok(Advice {
        inputs: asked.inputs.clone(),
        freed: asked.freed.to_vec(),
        limits: asked.inputs.acceptance.limits.clone(),
        required: asked.inputs.acceptance.required_share,
        today,
        front: search.front(),
        common_doubts: search.common_doubts(),
        plan: None,
        cautions: vec![],
        choices,
        cut,
        blocked,
        screened: desk.screened(),
        printed: desk.printed(),
        prints: desk.prints_made(),
        at_corner: asked.effort.at_corner,
    })
}

/// The order of choices, which all pass or are one: less in doubt, then clearly more prints that pass, then by margin, time and ink.
fn better(a: &Choice, b: &Choice) -> Ordering {
    let all = |choice: &Choice| f64::from(choice.candidate.met) / f64::from(choice.candidate.prints.max(1));
    let by_doubts = a.candidate.doubts.len().cmp(&b.candidate.doubts.len());
    // Prints cannot tell apart what passes nearly always; the margin does.
    let by_share = if (all(a) - all(b)).abs() > CLEAR { all(b).total_cmp(&all(a)) } else { Ordering::Equal };
    let each = |of: fn(&Margin) -> f64| of(&b.margin).total_cmp(&of(&a.margin));
    let by_margin = each(|margin| margin.undoubted).then_with(|| each(|margin| margin.part));
    let (one, other) = (&a.candidate.used, &b.candidate.used);
    let by_cost = one.print_time.total_cmp(&other.print_time).then(one.ink_per_chip.total_cmp(&other.ink_per_chip));
    by_doubts.then(by_share).then(by_margin).then(by_cost)
}

/// Difference of two shares of passing prints that 200 prints can tell: two standard errors near 0.95.
const CLEAR: f64 = 0.03;
