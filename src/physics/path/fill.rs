//! Areas as parallel strokes, and the order in which strokes are drawn.

use crate::contours::{Bounds, Point, turned};
use crate::inputs::{EdgeStroke, Filled, Turns};

/// Longest way from the end of one stroke to the next that is drawn with the shutter open, in spacings: the edge may slant by 66
/// degrees to the strokes.
pub(super) const LONGEST_TURN: f64 = 2.5;
/// Most pieces that are put in the order of the shortest way; more are left in the order in which they were found.
const MOST_ORDERED: usize = 5000;

/// Strokes beside each other, each over the one before: the piece of an area that is filled back and forth.
#[derive(Debug, Clone, Default)]
struct Meander {
    /// Begin and end along x, and y.
    lines: Vec<([f64; 2], f64)>,
}

/// Strokes over a band of a height.
pub fn count_over(height: f64, spacing: f64) -> usize {
    // Not one line too many for a height that is a whole number of spacings.
    ((height / spacing) * (1.0 - 1e-12)).ceil().max(1.0) as usize
}

/// Heights of strokes over a band: at an even spacing, centred, as many as are needed.
pub(crate) fn heights(low: f64, high: f64, spacing: f64) -> Vec<f64> {
    let height = high - low;
    if !(height > 0.0 && height.is_finite() && spacing > 0.0) {
        return Vec::new();
    }
    let lines = count_over(height, spacing);
    (0..lines).map(|k| 0.5 * (low + high) + (k as f64 - 0.5 * (lines as f64 - 1.0)) * spacing).collect()
}

/// Cuts an area into meanders: a stroke goes on in the next one as long as neither splits or merges.
fn meanders(filled: &Filled, spacing: f64) -> Vec<Meander> {
    let flat = filled.area.placed(-filled.angle, [0.0; 2]);
    let Bounds { low, high } = flat.bounds();
    let mut meanders: Vec<Meander> = Vec::new();
    // The strokes of the line before, with their meanders.
    let mut before: Vec<([f64; 2], usize)> = Vec::new();
    for y in heights(low[1], high[1], spacing) {
        let spans = flat.spans(y);
        let meet = |a: [f64; 2], b: [f64; 2]| a[0] < b[1] && b[0] < a[1];
        // Both lists are in order along x, so that partners are found by walking along both.
        let mut now = Vec::with_capacity(spans.len());
        for span in &spans {
            let first = before.partition_point(|(other, _)| other[1] <= span[0]);
            let mut partners = before[first..].iter().take_while(|(other, _)| meet(*other, *span));
            let meander = match (partners.next(), partners.next()) {
                (Some((other, meander)), None) => {
                    let first = spans.partition_point(|own| own[1] <= other[0]);
                    let shared = spans[first..].iter().take_while(|own| meet(**own, *other)).count();
                    (shared == 1).then_some(*meander)
                }
                _ => None,
            };
            let meander = meander.unwrap_or_else(|| {
                meanders.push(Meander::default());
                meanders.len() - 1
            });
            meanders[meander].lines.push((*span, y));
            now.push((*span, meander));
        }
        before = now;
    }
    meanders
}

/// The strokes of a meander, begun with its first or last line and at its left or right end, in the directions back and forth.
fn directed(meander: &Meander, from_last: bool, from_right: bool) -> Vec<[Point; 2]> {
    let direct = |(k, (span, y)): (usize, ([f64; 2], f64))| {
        let backward = (k % 2 == 1) != from_right;
        let [a, b] = if backward { [span[1], span[0]] } else { span };
        [[a, y], [b, y]]
    };
    let lines = meander.lines.iter().copied();
    if from_last { lines.rev().enumerate().map(direct).collect() } else { lines.enumerate().map(direct).collect() }
}

fn gap(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Strokes that fill an area at a spacing (m), each drawn with the shutter open, in the order in which they are drawn.
pub(crate) fn fill(filled: &Filled, spacing: f64) -> Vec<Vec<Point>> {
    let mut strokes = Vec::new();
    if filled.edge == EdgeStroke::Along {
        let rings = filled.area.contours().iter().map(|points| {
            let mut ring = points.clone();
            ring.extend(points.first());
            ring
        });
        strokes = in_short_order(rings.collect());
    }
    let meanders = meanders(filled, spacing);
    let mut here = strokes.last().and_then(|stroke| stroke.last()).map(|p| turned(*p, -filled.angle));
    let mut left: Vec<usize> = (0..meanders.len()).collect();
    while !left.is_empty() {
        // The entry nearest to where the nozzle is.
        let mut best = (f64::INFINITY, 0, false, false);
        let looked_at = if meanders.len() > MOST_ORDERED { 1 } else { left.len() };
        for (k, meander) in left[..looked_at].iter().map(|meander| &meanders[*meander]).enumerate() {
            let (Some(first), Some(last)) = (meander.lines.first(), meander.lines.last()) else { continue };
            for (from_last, from_right) in [(false, false), (false, true), (true, false), (true, true)] {
                let (span, y) = if from_last { last } else { first };
                let way = here.map_or(0.0, |here| gap(here, [span[usize::from(from_right)], *y]));
                if way < best.0 {
                    best = (way, k, from_last, from_right);
                }
            }
        }
        let meander = &meanders[left.remove(best.1)];
        let mut open: Vec<Point> = Vec::new();
        for [from, to] in directed(meander, best.2, best.3) {
            let goes_on =
                filled.turns == Turns::Open && open.last().is_some_and(|end| gap(*end, from) <= LONGEST_TURN * spacing);
            if !goes_on && !open.is_empty() {
                strokes.push(std::mem::take(&mut open).into_iter().map(|p| turned(p, filled.angle)).collect());
            }
            open.extend([from, to]);
            here = Some(to);
        }
        if !open.is_empty() {
            strokes.push(open.into_iter().map(|p| turned(p, filled.angle)).collect());
        }
    }
    strokes
}

/// Lines in an order with short ways between them, turned round where that is shorter: always the nearest end next.
pub(crate) fn in_short_order(mut lines: Vec<Vec<Point>>) -> Vec<Vec<Point>> {
    lines.retain(|line| !line.is_empty());
    if lines.len() > MOST_ORDERED {
        return lines;
    }
    let mut ordered: Vec<Vec<Point>> = Vec::with_capacity(lines.len());
    while !lines.is_empty() {
        let here = ordered.last().and_then(|line| line.last()).copied();
        let mut best = (f64::INFINITY, 0, false);
        for (k, line) in lines.iter().enumerate() {
            for (end, backward) in [(line[0], false), (line[line.len() - 1], true)] {
                let way = here.map_or(0.0, |here| gap(here, end));
                if way < best.0 {
                    best = (way, k, backward);
                }
            }
        }
        let mut line = lines.remove(best.1);
        if best.2 {
            line.reverse();
        }
        ordered.push(line);
    }
    ordered
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contours::Contours;
    use crate::inputs::Spacing;
    use proptest::prelude::*;
    use std::sync::Arc;

    fn square(x: f64, y: f64, side: f64) -> Vec<Point> {
        vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    }

    fn filled(contours: Vec<Vec<Point>>, spacing: f64, angle: f64, turns: Turns) -> Filled {
        let spacing = Spacing::Given(spacing);
        let area = Arc::new(Contours::new(contours));
        Filled { area, spacing, angle, turns, edge: EdgeStroke::Without, source: None }
    }

    fn length(strokes: &[Vec<Point>]) -> f64 {
        strokes.iter().flat_map(|stroke| stroke.windows(2)).map(|p| gap(p[0], p[1])).sum()
    }

    #[test]
    fn a_square_is_one_meander_or_single_lines() {
        // 10 x 10 at a spacing of 2: lines at 1, 3, 5, 7, 9, and four turns of 2.
        let open = fill(&filled(vec![square(0.0, 0.0, 10.0)], 2.0, 0.0, Turns::Open), 2.0);
        assert_eq!(open.len(), 1);
        assert_eq!(open[0][..4], [[0.0, 1.0], [10.0, 1.0], [10.0, 3.0], [0.0, 3.0]]);
        assert!((length(&open) - 58.0).abs() < 1e-9);
        let shut = fill(&filled(vec![square(0.0, 0.0, 10.0)], 2.0, 0.0, Turns::Shut), 2.0);
        assert_eq!(shut.len(), 5);
        assert_eq!(shut[1], [[10.0, 3.0], [0.0, 3.0]]);
        // Upright: the same, turned.
        let upright = fill(&filled(vec![square(0.0, 0.0, 10.0)], 2.0, std::f64::consts::FRAC_PI_2, Turns::Shut), 2.0);
        assert_eq!(upright.len(), 5);
        assert!(upright.iter().all(|line| (line[0][0] - line[1][0]).abs() < 1e-9));
    }

    #[test]
    fn a_hole_is_left_out_and_pieces_follow_each_other() {
        // A frame of 10 with a hole of 4: lines at 0.5 ... 9.5, of which the four at 3.5 ... 6.5 are cut into two of 3.
        let frame = filled(vec![square(0.0, 0.0, 10.0), square(3.0, 3.0, 4.0)], 1.0, 0.0, Turns::Shut);
        let strokes = fill(&frame, 1.0);
        assert_eq!(strokes.len(), 6 + 8);
        assert!((length(&strokes) - (60.0 + 24.0)).abs() < 1e-9);
        let middles = strokes.iter().map(|s| [0.5 * (s[0][0] + s[1][0]), 0.5 * (s[0][1] + s[1][1])]);
        assert!(middles.into_iter().all(|p| frame.area.contains(p)));
        // Four meanders: below, left, right, above. The ways between pieces are at most a spacing within a meander, and three longer ones.
        let ways = strokes.windows(2).filter(|pair| gap(pair[0][1], pair[1][0]) > 1.0 + 1e-9).count();
        assert!(ways <= 3, "{ways}");
        let open = fill(&Filled { turns: Turns::Open, edge: EdgeStroke::Along, ..frame }, 1.0);
        assert_eq!(open.len(), 2 + 4);
        assert_eq!(open[0].first(), open[0].last());
    }

    #[test]
    fn lines_are_taken_nearest_first_and_turned_round() {
        let lines = vec![vec![[0.0, 0.0], [1.0, 0.0]], vec![[9.0, 0.0], [5.0, 0.0]], vec![[3.0, 0.0], [2.0, 0.0]]];
        let ordered = in_short_order(lines);
        assert_eq!(ordered, [[[0.0, 0.0], [1.0, 0.0]], [[2.0, 0.0], [3.0, 0.0]], [[5.0, 0.0], [9.0, 0.0]]]);
    }

    proptest! {
        /// Total length times spacing is the area, by the midpoint rule: to half a spacing along the whole edge.
        #[test]
        fn the_length_of_the_lines_times_their_spacing_is_the_area(
            radii in proptest::collection::vec(0.7..1.0f64, 5..40), angle in 0.0..6.3f64,
        ) {
            let n = radii.len() as f64;
            let star: Vec<Point> = radii.iter().enumerate().map(|(k, r)| {
                let (sin, cos) = (std::f64::consts::TAU * k as f64 / n).sin_cos();
                [r * cos, r * sin]
            }).collect();
            let shape = filled(vec![star, square(-0.2, -0.2, 0.4)], 0.01, angle, Turns::Shut);
            let strokes = fill(&shape, 0.01);
            let covered = length(&strokes) * 0.01;
            prop_assert!((covered / shape.area.area() - 1.0).abs() < 0.02, "{} {}", covered, shape.area.area());
            // Every line lies inside: its ends on the edge, its middle within.
            for stroke in &strokes {
                prop_assert!(stroke.iter().all(|p| shape.area.distance_to_edge(*p) < 1e-9));
            }
        }
    }
}
