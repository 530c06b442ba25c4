//! Polynomials in place of the model, where it is needed thousands of times, each with its error.
//!
//! Each value's logarithm is a polynomial of the unknowns' deviates, fitted by least squares to the model at chosen places: at all of them or only at
//! those of the last round, which lie where it is needed, and of the degree whose error there is least. The error is that at places left out one by one: residual over one less the place's leverage (Allen 1974, The
//! relationship between variable selection and data augmentation and a method for prediction, Technometrics 16:125; from memory).

use nalgebra::{DMatrix, DVector};

/// Highest degree.
const MOST_DEGREE: usize = 3;
/// Places per coefficient from which a polynomial is tried.
const PLACES_PER_TERM: f64 = 1.5;
/// Share of the places at which the model must have an answer.
const LEAST_ANSWERS: f64 = 0.8;
/// Leverage from which on a place determines its own value.
const MOST_LEVERAGE: f64 = 1.0 - 1e-9;

/// The model at chosen places.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tried {
    /// Deviates of the unknowns.
    pub(crate) places: Vec<Vec<f64>>,
    /// What it gives, place by place.
    pub(crate) values: Vec<Vec<Option<f64>>>,
}

/// A polynomial for each value.
#[derive(Debug, Clone)]
pub(crate) struct Cheap {
    middle: Vec<f64>,
    scale: Vec<f64>,
    terms: Vec<Vec<usize>>,
    /// Coefficients in the order of the terms, and error; `None` where the model has too few answers.
    fits: Vec<Option<Polynomial>>,
}

#[derive(Debug, Clone)]
struct Polynomial {
    coefficients: Vec<f64>,
    error: f64,
}

/// Products of unknowns, each named by its factors in order, up to a degree: the constant first, then degree by degree.
fn terms(unknowns: usize, most: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![vec![]];
    let mut last = 0..1;
    for _ in 0..most {
        let start = all.len();
        for k in last {
            let from = all[k].last().copied().unwrap_or(0);
            for next in from..unknowns {
                let term = [&all[k][..], &[next]].concat();
                all.push(term);
            }
        }
        last = start..all.len();
    }
    all
}

/// Places from which polynomials of the highest degree follow well.
pub(crate) fn wanted_places(unknowns: usize) -> usize {
    const PLENTY: f64 = 2.0;
    const FEWEST: usize = 40;
    ((PLENTY * terms(unknowns, MOST_DEGREE).len() as f64) as usize).max(FEWEST)
}

impl Cheap {
    /// Polynomials that are judged by the places from `last` on.
    pub(crate) fn new(tried: &Tried, last: usize) -> Self {
        let unknowns = tried.places.first().map_or(0, Vec::len);
        let n = tried.places.len() as f64;
        let mean = |k: usize| tried.places.iter().map(|place| place[k]).sum::<f64>() / n;
        let middle: Vec<f64> = (0..unknowns).map(mean).collect();
        let spread =
            |k: usize| (tried.places.iter().map(|place| (place[k] - middle[k]).powi(2)).sum::<f64>() / n).sqrt();
        let scale: Vec<f64> = (0..unknowns).map(|k| spread(k).max(1e-9)).collect();
        let terms = terms(unknowns, MOST_DEGREE);
        let mut cheap = Self { middle, scale, terms, fits: vec![] };
        let rows: Vec<Vec<f64>> = tried.places.iter().map(|place| cheap.products(place)).collect();
        let count = tried.values.first().map_or(0, Vec::len);
        cheap.fits = (0..count).map(|k| cheap.fit(&rows, tried, last, k)).collect();
        cheap
    }

    /// All products at a place.
    pub(crate) fn products(&self, place: &[f64]) -> Vec<f64> {
        let scaled: Vec<f64> =
            place.iter().zip(&self.middle).zip(&self.scale).map(|((x, middle), scale)| (x - middle) / scale).collect();
        self.terms.iter().map(|term| term.iter().map(|k| scaled[*k]).product()).collect()
    }

    fn fit(&self, rows: &[Vec<f64>], tried: &Tried, last: usize, value: usize) -> Option<Polynomial> {
        let answered = |from: usize, to: usize| -> (Vec<&Vec<f64>>, Vec<f64>) {
            let known = rows[from..to].iter().zip(&tried.values[from..to]);
            known.filter_map(|(row, values)| Some((row, values[value]?))).unzip()
        };
        let (near, answers) = answered(last, rows.len());
        if (answers.len() as f64) < LEAST_ANSWERS * (rows.len() - last) as f64 || answers.is_empty() {
            return None;
        }
        let (far, of_far) = answered(0, last);
        let all = ([far.clone(), near.clone()].concat(), [of_far, answers.clone()].concat());
        let of_degree = |degree: usize| {
            let count = self.terms.iter().filter(|term| term.len() <= degree).count();
            let by = |rows: &[&Vec<f64>], answers: &[f64], last: usize| {
                let is_enough = answers.len() as f64 >= PLACES_PER_TERM * count as f64;
                is_enough.then(|| polynomial(rows, answers, last, count)).flatten()
            };
            [by(&near, &answers, 0), by(&all.0, &all.1, far.len())]
        };
        (0..=MOST_DEGREE).flat_map(of_degree).flatten().min_by(|a, b| a.error.total_cmp(&b.error))
    }

    /// What a value is, from the products at a place; NaN where nobody knows.
    pub(crate) fn value(&self, value: usize, products: &[f64]) -> f64 {
        let sum = |fit: &Polynomial| fit.coefficients.iter().zip(products).map(|(c, p)| c * p).sum();
        self.fits[value].as_ref().map_or(f64::NAN, sum)
    }

    /// How far a value may be off, as a standard deviation; `None` where nobody knows.
    pub(crate) fn error(&self, value: usize) -> Option<f64> {
        self.fits[value].as_ref().map(|fit| fit.error)
    }
}

/// The polynomial of the first so many terms by least squares, with its error at places from `last` on.
fn polynomial(rows: &[&Vec<f64>], answers: &[f64], last: usize, count: usize) -> Option<Polynomial> {
    let design = DMatrix::from_fn(rows.len(), count, |i, j| rows[i][j]);
    let answers = DVector::from_column_slice(answers);
    let qr = design.qr();
    let (q, r) = (qr.q(), qr.r());
    let projected = q.tr_mul(&answers);
    let coefficients = r.solve_upper_triangular(&projected)?;
    let residuals = &answers - &q * &projected;
    let sum: f64 = residuals
        .iter()
        .enumerate()
        .skip(last)
        .map(|(i, residual)| (residual / (1.0 - q.row(i).norm_squared().min(MOST_LEVERAGE))).powi(2))
        .sum();
    let error = (sum / (rows.len() - last) as f64).sqrt();
    error.is_finite().then(|| Polynomial { coefficients: coefficients.iter().copied().collect(), error })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two unknowns: 1, x, y, xx, xy, yy, xxx, xxy, xyy, yyy.
    #[test]
    fn terms_are_all_products() {
        assert_eq!(terms(2, 3).len(), 10);
        assert_eq!(terms(2, 2), [vec![], vec![0], vec![1], vec![0, 0], vec![0, 1], vec![1, 1]]);
        assert_eq!(terms(6, 3).len(), 84);
    }

    fn tried(of: impl Fn(f64, f64) -> Option<f64>) -> Tried {
        // The golden section and its like fill the square evenly.
        let places: Vec<Vec<f64>> = (0..60)
            .map(|k| [0.754_877_666, 0.569_840_291].map(|step: f64| 4.0 * (f64::from(k) * step).fract() - 2.0).to_vec())
            .collect();
        let values = places.iter().map(|place| vec![of(place[0], place[1])]).collect();
        Tried { places, values }
    }

    #[test]
    fn cubics_are_exact_and_others_known_to_their_error() {
        let cubic = |x: f64, y: f64| 0.3 + x - 0.5 * y * x + 0.1 * x * x * x;
        let cheap = Cheap::new(&tried(|x, y| Some(cubic(x, y))), 0);
        let at = |place: &[f64]| cheap.value(0, &cheap.products(place));
        assert!((at(&[0.3, -1.1]) - cubic(0.3, -1.1)).abs() < 1e-9);
        assert!(cheap.error(0).expect("known") < 1e-9);
        // A kink: the error at places in between is about as stated.
        let kink = |x: f64, y: f64| (x + 0.3 * y).abs();
        let cheap = Cheap::new(&tried(|x, y| Some(kink(x, y))), 0);
        let stated = cheap.error(0).expect("known");
        let mut sum = 0.0;
        for k in 0..400 {
            let place = [0.618_034, 0.414_214].map(|step: f64| 4.0 * (0.5 + f64::from(k) * step).fract() - 2.0);
            sum += (cheap.value(0, &cheap.products(&place)) - kink(place[0], place[1])).powi(2) / 400.0;
        }
        let found = sum.sqrt();
        assert!(stated > 0.02 && (found / stated - 1.0).abs() < 0.4, "{found} {stated}");
    }

    /// What is far from a cubic over all and smooth where it is needed: few places there do not tell a cubic, and with those of before they do.
    #[test]
    fn places_of_before_serve_where_they_help() {
        let of = |x: f64, y: f64| (1.5 * x + 0.8 * y).tanh();
        let far = tried(|x, y| Some(of(x, y)));
        let near = |k: usize| far.places[k].iter().map(|v| 0.2 * v + 0.3).collect::<Vec<f64>>();
        let near: Vec<Vec<f64>> = (0..12).map(near).collect();
        let value = |place: &Vec<f64>| vec![Some(of(place[0], place[1]))];
        let with = |before: &Tried| {
            let places = [before.places.clone(), near.clone()].concat();
            Cheap::new(&Tried { values: places.iter().map(value).collect(), places }, before.places.len())
        };
        let error = |cheap: &Cheap| cheap.error(0).expect("known");
        let (alone, both) = (error(&with(&Tried::default())), error(&with(&far)));
        assert!(both <= alone && error(&Cheap::new(&far, 0)) > 10.0 * alone, "{both} {alone}");
        // A cubic of 10 terms takes 15 places: with those of before it is found.
        let cubic = |place: &[f64]| place[0].powi(3) - place[0] * place[1].powi(2);
        let all = [far.places, near].concat();
        let values: Vec<_> = all.iter().map(|place| vec![Some(cubic(place))]).collect();
        assert!(error(&Cheap::new(&Tried { values, places: all }, 60)) < 1e-9);
    }

    #[test]
    fn a_model_that_mostly_has_no_answer_has_no_polynomial() {
        let cheap = Cheap::new(&tried(|x, _| (x > 0.0).then_some(x)), 0);
        assert!(cheap.error(0).is_none() && cheap.value(0, &cheap.products(&[0.0, 0.0])).is_nan());
        let cheap = Cheap::new(&tried(|x, _| (x > -1.5).then_some(x)), 0);
        assert!(cheap.error(0).expect("enough answers") < 1e-9);
    }
}
