//! Whether the print is accepted, and what must be read before it is made.

use crate::numbers;
use crate::page::{joined, verdict};
use crate::words::{capital, decision, limit_words, verdict_sentence};
use maud::{Markup, html};
use motefall_figures::cautions::Bearing;
use motefall_figures::{LimitOutcome, Prediction, Severity};

/// Most limits that are named as standing in the way.
const MOST_FAILED: usize = 3;

/// The box at the head of the page.
pub(super) fn section(p: &Prediction) -> Markup {
    let (decision, head) = decision(&p.verdict, p.inputs.acceptance.required_share);
    let sentence = verdict_sentence(&p.verdict, p.inputs.acceptance.required_share);
    let rest = sentence.split_once(": ").map_or(sentence.as_str(), |(_, rest)| rest);
    verdict(
        decision,
        head,
        html! {
            (capital(rest))
            @if p.verdict.accepted == Some(false) { (in_the_way(p)) }
            @for caution in p.cautions.iter().filter(|c| c.kind.bearing() == Bearing::Decision) { br; (caution.text) }
        },
    )
}

/// The limits that most prints miss.
fn in_the_way(p: &Prediction) -> Markup {
    let mut failed: Vec<&LimitOutcome> = p.limits.iter().filter(|l| l.met < l.n).collect();
    failed.sort_by_key(|l| l.met);
    let missed = |l: &&LimitOutcome| {
        let name = numbers::label_at(l.kind(), p.inputs.map.resolution);
        html! {
            (name) @if let Some(place) = &l.limit.place { " on " (place) }
            @if p.is_undecided(l) { " is not known (required " (limit_words(&l.limit)) ")" } @else {
               ", met by " (l.met) " of " (l.n) " prints (required " (limit_words(&l.limit)) ", predicted " (numbers::predicted(l)) ")"
            }
        }
    };
    html! { @if !failed.is_empty() { br; "Missed most: " (joined("; ", failed.iter().take(MOST_FAILED).map(missed))) "." } }
}

/// How many safety cautions there are.
pub(super) fn safety_line(p: &Prediction) -> Markup {
    let n = p.cautions.iter().filter(|c| c.severity() == Severity::Safety).count();
    html! {
        @if n > 0 {
            p { a href="#cautions" { b { (n) (if n == 1 { " safety caution applies" } else { " safety cautions apply" }) } } " to this ink. Read them before printing." }
        }
    }
}
