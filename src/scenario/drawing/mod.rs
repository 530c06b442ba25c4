//! Drawings of chips and of what is printed: contours by layer, read from DXF and SVG.
//!
//! What is read: from DXF (text or binary, R12 and newer) lines, polylines with bulges, circles, arcs, ellipses, splines by control
//! points, boundaries of hatches, and blocks inserted with shift, scale, rotation, mirroring and arrays; from SVG paths with all
//! their commands, the basic shapes, groups, `use`, nested `svg`, and transforms. What is not read (text, dimensions, pictures) is
//! counted by name. Lines and arcs whose ends meet are joined.
//!
//! Curves become straight pieces. No piece departs from its curve by more than [`CHORD_TOLERANCE`] of the curve's size (the radius
//! of an arc, the extent of a free curve's control points), so that areas and lengths hold to 0.02 % for arcs and better than 0.1 %
//! for what else is drawn with them.
//!
//! Files may be broken or made to do harm: size, number of entities and of points, and depth of nesting are limited, before and
//! after blocks are inserted, and entities of XML are refused, so that time and memory stay within bounds.

mod curves;
pub mod dxf;
mod join;
pub mod svg;

use motefall_files::file_kind::FileKind;
use motefall_physics::units::LengthUnit;
use std::fmt;

/// Largest departure of a straight piece from its curve, as a share of the curve's size.
pub const CHORD_TOLERANCE: f64 = 5e-5;
/// Largest file, bytes.
pub const LARGEST_FILE: usize = 100_000_000;
/// Most entities of a file, and most after blocks are inserted.
pub const MOST_ENTITIES: usize = 1_000_000;
/// Most points of all contours together.
pub const MOST_POINTS: usize = 1_000_000;
/// Most values of one entity.
pub const MOST_VALUES: usize = 2_500_000;
/// Deepest nesting of blocks or groups.
pub const DEEPEST: usize = 64;
/// Largest number that stands for a coordinate, in units of the drawing: beyond it, squares and cubes lose their meaning.
pub const LARGEST_NUMBER: f64 = 1e12;
/// Ends nearer than this, as a share of the drawing's extent, meet.
pub const JOINING_SHARE: f64 = 1e-7;

/// File formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// DXF, text or binary.
    Dxf,
    /// SVG.
    Svg,
}

impl Format {
    /// From the ending of a file's name.
    pub fn of_name(name: &str) -> Option<Self> {
        let ending = name.rsplit_once('.')?.1;
        if ending.eq_ignore_ascii_case("dxf") {
            Some(Self::Dxf)
        } else if ending.eq_ignore_ascii_case("svg") {
            Some(Self::Svg)
        } else {
            None
        }
    }
}

/// Whether a contour ends where it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// It does; the first point is not repeated.
    Closed,
    /// It does not.
    Open,
}

/// A line of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// Corners, m, with the drawing's own zero and y upwards.
    pub points: Vec<[f64; 2]>,
    /// Whether it is closed.
    pub ends: Ends,
    /// Index of its layer.
    pub layer: usize,
}

impl Contour {
    /// Length, m, with the closing piece if it is closed.
    pub fn length(&self) -> f64 {
        let open: f64 = self.points.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
        match (self.ends, self.points.first(), self.points.last()) {
            (Ends::Closed, Some(a), Some(b)) => open + (a[0] - b[0]).hypot(a[1] - b[1]),
            _ => open,
        }
    }

    /// Area inside, m^2; positive if it runs counter-clockwise.
    pub fn signed_area(&self) -> f64 {
        signed_area(&self.points)
    }
}

/// Area inside a closed contour; positive if it runs counter-clockwise.
pub fn signed_area(points: &[[f64; 2]]) -> f64 {
    // Relative to the first point, so that a small shape far from zero keeps its digits.
    let Some(o) = points.first() else { return 0.0 };
    let from_o = |p: &[f64; 2]| [p[0] - o[0], p[1] - o[1]];
    points
        .windows(2)
        .map(|pair| {
            let ([a, b], [c, d]) = (from_o(&pair[0]), from_o(&pair[1]));
            0.5 * (a * d - b * c)
        })
        .sum()
}

/// A layer: of DXF, or a group or an element with a name in SVG.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layer {
    /// Name; empty for what stands in none.
    pub name: String,
    /// The layer it lies in, if layers nest; always an earlier one.
    pub parent: Option<usize>,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Layers in order of appearance.
    pub layers: Vec<Layer>,
    /// Contours in order of appearance; joined ones where their first part stood.
    pub contours: Vec<Contour>,
    /// What was not read, with its number; in order of name.
    pub ignored: Vec<(String, usize)>,
    /// Contours that stood twice on the same layer, of which one was left out (such as a hatch over its own outline).
    pub doubled: usize,
    /// Metres per unit that the file itself states, if it does.
    pub stated_unit: Option<f64>,
}

/// There is no such layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoSuchLayer;

impl Drawing {
    /// Contours on a layer and on all layers in it, or all of the drawing. Upper and lower case differ only if both occur.
    pub fn on_layer(&self, name: Option<&str>) -> Result<Vec<&Contour>, NoSuchLayer> {
        let Some(name) = name else { return Ok(self.contours.iter().collect()) };
        let exact = self.layers.iter().any(|layer| layer.name == name);
        let is_it = |layer: &Layer| if exact { layer.name == name } else { layer.name.eq_ignore_ascii_case(name) };
        let mut wanted = vec![false; self.layers.len()];
        for (k, layer) in self.layers.iter().enumerate() {
            wanted[k] = is_it(layer) || layer.parent.is_some_and(|parent| wanted[parent]);
        }
        if !self.layers.iter().any(is_it) {
            return Err(NoSuchLayer);
        }
        Ok(self.contours.iter().filter(|contour| wanted[contour.layer]).collect())
    }

    /// Names of layers that can be asked for, each once.
    pub fn layer_names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for layer in self.layers.iter().filter(|layer| !layer.name.is_empty()) {
            if !names.contains(&layer.name.as_str()) {
                names.push(&layer.name);
            }
        }
        names
    }
}

/// Where in a file something is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Line, counted from 1.
    Line(usize),
    /// Byte of a binary file, counted from 0.
    Byte(usize),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(line) => write!(f, "line {line}"),
            Self::Byte(byte) => write!(f, "byte {byte}"),
        }
    }
}

/// Why a drawing could not be read: what is wrong, why it matters, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{what}", place.map_or(String::new(), |place| format!("{place}: ")))]
pub struct DrawingError {
    /// What kind of fault it is.
    pub kind: ErrorKind,
    /// Where, if at one place.
    pub place: Option<Place>,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub advice: String,
}

/// Kinds of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// Something is not as the format wants it.
    Broken,
    /// The file ends before its end.
    Truncated,
    /// It is too large, too many, too deep, or without end.
    TooMuch,
    /// It does not say how long its unit is.
    NoUnit,
    /// It uses something that is not read and cannot be left out.
    Unsupported,
}

impl DrawingError {
    fn new(kind: ErrorKind, place: Option<Place>, what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self { kind, place, what: what.into(), advice: advice.into() }
    }

    fn broken(place: Place, what: impl Into<String>) -> Self {
        Self::new(ErrorKind::Broken, Some(place), what, "repair it in the drawing program and save it again")
    }

    fn too_much(place: Option<Place>, what: impl Into<String>) -> Self {
        Self::new(
            ErrorKind::TooMuch,
            place,
            what,
            "save a drawing that holds only the outlines that are needed, without text, pictures and fillings",
        )
    }
}

/// Reads a drawing. `unit` is the length of one unit of the drawing; without it, what the file states counts, and a file that
/// states nothing is refused.
pub fn read(bytes: &[u8], format: Format, unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    if bytes.len() > LARGEST_FILE {
        return Err(DrawingError::too_much(
            None,
            format!(
                "the file has {} MB, but at most {} MB are read",
                bytes.len() / 1_000_000,
                LARGEST_FILE / 1_000_000
            ),
        ));
    }
    if let Some(error) = wrong_kind(bytes, format) {
        return Err(error);
    }
    match format {
        Format::Dxf => dxf::read(bytes, unit),
        Format::Svg => svg::read(bytes, unit),
    }
}

/// What is wrong with a file that is something else than its name says.
fn wrong_kind(bytes: &[u8], format: Format) -> Option<DrawingError> {
    let kind = FileKind::of(bytes)?;
    let wanted = match format {
        Format::Dxf => "DXF",
        Format::Svg => "SVG",
    };
    let advice = match (kind, format) {
        (FileKind::Dxf, Format::Dxf) | (FileKind::Svg | FileKind::Xml | FileKind::Compressed, Format::Svg) => {
            return None;
        }
        (FileKind::Dxf, Format::Svg) => "let its name end with .dxf",
        (FileKind::Svg, Format::Dxf) => "let its name end with .svg",
        (FileKind::Dwg | FileKind::Gdsii | FileKind::Oasis, _) => {
            "save it as DXF in the program that it comes from; another ending of the name does not change what it is"
        }
        (FileKind::Picture | FileKind::Pdf, _) => {
            "a picture has no outlines to read: draw them in a drawing program and save them as DXF or SVG"
        }
        (FileKind::Utf16, _) => "save it as UTF-8",
        _ => "name the file of the drawing",
    };
    let what = format!("the file is {}, not {wanted}", kind.words());
    Some(DrawingError::new(ErrorKind::Unsupported, None, what, advice))
}

/// A number by which a changed file is noticed (FNV-1a, 64 bits: Fowler, Noll & Vo 1991), as 16 hexadecimal digits.
pub fn fingerprint(bytes: &[u8]) -> String {
    let hash = bytes
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3));
    format!("{hash:016x}")
}

/// Gathers contours in the unit of the drawing, and watches the limits.
#[derive(Debug, Default)]
struct Gathered {
    layers: Vec<Layer>,
    layer_of: std::collections::HashMap<(String, Option<usize>), usize>,
    contours: Vec<Contour>,
    ignored: std::collections::BTreeMap<String, usize>,
    entities: usize,
    points: usize,
}

impl Gathered {
    /// Index of a layer, which is added if it is new.
    fn layer(&mut self, name: &str, parent: Option<usize>) -> usize {
        *self.layer_of.entry((name.to_owned(), parent)).or_insert_with(|| {
            self.layers.push(Layer { name: name.to_owned(), parent });
            self.layers.len() - 1
        })
    }

    fn ignore(&mut self, what: &str) {
        *self.ignored.entry(what.to_owned()).or_default() += 1;
    }

    /// Counts an entity.
    fn entity(&mut self, place: Place) -> Result<(), DrawingError> {
        self.entities += 1;
        if self.entities > MOST_ENTITIES {
            let what = format!("more than {MOST_ENTITIES} entities, counting those of inserted blocks each time");
            return Err(DrawingError::too_much(Some(place), what));
        }
        Ok(())
    }

    /// Adds a contour. One without size is counted as not read.
    fn add(
        &mut self,
        mut points: Vec<[f64; 2]>,
        mut ends: Ends,
        layer: usize,
        place: Place,
        name: &str,
    ) -> Result<(), DrawingError> {
        self.points += points.len();
        if self.points > MOST_POINTS {
            return Err(DrawingError::too_much(
                Some(place),
                format!("its contours have more than {MOST_POINTS} points"),
            ));
        }
        if points.iter().flatten().any(|v| v.is_nan() || v.abs() > LARGEST_NUMBER) {
            return Err(DrawingError::broken(place, format!("a {name} reaches farther than any drawing can")));
        }
        points.dedup();
        if points.len() > 2 && points.first() == points.last() {
            points.pop();
            ends = Ends::Closed;
        }
        if points.len() < 2 {
            self.ignore(&format!("{name} without size"));
        } else {
            self.contours.push(Contour { points, ends, layer });
        }
        Ok(())
    }

    /// Joins, drops doubles, and converts to m.
    fn finish(self, metres: f64, stated_unit: Option<f64>) -> Drawing {
        let mut contours = join::joined(self.contours);
        let doubled = join::drop_doubles(&mut contours);
        for v in contours.iter_mut().flat_map(|contour| &mut contour.points).flatten() {
            *v *= metres;
        }
        Drawing { layers: self.layers, contours, ignored: self.ignored.into_iter().collect(), doubled, stated_unit }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_and_fingerprints() {
        // Test vectors of the authors of the hash: "" and "a".
        assert_eq!(fingerprint(b""), "cbf29ce484222325");
        assert_eq!(fingerprint(b"a"), "af63dc4c8601ec8c");
        assert_eq!(Format::of_name("Chip.DXF"), Some(Format::Dxf));
        assert_eq!(Format::of_name("chip"), None);
    }

    #[test]
    fn layers_nest_and_are_found_without_regard_to_case() {
        let contour = |layer| Contour { points: vec![[0.0, 0.0], [1.0, 0.0]], ends: Ends::Open, layer };
        let layer = |name: &str, parent| Layer { name: name.into(), parent };
        let drawing = Drawing {
            layers: vec![layer("Chip", None), layer("inner", Some(0)), layer("other", None)],
            contours: vec![contour(0), contour(1), contour(2)],
            ignored: vec![],
            doubled: 0,
            stated_unit: None,
        };
        assert_eq!(drawing.on_layer(Some("chip")).map(|c| c.len()), Ok(2));
        assert_eq!(drawing.on_layer(Some("inner")).map(|c| c.len()), Ok(1));
        assert_eq!(drawing.on_layer(None).map(|c| c.len()), Ok(3));
        assert_eq!(drawing.on_layer(Some("none")), Err(NoSuchLayer));
    }
}
