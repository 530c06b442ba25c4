//! Points that could not run, and cautions about the others.

use super::judged::{Judged, first_points};
use crate::numbers::counted;
use crate::page::{note, table};
use maud::{Markup, html};
use motefall_figures::CautionKind;
use std::collections::BTreeMap;

/// Text with its numbers taken out, so that reasons that differ by a value only fall together.
fn without_numbers(text: &str) -> String {
    let mut out = String::new();
    let mut in_number = false;
    for c in text.chars() {
        let digit = c.is_ascii_digit() || (in_number && matches!(c, '.' | 'e'));
        if digit && !in_number {
            out.push('#');
        } else if !digit {
            out.push(c);
        }
        in_number = digit;
    }
    out
}

pub(super) fn could_not_run(sweep: &Judged) -> Markup {
    let mut groups: BTreeMap<String, (String, Vec<u64>)> = BTreeMap::new();
    for point in &sweep.result.points {
        let why = match &point.outcome {
            Err(why) => why.clone(),
            Ok(stats) if stats.prints == 0 => "no print was made".into(),
            Ok(_) => continue,
        };
        groups.entry(without_numbers(&why)).or_insert_with(|| (why, vec![])).1.push(point.point);
    }
    if groups.is_empty() {
        return note("None: every point ran.");
    }
    let mut groups: Vec<(String, Vec<u64>)> = groups.into_values().collect();
    groups.sort_by(|a, b| b.1.len().cmp(&a.1.len()).then(a.1.cmp(&b.1)));
    html! {
        p { (counted(sweep.failed() as u64, "point", "points")) " of " (sweep.result.points.len()) " could not run. Their settings and reasons are in " code { "sweep.csv" } ", column " code { "cannot_run" } "." }
        (table("",
            html! { th class="n" { "points" } th { "reason (of the first)" } th { "which" } },
            html! { @for (why, points) in &groups { tr {
                td class="n" { (points.len()) } td { (why) } td { (first_points(points)) }
            } } },
        ))
    }
}

pub(super) fn cautions(sweep: &Judged) -> Markup {
    let mut groups: BTreeMap<&str, (CautionKind, Vec<u64>)> = BTreeMap::new();
    for point in &sweep.result.points {
        if let Ok(stats) = &point.outcome {
            for kind in &stats.cautions {
                groups.entry(kind.id()).or_insert((*kind, vec![])).1.push(point.point);
            }
        }
    }
    if groups.is_empty() {
        return note("None apply to these points.");
    }
    // The more points the sooner, then by identifier.
    let mut groups: Vec<(CautionKind, Vec<u64>)> = groups.into_values().collect();
    groups.sort_by_key(|(_, points)| std::cmp::Reverse(points.len()));
    let all = sweep.ran().count();
    let best = sweep.best().map(|b| sweep.number_of(b.index));
    html! {
        (table("",
            html! { th { "caution" } th { "points" } th { (sweep.best_word()) " point" } },
            html! { @for (kind, points) in &groups { tr {
                td { (kind.words()) }
                td { @if points.len() == all { "all" } @else { (points.len()) " of " (all) ": " (first_points(points)) } }
                td { (if best.is_some_and(|b| points.contains(&b)) { "applies" } else { "–" }) }
            } } },
        ))
        p class="caption" { "Short forms; the report of a single print at the setting gives the full text with numbers. Safety cautions about the ink apply to every point." }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_that_differ_by_a_number_fall_together() {
        assert_eq!(without_numbers("Mach 0.97 at 12.5e3 Pa"), without_numbers("Mach 1.2 at 9 Pa"));
        assert_ne!(without_numbers("Mach 0.97"), without_numbers("bore 0.97"));
    }
}
