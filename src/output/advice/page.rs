//! The page of an advice.

use super::words::{
    blocked_lines, changed, costs_sentence, doubt_words, doubts_sentence, expected_words, head, limit_rows, line_words,
    margin_sentence, margin_words, plan_sentences, rest, setting_words, shows_words, unsure_sentence, which,
};
use super::{front, picture};
use crate::numbers::{duration, ink, share, shares};
use crate::page::{self, Decision, Page, note, table, verdict};
use crate::words::{capital, severity_word};
use maud::{Markup, PreEscaped, html};
use motefall_figures::advice::{Advice, Candidate};

/// The page as text.
pub(super) fn page(advice: &Advice) -> String {
    let decision = if advice.passes() { Decision::Yes } else { Decision::No };
    let first = advice.choices.first();
    let body = html! {
        (verdict(decision, head(advice), html! { (rest(advice)) @if let Some(unsure) = unsure_sentence(advice) { " " (unsure) } }))
        @if !advice.passes() {
            h2 id="way" { "What stands in the way" }
            ul { @for line in blocked_lines(advice) { li { (line) } } }
        }
        @if first.is_some() {
            h2 id="setting" { @if advice.passes() { "The setting to use" } @else { "The nearest setting" } }
            (table(
                "",
                html! { th { "setting" } th class="n" { "today" } th class="n" { (which(advice)) } @if advice.passes() { th { "room of this setting alone, the others as recommended" } } },
                html! { @for [key, today, value, room] in changed(advice) { tr {
                    td { (page::key(&key)) } td class="n" { (today) } td class="n" { b { (value) } } @if advice.passes() { td { (room) } }
                } } },
            ))
            @if let Some(doubts) = first.and_then(|choice| doubts_sentence(advice, choice)) { p { (doubts) } }
            @if let Some(choice) = first && advice.passes() { p { (margin_sentence(advice, choice)) } }
            (cost(advice))
            h2 id="limits" { "What it gives" }
            (table(
                "",
                html! { th { "limit" } th { "required" } th class="n" { "today" } th class="n" { (which(advice)) } th class="n" { "prints that meet it" } },
                html! { @for [limit, required, today, value, met] in limit_rows(advice) { tr {
                    td { (limit) } td { (required) } td class="n" { (today) } td class="n" { b { (value) } } td class="n" { (met) }
                } } },
            ))
        }
        @if let Some(cut) = &advice.cut {
            h2 id="window" { "The window around it" }
            figure {
                (PreEscaped(picture::cut(advice, cut)))
                figcaption {
                    b { "Expected share of prints that pass. " }
                    "The two settings with the least room, the others as recommended; the ring is the recommended setting. By the expected deposit, and "
                    "by the prints made around for what only prints tell: the pass probability of the recommended setting itself is from fresh prints. "
                    "Clear: cannot run."
                    @if cut.doubts.iter().flatten().any(|doubts| !doubts.is_empty()) {
                        " Hatched: there the model is in doubt for a reason that it is not at the recommended setting."
                    }
                }
            }
        }
        (plan(advice))
        (alternatives(advice))
        (trade_offs(advice))
        h2 id="cautions" { "Cautions" }
        ul { @for caution in &advice.cautions { li { b { (capital(severity_word(caution.severity()))) ": " } (caution.text) } } }
    };
    let foot = html! {
        " · by the model and the inputs of the scenario; what is unverified there stays so. Files beside this one: advice.json, "
        @if advice.passes() { "recommended.toml (this setting as a scenario), " a href="sheet.html" { "sheet.html" } " (a bench sheet to print), " } "tried.jsonl (what was tried)."
    };
    let title = format!("Advice: {}", advice.inputs.name);
    Page { title: &title, note: &advice.inputs.note, style: "", body, foot }.html()
}

fn cost(advice: &Advice) -> Markup {
    let Some(choice) = advice.choices.first() else { return html! {} };
    html! { p { (capital(&costs_sentence(&choice.candidate.used))) " Today's setting: " (costs_sentence(&advice.today.used)) } }
}

/// Lines to print first.
fn plan(advice: &Advice) -> Markup {
    html! { @if let Some(plan) = &advice.plan {
        h2 id="lines" { "Print these lines first" }
        p { (plan_sentences(advice, plan)) }
        (table(
            "",
            html! { th { "line" } th { "measure" } th class="n" { "expected" } th class="n" { "go on if" } th class="n" { "told so far" } },
            html! { @for line in &plan.lines { @for (k, shows) in line.shows.iter().enumerate() { tr {
                @let [label, expected, go_on] = shows_words(shows);
                td { @if k == 0 { (line_words(line)) } } td { (label) } td class="n" { (expected) } td class="n" { b { (go_on) } }
                td class="n" { @if k == 0 { (share(line.tells)) } }
            } } } },
        ))
        (note(
            "±: standard deviation over the benches. Go on: what nine in ten of the benches show on which the setting passes. Told so far: share of what \
             benches differ by in the deciding figure that this line and those above it tell, measured to 4 % (edges), 5 % (half height) and 8 % \
             (height): common practice, no source.",
        ))
    } }
}

/// Choices of another kind.
fn alternatives(advice: &Advice) -> Markup {
    let others = advice.choices.get(1..).unwrap_or_default();
    html! { @if !others.is_empty() {
        h2 id="others" { "Settings of another kind that pass, too" }
        (table(
            "",
            html! { th { "setting" } th class="n" { "fresh prints that pass" } th { "margin of all together" } th class="n" { "time of a print" } th class="n" { "ink per chip" } th { "doubts of the model" } },
            html! { @for choice in others { tr {
                td { (setting_words(advice, &choice.candidate)) }
                td class="n" { (choice.candidate.met) " of " (choice.candidate.prints)
                    @if let Some(interval) = choice.candidate.interval() { " (" (shares(interval)) ")" } }
                td { (margin_words(choice)) }
                td class="n" { (duration(choice.candidate.used.print_time)) } td class="n" { (ink(choice.candidate.used.ink_per_chip)) }
                td { (own_doubts(advice, &choice.candidate)) }
            } } },
        ))
    } }
}

/// Doubts of a setting for a column.
fn own_doubts(advice: &Advice, candidate: &Candidate) -> String {
    let own = advice.own_doubts(candidate);
    if own.is_empty() { "none of its own".to_owned() } else { doubt_words(&own) }
}

/// Trade-offs.
fn trade_offs(advice: &Advice) -> Markup {
    let in_doubt = advice.front.iter().any(|c| !advice.own_doubts(c).is_empty());
    html! { @if advice.front.len() > 1 {
        h2 id="front" { "What costs what" }
        figure {
            @let drawings = front::pictures(advice);
            @if let [drawing] = &drawings[..] { (PreEscaped(drawing)) }
            @else { div class="pair" { @for drawing in &drawings { div { (PreEscaped(drawing)) } } } }
            figcaption {
                b { "What a higher expected share of passing prints costs. " }
                "Numbers are those of the table."
                @if drawings.len() > 1 { " One over the time of a print, one over the ink that a chip takes with warm-up and change." }
                @else { " Chips take as much ink with warm-up and change, to 2\u{a0}%, at all of them." }
                @if in_doubt { " Rings: there the model is in doubt for a reason that other settings avoid." }
            }
        }
        (table(
            "",
            html! { th class="n" { "no." } th { "setting" } th class="n" { "expected to pass" } th class="n" { "time of a print" } th class="n" { "ink per chip" } @if in_doubt { th { "doubts of the model" } } },
            html! { @for (k, c) in advice.front.iter().enumerate() { tr {
                td class="n" { (k + 1) } td { (setting_words(advice, c)) } td class="n" { (expected_words(c.expected)) }
                td class="n" { (duration(c.used.print_time)) } td class="n" { (ink(c.used.ink_per_chip)) }
                @if in_doubt { td { (own_doubts(advice, c)) } }
            } } },
        ))
        (note("Settings that were looked at of which no other is at once more likely to pass, quicker, thriftier and less in doubt. Expected: not confirmed by fresh prints."))
    } }
}
