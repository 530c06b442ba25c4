//! Two classes of grey values.

/// Classes of a histogram.
const BINS: usize = 1024;

/// The value between two classes that makes the variance between them largest; `None` of values that are all the same.
///
/// Source: Otsu 1979, A threshold selection method from gray-level histograms, IEEE Trans. Syst. Man Cybern. 9:62.
pub(super) fn otsu(values: &[f32]) -> Option<f32> {
    let (low, high) = values.iter().fold((f32::MAX, f32::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
    if high.partial_cmp(&low) != Some(std::cmp::Ordering::Greater) {
        return None;
    }
    let mut counts = [0u64; BINS];
    let scale = BINS as f32 / (high - low);
    for value in values {
        counts[(((value - low) * scale) as usize).min(BINS - 1)] += 1;
    }
    let total = values.len() as f64;
    let whole: f64 = counts.iter().enumerate().map(|(k, count)| k as f64 * *count as f64).sum();
    let (mut below, mut moment) = (0.0, 0.0);
    let (mut best, mut first, mut last) = (-1.0, 0, 0);
    for (k, count) in counts.iter().enumerate().take(BINS - 1) {
        below += *count as f64;
        moment += k as f64 * *count as f64;
        let above = total - below;
        if below == 0.0 || above == 0.0 {
            continue;
        }
        let between = below * above * (moment / below - (whole - moment) / above).powi(2);
        // Where nothing lies between the classes, all thresholds are as good: the middle of them.
        if between > best * (1.0 + 1e-12) {
            (best, first, last) = (between, k, k);
        } else if between >= best * (1.0 - 1e-12) {
            last = k;
        }
    }
    Some(low + (0.5 * (first + last) as f32 + 1.0) / scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_levels_are_split_in_the_middle() {
        let mut values = vec![10.0f32; 700];
        values.extend(vec![90.0f32; 300]);
        let found = otsu(&values).expect("two levels");
        assert!((found - 50.0).abs() < 0.2, "{found}");
        assert_eq!(otsu(&[3.0; 20]), None);
        assert_eq!(otsu(&[]), None);
    }

    #[test]
    fn the_best_of_all_thresholds() {
        // Six values, tried by hand: {1, 2, 3} and {7, 8, 12} have means 2 and 9: 3*3*49 = 441; {1, 2, 3, 7, 8} and {12}: 5*(4.2-12)^2 =
        // 304.2; {1, 2} and the rest: 2*4*(1.5-7.5)^2 = 288.
        let found = otsu(&[1.0, 2.0, 3.0, 7.0, 8.0, 12.0]).expect("two classes");
        assert!((3.0..7.0).contains(&found), "{found}");
    }
}
