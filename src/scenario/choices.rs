//! Choices of the file that no input holds: what they mean is settled while it is read.

use motefall_physics::words::words;

words! {
    /// How a drawing is printed.
    pub(crate) enum Draw {
        /// Parallel strokes over the area of closed shapes.
        Fill = "fill",
        /// Along every line.
        Lines = "lines",
    }
}

words! {
    /// A design of a sweep, without its number of points.
    pub(crate) enum DesignWord {
        /// Every combination.
        Grid = "grid",
        /// Sobol sequence.
        Sobol = "sobol",
        /// Latin hypercube.
        LatinHypercube = "latin-hypercube",
    }
}

words! {
    /// Steps of an axis.
    pub(crate) enum Scale {
        /// Even.
        Linear = "linear",
        /// Even factors.
        Log = "log",
    }
}
