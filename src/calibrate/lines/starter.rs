//! A table to start from.

/// A commented table for the test lines of `first-line.toml`. Its values are invented.
pub fn starter() -> &'static str {
    include_str!("../../../scenarios/first-line-measured.csv")
}
