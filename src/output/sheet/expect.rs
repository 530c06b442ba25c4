//! What the test line and the print should be.

use super::contents::{Sheet, and_more, blank, cut, heading, line_of};
use crate::expected::{about_share, between_prints, known_to, row_of, scale, shown, why_only_prints, without_chance};
use crate::numbers::{at_precision, mean, share};
use crate::terminal::is_mean_told;
use crate::words::{limit_name, limit_words};
use maud::{Markup, html};
use motefall_figures::expected::{Expected, ExpectedRow};
use motefall_figures::{ExpectedValue, ItemFigure, kinds};
use motefall_physics::inputs::Limit;

/// What is measured on a test line.
const OF_LINE: [ItemFigure; 3] = [ItemFigure::EdgeWidth, ItemFigure::LineWidth, ItemFigure::PeakThickness];
/// Most limits of a print of one layer that are listed, and most figures without one.
const MOST_LIMITS: usize = 7;
const MOST_OTHERS: usize = 7;
/// Longest name of a figure at its place, characters.
const LONGEST_FIGURE: usize = 44;
/// Longest name of a layer, characters.
const LONGEST_LAYER: usize = 16;
/// Standard deviations on each side of the mean within which lines are accepted, or repeat.
const ACCEPTED: f64 = 2.0;
/// Stands where chance within a print is not counted.
const NO_CHANCE: &str = "*";
/// Most varied inputs that are named.
const MOST_CAUSES: usize = 3;
/// Least share of a cause that is named.
const LEAST_CAUSE: f64 = 0.05;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    html! {
        (heading("What to expect", "± standard deviation between prints; in brackets what the arithmetic is known to, where it shows"))
        (test_lines(sheet))
        p class="note" {
            @if sheet.more_layers() > 0 { "Layers: " (and_more(sheet.more_layers(), "predict --expected")) ". " }
            (column(sheet).1) ": expected ± 2 standard deviations between prints and of the arithmetic"
            @if sheet.is_calibrated() { ", what the calibration leaves unknown counted" }
            "; " (NO_CHANCE) " leaves chance within a print aside. " (causes(sheet))
            @if sheet.inputs().spread.is_empty() {
                " The scenario has no [spread]: real prints differ more than these ranges say."
            }
            @if !sheet.is_calibrated() {
                " " b { "Not calibrated:" } " so far lines of this setting differ among themselves, but no width is known better than to a factor of two or three before a test line is printed. Measure some, run "
                code { "motefall calibrate" } " and make this sheet anew."
            }
        }
        (print(sheet))
    }
}

/// What the ranges are called, as a heading and in a sentence: nothing can be accepted by a model that no line has been held against.
fn column(sheet: &Sheet<'_>) -> (&'static str, &'static str) {
    if sheet.is_calibrated() { ("accept", "Accept") } else { ("repeats", "Repeats") }
}

/// A figure of a test line.
fn of_line(line: &Expected, figure: ItemFigure) -> Option<(&ExpectedRow, &ExpectedValue)> {
    let (_, item) = line_of(line);
    let at = |row: &&ExpectedRow| row.kind.figure == figure.into() && row.place.as_ref() == Some(&item.name);
    let row = line.figures.iter().find(at)?;
    Some((row, row.value.as_ref()?))
}

/// The lines, each with places for what was measured.
fn test_lines(sheet: &Sheet<'_>) -> Markup {
    html! {
        table class="lines" {
            thead {
                tr { th rowspan="2" { "test line" } @for figure in OF_LINE { th class="group" colspan="3" { (figure.kind().label) ", " (figure.kind().unit) } } }
                tr { @for _ in OF_LINE { th class="group" { "expected" } th { (column(sheet).0) } th { "measured" } } }
            }
            tbody { @for (number, line) in sheet.test_lines.iter().enumerate() {
                @let called = sheet.called(number, LONGEST_LAYER);
                tr {
                    td { @if called.is_empty() { (line_of(line).1.name) } @else { (called) } }
                    @for figure in OF_LINE { @match of_line(line, figure) {
                        Some((row, value)) => {
                            td class="group" { (alone(row, value)) " " (spread(row, value)) } td { b { (accepted(row, value)) } } td { (blank("")) }
                        }
                        None => { td class="group" { "takes prints" } td {} td { (blank("")) } }
                    } }
                }
            } }
        }
    }
}

/// A mean below its unit.
fn alone(row: &ExpectedRow, value: &ExpectedValue) -> String {
    mean(value.mean, row.kind).below(row.kind.unit)
}

/// How prints scatter, and in brackets the error of the arithmetic where it shows.
fn spread(row: &ExpectedRow, value: &ExpectedValue) -> String {
    let error = known_to(row, value).map(|error| format!("({error})"));
    let sign = value.sd().is_none().then(|| NO_CHANCE.to_owned());
    between_prints(row, value).into_iter().chain(sign).chain(error).collect::<Vec<_>>().join(" ")
}

/// The range that a test line should lie in.
fn accepted(row: &ExpectedRow, value: &ExpectedValue) -> String {
    let scale = scale(row, value);
    let half = ACCEPTED * value.sd().unwrap_or_else(|| without_chance(value)).hypot(value.error) * scale;
    let mean = value.mean * scale;
    let [low, high] = [(mean - half).max(0.0), mean + half].map(|end| at_precision(end, 0.2 * half));
    format!("{low} to {high}")
}

/// Which varied inputs move the width of the first test line most.
fn causes(sheet: &Sheet<'_>) -> Markup {
    let width = |row: &&ExpectedRow| row.kind.figure == ItemFigure::EdgeWidth.into();
    let value = sheet.test_lines.first().and_then(|line| line.figures.iter().find(width)?.value.as_ref());
    let mut causes: Vec<(String, f64)> = vec![];
    if let Some(value) = value.filter(|value| value.from_inputs > 0.0) {
        let all = value.from_inputs * value.from_inputs;
        let layers = &sheet.test_lines[0].inputs.layers;
        causes = value.by_input.iter().map(|own| (own.input.label(layers), own.variance / all)).collect();
    }
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    causes.retain(|cause| cause.1 >= LEAST_CAUSE);
    causes.truncate(MOST_CAUSES);
    html! { @if !causes.is_empty() {
        "What differs between prints moves the width from edge to edge most by "
        @for (number, (cause, part)) in causes.iter().enumerate() { @if number > 0 { ", " } (cause) " (" (share(*part)) ")" }
        "."
    } }
}

/// The print's figures: those with a limit, and others.
fn print(sheet: &Sheet<'_>) -> Markup {
    let e = sheet.expected;
    let most = sheet.room(MOST_LIMITS);
    let limits = &e.inputs.acceptance.limits;
    html! {
        @if !limits.is_empty() {
            table class="limits" {
                thead { tr {
                    th { "the print, limits" } th class="n" { "expected" } th class="n" { "between prints" } th class="n" { "limit" }
                    th class="n" { "prints within" }
                } }
                tbody { @for limit in limits.iter().take(most) { (limit_row(e, limit)) } }
            }
            (and_more(limits.len().saturating_sub(most), "predict --expected"))
        }
        (other_figures(e, sheet.room(MOST_OTHERS)))
        @if let Some(why) = e.only_prints {
            p class="note" { "Only prints tell figures of the print: " (why_only_prints(why)) ". They take motefall predict." }
        }
    }
}

fn limit_row(e: &Expected, limit: &Limit) -> Markup {
    let row = row_of(e, limit);
    let known = row.and_then(|row| Some((row, row.value.as_ref()?)));
    html! { tr {
        td { (cut(&limit_name(limit, None), LONGEST_FIGURE)) }
        @match known {
            Some((row, value)) => { td class="n" { (shown(row, value)) } td class="n" { (spread(row, value)) } }
            None => { td class="n" { "takes prints" } td {} }
        }
        td class="n" { (limit_words(limit)) }
        td class="n" { (about_share(limit, row)) }
    } }
}

/// Figures without a limit, one behind the other.
fn other_figures(e: &Expected, most: usize) -> Markup {
    let others = others(e);
    html! { @if !others.is_empty() { p class="note" {
        "Other figures of the print: "
        @for (what, row, value) in others.iter().take(most) {
            @let spread = spread(row, value);
            (cut(what, LONGEST_FIGURE)) " " b { (shown(row, value)) } @if !spread.is_empty() { " " (spread) } "; "
        }
        (and_more(others.len().saturating_sub(most), "predict --expected"))
    } } }
}

/// Figures without a limit that the terminal tells, those seen under a microscope first; no probabilities, which one print does not show.
fn others(e: &Expected) -> Vec<(String, &ExpectedRow, &ExpectedValue)> {
    let rank = |row: &ExpectedRow| match row.kind.figure {
        kinds::Figure::Item(ItemFigure::EdgeWidth) => 0,
        kinds::Figure::Region(_) => 1,
        kinds::Figure::Print(_) => 2,
        kinds::Figure::Item(_) => 3,
    };
    let asked = |row: &&ExpectedRow| !row.kind.is_share_of_prints() && is_mean_told(e, row);
    let named = |row: &ExpectedRow| {
        let label = row.kind.label;
        row.place.as_ref().map_or(label.to_owned(), |place| format!("{label}, {place}"))
    };
    let mut rows: Vec<&ExpectedRow> = e.figures.iter().filter(asked).collect();
    rows.sort_by_key(|row| rank(row));
    let known = |row: &&'_ ExpectedRow| row.value.as_ref().is_some_and(|value| value.mean > 0.0);
    rows.into_iter().filter(known).filter_map(|row| Some((named(row), row, row.value.as_ref()?))).collect()
}
