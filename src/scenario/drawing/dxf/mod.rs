//! DXF: sections, layers, entities, blocks. The meaning of group codes is that of the published DXF reference, from memory, checked
//! against files written by another library (`tests/drawings.rs`).

mod tags;

use super::curves::{Spline, Transform, bulge_arc, ellipse, ellipse_arc};
use super::{DEEPEST, Drawing, DrawingError, Ends, ErrorKind, Gathered, Place};
use motefall_physics::units::LengthUnit;
use std::collections::HashMap;
use std::f64::consts::TAU;
use tags::{Tag, Tags, shown};

type Point = [f64; 2];

/// Metres per unit by the number of `$INSUNITS`, for units in which chips may be drawn.
fn unit_of_number(number: i64) -> Option<f64> {
    Some(match number {
        1 => 25.4e-3,
        2 => 0.3048,
        4 => 1e-3,
        5 => 1e-2,
        6 => 1.0,
        8 => 25.4e-9,
        9 => 25.4e-6,
        10 => 0.9144,
        11 => 1e-10,
        12 => 1e-9,
        13 => 1e-6,
        14 => 0.1,
        _ => return None,
    })
}

/// An entity, in the coordinates of the block or drawing it stands in.
#[derive(Debug)]
struct Entity {
    /// Its layer's name, as an index into `names`.
    layer: usize,
    place: Place,
    what: What,
}

#[derive(Debug)]
enum What {
    /// Points, and the name for messages.
    Line(Vec<Point>, Ends, &'static str),
    Insert(Box<Insert>),
}

/// An inserted block.
#[derive(Debug)]
struct Insert {
    block: String,
    /// Places of the array's copies: shift from one to the next, and number, along columns and rows.
    array: [(Point, i64); 2],
    transform: Transform,
}

/// A block: a group of entities with a point of its own.
#[derive(Debug, Default)]
struct Block {
    base: Point,
    entities: Vec<Entity>,
}

/// What has been read so far.
#[derive(Default)]
struct Reader {
    names: Vec<String>,
    name_of: HashMap<String, usize>,
    blocks: HashMap<String, Block>,
    entities: Vec<Entity>,
    stated: Option<i64>,
    gathered: Gathered,
    points: usize,
}

/// Reads a DXF file.
pub fn read(bytes: &[u8], unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    let mut reader = Reader::default();
    let mut tags = Tags::new(bytes);
    reader.file(&mut tags)?;
    let stated_unit = reader.stated.and_then(unit_of_number);
    let metres = match (unit, stated_unit, reader.stated) {
        (Some(unit), ..) => unit.metres(),
        (None, Some(metres), _) => metres,
        (None, None, stated) => {
            let what = match stated {
                None | Some(0) => "the file does not state its unit of length ($INSUNITS)".to_owned(),
                Some(other) => {
                    format!("the file states a unit of length that is not used for chips ($INSUNITS = {other})")
                }
            };
            let advice = format!("say how long one unit of the drawing is: {}", quoted(LengthUnit::WORDS));
            return Err(DrawingError::new(ErrorKind::NoUnit, None, what, advice));
        }
    };
    // Layers of the file's table come first and in its order; used or not, they can be asked for. Names stand once each, so that
    // a layer has the same number here and there.
    let Reader { names, blocks, entities, mut gathered, .. } = reader;
    for name in &names {
        gathered.layer(name, None);
    }
    // Entities were counted while the file was read; now they are counted as drawn.
    gathered.entities = 0;
    let mut inserter = Inserter { names: &names, blocks: &blocks, gathered: &mut gathered, open: Vec::new() };
    inserter.draw(&entities, &Transform::NONE, None)?;
    Ok(gathered.finish(metres, stated_unit))
}

fn quoted(words: &[&str]) -> String {
    words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
}

impl Reader {
    fn name(&mut self, name: &str) -> usize {
        if let Some(known) = self.name_of.get(name) {
            return *known;
        }
        self.names.push(name.to_owned());
        self.name_of.insert(name.to_owned(), self.names.len() - 1);
        self.names.len() - 1
    }

    fn file(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        let first = tags.peek()?;
        if first.code != 0 || !(first.is("SECTION") || first.is("EOF")) {
            return Err(DrawingError::new(
                ErrorKind::Broken,
                Some(first.place),
                "a DXF file begins with a SECTION; this one does not",
                "is it a DXF file? Save it again as DXF",
            ));
        }
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if tag.is("EOF") {
                return Ok(());
            }
            if !tag.is("SECTION") {
                continue;
            }
            let name = tags.next_tag()?;
            if name.is("HEADER") {
                self.header(tags)?;
            } else if name.is("TABLES") {
                self.tables(tags)?;
            } else if name.is("BLOCKS") {
                self.block_section(tags)?;
            } else if name.is("ENTITIES") {
                let entities = self.entities_until(tags, &["ENDSEC"])?;
                self.entities.extend(entities);
            }
            // Others hold nothing that is drawn: the loop passes over their tags.
        }
    }

    fn header(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.peek()?;
            if tag.code == 0 {
                return Ok(());
            }
            let tag = tags.next_tag()?;
            if tag.code == 9 && tag.is("$INSUNITS") {
                let value = tags.peek()?;
                if value.code == 70 {
                    self.stated = Some(value.whole()?);
                }
            }
        }
    }

    fn tables(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.next_tag()?;
            if tag.code == 0 && tag.is("ENDSEC") {
                return Ok(());
            }
            if tag.code == 0 && tag.is("LAYER") {
                while tags.peek()?.code != 0 {
                    let tag = tags.next_tag()?;
                    if tag.code == 2 {
                        let name = tag.text();
                        self.name(&name);
                    }
                }
            }
        }
    }

    fn block_section(&mut self, tags: &mut Tags<'_>) -> Result<(), DrawingError> {
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if tag.is("ENDSEC") {
                return Ok(());
            }
            if !tag.is("BLOCK") {
                continue;
            }
            let (mut name, mut base) = (String::new(), [0.0; 2]);
            while tags.peek()?.code != 0 {
                let tag = tags.next_tag()?;
                match tag.code {
                    2 => name = tag.text().into_owned(),
                    10 => base[0] = tag.number()?,
                    20 => base[1] = tag.number()?,
                    _ => {}
                }
            }
            let entities = self.entities_until(tags, &["ENDBLK", "ENDSEC"])?;
            // Names of blocks do not differ by case.
            self.blocks.insert(name.to_uppercase(), Block { base, entities });
        }
    }

    /// Entities up to a tag that ends them, which is taken.
    fn entities_until(&mut self, tags: &mut Tags<'_>, ends: &[&str]) -> Result<Vec<Entity>, DrawingError> {
        let mut entities = Vec::new();
        loop {
            let tag = tags.next_tag()?;
            if tag.code != 0 {
                continue;
            }
            if ends.iter().any(|end| tag.is(end)) {
                return Ok(entities);
            }
            if tag.is("EOF") {
                let what = "the file ends (EOF) inside a section";
                return Err(DrawingError::new(ErrorKind::Truncated, Some(tag.place), what, "save it again"));
            }
            self.gathered.entity(tag.place)?;
            self.entity(tag, tags, &mut entities)?;
        }
    }

    fn entity<'a>(
        &mut self,
        start: Tag<'a>,
        tags: &mut Tags<'a>,
        entities: &mut Vec<Entity>,
    ) -> Result<(), DrawingError> {
        let own: &[&str] =
            &["LINE", "LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "ELLIPSE", "SPLINE", "HATCH", "INSERT", "SEQEND"];
        let Some(kind) = own.iter().find(|kind| start.is(kind)).copied() else {
            let name = shown(&start.text());
            // Parts of what came before need no remark of their own.
            if !matches!(name.as_str(), "ATTRIB" | "VERTEX") {
                self.gathered.ignore(&name);
            }
            return Ok(());
        };
        if kind == "SEQEND" {
            return Ok(());
        }
        let body = body_of(start, tags)?;
        let fields = Fields { start, body: &body };
        let layer = fields.find(8).map_or_else(|| "0".into(), |tag| tag.text());
        let layer = self.name(&layer);
        let paper = matches!(fields.find(67), Some(tag) if tag.whole()? == 1);
        let mut lines: Vec<(Vec<Point>, Ends)> = Vec::new();
        let mut insert = None;
        match kind {
            "LINE" => lines.push((vec![fields.point(10)?, fields.point(11)?], Ends::Open)),
            "LWPOLYLINE" => lines.push(fields.light_polyline()?),
            "POLYLINE" => lines.extend(self.old_polyline(&fields, tags)?),
            "CIRCLE" => {
                let (center, radius) = (fields.point(10)?, fields.radius()?);
                lines.push((ellipse(center, [radius, 0.0], [0.0, radius]), Ends::Closed));
            }
            "ARC" => {
                let (center, radius) = (fields.point(10)?, fields.radius()?);
                let (from, to) = (fields.number(50)?.to_radians(), fields.number(51)?.to_radians());
                lines.push((arc(center, [radius, 0.0], [0.0, radius], from, ahead(from, to)), Ends::Open));
            }
            "ELLIPSE" => lines.push(fields.ellipse()?),
            "SPLINE" => lines.push(fields.spline()?),
            "HATCH" => lines.extend(hatch(&fields)?.into_iter().map(|points| (points, Ends::Closed))),
            _ => insert = Some(fields.insert()?),
        }
        if paper {
            self.gathered.ignore("on the paper space");
            return Ok(());
        }
        // Lines, ellipses and splines are given as drawn; the others in a plane of their own, which may be mirrored.
        let mirrored = !matches!(kind, "LINE" | "ELLIPSE" | "SPLINE") && fields.is_mirrored()?;
        let place = start.place;
        if let Some(mut insert) = insert {
            if mirrored {
                insert.transform = Transform::scale(-1.0, 1.0).after(&insert.transform);
                insert.array.iter_mut().for_each(|(step, _)| step[0] = -step[0]);
            }
            entities.push(Entity { layer, place, what: What::Insert(Box::new(insert)) });
        }
        for (mut points, ends) in lines {
            if mirrored {
                points.iter_mut().for_each(|p| p[0] = -p[0]);
            }
            self.points += points.len();
            if self.points > super::MOST_POINTS {
                let what = format!("its curves have more than {} points", super::MOST_POINTS);
                return Err(DrawingError::too_much(Some(place), what));
            }
            entities.push(Entity { layer, place, what: What::Line(points, ends, kind) });
        }
        Ok(())
    }

    /// A polyline whose corners are entities of their own.
    fn old_polyline(
        &mut self,
        fields: &Fields<'_, '_>,
        tags: &mut Tags<'_>,
    ) -> Result<Option<(Vec<Point>, Ends)>, DrawingError> {
        let flags = fields.flags()?;
        let (mut corners, mut bulges) = (Vec::new(), Vec::new());
        loop {
            let tag = tags.peek()?;
            if tag.code == 0 && !tag.is("VERTEX") {
                break;
            }
            let start = tags.next_tag()?;
            if start.code != 0 {
                continue;
            }
            self.gathered.entity(start.place)?;
            let body = body_of(start, tags)?;
            let vertex = Fields { start, body: &body };
            // A control point of a fitted curve is not on it.
            if vertex.flags()? & 16 == 0 {
                corners.push(vertex.point(10)?);
                bulges.push(vertex.optional(42)?.unwrap_or(0.0));
            }
        }
        if flags & (16 | 64) != 0 {
            self.gathered.ignore("POLYLINE as a mesh");
            return Ok(None);
        }
        Ok(Some(bulged(&corners, &bulges, flags & 1 != 0)))
    }
}

/// The tags of an entity after its first.
fn body_of<'a>(start: Tag<'a>, tags: &mut Tags<'a>) -> Result<Vec<Tag<'a>>, DrawingError> {
    let mut body = Vec::new();
    while tags.peek()?.code != 0 {
        if body.len() >= super::MOST_VALUES {
            let what = format!("the {} has more than {} values", shown(&start.text()), super::MOST_VALUES);
            return Err(DrawingError::too_much(Some(start.place), what));
        }
        body.push(tags.next_tag()?);
    }
    Ok(body)
}

/// Tags of an entity.
struct Fields<'t, 'a> {
    start: Tag<'a>,
    body: &'t [Tag<'a>],
}

impl<'a> Fields<'_, 'a> {
    fn find(&self, code: i32) -> Option<Tag<'a>> {
        self.body.iter().find(|tag| tag.code == code).copied()
    }

    fn optional(&self, code: i32) -> Result<Option<f64>, DrawingError> {
        self.find(code).map(|tag| tag.number()).transpose()
    }

    fn number(&self, code: i32) -> Result<f64, DrawingError> {
        self.optional(code)?.ok_or_else(|| {
            DrawingError::broken(self.start.place, format!("the {} has no value {code}", shown(&self.start.text())))
        })
    }

    fn flags(&self) -> Result<i64, DrawingError> {
        self.find(70).map_or(Ok(0), |tag| tag.whole())
    }

    fn point(&self, code: i32) -> Result<Point, DrawingError> {
        Ok([self.number(code)?, self.number(code + 10)?])
    }

    fn radius(&self) -> Result<f64, DrawingError> {
        let radius = self.number(40)?;
        if radius > 0.0 {
            return Ok(radius);
        }
        Err(DrawingError::broken(self.start.place, format!("a radius of {radius}; it must be positive")))
    }

    /// Whether the entity's plane is seen from behind. A tilted one is refused.
    fn is_mirrored(&self) -> Result<bool, DrawingError> {
        let [x, y, z] = [
            self.optional(210)?.unwrap_or(0.0),
            self.optional(220)?.unwrap_or(0.0),
            self.optional(230)?.unwrap_or(1.0),
        ];
        if x.hypot(y) > 1e-6 * z.abs() {
            let what = format!("the {} is tilted out of the plane of the drawing", shown(&self.start.text()));
            return Err(DrawingError::new(ErrorKind::Unsupported, Some(self.start.place), what, "draw it flat"));
        }
        Ok(z < 0.0)
    }

    fn light_polyline(&self) -> Result<(Vec<Point>, Ends), DrawingError> {
        let (mut corners, mut bulges): (Vec<Point>, Vec<f64>) = (Vec::new(), Vec::new());
        for tag in self.body {
            match tag.code {
                10 => {
                    corners.push([tag.number()?, 0.0]);
                    bulges.push(0.0);
                }
                20 => {
                    if let Some(corner) = corners.last_mut() {
                        corner[1] = tag.number()?;
                    }
                }
                42 => {
                    if let Some(bulge) = bulges.last_mut() {
                        *bulge = tag.number()?;
                    }
                }
                _ => {}
            }
        }
        Ok(bulged(&corners, &bulges, self.flags()? & 1 != 0))
    }

    fn ellipse(&self) -> Result<(Vec<Point>, Ends), DrawingError> {
        let (center, u, ratio) = (self.point(10)?, self.point(11)?, self.number(40)?);
        let (from, to) = (self.optional(41)?.unwrap_or(0.0), self.optional(42)?.unwrap_or(TAU));
        // The minor axis stands to the left of the major one, seen along the normal.
        let side = if self.is_mirrored()? { -ratio } else { ratio };
        let v = [-u[1] * side, u[0] * side];
        let sweep = ahead(from, to);
        if (sweep - TAU).abs() < 1e-9 {
            return Ok((ellipse(center, u, v), Ends::Closed));
        }
        Ok((arc(center, u, v, from, sweep), Ends::Open))
    }

    fn spline(&self) -> Result<(Vec<Point>, Ends), DrawingError> {
        let mut spline = Spline::default();
        let mut fits = 0;
        for tag in self.body {
            match tag.code {
                71 => spline.degree = usize::try_from(tag.whole()?).unwrap_or(0),
                40 => spline.knots.push(tag.number()?),
                41 => spline.weights.push(tag.number()?),
                10 => spline.control.push([tag.number()?, 0.0]),
                20 => {
                    if let Some(point) = spline.control.last_mut() {
                        point[1] = tag.number()?;
                    }
                }
                11 => fits += 1,
                _ => {}
            }
        }
        if spline.control.is_empty() && fits > 0 {
            return Err(DrawingError::new(
                ErrorKind::Unsupported,
                Some(self.start.place),
                "a spline given only by points that it passes through",
                "convert it to control points, or to a polyline, and save the drawing again",
            ));
        }
        Ok((spline_points(&spline, self.start.place)?, if self.flags()? & 1 != 0 { Ends::Closed } else { Ends::Open }))
    }

    fn insert(&self) -> Result<Insert, DrawingError> {
        let name = self.find(2).map(|tag| tag.text().to_uppercase()).unwrap_or_default();
        let at = self.point(10)?;
        let [x, y] = [self.optional(41)?.unwrap_or(1.0), self.optional(42)?.unwrap_or(1.0)];
        let turn = Transform::turn(self.optional(50)?.unwrap_or(0.0).to_radians());
        let count = |code: i32| self.find(code).map_or(Ok(1), |tag| tag.whole().map(|n| n.max(1)));
        let step = |code: i32| self.optional(code).map(|v| v.unwrap_or(0.0));
        let array = [(turn.of([step(44)?, 0.0]), count(70)?), (turn.of([0.0, step(45)?]), count(71)?)];
        let transform = Transform::shift(at).after(&turn).after(&Transform::scale(x, y));
        Ok(Insert { block: name, array, transform })
    }
}

fn spline_points(spline: &Spline, place: Place) -> Result<Vec<Point>, DrawingError> {
    if let Some(fault) = spline.fault() {
        return Err(DrawingError::broken(place, fault));
    }
    Ok(spline.points())
}

/// The angle from one direction on to another, counter-clockwise, above 0 and up to a full turn.
fn ahead(from: f64, to: f64) -> f64 {
    let sweep = (to - from).rem_euclid(TAU);
    if sweep < 1e-12 { TAU } else { sweep }
}

fn arc(center: Point, u: Point, v: Point, from: f64, sweep: f64) -> Vec<Point> {
    let (sin, cos) = from.sin_cos();
    let mut points = vec![[center[0] + u[0] * cos + v[0] * sin, center[1] + u[1] * cos + v[1] * sin]];
    ellipse_arc(&mut points, center, u, v, from, sweep);
    points
}

fn bulged(corners: &[Point], bulges: &[f64], closed: bool) -> (Vec<Point>, Ends) {
    let mut points: Vec<Point> = corners.first().copied().into_iter().collect();
    for k in 1..corners.len() {
        bulge_arc(&mut points, corners[k - 1], corners[k], bulges[k - 1]);
        // So many are refused; here it bounds the memory.
        if points.len() > super::MOST_POINTS {
            break;
        }
    }
    // The closing piece may be an arc, too; a polyline of two corners can so be a circle.
    if let (true, Some(last), Some(bulge)) = (closed && corners.len() > 1, corners.last(), bulges.last()) {
        bulge_arc(&mut points, *last, corners[0], *bulge);
        points.pop();
    }
    (points, if closed { Ends::Closed } else { Ends::Open })
}

/// Boundaries of a hatch.
fn hatch(fields: &Fields<'_, '_>) -> Result<Vec<Vec<Point>>, DrawingError> {
    let body = fields.body;
    let Some(start) = body.iter().position(|tag| tag.code == 91) else { return Ok(Vec::new()) };
    let paths = body[start].whole()?;
    let mut cursor = Cursor { body, at: start + 1, place: fields.start.place };
    let mut result: Vec<Vec<Point>> = Vec::new();
    let mut total = 0;
    for _ in 0..paths.max(0) {
        // So many are refused; here it bounds the memory.
        total += result.last().map_or(0, Vec::len);
        if total > super::MOST_POINTS {
            break;
        }
        let flags = cursor.expect(92)?.whole()?;
        if flags & 2 != 0 {
            let has_bulge = cursor.expect(72)?.whole()? != 0;
            cursor.optional(73)?;
            let count = cursor.expect(93)?.whole()?;
            let (mut corners, mut bulges) = (Vec::new(), Vec::new());
            for _ in 0..count.max(0) {
                corners.push(cursor.point(10)?);
                bulges.push(if has_bulge { cursor.optional(42)?.map_or(Ok(0.0), |tag| tag.number())? } else { 0.0 });
            }
            result.push(bulged(&corners, &bulges, true).0);
        } else {
            let count = cursor.expect(93)?.whole()?;
            let mut points: Vec<Point> = Vec::new();
            for _ in 0..count.max(0) {
                if points.len() > super::MOST_POINTS {
                    break;
                }
                let edge = hatch_edge(&mut cursor)?;
                // An edge may be stored in the other direction than its neighbours.
                let near = |a: Point, b: Option<&Point>| b.map_or(f64::INFINITY, |b| (a[0] - b[0]).hypot(a[1] - b[1]));
                let (Some(first), Some(last)) = (edge.first().copied(), edge.last().copied()) else { continue };
                if points.is_empty() {
                    points = edge;
                    continue;
                }
                if near(first, points.last()).min(near(last, points.last()))
                    > near(first, points.first()).min(near(last, points.first()))
                {
                    points.reverse();
                }
                if near(last, points.last()) < near(first, points.last()) {
                    points.extend(edge.into_iter().rev().skip(1));
                } else {
                    points.extend_from_slice(&edge[1..]);
                }
            }
            let too_many = points.len() > super::MOST_POINTS;
            result.push(points);
            if too_many {
                break;
            }
        }
        // Objects that the boundary came from.
        if let Some(number) = cursor.optional(97)? {
            for _ in 0..number.whole()?.max(0) {
                cursor.optional(330)?;
            }
        }
    }
    Ok(result)
}

fn hatch_edge(cursor: &mut Cursor<'_, '_>) -> Result<Vec<Point>, DrawingError> {
    let kind = cursor.expect(72)?;
    match kind.whole()? {
        1 => Ok(vec![cursor.point(10)?, cursor.point(11)?]),
        2 => {
            let (center, radius) = (cursor.point(10)?, cursor.expect(40)?.number()?);
            cursor.arc(center, [radius, 0.0], [0.0, radius], 1.0)
        }
        3 => {
            let (center, u) = (cursor.point(10)?, cursor.point(11)?);
            let ratio = cursor.expect(40)?.number()?;
            cursor.arc(center, u, [-u[1] * ratio, u[0] * ratio], ratio)
        }
        4 => {
            let mut spline =
                Spline { degree: usize::try_from(cursor.expect(94)?.whole()?).unwrap_or(0), ..Spline::default() };
            let rational = cursor.expect(73)?.whole()? != 0;
            cursor.expect(74)?;
            let (knots, control) = (cursor.expect(95)?.whole()?, cursor.expect(96)?.whole()?);
            for _ in 0..knots.max(0) {
                spline.knots.push(cursor.expect(40)?.number()?);
            }
            for _ in 0..control.max(0) {
                spline.control.push(cursor.point(10)?);
                if let (true, Some(weight)) = (rational, cursor.optional(42)?) {
                    spline.weights.push(weight.number()?);
                }
            }
            // Points that it passes through, and its directions at the ends, say the same once more. The number of objects that
            // the boundary came from has the same code, so it is taken only if such points follow.
            let before = cursor.at;
            if let Some(fits) = cursor.optional(97)? {
                let next = cursor.body.get(cursor.at).map(|tag| tag.code);
                if fits.whole()? == 0 && !matches!(next, Some(12 | 72 | 97)) || next == Some(330) {
                    cursor.at = before;
                }
                while matches!(cursor.body.get(cursor.at).map(|tag| tag.code), Some(11..=13 | 21..=23)) {
                    cursor.at += 1;
                }
            }
            spline_points(&spline, kind.place)
        }
        other => Err(DrawingError::broken(kind.place, format!("an edge of a hatch of the unknown kind {other}"))),
    }
}

/// Goes through the tags of a hatch in order.
struct Cursor<'t, 'a> {
    body: &'t [Tag<'a>],
    at: usize,
    place: Place,
}

impl<'a> Cursor<'_, 'a> {
    fn optional(&mut self, code: i32) -> Result<Option<Tag<'a>>, DrawingError> {
        let found = self.body.get(self.at).filter(|tag| tag.code == code).copied();
        self.at += usize::from(found.is_some());
        Ok(found)
    }

    fn expect(&mut self, code: i32) -> Result<Tag<'a>, DrawingError> {
        self.optional(code)?.ok_or_else(|| {
            let place = self.body.get(self.at).map_or(self.place, |tag| tag.place);
            DrawingError::broken(place, format!("the hatch's boundary misses its value {code} here"))
        })
    }

    fn point(&mut self, code: i32) -> Result<Point, DrawingError> {
        Ok([self.expect(code)?.number()?, self.expect(code + 10)?.number()?])
    }

    /// Angles of an arc and its points. Clockwise arcs hold their angles negated.
    fn arc(&mut self, center: Point, u: Point, v: Point, ratio: f64) -> Result<Vec<Point>, DrawingError> {
        let (from, to) = (self.expect(50)?.number()?.to_radians(), self.expect(51)?.number()?.to_radians());
        let counter_clockwise = self.expect(73)?.whole()? != 0;
        let sweep = ahead(from, to);
        // Angles are true directions; the curve's parameter differs from them where the axes differ.
        let parameter = |angle: f64| {
            let turns = (angle / TAU).floor() * TAU;
            let inner = angle - turns;
            let t = (inner.sin()).atan2(inner.cos() * ratio);
            if (sweep - TAU).abs() < 1e-9 { angle } else { turns + t.rem_euclid(TAU) }
        };
        let (a, b) = (parameter(from), parameter(from + sweep));
        Ok(if counter_clockwise { arc(center, u, v, a, b - a) } else { arc(center, u, v, -a, a - b) })
    }
}

/// Puts entities with their blocks into one drawing.
struct Inserter<'r> {
    names: &'r [String],
    blocks: &'r HashMap<String, Block>,
    gathered: &'r mut Gathered,
    /// Blocks that are being inserted, the outermost first.
    open: Vec<&'r str>,
}

impl<'r> Inserter<'r> {
    /// `outer` is the layer of the insert, which entities on layer 0 of a block take over.
    fn draw(
        &mut self,
        entities: &'r [Entity],
        transform: &Transform,
        outer: Option<usize>,
    ) -> Result<(), DrawingError> {
        for entity in entities {
            self.gathered.entity(entity.place)?;
            let layer = match outer {
                Some(outer) if self.names[entity.layer] == "0" => outer,
                _ => entity.layer,
            };
            match &entity.what {
                What::Line(points, ends, name) => {
                    let points = points.iter().map(|p| transform.of(*p)).collect();
                    self.gathered.add(points, *ends, layer, entity.place, name)?;
                }
                What::Insert(insert) => self.insert(insert, transform, layer, entity.place)?,
            }
        }
        Ok(())
    }

    fn insert(
        &mut self,
        insert: &'r Insert,
        transform: &Transform,
        layer: usize,
        place: Place,
    ) -> Result<(), DrawingError> {
        let Some(block) = self.blocks.get(&insert.block) else {
            let what = format!("the block \"{}\" is inserted, but the file does not hold it", shown(&insert.block));
            return Err(DrawingError::broken(place, what));
        };
        if self.open.contains(&insert.block.as_str()) {
            let chain: Vec<String> = self.open.iter().chain([&insert.block.as_str()]).map(|name| shown(name)).collect();
            let what = format!("a block is inserted into itself: {}", chain.join(" > "));
            return Err(DrawingError::new(
                ErrorKind::TooMuch,
                Some(place),
                what,
                "explode the blocks in the drawing program and save it again",
            ));
        }
        if self.open.len() >= DEEPEST {
            let what = format!("blocks are nested more than {DEEPEST} deep");
            return Err(DrawingError::too_much(Some(place), what));
        }
        self.open.push(&insert.block);
        let [(column, columns), (row, rows)] = insert.array;
        for (i, j) in (0..rows).flat_map(|i| (0..columns).map(move |j| (i, j))) {
            self.gathered.entity(place)?;
            let shift = [0, 1].map(|k| column[k] * j as f64 + row[k] * i as f64);
            let own = Transform::shift(shift).after(&insert.transform);
            let inner = transform.after(&own).after(&Transform::shift([-block.base[0], -block.base[1]]));
            self.draw(&block.entities, &inner, Some(layer))?;
        }
        self.open.pop();
        Ok(())
    }
}
