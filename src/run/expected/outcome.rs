//! The expected deposit of a setting.

use super::figures::Figures;
use super::sample::sample;
use super::spot::{Amounts, Spot};
use super::swept::Swept;
use super::varied::{fourth, moments};
use crate::atlas::Atlas;
use crate::setting::{PrintState, Setting};
use crate::spread::Deviations;
use crate::{Progress, RunError};
use motefall_figures::expected::{Expected, ExpectedRow, ExpectedValue};
use motefall_figures::measure::Measurer;
use motefall_figures::statistics::FigureAt;
use motefall_physics::inputs::{Inputs, Law, Varied};
use motefall_physics::jet::store::FieldStore;
use rayon::prelude::*;

/// Samples of a layer: of each of two sets at the set values.
const SAMPLES: usize = 24_000;

/// Works the expected deposit out.
pub fn expected(inputs: &Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Expected, RunError> {
    expected_in(inputs, &Atlas::new(store), progress)
}

/// The same with landing tables that are at hand.
pub fn expected_in(inputs: &Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Expected, RunError> {
    let setting = Setting::in_atlas(inputs, atlas, progress)?;
    let measurer = Measurer::new(inputs, setting.measuring, &setting.regions, setting.print_time(), setting.ink_used());
    let figures = Figures::new(inputs, measurer.places(), setting.print_time(), setting.ink_used());
    let varied = inputs.varied();
    let none = vec![0.0; varied.len()];
    progress.begin("working the expected deposit out", None);
    let of = |drawn: &[f64], set: u64| values(&setting, &figures, &varied, drawn, set);
    let (first, second) = rayon::join(|| of(&none, 0), || of(&none, 1));
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
                of(&drawn, 0)
            };
            let (below, above) = rayon::join(|| side(-1.0), || side(1.0));
            Some((variation.law, [below, above]))
        })
        .collect();
    let row = |(k, (kind, place)): (usize, &FigureAt)| {
        let value = || {
            let changes = varied.iter().zip(&sides).filter_map(|(input, side)| {
                let (law, [below, above]) = side.as_ref()?;
                Some((*input, *law, [below[k]?, above[k]?]))
            });
            Some(with_changes([first[k]?, second[k]?], changes))
        };
        ExpectedRow { kind, place: place.clone(), value: value() }
    };
    let figures = measurer.places().iter().enumerate().map(row).collect();
    Ok(Expected { inputs: setting.spaced_inputs(), figures })
}

/// A figure from two sets of droplets at the set values, and from its values to both sides of each varied input.
///
/// What raises the mean is added, what lowers it multiplies, so that no figure becomes negative, however little there is of it.
fn with_changes([one, other]: [f64; 2], changes: impl Iterator<Item = (Varied, Law, [f64; 2])>) -> ExpectedValue {
    let (mut raised, mut factor, mut variances) = (0.0, 1.0, vec![]);
    for (input, law, sides) in changes {
        let [below, above] = sides.map(|side| side - one);
        let (shift, variance) = moments(law, below, above);
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
        error: 0.5 * (one - other).abs(),
    }
}

/// All figures of a deposit, in the order of their places; `None` where only prints tell.
type Values = Vec<Option<f64>>;

/// All figures with these deviations of the varied inputs.
fn values(setting: &Setting<'_>, figures: &Figures<'_>, varied: &[Varied], drawn: &[f64], set: u64) -> Values {
    let amounts = Amounts { powders: setting.densities.len() };
    let spots: Vec<(Deviations, Spot)> = setting
        .layers
        .iter()
        .enumerate()
        .map(|(number, layer)| {
            let deviations = Deviations::new(varied, drawn, number);
            let state = PrintState::new(layer, deviations);
            let sample = sample(layer, &state, &setting.densities, SAMPLES, set);
            (deviations, Spot::new(&sample, &layer.powders, amounts))
        })
        .collect();
    let layers: Vec<Swept<'_>> = setting
        .layers
        .iter()
        .zip(&spots)
        .map(|(layer, (deviations, spot))| Swept::new(layer, deviations, spot))
        .collect();
    figures.values(&layers)
}
