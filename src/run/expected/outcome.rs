//! The expected deposit of a setting.

use super::figures::{Figures, OfLayer};
use super::places::Points;
use super::sample::sample;
use super::spot::{Amounts, Spot};
use super::swept::Swept;
use super::varied::{fourth, moments};
use crate::atlas::Atlas;
use crate::setting::{LayerSetting, PrintState, Setting};
use crate::spread::Deviations;
use crate::{Progress, RunError};
use motefall_figures::ExpectedValue;
use motefall_figures::expected::{Expected, ExpectedRow};
use motefall_figures::measure::Measurer;
use motefall_figures::statistics::FigureAt;
use motefall_physics::droplet::Finder;
use motefall_physics::inputs::{Inputs, Law, Varied};
use motefall_physics::jet::store::FieldStore;
use rayon::prelude::*;
use std::sync::Arc;

/// Samples of a layer: of each of two sets at the set values.
const SAMPLES: usize = 24_000;
/// Part of what a varied input does to a mean that is taken to be in doubt: three places tell a parabola exactly, and no kink.
const SHIFT_ERROR: f64 = 0.3;
/// Part of a figure that is taken to be in doubt where lines run while wet: a bead does not grow in proportion to its liquid.
const BEAD_ERROR: f64 = 0.02;
/// Powders beyond which the tables of spots would take too much memory, and blocks beyond which a path takes longer than prints of it.
const MOST_POWDERS: usize = 12;
const MOST_BLOCKS: usize = 20_000;

/// Works the expected deposit out.
pub fn expected(inputs: &Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Expected, RunError> {
    expected_in(inputs, &Atlas::new(store), progress)
}

/// The same with landing tables that are at hand.
pub fn expected_in(inputs: &Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Expected, RunError> {
    let setting = Setting::in_atlas(inputs, atlas, progress)?;
    let measurer = Measurer::new(inputs, setting.measuring, &setting.regions, setting.print_time(), setting.ink_used());
    progress.begin("working the expected deposit out", None);
    let values = values(&setting, &measurer);
    let row = |((kind, place), value): (&FigureAt, _)| ExpectedRow { kind, place: place.clone(), value };
    let figures = measurer.places().iter().zip(values).map(row).collect();
    Ok(Expected { inputs: setting.spaced_inputs(), figures })
}

/// What each figure of a setting is on average, in the order of [`Measurer::places`]; `None` where only prints tell.
pub(crate) fn values(setting: &Setting<'_>, measurer: &Measurer) -> Vec<Option<ExpectedValue>> {
    let inputs = setting.inputs;
    if takes_too_long(setting) {
        return vec![None; measurer.places().len()];
    }
    let varied = inputs.varied();
    let figures = Figures::new(inputs, measurer.places(), setting.print_time(), setting.ink_used());
    let work = Work { setting, figures, varied: &varied };
    let none = vec![0.0; varied.len()];
    let (spots, others) = rayon::join(|| work.spots(&none, 0, None), || work.spots(&none, 1, None));
    let as_set =
        |spots: &[Arc<Spot>], points| work.figures.values(&work.layers(&none, spots, points, 0.0, None), points);
    let (first, second) = rayon::join(|| as_set(&spots, Points::Close), || as_set(&others, Points::Close));
    // Changes are told from values at the same points.
    let layers = work.layers(&none, &spots, Points::Wide, 0.0, None);
    let wide = work.figures.values(&layers, Points::Wide);
    let noisy =
        |deviate: f64| work.figures.values(&work.layers(&none, &spots, Points::Wide, deviate, None), Points::Wide);
    let is_noisy = setting.layers.iter().any(|layer| layer.layer.output.noise_sd > 0.0);
    let noise = is_noisy.then(|| [-1.0, 1.0].map(|sign: f64| noisy(sign * fourth(Law::Normal).sqrt())));
    let law = |of: &Varied| inputs.spread.iter().find(|variation| variation.input == of.input);
    // Changes to both sides of each varied input, of all figures.
    let sides: Vec<Option<(Law, [Values; 2])>> = varied
        .par_iter()
        .enumerate()
        .map(|(k, input)| {
            let variation = law(input).filter(|variation| variation.sd > 0.0)?;
            let side = |sign: f64| {
                let mut drawn = none.clone();
                drawn[k] = sign * fourth(variation.law).sqrt() * variation.sd;
                let spots = work.spots(&drawn, 0, Some(&spots));
                work.figures.values(&work.layers(&drawn, &spots, Points::Wide, 0.0, Some(&layers)), Points::Wide)
            };
            let (below, above) = rayon::join(|| side(-1.0), || side(1.0));
            Some((variation.law, [below, above]))
        })
        .collect();
    let has_beads = setting.layers.iter().any(|layer| !layer.beads.wet.is_empty());
    let value = |k: usize| {
        let changes = varied.iter().zip(&sides).filter_map(|(input, side)| {
            let (law, [below, above]) = side.as_ref()?;
            Some((*input, *law, [below[k]? - wide[k]?, above[k]? - wide[k]?]))
        });
        let mut value = with_changes([first[k]?, second[k]?], changes);
        if let Some([below, above]) = &noise {
            // Somewhere between noise that is the same all over a place and noise that passes even out.
            let (shift, _) = moments(Law::Normal, below[k]? - wide[k]?, above[k]? - wide[k]?);
            value.mean = (value.mean + 0.5 * shift).max(0.0);
            value.error = value.error.hypot(0.5 * shift);
        }
        if has_beads {
            value.error = value.error.hypot(BEAD_ERROR * value.mean);
        }
        Some(value)
    };
    (0..first.len()).map(value).collect()
}

/// Whether prints are the quicker way: of many powders or along very long paths, and where each droplet is tracked through the jet.
fn takes_too_long(setting: &Setting<'_>) -> bool {
    let is_tracked = |layer: &LayerSetting<'_>| matches!(&layer.finder, Finder::Direct(flyer) if flyer.field.is_some());
    setting.densities.len() > MOST_POWDERS || setting.blocks() > MOST_BLOCKS || setting.layers.iter().any(is_tracked)
}

/// The deviations that change what falls from a resting jet, without those of where the jet goes and how much comes out of it.
fn at_rest(deviations: Deviations) -> Deviations {
    let Deviations { shift, rotation, output, trend, warm_up, .. } = Deviations::NONE;
    Deviations { shift, rotation, output, trend, warm_up, ..deviations }
}

/// A figure from two sets of droplets at the set values, and from its changes to both sides of each varied input.
///
/// What raises the mean is added, what lowers it multiplies, so that no figure becomes negative, however little there is of it.
fn with_changes([one, other]: [f64; 2], changes: impl Iterator<Item = (Varied, Law, [f64; 2])>) -> ExpectedValue {
    let (mut raised, mut factor, mut shifted, mut variances) = (0.0, 1.0, 0.0, vec![]);
    for (input, law, [below, above]) in changes {
        let (shift, variance) = moments(law, below, above);
        shifted += shift.abs();
        if shift > 0.0 {
            raised += shift;
        } else if one > 0.0 {
            factor *= 1.0 + shift / one;
        }
        variances.push((input, variance));
    }
    let variance: f64 = variances.iter().map(|(_, variance)| variance).sum();
    ExpectedValue {
        mean: (0.5 * (one + other) + raised) * factor,
        from_inputs: variance.sqrt(),
        variances,
        error: (0.5 * (one - other)).hypot(SHIFT_ERROR * shifted),
    }
}

/// All figures of a deposit, in the order of their places; `None` where only prints tell.
type Values = Vec<Option<f64>>;

/// What all deviations share.
struct Work<'a> {
    setting: &'a Setting<'a>,
    figures: Figures<'a>,
    varied: &'a [Varied],
}

impl Work<'_> {
    /// What falls from the resting jet of each layer, with these deviations of the varied inputs and one of several sets of droplets; `known`
    /// where no deviation changes it.
    fn spots(&self, drawn: &[f64], set: u64, known: Option<&[Arc<Spot>]>) -> Vec<Arc<Spot>> {
        let amounts = Amounts { powders: self.setting.densities.len() };
        let spot = |(number, layer): (usize, &LayerSetting<'_>)| {
            let deviations = Deviations::new(self.varied, drawn, number);
            if let (Some(known), true) = (known, at_rest(deviations) == Deviations::NONE) {
                return Arc::clone(&known[number]);
            }
            let sample = sample(layer, &PrintState::new(layer, deviations), SAMPLES, set);
            Arc::new(Spot::new(&sample, &layer.powders, amounts))
        };
        self.setting.layers.iter().enumerate().map(spot).collect()
    }

    /// What each layer leaves with these deviations and an output that is off by so many standard deviations of its noise; `known` where
    /// none deviates.
    fn layers(
        &self,
        drawn: &[f64],
        spots: &[Arc<Spot>],
        points: Points,
        noise: f64,
        known: Option<&[Arc<OfLayer>]>,
    ) -> Vec<Arc<OfLayer>> {
        let of_layer = |(number, (layer, spot)): (usize, (&LayerSetting<'_>, &Arc<Spot>))| {
            let deviations = Deviations::new(self.varied, drawn, number);
            if let (Some(known), true) = (known, deviations == Deviations::NONE) {
                return Arc::clone(&known[number]);
            }
            let output = deviations.output * (1.0 + noise * layer.layer.output.noise_sd).max(0.0);
            let deviations = Deviations { output, ..deviations };
            Arc::new(self.figures.of_layer(&Swept::new(layer, &deviations, spot), points))
        };
        self.setting.layers.iter().zip(spots).enumerate().map(of_layer).collect()
    }
}
