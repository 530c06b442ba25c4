//! What values leave possible of the unknowns.

use crate::asked::CalibrateError;
use crate::best::best;
use crate::cheap::Cheap;
use crate::density::{Density, LACKS};
use crate::draws::{column, mean};
use crate::model::{Model, Observation};
use crate::prepared::{Prepared, name, tried};
use crate::sampler::{Walk, sample};
use crate::unknowns::Unknown;
use motefall_run::Progress;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use statrs::distribution::{ContinuousCDF, Normal};

/// Times polynomials are fitted anew, nearer to what the lines leave possible.
const MOST_ROUNDS: usize = 2;
/// Error of a polynomial, in parts of a value's other uncertainty, from which it is fitted anew.
const ROUGH: f64 = 0.35;
/// Places of a further round per place of the first, and by how much they lie farther apart than what is possible.
const FEWER: f64 = 0.4;
const WIDER: f64 = 1.5;
/// Draws of what was thought possible that are held against the lines.
const HELD_AGAINST: usize = 20_000;
/// Chance that a right model is ruled out by any of its values.
const RULED_OUT: f64 = 0.0027;

const WALK: Walk = Walk { forgotten: 600, kept: 1500, every: 10, seed: 1 };

/// What lines leave possible.
pub(crate) struct Posterior {
    pub(crate) cheap: Cheap,
    pub(crate) best: Vec<f64>,
    /// Deviates and logarithms of the lacks.
    pub(crate) draws: Vec<Vec<f64>>,
    pub(crate) not_ruled_out: f64,
}

impl Prepared<'_> {
    /// What values leave possible; with the model, polynomials are fitted anew where they are too rough.
    pub(crate) fn learn(
        &self,
        observations: &[Observation],
        model: Option<&Model<'_>>,
        progress: &dyn Progress,
    ) -> Result<Posterior, CalibrateError> {
        let takes_part = |line: usize| !self.lines[line].is_held_out;
        let mut all = self.tried.clone();
        let mut cheap = Cheap::new(&all, 0);
        let not_ruled_out = self.not_ruled_out(&self.density(observations, &cheap, &takes_part));
        for round in 0.. {
            progress.begin("fitting the unknowns to the lines", None);
            let density = self.density(observations, &cheap, &takes_part);
            let best = best(&density);
            let draws = walk(&density, &best, WALK);
            let ruled_out = self.ruled_out(&density, &best);
            let again = model.filter(|_| round < MOST_ROUNDS && (is_rough(&density) || ruled_out.is_some()));
            let Some(model) = again else {
                return match ruled_out {
                    Some(words) => Err(CalibrateError::NothingFits(words)),
                    None => Ok(Posterior { best, draws, not_ruled_out, cheap }),
                };
            };
            let places =
                nearer_places(&self.unknowns, &draws, (FEWER * self.tried.places.len() as f64) as usize, round);
            let before = all.places.len();
            let more = tried(model, &self.unknowns, places, progress)?;
            all.places.extend(more.places);
            all.values.extend(more.values);
            cheap = Cheap::new(&all, before);
        }
        unreachable!("the last round returns")
    }

    /// Share of what was thought possible that no value rules out.
    fn not_ruled_out(&self, density: &Density<'_>) -> f64 {
        let most = most_distance(density);
        let mut random = Xoshiro256PlusPlus::seed_from_u64(HELD_AGAINST as u64);
        let possible = (0..HELD_AGAINST).filter(|_| {
            let place: Vec<f64> = self.unknowns.iter().map(|unknown| unknown.at_share(random.random())).collect();
            distances(density, &place).all(|(_, distance)| distance < most)
        });
        possible.count() as f64 / HELD_AGAINST as f64
    }

    /// The values that rule out even the best place, in words.
    fn ruled_out(&self, density: &Density<'_>, best: &[f64]) -> Option<String> {
        let most = most_distance(density);
        let mut far: Vec<(usize, f64)> = distances(density, best).filter(|(_, distance)| *distance >= most).collect();
        far.sort_by(|a, b| b.1.total_cmp(&a.1));
        let words = |(k, distance): &(usize, f64)| {
            let own = &density.observations[*k];
            let modelled = own.value.quantity.of_fitted(own.fitted - density.residuals(best)[*k]);
            let [measured, modelled] = [own.value.value, modelled].map(|value| value * own.value.quantity.per_si);
            format!(
                "{}: measured {measured:.3}, at best {modelled:.3} {} ({distance:.1} standard deviations)",
                name(self.lines, own),
                own.value.quantity.unit
            )
        };
        let list: Vec<String> = far.iter().take(4).map(words).collect();
        (!list.is_empty()).then(|| {
            format!(
                "Farthest off: {}. Look at the units and uncertainties of these values and at the settings of their rows (flows, nozzle, stand-off, sizes); if they are right, free other unknowns or wider ranges with --free",
                list.join("; ")
            )
        })
    }
}

/// Draws of what a density leaves possible, from walkers around its best place.
pub(crate) fn walk(density: &Density<'_>, best: &[f64], walk: Walk) -> Vec<Vec<f64>> {
    const AROUND: f64 = 0.2;
    let start = |random: &mut Xoshiro256PlusPlus| {
        let mut normal = || random.sample::<f64, _>(StandardNormal);
        let near = best.iter().zip(density.unknowns).map(|(middle, unknown)| {
            let [low, high] = unknown.bounds;
            let inside = 1e-3 * (high - low);
            (middle + AROUND * normal()).clamp(low + inside, high - inside)
        });
        let mut place: Vec<f64> = near.collect();
        place.extend(LACKS.map(|lack| (0.5 * lack).ln() + AROUND * normal()));
        place
    };
    sample(density.dimensions(), &|place| density.log(place), &start, walk)
}

/// Distance of each value that takes part, in units of all that it may be off by, what the model lacks included.
fn distances<'b>(density: &'b Density<'_>, deviates: &[f64]) -> impl Iterator<Item = (usize, f64)> + 'b {
    let residuals = density.residuals(deviates);
    let lacks = LACKS.map(|lack| 2.0 * lack);
    density.values().map(move |k| (k, residuals[k].abs() / density.variance(k, lacks).sqrt()))
}

/// Distance that a right model exceeds with any of its values by a small chance only.
fn most_distance(density: &Density<'_>) -> f64 {
    let n = density.values().count().max(1) as f64;
    Normal::standard().inverse_cdf(1.0 - 0.5 * RULED_OUT / n)
}

/// Whether a polynomial is too rough for its value.
fn is_rough(density: &Density<'_>) -> bool {
    density.values().any(|k| {
        let error = density.cheap.error(k).unwrap_or(0.0);
        let others = (density.variance(k, [0.0; 2]) - error * error).sqrt();
        error > ROUGH * others
    })
}

/// Places about what the lines leave possible, and somewhat beyond.
fn nearer_places(unknowns: &[Unknown], draws: &[Vec<f64>], count: usize, round: usize) -> Vec<Vec<f64>> {
    let middles: Vec<f64> = (0..unknowns.len()).map(|k| mean(&column(draws, k))).collect();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(round as u64);
    let place = |_| {
        let draw = &draws[random.random_range(0..draws.len())];
        let of = |(k, unknown): (usize, &Unknown)| {
            (middles[k] + WIDER * (draw[k] - middles[k])).clamp(unknown.bounds[0], unknown.bounds[1])
        };
        unknowns.iter().enumerate().map(of).collect()
    };
    (0..count).map(place).collect()
}
