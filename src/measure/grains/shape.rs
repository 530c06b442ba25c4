//! Whether what is covered is made of grains at all.

use super::Pieces;
use super::pieces::{bounds, total_turning};
use crate::raster::Raster;

/// Share of the covered area in one piece above which it may be a network.
const LARGEST_PIECE: f64 = 0.5;
/// Filled share of the convex outlines of the parts, cut at narrow necks, below which these are no grains if they make up one piece with
/// holes, and below which they are none however they lie: discs that touch or overlap fill 0.85 to 0.93, ligaments of a sponge 0.64 to 0.73.
/// A choice of ours, see the tests.
const LEAST_SOLID: f64 = 0.82;
const NEVER_SOLID: f64 = 0.74;
/// Filled share of its convex outline from which on a piece that reaches across the picture is a film. Grains that cover so much that they are
/// connected all over leave more gaps, and their outline more notches.
const LEAST_FILM: f64 = 0.85;
/// Parts smaller than so many pixels say nothing of their shape.
const LEAST_AREA: usize = 25;

/// What speaks for a network.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// Share of the covered area that lies in one connected piece.
    pub largest_share: f64,
    /// Pieces less holes (Euler number); those that the frame cuts count in part.
    pub euler_number: i64,
    /// Share of their convex outlines that the parts fill, after cutting at narrow necks; mean by area.
    pub solidity: f64,
    /// Pieces that reach across the picture as a whole, as a solid line does.
    pub(crate) films: Vec<u32>,
    /// Share of the covered area that these hold.
    pub film_share: f64,
}

impl Network {
    /// Whether its parts are not like grains: clearly, or somewhat where one piece holds most of it, with more holes than there are pieces; or
    /// if most of it is a film.
    pub fn is_one(&self) -> bool {
        let is_connected = self.largest_share > LARGEST_PIECE && self.euler_number < 0;
        self.solidity < NEVER_SOLID || is_connected && self.solidity < LEAST_SOLID || self.is_film()
    }

    /// Whether most of what is covered reaches across the picture as a whole.
    pub fn is_film(&self) -> bool {
        self.film_share > LARGEST_PIECE
    }
}

/// Looks at the whole and its parts, cut at narrow necks (`labels`, `count` of them).
pub(crate) fn network(mask: &Raster<bool>, pieces: &Pieces, labels: &Raster<u32>, count: usize) -> Network {
    let covered: usize = pieces.areas.iter().sum();
    let films = films(pieces, labels, count);
    Network {
        largest_share: pieces.largest() as f64 / covered.max(1) as f64,
        euler_number: total_turning(mask).round() as i64,
        solidity: solidity(labels, count),
        film_share: films.iter().map(|film| pieces.areas[*film as usize]).sum::<usize>() as f64 / covered.max(1) as f64,
        films,
    }
}

/// The numbers of pieces that are films: each reaches from one side of the frame to the other, and is solid as a whole or but for what touches it.
fn films(pieces: &Pieces, parts: &Raster<u32>, count: usize) -> Vec<u32> {
    let Pieces { labels, areas } = pieces;
    let bounds = bounds(labels, areas.len() - 1);
    let reaches = |piece: &usize| {
        let [left, right, top, bottom] = bounds[*piece];
        left == 0 && right + 1 == labels.columns || top == 0 && bottom + 1 == labels.rows
    };
    let mut across: Vec<usize> = (1..areas.len()).filter(reaches).collect();
    if across.is_empty() {
        return vec![];
    }
    let mut points = outline_points(labels, areas.len() - 1);
    let mut largest = vec![0usize; areas.len()];
    for (piece, area) in pieces.of_each(parts, count).into_iter().zip(part_areas(parts, count)) {
        largest[piece as usize] = largest[piece as usize].max(area);
    }
    across.retain(|piece| {
        largest[*piece] as f64 >= LEAST_FILM * areas[*piece] as f64
            || areas[*piece] as f64 >= LEAST_FILM * convex_area(&mut points[*piece])
    });
    across.into_iter().map(|piece| piece as u32).collect()
}

/// Pixels of each part by its number; the first entry stands for none.
pub(crate) fn part_areas(labels: &Raster<u32>, count: usize) -> Vec<usize> {
    let mut areas = vec![0usize; count + 1];
    labels.values.iter().filter(|label| **label > 0).for_each(|label| areas[*label as usize] += 1);
    areas
}

/// Mean by area of how much of its convex outline each part fills. Pixels are squares, whose corners make the outline.
fn solidity(labels: &Raster<u32>, count: usize) -> f64 {
    let mut ends = outline_points(labels, count);
    let areas = part_areas(labels, count);
    let (mut filled, mut total) = (0.0, 0.0);
    for (points, area) in ends.iter_mut().zip(&areas).filter(|(_, area)| **area >= LEAST_AREA) {
        let area = *area as f64;
        filled += area * area / convex_area(points);
        total += area;
    }
    if total > 0.0 { filled / total } else { 1.0 }
}

/// Corners of the ends of all rows of each part, by its number.
pub(super) fn outline_points(labels: &Raster<u32>, count: usize) -> Vec<Vec<(i64, i64)>> {
    let mut ends: Vec<Vec<(i64, i64)>> = vec![Vec::new(); count + 1];
    for row in 0..labels.rows {
        let line = labels.row(row);
        let mut start = 0;
        for column in 1..=line.len() {
            if column == line.len() || line[column] != line[start] {
                let label = line[start] as usize;
                if label > 0 {
                    let (x0, x1, y) = (start as i64, column as i64, row as i64);
                    ends[label].extend([(x0, y), (x1, y), (x0, y + 1), (x1, y + 1)]);
                }
                start = column;
            }
        }
    }
    ends
}

/// Area of the convex outline of points.
pub(super) fn convex_area(points: &mut Vec<(i64, i64)>) -> f64 {
    let outline = convex_outline(points);
    let next = |k: usize| outline[(k + 1) % outline.len()];
    let twice: i64 = (0..outline.len()).map(|k| outline[k].0 * next(k).1 - next(k).0 * outline[k].1).sum();
    0.5 * twice as f64
}

/// Corners of the convex outline of points, by monotone chains (Andrew 1979, Another efficient algorithm for convex hulls in two dimensions,
/// Inf. Process. Lett. 9:216).
pub(super) fn convex_outline(points: &mut Vec<(i64, i64)>) -> Vec<(i64, i64)> {
    points.sort_unstable();
    points.dedup();
    let cross = |o: (i64, i64), a: (i64, i64), b: (i64, i64)| (a.0 - o.0) * (b.1 - o.1) - (a.1 - o.1) * (b.0 - o.0);
    let chain = |points: &mut dyn Iterator<Item = (i64, i64)>| {
        let mut chain: Vec<(i64, i64)> = Vec::new();
        for point in points {
            while chain.len() >= 2 && cross(chain[chain.len() - 2], chain[chain.len() - 1], point) <= 0 {
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut outline = chain(&mut points.iter().copied());
    outline.extend(chain(&mut points.iter().rev().copied()));
    outline
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_fill_their_convex_outline() {
        let of = |inside: fn(usize, usize) -> bool| {
            let values = (0..3600).map(|k| u32::from(inside(k % 60, k / 60))).collect();
            solidity(&Raster { columns: 60, rows: 60, values }, 1)
        };
        assert_eq!(of(|x, y| (10..30).contains(&x) && (5..50).contains(&y)), 1.0);
        assert!(of(|x, y| (x as i64 - 30).pow(2) + (y as i64 - 30).pow(2) < 400) > 0.96);
        // Two bars of 40 by 10 that meet at a corner: 700 of a convex outline of 1600 - 30*30/2.
        let angle = of(|x, y| x < 40 && y < 40 && (x < 10 || y < 10));
        assert!((angle - 700.0 / 1150.0).abs() < 0.01, "{angle}");
    }
}
