//! How prints differ, in words: the report, the terminal and the tables share these.

use super::numbers;
use motefall_figures::spread::CONTENT;
use motefall_figures::{
    Distribution, Explained, Figure, FigureRow, ItemFigure, LimitOutcome, Prediction, RegionFigure, Tolerance,
};
use motefall_physics::inputs::VariedInput;

/// Figures that say most about a print, after those with limits.
const TELLING: [Figure; 4] = [
    Figure::Region(RegionFigure::Coverage),
    Figure::Region(RegionFigure::MeanThickness),
    Figure::Region(RegionFigure::Capacity),
    Figure::Item(ItemFigure::LineWidth),
];
/// Most causes in the sentence of the terminal.
const MOST_CAUSES: usize = 4;

/// Rows whose prints differ: those with limits first, in the order of the limits, then the telling ones of targets and items.
pub(crate) fn deciding(p: &Prediction) -> Vec<(&FigureRow, &Distribution)> {
    let is_target = |row: &FigureRow| {
        let region = p.inputs.regions.iter().find(|r| row.place.as_ref() == Some(&r.name));
        region.is_none_or(|r| r.role.is_printed())
    };
    let limited = p.limits.iter().filter_map(|l| p.figures.iter().find(|row| belongs(l, row)));
    let telling =
        TELLING.iter().flat_map(|f| p.figures.iter().filter(move |row| row.kind.figure == *f && is_target(row)));
    let mut out: Vec<(&FigureRow, &Distribution)> = vec![];
    for row in limited.chain(telling) {
        let Some(distribution) = &row.distribution else { continue };
        if !out.iter().any(|(other, _)| other.kind.figure == row.kind.figure && other.place == row.place) {
            out.push((row, distribution));
        }
    }
    out
}

/// Whether a limit is set on this row.
pub(crate) fn belongs(limit: &LimitOutcome, row: &FigureRow) -> bool {
    limit.limit.figure == row.kind.figure && limit.limit.place == row.place
}

/// Whether any figure has a distribution.
pub(crate) fn are_known(p: &Prediction) -> bool {
    p.figures.iter().any(|row| row.distribution.is_some())
}

/// Unit of a varied input as it follows a number, with the space between where there is one.
pub(crate) fn input_unit(input: VariedInput) -> String {
    match input.unit() {
        "deg" => "°".into(),
        other => format!("\u{a0}{other}"),
    }
}

/// Direction of an effect: the figure `rises with it`, `falls off centre`, and so on; `not clear` if there may be no effect.
pub(crate) fn direction(effect: &Explained) -> &'static str {
    if effect.share[1] <= 0.0 {
        return "not clear";
    }
    match (effect.sign < 0.0, effect.both_ways) {
        (false, false) => "rises with it",
        (true, false) => "falls with it",
        (false, true) => "rises off centre",
        (true, true) => "falls off centre",
    }
}

/// What a tolerance interval rests on, for tables.
pub(crate) fn basis(tolerance: &Tolerance) -> &'static str {
    if tolerance.normal { "normal law" } else { "order statistics" }
}

/// Share of all prints that a tolerance interval holds at least, in whole percent, rounded down.
pub(crate) fn held(tolerance: &Tolerance) -> String {
    format!("{:.0}\u{a0}%", (tolerance.content * 100.0 + 1e-9).floor())
}

/// Whether it holds fewer than are wanted.
pub(crate) fn holds_fewer(tolerance: &Tolerance) -> bool {
    tolerance.content < CONTENT
}

/// What it rests on, in a sentence.
pub(crate) fn basis_words(tolerance: &Tolerance) -> &'static str {
    if tolerance.normal {
        "assuming a normal law, which the prints do not contradict"
    } else {
        "from the order of the prints, whatever their law; with more prints the share grows"
    }
}

/// Figure and place in words: `coverage, working electrode`.
pub(crate) fn name(row: &FigureRow) -> String {
    let label = row.kind.label;
    row.place.as_ref().map_or(label.into(), |place| format!("{label}, {place}"))
}

/// Share and interval in percent: `52 % (44 to 60 %)`.
pub(crate) fn share_words([share, low, high]: [f64; 3]) -> String {
    let whole = |s: f64| format!("{:.0}", s * 100.0);
    format!("{}\u{a0}% ({} to {}\u{a0}%)", whole(share), whole(low), whole(high))
}

/// Share of prints that meet a limit with its interval, `93 % (89 to 96 %)`; `None` where prints do not decide one by one.
pub(crate) fn limit_share(limit: &LimitOutcome) -> Option<String> {
    let share = f64::from(limit.met) / f64::from(limit.n);
    Some(format!("{} ({})", numbers::share(share), numbers::shares(limit.share_interval()?)))
}

/// One sentence on why prints differ; `None` if it is not known.
pub(crate) fn sentence(p: &Prediction) -> Option<String> {
    let known: Vec<_> = deciding(p).into_iter().filter(|(_, d)| d.unexplained.is_some()).collect();
    if known.is_empty() {
        return None;
    }
    // Each input with the figure of which it explains most.
    let mut causes: Vec<(&Explained, &FigureRow)> = vec![];
    for (row, distribution) in &known {
        for effect in distribution.explained.iter().filter(|e| e.share[1] > 0.0 && e.share[0] >= 0.05) {
            match causes.iter_mut().find(|c| c.0.input == effect.input) {
                Some(cause) if cause.0.share[0] < effect.share[0] => *cause = (effect, row),
                Some(_) => {}
                None => causes.push((effect, row)),
            }
        }
    }
    causes.sort_by(|a, b| b.0.share[0].total_cmp(&a.0.share[0]));
    if causes.is_empty() {
        return Some("Prints differ mostly by chance within the print, not by the varied inputs.".into());
    }
    let words: Vec<String> = causes
        .iter()
        .take(MOST_CAUSES)
        .map(|(effect, row)| {
            format!(
                "{} ({:.0} % of the variance of {})",
                effect.input.label(&p.inputs.layers),
                effect.share[0] * 100.0,
                name(row)
            )
        })
        .collect();
    Some(format!("Prints differ mostly because of: {}.", words.join("; ")))
}
