//! Plane geometry of region outlines.

use crate::contours::{crossing, from_segment};
use crate::inputs::{Outline, Shape};

/// Turns a vector by an angle (rad).
#[inline]
pub fn turned([x, y]: [f64; 2], angle: f64) -> [f64; 2] {
    // Most rectangles are not turned, and points are tested by the million.
    if angle == 0.0 {
        return [x, y];
    }
    let (sine, cosine) = angle.sin_cos();
    [x * cosine - y * sine, x * sine + y * cosine]
}

/// Length of a vector. Lengths on a chip neither overflow nor vanish when squared, so nothing more careful is needed.
#[inline]
fn length([x, y]: [f64; 2]) -> f64 {
    (x * x + y * y).sqrt()
}

/// Whether a point is inside an outline.
#[inline]
pub fn contains(outline: &Outline, [x, y]: [f64; 2]) -> bool {
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([x - center[0], y - center[1]], -rotation);
            u.abs() <= 0.5 * size[0] && v.abs() <= 0.5 * size[1]
        }
        Outline::Disc { center, radius } => length([x - center[0], y - center[1]]) <= *radius,
        Outline::Polygon(points) => {
            // Crossings of a ray to the right.
            edges(points).filter(|[before, here]| crossing(*here, *before, y).is_some_and(|at| x < at)).count() % 2 == 1
        }
        Outline::Shape(area) => area.contours.contains([x, y]),
    }
}

/// Lower left and upper right corner of the box around an outline.
pub fn bounds(outline: &Outline) -> [[f64; 2]; 2] {
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let (sine, cosine) = (rotation.sin().abs(), rotation.cos().abs());
            let half = [0.5 * (size[0] * cosine + size[1] * sine), 0.5 * (size[0] * sine + size[1] * cosine)];
            [[center[0] - half[0], center[1] - half[1]], [center[0] + half[0], center[1] + half[1]]]
        }
        Outline::Disc { center, radius } => {
            [[center[0] - radius, center[1] - radius], [center[0] + radius, center[1] + radius]]
        }
        Outline::Polygon(points) => bounds_of_points(points),
        Outline::Shape(area) => area.contours.bounds(),
    }
}

/// Lower left and upper right corner of the box around points.
pub fn bounds_of_points(points: &[[f64; 2]]) -> [[f64; 2]; 2] {
    points.iter().fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[low, high], p| {
        [[low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])]]
    })
}

/// Box around a printed shape.
pub fn bounds_of_shape(shape: &Shape) -> [[f64; 2]; 2] {
    match shape {
        Shape::Polyline(points) => bounds_of_points(points),
        Shape::FilledRectangle { center, size, rotation, .. } => {
            bounds(&Outline::Rectangle { center: *center, size: *size, rotation: *rotation })
        }
        Shape::FilledDisc { center, radius, .. } => bounds(&Outline::Disc { center: *center, radius: *radius }),
        Shape::Dot { at, .. } => [*at, *at],
        Shape::Filled(filled) => filled.area.bounds(),
        Shape::Polylines(drawn) => {
            let ends: Vec<[f64; 2]> = drawn.lines.iter().flat_map(|line| bounds_of_points(line)).collect();
            bounds_of_points(&ends)
        }
    }
}

/// Distance from a point to an outline's edge; 0 inside.
#[inline]
pub fn distance(outline: &Outline, point: [f64; 2]) -> f64 {
    if contains(outline, point) { 0.0 } else { distance_from_outside(outline, point) }
}

/// The same for a point that is not inside.
#[inline]
fn distance_from_outside(outline: &Outline, point: [f64; 2]) -> f64 {
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([point[0] - center[0], point[1] - center[1]], -rotation);
            length([(u.abs() - 0.5 * size[0]).max(0.0), (v.abs() - 0.5 * size[1]).max(0.0)])
        }
        Outline::Disc { center, radius } => length([point[0] - center[0], point[1] - center[1]]) - radius,
        Outline::Polygon(points) => {
            let distance = |[before, here]: [[f64; 2]; 2]| {
                let [x, y] = from_segment(point, before, here);
                x.hypot(y)
            };
            edges(points).map(distance).fold(f64::INFINITY, f64::min)
        }
        Outline::Shape(area) => area.contours.distance_to_edge(point),
    }
}

/// Distance from a point to an outline's edge, negative inside.
pub fn signed_distance(outline: &Outline, point: [f64; 2]) -> f64 {
    if !contains(outline, point) {
        return distance_from_outside(outline, point);
    }
    -match outline {
        Outline::Rectangle { center, size, rotation } => {
            let [u, v] = turned([point[0] - center[0], point[1] - center[1]], -rotation);
            (0.5 * size[0] - u.abs()).min(0.5 * size[1] - v.abs())
        }
        Outline::Disc { center, radius } => radius - length([point[0] - center[0], point[1] - center[1]]),
        // Their edges are the same seen from inside.
        Outline::Polygon(_) | Outline::Shape(_) => distance_from_outside(outline, point),
    }
}

/// Distance from a point to a box; 0 inside.
#[inline]
pub fn distance_to_box([low, high]: [[f64; 2]; 2], point: [f64; 2]) -> f64 {
    let out = |k: usize| (low[k] - point[k]).max(point[k] - high[k]).max(0.0);
    length([out(0), out(1)])
}

/// Least distance between the edges of two outlines, m; 0 if they touch or overlap.
///
/// Exact for outlines that do not cross: between straight edges it is reached at a corner, and a disc is its centre and radius.
pub fn gap(a: &Outline, b: &Outline) -> f64 {
    if let (Outline::Disc { center, radius }, other) | (other, Outline::Disc { center, radius }) = (a, b) {
        return (distance(other, *center) - radius).max(0.0);
    }
    let from = |corners: &Outline, to: &Outline| {
        corners_of(corners).into_iter().map(|corner| distance(to, corner)).fold(f64::INFINITY, f64::min)
    };
    from(a, b).min(from(b, a))
}

/// Corners of an outline with straight edges; none of a disc.
fn corners_of(outline: &Outline) -> Vec<[f64; 2]> {
    match outline {
        Outline::Rectangle { center, size, rotation } => corners_of_rectangle(*center, *size, *rotation).to_vec(),
        Outline::Disc { .. } => vec![],
        Outline::Polygon(points) => points.clone(),
        Outline::Shape(area) => area.contours.contours().concat(),
    }
}

/// Corners of a rectangle, counter-clockwise.
pub fn corners_of_rectangle(center: [f64; 2], size: [f64; 2], rotation: f64) -> [[f64; 2]; 4] {
    [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[u, v]| {
        let [x, y] = turned([u * size[0], v * size[1]], rotation);
        [center[0] + x, center[1] + y]
    })
}

/// Edges of a closed contour, the one that ends at its first corner first.
pub fn edges(points: &[[f64; 2]]) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
    let last = points.len().wrapping_sub(1);
    (0..points.len()).map(move |k| [points[if k == 0 { last } else { k - 1 }], points[k]])
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
        assert!((bounds(&diamond)[1][0] - (1.0 + 2f64.sqrt())).abs() < 1e-12);
        // The box holds the corners, and no less.
        for rotation in [0.0, 0.3, 1.6, 4.0] {
            let (center, size) = ([1.0, -2.0], [3.0, 0.5]);
            let [low, high] = bounds(&Outline::Rectangle { center, size, rotation });
            let around = bounds_of_points(&corners_of_rectangle(center, size, rotation));
            assert!((0..2).all(|k| (low[k] - around[0][k]).abs() + (high[k] - around[1][k]).abs() < 1e-12));
        }
        let triangle = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];
        let [a, b, c] = triangle;
        assert_eq!(edges(&triangle).collect::<Vec<_>>(), [[c, a], [a, b], [b, c]]);
        assert_eq!(edges(&[]).count(), 0);
        let notch = Outline::Polygon(vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 1.0], [0.0, 4.0]]);
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
