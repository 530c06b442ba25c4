//! The path: its picture, what each item takes, when the shutter moves.

use super::contents::{MOST_LAYERS, Sheet, and_more, cut, heading, name};
use crate::numbers::{duration, given, length};
use crate::path::{ItemRow, rows, svg, view_of_path, whole};
use maud::{Markup, PreEscaped, html};
use motefall_physics::contours::Bounds;
use motefall_physics::inputs::{Inputs, Layer, PathItem, Role, Shape};
use motefall_physics::path::motion::Timeline;

/// Width and height that there is room for, of one, two and three pictures, CSS pixels (a 96th of an inch). A drawing unit is a pixel, so that
/// words in pictures are as large as those beside them.
const ROOM: [[f64; 2]; MOST_LAYERS] = [[170.0, 150.0], [165.0, 118.0], [110.0, 118.0]];
/// Part of the height that the scale bar takes.
const RULER: f64 = 40.0;
/// Most items that are listed, all layers together.
const MOST_ITEMS: usize = 4;
/// Longest name of a layer, characters.
const LONGEST_LAYER: usize = 20;
/// Longest name of an item, characters.
const LONGEST_ITEM: usize = 16;

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let layers: Vec<(&Layer, &Timeline)> = sheet.inputs().layers.iter().zip(sheet.timelines).collect();
    let shown = &layers[..layers.len().min(MOST_LAYERS)];
    html! {
        (heading("Path", "from above, to scale; x = 0, y = 0 is the middle of the chip"))
        div class=(format!("pictures of{}", shown.len())) {
            @for (number, (layer, timeline)) in shown.iter().enumerate() {
                figure {
                    (picture(sheet.inputs(), layer, timeline, ROOM[shown.len() - 1]))
                    figcaption { b { (sheet.called(number, LONGEST_LAYER)) } " " (extents(timeline)) }
                }
            }
            p class="note legend" { (legend(sheet.inputs())) " " (shutter(shown[0].0)) " " (and_more(sheet.more_layers(), "path")) }
        }
        (items(&layers))
        p class="note" { @for (number, (_, timeline)) in shown.iter().enumerate() {
            @if number > 0 { " " }
            b { (sheet.called(number, LONGEST_LAYER)) } " " (whole(timeline)) "."
        } }
    }
}

/// The picture of a layer's path.
fn picture(inputs: &Inputs, layer: &Layer, timeline: &Timeline, [width, height]: [f64; 2]) -> Markup {
    let view = view_of_path(layer, timeline);
    let scale = (width / view.width()).min((height - RULER) / view.height());
    let side = scale * view.width().max(view.height());
    html! { div style=(format!("width:{:.0}px", scale * view.width())) { (PreEscaped(svg(inputs, layer, timeline, &view, side))) } }
}

/// What the lines of the pictures are.
fn legend(inputs: &Inputs) -> Markup {
    let has = |role: Role| inputs.regions.iter().any(|region| region.role == role);
    let kinds = [
        (has(Role::Target) || has(Role::Counter), "Blue: print here"),
        (has(Role::Electrode), "Grey: other electrode"),
        (has(Role::Window), "Dotted: window"),
        (has(Role::KeepOut), "Dash-dot: keep clean"),
    ];
    html! {
        b { "Thick:" } " mist reaches the chip, between the x and y below. " b { "Dashed, thin:" } " shutter closed. Dot: start."
        @for (_, words) in kinds.iter().filter(|kind| kind.0) { " " (words) "." }
    }
}

/// Between which places mist reaches the chip.
fn extents(timeline: &Timeline) -> Markup {
    let drawn = timeline.drawing();
    let open: Vec<[f64; 2]> = drawn.iter().filter(|stroke| stroke.open).flat_map(|s| [s.from, s.to]).collect();
    let micro = |value: f64| given((value * 1e6).round() + 0.0);
    html! { @if !open.is_empty() {
        @let Bounds { low, high } = Bounds::around(open.iter().copied());
        "x " (micro(low[0])) " to " (micro(high[0])) ", y " (micro(low[1])) " to " (micro(high[1])) "\u{a0}µm"
    } }
}

/// How far the stage goes while the shutter moves, at the first item that moves.
fn shutter(layer: &Layer) -> Markup {
    let stage = &layer.stage;
    let [open, close] = [stage.shutter_open_delay, stage.shutter_close_delay];
    let moving = layer.path.iter().find(|item| !matches!(item.shape, Shape::Dot { .. }));
    html! {
        @if let Some(item) = moving {
            "The shutter's delays are " (length(open * item.speed)) " of way to open and " (length(close * item.speed)) " to close (" (name(&item.name)) "), counted in the picture."
        }
        @if stage.run_up > 0.0 { " Run-up " (length(stage.run_up)) " at both ends of a stroke." }
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
                td { (cut(&row.name, LONGEST_ITEM)) } td class="n" { (how(item)) } td class="n" { (item.passes) } td class="n" { (row.strokes) }
                td class="n" { (format!("{:.3}\u{a0}mm", row.length * 1e3)) } td class="n" { (row.openings) }
                td class="n" { (duration(row.time)) }
            } } }
        }
        (and_more(all.len().saturating_sub(MOST_ITEMS), "path"))
    }
}
