//! The result on the terminal: verdict, deciding figures, cautions, where the report is.

mod advice;
mod calibration;
mod expected;
mod knobs;
mod table;

pub use advice::advice;
pub use calibration::calibration;
pub use expected::expected;
pub(crate) use expected::is_mean_told;
pub use knobs::knobs;

use super::words::{cautions, limit_name, limit_words, verdict_sentence};
use super::{differences, numbers};
use motefall_figures::places::{includes, is_met};
use motefall_figures::{Caution, FigureKind, FigureRow, Prediction, Severity};
use motefall_physics::figure_kinds::{Figure, Need, On, RegionFigure, Terminal};
use motefall_physics::inputs::Inputs;
use std::fmt::Write;
use std::path::Path;
use table::{ByPlace, Table, wrap};

/// The result as text, no wider than `width` columns (at least 60).
pub fn summary(p: &Prediction, report: Option<&Path>, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &p.inputs.name, width);
    wrap(&mut out, "", "", &verdict_sentence(&p.verdict, p.inputs.acceptance.required_share), width);
    for part in [limits, why_prints_differ, figures, layers, told_cautions] {
        part(&mut out, p, width);
    }
    if let Some(report) = report {
        let _ = write!(out, "\nReport: {}\n", report.display());
    }
    out.replace(['\u{a0}', '\u{202f}'], " ")
}

/// What was asked, what was predicted.
fn limits(out: &mut String, p: &Prediction, width: usize) {
    if p.limits.is_empty() {
        return;
    }
    let mut table = Table::new(["limit", "required", "predicted", "met; of all prints (95 %)"]);
    for (number, l) in p.limits.iter().enumerate() {
        let mut what = limit_name(&l.limit, Some(p.inputs.map.resolution));
        if p.inputs.acceptance.is_implied(number) {
            what.push_str(" (role keep-out)");
        }
        let met = match l.share_interval() {
            _ if p.is_undecided(l) => "not known".into(),
            Some(ends) => format!("{} of {}, {}", l.met, l.n, numbers::shares(ends)),
            None => format!("{} of {}", l.met, l.n),
        };
        table.add([what, limit_words(&l.limit), numbers::predicted_short(l), met]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
    if p.limits.iter().any(|l| l.share.is_some()) {
        wrap(out, "", "", "For a probability, the 95 % bound that it is judged by is given.", width);
    }
}

fn why_prints_differ(out: &mut String, p: &Prediction, width: usize) {
    if let Some(sentence) = differences::sentence(p) {
        out.push('\n');
        wrap(out, "", "", &sentence, width);
    }
}

/// Figures that have no limit, by place, as far as the terminal tells them.
fn figures(out: &mut String, p: &Prediction, width: usize) {
    let mut tables = ByPlace::default();
    for row in p.figures.iter().filter(|row| is_told(p, row)) {
        let n = row.estimate.map_or(0, |e| e.n);
        let cells = [
            format!("  {}", numbers::label_at(row.kind, p.inputs.map.resolution)),
            numbers::figure(row.estimate.as_ref(), row.kind).to_string(),
            if n == p.verdict.n || n == 0 { String::new() } else { format!("from {n} of {} prints", p.verdict.n) },
        ];
        tables.add(row.place.as_deref(), cells);
    }
    if tables.is_empty() {
        return;
    }
    tables.print(out, width);
    let left_out = tables.left_out;
    let more = if left_out > 0 { format!(" {left_out} more figures are in the report.") } else { String::new() };
    let extremes = match p.verdict.n {
        2.. => " For the farthest and largest particle: median of the prints with its interval, and largest.",
        _ => "",
    };
    let prints = numbers::counted(p.verdict.n.into(), "print", "prints");
    let text = format!("Means over {prints}; after ± and in brackets: their 95 % interval.{extremes}{more}");
    out.push('\n');
    wrap(out, "", "", &text, width);
}

/// Whether the terminal tells a figure besides those with a limit.
fn is_told(p: &Prediction, row: &FigureRow) -> bool {
    if p.limits.iter().any(|limit| differences::belongs(limit, row)) {
        return false;
    }
    tells(&p.inputs, row.kind, row.place.as_deref(), row.estimate.is_some())
}

/// Whether the terminal tells a figure at a place, known or not.
fn tells(inputs: &Inputs, kind: &FigureKind, place: Option<&str>, known: bool) -> bool {
    let region = place.and_then(|place| inputs.regions.iter().find(|region| region.name == place));
    let here = |on: On| region.map_or(on == On::Everywhere, |region| includes(on, region.role));
    // Nothing but zeros where no powder is active.
    if kind.figure == Figure::Region(RegionFigure::Capacity) && !is_met(Need::ActivePowder, inputs, None, || false) {
        return false;
    }
    match kind.terminal {
        Terminal::Never => false,
        Terminal::Told(on) => here(on),
        Terminal::IfMeasured(on) => here(on) && known,
    }
}

fn layers(out: &mut String, p: &Prediction, width: usize) {
    if !p.inputs.is_layered() {
        return;
    }
    let mut table = Table::new(["layer", "print time", "pause before", "ink"]);
    for (layer, part) in p.inputs.layers.iter().zip(&p.layers) {
        let [print, pause] = [part.conditions.print_time, layer.pause].map(numbers::duration);
        table.add([layer.name.clone(), print, pause, numbers::ink(part.conditions.ink_used)]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
}

fn told_cautions(out: &mut String, p: &Prediction, width: usize) {
    let cautions = cautions(p);
    let notes = serious(out, cautions.iter().copied(), width);
    match notes {
        0 => {}
        1 => out.push_str("1 more note is in the report.\n"),
        n => {
            let _ = writeln!(out, "{n} more notes are in the report.");
        }
    }
}

/// Tells all cautions that are more than notes; how many notes there are.
fn serious<'a>(out: &mut String, cautions: impl Iterator<Item = &'a Caution>, width: usize) -> usize {
    let (notes, others): (Vec<&Caution>, Vec<&Caution>) = cautions.partition(|c| c.severity() == Severity::Note);
    if !(notes.is_empty() && others.is_empty()) {
        out.push('\n');
    }
    for caution in others {
        let head = if caution.severity() == Severity::Safety { "SAFETY  " } else { "Caution " };
        wrap(out, head, "        ", &caution.text, width);
    }
    notes.len()
}
