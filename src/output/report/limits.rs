//! What was asked and what was predicted.

use crate::differences;
use crate::numbers::{self, counted};
use crate::page::{note, table};
use crate::words::{capital, limit_name, limit_words, met_class};
use maud::{Markup, html};
use motefall_figures::{LimitOutcome, Prediction};

/// Each limit with what was predicted for it.
pub(super) fn section(p: &Prediction) -> Markup {
    if p.limits.is_empty() {
        return note(
            html! { "The scenario sets no acceptance limits. Set some under " code { "acceptance" } " to get a decision." },
        );
    }
    html! {
        (table(
            "limits",
            html! { th { "limit" } th { "required" } th { "predicted" } th { "met by" } },
            html! { @for (number, l) in p.limits.iter().enumerate() { (row(p, number, l)) } },
        ))
        p class="note" { "After ± and in brackets: 95 % interval of the mean over prints" @if p.verdict.n > 0 { " (n = " (p.verdict.n) ")" } ". Each print is judged by its own value. The second line is the share of all prints that would meet the limit, with its 95 % interval (Wilson 1927). A probability belongs to all prints together: a largest allowed value is compared with its upper bound, a least one with its lower bound, each at 95 % confidence (Clopper & Pearson 1934), so more prints can show what few cannot." }
    }
}

fn row(p: &Prediction, number: usize, l: &LimitOutcome) -> Markup {
    html! { tr {
        td { (capital(&limit_name(&l.limit, Some(p.inputs.map.resolution)))) span class="why" { (l.kind().meaning) } }
        td {
            (limit_words(&l.limit))
            @if p.inputs.acceptance.is_implied(number) {
                span class="why" { "from the role keep-out; your own limit on this region replaces it" }
            }
        }
        td { (numbers::predicted(l)) }
        td {
            @if p.is_undecided(l) { span class="met some" { "not known" } } @else {
                span class={ "met " (met_class(l.met, l.n, p.inputs.acceptance.required_share)) } { (l.met) " of " (counted(l.n.into(), "print", "prints")) }
                @if let Some(share) = differences::limit_share(l) { span class="why" { (share) } }
            }
        }
    } }
}
