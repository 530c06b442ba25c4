//! Plane geometry of region outlines.

use crate::contours::{Bounds, Contours, Point, turned};
use crate::inputs::{Outline, Shape};
use std::borrow::Cow;

/// Length of a vector. Lengths on a chip neither overflow nor vanish when squared, so nothing more careful is needed.
#[inline]
fn length([x, y]: [f64; 2]) -> f64 {
    (x * x + y * y).sqrt()
}

/// Whether a point is inside an outline.
#[inline]
pub fn contains(outline: &Outline, [x, y]: Point) -> bool {
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([x - center[0], y - center[1]], -rotation);
            u.abs() <= 0.5 * size[0] && v.abs() <= 0.5 * size[1]
        }
        Outline::Disc { center, radius } => length([x - center[0], y - center[1]]) <= *radius,
        Outline::Area(area) => area.contours.contains([x, y]),
    }
}

/// The box around an outline.
pub fn bounds(outline: &Outline) -> Bounds {
    let around = |center: &Point, half: Point| Bounds {
        low: [center[0] - half[0], center[1] - half[1]],
        high: [center[0] + half[0], center[1] + half[1]],
    };
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let (sine, cosine) = (rotation.sin().abs(), rotation.cos().abs());
            around(center, [0.5 * (size[0] * cosine + size[1] * sine), 0.5 * (size[0] * sine + size[1] * cosine)])
        }
        Outline::Disc { center, radius } => around(center, [*radius; 2]),
        Outline::Area(area) => area.contours.bounds(),
    }
}

/// Box around a printed shape.
pub fn bounds_of_shape(shape: &Shape) -> Bounds {
    match shape {
        Shape::Polyline(points) => Bounds::around(points.iter().copied()),
        Shape::FilledRectangle { center, size, rotation, .. } => {
            bounds(&Outline::Rectangle { center: *center, size: *size, rotation: *rotation })
        }
        Shape::FilledDisc { center, radius, .. } => bounds(&Outline::Disc { center: *center, radius: *radius }),
        Shape::Dot { at, .. } => Bounds::around([*at]),
        Shape::Filled(filled) => filled.area.bounds(),
        Shape::Polylines(drawn) => Bounds::around(drawn.lines.iter().flatten().copied()),
    }
}

/// Distance from a point to an outline's edge; 0 inside.
#[inline]
pub fn distance(outline: &Outline, point: Point) -> f64 {
    if contains(outline, point) { 0.0 } else { distance_from_outside(outline, point) }
}

/// The same for a point that is not inside.
#[inline]
fn distance_from_outside(outline: &Outline, point: Point) -> f64 {
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([point[0] - center[0], point[1] - center[1]], -rotation);
            length([(u.abs() - 0.5 * size[0]).max(0.0), (v.abs() - 0.5 * size[1]).max(0.0)])
        }
        Outline::Disc { center, radius } => length([point[0] - center[0], point[1] - center[1]]) - radius,
        Outline::Area(area) => area.contours.distance_to_edge(point),
    }
}

/// Distance from a point to an outline's edge, negative inside.
pub(crate) fn signed_distance(outline: &Outline, point: Point) -> f64 {
    if !contains(outline, point) {
        return distance_from_outside(outline, point);
    }
    -match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([point[0] - center[0], point[1] - center[1]], -rotation);
            (0.5 * size[0] - u.abs()).min(0.5 * size[1] - v.abs())
        }
        Outline::Disc { center, radius } => radius - length([point[0] - center[0], point[1] - center[1]]),
        // Its edges are the same seen from inside.
        Outline::Area(_) => distance_from_outside(outline, point),
    }
}

/// Least distance between the edges of two outlines, m; 0 if they touch or overlap.
///
/// Exact for outlines that do not cross: between straight edges it is reached at a corner, and a disc is its centre and radius.
pub fn gap(a: &Outline, b: &Outline) -> f64 {
    if let (Outline::Disc { center, radius }, other) | (other, Outline::Disc { center, radius }) = (a, b) {
        return (distance(other, *center) - radius).max(0.0);
    }
    let from = |corners: &Outline, to: &Outline| {
        let distances = rings(corners).into_iter().flatten().map(|corner| distance(to, corner));
        distances.fold(f64::INFINITY, f64::min)
    };
    from(a, b).min(from(b, a))
}

/// Corners of a rectangle, counter-clockwise.
pub fn corners_of_rectangle(center: Point, size: Point, rotation: f64) -> [Point; 4] {
    [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[u, v]| {
        let [x, y] = turned([u * size[0], v * size[1]], rotation);
        [center[0] + x, center[1] + y]
    })
}

/// Corners of a disc where it stands for its rim.
const DISC_CORNERS: u32 = 96;

/// An outline as closed rings, of which those within others are holes; a disc gets 96 corners.
pub fn rings(outline: &Outline) -> Vec<Vec<Point>> {
    match outline {
        Outline::Rectangle { center, size, rotation } => vec![corners_of_rectangle(*center, *size, *rotation).into()],
        Outline::Disc { center, radius } => {
            let corner = |k: u32| {
                let (sin, cos) = (f64::from(k) / f64::from(DISC_CORNERS) * std::f64::consts::TAU).sin_cos();
                [center[0] + radius * cos, center[1] + radius * sin]
            };
            vec![(0..DISC_CORNERS).map(corner).collect()]
        }
        Outline::Area(area) => area.contours.contours().to_vec(),
    }
}

/// An outline as an area; a disc gets 96 corners.
pub fn as_contours(outline: &Outline) -> Cow<'_, Contours> {
    match outline {
        Outline::Area(area) => Cow::Borrowed(&area.contours),
        other => Cow::Owned(Contours::new(rings(other))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_in_a_turned_rectangle_and_in_a_polygon() {
        let diamond =
            Outline::Rectangle { center: [1.0, 0.0], size: [2.0, 2.0], rotation: std::f64::consts::FRAC_PI_4 };
        assert!(contains(&diamond, [1.0 + 1.4, 0.0]));
        assert!(!contains(&diamond, [1.0 + 0.9, 0.9]));
        assert!((bounds(&diamond).high[0] - (1.0 + 2f64.sqrt())).abs() < 1e-12);
        // The box holds the corners, and no less.
        for rotation in [0.0, 0.3, 1.6, 4.0] {
            let (center, size) = ([1.0, -2.0], [3.0, 0.5]);
            let Bounds { low, high } = bounds(&Outline::Rectangle { center, size, rotation });
            let around = Bounds::around(corners_of_rectangle(center, size, rotation));
            assert!((0..2).all(|k| (low[k] - around.low[k]).abs() + (high[k] - around.high[k]).abs() < 1e-12));
        }
        let notch = Outline::polygon(vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 1.0], [0.0, 4.0]]);
        assert!(contains(&notch, [0.5, 2.0]));
        assert!(!contains(&notch, [2.0, 2.0]));
        assert!((distance(&notch, [2.0, -3.0]) - 3.0).abs() < 1e-12);
        assert_eq!(distance(&notch, [1.0, 0.5]), 0.0);
        // Between corners, between a corner and an edge, and to a disc.
        let square = Outline::Rectangle { center: [7.0, 1.0], size: [2.0, 2.0], rotation: 0.0 };
        assert!((gap(&notch, &square) - 2.0).abs() < 1e-12);
        assert!((gap(&square, &diamond) - (6.0 - 1.0 - 2f64.sqrt())).abs() < 1e-12);
        let disc = Outline::Disc { center: [7.0, 4.0], radius: 1.5 };
        assert!((gap(&disc, &square) - 0.5).abs() < 1e-12 && (gap(&square, &disc) - 0.5).abs() < 1e-12);
        assert_eq!(gap(&notch, &Outline::Disc { center: [1.0, 0.5], radius: 0.1 }), 0.0);
        assert!((distance(&diamond, [1.0 + 2.0, 0.0]) - (2.0 - 2f64.sqrt()) / 2f64.sqrt() * 2f64.sqrt()).abs() < 1e-9);
    }
}
