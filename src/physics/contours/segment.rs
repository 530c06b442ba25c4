//! Points, segments, and rings of them.

/// A place in the plane, or a way in it, m.
pub type Point = [f64; 2];

/// Turns a vector by an angle (rad).
#[inline]
pub fn turned([x, y]: Point, angle: f64) -> Point {
    // Most rectangles are not turned, and points are tested by the million.
    if angle == 0.0 {
        return [x, y];
    }
    let (sine, cosine) = angle.sin_cos();
    [x * cosine - y * sine, x * sine + y * cosine]
}

/// Way to a point from the nearest place of the segment between two others.
pub fn from_segment(p: Point, a: Point, b: Point) -> Point {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    [p[0] - a[0] - t * dx, p[1] - a[1] - t * dy]
}

/// Square of the distance of a point from a segment.
pub(super) fn distance2_to_segment(p: Point, a: Point, b: Point) -> f64 {
    let [x, y] = from_segment(p, a, b);
    x * x + y * y
}

/// Where along x a line at the height `y` meets the segment between two points, if it does. Half open, so that a corner is met once: a
/// point is inside a contour if an odd number of its edges is met farther along.
pub fn crossing(a: Point, b: Point, y: f64) -> Option<f64> {
    ((a[1] > y) != (b[1] > y)).then(|| (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
}

/// Whether two segments cross or come as near as `touch` (m).
pub fn are_near([a, b]: [Point; 2], [c, d]: [Point; 2], touch: f64) -> bool {
    // Apart by their boxes: collinear edges far from each other would seem to cross by rounding.
    let apart = |k: usize| a[k].max(b[k]) + touch < c[k].min(d[k]) || c[k].max(d[k]) + touch < a[k].min(b[k]);
    if apart(0) || apart(1) {
        return false;
    }
    let side = |p: Point, q: Point, r: Point| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    (side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0)
        || [(a, c, d), (b, c, d), (c, a, b), (d, a, b)]
            .into_iter()
            .any(|(p, from, to)| distance2_to_segment(p, from, to) <= touch * touch)
}

/// Edges of a closed contour, the one that begins at its first corner first.
pub fn edges(points: &[Point]) -> impl DoubleEndedIterator<Item = [Point; 2]> + ExactSizeIterator + '_ {
    (0..points.len()).map(move |k| [points[k], points[(k + 1) % points.len()]])
}

/// Length of an open line.
pub fn line_length(points: &[Point]) -> f64 {
    points.array_windows().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
}

/// Area of a closed contour, positive counter-clockwise; the first point may be repeated at the end.
pub fn ring_area(points: &[Point]) -> f64 {
    // Relative to the first point, so that a small shape far from zero keeps its digits.
    let Some(o) = points.first() else { return 0.0 };
    points.windows(2).map(|p| 0.5 * ((p[0][0] - o[0]) * (p[1][1] - o[1]) - (p[0][1] - o[1]) * (p[1][0] - o[0]))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_far_apart_on_one_line_do_not_meet() {
        // Through the origin at an angle where rounding makes the sides differ in sign.
        for k in 1..20_000 {
            let (sin, cos) = (0.000_31 * f64::from(k)).sin_cos();
            let at = |r: f64| [r * cos, r * sin];
            assert!(!are_near([at(0.5), at(1.0)], [at(-0.5), at(-1.0)], 1e-9), "{k}");
        }
        assert!(are_near([[0.0, 0.0], [1.0, 1.0]], [[0.0, 1.0], [1.0, 0.0]], 0.0));
        assert!(are_near([[0.0, 0.0], [1.0, 0.0]], [[1.05, 0.0], [2.0, 5.0]], 0.1));
        assert!(!are_near([[0.0, 0.0], [1.0, 0.0]], [[1.05, 0.0], [2.0, 5.0]], 0.01));
    }

    #[test]
    fn the_way_from_a_segment_by_hand() {
        // Beside its middle, beyond either end, on it, and from a segment that is a point.
        let way = |p| from_segment(p, [1.0, 1.0], [4.0, 5.0]);
        // 2.5 along (3, 4)/5 from its beginning is (2.5, 3); 5 to the side of it along (4, -3)/5.
        let [x, y] = way([6.5, 0.0]);
        assert!((x - 4.0).abs() < 1e-12 && (y + 3.0).abs() < 1e-12);
        assert_eq!((way([1.0, -1.0]), way([4.0, 7.0]), way([1.0, 1.0])), ([0.0, -2.0], [0.0, 2.0], [0.0; 2]));
        assert_eq!(from_segment([3.0, 4.0], [0.0; 2], [0.0; 2]), [3.0, 4.0]);
    }

    #[test]
    fn a_line_meets_a_corner_once() {
        let meets = |a, b| [0.0, 0.5, 1.0, 1.5].map(|y| crossing(a, b, y));
        assert_eq!(meets([2.0, 0.0], [4.0, 1.0]), [Some(2.0), Some(3.0), None, None]);
        assert_eq!(meets([4.0, 1.0], [2.0, 0.0]), [Some(2.0), Some(3.0), None, None]);
        // Level edges are not met.
        assert_eq!(meets([0.0, 1.0], [9.0, 1.0]), [None; 4]);
    }

    #[test]
    fn edges_and_area_of_a_triangle() {
        let triangle = [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]];
        let [a, b, c] = triangle;
        assert_eq!(edges(&triangle).collect::<Vec<_>>(), [[a, b], [b, c], [c, a]]);
        assert_eq!(edges(&[]).count(), 0);
        assert_eq!((ring_area(&triangle), ring_area(&[c, b, a]), line_length(&triangle)), (6.0, -6.0, 7.0));
    }
}
