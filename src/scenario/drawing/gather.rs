//! Gathers what a file holds, and watches the limits.

use super::curves::RawLine;
use super::limits::{LARGEST_NUMBER, MOST_ENTITIES, MOST_POINTS};
use super::{Contour, Drawing, DrawingError, DrawingLayer, Ends, FilePlace, join};
use kurbo::{Affine, Point};
use std::collections::{BTreeMap, HashMap};

/// Contours in the unit of the drawing.
#[derive(Debug, Default)]
pub(crate) struct Gatherer {
    layers: Vec<DrawingLayer>,
    layer_of: HashMap<(String, Option<usize>), usize>,
    contours: Vec<Contour>,
    ignored: BTreeMap<String, usize>,
    entities: usize,
    points: usize,
}

impl Gatherer {
    /// Index of a layer, which is added if it is new.
    pub(crate) fn layer(&mut self, name: &str, parent: Option<usize>) -> usize {
        *self.layer_of.entry((name.to_owned(), parent)).or_insert_with(|| {
            self.layers.push(DrawingLayer { name: name.to_owned(), parent });
            self.layers.len() - 1
        })
    }

    /// Counts what is not read.
    pub(crate) fn ignore(&mut self, what: &str) {
        *self.ignored.entry(what.to_owned()).or_default() += 1;
    }

    /// Counts one of the `entities`, or however the format calls them.
    pub(super) fn count(&mut self, entities: &str, place: FilePlace) -> Result<(), DrawingError> {
        self.entities += 1;
        if self.entities > MOST_ENTITIES {
            let what =
                format!("more than {MOST_ENTITIES} {entities}, counting those that are inserted or used each time");
            return Err(DrawingError::too_much(Some(place), what));
        }
        Ok(())
    }

    /// Begins to count entities anew: as they were read before, as they are drawn now.
    pub(crate) fn recount(&mut self) {
        self.entities = 0;
    }

    /// Adds a line as a transform shows it. One without size is counted as not read.
    pub(crate) fn add(
        &mut self,
        (points, ends): &RawLine,
        shown: Affine,
        layer: usize,
        place: FilePlace,
        name: &str,
    ) -> Result<(), DrawingError> {
        self.points += points.len();
        if self.points > MOST_POINTS {
            let what = format!("its contours have more than {MOST_POINTS} points");
            return Err(DrawingError::too_much(Some(place), what));
        }
        let moved = |p: &Point| {
            let Point { x, y } = shown * *p;
            [x, y]
        };
        let (mut points, mut ends): (Vec<[f64; 2]>, Ends) = (points.iter().map(moved).collect(), *ends);
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
    pub(crate) fn finish(self, metres: f64, stated_unit: Option<f64>) -> Drawing {
        let mut contours = join::joined(self.contours);
        let doubled = join::drop_doubles(&mut contours);
        for v in contours.iter_mut().flat_map(|contour| &mut contour.points).flatten() {
            *v *= metres;
        }
        Drawing { layers: self.layers, contours, ignored: self.ignored.into_iter().collect(), doubled, stated_unit }
    }
}
