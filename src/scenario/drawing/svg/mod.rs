//! SVG: shapes, groups, transforms, physical size.
//!
//! A group or an element with a name (`id`, or the label that drawing programs give to layers) is a layer, and layers nest. Styles
//! are not looked at, but what is not displayed is left out. y grows upwards in the result, downwards in the file. The drawing's
//! zero is that of the file's coordinates.

mod path_data;

use super::curves::{Transform, ellipse, ellipse_arc};
use super::{DEEPEST, Drawing, DrawingError, Ends, ErrorKind, Gathered, MOST_ENTITIES, MOST_POINTS, Place};
use motefall_physics::units::LengthUnit;
use path_data::Scanner;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::collections::HashMap;
use std::f64::consts::FRAC_PI_2;

type Point = [f64; 2];

/// Metres per pixel of CSS: 96 to the inch (W3C, CSS Values and Units).
const PIXEL: f64 = 25.4e-3 / 96.0;

/// Attributes that are looked at.
const ATTRIBUTES: &[&[u8]] = &[
    b"id",
    b"inkscape:label",
    b"transform",
    b"display",
    b"style",
    b"x",
    b"y",
    b"width",
    b"height",
    b"viewBox",
    b"preserveAspectRatio",
    b"d",
    b"points",
    b"rx",
    b"ry",
    b"r",
    b"cx",
    b"cy",
    b"x1",
    b"y1",
    b"x2",
    b"y2",
    b"href",
    b"xlink:href",
];
/// Elements that hold other elements and are drawn.
const GROUPS: &[&str] = &["svg", "g", "a", "switch"];
/// Elements that hold what is drawn only when it is used, or never.
const UNSEEN: &[&str] = &[
    "defs",
    "symbol",
    "clipPath",
    "mask",
    "pattern",
    "marker",
    "linearGradient",
    "radialGradient",
    "filter",
    "metadata",
    "title",
    "desc",
    "style",
    "script",
    "namedview",
];

/// An element.
struct Node {
    name: String,
    attributes: Vec<(&'static [u8], String)>,
    children: Vec<usize>,
    /// Byte of the file after its tag.
    byte: usize,
}

impl Node {
    fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(key, _)| *key == name.as_bytes()).map(|(_, value)| value.as_str())
    }
}

/// A file as a tree.
struct Tree<'a> {
    bytes: &'a [u8],
    nodes: Vec<Node>,
    by_id: HashMap<String, usize>,
}

/// Reads an SVG file.
pub fn read(bytes: &[u8], unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    if bytes.starts_with(&[0x1f, 0x8b]) {
        return Err(DrawingError::new(
            ErrorKind::Unsupported,
            None,
            "the file is compressed",
            "save it as plain SVG, not compressed",
        ));
    }
    let tree = Tree::parse(bytes)?;
    let root = &tree.nodes[0];
    let stated = tree.stated_unit(root)?;
    let metres = match (unit, stated) {
        (Some(unit), _) => [unit.metres(); 2],
        (None, Some(stated)) => stated,
        (None, None) => {
            let what = "the file does not state how large it is: width and height of its svg element are no lengths in mm or the like";
            let words: Vec<String> = LengthUnit::WORDS.iter().map(|word| format!("\"{word}\"")).collect();
            let advice = format!(
                "say how long one unit of the drawing is: {}; or set the page's size in mm and save it again",
                words.join(", ")
            );
            return Err(DrawingError::new(ErrorKind::NoUnit, None, what, advice));
        }
    };
    // By the standard, a pixel of CSS is one unit. Without a page of stated size, the unit is what the user says.
    let pixel = if stated.is_some() { 1.0 } else { PIXEL / metres[0] };
    let mut drawer = Drawer { tree: &tree, gathered: Gathered::default(), pixel, uses: Vec::new() };
    // One unit along y may be another length than along x; both are counted in the unit along x.
    let upright = Transform::scale(1.0, -metres[1] / metres[0]);
    let own = root.get("transform").map_or(Ok(Transform::NONE), transform);
    let own = own.map_err(|what| tree.broken(root, "transform", &what))?;
    drawer.children(root, &upright.after(&own), None, 0)?;
    Ok(drawer.gathered.finish(metres[0], stated.map(|stated| stated[0])))
}

impl<'a> Tree<'a> {
    fn line(&self, byte: usize) -> Place {
        line(self.bytes, byte)
    }

    fn parse(bytes: &'a [u8]) -> Result<Self, DrawingError> {
        let mut reader = Reader::from_reader(bytes);
        let mut tree = Self { bytes, nodes: Vec::new(), by_id: HashMap::new() };
        let mut open: Vec<usize> = Vec::new();
        let mut ended = false;
        loop {
            let event = reader.read_event().map_err(|error| xml_error(bytes, reader.error_position(), &error))?;
            let byte = usize::try_from(reader.buffer_position()).unwrap_or(bytes.len());
            match event {
                Event::Start(element) | Event::Empty(element)
                    if ended || (open.is_empty() && element.local_name().as_ref() != b"svg") =>
                {
                    return Err(DrawingError::new(
                        ErrorKind::Broken,
                        Some(line(bytes, byte)),
                        "an SVG file is one svg element; this is none",
                        "is it an SVG file? Save it again as SVG",
                    ));
                }
                Event::Start(element) => {
                    let node = tree.node(&element, byte, open.last().copied())?;
                    open.push(node);
                    if open.len() > 4 * DEEPEST {
                        let what = format!("elements are nested more than {} deep", 4 * DEEPEST);
                        return Err(DrawingError::too_much(Some(line(bytes, byte)), what));
                    }
                }
                Event::Empty(element) => {
                    tree.node(&element, byte, open.last().copied())?;
                    ended = open.is_empty();
                }
                Event::End(_) => {
                    open.pop();
                    ended = open.is_empty();
                }
                // The name of a document type does no harm; definitions in it could.
                Event::DocType(text) if text.contains(&b'[') || text.len() > 1000 => {
                    return Err(DrawingError::new(
                        ErrorKind::Unsupported,
                        Some(line(bytes, byte)),
                        "the file defines entities of its own (DOCTYPE with [ ... ]), which are not read for safety",
                        "save it as plain SVG",
                    ));
                }
                Event::Eof if open.is_empty() && !tree.nodes.is_empty() => return Ok(tree),
                Event::Eof => {
                    let what = "the file ends here, before its svg element ends";
                    let advice = "it was cut off when it was saved or copied: copy or save it again";
                    return Err(DrawingError::new(ErrorKind::Truncated, Some(line(bytes, byte)), what, advice));
                }
                _ => {}
            }
        }
    }

    fn node(&mut self, element: &BytesStart<'_>, byte: usize, parent: Option<usize>) -> Result<usize, DrawingError> {
        let place = || line(self.bytes, byte);
        if self.nodes.len() >= MOST_ENTITIES {
            return Err(DrawingError::too_much(Some(place()), format!("more than {MOST_ENTITIES} elements")));
        }
        let mut attributes = Vec::new();
        for attribute in element.attributes().with_checks(false) {
            let attribute =
                attribute.map_err(|error| DrawingError::broken(place(), format!("an attribute: {error}")))?;
            let Some(known) = ATTRIBUTES.iter().find(|known| **known == attribute.key.as_ref()) else { continue };
            let value = attribute
                .unescape_value()
                .map_err(|error| DrawingError::broken(place(), format!("an attribute's value: {error}")))?;
            attributes.push((*known, value.into_owned()));
        }
        let name = String::from_utf8_lossy(element.local_name().as_ref()).into_owned();
        let node = Node { name, attributes, children: Vec::new(), byte };
        let index = self.nodes.len();
        if let Some(id) = node.get("id") {
            self.by_id.entry(id.to_owned()).or_insert(index);
        }
        self.nodes.push(node);
        if let Some(parent) = parent {
            self.nodes[parent].children.push(index);
        }
        Ok(index)
    }

    /// Metres per unit along x and y, if width or height are lengths that have one.
    fn stated_unit(&self, root: &Node) -> Result<Option<[f64; 2]>, DrawingError> {
        let length = |name: &str| root.get(name).and_then(physical).filter(|v| *v > 0.0 && v.is_finite());
        let (width, height) = (length("width"), length("height"));
        if width.is_none() && height.is_none() {
            return Ok(None);
        }
        let Some(view) = root.get("viewBox") else { return Ok(Some([PIXEL; 2])) };
        let [_, _, w, h] = numbers::<4>(view).map_err(|what| self.broken(root, "viewBox", &what))?;
        if !(w > 0.0 && h > 0.0) {
            return Err(self.broken(root, "viewBox", "width and height must be positive"));
        }
        let (x, y) = (width.map(|width| width / w), height.map(|height| height / h));
        let both = [x.or(y).unwrap_or(PIXEL), y.or(x).unwrap_or(PIXEL)];
        if root.get("preserveAspectRatio").is_some_and(|text| text.trim().starts_with("none")) {
            return Ok(Some(both));
        }
        Ok(Some([both[0].min(both[1]); 2]))
    }

    fn broken(&self, node: &Node, attribute: &str, what: &str) -> DrawingError {
        DrawingError::broken(self.line(node.byte), format!("{attribute} of <{}>: {what}", node.name))
    }
}

fn line(bytes: &[u8], byte: usize) -> Place {
    Place::Line(1 + bytes[..byte.min(bytes.len())].iter().filter(|b| **b == b'\n').count())
}

fn xml_error(bytes: &[u8], position: u64, error: &quick_xml::Error) -> DrawingError {
    let place = Some(line(bytes, usize::try_from(position).unwrap_or(bytes.len())));
    if matches!(error, quick_xml::Error::Syntax(_)) {
        let what = format!("the file ends inside a tag, or a tag is broken ({error})");
        return DrawingError::new(ErrorKind::Truncated, place, what, "copy or save it again");
    }
    DrawingError::new(ErrorKind::Broken, place, format!("not valid XML: {error}"), "save it again as plain SVG")
}

/// A length with a unit that has a size, m.
fn physical(text: &str) -> Option<f64> {
    let text = text.trim();
    let split = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '%');
    let value: f64 = split.trim().parse().ok()?;
    let unit = match &text[split.len()..] {
        "mm" => 1e-3,
        "cm" => 1e-2,
        "in" => 25.4e-3,
        "pt" => 25.4e-3 / 72.0,
        "pc" => 25.4e-3 / 6.0,
        "Q" => 0.25e-3,
        // Not of the standard; what else could be meant?
        "um" | "\u{b5}m" | "\u{3bc}m" => 1e-6,
        "nm" => 1e-9,
        _ => return None,
    };
    Some(value * unit)
}

/// So many numbers and nothing else.
fn numbers<const N: usize>(text: &str) -> Result<[f64; N], String> {
    let mut scanner = Scanner::new(text);
    let mut result = [0.0; N];
    for value in &mut result {
        *value = scanner.number()?;
    }
    if scanner.is_done() { Ok(result) } else { Err(format!("more than {N} numbers")) }
}

/// A list of transforms, the first the outermost.
fn transform(text: &str) -> Result<Transform, String> {
    let mut result = Transform::NONE;
    let mut rest = text.trim_start();
    while !rest.is_empty() {
        let (name, after) = rest.split_once('(').ok_or_else(|| "a bracket is missing".to_owned())?;
        let (inside, after) = after.split_once(')').ok_or_else(|| "a closing bracket is missing".to_owned())?;
        let mut scanner = Scanner::new(inside);
        let mut n: Vec<f64> = Vec::new();
        while !scanner.is_done() {
            n.push(scanner.number()?);
            if n.len() > 6 {
                return Err("too many numbers".to_owned());
            }
        }
        let one = match (name.trim(), n.as_slice()) {
            ("matrix", &[a, b, c, d, e, f]) => Transform { m: [a, b, c, d, e, f] },
            ("translate", &[x]) => Transform::shift([x, 0.0]),
            ("translate", &[x, y]) => Transform::shift([x, y]),
            ("scale", &[s]) => Transform::scale(s, s),
            ("scale", &[x, y]) => Transform::scale(x, y),
            ("rotate", &[angle]) => Transform::turn(angle.to_radians()),
            ("rotate", &[angle, x, y]) => {
                Transform::shift([x, y]).after(&Transform::turn(angle.to_radians())).after(&Transform::shift([-x, -y]))
            }
            ("skewX", &[angle]) => Transform { m: [1.0, 0.0, angle.to_radians().tan(), 1.0, 0.0, 0.0] },
            ("skewY", &[angle]) => Transform { m: [1.0, angle.to_radians().tan(), 0.0, 1.0, 0.0, 0.0] },
            (name, n) => return Err(format!("\"{name}\" with {} numbers is not known", n.len())),
        };
        result = result.after(&one);
        rest = after.trim_start_matches([' ', ',', '\t', '\r', '\n']);
    }
    Ok(result)
}

/// Draws the tree.
struct Drawer<'t, 'a> {
    tree: &'t Tree<'a>,
    gathered: Gathered,
    /// Units of the drawing per pixel of CSS, for lengths with units.
    pixel: f64,
    /// Elements that are being used, the outermost first.
    uses: Vec<usize>,
}

impl Drawer<'_, '_> {
    fn children(
        &mut self,
        node: &Node,
        transform: &Transform,
        layer: Option<usize>,
        depth: usize,
    ) -> Result<(), DrawingError> {
        let tree = self.tree;
        for &child in &node.children {
            self.element(&tree.nodes[child], transform, layer, depth + 1)?;
        }
        Ok(())
    }

    fn element(
        &mut self,
        node: &Node,
        outer: &Transform,
        layer: Option<usize>,
        depth: usize,
    ) -> Result<(), DrawingError> {
        let tree = self.tree;
        let place = || tree.line(node.byte);
        self.gathered.entities += 1;
        if self.gathered.entities > MOST_ENTITIES {
            let what = format!("more than {MOST_ENTITIES} elements, counting those that are used each time");
            return Err(DrawingError::too_much(Some(place()), what));
        }
        if depth > 4 * DEEPEST {
            let what = format!("elements are nested and used more than {} deep", 4 * DEEPEST);
            return Err(DrawingError::too_much(Some(place()), what));
        }
        let name = node.name.as_str();
        if UNSEEN.contains(&name) {
            return Ok(());
        }
        let style: String = node.get("style").unwrap_or("").chars().filter(|c| !c.is_whitespace()).collect();
        if node.get("display") == Some("none") || style.contains("display:none") {
            self.gathered.ignore("not displayed");
            return Ok(());
        }
        if style.contains("transform:") {
            return Err(DrawingError::new(
                ErrorKind::Unsupported,
                Some(place()),
                "a transform inside a style",
                "save it as plain SVG, in which transforms are attributes",
            ));
        }
        let own = node.get("transform").map_or(Ok(Transform::NONE), transform);
        let own = own.map_err(|what| tree.broken(node, "transform", &what))?;
        let t = outer.after(&own);
        let layer = match node.get("inkscape:label").or_else(|| node.get("id")) {
            Some(name) => Some(self.gathered.layer(name, layer)),
            None => layer,
        };
        match name {
            "svg" => {
                let inner = self.viewport(node, None)?;
                self.children(node, &t.after(&inner), layer, depth)
            }
            group if GROUPS.contains(&group) => self.children(node, &t, layer, depth),
            "use" => self.used(node, &t, layer, depth),
            _ => self.shape(node, &t, layer),
        }
    }

    /// The transform of an inner svg or symbol: its place and its view box. `size` is that of the `use` that asks for it.
    fn viewport(&self, node: &Node, size: Option<[Option<f64>; 2]>) -> Result<Transform, DrawingError> {
        let shift = Transform::shift(match size {
            Some(_) => [0.0; 2],
            None => [self.length(node, "x")?.unwrap_or(0.0), self.length(node, "y")?.unwrap_or(0.0)],
        });
        let Some(view) = node.get("viewBox") else { return Ok(shift) };
        let [x, y, w, h] = numbers::<4>(view).map_err(|what| self.tree.broken(node, "viewBox", &what))?;
        let wanted = size.unwrap_or([None; 2]);
        let (width, height) = (wanted[0].or(self.length(node, "width")?), wanted[1].or(self.length(node, "height")?));
        let (Some(width), Some(height)) = (width, height) else {
            return Err(self.tree.broken(node, "viewBox", "width and height are missing beside it"));
        };
        if !(w > 0.0 && h > 0.0) {
            return Err(self.tree.broken(node, "viewBox", "width and height must be positive"));
        }
        let (sx, sy) = (width / w, height / h);
        let to_zero = Transform::shift([-x, -y]);
        let fit = node.get("preserveAspectRatio").unwrap_or("xMidYMid meet").trim();
        if fit.starts_with("none") {
            return Ok(shift.after(&Transform::scale(sx, sy)).after(&to_zero));
        }
        let s = if fit.contains("slice") { sx.max(sy) } else { sx.min(sy) };
        let share = |low: &str, high: &str| {
            if fit.contains(low) {
                0.0
            } else if fit.contains(high) {
                1.0
            } else {
                0.5
            }
        };
        let rest = [(width - s * w) * share("xMin", "xMax"), (height - s * h) * share("YMin", "YMax")];
        Ok(shift.after(&Transform::shift(rest)).after(&Transform::scale(s, s)).after(&to_zero))
    }

    fn used(&mut self, node: &Node, t: &Transform, layer: Option<usize>, depth: usize) -> Result<(), DrawingError> {
        let tree = self.tree;
        let reference = node.get("href").or_else(|| node.get("xlink:href")).unwrap_or("").trim();
        let Some(&target) = reference.strip_prefix('#').and_then(|id| tree.by_id.get(id)) else {
            let shown: String = reference.chars().take(40).collect();
            return Err(tree.broken(node, "href", &format!("there is no element \"{shown}\" in this file")));
        };
        if self.uses.contains(&target) {
            let what = "an element is used inside itself";
            let advice = "replace the uses by copies in the drawing program and save it again";
            return Err(DrawingError::new(ErrorKind::TooMuch, Some(tree.line(node.byte)), what, advice));
        }
        if self.uses.len() >= DEEPEST {
            let what = format!("uses are nested more than {DEEPEST} deep");
            return Err(DrawingError::too_much(Some(tree.line(node.byte)), what));
        }
        let at = [self.length(node, "x")?.unwrap_or(0.0), self.length(node, "y")?.unwrap_or(0.0)];
        let t = t.after(&Transform::shift(at));
        self.uses.push(target);
        let used = &tree.nodes[target];
        if used.name == "symbol" {
            let size = [self.length(node, "width")?, self.length(node, "height")?];
            let inner = self.viewport(used, Some(size))?;
            self.children(used, &t.after(&inner), layer, depth + 1)?;
        } else {
            self.element(used, &t, layer, depth + 1)?;
        }
        self.uses.pop();
        Ok(())
    }

    /// An attribute's length in units of the drawing.
    fn length(&self, node: &Node, name: &str) -> Result<Option<f64>, DrawingError> {
        let Some(text) = node.get(name) else { return Ok(None) };
        if let Some(metres) = physical(text) {
            return Ok(Some(metres / PIXEL * self.pixel));
        }
        let plain = text.trim();
        let plain = plain.strip_suffix("px").unwrap_or(plain);
        match numbers::<1>(plain) {
            Ok([value]) => Ok(Some(value)),
            Err(_) if plain.ends_with('%') => Err(self.tree.broken(node, name, "lengths in % are not read")),
            Err(what) => Err(self.tree.broken(node, name, &what)),
        }
    }

    fn needed(&self, node: &Node, name: &str) -> Result<f64, DrawingError> {
        Ok(self.length(node, name)?.unwrap_or(0.0))
    }

    fn shape(&mut self, node: &Node, t: &Transform, layer: Option<usize>) -> Result<(), DrawingError> {
        let tree = self.tree;
        let number = |name: &str| self.needed(node, name);
        let (name, lines): (&str, Vec<(Vec<Point>, Ends)>) = match node.name.as_str() {
            "rect" => ("rectangle", vec![(self.rectangle(node)?, Ends::Closed)]),
            "circle" => {
                let r = number("r")?;
                ("circle", vec![(ellipse([number("cx")?, number("cy")?], [r, 0.0], [0.0, r]), Ends::Closed)])
            }
            "ellipse" => {
                let (u, v) = ([number("rx")?, 0.0], [0.0, number("ry")?]);
                ("ellipse", vec![(ellipse([number("cx")?, number("cy")?], u, v), Ends::Closed)])
            }
            "line" => {
                let points = vec![[number("x1")?, number("y1")?], [number("x2")?, number("y2")?]];
                ("line", vec![(points, Ends::Open)])
            }
            kind @ ("polyline" | "polygon") => {
                let mut scanner = Scanner::new(node.get("points").unwrap_or(""));
                let mut points = Vec::new();
                while !scanner.is_done() {
                    let point = scanner.number().and_then(|x| Ok([x, scanner.number()?]));
                    points.push(point.map_err(|what| tree.broken(node, "points", &what))?);
                    if points.len() > MOST_POINTS {
                        return Err(tree.broken(node, "points", &format!("more than {MOST_POINTS} points")));
                    }
                }
                if kind == "polygon" {
                    ("polygon", vec![(points, Ends::Closed)])
                } else {
                    ("polyline", vec![(points, Ends::Open)])
                }
            }
            "path" => {
                let parts = path_data::subpaths(node.get("d").unwrap_or(""));
                let parts = parts.map_err(|what| tree.broken(node, "d", &what))?;
                let ends = |closed: bool| if closed { Ends::Closed } else { Ends::Open };
                ("path", parts.into_iter().map(|(points, closed)| (points, ends(closed))).collect())
            }
            other => {
                let other: String = other.chars().take(40).collect();
                self.gathered.ignore(&other);
                return Ok(());
            }
        };
        let layer = layer.unwrap_or_else(|| self.gathered.layer("", None));
        for (points, ends) in lines {
            let points = points.into_iter().map(|p| t.of(p)).collect();
            // The line is counted only if there is something to complain about: that takes time.
            let place = Place::Byte(node.byte);
            self.gathered
                .add(points, ends, layer, place, name)
                .map_err(|error| DrawingError { place: Some(tree.line(node.byte)), ..error })?;
        }
        Ok(())
    }

    /// A rectangle, its corners rounded if asked for.
    fn rectangle(&self, node: &Node) -> Result<Vec<Point>, DrawingError> {
        let [x, y, w, h] = [
            self.needed(node, "x")?,
            self.needed(node, "y")?,
            self.needed(node, "width")?,
            self.needed(node, "height")?,
        ];
        if w < 0.0 || h < 0.0 {
            return Err(self.tree.broken(node, "width", "it must not be negative"));
        }
        let (rx, ry) = (self.length(node, "rx")?, self.length(node, "ry")?);
        let radii = [rx.or(ry).unwrap_or(0.0).min(0.5 * w), ry.or(rx).unwrap_or(0.0).min(0.5 * h)];
        if radii[0] <= 0.0 || radii[1] <= 0.0 {
            return Ok(vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]);
        }
        let [rx, ry] = radii;
        let mut points = vec![[x, y + ry]];
        let centers = [[x + rx, y + ry], [x + w - rx, y + ry], [x + w - rx, y + h - ry], [x + rx, y + h - ry]];
        for (k, [cx, cy]) in centers.into_iter().enumerate() {
            let from = (k as f64 + 2.0) * FRAC_PI_2;
            let (sin, cos) = from.sin_cos();
            points.push([cx + rx * cos, cy + ry * sin]);
            ellipse_arc(&mut points, [cx, cy], [rx, 0.0], [0.0, ry], from, FRAC_PI_2);
        }
        Ok(points)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transforms_in_a_list_apply_from_the_right() {
        let t = transform("translate(10, 0) rotate(90) scale(2 3)").expect("sound");
        let [x, y] = t.of([1.0, 1.0]);
        assert!((x - 7.0).abs() < 1e-12 && (y - 2.0).abs() < 1e-12, "{x} {y}");
        let [x, y] = transform("rotate(90 1 1),skewX(45)").expect("sound").of([0.0, 1.0]);
        assert!((x - 1.0).abs() < 1e-12 && (y - 1.0).abs() < 1e-12, "{x} {y}");
        assert!(transform("rotate(1 2)").is_err() && transform("turn(1)").is_err() && transform("scale(1").is_err());
    }

    #[test]
    fn lengths_and_their_units() {
        assert!((physical("25.4mm").expect("a length") - 25.4e-3).abs() < 1e-15);
        assert!((physical("72pt").expect("a length") - 25.4e-3).abs() < 1e-15);
        assert_eq!(physical("100"), None);
        assert_eq!(physical("100%"), None);
    }
}
