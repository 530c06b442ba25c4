//! The prediction of a print: it is made several times, measured, and judged.

mod series;

pub use series::{Series, Told};

use crate::atlas::Atlas;
use crate::cautions::{self, Known};
use crate::expected;
use crate::print::{Keep, MOST_KEPT, Printer, Stage, Stopwatch, print_parallel, printing_threads};
use crate::progress::Stoppable;
use crate::setting::Setting;
use crate::width_doubts::width_doubts;
use crate::{Progress, RunError, spread, streams};
use motefall_figures::joined::{Joined, Lists};
use motefall_figures::measure::Measurer;
use motefall_figures::memory::AUTOMATIC_PRINTS;
use motefall_figures::over_prints::OverPrints;
use motefall_figures::{Controlled, Draws, LayerPart, Measured, Pile, Prediction, budget, maps, profile, sizes, stack};
use motefall_physics::inputs::{Inputs, PrintCount};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::far::FarMap;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, PoisonError};

/// Droplets that all prints of an automatic number may have together.
const AUTOMATIC_DROPLETS: f64 = 4e6;
/// Fewest prints of inputs that are possible, unless the user says how many (two at least): one would be a single guess at what nobody knows.
const FEWEST_POSSIBLE: u32 = 8;
/// Most particles of the first print that are kept if the user asked for the list (48 bytes each).
const MOST_LISTED: usize = 10_000_000;
/// Prints scatter: others may have so many times the particles of which a first print keeps the joins.
const MORE_IN_OTHERS: f64 = 1.25;

/// Predicts a print. Results depend on the inputs alone: not on threads, nor on whether the jet was in the store.
pub fn predict(inputs: &Inputs, store: &FieldStore, progress: &dyn Progress) -> Result<Prediction, RunError> {
    predict_in(inputs, &Atlas::new(store), progress)
}

/// The same with landing tables that are at hand.
pub fn predict_in(inputs: &Inputs, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Prediction, RunError> {
    predict_keeping(inputs, atlas, MOST_KEPT, progress)
}

/// The same on a bench of which not all is known: each print is made with other inputs of those that are `possible`, each as likely as any
/// other. Pictures, profiles and lists are those of one more print, with the inputs as they are.
pub fn predict_possible(
    inputs: &Inputs,
    possible: &[Inputs],
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Prediction, RunError> {
    predict_with(inputs, Asked { possible, ..Asked::WHOLE }, atlas, progress)
}

/// The print of a number, from 0 on, by itself: as it is among the prints of [`predict`], without what is worked out beside them, and with
/// those cautions alone that a print raises.
pub fn one_print(
    inputs: &Inputs,
    number: u32,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Prediction, RunError> {
    let inputs = Inputs { prints: PrintCount::Fixed(1), ..inputs.clone() };
    predict_with(&inputs, Asked { only: Some(number), ..Asked::WHOLE }, atlas, progress)
}

/// The same as [`predict_in`]; if more than `most_kept` particles land in the first print, it is not worked out what touches what.
pub fn predict_keeping(
    inputs: &Inputs,
    atlas: &Atlas<'_>,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<Prediction, RunError> {
    predict_with(inputs, Asked { most_kept, ..Asked::WHOLE }, atlas, progress)
}

/// What is asked of a prediction.
#[derive(Clone, Copy)]
struct Asked<'a> {
    /// Inputs of the prints, in turn; empty: those of the setting.
    possible: &'a [Inputs],
    /// Most particles of a print by which it is worked out what touches what.
    most_kept: usize,
    /// The number of the only print, if it is one by itself.
    only: Option<u32>,
}

impl Asked<'_> {
    const WHOLE: Self = Self { possible: &[], most_kept: MOST_KEPT, only: None };
}

fn predict_with(
    inputs: &Inputs,
    Asked { possible, most_kept, only }: Asked<'_>,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Prediction, RunError> {
    let setting = Setting::in_atlas(inputs, atlas, progress)?;
    // The print that is shown is not one of the prints of what is possible.
    let shown_besides = u32::from(!possible.is_empty());
    let least = match inputs.prints {
        _ if possible.is_empty() => 1,
        PrintCount::Automatic => FEWEST_POSSIBLE,
        PrintCount::Fixed(_) => 2,
    };
    let wanted = wanted_prints(&setting).max(least) + shown_besides;
    let most = if inputs.map.write_particles { most_kept.max(MOST_LISTED) } else { most_kept };
    progress.begin("printing", Some(setting.blocks() as u64));
    let first = print_parallel(&setting, only.unwrap_or(0), Keep::Particles, most, progress)?;
    progress.begin("measuring", None);
    let measurer = setting.measurer();
    progress.begin("repeating the print", Some(u64::from(wanted - 1)));
    // Beside the prints: what line widths would be otherwise, and what figures are without chance, if no droplet is left out.
    let is_whole = first.not_simulated == 0.0 && possible.is_empty() && only.is_none();
    let doubts = || if only.is_some() { Ok(vec![]) } else { width_doubts(inputs, atlas) };
    let expected = || match is_whole.then(|| expected::values(&setting, measurer.places(), progress)) {
        Some(Ok(values)) => values,
        // What prints were made before the user stopped stands without it.
        Some(Err(_)) | None => vec![None; measurer.places().len()],
    };
    let beside = || rayon::join(doubts, expected);
    let bench = Bench { setting: &setting, measurer: &measurer, possible, atlas };
    let numbers = only.unwrap_or(0)..only.unwrap_or(0) + wanted;
    let (prints, (doubts, expected)) = rayon::join(|| Prints::make(bench, first, numbers, most_kept, progress), beside);
    let (doubts, prints) = (doubts?, prints?);
    let from_unknown = expected::spread_of_means(possible, measurer.places().len(), atlas, progress)?;

    progress.begin("drawing up the figures", None);
    let made = prints.numbers.len() as u32;
    let wanted = wanted - shown_besides;
    let mut inputs = setting.spaced_inputs();
    if made < wanted {
        inputs.prints = PrintCount::Fixed(made);
    }
    let Prints { numbers, first, pile, figures: per_print, joined, fullest, far } = prints;
    let draws = draws(&inputs, &numbers);
    let OverPrints { mut figures, limits, verdict } = measurer.over_prints(&first, &per_print, &draws);
    for (k, (expected, from_unknown)) in expected.into_iter().zip(from_unknown).enumerate() {
        figures[k].controlled = expected
            .as_ref()
            .and_then(|expected| Controlled::new(expected, per_print.iter().map(|print| print[k]), &draws));
        (figures[k].expected, figures[k].from_unknown) = (expected, from_unknown);
    }
    let bridging = measurer.bridging(&joined);
    let known = Known {
        inputs: &inputs,
        setting: &setting,
        doubts: &doubts,
        first: &first,
        listed: pile.particles().len(),
        figures: &figures,
        limits: &limits,
        bridging: bridging.as_ref(),
        fullest,
        most_kept,
        made,
        wanted,
    };
    let cautions = match only {
        Some(_) => cautions::of_one_print(&setting, &first),
        None => cautions::of_prediction(known),
    };
    let top_height = (!pile.is_empty()).then(|| stack::top_height(&pile, setting.grid));
    Ok(Prediction {
        figures,
        limits,
        verdict,
        budget: budget::budget(&inputs, first.tally(), first.not_simulated),
        sizes: sizes::sizes(&inputs, first.tally(), first.tallies.layers().iter()),
        profiles: profile::profiles(&inputs, &first.canvas),
        maps: maps::maps(&inputs, first.picture.as_ref().expect("the first print keeps a picture"), top_height),
        cautions,
        far,
        bridging,
        knobs: None,
        generator: streams::GENERATOR_NAME.to_string(),
        draws,
        layers: layer_parts(&inputs, setting, &first),
        inputs,
        pile,
    })
}

/// How many prints are asked for.
fn wanted_prints(setting: &Setting) -> u32 {
    let expected = setting.expected_droplets().min(setting.inputs.droplet_budget);
    match setting.inputs.prints {
        PrintCount::Fixed(prints) => prints.max(1),
        PrintCount::Automatic => (AUTOMATIC_DROPLETS / expected.max(1.0)).clamp(1.0, AUTOMATIC_PRINTS) as u32,
    }
}

/// How the inputs deviate in prints of these numbers.
fn draws(inputs: &Inputs, numbers: &[u32]) -> Draws {
    let draw = |print: &u32| spread::draw(inputs, *print);
    let per_print = if inputs.spread.is_empty() { Vec::new() } else { numbers.iter().map(draw).collect() };
    Draws { inputs: inputs.varied(), per_print }
}

/// What is told of each layer. Droplets left out of a layer: their share is that of the print.
fn layer_parts(inputs: &Inputs, setting: Setting, first: &PrintOutcome) -> Vec<LayerPart> {
    let left_out = first.not_simulated / setting.expected_droplets().max(1.0);
    let parts = setting.layers.into_iter().zip(first.tallies.layers());
    parts
        .map(|(layer, tally)| LayerPart {
            budget: budget::budget(inputs, tally, left_out * layer.expected_droplets()),
            conditions: layer.conditions,
            landing_curve: layer.landing_curve,
        })
        .collect()
}

/// What one print gave.
struct OfPrint {
    figures: Vec<Option<Measured>>,
    joined: Option<Joined>,
    /// Particles that landed.
    landed: u64,
}

/// What prints are made of.
#[derive(Clone, Copy)]
struct Bench<'a> {
    setting: &'a Setting<'a>,
    measurer: &'a Measurer,
    /// Inputs of the prints, in turn; empty: those of the setting.
    possible: &'a [Inputs],
    atlas: &'a Atlas<'a>,
}

/// What all prints gave, in their order.
struct Prints {
    /// Numbers of the prints: not all that were asked for, if the user stopped the run.
    numbers: Vec<u32>,
    /// The first print; its particles are in the pile.
    first: PrintOutcome,
    pile: Pile,
    figures: Vec<Vec<Option<Measured>>>,
    /// What touches what in each print: known of all or of none.
    joined: Vec<Option<Joined>>,
    /// Particles that landed in the fullest print, if they were too many to tell what touches what.
    fullest: Option<u64>,
    far: FarMap,
}

impl Prints {
    /// Makes the prints after the first one and measures all of them. Single particles of every print are needed to tell what touches what:
    /// if more than `most_kept` land in the first one, or a quarter more in another, nobody knows.
    fn make(
        bench: Bench<'_>,
        mut first: PrintOutcome,
        prints: Range<u32>,
        most_kept: usize,
        progress: &dyn Progress,
    ) -> Result<Self, RunError> {
        let measurer = bench.measurer;
        let joins = first.landed_particles() <= most_kept as u64;
        let most_in_others = if joins { (most_kept as f64 * MORE_IN_OTHERS) as usize } else { 0 };
        let mut far = first.far.clone();
        if !bench.possible.is_empty() {
            far.clear();
        }
        let far = Mutex::new(far);
        let of_first = || {
            let mut watch = Stopwatch::new(progress);
            let joined = if joins { measurer.joined(&first, prints.start, &mut Lists::default()) } else { None };
            // Its pictures and lists alone show heights.
            let pile = Pile::of(first.particles.take().unwrap_or_default());
            watch.lap(Stage::Join);
            let figures = measurer.measure_joined(&first, joined.as_ref());
            watch.lap(Stage::Measure);
            (OfPrint { figures, joined, landed: first.landed_particles() }, pile)
        };
        let of_others = || others(bench, prints.start + 1..prints.end, most_in_others, &far, progress);
        let ((of_first, pile), others) = rayon::join(of_first, of_others);
        let others = others?;
        if others.is_empty() && prints.len() > 1 {
            return Err(RunError::Cancelled);
        }
        let (mut numbers, mut figures, mut joined, mut most) = (vec![], vec![], vec![], 0);
        let counts = bench.possible.is_empty();
        for (number, print) in counts.then_some((prints.start, of_first)).into_iter().chain(others) {
            numbers.push(number);
            figures.push(print.figures);
            joined.push(print.joined);
            most = most.max(print.landed);
        }
        let fullest = (!joins || most > most_in_others as u64).then_some(most);
        if fullest.is_some() {
            measurer.forget_joins(&mut figures);
            joined.fill(None);
        }
        let far = far.into_inner().unwrap_or_else(PoisonError::into_inner);
        Ok(Self { numbers, first, pile, figures, joined, fullest, far })
    }
}

/// Makes and measures prints of these numbers on all threads, and adds to the coarse map what they bring. One that the user's stop breaks off
/// gives nothing.
fn others(
    bench: Bench<'_>,
    prints: Range<u32>,
    most_kept: usize,
    far: &Mutex<FarMap>,
    progress: &dyn Progress,
) -> Result<Vec<(u32, OfPrint)>, RunError> {
    // Prints are handed out in their order.
    let next = AtomicU32::new(prints.start);
    let Bench { setting, measurer, possible, .. } = bench;
    let threads = printing_threads(setting).min(prints.len());
    let keep = if measurer.particles_matter() { Keep::FiguresAndParticles } else { Keep::FiguresAndFarMap };
    let of_thread = |_| {
        let mut lists = Lists::default();
        let mut done = Vec::new();
        let mut shared = possible.is_empty().then(|| Printer::keeping(setting, keep).at_most(most_kept));
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= prints.end {
                return Ok(done);
            }
            let made = match &mut shared {
                Some(printer) => made(printer, measurer, number, &mut lists, far, progress),
                None => {
                    let inputs = &possible[(number - 1) as usize % possible.len()];
                    let own = Setting::in_atlas(inputs, bench.atlas, &Stoppable(progress))?;
                    let mut printer = Printer::keeping(&own, keep).at_most(most_kept);
                    made(&mut printer, &own.measurer(), number, &mut lists, far, progress)
                }
            };
            let Some(made) = made else { return Ok(done) };
            progress.advance(1);
            done.push((number, made));
        }
    };
    let done: Vec<Result<Vec<_>, RunError>> = (0..threads).into_par_iter().map(of_thread).collect();
    let mut all = vec![];
    for done in done {
        match done {
            Ok(done) => all.extend(done),
            // What other threads made stands.
            Err(RunError::Cancelled) => (),
            Err(error) => return Err(error),
        }
    }
    all.sort_by_key(|(number, _)| *number);
    Ok(all)
}

/// Makes one print and measures it; `None` if the user's stop breaks it off.
fn made(
    printer: &mut Printer<'_>,
    measurer: &Measurer,
    number: u32,
    lists: &mut Lists,
    far: &Mutex<FarMap>,
    progress: &dyn Progress,
) -> Option<OfPrint> {
    let outcome = printer.make(number, progress)?;
    let mut watch = Stopwatch::new(progress);
    let joined = measurer.joined(outcome, number, lists);
    watch.lap(Stage::Join);
    let figures = measurer.measure_joined(outcome, joined.as_ref());
    watch.lap(Stage::Measure);
    // Integers: the order in which prints are added does not show.
    far.lock().unwrap_or_else(PoisonError::into_inner).join(&outcome.far);
    Some(OfPrint { figures, joined, landed: outcome.landed_particles() })
}
