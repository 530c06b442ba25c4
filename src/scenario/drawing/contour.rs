//! What a drawing holds: contours on layers.

use motefall_physics::contours;

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
    pub(crate) layer: usize,
}

impl Contour {
    /// Length, m, with the closing piece if it is closed.
    pub fn length(&self) -> f64 {
        let open = contours::line_length(&self.points);
        match (self.ends, self.points.first(), self.points.last()) {
            (Ends::Closed, Some(a), Some(b)) => open + (a[0] - b[0]).hypot(a[1] - b[1]),
            _ => open,
        }
    }
}

/// A layer: of DXF, or a group or an element with a name in SVG.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawingLayer {
    /// Name; empty for what stands in none.
    pub(crate) name: String,
    /// The layer it lies in, if layers nest; always an earlier one.
    pub(crate) parent: Option<usize>,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Layers in order of appearance.
    pub(crate) layers: Vec<DrawingLayer>,
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
        let is_it =
            |layer: &DrawingLayer| if exact { layer.name == name } else { layer.name.eq_ignore_ascii_case(name) };
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layers_nest_and_are_found_without_regard_to_case() {
        let contour = |layer| Contour { points: vec![[0.0, 0.0], [1.0, 0.0]], ends: Ends::Open, layer };
        let layer = |name: &str, parent| DrawingLayer { name: name.into(), parent };
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
