//! What makes a polygon useless as the outline of an area.

use super::{Contours, PairBudget, Point, TOUCH, TooTangled, are_near, edges, from_segment};

/// What makes a polygon useless: numbers (from 1) of two edges that meet where they should not, or a corner that is
/// given twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PolygonFault {
    /// Edges that cross or touch; edge `i` runs from corner `i` to the next.
    Crossing(usize, usize),
    /// Two equal corners in a row.
    Repeated(usize),
}

/// Looks for the first fault of a polygon.
pub fn polygon_fault(polygon: &[Point], effort: &PairBudget) -> Result<Option<PolygonFault>, TooTangled> {
    let all: Vec<[Point; 2]> = edges(polygon).collect();
    let n = all.len();
    if let Some(i) = all.iter().position(|[a, b]| (a[0] - b[0]).hypot(a[1] - b[1]) <= TOUCH) {
        return Ok(Some(PolygonFault::Repeated(i + 1)));
    }
    let meet = |i: usize, j: usize| {
        let (e, f) = (all[i], all[j]);
        // Neighbours share a corner: they may only not fold back onto each other.
        if j == i + 1 {
            folds(f[0], e[0], f[1])
        } else if i == 0 && j == n - 1 {
            folds(e[0], e[1], f[0])
        } else {
            are_near(e, f, TOUCH)
        }
    };
    let tree = Contours::new(vec![polygon.to_vec()]);
    for (i, edge) in all.iter().enumerate() {
        let (mut first, mut pairs) = (n, 1);
        tree.each_near(*edge, TOUCH, |j, _| {
            pairs += 1;
            if i < j && j < first && meet(i, j) {
                first = j;
            }
        });
        effort.spend(pairs)?;
        if first < n {
            return Ok(Some(PolygonFault::Crossing(i + 1, first + 1)));
        }
    }
    Ok(None)
}

/// Whether two edges from a shared corner lie on each other.
fn folds(shared: Point, e: Point, f: Point) -> bool {
    let [u, v] = [e, f].map(|p| [p[0] - shared[0], p[1] - shared[1]]);
    let lies_on = |p: Point, end: Point| {
        let [x, y] = from_segment(p, shared, end);
        x.hypot(y) <= TOUCH
    };
    u[0] * v[0] + u[1] * v[1] > 0.0 && (lies_on(e, f) || lies_on(f, e))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault_of(polygon: &[Point]) -> Option<PolygonFault> {
        polygon_fault(polygon, &PairBudget::default()).expect("a simple polygon")
    }

    #[test]
    fn crossed_and_folded_polygons_are_found() {
        assert_eq!(fault_of(&[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]), None);
        assert_eq!(fault_of(&[[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]]), Some(PolygonFault::Crossing(1, 3)));
        assert_eq!(fault_of(&[[0.0, 0.0], [0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), Some(PolygonFault::Repeated(1)));
        assert_eq!(fault_of(&[[0.0, 0.0], [2.0, 0.0], [1.0, 0.0]]), Some(PolygonFault::Crossing(1, 2)));
    }
}
