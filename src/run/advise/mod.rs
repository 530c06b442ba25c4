//! Finds the setting to use: screened by the expected deposit, printed where that is promising, confirmed by fresh prints.
//!
//! ```text
//! today -> screen (means) -> try (a few prints) -> refine around the best -> race -> margin at every corner -> fresh prints
//! ```
//!
//! Every step asks the `desk` for means or prints of settings; the desk remembers what it was asked, also in a file, so that an advice that
//! was stopped goes on by asking again. Which settings are asked for follows from the answers alone: the same bytes for any number of threads.

mod blocked;
mod choices;
mod desk;
mod judge;
mod margin;
mod outlook;
mod search;
mod tried;
mod window;

pub use desk::{DeskError, JOURNAL};

use crate::atlas::Atlas;
use crate::sweep::Case;
use crate::{Progress, RunError};
use desk::Desk;
use judge::Judge;
use motefall_figures::advice::{Advice, Blocked, Candidate, Freed};
use motefall_physics::inputs::Inputs;
use search::Search;
use serde_json::Value;
use std::path::Path;

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
    let candidate = choices::fresh(&search, &best)?;
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
    search.screen()?;
    search.refine()?;
    let best = search.race()?;
    let (choices, any) = choices::choices(&mut search, &best)?;
    let today = choices::fresh(&search, &search.today)?;
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
