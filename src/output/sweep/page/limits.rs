//! Which limits prints miss.

use super::judged::Judged;
use crate::numbers::share as percent;
use crate::page::{note, table};
use crate::sweep::rank::Class;
use crate::words::{limit_name, limit_words};
use maud::{Markup, html};
use motefall_figures::sweep::PointStats;

/// How many prints miss a limit.
struct Missed {
    /// Its number.
    limit: usize,
    /// At the best point.
    at_best: Option<u32>,
    /// In the whole sweep.
    all: u64,
}

/// What prints fail on.
pub(super) fn section(sweep: &Judged) -> Markup {
    let limits = &sweep.result.limits;
    if limits.is_empty() {
        return note("The scenario sets no acceptance limits.");
    }
    let name = |limit: usize| limit_name(&limits[limit], sweep.result.resolution);
    let best = sweep.best().and_then(|b| sweep.stats(b));
    let prints: u64 = sweep.ran().map(|s| u64::from(s.prints)).sum();
    let rows = missed(sweep, best);
    let share = |n: u64| if prints > 0 { percent(n as f64 / prints as f64) } else { "–".into() };
    let best_word = sweep.best_word();
    html! {
        @if let (Some(Class::Below), Some(best)) = (sweep.best().map(|b| b.class), best) {
            @if let Some(Missed { limit, at_best: Some(n @ 1..), .. }) = rows.first() {
                p { "At the best point most prints fail on " b { (name(*limit)) } ": " (n) " of " (best.prints) " miss it. Look there first: change what drives that figure (see the plots below), widen the sweep, or relax the limit." }
            }
        }
        (table(
            "limits",
            html! { th { "limit" } th { "required" } th { "prints that miss it, " (best_word) " point" } th { "prints that miss it, whole sweep" } },
            html! { @for row in &rows {
                tr {
                    td { (name(row.limit)) span class="why" { (limits[row.limit].figure.kind().meaning) } }
                    td { (limit_words(&limits[row.limit])) }
                    td { @if let (Some(n), Some(s)) = (row.at_best, best) { (n) " of " (s.prints) } @else { "–" } }
                    td { (share(row.all)) }
                }
            } },
        ))
        p class="caption" { "A print can miss several limits, so the shares may add up to more than the share of failed prints." }
    }
}

/// Each limit, those that most prints of the best point miss first.
fn missed(sweep: &Judged, best: Option<&PointStats>) -> Vec<Missed> {
    let missed = |s: &PointStats, limit: usize| s.met_each.get(limit).map(|m| s.prints.saturating_sub(*m));
    let mut rows: Vec<Missed> = (0..sweep.result.limits.len())
        .map(|limit| Missed {
            limit,
            at_best: best.and_then(|s| missed(s, limit)),
            all: sweep.ran().filter_map(|s| missed(s, limit)).map(u64::from).sum(),
        })
        .collect();
    rows.sort_by(|a, b| b.at_best.cmp(&a.at_best).then(b.all.cmp(&a.all)).then(a.limit.cmp(&b.limit)));
    rows
}
