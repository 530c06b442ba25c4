//! Plane geometry for the checks: does a polygon cross itself, do two outlines overlap, how far does a shape reach.

use motefall_physics::contours::{Contours, Effort, TooTangled, are_near, from_segment};
use motefall_physics::inputs::{Outline, Shape};
use motefall_physics::map::outline::{bounds, bounds_of_points, bounds_of_shape, corners_of_rectangle};
use std::cell::OnceCell;
use std::sync::Arc;

type Point = [f64; 2];

/// Distances below this count as touching, not as overlap, m.
const TOUCH: f64 = 1e-9;

/// An axis-parallel box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
}

impl Extent {
    /// The box around points.
    pub fn around(points: &[Point]) -> Self {
        bounds_of_points(points).into()
    }

    /// The box around both.
    pub fn and(self, other: Self) -> Self {
        Self::around(&[self.low, self.high, other.low, other.high])
    }

    /// Largest distance of any side from the origin beyond half of the given width and height; negative inside.
    pub fn beyond(self, half: Point) -> f64 {
        let out = |axis: usize| (-self.low[axis]).max(self.high[axis]) - half[axis];
        out(0).max(out(1))
    }
}

impl From<[Point; 2]> for Extent {
    fn from([low, high]: [Point; 2]) -> Self {
        Self { low, high }
    }
}

/// The box around a region.
pub fn outline_extent(outline: &Outline) -> Extent {
    bounds(outline).into()
}

/// The box around a printed shape.
pub fn shape_extent(shape: &Shape) -> Extent {
    bounds_of_shape(shape).into()
}

/// What makes a polygon useless: numbers (from 1) of two edges that meet where they should not, or a corner that is
/// given twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PolygonFault {
    /// Edges that cross or touch; edge `i` runs from corner `i` to the next.
    Crossing(usize, usize),
    /// Two equal corners in a row.
    Repeated(usize),
}

/// Looks for the first fault of a polygon.
pub fn polygon_fault(polygon: &[Point], effort: &Effort) -> Result<Option<PolygonFault>, TooTangled> {
    let all: Vec<(Point, Point)> = (0..polygon.len()).map(|i| (polygon[i], polygon[(i + 1) % polygon.len()])).collect();
    let n = all.len();
    if let Some(i) = all.iter().position(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]) <= TOUCH) {
        return Ok(Some(PolygonFault::Repeated(i + 1)));
    }
    let meet = |i: usize, j: usize| {
        let (e, f) = (all[i], all[j]);
        // Neighbours share a corner: they may only not fold back onto each other.
        if j == i + 1 {
            folds(f.0, e.0, f.1)
        } else if i == 0 && j == n - 1 {
            folds(e.0, e.1, f.0)
        } else {
            are_near([e.0, e.1], [f.0, f.1], TOUCH)
        }
    };
    let tree = Contours::new(vec![polygon.to_vec()]);
    for (i, (a, b)) in all.iter().enumerate() {
        let (mut first, mut pairs) = (n, 1);
        tree.each_near([*a, *b], TOUCH, |j, _| {
            pairs += 1;
            if i < j && j < first && meet(i, j) {
                first = j;
            }
        });
        effort.spend(pairs)?;
        if first < n {
            return Ok(Some(PolygonFault::Crossing(i + 1, first + 1)));
        }
    }
    Ok(None)
}

/// Whether two edges from a shared corner lie on each other.
fn folds(shared: Point, e: Point, f: Point) -> bool {
    let [u, v] = [e, f].map(|p| [p[0] - shared[0], p[1] - shared[1]]);
    let lies_on = |p: Point, end: Point| {
        let [x, y] = from_segment(p, shared, end);
        x.hypot(y) <= TOUCH
    };
    u[0] * v[0] + u[1] * v[1] > 0.0 && (lies_on(e, f) || lies_on(f, e))
}

/// Any outline as contours; a disc gets so many corners that it lacks a fiftieth of a percent.
fn contours_of(outline: &Outline) -> Arc<Contours> {
    let contours = match outline {
        Outline::Shape(area) => return area.contours.clone(),
        Outline::Disc { center, radius } => {
            let corner = |k: u32| {
                let (sin, cos) = (f64::from(k) / 256.0 * std::f64::consts::TAU).sin_cos();
                [center[0] + radius * cos, center[1] + radius * sin]
            };
            vec![(0..256).map(corner).collect()]
        }
        Outline::Rectangle { center, size, rotation } => {
            vec![corners_of_rectangle(*center, *size, *rotation).to_vec()]
        }
        Outline::Polygon(points) => vec![points.clone()],
    };
    Arc::new(Contours::new(contours))
}

/// An outline that is compared with many others.
pub struct Compared<'a> {
    outline: &'a Outline,
    extent: Extent,
    contours: OnceCell<Arc<Contours>>,
}

impl<'a> Compared<'a> {
    /// An outline without faults.
    pub fn new(outline: &'a Outline) -> Self {
        Self { outline, extent: outline_extent(outline), contours: OnceCell::new() }
    }

    fn contours(&self) -> &Contours {
        self.contours.get_or_init(|| contours_of(self.outline))
    }

    /// The same of a true disc and a shape of straight edges.
    fn overlaps_disc(&self, center: Point, radius: f64, effort: &Effort) -> Result<bool, TooTangled> {
        let contours = self.contours();
        effort.spend(contours.contours().iter().map(|points| points.len() as u64).sum())?;
        let to_edge = contours.distance_to_edge(center);
        Ok(to_edge < radius - TOUCH || to_edge > TOUCH && contours.contains(center))
    }

    /// Whether the two have area in common; touching is not overlap.
    pub fn overlaps(&self, other: &Self, effort: &Effort) -> Result<bool, TooTangled> {
        if (0..2).any(|k| self.extent.low[k] > other.extent.high[k] || other.extent.low[k] > self.extent.high[k]) {
            return Ok(false);
        }
        match (self.outline, other.outline) {
            (Outline::Disc { center: c, radius: r }, Outline::Disc { center: d, radius: s }) => {
                Ok((c[0] - d[0]).hypot(c[1] - d[1]) < r + s - TOUCH)
            }
            (Outline::Disc { center, radius }, Outline::Rectangle { .. } | Outline::Polygon(_)) => {
                other.overlaps_disc(*center, *radius, effort)
            }
            (Outline::Rectangle { .. } | Outline::Polygon(_), Outline::Disc { center, radius }) => {
                self.overlaps_disc(*center, *radius, effort)
            }
            _ => self.contours().overlaps(other.contours(), TOUCH, effort),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::map::outline::edges;

    fn overlap(a: &Outline, b: &Outline) -> bool {
        Compared::new(a).overlaps(&Compared::new(b), &Effort::default()).expect("simple shapes")
    }

    fn fault_of(polygon: &[Point]) -> Option<PolygonFault> {
        polygon_fault(polygon, &Effort::default()).expect("a simple polygon")
    }

    fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
        Outline::Rectangle { center: [x, y], size: [w, h], rotation: 0.0 }
    }

    #[test]
    fn rectangles_overlap_only_with_common_area() {
        let a = rectangle(0.0, 0.0, 2.0, 1.0);
        assert!(overlap(&a, &a), "the same");
        assert!(overlap(&a, &rectangle(1.0, 0.0, 2.0, 1.0)), "half over, edges in line");
        assert!(overlap(&a, &rectangle(0.0, 0.0, 1.0, 2.0)), "crossed");
        assert!(
            overlap(&a, &rectangle(0.0, 0.0, 0.1, 0.1)) && overlap(&rectangle(0.0, 0.0, 0.1, 0.1), &a),
            "one inside the other"
        );
        assert!(!overlap(&a, &rectangle(2.0, 0.0, 2.0, 1.0)), "touching along an edge");
        assert!(!overlap(&a, &rectangle(2.0, 1.0, 2.0, 1.0)), "touching at a corner");
        assert!(!overlap(&a, &rectangle(5.0, 0.0, 1.0, 1.0)), "apart");
    }

    #[test]
    fn discs_and_polygons_overlap_only_with_common_area() {
        let disc = |x: f64, r: f64| Outline::Disc { center: [x, 0.0], radius: r };
        assert!(overlap(&disc(0.0, 1.0), &disc(1.9, 1.0)));
        assert!(!overlap(&disc(0.0, 1.0), &disc(2.0, 1.0)));
        assert!(overlap(&disc(0.0, 0.1), &rectangle(0.0, 0.0, 4.0, 4.0)), "disc inside");
        assert!(overlap(&rectangle(0.0, 0.0, 0.2, 0.2), &disc(0.0, 4.0)), "rectangle inside");
        assert!(!overlap(&disc(0.0, 1.0), &rectangle(2.0, 0.0, 2.0, 2.0)), "touching");
        // A U around a bar: their boxes overlap, they do not.
        let u = Outline::Polygon(vec![
            [-2.0, -2.0],
            [2.0, -2.0],
            [2.0, 2.0],
            [1.0, 2.0],
            [1.0, -1.0],
            [-1.0, -1.0],
            [-1.0, 2.0],
            [-2.0, 2.0],
        ]);
        assert!(!overlap(&u, &rectangle(0.0, 0.5, 2.0, 3.0)));
        assert!(overlap(&u, &rectangle(0.0, 0.4, 2.0, 3.0)));
        assert!(overlap(&u, &u));
    }

    #[test]
    fn crossed_and_folded_polygons_are_found() {
        assert_eq!(fault_of(&[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]), None);
        assert_eq!(fault_of(&[[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]]), Some(PolygonFault::Crossing(1, 3)));
        assert_eq!(fault_of(&[[0.0, 0.0], [0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), Some(PolygonFault::Repeated(1)));
        assert_eq!(fault_of(&[[0.0, 0.0], [2.0, 0.0], [1.0, 0.0]]), Some(PolygonFault::Crossing(1, 2)));
    }

    #[test]
    fn a_turned_square_reaches_half_its_diagonal() {
        let square = Outline::Rectangle { center: [0.0, 0.0], size: [2.0, 2.0], rotation: std::f64::consts::FRAC_PI_4 };
        assert!((outline_extent(&square).beyond([1.0, 1.0]) - (2f64.sqrt() - 1.0)).abs() < 1e-12);
    }

    /// Largest gap between two convex polygons over the directions of their edges: positive if they are apart
    /// (separating axis theorem).
    fn separation(p: &[Point], q: &[Point]) -> f64 {
        let directions = edges(p).chain(edges(q)).map(|[a, b]| {
            let along = [b[0] - a[0], b[1] - a[1]];
            let length = along[0].hypot(along[1]);
            [along[1] / length, -along[0] / length]
        });
        let reach = |polygon: &[Point], n: Point| {
            let along = polygon.iter().map(|c| c[0] * n[0] + c[1] * n[1]);
            along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
        };
        directions.fold(f64::NEG_INFINITY, |gap, n| {
            let ((low, high), (other_low, other_high)) = (reach(p, n), reach(q, n));
            gap.max(other_low - high).max(low - other_high)
        })
    }

    proptest::proptest! {
        /// Two derivations, one answer: overlap by cut edges against the separating axis theorem.
        #[test]
        fn turned_rectangles_overlap_unless_a_line_separates_them(
            x in -3.0..3.0f64, y in -3.0..3.0f64, w in 0.1..4.0f64, h in 0.1..4.0f64, turn in 0.0..6.3f64, other_turn in 0.0..6.3f64,
        ) {
            let a = Outline::Rectangle { center: [0.0, 0.0], size: [2.0, 1.0], rotation: turn };
            let b = Outline::Rectangle { center: [x, y], size: [w, h], rotation: other_turn };
            let gap = separation(&corners_of_rectangle([0.0, 0.0], [2.0, 1.0], turn), &corners_of_rectangle([x, y], [w, h], other_turn));
            proptest::prop_assume!(gap.abs() > 1e-6);
            proptest::prop_assert_eq!(overlap(&a, &b), gap < 0.0);
            proptest::prop_assert_eq!(overlap(&b, &a), gap < 0.0);
            // The same rectangle given by its corners.
            let polygon = Outline::Polygon(corners_of_rectangle([x, y], [w, h], other_turn).to_vec());
            proptest::prop_assert_eq!(overlap(&polygon, &a), gap < 0.0);
        }
    }
}
