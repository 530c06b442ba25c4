//! How a sphere's volume is shared where lines cut it.

use std::sync::OnceLock;

/// Most pixels along an axis for which a sphere is cut with the table.
pub(super) const MOST_LINES: usize = 12;
/// Intervals of the corner table along each axis.
pub(super) const CORNER_INTERVALS: usize = 64;

/// Share of a unit sphere's volume with x below s and y below t, for s and t from -1 to 1.
///
/// Linear between the nodes, that is, even within small squares: a share is never negative, and the error is below 0.1 % of the
/// sphere's volume.
pub(super) struct Corners {
    /// Up to each pair of nodes.
    shares: Vec<f32>,
    /// The same up to each node with no second line: what a cap holds.
    caps: [f64; CORNER_INTERVALS + 1],
}

impl Corners {
    pub(super) fn table() -> &'static Self {
        static TABLE: OnceLock<Corners> = OnceLock::new();
        TABLE.get_or_init(|| {
            let n = CORNER_INTERVALS;
            let fine = 16;
            // Chords summed over fine cells, then added up from the lower left corner.
            let cell = 2.0 / (n * fine) as f64;
            let mut sums = vec![0.0; (n + 1) * (n + 1)];
            for i in 0..n {
                for j in 0..n {
                    let mut sum = 0.0;
                    for a in 0..fine {
                        for b in 0..fine {
                            let x = -1.0 + ((i * fine + a) as f64 + 0.5) * cell;
                            let y = -1.0 + ((j * fine + b) as f64 + 0.5) * cell;
                            sum += (1.0 - x * x - y * y).max(0.0).sqrt();
                        }
                    }
                    sums[(i + 1) * (n + 1) + j + 1] =
                        sum + sums[i * (n + 1) + j + 1] + sums[(i + 1) * (n + 1) + j] - sums[i * (n + 1) + j];
                }
            }
            let whole = sums[(n + 1) * (n + 1) - 1];
            let shares: Vec<f32> = sums.iter().map(|sum| (sum / whole) as f32).collect();
            let caps = std::array::from_fn(|i| f64::from(shares[i * (n + 1) + n]));
            Self { shares, caps }
        })
    }

    /// Interval and fraction of a place in units of intervals from the sphere's edge.
    #[inline]
    pub(super) fn place(at: f64) -> (usize, f64) {
        let at = at.clamp(0.0, CORNER_INTERVALS as f64);
        let interval = (at as usize).min(CORNER_INTERVALS - 1);
        (interval, at - interval as f64)
    }

    /// Share up to two places.
    #[inline]
    pub(super) fn at(&self, (i, fx): (usize, f64), (j, fy): (usize, f64)) -> f64 {
        let base = i * (CORNER_INTERVALS + 1) + j;
        let row = &self.shares[base..base + CORNER_INTERVALS + 3];
        let mix = |a: f32, b: f32| f64::from(a) + fy * f64::from(b - a);
        let (low, high) = (mix(row[0], row[1]), mix(row[CORNER_INTERVALS + 1], row[CORNER_INTERVALS + 2]));
        low + fx * (high - low)
    }

    /// Share up to one place; all of it at the end of the last interval.
    #[inline]
    pub(super) fn cap(&self, (i, f): (usize, f64)) -> f64 {
        self.caps[i] + f * (self.caps[i + 1] - self.caps[i])
    }
}
