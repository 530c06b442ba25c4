//! What is told of what settings do.

use crate::numbers;
use motefall_figures::expected::{Expected, ExpectedRow};
use motefall_figures::knobs::{Effect, Knobs};
use motefall_physics::figure_kinds::{Figure, RegionFigure};
use motefall_physics::inputs::Role;

/// Settings told of a figure, and the relative change of a figure below which a setting is not told.
const MOST_TOLD: usize = 10;
const LEAST_TOLD: f64 = 0.002;
/// Error of a figure, as a part of it, beyond which nothing is told.
const MOST_ERROR: f64 = 0.05;

/// What settings do to one figure.
pub(crate) struct Told<'a> {
    /// Its name and what it is now.
    pub(crate) now: String,
    /// Settings and the relative change of the figure with more of each, the largest first; or why that is not told.
    pub(crate) changes: Result<Vec<(&'a Effect, f64)>, &'static str>,
}

/// Figures of which it is told what settings do: those with a limit; without any, of what lies on targets.
pub(crate) fn told_rows(knobs: &Knobs) -> Vec<usize> {
    let e = &knobs.expected;
    (0..e.figures.len()).filter(|k| e.figures[*k].value.is_some() && is_told(e, &e.figures[*k])).collect()
}

/// Of figures with a limit; without any, of what lies on targets.
pub(crate) fn told(knobs: &Knobs) -> Vec<Told<'_>> {
    let e = &knobs.expected;
    let of_row = |k: usize| {
        let row = &e.figures[k];
        let name = format!("{}, {}", row.kind.label, row.place.as_deref().unwrap_or("whole print"));
        let Some(value) = &row.value else { return Told { now: name, changes: Err("only prints tell") } };
        let changes = || {
            let changes = knobs.effects.iter().filter_map(|effect| Some((effect, change(effect, k, value.mean)?)));
            let mut changes: Vec<(&Effect, f64)> = changes.filter(|(_, change)| change.abs() >= LEAST_TOLD).collect();
            changes.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
            changes.truncate(MOST_TOLD);
            changes
        };
        Told {
            now: format!("{name}: {}", numbers::mean(value.mean, row.kind)),
            changes: if is_sure(row) {
                Ok(changes())
            } else {
                Err("so little lands there that it cannot be told this way")
            },
        }
    };
    (0..e.figures.len()).filter(|k| is_told(e, &e.figures[*k])).map(of_row).collect()
}

/// Whether so much happens that it can be told what settings do to a figure.
pub(crate) fn is_sure(row: &ExpectedRow) -> bool {
    row.value.as_ref().is_some_and(|value| value.mean > 0.0 && value.error <= MOST_ERROR * value.mean)
}

/// Relative change of a figure, by its number and mean, with more of a setting: by the power that it follows, or else in a straight line.
pub(crate) fn change(effect: &Effect, figure: usize, mean: f64) -> Option<f64> {
    match effect.powers[figure] {
        Some(power) => Some((1.0 + effect.more / effect.value).powf(power) - 1.0),
        None => Some(effect.slopes[figure]? * effect.more / mean).filter(|_| mean > 0.0),
    }
}

/// How much more of a setting is told: `+10 %`, `+1 °C`; less of what can be no more.
pub(crate) fn more_words(effect: &Effect) -> String {
    let sign = if effect.more < 0.0 { '−' } else { '+' };
    let is_part = ((effect.more / effect.value).abs() - 0.1).abs() < 1e-9;
    let (size, unit) = if is_part { (10.0, "%") } else { (effect.more.abs(), unit_words(effect.unit)) };
    format!("{sign}{} {unit}", numbers::trimmed(size)).trim_end().to_owned()
}

fn unit_words(unit: &str) -> &str {
    match unit {
        "C" => "°C",
        "deg" => "°",
        other => other,
    }
}

/// A setting as it is now.
pub(crate) fn setting(effect: &Effect) -> String {
    format!("{} {}", numbers::trimmed(effect.value), unit_words(effect.unit)).trim_end().to_owned()
}

/// A change in words: `+1.2 %`.
pub(crate) fn change_words(change: f64) -> String {
    format!("{}{} %", if change < 0.0 { "−" } else { "+" }, numbers::significant(100.0 * change.abs(), 2))
}

fn is_told(e: &Expected, row: &ExpectedRow) -> bool {
    let limits = &e.inputs.acceptance.limits;
    if !limits.is_empty() {
        return limits.iter().any(|limit| row.kind.figure == limit.figure && row.place == limit.place);
    }
    let mut targets = e.inputs.regions.iter().filter(|region| region.role == Role::Target);
    let on_target = targets.any(|region| row.place.as_deref() == Some(&region.name));
    let of_deposit = [RegionFigure::Coverage, RegionFigure::MeanThickness].map(Figure::Region);
    on_target && of_deposit.contains(&row.kind.figure)
}
