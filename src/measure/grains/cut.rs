//! Grains that lie along each other have no narrow neck, but a notch at each end of their contact; those on others, none, but are brighter.

use super::pieces::{Bounds, bounds, grown};
use super::shape::{convex_outline, outline_points};
use super::split::{LARGEST_NECK, numbered};
use super::{Joined, Pieces, inside_distance, without_specks};
use crate::ground::smoothed;
use crate::raster::Raster;

/// Least depth of each of two notches, over the length of the cut between them: equal discs with the largest neck have these.
const LEAST_NOTCH: f64 = 0.5 * (1.0 / LARGEST_NECK as f64 - 1.0);
/// The same in pixels: twice what the steps of a straight outline make, 0.7 pixels.
const LEAST_DEPTH: f64 = 1.5;
/// Smoothing of an outline, in standard deviations of the blur: both together are 1.2 times the blur. A choice of ours, made with a picture of
/// cell nuclei; 0.5 leaves more ragged outlines, 1 fills notches.
const FINE: f64 = 0.7;
/// Share of a grain's places that are fainter than its brightest part.
const BRIGHT: f64 = 0.9;
/// Reach of a blurred edge, in standard deviations.
const EDGE: f64 = 2.0;
/// Half the width of a cut, pixels: no way across is left open.
const HALF_CUT: f64 = 0.75;
/// Radius of the largest disc in each part, over the length of the cut, below which it is a ragged outline: halves of equal grains 2.5 times as
/// long as wide that lie side by side have 0.3 or more.
const LEAST_BODY: f64 = 0.25;
/// The same over that of the other part, of bright and faint ones, too: smaller grains on larger ones have necks, by which they were taken apart before.
const LEAST_LIKE: f64 = 0.25;
/// Points of the way along a cut that are looked at, for each pixel.
const LOOKS: f64 = 2.0;

/// Grains taken apart where a part is far brighter than others, and cut from notch to notch, as long as there are two that are deep against the way
/// between them. Nothing finer than the blur (standard
/// deviation, pixels) is a notch; no part is smaller than `least` pixels.
///
/// The depth of a notch is that below the convex outline.
pub(crate) fn cut_further(
    (mut labels, mut count): (Raster<u32>, usize),
    share: &Raster<f32>,
    least: usize,
    blur: f64,
) -> (Raster<u32>, usize) {
    let numbered_bounds = bounds(&labels, count).into_iter().enumerate().skip(1);
    let mut open: Vec<(u32, Bounds)> = numbered_bounds.map(|(label, bounds)| (label as u32, bounds)).collect();
    while let Some((label, bounds)) = open.pop() {
        let piece = Piece::of(&labels, label, bounds, blur);
        let Some((parts, number)) = piece.bright_on_faint(share, least).or_else(|| piece.cut_in_two(least)) else {
            continue;
        };
        open.push((label, bounds));
        for part in 2..=number {
            count += 1;
            let places = parts.values.iter().enumerate().filter(|(_, found)| **found == part);
            places.for_each(|(place, _)| labels.values[piece.in_picture(place)] = count as u32);
            open.push((count as u32, bounds));
        }
    }
    numbered(labels, count + 1)
}

/// A grain by itself.
struct Piece {
    mask: Raster<bool>,
    /// Without what is finer than the blur, and without holes.
    smooth: Raster<bool>,
    corner: [i64; 2],
    columns: usize,
    blur: f64,
}

/// A place on the outline below the convex one.
struct Notch {
    at: [f64; 2],
    depth: f64,
}

impl Piece {
    fn of(labels: &Raster<u32>, label: u32, [left, right, top, bottom]: Bounds, blur: f64) -> Self {
        let rim = (3.0 * blur).ceil() as i64 + 1;
        let corner = [left as i64 - rim, top as i64 - rim];
        let (columns, rows) = (right - left + 1 + 2 * rim as usize, bottom - top + 1 + 2 * rim as usize);
        let mut mask = Raster::filled(columns, rows, false);
        for row in top..=bottom {
            for column in left..=right {
                let place = (row as i64 - corner[1]) as usize * columns + (column as i64 - corner[0]) as usize;
                mask.values[place] = labels.values[row * labels.columns + column] == label;
            }
        }
        let soft = smoothed(&mask.map(|inside| f32::from(u8::from(inside))), FINE * blur);
        let ground = Pieces::of(&soft.map(|v| v > 0.5), false, Joined::BySides);
        let smooth = ground.labels.map(|piece| piece != 1);
        Self { mask, smooth, corner, columns: labels.columns, blur }
    }

    fn in_picture(&self, place: usize) -> usize {
        let (column, row) = ((place % self.mask.columns) as i64, (place / self.mask.columns) as i64);
        (row + self.corner[1]) as usize * self.columns + (column + self.corner[0]) as usize
    }

    /// The parts, 1 and 2, if it is cut from notch to notch: where the cut is shortest over what it would be if the notches were filled.
    fn cut_in_two(&self, least: usize) -> Option<(Raster<u32>, u32)> {
        let notches = self.notches();
        let mut cuts = Vec::new();
        for (k, a) in notches.iter().enumerate() {
            for b in &notches[..k] {
                let length = length(a.at, b.at);
                if a.depth.min(b.depth) >= LEAST_NOTCH * length && self.holds(a.at, b.at, length) {
                    cuts.push((length / (length + a.depth + b.depth), [a.at, b.at]));
                }
            }
        }
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
        cuts.iter().find_map(|(_, ends)| self.cut(*ends, least))
    }

    /// The parts by their numbers from 1 on, if one is so bright that others are below midway between it and the ground. What its blurred edge
    /// reaches is none of them.
    fn bright_on_faint(&self, share: &Raster<f32>, least: usize) -> Option<(Raster<u32>, u32)> {
        let places = || (0..self.mask.area()).filter(|place| self.mask.values[*place]);
        let mut values: Vec<f32> = places().map(|place| share.values[self.in_picture(place)]).collect();
        let bright = (values.len() as f64 * BRIGHT) as usize;
        let midway = 0.5 * *values.select_nth_unstable_by(bright, f32::total_cmp).1;
        let mut core = self.mask.map(|_| false);
        places().for_each(|place| core.values[place] = share.values[self.in_picture(place)] > midway);
        let core = without_specks(&core, least);
        let beyond = EDGE * self.blur;
        let mut rest = inside_distance(&core).map(|distance| -f64::from(distance) >= beyond);
        rest.values.iter_mut().zip(&self.mask.values).for_each(|(rest, inside)| *rest &= inside);
        let pieces = Pieces::of(&without_specks(&rest, least), true, Joined::BySides);
        let rest_depths = depths(&pieces.labels, pieces.areas.len() - 1);
        // Half of the blurred edge would be theirs.
        let least_deep = LEAST_LIKE * depths(&core.map(u32::from), 1)[1] - 0.5 * beyond;
        let is_grain = |piece: &usize| {
            let (area, depth) = (pieces.areas[*piece], rest_depths[*piece]);
            area >= least && depth >= least_deep.max(self.blur)
        };
        let faint: Vec<usize> = (1..pieces.areas.len()).filter(is_grain).collect();
        // What is faint all around is a glow. The corner of the rim lies outside.
        let outside = Pieces::of(&rest, false, Joined::BySides).labels;
        let is_open = core.values.iter().zip(&outside.values).any(|(core, piece)| *core && *piece == 1);
        if faint.is_empty() || !is_open {
            return None;
        }
        let number = |piece: u32| faint.iter().position(|other| *other == piece as usize).map_or(0, |k| k as u32 + 2);
        let mut parts = pieces.labels.map(number);
        parts.values.iter_mut().zip(&core.values).filter(|(_, core)| **core).for_each(|(part, _)| *part = 1);
        Some((self.filled(parts), faint.len() as u32 + 1))
    }

    /// The deepest places of the outline around them.
    fn notches(&self) -> Vec<Notch> {
        let labels = self.smooth.map(u32::from);
        let mut points = outline_points(&labels, 1).swap_remove(1);
        if points.is_empty() {
            return vec![];
        }
        let outline = convex_outline(&mut points);
        let edges: Vec<_> = (0..outline.len()).map(|k| (outline[k], outline[(k + 1) % outline.len()])).collect();
        let depth = |&(x, y): &(i64, i64)| {
            let below = |&((ax, ay), (bx, by)): &((i64, i64), (i64, i64))| {
                let across = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
                across.abs() as f64 / ((bx - ax) as f64).hypot((by - ay) as f64)
            };
            edges.iter().map(below).fold(f64::MAX, f64::min)
        };
        let mut all: Vec<Notch> = points
            .iter()
            .map(|point| Notch { at: [point.0 as f64, point.1 as f64], depth: depth(point) })
            .filter(|notch| notch.depth >= LEAST_DEPTH)
            .collect();
        all.sort_by(|a, b| b.depth.total_cmp(&a.depth));
        let mut kept: Vec<Notch> = Vec::new();
        for notch in all {
            let is_near =
                |other: &Notch| (other.at[0] - notch.at[0]).hypot(other.at[1] - notch.at[1]) < other.depth.max(2.0);
            if !kept.iter().any(is_near) {
                kept.push(notch);
            }
        }
        kept
    }

    /// Whether the way from one notch to another lies inside.
    fn holds(&self, from: [f64; 2], to: [f64; 2], length: f64) -> bool {
        let looks = (LOOKS * length).ceil() as usize;
        // The first and the last pixel of the way are the outline.
        let is_inside = |k: usize| {
            let part = k as f64 / looks as f64;
            let [x, y] = [0, 1].map(|axis| from[axis] + part * (to[axis] - from[axis]));
            part.min(1.0 - part) * length < 1.0 || self.smooth.at(x as usize, y as usize)
        };
        (1..=looks).all(is_inside)
    }

    /// The two parts that a cut leaves, if both are large enough.
    fn cut(&self, ends: [[f64; 2]; 2], least: usize) -> Option<(Raster<u32>, u32)> {
        let mut apart = self.mask.clone();
        for (place, inside) in apart.values.iter_mut().enumerate() {
            let (column, row) = (place % self.mask.columns, place / self.mask.columns);
            // Beyond a notch, the outline is ragged.
            *inside &= !is_near([column as f64 + 0.5, row as f64 + 0.5], ends, self.blur + 1.0);
        }
        let pieces = Pieces::of(&apart, true, Joined::BySides);
        let mut order: Vec<usize> = (1..pieces.areas.len()).collect();
        order.sort_by_key(|piece| std::cmp::Reverse(pieces.areas[*piece]));
        let [first, second, ..] = order[..] else { return None };
        if pieces.areas[second] < least {
            return None;
        }
        let number = |piece: u32| u32::from(piece as usize == first) + 2 * u32::from(piece as usize == second);
        let parts = pieces.labels.map(number);
        let depths = depths(&parts, 2);
        let (small, large) = (depths[1].min(depths[2]), depths[1].max(depths[2]));
        let is_body = small >= (LEAST_BODY * length(ends[0], ends[1])).max(LEAST_LIKE * large);
        is_body.then(|| (self.filled(parts), 2))
    }

    /// Parts that go on until they fill the grain.
    fn filled(&self, parts: Raster<u32>) -> Raster<u32> {
        grown(parts, usize::MAX, |place| self.mask.values[place])
    }
}

fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Whether a place lies on the way between two ends, or so far beyond one.
fn is_near(at: [f64; 2], [from, to]: [[f64; 2]; 2], beyond: f64) -> bool {
    let length = length(from, to);
    let along = [0, 1].map(|axis| (to[axis] - from[axis]) / length);
    let [x, y] = [at[0] - from[0], at[1] - from[1]];
    let (way, off) = (x * along[0] + y * along[1], x * along[1] - y * along[0]);
    off.abs() <= HALF_CUT && (-beyond..=length + beyond).contains(&way)
}

/// Radius of the largest disc in each of some parts, by their numbers.
fn depths(parts: &Raster<u32>, count: usize) -> Vec<f64> {
    let mut depths = vec![0.0f64; count + 1];
    for (place, depth) in inside_distance(&parts.map(|part| part > 0)).values.into_iter().enumerate() {
        let deepest = &mut depths[parts.values[place] as usize];
        *deepest = deepest.max(f64::from(depth));
    }
    depths
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ellipses of half axes 24 by 10, upright, each at a column and of a brightness; the last one on top.
    fn found(ellipses: &[(f64, f32)]) -> (Raster<u32>, usize) {
        let all: Vec<_> = ellipses.iter().map(|(at, bright)| (*at, *bright, [10.0, 24.0])).collect();
        found_of(&all)
    }

    /// The same with half axes.
    fn found_of(ellipses: &[(f64, f32, [f64; 2])]) -> (Raster<u32>, usize) {
        let mut share = Raster::filled(90, 70, 0.0f32);
        for (k, value) in share.values.iter_mut().enumerate() {
            let (x, y) = ((k % 90) as f64, (k / 90) as f64 - 35.0);
            for (at, bright, [across, along]) in ellipses {
                if ((x - at) / across).powi(2) + (y / along).powi(2) <= 1.0 {
                    *value = *bright;
                }
            }
        }
        cut_further((share.map(|v| u32::from(v > 0.5)), 1), &share, 6, 1.0)
    }

    #[test]
    fn ellipses_along_each_other_are_cut_between() {
        assert_eq!(found(&[(40.0, 1.0)]).1, 1);
        let (labels, count) = found(&[(35.0, 1.0), (53.0, 1.0)]);
        assert_eq!(
            (count, labels.at(40, 35) == labels.at(30, 35), labels.at(48, 35) == labels.at(40, 35)),
            (2, true, false)
        );
        // No notch is deep when they lie on each other for the most part.
        assert_eq!(found(&[(38.0, 1.0), (42.0, 1.0)]).1, 1);
    }

    #[test]
    fn a_bright_grain_on_a_faint_one_is_a_grain() {
        // Of one brightness they have no deep notches.
        assert_eq!(found(&[(38.0, 1.0), (46.0, 1.0)]).1, 1);
        assert_eq!(found(&[(38.0, 1.0), (46.0, 3.0)]).1, 2);
        // One that is all around is a glow.
        assert_eq!(found_of(&[(40.0, 1.0, [20.0, 20.0]), (40.0, 3.0, [11.0, 11.0])]).1, 1);
        // Less than twice as bright is relief.
        assert_eq!(found(&[(38.0, 1.0), (46.0, 1.5)]).1, 1);
    }
}
