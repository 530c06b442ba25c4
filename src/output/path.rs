//! The path of a print by itself: as a table, a list of timed points, a drawing, a picture.
//!
//! | output | what it holds |
//! |---|---|
//! | terminal | by item: strokes, length, time, openings of the shutter; travel between strokes; with shutter lead the commands, and how late mist is without it |
//! | CSV | `time_s, x_um, y_um, speed_mm_s, shutter`: one row wherever the motion or the shutter changes; `shutter` holds from there on (1 open), with its delays; between rows the acceleration is even. With shutter lead also `told`: what the shutter was told last |
//! | CSV of commands | one row an opening: when the shutter is told to open and to close, when mist reaches the chip, and where the nozzle is then |
//! | DXF | R12, one unit is a micrometre: polylines on the layers `open` and `closed` (the shutter) |
//! | HTML | a picture true to scale with the regions, and the table |

use super::numbers::{duration, length};
use super::page::{Page, note, table};
use super::picture::View;
use super::plot::{escape, nice_below};
use maud::{PreEscaped, html};
use motefall_physics::contours::Bounds;
use motefall_physics::inputs::{Inputs, Layer, Role, Shape, ShutterLead, Stage};
use motefall_physics::map::outline;
use motefall_physics::path::motion::{Stroke, Timeline};
use motefall_physics::path::shutter::Opening;
pub use motion::Motion;
pub use shutter::commands;
use std::fmt::Write;

mod motion;
mod shutter;

/// Longest side of the page's picture, drawing units.
const SIDE: f64 = 900.0;

/// What an item of the path takes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ItemRow {
    /// Its name.
    pub(crate) name: String,
    /// Strokes, all passes together.
    pub(crate) strokes: usize,
    /// Length of the strokes, m.
    pub(crate) length: f64,
    /// From the first point of its first stroke to the last point of its last one, s.
    pub(crate) time: f64,
    /// How often the shutter opens.
    pub(crate) openings: usize,
}

/// What each item takes.
pub(crate) fn rows(layer: &Layer, timeline: &Timeline) -> Vec<ItemRow> {
    let row = |(k, item): (usize, &motefall_physics::inputs::PathItem)| {
        let own: Vec<_> = timeline.strokes.iter().filter(|stroke| stroke.item == k).collect();
        let time = own.last().map_or(0.0, |s| s.drawn[1]) - own.first().map_or(0.0, |s| s.drawn[0]);
        let begins = own.first().zip(own.last()).map(|(first, last)| first.mist[0]..=last.mist[0]);
        let opens =
            timeline.openings.iter().filter(|o| begins.as_ref().is_some_and(|begins| begins.contains(&o.mist[0])));
        ItemRow {
            name: item.name.clone(),
            strokes: own.len(),
            // A sum of nothing is -0.
            length: own.iter().map(|stroke| stroke.length).sum::<f64>() + 0.0,
            time,
            openings: opens.count(),
        }
    };
    layer.path.iter().enumerate().map(row).collect()
}

/// Way with the shutter closed, m.
fn travel(drawn: &[Stroke]) -> f64 {
    let ways = drawn.iter().filter(|s| !s.open).map(|s| (s.to[0] - s.from[0]).hypot(s.to[1] - s.from[1]));
    // A sum of nothing is -0.
    ways.sum::<f64>() + 0.0
}

/// One line about the whole.
pub(crate) fn whole(timeline: &Timeline) -> String {
    format!(
        "{} in all, {} with the shutter open in {} openings; {:.2} mm of travel with it closed",
        duration(timeline.duration),
        duration(timeline.open_time()),
        timeline.openings.len(),
        travel(&timeline.drawing()) * 1e3
    )
}

/// The table for the terminal.
pub fn text(motion: &Motion<'_>) -> String {
    let Motion { layer, timeline, .. } = motion;
    let rows = rows(layer, timeline);
    let widest = rows.iter().map(|row| row.name.chars().count()).max().unwrap_or(0).max(4);
    let mut out =
        format!("{:widest$}  {:>8}  {:>11}  {:>10}  {:>8}\n", "item", "strokes", "length", "time", "openings");
    for row in &rows {
        let length = format!("{:.3} mm", row.length * 1e3);
        let (strokes, openings, time) = (row.strokes, row.openings, duration(row.time));
        let _ = writeln!(out, "{:widest$}  {strokes:>8}  {length:>11}  {time:>10}  {openings:>8}", row.name);
    }
    let _ = writeln!(out, "\n{}", whole(timeline));
    out.push_str(&shutter::text(motion));
    out.replace('\u{a0}', " ")
}

/// Timed points.
pub fn csv(motion: &Motion<'_>) -> Result<Vec<u8>, csv::Error> {
    points(&motion.timeline, motion.layer.stage.shutter_lead)
}

fn points(timeline: &Timeline, lead: ShutterLead) -> Result<Vec<u8>, csv::Error> {
    let spans = |of: fn(&Opening) -> [f64; 2]| timeline.openings.iter().map(of).collect::<Vec<_>>();
    let mut columns = vec![("shutter", spans(|opening| opening.mist))];
    if lead == ShutterLead::Compensated {
        columns.push(("told", spans(|opening| opening.commanded)));
    }
    let mut events: Vec<f64> = columns.iter().flat_map(|(_, spans)| spans.iter().flatten().copied()).collect();
    events.sort_by(f64::total_cmp);
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(
        ["time_s", "x_um", "y_um", "speed_mm_s"].into_iter().chain(columns.iter().map(|(name, _)| *name)),
    )?;
    let mut row = |time: f64, at: [f64; 2], speed: f64| {
        let [x, y] = at.map(|v| format!("{:.4}", v * 1e6 + 0.0));
        // Speeds are not negative; rounding may make them so.
        let speed = format!("{:.6}", speed.max(0.0) * 1e3);
        let states = columns.iter().map(|(_, spans)| {
            let next = spans.partition_point(|span| span[1] <= time);
            u8::from(spans.get(next).is_some_and(|span| span[0] <= time)).to_string()
        });
        out.write_record([format!("{time:.6}"), x, y, speed].into_iter().chain(states))
    };
    let mut next = 0;
    for piece in &timeline.pieces {
        row(piece.time, piece.from, piece.speed)?;
        // What the shutter does on the way.
        next += events[next..].partition_point(|time| *time <= piece.time);
        let on_the_way = events[next..].partition_point(|time| *time < piece.time + piece.duration);
        for time in &events[next..next + on_the_way] {
            let t = time - piece.time;
            row(*time, piece.at(t), piece.speed + piece.acceleration * t)?;
        }
        next += on_the_way;
    }
    if let Some(last) = timeline.pieces.last() {
        row(timeline.duration, last.at(last.duration), 0.0)?;
    }
    out.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

/// Pieces that follow each other with the same state of the shutter.
fn chains(drawn: &[Stroke]) -> Vec<(bool, Vec<[f64; 2]>)> {
    // Rounding of the motion lies far below a nanometre.
    let meets = |a: Option<&[f64; 2]>, b: [f64; 2]| a.is_some_and(|a| (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-10);
    let mut chains: Vec<(bool, Vec<[f64; 2]>)> = Vec::new();
    for stroke in drawn {
        match chains.last_mut() {
            Some((open, points)) if *open == stroke.open && meets(points.last(), stroke.from) => points.push(stroke.to),
            _ => chains.push((stroke.open, vec![stroke.from, stroke.to])),
        }
    }
    chains
}

/// The path as DXF.
pub fn dxf(motion: &Motion<'_>) -> String {
    drawn(&motion.timeline)
}

fn drawn(timeline: &Timeline) -> String {
    let mut out = String::new();
    let mut tag = |code: i32, value: &str| {
        let _ = writeln!(out, "{code:3}\n{value}");
    };
    tag(999, concat!("path of a print; one unit is a micrometre; motefall ", env!("CARGO_PKG_VERSION")));
    for (code, value) in [
        (0, "SECTION"),
        (2, "HEADER"),
        (9, "$ACADVER"),
        (1, "AC1009"),
        (9, "$INSUNITS"),
        (70, "13"),
        (0, "ENDSEC"),
        (0, "SECTION"),
        (2, "TABLES"),
        (0, "TABLE"),
        (2, "LAYER"),
        (70, "2"),
        (0, "LAYER"),
        (2, "open"),
        (70, "0"),
        (62, "7"),
        (6, "CONTINUOUS"),
        (0, "LAYER"),
        (2, "closed"),
        (70, "0"),
        (62, "8"),
        (6, "CONTINUOUS"),
        (0, "ENDTAB"),
        (0, "ENDSEC"),
        (0, "SECTION"),
        (2, "ENTITIES"),
    ] {
        tag(code, value);
    }
    for (open, points) in chains(&timeline.drawing()) {
        let layer = if open { "open" } else { "closed" };
        for (code, value) in [(0, "POLYLINE"), (8, layer), (66, "1"), (10, "0.0"), (20, "0.0"), (30, "0.0"), (70, "0")]
        {
            tag(code, value);
        }
        for p in points {
            tag(0, "VERTEX");
            tag(8, layer);
            for (code, v) in [(10, p[0] * 1e6), (20, p[1] * 1e6), (30, 0.0)] {
                tag(code, &format!("{v:.4}"));
            }
        }
        tag(0, "SEQEND");
        tag(8, layer);
    }
    // Dots have no length: they are points.
    let dot = |opening: &Opening| {
        let [from, to] = opening.mist;
        if timeline.way(from, to) < 1e-12 { timeline.at(from) } else { None }
    };
    for [x, y] in timeline.openings.iter().filter_map(dot) {
        tag(0, "POINT");
        tag(8, "open");
        for (code, v) in [(10, x * 1e6), (20, y * 1e6), (30, 0.0)] {
            tag(code, &format!("{v:.4}"));
        }
    }
    tag(0, "ENDSEC");
    tag(0, "EOF");
    out
}

/// Least side of what is shown of the chip beside a path, m.
const LEAST_VIEW: f64 = 100e-6;

/// The path with what lies beside it, no side shorter than half of the other.
pub(crate) fn view_of_path(layer: &Layer, timeline: &Timeline) -> View {
    let ends = Bounds::around(timeline.drawing().iter().flat_map(|s| [s.from, s.to]));
    let View { x, y } =
        with_rim(layer.path.iter().map(|item| outline::bounds_of_shape(&item.shape)).fold(ends, Bounds::and), 0.15);
    let least = (0.5 * (x[1] - x[0]).max(y[1] - y[0])).max(LEAST_VIEW);
    let widened = |[low, high]: [f64; 2]| {
        let more = 0.5 * (least - (high - low)).max(0.0);
        [low - more, high + more]
    };
    View { x: widened(x), y: widened(y) }
}

fn with_rim(bounds: Bounds, share: f64) -> View {
    let View { x, y } = View::of_bounds(bounds);
    let rim = share * (x[1] - x[0]).max(y[1] - y[0]).max(1e-6);
    View { x: [x[0] - rim, x[1] + rim], y: [y[0] - rim, y[1] + rim] }
}

/// The part of the chip that the page shows: path and regions with a rim.
fn view(inputs: &Inputs, layer: &Layer, drawn: &[Stroke]) -> View {
    let regions = inputs.regions.iter().map(|region| outline::bounds(&region.outline));
    let boxes = regions.chain(layer.path.iter().map(|item| outline::bounds_of_shape(&item.shape)));
    let all = boxes.fold(Bounds::around(drawn.iter().flat_map(|s| [s.from, s.to])), Bounds::and);
    with_rim(all, 0.05)
}

fn data(points: &[[f64; 2]], view: &View, scale: f64) -> String {
    let mut d = String::new();
    for (k, p) in points.iter().enumerate() {
        let (x, y) = ((p[0] - view.x[0]) * scale, (view.y[1] - p[1]) * scale);
        let _ = write!(d, "{}{x:.2} {y:.2}", if k == 0 { 'M' } else { 'L' });
    }
    d
}

/// The picture of a part of the chip, its longest side so many drawing units.
pub(crate) fn svg(inputs: &Inputs, layer: &Layer, timeline: &Timeline, view: &View, side: f64) -> String {
    let drawn = timeline.drawing();
    let scale = side / view.width().max(view.height());
    let (width, height) = (view.width() * scale, view.height() * scale + 40.0);
    let mut out = format!(
        r#"<svg class="path" viewBox="0 0 {width:.0} {height:.0}" role="img" aria-label="The path of the nozzle over the chip"><g class="chip">"#
    );
    for region in &inputs.regions {
        let d: String = outline::rings(&region.outline).iter().map(|ring| data(ring, view, scale) + "Z").collect();
        let class = match region.role {
            Role::Target | Role::Counter => "target",
            Role::Electrode => "electrode",
            Role::Window => "window",
            Role::KeepOut => "keep-out",
        };
        let name = escape(&region.name);
        let _ = write!(out, r#"<path class="region {class}" fill-rule="evenodd" d="{d}"><title>{name}</title></path>"#);
    }
    for item in &layer.path {
        if let Shape::Filled(filled) = &item.shape {
            let d: String = filled.area.contours().iter().map(|ring| data(ring, view, scale) + "Z").collect();
            let _ = write!(out, r#"<path class="wanted" d="{d}"><title>{}</title></path>"#, escape(&item.name));
        }
    }
    for item in &layer.path {
        if let Shape::Dot { at: [x, y], .. } = &item.shape {
            let (x, y) = ((x - view.x[0]) * scale, (view.y[1] - y) * scale);
            let _ = write!(
                out,
                r#"<circle class="dot" cx="{x:.1}" cy="{y:.1}" r="3"><title>{}</title></circle>"#,
                escape(&item.name)
            );
        }
    }
    for (open, class) in [(false, "closed"), (true, "open")] {
        let d: String = chains(&drawn)
            .iter()
            .filter(|(state, _)| *state == open)
            .map(|(_, points)| data(points, view, scale))
            .collect();
        let _ = write!(out, r#"<path class="way {class}" d="{d}"/>"#);
    }
    if let Some(first) = drawn.first() {
        let (x, y) = ((first.from[0] - view.x[0]) * scale, (view.y[1] - first.from[1]) * scale);
        let _ = write!(out, r#"<circle class="start" cx="{x:.1}" cy="{y:.1}" r="4"><title>start</title></circle>"#);
    }
    out.push_str("</g>");
    let bar = nice_below(view.width() * 0.25);
    let y = view.height() * scale + 14.0;
    let words = length(bar);
    let _ = write!(
        out,
        r#"<path class="ruler" d="M8 {y:.1}h{:.1}"/><text x="8" y="{:.1}">{words}</text></svg>"#,
        bar * scale,
        y + 20.0
    );
    out
}

/// How the picture is drawn.
pub(crate) const STYLE: &str = "
.path { max-width: 100%; max-height: 82vh; }
.path .chip { clip-path: inset(0 0 40px) view-box; }
.path .region { stroke: var(--soft); stroke-width: 1.2; fill: var(--faint); }
.path .target { stroke: var(--s2); stroke-width: 1.6; } .path .electrode { stroke-dasharray: 7 3; }
.path .window { stroke-dasharray: 1.5 3.5; fill: none; } .path .keep-out { stroke-dasharray: 8 3 1.5 3; fill: none; }
.path .wanted { fill: none; stroke: var(--s4); stroke-width: 0.9; }
.path .way { fill: none; stroke-linejoin: round; }
.path .open { stroke: var(--s1); stroke-width: 1.6; } .path .closed { stroke: var(--soft); stroke-width: 0.9; stroke-dasharray: 3 4; }
.path .dot { fill: var(--s1); }
.path .start { fill: var(--s3); } .path .ruler { stroke: currentColor; stroke-width: 3; }
";

/// A page with a picture of a layer's path and the table.
pub fn page(inputs: &Inputs, motion: &Motion<'_>) -> String {
    let Motion { layer, timeline, .. } = motion;
    let Stage { run_up, travel_speed, .. } = layer.stage;
    let has_areas = layer.path.iter().any(|item| matches!(item.shape, Shape::Filled(_)));
    let body = html! {
        p { (whole(timeline)) "." }
        figure {
            (PreEscaped(svg(inputs, layer, timeline, &view(inputs, layer, &timeline.drawing()), SIDE)))
            figcaption {
                "The path of the nozzle from above, to scale. " b { "Solid" } ": mist reaches the chip, shutter delays included"
                @if motion.without_lead.is_some() { " and compensated" } ". "
                b { "Dashed, thin" } ": the shutter is closed"
                @if run_up > 0.0 { ", with a run-up of " (length(run_up)) " before and after each stroke" }
                "; between strokes the stage moves at " (length(travel_speed)) "/s. The dot is the start. Shaded: regions (hover for the name)."
                @if has_areas {
                    " Thin closed lines: areas from drawings to be filled; where the solid lines run past them, shutter delays shift what is printed."
                }
            }
        }
        h2 { "Items" }
        (table(
            "",
            html! { th { "item" } th class="n" { "strokes" } th class="n" { "length (mm)" } th class="n" { "time" } th class="n" { "openings" } },
            html! { @for row in rows(layer, timeline) { tr {
                td { (row.name) } td class="n" { (row.strokes) } td class="n" { (format!("{:.3}", row.length * 1e3)) }
                td class="n" { (duration(row.time)) } td class="n" { (row.openings) }
            } } },
        ))
        @if motion.without_lead.is_none() {
            (note("Lengths include all passes. Times run from the first shutter opening to the last closing, as commanded."))
        } @else {
            (note("Lengths include all passes. Times run from the first point to the last."))
        }
        (shutter::section(motion))
    };
    let layer_name = if layer.name.is_empty() { String::new() } else { format!(", layer {}", layer.name) };
    let title = format!("Path: {}{layer_name}", inputs.name);
    Page { title: &title, note: &inputs.note, style: STYLE, body, foot: html! {} }.html()
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::inputs::PathItem;
    use motefall_scenario::drawing::{self, Ends, Format};

    fn timeline(shutter_lead: ShutterLead) -> Timeline {
        let line = |y: f64| PathItem {
            name: "l".into(),
            shape: Shape::Polyline(vec![[0.0, y], [1e-3, y]]),
            speed: 1e-3,
            passes: 1,
        };
        let stage = Stage {
            acceleration: 2.0,
            travel_speed: 0.02,
            shutter_open_delay: 0.01,
            shutter_close_delay: 0.02,
            shutter_lead,
            jitter: 0.0,
            run_up: 1e-4,
        };
        Timeline::new(&[line(0.0), line(1e-4)], &stage, None)
    }

    #[test]
    fn the_drawing_of_a_path_reads_back() {
        let timeline = timeline(ShutterLead::None);
        let drawing = drawing::read(drawn(&timeline).as_bytes(), Format::Dxf, None).expect("our own file");
        assert_eq!(drawing.layer_names(), ["open", "closed"]);
        // Opened 10 ms late at 1 mm/s, closed 20 ms late: each line is 10 um longer than a millimetre.
        let length =
            |layer| drawing.on_layer(Some(layer)).expect("it is there").iter().map(|c| c.length()).sum::<f64>();
        assert!((length("open") - 2.02e-3).abs() < 1e-9, "{}", length("open"));
        assert!((length("closed") - travel(&timeline.drawing())).abs() < 2e-9);
        assert!(drawing.contours.iter().all(|c| c.ends == Ends::Open));
    }

    #[test]
    fn timed_points_give_the_open_time_and_the_way() {
        let timeline = timeline(ShutterLead::None);
        let text = String::from_utf8(points(&timeline, ShutterLead::None).expect("writable")).expect("text");
        let rows: Vec<Vec<f64>> = text
            .lines()
            .skip(1)
            .map(|line| line.split(',').map(|cell| cell.parse().expect("a number")).collect())
            .collect();
        assert!(rows.windows(2).all(|pair| pair[1][0] >= pair[0][0]));
        let (mut open, mut way) = (0.0, 0.0);
        for pair in rows.windows(2) {
            open += pair[0][4] * (pair[1][0] - pair[0][0]);
            way += (pair[1][1] - pair[0][1]).hypot(pair[1][2] - pair[0][2]);
            // Even acceleration between rows: the way is the mean speed times the time.
            let mean = 0.5 * (pair[0][3] + pair[1][3]) * (pair[1][0] - pair[0][0]) * 1e3;
            let jump = (pair[1][1] - pair[0][1]).hypot(pair[1][2] - pair[0][2]);
            assert!((mean - jump).abs() < 0.05, "{pair:?}");
        }
        assert!((open - timeline.open_time()).abs() < 1e-5, "{open}");
        let drawn: f64 = timeline.drawing().iter().map(|s| (s.to[0] - s.from[0]).hypot(s.to[1] - s.from[1])).sum();
        assert!((way * 1e-6 - drawn).abs() < 1e-8);
    }

    #[test]
    fn with_lead_points_and_drawing_are_of_the_lines_themselves() {
        let timeline = timeline(ShutterLead::Compensated);
        let drawing = drawing::read(drawn(&timeline).as_bytes(), Format::Dxf, None).expect("our own file");
        let open: f64 = drawing.on_layer(Some("open")).expect("it is there").iter().map(|c| c.length()).sum();
        assert!((open - 2e-3).abs() < 1e-9, "{open}");
        let text = String::from_utf8(points(&timeline, ShutterLead::Compensated).expect("writable")).expect("text");
        // Where the shutter's state changes along x, µm: mist on the lines, told 10 and 20 µm before their ends.
        let mut changes = [vec![], vec![]];
        let mut before = ["0", "0"];
        for line in text.lines().skip(1) {
            let cells: Vec<&str> = line.split(',').collect();
            for (k, changes) in changes.iter_mut().enumerate() {
                if cells[4 + k] != before[k] {
                    changes.push(cells[1].parse::<f64>().expect("a number"));
                    before[k] = cells[4 + k];
                }
            }
        }
        assert_eq!(changes, [[0.0, 1000.0, 0.0, 1000.0], [-10.0, 980.0, -10.0, 980.0]]);
    }

    #[test]
    fn a_dot_is_a_point_of_the_drawing() {
        let stage = |shutter_lead| Stage {
            acceleration: 2.0,
            travel_speed: 0.02,
            shutter_open_delay: 0.01,
            shutter_close_delay: 0.02,
            shutter_lead,
            jitter: 0.0,
            run_up: 0.0,
        };
        let dot = Shape::Dot { at: [1e-4, 2e-4], dwell: 0.2 };
        let dot = PathItem { name: "d".into(), shape: dot, speed: 1e-3, passes: 2 };
        for lead in [ShutterLead::None, ShutterLead::Compensated] {
            let text = drawn(&Timeline::new(std::slice::from_ref(&dot), &stage(lead), None));
            assert!(text.contains("POINT\n  8\nopen\n 10\n100.0000\n 20\n200.0000\n"), "{text}");
        }
    }
}
