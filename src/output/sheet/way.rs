//! The path: its picture, what each item takes, when the shutter moves.

use super::contents::{MOST_LAYERS, Sheet, and_more, heading, name};
use crate::numbers::{duration, given, length};
use crate::path::{ItemRow, rows, svg, whole};
use maud::{Markup, PreEscaped, html};
use motefall_physics::contours::Bounds;
use motefall_physics::inputs::{Layer, PathItem, Shape};
use motefall_physics::path::motion::Timeline;

/// Longest side of a picture, drawing units: so that its words are as large as those beside it.
const SIDE: f64 = 330.0;
/// Most items that are listed, all layers together.
const MOST_ITEMS: usize = 6;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let layers: Vec<(&Layer, &Timeline)> = sheet.inputs().layers.iter().zip(sheet.timelines).collect();
    let shown = &layers[..layers.len().min(MOST_LAYERS)];
    html! {
        (heading("Path", "from above, to scale; x = 0, y = 0 is the middle of the chip"))
        div class=(format!("pictures of{}", shown.len())) {
            @for (layer, timeline) in shown {
                figure {
                    (PreEscaped(svg(sheet.inputs(), layer, timeline, SIDE)))
                    figcaption { @if !layer.name.is_empty() { b { (name(&layer.name)) } ": " } (extents(timeline)) }
                }
            }
        }
        p class="note" {
            b { "Solid" } ": mist reaches the chip, shutter delays counted. " b { "Dashed, thin" } ": shutter closed. Dot: start. "
            (shutter(shown[0].0))
            @if shown.len() > 1 { " Delays and run-up of other layers: above." }
            " " (and_more(sheet.more_layers(), "path"))
        }
        (items(&layers))
        @for (layer, timeline) in shown {
            p class="note" { @if !layer.name.is_empty() { (name(&layer.name)) ": " } (whole(timeline)) "." }
        }
    }
}

/// Between which places mist reaches the chip.
fn extents(timeline: &Timeline) -> Markup {
    let drawn = timeline.drawing();
    let open: Vec<[f64; 2]> = drawn.iter().filter(|stroke| stroke.open).flat_map(|s| [s.from, s.to]).collect();
    let micro = |value: f64| given((value * 1e6).round() + 0.0);
    html! { @if !open.is_empty() {
        @let Bounds { low, high } = Bounds::around(open.iter().copied());
        "mist from x " (micro(low[0])) " to " (micro(high[0])) ", y " (micro(low[1])) " to " (micro(high[1])) "\u{a0}µm"
    } }
}

/// When the shutter moves, in time and way of the first item that moves.
fn shutter(layer: &Layer) -> Markup {
    let stage = &layer.stage;
    let [open, close] = [stage.shutter_open_delay, stage.shutter_close_delay];
    let moving = layer.path.iter().find(|item| !matches!(item.shape, Shape::Dot { .. }));
    html! {
        "After its command the shutter takes " (given(open * 1e3)) "\u{a0}ms to open, " (given(close * 1e3)) "\u{a0}ms to close"
        @if let Some(item) = moving {
            ": " (length(open * item.speed)) " and " (length(close * item.speed)) " of way at " (speed(item))
        }
        "."
        @if stage.run_up > 0.0 { " Run-up " (length(stage.run_up)) " before and after each stroke, shutter closed." }
    }
}

fn speed(item: &PathItem) -> String {
    format!("{}\u{a0}mm/s", given(item.speed * 1e3))
}

/// How an item is printed.
fn how(item: &PathItem) -> String {
    match item.shape {
        Shape::Dot { dwell, .. } => format!("{}\u{a0}s open", given(dwell)),
        _ => speed(item),
    }
}

fn items(layers: &[(&Layer, &Timeline)]) -> Markup {
    let all: Vec<(&PathItem, ItemRow)> =
        layers.iter().flat_map(|(layer, timeline)| layer.path.iter().zip(rows(layer, timeline))).collect();
    html! {
        table {
            thead { tr {
                th { "item" } th class="n" { "speed" } th class="n" { "passes" } th class="n" { "strokes" } th class="n" { "length" }
                th class="n" { "openings" } th class="n" { "time" }
            } }
            tbody { @for (item, row) in all.iter().take(MOST_ITEMS) { tr {
                td { (name(&row.name)) } td class="n" { (how(item)) } td class="n" { (item.passes) } td class="n" { (row.strokes) }
                td class="n" { (format!("{:.3}\u{a0}mm", row.length * 1e3)) } td class="n" { (row.openings) }
                td class="n" { (duration(row.time)) }
            } } }
        }
        (and_more(all.len().saturating_sub(MOST_ITEMS), "path"))
    }
}
