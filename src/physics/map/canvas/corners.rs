//! How a sphere's volume is shared where lines cut it.

use std::sync::OnceLock;

/// Most pixels along an axis for which a sphere is cut with the table.
pub(super) const MOST_LINES: usize = 12;
/// Intervals of the corner table along each axis.
pub(super) const CORNER_INTERVALS: usize = 64;
/// Added to a number of less than 2^51 in size it leaves the nearest whole number in the lowest bits. Quicker than a conversion, which minds
/// more cases.
pub(super) const TO_WHOLE: f64 = 6_755_399_441_055_744.0;

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

    /// Interval and fraction of a place in units of intervals from the sphere's edge. On a node it may be the end of the one interval or
    /// the begin of the next.
    #[inline]
    pub(super) fn place(at: f64) -> (usize, f64) {
        // These comparisons are quicker than `clamp`, which minds more cases.
        let at = if at > 0.0 { at } else { 0.0 };
        let at = if at < CORNER_INTERVALS as f64 { at } else { CORNER_INTERVALS as f64 };
        let middle = at - 0.5;
        let middle = if middle < (CORNER_INTERVALS - 1) as f64 { middle } else { (CORNER_INTERVALS - 1) as f64 };
        let whole = middle + TO_WHOLE;
        ((whole.to_bits() & 0xff) as usize, at - (whole - TO_WHOLE))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_where_they_should_be() {
        let last = CORNER_INTERVALS as f64;
        for k in -100..7000 {
            let at = 0.01 * f64::from(k);
            let (interval, fraction) = Corners::place(at);
            assert!(interval < CORNER_INTERVALS && (0.0..=1.0).contains(&fraction), "{at}");
            assert!((interval as f64 + fraction - at.clamp(0.0, last)).abs() < 1e-12, "{at}");
        }
        assert_eq!(Corners::place(1e300), (CORNER_INTERVALS - 1, 1.0));
        assert_eq!(Corners::place(-1e300), (0, 0.0));
        // All of the sphere, exactly.
        let (corners, end) = (Corners::table(), Corners::place(last));
        assert_eq!((corners.cap(end), corners.cap(Corners::place(0.0))), (1.0, 0.0));
        assert_eq!(corners.at(end, end), 1.0);
    }
}
