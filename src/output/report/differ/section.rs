//! What differs, in words and one card for each deciding figure.

use super::histogram::drawing;
use super::shown::shown;
use super::table::table;
use crate::differences::{
    are_known, basis_words, belongs, deciding, direction, held, holds_fewer, input_unit, limit_share, name, share_words,
};
use crate::numbers;
use crate::words::{capital, limit_words};
use maud::{Markup, PreEscaped, html};
use motefall_figures::importance::fewest_prints;
use motefall_figures::{Distribution, Explained, FigureKind, FigureRow, Prediction};
use motefall_physics::inputs::Law;
use std::collections::BTreeMap;

/// Figures that get a picture.
const MOST_PICTURES: usize = 6;
/// Causes shown in a picture.
const MOST_BARS: usize = 6;

/// The section; empty when the prints are too few to say how they differ.
pub(crate) fn section(p: &Prediction) -> Markup {
    if !are_known(p) {
        return html! {};
    }
    let deciding = deciding(p);
    html! {
        h2 id="differ" { "How prints differ" }
        (varied(p))
        div class="pair" {
            @for (row, distribution) in deciding.iter().take(MOST_PICTURES) { (card(p, row, distribution)) }
        }
        (table(p))
    }
}

/// What differs between the prints, in words.
fn varied(p: &Prediction) -> Markup {
    let n = p.verdict.n;
    let inputs = &p.draws.inputs;
    if inputs.is_empty() {
        return html! {
            p { "The " (n) " prints differ by chance alone: the same settings, other droplets. Real prints also differ in alignment, flows and ink; give those under " code { "spread" } " in the scenario to see what they do." }
        };
    }
    let law = |law: Law| match law {
        Law::Normal => "normal",
        Law::Uniform => "even",
        Law::Triangular => "triangular",
    };
    html! {
        p {
            "The " (n) " prints differ by chance and by what varies from print to print (standard deviation and law): "
            @for (i, input) in inputs.iter().enumerate() {
                @if i > 0 { "; " }
                (input.label(&p.inputs.layers))
                @if let Some(variation) = p.inputs.spread.iter().find(|v| v.input == input.input) {
                    " " (numbers::significant(variation.sd * input.input.per_si(), 2)) (input_unit(input.input)) " (" (law(variation.law)) ")"
                }
            }
            ". Each print and its draws are in " code { "prints.csv" } "."
            @if (n as usize) < fewest_prints(inputs) {
                " To say which of them matters takes at least " (fewest_prints(inputs)) " prints."
            }
        }
    }
}

fn card(p: &Prediction, row: &FigureRow, d: &Distribution) -> Markup {
    let limit = p.limits.iter().find(|l| belongs(l, row));
    let (value, unit) = shown(row, d);
    let unit = if unit.is_empty() { unit } else { format!("\u{a0}{unit}") };
    let [p5, p50, p95] = d.percentiles.map(&value);
    let missing = d.values.iter().filter(|v| v.is_nan()).count();
    html! {
        figure {
            h3 class="card" { (capital(&name(row))) }
            (PreEscaped(drawing(row, d, limit)))
            (causes(p, d))
            figcaption {
                @match tallied(row.kind, &d.values) {
                    Some(counts) => {
                        @for (i, (value, prints)) in counts.iter().enumerate() {
                            @if i > 0 { ", " }
                            (value) " in " (prints)
                            @if i == 0 { " of " (d.values.len() - missing) " prints" }
                        }
                        ". "
                    }
                    None => { "Half of the prints lie above " (p50) (unit) ", nine of ten between " (p5) " and " (p95) (unit) ". " }
                }
                @let t = d.tolerance;
                b { "At least " (held(&t)) " of all prints made like this lie between " (value(t.interval[0])) " and " (value(t.interval[1])) (unit) }
                ", at 95 % confidence (" (basis_words(&t)) "). "
                @if holds_fewer(&t) { "For 95 % it takes 93 prints. " }
                @if let Some(l) = limit {
                    (l.met) " of " (l.n) " prints meet the limit of " (limit_words(&l.limit))
                    @if let Some(share) = limit_share(l) { ": " (share) }
                    ". "
                }
                @if missing > 0 { (missing) " prints gave no value. " }
                @if d.unexplained.is_some() { "Bars: share of the differences between prints that each varied input explains, with 95 % interval." }
            }
        }
    }
}

/// How many prints have each value of a figure that counts something, if there are few different values.
fn tallied(kind: &FigureKind, values: &[f64]) -> Option<Vec<(u64, usize)>> {
    const MOST: usize = 6;
    let mut counts = BTreeMap::new();
    for value in values.iter().filter(|v| !v.is_nan()) {
        let whole = kind.unit.is_empty() && *value >= 0.0 && value.fract() == 0.0;
        *counts.entry(whole.then_some(*value as u64)?).or_insert(0) += 1;
    }
    (counts.len() <= MOST).then(|| counts.into_iter().collect())
}

/// Bars of the causes.
fn causes(p: &Prediction, d: &Distribution) -> Markup {
    let Some(unexplained) = d.unexplained else { return html! {} };
    let bar = |share: [f64; 3], class: &str| {
        let [share, low, high] = share.map(|s| s * 100.0);
        html! {
            div class="track" {
                div class=(format!("bar {class}")) style=(format!("left:0;width:{share:.2}%")) {}
                div class="reach" style=(format!("left:{low:.2}%;width:{:.2}%", high - low)) {}
            }
        }
    };
    let clear: Vec<_> = d.explained.iter().filter(|e| e.share[1] > 0.0).take(MOST_BARS).collect();
    let label = |effect: &Explained| effect.input.label(&p.inputs.layers);
    let rest: Vec<String> =
        d.explained.iter().filter(|e| !clear.iter().any(|c| c.input == e.input)).map(label).collect();
    html! {
        div class="causes" {
            span class="head" { "what makes prints differ" } span class="head scale" { span { "0" } span { "50" } span { "100\u{a0}%" } } span class="n head" { "share of the variance" }
            @for effect in &clear {
                span { b { (capital(&label(effect))) } span class="why" { (direction(effect)) } }
                (bar(effect.share, "s2"))
                span class="n" { (share_words(effect.share)) }
            }
            span { "Chance and interactions" }
            (bar(unexplained, "s6"))
            span class="n" { (share_words(unexplained)) }
        }
        @if !rest.is_empty() { p class="note small" { "No clear effect: " (rest.join(", ")) "." } }
    }
}
