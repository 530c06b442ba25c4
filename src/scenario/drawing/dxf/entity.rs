//! Entities: what each draws.

use super::fields::{Fields, body_of};
use super::hatch;
use super::parts::{Entity, Insert, SectionReader, What};
use super::spline::Spline;
use super::tags::{Tag, Tags, shown_text};
use crate::drawing::curves::{RawLine, ahead, arc, bulged, circle, ellipse, whole};
use crate::drawing::limits::MOST_POINTS;
use crate::drawing::{DrawingError, Ends, ErrorKind};
use kurbo::{Affine, Point, Vec2};
use std::f64::consts::TAU;

/// Entities that are read.
const KINDS: [&str; 9] = ["LINE", "LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "ELLIPSE", "SPLINE", "HATCH", "INSERT"];
/// Entities that are given as drawn; the others lie in a plane of their own, which may be seen from behind.
const AS_DRAWN: [&str; 3] = ["LINE", "ELLIPSE", "SPLINE"];
/// Parts of what came before, which need no remark of their own.
const PARTS: [&str; 3] = ["ATTRIB", "VERTEX", "SEQEND"];

/// Reads the entity that begins with a tag.
pub(super) fn read<'a>(
    reader: &mut SectionReader,
    start: Tag<'a>,
    tags: &mut Tags<'a>,
    entities: &mut Vec<Entity>,
) -> Result<(), DrawingError> {
    let Some(kind) = KINDS.into_iter().find(|kind| start.is(kind)) else {
        let name = shown_text(&start.text());
        if !PARTS.contains(&name.as_str()) {
            reader.gatherer.ignore(&name);
        }
        return Ok(());
    };
    let body = body_of(start, tags)?;
    let fields = Fields { start, body: &body };
    let layer = fields.find(8).map_or_else(|| "0".into(), |tag| tag.text());
    let layer = reader.name(&layer);
    let place = start.place;
    let insert = if kind == "INSERT" { Some(insert(&fields)?) } else { None };
    let lines = if insert.is_none() { lines(kind, reader, &fields, tags)? } else { Vec::new() };
    if matches!(fields.find(67), Some(tag) if tag.whole()? == 1) {
        reader.gatherer.ignore("on the paper space");
        return Ok(());
    }
    let is_mirrored = !AS_DRAWN.contains(&kind) && fields.is_mirrored()?;
    if let Some(mut insert) = insert {
        if is_mirrored {
            insert.transform = Affine::FLIP_X * insert.transform;
            insert.array.iter_mut().for_each(|(step, _)| step.x = -step.x);
        }
        entities.push(Entity { layer, place, what: What::Insert(Box::new(insert)) });
    }
    for mut line in lines {
        if is_mirrored {
            line.0.iter_mut().for_each(|p| p.x = -p.x);
        }
        reader.points += line.0.len();
        if reader.points > MOST_POINTS {
            let what = format!("its curves have more than {MOST_POINTS} points");
            return Err(DrawingError::too_much(Some(place), what));
        }
        entities.push(Entity { layer, place, what: What::Line(line, kind) });
    }
    Ok(())
}

/// The lines of an entity of one of [`KINDS`].
fn lines<'a>(
    kind: &str,
    reader: &mut SectionReader,
    fields: &Fields<'_, 'a>,
    tags: &mut Tags<'a>,
) -> Result<Vec<RawLine>, DrawingError> {
    Ok(match kind {
        "LINE" => vec![(vec![fields.point(10)?, fields.point(11)?], Ends::Open)],
        "LWPOLYLINE" => vec![light_polyline(fields)?],
        "POLYLINE" => return old_polyline(reader, fields, tags),
        "CIRCLE" => vec![whole(circle(fields.point(10)?, fields.radius()?))],
        "ARC" => {
            let shown = circle(fields.point(10)?, fields.radius()?);
            let (from, to) = (fields.number(50)?.to_radians(), fields.number(51)?.to_radians());
            vec![arc(shown, from, ahead(from, to))]
        }
        "ELLIPSE" => vec![ellipse_line(fields)?],
        "SPLINE" => vec![spline(fields)?],
        _ => hatch::boundaries(fields)?,
    })
}

fn light_polyline(fields: &Fields<'_, '_>) -> Result<RawLine, DrawingError> {
    let mut corners: Vec<(Point, f64)> = Vec::new();
    for tag in fields.body {
        match (tag.code, corners.last_mut()) {
            (10, _) => corners.push((Point::new(tag.number()?, 0.0), 0.0)),
            (20, Some((corner, _))) => corner.y = tag.number()?,
            (42, Some((_, bulge))) => *bulge = tag.number()?,
            _ => {}
        }
    }
    Ok(bulged(&corners, fields.flags()? & 1 != 0))
}

/// A polyline whose corners are entities of their own.
fn old_polyline<'a>(
    reader: &mut SectionReader,
    fields: &Fields<'_, 'a>,
    tags: &mut Tags<'a>,
) -> Result<Vec<RawLine>, DrawingError> {
    let flags = fields.flags()?;
    let mut corners = Vec::new();
    loop {
        let tag = tags.peek()?;
        if tag.code == 0 && !tag.is("VERTEX") {
            break;
        }
        let start = tags.next_tag()?;
        if start.code != 0 {
            continue;
        }
        reader.gatherer.count("entities", start.place)?;
        let body = body_of(start, tags)?;
        let vertex = Fields { start, body: &body };
        // A control point of a fitted curve is not on it.
        if vertex.flags()? & 16 == 0 {
            corners.push((vertex.point(10)?, vertex.optional(42)?.unwrap_or(0.0)));
        }
    }
    if flags & (16 | 64) != 0 {
        reader.gatherer.ignore("POLYLINE as a mesh");
        return Ok(Vec::new());
    }
    Ok(vec![bulged(&corners, flags & 1 != 0)])
}

fn ellipse_line(fields: &Fields<'_, '_>) -> Result<RawLine, DrawingError> {
    let (center, u, ratio) = (fields.point(10)?, fields.point(11)?.to_vec2(), fields.number(40)?);
    let (from, to) = (fields.optional(41)?.unwrap_or(0.0), fields.optional(42)?.unwrap_or(TAU));
    // The minor axis stands to the left of the major one, seen along the normal.
    let side = if fields.is_mirrored()? { -ratio } else { ratio };
    let shown = ellipse(center, u, u.turn_90() * side);
    let sweep = ahead(from, to);
    Ok(if (sweep - TAU).abs() < 1e-9 { whole(shown) } else { arc(shown, from, sweep) })
}

fn spline(fields: &Fields<'_, '_>) -> Result<RawLine, DrawingError> {
    let (mut spline, place) = (Spline::default(), fields.start.place);
    let mut fits = 0;
    for tag in fields.body {
        match (tag.code, spline.control.last_mut()) {
            (71, _) => spline.degree = usize::try_from(tag.whole()?).unwrap_or(0),
            (40, _) => spline.knots.push(tag.number()?),
            (41, _) => spline.weights.push(tag.number()?),
            (10, _) => spline.control.push(Point::new(tag.number()?, 0.0)),
            (20, Some(point)) => point.y = tag.number()?,
            (11, _) => fits += 1,
            _ => {}
        }
    }
    if spline.control.is_empty() && fits > 0 {
        return Err(DrawingError::new(
            ErrorKind::Unsupported,
            Some(place),
            "a spline given only by points that it passes through",
            "convert it to control points, or to a polyline, and save the drawing again",
        ));
    }
    let points = spline.points().map_err(|fault| DrawingError::broken(place, fault))?;
    Ok((points, if fields.flags()? & 1 != 0 { Ends::Closed } else { Ends::Open }))
}

fn insert(fields: &Fields<'_, '_>) -> Result<Insert, DrawingError> {
    let block = fields.find(2).map(|tag| tag.text().to_uppercase()).unwrap_or_default();
    let at = fields.point(10)?.to_vec2();
    let [x, y] = [fields.optional(41)?.unwrap_or(1.0), fields.optional(42)?.unwrap_or(1.0)];
    let turn = Affine::rotate(fields.optional(50)?.unwrap_or(0.0).to_radians());
    let count = |code: i32| fields.find(code).map_or(Ok(1), |tag| tag.whole().map(|n| n.max(1)));
    let step = |code: i32| fields.optional(code).map(|v| v.unwrap_or(0.0));
    let turned = |x: f64, y: f64| -> Vec2 { (turn * Point::new(x, y)).to_vec2() };
    let array = [(turned(step(44)?, 0.0), count(70)?), (turned(0.0, step(45)?), count(71)?)];
    Ok(Insert { block, array, transform: Affine::translate(at) * turn * Affine::scale_non_uniform(x, y) })
}
