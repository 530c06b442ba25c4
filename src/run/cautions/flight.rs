//! Mist, jet and landing of a layer: where the model is weak at this setting.

use super::{lines, widths};
use crate::setting::LayerSetting;
use crate::width_doubts::WidthDoubts;
use motefall_figures::{Caution, CautionKind, Conditions};
use motefall_physics::deposit::SPLASH_LIMIT;
use motefall_physics::head::drying::STEP_TOLERANCE;
use motefall_physics::inputs::{Bounce, FlightModel, Layer};

/// Mach number above which compressibility is not negligible.
const MACH_CAUTION: f64 = 0.3;
/// Reynolds number above which a jet is likely to be unsteady. Source: as for [`laminar_length`].
const UNSTEADY: f64 = 1500.0;
/// Share of the liquid that is left at the nozzle below which nothing splashes. An estimate.
const LEAST_WET: f64 = 0.05;

/// What makes prints differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Differ {
    /// Chance and the noise of the output.
    Chance,
    /// Inputs that change no flight.
    Inputs,
    /// Inputs that change flights, taken from tables around the set ones.
    Flights,
}

/// Cautions of a layer's mist, jet, landing and items. `spread`: whether any input differs between prints.
pub(super) fn cautions(setting: &LayerSetting<'_>, spread: bool, doubts: Option<&WidthDoubts>) -> Vec<Caution> {
    let layer = setting.layer;
    let differ = match (spread, setting.landings.is_some()) {
        (false, _) => Differ::Chance,
        (true, false) => Differ::Inputs,
        (true, true) => Differ::Flights,
    };
    let before = [
        drying(setting.mist.drying_tolerance),
        differences(differ),
        mach(&setting.conditions),
        straight(layer),
        length(layer, &setting.conditions),
        unsteady(layer, &setting.conditions),
        lift(layer, doubts),
        no_sheath(setting.flows.head_sheath),
        layer.landing.bounce.as_ref().map(bounce),
        splash(setting),
    ];
    let items = lines::cautions(setting).into_iter();
    before.into_iter().flatten().chain(items).chain(entrance(setting)).chain(powders(setting)).collect()
}

fn drying(tolerance: f64) -> Option<Caution> {
    (tolerance > STEP_TOLERANCE).then(|| {
        CautionKind::DryingTolerance.with(format!(
            "Drying was too stiff to follow closely; sizes at the nozzle carry a step tolerance of {tolerance:.1e}."
        ))
    })
}

pub(super) fn differences(differ: Differ) -> Option<Caution> {
    match differ {
        Differ::Chance => Some(CautionKind::ChanceOnly.with(
            "Prints differ here by chance and by the noise of the mist output alone. Real prints also differ in alignment, flows, \
             stand-off and ink: add a section [spread] to count that in.",
        )),
        Differ::Inputs => None,
        Differ::Flights => Some(CautionKind::MixedTables.with(
            "Landing points of prints with other flows or stand-off are interpolated between solved jets: to 0.3 µm or 1.5 % of the \
             landing radius, save for one or two droplets in 1000 that nearly miss the chip.",
        )),
    }
}

fn mach(conditions: &Conditions) -> Option<Caution> {
    (conditions.mach > MACH_CAUTION).then(|| {
        CautionKind::Mach.with(format!(
            "The gas leaves the nozzle at Mach {:.2} on the axis. The jet is solved as incompressible, which holds below about 0.3.",
            conditions.mach
        ))
    })
}

fn straight(layer: &Layer) -> Option<Caution> {
    (layer.flight.model == FlightModel::Straight).then(|| {
        CautionKind::StraightFlight
            .with("Droplets fly straight down from the exit: a check of the arithmetic, not a prediction.")
    })
}

fn length(layer: &Layer, conditions: &Conditions) -> Option<Caution> {
    let length = laminar_length(conditions.reynolds);
    (layer.flight.model == FlightModel::SolvedJet && conditions.stand_off_ratio > length).then(|| {
        CautionKind::JetLength.with(format!(
            "The stand-off is {:.1} nozzle diameters. At Reynolds number {:.0} the jet stays laminar for about {length:.0}; \
             beyond that real prints are wider and less sharp than shown.",
            conditions.stand_off_ratio, conditions.reynolds
        ))
    })
}

/// Nozzle diameters over which a free jet stays laminar: 40 below Re 600, 20 near Re 1500, in between by straight line.
///
/// Source: Feng 2019, Aerosol Sci. Technol. 53:45 (two points read; the line between them and beyond is our estimate).
fn laminar_length(reynolds: f64) -> f64 {
    let slope = (20.0 - 40.0) / (1500.0 - 600.0);
    (40.0 + slope * (reynolds - 600.0).max(0.0)).clamp(5.0, 40.0)
}

fn unsteady(layer: &Layer, conditions: &Conditions) -> Option<Caution> {
    (layer.flight.model == FlightModel::SolvedJet && conditions.reynolds > UNSTEADY).then(|| {
        CautionKind::Reynolds.with(format!(
            "Reynolds number {:.0} is above 1500: a real jet of this kind is likely to be unsteady, which the model does not \
             know.",
            conditions.reynolds
        ))
    })
}

fn lift(layer: &Layer, doubts: Option<&WidthDoubts>) -> Option<Caution> {
    let kind = if layer.flight.lift_factor > 0.0 { CautionKind::LiftOn } else { CautionKind::LiftOff };
    (layer.flight.model == FlightModel::SolvedJet).then(|| kind.with(widths::lift_words(layer, doubts)))
}

/// `sheath` at the head, m^3/s.
fn no_sheath(sheath: f64) -> Option<Caution> {
    (sheath == 0.0).then(|| {
        CautionKind::NoSheath
            .with("There is no sheath gas: nothing focuses the mist and nothing keeps it off the nozzle's wall.")
    })
}

fn bounce(bounce: &Bounce) -> Caution {
    CautionKind::Bounce.with(format!(
        "Dry grains hitting above {} m/s bounce off with probability {}: an assumption of the scenario.",
        bounce.above_speed, bounce.probability
    ))
}

fn splash(setting: &LayerSetting<'_>) -> Option<Caution> {
    let conditions = &setting.conditions;
    let splash = setting
        .landing_curve
        .iter()
        .filter(|p| p.landed > 0.0 && p.diameter <= setting.droplets.at_deviate(2.0))
        .map(|p| setting.spreading.splash(p.diameter, conditions.ink_density, p.impact_speed))
        .fold(0.0, f64::max);
    (splash > SPLASH_LIMIT && conditions.liquid_left > LEAST_WET).then(|| {
        CautionKind::Splash.with(format!(
            "Large wet droplets hit with a splash parameter of {splash:.0}; above {SPLASH_LIMIT} they may splash and scatter \
             satellites, which the model does not know."
        ))
    })
}

fn entrance(setting: &LayerSetting<'_>) -> Option<Caution> {
    let head = &setting.layer.head;
    // Entrance length of laminar pipe flow, about 0.06 Re D (Shah & London 1978): half of it taken as the point to speak up.
    let head_reynolds = setting.conditions.reynolds * head.nozzle / head.inlet_bore;
    let short = head.mixing_length < 0.03 * head_reynolds * head.inlet_bore;
    (short && head.plug_blend.is_none() && setting.flows.core_share() < 1.0).then(|| {
        CautionKind::EntranceLength.with(
            "The head is short for its flow: how aerosol and sheath come together still shows at the nozzle, and here they are taken to join \
             at one even speed. Lines tell: fit head.plug_blend to one.",
        )
    })
}

fn powders(setting: &LayerSetting<'_>) -> Vec<Caution> {
    let shares = setting.layer.ink.powders.iter().zip(&setting.conditions.printable_share);
    let coarse = shares.filter(|(_, share)| **share < 0.5).map(|(powder, share)| {
        CautionKind::CoarsePowder.with(format!(
            "Only {:.0} % of the mass of {} is fine enough to ride in the droplets; the rest stays in the vial, and the ink's \
             composition drifts as it is used up. The cut follows from the retention curve, which is an assumption.",
            100.0 * share,
            powder.name
        ))
    });
    coarse.collect()
}
