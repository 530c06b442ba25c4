//! Whether outlines overlap.

use super::outline::{as_contours, bounds};
use crate::contours::{Bounds, Contours, PairBudget, Point, TOUCH, TooTangled};
use crate::inputs::Outline;
use std::borrow::Cow;
use std::cell::OnceCell;

/// An outline that is compared with many others.
pub struct Compared<'a> {
    outline: &'a Outline,
    bounds: Bounds,
    contours: OnceCell<Cow<'a, Contours>>,
}

impl<'a> Compared<'a> {
    /// An outline without faults.
    pub fn new(outline: &'a Outline) -> Self {
        Self { outline, bounds: bounds(outline), contours: OnceCell::new() }
    }

    /// Its straight edges; nobody asks a disc for them.
    fn contours(&self) -> &Contours {
        debug_assert!(!matches!(self.outline, Outline::Disc { .. }), "a disc has none");
        self.contours.get_or_init(|| as_contours(self.outline))
    }

    /// Whether a disc and this, with its straight edges, have area in common.
    fn overlaps_disc(&self, center: Point, radius: f64, effort: &PairBudget) -> Result<bool, TooTangled> {
        let contours = self.contours();
        effort.spend(contours.contours().iter().map(|points| points.len() as u64).sum())?;
        let to_edge = contours.distance_to_edge(center);
        Ok(to_edge < radius - TOUCH || to_edge > TOUCH && contours.contains(center))
    }

    /// Whether the two have area in common; touching is not overlap.
    pub fn overlaps(&self, other: &Compared<'_>, effort: &PairBudget) -> Result<bool, TooTangled> {
        if !self.bounds.meets(other.bounds) {
            return Ok(false);
        }
        match (self.outline, other.outline) {
            (Outline::Disc { center: c, radius: r }, Outline::Disc { center: d, radius: s }) => {
                Ok((c[0] - d[0]).hypot(c[1] - d[1]) < r + s - TOUCH)
            }
            (Outline::Disc { center, radius }, _) => other.overlaps_disc(*center, *radius, effort),
            (_, Outline::Disc { center, radius }) => self.overlaps_disc(*center, *radius, effort),
            _ => self.contours().overlaps(other.contours(), TOUCH, effort),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::edges;
    use crate::map::outline::corners_of_rectangle;

    fn overlap(a: &Outline, b: &Outline) -> bool {
        Compared::new(a).overlaps(&Compared::new(b), &PairBudget::default()).expect("simple shapes")
    }

    fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Outline {
        Outline::Rectangle { center: [x, y], size: [w, h], rotation: 0.0 }
    }

    #[test]
    fn rectangles_overlap_only_with_common_area() {
        let a = rectangle(0.0, 0.0, 2.0, 1.0);
        assert!(overlap(&a, &a), "the same");
        assert!(overlap(&a, &rectangle(1.0, 0.0, 2.0, 1.0)), "half over, edges in line");
        assert!(overlap(&a, &rectangle(0.0, 0.0, 1.0, 2.0)), "crossed");
        assert!(
            overlap(&a, &rectangle(0.0, 0.0, 0.1, 0.1)) && overlap(&rectangle(0.0, 0.0, 0.1, 0.1), &a),
            "one inside the other"
        );
        assert!(!overlap(&a, &rectangle(2.0, 0.0, 2.0, 1.0)), "touching along an edge");
        assert!(!overlap(&a, &rectangle(2.0, 1.0, 2.0, 1.0)), "touching at a corner");
        assert!(!overlap(&a, &rectangle(5.0, 0.0, 1.0, 1.0)), "apart");
    }

    #[test]
    fn discs_and_polygons_overlap_only_with_common_area() {
        let disc = |x: f64, r: f64| Outline::Disc { center: [x, 0.0], radius: r };
        assert!(overlap(&disc(0.0, 1.0), &disc(1.9, 1.0)));
        assert!(!overlap(&disc(0.0, 1.0), &disc(2.0, 1.0)));
        assert!(overlap(&disc(0.0, 0.1), &rectangle(0.0, 0.0, 4.0, 4.0)), "disc inside");
        assert!(overlap(&rectangle(0.0, 0.0, 0.2, 0.2), &disc(0.0, 4.0)), "rectangle inside");
        assert!(!overlap(&disc(0.0, 1.0), &rectangle(2.0, 0.0, 2.0, 2.0)), "touching");
        // A U around a bar: their boxes overlap, they do not.
        let u = Outline::polygon(vec![
            [-2.0, -2.0],
            [2.0, -2.0],
            [2.0, 2.0],
            [1.0, 2.0],
            [1.0, -1.0],
            [-1.0, -1.0],
            [-1.0, 2.0],
            [-2.0, 2.0],
        ]);
        assert!(!overlap(&u, &rectangle(0.0, 0.5, 2.0, 3.0)));
        assert!(overlap(&u, &rectangle(0.0, 0.4, 2.0, 3.0)));
        assert!(overlap(&u, &u));
    }

    /// Largest gap between two convex polygons over the directions of their edges: positive if they are apart
    /// (separating axis theorem).
    fn separation(p: &[Point], q: &[Point]) -> f64 {
        let directions = edges(p).chain(edges(q)).map(|[a, b]| {
            let along = [b[0] - a[0], b[1] - a[1]];
            let length = along[0].hypot(along[1]);
            [along[1] / length, -along[0] / length]
        });
        let reach = |polygon: &[Point], n: Point| {
            let along = polygon.iter().map(|c| c[0] * n[0] + c[1] * n[1]);
            along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
        };
        directions.fold(f64::NEG_INFINITY, |gap, n| {
            let ((low, high), (other_low, other_high)) = (reach(p, n), reach(q, n));
            gap.max(other_low - high).max(low - other_high)
        })
    }

    proptest::proptest! {
        /// Two derivations, one answer: overlap by cut edges against the separating axis theorem.
        #[test]
        fn turned_rectangles_overlap_unless_a_line_separates_them(
            x in -3.0..3.0f64, y in -3.0..3.0f64, w in 0.1..4.0f64, h in 0.1..4.0f64, turn in 0.0..6.3f64, other_turn in 0.0..6.3f64,
        ) {
            let a = Outline::Rectangle { center: [0.0, 0.0], size: [2.0, 1.0], rotation: turn };
            let b = Outline::Rectangle { center: [x, y], size: [w, h], rotation: other_turn };
            let gap = separation(&corners_of_rectangle([0.0, 0.0], [2.0, 1.0], turn), &corners_of_rectangle([x, y], [w, h], other_turn));
            proptest::prop_assume!(gap.abs() > 1e-6);
            proptest::prop_assert_eq!(overlap(&a, &b), gap < 0.0);
            proptest::prop_assert_eq!(overlap(&b, &a), gap < 0.0);
            // The same rectangle given by its corners.
            let polygon = Outline::polygon(corners_of_rectangle([x, y], [w, h], other_turn).to_vec());
            proptest::prop_assert_eq!(overlap(&polygon, &a), gap < 0.0);
        }
    }
}
