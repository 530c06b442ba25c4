//! Finds the setting to use: screened by the expected deposit, printed where that is promising, confirmed by fresh prints.
//!
//! ```text
//! today -> screen (means) -> try (a few prints) -> refine around the best -> race -> margin at every corner -> fresh prints
//! ```
//!
//! Every step asks the `desk` for means or prints of settings; the desk remembers what it was asked, also in a file, so that an advice that
//! was stopped goes on by asking again. Which settings are asked for follows from the answers alone: the same bytes for any number of threads.

mod asked;
mod blocked;
mod choices;
mod desk;
mod error;
mod judge;
mod margin;
mod outlook;
mod search;
mod tried;
mod window;

pub use asked::{Asked, CaseAt, Effort, Values};
pub use desk::JOURNAL;
pub use error::{AdviseError, DeskError};

use crate::Progress;
use crate::atlas::Atlas;
use desk::Desk;
use judge::Judge;
use motefall_figures::advice::{Advice, Blocked, Candidate};
use search::Search;
use std::path::Path;

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
