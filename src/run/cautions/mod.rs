//! What a result must say when it applies: relations out of range, model limits, unverified inputs, hazards.
//!
//! [`CautionKind`] lists them. Each is made in one place: `safety` of a layer's ink, gas and chip; [`super::ranges`]; `flight`, `lines`,
//! `shutter` and `widths` of a layer's mist, jet and items; `bench` of the vials; `prints` of one print; `figures` of all prints.

mod bench;
mod calibration;
mod figures;
mod flight;
mod lines;
mod prints;
#[cfg(test)]
mod raised;
mod safety;
mod shutter;
mod widths;

use super::ranges;
use super::setting::{LayerSetting, Setting};
use super::width_doubts::WidthDoubts;
pub use calibration::{Apart, calibration};
use motefall_figures::calibration::Used;
use motefall_figures::{Bridging, Caution, CautionKind, FigureRow, LimitOutcome};
use motefall_physics::inputs::{Inputs, Role};
use motefall_physics::map::PrintOutcome;

pub(crate) use figures::of_figures;
pub(crate) use prints::of_particles;
use prints::stopped;

/// Cautions of the setting and of one print, safety first.
/// `doubts`: what line widths would be in each layer with other values of what is not known, if it was worked out.
pub(crate) fn cautions(setting: &Setting, outcome: &PrintOutcome, doubts: &[Option<WidthDoubts>]) -> Vec<Caution> {
    let inputs = setting.inputs;
    let mut list = of_layers(setting, doubts);
    list.extend(prints::cautions(inputs, outcome, setting.expected_droplets()));
    list.extend(no_membrane(inputs));
    list.extend(unverified(inputs, doubts));
    list.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    list
}

/// Cautions of a setting that is not printed, safety first.
pub(crate) fn of_setting(setting: &Setting) -> Vec<Caution> {
    let mut list = of_layers(setting, &[]);
    list.extend(no_membrane(setting.inputs));
    list.extend(unverified(setting.inputs, &[]));
    list.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    list
}

/// Doubts of the model that a setting raises before it is printed. `used`: the calibration that it takes.
pub(crate) fn doubts(setting: &Setting, used: Option<&Used>) -> Vec<CautionKind> {
    let mut all = of_setting(setting);
    all.extend(used.iter().flat_map(|used| calibration(used, &[])));
    CautionKind::doubts(&all.iter().map(|caution| caution.kind).collect::<Vec<_>>())
}

/// Cautions of one print by itself, safety first: what it left out, and where its solids went.
pub(crate) fn of_one_print(setting: &Setting, outcome: &PrintOutcome) -> Vec<Caution> {
    let mut list = prints::cautions(setting.inputs, outcome, setting.expected_droplets());
    list.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    list
}

/// What a prediction knows when its cautions are raised.
pub(crate) struct Known<'a> {
    /// The inputs, with the prints that were made.
    pub(crate) inputs: &'a Inputs,
    /// What all prints share.
    pub(crate) setting: &'a Setting<'a>,
    /// What line widths would be in each layer with other values of what is not known.
    pub(crate) doubts: &'a [Option<WidthDoubts>],
    /// The first print.
    pub(crate) first: &'a PrintOutcome,
    /// Its particles that were kept.
    pub(crate) listed: usize,
    /// All figures.
    pub(crate) figures: &'a [FigureRow],
    /// All limits.
    pub(crate) limits: &'a [LimitOutcome],
    /// Gaps between electrodes.
    pub(crate) bridging: Option<&'a Bridging>,
    /// Particles of the fullest print, if too many to tell what touches what.
    pub(crate) fullest: Option<u64>,
    /// Most particles of a print that are kept.
    pub(crate) most_kept: usize,
    /// Prints made.
    pub(crate) made: u32,
    /// Prints asked for.
    pub(crate) wanted: u32,
}

/// All cautions of a prediction, the severest first.
pub(crate) fn of_prediction(known: Known<'_>) -> Vec<Caution> {
    let Known { inputs, setting, doubts, first, listed, figures, limits, bridging, fullest, most_kept, .. } = known;
    let mut list = cautions(setting, first, doubts);
    list.extend(of_figures(inputs, figures, limits, bridging));
    list.extend(of_particles(inputs, listed, fullest, most_kept));
    list.extend(stopped(known.made, known.wanted));
    list.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    list
}

/// Remarks on the scenario, which belong to the result.
pub fn remarks(notes: &[String]) -> Vec<Caution> {
    notes.iter().map(|text| CautionKind::Remark.with(text)).collect()
}

/// What is said of layers before any print.
fn of_layers(setting: &Setting, doubts: &[Option<WidthDoubts>]) -> Vec<Caution> {
    let inputs = setting.inputs;
    let of_layer = |(number, layer): (usize, &LayerSetting<'_>)| {
        let doubts = doubts.get(number).and_then(Option::as_ref);
        let mut own = safety::cautions(layer.layer);
        own.extend(ranges::cautions(layer, inputs));
        own.extend(flight::cautions(layer, !inputs.spread.is_empty(), doubts));
        own.extend(shutter::cautions(&layer.layer.stage, &layer.timeline));
        own
    };
    let mut list = gather(inputs, setting.layers.iter().enumerate().map(of_layer).collect());
    list.extend(bench::cautions(setting));
    list
}

fn no_membrane(inputs: &Inputs) -> Option<Caution> {
    let has_window = inputs.regions.iter().any(|region| region.role == Role::Window);
    (inputs.beam.layers.is_empty() && has_window).then(|| {
        CautionKind::NoMembrane.with(
            "The chip has a window, but no membrane or liquid stands under [[beam.layer]]: depths for the beam are those of the \
             deposit alone.",
        )
    })
}

fn unverified(inputs: &Inputs, doubts: &[Option<WidthDoubts>]) -> Option<Caution> {
    let keys: Vec<&str> = inputs.unverified.iter().map(|u| u.key.as_str()).collect();
    let of_layers = inputs.layers.iter().zip(doubts).filter_map(|(layer, doubts)| {
        let words = widths::nozzle_words(layer, doubts.as_ref()?)?;
        Some(if layer.name.is_empty() { words } else { format!(" Layer \"{}\":{words}", layer.name) })
    });
    (!keys.is_empty()).then(|| {
        CautionKind::UnverifiedDefaults.with(format!(
            "{} inputs are defaults that nobody has measured here: {}. `motefall check` says how to measure each.{}",
            keys.len(),
            keys.join(", "),
            of_layers.collect::<String>()
        ))
    })
}

/// The cautions of all layers: what is said of each alike once, the rest with the name of its layer.
fn gather(inputs: &Inputs, layers: Vec<Vec<Caution>>) -> Vec<Caution> {
    if layers.len() == 1 {
        return layers.into_iter().flatten().collect();
    }
    let all = |caution: &Caution| layers.iter().all(|own| own.contains(caution));
    let mut kinds: Vec<CautionKind> = vec![];
    for kind in layers.iter().flatten().map(|caution| caution.kind) {
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    let mut list: Vec<Caution> = vec![];
    for kind in kinds {
        for (layer, own) in inputs.layers.iter().zip(&layers) {
            for caution in own.iter().filter(|caution| caution.kind == kind) {
                if !all(caution) {
                    list.push(kind.with(format!("Layer \"{}\": {}", layer.name, caution.text)));
                } else if !list.contains(caution) {
                    list.push(caution.clone());
                }
            }
        }
    }
    list
}
