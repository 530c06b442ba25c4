//! The page of a calibration: how well the lines are met, what was learnt, what they do not tell.

use crate::calibration::{
    agreement_words, correlation, distance, intervals, narrower, nothing_further, now_over_before, sentences, three,
};
use crate::page::{Decision, Page, key, note, table, verdict};
use crate::plot::escape;
use crate::words::capital;
use maud::{Markup, PreEscaped, html};
use motefall_figures::calibration::{Agreement, Calibration, FittedValue, Learnt, RankedBy};
use std::fmt::Write;

/// Drawings: width, height of a row, and where the scale begins and ends.
const WIDTH: f64 = 620.0;
const ROW: f64 = 19.0;
const SCALE: [f64; 2] = [330.0, 600.0];
/// Height of the ticks' numbers and of the words below them.
const FOOT: f64 = 44.0;
/// Standard deviations at the ends of the scale.
const MOST: f64 = 4.0;
/// Standard deviate of 95 %.
const OF_95: f64 = 1.96;

/// Pictures beside each other where there is room; marks that are seen on the band and on each other.
const STYLE: &str = ".told { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(520px, 100%), 1fr)); gap: 22px; \
                     align-items: start; margin-top: 18px; } \
                     .told .ring { stroke: var(--ink); stroke-width: 1.3; fill: none; } \
                     .told .cross { stroke: var(--ink); stroke-width: 1.7; fill: none; } \
                     .told .name { font-size: 12px; fill: var(--ink); }";

/// The page as text.
pub(crate) fn page(calibration: &Calibration) -> String {
    let agreement = calibration.agreement();
    let decision = match agreement {
        Agreement::Untested => Decision::Open,
        Agreement::Fits => Decision::Yes,
        Agreement::FitsPoorly | Agreement::DoesNotFit => Decision::No,
    };
    let rest = html! { @for sentence in sentences(calibration) { (sentence) " " } };
    let body = html! {
        (verdict(decision, agreement_words(agreement), rest))
        div class="told" {
            figure {
                (PreEscaped(off(&calibration.values)))
                figcaption {
                    b { "How far each measured value is off. " }
                    "● from the calibrated model; ○ from the scenario as it stands, at the edge if farther; × from a model that was fitted without \
                     this line. 95 % of filled dots belong into the grey band. "
                    @if calibration.values.iter().any(|value| value.is_held_out) { "Names in brackets: lines kept for judging." }
                }
            }
            figure {
                (PreEscaped(learnt(&calibration.unknowns)))
                figcaption {
                    b { "What was learnt. " }
                    "Pale: where each unknown was thought to lie with 95 % before; dark: where it lies now; the dot is its median. Each bar has a \
                     scale of its own, from the least to the largest of both."
                }
            }
        }
        h2 id="unknowns" { "Unknowns" }
        (unknowns(calibration))
        (note("Now / before: how wide the interval of 95 % is now, as a part of what it was before any line was measured."))
        @if calibration.unknowns.len() > 1 {
            h3 { "What goes together" }
            p class="note" { "Correlations as now known: near −1 or 1, the lines tell the two together better than each alone." }
            (correlations(calibration))
        }
        (list("untold", "What these lines do not tell", &calibration.untold))
        h2 id="further" { "Which further line would teach most" }
        @if calibration.further.is_empty() { p { (nothing_further(calibration)) } } @else { (further(calibration)) }
        h2 id="lines" { "Lines" }
        (lines(calibration))
        (note("± is one standard deviation: of a measured value its own; of a calibrated one all that is uncertain in comparing the two. Off by: \
               measured less calibrated in that unit; left out: the same with the line left out of the fit."))
        (list("remarks", "Remarks", &calibration.remarks))
    };
    let foot = html! { " · predictions take it: motefall predict FILE --calibration calibration.toml. Files beside this one: calibration.toml, lines.csv." };
    let title = format!("Calibration: {}", calibration.scenario);
    Page { title: &title, note: "", style: STYLE, body, foot }.html()
}

fn further(calibration: &Calibration) -> Markup {
    let for_print = calibration.ranked_by == RankedBy::Print;
    html! {
        (table(
            "",
            html! {
                th { "line" } @if for_print { th class="n" { "what is unknown of your print" } }
                th class="n" { "all unknowns, on average" } th { "one of them most" } th class="n" { "by" }
            },
            html! { @for further in &calibration.further { tr {
                td { (capital(&further.line)) }
                @if for_print { td class="n" { @if let Some(of_print) = further.of_print { (narrower(of_print)) } } }
                td class="n" { (narrower(further.narrows)) }
                td { (further.most.0) } td class="n" { (narrower(further.most.1)) }
            } } },
        ))
        (note("By how much each would narrow them: 50 % leaves half of the width. Estimated about what is now known, from lines that are as \
               uncertain as those measured."))
    }
}

fn list(id: &str, head: &str, items: &[String]) -> Markup {
    html! {
        @if !items.is_empty() {
            h2 id=(id) { (head) }
            ul { @for item in items { li { (item) } } }
        }
    }
}

/// Place on the scale of standard deviations.
fn at(distance: f64) -> f64 {
    let share = (distance.clamp(-MOST, MOST) + MOST) / (2.0 * MOST);
    SCALE[0] + share * (SCALE[1] - SCALE[0])
}

/// A drawing that is begun: its size, and what it shows.
fn begin(rows: usize, foot: f64, what: &str) -> String {
    let height = ROW * rows as f64 + foot;
    format!(r#"<svg class="plot prints" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{}">"#, escape(what))
}

fn off(values: &[FittedValue]) -> String {
    let mut out = begin(values.len(), FOOT, "Distance of each measured value from the model");
    let bottom = ROW * values.len() as f64 + 4.0;
    let _ = write!(
        out,
        r#"<rect class="band" x="{:.1}" y="4" width="{:.1}" height="{:.1}"/>"#,
        at(-OF_95),
        at(OF_95) - at(-OF_95),
        bottom - 4.0
    );
    for mark in [-4, -2, 0, 2, 4] {
        let x = at(f64::from(mark));
        let _ = write!(
            out,
            r#"<path class="grid" d="M{x:.1} 4V{bottom:.1}"/><text class="tick" x="{x:.1}" y="{:.1}" text-anchor="middle">{}{}</text>"#,
            bottom + 16.0,
            if mark < 0 { "−" } else { "" },
            i32::abs(mark)
        );
    }
    let _ = write!(
        out,
        r#"<text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">measured less modelled, standard deviations</text>"#,
        at(0.0),
        bottom + 33.0
    );
    for (row, value) in values.iter().enumerate() {
        let y = 4.0 + ROW * (row as f64 + 0.5);
        let name = format!("{}, {}", value.line, value.quantity.label);
        let shown = if value.is_held_out { format!("({name})") } else { name };
        let before = (value.measured[0] - value.before) / value.after[1];
        let [measured, as_set, calibrated] = three(value);
        let words = escape(&format!(
            "{shown}: measured {measured} {unit}, as set {as_set}, calibrated {calibrated}",
            unit = value.quantity.unit
        ));
        let _ = write!(
            out,
            r#"<g><title>{words}</title><text class="name" x="0" y="{:.1}">{}</text>"#,
            y + 4.0,
            escape(&cut(&shown))
        );
        let _ = write!(out, r#"<circle class="ring" cx="{:.1}" cy="{y:.1}" r="4"/>"#, at(before));
        let _ = write!(out, r#"<circle class="most" cx="{:.1}" cy="{y:.1}" r="4.5"/>"#, at(value.distance));
        if let Some(left_out) = value.left_out {
            let x = at(left_out);
            let _ = write!(out, r#"<path class="cross" d="M{:.1} {:.1}l8 8m0 -8l-8 8"/>"#, x - 4.0, y - 4.0);
        }
        out += "</g>";
    }
    out + "</svg>"
}

/// A name that fits beside the scale.
fn cut(name: &str) -> String {
    const MOST_LETTERS: usize = 52;
    match name.char_indices().nth(MOST_LETTERS) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name.to_owned(),
    }
}

fn learnt(unknowns: &[Learnt]) -> String {
    let rows = 2 * unknowns.len();
    let mut out = begin(rows, 10.0, "Intervals of the unknowns before and after");
    for (row, learnt) in unknowns.iter().enumerate() {
        let y = 4.0 + ROW * (2.0 * row as f64 + 0.8);
        let ends = [learnt.before[1].min(learnt.after[1]), learnt.before[2].max(learnt.after[2])];
        let is_log = ends[0] > 0.0 && ends[1] > 2.0 * ends[0];
        let scaled = |value: f64| if is_log { value.ln() } else { value };
        let place = |value: f64| {
            let share = (scaled(value) - scaled(ends[0])) / (scaled(ends[1]) - scaled(ends[0])).max(f64::MIN_POSITIVE);
            SCALE[0] + share * (SCALE[1] - SCALE[0])
        };
        let [before, after] = intervals(learnt);
        let bar = |[_, low, high]: [f64; 3], thick: f64, class: &str| {
            format!(
                r#"<rect class="{class}" x="{:.1}" y="{:.1}" width="{:.1}" height="{thick}"/>"#,
                place(low),
                y - 0.5 * thick,
                (place(high) - place(low)).max(1.0)
            )
        };
        let _ = write!(
            out,
            r#"<g><title>{}: before {}, now {}</title><text class="name" x="0" y="{:.1}">{}</text><text class="tick" x="{}" y="{:.1}">{}</text>{}{}<circle class="middle" cx="{:.1}" cy="{y:.1}" r="3"/></g>"#,
            escape(&learnt.name),
            escape(&before),
            escape(&after),
            y + 4.0,
            escape(&learnt.name),
            SCALE[0],
            y + 20.0,
            escape(&after),
            bar(learnt.before, 12.0, "band"),
            bar(learnt.after, 6.0, "most"),
            place(learnt.after[0]),
        );
    }
    out + "</svg>"
}

fn unknowns(calibration: &Calibration) -> Markup {
    table(
        "",
        html! { th { "unknown" } th { "thought before (95 %)" } th { "now (95 %)" } th class="n" { "now / before" } },
        html! { @for learnt in &calibration.unknowns {
            @let [before, after] = intervals(learnt);
            tr {
                td { (capital(&learnt.name)) span class="why" { (key(&learnt.key)) } }
                td { (before) } td { (after) } td class="n" { (now_over_before(learnt)) }
            }
        } },
    )
}

fn correlations(calibration: &Calibration) -> Markup {
    let count = calibration.unknowns.len();
    table(
        "matrix",
        html! { th { "unknown" } @for j in 1..count { th class="n" { (j) } } },
        html! { @for (i, learnt) in calibration.unknowns.iter().enumerate() {
            tr {
                td { (i + 1) " " (learnt.name) }
                @for j in 0..count - 1 { td class="n" { @if j < i { (correlation(calibration.correlations[i][j])) } } }
            }
        } },
    )
}

fn lines(calibration: &Calibration) -> Markup {
    table(
        "",
        html! {
            th { "line" } th { "quantity" } th class="n" { "measured" } th class="n" { "as set" } th class="n" { "calibrated" }
            th class="n" { "off by" } th class="n" { "left out" }
        },
        html! { @for value in &calibration.values {
            @let [measured, before, after] = three(value);
            tr {
                td { (value.line) @if value.is_held_out { " (held out)" } }
                td { (value.quantity.label) @if !value.quantity.unit.is_empty() { ", " (value.quantity.unit) } }
                td class="n" { (measured) } td class="n" { (before) } td class="n" { (after) }
                td class="n" { (distance(value.distance)) }
                td class="n" { @if let Some(left_out) = value.left_out { (distance(left_out)) } }
            }
        } },
    )
}
