//! Boundaries of hatches.

use super::fields::Fields;
use super::spline::Spline;
use super::tags::Tag;
use crate::drawing::curves::{RawLine, ahead, arc, bulged, circle, ellipse};
use crate::drawing::limits::MOST_POINTS;
use crate::drawing::{DrawingError, Ends, FilePlace};
use kurbo::{Affine, Point};
use std::f64::consts::TAU;

/// The closed lines around a hatch.
pub(super) fn boundaries(fields: &Fields<'_, '_>) -> Result<Vec<RawLine>, DrawingError> {
    let body = fields.body;
    let Some(start) = body.iter().position(|tag| tag.code == 91) else { return Ok(Vec::new()) };
    let paths = body[start].whole()?;
    let mut cursor = Cursor { body, at: start + 1, place: fields.start.place };
    let mut result: Vec<RawLine> = Vec::new();
    let mut total = 0;
    for _ in 0..paths.max(0) {
        let points = if cursor.expect(92)?.whole()? & 2 != 0 { cursor.polyline()? } else { cursor.edges()? };
        total += points.len();
        result.push((points, Ends::Closed));
        // So many are refused; here it bounds the memory.
        if total > MOST_POINTS {
            break;
        }
        // Objects that the boundary came from.
        if let Some(number) = cursor.optional(97) {
            for _ in 0..number.whole()?.max(0) {
                cursor.optional(330);
            }
        }
    }
    Ok(result)
}

/// Puts an edge to the end of a boundary. It may be stored in the other direction than its neighbours.
fn join(points: &mut Vec<Point>, edge: Vec<Point>) {
    let (Some(first), Some(last)) = (edge.first().copied(), edge.last().copied()) else { return };
    let (Some(begin), Some(end)) = (points.first().copied(), points.last().copied()) else {
        *points = edge;
        return;
    };
    let mut end = end;
    if first.distance(end).min(last.distance(end)) > first.distance(begin).min(last.distance(begin)) {
        points.reverse();
        end = begin;
    }
    if last.distance(end) < first.distance(end) {
        points.extend(edge.into_iter().rev().skip(1));
    } else {
        points.extend_from_slice(&edge[1..]);
    }
}

/// Goes through the tags of a hatch in order.
struct Cursor<'t, 'a> {
    body: &'t [Tag<'a>],
    at: usize,
    place: FilePlace,
}

impl<'a> Cursor<'_, 'a> {
    fn optional(&mut self, code: i32) -> Option<Tag<'a>> {
        let found = self.body.get(self.at).filter(|tag| tag.code == code).copied();
        self.at += usize::from(found.is_some());
        found
    }

    fn expect(&mut self, code: i32) -> Result<Tag<'a>, DrawingError> {
        self.optional(code).ok_or_else(|| {
            let place = self.body.get(self.at).map_or(self.place, |tag| tag.place);
            DrawingError::broken(place, format!("the hatch's boundary misses its value {code} here"))
        })
    }

    fn number(&mut self, code: i32) -> Result<f64, DrawingError> {
        self.expect(code)?.number()
    }

    fn point(&mut self, code: i32) -> Result<Point, DrawingError> {
        Ok(Point::new(self.number(code)?, self.number(code + 10)?))
    }

    /// A boundary of straight and bulged pieces.
    fn polyline(&mut self) -> Result<Vec<Point>, DrawingError> {
        let has_bulge = self.expect(72)?.whole()? != 0;
        self.optional(73);
        let mut corners = Vec::new();
        for _ in 0..self.expect(93)?.whole()?.max(0) {
            let corner = self.point(10)?;
            let bulge = if has_bulge { self.optional(42).map(|tag| tag.number()).transpose()? } else { None };
            corners.push((corner, bulge.unwrap_or(0.0)));
        }
        Ok(bulged(&corners, true).0)
    }

    /// A boundary of edges of all kinds.
    fn edges(&mut self) -> Result<Vec<Point>, DrawingError> {
        let mut points = Vec::new();
        for _ in 0..self.expect(93)?.whole()?.max(0) {
            // So many are refused; here it bounds the memory.
            if points.len() > MOST_POINTS {
                break;
            }
            join(&mut points, self.edge()?);
        }
        Ok(points)
    }

    fn edge(&mut self) -> Result<Vec<Point>, DrawingError> {
        let kind = self.expect(72)?;
        match kind.whole()? {
            1 => Ok(vec![self.point(10)?, self.point(11)?]),
            2 => {
                let shown = circle(self.point(10)?, self.number(40)?);
                self.arc(shown, 1.0)
            }
            3 => {
                let (center, u, ratio) = (self.point(10)?, self.point(11)?.to_vec2(), self.number(40)?);
                self.arc(ellipse(center, u, u.turn_90() * ratio), ratio)
            }
            4 => self.spline(kind.place),
            other => Err(DrawingError::broken(kind.place, format!("an edge of a hatch of the unknown kind {other}"))),
        }
    }

    /// Angles of an arc and its points. Clockwise arcs hold their angles negated.
    fn arc(&mut self, shown: Affine, ratio: f64) -> Result<Vec<Point>, DrawingError> {
        let (from, to) = (self.number(50)?.to_radians(), self.number(51)?.to_radians());
        let is_counter_clockwise = self.expect(73)?.whole()? != 0;
        let sweep = ahead(from, to);
        // Angles are true directions; the curve's parameter differs from them where the axes differ.
        let parameter = |angle: f64| {
            let turns = (angle / TAU).floor() * TAU;
            let inner = angle - turns;
            let t = (inner.sin()).atan2(inner.cos() * ratio);
            if (sweep - TAU).abs() < 1e-9 { angle } else { turns + t.rem_euclid(TAU) }
        };
        let (a, b) = (parameter(from), parameter(from + sweep));
        Ok(if is_counter_clockwise { arc(shown, a, b - a) } else { arc(shown, -a, a - b) }.0)
    }

    fn spline(&mut self, place: FilePlace) -> Result<Vec<Point>, DrawingError> {
        let degree = usize::try_from(self.expect(94)?.whole()?).unwrap_or(0);
        let mut spline = Spline { degree, ..Spline::default() };
        let is_rational = self.expect(73)?.whole()? != 0;
        self.expect(74)?;
        let (knots, control) = (self.expect(95)?.whole()?, self.expect(96)?.whole()?);
        for _ in 0..knots.max(0) {
            spline.knots.push(self.number(40)?);
        }
        for _ in 0..control.max(0) {
            spline.control.push(self.point(10)?);
            if let (true, Some(weight)) = (is_rational, self.optional(42)) {
                spline.weights.push(weight.number()?);
            }
        }
        self.pass_fits()?;
        spline.points().map_err(|fault| DrawingError::broken(place, fault))
    }

    /// Passes over points that a spline passes through, and its directions at the ends: they say the same once more. The number of
    /// objects that the boundary came from has the same code, so it is taken only if such points follow.
    fn pass_fits(&mut self) -> Result<(), DrawingError> {
        let before = self.at;
        if let Some(fits) = self.optional(97) {
            let next = self.body.get(self.at).map(|tag| tag.code);
            if fits.whole()? == 0 && !matches!(next, Some(12 | 72 | 97)) || next == Some(330) {
                self.at = before;
            }
            while matches!(self.body.get(self.at).map(|tag| tag.code), Some(11..=13 | 21..=23)) {
                self.at += 1;
            }
        }
        Ok(())
    }
}
