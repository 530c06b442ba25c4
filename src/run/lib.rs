//! Runs prints: random streams, one print, several prints, the prediction.

pub mod atlas;
pub mod beads;
pub mod cautions;
pub mod line_width;
pub mod nominal;
pub mod print;
pub mod ranges;
pub mod screen;
pub mod setting;
pub mod spread;
pub mod streams;
pub mod sweep;
#[cfg(test)]
mod testing;

use atlas::Atlas;
use motefall_figures::joined::{Joined, Lists};
use motefall_figures::measure::Measurer;
use motefall_figures::room::AUTOMATIC_PRINTS;
use motefall_figures::{Draws, LayerPart, Measured, Prediction, budget, profile, stack, statistics};
use motefall_physics::inputs::{Inputs, PrintCount};
use motefall_physics::jet::exit::LARGEST_MACH;
use motefall_physics::jet::solver::JetError;
use motefall_physics::jet::store::FieldStore;
use print::{Keep, MOST_KEPT, Printer, Stage, StageTimes, Stopwatch, print_parallel};
use rayon::prelude::*;
use setting::Setting;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// Droplets that all prints of an automatic number may have together.
const AUTOMATIC_DROPLETS: f64 = 4e6;
/// Most particles of the first print that are kept if the user asked for the list (48 bytes each).
const MOST_LISTED: usize = 10_000_000;
/// Prints scatter: others may have so many times the particles of which a first print keeps the joins.
const MORE_IN_OTHERS: f64 = 1.25;

/// How a long computation reports and is told to stop.
pub trait Progress: Sync {
    /// A new stage begins, e.g. "solving the gas jet"; `total` units of work if known.
    fn begin(&self, what: &str, total: Option<u64>);
    /// So many units are done.
    fn advance(&self, units: u64);
    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
    /// Time since some moment, if the stages of prints are to be measured: the engine has no clock.
    fn clock(&self) -> Option<Duration> {
        None
    }
    /// What a thread spent in stages of prints.
    fn spent(&self, _: &StageTimes) {}
}

/// Says nothing, never stops.
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: &str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn cancelled(&self) -> bool {
        false
    }
}

/// Why a run gave no result.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The gas jet has no steady laminar solution here.
    #[error(transparent)]
    Jet(#[from] JetError),
    /// The gas would leave the nozzle near the speed of sound.
    #[error(
        "the nozzle chokes{}: the gas would leave it at Mach {mach:.2} on the axis ({speed:.0} m/s on average), but at most {LARGEST_MACH} \
         is computed; use a nozzle above {least_nozzle_um:.0} µm, or lower carrier and sheath together to below {most_flow_sccm:.0} sccm",
        if *.in_some_prints { " in some prints, as far as the spread of the flows reaches" } else { "" }
    )]
    Choked {
        /// Mach number on the axis.
        mach: f64,
        /// Mean speed, m/s.
        speed: f64,
        /// As set it does not choke, but in prints of larger flows.
        in_some_prints: bool,
        /// Nozzle from which it would not choke, micrometres.
        least_nozzle_um: f64,
        /// Total set flow below which it would not choke, sccm.
        most_flow_sccm: f64,
    },
    /// The user stopped it.
    #[error("stopped before two prints were done; nothing was written")]
    Cancelled,
}

/// Predicts a print. Results depend on the inputs alone: not on threads, nor on whether the jet was in the store.
pub fn predict(inputs: &Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Prediction, RunError> {
    predict_in(inputs, &Atlas::new(store), progress)
}

/// The same with landing tables that are at hand.
pub fn predict_in(inputs: &Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Prediction, RunError> {
    predict_keeping(inputs, atlas, MOST_KEPT, progress)
}

/// The same; if more than `most_kept` particles land in the first print, it is not worked out what touches what.
pub fn predict_keeping(
    inputs: &Inputs,
    atlas: &Atlas<'_>,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<Prediction, RunError> {
    let inputs = &*line_width::spaced(inputs, atlas.fields(), progress)?;
    let setting = Setting::in_atlas(inputs, atlas, progress)?;
    let expected = setting.expected_droplets().min(inputs.droplet_budget);
    let prints = match inputs.prints {
        PrintCount::Fixed(prints) => prints.max(1),
        PrintCount::Automatic => (AUTOMATIC_DROPLETS / expected.max(1.0)).clamp(1.0, AUTOMATIC_PRINTS) as u32,
    };
    let most = if inputs.map.write_particles { most_kept.max(MOST_LISTED) } else { most_kept };

    progress.begin("printing", Some(setting.blocks() as u64));
    let mut first = print_parallel(&setting, 0, Keep::Particles, most, progress)?;
    progress.begin("measuring", None);
    let measurer = Measurer::new(inputs, setting.measuring, &setting.regions, setting.print_time(), setting.ink_used());
    // What touches what takes the single particles of every print: it is known of all prints or of none.
    let joins = first.landed_particles() <= most_kept as u64;
    let most_in_others = if joins { (most_kept as f64 * MORE_IN_OTHERS) as usize } else { 0 };
    let far = Mutex::new(first.far.clone());
    progress.begin("repeating the print", Some(u64::from(prints - 1)));
    // Figures, what touches what, particles landed.
    type OfPrint = (Vec<Option<Measured>>, Option<Joined>, u64);
    let of_first = || {
        let mut watch = Stopwatch::new(progress);
        let joined = if joins { measurer.joined(&first, &mut Lists::default()) } else { None };
        // Its pictures and lists alone show heights.
        stack::stack(&mut first.particles);
        watch.lap(Stage::Join);
        let figures = measurer.measure_joined(&first, joined.as_ref());
        watch.lap(Stage::Measure);
        (figures, joined, first.landed_particles())
    };
    // Prints are handed out in their order; one that the user's stop breaks off gives nothing.
    let next = AtomicU32::new(1);
    let of_others = || -> Vec<(u32, OfPrint)> {
        let threads = print::printing_threads(&setting).min(prints as usize);
        let of_thread = |_| {
            let mut printer = Printer::keeping(&setting, Keep::FiguresAndParticles).at_most(most_in_others);
            let (mut lists, mut done) = (Lists::default(), Vec::new());
            loop {
                let print = next.fetch_add(1, Ordering::Relaxed);
                if print >= prints {
                    return done;
                }
                let Some(outcome) = printer.make(print, progress) else { return done };
                let mut watch = Stopwatch::new(progress);
                let joined = measurer.joined(outcome, &mut lists);
                watch.lap(Stage::Join);
                let figures = measurer.measure_joined(outcome, joined.as_ref());
                watch.lap(Stage::Measure);
                // Integers: the order in which prints are added does not show.
                far.lock().unwrap_or_else(PoisonError::into_inner).join(&outcome.far);
                progress.advance(1);
                done.push((print, (figures, joined, outcome.landed_particles())));
            }
        };
        (0..threads).into_par_iter().flat_map_iter(of_thread).collect()
    };
    let doubts = || line_width::width_doubts(inputs, atlas.fields());
    let ((of_first, mut others), doubts) = rayon::join(|| rayon::join(of_first, of_others), doubts);
    let doubts = doubts?;
    others.sort_by_key(|(print, _)| *print);
    if others.is_empty() && prints > 1 {
        return Err(RunError::Cancelled);
    }
    let numbers: Vec<u32> = std::iter::once(0).chain(others.iter().map(|(print, _)| *print)).collect();
    let of_all = std::iter::once(of_first).chain(others.into_iter().map(|(_, of_print)| of_print));
    let (mut per_print, mut joined, mut landed) = (Vec::new(), Vec::new(), Vec::new());
    of_all.for_each(|(figures, touching, particles)| {
        per_print.push(figures);
        joined.push(touching);
        landed.push(particles);
    });
    let fullest = landed.iter().copied().max().filter(|most| !joins || *most > most_in_others as u64);
    if fullest.is_some() {
        measurer.forget_joins(&mut per_print);
        joined.fill(None);
    }
    let made = numbers.len() as u32;
    let mut inputs = inputs.clone();
    if made < prints {
        inputs.prints = PrintCount::Fixed(made);
    }
    let inputs = &inputs;

    progress.begin("drawing up the figures", None);
    let draws = Draws {
        inputs: inputs.varied(),
        per_print: if inputs.spread.is_empty() {
            Vec::new()
        } else {
            numbers.iter().map(|print| spread::draw(inputs, *print)).collect()
        },
    };
    let (mut limits, verdict) = statistics::judge(inputs, measurer.places(), &per_print);
    let mut figures = motefall_figures::spread::summarise(measurer.places(), &per_print, &draws);
    if per_print.len() == 1 {
        measurer.single_print(&first, &mut figures);
        for outcome in &mut limits {
            let row =
                figures.iter().find(|row| row.kind.figure == outcome.kind.figure && row.place == outcome.limit.place);
            outcome.estimate = row.and_then(|row| row.estimate).or(outcome.estimate);
        }
    }
    measurer.annotate(&mut figures);
    let bridging = measurer.bridging(&joined);
    let mut cautions = cautions::cautions(&setting, &first, &doubts);
    cautions.extend(cautions::of_figures(inputs, &figures, &limits, bridging.as_ref()));
    cautions.extend(cautions::of_particles(inputs, first.particles.len(), fullest, most_kept));
    cautions.extend(cautions::stopped(made, prints));
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    // Droplets left out of a layer: their share is that of the print.
    let left_out = first.not_simulated / setting.expected_droplets().max(1.0);
    let top_height = (!first.particles.is_empty()).then(|| stack::top_height(&first.particles, setting.grid));
    Ok(Prediction {
        figures,
        limits,
        verdict,
        budget: budget::budget(inputs, &first.tally, first.not_simulated),
        sizes: budget::sizes(inputs, &first.tally, first.tallies().iter()),
        profiles: profile::profiles(inputs, &first.canvas),
        maps: budget::maps(inputs, first.picture.as_ref().expect("the first print keeps a picture"), top_height),
        cautions,
        far: far.into_inner().unwrap_or_else(PoisonError::into_inner),
        bridging,
        generator: streams::GENERATOR_NAME.to_string(),
        draws,
        layers: setting
            .layers
            .into_iter()
            .zip(first.tallies())
            .map(|(layer, tally)| LayerPart {
                budget: budget::budget(inputs, tally, left_out * layer.expected_droplets()),
                conditions: layer.conditions,
                landing_curve: layer.landing_curve,
            })
            .collect(),
        inputs: inputs.clone(),
        particles: first.particles,
    })
}
