//! Grains that lie on each other and are counted as one.

/// Distance between the middles of two equal discs, in radii, below which they are counted as one: without blur, and by how much it grows with
/// the blur of the edges, which fills the notch between them, over their radius. A fit to made-up pictures of discs of 4 to 20 pixels in radius,
/// blurred by 0.5 to 1.5 pixels and covered to 10 and 30 %, from how many are found: the share that is hidden is within 0.06. By their necks alone it
/// would be 1.05, and more where these are a few pixels.
const ONE_GRAIN: [f64; 2] = [0.86, 2.7];
/// Largest covered share that is taken: beyond it, next to nothing says how many lie there.
const MOST_COVERED: f64 = 0.98;

/// Share of the grains that are not told apart, if they lie by chance, from covered shares of places and the weights of these; `blur` is that of
/// their edges over their radius.
///
/// A share p is covered by n = -ln(1 - p) areas of grains that lie by chance, and of so many those that have no earlier one within d radii are
/// (1 - exp(-d^2 n))/d^2. Source: Matérn 1960, Spatial variation (hard-core process of the second kind; from memory).
pub(crate) fn hidden_share(places: impl Iterator<Item = (f64, f64)>, blur: f64) -> f64 {
    let area = (ONE_GRAIN[0] + ONE_GRAIN[1] * blur).powi(2);
    let (mut seen, mut all) = (0.0, 0.0);
    for (covered, weight) in places {
        let number = -(-covered.clamp(0.0, MOST_COVERED)).ln_1p();
        all += weight * number;
        seen += weight * -(-area * number).exp_m1() / area;
    }
    if all > 0.0 { 1.0 - seen / all } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_covered_hides_more() {
        // n = -ln 0.8 = 0.22314; d = 0.86 + 2.7 * 0.09 = 1.103; d^2 n = 0.27148; (1 - exp(-0.27148))/0.27148 = 0.87575.
        let even = hidden_share([(0.2, 3.0), (0.2, 1.0)].into_iter(), 0.09);
        assert!((even - (1.0 - 0.875_75)).abs() < 1e-4, "{even}");
        assert_eq!(hidden_share(std::iter::empty(), 0.1), 0.0);
        // As much in half of the places, and sharper.
        assert!(hidden_share([(0.36, 1.0), (0.0, 1.0)].into_iter(), 0.09) > 1.7 * even);
        assert!(hidden_share(std::iter::once((0.2, 1.0)), 0.0) < even);
    }
}
