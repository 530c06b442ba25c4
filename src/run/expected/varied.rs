//! Means and variances over what differs between prints.
//!
//! A figure is taken at the set values and at one or two places to each side for each varied input, all others as set. Places and weights are
//! those of Gauss: three have the first five moments of the input's law, so parabolas in it have the right mean and variance, and five the
//! first nine. What inputs do only together is left out.

use motefall_physics::inputs::{Law, VariedInput};

/// Moments of a law of variance 1: the fourth, sixth and eighth.
fn moments_of(law: Law) -> [f64; 3] {
    match law {
        Law::Normal => [3.0, 15.0, 105.0],
        // a^2k/(2k + 1) with a^2 = 3, and 2 a^2k/((2k + 1)(2k + 2)) with a^2 = 6.
        Law::Uniform => [1.8, 27.0 / 7.0, 9.0],
        Law::Triangular => [2.4, 54.0 / 7.0, 28.8],
    }
}

/// Places of a law of variance 1 to one side of its middle, the nearest first, with the weight of each; those of the other side weigh as much, and
/// the middle what is left.
pub(super) fn places(law: Law, input: VariedInput) -> Vec<[f64; 2]> {
    let [fourth, sixth, eighth] = moments_of(law);
    if !is_steep(input) {
        return vec![[fourth.sqrt(), 0.5 / fourth]];
    }
    // x (x^4 - a x^2 + b) is orthogonal to x and x^3.
    let a = (eighth - fourth * sixth) / (sixth - fourth * fourth);
    let b = a * fourth - sixth;
    let root = (0.25 * a * a - b).sqrt();
    let [near, far] = [0.5 * a - root, 0.5 * a + root];
    let weight = |own: f64, other: f64| 0.5 * (fourth - other) / (own * (own - other));
    vec![[near.sqrt(), weight(near, far)], [far.sqrt(), weight(far, near)]]
}

/// Whether figures follow an input so steeply that no parabola tells them: what lands beside a print falls exponentially with the distance.
fn is_steep(input: VariedInput) -> bool {
    matches!(input, VariedInput::AlignmentX | VariedInput::AlignmentY)
}

/// How an input that varies moves the mean of a figure, and what variance it gives it: from the figure's changes at its places, below and above
/// the set value.
pub(super) fn moments(places: &[[f64; 2]], changes: &[[f64; 2]]) -> (f64, f64) {
    let both = || places.iter().zip(changes);
    let mean: f64 = both().map(|([_, weight], [below, above])| weight * (below + above)).sum();
    let square: f64 = both().map(|([_, weight], [below, above])| weight * (below * below + above * above)).sum();
    (mean, (square - mean * mean).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(law: Law, input: VariedInput, g: impl Fn(f64) -> f64) -> (f64, f64) {
        let places = places(law, input);
        let changes: Vec<[f64; 2]> = places.iter().map(|[place, _]| [g(-place), g(*place)]).collect();
        moments(&places, &changes)
    }

    /// g = 2 z + 3 z^2 with z of variance 1: mean 3, variance 4 + 9 (k - 1) for a symmetric law of fourth moment k.
    #[test]
    fn parabolas_have_their_mean_and_variance() {
        for law in [Law::Normal, Law::Uniform, Law::Triangular] {
            for input in [VariedInput::Output, VariedInput::AlignmentX] {
                let [k, ..] = moments_of(law);
                let (mean, variance) = of(law, input, |z| 2.0 * z + 3.0 * z * z);
                assert!(
                    (mean - 3.0).abs() < 1e-12 && (variance - (4.0 + 9.0 * (k - 1.0))).abs() < 1e-9,
                    "{mean} {variance}"
                );
            }
        }
    }

    /// The square of z^4 is z^8, the last moment but one that five places have.
    #[test]
    fn five_places_have_eight_moments() {
        for law in [Law::Normal, Law::Uniform, Law::Triangular] {
            let [fourth, _, eighth] = moments_of(law);
            let (mean, variance) = of(law, VariedInput::AlignmentY, |z| z.powi(4));
            assert!(
                (mean - fourth).abs() < 1e-9 && (variance - (eighth - fourth * fourth)).abs() < 1e-9,
                "{law:?} {mean} {variance}"
            );
        }
    }

    /// g = exp(0.9 z) - 1 with z normal: variance exp(1.62) - exp(0.81) = 2.805 (lognormal law). Three places have 2.208 by hand, five 2.780.
    #[test]
    fn five_places_tell_what_rises_exponentially() {
        let truth = 1.62_f64.exp() - 0.81_f64.exp();
        let off = |input| (of(Law::Normal, input, |z| (0.9 * z).exp() - 1.0).1 / truth).sqrt() - 1.0;
        assert!(
            off(VariedInput::AlignmentX).abs() < 0.01 && off(VariedInput::Output) < -0.1,
            "{}",
            off(VariedInput::AlignmentX)
        );
    }
}
