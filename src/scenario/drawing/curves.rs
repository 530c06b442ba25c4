//! Curves as straight pieces, and plane transforms.

use super::{CHORD_TOLERANCE, MOST_POINTS};
use std::f64::consts::TAU;

type Point = [f64; 2];

/// A plane transform: x' = a x + c y + e, y' = b x + d y + f.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transform {
    /// a, b, c, d, e, f.
    pub m: [f64; 6],
}

impl Transform {
    /// Changes nothing.
    pub const NONE: Self = Self { m: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0] };

    /// A shift.
    pub fn shift([x, y]: Point) -> Self {
        Self { m: [1.0, 0.0, 0.0, 1.0, x, y] }
    }

    /// Stretches along x and y.
    pub fn scale(x: f64, y: f64) -> Self {
        Self { m: [x, 0.0, 0.0, y, 0.0, 0.0] }
    }

    /// A turn about zero, rad.
    pub fn turn(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self { m: [cos, sin, -sin, cos, 0.0, 0.0] }
    }

    /// First `inner`, then this.
    pub fn after(&self, inner: &Self) -> Self {
        let ([a, b, c, d, e, f], [g, h, i, j, k, l]) = (self.m, inner.m);
        Self { m: [a * g + c * h, b * g + d * h, a * i + c * j, b * i + d * j, a * k + c * l + e, b * k + d * l + f] }
    }

    /// Where a point goes.
    pub fn of(&self, [x, y]: Point) -> Point {
        let [a, b, c, d, e, f] = self.m;
        [a * x + c * y + e, b * x + d * y + f]
    }
}

/// Pieces for a turn of an angle (rad) such that the sagitta r (1 - cos(step/2)) = r step^2/8 stays within the tolerance.
fn pieces_of_turn(angle: f64) -> usize {
    (angle.abs() / (8.0 * CHORD_TOLERANCE).sqrt()).ceil().max(1.0) as usize
}

/// An arc of an ellipse, center + u cos t + v sin t, without its first point. Both ends are exact in the parameter.
pub fn ellipse_arc(points: &mut Vec<Point>, center: Point, u: Point, v: Point, from: f64, sweep: f64) {
    let n = pieces_of_turn(sweep.clamp(-TAU, TAU));
    for k in 1..=n {
        let (sin, cos) = (from + sweep * k as f64 / n as f64).sin_cos();
        points.push([center[0] + u[0] * cos + v[0] * sin, center[1] + u[1] * cos + v[1] * sin]);
    }
}

/// A whole ellipse, closed, the first point not repeated.
pub fn ellipse(center: Point, u: Point, v: Point) -> Vec<Point> {
    let mut points = Vec::new();
    ellipse_arc(&mut points, center, u, v, 0.0, TAU);
    points
}

/// The arc from one point to another with a bulge (the tangent of a quarter of its angle, positive counter-clockwise), without its
/// first point.
pub fn bulge_arc(points: &mut Vec<Point>, from: Point, to: Point, bulge: f64) {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    if bulge != 0.0 && dx.hypot(dy) > 0.0 {
        // Distance of the centre from the chord's middle, to its left, over the chord.
        let offset = (1.0 - bulge * bulge) / (4.0 * bulge);
        let center = [0.5 * (from[0] + to[0]) - offset * dy, 0.5 * (from[1] + to[1]) + offset * dx];
        let u = [from[0] - center[0], from[1] - center[1]];
        ellipse_arc(points, center, u, [-u[1], u[0]], 0.0, 4.0 * bulge.atan());
        points.pop();
    }
    points.push(to);
}

/// A Bezier curve of second or third degree from the last point on, without it.
pub fn bezier(points: &mut Vec<Point>, control: &[Point]) {
    let p = control;
    let second =
        |k: usize| (p[k][0] - 2.0 * p[k + 1][0] + p[k + 2][0]).hypot(p[k][1] - 2.0 * p[k + 1][1] + p[k + 2][1]);
    // The second derivative is at most n (n - 1) times the largest second difference; a chord over a parameter step h departs by at
    // most h^2/8 times it.
    let degree = p.len() - 1;
    let most = (0..degree - 1).map(second).fold(0.0, f64::max) * (degree * (degree - 1)) as f64;
    let size = extent(p);
    let n =
        if size > 0.0 { (most / (8.0 * CHORD_TOLERANCE * size)).sqrt().ceil().clamp(1.0, 1000.0) as usize } else { 1 };
    for k in 1..=n {
        let t = k as f64 / n as f64;
        let mut q: [Point; 4] = [[0.0; 2]; 4];
        q[..p.len()].copy_from_slice(p);
        for level in (1..p.len()).rev() {
            for i in 0..level {
                q[i] = [q[i][0] + t * (q[i + 1][0] - q[i][0]), q[i][1] + t * (q[i + 1][1] - q[i][1])];
            }
        }
        points.push(if k == n { p[degree] } else { q[0] });
    }
}

/// Diagonal of the box around points.
fn extent(points: &[Point]) -> f64 {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in points {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if points.is_empty() { 0.0 } else { (high[0] - low[0]).hypot(high[1] - low[1]) }
}

/// A B-spline, rational if its weights differ.
#[derive(Debug, Clone, Default)]
pub struct Spline {
    /// Degree.
    pub degree: usize,
    /// Knots, one more than control points plus degree.
    pub knots: Vec<f64>,
    /// Control points.
    pub control: Vec<Point>,
    /// Weights, as many as control points or none.
    pub weights: Vec<f64>,
}

/// Deepest halving of a spline's piece between knots.
const DEEPEST_HALVING: u32 = 9;
/// Highest degree of a spline.
const HIGHEST_DEGREE: usize = 11;

impl Spline {
    /// What is wrong with it, if anything.
    pub fn fault(&self) -> Option<String> {
        let (n, p) = (self.control.len(), self.degree);
        if !(1..=HIGHEST_DEGREE).contains(&p) {
            return Some(format!("a spline of degree {p}; 1 to {HIGHEST_DEGREE} are read"));
        }
        if n <= p {
            return Some(format!("a spline of degree {p} with {n} control points; it needs at least {}", p + 1));
        }
        if self.knots.len() != n + p + 1 {
            return Some(format!("a spline with {} knots instead of {}", self.knots.len(), n + p + 1));
        }
        if self.knots.windows(2).any(|pair| pair[1] < pair[0]) || self.knots[p] >= self.knots[n] {
            return Some("a spline whose knots do not rise".to_owned());
        }
        if !self.weights.is_empty() && (self.weights.len() != n || self.weights.iter().any(|w| *w <= 0.0)) {
            return Some("a spline whose weights are not positive, one for each control point".to_owned());
        }
        None
    }

    /// The point at a parameter in the span that begins at knot `span` (de Boor's algorithm, on x w, y w and w).
    fn at(&self, span: usize, t: f64) -> Point {
        let p = self.degree;
        let mut d = [[0.0; 3]; HIGHEST_DEGREE + 1];
        for (j, own) in d.iter_mut().enumerate().take(p + 1) {
            let k = span - p + j;
            let w = self.weights.get(k).copied().unwrap_or(1.0);
            *own = [self.control[k][0] * w, self.control[k][1] * w, w];
        }
        for r in 1..=p {
            for j in (r..=p).rev() {
                let (low, high) = (self.knots[span - p + j], self.knots[span + 1 + j - r]);
                let a = if high > low { (t - low) / (high - low) } else { 0.0 };
                let (before, here) = (d[j - 1], d[j]);
                d[j] = [0, 1, 2].map(|c| (1.0 - a) * before[c] + a * here[c]);
            }
        }
        [d[p][0] / d[p][2], d[p][1] / d[p][2]]
    }

    /// The curve as points. Call [`Self::fault`] before.
    pub fn points(&self) -> Vec<Point> {
        let (n, p) = (self.control.len(), self.degree);
        let mut points = Vec::new();
        for span in (p..n).filter(|span| self.knots[span + 1] > self.knots[*span]) {
            let (from, to) = (self.knots[span], self.knots[span + 1]);
            let tolerance = CHORD_TOLERANCE * extent(&self.control[span - p..=span]);
            let first = self.at(span, from);
            if points.is_empty() {
                points.push(first);
            }
            // Never fewer than four pieces: a half or a quarter may lie on the chord by chance.
            let mut ends = (from, first);
            // So many are refused; here it bounds the memory.
            if points.len() > MOST_POINTS {
                break;
            }
            for k in 1..=4 {
                let t = if k == 4 { to } else { from + (to - from) * f64::from(k) / 4.0 };
                let here = self.at(span, t);
                self.halve(&mut points, span, ends, (t, here), tolerance, DEEPEST_HALVING);
                ends = (t, here);
            }
        }
        points
    }

    /// Adds points up to `b`, halving until the middle lies within the tolerance of the chord.
    fn halve(&self, points: &mut Vec<Point>, span: usize, a: (f64, Point), b: (f64, Point), tolerance: f64, left: u32) {
        let t = 0.5 * (a.0 + b.0);
        let middle = self.at(span, t);
        let gap = (middle[0] - 0.5 * (a.1[0] + b.1[0])).hypot(middle[1] - 0.5 * (a.1[1] + b.1[1]));
        if left > 0 && gap > tolerance {
            self.halve(points, span, a, (t, middle), tolerance, left - 1);
            self.halve(points, span, (t, middle), b, tolerance, left - 1);
        } else {
            points.push(b.1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::signed_area;
    use std::f64::consts::PI;

    fn closed_area(mut points: Vec<Point>) -> f64 {
        points.push(points[0]);
        signed_area(&points)
    }

    #[test]
    fn a_circle_loses_less_than_a_fiftieth_of_a_percent() {
        // n = ceil(2 pi/0.02) = 315 pieces; the area of the polygon is n/2 sin(2 pi/n) = pi (1 - 6.6e-5).
        let circle = ellipse([3.0, 4.0], [2.0, 0.0], [0.0, 2.0]);
        assert_eq!(circle.len(), 315);
        let area = closed_area(circle) / (4.0 * PI);
        assert!((area - (1.0 - 6.63e-5)).abs() < 1e-7, "{area}");
    }

    #[test]
    fn a_bulge_of_one_is_a_half_circle_to_the_right_of_the_chord() {
        // Counter-clockwise from (0, 0) to (2, 0): through (1, -1).
        let mut points = vec![[0.0, 0.0]];
        bulge_arc(&mut points, [0.0, 0.0], [2.0, 0.0], 1.0);
        let lowest = points.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min);
        assert!((lowest + 1.0).abs() < 1e-4, "{lowest}");
        assert_eq!(points.last(), Some(&[2.0, 0.0]));
        // A bulge of tan(pi/8) is a quarter circle; its centre lies at the right angle over the chord.
        let mut quarter = vec![[1.0, 0.0]];
        bulge_arc(&mut quarter, [1.0, 0.0], [0.0, 1.0], (PI / 8.0).tan());
        assert!(quarter.iter().all(|p| (p[0].hypot(p[1]) - 1.0).abs() < 1e-12));
    }

    #[test]
    fn a_rational_spline_of_second_degree_is_a_quarter_circle() {
        let spline = Spline {
            degree: 2,
            knots: vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0],
            control: vec![[1.0, 0.0], [1.0, 1.0], [0.0, 1.0]],
            weights: vec![1.0, 0.5f64.sqrt(), 1.0],
        };
        assert_eq!(spline.fault(), None);
        let points = spline.points();
        assert!(points.iter().all(|p| (p[0].hypot(p[1]) - 1.0).abs() < 1e-12));
        let length: f64 = points.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
        assert!((length / (PI / 2.0) - 1.0).abs() < 1e-4);
        assert!(Spline { knots: vec![0.0; 6], ..spline }.fault().is_some());
    }

    #[test]
    fn a_parabola_has_the_area_of_archimedes() {
        // Under the curve with control points (0,0), (1,2), (2,0): 2/3 of base 2 times height 1.
        let mut points = vec![[0.0, 0.0]];
        bezier(&mut points, &[[0.0, 0.0], [1.0, 2.0], [2.0, 0.0]]);
        assert!((closed_area(points).abs() / (4.0 / 3.0) - 1.0).abs() < 5e-4);
        // The same, raised to the third degree.
        let mut points = vec![[0.0, 0.0]];
        bezier(&mut points, &[[0.0, 0.0], [2.0 / 3.0, 4.0 / 3.0], [4.0 / 3.0, 4.0 / 3.0], [2.0, 0.0]]);
        assert!((closed_area(points).abs() / (4.0 / 3.0) - 1.0).abs() < 5e-4);
    }

    #[test]
    fn transforms_apply_from_the_inside_out() {
        let t = Transform::shift([10.0, 0.0]).after(&Transform::turn(PI / 2.0)).after(&Transform::scale(2.0, 3.0));
        let [x, y] = t.of([1.0, 1.0]);
        assert!((x - 7.0).abs() < 1e-12 && (y - 2.0).abs() < 1e-12, "{x} {y}");
    }
}
