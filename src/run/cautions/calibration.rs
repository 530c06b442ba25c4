//! What is said of a calibration that a prediction took.

use motefall_figures::calibration::{Agreement, Used};
use motefall_figures::{Caution, CautionKind};

/// A figure with a limit: where, and its standard deviations between prints and by what is still unknown, relative to its mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Apart {
    /// Figure and place in words.
    pub name: String,
    /// Between prints.
    pub prints: f64,
    /// By what is still unknown.
    pub unknown: f64,
}

/// Most figures that are told.
const MOST_TOLD: usize = 4;

/// That a prediction is calibrated, what still moves the figures with a limit, and where the calibration does not reach.
pub fn calibration(used: &Used, apart: &[Apart]) -> Vec<Caution> {
    let Used { name, created, learnt_from, agreement, not_used, outside } = used;
    let mut text =
        format!("Calibrated by {name} ({learnt_from}, made {created}): each print draws what these leave unknown.");
    for Apart { name, prints, unknown } in apart.iter().take(MOST_TOLD) {
        let word = if unknown > prints { "mostly unknown" } else { "mostly prints" };
        text += &format!(
            " {name}: {:.0} % between prints, {:.0} % by what is unknown ({word}).",
            100.0 * prints,
            100.0 * unknown
        );
    }
    if apart.iter().any(|apart| apart.unknown > apart.prints) {
        text +=
            " Where the unknown weighs more, further test lines narrow it; where prints do, a steadier process does.";
    }
    if !not_used.is_empty() {
        text += &format!(" Not used, since this scenario has no such key or says it itself: {}.", not_used.join(", "));
    }
    let mut list = vec![CautionKind::Calibrated.with(text)];
    if !outside.is_empty() {
        list.push(CautionKind::CalibrationOutside.with(format!(
            "The calibration comes from lines that differ from this print: {}. What was learnt there need not hold here: print and measure a \
             line as this print is.",
            outside.join("; ")
        )));
    }
    let doubt = match agreement {
        Agreement::Fits => None,
        Agreement::Untested => Some(format!(
            "Nothing tests the calibration {name}: the unknowns can meet whatever was measured. Measure more lines."
        )),
        Agreement::FitsPoorly => Some(format!(
            "The model fits the lines of {name} poorly: its report names those that contradict. What it lacks is carried as further spread, but \
             nobody knows whether it grows away from these lines."
        )),
        Agreement::DoesNotFit => Some(format!(
            "The model does not fit the lines of {name} within the uncertainty of measurement and prints. What it lacks is carried as further \
             spread, but nobody knows whether it grows away from these lines."
        )),
    };
    list.extend(doubt.map(|text| CautionKind::CalibrationMisfit.with(text)));
    list
}
