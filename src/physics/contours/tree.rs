//! Areas bounded by closed contours, holes included, with a tree of boxes over their edges so that shapes of thousands of corners
//! answer quickly.

use super::segment::distance2_to_segment;
use super::{Bounds, Point, crossing, edges, ring_area, turned};
use std::num::NonZeroU32;

/// Edges in a leaf of the tree.
const LEAF: usize = 4;

/// Closed contours. A point is inside if a ray from it crosses them an odd number of times: a contour within another is a hole.
#[derive(Debug, Clone, PartialEq)]
pub struct Contours {
    contours: Vec<Vec<Point>>,
    /// In the order of the tree's leaves; with the contour and the number of the edge in it.
    edges: Vec<Edge>,
    nodes: Vec<BoxNode>,
}

/// From one corner to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    pub(super) from: Point,
    pub(super) to: Point,
    pub(super) contour: u32,
    pub(super) number: u32,
}

/// A box around edges. Its halves are the next node and `right`; a leaf has none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BoxNode {
    bounds: Bounds,
    first: u32,
    count: u32,
    right: Option<NonZeroU32>,
}

impl BoxNode {
    pub(super) fn meets(&self, bounds: Bounds) -> bool {
        self.bounds.meets(bounds)
    }

    /// Whether a ray from a point to the right may meet its edges.
    fn lies_right_of(&self, [x, y]: Point) -> bool {
        self.reaches(y) && self.bounds.high[0] >= x
    }

    /// Whether a line along x at a height may meet its edges.
    fn reaches(&self, y: f64) -> bool {
        self.bounds.low[1] <= y && self.bounds.high[1] >= y
    }
}

impl Contours {
    /// From contours of at least three corners, finite, the first not repeated; others are left out.
    pub fn new(contours: Vec<Vec<Point>>) -> Self {
        let contours: Vec<Vec<Point>> = contours
            .into_iter()
            .filter(|points| points.len() > 2 && points.iter().flatten().all(|v| v.is_finite()))
            .collect();
        let mut all = Vec::with_capacity(contours.iter().map(Vec::len).sum());
        for (contour, points) in contours.iter().enumerate() {
            let edge = |(number, [from, to]): (usize, [Point; 2])| Edge {
                from,
                to,
                contour: contour as u32,
                number: number as u32,
            };
            all.extend(edges(points).enumerate().map(edge));
        }
        assert!(u32::try_from(all.len()).is_ok(), "files are too small for 2^32 corners");
        let mut nodes = Vec::with_capacity(all.len());
        if !all.is_empty() {
            build(&mut nodes, &mut all, 0);
        }
        Self { contours, edges: all, nodes }
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
    pub(super) fn visit(&self, wanted: impl Fn(&BoxNode) -> bool, mut f: impl FnMut(&Edge)) {
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
            |node| node.lies_right_of([x, y]),
            |edge| {
                if crossing(edge.from, edge.to, y).is_some_and(|at| x < at) {
                    inside = !inside;
                }
            },
        );
        inside
    }

    /// The box around all.
    pub fn bounds(&self) -> Bounds {
        self.nodes.first().map_or(Bounds::NONE, |node| node.bounds)
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
            let halves = [k + 1, right.get() as usize].map(|half| (half, self.nodes[half].bounds.distance2(p)));
            let [left, right] = halves;
            let ordered = if left.1 <= right.1 { [right, left] } else { [left, right] };
            waiting[n..n + 2].copy_from_slice(&ordered);
            n += 2;
        }
        best.sqrt()
    }

    /// Where a line along x at the height `y` is inside: begin and end of each stretch, in order.
    pub fn spans(&self, y: f64) -> Vec<[f64; 2]> {
        let mut xs = Vec::new();
        self.visit(|node| node.reaches(y), |edge| xs.extend(crossing(edge.from, edge.to, y)));
        xs.sort_by(f64::total_cmp);
        xs.chunks_exact(2).map(|pair| [pair[0], pair[1]]).filter(|[a, b]| b > a).collect()
    }

    /// All edges, in the order of the tree.
    pub(super) fn edges(&self) -> &[Edge] {
        &self.edges
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
            |node| node.lies_right_of([x, y]),
            |edge| {
                if edge.contour as usize != contour && crossing(edge.from, edge.to, y).is_some_and(|at| x < at) {
                    crossed.push(edge.contour);
                }
            },
        );
        crossed.sort_unstable();
        crossed.chunk_by(|a, b| a == b).filter(|same| same.len() % 2 == 1).count()
    }

    /// Calls `f` with the number in its contour and the ends of each edge whose box comes as near to an edge's box as `reach` (m).
    pub(crate) fn each_near(&self, [a, b]: [Point; 2], reach: f64, mut f: impl FnMut(usize, [Point; 2])) {
        let near = Bounds::around([a, b]).grown(reach);
        self.visit(|node| node.meets(near), |edge| f(edge.number as usize, [edge.from, edge.to]));
    }

    /// The same contours, turned about zero (rad), then shifted (m).
    pub fn placed(&self, angle: f64, shift: Point) -> Self {
        let place = |p: &Point| {
            let [x, y] = turned(*p, angle);
            [x + shift[0], y + shift[1]]
        };
        Self::new(self.contours.iter().map(|points| points.iter().map(place).collect()).collect())
    }
}

/// Builds the tree over edges, which are sorted on the way; `first` is the number of the first of them.
fn build(nodes: &mut Vec<BoxNode>, edges: &mut [Edge], first: usize) {
    let bounds = Bounds::around(edges.iter().flat_map(|edge| [edge.from, edge.to]));
    let own = nodes.len();
    nodes.push(BoxNode { bounds, first: first as u32, count: edges.len() as u32, right: None });
    if edges.len() <= LEAF {
        return;
    }
    // Split in the middle along the longer side.
    let [width, height] = bounds.size();
    let axis = usize::from(height > width);
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

    #[test]
    fn a_frame_with_an_island() {
        // 10 x 10 with a hole of 6 x 6 and an island of 2 x 2 in it: 100 - 36 + 4.
        let frame = Contours::new(vec![square(0.0, 0.0, 10.0), square(2.0, 2.0, 6.0), square(4.0, 4.0, 2.0)]);
        assert!((frame.area() - 68.0).abs() < 1e-12);
        assert!(frame.contains([1.0, 5.0]) && !frame.contains([3.0, 5.0]) && frame.contains([5.0, 5.0]));
        assert!(!frame.contains([11.0, 5.0]) && !frame.contains([-1.0, 5.0]));
        assert_eq!(frame.spans(5.0), [[0.0, 2.0], [4.0, 6.0], [8.0, 10.0]]);
        assert_eq!(frame.spans(20.0), Vec::<[f64; 2]>::new());
        assert!(frame.contains([5.0, 5.0]));
        assert!((frame.distance_to_edge([3.0, 5.0]) - 1.0).abs() < 1e-12);
        assert!((frame.distance_to_edge([13.0, 14.0]) - 5.0).abs() < 1e-12);
        assert_eq!(frame.bounds(), Bounds { low: [0.0, 0.0], high: [10.0, 10.0] });
        let turned = frame.placed(std::f64::consts::FRAC_PI_2, [1.0, 0.0]);
        assert!((turned.area() - 68.0).abs() < 1e-12 && turned.contains([-8.0, 1.0]));
    }

    #[test]
    fn nothing_is_nothing() {
        let empty = Contours::new(vec![vec![[0.0, 0.0], [1.0, 0.0]], vec![[f64::NAN, 0.0]; 3]]);
        assert!(empty.is_empty() && !empty.contains([0.0, 0.0]) && empty.distance_to_edge([0.0, 0.0]).is_infinite());
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
