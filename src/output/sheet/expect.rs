//! What the test line and the print should be.

use super::contents::{Sheet, and_more, blank, cut, heading, line_of};
use crate::expected::{about_share, between_prints, known_to, row_of, scale, shown, why_only_prints, without_chance};
use crate::numbers::{at_precision, label_at, share};
use crate::terminal::is_mean_told;
use crate::words::{limit_name, limit_words};
use maud::{Markup, html};
use motefall_figures::expected::{Expected, ExpectedRow};
use motefall_figures::{ExpectedValue, ItemFigure};
use motefall_physics::inputs::Limit;

/// What is measured on a test line.
const OF_LINE: [ItemFigure; 3] = [ItemFigure::EdgeWidth, ItemFigure::LineWidth, ItemFigure::PeakThickness];
/// Most figures of the print that are listed.
const MOST_FIGURES: usize = 9;
/// Longest name of a figure at its place, characters.
const LONGEST_FIGURE: usize = 58;
/// Standard deviations on each side of the mean that are accepted.
const ACCEPTED: f64 = 2.0;
/// Most varied inputs that are named.
const MOST_CAUSES: usize = 3;
/// Least share of a cause that is named.
const LEAST_CAUSE: f64 = 0.05;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    html! {
        (heading("What to expect", "± standard deviation between prints"))
        (test_lines(sheet))
        p class="note" {
            "Accept: expected ± 2 standard deviations between prints and of the arithmetic's error"
            @if sheet.is_calibrated() { ", what the calibration leaves unknown counted" }
            ". " (causes(sheet))
            @if sheet.inputs().spread.is_empty() {
                " The scenario has no [spread]: only chance and mist noise are counted, so that real prints differ more."
            }
        }
        @if !sheet.is_calibrated() {
            p class="note" {
                b { "Not calibrated" } ": no width is known better than to a factor of two or three before a test line is printed. If the first is out of range, measure it, run "
                code { "motefall calibrate" } " and make this sheet anew."
            }
        }
        (print(sheet))
    }
}

/// The lines, each with a place for what was measured.
fn test_lines(sheet: &Sheet<'_>) -> Markup {
    html! {
        table class="lines" {
            thead { tr {
                th { "test line" } th class="n" { "expected" } th class="n" { "between prints" } th class="n" { "accept" }
                th class="n" { "measured" }
            } }
            tbody { @for line in sheet.test_lines {
                @for figure in OF_LINE { (line_row(line, figure)) }
            } }
        }
        (and_more(sheet.more_layers(), "predict --expected"))
    }
}

fn line_row(line: &Expected, figure: ItemFigure) -> Markup {
    let (layer, item) = line_of(line);
    let at = |row: &&ExpectedRow| row.kind.figure == figure.into() && row.place.as_ref() == Some(&item.name);
    let row = line.figures.iter().find(at);
    let known = row.and_then(|row| Some((row, row.value.as_ref()?)));
    html! { tr {
        td { @if !layer.name.is_empty() { (cut(&layer.name, 14)) ": " } (figure.kind().label) }
        @match known {
            Some((row, value)) => {
                td class="n" { (shown(row, value)) }
                td class="n" { (spread(row, value)) }
                td class="n" { b { (accepted(row, value)) } }
            }
            None => { td class="n" { "takes prints" } td {} td {} }
        }
        td class="n" { (blank("")) }
    } }
}

/// How prints scatter, and the error of the arithmetic where it shows.
fn spread(row: &ExpectedRow, value: &ExpectedValue) -> String {
    let between = Some(between_prints(row, value)).filter(|words| !words.is_empty());
    between.into_iter().chain(known_to(row, value)).collect::<Vec<_>>().join(", ")
}

/// The range that a test line should lie in.
fn accepted(row: &ExpectedRow, value: &ExpectedValue) -> String {
    let scale = scale(row, value);
    let half = ACCEPTED * value.sd().unwrap_or_else(|| without_chance(value)).hypot(value.error) * scale;
    let mean = value.mean * scale;
    let [low, high] = [(mean - half).max(0.0), mean + half].map(|end| at_precision(end, half));
    format!("{low} to {high}\u{a0}{}", row.kind.unit)
}

/// Which varied inputs move the width of the first test line most.
fn causes(sheet: &Sheet<'_>) -> Markup {
    let width = |row: &&ExpectedRow| row.kind.figure == ItemFigure::EdgeWidth.into();
    let value = sheet.test_lines.first().and_then(|line| line.figures.iter().find(width)?.value.as_ref());
    let mut causes: Vec<(String, f64)> = vec![];
    if let Some(value) = value.filter(|value| value.from_inputs > 0.0) {
        let all = value.from_inputs * value.from_inputs;
        let layers = &sheet.test_lines[0].inputs.layers;
        causes = value.variances.iter().map(|(input, variance)| (input.label(layers), variance / all)).collect();
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

/// A figure of the print, with its limit if there is one.
struct Line<'a> {
    what: String,
    row: Option<&'a ExpectedRow>,
    limit: Option<&'a Limit>,
}

impl Line<'_> {
    fn cells(&self) -> Markup {
        let known = self.row.and_then(|row| Some((row, row.value.as_ref()?)));
        html! { tr {
            td { (cut(&self.what, LONGEST_FIGURE)) }
            @match known {
                Some((row, value)) => { td class="n" { (shown(row, value)) } td class="n" { (spread(row, value)) } }
                None => { td class="n" { "takes prints" } td {} }
            }
            td class="n" { @if let Some(limit) = self.limit { (limit_words(limit)) } }
            td class="n" { @if let Some(limit) = self.limit { (about_share(limit, self.row)) } }
        } }
    }
}

/// Figures with a limit first, then others that the terminal tells.
fn lines<'a>(e: &'a Expected) -> Vec<Line<'a>> {
    let resolution = e.inputs.map.resolution;
    let limited = e.inputs.acceptance.limits.iter().map(|limit| Line {
        what: limit_name(limit, Some(resolution)),
        row: row_of(e, limit),
        limit: Some(limit),
    });
    let told = e.figures.iter().filter(|row| row.value.is_some() && is_mean_told(e, row)).map(|row| {
        let label = label_at(row.kind, resolution);
        Line { what: row.place.as_ref().map_or(label.clone(), |place| format!("{label}, {place}")), row: Some(row), limit: None }
    });
    limited.chain(told).collect()
}

fn print(sheet: &Sheet<'_>) -> Markup {
    let e = sheet.expected;
    let lines = lines(e);
    html! {
        table {
            thead { tr {
                th { "the print" } th class="n" { "expected" } th class="n" { "between prints" } th class="n" { "limit" } th class="n" { "of prints meet it" }
            } }
            tbody { @for line in lines.iter().take(MOST_FIGURES) { (line.cells()) } }
        }
        (and_more(lines.len().saturating_sub(MOST_FIGURES), "predict --expected"))
        @if let Some(why) = e.only_prints { p class="note" { "Only prints tell figures of the print: " (why_only_prints(why)) ". They take motefall predict." } }
    }
}
