//! Numbers drawn by inversion from a density that is even between edges.

/// Tells for a share of the probability the number below which it lies. Numbers are even between edges.
#[derive(Debug, Clone, Default)]
pub struct Inverse {
    /// At the edges: share of the probability below, and number.
    edges: Vec<[f64; 2]>,
    /// For even shares, the first interval to look at.
    guide: Vec<u16>,
}

impl Inverse {
    /// From edges, each the share of the probability below it (0 at the first, 1 at the last) and the number there, both rising; and how many
    /// even shares have their interval known at once.
    pub fn new(edges: Vec<[f64; 2]>, guides: usize) -> Self {
        debug_assert!(edges.len() >= 2 && edges.len() <= usize::from(u16::MAX));
        let mut interval = 0;
        let guide = (0..guides).map(|k| {
            while interval + 2 < edges.len() && edges[interval + 1][0] <= k as f64 / guides as f64 {
                interval += 1;
            }
            interval as u16
        });
        Self { guide: guide.collect(), edges }
    }

    /// For a share of the probability, from 0 to less than 1: the interval between edges, and the number.
    #[inline]
    pub fn at(&self, share: f64) -> (usize, f64) {
        let mut interval =
            usize::from(self.guide[((share * self.guide.len() as f64) as usize).min(self.guide.len() - 1)]);
        while interval + 2 < self.edges.len() && self.edges[interval + 1][0] <= share {
            interval += 1;
        }
        let ([low, from], [high, to]) = (self.edges[interval], self.edges[interval + 1]);
        let inside = if high > low { ((share - low) / (high - low)).clamp(0.0, 1.0) } else { 0.5 };
        (interval, from + inside * (to - from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_turned_into_numbers_whatever_the_guide() {
        // A tenth of the probability from 1 to 2, none from 2 to 4, the rest from 4 to 5.
        for guides in [1, 2, 7, 1000] {
            let inverse = Inverse::new(vec![[0.0, 1.0], [0.1, 2.0], [0.1, 4.0], [1.0, 5.0]], guides);
            for (share, interval, number) in
                [(0.0, 0, 1.0), (0.05, 0, 1.5), (0.1, 2, 4.0), (0.55, 2, 4.5), (0.999, 2, 4.998_889)]
            {
                let (found, at) = inverse.at(share);
                assert!(found == interval && (at - number).abs() < 1e-6, "{guides} {share}: {found} {at}");
            }
        }
    }
}
