//! Sizes of grains.

use super::pieces::bounds;
use crate::raster::Raster;
use std::f64::consts::PI;

/// A grain, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Grain {
    /// Diameter of the disc of its area.
    pub(crate) diameter: f64,
    /// Middle of its area, columns and rows from the top left corner of the picture.
    pub(crate) middle: [f64; 2],
    /// How many grains the picture would show for each such one if none could be cut by its frame; `None` of one that is cut.
    pub(crate) weight: Option<f64>,
}

/// Grains by their numbers (`labels`, `count` of them). Blur of the outlines (standard deviation, pixels) draws those of a disc of radius
/// R in by blur^2/2R, which is put back: its area over pi grows by blur^2. Of grains that touch, each gets its share (`in_piece`: how many
/// are in the piece of each).
///
/// A grain w wide and h high lies wholly in a picture of W by H for (W - w)(H - h) of W H places, so it counts for the inverse of that
/// share. Source: Miles 1974, On the elimination of edge effects in planar sampling, in Stochastic Geometry; Lantuéjoul 1980, On
/// the estimation of mean values in individual analysis of particles, Microsc. Acta Suppl. 4:266.
pub(crate) fn grains(labels: &Raster<u32>, count: usize, in_piece: &[usize], blur: f64) -> Vec<Grain> {
    let bounds = bounds(labels, count);
    let mut sums = vec![[0.0f64; 3]; count + 1];
    for (k, label) in labels.values.iter().enumerate().filter(|(_, label)| **label > 0) {
        let (column, row) = (k % labels.columns, k / labels.columns);
        let sum = &mut sums[*label as usize];
        sum[0] += 1.0;
        sum[1] += column as f64 + 0.5;
        sum[2] += row as f64 + 0.5;
    }
    let (columns, rows) = (labels.columns as f64, labels.rows as f64);
    let grain = |label: usize| {
        let ([left, right, top, bottom], [area, x, y]) = (bounds[label], sums[label]);
        let is_cut = left == 0 || top == 0 || right + 1 == labels.columns || bottom + 1 == labels.rows;
        // A grain that only touches the frame is counted as cut, so the places left are fewer by one on each side.
        let (width, height) = ((right - left + 1) as f64, (bottom - top + 1) as f64);
        let free = (columns - width - 1.0) * (rows - height - 1.0);
        let weight = (!is_cut && free > 0.0).then(|| columns * rows / free);
        let radius_squared = area / PI + blur * blur / in_piece[label].max(1) as f64;
        Grain { diameter: 2.0 * radius_squared.sqrt(), middle: [x / area, y / area], weight }
    };
    (1..=count).map(grain).collect()
}

/// Sums over grains of weight times powers of the diameter.
///
/// Mean diameters are ratios of neighbouring moments: `D[1,0]` = M1/M0, `D[3,2]` = M3/M2, `D[4,3]` = M4/M3. Source: ISO 9276-2:2014,
/// Representation of results of particle size analysis, Part 2 (the notation: from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SizeMoments {
    moments: [f64; 5],
    /// Sums of weight^2 times powers up to the eighth, for the chance in the sums.
    squares: [f64; 9],
}

impl SizeMoments {
    /// Of grains that are not cut; diameters in any unit.
    pub(crate) fn of<'a>(grains: impl Iterator<Item = &'a Grain>) -> Self {
        let mut sums = Self { moments: [0.0; 5], squares: [0.0; 9] };
        for grain in grains {
            let Some(weight) = grain.weight else { continue };
            for (power, sum) in sums.moments.iter_mut().enumerate() {
                *sum += weight * grain.diameter.powi(power as i32);
            }
            for (power, sum) in sums.squares.iter_mut().enumerate() {
                *sum += weight * weight * grain.diameter.powi(power as i32);
            }
        }
        sums
    }

    /// How many grains there are, with those that the frame cut, and the standard deviation by counting.
    pub(crate) fn number(&self) -> (f64, f64) {
        (self.moments[0], self.squares[0].sqrt())
    }

    /// `D[upper, upper - 1]` and its standard deviation by counting, to first order; `None` without grains.
    pub(crate) fn mean(&self, upper: usize) -> Option<(f64, f64)> {
        let (above, below) = (self.moments[upper], self.moments[upper - 1]);
        if below <= 0.0 {
            return None;
        }
        let mean = above / below;
        // Sum of w^2 (d^upper - mean d^(upper - 1))^2.
        let [a, b, c] = [2 * upper, 2 * upper - 1, 2 * upper - 2].map(|power| self.squares[power]);
        let variance = (a - 2.0 * mean * b + mean * mean * c).max(0.0);
        Some((mean, variance.sqrt() / below))
    }
}

/// A class of a size histogram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeBin {
    /// Lower end, m.
    pub lower: f64,
    /// Upper end, m.
    pub upper: f64,
    /// Grains that lie wholly in the pictures.
    pub seen: usize,
    /// Grains with those that the frame cut.
    pub amount: f64,
}

/// Classes of a histogram: a factor of 10^(1/10) each.
const CLASSES_PER_DECADE: f64 = 10.0;

/// Classes that hold all grains; `pixel` in m.
pub(crate) fn histogram(grains: &[(Grain, f64)]) -> Vec<SizeBin> {
    let whole = || grains.iter().filter_map(|(g, pixel)| g.weight.map(|weight| (g.diameter * pixel, weight)));
    let class = |diameter: f64| (diameter.log10() * CLASSES_PER_DECADE).floor() as i32;
    let Some(first) = whole().map(|(d, _)| class(d)).min() else { return Vec::new() };
    let last = whole().map(|(d, _)| class(d)).max().unwrap_or(first);
    let edge = |class: i32| 10f64.powf(f64::from(class) / CLASSES_PER_DECADE);
    let mut bins: Vec<SizeBin> =
        (first..=last).map(|k| SizeBin { lower: edge(k), upper: edge(k + 1), seen: 0, amount: 0.0 }).collect();
    for (diameter, weight) in whole() {
        let bin = &mut bins[(class(diameter) - first) as usize];
        bin.seen += 1;
        bin.amount += weight;
    }
    bins
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_of_three_grains() {
        let grain = |diameter, weight| Grain { diameter, middle: [0.0; 2], weight };
        let grains = [grain(1.0, Some(1.0)), grain(2.0, Some(1.0)), grain(4.0, Some(2.0)), grain(9.0, None)];
        let moments = SizeMoments::of(grains.iter());
        assert_eq!(moments.number(), (4.0, 6f64.sqrt()));
        // M0..M4: 4, 11, 37, 137, 529.
        let mean = |upper| moments.mean(upper).expect("grains").0;
        assert_eq!([mean(1), mean(3), mean(4)], [11.0 / 4.0, 137.0 / 37.0, 529.0 / 137.0]);
        // (1 - 2.75)^2 + (2 - 2.75)^2 + 4 (4 - 2.75)^2 = 3.0625 + 0.5625 + 6.25; its root over 4.
        assert!((moments.mean(1).expect("grains").1 - 9.875f64.sqrt() / 4.0).abs() < 1e-12);
        assert!(SizeMoments::of([grain(1.0, None)].iter()).mean(1).is_none());
    }

    #[test]
    fn a_grain_at_the_frame_is_not_sized() {
        let mut labels = Raster::filled(20, 10, 0u32);
        for (column, row) in [(5, 4), (6, 4), (5, 5), (6, 5)] {
            labels.values[row * 20 + column] = 1;
        }
        labels.values[19] = 2;
        let found = grains(&labels, 2, &[0, 1, 1], 0.0);
        assert_eq!(found[0].middle, [6.0, 5.0]);
        assert!((found[0].diameter - 2.0 * (4.0 / PI).sqrt()).abs() < 1e-12);
        // 20 x 10 over (20 - 3)(10 - 3).
        assert!((found[0].weight.expect("whole") - 200.0 / 119.0).abs() < 1e-12);
        assert_eq!(found[1].weight, None);
        let bins = histogram(&[(found[0], 1e-6), (found[1], 1e-6)]);
        assert_eq!((bins.len(), bins[0].seen), (1, 1));
        assert!(bins[0].lower < found[0].diameter * 1e-6 && found[0].diameter * 1e-6 < bins[0].upper);
    }
}
