//! Curves by bins: smoothed, sharpened, and where they pass a level.

use crate::Measured;

/// Width of a bell curve over the narrowest band that holds half of it: 2.3548/(2 * 0.6745), exact for a normal curve.
const WIDTH_OVER_HALF_BAND: f64 = 1.745_6;
/// Steps in which the middle of a line is found.
const MIDDLE_STEPS: usize = 4;

/// Least half window of the smoothing, bins.
pub(super) const LEAST_SMOOTHING: usize = 2;

/// Total thickness, m, and pixels of each bin.
pub(super) type Total = Vec<[f64; 2]>;

/// A mean, 0 of nothing.
pub(super) fn ratio(sum: f64, weight: f64) -> f64 {
    if weight > 0.0 { sum / weight } else { 0.0 }
}

/// Mean thickness per bin.
pub(super) fn means(total: &Total) -> Vec<f64> {
    total.iter().map(|[sum, weight]| ratio(*sum, *weight)).collect()
}

/// Mean thickness per bin of what is left without a part.
pub(super) fn without(whole: &Total, part: &Total) -> Vec<f64> {
    whole.iter().zip(part).map(|([sum, weight], [own, pixels])| ratio(sum - own, weight - pixels)).collect()
}

/// Place of the largest value.
pub(super) fn highest(values: &[f64]) -> Option<usize> {
    (0..values.len()).max_by(|a, b| values[*a].total_cmp(&values[*b]))
}

/// Centre of the mass within `reach` of itself, in bins, found from a place near it.
pub(super) fn middle(values: &[f64], near: usize, reach: f64) -> f64 {
    let last = (values.len() - 1) as f64;
    let mut centre = near as f64;
    for _ in 0..MIDDLE_STEPS {
        let (low, high) = ((centre - reach).max(-0.5), (centre + reach).min(last + 0.5));
        let (mut mass, mut moment) = (0.0, 0.0);
        for (k, value) in values.iter().enumerate() {
            let (a, b) = ((k as f64 - 0.5).max(low), (k as f64 + 0.5).min(high));
            if b > a {
                mass += value * (b - a);
                moment += value * (b - a) * 0.5 * (a + b);
            }
        }
        if mass > 0.0 {
            centre = (moment / mass).clamp(0.0, last);
        }
    }
    centre
}

/// Width of a line at a level, in bins, and whether it ends on both sides; `None` if it is nowhere so high.
pub(super) fn width_at(profile: &[f64], half_window: usize, level: f64) -> Option<(f64, bool)> {
    // The smoothed curve tells about where the edges are. A spike narrower than that is looked for with less smoothing.
    let mut half_window = half_window;
    let (smoothed, top) = loop {
        let smoothed = smooth(profile, half_window);
        let top = highest(&smoothed)?;
        if smoothed[top] > level {
            break (smoothed, top);
        }
        if half_window == 1 {
            return None;
        }
        half_window /= 2;
    };
    let found = crossings(&smoothed, top, level);
    let ends = [0.0, (smoothed.len() - 1) as f64];
    let rough = [0, 1].map(|side| found[side].unwrap_or(ends[side]));
    let [left, right] = half_height(&sharpen(profile), rough, half_window, level);
    Some((right - left, !found.contains(&None)))
}

/// Half window, in bins, that smooths a line over about a third of its width: near the peak a parabola follows a bell or a dome, and
/// chance unevenness is halved or better. A pointed profile loses up to a tenth of its peak, so that is looked for with less (`Pieces::peak`).
pub fn smoothing(profile: &[f64]) -> usize {
    ((rough_width(profile) / 6.0).round() as usize).max(LEAST_SMOOTHING)
}

/// Width guess from the narrowest run of bins that holds half of the mass, in bins: stray particles hardly matter to it.
pub(super) fn rough_width(profile: &[f64]) -> f64 {
    let half = 0.5 * profile.iter().sum::<f64>();
    let mut narrowest = profile.len();
    let (mut sum, mut first) = (0.0, 0);
    for last in 0..profile.len() {
        sum += profile[last];
        while first < last && sum - profile[first] >= half {
            sum -= profile[first];
            first += 1;
        }
        if sum >= half {
            narrowest = narrowest.min(last + 1 - first);
        }
    }
    WIDTH_OVER_HALF_BAND * narrowest as f64
}

/// Each value replaced by that of the least-squares parabola through 2m + 1 values around it (ends repeated).
///
/// Weights (3 (3m^2 + 3m - 1) - 15 i^2)/((2m - 1)(2m + 1)(2m + 3)), i = -m..m; a parabola passes unchanged, so widths keep.
/// Source: Savitzky & Golay 1964, Smoothing and differentiation of data by simplified least squares procedures, Anal. Chem. 36:1627.
pub fn smooth(values: &[f64], half_window: usize) -> Vec<f64> {
    let (Some(first), Some(last)) = (values.first(), values.last()) else { return vec![] };
    let ends = [first, last].map(|value| vec![*value; half_window]);
    let values = [&ends[0], values, &ends[1]].concat();
    let weights = parabola_weights(half_window);
    let mut sums = vec![0.0; values.len() - 2 * half_window];
    // Weight by weight for all places, several of which are worked out at a time.
    for (k, weight) in weights.iter().enumerate() {
        sums.iter_mut().zip(&values[k..]).for_each(|(sum, value)| *sum += weight * value);
    }
    sums
}

/// The same at one place; a half window of 0 leaves the value as it is.
pub(super) fn smooth_at(values: &[f64], half_window: usize, at: usize) -> f64 {
    weighted_at(values, &parabola_weights(half_window), at)
}

pub(super) fn parabola_weights(half_window: usize) -> Vec<f64> {
    let m = half_window as f64;
    let weight = |i: f64| {
        (3.0 * (3.0 * m * m + 3.0 * m - 1.0) - 15.0 * i * i) / ((2.0 * m - 1.0) * (2.0 * m + 1.0) * (2.0 * m + 3.0))
    };
    (0..=2 * half_window).map(|k| weight(k as f64 - m)).collect()
}

pub(super) fn weighted_at(values: &[f64], weights: &[f64], at: usize) -> f64 {
    let half_window = weights.len() / 2;
    let value = |k: usize| values[(at + k).saturating_sub(half_window).min(values.len() - 1)];
    weights.iter().enumerate().map(|(k, weight)| weight * value(k)).sum()
}

/// Where a curve first falls below a level on each side of its top, in bins, linear between bins; `None` where it does not.
pub(super) fn crossings(values: &[f64], top: usize, level: f64) -> [Option<f64>; 2] {
    let between = |inside: usize, outside: usize| {
        let share = (values[inside] - level) / (values[inside] - values[outside]);
        inside as f64 + share * (outside as f64 - inside as f64)
    };
    let left = (0..top).rev().find(|k| values[*k] < level).map(|k| between(k + 1, k));
    let right = (top + 1..values.len()).find(|k| values[*k] < level).map(|k| between(k - 1, k));
    [left, right]
}

/// Means over a window, in bins, that begins at a place, at all places between which they are linear; bin k spans k to k + 1.
pub(super) fn moving_mean(values: &[f64], window: f64) -> Vec<(f64, f64)> {
    let mut below = vec![0.0];
    for value in values {
        below.push(below[below.len() - 1] + value);
    }
    let integral = |at: f64| {
        let bin = (at as usize).min(values.len() - 1);
        below[bin] + (at - bin as f64) * values[bin]
    };
    // The slope changes where either end of the window passes from bin to bin.
    let last = values.len() as f64 - window;
    let mut places: Vec<f64> = (0..values.len()).flat_map(|k| [k as f64, k as f64 - window]).collect();
    places.push(last);
    places.retain(|at| (0.0..=last).contains(at));
    places.sort_by(f64::total_cmp);
    places.into_iter().map(|at| (at, (integral(at + window) - integral(at)) / window)).collect()
}

/// The last place, in bins from the middle of the first, after which the mean over the next `window` bins is at least `level`. A lower
/// bound if that is the last window of all; `None` if there is none.
pub(super) fn outermost(values: &[f64], window: f64, level: f64) -> Option<Measured> {
    let means = moving_mean(values, window);
    let inner = means.iter().rposition(|(_, mean)| *mean >= level)?;
    let (at, mean) = means[inner];
    Some(match means.get(inner + 1) {
        None => Measured::AtLeast(at - 0.5),
        Some((next, low)) => Measured::Exactly(at + (mean - level) / (mean - low) * (next - at) - 0.5),
    })
}

/// Takes back, to second order, the blur by pixel and bin: variance 1/12 + 1/6 = 1/4 of a bin squared, so v - v''/8.
pub(super) fn sharpen(values: &[f64]) -> Vec<f64> {
    let last = values.len() - 1;
    (0..=last)
        .map(|k| values[k] - 0.125 * (values[k.saturating_sub(1)] - 2.0 * values[k] + values[(k + 1).min(last)]))
        .collect()
}

/// Edges at a level of a curve that was not smoothed, in bins: smoothing would draw steep edges inwards. Looked for within the smoothing
/// window around the `rough` edges of the smoothed curve; where chance makes the curve cross several times, the length above the
/// level counts.
pub(super) fn half_height(values: &[f64], rough: [f64; 2], half_window: usize, level: f64) -> [f64; 2] {
    let last = values.len() - 1;
    let reach = half_window as f64 + 1.0;
    let length_above = |low: usize, high: usize| -> f64 {
        values[low..=high]
            .windows(2)
            .map(|v| {
                let (a, b) = (v[0] - level, v[1] - level);
                match (a >= 0.0, b >= 0.0) {
                    (true, true) => 1.0,
                    (false, false) => 0.0,
                    _ => a.max(b) / (a - b).abs(),
                }
            })
            .sum()
    };
    let middle = (0.5 * (rough[0] + rough[1])).round() as usize;
    let (low, high) = ((rough[0] - reach).floor().max(0.0) as usize, ((rough[0] + reach).ceil() as usize).min(middle));
    let left = high as f64 - length_above(low, high);
    let (low, high) =
        (((rough[1] - reach).floor() as usize).max(middle), ((rough[1] + reach).ceil() as usize).min(last));
    let right = low as f64 + length_above(low, high);
    [left, right]
}

/// Width, in bins, of the narrowest band about the centroid that holds a share of the mass; each bin's mass is even across it.
pub(super) fn band(profile: &[f64], share: f64) -> Option<f64> {
    let total: f64 = profile.iter().sum();
    if total <= 0.0 {
        return None;
    }
    // Bin k spans k to k + 1 here.
    let centroid = profile.iter().enumerate().map(|(k, v)| (k as f64 + 0.5) * v).sum::<f64>() / total;
    let mut below = vec![0.0];
    for v in profile {
        below.push(below[below.len() - 1] + v);
    }
    let mass_left_of = |at: f64| {
        let at = at.clamp(0.0, profile.len() as f64);
        let bin = (at as usize).min(profile.len() - 1);
        below[bin] + (at - bin as f64) * profile[bin]
    };
    let (mut low, mut high) = (0.0, profile.len() as f64);
    for _ in 0..50 {
        let half = 0.5 * (low + high);
        if mass_left_of(centroid + half) - mass_left_of(centroid - half) < share * total {
            low = half;
        } else {
            high = half;
        }
    }
    Some(low + high)
}
