//! Boxes.

use super::Point;

/// A box with its sides along x and y, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
}

impl Bounds {
    /// Around nothing: infinite, the wrong way round.
    pub(crate) const NONE: Self = Self { low: [f64::INFINITY; 2], high: [f64::NEG_INFINITY; 2] };

    /// The box around points.
    pub fn around(points: impl IntoIterator<Item = Point>) -> Self {
        points.into_iter().fold(Self::NONE, |all, p| all.and(Self { low: p, high: p }))
    }

    /// The box around both.
    pub fn and(self, other: Self) -> Self {
        Self {
            low: [self.low[0].min(other.low[0]), self.low[1].min(other.low[1])],
            high: [self.high[0].max(other.high[0]), self.high[1].max(other.high[1])],
        }
    }

    /// Larger by a length (m) on each side.
    pub(crate) fn grown(self, by: f64) -> Self {
        Self { low: self.low.map(|v| v - by), high: self.high.map(|v| v + by) }
    }

    /// Width and height, m.
    pub fn size(self) -> Point {
        [self.high[0] - self.low[0], self.high[1] - self.low[1]]
    }

    /// Diagonal, m; 0 around nothing.
    pub fn diagonal(self) -> f64 {
        let [width, height] = self.size().map(|side| side.max(0.0));
        width.hypot(height)
    }

    /// Whether a point is inside or on the edge.
    #[inline]
    pub(crate) fn contains(self, point: Point) -> bool {
        (0..2).all(|k| self.low[k] <= point[k] && point[k] <= self.high[k])
    }

    /// Whether two boxes overlap or touch.
    #[inline]
    pub(crate) fn meets(self, other: Self) -> bool {
        (0..2).all(|k| self.low[k] <= other.high[k] && self.high[k] >= other.low[k])
    }

    /// Square of the distance to a point, m^2; 0 inside.
    #[inline]
    pub(crate) fn distance2(self, point: Point) -> f64 {
        let out = |k: usize| (self.low[k] - point[k]).max(point[k] - self.high[k]).max(0.0);
        let [x, y] = [out(0), out(1)];
        x * x + y * y
    }

    /// Distance to a point, m; 0 inside.
    #[inline]
    pub(crate) fn distance(self, point: Point) -> f64 {
        self.distance2(point).sqrt()
    }

    /// Largest distance of any side from the origin beyond half of the given width and height; negative inside.
    pub fn beyond(self, half: Point) -> f64 {
        let out = |axis: usize| (-self.low[axis]).max(self.high[axis]) - half[axis];
        out(0).max(out(1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_by_hand() {
        let all = Bounds::around([[1.0, 2.0], [4.0, -2.0], [2.0, 0.0]]);
        assert_eq!(all, Bounds { low: [1.0, -2.0], high: [4.0, 2.0] });
        assert_eq!((all.size(), all.diagonal(), all.grown(1.0).size()), ([3.0, 4.0], 5.0, [5.0, 6.0]));
        assert!(all.contains([4.0, 2.0]) && !all.contains([4.1, 0.0]));
        assert_eq!((all.distance([7.0, 6.0]), all.distance([2.0, 1.0])), (5.0, 0.0));
        // 4 from the origin along x, 2 along y.
        assert_eq!((all.beyond([3.0, 3.0]), all.beyond([5.0, 5.0])), (1.0, -1.0));
        let beside = Bounds { low: [4.0, 0.0], high: [5.0, 1.0] };
        assert!(all.meets(beside) && beside.meets(all) && !all.meets(Bounds::around([[4.5, 0.0]])));
        assert_eq!(all.and(Bounds::NONE), all);
        assert!(!all.meets(Bounds::NONE) && Bounds::NONE.diagonal() == 0.0 && !Bounds::NONE.contains([0.0; 2]));
    }
}
