//! The result on the terminal: verdict, deciding figures, cautions, where the report is.

use super::summary;
use super::{differences, numbers};
use motefall_figures::places::includes;
use motefall_figures::{FigureRow, Prediction, Severity, Verdict};
use motefall_physics::figure_kinds::{On, Terminal};
use motefall_physics::inputs::Limit;
use std::fmt::Write;
use std::path::Path;

/// Most regions or items that are listed.
const MOST_PLACES: usize = 10;

/// The decision in one sentence.
pub fn verdict_sentence(verdict: &Verdict, required_share: f64) -> String {
    let low = verdict.share_interval[0];
    let prints = if verdict.n == 1 { "print" } else { "prints" };
    let counted = format!(
        "{} of {} {prints} met every limit; {} are required, and the share over many prints lies between {} (95 % interval), if \
         the model and its inputs hold",
        verdict.met,
        verdict.n,
        numbers::share(required_share),
        numbers::shares(verdict.share_interval).replace(" to ", " and ")
    );
    match verdict.accepted {
        Some(true) if low + 1e-9 < required_share => {
            format!("Accepted, not yet for sure: {counted}. More prints would tell.")
        }
        Some(true) => format!("Accepted: {counted}."),
        Some(false) => format!("Not accepted: {counted}."),
        None => "No limits were set, so nothing is decided.".into(),
    }
}

pub use super::numbers::trimmed;

/// A limit in words: `at least 90 %`, `80 to 120 nm`.
pub fn limit_words(limit: &Limit) -> String {
    let kind = limit.figure.kind();
    let trim = |v: f64| trimmed(v * kind.per_si);
    let unit = kind.unit;
    let words = match (limit.min, limit.max) {
        (Some(min), Some(max)) => format!("{} to {}", trim(min), trim(max)),
        (Some(min), None) => format!("at least {}", trim(min)),
        (None, Some(max)) => format!("at most {}", trim(max)),
        (None, None) => return "no bound".into(),
    };
    if unit.is_empty() { words } else { format!("{words}\u{a0}{unit}") }
}

/// The result as text, no wider than `width` columns (at least 60).
pub fn summary(p: &Prediction, report: Option<&Path>, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &p.inputs.name, width);
    wrap(&mut out, "", "", &verdict_sentence(&p.verdict, p.inputs.acceptance.required_share), width);

    if !p.limits.is_empty() {
        let mut table = Table::new(["limit", "asked", "predicted", "met, of all prints (95 %)"]);
        for (number, l) in p.limits.iter().enumerate() {
            let mut what = match &l.limit.place {
                Some(place) => format!("{}, {place}", numbers::label_at(l.kind(), p.inputs.map.resolution)),
                None => numbers::label_at(l.kind(), p.inputs.map.resolution),
            };
            if p.inputs.acceptance.is_implied(number) {
                what.push_str(" (role keep-out)");
            }
            let value = numbers::predicted_short(l);
            let mut met = format!("{} of {}", l.met, l.n);
            if p.is_undecided(l) {
                met = "not known".into();
            } else if let Some(ends) = l.share_interval() {
                let _ = write!(met, ", {}", numbers::shares(ends));
            }
            table.add([what, limit_words(&l.limit), value, met]);
        }
        out.push('\n');
        let widths = table.widths();
        table.print(&mut out, width, widths);
        if p.limits.iter().any(|l| l.share.is_some()) {
            wrap(&mut out, "", "", "Of a probability, its bound at 95 % is given, by which it is judged.", width);
        }
    }

    if let Some(sentence) = differences::sentence(p) {
        out.push('\n');
        wrap(&mut out, "", "", &sentence, width);
    }

    let limited =
        |row: &FigureRow| p.limits.iter().any(|l| l.limit.figure == row.kind.figure && l.limit.place == row.place);
    let role = |place: &str| p.inputs.regions.iter().find(|r| r.name == place).map(|r| r.role);
    let mut groups: Vec<(Option<&str>, Table<3>)> = vec![];
    let mut left_out = 0;
    for row in p.figures.iter().filter(|r| !limited(r)) {
        let role = row.place.as_deref().and_then(role);
        let here = |on: On| role.map_or(on == On::Everywhere, |role| includes(on, role));
        let is_told = match row.kind.terminal {
            Terminal::Never => false,
            Terminal::Told(on) => here(on),
            Terminal::IfMeasured(on) => here(on) && row.estimate.is_some(),
        };
        if !is_told {
            continue;
        }
        let place = row.place.as_deref();
        let index = match groups.iter().position(|g| g.0 == place) {
            Some(index) => index,
            None if place.is_some() && groups.len() >= MOST_PLACES => {
                left_out += 1;
                continue;
            }
            None => {
                groups.push((place, Table::new([place.unwrap_or("whole print"), "", ""])));
                groups.len() - 1
            }
        };
        let n = row.estimate.map_or(0, |e| e.n);
        groups[index].1.add([
            format!("  {}", numbers::label_at(row.kind, p.inputs.map.resolution)),
            numbers::figure(row.estimate.as_ref(), row.kind).to_string(),
            if n == p.verdict.n || n == 0 { String::new() } else { format!("from {n} of {} prints", p.verdict.n) },
        ]);
    }
    // One width for all groups, so that the values stand below each other.
    let widths = groups.iter().fold([0; 3], |w, g| {
        let own = g.1.widths();
        [w[0].max(own[0]), w[1].max(own[1]), w[2].max(own[2])]
    });
    for (_, table) in &groups {
        out.push('\n');
        table.print(&mut out, width, widths);
    }
    if !groups.is_empty() {
        let more = if left_out > 0 { format!(" {left_out} more figures are in the report.") } else { String::new() };
        let prints = if p.verdict.n == 1 { "print" } else { "prints" };
        let extremes = if p.verdict.n > 1 {
            " Of the farthest and largest particle: median of the prints with its interval, and largest."
        } else {
            ""
        };
        let text = format!(
            "Means over {} {prints}; after ± and in brackets: their 95 % interval.{extremes}{more}",
            p.verdict.n
        );
        out.push('\n');
        wrap(&mut out, "", "", &text, width);
    }

    if p.inputs.is_layered() {
        let mut table = Table::new(["layer", "print time", "pause before", "ink"]);
        for (layer, part) in p.inputs.layers.iter().zip(&p.layers) {
            let seconds = |time: f64| format!("{} s", numbers::significant(time, 3));
            let ink = numbers::ink(part.conditions.ink_used);
            table.add([layer.name.clone(), seconds(part.conditions.print_time), seconds(layer.pause), ink]);
        }
        out.push('\n');
        let widths = table.widths();
        table.print(&mut out, width, widths);
    }

    let cautions = summary::cautions(p);
    if !cautions.is_empty() {
        out.push('\n');
        for caution in cautions.iter().filter(|c| c.severity() != Severity::Note) {
            let head = if caution.severity() == Severity::Safety { "SAFETY  " } else { "Caution " };
            wrap(&mut out, head, "        ", &caution.text, width);
        }
        let notes = cautions.iter().filter(|c| c.severity() == Severity::Note).count();
        if notes > 0 {
            let _ = writeln!(out, "{notes} more {} in the report.", if notes == 1 { "note is" } else { "notes are" });
        }
    }
    if let Some(report) = report {
        let _ = write!(out, "\nReport: {}\n", report.display());
    }
    out.replace(['\u{a0}', '\u{202f}'], " ")
}

/// Writes text broken at spaces.
fn wrap(out: &mut String, first: &str, rest: &str, text: &str, width: usize) {
    let mut line = String::from(first);
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > width {
            let _ = writeln!(out, "{}", line.trim_end());
            line = rest.to_string();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{}", line.trim_end());
}

/// A table whose first column breaks when space is short.
struct Table<const N: usize> {
    head: [String; N],
    rows: Vec<[String; N]>,
}

impl<const N: usize> Table<N> {
    fn new(head: [&str; N]) -> Self {
        Self { head: head.map(String::from), rows: vec![] }
    }

    fn add(&mut self, row: [String; N]) {
        self.rows.push(row);
    }

    /// Widest cell of each column.
    fn widths(&self) -> [usize; N] {
        let mut widths = [0; N];
        for row in std::iter::once(&self.head).chain(&self.rows) {
            for (w, cell) in widths.iter_mut().zip(row) {
                *w = (*w).max(cell.chars().count());
            }
        }
        widths
    }

    fn print(&self, out: &mut String, width: usize, mut widths: [usize; N]) {
        let over = (widths.iter().sum::<usize>() + 2 * (N - 1)).saturating_sub(width);
        widths[0] = widths[0].saturating_sub(over).max(16);
        for row in std::iter::once(&self.head).chain(&self.rows) {
            let mut first = String::new();
            let indent: String = row[0].chars().take_while(|c| *c == ' ').collect();
            wrap(&mut first, &indent, &format!("{indent}  "), &row[0], widths[0]);
            let mut lines = first.lines();
            let name = lines.next().unwrap_or_default();
            let mut line = format!("{name}{}", " ".repeat(widths[0].saturating_sub(name.chars().count()) + 2));
            for (cell, w) in row.iter().zip(widths).skip(1) {
                line.push_str(cell);
                line.push_str(&" ".repeat(w.saturating_sub(cell.chars().count()) + 2));
            }
            let _ = writeln!(out, "{}", line.trim_end());
            for rest in lines {
                let _ = writeln!(out, "{rest}");
            }
        }
    }
}
