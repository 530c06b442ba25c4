//! How wide a line of a layer is, from where its mist lands: strokes of fills without a given spacing follow from it.

use super::atlas::Atlas;
use super::landed::{LandedClass, landed_classes};
use super::nozzle::nominal_flyer;
use super::{Progress, RunError};
use motefall_physics::deposit::Spreading;
use motefall_physics::droplet::Finder;
use motefall_physics::head::mist::Flows;
use motefall_physics::inputs::{Layer, PathItem, Shape, Spacing};
use motefall_physics::materials::solvent::mixture_viscosity;
use motefall_physics::source::atomiser::{liquid_parts, nominal_droplets, surface_tension};
use std::f64::consts::TAU;

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

/// How far the solids of a line lie from its middle: their amount in even bins from there to its edge.
fn across(classes: &[LandedClass], reach: f64, bins: usize) -> Vec<f64> {
    let mut profile = vec![0.0; bins];
    let places: [f64; PLACES] = std::array::from_fn(|j| (j as f64 + 0.5) / PLACES as f64 * 2.0 - 1.0);
    // A disc of even thickness is as long as its chord.
    let chords = places.map(|place| (1.0 - place * place).sqrt());
    let per_metre = bins as f64 / reach;
    let directions: [(f64, f64); DIRECTIONS] = std::array::from_fn(|k| (TAU * k as f64 / DIRECTIONS as f64).sin_cos());
    for (number, class) in classes.iter().enumerate() {
        // Turned a little from class to class (by the golden section), so that no places stand out.
        let turn = (number as f64 * 0.618_033_988_749_894_9).fract();
        let (turn_sin, turn_cos) = (TAU * turn / DIRECTIONS as f64).sin_cos();
        for (sin, cos) in directions {
            let middle = class.radius * (sin * turn_cos + cos * turn_sin);
            for (place, chord) in places.iter().zip(chords) {
                let across = (middle + class.footprint * place).abs();
                profile[((across * per_metre) as usize).min(bins - 1)] += class.solids * chord;
            }
        }
    }
    profile
}

fn outermost(classes: &[LandedClass]) -> f64 {
    classes.iter().map(|class| class.radius + class.footprint).fold(0.0, f64::max)
}

/// Width at half height of the solids of a line, m; 0 if nothing lands.
pub(crate) fn width_at_half_height(classes: &[LandedClass]) -> f64 {
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
pub(crate) fn width_of_90_percent(classes: &[LandedClass]) -> Option<f64> {
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

/// Where the mist of a layer lands at the set flows and stand-off. Beads are left aside.
pub(super) fn line(layer: &Layer, atlas: &Atlas<'_>) -> Result<Vec<LandedClass>, RunError> {
    let flows = Flows::new(layer);
    let droplets = nominal_droplets(layer);
    let mist = atlas.mist(layer, &flows, &droplets);
    let viscosity = mixture_viscosity(&liquid_parts(&layer.ink, |s| s.viscosity));
    let spreading = Spreading::new(&layer.landing, viscosity, surface_tension(&layer.ink));
    let finder = Finder::Direct(nominal_flyer(layer, &flows, atlas.fields())?);
    Ok(landed_classes(layer, &finder, &mist, &droplets, &spreading))
}

/// Distance between the strokes of a layer's fills whose spacing was left out, m: half the width of the layer's line. `None` if none was left
/// out, or nothing lands.
pub fn spacing_from_line(layer: &Layer, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Option<f64>, RunError> {
    let is_left_out = |item: &PathItem| matches!(&item.shape, Shape::Filled(filled) if matches!(filled.spacing, Spacing::FromLineWidth { .. }));
    if !layer.path.iter().any(is_left_out) {
        return Ok(None);
    }
    progress.begin("working out how wide a line is", None);
    let width = width_at_half_height(&line(layer, atlas)?);
    let spacing = ((SPACING_PER_WIDTH * width / SPACING_STEP).round() * SPACING_STEP).max(LEAST_SPACING);
    Ok((width > 0.0).then_some(spacing))
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
