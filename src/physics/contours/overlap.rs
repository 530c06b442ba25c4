//! Whether areas overlap, and whether their edges cross: found with a bounded effort.

use super::segment::are_near;
use super::tree::Edge;
use super::{Bounds, Contours, Point, edges};
use std::cell::Cell;

/// Most pairs of edges that the checks of one file compare: one or two seconds' work. Only edges with boxes that meet are compared, so that
/// a drawing of a million corners takes a few million; a star of 10 000 long spikes takes fifty.
pub const MOST_PAIRS: u64 = 100_000_000;

/// Edges lie across each other so much that to check them would take too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "its edges lie across each other so much that they cannot be checked: more than {MOST_PAIRS} pairs come near each other"
)]
pub struct TooTangled;

/// Pairs of edges that may still be compared.
#[derive(Debug)]
pub struct PairBudget(Cell<u64>);

impl Default for PairBudget {
    fn default() -> Self {
        Self(Cell::new(MOST_PAIRS))
    }
}

impl PairBudget {
    /// Counts pairs that were compared.
    pub(crate) fn spend(&self, pairs: u64) -> Result<(), TooTangled> {
        let left = self.0.get().checked_sub(pairs);
        self.0.set(left.unwrap_or(0));
        left.map(|_| ()).ok_or(TooTangled)
    }
}

impl Contours {
    /// A place where edges cross, of one contour or of two: there the even-odd rule says something else than the eye. Contours that
    /// only touch do not count.
    pub fn crossing_point(&self, effort: &PairBudget) -> Result<Option<Point>, TooTangled> {
        for edge in self.edges() {
            let bounds = Bounds::around([edge.from, edge.to]);
            let (mut found, mut pairs) = (None, 0);
            self.visit(
                |node| node.meets(bounds),
                |other| {
                    pairs += 1;
                    if (other.contour, other.number) > (edge.contour, edge.number) && found.is_none() {
                        found = cross_at(edge, other);
                    }
                },
            );
            effort.spend(pairs)?;
            if found.is_some() {
                return Ok(found);
            }
        }
        Ok(None)
    }

    /// Whether two areas have more in common than they share along edges nearer than `touch` (m).
    pub(crate) fn overlaps(&self, other: &Self, touch: f64, effort: &PairBudget) -> Result<bool, TooTangled> {
        if !self.bounds().meets(other.bounds()) {
            return Ok(false);
        }
        // The same area twice: no edge runs inside, but the insides do.
        let well_inside =
            |a: &Self, b: &Self| a.points_inside().into_iter().any(|p| b.contains(p) && b.distance_to_edge(p) > touch);
        Ok(self.runs_inside(other, touch, effort)?
            || other.runs_inside(self, touch, effort)?
            || well_inside(self, other)
            || well_inside(other, self))
    }

    /// Whether some piece of this edge runs inside another area.
    fn runs_inside(&self, other: &Self, touch: f64, effort: &PairBudget) -> Result<bool, TooTangled> {
        let inside = |p: Point| other.contains(p) && other.distance_to_edge(p) > touch;
        for points in self.contours() {
            // Whether the last corner is known to lie outside. An edge that meets none of the other lies where it begins.
            let mut outside = false;
            for [a, b] in edges(points) {
                let (mut cuts, mut pairs) = (Vec::new(), 1);
                other.each_near([a, b], touch, |_, f| {
                    pairs += 1;
                    if are_near([a, b], f, touch) {
                        cuts.extend(cuts_of([a, b], f));
                    }
                });
                effort.spend(pairs)?;
                if cuts.is_empty() && outside {
                    continue;
                }
                outside = cuts.is_empty();
                // The middle of each piece between cuts tells.
                cuts.extend([0.0, 1.0]);
                cuts.retain(|t| (0.0..=1.0).contains(t));
                cuts.sort_by(f64::total_cmp);
                let at = |t: f64| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
                if cuts.array_windows().any(|[from, to]| inside(at(0.5 * (from + to)))) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    /// A few points inside: in the middle of the widest stretches at some heights.
    fn points_inside(&self) -> Vec<Point> {
        let Bounds { low, high } = self.bounds();
        (1..16)
            .filter_map(|k| {
                // Not at round shares, where edges tend to lie.
                let y = low[1] + (high[1] - low[1]) * (f64::from(k) + 0.0137) / 16.0;
                let widest = self.spans(y).into_iter().max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
                Some([0.5 * (widest[0] + widest[1]), y])
            })
            .collect()
    }
}

/// Shares of the first edge at which the second one's line meets it and its beginning lies beside it.
fn cuts_of([a, b]: [Point; 2], [c, d]: [Point; 2]) -> [f64; 2] {
    let (u, v, to) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]], [c[0] - a[0], c[1] - a[1]]);
    let square = u[0] * u[0] + u[1] * u[1];
    [(to[0] * v[1] - to[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]), (to[0] * u[0] + to[1] * u[1]) / square]
}

/// Where two edges truly cross, each going through the other.
fn cross_at(e: &Edge, f: &Edge) -> Option<Point> {
    let minus = |a: Point, b: Point| [a[0] - b[0], a[1] - b[1]];
    let cross = |a: Point, b: Point| a[0] * b[1] - a[1] * b[0];
    let (u, v) = (minus(e.to, e.from), minus(f.to, f.from));
    // A share of the lengths below which a corner counts as touching: rounding.
    let touch = 1e-9 * u[0].hypot(u[1]) * v[0].hypot(v[1]);
    let (a, b) = (cross(u, minus(f.from, e.from)), cross(u, minus(f.to, e.from)));
    let (c, d) = (cross(v, minus(e.from, f.from)), cross(v, minus(e.to, f.from)));
    let apart = |p: f64, q: f64| (p > touch && q < -touch) || (p < -touch && q > touch);
    (apart(a, b) && apart(c, d)).then(|| {
        let t = a / (a - b);
        [f.from[0] + t * v[0], f.from[1] + t * v[1]]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    }

    fn crossing_point(shape: &Contours) -> Option<Point> {
        shape.crossing_point(&PairBudget::default()).expect("a simple shape")
    }

    fn overlaps(a: &Contours, b: &Contours) -> bool {
        a.overlaps(b, 1e-9, &PairBudget::default()).expect("simple shapes")
    }

    fn star(spikes: u32) -> Contours {
        let corner = |k: u32| {
            let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(spikes)).sin_cos();
            let r = if k.is_multiple_of(2) { 1.0 } else { 0.5 };
            [r * cos, r * sin]
        };
        Contours::new(vec![(0..2 * spikes).map(corner).collect()])
    }

    #[test]
    fn the_work_on_tangled_shapes_is_bounded() {
        // Each spike's box meets those of about a quarter of the others: some 4000^2 / 4 pairs, and as many in one with 20 000 edges as may be compared.
        let effort = PairBudget::default();
        assert_eq!(star(2000).crossing_point(&effort), Ok(None));
        let spent = MOST_PAIRS - effort.0.get();
        assert!((1_000_000..8_000_000).contains(&spent), "{spent}");
        assert_eq!(star(20_000).crossing_point(&effort), Err(TooTangled));
        // What is spent is spent.
        assert_eq!(star(2000).crossing_point(&effort), Err(TooTangled));
        assert_eq!(star(2000).overlaps(&star(2000), 1e-9, &effort), Err(TooTangled));
        // Many corners alone are no trouble: a circle's edges meet their neighbours.
        let circle: Vec<Point> = (0..200_000)
            .map(|k| (std::f64::consts::TAU * f64::from(k) / 200_000.0).sin_cos())
            .map(|(sin, cos)| [cos, sin])
            .collect();
        let effort = PairBudget::default();
        assert_eq!(Contours::new(vec![circle]).crossing_point(&effort), Ok(None));
        assert!(MOST_PAIRS - effort.0.get() < 4_000_000);
    }

    #[test]
    fn a_spike_between_spikes_overlaps_only_when_it_touches_the_inside() {
        let star = star(8);
        // Between two spikes, at an angle of pi/8, corners lie at 0.5: a small square beyond it is free, one across it is not.
        let (sin, cos) = (std::f64::consts::PI / 8.0).sin_cos();
        let at = |r: f64| Contours::new(vec![square(r * cos - 0.02, r * sin - 0.02, 0.04)]);
        assert!(!overlaps(&star, &at(0.6)) && !overlaps(&at(0.6), &star));
        assert!(overlaps(&star, &at(0.5)) && overlaps(&at(0.5), &star));
        assert!(overlaps(&star, &at(0.3)) && overlaps(&at(0.3), &star));
        assert!(overlaps(&star, &star));
    }

    #[test]
    fn crossings_are_found_and_touches_are_none() {
        assert!(crossing_point(&Contours::new(vec![square(0.0, 0.0, 2.0), square(1.0, 1.0, 2.0)])).is_some());
        assert_eq!(crossing_point(&Contours::new(vec![square(0.0, 0.0, 2.0), square(2.0, 0.0, 2.0)])), None);
        let bow = vec![[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]];
        let [x, y] = crossing_point(&Contours::new(vec![bow])).expect("it crosses itself");
        assert!((x - 0.5).abs() < 1e-12 && (y - 0.5).abs() < 1e-12);
    }

    #[test]
    fn areas_overlap_only_with_common_area() {
        let one = |points: Vec<Point>| Contours::new(vec![points]);
        let frame = Contours::new(vec![square(0.0, 0.0, 10.0), square(2.0, 2.0, 6.0)]);
        assert!(overlaps(&frame, &frame));
        assert!(overlaps(&frame, &one(square(1.0, 4.0, 2.0))), "across the hole's edge");
        assert!(!overlaps(&frame, &one(square(2.0, 2.0, 6.0))), "fills the hole");
        assert!(!overlaps(&frame, &one(square(3.0, 3.0, 1.0))), "in the hole");
        assert!(!overlaps(&frame, &one(square(10.0, 0.0, 10.0))), "beside");
        assert!(overlaps(&frame, &one(square(-5.0, -5.0, 30.0))), "around");
        assert!(overlaps(&frame, &one(square(0.5, 0.5, 1.0))), "within");
    }
}
