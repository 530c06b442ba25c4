//! A table to start from.

/// A commented table for the test lines of `first-line.toml`. Nothing is measured in it.
pub fn starter() -> &'static str {
    include_str!("starter.csv")
}
