//! Printed shapes as strokes: polylines drawn with the shutter open.

use super::fill::{fill, heights, in_short_order};
use crate::contours::turned;
use crate::inputs::{PathItem, Shape};

/// A polyline drawn in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeLine {
    /// Corners, m; a single point is a dot.
    pub(crate) points: Vec<[f64; 2]>,
    /// Speed, m/s.
    pub(crate) speed: f64,
    /// Rest at the point of a dot, s.
    pub(crate) dwell: f64,
    /// What the stage does at its corners.
    pub(crate) corners: Corners,
}

/// What the stage does at the corners of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Corners {
    /// It comes to rest at each.
    Rest,
    /// It passes slight ones, such as a drawn curve has many of, without a stop.
    Flow,
}

/// Strokes of an item, pass by pass; every other pass runs backwards. `from_line` (m) is the spacing of fills that have none of their own, as in
/// [`Spacing::with`](crate::inputs::Spacing::with).
pub fn strokes(item: &PathItem, from_line: Option<f64>) -> Vec<StrokeLine> {
    let one = |points: Vec<[f64; 2]>| (vec![points], Corners::Rest);
    let dwell = if let Shape::Dot { dwell, .. } = &item.shape { *dwell } else { 0.0 };
    let (lines, corners) = match &item.shape {
        Shape::Polyline(points) => one(points.clone()),
        Shape::FilledRectangle { center, size, rotation, spacing } => {
            let place = |x: f64, y: f64| {
                let [u, v] = turned([x, y], *rotation);
                [center[0] + u, center[1] + v]
            };
            let ends = |_y: f64| 0.5 * size[0];
            one(back_and_forth(size[1], *spacing, ends, place))
        }
        Shape::FilledDisc { center, radius, spacing } => {
            let place = |x: f64, y: f64| [center[0] + x, center[1] + y];
            let ends = |y: f64| (radius * radius - y * y).max(0.0).sqrt();
            one(back_and_forth(2.0 * radius, *spacing, ends, place))
        }
        Shape::Dot { at, .. } => one(vec![*at]),
        Shape::Filled(filled) => (fill(filled, filled.spacing.with(from_line)), Corners::Flow),
        Shape::Polylines(drawn) => (in_short_order(drawn.lines.clone()), Corners::Flow),
    };
    (0..item.passes)
        .flat_map(|pass| {
            let mut lines = lines.clone();
            if pass % 2 == 1 {
                lines.reverse();
                lines.iter_mut().for_each(|points| points.reverse());
            }
            lines.into_iter().map(|points| StrokeLine { points, speed: item.speed, dwell, corners })
        })
        .collect()
}

/// One continuous path of parallel lines along x at an even spacing, centred on a band of a height; `ends(y)` is half the length of
/// the line at `y`. The turns are drawn too: the shutter stays open.
fn back_and_forth(
    height: f64,
    spacing: f64,
    ends: impl Fn(f64) -> f64,
    place: impl Fn(f64, f64) -> [f64; 2],
) -> Vec<[f64; 2]> {
    let heights = heights(-0.5 * height, 0.5 * height, spacing);
    let mut points = Vec::with_capacity(2 * heights.len());
    for (k, y) in heights.into_iter().enumerate() {
        let half = if k % 2 == 0 { ends(y) } else { -ends(y) };
        points.push(place(-half, y));
        points.push(place(half, y));
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rectangle_becomes_a_meander_with_its_lines_centred() {
        let shape = Shape::FilledRectangle { center: [1.0, 2.0], size: [10.0, 4.0], rotation: 0.0, spacing: 1.0 };
        let item = PathItem { name: "r".into(), shape, speed: 1.0, passes: 2 };
        let passes = strokes(&item, None);
        assert_eq!(passes.len(), 2);
        // Four lines at y = 2 - 1.5 ... 2 + 1.5.
        assert_eq!(passes[0].points.len(), 8);
        assert_eq!(passes[0].points[0], [-4.0, 0.5]);
        assert_eq!(passes[0].points[1], [6.0, 0.5]);
        assert_eq!(passes[0].points[2], [6.0, 1.5]);
        assert_eq!(passes[1].points[0], passes[0].points[7]);
    }

    #[test]
    fn lines_of_a_disc_end_on_its_rim() {
        let item = PathItem {
            name: "d".into(),
            shape: Shape::FilledDisc { center: [0.0, 0.0], radius: 5.0, spacing: 0.5 },
            speed: 1.0,
            passes: 1,
        };
        let points = &strokes(&item, None)[0].points;
        assert_eq!(points.len(), 40);
        assert!(points.iter().all(|p| (p[0].hypot(p[1]) - 5.0).abs() < 1e-12));
    }
}
