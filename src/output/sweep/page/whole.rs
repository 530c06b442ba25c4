//! The page as a whole: its sections in order.

use super::judged::Judged;
use super::{effects, limits, plan, points, settings, verdict, window};
use crate::page::{Page, foot};
use crate::sweep::{Extra, parallel};
use maud::html;
use motefall_figures::sweep::SweepResult;

/// The page.
pub(crate) fn html(result: &SweepResult, extra: &Extra) -> Result<String, png::EncodingError> {
    let sweep = &Judged::new(result);
    let window = window::section(sweep)?;
    let pairs = window::pairs(sweep)?;
    let name = if result.name.is_empty() { "Sweep" } else { result.name.as_str() };
    let body = html! {
        (verdict::section(sweep, extra))
        (window)
        @if !sweep.ranking.is_empty() {
            h2 { "The best settings" }
            (settings::section(sweep, extra))
            h2 { "What prints fail on" }
            (limits::section(sweep))
            (pairs)
            h2 { "What each setting does" }
            (effects::section(sweep))
            h2 { "All points at a glance" }
            (parallel::figure(result, &sweep.space, sweep.best()))
            h2 { "Cost" }
            (plan::cost(sweep))
        }
        h2 { "Points that could not run" }
        (points::could_not_run(sweep))
        h2 { "Cautions" }
        (points::cautions(sweep))
        h2 { "The plan" }
        (plan::section(sweep))
    };
    let page = Page {
        title: &format!("{name}: operating window"),
        note: &result.note,
        style: include_str!("style.css"),
        body,
        foot: foot(
            result.seed,
            None,
            html! { code { "sweep.csv" } " (one row a point), " code { "sweep.npz" } " (the same as arrays)" },
        ),
    };
    Ok(page.html())
}
