//! Where grains end, and how sure that is.

use super::reading::smallest_and_blur;
use crate::grains::{inside_distance, own_steps, without_specks};
use crate::ground::{Levels, Separation};
use crate::raster::Raster;

/// Scatters of the ground above which what is seen is none of it.
const CLEAR_OF_GROUND: f64 = 3.0;
/// How often at most steps and blur are found from each other, and the change of the blur, as a part of it, below which they have settled.
const ROUNDS: usize = 3;
const SETTLED: f64 = 0.1;
/// Tiles along each side of a picture in which levels are looked at, and the fewest pixels that tell one.
const TILES: usize = 6;
const FEWEST: usize = 30;
/// Standard deviations of the blur from an outline, and pixels besides, from which on a place is level.
const CLEAR_OF_EDGE: f64 = 2.0;
/// Part of the step that is looked at on both sides of an edge's middle.
const BAND: f64 = 0.2;
/// Farthest that a place belongs to an outline, in standard deviations of the blur, and pixels besides.
const REACH: f64 = 3.0;
/// Median of the absolute value of a normal variable, in standard deviations (from memory: 0.6745).
const NORMAL_MEDIAN: f64 = 0.674_5;
/// Least standard deviation of a threshold, in steps: rounding to grey values and pixels makes some hundredth.
const LEAST_UNSURE: f64 = 0.01;
/// Largest one, as a part of the threshold: beyond it, what is within the interval would reach the ground.
const MOST_UNSURE: f64 = 0.4;

/// A picture as it is cut into ground and grains.
pub(super) struct Cut {
    /// 0 on ground, 1 on particles.
    pub(super) share: Raster<f32>,
    /// Where particles begin.
    pub(super) threshold: f64,
    /// Standard deviation of that.
    pub(super) unsure: f64,
    /// Pixels of the smallest grain that counts.
    pub(super) smallest: usize,
    /// Blur of the edges, pixels.
    pub(super) blur: f64,
}

impl Cut {
    /// A threshold that is given stands; else each grain ends midway to its own grey.
    pub(super) fn of(levels: &Levels, separation: Separation) -> Self {
        let mut cut = Self::at(levels.share.clone(), levels.threshold);
        if separation == Separation::Found {
            let low = (0.5 * levels.threshold).max(CLEAR_OF_GROUND * levels.ground_scatter).min(levels.threshold);
            // Grains of unlike brightness do not tell their blur until each has its own step.
            for _ in 0..ROUNDS {
                let earlier = cut.blur;
                let share = own_steps(&levels.share, levels.threshold, low, cut.smallest, earlier);
                cut = Self::at(share, 0.5);
                if (cut.blur - earlier).abs() < SETTLED * earlier {
                    break;
                }
            }
        }
        cut.unsure = unsure(&cut, separation);
        cut
    }

    fn at(share: Raster<f32>, threshold: f64) -> Self {
        let (smallest, blur) = smallest_and_blur(&share, threshold);
        Self { share, threshold, unsure: 0.0, smallest, blur }
    }
}

/// Standard deviation of the threshold, in steps. Midway between ground and grains is as sure as both levels are, half of each; and as far as
/// an edge falls otherwise below its middle than above it, it does not say where between it lies (a rectangle, over the root of 3). A threshold
/// that is given does not rest on the level of grains.
fn unsure(cut: &Cut, separation: Separation) -> f64 {
    let Cut { share, threshold, smallest, blur, .. } = cut;
    let (threshold, blur) = (*threshold, *blur);
    let mask = without_specks(&share.map(|v| f64::from(v) > threshold), *smallest);
    let distance = inside_distance(&mask);
    let clear = (CLEAR_OF_EDGE * blur + 1.0) as f32;
    let ground = off_level(share, 0.0, |k| -distance.values[k] >= clear);
    let grains = match separation {
        Separation::Found => off_level(share, 1.0, |k| distance.values[k] >= clear),
        Separation::Grey(_) => 0.0,
    };
    let near = (REACH * blur + 1.0) as f32;
    let within = |from: f64, to: f64| {
        let is_so =
            |(value, distance): &(&f32, &f32)| (from..to).contains(&f64::from(**value)) && distance.abs() <= near;
        share.values.iter().zip(&distance.values).filter(is_so).count() as f64
    };
    let (below, above) = (within(threshold - BAND, threshold), within(threshold, threshold + BAND));
    let shape = BAND * (below - above).abs() / (below + above).max(1.0) / 3f64.sqrt();
    (0.5 * ground).hypot(0.5 * grains).hypot(shape).min(MOST_UNSURE * threshold).max(LEAST_UNSURE)
}

/// By how much tiles of a picture are off a level where it should be: the standard deviation for which half are as far.
fn off_level(share: &Raster<f32>, level: f32, is_clear: impl Fn(usize) -> bool) -> f64 {
    let mut tiles = vec![vec![]; TILES * TILES];
    for (place, value) in share.values.iter().enumerate().filter(|(place, _)| is_clear(*place)) {
        let (column, row) = (place % share.columns * TILES / share.columns, place / share.columns * TILES / share.rows);
        tiles[row * TILES + column].push(*value);
    }
    let middle = |values: &mut Vec<f32>| {
        let half = values.len() / 2;
        *values.select_nth_unstable_by(half, f32::total_cmp).1
    };
    let mut off: Vec<f32> =
        tiles.iter_mut().filter(|t| t.len() >= FEWEST).map(|tile| (middle(tile) - level).abs()).collect();
    if off.is_empty() { 0.0 } else { f64::from(middle(&mut off)) / NORMAL_MEDIAN }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stripes 24 pixels wide whose edges fall over so many pixels below and above their middle.
    fn stripes(below: f64, above: f64, ground: f64) -> Raster<f32> {
        let value = |column: usize| {
            let x = (column % 48) as f64;
            let inside = 12.0 - (x - 23.5).abs();
            let share = if inside < 0.0 { 0.5 + 0.5 * inside / below } else { 0.5 + 0.5 * inside / above };
            share.clamp(0.0, 1.0) as f32
        };
        let values = (0..240 * 120).map(|k| value(k % 240).max(ground as f32)).collect();
        Raster { columns: 240, rows: 120, values }
    }

    #[test]
    fn a_threshold_is_as_sure_as_levels_and_edges() {
        let by = |share: &Raster<f32>, separation| {
            let cut = Cut { share: share.clone(), threshold: 0.5, unsure: 0.0, smallest: 6, blur: 1.5 };
            unsure(&cut, separation)
        };
        let of = |share: &Raster<f32>| by(share, Separation::Found);
        assert_eq!(of(&stripes(3.0, 3.0, 0.0)), LEAST_UNSURE);
        // The ground is 0.1 too high all over: half of that, over the median of a normal variable.
        assert!((of(&stripes(3.0, 3.0, 0.1)) - 0.05 / NORMAL_MEDIAN).abs() < 1e-3);
        // Grains at 0.9 of their step: as much, unless the threshold is given.
        let faint = stripes(3.0, 3.0, 0.0).map(|v| 0.9 * v);
        assert!(of(&faint) > 0.05 / NORMAL_MEDIAN && by(&faint, Separation::Grey(9.0)) < 0.05);
        // Half of the step over 7.5 pixels below and 2.5 above: within a fifth of the step 3 and 1 pixels; the pixel rows at 0.5, 1.5 and 2.5
        // make them so. 0.2 (3 - 1)/(3 + 1)/sqrt(3) = 0.058.
        assert!((of(&stripes(7.5, 2.5, 0.0)) - 0.058).abs() < 1e-3, "{}", of(&stripes(7.5, 2.5, 0.0)));
        assert_eq!(of(&stripes(3.0, 3.0, 0.4)), 0.5 * MOST_UNSURE);
    }
}
