//! Flows and mist of a layer, and how the mist changes with what differs between prints.

use crate::atlas::{Atlas, MistChanges, mist_key};
use crate::spread::Deviations;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{Layer, Variation, VariedInput};
use motefall_physics::source::atomiser::{DropletSizes, nominal_droplets};
use rayon::prelude::*;
use std::sync::Arc;

/// Step of the logarithm of the flows at which changes of losses and drying are computed. A print's flows differ by a few percent, and
/// the change with them is taken from flows at most 13 % away.
const CHANGES_STEP: f64 = 0.25;

/// Flows and mist of a layer.
pub(super) struct LayerMist {
    pub(crate) flows: Flows,
    pub(crate) droplets: DropletSizes,
    pub(crate) mist: Arc<MistTable>,
    pub(crate) mist_changes: Arc<MistChanges>,
}

impl LayerMist {
    pub(crate) fn new(layer: &Layer, spread: &[Variation], atlas: &Atlas<'_>) -> Self {
        let flows = Flows::new(layer);
        let droplets = nominal_droplets(layer);
        let mist = atlas.mist(layer, &flows, &droplets);
        let near = rounded_flows(layer);
        let mist_changes = atlas.mist_changes(
            format!("{} {:?}", mist_key(&near, &droplets), mist_variations(spread).collect::<Vec<_>>()),
            || mist_changes(&near, &droplets, spread),
        );
        Self { flows, droplets, mist, mist_changes }
    }
}

/// The factor on an input that losses and drying depend on.
pub(super) fn factor_of(deviations: &Deviations, input: VariedInput) -> Option<f64> {
    match input {
        VariedInput::Carrier => Some(deviations.carrier),
        VariedInput::Sheath => Some(deviations.sheath),
        VariedInput::DropletMedian => Some(deviations.droplet_median),
        _ => None,
    }
}

/// Variations that losses and drying depend on.
fn mist_variations(spread: &[Variation]) -> impl Iterator<Item = &Variation> {
    spread.iter().filter(|v| v.sd > 0.0 && factor_of(&Deviations::NONE, v.input).is_some())
}

/// The same layer at flows of a coarse lattice, which neighbouring settings have in common.
fn rounded_flows(layer: &Layer) -> Layer {
    let mut near = layer.clone();
    for flow in [&mut near.flows.carrier.0, &mut near.flows.sheath.0] {
        if *flow > 0.0 {
            *flow = ((flow.ln() / CHANGES_STEP).round() * CHANGES_STEP).exp();
        }
    }
    near
}

/// Losses and drying at two standard deviations to each side of the setting.
fn mist_changes(layer: &Layer, droplets: &DropletSizes, spread: &[Variation]) -> MistChanges {
    let varied: Vec<_> = mist_variations(spread).collect();
    varied
        .into_par_iter()
        .map(|variation| {
            let unit = 2.0 * variation.sd;
            let side = |factor: f64| {
                let (mut layer, mut droplets) = (layer.clone(), *droplets);
                match variation.input {
                    VariedInput::Carrier => layer.flows.carrier.0 *= factor,
                    VariedInput::Sheath => layer.flows.sheath.0 *= factor,
                    _ => droplets.median *= factor,
                }
                MistTable::coarse(&layer, &Flows::new(&layer), &droplets)
            };
            let (minus, plus) = rayon::join(|| side(1.0 - unit), || side(1.0 + unit));
            (variation.input, unit, [minus, plus])
        })
        .collect()
}
