//! The order of steps, with boxes to tick.

use super::contents::{Sheet, and_more, blank, heading, line_of, name};
use super::setting::UNVERIFIED;
use crate::numbers::{duration, given, ink};
use maud::{Markup, html};
use motefall_figures::PrintFigure;
use motefall_figures::expected::Expected;
use motefall_physics::inputs::{Layer, Shape};
use motefall_physics::path::motion::Timeline;
use motefall_physics::units::celsius;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let mut steps = vec![
        html! { b { "Safety first." } " Data sheets read, extraction on, gloves and eye protection on; cautions below read" },
        html! { "Ink shaken, then stirred or sonicated until nothing lies on the bottom" },
    ];
    for (number, layer) in sheet.layers() {
        steps.extend(of_layer(sheet, number, layer));
    }
    if sheet.more_layers() > 0 {
        steps.push(html! { "The same for each further layer: " (and_more(sheet.more_layers(), "check")) });
    }
    steps.push(html! { "Shutter closed; mist off; carrier off, then sheath; chip heater off" });
    steps.push(html! { "Chip off, into its box; look beside the print for strays. " (blank("Note")) });
    html! {
        (heading("Order of steps", "common practice, no source; values are those of the scenario"))
        ol class="steps" { @for step in &steps { li { (step) } } }
    }
}

/// Steps of a layer.
fn of_layer(sheet: &Sheet<'_>, number: usize, layer: &Layer) -> Vec<Markup> {
    let mut steps = vec![
        vial(sheet, number, layer),
        html! {
            "Gas on: sheath " b { (given(layer.flows.sheath.sccm())) "\u{a0}sccm" } ", carrier " b { (given(layer.flows.carrier.sccm())) "\u{a0}sccm" }
            "; no leak. Chip holder at " b { (given(celsius(layer.landing.chip_temperature))) "\u{a0}°C" }
        },
        html! {
            "Mist on, shutter closed; wait " b { (given(layer.output.warm_up)) "\u{a0}s" }
            @if sheet.inputs().is_unverified(number, "output.warm_up_s") { " " (UNVERIFIED) }
            ". " (blank("Mist on at"))
        },
        html! { "Stand-off " b { (given(layer.flight.stand_off * 1e3)) "\u{a0}mm" } ": set and measured; nozzle tip clean" },
    ];
    if let Some(line) = sheet.test_lines.get(number) {
        steps.push(test_line(line));
        steps.push(html! { "Measure it. Within the range on this sheet? If not, see " b { "Out of range" } });
    }
    if number == 0 {
        steps.push(html! { "Chip on; aligned to its marks in x, y and angle" });
    }
    if let Some(timeline) = sheet.timelines.get(number) {
        steps.push(print(layer, timeline));
    }
    steps
}

/// The vial; of a later layer after its pause.
fn vial(sheet: &Sheet<'_>, number: usize, layer: &Layer) -> Markup {
    let ink_used = sheet.expected.figures.iter().find(|row| row.kind.figure == PrintFigure::InkUsed.into());
    html! {
        @if number > 0 { "Mist off; pause " b { (given(layer.pause)) "\u{a0}s" } ". " }
        "Vial filled" @if !layer.name.is_empty() { " with the ink of " b { (name(&layer.name)) } }
        @if let (0, Some(value)) = (number, ink_used.and_then(|row| row.value.as_ref())) {
            " (the whole print makes " (ink(value.mean)) " of ink to mist)"
        }
        ". " @if number == 0 { (blank("Vial weighs")) }
    }
}

/// What is printed to see whether the bench is as expected.
fn test_line(line: &Expected) -> Markup {
    let (layer, item) = line_of(line);
    html! {
        b { "Test line" } " on a bare wafer, " (given(celsius(layer.landing.chip_temperature))) "\u{a0}°C: " (given(way(&item.shape) * 1e3)) "\u{a0}mm, "
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
    if count == 1 { "1 pass".into() } else { format!("{count} passes") }
}

fn print(layer: &Layer, timeline: &Timeline) -> Markup {
    html! {
        b { "Print" } @if !layer.name.is_empty() { " " (name(&layer.name)) } ": "
        @if let [only] = &layer.path[..] { (name(&only.name)) ", " (passes(only.passes)) } @else { (layer.path.len()) " items in order" }
        ", " (duration(timeline.duration)) ". " (blank("Begun at"))
    }
}
