//! From measured lines to what they teach.

use crate::asked::{Asked, CalibrateError};
use crate::best::best;
use crate::cheap::Cheap;
use crate::density::{Density, lack_of};
use crate::draws::{column, covariance, interval, mean, variance};
use crate::further::further;
use crate::learn::{Posterior, walk};
use crate::lines::Line;
use crate::model::{Model, Observation};
use crate::prepared::{Prepared, name};
use crate::sampler::Walk;
use crate::unknowns::{self, Unknown};
use motefall_figures::calibration::{Calibration, Counted, Fit, FittedValue, Learnt, RankedBy};
use motefall_physics::jet::store::FieldStore;
use motefall_run::atlas::Atlas;
use motefall_run::{Progress, RunError};
use rayon::prelude::*;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Draws that are kept.
const KEPT_DRAWS: usize = 400;
/// With a line left out.
const SHORT_WALK: Walk = Walk { forgotten: 400, kept: 500, every: 10, seed: 2 };

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

impl Prepared<'_> {
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
