//! `report.html`: one file, pictures first.

mod calibration;
mod cautions;
mod chip;
mod conditions;
mod differ;
mod drawing;
mod figures;
mod inputs;
mod knobs;
mod limits;
mod plots;
mod specimen;
mod verdict;
mod whole;

pub(crate) use calibration::page as calibration;
pub(crate) use whole::html;

/// Most places or layers beside each other in a table.
const MOST_COLUMNS: usize = 4;
