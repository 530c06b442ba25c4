//! How much of the mist output's noise is left in what lies on a place.
//!
//! The noise changes within seconds or minutes, so that what falls on a place over a longer time sees it evened out.

use crate::setting::{LayerSetting, Setting};
use motefall_physics::contours::Bounds;

/// Distance from a place, in radii within which half of the particles fall, over which the jet's part in it fades by a factor e.
const FADES_OVER: f64 = 0.5;

/// Share of the variance of a noise that were the same all through a print that is left in what lies within bounds, or in all of it. `radii`
/// are those within which half of the particles of each layer fall, m, `amounts` what each layer leaves there.
pub(super) fn left_over(setting: &Setting<'_>, bounds: Option<Bounds>, radii: &[f64], amounts: &[f64]) -> f64 {
    let all: f64 = amounts.iter().sum();
    let parts = setting.layers.iter().zip(radii).zip(amounts);
    let of_layer = |((layer, radius), amount): ((&LayerSetting<'_>, &f64), &f64)| {
        // In proportion to what falls there: how long the jet is near, and how near.
        let weight = |middle: [f64; 2]| {
            bounds.as_ref().map_or(1.0, |Bounds { low, high }| {
                let beyond = [0, 1].map(|k| (low[k] - middle[k]).max(middle[k] - high[k]).max(0.0));
                (-beyond[0].hypot(beyond[1]) / (FADES_OVER * radius)).exp()
            })
        };
        let weights = layer.blocks.iter().map(|block| {
            let half = 0.5 * block.duration;
            (block.time + half, block.duration * weight(block.at(half)))
        });
        (amount / all).powi(2) * evened(weights, layer.layer.output.noise_time)
    };
    if all > 0.0 { parts.map(of_layer).sum::<f64>().min(1.0) } else { 1.0 }
}

/// Variance of a mean over times with these weights of a noise of the variance 1 whose correlation falls by a factor e in `correlated`, s.
fn evened(weights: impl Iterator<Item = (f64, f64)>, correlated: f64) -> f64 {
    let (mut sum, mut squares, mut before, mut last) = (0.0, 0.0, 0.0, 0.0);
    for (time, weight) in weights {
        // Earlier weights, each times its correlation with this time.
        before *= if correlated > 0.0 { (-(time - last) / correlated).exp() } else { 0.0 };
        squares += weight * (weight + 2.0 * before);
        (sum, before, last) = (sum + weight, before + weight, time);
    }
    if sum > 0.0 { squares / (sum * sum) } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of an exponential correlation over a time T = x tau the mean keeps 2 (x - 1 + e^-x)/x^2 of the variance; without correlation 1/n.
    #[test]
    fn a_mean_over_time_evens_noise_out() {
        let times = |n: u32| (0..n).map(move |k| ((f64::from(k) + 0.5) / f64::from(n), 1.0));
        for x in [0.1f64, 1.0, 10.0] {
            let exact = 2.0 * (x - 1.0 + (-x).exp()) / (x * x);
            let left = evened(times(2000), 1.0 / x);
            assert!((left / exact - 1.0).abs() < 1e-3, "{x}: {left} {exact}");
        }
        assert!((evened(times(10), 0.0) - 0.1).abs() < 1e-12);
        assert_eq!(evened(std::iter::empty(), 1.0), 1.0);
    }
}
