//! How high a line is, and how well its width is known from itself.

use super::curve::{
    LEAST_SMOOTHING, highest, means, middle, rough_width, sharpen, smooth, smooth_at, smoothing, width_at, without,
};
use super::pieces::Pieces;
use crate::Measured;
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::ops::Range;

/// Relative standard error of a line's peak up to which it is averaged over no more places across. An estimate: averaging lowers a pointed
/// peak in every print alike, while chance differs from print to print and shows in their interval.
const PEAK_CHANCE: f64 = 0.1;
/// Parts into which a line is cut to find that error, and fewest of them.
const PEAK_PARTS: usize = 20;
const FEWEST_PARTS: usize = 4;
/// Standard errors by which a place must be higher than the middle of the line to count as its peak.
const CLEARLY_HIGHER: f64 = 2.0;
/// The jackknife's interval of a width is made wider by this: without it, it holds the width of only 84 to 93 % of made prints, since the
/// places of peak and edges are not smooth in the data. Found with the test of grainy lines.
const JACKKNIFE_FACTOR: f64 = 1.25;

/// Height of a line's profile, m, its relative standard error, and what each part of the line has there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Height {
    pub(super) value: f64,
    pub(super) error: f64,
    pub(super) of_parts: Vec<f64>,
}

/// A part of a line that tells how high the profile is where the other parts have their highest place and their middle, in bins.
struct Part {
    own: Vec<f64>,
    top: usize,
    middle: f64,
    weight: f64,
}

/// Mean over parts by their weights, and its standard error from their scatter.
fn mean_and_error(parts: &[Part], values: &[f64]) -> [f64; 2] {
    let whole: f64 = parts.iter().map(|part| part.weight).sum();
    let mean = parts.iter().zip(values).map(|(part, value)| part.weight * value).sum::<f64>() / whole;
    let squares: f64 = parts.iter().zip(values).map(|(part, value)| (part.weight * (value - mean)).powi(2)).sum();
    let n = parts.len() as f64;
    [mean, (squares * n / (n - 1.0)).sqrt() / whole]
}

impl Pieces<'_> {
    /// Interval of 95 % of a line's width from the scatter along it, m, by leaving out one part after the other; `None` if it has no width.
    ///
    /// `error^2 = (n - 1)/n sum (w_k - mean)^2`, w_k the width without part k of n, by as many standard errors as Student's law asks for.
    /// Source: Tukey 1958, Bias and confidence in not-quite large samples, Ann. Math. Stat. 29:614 (the jackknife; from memory).
    pub(crate) fn width_interval(&self, profile: &[f64]) -> Option<[f64; 2]> {
        let Measured::Exactly(width) = self.edges(profile)?.width else { return None };
        let of_parts = self.height(profile)?.of_parts;
        let parts = of_parts.len();
        let sum: f64 = (0..parts).map(|k| of_parts[k] * self.part(k, parts).len() as f64).sum();
        let whole = self.total(0..self.strip.pieces);
        let width_without = |k: usize| {
            let own = self.part(k, parts);
            let height = (sum - of_parts[k] * own.len() as f64) / (self.strip.pieces - own.len()) as f64;
            let others = without(&whole, &self.total(own));
            width_at(&others, smoothing(profile), 0.5 * height).map_or(0.0, |(bins, _)| bins * self.strip.grid.pitch)
        };
        let widths: Vec<f64> = (0..parts).map(width_without).collect();
        let n = parts as f64;
        let mean = widths.iter().sum::<f64>() / n;
        let error = ((n - 1.0) / n * widths.iter().map(|w| (w - mean).powi(2)).sum::<f64>()).sqrt();
        let half = JACKKNIFE_FACTOR * StudentsT::new(0.0, 1.0, n - 1.0).ok()?.inverse_cdf(0.975) * error;
        Some([(width - half).max(0.0), width + half])
    }

    /// The pieces of a part of a line that is cut into some.
    fn part(&self, k: usize, parts: usize) -> Range<usize> {
        k * self.strip.pieces / parts..(k + 1) * self.strip.pieces / parts
    }

    /// Height of a line's profile; `None` of a line of few pieces or without any height.
    ///
    /// The largest value of a grainy profile is too large, since chance takes part in choosing the place; smoothed, it is too small where
    /// the profile is pointed. So the line is cut into parts: for each, the others tell where the peak is, and the part itself how high.
    /// That place is the line's middle, where a line is highest as a rule, unless another is [`CLEARLY_HIGHER`]. A part is averaged over as
    /// many bins as it takes to know the height to [`PEAK_CHANCE`]: mostly one. Two humps that are not clear are taken up to 5 % too low.
    pub(super) fn height(&self, profile: &[f64]) -> Option<Height> {
        let parts = PEAK_PARTS.min(self.strip.pieces);
        if parts < FEWEST_PARTS {
            return None;
        }
        let widest = smoothing(profile);
        let reach = 0.5 * rough_width(profile);
        let whole = self.total(0..self.strip.pieces);
        let places: Vec<Part> = (0..parts)
            .map(|k| {
                let pieces = self.part(k, parts);
                let own = self.total(pieces.clone());
                let others = without(&whole, &own);
                let top = highest(&smooth(&others, widest)).unwrap_or(0);
                let middle = middle(&others, top, reach);
                Part { own: sharpen(&means(&own)), top, middle, weight: pieces.len() as f64 }
            })
            .collect();
        let at = |half_window: usize| {
            let top = |part: &Part| smooth_at(&part.own, half_window, part.top);
            let middle = |part: &Part| {
                let (low, share) = (part.middle.floor(), part.middle.fract());
                let [a, b] = [low, low + 1.0].map(|bin| smooth_at(&part.own, half_window, bin as usize));
                a + share * (b - a)
            };
            let more: Vec<f64> = places.iter().map(|part| top(part) - middle(part)).collect();
            let [more, error] = mean_and_error(&places, &more);
            let of_parts: Vec<f64> = match more > CLEARLY_HIGHER * error {
                true => places.iter().map(top).collect(),
                false => places.iter().map(middle).collect(),
            };
            let [value, error] = mean_and_error(&places, &of_parts);
            (value > 0.0).then(|| Height { value, error: error / value, of_parts })
        };
        let windows = std::iter::once(0).chain(LEAST_SMOOTHING..=widest);
        windows
            .clone()
            .filter_map(at)
            .find(|height| height.error <= PEAK_CHANCE)
            .or_else(|| windows.last().and_then(at))
    }
}
