//! Shapes that stand in drawings beside the scenario.

use super::checks::UNTANGLE;
use super::choices::Draw;
use super::faults::did_you_mean;
use super::key::{UM, show_number};
use super::keys;
use super::reader::{Reader, tidy};
use super::side_files::SideFiles;
use crate::drawing::{self, Contour, Drawing, DrawingError, Ends, ErrorKind, Format};
use motefall_files::plain_file::FileError;
use motefall_physics::contours::{Contours, PairBudget, turned};
use motefall_physics::inputs::{Area, DrawingSource, DrawnLines, Outline, Shape, Spacing};
use motefall_physics::units::LengthUnit;
use std::cell::{Cell, RefCell};
use std::collections::{HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

/// Drawings that have been read, so that several regions of one file read it once.
#[derive(Debug)]
pub(crate) struct Drawings<'a> {
    files: &'a SideFiles,
    read: RefCell<HashMap<(String, Option<&'static str>), Read>>,
    /// Remarks on what was read.
    notes: RefCell<Vec<String>>,
    /// Files that cannot be used, of which the user has been told: once, however many sections name them.
    told: RefCell<HashSet<String>>,
    /// Corners that were handed out; sections that take the same shapes have their own.
    corners: Cell<usize>,
    effort: &'a PairBudget,
}

/// Most corners of all shapes together: a bound on memory, about 100 bytes each.
const MOST_CORNERS: usize = 4_000_000;

/// What reading a file gave.
type Read = Rc<Result<(Drawing, String), Unread>>;

/// Why a drawing could not be used.
#[derive(Debug, Clone)]
struct Unread {
    what: String,
    advice: String,
    /// Whether `drawing_unit` would help.
    no_unit: bool,
}

impl From<DrawingError> for Unread {
    fn from(error: DrawingError) -> Self {
        Self { what: error.to_string(), no_unit: error.kind == ErrorKind::NoUnit, advice: error.advice }
    }
}

/// Most names of layers in a message.
const MOST_LAYERS: usize = 12;

impl<'a> Drawings<'a> {
    /// Among the files that a scenario names.
    pub(crate) fn new(files: &'a SideFiles, effort: &'a PairBudget) -> Self {
        Self {
            files,
            read: RefCell::default(),
            notes: RefCell::default(),
            told: RefCell::default(),
            corners: Cell::new(0),
            effort,
        }
    }

    /// Whether the user has been told that a file cannot be used; from now on it counts as told.
    fn is_told(&self, file: &str) -> bool {
        !self.told.borrow_mut().insert(file.to_owned())
    }

    /// Remarks on what was read, each once.
    pub(crate) fn notes(self) -> Vec<String> {
        self.notes.into_inner()
    }

    fn note(&self, text: String) {
        let mut notes = self.notes.borrow_mut();
        if !notes.contains(&text) {
            notes.push(text);
        }
    }

    fn file(&self, file: &str, unit: Option<LengthUnit>) -> Read {
        let key = (file.to_owned(), unit.map(LengthUnit::word));
        if let Some(known) = self.read.borrow().get(&key) {
            return known.clone();
        }
        let read = Rc::new(read(self.files, file, unit));
        if let Ok((drawing, _)) = read.as_ref() {
            self.remark(file, drawing, unit);
        }
        self.read.borrow_mut().insert(key, read.clone());
        read
    }

    fn remark(&self, file: &str, drawing: &Drawing, unit: Option<LengthUnit>) {
        if !drawing.ignored.is_empty() {
            let list: Vec<String> = drawing.ignored.iter().take(8).map(|(what, n)| format!("{n} {what}")).collect();
            let more = if drawing.ignored.len() > 8 { " and more" } else { "" };
            self.note(format!("{file}: not read were {}{more}", list.join(", ")));
        }
        if drawing.doubled > 0 {
            let (n, stand) = (drawing.doubled, if drawing.doubled == 1 { "shape stands" } else { "shapes stand" });
            self.note(format!("{file}: {n} {stand} there twice and counted once"));
        }
        if let (Some(unit), Some(stated)) = (unit, drawing.stated_unit)
            && (unit.metres() / stated - 1.0).abs() > 1e-3
        {
            let stated = show_number(tidy(UM.of_si(stated)));
            self.note(format!(
                "{file} states that one unit is {stated} µm; drawing_unit = \"{}\" was used instead",
                unit.word()
            ));
        }
    }

    /// Contours that a section asks for, in place on the chip, and where they came from. Faults are reported.
    fn contours(&self, section: &Reader<'_>) -> Option<(Vec<Contour>, DrawingSource)> {
        let source_of = keys::drawing_source::read(section);
        let wanted: Option<String> = section.get("fingerprint");
        let source = source_of(String::new());
        let DrawingSource { file, layer, unit, at, rotation, .. } = source.clone();
        if file.is_empty() || at.iter().any(|v| v.is_nan()) || rotation.is_nan() {
            return None;
        }
        let read = self.file(&file, unit);
        let (drawing, fingerprint) = match read.as_ref() {
            Ok(read) => read,
            Err(_) if self.is_told(&file) => return None,
            Err(unread) => {
                not_read(section, &file, unread);
                return None;
            }
        };
        if let Some(wanted) = wanted.filter(|wanted| wanted != fingerprint) {
            section.fault(
                "fingerprint",
                format!("\"{file}\" is not the drawing that it was: its fingerprint is {fingerprint}, not {wanted}"),
                "another drawing",
                "the key guards against a drawing that changes unnoticed",
                format!("put the earlier drawing back, or write `fingerprint = \"{fingerprint}\"`, or remove the key"),
            );
            return None;
        }
        let Ok(found) = drawing.on_layer(layer.as_deref()) else {
            no_layer(section, &file, drawing, &layer.unwrap_or_default());
            return None;
        };
        if found.is_empty() {
            nothing_drawn(section, &file, drawing, layer.is_some());
            return None;
        }
        if !self.has_room_for(section, found.iter().map(|contour| contour.points.len()).sum()) {
            return None;
        }
        let placed = |contour: &Contour| {
            let points = contour.points.iter().map(|p| {
                let [x, y] = turned(*p, rotation);
                [x + at[0], y + at[1]]
            });
            Contour { points: points.collect(), ..contour.clone() }
        };
        let contours = found.into_iter().map(placed).collect();
        Some((contours, DrawingSource { fingerprint: fingerprint.clone(), ..source }))
    }

    /// Whether shapes of so many more corners are few enough; reports it once if not.
    fn has_room_for(&self, section: &Reader<'_>, more: usize) -> bool {
        let corners = self.corners.get() + more;
        self.corners.set(corners);
        let has_room = corners <= MOST_CORNERS;
        if !has_room && !self.is_told("") {
            section.fault(
                "file",
                format!(
                    "with this section the shapes taken from drawings have more than {MOST_CORNERS} corners in all"
                ),
                "too many corners",
                "each section that takes a shape keeps its own",
                "name a `layer` of the drawing in each section, or save a drawing with fewer corners",
            );
        }
        has_room
    }

    /// The area of closed contours. Faults are reported.
    fn area(&self, section: &Reader<'_>, for_path: bool) -> Option<(Arc<Contours>, DrawingSource)> {
        let (contours, source) = self.contours(section)?;
        let key = if section.has("layer") { "layer" } else { "file" };
        let open: Vec<&Contour> = contours.iter().filter(|contour| contour.ends == Ends::Open).collect();
        if let Some(first) = open.first() {
            let um = |p: [f64; 2]| p.map(|v| format!("{:.2}", v * 1e6)).join(", ");
            let (begin, end) = (first.points[0], first.points[first.points.len() - 1]);
            let (is, what) = if open.len() == 1 { ("line is", "it begins") } else { ("lines are", "the first begins") };
            let advice = if for_path {
                "close what is open in the drawing program, or write `draw = \"lines\"` to print along the lines"
            } else {
                "close what is open in the drawing program, or move it to a layer of its own"
            };
            section.fault(
                key,
                format!(
                    "{} open {is} among the shapes: {what} at [{}] µm and ends at [{}] µm",
                    open.len(),
                    um(begin),
                    um(end)
                ),
                "not closed",
                "only a closed shape has an inside; ends that meet to a ten-millionth of the drawing are joined",
                advice,
            );
            return None;
        }
        let area = Contours::new(contours.into_iter().map(|contour| contour.points).collect());
        if area.is_empty() {
            section.fault(
                key,
                "the shapes have no area",
                "no area",
                "",
                "draw at least one closed shape with three corners",
            );
            return None;
        }
        let crossing = match area.crossing_point(self.effort) {
            Ok(crossing) => crossing,
            Err(tangled) => {
                let why = "what lies inside of crossing shapes is not defined, so that edges are compared";
                section.fault(key, format!("\"{}\": {tangled}", source.file), "too much to compare", why, UNTANGLE);
                return None;
            }
        };
        if let Some(p) = crossing {
            section.fault(
                key,
                format!("lines of the shapes cross at [{:.2}, {:.2}] µm", p[0] * 1e6, p[1] * 1e6),
                "shapes that cross",
                "what lies inside of crossing shapes is not defined; a shape wholly within another is a hole",
                "unite them in the drawing program, or put them on layers of their own",
            );
            return None;
        }
        Some((Arc::new(area), source))
    }

    /// The area of a region.
    pub(crate) fn region(&self, section: &Reader<'_>) -> Outline {
        let (contours, source) = match self.area(section, false) {
            Some((contours, source)) => (contours, Some(source)),
            None => (Arc::new(Contours::new(Vec::new())), None),
        };
        Outline::Area(Area { contours, source })
    }

    /// What is printed. `usual_spacing` (m) stands, until the line's width is known, if none is given.
    pub(crate) fn path(&self, section: &Reader<'_>, usual_spacing: f64) -> Shape {
        let draw: Draw = section.get("draw");
        let given = section.optional("spacing_um");
        let filled_of = keys::path_drawing::read(section);
        if draw == Draw::Lines {
            for key in ["spacing_um", "angle_deg", "turns", "edge"].into_iter().filter(|key| section.has(key)) {
                section.fault(
                    key,
                    format!("`{}` has no meaning with `draw = \"lines\"`", section.full(key)),
                    "not used",
                    "it says how an area is filled",
                    "remove it, or write `draw = \"fill\"`",
                );
            }
            let found = self.contours(section);
            let (contours, source) = found.map_or((Vec::new(), None), |(contours, source)| (contours, Some(source)));
            let line = |contour: Contour| {
                let mut points = contour.points;
                if contour.ends == Ends::Closed {
                    points.push(points[0]);
                }
                points
            };
            return Shape::Polylines(DrawnLines { lines: contours.into_iter().map(line).collect(), source });
        }
        let found = self.area(section, true);
        let (area, source) = match found {
            Some((area, source)) => (area, Some(source)),
            None => (Arc::new(Contours::new(Vec::new())), None),
        };
        if given.is_none() && source.is_some() {
            section.assume(
                "spacing_um",
                "half the width of the line".to_owned(),
                "the width at half height is computed: print a line, and write half of its width",
            );
        }
        let spacing = given.map_or(Spacing::FromLineWidth { estimate: usual_spacing }, Spacing::Given);
        Shape::Filled(filled_of(area, spacing, source))
    }
}

/// Reports a drawing that cannot be read.
fn not_read(section: &Reader<'_>, file: &str, unread: &Unread) {
    let what = format!("\"{file}\": {}", unread.what);
    if unread.no_unit {
        let words: Vec<String> = LengthUnit::WORDS.iter().map(|word| format!("\"{word}\"")).collect();
        section.fault(
            "file",
            what,
            "of which unit is it?",
            "without its unit, a drawing has no size",
            format!("add `drawing_unit = ...`, one of {}: the length of one unit of the drawing", words.join(", ")),
        );
    } else {
        section.fault("file", what, "this file", "", unread.advice.clone());
    }
}

/// Reports a layer that a drawing does not have.
fn no_layer(section: &Reader<'_>, file: &str, drawing: &Drawing, name: &str) {
    let names = drawing.layer_names();
    let list = match names.len() {
        0 => "it has no layers".to_owned(),
        n if n <= MOST_LAYERS => format!("it has: {}", names.join(", ")),
        n => format!("it has {n} layers: {}, ...", names[..MOST_LAYERS].join(", ")),
    };
    let advice = if names.is_empty() {
        "remove `layer`"
    } else {
        "write the name of a layer, or remove `layer` to take the whole drawing"
    };
    let title = format!("\"{file}\" has no layer \"{name}\"");
    section.fault("layer", title, did_you_mean(name, names.iter().copied()), list, advice);
}

/// Reports a drawing, or a layer of it, without shapes.
fn nothing_drawn(section: &Reader<'_>, file: &str, drawing: &Drawing, is_layer: bool) {
    let (key, of) = if is_layer { ("layer", "this layer of ") } else { ("file", "") };
    let ignored: Vec<String> = drawing.ignored.iter().take(6).map(|(what, n)| format!("{n} {what}")).collect();
    let why = match ignored.join(", ") {
        none if none.is_empty() => none,
        list => format!("what is in the file and not read: {list}"),
    };
    section.fault(
        key,
        format!("nothing is drawn on {of}\"{file}\""),
        "empty",
        why,
        "draw lines, polylines, circles, arcs, ellipses or splines there, or name another layer",
    );
}

/// Reads a drawing.
fn read(files: &SideFiles, file: &str, unit: Option<LengthUnit>) -> Result<(Drawing, String), Unread> {
    let unread = |what: String, advice: &str| Unread { what, advice: advice.to_owned(), no_unit: false };
    let format = Format::of_name(file).ok_or_else(|| {
        let is_scenario = file.ends_with(".toml");
        let advice = if is_scenario { "name the drawing, not a scenario" } else { "save the drawing as DXF or SVG" };
        unread("its name ends neither with .dxf nor with .svg".to_owned(), advice)
    })?;
    let bytes = files.read(file, drawing::LARGEST_FILE as u64).map_err(|error| {
        let advice = match *error {
            FileError::TooLarge { .. } => "save only the outlines that are needed",
            _ => "put the drawing beside the scenario, or give its path from there",
        };
        unread(error.to_string(), advice)
    })?;
    Ok((drawing::read(&bytes, format, unit)?, drawing::fingerprint(&bytes)))
}
