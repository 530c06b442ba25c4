//! The expected deposit: what figures are on average, without making a print.

use crate::rows::{ExpectedValue, FigureRow, estimate_at};
use crate::{Caution, FigureKind, Grid, RegionFigure};
use motefall_physics::inputs::{Inputs, Limit};
use ndarray::Array2;
use statrs::distribution::{ContinuousCDF, DiscreteCDF, NegativeBinomial, Normal, StudentsT};

/// The expected deposit of a setting.
#[derive(Debug, Clone)]
pub struct Expected {
    /// The inputs.
    pub inputs: Inputs,
    /// Figures and places, in the order of [`crate::measure::Measurer::places`].
    pub figures: Vec<ExpectedRow>,
    /// Why only prints tell all of them; `None` if that is not so.
    pub only_prints: Option<OnlyPrints>,
    /// What is to be said of the setting, safety first; not what only prints show.
    pub cautions: Vec<Caution>,
}

/// What lies where on average, by the middles of pixels.
#[derive(Debug, Clone)]
pub struct ExpectedMap {
    /// Where the pixels lie.
    pub grid: Grid,
    /// Solid thickness of all powders, m, `[row, column]`, row 0 at the lowest y.
    pub thickness: Array2<f64>,
    /// Covered share, 0 to 1.
    pub coverage: Array2<f64>,
    /// Particles of all powders per area, 1/m^2.
    pub density: Array2<f64>,
}

impl ExpectedMap {
    /// From the values of a grid's pixels, row after row, the lowest y first: covered share, thickness, m, and particles per area, 1/m^2.
    pub fn of_planes(grid: Grid, coverage: Vec<f64>, thickness: Vec<f64>, density: Vec<f64>) -> Self {
        let [coverage, thickness, density] = [coverage, thickness, density].map(|plane| {
            Array2::from_shape_vec((grid.rows, grid.columns), plane).expect("a value for each pixel of the grid")
        });
        Self { grid, thickness, coverage, density }
    }
}

/// Why a deposit is not worked out without prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnlyPrints {
    /// There are more powders than its tables have room for.
    ManyPowders,
    /// Its path has so many pieces that prints are quicker.
    LongPath,
    /// Each droplet is tracked through the jet.
    Tracked,
}

/// One figure at one place.
#[derive(Debug, Clone)]
pub struct ExpectedRow {
    /// Which figure.
    pub kind: &'static FigureKind,
    /// Region or path item; `None` for the whole print.
    pub place: Option<String>,
    /// What it is on average; `None` where only prints tell.
    pub value: Option<ExpectedValue>,
}

/// Share of prints that meet a limit if the figure scatters about its mean as a normal law has it, or, of few particles, a Poisson law whose
/// mean scatters; `None` if that is not known.
pub fn share_within(limit: &Limit, row: &ExpectedRow) -> Option<f64> {
    let value = row.value.as_ref()?;
    let (mean, sd) = (value.mean, value.sd()?.hypot(value.error));
    (!row.kind.is_share_of_prints() && sd > 0.0).then(|| share_of_law(limit, mean, sd))
}

/// Share of prints within a limit whose figure has this mean and standard deviation (above 0), by the same laws.
pub fn share_of_law(limit: &Limit, mean: f64, sd: f64) -> f64 {
    let is_count = limit.figure.kind().is_count();
    // Gamma-Poisson: mean m and variance m + m^2/r. The least that a variance may exceed a mean by keeps it a law.
    let r = mean * mean / (sd * sd - mean).max(LEAST_EXCESS * mean);
    let counted = NegativeBinomial::new(r, r / (r + mean)).ok().filter(|_| is_count && mean < FEWEST_FOR_NORMAL);
    let below = |most: f64| match (&counted, Normal::new(mean, sd)) {
        (Some(_), _) if most < 0.0 => 0.0,
        (Some(law), _) => law.cdf(most as u64),
        (None, Ok(law)) => law.cdf(most),
        // Neither law holds: a figure that does not scatter.
        (None, Err(_)) => f64::from(u8::from(mean <= most)),
    };
    let up_to_min = |min: f64| below(if is_count { min.ceil() - 1.0 } else { min });
    (limit.max.map_or(1.0, below) - limit.min.map_or(0.0, up_to_min)).max(0.0)
}

/// Particles in a print from which on their number is nearly normal.
const FEWEST_FOR_NORMAL: f64 = 50.0;
/// Part of the mean by which a variance of a number exceeds it at least.
const LEAST_EXCESS: f64 = 1e-3;

/// How far the mean of prints lies from what is expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distance {
    /// In standard errors: of the prints' mean and of the arithmetic together.
    pub errors: f64,
    /// Standard errors that chance exceeds in one figure of a million.
    pub most: f64,
}

/// Chance of more than [`Distance::most`].
const CHANCE: f64 = 1e-6;
/// Particles that must have landed in all prints together, and prints on each side of a probability, for a law of large numbers to hold.
const ENOUGH_PARTICLES: f64 = 100.0;
const ENOUGH_PRINTS: f64 = 8.0;

/// How far a figure lies from what is expected, `particles` being those that land at its place in a print on average, if it is counted by
/// them; `None` where either is not known, or too little happens to tell.
pub fn distance(row: &FigureRow, particles: Option<f64>) -> Option<Distance> {
    let (estimate, value) = (row.estimate.as_ref()?, row.expected.as_ref()?);
    let n = f64::from(estimate.n);
    let counted = if row.kind.is_count() { Some(estimate.mean.max(value.mean)) } else { particles };
    if counted.is_some_and(|counted| counted * n < ENOUGH_PARTICLES) || estimate.at_least > 0 || estimate.n < 3 {
        return None;
    }
    let of_prints = if row.kind.is_share_of_prints() {
        let p = value.mean;
        // Without a hit, an upper bound stands in place of the mean.
        (n * p.min(1.0 - p) > ENOUGH_PRINTS).then(|| (p * (1.0 - p) / n).sqrt())?
    } else {
        estimate.sd? / n.sqrt()
    };
    let error = of_prints.hypot(value.error);
    let law = StudentsT::new(0.0, 1.0, n - 1.0).ok()?;
    (error > 0.0)
        .then(|| Distance { errors: (estimate.mean - value.mean) / error, most: law.inverse_cdf(1.0 - 0.5 * CHANCE) })
}

/// [`distance`] of each figure that both give.
pub fn distances(rows: &[FigureRow]) -> impl Iterator<Item = (&FigureRow, Distance)> {
    rows.iter().filter_map(|row| {
        let place = row.place.as_deref();
        let landed = place.and_then(|place| estimate_at(rows, RegionFigure::Particles, Some(place)));
        Some((row, distance(row, landed.map(|landed| landed.mean))?))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::figure_kinds::Figure;

    fn row(figure: RegionFigure, mean: f64, sd: f64) -> ExpectedRow {
        let value = ExpectedValue {
            mean,
            from_inputs: 0.0,
            from_noise: 0.0,
            from_chance: Some(sd),
            from_unknown: 0.0,
            by_input: vec![],
            error: 0.0,
        };
        ExpectedRow { kind: figure.kind(), place: None, value: Some(value) }
    }

    fn limit(figure: RegionFigure, min: Option<f64>, max: Option<f64>) -> Limit {
        Limit { figure: Figure::Region(figure), place: None, min, max }
    }

    /// A standard deviation above a limit: 84.13 %. Poisson of the mean 2: P(N <= 3) = 0.857123; with twice the variance, P(0) = 1/4 of the
    /// gamma-Poisson law of r = 2 and p = 1/2, P(N <= 1) = 1/2.
    #[test]
    fn shares_are_those_of_their_laws() {
        let thick = RegionFigure::MeanThickness;
        let share = share_within(&limit(thick, Some(90e-9), None), &row(thick, 100e-9, 10e-9)).expect("known");
        assert!((share - 0.841_345).abs() < 1e-6, "{share}");
        let count = RegionFigure::Particles;
        let poisson = share_within(&limit(count, None, Some(3.0)), &row(count, 2.0, 2f64.sqrt())).expect("known");
        assert!((poisson - 0.857_123).abs() < 1e-3, "{poisson}");
        for (min, max, exact) in [(None, Some(0.0), 0.25), (None, Some(1.0), 0.5), (Some(1.0), None, 0.75)] {
            let share = share_within(&limit(count, min, max), &row(count, 2.0, 2.0)).expect("known");
            assert!((share - exact).abs() < 1e-9, "{share} {exact}");
        }
    }
}
