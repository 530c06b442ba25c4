//! Walks through the tree and draws what is seen.

use super::shapes::{self, UnitsPerPixel};
use super::tree::{DEEPEST_ELEMENT, Element, Tree};
use super::values::{transform, view_box};
use crate::drawing::gather::Gatherer;
use crate::drawing::limits::DEEPEST;
use crate::drawing::{DrawingError, ErrorKind};
use kurbo::Affine;

/// Elements that hold other elements and are drawn.
const GROUPS: &str = "svg g a switch";
/// Elements that hold what is drawn only when it is used, or never.
const UNSEEN: &str = "defs symbol clipPath mask pattern marker linearGradient radialGradient filter metadata title desc style script \
                      namedview";

fn is_one_of(names: &str, name: &str) -> bool {
    names.split(' ').any(|other| other == name)
}

/// Where an element stands.
#[derive(Debug, Clone, Copy)]
struct Standing {
    /// How its coordinates are shown.
    shown: Affine,
    layer: Option<usize>,
    depth: usize,
}

impl Standing {
    /// One deeper, in coordinates of its own.
    fn within(self, inner: Affine) -> Self {
        Self { shown: self.shown * inner, depth: self.depth + 1, ..self }
    }
}

/// Draws all that is seen, with a transform on the whole.
pub(super) fn draw(tree: &Tree, whole: Affine, pixel: UnitsPerPixel) -> Result<Gatherer, DrawingError> {
    let mut walker = Walker { tree, gatherer: Gatherer::default(), pixel, uses: Vec::new() };
    let root = &tree.elements[0];
    let own = root.read("transform", transform)?.unwrap_or_default();
    walker.children(root, Standing { shown: whole * own, layer: None, depth: 1 })?;
    Ok(walker.gatherer)
}

struct Walker<'t> {
    tree: &'t Tree,
    gatherer: Gatherer,
    pixel: UnitsPerPixel,
    /// Elements that are being used, the outermost first.
    uses: Vec<usize>,
}

impl Walker<'_> {
    fn children(&mut self, element: &Element, at: Standing) -> Result<(), DrawingError> {
        let tree = self.tree;
        element.children.iter().try_for_each(|child| self.element(&tree.elements[*child], at))
    }

    fn element(&mut self, element: &Element, mut at: Standing) -> Result<(), DrawingError> {
        self.gatherer.count("elements", element.place)?;
        if at.depth > DEEPEST_ELEMENT {
            let what = format!("elements are nested and used more than {DEEPEST_ELEMENT} deep");
            return Err(DrawingError::too_much(Some(element.place), what));
        }
        let name = element.name.as_str();
        if is_one_of(UNSEEN, name) || self.is_hidden(element)? {
            return Ok(());
        }
        at.shown *= element.read("transform", transform)?.unwrap_or_default();
        if let Some(name) = element.get("inkscape:label").or_else(|| element.get("id")) {
            at.layer = Some(self.gatherer.layer(name, at.layer));
        }
        match name {
            "svg" => {
                let inner = self.viewport(element, None)?;
                self.children(element, at.within(inner))
            }
            group if is_one_of(GROUPS, group) => self.children(element, at.within(Affine::IDENTITY)),
            "use" => self.used(element, at),
            _ => self.shape(element, at),
        }
    }

    /// Whether an element is not displayed. What its style says of its place cannot be left out.
    fn is_hidden(&mut self, element: &Element) -> Result<bool, DrawingError> {
        let style: String = element.get("style").unwrap_or("").chars().filter(|c| !c.is_whitespace()).collect();
        if element.get("display") == Some("none") || style.contains("display:none") {
            self.gatherer.ignore("not displayed");
            return Ok(true);
        }
        if style.contains("transform:") {
            return Err(DrawingError::new(
                ErrorKind::Unsupported,
                Some(element.place),
                "a transform inside a style",
                "save it as plain SVG, in which transforms are attributes",
            ));
        }
        Ok(false)
    }

    /// The transform of an inner svg or symbol: its place and its view box. `size` is that of the `use` that asks for it.
    fn viewport(&self, element: &Element, size: Option<[Option<f64>; 2]>) -> Result<Affine, DrawingError> {
        let shift = match size {
            Some(_) => Affine::IDENTITY,
            None => Affine::translate(<(f64, f64)>::from(self.pixel.lengths(element, ["x", "y"])?)),
        };
        let Some([x, y, w, h]) = element.read("viewBox", view_box)? else { return Ok(shift) };
        let wanted = size.unwrap_or([None; 2]);
        let width = wanted[0].or(self.pixel.length(element, "width")?);
        let height = wanted[1].or(self.pixel.length(element, "height")?);
        let (Some(width), Some(height)) = (width, height) else {
            return Err(element.broken("viewBox", "width and height are missing beside it"));
        };
        let (sx, sy) = (width / w, height / h);
        let to_zero = Affine::translate((-x, -y));
        let fit = element.get("preserveAspectRatio").unwrap_or("xMidYMid meet").trim();
        if fit.starts_with("none") {
            return Ok(shift * Affine::scale_non_uniform(sx, sy) * to_zero);
        }
        let s = if fit.contains("slice") { sx.max(sy) } else { sx.min(sy) };
        let share = |low: &str, high: &str| match (fit.contains(low), fit.contains(high)) {
            (true, _) => 0.0,
            (_, true) => 1.0,
            _ => 0.5,
        };
        let rest = ((width - s * w) * share("xMin", "xMax"), (height - s * h) * share("YMin", "YMax"));
        Ok(shift * Affine::translate(rest) * Affine::scale(s) * to_zero)
    }

    fn used(&mut self, element: &Element, at: Standing) -> Result<(), DrawingError> {
        let tree = self.tree;
        let reference = element.get("href").or_else(|| element.get("xlink:href")).unwrap_or("").trim();
        let Some(&target) = reference.strip_prefix('#').and_then(|id| tree.by_id.get(id)) else {
            let shown: String = reference.chars().take(40).collect();
            return Err(element.broken("href", &format!("there is no element \"{shown}\" in this file")));
        };
        if self.uses.contains(&target) {
            let what = "an element is used inside itself";
            let advice = "replace the uses by copies in the drawing program and save it again";
            return Err(DrawingError::new(ErrorKind::TooMuch, Some(element.place), what, advice));
        }
        if self.uses.len() >= DEEPEST {
            let what = format!("uses are nested more than {DEEPEST} deep");
            return Err(DrawingError::too_much(Some(element.place), what));
        }
        let at = at.within(Affine::translate(<(f64, f64)>::from(self.pixel.lengths(element, ["x", "y"])?)));
        self.uses.push(target);
        let used = &tree.elements[target];
        if used.name == "symbol" {
            let size = [self.pixel.length(element, "width")?, self.pixel.length(element, "height")?];
            let inner = self.viewport(used, Some(size))?;
            self.children(used, at.within(inner))?;
        } else {
            self.element(used, at)?;
        }
        self.uses.pop();
        Ok(())
    }

    fn shape(&mut self, element: &Element, at: Standing) -> Result<(), DrawingError> {
        let Some((name, lines)) = shapes::lines(element, self.pixel)? else {
            let name: String = element.name.chars().take(40).collect();
            self.gatherer.ignore(&name);
            return Ok(());
        };
        let layer = at.layer.unwrap_or_else(|| self.gatherer.layer("", None));
        lines.iter().try_for_each(|line| self.gatherer.add(line, at.shown, layer, element.place, name))
    }
}
