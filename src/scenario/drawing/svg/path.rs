//! Path data: what its segments draw. Arcs as in the recommendation (W3C 2011, Scalable Vector Graphics 1.1, appendix F.6; from memory).

use super::values::{fault, too_large};
use crate::drawing::Ends;
use crate::drawing::curves::{RawLine, add_arc, add_bezier};
use crate::drawing::limits::{LARGEST_NUMBER, MOST_POINTS};
use kurbo::{Affine, Arc, CubicBez, Point, QuadBez, SvgArc, Vec2};
use svgtypes::{PathParser, PathSegment};

/// Distance of an arc's ends as a share of its radius below which it cannot be told which of the many arcs is meant.
const LEAST_CHORD: f64 = 1e-12;
/// Radius as a share of the distance of an arc's ends, far below the half that reaches from one to the other.
const LEAST_RADIUS: f64 = 1e-3;

/// The parts of a path.
pub(crate) fn parts(data: &str) -> Result<Vec<RawLine>, String> {
    if !matches!(data.trim_start().chars().next(), None | Some('M' | 'm')) {
        return Err("a path begins with M".to_owned());
    }
    let mut pen = Pen::default();
    for segment in PathParser::from(data) {
        pen.draw(segment.map_err(|error| fault(data, &error))?)?;
        if pen.drawn + pen.points.len() > MOST_POINTS {
            return Err(format!("it has more than {MOST_POINTS} points"));
        }
    }
    pen.lift(Ends::Open);
    Ok(pen.parts)
}

/// The last control point of a curve that the next may continue smoothly.
#[derive(Debug, Clone, Copy, Default)]
enum Before {
    Cubic(Point),
    Quadratic(Point),
    #[default]
    Other,
}

#[derive(Debug, Default)]
struct Pen {
    parts: Vec<RawLine>,
    /// PlainPoints of finished parts.
    drawn: usize,
    /// The part that is being drawn; empty until something is.
    points: Vec<Point>,
    here: Point,
    start: Point,
    before: Before,
}

impl Pen {
    fn draw(&mut self, segment: PathSegment) -> Result<(), String> {
        let zero = if segment.is_abs() { Vec2::ZERO } else { self.here.to_vec2() };
        let at = |x: f64, y: f64| match [x, y].into_iter().find(|v| v.abs() > LARGEST_NUMBER) {
            Some(large) => Err(too_large(large)),
            None => Ok(Point::new(x, y) + zero),
        };
        let before = std::mem::take(&mut self.before);
        match segment {
            PathSegment::MoveTo { x, y, .. } => {
                self.lift(Ends::Open);
                self.here = at(x, y)?;
                self.start = self.here;
            }
            PathSegment::LineTo { x, y, .. } => self.line(at(x, y)?),
            PathSegment::HorizontalLineTo { x, .. } => self.line(Point::new(at(x, 0.0)?.x, self.here.y)),
            PathSegment::VerticalLineTo { y, .. } => self.line(Point::new(self.here.x, at(0.0, y)?.y)),
            PathSegment::CurveTo { x1, y1, x2, y2, x, y, .. } => self.cubic(at(x1, y1)?, at(x2, y2)?, at(x, y)?),
            PathSegment::SmoothCurveTo { x2, y2, x, y, .. } => {
                let control = if let Before::Cubic(control) = before { control } else { self.here };
                self.cubic(self.here + (self.here - control), at(x2, y2)?, at(x, y)?);
            }
            PathSegment::Quadratic { x1, y1, x, y, .. } => self.quadratic(at(x1, y1)?, at(x, y)?),
            PathSegment::SmoothQuadratic { x, y, .. } => {
                let control = if let Before::Quadratic(control) = before { control } else { self.here };
                self.quadratic(self.here + (self.here - control), at(x, y)?);
            }
            PathSegment::EllipticalArc { rx, ry, x_axis_rotation, large_arc, sweep, x, y, .. } => {
                let radii = Vec2::new(rx.abs(), ry.abs());
                if radii.x.max(radii.y) > LARGEST_NUMBER {
                    return Err(too_large(radii.x.max(radii.y)));
                }
                self.arc(radii, x_axis_rotation.to_radians(), [large_arc, sweep], at(x, y)?);
            }
            PathSegment::ClosePath { .. } => {
                self.lift(Ends::Closed);
                self.here = self.start;
            }
        }
        Ok(())
    }

    /// Ends the part.
    fn lift(&mut self, ends: Ends) {
        let points = std::mem::take(&mut self.points);
        if points.len() > 1 {
            self.drawn += points.len();
            self.parts.push((points, ends));
        }
    }

    /// The points to which those of a way to another place are added.
    fn go_to(&mut self, to: Point) -> (&mut Vec<Point>, Point) {
        let from = std::mem::replace(&mut self.here, to);
        if self.points.is_empty() {
            self.points.push(from);
        }
        (&mut self.points, from)
    }

    fn line(&mut self, to: Point) {
        self.go_to(to).0.push(to);
    }

    fn cubic(&mut self, first: Point, second: Point, to: Point) {
        let (points, from) = self.go_to(to);
        add_bezier(points, CubicBez::new(from, first, second, to));
        self.before = Before::Cubic(second);
    }

    fn quadratic(&mut self, control: Point, to: Point) {
        let (points, from) = self.go_to(to);
        add_bezier(points, QuadBez::new(from, control, to).raise());
        self.before = Before::Quadratic(control);
    }

    fn arc(&mut self, radii: Vec2, x_rotation: f64, [large_arc, sweep]: [bool; 2], to: Point) {
        let (points, from) = self.go_to(to);
        // From its beginning in units of its larger radius: what counts as no radius and as no way does not depend on the drawing's unit.
        // Radii much too small for the way are enlarged in any case.
        let longest = radii.x.max(radii.y);
        let unit = longest.max(LEAST_RADIUS * (to - from).hypot());
        let way = (to - from) / unit;
        if longest > 0.0 && way.hypot() > LEAST_CHORD {
            let ends = [Point::ZERO, way.to_point()];
            let by_ends = SvgArc { from: ends[0], to: ends[1], radii: radii / longest, x_rotation, large_arc, sweep };
            if let Some(Arc { center, radii, start_angle, sweep_angle, x_rotation }) = Arc::from_svg_arc(&by_ends) {
                let shown = Affine::translate(from.to_vec2())
                    * Affine::scale(unit)
                    * Affine::translate(center.to_vec2())
                    * Affine::rotate(x_rotation)
                    * Affine::scale_non_uniform(radii.x, radii.y);
                add_arc(points, shown, start_angle, sweep_angle);
                points.pop();
            }
        }
        points.push(to);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::contours::{line_length, ring_area};
    use std::f64::consts::TAU;

    type PlainPoints = Vec<[f64; 2]>;

    fn plain(data: &str) -> Result<Vec<(PlainPoints, bool)>, String> {
        let plain = |(points, ends): RawLine| (points.iter().map(|p| [p.x, p.y]).collect(), ends == Ends::Closed);
        Ok(parts(data)?.into_iter().map(plain).collect())
    }

    fn one(data: &str) -> (PlainPoints, bool) {
        let parts = plain(data).unwrap_or_else(|fault| panic!("{data}: {fault}"));
        assert_eq!(parts.len(), 1, "{data}");
        parts.into_iter().next().expect("one")
    }

    #[test]
    fn all_commands_absolute_and_relative() {
        // A unit square in six ways.
        for data in [
            "M0 0L1 0L1 1L0 1Z",
            "m0,0 1,0 0,1 -1,0z",
            "M0 0H1V1H0Z",
            "M5 5m-5-5h1v1h-1z",
            "M0 0 1 0 1 1 0 1z",
            "M.0.0C.5 0 1 0 1 0S1 .5 1 1Q0 1 0 1T0 0z",
        ] {
            let (points, closed) = one(data);
            assert!(closed, "{data}");
            let mut ring = points;
            ring.push(ring[0]);
            assert!((ring_area(&ring) - 1.0).abs() < 1e-12, "{data}: {}", ring_area(&ring));
        }
        // A smooth curve after a curve mirrors its control point: the mirror image of the first half.
        let (wave, _) = one("M0 0Q1 2 2 0T4 0");
        let low = wave.iter().map(|p| p[1]).fold(0.0, f64::min);
        assert!((low + 1.0).abs() < 1e-3, "{low}");
        let (wave, _) = one("M0 0C0 1 2 1 2 0S4-1 4 0");
        let low = wave.iter().map(|p| p[1]).fold(0.0, f64::min);
        assert!((low + 0.75).abs() < 1e-3, "{low}");
    }

    #[test]
    fn arcs_go_the_way_their_flags_say() {
        // From (1, 0) to (0, 1) with radius 1: quarter circles about (0, 0) and (1, 1), short and long.
        for (flags, center, length) in
            [("0 1", [0.0, 0.0], 0.25), ("0 0", [1.0, 1.0], 0.25), ("10", [0.0, 0.0], 0.75), ("1,1", [1.0, 1.0], 0.75)]
        {
            let (points, _) = one(&format!("M1 0A1 1 0 {flags} 0 1"));
            assert!(
                points.iter().all(|p| ((p[0] - center[0]).hypot(p[1] - center[1]) - 1.0).abs() < 1e-9),
                "{flags}: {points:?}"
            );
            let sum = line_length(&points);
            assert!((sum / (TAU * length) - 1.0).abs() < 1e-4, "{flags}: {sum}");
        }
        // Flags without blanks, and radii that are too small: half a circle over the distance.
        let (points, _) = one("m0 0a.1.1 0 013 4");
        assert_eq!(points.last(), Some(&[3.0, 4.0]));
        assert!(points.iter().all(|p| ((p[0] - 1.5).hypot(p[1] - 2.0) - 2.5).abs() < 1e-9));
    }

    #[test]
    fn an_arc_does_not_depend_on_the_unit() {
        // A quarter circle of 10 units, and of a hundred-thousandth of one; and an ellipse nine times as long as wide, large part.
        for radius in [10.0, 1e-5] {
            let (points, _) = one(&format!("M{radius} 0A{radius} {radius} 0 0 1 0 {radius}"));
            assert!(points.len() > 50, "{}", points.len());
            assert!(points.iter().all(|p| (p[0].hypot(p[1]) / radius - 1.0).abs() < 1e-9));
        }
        let (points, _) = one("M9 0A9 1 0 1 1 0 -1");
        assert!(points.iter().all(|p| ((p[0] / 9.0).hypot(p[1]) - 1.0).abs() < 1e-9), "{points:?}");
        let top = points.iter().map(|p| p[1]).fold(0.0, f64::max);
        assert!((top - 1.0).abs() < 1e-4, "the large part runs over the top: {top}");
        // Radii that do not reach, by little and by far: half a circle over the distance.
        for radius in ["0.49", "1e-3", "1e-300"] {
            let (points, _) = one(&format!("M0 0A{radius} {radius} 0 1 1 0 1"));
            assert!(points.iter().all(|p| (p[0].hypot(p[1] - 0.5) - 0.5).abs() < 1e-9), "{radius}: {points:?}");
        }
        // Ends so near to each other that no circle can be told, and no radius at all: straight.
        for data in ["M0 0A1 1 0 1 1 1e-14 0", "M0 0A0 1 0 1 1 1 1"] {
            assert_eq!(one(data).0.len(), 2, "{data}");
        }
    }

    #[test]
    fn parts_open_and_closed() {
        let parts = plain("M0 0L1 0M2 2L3 3L3 2Zl1 1").expect("sound");
        assert_eq!(parts.len(), 3);
        assert_eq!(parts.iter().map(|p| p.1).collect::<Vec<_>>(), [false, true, false]);
        assert_eq!(parts[2].0, [[2.0, 2.0], [3.0, 3.0]]);
        assert!(plain("").expect("nothing").is_empty());
    }

    #[test]
    fn faults_say_where() {
        assert!(plain("L1 1").expect_err("no M").contains("begins with M"));
        assert!(plain("M1").expect_err("half a point").contains("missing"));
        assert!(plain("M0 0L1 x").expect_err("a letter").contains("character 8"));
        let what = plain("M0 0A1 1 0 0 x 1 1").expect_err("no flag");
        assert_eq!(what, "\"x 1 1\" is not understood (character 14)");
        assert!(plain("M0 0 L 1e400 0").expect_err("too large").contains("larger"));
        assert!(plain("M0 0L nan 0").is_err() && plain("M0 0Z 1 1").is_err() && plain("M0 0P1 1").is_err());
    }
}
