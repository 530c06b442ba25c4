//! What a report of a sweep can say beyond the result.

/// What a report of a sweep can say beyond the result.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Extra {
    /// Link to the print report of the recommended point, relative to the folder, e.g. `best/report.html`.
    pub best_report: Option<String>,
}
