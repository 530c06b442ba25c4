//! Exponential, logarithm, sine and cosine for loops over columns: polynomials without a branch or a call, several at a time where the processor can.

/// Added to a number of less than 2^51 in size it leaves the nearest whole number in the lowest bits.
const TO_WHOLE: f64 = 6_755_399_441_055_744.0;
/// ln 2, and what is left of it: the first has so few digits that its multiples up to 2^10 are exact.
const LN_2: [f64; 2] = [0.693_147_180_369_123_8, 1.908_214_929_270_587_7e-10];
/// Bits of the root of 1/2: numbers from there to the root of 2 have the exponent 0 here.
const ROOT_OF_HALF: u64 = 0x3fe6_a09e_667f_3bcd;
const MANTISSA_BITS: u32 = 52;

/// e^x to 2e-11 of itself, for x from -700 to 700.
///
/// e^x = 2^n e^r with n the whole number next to x/ln 2; e^r by its Taylor series to r^9, |r| up to 0.347: the next term is 7e-12.
#[inline]
pub fn exp(x: f64) -> f64 {
    debug_assert!(x.abs() <= 700.0, "{x} is out of range");
    let shifted = x * std::f64::consts::LOG2_E + TO_WHOLE;
    let whole = shifted - TO_WHOLE;
    let r = (x - whole * LN_2[0]) - whole * LN_2[1];
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let low = (1.0 + r) + r2 * (1.0 / 2.0 + r * (1.0 / 6.0));
    let middle = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0));
    let high = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let series = low + r4 * (middle + r4 * high);
    f64::from_bits(series.to_bits().wrapping_add(shifted.to_bits() << MANTISSA_BITS))
}

/// ln x to 1e-12 (absolute, and relative to itself beyond 1), for positive numbers that are neither infinite nor below 1e-300.
///
/// ln x = k ln 2 + 2 artanh f with f = (m - 1)/(m + 1), m from the root of 1/2 to the root of 2, by its series to f^13, |f| up to 0.1716: the
/// next term is 4e-13.
#[inline]
pub fn ln(x: f64) -> f64 {
    debug_assert!((1e-300..f64::INFINITY).contains(&x), "{x} is out of range");
    // 1024 added to the exponent, so that it is never negative.
    const BIAS: u64 = 1024;
    let raised = x.to_bits().wrapping_add((BIAS << MANTISSA_BITS) - ROOT_OF_HALF);
    let exponent = raised >> MANTISSA_BITS;
    let m = f64::from_bits(x.to_bits().wrapping_sub(exponent.wrapping_sub(BIAS) << MANTISSA_BITS));
    // A whole number below 2^52 in the lowest bits of 2^52.
    const TWO_TO_52: f64 = 4_503_599_627_370_496.0;
    let k = f64::from_bits(exponent | TWO_TO_52.to_bits()) - (TWO_TO_52 + BIAS as f64);
    let f = (m - 1.0) / (m + 1.0);
    let (f2, f4) = (f * f, (f * f) * (f * f));
    let low = 1.0 + f2 * (1.0 / 3.0);
    let middle = 1.0 / 5.0 + f2 * (1.0 / 7.0);
    let high = (1.0 / 9.0 + f2 * (1.0 / 11.0)) + f4 * (1.0 / 13.0);
    let series = low + f4 * (middle + f4 * high);
    k * LN_2[0] + (k * LN_2[1] + 2.0 * f * series)
}

/// Point of the unit circle, to 5e-11, at a share of its turn from 0 to 1; it begins at [-1, 0].
///
/// Sine and cosine of a quarter of the angle by their Taylor series to a^11 and a^12, |a| up to pi/4: the next terms are 7e-12 and 4e-13.
/// Then cos 2a = 1 - 2 sin^2 a and sin 2a = 2 sin a cos a, twice.
#[inline]
pub fn on_circle(share: f64) -> [f64; 2] {
    let a = (share - 0.5) * std::f64::consts::FRAC_PI_2;
    let (a2, a4) = (a * a, (a * a) * (a * a));
    let a8 = a4 * a4;
    let low = (1.0 - a2 * (1.0 / 6.0)) + a4 * (1.0 / 120.0 - a2 * (1.0 / 5040.0));
    let sin = a * (low + a8 * (1.0 / 362_880.0 - a2 * (1.0 / 39_916_800.0)));
    let low = (1.0 - a2 * (1.0 / 2.0)) + a4 * (1.0 / 24.0 - a2 * (1.0 / 720.0));
    let cos = low + a8 * ((1.0 / 40_320.0 - a2 * (1.0 / 3_628_800.0)) + a4 * (1.0 / 479_001_600.0));
    let (sin, cos) = (2.0 * sin * cos, 1.0 - 2.0 * sin * sin);
    [1.0 - 2.0 * sin * sin, 2.0 * sin * cos]
}

/// 1 - e^-x to 5e-11 of itself, for x from 0 to 700: the share that is covered where x is the mean number of covers.
///
/// Near 0 by its Taylor series to x^3: the next term is 4e-11 of the first at 0.001.
#[inline]
pub fn covered(x: f64) -> f64 {
    if x < 1e-3 { x * (1.0 - x * (0.5 - x * (1.0 / 6.0))) } else { 1.0 - exp(-x) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values between two ends, fine enough to meet every fraction of a power of 2 many times, and the ends.
    fn between(low: f64, high: f64) -> impl Iterator<Item = f64> {
        (0..=400_000).map(move |k| low + (high - low) * f64::from(k) / 400_000.0)
    }

    #[test]
    fn exponential_keeps_its_error() {
        for (low, high) in [(-700.0, 700.0), (-40.0, 40.0), (-0.36, 0.36)] {
            let worst = between(low, high).map(|x| (exp(x) / x.exp() - 1.0).abs()).fold(0.0, f64::max);
            // The bound stated, and no emptier than by a factor of 10.
            assert!(worst < 2e-11 && worst > 2e-12, "{worst:e}");
        }
        assert_eq!(exp(0.0), 1.0);
    }

    #[test]
    fn points_of_the_circle_keep_their_error() {
        let error = |share: f64| {
            let ([x, y], (sin, cos)) = (on_circle(share), (2.0 * std::f64::consts::PI * (share - 0.5)).sin_cos());
            (x - cos).abs().max((y - sin).abs())
        };
        let worst = between(0.0, 1.0).map(error).fold(0.0, f64::max);
        assert!(worst < 5e-11 && worst > 5e-12, "{worst:e}");
        assert_eq!(on_circle(0.5), [1.0, 0.0]);
    }

    #[test]
    fn covered_share_keeps_its_error() {
        for (low, high) in [(1e-12, 1e-6), (1e-6, 2e-3), (0.9e-3, 1.1e-3), (0.0, 1.0), (1.0, 700.0)] {
            let error = |x: f64| if x > 0.0 { (covered(x) / -(-x).exp_m1() - 1.0).abs() } else { covered(x) };
            let worst = between(low, high).map(error).fold(0.0, f64::max);
            assert!(worst < 5e-11, "{low:e}: {worst:e}");
        }
    }

    #[test]
    fn logarithm_keeps_its_error() {
        let error = |x: f64| (ln(x) - x.ln()).abs() / x.ln().abs().max(1.0);
        for (low, high) in [(0.4, 3.0), (0.999, 1.001), (1e-9, 1e-3), (1e3, 1e9)] {
            let worst = between(low, high).map(error).fold(0.0, f64::max);
            assert!(worst < 1e-12, "{worst:e}");
        }
        let worst = between(-690.0, 700.0).map(|log| error(log.exp())).fold(0.0, f64::max);
        assert!(worst < 1e-12, "{worst:e}");
        // Diameters and volumes of droplets and particles.
        assert!(error(20e-9) < 1e-12 && error(1e-24) < 1e-12 && error(5e-16) < 1e-12);
        assert_eq!(ln(1.0), 0.0);
    }
}
