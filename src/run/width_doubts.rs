//! How wide lines would be with other values of what is not known of a layer's flight.

use super::RunError;
use super::atlas::Atlas;
use super::line_width::{line, width_of_90_percent};
use motefall_physics::inputs::{FlightModel, Inputs, Layer};
use rayon::prelude::*;
use std::collections::HashMap;

/// Lift factors that are tried where lift is off.
const TRIED_LIFTS: [f64; 4] = [0.1, 0.25, 0.5, 1.0];
/// Half angles (degrees) and lands (nozzle diameters) that are tried where these are not known: about what is made, an estimate.
const TRIED_HALF_ANGLES: [f64; 2] = [3.0, 15.0];
const TRIED_LANDS: [f64; 2] = [0.0, 3.0];

/// What is not known of a layer's flight and decides how wide lines are. Widths, in m, are those of dry lines that hold 90 % of the
/// solids: at half height a line of a sharp middle and wide skirts looks narrow.
#[derive(Debug, Clone, PartialEq)]
pub struct WidthDoubts {
    /// As set.
    pub set: f64,
    /// Without and with lift.
    pub lift: Option<LiftEffect>,
    /// With other half angles of the taper, rad; none if it is known.
    pub half_angle: Vec<Tried>,
    /// With other lands of the nozzle, m; none if it is known.
    pub land: Vec<Tried>,
}

/// What shear lift does to a line.
#[derive(Debug, Clone, PartialEq)]
pub struct LiftEffect {
    /// Width without it, m.
    pub(crate) without: f64,
    /// Width with the factor as set; where lift is off, with several.
    pub with: Vec<Tried>,
}

/// A value of an input, and how wide a line becomes with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// The value, SI.
    pub value: f64,
    /// Width, m.
    pub width: f64,
}

/// The doubts of each layer; `None` where droplets fly straight, or nothing lands.
pub fn width_doubts(inputs: &Inputs, atlas: &Atlas<'_>) -> Result<Vec<Option<WidthDoubts>>, RunError> {
    let mut known: HashMap<String, Option<WidthDoubts>> = HashMap::new();
    let of_layer = |(number, layer): (usize, &Layer)| {
        let unknown = ["head.half_angle_deg", "head.land_um"].map(|key| inputs.is_unverified(number, key));
        let Layer { gas, flows, ink, atomiser, tube, head, flight, landing, .. } = layer;
        // Layers of the same ink and setting have the same.
        let key = format!("{:?}", (gas, flows, ink, atomiser, tube, head, flight, landing, unknown));
        if let Some(doubts) = known.get(&key) {
            return Ok(doubts.clone());
        }
        let doubts = doubts_of_layer(layer, unknown, atlas)?;
        known.insert(key, doubts.clone());
        Ok(doubts)
    };
    inputs.layers.iter().enumerate().map(of_layer).collect()
}

/// Tries other values at the set flows and stand-off. Those with which there is no steady jet or nothing lands are left out.
fn doubts_of_layer(
    layer: &Layer,
    [half_angle, land]: [bool; 2],
    atlas: &Atlas<'_>,
) -> Result<Option<WidthDoubts>, RunError> {
    if layer.flight.model == FlightModel::Straight {
        return Ok(None);
    }
    let Some(set) = width_of_90_percent(&line(layer, atlas)?) else { return Ok(None) };
    let tried = |values: &[f64], put: fn(&mut Layer, f64)| -> Vec<Tried> {
        let one = |value: &f64| {
            let mut layer = layer.clone();
            put(&mut layer, *value);
            let width = width_of_90_percent(&line(&layer, atlas).ok()?)?;
            Some(Tried { value: *value, width })
        };
        values.par_iter().filter_map(one).collect()
    };
    let angles = if half_angle { &TRIED_HALF_ANGLES.map(f64::to_radians)[..] } else { &[] };
    let lands = if land { &TRIED_LANDS.map(|times| times * layer.head.nozzle)[..] } else { &[] };
    let factor = layer.flight.lift_factor;
    let lift = |values: &[f64]| tried(values, |layer, lift| layer.flight.lift_factor = lift);
    let without = if factor > 0.0 { lift(&[0.0]).first().map(|none| none.width) } else { Some(set) };
    let with = if factor > 0.0 { vec![Tried { value: factor, width: set }] } else { lift(&TRIED_LIFTS) };
    Ok(Some(WidthDoubts {
        set,
        lift: without.filter(|_| !with.is_empty()).map(|without| LiftEffect { without, with }),
        half_angle: tried(angles, |layer, angle| layer.head.half_angle = angle),
        land: tried(lands, |layer, land| layer.head.land = land),
    }))
}
