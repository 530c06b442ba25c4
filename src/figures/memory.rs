//! Memory that a print takes besides its maps, estimated from above before anything is computed.
//!
//! The estimate is the same on every computer, so that a scenario which is accepted on one is accepted on all: it counts with
//! [`THREADS`] threads.

use crate::{KINDS, Scope};
use motefall_physics::inputs::{Inputs, Layer, PrintCount, ShutterLead};
use motefall_physics::map::tally::{REACH_BINS, SizeCounts, fate};
use motefall_physics::path::motion::{BLOCK_DROPLETS, JITTER_TIME, LONGEST_BLOCK, Piece, Stroke, StrokeTime};
use motefall_physics::path::shutter::Opening;
use motefall_physics::path::size::MotionSize;
use motefall_physics::source::atomiser::{ink_density, nominal_droplets, number_concentration, sphere_volume};
use motefall_physics::source::content::Grain;

/// Threads that the estimate counts with. More of them print only where what they collect is little (see `print::printing_threads` of the
/// run), so it is a bound.
pub const THREADS: f64 = 4.0;
/// Memory that motion, counts and figures of a print may take together, bytes.
pub const MOST_BYTES: f64 = 1.5e9;
/// Most particles of one droplet: a list of so many takes a gigabyte.
pub const MOST_IN_DROPLET: f64 = 2e7;
/// Deviate of the largest droplet of a print, by number: one in a billion is larger.
const LARGEST_DEVIATE: f64 = 6.0;
/// Room of a list that has grown, over what it holds.
const GROWTH: f64 = 2.0;
/// Largest automatic number of prints.
pub const AUTOMATIC_PRINTS: f64 = 20.0;

fn bytes_of<T>() -> f64 {
    size_of::<T>() as f64
}

/// Memory of the motion of each item of a layer, bytes, and its time, s.
pub fn motion(layer: &Layer) -> Vec<(f64, MotionSize)> {
    let droplets = nominal_droplets(layer);
    let rate = layer.atomiser.mist_load * layer.flows.carrier.0 / droplets.mean_volume();
    let longest = (BLOCK_DROPLETS / rate).min(LONGEST_BLOCK);
    // Three pieces of motion from rest to rest, and corners: once as a stroke, once as drawn.
    let per_straight = 3.0 * GROWTH * bytes_of::<Piece>() + GROWTH * (bytes_of::<Stroke>() + bytes_of::<[f64; 2]>());
    // The way to it besides, its list of corners, its times.
    let per_stroke =
        per_straight + 4.0 * bytes_of::<Vec<u8>>() + bytes_of::<StrokeTime>() + GROWTH * bytes_of::<Opening>();
    // A rest before it, if the shutter is told before the stage begins.
    let per_wait = match layer.stage.shutter_lead {
        ShutterLead::None => 0.0,
        ShutterLead::Compensated => GROWTH * bytes_of::<Piece>(),
    };
    // A stretch of motion, the line that it belongs to, and in each thread its output.
    let per_block = GROWTH * bytes_of::<Piece>() + bytes_of::<[usize; 2]>() + THREADS * bytes_of::<f64>();
    let per_wander = if layer.stage.jitter > 0.0 { THREADS * bytes_of::<[f64; 2]>() } else { 0.0 };
    let each = |size: MotionSize| {
        let blocks = size.open / longest + 3.0 * size.straights;
        let bytes = size.straights * per_straight
            + size.strokes * (per_stroke + per_wait)
            + blocks * per_block
            + size.whole / JITTER_TIME * per_wander;
        (bytes, size)
    };
    layer.path.iter().map(|item| each(MotionSize::of(item, &layer.stage))).collect()
}

/// Memory of the counts of all layers, regions and powders, bytes.
pub fn counts(inputs: &Inputs) -> f64 {
    let powders = inputs.powders().len() as f64;
    let fates = (fate::FIRST_REGION + inputs.regions.len() + 1) as f64;
    let per_fate =
        bytes_of::<motefall_physics::map::tally::FateCount>() + powders * (bytes_of::<u64>() + bytes_of::<u128>());
    let sizes = (powders + 4.0) * SizeCounts::default().0.len() as f64 * bytes_of::<u64>();
    let tally = fates * per_fate + sizes + REACH_BINS as f64 * bytes_of::<u128>();
    let tallies = if inputs.layers.len() > 1 { 1.0 + inputs.layers.len() as f64 } else { 1.0 };
    THREADS * tallies * tally
}

/// Memory of the figures of all prints, bytes: as measured, and again by figure, sorted, and in tables.
pub fn figures(inputs: &Inputs) -> f64 {
    let of = |scope: Scope| KINDS.iter().filter(|kind| kind.scope == scope).count() as f64;
    let places = inputs.regions.len() as f64 * of(Scope::Region)
        + inputs.items().count() as f64 * of(Scope::Item)
        + of(Scope::Print);
    let prints = match inputs.prints {
        PrintCount::Fixed(prints) => f64::from(prints),
        PrintCount::Automatic => AUTOMATIC_PRINTS,
    };
    places * prints * (bytes_of::<Option<f64>>() + 4.0 * bytes_of::<f64>())
}

/// Particles of each powder that the largest droplets of a layer carry.
pub fn in_largest_droplet(layer: &Layer) -> Vec<f64> {
    let largest = nominal_droplets(layer).at_deviate(LARGEST_DEVIATE);
    let density = ink_density(&layer.ink);
    let powders = layer.ink.powders.iter();
    powders
        .map(|powder| {
            number_concentration(powder, density) * powder.sizes.number_below(largest) * sphere_volume(largest)
        })
        .collect()
}

/// Memory of a list of particles of one droplet, bytes.
pub fn list_of(particles: f64) -> f64 {
    particles * GROWTH * bytes_of::<Grain>()
}
