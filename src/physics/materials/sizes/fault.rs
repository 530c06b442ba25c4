//! What is wrong with a distribution.

/// Largest accepted geometric standard deviation. Real powders stay below about 4 (common practice, no source).
pub const LARGEST_GSD: f64 = 10.0;

/// What is wrong with a distribution. Modes and bins are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SizesError {
    /// No modes or bins.
    #[error("no modes or bins: give at least one lognormal mode, or two bin edges and one amount")]
    Empty,
    /// Modes of both weightings.
    #[error("mode {mode} is weighted differently from mode 1: give all modes by number or all by volume")]
    MixedWeighting {
        /// The first mode that differs.
        mode: usize,
    },
    /// A share that is negative or not a number.
    #[error("share of mode {mode} is {value}; it must be a number of at least 0")]
    Share {
        /// Which mode.
        mode: usize,
        /// Value found.
        value: f64,
    },
    /// A median that is not a positive number.
    #[error("median diameter of mode {mode} is {} µm; it must be above 0", .value * 1e6)]
    Median {
        /// Which mode.
        mode: usize,
        /// Value found, m.
        value: f64,
    },
    /// A geometric standard deviation out of range.
    #[error(
        "geometric standard deviation of mode {mode} is {value}; it must be above 1 (all one size would be 1) and at most {LARGEST_GSD}"
    )]
    Gsd {
        /// Which mode.
        mode: usize,
        /// Value found.
        value: f64,
    },
    /// Counts of edges and amounts do not match.
    #[error("{edges} bin edges and {amounts} amounts: a histogram has one more edge than amounts")]
    Lengths {
        /// Number of edges.
        edges: usize,
        /// Number of amounts.
        amounts: usize,
    },
    /// An edge that is not a positive number.
    #[error("bin edge {edge} is {} µm; edges must be above 0, because bins are spread evenly in the logarithm", .value * 1e6)]
    Edge {
        /// Which edge.
        edge: usize,
        /// Value found, m.
        value: f64,
    },
    /// Edges that do not rise.
    #[error("bin edge {edge} ({} µm) is not above the one before ({} µm): sort the edges, smallest first", .value * 1e6, .before * 1e6)]
    Unsorted {
        /// Which edge.
        edge: usize,
        /// Value found, m.
        value: f64,
        /// The edge before it, m.
        before: f64,
    },
    /// An amount that is negative or not a number.
    #[error("amount in bin {bin} is {value}; it must be a number of at least 0")]
    Amount {
        /// Which bin.
        bin: usize,
        /// Value found.
        value: f64,
    },
    /// Everything is zero.
    #[error("all shares or amounts are 0: at least one must be above 0")]
    NothingInIt,
}
