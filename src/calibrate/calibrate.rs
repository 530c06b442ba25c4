//! From measured lines to what they teach.

use crate::best::best;
use crate::cheap::{Cheap, Tried, wanted_places};
use crate::density::{Density, LACKS, lack_of};
use crate::draws::{column, covariance, interval, mean, variance};
use crate::further::further;
use crate::lines::Line;
use crate::model::{Model, Observation, Scatter, at_deviates};
use crate::sampler::{Walk, sample};
use crate::told::{self, Slopes};
use crate::unknowns::{self, Unknown};
use motefall_figures::calibration::{Calibration, Counted, Fit, FittedValue, Learnt, RankedBy};
use motefall_physics::jet::store::FieldStore;
use motefall_run::atlas::Atlas;
use motefall_run::{Progress, RunError};
use motefall_scenario::Turnable;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rayon::prelude::*;
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};

/// Most unknowns that are free unless the user names them: those that the lines see best.
const MOST_FREE: usize = 6;
/// How well an unknown must be seen to be free by itself: by so many standard deviations of all values together as it moves by its spread.
const SEEN: f64 = 0.5;
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
/// Draws that are kept.
const KEPT_DRAWS: usize = 400;

const WALK: Walk = Walk { forgotten: 600, kept: 1500, every: 10, seed: 1 };
/// With a line left out.
const SHORT_WALK: Walk = Walk { forgotten: 400, kept: 500, every: 10, seed: 2 };

/// What is asked for.
#[derive(Debug)]
pub struct Asked<'a> {
    /// The scenario that the lines were printed by.
    pub scenario: &'a Turnable,
    /// What was measured.
    pub lines: &'a [Line],
    /// What is free, as keys or `KEY=LOW..HIGH`; empty: what nobody has measured and the lines can tell.
    pub free: &'a [String],
    /// The print that all this is for: further lines are ranked by what they would tell of its figures with a limit.
    pub print: Option<&'a Turnable>,
}

/// Why nothing was learnt.
#[derive(Debug, thiserror::Error)]
pub enum CalibrateError {
    /// The run failed or was stopped.
    #[error(transparent)]
    Run(#[from] RunError),
    /// An unknown that was asked for.
    #[error("{0}")]
    Unknown(String),
    /// Every line is held out.
    #[error("every line is held out for judging; leave `held_out` empty for those to learn from")]
    AllHeldOut,
    /// No unknown is seen.
    #[error("these lines tell nothing of what is free: {0}")]
    NothingToLearn(String),
    /// No value has an answer of the model.
    #[error("the model gives nothing for {0}; look at the item, the region and the settings of its row")]
    NoAnswer(String),
    /// Nothing that was thought possible goes with the lines.
    #[error("nothing that was thought possible fits these lines. {0}")]
    NothingFits(String),
}

/// Learns from measured lines.
pub fn calibrate(
    asked: &Asked<'_>,
    store: &FieldStore,
    progress: &dyn Progress,
) -> Result<Calibration, CalibrateError> {
    let atlas = Atlas::for_like_droplets(store);
    let model = Model::new(asked.scenario, &atlas, asked.lines);
    let prepared = Prepared::new(asked, &model, progress)?;
    let posterior = prepared.learn(&model.observations, Some(&model), progress)?;
    prepared.told(asked, &model, &posterior, progress)
}

/// What is worked out before any value is looked at.
pub(crate) struct Prepared<'a> {
    lines: &'a [Line],
    pub(crate) unknowns: Vec<Unknown>,
    pub(crate) scatter: Vec<Scatter>,
    before: Vec<Option<f64>>,
    tried: Tried,
    untold: Vec<String>,
    remarks: Vec<String>,
}

/// What lines leave possible.
pub(crate) struct Posterior {
    cheap: Cheap,
    best: Vec<f64>,
    /// Deviates and logarithms of the lacks.
    pub(crate) draws: Vec<Vec<f64>>,
    not_ruled_out: f64,
}

impl<'a> Prepared<'a> {
    pub(crate) fn new(asked: &Asked<'a>, model: &Model<'_>, progress: &dyn Progress) -> Result<Self, CalibrateError> {
        let lines = asked.lines;
        if lines.iter().all(|line| line.is_held_out) {
            return Err(CalibrateError::AllHeldOut);
        }
        let candidates = match asked.free {
            [] => unknowns::usual_unknowns(asked.scenario),
            free => unknowns::asked_for(asked.scenario, free).map_err(CalibrateError::Unknown)?,
        };
        progress.begin("looking at what the lines can tell", Some(candidates.len() as u64 + 2));
        let before = model.at(&[], progress)?;
        progress.advance(1);
        if let Some(k) = before.iter().position(Option::is_none) {
            return Err(CalibrateError::NoAnswer(name(lines, &model.observations[k])));
        }
        let scatter = model.scatter(progress)?;
        progress.advance(1);
        let slopes = slopes(model, &candidates, &scatter, progress)?;
        let (unknowns, slopes, mut remarks) = chosen(asked, model, candidates, slopes)?;
        match asked.free {
            [] => remarks.extend(left_as_they_are(asked.scenario)),
            _ => remarks.extend(unknowns.iter().filter_map(|unknown| unknowns::meaning(asked.scenario, unknown))),
        }
        let untold = told::untold(&slopes, &unknowns);
        let places = first_places(&unknowns, wanted_places(unknowns.len()));
        let tried = tried(model, &unknowns, places, progress)?;
        Ok(Self { lines, unknowns, scatter, before, tried, untold, remarks })
    }

    /// What values leave possible; with the model, polynomials are fitted anew where they are too rough.
    pub(crate) fn learn(
        &self,
        observations: &[Observation],
        model: Option<&Model<'_>>,
        progress: &dyn Progress,
    ) -> Result<Posterior, CalibrateError> {
        let takes_part = |line: usize| !self.lines[line].is_held_out;
        let mut cheap = Cheap::new(&self.tried);
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
            cheap = Cheap::new(&tried(model, &self.unknowns, places, progress)?);
        }
        unreachable!("the last round returns")
    }

    fn density<'b>(
        &'b self,
        observations: &'b [Observation],
        cheap: &'b Cheap,
        takes_part: &dyn Fn(usize) -> bool,
    ) -> Density<'b> {
        Density::new(&self.unknowns, observations, &self.scatter, cheap, takes_part)
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

    /// The calibration, with what it says of each line.
    fn told(
        &self,
        asked: &Asked<'_>,
        model: &Model<'_>,
        posterior: &Posterior,
        progress: &dyn Progress,
    ) -> Result<Calibration, CalibrateError> {
        let Posterior { cheap, draws, .. } = posterior;
        let observations = &model.observations;
        let mut remarks = self.remarks.clone();
        remarks.extend(observations.iter().enumerate().filter(|(k, _)| cheap.error(*k).is_none()).map(|(_, own)| {
            unknowns::capital(&format!(
                "{}: not used, since the model has no answer at many of the values that were tried.",
                name(self.lines, own)
            ))
        }));
        let values = self.values_of(observations, posterior, progress)?;
        let (ranked_by, further) = further(asked, model, self, draws, progress)?;
        if asked.print.is_some() && ranked_by == RankedBy::Unknowns {
            remarks.push(
                "The print that is planned has no figure with a limit that the unknowns move and that is told without prints: further lines are \
                 ranked by the unknowns alone."
                    .to_owned(),
            );
        }
        Ok(Calibration {
            scenario: asked.scenario.scenario.inputs.name.clone(),
            learnt_from: counted(self.lines, false),
            held_out: counted(self.lines, true),
            unknowns: self.unknowns.iter().enumerate().map(|(k, unknown)| learnt(unknown, &column(draws, k))).collect(),
            correlations: correlations(draws, self.unknowns.len()),
            draws: kept(draws).map(|draw| self.values(draw)).collect(),
            lacks: kept(draws).map(|draw| lacks(draw)).collect(),
            values,
            fit: self.fit(posterior, observations, &|line| !self.lines[line].is_held_out),
            untold: self.untold.clone(),
            ranked_by,
            further,
            remarks,
        })
    }

    /// What is said of each value that the model has an answer for.
    pub(crate) fn values_of(
        &self,
        observations: &[Observation],
        posterior: &Posterior,
        progress: &dyn Progress,
    ) -> Result<Vec<FittedValue>, CalibrateError> {
        let Posterior { cheap, draws, .. } = posterior;
        let density = self.density(observations, cheap, &|_| true);
        let without = self.without_each(observations, cheap, progress)?;
        let value = |k: usize| {
            let own = &observations[k];
            let [middle, spread] = predicted(&density, draws, k)?;
            let without = without[own.line].as_ref().and_then(|draws| predicted(&density, draws, k));
            let quantity = own.value.quantity;
            let after = quantity.of_fitted(middle);
            Some(FittedValue {
                line: self.lines[own.line].name.clone(),
                quantity,
                measured: [own.value.value, own.value.sd],
                before: self.before[k].map_or(f64::NAN, |before| quantity.of_fitted(before)),
                after: [after, spread / quantity.fitted_sd(after, 1.0)],
                distance: (own.fitted - middle) / spread,
                left_out: without.map(|[middle, spread]| (own.fitted - middle) / spread),
                is_held_out: self.lines[own.line].is_held_out,
            })
        };
        Ok((0..observations.len()).filter_map(value).collect())
    }

    /// What the other lines leave possible with each line left out in turn; `None` of those that take no part, and of a line that is alone.
    fn without_each(
        &self,
        observations: &[Observation],
        cheap: &Cheap,
        progress: &dyn Progress,
    ) -> Result<Vec<Option<Vec<Vec<f64>>>>, CalibrateError> {
        let is_held_out = |line: usize| self.lines[line].is_held_out;
        let fitted = (0..self.lines.len()).filter(|line| !is_held_out(*line)).count();
        progress.begin("leaving one line out after the other", Some(fitted as u64));
        let without = (0..self.lines.len())
            .into_par_iter()
            .map(|line| {
                if is_held_out(line) || fitted < 2 || progress.cancelled() {
                    return None;
                }
                let density = self.density(observations, cheap, &|other| other != line && !is_held_out(other));
                let draws = walk(&density, &best(&density), SHORT_WALK);
                progress.advance(1);
                Some(draws)
            })
            .collect();
        if progress.cancelled() { Err(RunError::Cancelled.into()) } else { Ok(without) }
    }

    /// What a value is without measurement and the scatter of prints, and how far that is uncertain, in units of what is fitted.
    #[cfg(test)]
    pub(crate) fn stated(&self, posterior: &Posterior, observations: &[Observation], k: usize) -> [f64; 2] {
        let density = self.density(observations, &posterior.cheap, &|_| true);
        let [middle, spread] = predicted(&density, &posterior.draws, k).expect("the model has an answer");
        let (own, scatter) = (&observations[k], self.scatter[k]);
        let others = own.sd.powi(2) + scatter.own.powi(2) + scatter.shared.powi(2);
        [middle, (spread * spread - others).sqrt()]
    }

    fn values(&self, draw: &[f64]) -> Vec<f64> {
        self.unknowns.iter().zip(draw).map(|(unknown, deviate)| unknown.value(*deviate)).collect()
    }

    pub(crate) fn fit(
        &self,
        posterior: &Posterior,
        observations: &[Observation],
        takes_part: &dyn Fn(usize) -> bool,
    ) -> Fit {
        let Posterior { cheap, draws, best, not_ruled_out } = posterior;
        let density = self.density(observations, cheap, takes_part);
        let white = density.white(&density.residuals(best));
        let chi_square: f64 = white.iter().map(|residual| residual * residual).sum();
        // What unknowns take up: the share of each that lines rather than guesses tell.
        let taken: f64 =
            self.unknowns.iter().enumerate().map(|(k, unknown)| learnt(unknown, &column(draws, k)).learnt).sum();
        let freedom = (white.len() as f64 - taken).max(0.0);
        let probability = ChiSquared::new(freedom.max(1.0)).map_or(1.0, |law| 1.0 - law.cdf(chi_square));
        let d = self.unknowns.len();
        // What lines lack from one to the next takes two that have such a value.
        let is_told = |lack: usize| {
            let mut lines: Vec<usize> = density
                .values()
                .filter_map(|k| lack_of(&observations[k]).filter(|own| *own == lack).map(|_| observations[k].line))
                .collect();
            lines.dedup();
            lines.len() > 1
        };
        let lacks = [0, 1].map(|k| is_told(k).then(|| interval(&column(draws, d + k))[0].exp()));
        Fit { values: white.len(), chi_square, freedom, probability, not_ruled_out: *not_ruled_out, lacks }
    }
}

/// Lines and vials that take part, or that are held out.
pub(crate) fn counted(lines: &[Line], held_out: bool) -> Counted {
    let (vials, lines): (Vec<_>, Vec<_>) =
        lines.iter().filter(|line| line.is_held_out == held_out).partition(|line| line.is_vial());
    Counted { lines: lines.len(), vials: vials.len() }
}

/// What is said of unverified defaults that are not free by themselves.
fn left_as_they_are(scenario: &Turnable) -> Option<String> {
    let left: Vec<String> = unknowns::left_as_they_are(scenario).iter().map(Unknown::name_and_key).collect();
    (!left.is_empty()).then(|| {
        format!(
            "Left as they are: {}. Free them with --free if they are doubtful; that takes minutes, since each value has gas jets of its own.",
            left.join(", ")
        )
    })
}

/// What a value would be measured as, and its spread, in units of what is fitted.
fn predicted(density: &Density<'_>, draws: &[Vec<f64>], k: usize) -> Option<[f64; 2]> {
    density.cheap.error(k)?;
    let own: Vec<f64> = draws
        .iter()
        .map(|draw| density.cheap.value(k, &density.cheap.products(&draw[..density.unknowns.len()])))
        .collect();
    let of_draws: Vec<f64> = draws.iter().map(|draw| density.variance(k, lacks(draw))).collect();
    Some([mean(&own), (variance(&own) + mean(&of_draws)).sqrt()])
}

/// What the model lacks in a draw.
fn lacks(draw: &[f64]) -> [f64; 2] {
    [draw[draw.len() - 2].exp(), draw[draw.len() - 1].exp()]
}

/// Draws that are kept: evenly over all.
fn kept(draws: &[Vec<f64>]) -> impl Iterator<Item = &Vec<f64>> {
    let count = KEPT_DRAWS.min(draws.len());
    (0..count).map(move |k| &draws[k * draws.len() / count])
}

fn learnt(unknown: &Unknown, deviates: &[f64]) -> Learnt {
    let [median, low, high] = interval(deviates).map(|deviate| unknown.value(deviate));
    let before = [0.5, 0.025, 0.975].map(|share| unknown.value(unknown.at_share(share)));
    Learnt {
        name: unknown.name.clone(),
        key: unknown.knob.key.clone(),
        unit: unknown.knob.unit.to_owned(),
        set: unknown.knob.value,
        was_default: unknown.knob.is_unverified,
        by_factor: unknown.is_by_factor(),
        before,
        after: [median, low, high],
        learnt: (1.0 - variance(deviates) / unknown.spread().powi(2)).max(0.0),
    }
}

fn correlations(draws: &[Vec<f64>], unknowns: usize) -> Vec<Vec<f64>> {
    let covariance = covariance(draws, unknowns);
    let of = |i: usize, j: usize| covariance[(i, j)] / (covariance[(i, i)] * covariance[(j, j)]).sqrt();
    (0..unknowns).map(|i| (0..unknowns).map(|j| of(i, j)).collect()).collect()
}

/// A value in words.
fn name(lines: &[Line], observation: &Observation) -> String {
    format!("{} of \"{}\"", observation.value.quantity.label, lines[observation.line].name)
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

/// What each value does as each unknown moves by its spread, in units of the value's uncertainty.
fn slopes(
    model: &Model<'_>,
    unknowns: &[Unknown],
    scatter: &[Scatter],
    progress: &dyn Progress,
) -> Result<Slopes, RunError> {
    let of = |unknown: &Unknown| -> Result<Vec<f64>, RunError> {
        let spread = unknown.spread();
        let at = |sign: f64| {
            let deviate = (sign * spread).clamp(unknown.bounds[0], unknown.bounds[1]);
            model.at(&[(unknown, unknown.value(deviate))], progress).map(|values| (deviate, values))
        };
        let ((low, below), (high, above)) = (at(-1.0)?, at(1.0)?);
        progress.advance(1);
        let value = |k: usize| {
            let Scatter { shared, own } = scatter[k];
            let uncertainty = model.observations[k].sd.hypot(shared).hypot(own);
            Some((above[k]? - below[k]?) / (high - low) * spread / uncertainty)
        };
        Ok((0..model.observations.len()).map(|k| value(k).unwrap_or(0.0)).collect())
    };
    let columns: Vec<Result<Vec<f64>, RunError>> = unknowns.par_iter().map(of).collect();
    let columns = columns.into_iter().collect::<Result<Vec<_>, _>>()?;
    Ok(Slopes::from_fn(model.observations.len(), unknowns.len(), |i, j| columns[j][i]))
}

/// The unknowns that are free, their slopes on lines that take part, and what is to be said of the others.
fn chosen(
    asked: &Asked<'_>,
    model: &Model<'_>,
    candidates: Vec<Unknown>,
    slopes: Slopes,
) -> Result<(Vec<Unknown>, Slopes, Vec<String>), CalibrateError> {
    let takes_part = |k: &usize| !asked.lines[model.observations[*k].line].is_held_out;
    let rows: Vec<usize> = (0..model.observations.len()).filter(takes_part).collect();
    let slopes = slopes.select_rows(&rows);
    let seen: Vec<f64> = (0..candidates.len()).map(|k| told::seen(&slopes, k)).collect();
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    // What is always in doubt comes first, then what is seen best.
    order.sort_by(|a, b| {
        let doubtful = |k: &usize| candidates[*k].is_always_doubtful();
        doubtful(b).cmp(&doubtful(a)).then(seen[*b].total_cmp(&seen[*a]))
    });
    let is_free = |(place, k): &(usize, usize)| !asked.free.is_empty() || (*place < MOST_FREE && seen[*k] >= SEEN);
    let (free, left): (Vec<_>, Vec<_>) = order.into_iter().enumerate().partition(is_free);
    let mut free: Vec<usize> = free.into_iter().map(|(_, k)| k).collect();
    let mut left: Vec<usize> = left.into_iter().map(|(_, k)| k).collect();
    free.sort_unstable();
    left.retain(|k| seen[*k] >= SEEN);
    if free.iter().all(|k| seen[*k] < SEEN) {
        let names: Vec<String> = candidates.iter().map(Unknown::name_and_key).collect();
        return Err(CalibrateError::NothingToLearn(names.join(", ")));
    }
    let mut remarks = vec![];
    if !left.is_empty() {
        let names: Vec<String> = left.iter().map(|k| candidates[*k].name_and_key()).collect();
        remarks.push(format!(
            "The lines also see {}. At most {MOST_FREE} unknowns are free unless you name them with --free.",
            names.join(", ")
        ));
    }
    let slopes = slopes.select_columns(&free);
    Ok((free.iter().map(|k| candidates[*k].clone()).collect(), slopes, remarks))
}

/// Places that fill what is thought possible evenly.
fn first_places(unknowns: &[Unknown], count: usize) -> Vec<Vec<f64>> {
    let at = |k: usize, (j, unknown): (usize, &Unknown)| {
        unknown.at_share(f64::from(sobol_burley::sample(k as u32, j as u32, 7)).clamp(1e-4, 1.0 - 1e-4))
    };
    (0..count).map(|k| unknowns.iter().enumerate().map(|unknown| at(k, unknown)).collect()).collect()
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

/// The model at places.
fn tried(
    model: &Model<'_>,
    unknowns: &[Unknown],
    places: Vec<Vec<f64>>,
    progress: &dyn Progress,
) -> Result<Tried, RunError> {
    progress.begin("working the lines out at many values of the unknowns", Some(places.len() as u64));
    let at = |place: &Vec<f64>| {
        let values = model.at(&at_deviates(unknowns, place), progress);
        progress.advance(1);
        values
    };
    let values: Vec<Result<Vec<Option<f64>>, RunError>> = places.par_iter().map(at).collect();
    Ok(Tried { values: values.into_iter().collect::<Result<_, _>>()?, places })
}
