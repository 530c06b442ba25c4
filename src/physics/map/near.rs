//! Whether a point is inside an outline, near it or far from it, mostly without exact geometry.

use super::outline;
use crate::contours::Bounds;
use crate::inputs::Outline;

/// Cells along the longer side of an outline's box.
const CELLS: f64 = 96.0;

/// An outline with signed distances from its edge, negative inside, known at the middles of cells over its box.
#[derive(Debug, Clone)]
pub struct Near {
    outline: Outline,
    bounds: Bounds,
    /// Cells per length, 1/m.
    per_cell: f64,
    columns: usize,
    rows: usize,
    signed: Vec<f64>,
    /// Half the diagonal of a cell, m: nowhere in it the distance differs by more from that at its middle.
    slack: f64,
}

impl Near {
    /// For an outline.
    pub fn new(outline: Outline) -> Self {
        let bounds = outline::bounds(&outline);
        let size = bounds.size().map(|side| side.max(0.0));
        let cell = (size[0].max(size[1]) / CELLS).max(f64::MIN_POSITIVE);
        let [columns, rows] = size.map(|length| (length / cell).ceil().max(1.0) as usize);
        let signed = (0..rows * columns)
            .map(|k| {
                let middle = [k % columns, k / columns].map(|n| (n as f64 + 0.5) * cell);
                outline::signed_distance(&outline, [bounds.low[0] + middle[0], bounds.low[1] + middle[1]])
            })
            .collect();
        let slack = cell * std::f64::consts::FRAC_1_SQRT_2 * (1.0 + 1e-9);
        Self { outline, bounds, per_cell: 1.0 / cell, columns, rows, signed, slack }
    }

    /// The outline.
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// A distance that the point has at least from the outline; 0 inside.
    #[inline]
    pub fn at_least(&self, point: [f64; 2]) -> f64 {
        match self.here(point) {
            Some(signed) => (signed - self.slack).max(0.0),
            None => self.bounds.distance(point),
        }
    }

    /// How deep a point lies inside the outline at least, m; 0 outside.
    pub fn depth_at_least(&self, point: [f64; 2]) -> f64 {
        self.here(point).map_or(0.0, |signed| (-signed - self.slack).max(0.0))
    }

    /// Distance of a point from the outline's edge, 0 inside.
    #[inline]
    pub(crate) fn distance(&self, point: [f64; 2]) -> f64 {
        match self.here(point) {
            Some(signed) if signed < -self.slack => 0.0,
            _ => outline::distance(&self.outline, point),
        }
    }

    /// Distance of a point from the outline's edge, 0 inside; `None` if it is farther than `reach`, m.
    pub fn within(&self, point: [f64; 2], reach: f64) -> Option<f64> {
        match self.here(point) {
            Some(signed) if signed < -self.slack => return Some(0.0),
            Some(signed) if signed - self.slack > reach => return None,
            None if self.bounds.distance(point) > reach => return None,
            _ => {}
        }
        Some(outline::distance(&self.outline, point)).filter(|distance| *distance <= reach)
    }

    /// Signed distance at the middle of the point's cell; `None` outside the box.
    #[inline]
    fn here(&self, point: [f64; 2]) -> Option<f64> {
        let [u, v] = [0, 1].map(|k| (point[k] - self.bounds.low[k]) * self.per_cell);
        let cell = || (v as usize).min(self.rows - 1) * self.columns + (u as usize).min(self.columns - 1);
        self.bounds.contains(point).then(|| self.signed[cell()])
    }
}

/// Distance of a point from the nearest of several outlines; infinite if there is none.
#[inline]
pub fn distance_to_nearest(outlines: &[Near], point: [f64; 2]) -> f64 {
    match outlines {
        [] => f64::INFINITY,
        [only] => only.distance(point),
        several => distance_to_nearest_of_several(several, point),
    }
}

fn distance_to_nearest_of_several(outlines: &[Near], point: [f64; 2]) -> f64 {
    // The likely one first: mostly the others then need no exact distance.
    let (mut likely, mut least, mut second) = (0, f64::INFINITY, f64::INFINITY);
    for (k, near) in outlines.iter().enumerate() {
        let at_least = near.at_least(point);
        if at_least < least {
            (likely, least, second) = (k, at_least, least);
        } else {
            second = second.min(at_least);
        }
    }
    let first = outlines[likely].distance(point);
    if first <= second {
        return first;
    }
    let others = outlines.iter().enumerate().filter(|(k, _)| *k != likely);
    others.fold(first, |least, (_, near)| near.within(point, least).unwrap_or(least))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::Area;
    use std::sync::Arc;

    #[test]
    fn quick_answers_are_the_exact_ones() {
        // A ring with a notch, a turned rectangle, a sliver, a disc.
        let ring = |r: f64| -> Vec<[f64; 2]> {
            (0..90).map(|k| f64::from(4 * k).to_radians()).map(|a| [r * a.cos(), r * a.sin()]).collect()
        };
        let mut notched = ring(2.0);
        notched.insert(1, [1.2, 0.05]);
        let area = Area { contours: Arc::new(Contours::new(vec![notched, ring(1.0)])), source: None };
        for outline in [
            Outline::Area(area),
            Outline::Rectangle { center: [0.3, -0.2], size: [3.0, 1.0], rotation: 0.4 },
            Outline::Rectangle { center: [0.0, 0.0], size: [3.0, 0.001], rotation: 0.0 },
            Outline::Disc { center: [0.5, 0.0], radius: 1.7 },
        ] {
            let near = Near::new(outline.clone());
            let (mut answers, mut deep) = ([0usize; 3], 0);
            for k in 0..40_000 {
                let point = [-3.0 + 0.03 * f64::from(k % 200), -3.0 + 0.03 * f64::from(k / 200)];
                let exact = outline::distance(&outline, point);
                for reach in [0.0, 0.02, 0.5] {
                    let wanted = (exact <= reach).then_some(exact);
                    assert_eq!(near.within(point, reach), wanted, "{outline:?} {point:?} {reach}");
                }
                assert!(near.at_least(point) <= exact * (1.0 + 1e-12));
                let depth = (-outline::signed_distance(&outline, point)).max(0.0);
                assert!(near.depth_at_least(point) <= depth * (1.0 + 1e-12));
                deep += usize::from(near.depth_at_least(point) > 0.2);
                answers[if exact == 0.0 { 0 } else { 1 + usize::from(exact > 0.5) }] += 1;
            }
            assert!(answers.iter().all(|n| *n > 0), "{answers:?}");
            assert!(deep > 0 || outline::signed_distance(&outline, [0.0, 0.0]) > -0.3, "{outline:?}");
        }
    }

    #[test]
    fn the_nearest_of_several_is_found() {
        let disc = |x: f64, y: f64, radius| Outline::Disc { center: [x, y], radius };
        let square = Outline::Rectangle { center: [-2.0, 0.0], size: [1.0, 1.0], rotation: 0.0 };
        // Beside each other, one in a corner of another's box, and one over two others.
        let all = [square, disc(1.0, 0.0, 0.8), disc(1.75, 0.75, 0.1), disc(0.0, -2.0, 0.7), disc(-0.5, -1.8, 0.6)];
        for count in 0..=all.len() {
            let outlines: Vec<Near> = all[..count].iter().cloned().map(Near::new).collect();
            for k in 0..40_000 {
                let point = [-3.0 + 0.03 * f64::from(k % 200), -3.0 + 0.03 * f64::from(k / 200)];
                let exact = all[..count].iter().map(|one| outline::distance(one, point)).fold(f64::INFINITY, f64::min);
                assert_eq!(distance_to_nearest(&outlines, point), exact, "{count} {point:?}");
            }
        }
    }
}
