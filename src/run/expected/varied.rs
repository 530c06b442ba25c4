//! Means and variances over what differs between prints.
//!
//! A figure is taken at the set values and at one place to each side for each varied input, all others as set. Three places of an input, with
//! the weights 1/2k at the outer ones, k the fourth moment over the squared variance, and the outer ones sqrt(k) standard deviations away,
//! have the first five moments of the input's law: so parabolas in it have the right mean and variance. What inputs do only together is left
//! out.

use motefall_physics::inputs::Law;

/// Fourth moment over the squared variance.
pub(super) fn fourth(law: Law) -> f64 {
    match law {
        Law::Normal => 3.0,
        Law::Uniform => 1.8,
        Law::Triangular => 2.4,
    }
}

/// How an input that varies moves the mean of a figure, and what variance it gives it: from the figure's changes at the places to both sides.
pub(super) fn moments(law: Law, below: f64, above: f64) -> (f64, f64) {
    let weight = 0.5 / fourth(law);
    let mean = weight * (below + above);
    (mean, (weight * (below * below + above * above) - mean * mean).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// g = 2 z + 3 z^2 with z of variance 1: mean 3, variance 4 + 9 (k - 1) for a symmetric law.
    #[test]
    fn parabolas_have_their_mean_and_variance() {
        for law in [Law::Normal, Law::Uniform, Law::Triangular] {
            let k = fourth(law);
            let g = |z: f64| 2.0 * z + 3.0 * z * z;
            let (mean, variance) = moments(law, g(-k.sqrt()), g(k.sqrt()));
            assert!(
                (mean - 3.0).abs() < 1e-12 && (variance - (4.0 + 9.0 * (k - 1.0))).abs() < 1e-9,
                "{mean} {variance}"
            );
        }
    }
}
