//! Lognormal modes and bins of a histogram.

use crate::words::words;
use statrs::function::erf::erfc;

words! {
    /// Whether the parts of a distribution are weighted by number or by volume.
    pub enum Weighting {
        /// By volume of particles (what laser diffraction reports).
        Volume = "volume",
        /// By number of particles.
        Number = "number",
    }
}

/// One lognormal mode of a mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LognormalMode {
    /// Share of the mixture in the given weighting; shares are normalised.
    pub share: f64,
    /// Median diameter in the given weighting, m.
    pub median: f64,
    /// Geometric standard deviation, above 1.
    pub gsd: f64,
    /// Weighting of share and median.
    pub weighting: Weighting,
}

/// Count median diameter, m, of a lognormal with a volume median (m) and geometric standard deviation:
/// CMD = VMD exp(-3 ln^2 gsd).
///
/// Source: Hatch & Choate 1929, Statistical description of the size properties of non-uniform particulate substances,
/// J. Franklin Inst. 207:369.
pub fn count_median(volume_median: f64, gsd: f64) -> f64 {
    volume_median * (-3.0 * gsd.ln().powi(2)).exp()
}

/// Average of a lognormal, m: CMD exp(b ln^2 gsd). b: -1 mode, 1 diameter of average area, 1.5 of average volume, 2.5 Sauter,
/// 3 volume median. Source as for [`count_median`].
pub fn hatch_choate(count_median: f64, gsd: f64, b: f64) -> f64 {
    count_median * (b * gsd.ln().powi(2)).exp()
}

/// A lognormal part by number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CountMode {
    /// Share of the number.
    pub(crate) share: f64,
    /// Logarithm of the count median diameter (m).
    pub(crate) log_median: f64,
    /// Standard deviation of the logarithm.
    pub(crate) sigma: f64,
}

/// A histogram bin by number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CountBin {
    pub(crate) share: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum CountLaw {
    Lognormal(Vec<CountMode>),
    Histogram(Vec<CountBin>),
}

/// Standard deviations kept on each side of a lognormal mode: the rest holds 1e-15 of it.
const TAIL: f64 = 8.0;

impl CountMode {
    pub(crate) fn moment(&self, k: i32) -> f64 {
        let k = f64::from(k);
        (k * self.log_median + 0.5 * (k * self.sigma).powi(2)).exp()
    }

    /// Logarithm of the median when weighted by d^k.
    pub(crate) fn shifted(&self, k: i32) -> f64 {
        self.log_median + f64::from(k) * self.sigma * self.sigma
    }

    /// Range of the logarithm that holds number and volume.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.log_median - TAIL * self.sigma, self.shifted(3) + TAIL * self.sigma)
    }

    pub(crate) fn log_density(&self, log: f64) -> f64 {
        let z = (log - self.log_median) / self.sigma;
        (-0.5 * z * z).exp() / (self.sigma * (2.0 * std::f64::consts::PI).sqrt())
    }
}

/// Share of the standard normal below z.
pub(super) fn normal_below(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// E[d^k] when ln d is uniform between two diameters: (b^k - a^k)/(k ln(b/a)).
pub(super) fn log_uniform_moment(low: f64, high: f64, k: i32) -> f64 {
    let width = (high / low).ln();
    let x = f64::from(k) * width;
    let ratio = if x.abs() < 1e-12 { 1.0 } else { x.exp_m1() / x };
    low.powi(k) * ratio
}
