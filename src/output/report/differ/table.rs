//! Mean, spread, percentiles and tolerance of every figure that differs.

use super::shown::shown;
use crate::differences::{direction, held, holds_fewer};
use crate::numbers;
use crate::page;
use crate::words::capital;
use maud::{Markup, html};
use motefall_figures::{Distribution, FigureRow, Prediction};

/// Places whose figures are shown without a click.
const MOST_OPEN_PLACES: usize = 2;

/// Mean, spread, percentiles and tolerance of every figure that differs, place by place.
pub(super) fn table(p: &Prediction) -> Markup {
    let mut places: Vec<Option<&str>> = vec![];
    for row in p.figures.iter().filter(|row| row.distribution.is_some()) {
        if !places.contains(&row.place.as_deref()) {
            places.push(row.place.as_deref());
        }
    }
    let causes = p.figures.iter().any(|row| row.distribution.as_ref().is_some_and(|d| d.unexplained.is_some()));
    // Places with a limit first.
    places.sort_by_key(|place| !p.limits.iter().any(|l| l.limit.place.as_deref() == *place));
    let (open, rest) = places.split_at(places.len().min(MOST_OPEN_PLACES));
    let of_place = |place: Option<&str>| spread_at(p, place, causes);
    html! {
        @for place in open { (of_place(*place)) }
        @if !rest.is_empty() {
            details {
                summary { "Spread of the figures of " (rest.len()) (if rest.len() == 1 { " more place" } else { " more places" }) }
                @for place in rest { (of_place(*place)) }
            }
        }
        (caption(causes))
    }
}

/// The figures of a place that differ.
fn spread_at(p: &Prediction, place: Option<&str>, causes: bool) -> Markup {
    let rows = p.figures.iter().filter(|row| row.place.as_deref() == place);
    let rows: Vec<_> = rows.filter_map(|row| Some((row, row.distribution.as_ref()?))).collect();
    html! {
        h3 { (capital(place.unwrap_or("the whole print"))) }
        (page::table(
            "",
            html! {
                th { "figure" } th { "unit" } th class="n" { "mean" } th class="n" { "SD" } th class="n" { "5 %" } th class="n" { "median" } th class="n" { "95 %" } th class="n" { "largest" }
                th class="n" { "holds 95 % of all prints, or as in brackets" } @if causes { th { "prints differ because of" } }
            },
            html! { @for (row, d) in &rows { (spread_of(p, row, d, causes)) } },
        ))
    }
}

fn spread_of(p: &Prediction, row: &FigureRow, d: &Distribution, causes: bool) -> Markup {
    let (value, unit) = shown(row, d);
    let extreme = row.kind.is_extreme();
    let t = d.tolerance;
    html! { tr {
        td { (capital(&numbers::label_at(row.kind, p.inputs.map.resolution))) }
        td { (unit) }
        td class="n" { @if extreme { "–" } @else { (numbers::figure(row.estimate.as_ref(), row.kind).below(&unit)) } }
        td class="n" { @if extreme { "–" } @else { (row.estimate.and_then(|e| e.sd).map_or_else(String::new, &value)) } }
        @for percentile in d.percentiles { td class="n" { (value(percentile)) } }
        td class="n" { (value(d.values.iter().copied().fold(0.0, f64::max))) }
        td class="n" {
            (value(t.interval[0])) " to " (value(t.interval[1])) @if !t.normal { "\u{2009}°" }
            @if holds_fewer(&t) { " (" (held(&t)) ")" }
        }
        @if causes { td { (main_cause(p, d)) } }
    } }
}

/// What the columns mean.
fn caption(causes: bool) -> Markup {
    html! {
        p class="note" {
            "After ±: 95 % interval of the mean. SD: standard deviation between prints; mean and SD are left out for extremes, which a single print can set. 5 %, median, 95 %: percentiles of the prints (Hyndman & Fan 1996, definition 8). "
            "Holds 95 % of all prints: tolerance interval that, with 95 % confidence, contains at least 95 % of all prints made with these settings. "
            "It rests on a normal law where only chance differs between prints, many particles contribute to the figure and the prints do not contradict it at 5 % (Anderson & Darling 1954). Otherwise, marked °, it lies between two of the ordered prints, whatever the law (Wilks 1941); that takes 93 prints, and with fewer the percentage in brackets says how many of all prints it holds. "
            @if causes {
                "Prints differ because of: shares of the variance of the ranks of the prints by regression (Iman & Conover 1979), with 95 % intervals by resampling the prints; an effect that changes direction within the drawn range counts as an interaction, except for the alignment. "
            }
            "Figures that are the same in every print are left out."
        }
    }
}

/// The main cause in a few words.
fn main_cause(p: &Prediction, d: &Distribution) -> String {
    match (d.explained.first(), d.unexplained) {
        (Some(first), Some(rest)) if first.share[1] > 0.0 && first.share[0] > rest[0] => {
            format!(
                "{}, {:.0}\u{a0}% ({})",
                first.input.label(&p.inputs.layers),
                first.share[0] * 100.0,
                direction(first)
            )
        }
        (_, Some(rest)) => format!("chance and interactions, {:.0}\u{a0}%", rest[0] * 100.0),
        _ => "–".into(),
    }
}
