//! Curves as straight pieces.

use super::Ends;
use super::limits::{CHORD_TOLERANCE, MOST_POINTS};
use kurbo::{Affine, CubicBez, ParamCurve, ParamCurveDeriv, Point, Vec2};
use motefall_physics::contours::Bounds;
use std::f64::consts::TAU;

/// A line in the coordinates that it is written in.
pub(crate) type RawLine = (Vec<Point>, Ends);

/// Most pieces of a Bezier curve.
const MOST_PIECES: f64 = 1000.0;

/// The transform of the unit circle to an ellipse with a centre and two half axes.
pub(crate) fn ellipse(center: Point, u: Vec2, v: Vec2) -> Affine {
    Affine::new([u.x, u.y, v.x, v.y, center.x, center.y])
}

/// The transform of the unit circle to a circle.
pub(crate) fn circle(center: Point, radius: f64) -> Affine {
    ellipse(center, Vec2::new(radius, 0.0), Vec2::new(0.0, radius))
}

/// Adds an arc of the unit circle as a transform shows it, from an angle on over a sweep (rad), without its first point.
///
/// So many pieces that the sagitta r (1 - cos(step/2)) = r step^2/8 stays within the tolerance.
pub(crate) fn add_arc(points: &mut Vec<Point>, shown: Affine, from: f64, sweep: f64) {
    let n = (sweep.abs().min(TAU) / (8.0 * CHORD_TOLERANCE).sqrt()).ceil().max(1.0) as usize;
    points.extend((1..=n).map(|k| shown * Vec2::from_angle(from + sweep * k as f64 / n as f64).to_point()));
}

/// An arc with its first point.
pub(crate) fn arc(shown: Affine, from: f64, sweep: f64) -> RawLine {
    let mut points = vec![shown * Vec2::from_angle(from).to_point()];
    add_arc(&mut points, shown, from, sweep);
    (points, Ends::Open)
}

/// The whole circle as a transform shows it.
pub(crate) fn whole(shown: Affine) -> RawLine {
    let mut points = Vec::new();
    add_arc(&mut points, shown, 0.0, TAU);
    (points, Ends::Closed)
}

/// Adds the arc from one point to another with a bulge (the tangent of a quarter of its angle, positive counter-clockwise), without its
/// first point.
pub(crate) fn add_bulge(points: &mut Vec<Point>, from: Point, to: Point, bulge: f64) {
    let chord = to - from;
    if bulge != 0.0 && chord != Vec2::ZERO {
        // Distance of the centre from the chord's middle, to its left, over the chord.
        let offset = (1.0 - bulge * bulge) / (4.0 * bulge);
        let center = from.midpoint(to) + offset * chord.turn_90();
        let u = from - center;
        add_arc(points, ellipse(center, u, u.turn_90()), 0.0, 4.0 * bulge.atan());
        points.pop();
    }
    points.push(to);
}

/// Adds a Bezier curve without its first point.
///
/// A chord over a parameter step h departs by at most h^2/8 times the second derivative, which is largest at one of the ends.
pub(crate) fn add_bezier(points: &mut Vec<Point>, curve: CubicBez) {
    let bend = curve.deriv().deriv();
    let most = bend.p0.to_vec2().hypot().max(bend.p1.to_vec2().hypot());
    let tolerance = CHORD_TOLERANCE * extent(&[curve.p0, curve.p1, curve.p2, curve.p3]);
    // A curve without extent has one piece.
    let n = if tolerance > 0.0 { (most / (8.0 * tolerance)).sqrt().ceil().clamp(1.0, MOST_PIECES) } else { 1.0 };
    points.extend((1..n as usize).map(|k| curve.eval(k as f64 / n)));
    points.push(curve.p3);
}

/// Diagonal of the box around points.
pub(crate) fn extent(points: &[Point]) -> f64 {
    Bounds::around(points.iter().map(|p| [p.x, p.y])).diagonal()
}

/// A polyline through corners, each with the bulge of the piece that begins there.
pub(crate) fn bulged(corners: &[(Point, f64)], is_closed: bool) -> RawLine {
    let mut points: Vec<Point> = corners.first().map(|(corner, _)| *corner).into_iter().collect();
    for [(from, bulge), (to, _)] in corners.array_windows() {
        add_bulge(&mut points, *from, *to, *bulge);
        // So many are refused; here it bounds the memory.
        if points.len() > MOST_POINTS {
            break;
        }
    }
    // The closing piece may be an arc, too; a polyline of two corners can so be a circle.
    if let (true, [(first, _), .., (last, bulge)]) = (is_closed, corners) {
        add_bulge(&mut points, *last, *first, *bulge);
        points.pop();
    }
    (points, if is_closed { Ends::Closed } else { Ends::Open })
}

/// The angle from one direction on to another, counter-clockwise, above 0 and up to a full turn.
pub(crate) fn ahead(from: f64, to: f64) -> f64 {
    let sweep = (to - from).rem_euclid(TAU);
    if sweep < 1e-12 { TAU } else { sweep }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::contours::{from_segment, ring_area};
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn area((points, _): RawLine) -> f64 {
        ring_area(&points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>())
    }

    #[test]
    fn a_circle_loses_less_than_a_fiftieth_of_a_percent() {
        // n = ceil(2 pi/0.02) = 315 pieces; the area of the polygon is n/2 sin(2 pi/n) = pi (1 - 6.6e-5).
        let circle = whole(circle(Point::new(3.0, 4.0), 2.0));
        assert_eq!(circle.0.len(), 315);
        let area = area(circle) / (4.0 * PI);
        assert!((area - (1.0 - 6.63e-5)).abs() < 1e-7, "{area}");
    }

    #[test]
    fn a_bulge_of_one_is_a_half_circle_to_the_right_of_the_chord() {
        // Counter-clockwise from (0, 0) to (2, 0): through (1, -1).
        let mut points = Vec::new();
        add_bulge(&mut points, Point::ZERO, Point::new(2.0, 0.0), 1.0);
        let lowest = points.iter().map(|p| p.y).fold(f64::INFINITY, f64::min);
        assert!((lowest + 1.0).abs() < 1e-4, "{lowest}");
        assert_eq!(points.last(), Some(&Point::new(2.0, 0.0)));
        // A bulge of tan(pi/8) is a quarter circle; its centre lies at the right angle over the chord.
        let mut quarter = Vec::new();
        add_bulge(&mut quarter, Point::new(1.0, 0.0), Point::new(0.0, 1.0), (PI / 8.0).tan());
        assert!(quarter.iter().all(|p| (p.x.hypot(p.y) - 1.0).abs() < 1e-12));
    }

    #[test]
    fn a_parabola_has_the_area_of_archimedes() {
        // Under the curve with control points (0,0), (1,2), (2,0), raised to the third degree: 2/3 of base 2 times height 1.
        let mut points = vec![Point::ZERO];
        add_bezier(&mut points, CubicBez::new((0.0, 0.0), (2.0 / 3.0, 4.0 / 3.0), (4.0 / 3.0, 4.0 / 3.0), (2.0, 0.0)));
        assert!((area((points, Ends::Open)).abs() / (4.0 / 3.0) - 1.0).abs() < 5e-4);
        // A curve that is a point is one piece.
        let mut point = Vec::new();
        add_bezier(&mut point, CubicBez::new((1.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 1.0)));
        assert_eq!(point, [Point::new(1.0, 1.0)]);
    }

    proptest! {
        /// Cusps, loops and curves that run back on their own way among them.
        #[test]
        fn no_piece_of_a_bezier_curve_departs_farther_than_the_tolerance(
            c in proptest::array::uniform8(-1.0..1.0f64), flat in proptest::bool::ANY,
        ) {
            let y = |v: f64| if flat { 0.0 } else { v };
            let curve = CubicBez::new((c[0], y(c[1])), (c[2], y(c[3])), (c[4], y(c[5])), (c[6], y(c[7])));
            let mut points = vec![curve.p0];
            add_bezier(&mut points, curve);
            let most = CHORD_TOLERANCE * extent(&[curve.p0, curve.p1, curve.p2, curve.p3]) * (1.0 + 1e-9);
            for k in 0..=2000 {
                let p = curve.eval(f64::from(k) / 2000.0);
                let gap = points.array_windows().map(|[a, b]| {
                    let [x, y] = from_segment([p.x, p.y], [a.x, a.y], [b.x, b.y]);
                    x.hypot(y)
                });
                let gap = gap.fold(f64::INFINITY, f64::min);
                prop_assert!(gap <= most, "{} > {}", gap, most);
            }
        }
    }
}
