//! Lines and arcs whose ends meet become one contour; contours drawn twice become one.

use super::limits::JOINING_SHARE;
use super::{Contour, Ends};
use motefall_physics::contours::{Bounds, Point, ring_area};
use std::collections::HashMap;

/// Ends of open contours (number, and 0 for the first or 1 for the last point) by layer and cell.
type EndsByCell = HashMap<(usize, [i64; 2]), Vec<(usize, usize)>>;

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

/// Joins open contours of a layer where exactly two ends meet, and closes those whose own ends meet.
pub fn joined(contours: Vec<Contour>) -> Vec<Contour> {
    let reach = JOINING_SHARE * extent(&contours);
    if reach <= 0.0 {
        return contours;
    }
    // Ends by the cell they lie in; a cell is as wide as ends may lie apart.
    let cell = |p: Point| [0, 1].map(|k| (p[k] / reach).floor() as i64);
    let end_of = |contour: &Contour, end: usize| contour.points[if end == 0 { 0 } else { contour.points.len() - 1 }];
    let mut cells = EndsByCell::new();
    for (i, contour) in contours.iter().enumerate().filter(|(_, contour)| contour.ends == Ends::Open) {
        for end in 0..2 {
            cells.entry((contour.layer, cell(end_of(contour, end)))).or_default().push((i, end));
        }
    }
    // The other end at the same place, if there is exactly one.
    let partner = |i: usize, end: usize| -> Option<(usize, usize)> {
        let at = end_of(&contours[i], end);
        let [x, y] = cell(at);
        let mut found = None;
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let key = (contours[i].layer, [x.saturating_add(dx), y.saturating_add(dy)]);
            let list = cells.get(&key).map_or(&[][..], Vec::as_slice);
            // So many ends in a cell that they must meet in a star: not looked through, which bounds the time.
            if list.len() > CROWD {
                return None;
            }
            for &(j, other) in list {
                let there = end_of(&contours[j], other);
                if (j, other) != (i, end) && (there[0] - at[0]).hypot(there[1] - at[1]) <= reach {
                    if found.is_some() {
                        return None;
                    }
                    found = Some((j, other));
                }
            }
        }
        found
    };
    let mut taken = vec![false; contours.len()];
    let mut result = Vec::with_capacity(contours.len());
    for i in 0..contours.len() {
        if taken[i] {
            continue;
        }
        taken[i] = true;
        if contours[i].ends == Ends::Closed {
            result.push(contours[i].clone());
            continue;
        }
        // Walks from one end on; then, unless it came back, from the other.
        let mut points = contours[i].points.clone();
        let mut ends = Ends::Open;
        for start in [1, 0] {
            let (mut at, mut end) = (i, start);
            while let Some((next, entry)) = partner(at, end) {
                // A partner that sees another partner sits at a meeting of more than two.
                if partner(next, entry) != Some((at, end)) {
                    break;
                }
                if next == i && entry == 1 - start {
                    ends = Ends::Closed;
                    break;
                }
                if taken[next] {
                    break;
                }
                taken[next] = true;
                let more = &contours[next].points;
                if entry == 0 {
                    points.extend_from_slice(&more[1..]);
                } else {
                    points.extend(more.iter().rev().skip(1));
                }
                (at, end) = (next, 1 - entry);
            }
            if ends == Ends::Closed {
                break;
            }
            // The second walk goes on from the first end.
            points.reverse();
        }
        if ends == Ends::Closed {
            points.pop();
            if points.len() < 3 {
                ends = Ends::Open;
                points = contours[i].points.clone();
            }
        }
        result.push(Contour { points, ends, layer: contours[i].layer });
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
pub fn drop_doubles(contours: &mut Vec<Contour>) -> usize {
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
