//! Interval of a share. Wilson 1927, Probable inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22:209;
//! cases as in Newcombe 1998, Two-sided confidence intervals for the single proportion, Stat. Med. 17:857, table I.

use motefall::figures::statistics::{wilson, wilson_95};
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
        // Planted fault: the exact (Clopper-Pearson) interval beside it is another one.
        assert!((row.number("clopper_low") - low).abs() > 1e-4);
    }
}
