//! What settings do to figures, on the terminal.

use super::{Table, serious, wrap};
use crate::numbers;
use motefall_figures::Severity;
use motefall_figures::expected::{Expected, ExpectedRow};
use motefall_physics::figure_kinds::{Figure, RegionFigure};
use motefall_physics::inputs::Role;

/// What turning a setting does.
#[derive(Debug, Clone, Copy)]
pub struct Effect<'a> {
    /// Key of the setting.
    pub key: &'a str,
    /// Its unit.
    pub unit: &'a str,
    /// Its value in this unit.
    pub value: f64,
    /// Whether it is a default that nobody has measured.
    pub is_unverified: bool,
    /// Power of it that each figure follows; `None` where only prints tell.
    pub powers: &'a [Option<f64>],
}

/// Settings told of a figure, and the relative change of a figure below which a setting is not told.
const MOST_TOLD: usize = 7;
const LEAST_TOLD: f64 = 0.002;
/// By how much a setting is larger in what is told.
const MORE: f64 = 0.1;
/// Error of a figure, as a part of it, beyond which nothing is told.
const MOST_ERROR: f64 = 0.05;

/// What 10 % more of each setting does to figures with a limit, or to what lies on targets; no wider than `width` columns (at least 60).
pub fn knobs(e: &Expected, effects: &[Effect<'_>], width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &e.inputs.name, width);
    wrap(
        &mut out,
        "",
        "",
        "What 10 % more of a setting does to expected figures, all else as it is, if it goes on as within 2 %. What differs between prints is left out.",
        width,
    );
    for (k, row) in e.figures.iter().enumerate().filter(|(_, row)| is_told(e, row)) {
        let Some(value) = row.value.as_ref().filter(|value| value.mean > 0.0) else { continue };
        let place = row.place.as_deref().unwrap_or("whole print");
        let now = format!("{}, {place}: {}", row.kind.label, numbers::mean(value.mean, row.kind));
        if value.error > MOST_ERROR * value.mean {
            out.push('\n');
            wrap(&mut out, "", "  ", &format!("{now}, too little to tell what changes it"), width);
            continue;
        }
        let mut told: Vec<(&Effect<'_>, f64)> = effects
            .iter()
            .filter_map(|effect| Some((effect, (1.0 + MORE).powf(effect.powers[k]?) - 1.0)))
            .filter(|(_, change)| change.abs() >= LEAST_TOLD)
            .collect();
        told.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        let mut table = Table::new([now.as_str(), "now", "with 10 % more"]);
        for (effect, change) in told.iter().take(MOST_TOLD) {
            let mark = if effect.is_unverified { " ◆" } else { "" };
            table.add([
                format!("  {}{mark}", effect.key),
                format!("{} {}", numbers::trimmed(effect.value), effect.unit),
                format!("{}{} %", if *change < 0.0 { "−" } else { "+" }, numbers::significant(100.0 * change.abs(), 2)),
            ]);
        }
        out.push('\n');
        table.print(&mut out, width, table.widths());
        if told.is_empty() {
            wrap(&mut out, "  ", "  ", "no setting changes it by more than 0.2 %", width);
        }
    }
    if effects.iter().any(|effect| effect.is_unverified) {
        out.push('\n');
        wrap(&mut out, "", "", "◆ a default that nobody has measured: what it does is what you do not know.", width);
    }
    serious(&mut out, e.cautions.iter().filter(|caution| caution.severity() == Severity::Safety), width);
    out.replace(['\u{a0}', '\u{202f}'], " ")
}

/// Figures with a limit; without any, what lies on targets.
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
