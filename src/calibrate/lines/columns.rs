//! What the columns of the table are.

use motefall_figures::calibration::{QUANTITIES, Quantity};
use motefall_scenario::nearest;

/// What a column holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Column {
    Name,
    Item,
    Region,
    VialMinutes,
    Prints,
    Method,
    HeldOut,
    /// A remark of the user's.
    Note,
    /// A key of the scenario.
    Setting(String),
    Measured(&'static Quantity),
    Uncertainty(&'static Quantity),
}

/// Columns that are neither settings nor measured.
const OTHERS: [(&str, Column); 8] = [
    ("name", Column::Name),
    ("item", Column::Item),
    ("region", Column::Region),
    ("vial_minutes", Column::VialMinutes),
    ("prints", Column::Prints),
    ("method", Column::Method),
    ("held_out", Column::HeldOut),
    ("note", Column::Note),
];

/// What a column is by its head; otherwise what is wrong with it and what to write.
pub(super) fn column(head: &str) -> Result<Column, (String, String)> {
    if let Some((_, column)) = OTHERS.iter().find(|(name, _)| *name == head) {
        return Ok(column.clone());
    }
    if let Some(quantity) = QUANTITIES.iter().find(|quantity| quantity.column == head) {
        return Ok(Column::Measured(quantity));
    }
    if let Some(quantity) = QUANTITIES.iter().find(|quantity| quantity.sd_column == head) {
        return Ok(Column::Uncertainty(quantity));
    }
    if head.contains('.') {
        return Ok(Column::Setting(head.to_owned()));
    }
    let what =
        if head.is_empty() { "a column has no name".to_owned() } else { format!("no column is called `{head}`") };
    Err((what, advice(head)))
}

/// What to write in place of an unknown head.
fn advice(head: &str) -> String {
    // Without a unit, or with another.
    let stem = |column: &str| column.rsplit_once('_').map_or(column.to_owned(), |(stem, _)| stem.to_owned());
    let in_other_unit = |name: &str| name.starts_with(head) || stem(name) == stem(head);
    let names = || QUANTITIES.iter().flat_map(|q| [(q.column, q), (q.sd_column, q)]);
    if let Some((name, quantity)) = names().find(|(name, _)| !head.is_empty() && in_other_unit(name)) {
        return format!("write `{name}`, and its values in {}", quantity.unit);
    }
    let known = || names().map(|(name, _)| name).chain(OTHERS.iter().map(|(name, _)| *name));
    match nearest(head, known()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!(
            "columns are {}; settings that differ from the scenario are named by their key, e.g. `flow.sheath_sccm`",
            known().collect::<Vec<_>>().join(", ")
        ),
    }
}
