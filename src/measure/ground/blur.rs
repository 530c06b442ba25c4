//! Smoothing, noise, and how blurred edges are.

use crate::raster::Raster;
use std::f64::consts::PI;

/// Standard deviations that a smoothing kernel reaches.
const REACH: f64 = 3.5;
/// Median of the absolute value of a normal variable, in standard deviations (from memory: 0.6745).
const NORMAL_MEDIAN: f64 = 0.674_5;

/// Weights of a normal curve of a standard deviation in pixels, from the middle outward; they add up to 1 over both sides.
fn weights(sigma: f64) -> Vec<f32> {
    let reach = (REACH * sigma).ceil() as i32;
    // The mean over each pixel would add 1/12 of a pixel squared to the variance; the value at its middle adds nothing.
    let raw: Vec<f64> = (0..=reach).map(|k| (-0.5 * (f64::from(k) / sigma).powi(2)).exp()).collect();
    let total = 2.0 * raw.iter().sum::<f64>() - raw[0];
    raw.iter().map(|w| (w / total) as f32).collect()
}

/// Smoothed by a normal curve of a standard deviation in pixels; the picture goes on beyond its edges as in a mirror.
pub(crate) fn smoothed(raster: &Raster<f32>, sigma: f64) -> Raster<f32> {
    if sigma < 0.2 {
        return raster.clone();
    }
    let weights = weights(sigma);
    let mirror = |at: i64, length: usize| -> usize {
        let last = length as i64 - 1;
        let at = if at < 0 { -at - 1 } else { at };
        let at = if at > last { 2 * last - at + 1 } else { at };
        at.clamp(0, last) as usize
    };
    let mut across = vec![0.0f32; raster.area()];
    for row in 0..raster.rows {
        let from = raster.row(row);
        let to = &mut across[row * raster.columns..(row + 1) * raster.columns];
        for (column, value) in to.iter_mut().enumerate() {
            let mut sum = weights[0] * from[column];
            for (k, weight) in weights.iter().enumerate().skip(1) {
                let (column, k) = (column as i64, k as i64);
                sum += weight * (from[mirror(column - k, from.len())] + from[mirror(column + k, from.len())]);
            }
            *value = sum;
        }
    }
    let mut values = vec![0.0f32; raster.area()];
    for (row, to) in values.chunks_exact_mut(raster.columns).enumerate() {
        for (k, weight) in weights.iter().enumerate() {
            let (at, step) = (row as i64, k as i64);
            let above = mirror(at - step, raster.rows) * raster.columns;
            let below = mirror(at + step, raster.rows) * raster.columns;
            let weight = if k == 0 { 0.5 * weight } else { *weight };
            for (column, value) in to.iter_mut().enumerate() {
                *value += weight * (across[above + column] + across[below + column]);
            }
        }
    }
    Raster { columns: raster.columns, rows: raster.rows, values }
}

/// Standard deviation of a white noise, from what a mask that is blind to planes leaves of it: [1 -2 1; -2 4 -2; 1 -2 1], the squares of
/// whose weights add up to 36. The median is taken, so that edges matter little.
///
/// Source: Immerkær 1996, Fast noise variance estimation, Comput. Vis. Image Underst. 64:300 (with a mean in place of the median).
pub(crate) fn noise(raster: &Raster<f32>) -> f64 {
    let step = (raster.area() / 400_000).max(1);
    let mut found = Vec::new();
    let mut count = 0;
    for row in 1..raster.rows - 1 {
        let [above, here, below] = [row - 1, row, row + 1].map(|row| raster.row(row));
        for column in 1..raster.columns - 1 {
            count += 1;
            if count % step != 0 {
                continue;
            }
            let second = |line: &[f32]| line[column - 1] - 2.0 * line[column] + line[column + 1];
            found.push((second(above) - 2.0 * second(here) + second(below)).abs());
        }
    }
    f64::from(median(&mut found)) / (6.0 * NORMAL_MEDIAN)
}

/// The middle of values, 0 of none.
pub(super) fn median(values: &mut [f32]) -> f32 {
    quantile(values, 0.5)
}

/// The value below which a share lies, 0 of none.
pub(super) fn quantile(values: &mut [f32], share: f64) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let place = ((values.len() - 1) as f64 * share).round() as usize;
    *values.select_nth_unstable_by(place, f32::total_cmp).1
}

/// Share of ground to particles between which the pixels of an edge are counted.
const BAND: [f32; 2] = [0.3, 0.7];
/// Width of an edge between these shares, in standard deviations of its blur: 2 * 0.5244 (quantile of the normal curve at 0.7, from
/// memory).
const BAND_WIDTH: f64 = 1.0488;

/// Depth from which on a pixel is the body of a grain and no edge, pixels.
const BODY: f32 = 4.0;
/// Share of bodies as bright as an edge from which on grains differ so much that the area of edges says little.
const MOST_FAINT: f64 = 0.1;

/// Blur of the edges, as the standard deviation of the normal curve in pixels that makes a step so wide. It is taken from the area of the
/// edges, which is right to some percent; where faint grains have bodies like edges, the lesser of that and the blur by slope is taken, which
/// noise makes somewhat too small.
pub(crate) fn edge_blur(level: &Raster<f32>, mask: &Raster<bool>, distance: &Raster<f32>) -> f64 {
    let by_area = blur_by_area(level, mask, distance);
    let bodies = || level.values.iter().zip(&distance.values).filter(|(_, distance)| **distance > BODY);
    let faint = bodies().filter(|(value, _)| (BAND[0]..BAND[1]).contains(*value)).count();
    if (faint as f64) < MOST_FAINT * bodies().count() as f64 {
        return by_area;
    }
    blur_by_slope(level, mask).map_or(by_area, |by_slope| by_area.min(by_slope))
}

/// How far from an edge its two sides are looked for, pixels.
const EDGE_REACH: usize = 5;
/// Variance that the difference between two pixels adds, pixels squared: that of a box one pixel wide.
const PAIR_VARIANCE: f64 = 1.0 / 12.0;

/// From the slope of single edges against their own step, where an edge crosses a row steeply: step over slope is sqrt(2 pi) standard
/// deviations. The median of all.
fn blur_by_slope(level: &Raster<f32>, mask: &Raster<bool>) -> Option<f64> {
    let mut found = Vec::new();
    for row in 1..level.rows - 1 {
        let line = level.row(row);
        let covered = mask.row(row);
        for column in EDGE_REACH..level.columns.saturating_sub(EDGE_REACH + 1) {
            if covered[column] == covered[column + 1] {
                continue;
            }
            let near = &line[column - EDGE_REACH + 1..=column + EDGE_REACH];
            let step = near.iter().copied().fold(f32::MIN, f32::max) - near.iter().copied().fold(f32::MAX, f32::min);
            let across = (column - 1..=column + 1).map(|k| (line[k + 1] - line[k]).abs()).fold(0.0, f32::max);
            let down = 0.25
                * ((level.at(column, row + 1) + level.at(column + 1, row + 1))
                    - (level.at(column, row - 1) + level.at(column + 1, row - 1)));
            // Edges that run along the row are seen better in others.
            if down.abs() < across {
                found.push(step / across.hypot(down));
            }
        }
    }
    let ratio = f64::from(median(&mut found)) / (2.0 * PI).sqrt();
    (found.len() >= 50).then(|| (ratio * ratio - PAIR_VARIANCE).max(0.0).sqrt())
}

/// From the area between two shares of the step along the outlines, divided by their length. `distance` holds how far inside (positive) or
/// outside each pixel lies, so that what is far from the outlines is no edge.
fn blur_by_area(level: &Raster<f32>, mask: &Raster<bool>, distance: &Raster<f32>) -> f64 {
    let length = outline_length(mask);
    if length <= 0.0 {
        return 0.0;
    }
    let is_edge = |(value, distance): (&f32, &f32)| (BAND[0]..BAND[1]).contains(value) && distance.abs() <= BODY;
    let count = level.values.iter().zip(&distance.values).filter(|pair| is_edge(*pair)).count();
    count as f64 / length / BAND_WIDTH
}

/// Length of all outlines, pixels, from how often lines in four directions cross them (Cauchy and Crofton): pi/4 times the mean over the
/// directions of crossings times the spacing of the lines, 1 along rows and columns, 1/sqrt(2) along diagonals; each crossing is counted once.
///
/// Source: Legland, Kiêu, Devaux 2007, Computation of Minkowski measures on 2D and 3D binary images, Image Anal. Stereol. 26:83.
pub(crate) fn outline_length(mask: &Raster<bool>) -> f64 {
    let (mut straight, mut diagonal) = (0usize, 0usize);
    for row in 0..mask.rows {
        let here = mask.row(row);
        straight += here.windows(2).filter(|pair| pair[0] != pair[1]).count();
        if row + 1 < mask.rows {
            let below = mask.row(row + 1);
            straight += here.iter().zip(below).filter(|(a, b)| a != b).count();
            diagonal += here.iter().zip(&below[1..]).filter(|(a, b)| a != b).count();
            diagonal += here[1..].iter().zip(below).filter(|(a, b)| a != b).count();
        }
    }
    // Mean over four directions: (two straight ones + two diagonal ones) / 4, times pi/2 crossings per length.
    0.5 * PI * (straight as f64 + diagonal as f64 * std::f64::consts::FRAC_1_SQRT_2) / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc(radius: f64) -> Raster<bool> {
        let mut mask = Raster::filled(128, 128, false);
        for (k, inside) in mask.values.iter_mut().enumerate() {
            let (x, y) = ((k % 128) as f64 - 63.3, (k / 128) as f64 - 64.1);
            *inside = x * x + y * y < radius * radius;
        }
        mask
    }

    #[test]
    fn smoothing_keeps_the_sum_and_the_variance() {
        let mut point = Raster::filled(41, 41, 0.0f32);
        point.values[20 * 41 + 20] = 1.0;
        let smooth = smoothed(&point, 1.5);
        let sum: f32 = smooth.values.iter().sum();
        let second: f32 = smooth.values.iter().enumerate().map(|(k, v)| v * ((k % 41) as f32 - 20.0).powi(2)).sum();
        assert!((sum - 1.0).abs() < 1e-5, "{sum}");
        // Cut at 3.5 sigma, the variance is 2.25 less 1 %.
        assert!((second - 2.25).abs() < 0.03, "{second}");
        let even = smoothed(&Raster::filled(9, 33, 7.0f32), 2.0);
        assert!(even.values.iter().all(|v| (v - 7.0).abs() < 1e-5));
    }

    #[test]
    fn outlines_of_discs() {
        for radius in [5.0, 20.0, 50.0] {
            let length = outline_length(&disc(radius));
            assert!((length / (2.0 * PI * radius) - 1.0).abs() < 0.02, "{radius}: {length}");
        }
    }

    #[test]
    fn the_blur_of_an_edge_is_found() {
        // Each pixel holds the mean of 8 x 8 places of a disc, which adds a twelfth of a pixel squared to the variance. At 0.8 pixels the band
        // that is counted is narrower than a pixel, and where the outline runs along rows or columns it falls between them or not.
        let mut level = Raster::filled(128, 128, 0.0f32);
        for k in 0..128 * 128 * 64 {
            let (pixel, part) = (k / 64, k % 64);
            let x = (pixel % 128) as f64 - 63.3 + ((part % 8) as f64 + 0.5) / 8.0;
            let y = (pixel / 128) as f64 - 64.1 + ((part / 8) as f64 + 0.5) / 8.0;
            level.values[pixel] += f32::from(u8::from(x * x + y * y < 1600.0)) / 64.0;
        }
        for (blur, tolerance) in [(2.5f64, 0.02), (1.5, 0.02), (0.8, 0.06)] {
            let level = smoothed(&level, blur);
            let mask = level.map(|v| v > 0.5);
            let found = edge_blur(&level, &mask, &crate::grains::inside_distance(&mask));
            let by_slope = blur_by_slope(&level, &mask).expect("edges");
            let expected = (blur * blur + 1.0 / 12.0).sqrt();
            assert!((found / expected - 1.0).abs() < tolerance, "{blur}: {found}");
            // Five pixels to both sides do not hold all of a wide edge.
            assert!((by_slope / expected - 1.0).abs() < 0.12, "{blur}: {by_slope}");
        }
    }

    #[test]
    fn noise_of_a_hashed_picture() {
        // Sums of four even numbers of a fixed sequence: variance 4/12.
        let mut state = 1u64;
        let mut even = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1u64 << 24) as f32
        };
        let mut picture = Raster::filled(200, 200, 0.0f32);
        for (k, value) in picture.values.iter_mut().enumerate() {
            *value = even() + even() + even() + even() + 0.3 * (k % 200) as f32;
        }
        assert!((noise(&picture) / (1.0f64 / 3.0).sqrt() - 1.0).abs() < 0.03, "{}", noise(&picture));
    }
}
