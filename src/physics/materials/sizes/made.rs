//! Distributions out of modes and histograms.

use super::laws::{CountBin, CountLaw, CountMode, LognormalMode, Weighting, count_median, log_uniform_moment};
use super::{LARGEST_GSD, SizeDistribution, SizesError};

impl SizeDistribution {
    /// A mixture of lognormals; all modes in the same weighting.
    ///
    /// A share by volume becomes a share by number on division by the mode's mean particle volume, CMD^3 exp(4.5 ln^2 gsd).
    pub fn from_modes(modes: &[LognormalMode]) -> Result<Self, SizesError> {
        let first = modes.first().ok_or(SizesError::Empty)?;
        let largest_median = modes.iter().map(|m| m.median).fold(0.0, f64::max);
        let mut parts = Vec::with_capacity(modes.len());
        for (i, m) in modes.iter().enumerate() {
            let mode = i + 1;
            if m.weighting != first.weighting {
                return Err(SizesError::MixedWeighting { mode });
            }
            if !(m.share >= 0.0 && m.share.is_finite()) {
                return Err(SizesError::Share { mode, value: m.share });
            }
            if !(m.median > 0.0 && m.median.is_finite()) {
                return Err(SizesError::Median { mode, value: m.median });
            }
            if !(m.gsd > 1.0 && m.gsd <= LARGEST_GSD) {
                return Err(SizesError::Gsd { mode, value: m.gsd });
            }
            let sigma = m.gsd.ln();
            let (median, share) = match m.weighting {
                Weighting::Number => (m.median, m.share),
                Weighting::Volume => {
                    let median = count_median(m.median, m.gsd);
                    // Scaled by the largest median so that the cubes stay in range.
                    (median, m.share / ((median / largest_median).powi(3) * (4.5 * sigma * sigma).exp()))
                }
            };
            if share > 0.0 {
                parts.push(CountMode { share, log_median: median.ln(), sigma });
            }
        }
        let total: f64 = parts.iter().map(|p| p.share).sum();
        if total <= 0.0 {
            return Err(SizesError::NothingInIt);
        }
        parts.iter_mut().for_each(|p| p.share /= total);
        Ok(Self::finish(CountLaw::Lognormal(parts)))
    }

    /// A histogram: `edges` (m, rising, one more than `amounts`) and the amount in each bin in the given weighting.
    ///
    /// Within a bin the number is spread evenly over the logarithm of the diameter. An amount by volume becomes one by number
    /// on division by the bin's mean particle volume under that rule.
    pub fn from_histogram(edges: &[f64], amounts: &[f64], weighting: Weighting) -> Result<Self, SizesError> {
        if edges.is_empty() || amounts.is_empty() {
            return Err(SizesError::Empty);
        }
        if edges.len() != amounts.len() + 1 {
            return Err(SizesError::Lengths { edges: edges.len(), amounts: amounts.len() });
        }
        for (i, &value) in edges.iter().enumerate() {
            if !(value > 0.0 && value.is_finite()) {
                return Err(SizesError::Edge { edge: i + 1, value });
            }
            if i > 0 && value <= edges[i - 1] {
                return Err(SizesError::Unsorted { edge: i + 1, value, before: edges[i - 1] });
            }
        }
        let largest = edges[edges.len() - 1];
        let mut bins = Vec::with_capacity(amounts.len());
        for (i, &amount) in amounts.iter().enumerate() {
            if !(amount >= 0.0 && amount.is_finite()) {
                return Err(SizesError::Amount { bin: i + 1, value: amount });
            }
            let (low, high) = (edges[i], edges[i + 1]);
            let share = match weighting {
                Weighting::Number => amount,
                Weighting::Volume => amount / log_uniform_moment(low / largest, high / largest, 3),
            };
            if share > 0.0 {
                bins.push(CountBin { share, low, high });
            }
        }
        let total: f64 = bins.iter().map(|b| b.share).sum();
        if total <= 0.0 {
            return Err(SizesError::NothingInIt);
        }
        bins.iter_mut().for_each(|b| b.share /= total);
        Ok(Self::finish(CountLaw::Histogram(bins)))
    }

    fn finish(law: CountLaw) -> Self {
        let mut sizes = Self { law, third_moment: 0.0 };
        sizes.third_moment = sizes.moment(3);
        sizes
    }
}
