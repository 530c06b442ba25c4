//! The best settings, ranked: room to drift, margin, cost.

use super::judged::Judged;
use crate::numbers::{duration, ink, share as percent, shares, significant};
use crate::page::table;
use crate::sweep::extra::Extra;
use crate::sweep::panel::setting;
use crate::sweep::rank::{Class, Drift, End, Ranked, SD_PER_AXIS, room};
use crate::sweep::space;
use crate::words::limit_name;
use maud::{Markup, html};
use motefall_figures::sweep::{PointStats, SweepResult};

/// The best settings.
pub(super) fn section(sweep: &Judged, extra: &Extra) -> Markup {
    html! {
        p {
            "Points that pass for certain in at least " (sweep.wanted()) " of their prints come first (lower end of the 95\u{a0}% interval), then those that probably do, then the rest. "
            "Within each group the more forgiving point ranks higher: each is judged by its most sensitive setting, or by its margin to a limit if that is tighter (" (setting(0.1 * SD_PER_AXIS)) " SD counts as a tenth of a setting's range)."
        }
        (table(
            "ranks",
            html! {
                th { "rank" } th { "point" }
                @for axis in &sweep.result.plan.axes { th { (space::label(axis)) } }
                th { "prints that pass" } th { "margin to the tightest limit" } th class="n" { "time" } th class="n" { "ink" }
            },
            html! { @for (i, ranked) in sweep.ranking.iter().enumerate() {
                @if let Some(stats) = sweep.stats(ranked) { (row(sweep, i, ranked, stats, extra)) }
            } },
        ))
        (caption(sweep))
    }
}

/// A point, its place in the ranking counted from 0.
fn row(sweep: &Judged, i: usize, ranked: &Ranked, stats: &PointStats, extra: &Extra) -> Markup {
    let point = &sweep.result.points[ranked.index];
    html! { tr class=(if i == 0 { "first" } else { "" }) {
        td { (i + 1) @if i == 0 { " ◎" } }
        td { (point.point) @if i == 0 && let Some(link) = &extra.best_report { br; a href=(link) { "report" } } }
        @for (axis, value) in point.values.iter().enumerate() {
            td class="set" {
                b { (setting(*value)) }
                @if let Some(Some(both)) = ranked.drifts.get(axis) { (drifts(sweep, ranked, axis, *value, both)) }
            }
        }
        td class="pass" {
            (stats.met) " of " (stats.prints) ": " b { (percent(ranked.share)) }
            span class="why" { (shares(ranked.interval)) br; (class_words(ranked.class)) }
        }
        td { (margin_words(sweep.result, stats)) }
        td class="n" { (duration(stats.print_time)) }
        td class="n" { (ink(stats.ink_used)) }
    } }
}

/// Room to drift of one setting, down and up.
fn drifts(sweep: &Judged, ranked: &Ranked, axis: usize, value: f64, both: &[Drift; 2]) -> Markup {
    let scaled = sweep.space.axes.iter().position(|a| a.axis == axis);
    let step = scaled.map_or(0.0, |k| sweep.space.axes[k].step);
    let is_tightest = |drift: &Drift| {
        room(drift, step).is_some_and(|here| ranked.rooms.first().is_some_and(|least| here <= least + 1e-9))
    };
    html! { @for (drift, (arrow, way)) in both.iter().zip([("↓", -1.0), ("↑", 1.0)]) {
        (drift_words(drift, value, arrow, is_tightest(drift), scaled.and_then(|k| sweep.space.next(ranked.index, k, way))))
    } }
}

/// What the table's columns mean.
fn caption(sweep: &Judged) -> Markup {
    html! {
        p class="caption" {
            @if sweep.ranking.iter().any(|r| r.class != Class::Below) {
                b { "Room to drift. " }
                "↓ ↑: how far this setting alone can drift down or up, the others as in the row, before fewer than " (sweep.wanted())
                " of the prints pass; in its unit and in percent of its value. It is read from the picture above, so between points it is an estimate"
                @if sweep.space.is_grid() { "; the next point and its pass probability follow it" }
                ". "
                "≥: the sweep ends there but the window does not, so there is at least this much room (in the ranking it counts as half a step more, at most a tenth of the axis, and not at all for settings with two values). ✕: beyond it the print cannot run. Underlined: the tightest in the row. "
            } @else { "No point reaches " (sweep.wanted()) ", so there is no room to drift. " }
            b { "Margin. " } "The limit that most prints of the point miss. If none misses any: the limit that is closest to the mean of its figure, in standard deviations (SD) between prints; at 2 SD about 2 prints in 100 miss it, if prints vary normally. Counts of a few particles and the farthest and largest particle do not, and have no such distance. In the ranking, missed prints count as the distance at which a normal figure would miss as often. "
            "Time and ink are for one print, moves included."
        }
    }
}

fn class_words(class: Class) -> &'static str {
    match class {
        Class::Sure => "enough for certain",
        Class::Likely => "probably enough",
        Class::Below => "too few",
    }
}

/// Room to drift; `next` is the next point of a grid on that side and its pass probability.
fn drift_words(drift: &Drift, value: f64, arrow: &str, tightest: bool, next: Option<(f64, Option<f64>)>) -> Markup {
    let relative = if value.abs() > 0.0 {
        format!(" ({}\u{a0}%)", significant(100.0 * drift.distance / value.abs(), 2))
    } else {
        String::new()
    };
    let least = if drift.end == End::Unknown { "≥\u{a0}" } else { "" };
    let end = if drift.end == End::CannotRun { " ✕" } else { "" };
    let text = if drift.end == End::Unknown && drift.scaled < 1e-9 {
        format!("{arrow}\u{a0}edge of the sweep")
    } else {
        format!("{arrow}\u{a0}{least}{}{relative}{end}", significant(drift.distance, 2))
    };
    let next = match next {
        Some((at, Some(share))) if drift.end == End::Fails => format!("; at {}: {}", setting(at), percent(share)),
        _ => String::new(),
    };
    html! { span class=(if tightest { "drift tight" } else { "drift" }) { (text) (next) } }
}

/// The tightest limit: how many prints miss it, else how far it is.
fn margin_words(result: &SweepResult, stats: &PointStats) -> Markup {
    let Some(tightest) = stats.tightest(&result.limits, &result.places) else { return html! { "–" } };
    let word = match tightest.sd {
        m if m < 0.0 => "beyond the limit",
        m if m < 1.0 => "barely inside",
        m if m < 2.0 => "narrow",
        m if m < 3.0 => "fair",
        _ => "wide",
    };
    html! {
        @if tightest.missed > 0 { (tightest.missed) " of " (stats.prints) " miss it" }
        @else { (significant(tightest.sd, 2)) "\u{a0}SD, " (word) }
        span class="why" { (limit_name(&result.limits[tightest.limit], result.resolution)) }
    }
}
