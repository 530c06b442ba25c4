//! Grains whose relief leaves dark places within them.

use super::shape::{convex_area, outline_points};
use super::{Joined, Pieces};
use crate::raster::Raster;

/// Filled share of its convex outline from which on a piece with its holes filled is one grain. Rings of discs that touch fill 0.9 at most.
const SOLID: f64 = 0.92;
/// Fewest pieces, and least share of the covered area in pieces that are so solid, in a picture of single grains.
const FEWEST: usize = 8;
const LEAST_SHARE: f64 = 0.8;

/// Share of the solid pieces with holes from which on grains have relief as a rule, so that necks tell nothing of them.
const MOSTLY: f64 = 0.5;

/// Fills the holes of pieces that are single grains with relief, and gives the places that make up each of these: where most of what is covered
/// lies in several solid pieces, a hole in one is no ground between grains, and if most of them have one, slits that reach an edge are
/// none either.
pub(crate) fn fill_relief(mask: &mut Raster<bool>, pieces: &Pieces) -> Vec<Vec<usize>> {
    let holes = holes(mask, pieces);
    let points = outline_points(&pieces.labels, pieces.areas.len() - 1);
    let is_solid = |(piece, mut points): (usize, Vec<(i64, i64)>)| {
        let area = pieces.areas[piece] + holes[piece].len();
        !points.is_empty() && area as f64 >= SOLID * convex_area(&mut points)
    };
    let solid: Vec<bool> = points.into_iter().enumerate().map(is_solid).collect();
    let covered: usize = pieces.areas.iter().sum();
    let in_solid: usize = pieces.areas.iter().zip(&solid).filter(|(_, solid)| **solid).map(|(area, _)| area).sum();
    let count = |is_so: &dyn Fn(usize) -> bool| (1..solid.len()).filter(|k| solid[*k] && is_so(*k)).count();
    let (all, with_holes) = (count(&|_| true), count(&|piece| !holes[piece].is_empty()));
    if with_holes == 0 || all < FEWEST || (in_solid as f64) < LEAST_SHARE * covered as f64 {
        return vec![];
    }
    let is_rule = with_holes as f64 >= MOSTLY * all as f64;
    let is_whole: Vec<bool> = (0..solid.len()).map(|k| solid[k] && (is_rule || !holes[k].is_empty())).collect();
    holes.iter().zip(&is_whole).filter(|(_, whole)| **whole).flat_map(|(places, _)| places).for_each(|place| {
        mask.values[*place] = true;
    });
    // What lies within a hole is now part of the grain around it.
    let filled = Pieces::of(mask, true, Joined::ByCorners);
    let mut grain_of = vec![false; filled.areas.len()];
    for (piece, now) in pieces.labels.values.iter().zip(&filled.labels.values) {
        grain_of[*now as usize] |= is_whole[*piece as usize];
    }
    let mut grains = vec![vec![]; filled.areas.len()];
    for (place, piece) in filled.labels.values.iter().enumerate().filter(|(_, piece)| grain_of[**piece as usize]) {
        grains[*piece as usize].push(place);
    }
    grains.retain(|grain| !grain.is_empty());
    grains
}

/// Places of the holes in each piece. Those that the frame cuts are none.
fn holes(mask: &Raster<bool>, pieces: &Pieces) -> Vec<Vec<usize>> {
    let ground = Pieces::of(mask, false, Joined::BySides);
    let mut owner = vec![None; ground.areas.len()];
    for (place, label) in ground.labels.values.iter().enumerate().filter(|(_, label)| **label > 0) {
        let (column, row) = (place % mask.columns, place / mask.columns);
        let is_at_frame = column == 0 || row == 0 || column + 1 == mask.columns || row + 1 == mask.rows;
        let owner = &mut owner[*label as usize];
        if is_at_frame {
            *owner = Some(0);
        } else if owner.is_none() {
            // The first place of a hole has the piece around it on its left.
            *owner = Some(pieces.labels.values[place - 1]);
        }
    }
    let mut holes = vec![vec![]; pieces.areas.len()];
    for (place, label) in ground.labels.values.iter().enumerate() {
        if let Some(piece) = owner[*label as usize].filter(|piece| *label > 0 && *piece > 0) {
            holes[piece as usize].push(place);
        }
    }
    holes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten discs in two rows, each with a slit within, or with a slit from its middle to beyond its edge.
    fn discs(reach: i64) -> Raster<bool> {
        let mut mask = Raster::filled(200, 80, false);
        for (k, covered) in mask.values.iter_mut().enumerate() {
            let (x, y) = ((k % 200 % 40) as i64 - 20, (k / 200 % 40) as i64 - 20);
            *covered = x * x + y * y < 225 && !(x.abs() < 2 && y > -8 && y < reach);
        }
        mask
    }

    #[test]
    fn slits_within_are_filled_and_ground_is_not() {
        let mut mask = discs(8);
        let pieces = Pieces::of(&mask, true, Joined::ByCorners);
        let grains = fill_relief(&mut mask, &pieces);
        assert_eq!((grains.len(), pieces.areas.len()), (10, 11));
        // 3 columns by 15 rows.
        assert_eq!(mask, discs(-8));
        assert!(grains.iter().zip(&pieces.areas[1..]).all(|(grain, area)| grain.len() == area + 45));
        let mut open = discs(20);
        let pieces = Pieces::of(&open, true, Joined::ByCorners);
        assert!(fill_relief(&mut open, &pieces).is_empty());
        // A single piece, such as a spot or a network, is none of several grains.
        let mut one = Raster::filled(60, 60, true);
        (0..60)
            .for_each(|k| [k, 3540 + k, 60 * k, 60 * k + 59].into_iter().for_each(|place| one.values[place] = false));
        one.values[30 * 60 + 30] = false;
        let pieces = Pieces::of(&one, true, Joined::ByCorners);
        assert!(fill_relief(&mut one, &pieces).is_empty());
    }
}
