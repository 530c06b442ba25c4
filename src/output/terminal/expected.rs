//! The expected deposit on the terminal.

use super::table::{ByPlace, Table, wrap};
use super::{serious, tells};
use crate::expected::{about_share, between_prints, known_to, row_of, scatters, shown, stands, why_only_prints};
use crate::words::{limit_name, limit_words};
use motefall_figures::ExpectedValue;
use motefall_figures::expected::{Expected, ExpectedRow};

/// The expected deposit as text, no wider than `width` columns (at least 60); `file` is what it was read from.
pub fn expected(e: &Expected, file: &str, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &e.inputs.name, width);
    wrap(
        &mut out,
        "",
        "",
        "Expected deposit: means over prints, worked out without making any. What share of prints passes all limits takes prints.",
        width,
    );
    limits(&mut out, e, width);
    figures(&mut out, e, width);
    only_prints(&mut out, e, file, width);
    serious(&mut out, e.cautions.iter(), width);
    out.replace(['\u{a0}', '\u{202f}'], " ")
}

fn limits(out: &mut String, e: &Expected, width: usize) {
    let limits = &e.inputs.acceptance.limits;
    if limits.is_empty() {
        return;
    }
    let mut table = Table::new(["limit", "required", "expected", "on average", "of prints"]);
    for (number, limit) in limits.iter().enumerate() {
        let mut what = limit_name(limit, Some(e.inputs.map.resolution));
        if e.inputs.acceptance.is_implied(number) {
            what.push_str(" (role keep-out)");
        }
        let row = row_of(e, limit);
        let value = row.and_then(|row| row.value.as_ref());
        let shown = row.zip(value).map_or("takes prints".into(), |(row, value)| shown(row, value));
        let share = about_share(limit, row);
        table.add([what, limit_words(limit), shown, row.map_or("", |row| stands(limit, row)).into(), share]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
}

/// Whether a figure is told besides those with a limit.
pub(crate) fn is_mean_told(e: &Expected, row: &ExpectedRow) -> bool {
    let mut limits = e.inputs.acceptance.limits.iter();
    let is_limited = limits.any(|limit| row.kind.figure == limit.figure && row.place == limit.place);
    !is_limited && tells(&e.inputs, row.kind, row.place.as_deref(), true)
}

fn figures(out: &mut String, e: &Expected, width: usize) {
    let mut tables = ByPlace::default();
    for row in e.figures.iter().filter(|row| is_mean_told(e, row)) {
        if let Some(value) = &row.value {
            tables.add(row.place.as_deref(), [format!("  {}", row.kind.label), shown(row, value), spread(row, value)]);
        }
    }
    tables.print(out, width);
    let left_out = tables.left_out;
    let more =
        if left_out > 0 { format!(" {left_out} more figures are in the output of --json.") } else { String::new() };
    out.push('\n');
    let is_calibrated = e.figures.iter().any(|row| row.value.as_ref().is_some_and(|value| value.from_unknown > 0.0));
    let unknown = if is_calibrated { ", by what the calibration leaves unknown" } else { "" };
    let text = format!(
        "± is the standard deviation between prints: by what differs in [spread], by the noise of the mist output{unknown}, and by chance. \
         Shares of prints take each figure for normally distributed, few particles for Poisson.{more}"
    );
    wrap(out, "", "", &text, width);
}

/// How prints scatter, and the error of the arithmetic where it shows.
fn spread(row: &ExpectedRow, value: &ExpectedValue) -> String {
    let inputs_only = if value.sd().is_none() { " without chance" } else { "" };
    let is_same = value.sd().is_some_and(|sd| !scatters(sd, value)) && value.mean > 0.0;
    let same = is_same.then(|| "does not differ".to_owned());
    let between = between_prints(row, value).map(|sd| format!("{sd}{inputs_only}"));
    let error = known_to(row, value).map(|error| format!("known to {error}"));
    same.into_iter().chain(between).chain(error).collect::<Vec<_>>().join(", ")
}

/// What is not told here, and how it is had.
fn only_prints(out: &mut String, e: &Expected, file: &str, width: usize) {
    if let Some(why) = e.only_prints {
        wrap(
            out,
            "",
            "",
            &format!("Only prints tell anything here: {}. They take: motefall predict {file}", why_only_prints(why)),
            width,
        );
        return;
    }
    let mut names: Vec<&str> = vec![];
    for row in e.figures.iter().filter(|row| row.value.is_none()) {
        if !names.contains(&row.kind.label) && tells(&e.inputs, row.kind, row.place.as_deref(), true) {
            names.push(row.kind.label);
        }
    }
    if !names.is_empty() {
        wrap(
            out,
            "",
            "",
            &format!("Only prints tell: {}. They take: motefall predict {file}", names.join(", ")),
            width,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::figure_kinds::PrintFigure;

    #[test]
    fn rounding_is_no_scatter() {
        let kind = PrintFigure::PrintTime.kind();
        let row = ExpectedRow { kind, place: None, value: None };
        let words = |mean: f64, from_inputs: f64, from_chance: Option<f64>| {
            let (from_noise, from_unknown, by_input, error) = (0.0, 0.0, vec![], 0.0);
            spread(&row, &ExpectedValue { mean, from_inputs, from_noise, from_chance, from_unknown, by_input, error })
        };
        assert_eq!(words(8.26, 1e-12, Some(0.0)), "does not differ");
        assert_eq!(words(8.26, 0.01, Some(0.0)), "± 0.010");
        assert_eq!(words(8.26, 0.01, None), "± 0.010 without chance");
        // Nobody knows what chance does, and nothing comes to rest.
        assert_eq!([words(8.26, 1e-12, None), words(0.0, 0.0, Some(0.0))], ["", ""]);
    }
}
