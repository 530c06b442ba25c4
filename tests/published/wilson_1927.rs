//! Interval of a share. Wilson 1927, Probable inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22:209;
//! cases as in Newcombe 1998, Two-sided confidence intervals for the single proportion, Stat. Med. 17:857, table I.

use motefall_figures::statistics::{share_bounds, wilson, wilson_95, zero_hit_bound};
use statrs::distribution::{ContinuousCDF, Normal};

use super::table::{near, table};

#[test]
fn intervals_of_shares() {
    for row in table("wilson_interval") {
        let (k, n, confidence) = (row.number("k") as u32, row.number("n") as u32, row.number("conf"));
        let z = Normal::standard().inverse_cdf(0.5 + 0.5 * confidence);
        let [low, high] = wilson(k, n, z);
        // Printed to 6 digits.
        near(low, row.number("wilson_low"), 1e-6, &format!("lower end of {k}/{n}"));
        near(high, row.number("wilson_high"), 1e-6, &format!("upper end of {k}/{n}"));
        if confidence == 0.95 {
            let [a, b] = wilson_95(k, n);
            near(a, low, 1e-9, "95 %");
            near(b, high, 1e-9, "95 %");
        }
        // Both bounds of the exact interval, each with half of the rest beyond it (Clopper & Pearson 1934), printed to 6 digits.
        let [low_bound, high_bound] = share_bounds(f64::from(k), f64::from(n), 0.5 * (1.0 - confidence));
        near(low_bound, row.number("clopper_low"), 1e-6, &format!("lower bound of {k}/{n}"));
        near(high_bound, row.number("clopper_high"), 1e-6, &format!("upper bound of {k}/{n}"));
        // Planted fault: the exact (Clopper-Pearson) interval beside it is another one.
        assert!((row.number("clopper_low") - low).abs() > 1e-4);
    }
}

/// Hanley & Lippman-Hand 1983, If nothing goes wrong, is everything all right?, J. Am. Med. Assoc. 249:1743: 1 - 0.05^(1/n), and the rule
/// of three. The bound is the probability that still gives no hit with 5 % chance.
#[test]
fn bound_without_a_hit() {
    for n in [1, 5, 20, 59, 300, 10_000] {
        let bound = zero_hit_bound(n);
        near((1.0 - bound).powi(n as i32), 0.05, 1e-9, &format!("chance of no hit in {n}"));
        // -ln 0.05 = 2.9957; the series ends with half the square.
        near(bound, 2.995_732 / f64::from(n), 0.5 * (2.995_732 / f64::from(n)).powi(2) + 1e-6, "rule of three");
    }
    // 20 prints: 0.1391; 59 prints: below 5 %, 58 not.
    near(zero_hit_bound(20), 0.139_108, 1e-6, "20 prints");
    assert!(zero_hit_bound(58) > 0.05 && zero_hit_bound(59) < 0.05);
    assert_eq!(zero_hit_bound(0), 1.0);
}
