//! A part of a sweep's points.

use serde::{Deserialize, Serialize};

/// A part of the points of a design: those whose number from 0, divided by `of`, leaves `number - 1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// From 1.
    pub number: u64,
    /// Number of parts.
    pub of: u64,
}

impl Shard {
    /// Everything.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Points of this part, of `points`.
    pub fn count(self, points: u64) -> u64 {
        (points + self.of - self.number) / self.of
    }

    /// Point at a place of this part, from 0.
    pub(crate) fn point(self, place: u64) -> u64 {
        self.number - 1 + place * self.of
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shards_share_the_points_out() {
        for (points, of) in [(10, 3), (16, 16), (2, 5), (0, 2)] {
            let mut all: Vec<u64> = (1..=of)
                .flat_map(|number| {
                    let shard = Shard { number, of };
                    (0..shard.count(points)).map(move |place| shard.point(place))
                })
                .collect();
            all.sort_unstable();
            assert_eq!(all, (0..points).collect::<Vec<_>>());
        }
    }
}
