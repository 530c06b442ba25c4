//! Every figure.

use super::MOST_COLUMNS;
use crate::differences;
use crate::numbers::{self, counted};
use crate::page::table;
use crate::words::capital;
use maud::{Markup, html};
use motefall_figures::{FigureKind, FigureRow, KINDS, Prediction, Scope};

/// Most places whose figures are shown without a click.
const MOST_OPEN_PLACES: usize = 10;

/// All figures: regions, items and print, each as rows of figures by columns of places.
pub(super) fn section(p: &Prediction) -> Markup {
    let scoped = |scope: Scope| p.figures.iter().filter(move |r| r.kind.scope == scope).collect::<Vec<_>>();
    let notes: Vec<&FigureRow> = p.figures.iter().filter(|r| r.note.is_some()).collect();
    html! {
        @for (scope, head) in [(Scope::Region, "Regions"), (Scope::Item, "Printed items"), (Scope::Print, "Whole print")] {
            @let rows = scoped(scope);
            @if !rows.is_empty() { h3 { (head) } (matrix(&rows, p.inputs.map.resolution)) }
        }
        p class="note" {
            "Expected: the mean without chance, from the same tables by another way; it checks the prints, and they check it. " "Means over " (counted(p.verdict.n.into(), "print", "prints")) " with their 95 % interval; for the farthest and largest particle, which a single print can set, median of the prints with its 95 % interval (Thompson 1936; from six prints on) and largest. Standard deviations between prints are "
            @if differences::are_known(p) { "under " a href="#differ" { "How prints differ" } } @else { "in " code { "figures.csv" } } "."
        }
        @if !notes.is_empty() {
            details {
                summary { "Remarks on " (notes.len()) " of these figures" }
                ul { @for r in notes.iter().take(200) { li {
                    (r.kind.label) @if let Some(place) = &r.place { ", " (place) } ": " (r.note.as_deref().unwrap_or_default())
                } } }
            }
        }
    }
}

fn matrix(rows: &[&FigureRow], resolution: f64) -> Markup {
    let mut places: Vec<Option<&str>> = vec![];
    for row in rows {
        if !places.contains(&row.place.as_deref()) {
            places.push(row.place.as_deref());
        }
    }
    let kinds: Vec<&FigureKind> = KINDS.iter().filter(|k| rows.iter().any(|r| r.kind == *k)).collect();
    let table = |columns: &[Option<&str>]| matrix_of(rows, &kinds, columns, resolution);
    let (open, rest) = places.split_at(places.len().min(MOST_OPEN_PLACES));
    html! {
        @for columns in open.chunks(MOST_COLUMNS) { (table(columns)) }
        @if !rest.is_empty() {
            details {
                summary { "Figures of " (rest.len()) " more places" }
                @for columns in rest.chunks(MOST_COLUMNS) { (table(columns)) }
            }
        }
    }
}

/// Figures by places, a few of them beside each other.
fn matrix_of(rows: &[&FigureRow], kinds: &[&FigureKind], columns: &[Option<&str>], resolution: f64) -> Markup {
    let here = |kind: &FigureKind| rows.iter().any(|r| r.kind == kind && columns.contains(&r.place.as_deref()));
    let cell = |kind: &FigureKind, column: Option<&str>| {
        let row = rows.iter().find(|r| r.kind.figure == kind.figure && r.place.as_deref() == column)?;
        let shown = numbers::figure(row.estimate.as_ref(), kind).below(kind.unit);
        let expected = row.expected.as_ref().map(|expected| numbers::mean(expected.mean, kind).below(kind.unit));
        Some(html! {
            @match &row.note {
                Some(note) => span title=(note) { (shown) "\u{2009}*" },
                None => (shown),
            }
            @if let Some(expected) = expected { span class="why" { "expected " (expected) } }
        })
    };
    table(
        "matrix",
        html! { th { "figure" } @for c in columns { th class="n" { (c.unwrap_or("value")) } } },
        html! { @for kind in kinds.iter().filter(|k| here(k)) { tr {
            td {
                (capital(&numbers::label_at(kind, resolution))) @if !kind.unit.is_empty() { " (" (kind.unit) ")" }
                span class="why" { (kind.meaning) }
            }
            @for c in columns { td class="n" { @if let Some(value) = cell(kind, *c) { (value) } } }
        } } },
    )
}
