//! Plane geometry for the checks: does a polygon cross itself, do two outlines overlap, how far does a shape reach.

use crate::contours::{Contours, Effort, TooTangled, are_near};
use crate::inputs::{Outline, Shape};
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
        let mut extent = Self { low: [f64::INFINITY; 2], high: [f64::NEG_INFINITY; 2] };
        for point in points {
            for (axis, value) in point.iter().enumerate() {
                extent.low[axis] = extent.low[axis].min(*value);
                extent.high[axis] = extent.high[axis].max(*value);
            }
        }
        extent
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

/// Corners of a rectangle, counter-clockwise.
pub fn corners(center: Point, size: Point, rotation: f64) -> Vec<Point> {
    let (sin, cos) = rotation.sin_cos();
    let signs = [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]];
    let turned = signs.map(|[a, b]| {
        let (x, y) = (a * size[0], b * size[1]);
        [center[0] + x * cos - y * sin, center[1] + x * sin + y * cos]
    });
    turned.to_vec()
}

fn disc_extent(center: Point, radius: f64) -> Extent {
    Extent { low: [center[0] - radius, center[1] - radius], high: [center[0] + radius, center[1] + radius] }
}

/// The box around a region.
pub fn outline_extent(outline: &Outline) -> Extent {
    match outline {
        Outline::Rectangle { center, size, rotation } => Extent::around(&corners(*center, *size, *rotation)),
        Outline::Disc { center, radius } => disc_extent(*center, *radius),
        Outline::Polygon(points) => Extent::around(points),
        Outline::Shape(area) => contours_extent(&area.contours),
    }
}

fn contours_extent(contours: &Contours) -> Extent {
    let [low, high] = contours.bounds();
    Extent { low, high }
}

/// The box around a printed shape.
pub fn shape_extent(shape: &Shape) -> Extent {
    match shape {
        Shape::Polyline(points) => Extent::around(points),
        Shape::FilledRectangle { center, size, rotation, .. } => Extent::around(&corners(*center, *size, *rotation)),
        Shape::FilledDisc { center, radius, .. } => disc_extent(*center, *radius),
        Shape::Dot { at, .. } => Extent::around(&[*at]),
        Shape::Filled(filled) => contours_extent(&filled.area),
        Shape::Polylines(drawn) => Extent::around(&drawn.lines.concat()),
    }
}

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

fn between(a: Point, b: Point, t: f64) -> Point {
    [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
}

fn edges(polygon: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    (0..polygon.len()).map(|i| (polygon[i], polygon[(i + 1) % polygon.len()]))
}

/// Distance of a point from a segment.
fn distance(point: Point, (a, b): (Point, Point)) -> f64 {
    let (along, to) = (minus(b, a), minus(point, a));
    let length2 = along[0] * along[0] + along[1] * along[1];
    let t = if length2 > 0.0 { ((to[0] * along[0] + to[1] * along[1]) / length2).clamp(0.0, 1.0) } else { 0.0 };
    let gap = minus(point, between(a, b, t));
    gap[0].hypot(gap[1])
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
    let all: Vec<(Point, Point)> = edges(polygon).collect();
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
    let (u, v) = (minus(e, shared), minus(f, shared));
    u[0] * v[0] + u[1] * v[1] > 0.0 && (distance(e, (shared, f)) <= TOUCH || distance(f, (shared, e)) <= TOUCH)
}

/// Whether a point lies inside a polygon and not at its edge.
fn strictly_inside(point: Point, polygon: &[Point]) -> bool {
    let crossings = edges(polygon).filter(|(a, b)| {
        (a[1] > point[1]) != (b[1] > point[1]) && point[0] < a[0] + (point[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossings.count() % 2 == 1 && edges(polygon).all(|edge| distance(point, edge) > TOUCH)
}

fn polygon_of(outline: &Outline) -> Option<Vec<Point>> {
    match outline {
        Outline::Rectangle { center, size, rotation } => Some(corners(*center, *size, *rotation)),
        Outline::Polygon(points) => Some(points.clone()),
        Outline::Disc { .. } | Outline::Shape(_) => None,
    }
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
        other => polygon_of(other).into_iter().collect(),
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

    /// Whether the two have area in common; touching is not overlap.
    pub fn overlaps(&self, other: &Self, effort: &Effort) -> Result<bool, TooTangled> {
        if (0..2).any(|k| self.extent.low[k] > other.extent.high[k] || other.extent.low[k] > self.extent.high[k]) {
            return Ok(false);
        }
        match (self.outline, other.outline) {
            (Outline::Disc { center: c, radius: r }, Outline::Disc { center: d, radius: s }) => {
                Ok((c[0] - d[0]).hypot(c[1] - d[1]) < r + s - TOUCH)
            }
            (Outline::Disc { center, radius }, straight @ (Outline::Rectangle { .. } | Outline::Polygon(_)))
            | (straight @ (Outline::Rectangle { .. } | Outline::Polygon(_)), Outline::Disc { center, radius }) => {
                let polygon = polygon_of(straight).unwrap_or_default();
                effort.spend(polygon.len() as u64)?;
                Ok(strictly_inside(*center, &polygon)
                    || edges(&polygon).any(|edge| distance(*center, edge) < radius - TOUCH))
            }
            _ => self.contours().overlaps(other.contours(), TOUCH, effort),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        let directions = edges(p).chain(edges(q)).map(|(a, b)| {
            let along = minus(b, a);
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
            let gap = separation(&corners([0.0, 0.0], [2.0, 1.0], turn), &corners([x, y], [w, h], other_turn));
            proptest::prop_assume!(gap.abs() > 1e-6);
            proptest::prop_assert_eq!(overlap(&a, &b), gap < 0.0);
            proptest::prop_assert_eq!(overlap(&b, &a), gap < 0.0);
            // The same rectangle given by its corners.
            let polygon = Outline::Polygon(corners([x, y], [w, h], other_turn));
            proptest::prop_assert_eq!(overlap(&polygon, &a), gap < 0.0);
        }
    }
}
