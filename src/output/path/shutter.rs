//! When the shutter is told, where the nozzle is then, and how late mist is: as tables and as a list of all openings.

use super::super::numbers::{duration, length};
use super::super::page::{note, table};
use super::motion::Motion;
use maud::{Markup, html};
use motefall_physics::inputs::Stage;
use motefall_physics::path::motion::{StrokeTime, Timeline};
use motefall_physics::path::shutter::Opening;
use std::fmt::Write;

/// Most openings that the terminal shows.
const MOST_SHOWN: usize = 20;

/// How late mist begins or ends at a stroke.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Late {
    /// Time, s.
    pub(super) time: f64,
    /// Way of the nozzle meanwhile, m.
    pub(super) way: f64,
}

impl Late {
    fn words(self) -> String {
        // Less is rounding of the motion.
        if self.time < 1e-9 {
            return "0".into();
        }
        let way = if self.way < 1e-9 { "at rest".to_owned() } else { length(self.way) };
        format!("{way}, {:.1}\u{a0}ms", self.time * 1e3)
    }
}

/// How late mist begins and ends at the strokes of an item, at most: by the way of the nozzle.
pub(super) fn latest(timeline: &Timeline, item: usize) -> [Late; 2] {
    let late = |stroke: &StrokeTime, end: usize| Late {
        time: stroke.mist[end] - stroke.drawn[end],
        way: timeline.way(stroke.drawn[end], stroke.mist[end]),
    };
    [0, 1].map(|end| {
        let all = timeline.strokes.iter().filter(|stroke| stroke.item == item).map(|stroke| late(stroke, end));
        all.fold(Late::default(), |most, late| if (late.way, late.time) > (most.way, most.time) { late } else { most })
    })
}

/// Of each item: its name, how late mist begins without lead and with it, and how late it ends.
fn rows(motion: &Motion<'_>, without: &Timeline) -> Vec<[String; 5]> {
    let row = |(k, item): (usize, &motefall_physics::inputs::PathItem)| {
        let [[before, after], [begin, end]] = [without, &motion.timeline].map(|timeline| latest(timeline, k));
        [item.name.clone(), before.words(), begin.words(), after.words(), end.words()]
    };
    motion.layer.path.iter().enumerate().map(row).collect()
}

const HEAD: [&str; 5] = ["item", "begins late", "with lead", "ends late", "with lead"];

/// Number of the item whose stroke begins with an opening.
fn item_of(timeline: &Timeline, opening: &Opening) -> usize {
    timeline.strokes.get(timeline.stroke_at(opening.mist[0])).map_or(0, |stroke| stroke.item)
}

/// The four moments of an opening, s, and where the nozzle is then, µm: told to open, told to close, mist from, mist to.
fn moments(timeline: &Timeline, opening: &Opening) -> [(f64, [f64; 2]); 4] {
    let [open, close] = opening.commanded;
    let [from, to] = opening.mist;
    // No negative zeros.
    [open, close, from, to].map(|time| (time, timeline.at(time).unwrap_or_default().map(|v| v * 1e6 + 0.0)))
}

/// What the terminal says of a shutter that is told earlier.
pub(super) fn text(motion: &Motion<'_>) -> String {
    let Some(without) = &motion.without_lead else { return String::new() };
    let timeline = &motion.timeline;
    let mut lines = vec![["item", "told to open", "told to close", "mist from", "mist to"].map(String::from)];
    for opening in timeline.openings.iter().take(MOST_SHOWN) {
        let name = motion.layer.path[item_of(timeline, opening)].name.clone();
        let [a, b, c, d] =
            moments(timeline, opening).map(|(time, [x, y])| format!("{time:.4} s at {x:.1}, {y:.1}\u{a0}µm"));
        lines.push([name, a, b, c, d]);
    }
    let mut out = format!("\nThe shutter is told earlier by its delays:\n{}\n", aligned(lines));
    if timeline.openings.len() > MOST_SHOWN {
        let more = timeline.openings.len() - MOST_SHOWN;
        let _ = writeln!(out, "... and {more} more; --commands FILE writes all of them.\n");
    }
    let mut lines = vec![HEAD.map(String::from)];
    lines.extend(rows(motion, without));
    let _ = write!(
        out,
        "How late mist begins and ends at strokes, at most, without this lead and with it:\n{}",
        aligned(lines)
    );
    let _ = writeln!(out, "\n{}", remarks(motion));
    out
}

/// What waits, and what lead does not compensate.
fn remarks(motion: &Motion<'_>) -> String {
    let Stage { shutter_open_delay, shutter_close_delay, .. } = motion.layer.stage;
    let waits = motion.timeline.waits;
    let wait = match waits.count {
        0 => String::new(),
        n => format!("The stage waits {n} times for the shutter between strokes, {} in all. ", duration(waits.time)),
    };
    let fastest = motion.layer.path.iter().map(|item| item.speed).fold(0.0, f64::max);
    format!(
        "{wait}Lead is as good as the stated delays ({:.1} and {:.1} ms, from the command to mist on the chip and off it): an error or a \
         scatter of 1 ms shifts ends by {} at {}/s.",
        shutter_open_delay * 1e3,
        shutter_close_delay * 1e3,
        length(fastest * 1e-3),
        length(fastest)
    )
}

/// Columns under each other, the first to the left.
fn aligned(lines: Vec<[String; 5]>) -> String {
    let width = |k: usize| lines.iter().map(|line| line[k].chars().count()).max().unwrap_or(0);
    let widths = [0, 1, 2, 3, 4].map(width);
    let mut out = String::new();
    for line in &lines {
        let _ = write!(out, "{:w$}", line[0], w = widths[0]);
        for k in 1..5 {
            let _ = write!(out, "  {:>w$}", line[k], w = widths[k]);
        }
        out.push('\n');
    }
    out
}

/// The same for the page.
pub(super) fn section(motion: &Motion<'_>) -> Markup {
    let Some(without) = &motion.without_lead else { return html! {} };
    html! {
        h2 { "Shutter lead" }
        (table(
            "",
            html! { @for (k, head) in HEAD.iter().enumerate() { th class=[(k > 0).then_some("n")] { (head) } } },
            html! { @for row in rows(motion, without) { tr {
                @for (k, cell) in row.iter().enumerate() { td class=[(k > 0).then_some("n")] { (cell) } }
            } } },
        ))
        (note(format!(
            "The shutter is told earlier by its delays. How late mist begins and ends at strokes, at most, without this lead and with it. {}",
            remarks(motion)
        )))
    }
}

/// All openings: when the shutter is told, when mist reaches the chip, and where the nozzle is then.
pub fn commands(motion: &Motion<'_>) -> Result<Vec<u8>, csv::Error> {
    let mut head = vec!["item".to_owned()];
    for moment in ["open", "close", "mist_from", "mist_to"] {
        head.extend(["s", "x_um", "y_um"].map(|unit| format!("{moment}_{unit}")));
    }
    let timeline = &motion.timeline;
    let rows = timeline.openings.iter().map(|opening| {
        let mut row = vec![motion.layer.path[item_of(timeline, opening)].name.clone()];
        for (time, [x, y]) in moments(timeline, opening) {
            row.extend([format!("{time:.6}"), format!("{x:.4}"), format!("{y:.4}")]);
        }
        row
    });
    super::super::tables::table(std::iter::once(head).chain(rows))
}
