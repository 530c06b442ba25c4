//! Grains that touch are taken apart at their necks.

use crate::raster::Raster;
use std::collections::BTreeMap;

/// Neck between two grains, over the half width of the smaller one, above which they are one grain. Two equal discs that overlap so that
/// their middles are 1.05 radii apart have a neck of 0.85 radii. A choice of ours, see the tests.
pub(crate) const LARGEST_NECK: f32 = 0.85;
/// The same where only clear necks count, as those of discs that overlap by less than a fifth of their diameter: ligaments stay in one then.
pub(crate) const NARROW_NECK: f32 = 0.6;
/// Least rise from a neck to the middle of the smaller grain, pixels: less than that, ragged outlines make.
const LEAST_RISE: f32 = 0.5;

/// Numbers of grains, from 1 on; 0 where nothing is. Parts of fewer than `least` pixels go to the grain that they share most of their outline with.
///
/// Grains grow from the places that lie deepest inside (`distance`), and where two meet they stay apart if the neck there is narrow
/// against the smaller one; a place goes to the one
/// that rises steepest from it. Source of flooding by depth: Beucher & Meyer 1993, The morphological approach to segmentation: the
/// watershed transformation, in Mathematical Morphology in Image Processing.
pub(crate) fn split(
    mask: &Raster<bool>,
    distance: &Raster<f32>,
    least: usize,
    largest_neck: f32,
) -> (Raster<u32>, usize) {
    let mut basins = Basins { parents: vec![0], peaks: vec![0.0], largest_neck };
    let mut labels = mask.map(|_| 0u32);
    for place in deepest_first(mask, distance) {
        let depth = distance.values[place];
        let (mut first, mut steepest, mut rise) = (0u32, 0u32, f32::MIN);
        for (side, next) in mask.around(place).into_iter().enumerate() {
            let Some(next) = next.filter(|next| labels.values[*next] > 0) else { continue };
            let other = basins.root(labels.values[next]);
            if first > 0 {
                basins.meet(first, other, depth);
            }
            first = basins.root(other);
            // The last four share a corner only.
            let step = if side < 4 { 1.0 } else { std::f32::consts::SQRT_2 };
            let slope = (distance.values[next] - depth) / step;
            if slope > rise {
                (steepest, rise) = (other, slope);
            }
        }
        labels.values[place] = if steepest == 0 { basins.begin(depth) } else { basins.root(steepest) };
    }
    labels.values.iter_mut().for_each(|label| *label = basins.root(*label));
    basins.take_in_small(&labels, least);
    labels.values.iter_mut().for_each(|label| *label = basins.root(*label));
    numbered(labels, basins.parents.len())
}

/// Grains by numbers of which each is below `most`, with numbers from 1 on in the order of the picture.
pub(super) fn numbered(mut labels: Raster<u32>, most: usize) -> (Raster<u32>, usize) {
    let mut numbers = vec![0u32; most];
    let mut count = 0;
    for label in labels.values.iter_mut().filter(|label| **label > 0) {
        let number = &mut numbers[*label as usize];
        if *number == 0 {
            count += 1;
            *number = count;
        }
        *label = *number;
    }
    (labels, count as usize)
}

/// The same with the places of each of some grains as one.
pub(crate) fn joined((mut labels, count): (Raster<u32>, usize), grains: &[Vec<usize>]) -> (Raster<u32>, usize) {
    if grains.is_empty() {
        return (labels, count);
    }
    for (k, grain) in grains.iter().enumerate() {
        grain.iter().for_each(|place| labels.values[*place] = (count + 1 + k) as u32);
    }
    numbered(labels, count + 1 + grains.len())
}

/// Places inside, by how deep they lie, in the order of the picture among equals.
fn deepest_first(mask: &Raster<bool>, distance: &Raster<f32>) -> Vec<usize> {
    let mut places: Vec<usize> = (0..mask.area()).filter(|k| mask.values[*k]).collect();
    places.sort_by(|a, b| distance.values[*b].total_cmp(&distance.values[*a]));
    places
}

/// Grains that grow, each with the depth that it began at.
struct Basins {
    parents: Vec<u32>,
    peaks: Vec<f32>,
    largest_neck: f32,
}

impl Basins {
    fn begin(&mut self, peak: f32) -> u32 {
        let label = self.parents.len() as u32;
        self.parents.push(label);
        self.peaks.push(peak);
        label
    }

    fn root(&mut self, mut label: u32) -> u32 {
        while self.parents[label as usize] != label {
            let above = self.parents[self.parents[label as usize] as usize];
            self.parents[label as usize] = above;
            label = above;
        }
        label
    }

    /// Gives small grains to the neighbour that they touch at most places; the order is that of their numbers.
    fn take_in_small(&mut self, labels: &Raster<u32>, least: usize) {
        let mut areas = vec![0usize; self.parents.len()];
        labels.values.iter().for_each(|label| areas[*label as usize] += 1);
        let mut contacts: BTreeMap<u32, BTreeMap<u32, usize>> = BTreeMap::new();
        for (place, label) in labels.values.iter().enumerate() {
            if *label == 0 || areas[*label as usize] >= least {
                continue;
            }
            for next in labels.around(place).into_iter().flatten() {
                let other = labels.values[next];
                if other > 0 && other != *label {
                    *contacts.entry(*label).or_default().entry(other).or_default() += 1;
                }
            }
        }
        for (small, touched) in contacts {
            let most = touched.into_iter().max_by_key(|(other, count)| (*count, u32::MAX - *other));
            if let Some((other, _)) = most {
                let (small, other) = (self.root(small), self.root(other));
                self.parents[small as usize] = other;
            }
        }
    }

    /// Two grains meet at a depth: they stay two or become one.
    fn meet(&mut self, a: u32, b: u32, depth: f32) {
        let (large, small) = if self.peaks[a as usize] >= self.peaks[b as usize] { (a, b) } else { (b, a) };
        let peak = self.peaks[small as usize];
        if a != b && (depth >= self.largest_neck * peak || peak - depth < LEAST_RISE) {
            self.parents[small as usize] = large;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::inside_distance;
    use super::*;

    fn discs(discs: &[(f64, f64, f64)]) -> Raster<bool> {
        let mut mask = Raster::filled(120, 80, false);
        for (k, inside) in mask.values.iter_mut().enumerate() {
            let (x, y) = ((k % 120) as f64, (k / 120) as f64);
            *inside = discs.iter().any(|(cx, cy, r)| (x - cx).powi(2) + (y - cy).powi(2) <= r * r);
        }
        mask
    }

    fn count(of: &[(f64, f64, f64)]) -> usize {
        let mask = discs(of);
        split(&mask, &inside_distance(&mask), 6, LARGEST_NECK).1
    }

    #[test]
    fn discs_that_touch_are_taken_apart() {
        assert_eq!(count(&[(40.0, 40.0, 20.0)]), 1);
        assert_eq!(count(&[(40.0, 40.0, 20.0), (79.0, 40.0, 20.0)]), 2);
        // 1.4 radii apart: the neck is 0.71 of the radius. 1 radius apart: 0.87.
        assert_eq!(count(&[(40.0, 40.0, 20.0), (68.0, 40.0, 20.0)]), 2);
        assert_eq!(count(&[(40.0, 40.0, 20.0), (60.0, 40.0, 20.0)]), 1);
        // A small one beside a large one, and three in a heap.
        assert_eq!(count(&[(40.0, 40.0, 20.0), (65.5, 40.0, 6.0)]), 2);
        assert_eq!(count(&[(40.0, 30.0, 12.0), (63.0, 30.0, 12.0), (51.0, 50.0, 12.0)]), 3);
        assert_eq!(count(&[]), 0);
        // What is less than the least pixels is no grain of its own, but part of the one that it touches.
        let mask = discs(&[(40.0, 40.0, 20.0), (65.5, 40.0, 6.0)]);
        assert_eq!(split(&mask, &inside_distance(&mask), 200, LARGEST_NECK).1, 1);
    }

    #[test]
    fn the_parts_have_the_areas_of_the_discs() {
        let mask = discs(&[(35.0, 40.0, 20.0), (74.0, 41.0, 20.0)]);
        let (labels, count) = split(&mask, &inside_distance(&mask), 6, LARGEST_NECK);
        let area = |label| labels.values.iter().filter(|l| **l == label).count() as f64;
        assert_eq!(count, 2);
        // A small one beside a large one keeps its rim.
        let unlike = discs(&[(40.0, 40.0, 25.0), (73.0, 40.0, 9.0)]);
        let (parts, _) = split(&unlike, &inside_distance(&unlike), 6, LARGEST_NECK);
        let small = parts.values.iter().filter(|l| **l == parts.at(73, 40)).count() as f64;
        assert!((small / (std::f64::consts::PI * 81.0) - 1.0).abs() < 0.05, "{small}");
        for label in [1, 2] {
            assert!((area(label) / (std::f64::consts::PI * 400.0) - 1.0).abs() < 0.03, "{}", area(label));
        }
    }
}
