//! Areas bounded by closed contours, holes included, with a tree of boxes over their edges so that shapes of thousands of corners
//! answer quickly.

type Point = [f64; 2];

/// Edges in a leaf of the tree.
const LEAF: usize = 4;

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

/// A box around edges. Its halves are the next node and `right`, or it is a leaf and `right` is 0.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    low: Point,
    high: Point,
    first: u32,
    count: u32,
    right: u32,
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

fn distance2_to_segment(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    let (x, y) = (p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
    x * x + y * y
}

/// Where a line at the height `y` meets an edge, if it does. Half open, so that a corner is met once.
fn crossing(edge: &Edge, y: f64) -> Option<f64> {
    let (a, b) = (edge.from, edge.to);
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
                if node.right != 0 {
                    waiting[n] = node.right as usize;
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
                if crossing(edge, y).is_some_and(|at| x < at) {
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
            if node.right == 0 {
                for edge in &self.edges[node.first as usize..(node.first + node.count) as usize] {
                    best = best.min(distance2_to_segment(p, edge.from, edge.to));
                }
            } else {
                // The nearer half is looked at first.
                let halves = [k + 1, node.right as usize].map(|half| (half, self.nodes[half].distance2(p)));
                let [left, right] = halves;
                let ordered = if left.1 <= right.1 { [right, left] } else { [left, right] };
                waiting[n..n + 2].copy_from_slice(&ordered);
                n += 2;
            }
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
        self.visit(|node| node.low[1] <= y && node.high[1] >= y, |edge| xs.extend(crossing(edge, y)));
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
        let mut crossings = vec![0u32; self.contours.len()];
        self.visit(
            |node| node.low[1] <= y && node.high[1] >= y && node.high[0] >= x,
            |edge| {
                if edge.contour as usize != contour && crossing(edge, y).is_some_and(|at| x < at) {
                    crossings[edge.contour as usize] += 1;
                }
            },
        );
        crossings.iter().filter(|n| *n % 2 == 1).count()
    }

    /// A place where edges cross, of one contour or of two: there the even-odd rule says something else than the eye. Contours that
    /// only touch do not count.
    pub fn crossing_point(&self) -> Option<Point> {
        for edge in &self.edges {
            let low = [edge.from[0].min(edge.to[0]), edge.from[1].min(edge.to[1])];
            let high = [edge.from[0].max(edge.to[0]), edge.from[1].max(edge.to[1])];
            let mut found = None;
            self.visit(
                |node| node.touches(low, high),
                |other| {
                    if (other.contour, other.number) > (edge.contour, edge.number) && found.is_none() {
                        found = cross_at(edge, other);
                    }
                },
            );
            if found.is_some() {
                return found;
            }
        }
        None
    }

    /// Whether two areas have more in common than they share along edges nearer than `touch` (m).
    pub fn overlaps(&self, other: &Self, touch: f64) -> bool {
        let ([low, high], [other_low, other_high]) = (self.bounds(), other.bounds());
        if (0..2).any(|k| low[k] > other_high[k] || other_low[k] > high[k]) {
            return false;
        }
        self.runs_inside(other, touch) || other.runs_inside(self, touch) || {
            // The same area twice: no edge runs inside, but the insides do.
            let well_inside = |a: &Self, b: &Self| {
                a.points_inside().into_iter().any(|p| b.contains(p) && b.distance_to_edge(p) > touch)
            };
            well_inside(self, other) || well_inside(other, self)
        }
    }

    /// Whether some piece of this edge runs inside another area.
    fn runs_inside(&self, other: &Self, touch: f64) -> bool {
        self.edges.iter().any(|edge| {
            let (a, b) = (edge.from, edge.to);
            let (u, low, high) = (
                [b[0] - a[0], b[1] - a[1]],
                [a[0].min(b[0]) - touch, a[1].min(b[1]) - touch],
                [a[0].max(b[0]) + touch, a[1].max(b[1]) + touch],
            );
            let square = u[0] * u[0] + u[1] * u[1];
            // Cut wherever it meets an edge or a corner of the other; the middle of each piece tells.
            let mut cuts = vec![0.0, 1.0];
            other.visit(
                |node| node.touches(low, high),
                |f| {
                    let (v, to) = ([f.to[0] - f.from[0], f.to[1] - f.from[1]], [f.from[0] - a[0], f.from[1] - a[1]]);
                    cuts.push((to[0] * v[1] - to[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]));
                    cuts.push((to[0] * u[0] + to[1] * u[1]) / square);
                },
            );
            cuts.retain(|t| (0.0..=1.0).contains(t));
            cuts.sort_by(f64::total_cmp);
            cuts.windows(2).any(|pair| {
                let t = 0.5 * (pair[0] + pair[1]);
                let p = [a[0] + t * u[0], a[1] + t * u[1]];
                other.contains(p) && other.distance_to_edge(p) > touch
            })
        })
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
    nodes.push(Node { low, high, first: first as u32, count: edges.len() as u32, right: 0 });
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
    nodes[own].right = nodes.len() as u32;
    build(nodes, right, first + middle);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
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
        assert_eq!(frame.crossing_point(), None);
        let turned = frame.placed(std::f64::consts::FRAC_PI_2, [1.0, 0.0]);
        assert!((turned.area() - 68.0).abs() < 1e-12 && turned.contains([-8.0, 1.0]));
    }

    #[test]
    fn crossings_are_found_and_touches_are_none() {
        assert!(Contours::new(vec![square(0.0, 0.0, 2.0), square(1.0, 1.0, 2.0)]).crossing_point().is_some());
        assert_eq!(Contours::new(vec![square(0.0, 0.0, 2.0), square(2.0, 0.0, 2.0)]).crossing_point(), None);
        let bow = vec![[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]];
        let [x, y] = Contours::new(vec![bow]).crossing_point().expect("it crosses itself");
        assert!((x - 0.5).abs() < 1e-12 && (y - 0.5).abs() < 1e-12);
    }

    #[test]
    fn areas_overlap_only_with_common_area() {
        let one = |points: Vec<Point>| Contours::new(vec![points]);
        let frame = Contours::new(vec![square(0.0, 0.0, 10.0), square(2.0, 2.0, 6.0)]);
        assert!(frame.overlaps(&frame, 1e-9));
        assert!(frame.overlaps(&one(square(1.0, 4.0, 2.0)), 1e-9), "across the hole's edge");
        assert!(!frame.overlaps(&one(square(2.0, 2.0, 6.0)), 1e-9), "fills the hole");
        assert!(!frame.overlaps(&one(square(3.0, 3.0, 1.0)), 1e-9), "in the hole");
        assert!(!frame.overlaps(&one(square(10.0, 0.0, 10.0)), 1e-9), "beside");
        assert!(frame.overlaps(&one(square(-5.0, -5.0, 30.0)), 1e-9), "around");
        assert!(frame.overlaps(&one(square(0.5, 0.5, 1.0)), 1e-9), "within");
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
