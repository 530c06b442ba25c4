//! Grains of unlike brightness: each ends midway between the ground and its own grey.

use super::pieces::grown;
use super::shape::{convex_area, outline_points};
use super::split::{LARGEST_NECK, split};
use super::{Joined, Pieces, fill_relief, inside_distance, joined, without_specks};
use crate::raster::Raster;
use std::f64::consts::PI;

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
/// Area of a grain, over that of the disc that holds what is sure of it and a blurred edge, above which it is ground: outlines that are twice as
/// long as wide have an edge a tenth longer, and what is sure of a faint one may leave out a part.
const MOST_BEYOND: f64 = 1.5;
/// Share of a grain's deep places that may be darker than midway to its grey if it is of one grey: dark relief is, another grain is more.
const MOST_DARK: f64 = 0.05;

/// A picture in which 1 is not the grey of particles on the whole but that of each grain, so that each ends at 0.5.
///
/// What is a grain, the threshold for all decides; what is above `low` and connected with it shows how far it goes. A grain whose middle no blur
/// reaches has a grey of its own, the median there. Where a grain is no deeper, where darker places show that it is several of unlike greys, and where
/// it would take in ground, 0.5 is the threshold for all. Places near a grain have its step.
pub(crate) fn own_steps(share: &Raster<f32>, threshold: f64, low: f64, smallest: usize, blur: f64) -> Raster<f32> {
    let ends = Ends { share, threshold: threshold as f32, low: low as f32, blur };
    let parts = Parts::of(share, threshold, low, smallest);
    let ends = ends.of(&parts);
    let zones = grown(parts.labels, (REACH * blur + LEAST_REACH).round() as usize, |_| true);
    let mut own = share.clone();
    for (value, zone) in own.values.iter_mut().zip(&zones.values) {
        *value *= 0.5 / ends[*zone as usize];
    }
    own
}

/// Grains as they are seen above a share that is clear of the ground, without those that nowhere are above the threshold for all.
struct Parts {
    labels: Raster<u32>,
    count: usize,
    /// What is above the threshold for all.
    sure: Raster<bool>,
}

impl Parts {
    fn of(share: &Raster<f32>, threshold: f64, low: f64, smallest: usize) -> Self {
        let sure = without_specks(&share.map(|v| f64::from(v) > threshold), smallest);
        let mut mask = without_specks(&share.map(|v| f64::from(v) > low), smallest);
        let pieces = Pieces::of(&mask, true, Joined::ByCorners);
        let mut is_sure = vec![false; pieces.areas.len()];
        pieces.labels.values.iter().zip(&sure.values).for_each(|(piece, sure)| is_sure[*piece as usize] |= *sure);
        mask.values.iter_mut().zip(&pieces.labels.values).for_each(|(value, piece)| *value &= is_sure[*piece as usize]);
        let pieces = Pieces::of(&mask, true, Joined::ByCorners);
        let whole = fill_relief(&mut mask, &pieces);
        let distance = inside_distance(&mask);
        let (labels, count) = joined(split(&mask, &distance, smallest, LARGEST_NECK), &whole);
        Self { labels, count, sure }
    }

    /// Area of the convex outline of what is sure of each, pixels.
    fn sure_areas(&self) -> Vec<f64> {
        let mut labels = self.labels.clone();
        labels.values.iter_mut().zip(&self.sure.values).filter(|(_, sure)| !**sure).for_each(|(label, _)| *label = 0);
        let area = |points: &mut Vec<(i64, i64)>| if points.is_empty() { 0.0 } else { convex_area(points) };
        outline_points(&labels, self.count).iter_mut().map(area).collect()
    }
}

/// Where grains end.
struct Ends<'a> {
    share: &'a Raster<f32>,
    /// That for all.
    threshold: f32,
    /// The least one.
    low: f32,
    blur: f64,
}

impl Ends<'_> {
    /// The share at which each grain ends; the first entry is that of places without one.
    fn of(&self, parts: &Parts) -> Vec<f32> {
        let distance = inside_distance(&parts.labels.map(|label| label > 0));
        let deep = LEAST_BODY.max((BODY * self.blur) as f32);
        let (mut all, mut bodies) = (vec![vec![]; parts.count + 1], vec![vec![]; parts.count + 1]);
        for ((label, value), distance) in parts.labels.values.iter().zip(&self.share.values).zip(&distance.values) {
            if *label > 0 {
                all[*label as usize].push(*value);
            }
            if *label > 0 && *distance >= deep {
                bodies[*label as usize].push(*value);
            }
        }
        let ends = bodies.into_iter().map(|body| self.midway(body));
        let grains = ends.zip(all).zip(parts.sure_areas());
        grains.map(|((end, all), sure)| if self.goes_on(&all, end, sure) { self.threshold } else { end }).collect()
    }

    /// Where a grain ends by the greys of its body.
    fn midway(&self, mut body: Vec<f32>) -> f32 {
        let middle = body.len() / 2;
        if body.len() < FEWEST {
            return self.threshold;
        }
        let own = *body.select_nth_unstable_by(middle, f32::total_cmp).1;
        let apart = (own - 2.0 * self.threshold).powi(2);
        let end = self.threshold + apart / (apart + UNSURE * UNSURE) * (0.5 * own - self.threshold);
        let dark = body.iter().filter(|value| **value < end).count();
        let is_several = dark as f64 > MOST_DARK * body.len() as f64;
        let end = if is_several { end.min(self.threshold) } else { end };
        end.max(self.low)
    }

    /// Whether what is above an end goes on far beyond the area of what is sure, blurred edges allowed for: that is ground that is not level.
    fn goes_on(&self, all: &[f32], end: f32, sure: f64) -> bool {
        let area = all.iter().filter(|value| **value > end).count() as f64;
        let reach = (sure / PI).sqrt() + BODY * self.blur + 1.0;
        area > MOST_BEYOND * PI * reach * reach
    }
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
