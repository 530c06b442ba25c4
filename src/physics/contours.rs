//! Areas bounded by closed contours, holes included, with a tree of boxes over their edges so that shapes of thousands of corners
//! answer quickly.

use std::cell::Cell;
use std::num::NonZeroU32;

type Point = [f64; 2];

/// Edges in a leaf of the tree.
const LEAF: usize = 4;

/// Most pairs of edges that the checks of one file compare: one or two seconds' work. Only edges with boxes that meet are compared, so that
/// a drawing of a million corners takes a few million; a star of 10 000 long spikes takes fifty.
pub const MOST_PAIRS: u64 = 100_000_000;

/// Edges lie across each other so much that to check them would take too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "its edges lie across each other so much that they cannot be checked: more than {MOST_PAIRS} pairs come near each other"
)]
pub struct TooTangled;

/// Pairs of edges that may still be compared.
#[derive(Debug)]
pub struct Effort(Cell<u64>);

impl Default for Effort {
    fn default() -> Self {
        Self(Cell::new(MOST_PAIRS))
    }
}

impl Effort {
    /// Counts pairs that were compared.
    pub fn spend(&self, pairs: u64) -> Result<(), TooTangled> {
        let left = self.0.get().checked_sub(pairs);
        self.0.set(left.unwrap_or(0));
        left.map(|_| ()).ok_or(TooTangled)
    }
}

/// Closed contours. A point is inside if a ray from it crosses them an odd number of times: a contour within another is a hole.
#[derive(Debug, Clone, PartialEq)]
pub struct Contours {
    contours: Vec<Vec<Point>>,
    /// In the order of the tree's leaves; with the contour and the number of the edge in it.
    edges: Vec<Edge>,
    nodes: Vec<Node>,
}

/// From one corner to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Edge {
    from: Point,
    to: Point,
    contour: u32,
    number: u32,
}

/// A box around edges. Its halves are the next node and `right`; a leaf has none.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    low: Point,
    high: Point,
    first: u32,
    count: u32,
    right: Option<NonZeroU32>,
}

impl Node {
    /// Square of the least distance of a point from the box.
    fn distance2(&self, p: Point) -> f64 {
        let out = |k: usize| (self.low[k] - p[k]).max(p[k] - self.high[k]).max(0.0);
        out(0) * out(0) + out(1) * out(1)
    }

    fn touches(&self, low: Point, high: Point) -> bool {
        (0..2).all(|k| self.low[k] <= high[k] && self.high[k] >= low[k])
    }
}

/// Way to a point from the nearest place of the segment between two others.
pub fn from_segment(p: Point, a: Point, b: Point) -> Point {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    [p[0] - a[0] - t * dx, p[1] - a[1] - t * dy]
}

fn distance2_to_segment(p: Point, a: Point, b: Point) -> f64 {
    let [x, y] = from_segment(p, a, b);
    x * x + y * y
}

/// Where along x a line at the height `y` meets the segment between two points, if it does. Half open, so that a corner is met once: a
/// point is inside a contour if an odd number of its edges is met farther along.
pub fn crossing(a: Point, b: Point, y: f64) -> Option<f64> {
    ((a[1] > y) != (b[1] > y)).then(|| (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
}

impl Contours {
    /// From contours of at least three corners, finite, the first not repeated; others are left out.
    pub fn new(contours: Vec<Vec<Point>>) -> Self {
        let contours: Vec<Vec<Point>> = contours
            .into_iter()
            .filter(|points| points.len() > 2 && points.iter().flatten().all(|v| v.is_finite()))
            .collect();
        let mut edges = Vec::with_capacity(contours.iter().map(Vec::len).sum());
        for (contour, points) in contours.iter().enumerate() {
            edges.extend((0..points.len()).map(|k| Edge {
                from: points[k],
                to: points[(k + 1) % points.len()],
                contour: contour as u32,
                number: k as u32,
            }));
        }
        assert!(u32::try_from(edges.len()).is_ok(), "files are too small for 2^32 corners");
        let mut nodes = Vec::with_capacity(edges.len());
        if !edges.is_empty() {
            build(&mut nodes, &mut edges, 0);
        }
        Self { contours, edges, nodes }
    }

    /// The contours.
    pub fn contours(&self) -> &[Vec<Point>] {
        &self.contours
    }

    /// Whether there is nothing.
    pub fn is_empty(&self) -> bool {
        self.contours.is_empty()
    }

    /// Calls `f` with the edges of all leaves that lie in boxes for which `wanted` holds.
    #[inline]
    fn visit(&self, wanted: impl Fn(&Node) -> bool, mut f: impl FnMut(&Edge)) {
        let mut k = 0;
        // Halves still to be looked at. A tree of 2^32 edges split in the middle is 32 deep.
        let mut waiting = [0usize; 64];
        let mut n = 0;
        if self.nodes.is_empty() {
            return;
        }
        loop {
            let node = &self.nodes[k];
            if wanted(node) {
                if let Some(right) = node.right {
                    waiting[n] = right.get() as usize;
                    n += 1;
                    k += 1;
                    continue;
                }
                self.edges[node.first as usize..(node.first + node.count) as usize].iter().for_each(&mut f);
            }
            if n == 0 {
                return;
            }
            n -= 1;
            k = waiting[n];
        }
    }

    /// Whether a point is inside.
    pub fn contains(&self, [x, y]: Point) -> bool {
        let mut inside = false;
        self.visit(
            |node| node.low[1] <= y && node.high[1] >= y && node.high[0] >= x,
            |edge| {
                if crossing(edge.from, edge.to, y).is_some_and(|at| x < at) {
                    inside = !inside;
                }
            },
        );
        inside
    }

    /// Lower left and upper right corner of the box around all; infinite the wrong way round if there is nothing.
    pub fn bounds(&self) -> [Point; 2] {
        self.nodes.first().map_or([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |node| [node.low, node.high])
    }

    /// Least distance of a point from the edge, from inside or outside.
    pub fn distance_to_edge(&self, p: Point) -> f64 {
        let mut best = f64::INFINITY;
        if self.nodes.is_empty() {
            return best;
        }
        // As in `visit`.
        let mut waiting = [(0usize, 0.0); 64];
        let mut n = 1;
        while n > 0 {
            n -= 1;
            let (k, at_least) = waiting[n];
            if at_least >= best {
                continue;
            }
            let node = &self.nodes[k];
            let Some(right) = node.right else {
                for edge in &self.edges[node.first as usize..(node.first + node.count) as usize] {
                    best = best.min(distance2_to_segment(p, edge.from, edge.to));
                }
                continue;
            };
            // The nearer half is looked at first.
            let halves = [k + 1, right.get() as usize].map(|half| (half, self.nodes[half].distance2(p)));
            let [left, right] = halves;
            let ordered = if left.1 <= right.1 { [right, left] } else { [left, right] };
            waiting[n..n + 2].copy_from_slice(&ordered);
            n += 2;
        }
        best.sqrt()
    }

    /// Distance of a point from the area; 0 inside.
    pub fn distance(&self, p: Point) -> f64 {
        if self.contains(p) { 0.0 } else { self.distance_to_edge(p) }
    }

    /// Where a line along x at the height `y` is inside: begin and end of each stretch, in order.
    pub fn spans(&self, y: f64) -> Vec<[f64; 2]> {
        let mut xs = Vec::new();
        self.visit(|node| node.low[1] <= y && node.high[1] >= y, |edge| xs.extend(crossing(edge.from, edge.to, y)));
        xs.sort_by(f64::total_cmp);
        xs.chunks_exact(2).map(|pair| [pair[0], pair[1]]).filter(|[a, b]| b > a).collect()
    }

    /// Calls `f` with the ends of every edge.
    pub fn each_edge(&self, mut f: impl FnMut(Point, Point)) {
        self.edges.iter().for_each(|edge| f(edge.from, edge.to));
    }

    /// Area inside, m^2, for contours that do not cross: a contour counts against the one around it.
    pub fn area(&self) -> f64 {
        self.contours
            .iter()
            .enumerate()
            .map(|(k, points)| {
                let own = ring_area(points).abs();
                if self.depth(k).is_multiple_of(2) { own } else { -own }
            })
            .sum()
    }

    /// In how many other contours one lies.
    fn depth(&self, contour: usize) -> usize {
        let [x, y] = self.contours[contour][0];
        let mut crossed: Vec<u32> = Vec::new();
        self.visit(
            |node| node.low[1] <= y && node.high[1] >= y && node.high[0] >= x,
            |edge| {
                if edge.contour as usize != contour && crossing(edge.from, edge.to, y).is_some_and(|at| x < at) {
                    crossed.push(edge.contour);
                }
            },
        );
        crossed.sort_unstable();
        crossed.chunk_by(|a, b| a == b).filter(|same| same.len() % 2 == 1).count()
    }

    /// A place where edges cross, of one contour or of two: there the even-odd rule says something else than the eye. Contours that
    /// only touch do not count.
    pub fn crossing_point(&self, effort: &Effort) -> Result<Option<Point>, TooTangled> {
        for edge in &self.edges {
            let low = [edge.from[0].min(edge.to[0]), edge.from[1].min(edge.to[1])];
            let high = [edge.from[0].max(edge.to[0]), edge.from[1].max(edge.to[1])];
            let (mut found, mut pairs) = (None, 0);
            self.visit(
                |node| node.touches(low, high),
                |other| {
                    pairs += 1;
                    if (other.contour, other.number) > (edge.contour, edge.number) && found.is_none() {
                        found = cross_at(edge, other);
                    }
                },
            );
            effort.spend(pairs)?;
            if found.is_some() {
                return Ok(found);
            }
        }
        Ok(None)
    }

    /// Calls `f` with the number in its contour and the ends of each edge whose box comes as near to an edge's box as `reach` (m).
    pub fn each_near(&self, [a, b]: [Point; 2], reach: f64, mut f: impl FnMut(usize, [Point; 2])) {
        let low = [a[0].min(b[0]) - reach, a[1].min(b[1]) - reach];
        let high = [a[0].max(b[0]) + reach, a[1].max(b[1]) + reach];
        self.visit(|node| node.touches(low, high), |edge| f(edge.number as usize, [edge.from, edge.to]));
    }

    /// Whether two areas have more in common than they share along edges nearer than `touch` (m).
    pub fn overlaps(&self, other: &Self, touch: f64, effort: &Effort) -> Result<bool, TooTangled> {
        let ([low, high], [other_low, other_high]) = (self.bounds(), other.bounds());
        if (0..2).any(|k| low[k] > other_high[k] || other_low[k] > high[k]) {
            return Ok(false);
        }
        // The same area twice: no edge runs inside, but the insides do.
        let well_inside =
            |a: &Self, b: &Self| a.points_inside().into_iter().any(|p| b.contains(p) && b.distance_to_edge(p) > touch);
        Ok(self.runs_inside(other, touch, effort)?
            || other.runs_inside(self, touch, effort)?
            || well_inside(self, other)
            || well_inside(other, self))
    }

    /// Whether some piece of this edge runs inside another area.
    fn runs_inside(&self, other: &Self, touch: f64, effort: &Effort) -> Result<bool, TooTangled> {
        let inside = |p: Point| other.contains(p) && other.distance_to_edge(p) > touch;
        for points in &self.contours {
            // Whether the last corner is known to lie outside. An edge that meets none of the other lies where it begins.
            let mut outside = false;
            for (k, &a) in points.iter().enumerate() {
                let b = points[(k + 1) % points.len()];
                let (mut cuts, mut pairs) = (Vec::new(), 1);
                other.each_near([a, b], touch, |_, f| {
                    pairs += 1;
                    if are_near([a, b], f, touch) {
                        cuts.extend(cuts_of([a, b], f));
                    }
                });
                effort.spend(pairs)?;
                if cuts.is_empty() && outside {
                    continue;
                }
                outside = cuts.is_empty();
                // The middle of each piece between cuts tells.
                cuts.extend([0.0, 1.0]);
                cuts.retain(|t| (0.0..=1.0).contains(t));
                cuts.sort_by(f64::total_cmp);
                let at = |t: f64| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
                if cuts.array_windows().any(|[from, to]| inside(at(0.5 * (from + to)))) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// A few points inside: in the middle of the widest stretches at some heights.
    fn points_inside(&self) -> Vec<Point> {
        let [low, high] = self.bounds();
        (1..16)
            .filter_map(|k| {
                // Not at round shares, where edges tend to lie.
                let y = low[1] + (high[1] - low[1]) * (f64::from(k) + 0.0137) / 16.0;
                let widest = self.spans(y).into_iter().max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
                Some([0.5 * (widest[0] + widest[1]), y])
            })
            .collect()
    }

    /// The same contours, turned about zero (rad), then shifted (m).
    pub fn placed(&self, angle: f64, shift: Point) -> Self {
        let (sin, cos) = angle.sin_cos();
        let place = |p: &Point| [p[0] * cos - p[1] * sin + shift[0], p[0] * sin + p[1] * cos + shift[1]];
        Self::new(self.contours.iter().map(|points| points.iter().map(place).collect()).collect())
    }
}

/// Area of a closed contour, positive counter-clockwise.
pub fn ring_area(points: &[Point]) -> f64 {
    let Some(o) = points.first() else { return 0.0 };
    points.windows(2).map(|p| 0.5 * ((p[0][0] - o[0]) * (p[1][1] - o[1]) - (p[0][1] - o[1]) * (p[1][0] - o[0]))).sum()
}

/// Whether two edges cross or come as near as `touch` (m).
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

/// Shares of the first edge at which the second one's line meets it and its beginning lies beside it.
fn cuts_of([a, b]: [Point; 2], [c, d]: [Point; 2]) -> [f64; 2] {
    let (u, v, to) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]], [c[0] - a[0], c[1] - a[1]]);
    let square = u[0] * u[0] + u[1] * u[1];
    [(to[0] * v[1] - to[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]), (to[0] * u[0] + to[1] * u[1]) / square]
}

/// Where two edges truly cross, each going through the other.
fn cross_at(e: &Edge, f: &Edge) -> Option<Point> {
    let minus = |a: Point, b: Point| [a[0] - b[0], a[1] - b[1]];
    let cross = |a: Point, b: Point| a[0] * b[1] - a[1] * b[0];
    let (u, v) = (minus(e.to, e.from), minus(f.to, f.from));
    // A share of the lengths below which a corner counts as touching: rounding.
    let touch = 1e-9 * u[0].hypot(u[1]) * v[0].hypot(v[1]);
    let (a, b) = (cross(u, minus(f.from, e.from)), cross(u, minus(f.to, e.from)));
    let (c, d) = (cross(v, minus(e.from, f.from)), cross(v, minus(e.to, f.from)));
    let apart = |p: f64, q: f64| (p > touch && q < -touch) || (p < -touch && q > touch);
    (apart(a, b) && apart(c, d)).then(|| {
        let t = a / (a - b);
        [f.from[0] + t * v[0], f.from[1] + t * v[1]]
    })
}

/// Builds the tree over edges, which are sorted on the way; `first` is the number of the first of them.
fn build(nodes: &mut Vec<Node>, edges: &mut [Edge], first: usize) {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for edge in edges.iter() {
        for k in 0..2 {
            low[k] = low[k].min(edge.from[k]).min(edge.to[k]);
            high[k] = high[k].max(edge.from[k]).max(edge.to[k]);
        }
    }
    let own = nodes.len();
    nodes.push(Node { low, high, first: first as u32, count: edges.len() as u32, right: None });
    if edges.len() <= LEAF {
        return;
    }
    // Split in the middle along the longer side.
    let axis = usize::from(high[1] - low[1] > high[0] - low[0]);
    let middle = edges.len() / 2;
    let key = |edge: &Edge| edge.from[axis] + edge.to[axis];
    edges.select_nth_unstable_by(middle, |a, b| {
        key(a).total_cmp(&key(b)).then(a.contour.cmp(&b.contour)).then(a.number.cmp(&b.number))
    });
    let (left, right) = edges.split_at_mut(middle);
    build(nodes, left, first);
    nodes[own].right = NonZeroU32::new(nodes.len() as u32);
    build(nodes, right, first + middle);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    }

    fn crossing_point(shape: &Contours) -> Option<Point> {
        shape.crossing_point(&Effort::default()).expect("a simple shape")
    }

    fn overlaps(a: &Contours, b: &Contours) -> bool {
        a.overlaps(b, 1e-9, &Effort::default()).expect("simple shapes")
    }

    fn star(spikes: u32) -> Contours {
        let corner = |k: u32| {
            let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(spikes)).sin_cos();
            let r = if k.is_multiple_of(2) { 1.0 } else { 0.5 };
            [r * cos, r * sin]
        };
        Contours::new(vec![(0..2 * spikes).map(corner).collect()])
    }

    #[test]
    fn the_work_on_tangled_shapes_is_bounded() {
        // Each spike's box meets those of about a quarter of the others: some 4000^2 / 4 pairs, and as many in one with 20 000 edges as may be compared.
        let effort = Effort::default();
        assert_eq!(star(2000).crossing_point(&effort), Ok(None));
        let spent = MOST_PAIRS - effort.0.get();
        assert!((1_000_000..8_000_000).contains(&spent), "{spent}");
        assert_eq!(star(20_000).crossing_point(&effort), Err(TooTangled));
        // What is spent is spent.
        assert_eq!(star(2000).crossing_point(&effort), Err(TooTangled));
        assert_eq!(star(2000).overlaps(&star(2000), 1e-9, &effort), Err(TooTangled));
        // Many corners alone are no trouble: a circle's edges meet their neighbours.
        let circle: Vec<Point> = (0..200_000)
            .map(|k| (std::f64::consts::TAU * f64::from(k) / 200_000.0).sin_cos())
            .map(|(sin, cos)| [cos, sin])
            .collect();
        let effort = Effort::default();
        assert_eq!(Contours::new(vec![circle]).crossing_point(&effort), Ok(None));
        assert!(MOST_PAIRS - effort.0.get() < 4_000_000);
    }

    #[test]
    fn a_spike_between_spikes_overlaps_only_when_it_touches_the_inside() {
        let star = star(8);
        // Between two spikes, at an angle of pi/8, corners lie at 0.5: a small square beyond it is free, one across it is not.
        let (sin, cos) = (std::f64::consts::PI / 8.0).sin_cos();
        let at = |r: f64| Contours::new(vec![square(r * cos - 0.02, r * sin - 0.02, 0.04)]);
        assert!(!overlaps(&star, &at(0.6)) && !overlaps(&at(0.6), &star));
        assert!(overlaps(&star, &at(0.5)) && overlaps(&at(0.5), &star));
        assert!(overlaps(&star, &at(0.3)) && overlaps(&at(0.3), &star));
        assert!(overlaps(&star, &star));
    }

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
    fn a_frame_with_an_island() {
        // 10 x 10 with a hole of 6 x 6 and an island of 2 x 2 in it: 100 - 36 + 4.
        let frame = Contours::new(vec![square(0.0, 0.0, 10.0), square(2.0, 2.0, 6.0), square(4.0, 4.0, 2.0)]);
        assert!((frame.area() - 68.0).abs() < 1e-12);
        assert!(frame.contains([1.0, 5.0]) && !frame.contains([3.0, 5.0]) && frame.contains([5.0, 5.0]));
        assert!(!frame.contains([11.0, 5.0]) && !frame.contains([-1.0, 5.0]));
        assert_eq!(frame.spans(5.0), [[0.0, 2.0], [4.0, 6.0], [8.0, 10.0]]);
        assert_eq!(frame.spans(20.0), Vec::<[f64; 2]>::new());
        assert_eq!(frame.distance([5.0, 5.0]), 0.0);
        assert!((frame.distance([3.0, 5.0]) - 1.0).abs() < 1e-12);
        assert!((frame.distance([13.0, 14.0]) - 5.0).abs() < 1e-12);
        assert_eq!(frame.bounds(), [[0.0, 0.0], [10.0, 10.0]]);
        assert_eq!(crossing_point(&frame), None);
        let turned = frame.placed(std::f64::consts::FRAC_PI_2, [1.0, 0.0]);
        assert!((turned.area() - 68.0).abs() < 1e-12 && turned.contains([-8.0, 1.0]));
    }

    #[test]
    fn crossings_are_found_and_touches_are_none() {
        assert!(crossing_point(&Contours::new(vec![square(0.0, 0.0, 2.0), square(1.0, 1.0, 2.0)])).is_some());
        assert_eq!(crossing_point(&Contours::new(vec![square(0.0, 0.0, 2.0), square(2.0, 0.0, 2.0)])), None);
        let bow = vec![[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]];
        let [x, y] = crossing_point(&Contours::new(vec![bow])).expect("it crosses itself");
        assert!((x - 0.5).abs() < 1e-12 && (y - 0.5).abs() < 1e-12);
    }

    #[test]
    fn areas_overlap_only_with_common_area() {
        let one = |points: Vec<Point>| Contours::new(vec![points]);
        let frame = Contours::new(vec![square(0.0, 0.0, 10.0), square(2.0, 2.0, 6.0)]);
        assert!(overlaps(&frame, &frame));
        assert!(overlaps(&frame, &one(square(1.0, 4.0, 2.0))), "across the hole's edge");
        assert!(!overlaps(&frame, &one(square(2.0, 2.0, 6.0))), "fills the hole");
        assert!(!overlaps(&frame, &one(square(3.0, 3.0, 1.0))), "in the hole");
        assert!(!overlaps(&frame, &one(square(10.0, 0.0, 10.0))), "beside");
        assert!(overlaps(&frame, &one(square(-5.0, -5.0, 30.0))), "around");
        assert!(overlaps(&frame, &one(square(0.5, 0.5, 1.0))), "within");
    }

    #[test]
    fn nothing_is_nothing() {
        let empty = Contours::new(vec![vec![[0.0, 0.0], [1.0, 0.0]], vec![[f64::NAN, 0.0]; 3]]);
        assert!(empty.is_empty() && !empty.contains([0.0, 0.0]) && empty.distance([0.0, 0.0]).is_infinite());
        assert!(empty.spans(0.0).is_empty() && empty.area() == 0.0);
    }

    proptest! {
        /// The tree against all edges one by one, on a star with many corners and a hole.
        #[test]
        fn the_tree_answers_as_all_edges_do(
            radii in proptest::collection::vec(0.5..2.0f64, 3..200), x in -2.5..2.5f64, y in -2.5..2.5f64,
        ) {
            let n = radii.len() as f64;
            let ring = |scale: f64| -> Vec<Point> {
                radii.iter().enumerate().map(|(k, r)| {
                    let (sin, cos) = (std::f64::consts::TAU * k as f64 / n).sin_cos();
                    [scale * r * cos, scale * r * sin]
                }).collect()
            };
            let shape = Contours::new(vec![ring(1.0), ring(0.3)]);
            let (mut inside, mut nearest) = (false, f64::INFINITY);
            shape.each_edge(|a, b| {
                if (a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0] {
                    inside = !inside;
                }
                nearest = nearest.min(distance2_to_segment([x, y], a, b).sqrt());
            });
            prop_assert_eq!(shape.contains([x, y]), inside);
            prop_assert!((shape.distance_to_edge([x, y]) - nearest).abs() < 1e-12);
            prop_assert!((shape.area() / (ring_area(&ring(1.0)) - ring_area(&ring(0.3))) - 1.0).abs() < 1e-9);
        }
    }
}
