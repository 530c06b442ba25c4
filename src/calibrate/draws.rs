//! Means, spreads, intervals and correlations of draws.

use nalgebra::DMatrix;

/// Mean of a quantity over draws.
pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Variance over draws.
pub(crate) fn variance(values: &[f64]) -> f64 {
    let mean = mean(values);
    values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / values.len() as f64
}

/// Median and the ends of the interval that holds 95 %.
pub(crate) fn interval(values: &[f64]) -> [f64; 3] {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    [0.5, 0.025, 0.975].map(|share| sorted[((sorted.len() - 1) as f64 * share).round() as usize])
}

/// A column of the draws.
pub(crate) fn column(draws: &[Vec<f64>], k: usize) -> Vec<f64> {
    draws.iter().map(|draw| draw[k]).collect()
}

/// Covariance of the first so many columns.
pub(crate) fn covariance(draws: &[Vec<f64>], columns: usize) -> DMatrix<f64> {
    let centred: Vec<Vec<f64>> = (0..columns)
        .map(|k| {
            let column = column(draws, k);
            let mean = mean(&column);
            column.into_iter().map(|value| value - mean).collect()
        })
        .collect();
    let n = draws.len() as f64;
    DMatrix::from_fn(columns, columns, |i, j| centred[i].iter().zip(&centred[j]).map(|(a, b)| a * b).sum::<f64>() / n)
}
