//! Reads the tables of published values.

use std::collections::HashMap;

/// One row: text by column name.
pub(super) struct Row(HashMap<String, String>);

impl Row {
    /// Text of a column.
    pub(super) fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// Number in a column, if there is one.
    pub(super) fn maybe(&self, column: &str) -> Option<f64> {
        self.text(column).parse().ok()
    }

    /// Number in a column.
    pub(super) fn number(&self, column: &str) -> f64 {
        self.maybe(column).unwrap_or_else(|| panic!("{column} holds '{}'", self.text(column)))
    }
}

/// All rows of `tests/data/<name>.csv`.
pub(super) fn table(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/data/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_path(&path).expect("data file");
    let rows: Vec<Row> = reader.deserialize().map(|row| Row(row.expect("readable row"))).collect();
    assert!(!rows.is_empty(), "{path} is empty");
    rows
}

/// Asserts a relative difference.
#[track_caller]
pub(super) fn close(got: f64, published: f64, relative: f64, what: &str) {
    assert!(
        (got / published - 1.0).abs() <= relative,
        "{what}: {got:.6e} against {published:.6e} ({:+.3} %, allowed {:.3} %)",
        (got / published - 1.0) * 100.0,
        relative * 100.0
    );
}

/// Asserts an absolute difference.
#[track_caller]
pub(super) fn near(got: f64, published: f64, absolute: f64, what: &str) {
    assert!((got - published).abs() <= absolute, "{what}: {got} against {published} (allowed {absolute})");
}
