//! Tolerance factors of a normal law. Wald & Wolfowitz 1946, Tolerance limits for a normal distribution, Ann. Math. Stat. 17:208, by the
//! exact integral; Howe 1969, Two-sided tolerance limits for normal populations, J. Am. Stat. Assoc. 64:610. Values computed by an
//! independent program and, for n = 43 at 90/99, as printed in NIST/SEMATECH, e-Handbook of statistical methods, 7.2.6.3 (2.217).

use motefall_figures::spread::{howe_factor, normal_factor, order_rank};

use super::table::{near, table};

#[test]
fn factors_of_two_sided_intervals() {
    for row in table("tolerance_factors") {
        let (n, content, confidence) = (row.number("n") as usize, row.number("coverage"), row.number("confidence"));
        let (exact, howe) = (row.number("k2_exact"), row.number("k2_Howe"));
        near(normal_factor(n, content, confidence), exact, 1e-4, &format!("exact factor of {n}"));
        near(howe_factor(n, content, confidence), howe, 1e-5, &format!("Howe's factor of {n}"));
        // Planted fault: one is not the other.
        assert!((exact - howe).abs() > 1e-3);
    }
}

/// Wilks 1941, Determination of sample sizes for setting tolerance limits, Ann. Math. Stat. 12:91: 93 values for 95/95, two-sided.
#[test]
fn extremes_of_93_values() {
    assert_eq!(order_rank(92, 0.95, 0.95), None);
    assert_eq!(order_rank(93, 0.95, 0.95), Some(1));
}
