//! Splines by control points.

use crate::drawing::curves::extent;
use crate::drawing::limits::{CHORD_TOLERANCE, MOST_POINTS};
use kurbo::Point;

/// A B-spline, rational if its weights differ.
#[derive(Debug, Clone, Default)]
pub(crate) struct Spline {
    /// Degree.
    pub(crate) degree: usize,
    /// Knots, one more than control points plus degree.
    pub(crate) knots: Vec<f64>,
    /// Control points.
    pub(crate) control: Vec<Point>,
    /// Weights, as many as control points or none.
    pub(crate) weights: Vec<f64>,
}

/// Deepest halving of a spline's piece between knots.
const DEEPEST_HALVING: u32 = 9;
/// Highest degree of a spline.
const HIGHEST_DEGREE: usize = 11;

impl Spline {
    fn check(&self) -> Result<(), String> {
        let (n, p) = (self.control.len(), self.degree);
        if !(1..=HIGHEST_DEGREE).contains(&p) {
            return Err(format!("a spline of degree {p}; 1 to {HIGHEST_DEGREE} are read"));
        }
        if n <= p {
            return Err(format!("a spline of degree {p} with {n} control points; it needs at least {}", p + 1));
        }
        if self.knots.len() != n + p + 1 {
            return Err(format!("a spline with {} knots instead of {}", self.knots.len(), n + p + 1));
        }
        if self.knots.windows(2).any(|pair| pair[1] < pair[0]) || self.knots[p] >= self.knots[n] {
            return Err("a spline whose knots do not rise".to_owned());
        }
        if !self.weights.is_empty() && (self.weights.len() != n || self.weights.iter().any(|w| *w <= 0.0)) {
            return Err("a spline whose weights are not positive, one for each control point".to_owned());
        }
        Ok(())
    }

    /// The point at a parameter in the span that begins at knot `span` (de Boor's algorithm, on x w, y w and w).
    fn at(&self, span: usize, t: f64) -> Point {
        let p = self.degree;
        let mut d = [[0.0; 3]; HIGHEST_DEGREE + 1];
        for (j, own) in d.iter_mut().enumerate().take(p + 1) {
            let k = span - p + j;
            let w = self.weights.get(k).copied().unwrap_or(1.0);
            *own = [self.control[k].x * w, self.control[k].y * w, w];
        }
        for r in 1..=p {
            for j in (r..=p).rev() {
                let (low, high) = (self.knots[span - p + j], self.knots[span + 1 + j - r]);
                let a = if high > low { (t - low) / (high - low) } else { 0.0 };
                let (before, here) = (d[j - 1], d[j]);
                d[j] = [0, 1, 2].map(|c| (1.0 - a) * before[c] + a * here[c]);
            }
        }
        Point::new(d[p][0] / d[p][2], d[p][1] / d[p][2])
    }

    /// The curve as points, or what is wrong with it.
    pub(crate) fn points(&self) -> Result<Vec<Point>, String> {
        self.check()?;
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
        Ok(points)
    }

    /// Adds points up to `b`, halving until the middle lies within the tolerance of the chord.
    fn halve(&self, points: &mut Vec<Point>, span: usize, a: (f64, Point), b: (f64, Point), tolerance: f64, left: u32) {
        let t = 0.5 * (a.0 + b.0);
        let middle = self.at(span, t);
        let gap = middle.distance(a.1.midpoint(b.1));
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
    use std::f64::consts::FRAC_PI_2;

    #[test]
    fn a_rational_spline_of_second_degree_is_a_quarter_circle() {
        let spline = Spline {
            degree: 2,
            knots: vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0],
            control: vec![Point::new(1.0, 0.0), Point::new(1.0, 1.0), Point::new(0.0, 1.0)],
            weights: vec![1.0, 0.5f64.sqrt(), 1.0],
        };
        let points = spline.points().expect("sound");
        assert!(points.iter().all(|p| (p.x.hypot(p.y) - 1.0).abs() < 1e-12));
        let length: f64 = points.array_windows().map(|[a, b]| a.distance(*b)).sum();
        assert!((length / FRAC_PI_2 - 1.0).abs() < 1e-4);
        assert!(Spline { knots: vec![0.0; 6], ..spline }.points().is_err());
    }
}
