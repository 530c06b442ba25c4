//! A percentile of sorted values.

/// Percentile of sorted values: `h = (n + 1/3) p + 1/3`, between the values of rank floor(h) and the next, linearly.
///
/// `share` p, 0 to 1. The rule whose result is about as often too high as too low, whatever the law.
/// Source: Hyndman & Fan 1996, Sample quantiles in statistical packages, Am. Stat. 50:361, definition 8.
pub fn percentile(sorted: &[f64], share: f64) -> f64 {
    let n = sorted.len();
    debug_assert!(n > 0 && sorted.is_sorted());
    let place = ((n as f64 + 1.0 / 3.0) * share + 1.0 / 3.0).clamp(1.0, n as f64);
    let low = place.floor() as usize;
    let (a, b) = (sorted[low - 1], sorted[low.min(n - 1)]);
    a + (place - low as f64) * (b - a)
}
