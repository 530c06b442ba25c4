//! What the model gives for measured lines: the expected deposit at their settings.

use crate::lines::{Line, Value};
use crate::unknowns::Unknown;
use motefall_figures::calibration::What;
use motefall_figures::{ExpectedValue, Figure, ItemFigure, places};
use motefall_physics::inputs::{Inputs, Layer};
use motefall_physics::source::atomiser::ink_density;
use motefall_run::atlas::Atlas;
use motefall_run::expected::{expected_in, means_as_set};
use motefall_run::{Progress, RunError, Silent};
use motefall_scenario::{Knob, Turnable};

/// One measured value in the sense of the fit.
#[derive(Debug, Clone)]
pub(crate) struct Observation {
    /// Its line.
    pub(crate) line: usize,
    pub(crate) value: Value,
    /// What is fitted, and its uncertainty by the measurement.
    pub(crate) fitted: f64,
    pub(crate) sd: f64,
}

/// Lines that were printed at one setting.
struct Setting {
    settings: Vec<(Knob, f64)>,
    observations: Vec<usize>,
}

/// How prints scatter about a value, in units of what is fitted.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Scatter {
    /// By what all values of a line share: inputs and output.
    pub(crate) shared: f64,
    /// By chance, and the error of the arithmetic: each value by itself.
    pub(crate) own: f64,
}

/// The model of lines.
pub(crate) struct Model<'a> {
    scenario: &'a Turnable,
    atlas: &'a Atlas<'a>,
    lines: &'a [Line],
    settings: Vec<Setting>,
    /// Values of lines, in their order.
    pub(crate) observations: Vec<Observation>,
}

impl<'a> Model<'a> {
    /// For lines that were checked against the scenario.
    pub(crate) fn new(scenario: &'a Turnable, atlas: &'a Atlas<'a>, lines: &'a [Line]) -> Self {
        let (mut settings, mut observations): (Vec<Setting>, Vec<Observation>) = (vec![], vec![]);
        for (number, line) in lines.iter().enumerate() {
            let own: Vec<(Knob, f64)> =
                line.settings.iter().filter_map(|(key, value)| Some((scenario.knob(key).ok()?, *value))).collect();
            let is_same = |other: &Setting| {
                other.settings.len() == own.len()
                    && other.settings.iter().zip(&own).all(|((a, x), (b, y))| a.key == b.key && x == y)
            };
            let setting = settings.iter().position(is_same).unwrap_or_else(|| {
                settings.push(Setting { settings: own, observations: vec![] });
                settings.len() - 1
            });
            for value in &line.values {
                let Some(fitted) = value.quantity.fitted(value.value) else { continue };
                let sd = value.quantity.fitted_sd(value.value, value.sd);
                settings[setting].observations.push(observations.len());
                observations.push(Observation { line: number, value: *value, fitted, sd });
            }
        }
        Self { scenario, atlas, lines, settings, observations }
    }

    /// Landing tables that are shared with other lines.
    pub(crate) fn atlas(&self) -> &'a Atlas<'a> {
        self.atlas
    }

    /// What is fitted, for each value, with these values of unknowns, in the units of their keys; where a line states such a number itself, its
    /// value changes by the same factor or difference. `None` where the model has no answer: a
    /// setting that cannot run, a width that cannot be read off.
    pub(crate) fn at(&self, values: &[(&Unknown, f64)], progress: &dyn Progress) -> Result<Vec<Option<f64>>, RunError> {
        let mut all = vec![None; self.observations.len()];
        for setting in &self.settings {
            if progress.cancelled() {
                return Err(RunError::Cancelled);
            }
            let Ok(inputs) = self.inputs(setting, values) else { continue };
            let Ok(means) = means_as_set(&inputs, self.atlas, &Silent) else { continue };
            let asked = places::asked(&inputs);
            let mean = |figure: Figure, place: Option<&str>| {
                let at = asked.iter().position(|(kind, own)| kind.figure == figure && own.as_deref() == place)?;
                means[at]
            };
            for k in &setting.observations {
                let observation = &self.observations[*k];
                let value = self.value(observation, &inputs, &mean);
                all[*k] = value.and_then(|value| observation.value.quantity.fitted(value));
            }
        }
        Ok(all)
    }

    /// How prints scatter about the values, with the unknowns as they are set; each over as many prints as the line has.
    pub(crate) fn scatter(&self, progress: &dyn Progress) -> Result<Vec<Scatter>, RunError> {
        let mut all = vec![Scatter::default(); self.observations.len()];
        for setting in &self.settings {
            if progress.cancelled() {
                return Err(RunError::Cancelled);
            }
            let Ok(mut inputs) = self.inputs(setting, &[]) else { continue };
            inputs.spread.clone_from(&self.scenario.scenario.inputs.spread);
            let expected = expected_in(&inputs, self.atlas, &Silent)?;
            for k in &setting.observations {
                let observation = &self.observations[*k];
                let line = &self.lines[observation.line];
                let Some((figure, place)) = figure(observation, line) else { continue };
                let row =
                    expected.figures.iter().find(|row| row.kind.figure == figure && row.place.as_deref() == place);
                let Some(ExpectedValue { mean, from_inputs, from_noise, from_chance, error, .. }) =
                    row.and_then(|row| row.value.as_ref())
                else {
                    continue;
                };
                // The chance of what is read off a profile is not worked out; what the figure itself is known to stands for it.
                let prints = f64::from(line.prints).sqrt();
                let of = |sd: f64| if *mean > 0.0 { observation.value.quantity.fitted_sd(*mean, sd) } else { 0.0 };
                all[*k] = Scatter {
                    shared: of(from_inputs.hypot(*from_noise)) / prints,
                    own: (of(from_chance.unwrap_or(0.0)) / prints).hypot(of(*error)),
                };
            }
        }
        Ok(all)
    }

    /// Inputs of a setting without what differs between prints.
    fn inputs(&self, setting: &Setting, values: &[(&Unknown, f64)]) -> Result<Inputs, String> {
        let is_stated = |key: &str| setting.settings.iter().any(|(own, _)| own.key == key);
        let own = setting.settings.iter().map(|(knob, own)| {
            let unknown = values.iter().find(|(unknown, _)| unknown.knob.key == knob.key);
            (knob, unknown.map_or(*own, |(unknown, value)| unknown.changed(*own, *value)))
        });
        let others = values.iter().filter(|(unknown, _)| !is_stated(&unknown.knob.key));
        let others = others.map(|(unknown, value)| (&unknown.knob, *value));
        let inputs = self.scenario.with(&others.chain(own).collect::<Vec<_>>())?;
        Ok(Inputs { spread: Vec::new(), ..inputs })
    }

    fn value(
        &self,
        observation: &Observation,
        inputs: &Inputs,
        mean: &dyn Fn(Figure, Option<&str>) -> Option<f64>,
    ) -> Option<f64> {
        let line = &self.lines[observation.line];
        match observation.value.quantity.what {
            What::VialLoss => Some(vial_loss(&inputs.layers[0], line.vial_time?)),
            What::PeakHeight => {
                let (figure, place) = figure(observation, line)?;
                Some(mean(figure, place)? * bulk(layer_of(inputs, place?)?))
            }
            What::Figure(_) => {
                let (figure, place) = figure(observation, line)?;
                mean(figure, place)
            }
        }
    }
}

/// The figure behind a value, and its place.
fn figure<'a>(observation: &Observation, line: &'a Line) -> Option<(Figure, Option<&'a str>)> {
    let quantity = observation.value.quantity;
    match quantity.what {
        What::VialLoss => None,
        What::PeakHeight => Some((Figure::Item(ItemFigure::PeakThickness), line.item.as_deref())),
        What::Figure(figure) => {
            Some((figure, if quantity.is_of_item() { line.item.as_deref() } else { line.region.as_deref() }))
        }
    }
}

/// Mass of ink, kg, that leaves a vial as mist in a time (s).
fn vial_loss(layer: &Layer, time: f64) -> f64 {
    layer.atomiser.mist_load * layer.flows.carrier.0 * time * ink_density(&layer.ink)
}

/// The layer that prints an item.
fn layer_of<'a>(inputs: &'a Inputs, item: &str) -> Option<&'a Layer> {
    inputs.layers.iter().find(|layer| layer.path.iter().any(|own| own.name == item))
}

/// Volume of a deposit with its pores over that of its solids, of powders in the shares that the ink holds.
fn bulk(layer: &Layer) -> f64 {
    let volume = |of: &dyn Fn(f64) -> f64| -> f64 {
        layer.ink.powders.iter().map(|p| p.mass_fraction / p.density * of(p.packing_fraction)).sum()
    };
    volume(&|packing| 1.0 / packing) / volume(&|_| 1.0)
}

/// Unknowns with their values at deviates.
pub(crate) fn at_deviates<'a>(unknowns: &'a [Unknown], deviates: &[f64]) -> Vec<(&'a Unknown, f64)> {
    unknowns.iter().zip(deviates).map(|(unknown, deviate)| (unknown, unknown.value(*deviate))).collect()
}
