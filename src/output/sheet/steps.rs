//! The order of steps, with boxes to tick.

use super::contents::{Sheet, and_more, blank, heading, line_of, name};
use super::setting::UNVERIFIED;
use crate::numbers::{counted, duration, given, ink};
use maud::{Markup, html};
use motefall_figures::PrintFigure;
use motefall_figures::expected::Expected;
use motefall_physics::inputs::{Layer, Shape};
use motefall_physics::path::motion::Timeline;
use motefall_physics::units::celsius;

/// Longest name of a layer, characters.
const LONGEST_LAYER: usize = 20;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let mut steps = vec![
        html! { b { "Safety first." } " Data sheets, cautions read; extraction, gloves on" },
        html! { "Ink shaken, then stirred or sonicated: nothing left on the bottom" },
    ];
    for (number, layer) in sheet.layers() {
        match number {
            0 => steps.extend(first_layer(sheet, layer)),
            _ => steps.extend(next_layer(sheet, number, layer)),
        }
    }
    if sheet.more_layers() > 0 {
        steps.push(html! { "The same for further layers: " (and_more(sheet.more_layers(), "check")) });
    }
    steps.push(html! { "Shutter closed; mist off; carrier off, then sheath; heaters off" });
    steps.push(html! { "Chip into its box; strays looked for. " (blank("Note")) });
    html! {
        (heading("Order of steps", "common practice, no source; the values are those of the scenario"))
        ol class="steps" { @for step in &steps { li { (step) } } }
    }
}

fn first_layer(sheet: &Sheet<'_>, layer: &Layer) -> Vec<Markup> {
    let ink_used = sheet.expected.figures.iter().find(|row| row.kind.figure == PrintFigure::InkPerChip.into());
    let mut steps = vec![
        html! {
            "Vial filled" (of_layer(sheet, ": ", 0))
            @if let Some(value) = ink_used.and_then(|row| row.value.as_ref()) { " (" (ink(value.mean)) " a chip, warm-up included)" }
            ". " (blank("Weighs"))
        },
        html! { "Gas on, no leak: " (gas(layer)) },
        html! { "Stand-off " (stand_off(layer)) " set and measured; nozzle tip clean" },
        html! { (mist(sheet, 0, layer)) ". " (blank("On at")) },
    ];
    if let Some(line) = sheet.test_lines.first() {
        steps.push(html! { b { "Test line" } (test_line(line)) });
        steps.push(match sheet.is_calibrated() {
            true => html! { "Measured, within the range below? If not: " b { "Out of range" } },
            false => html! { "Measured, written below; calibrated? If far off: " b { "Out of range" } },
        });
    }
    steps.push(html! { "Chip on, aligned to its marks in x, y and angle" });
    steps.extend(sheet.timelines.first().map(|timeline| print(sheet, 0, timeline)));
    steps
}

/// What changes from one layer to the next.
fn next_layer(sheet: &Sheet<'_>, number: usize, layer: &Layer) -> Vec<Markup> {
    let mut steps = vec![
        html! { "Mist off; pause " b { (given(layer.pause)) "\u{a0}s" } "; vial" (of_layer(sheet, " ", number)) "; " (gas(layer)) },
        html! { (mist(sheet, number, layer)) "; stand-off " (stand_off(layer)) },
    ];
    if let Some(line) = sheet.test_lines.get(number) {
        steps.push(html! { "Chip aside; " b { "test line" } (test_line(line)) "; measured" (if sheet.is_calibrated() { ", within the range?" } else { "." }) " Chip back, aligned" });
    }
    steps.extend(sheet.timelines.get(number).map(|timeline| print(sheet, number, timeline)));
    steps
}

fn of_layer(sheet: &Sheet<'_>, before: &str, number: usize) -> Markup {
    let called = sheet.called(number, LONGEST_LAYER);
    html! { @if !called.is_empty() { (before) b { (called) } } }
}

fn gas(layer: &Layer) -> Markup {
    let [sheath, carrier] = [layer.flows.sheath, layer.flows.carrier].map(|flow| given(flow.sccm()));
    html! {
        "sheath " b { (sheath) "\u{a0}sccm" } ", carrier " b { (carrier) "\u{a0}sccm" }
        "; chip " b { (given(celsius(layer.landing.chip_temperature))) "\u{a0}°C" }
    }
}

fn mist(sheet: &Sheet<'_>, number: usize, layer: &Layer) -> Markup {
    html! {
        "Mist on, shutter closed; wait " b { (given(layer.output.warm_up)) "\u{a0}s" }
        @if sheet.inputs().is_unverified(number, "output.warm_up_s") { " " (UNVERIFIED) }
    }
}

fn stand_off(layer: &Layer) -> Markup {
    html! { b { (given(layer.flight.stand_off * 1e3)) "\u{a0}mm" } }
}

/// What is printed to see whether the bench is as expected.
fn test_line(line: &Expected) -> Markup {
    let (layer, item) = line_of(line);
    html! {
        " on a bare wafer at " (given(celsius(layer.landing.chip_temperature))) "\u{a0}°C: " (given(way(&item.shape) * 1e3)) "\u{a0}mm, "
        (given(item.speed * 1e3)) "\u{a0}mm/s, " (passes(item.passes))
    }
}

fn way(shape: &Shape) -> f64 {
    match shape {
        Shape::Polyline(points) => points.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum(),
        _ => 0.0,
    }
}

fn passes(count: u32) -> String {
    counted(count.into(), "pass", "passes")
}

fn print(sheet: &Sheet<'_>, number: usize, timeline: &Timeline) -> Markup {
    let path = &sheet.inputs().layers[number].path;
    html! {
        b { "Print" } (of_layer(sheet, " ", number)) ": "
        @if let [only] = &path[..] { (name(&only.name)) ", " (passes(only.passes)) } @else { (path.len()) " items in order" }
        ", " (duration(timeline.duration)) ". " (blank("At"))
    }
}
