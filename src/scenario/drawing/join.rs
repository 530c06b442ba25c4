//! Lines and arcs whose ends meet become one contour; contours drawn twice become one.

use super::limits::JOINING_SHARE;
use super::{Contour, Ends};
use motefall_physics::contours::{Bounds, Point, ring_area};
use std::collections::HashMap;

/// Numbers that are equal up to this share of the drawing's extent tell that two contours are the same.
const SAME_SHARE: f64 = 1e-6;

/// Ends in a cell that are too many to look through.
const CROWD: usize = 16;
/// Most contours with the same left edge that are compared with each other: a bound on time.
const MOST_NEIGHBOURS: usize = 500;

/// Diagonal of the box around all contours.
fn extent(contours: &[Contour]) -> f64 {
    Bounds::around(contours.iter().flat_map(|contour| &contour.points).copied()).diagonal()
}

/// An end of a contour: its number, and 0 for the first or 1 for the last point.
type ContourEnd = (usize, usize);

/// Ends of open contours by layer and by the cell they lie in; a cell is as wide as ends may lie apart.
struct OpenEnds<'c> {
    contours: &'c [Contour],
    reach: f64,
    by_cell: HashMap<(usize, [i64; 2]), Vec<ContourEnd>>,
}

impl<'c> OpenEnds<'c> {
    fn new(contours: &'c [Contour], reach: f64) -> Self {
        let mut ends = Self { contours, reach, by_cell: HashMap::new() };
        for (i, contour) in contours.iter().enumerate().filter(|(_, contour)| contour.ends == Ends::Open) {
            for end in [(i, 0), (i, 1)] {
                ends.by_cell.entry((contour.layer, ends.cell(end))).or_default().push(end);
            }
        }
        ends
    }

    fn point(&self, (i, end): ContourEnd) -> Point {
        let points = &self.contours[i].points;
        points[if end == 0 { 0 } else { points.len() - 1 }]
    }

    fn cell(&self, end: ContourEnd) -> [i64; 2] {
        self.point(end).map(|v| (v / self.reach).floor() as i64)
    }

    /// The other end at the same place, if there is exactly one.
    fn only_other(&self, end: ContourEnd) -> Option<ContourEnd> {
        let (at, [x, y]) = (self.point(end), self.cell(end));
        let mut found = None;
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let key = (self.contours[end.0].layer, [x.saturating_add(dx), y.saturating_add(dy)]);
            let list = self.by_cell.get(&key).map_or(&[][..], Vec::as_slice);
            // So many ends in a cell that they must meet in a star: not looked through, which bounds the time.
            if list.len() > CROWD {
                return None;
            }
            for &other in list {
                let there = self.point(other);
                if other != end && (there[0] - at[0]).hypot(there[1] - at[1]) <= self.reach {
                    if found.is_some() {
                        return None;
                    }
                    found = Some(other);
                }
            }
        }
        found
    }

    /// The end that meets this one and no other.
    fn partner(&self, end: ContourEnd) -> Option<ContourEnd> {
        // A partner that sees another partner sits at a meeting of more than two.
        self.only_other(end).filter(|other| self.only_other(*other) == Some(end))
    }

    /// A contour with all that it is joined to, which is taken.
    fn chain(&self, i: usize, taken: &mut [bool]) -> (Vec<Point>, Ends) {
        let mut points = self.contours[i].points.clone();
        // Walks from the last point on; then, unless it came back, from the first.
        for start in [1, 0] {
            let mut at = (i, start);
            while let Some((next, entry)) = self.partner(at) {
                if (next, entry) == (i, 1 - start) {
                    points.pop();
                    // Two lines between the same ends enclose nothing.
                    return if points.len() < 3 {
                        (self.contours[i].points.clone(), Ends::Open)
                    } else {
                        (points, Ends::Closed)
                    };
                }
                if taken[next] {
                    break;
                }
                taken[next] = true;
                let more = &self.contours[next].points;
                if entry == 0 {
                    points.extend_from_slice(&more[1..]);
                } else {
                    points.extend(more.iter().rev().skip(1));
                }
                at = (next, 1 - entry);
            }
            // The second walk goes on from the first end.
            points.reverse();
        }
        (points, Ends::Open)
    }
}

/// Joins open contours of a layer where exactly two ends meet, and closes those whose own ends meet.
pub(super) fn joined(contours: Vec<Contour>) -> Vec<Contour> {
    let reach = JOINING_SHARE * extent(&contours);
    if reach <= 0.0 {
        return contours;
    }
    let ends = OpenEnds::new(&contours, reach);
    let mut taken = vec![false; contours.len()];
    let mut result = Vec::with_capacity(contours.len());
    for (i, contour) in contours.iter().enumerate() {
        if std::mem::replace(&mut taken[i], true) {
            continue;
        }
        result.push(if contour.ends == Ends::Closed {
            contour.clone()
        } else {
            let (points, ends) = ends.chain(i, &mut taken);
            Contour { points, ends, layer: contour.layer }
        });
    }
    result
}

/// What tells a closed contour from others: layer; box, area, length, and first moments over sums that do not depend on where it
/// begins nor on its direction.
fn marks(contour: &Contour) -> [f64; 6] {
    let Bounds { low, high } = Bounds::around(contour.points.iter().copied());
    // The square root of the area, so that all are lengths.
    [low[0], low[1], high[0], high[1], contour.length(), ring_area(&contour.points).abs().sqrt()]
}

/// Leaves out closed contours that stand a second time on the same layer; their number.
pub(crate) fn drop_doubles(contours: &mut Vec<Contour>) -> usize {
    let same = SAME_SHARE * extent(contours);
    let described: Vec<(usize, [f64; 6])> =
        contours.iter().enumerate().filter(|(_, c)| c.ends == Ends::Closed).map(|(i, c)| (i, marks(c))).collect();
    let mut order: Vec<usize> = (0..described.len()).collect();
    order.sort_by(|a, b| {
        let key = |k: usize| (contours[described[k].0].layer, described[k].1[0]);
        let ((layer_a, x_a), (layer_b, x_b)) = (key(*a), key(*b));
        layer_a.cmp(&layer_b).then(x_a.total_cmp(&x_b)).then(a.cmp(b))
    });
    let mut drop = vec![false; contours.len()];
    for (n, &a) in order.iter().enumerate() {
        let (i, marks_a) = &described[a];
        for &b in order[n + 1..].iter().take(MOST_NEIGHBOURS) {
            let (j, marks_b) = &described[b];
            if contours[*i].layer != contours[*j].layer || marks_b[0] - marks_a[0] > same {
                break;
            }
            if !drop[*i] && marks_a.iter().zip(marks_b).all(|(a, b)| (a - b).abs() <= same) {
                drop[*j.max(i)] = true;
            }
        }
    }
    let before = contours.len();
    let mut k = 0;
    contours.retain(|_| {
        k += 1;
        !drop[k - 1]
    });
    before - contours.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open(points: &[Point]) -> Contour {
        Contour { points: points.to_vec(), ends: Ends::Open, layer: 0 }
    }

    #[test]
    fn four_lines_in_any_order_and_direction_make_a_square() {
        let lines = [
            open(&[[0.0, 0.0], [1.0, 0.0]]),
            open(&[[1.0, 1.0], [0.0, 1.0]]),
            open(&[[1.0, 1.0], [1.0, 0.0]]),
            open(&[[0.0, 1.0], [0.0, 0.0]]),
        ];
        let square = joined(lines.to_vec());
        assert_eq!(square.len(), 1);
        assert_eq!((square[0].ends, square[0].points.len()), (Ends::Closed, 4));
        assert!((square[0].length() - 4.0).abs() < 1e-12);
        // Three of them are one open line, in order from end to end.
        let u = joined(vec![lines[1].clone(), lines[2].clone(), lines[3].clone()]);
        assert_eq!((u.len(), u[0].ends, u[0].points.len()), (1, Ends::Open, 4));
        assert!((u[0].length() - 3.0).abs() < 1e-12);
    }

    #[test]
    fn lines_that_meet_in_a_star_and_other_layers_stay_apart() {
        let star = [[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]].map(|p| open(&[[0.0, 0.0], p]));
        assert_eq!(joined(star.to_vec()).len(), 3);
        let mut two = vec![open(&[[0.0, 0.0], [1.0, 0.0]]), open(&[[1.0, 0.0], [1.0, 1.0]])];
        two[1].layer = 1;
        assert_eq!(joined(two).len(), 2);
    }

    #[test]
    fn an_outline_drawn_twice_is_kept_once() {
        let square = |at: f64| Contour {
            points: vec![[at, 0.0], [at + 1.0, 0.0], [at + 1.0, 1.0], [at, 1.0]],
            ends: Ends::Closed,
            layer: 0,
        };
        let mut back = square(0.0);
        back.points.reverse();
        back.points.rotate_left(1);
        let mut contours = vec![square(0.0), square(3.0), back];
        assert_eq!(drop_doubles(&mut contours), 1);
        assert_eq!(contours, vec![square(0.0), square(3.0)]);
    }
}
