//! Where a layer's mist lands at the set flows and stand-off, and so how wide a line becomes: strokes of fills without a given spacing
//! follow from it.

use super::nominal::nominal_flyer;
use super::{Progress, RunError};
use motefall_physics::deposit::Spreading;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::Found;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{FlightModel, Inputs, Layer, Shape};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::materials::solvent::mixture_viscosity;
use motefall_physics::source::atomiser::{DropletSizes, ink_density};
use motefall_physics::source::atomiser::{liquid_parts, nominal_droplets, surface_tension};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};
use std::borrow::Cow;
use std::collections::HashMap;
use std::f64::consts::TAU;

/// Droplet sizes and shares of the flow that stand for all droplets.
const SIZES: usize = 24;
const FLOW_SHARES: usize = 24;
/// Directions round the axis, and places across a footprint, that stand for all.
const DIRECTIONS: usize = 128;
const PLACES: usize = 9;
/// Bins from the middle of a line to its edge, and bins to each side over which the profile is smoothed.
const BINS: usize = 400;
const SMOOTH: usize = 2;
/// Bins where a few droplets far out must not make them coarse.
const FINE_BINS: usize = 4000;
/// Strokes of a fill lie so many widths at half height apart: lines so close overlap evenly.
const SPACING_PER_WIDTH: f64 = 0.5;
/// Step to which a spacing is rounded, and the least one, m.
const SPACING_STEP: f64 = 0.1e-6;
const LEAST_SPACING: f64 = 0.5e-6;

/// Droplets of one size that enter at one share of the flow and land. Volumes are per volume of ink atomised.
#[derive(Debug, Clone, Copy)]
pub struct LandedClass {
    /// Distance from the axis, m.
    pub radius: f64,
    /// Radius of the footprint, m.
    pub footprint: f64,
    /// Volume of liquid; 0 if they land dry.
    pub liquid: f64,
    /// Volume of solids.
    pub solids: f64,
}

/// Shares between which droplets that land far out are told apart, by size and by flow: the fewer, the farther.
const TAIL_EDGES: [f64; 14] = [0.0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];
/// Share of the landed solids that may lie beyond the reach: half of what widths that hold 99 % of the mass may miss.
const BEYOND_REACH: f64 = 0.000_5;

/// Mist is taken to reach so many times as far: droplets that carry less than their share of the solids dry to less and land farther out
/// than these classes do. An estimate; what is still missed is counted in each print.
const MORE_REACH: f64 = 1.5;

/// A part of all droplets: the middle of its range of shares, and how large the range is.
type Part = (f64, f64);

/// The classes that stand for all droplets that land.
pub fn landed_classes(
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> Vec<LandedClass> {
    let even = |count: usize| -> Vec<Part> {
        (0..count).map(|k| ((k as f64 + 0.5) / count as f64, 1.0 / count as f64)).collect()
    };
    classes_of(&even(SIZES), &even(FLOW_SHARES), layer, finder, mist, droplets, spreading)
}

/// Distance from the axis within which all but a trace of the solids lands, by a wide margin, m; 0 if nothing does.
pub fn landed_reach(
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> f64 {
    // The smallest droplets, and those from the edge of the aerosol, land farthest.
    let small: Vec<Part> = TAIL_EDGES.windows(2).map(|e| (0.5 * (e[0] + e[1]), e[1] - e[0])).collect();
    let outer: Vec<Part> = small.iter().map(|(middle, share)| (1.0 - middle, *share)).collect();
    let mut classes = classes_of(&small, &outer, layer, finder, mist, droplets, spreading);
    let far = |class: &LandedClass| class.radius + class.footprint;
    classes.sort_by(|a, b| far(b).total_cmp(&far(a)));
    let most = BEYOND_REACH * classes.iter().map(|class| class.solids).sum::<f64>();
    let mut beyond = 0.0;
    let found = classes.iter().find(|class| {
        beyond += class.solids;
        beyond > most
    });
    MORE_REACH * found.map_or(0.0, far)
}

/// Classes by parts of the droplets' volume, smallest droplets first, and parts of the aerosol's flow, its axis first.
fn classes_of(
    sizes: &[Part],
    flows: &[Part],
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> Vec<LandedClass> {
    let ink = &layer.ink;
    let ink_density = ink_density(ink);
    let solids: f64 = ink.powders.iter().map(|powder| powder.mass_fraction * ink_density / powder.density).sum();
    let solid_mass: f64 = ink.powders.iter().map(|powder| powder.mass_fraction * ink_density).sum();
    let packing = layer.landing.residue_packing;
    let normal = Normal::standard();
    let mut classes = Vec::with_capacity(sizes.len() * flows.len());
    for (middle, part) in sizes {
        // Sizes by their share of the volume: their deviates lie three logarithms of the spread higher than those of the number.
        let deviate = normal.inverse_cdf(*middle) + 3.0 * droplets.gsd.ln();
        let node = mist.at(deviate);
        let liquid = (1.0 - solids) * node.liquid_left;
        let wet = liquid > solids * (1.0 / packing - 1.0);
        let (liquid, size, density) = if wet {
            (liquid, liquid + solids, node.liquid_density)
        } else {
            (0.0, solids / packing, packing * solid_mass / solids)
        };
        let diameter = droplets.at_deviate(deviate) * size.cbrt();
        for (share, of_flow) in flows {
            let through = (1.0 - node.lost) * part * of_flow;
            if let Found::Landed { offset, speed } = finder.find(*share, diameter, diameter.ln(), density) {
                let footprint = if wet { spreading.footprint(diameter, density, speed) } else { 0.5 * diameter };
                let radius = (offset * share.sqrt()).abs();
                classes.push(LandedClass { radius, footprint, liquid: through * liquid, solids: through * solids });
            }
        }
    }
    classes
}

/// How far the solids of a line lie from its middle: their amount in even bins from there to its edge.
fn across(classes: &[LandedClass], reach: f64, bins: usize) -> Vec<f64> {
    let mut profile = vec![0.0; bins];
    for (number, class) in classes.iter().enumerate() {
        // Turned a little from class to class (by the golden section), so that no places stand out.
        let turn = (number as f64 * 0.618_033_988_749_894_9).fract();
        for k in 0..DIRECTIONS {
            let middle = class.radius * (TAU * (k as f64 + turn) / DIRECTIONS as f64).sin();
            for j in 0..PLACES {
                let place = (j as f64 + 0.5) / PLACES as f64 * 2.0 - 1.0;
                let across = (middle + class.footprint * place).abs();
                // A disc of even thickness is as long as its chord.
                profile[((across / reach * bins as f64) as usize).min(bins - 1)] +=
                    class.solids * (1.0 - place * place).sqrt();
            }
        }
    }
    profile
}

fn outermost(classes: &[LandedClass]) -> f64 {
    classes.iter().map(|class| class.radius + class.footprint).fold(0.0, f64::max)
}

/// Width at half height of the solids of a line, m; 0 if nothing lands.
pub fn width_at_half_height(classes: &[LandedClass]) -> f64 {
    let reach = outermost(classes);
    if reach <= 0.0 {
        return 0.0;
    }
    let profile = across(classes, reach, BINS);
    // The other half of the line is the same.
    let smooth = |bin: usize| -> f64 {
        let mirrored = |k: isize| if k < 0 { (-k - 1) as usize } else { k as usize };
        let from = bin as isize - SMOOTH as isize;
        (from..=from + 2 * SMOOTH as isize).map(mirrored).filter(|k| *k < BINS).map(|k| profile[k]).sum()
    };
    let top = (0..BINS).map(smooth).fold(0.0, f64::max);
    let last = (0..BINS).rev().find(|bin| smooth(*bin) >= 0.5 * top).map_or(0, |bin| bin + 1);
    2.0 * reach * last as f64 / BINS as f64
}

/// Width of the band about a line's middle that holds 90 % of its solids, m; `None` if nothing lands.
pub fn width_of_90_percent(classes: &[LandedClass]) -> Option<f64> {
    let reach = outermost(classes);
    if reach <= 0.0 {
        return None;
    }
    let profile = across(classes, reach, FINE_BINS);
    let wanted = 0.9 * profile.iter().sum::<f64>();
    let mut within = 0.0;
    let edge = profile.iter().position(|solids| {
        within += solids;
        within >= wanted
    })?;
    let beyond = (within - wanted) / profile[edge];
    Some(2.0 * reach * (edge as f64 + 1.0 - beyond) / FINE_BINS as f64)
}

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
    pub without: f64,
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
pub fn width_doubts(inputs: &Inputs, fields: &FieldStore) -> Result<Vec<Option<WidthDoubts>>, RunError> {
    let mut known: HashMap<String, Option<WidthDoubts>> = HashMap::new();
    let of_layer = |(number, layer): (usize, &Layer)| {
        let unknown = ["head.half_angle_deg", "head.land_um"].map(|key| inputs.is_unverified(number, key));
        let Layer { gas, flows, ink, atomiser, tube, head, flight, landing, .. } = layer;
        // Layers of the same ink and setting have the same.
        let key = format!("{:?}", (gas, flows, ink, atomiser, tube, head, flight, landing, unknown));
        if let Some(doubts) = known.get(&key) {
            return Ok(doubts.clone());
        }
        let doubts = doubts_of_layer(layer, unknown, fields)?;
        known.insert(key, doubts.clone());
        Ok(doubts)
    };
    inputs.layers.iter().enumerate().map(of_layer).collect()
}

/// Tries other values at the set flows and stand-off. Those with which there is no steady jet or nothing lands are left out.
fn doubts_of_layer(
    layer: &Layer,
    [half_angle, land]: [bool; 2],
    fields: &FieldStore,
) -> Result<Option<WidthDoubts>, RunError> {
    if layer.flight.model == FlightModel::Straight {
        return Ok(None);
    }
    let Some(set) = width_of_90_percent(&line(layer, fields)?) else { return Ok(None) };
    let tried = |values: &[f64], put: fn(&mut Layer, f64)| -> Vec<Tried> {
        let one = |value: &f64| {
            let mut layer = layer.clone();
            put(&mut layer, *value);
            let width = width_of_90_percent(&line(&layer, fields).ok()?)?;
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

/// Where the mist of a layer lands at the set flows and stand-off. Beads are left aside.
fn line(layer: &Layer, fields: &FieldStore) -> Result<Vec<LandedClass>, RunError> {
    let flows = Flows::new(layer);
    let droplets = nominal_droplets(layer);
    let mist = MistTable::new(layer, &flows, &droplets);
    let viscosity = mixture_viscosity(&liquid_parts(&layer.ink, |s| s.viscosity));
    let spreading = Spreading::new(&layer.landing, viscosity, surface_tension(&layer.ink));
    let finder = Finder::Direct(nominal_flyer(layer, &flows, fields)?);
    Ok(landed_classes(layer, &finder, &mist, &droplets, &spreading))
}

/// The inputs with the strokes of all fills whose spacing was left out spaced by half the width of the layer's line. Where nothing lands
/// the estimate stays.
pub fn spaced<'a>(
    inputs: &'a Inputs,
    fields: &FieldStore,
    progress: &dyn Progress,
) -> Result<Cow<'a, Inputs>, RunError> {
    let left_out = |shape: &Shape| matches!(shape, Shape::Filled(filled) if filled.spacing_left_out);
    let mut inputs = Cow::Borrowed(inputs);
    for number in 0..inputs.layers.len() {
        let layer = &inputs.layers[number];
        if !layer.path.iter().any(|item| left_out(&item.shape)) {
            continue;
        }
        progress.begin("working out how wide a line is", None);
        let width = width_at_half_height(&line(layer, fields)?);
        let spacing = ((SPACING_PER_WIDTH * width / SPACING_STEP).round() * SPACING_STEP).max(LEAST_SPACING);
        for item in &mut inputs.to_mut().layers[number].path {
            if let Shape::Filled(filled) = &mut item.shape
                && filled.spacing_left_out
            {
                filled.spacing_left_out = false;
                if width > 0.0 {
                    filled.spacing = spacing;
                }
            }
        }
    }
    Ok(inputs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_of_a_ring_and_of_a_disc() {
        let ring = |radius: f64, solids: f64| LandedClass { radius, footprint: 0.02e-6, liquid: 0.0, solids };
        // An even disc of radius R: its chord is half as long at R sqrt(3)/2, so the width is sqrt(3) R.
        let disc: Vec<LandedClass> =
            (0..4000).map(|k| ring(10e-6 * ((f64::from(k) + 0.5) / 4000.0).sqrt(), 1.0)).collect();
        let width = width_at_half_height(&disc);
        assert!((width / 17.32e-6 - 1.0).abs() < 0.02, "{width}");
        // A ring is thickest at its edge: the width is its diameter, a little less for the smoothing.
        let width = width_at_half_height(&[ring(10e-6, 1.0)]);
        assert!((width / 20e-6 - 1.0).abs() < 0.04, "{width}");
        assert_eq!(width_at_half_height(&[]), 0.0);
        assert_eq!(width_of_90_percent(&[]), None);
        // Within u R of the middle lies 2/pi (asin u + u sqrt(1 - u^2)) of a disc, 0.9 at u = 0.8054, and 2/pi asin u of a ring, 0.9 at
        // u = 0.9877. A trace of 1 % that lands a hundred times as far makes the bins coarse, and takes u to 0.8176 (0.9091 of the disc).
        let of = |classes: &[LandedClass]| width_of_90_percent(classes).expect("it lands");
        assert!((of(&disc) / 16.108e-6 - 1.0).abs() < 0.005, "{}", of(&disc));
        assert!((of(&[ring(10e-6, 1.0)]) / 19.754e-6 - 1.0).abs() < 0.005);
        let total: f64 = disc.iter().map(|class| class.solids).sum();
        let stray = ring(1000e-6, 0.01 / 0.99 * total);
        let with_strays: Vec<LandedClass> = disc.into_iter().chain([stray]).collect();
        assert!((of(&with_strays) / 16.352e-6 - 1.0).abs() < 0.01, "{}", of(&with_strays));
    }
}
