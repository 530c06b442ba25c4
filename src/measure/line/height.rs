//! How high a profile is, where chance did not choose the place.

use super::strip::Strip;
use motefall_figures::profile::smoothing;
use std::ops::Range;

/// Parts of a line, each of which is left out once.
const PARTS: usize = 16;
/// Fewest of them.
const FEWEST_PARTS: usize = 3;
/// Standard errors by which a place must be higher than the middle of the line to count as its peak.
const CLEARLY_HIGHER: f64 = 2.0;
/// How far from an edge its flank is looked at, in widths of the line.
const FLANK: f64 = 0.1;
/// Steps in which the middle of a line is found.
const MIDDLE_STEPS: usize = 4;

impl Strip {
    /// The pieces of each part of the line.
    pub(crate) fn parts(&self) -> Vec<Range<usize>> {
        let parts = PARTS.min(self.pieces);
        (0..parts).map(|k| k * self.pieces / parts..(k + 1) * self.pieces / parts).collect()
    }

    /// Area, pixels, of the grains that would make the parts of a line differ at its edges as they do, if they lay by chance: p (1 - p) times
    /// it over the area of a part is the variance of their covered shares p. At least one pixel.
    pub(crate) fn grain_at(&self, edges: [f64; 2], width: f64) -> f64 {
        let reach = FLANK * width;
        let of_edge = |edge: f64| {
            let bins = (edge - reach).max(0.0) as usize..((edge + reach).ceil() as usize + 1).min(self.bins);
            let part = |pieces: &Range<usize>| {
                let profile = self.profile(pieces);
                let pixels: f64 = bins.clone().map(|bin| self.length_in(pieces, bin)).sum();
                let covered: f64 = bins.clone().map(|bin| profile[bin] * self.length_in(pieces, bin)).sum();
                [covered / pixels.max(1.0), pixels]
            };
            let shares: Vec<[f64; 2]> = self.parts().iter().map(part).collect();
            let [mean, error] = mean_and_error(&shares);
            let pixels: f64 = shares.iter().map(|share| share[1]).sum();
            if error.is_finite() && mean > 0.0 && mean < 1.0 {
                error * error * pixels / (mean * (1.0 - mean))
            } else {
                0.0
            }
        };
        edges.map(of_edge).into_iter().fold(1.0, f64::max)
    }
}

/// Height of a curve made of a profile, by parts of the line: share and weight of each.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Height(Vec<[f64; 2]>);

impl Height {
    /// The largest value of a grainy curve is too large, since chance takes part in choosing the place: by 10 % in lines covered to 6 %. So each
    /// part of the line is read at the place that the others tell: at their middle, unless their highest place is [`CLEARLY_HIGHER`] in
    /// the parts that did not choose it. Predictions read the height of a line the same way. `None` of a line of few pieces.
    pub(crate) fn of(strip: &Strip, curve: impl Fn(&[f64]) -> Vec<f64>) -> Option<Self> {
        let parts = strip.parts();
        if parts.len() < FEWEST_PARTS {
            return None;
        }
        let reach = 3.0 * smoothing(&strip.profile(&(0..strip.pieces))) as f64;
        let read = |pieces: &Range<usize>| {
            let (others, own) = (curve(&strip.profile_without(pieces)), curve(&strip.seen_profile(pieces)));
            let top = (0..others.len()).max_by(|a, b| others[*a].total_cmp(&others[*b]))?;
            let middle = middle(&others, top, reach);
            let (low, share) = (middle.floor() as usize, middle.fract());
            let at_middle = own[low] + share * (own[(low + 1).min(own.len() - 1)] - own[low]);
            Some([own[top], at_middle, strip.length_in(pieces, low)])
        };
        let places: Vec<[f64; 3]> = parts.iter().map(read).collect::<Option<_>>()?;
        let more: Vec<[f64; 2]> = places.iter().map(|[top, middle, weight]| [top - middle, *weight]).collect();
        let [more, error] = mean_and_error(&more);
        let column = usize::from(more <= CLEARLY_HIGHER * error);
        Some(Self(places.iter().map(|place| [place[column], place[2]]).collect()))
    }

    /// Of the whole line.
    pub(crate) fn whole(&self) -> f64 {
        mean_and_error(&self.0)[0]
    }

    /// Without a part of it.
    pub(crate) fn without(&self, part: usize) -> f64 {
        let others = || self.0.iter().enumerate().filter(|(k, _)| *k != part).map(|(_, value)| value);
        others().map(|[value, weight]| value * weight).sum::<f64>() / others().map(|value| value[1]).sum::<f64>()
    }
}

/// Mean of values by their weights, and its standard error from their scatter.
fn mean_and_error(values: &[[f64; 2]]) -> [f64; 2] {
    let whole: f64 = values.iter().map(|[_, weight]| weight).sum();
    let mean = values.iter().map(|[value, weight]| value * weight).sum::<f64>() / whole;
    let squares: f64 = values.iter().map(|[value, weight]| (weight * (value - mean)).powi(2)).sum();
    let n = values.len() as f64;
    [mean, (squares * n / (n - 1.0)).sqrt() / whole]
}

/// Middle of what a curve holds within `reach` of that middle, in bins, found from a place near it.
fn middle(curve: &[f64], near: usize, reach: f64) -> f64 {
    let last = (curve.len() - 1) as f64;
    let mut middle = near as f64;
    for _ in 0..MIDDLE_STEPS {
        let (low, high) = ((middle - reach).max(0.0).ceil() as usize, (middle + reach).min(last) as usize);
        let sum: f64 = curve[low..=high].iter().sum();
        let moment: f64 = curve[low..=high].iter().enumerate().map(|(k, value)| (low + k) as f64 * value).sum();
        if sum > 0.0 {
            middle = (moment / sum).clamp(0.0, last);
        }
    }
    middle
}
