//! What touches what in a print, and over prints.

/// What touches what in a print.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// Active particles over each electrode, in the order of the electrodes; `None` if only contacts seen from above were looked for.
    pub(crate) active: Option<Vec<ActiveShare>>,
    /// Pairs of electrodes that conducting particles of the bare chip join seen from above, the lower number first.
    pub bridges: Vec<[usize; 2]>,
    /// Largest conducting cluster in each gap, in the order of [`super::Electrodes::gaps`].
    pub(crate) clusters: Vec<GapCluster>,
}

/// Active particles over an electrode.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ActiveShare {
    /// Active particles whose centre lies over it.
    pub(crate) particles: u64,
    /// Those that rest on it or on conducting particles that lead to it.
    pub(crate) joined: u64,
    /// Capacity of all, C.
    pub(crate) capacity: f64,
    /// Capacity of the joined ones, C.
    pub(crate) joined_capacity: f64,
}

/// The cluster that spans most of a gap.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct GapCluster {
    /// How much of the gap it spans, measured as distance from the first electrode, m; the gap's width if it bridges.
    pub extent: f64,
    /// Its particles in the gap.
    pub particles: u64,
}

/// Gaps between electrodes over prints.
#[derive(Debug, Clone, PartialEq)]
pub struct Bridging {
    /// Prints that were looked at.
    pub prints: u32,
    /// The narrowest gaps, narrowest first.
    pub gaps: Vec<GapOutcome>,
}

/// A gap between two electrodes over prints.
#[derive(Debug, Clone, PartialEq)]
pub struct GapOutcome {
    /// Regions of the two electrodes.
    pub between: [String; 2],
    /// Least distance of their edges, m.
    pub width: f64,
    /// Prints in which conducting particles joined the two.
    pub bridged: u32,
    /// The conducting cluster that spans most of the gap, in any print.
    pub largest: GapCluster,
    /// Mean over prints of the share of the gap that the print's largest cluster spans, 0 to 1.
    pub mean_spanned: f64,
}
