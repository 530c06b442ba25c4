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
/// Steps in which the middle of a line is found.
const MIDDLE_STEPS: usize = 4;

impl Strip {
    /// The pieces of each part of the line.
    pub(crate) fn parts(&self) -> Vec<Range<usize>> {
        let parts = PARTS.min(self.pieces);
        (0..parts).map(|k| k * self.pieces / parts..(k + 1) * self.pieces / parts).collect()
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
