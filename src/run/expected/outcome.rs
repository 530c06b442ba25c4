//! The expected deposit of a setting.

use super::figures::{Figures, OfLayer, Values};
use super::map;
use super::noise;
use super::places::Points;
use super::sample::{Sampling, sample};
use super::spot::{Amounts, Spot};
use super::swept::Swept;
use super::varied::{moments, places};
use crate::atlas::Atlas;
use crate::cautions;
use crate::setting::{LayerSetting, PrintState, Setting};
use crate::spread::Deviations;
use crate::{Progress, RunError};
use motefall_figures::Grid;
use motefall_figures::beam_view;
use motefall_figures::expected::{Expected, ExpectedMap, ExpectedRow, OnlyPrints};
use motefall_figures::places;
use motefall_figures::profile::Lane;
use motefall_figures::statistics::FigureAt;
use motefall_figures::{ByInput, ExpectedValue};
use motefall_physics::droplet::Finder;
use motefall_physics::figure_kinds::Figure;
use motefall_physics::inputs::{Inputs, Law, Variation, Varied, VariedInput};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::path::motion::Stroke;
use rayon::prelude::*;
use std::sync::Arc;

/// Samples of a layer: of each of two sets at the set values.
const SAMPLES: usize = 8_000;
/// Part of what a varied input does to a mean that is taken to be in doubt: three places tell a parabola exactly, and no kink.
const SHIFT_ERROR: f64 = 0.3;
/// Part of a figure that is taken to be in doubt where lines run while wet: a bead does not grow in proportion to its liquid.
const BEAD_ERROR: f64 = 0.02;
/// Part of a figure read off a profile that is taken to be in doubt: it is read off the mean profile, prints off each their own, which is
/// grainy and in pixels.
const READING_ERROR: f64 = 0.02;
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
    let asked = places::asked(inputs);
    progress.begin("working the expected deposit out", None);
    let values = values(&setting, &asked, progress)?;
    let row = |((kind, place), value): (&FigureAt, _)| ExpectedRow { kind, place: place.clone(), value };
    let figures = asked.iter().zip(values).map(row).collect();
    let only_prints = only_prints(&setting);
    Ok(Expected { inputs: setting.spaced_inputs(), figures, only_prints, cautions: cautions::of_setting(&setting) })
}

/// What each figure is as the inputs are set, from one set of droplets and without what differs between prints: for differences to other inputs.
/// In the order of [`places::asked`]; `None` where only prints tell.
pub fn means_as_set(inputs: &Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Vec<Option<f64>>, RunError> {
    Ok(means_of(&Setting::in_atlas(inputs, atlas, progress)?, &places::asked(inputs)))
}

/// The same of a setting that is at hand, for some figures.
pub(crate) fn means_of(setting: &Setting<'_>, asked: &[FigureAt]) -> Vec<Option<f64>> {
    if only_prints(setting).is_some() {
        return vec![None; asked.len()];
    }
    let work = Work { setting, figures: Figures::new(setting, asked), varied: &[] };
    let amounts = work.amounts(false);
    let layers = work.layers(&[], &work.spots(&[], 0, amounts, None), Points::Close, 0.0, None);
    work.figures.deposit(&layers, Points::Close, amounts).values()
}

/// Settings of those that are possible by which is told how far their means lie apart.
const TRIED: usize = 64;

/// What each figure is on average at each of some of the inputs that are possible, without what differs between prints.
fn possible_means(possible: &[Inputs], atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Vec<Values>, RunError> {
    if possible.is_empty() {
        return Ok(vec![]);
    }
    progress.begin("working out what is still unknown", Some(possible.len().min(TRIED) as u64));
    let means = |inputs: &Inputs| {
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        let plain = Inputs { spread: Vec::new(), ..inputs.clone() };
        let means = means_as_set(&plain, atlas, &crate::Silent);
        progress.advance(1);
        means
    };
    let tried: Vec<Result<Values, RunError>> = possible.par_iter().take(TRIED).map(means).collect();
    tried.into_iter().collect()
}

/// Mean and standard deviation of a figure over what is possible; `None` where only prints tell.
fn over_possible(means: &[Values], figure: usize) -> Option<[f64; 2]> {
    let values: Vec<f64> = means.iter().map(|values| values[figure]).collect::<Option<_>>()?;
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (n > 1.0).then(|| [mean, (squares / (n - 1.0)).sqrt()])
}

/// How far the means of so many figures lie apart over inputs that are possible, as standard deviations; `None` where only prints tell.
pub(crate) fn spread_of_means(
    possible: &[Inputs],
    figures: usize,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Vec<Option<f64>>, RunError> {
    let means = possible_means(possible, atlas, progress)?;
    Ok((0..figures).map(|figure| over_possible(&means, figure).map(|[_, sd]| sd)).collect())
}

/// The expected deposit on a bench of which not all is known: over inputs that are possible, each as likely as any other.
pub fn expected_possible(
    inputs: &Inputs,
    possible: &[Inputs],
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Expected, RunError> {
    let mut expected = expected_in(inputs, atlas, progress)?;
    let as_set = means_as_set(&Inputs { spread: Vec::new(), ..inputs.clone() }, atlas, &crate::Silent)?;
    let means = possible_means(possible, atlas, progress)?;
    for (k, row) in expected.figures.iter_mut().enumerate() {
        let known = row.value.take().zip(over_possible(&means, k)).zip(as_set[k]);
        // What varies between prints is told about the middle of what is possible.
        row.value = known.map(|((value, [mean, sd]), as_set)| ExpectedValue {
            mean: (value.mean + mean - as_set).max(0.0),
            from_unknown: sd,
            ..value
        });
    }
    Ok(expected)
}

/// What lies where on average as the inputs are set, without what differs between prints; `None` where only prints tell. The grid may be any:
/// each pixel is told by its middle.
pub fn map_as_set(
    inputs: &Inputs,
    atlas: &Atlas<'_>,
    grid: Grid,
    progress: &dyn Progress,
) -> Result<Option<ExpectedMap>, RunError> {
    Ok(look(inputs, atlas, |_| grid, progress)?.map)
}

/// A setting as it is looked at before any print.
#[derive(Debug, Clone)]
pub struct Look {
    /// What lies where on average, as [`map_as_set`] gives it.
    pub map: Option<ExpectedMap>,
    /// The grid that was asked for.
    pub grid: Grid,
    /// Path of the nozzle axis over all layers.
    pub strokes: Vec<Stroke>,
    /// Where the profile of each item of the path begins and ends, m, across it; `None` if it has none.
    pub across: Vec<Option<[[f64; 2]; 2]>>,
    /// Why only prints tell what lies where; `None` if that is not so.
    pub only_prints: Option<OnlyPrints>,
}

/// Looks at a setting; `grid` makes the grid to look at of that of the maps.
pub fn look(
    inputs: &Inputs,
    atlas: &Atlas<'_>,
    grid: impl FnOnce(Grid) -> Grid,
    progress: &dyn Progress,
) -> Result<Look, RunError> {
    let setting = Setting::in_atlas(inputs, atlas, progress)?;
    let (grid, only_prints) = (grid(setting.grid), only_prints(&setting));
    let strokes = setting.layers.iter().flat_map(|layer| layer.conditions.strokes.iter().copied()).collect();
    let across = setting.lanes.iter().map(|lane| lane.as_ref().map(Lane::across)).collect();
    let map = only_prints.is_none().then(|| {
        let work = Work { setting: &setting, figures: Figures::new(&setting, &[]), varied: &[] };
        let spots = work.spots(&[], 0, work.amounts(false), None);
        let layers = setting.layers.iter().zip(&spots);
        let layers: Vec<Swept<'_>> = layers.map(|(layer, spot)| Swept::new(layer, &Deviations::NONE, spot)).collect();
        map::of_layers(&layers, grid)
    });
    Ok(Look { map, grid, strokes, across, only_prints })
}

/// What each figure of a setting is on average, in the order of [`places::asked`]; `None` where only prints tell.
pub(crate) fn values(
    setting: &Setting<'_>,
    places: &[FigureAt],
    progress: &dyn Progress,
) -> Result<Vec<Option<ExpectedValue>>, RunError> {
    if only_prints(setting).is_some() {
        return Ok(vec![None; places.len()]);
    }
    let go_on = || if progress.cancelled() { Err(RunError::Cancelled) } else { Ok(()) };
    let varied = setting.inputs.varied();
    let work = Work { setting, figures: Figures::new(setting, places), varied: &varied };
    let as_set = work.as_set();
    go_on()?;
    let sides = work.sides(&as_set, go_on)?;
    let has_beads = setting.layers.iter().any(|layer| !layer.beads.wet.is_empty());
    let value = |k: usize| {
        let wide = as_set.wide[k]?;
        // What cannot be told with an input to one side is not told at all, rather than without what that input does.
        let changes: Option<Vec<_>> = varied
            .iter()
            .zip(&sides)
            .filter_map(|(input, side)| side.as_ref().map(|(variation, sides)| (*input, *variation, sides)))
            .map(|(input, variation, sides)| {
                let change = |[below, above]: &[Values; 2]| Some([below[k]? - wide, above[k]? - wide]);
                Some((input, variation, sides.iter().map(change).collect::<Option<Vec<_>>>()?))
            })
            .collect();
        let mut value = with_changes([as_set.close[k]?, as_set.other[k]?], changes?);
        value.from_chance = as_set.chance[k].map(f64::sqrt);
        if let Some([below, above]) = &as_set.noisy {
            let (shift, variance) = moments(&noise_places(), &[[below[k]? - wide, above[k]? - wide]]);
            let left = work.noise_left(k, &as_set);
            value.from_noise = (variance * left).sqrt();
            // Somewhere between noise that is the same all over a place and noise that passes even out.
            value.mean = (value.mean + 0.5 * (1.0 + left) * shift).max(0.0);
            value.error = value.error.hypot(0.5 * (1.0 - left) * shift);
        }
        if has_beads {
            value.error = value.error.hypot(BEAD_ERROR * value.mean);
        }
        if matches!(places[k].0.figure, Figure::Item(_)) {
            value.error = value.error.hypot(READING_ERROR * value.mean);
        }
        value.error = value.error.hypot(as_set.doubts[k]);
        Some(value)
    };
    Ok((0..places.len()).map(value).collect())
}

/// Why prints are the quicker way, if they are.
fn only_prints(setting: &Setting<'_>) -> Option<OnlyPrints> {
    let is_tracked = |layer: &LayerSetting<'_>| matches!(&layer.finder, Finder::Direct(flyer) if flyer.field.is_some());
    if setting.densities.len() > MOST_POWDERS {
        return Some(OnlyPrints::ManyPowders);
    }
    if setting.blocks() > MOST_BLOCKS {
        return Some(OnlyPrints::LongPath);
    }
    setting.layers.iter().any(is_tracked).then_some(OnlyPrints::Tracked)
}

/// The deviations that change what falls from a resting jet, without those of where the jet goes and how much comes out of it.
fn at_rest(deviations: Deviations) -> Deviations {
    let Deviations { shift, rotation, output, trend, warm_up, .. } = Deviations::NONE;
    Deviations { shift, rotation, output, trend, warm_up, ..deviations }
}

/// Where the noise of the output is looked at.
fn noise_places() -> Vec<[f64; 2]> {
    places(Law::Normal, VariedInput::Output)
}

/// A figure from two sets of droplets at the set values, and from its changes to both sides of each varied input.
///
/// What raises the mean is added, what lowers it multiplies, so that no figure becomes negative, however little there is of it.
fn with_changes([one, other]: [f64; 2], changes: Vec<(Varied, Variation, Vec<[f64; 2]>)>) -> ExpectedValue {
    let (mut raised, mut factor, mut shifted, mut by_input) = (0.0, 1.0, 0.0, vec![]);
    for (input, variation, changes) in changes {
        let places = places(variation.law, input.input);
        let (shift, variance) = moments(&places, &changes);
        shifted += shift.abs();
        if shift > 0.0 {
            raised += shift;
        } else if one > 0.0 {
            factor *= 1.0 + shift / one;
        }
        let ([place, _], changes) = (places[0], changes[0]);
        let mean = 0.5 * (changes[0] + changes[1]) / (place * place);
        by_input.push(ByInput { input, reach: place * variation.sd, changes, mean, variance });
    }
    // From 0: an empty sum would be -0.
    let variance = by_input.iter().fold(0.0, |sum, own| sum + own.variance);
    ExpectedValue {
        mean: (0.5 * (one + other) + raised) * factor,
        from_inputs: variance.sqrt(),
        from_noise: 0.0,
        from_chance: None,
        from_unknown: 0.0,
        by_input,
        error: (0.5 * (one - other)).hypot(SHIFT_ERROR * shifted),
    }
}

/// The deposit at the set values.
struct AsSet {
    /// Figures from close points, the same of another set of droplets, and from wide points, from which changes are told.
    close: Values,
    other: Values,
    wide: Values,
    /// Variances that chance within a print brings about.
    chance: Vec<Option<f64>>,
    /// By how much figures as prints tell them may differ.
    doubts: Vec<f64>,
    /// Figures from wide points with the noise of the output below and above its mean, if there is any.
    noisy: Option<[Values; 2]>,
    spots: Vec<Arc<Spot>>,
    /// What layers leave, as wide points tell.
    layers: Vec<Arc<OfLayer>>,
}

/// Figures with a varied input below and above its set value, at each of its places, and how it varies.
type Sides = (Variation, Vec<[Values; 2]>);

/// What all deviations share.
struct Work<'a> {
    setting: &'a Setting<'a>,
    figures: Figures<'a>,
    varied: &'a [Varied],
}

impl Work<'_> {
    fn amounts(&self, squares: bool) -> Amounts {
        Amounts { powders: self.setting.densities.len(), squares }
    }

    fn as_set(&self) -> AsSet {
        let none = vec![0.0; self.varied.len()];
        let of_set = |set: u64, squares: bool| {
            let amounts = self.amounts(squares);
            let spots = self.spots(&none, set, amounts, None);
            let layers = self.layers(&none, &spots, Points::Close, 0.0, None);
            let deposit = self.figures.deposit(&layers, Points::Close, amounts);
            let values = deposit.values();
            let chance = if squares { deposit.variances(&values) } else { vec![] };
            (spots, values, chance, deposit.doubts())
        };
        let ((spots, close, _, doubts), (_, other, chance, _)) = rayon::join(|| of_set(0, false), || of_set(1, true));
        let layers = self.layers(&none, &spots, Points::Wide, 0.0, None);
        let noisy = |deviate: f64| self.wide_values(&self.layers(&none, &spots, Points::Wide, deviate, None));
        let is_noisy = self.setting.layers.iter().any(|layer| layer.layer.output.noise_sd > 0.0);
        let noisy = is_noisy.then(|| [-1.0, 1.0].map(|sign: f64| noisy(sign * noise_places()[0][0])));
        AsSet { wide: self.wide_values(&layers), close, other, chance, doubts, noisy, spots, layers }
    }

    fn wide_values(&self, layers: &[Arc<OfLayer>]) -> Values {
        self.figures.deposit(layers, Points::Wide, self.amounts(false)).values()
    }

    /// Figures with each varied input below and above its set value, from wide points; `None` for what does not vary.
    fn sides(
        &self,
        as_set: &AsSet,
        go_on: impl Fn() -> Result<(), RunError> + Sync,
    ) -> Result<Vec<Option<Sides>>, RunError> {
        let of_input = |(k, input): (usize, &Varied)| {
            let law = |of: &Varied| self.setting.inputs.spread.iter().find(|variation| variation.input == of.input);
            go_on()?;
            let Some(variation) = law(input).filter(|variation| variation.sd > 0.0) else { return Ok(None) };
            let side = |deviate: f64| {
                let mut drawn = vec![0.0; self.varied.len()];
                drawn[k] = deviate * variation.sd;
                let spots = self.spots(&drawn, 0, self.amounts(false), Some(&as_set.spots));
                self.wide_values(&self.layers(&drawn, &spots, Points::Wide, 0.0, Some(&as_set.layers)))
            };
            let both = |[place, _]: &[f64; 2]| {
                let (below, above) = rayon::join(|| side(-place), || side(*place));
                [below, above]
            };
            let places = places(variation.law, variation.input);
            Ok(Some((*variation, places.par_iter().map(both).collect())))
        };
        self.varied.par_iter().enumerate().map(of_input).collect()
    }

    /// Share of the variance of the output's noise that is left in a figure.
    fn noise_left(&self, figure: usize, as_set: &AsSet) -> f64 {
        let radii: Vec<f64> = as_set.spots.iter().map(|spot| spot.half_within).collect();
        let amounts: Vec<f64> = as_set.layers.iter().map(|layer| self.figures.amount(figure, layer)).collect();
        noise::left_over(self.setting, self.figures.bounds(figure), &radii, &amounts)
    }

    /// What falls from the resting jet of each layer, with these deviations of the varied inputs and one of several sets of droplets; `known`
    /// where no deviation changes it.
    fn spots(&self, drawn: &[f64], set: u64, amounts: Amounts, known: Option<&[Arc<Spot>]>) -> Vec<Arc<Spot>> {
        let mean_free_paths = beam_view::mean_free_paths(self.setting.inputs);
        let spot = |(number, layer): (usize, &LayerSetting<'_>)| {
            let deviations = Deviations::new(self.varied, drawn, number);
            if let (Some(known), true) = (known, at_rest(deviations) == Deviations::NONE) {
                return Arc::clone(&known[number]);
            }
            let paths: Vec<f64> = layer.powders.iter().map(|powder| mean_free_paths[usize::from(*powder)]).collect();
            let sampling = Sampling { count: SAMPLES, set, squares: amounts.squares.then_some(&paths[..]) };
            let sample = sample(layer, &PrintState::new(layer, deviations), sampling);
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
