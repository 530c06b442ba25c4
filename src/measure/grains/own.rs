//! Grains of unlike brightness: each ends midway between the ground and its own grey.

use super::split::{LARGEST_NECK, split};
use super::{Joined, Pieces, fill_relief, inside_distance, joined, without_specks};
use crate::raster::Raster;

/// Depth, in standard deviations of the blur, from which on a place shows its grain's own grey, and the least one, pixels.
const BODY: f64 = 2.0;
const LEAST_BODY: f32 = 1.5;
/// Fewest places that tell the grey of a grain.
const FEWEST: usize = 5;
/// How far beyond what is seen of a grain its step is taken for that of the places there, in standard deviations of the blur, and pixels besides.
const REACH: f64 = 3.0;
const LEAST_REACH: f64 = 2.0;
/// By how much blur may darken the body of a small grain, in steps: the middle of a disc of radius 2 standard deviations, the smallest that has
/// one, by exp(-2).
const UNSURE: f32 = 0.135;
/// Share of a grain's deep places that may be darker than midway to its grey if it is of one grey: dark relief is, another grain is more.
const MOST_DARK: f64 = 0.05;

/// A picture in which 1 is not the grey of particles on the whole but that of each grain, so that each ends at 0.5.
///
/// What is a grain, the threshold for all decides; what is above `low` and connected with it shows how far it goes. A grain whose middle no blur
/// reaches has a grey of its own, the median there. Where a grain is no deeper, and where darker places show that it is several of unlike
/// greys, 0.5 is the threshold for all. Places near a grain have its step.
pub(crate) fn own_steps(share: &Raster<f32>, threshold: f64, low: f64, smallest: usize, blur: f64) -> Raster<f32> {
    let (labels, count) = parts(share, threshold, low, smallest);
    let distance = inside_distance(&labels.map(|label| label > 0));
    let ends = ends(share, &labels, count, &distance, threshold, low, blur);
    let zones = grown(labels, (REACH * blur + LEAST_REACH).round() as usize);
    let mut own = share.clone();
    for (value, zone) in own.values.iter_mut().zip(&zones.values) {
        *value *= 0.5 / ends[*zone as usize];
    }
    own
}

/// Grains as they are seen above `low`, those that nowhere are above the threshold for all left out.
fn parts(share: &Raster<f32>, threshold: f64, low: f64, smallest: usize) -> (Raster<u32>, usize) {
    let sure = without_specks(&share.map(|v| f64::from(v) > threshold), smallest);
    let mut mask = without_specks(&share.map(|v| f64::from(v) > low), smallest);
    let pieces = Pieces::of(&mask, true, Joined::ByCorners);
    let mut is_sure = vec![false; pieces.areas.len()];
    pieces.labels.values.iter().zip(&sure.values).for_each(|(piece, sure)| is_sure[*piece as usize] |= *sure);
    mask.values.iter_mut().zip(&pieces.labels.values).for_each(|(value, piece)| *value &= is_sure[*piece as usize]);
    let pieces = Pieces::of(&mask, true, Joined::ByCorners);
    let whole = fill_relief(&mut mask, &pieces);
    let distance = inside_distance(&mask);
    joined(split(&mask, &distance, smallest, LARGEST_NECK), &whole)
}

/// The share at which each grain ends; the first entry is that of places without one.
fn ends(
    share: &Raster<f32>,
    labels: &Raster<u32>,
    count: usize,
    distance: &Raster<f32>,
    threshold: f64,
    low: f64,
    blur: f64,
) -> Vec<f32> {
    let deep = LEAST_BODY.max((BODY * blur) as f32);
    let mut bodies = vec![vec![]; count + 1];
    for ((label, value), distance) in labels.values.iter().zip(&share.values).zip(&distance.values) {
        if *label > 0 && *distance >= deep {
            bodies[*label as usize].push(*value);
        }
    }
    let end = |mut body: Vec<f32>| -> f32 {
        let middle = body.len() / 2;
        if body.len() < FEWEST {
            return threshold as f32;
        }
        let own = *body.select_nth_unstable_by(middle, f32::total_cmp).1;
        let apart = (own - 2.0 * threshold as f32).powi(2);
        let midway = threshold as f32 + apart / (apart + UNSURE * UNSURE) * (0.5 * own - threshold as f32);
        let dark = body.iter().filter(|value| **value < midway).count();
        let is_several = dark as f64 > MOST_DARK * body.len() as f64;
        let end = if is_several { midway.min(threshold as f32) } else { midway };
        end.max(low as f32)
    };
    bodies.into_iter().map(end).collect()
}

/// Labels that go on over so many places around them, each place to the nearest in steps from place to place.
fn grown(mut labels: Raster<u32>, reach: usize) -> Raster<u32> {
    let mut open: Vec<usize> = (0..labels.area()).filter(|k| labels.values[*k] > 0).collect();
    for _ in 0..reach {
        let mut next = Vec::new();
        for place in open {
            for beside in labels.around(place).into_iter().flatten() {
                if labels.values[beside] == 0 {
                    labels.values[beside] = labels.values[place];
                    next.push(beside);
                }
            }
        }
        open = next;
    }
    labels
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Discs of 12 pixels in radius of some steps on ground at 0, side by side in a row.
    fn discs(steps: &[f32]) -> Raster<f32> {
        let mut share = Raster::filled(40 * steps.len(), 40, 0.0f32);
        for (k, value) in share.values.iter_mut().enumerate() {
            let (column, row) = (k % (40 * steps.len()), k / (40 * steps.len()));
            let (x, y) = ((column % 40) as f32 - 20.0, row as f32 - 20.0);
            // An edge that falls over two pixels.
            *value = steps[column / 40] * ((13.0 - x.hypot(y)) / 2.0).clamp(0.0, 1.0);
        }
        share
    }

    fn areas(share: &Raster<f32>) -> Vec<usize> {
        let count = |disc| {
            let is_in = |k: &usize| k % share.columns / 40 == disc && share.values[*k] > 0.5;
            (0..share.area()).filter(is_in).count()
        };
        (0..share.columns / 40).map(count).collect()
    }

    #[test]
    fn faint_and_bright_grains_end_midway() {
        let of = |steps: &[f32]| areas(&own_steps(&discs(steps), 0.5, 0.2, 6, 0.7));
        let [usual, faint, bright, none] = of(&[1.0, 0.6, 2.0, 0.45])[..] else { panic!("four discs") };
        // By one threshold they end at 0.5/0.6 and at 0.5/2 of their step, 0.67 pixels within and 0.5 beyond: 11 % smaller, 8 % larger. Their own
        // step counts for 0.4^2/(0.4^2 + 0.135^2) = 0.90 and 0.98.
        let off = |area: usize| area as f64 / usual as f64 - 1.0;
        assert!(off(faint).abs() < 0.025 && off(bright).abs() < 0.015, "{usual} {faint} {bright}");
        let plain = areas(&discs(&[1.0, 0.6, 2.0, 0.45]));
        assert!(plain[1] as f64 / (usual as f64) < 0.94 && plain[2] as f64 / usual as f64 > 1.06, "{plain:?}");
        // What is nowhere above the threshold for all is ground.
        assert_eq!(none, 0);
        // Of one brightness all stay as they are.
        assert_eq!(of(&[1.0, 1.0]), areas(&discs(&[1.0, 1.0])));
    }

    #[test]
    fn a_bright_grain_on_a_faint_one_does_not_take_it_away() {
        let mut share = discs(&[0.8]);
        for (k, value) in share.values.iter_mut().enumerate() {
            let (x, y) = ((k % 40) as f32 - 18.0, (k / 40) as f32 - 20.0);
            *value = if x.hypot(y) < 9.0 { 3.0 } else { *value };
        }
        let plain = areas(&share);
        assert_eq!(areas(&own_steps(&share, 0.5, 0.2, 6, 0.7)), plain);
    }
}
