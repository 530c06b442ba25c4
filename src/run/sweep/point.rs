//! One point of a sweep: its prints, and what they gave.

use crate::atlas::Atlas;
use crate::print::{Keep, MOST_KEPT, Printer};
use crate::setting::Setting;
use crate::{Progress, RunError, cautions};
use motefall_figures::joined::Lists;
use motefall_figures::measure::Measurer;
use motefall_figures::statistics::{self, FigureAt};
use motefall_figures::sweep::{FigureStats, PointStats};
use motefall_figures::{BenchUse, CautionKind, Measured, MeasuringGrid};
use motefall_physics::inputs::{Inputs, PointPrints};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::grid::LEAST_MARGIN;
use motefall_physics::map::regions::RegionIndex;
use rayon::prelude::*;
use std::sync::{Mutex, PoisonError};

/// What all points share, so that it is worked out once. What is in it changes no result.
pub struct Shared<'a> {
    /// Landing tables.
    pub atlas: Atlas<'a>,
    /// Whose turn it is to prepare a point.
    turn: Mutex<()>,
}

impl<'a> Shared<'a> {
    /// Nothing worked out yet; jets are kept in the store.
    pub fn new(store: &'a FieldStore) -> Self {
        Self { atlas: Atlas::new(store), turn: Mutex::new(()) }
    }
}

/// How many prints to make, and when they are enough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Prints.
    pub prints: PointPrints,
    /// Pass probability that counts as good enough.
    pub wanted_share: f64,
}

/// Figures and places of every point: they follow from what the scenario names, not from its numbers.
pub fn places(inputs: &Inputs) -> Vec<FigureAt> {
    let measuring = MeasuringGrid::new(inputs, LEAST_MARGIN);
    Measurer::new(inputs, measuring, &RegionIndex::new(&inputs.regions, measuring.grid), BenchUse::default())
        .places()
        .to_vec()
}

/// Works out a point: its prints on all threads of the pool. The seed is that of the inputs. The outcome depends on the inputs and the
/// effort alone.
///
/// # Panics
///
/// On a thread of rayon's pool: points prepare one after another, on all threads, because neighbours need the same landing tables and would
/// all fly them; a thread of the pool that waited for its turn could hold up the point that has it.
pub fn run_point(
    inputs: &Inputs,
    effort: Effort,
    shared: &Shared,
    progress: &dyn Progress,
) -> Result<PointStats, RunError> {
    run_point_keeping(inputs, effort, shared, MOST_KEPT, progress)
}

/// The same; if more than `most_kept` particles land in a print, what touches what is unknown of the point.
pub fn run_point_keeping(
    inputs: &Inputs,
    effort: Effort,
    shared: &Shared,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<PointStats, RunError> {
    assert!(
        rayon::current_thread_index().is_none(),
        "a point is worked out by all threads of the pool, not on one of them"
    );
    let setting = {
        let _turn = shared.turn.lock().unwrap_or_else(PoisonError::into_inner);
        in_pool(|| Setting::in_atlas(inputs, &shared.atlas, progress))?
    };
    in_pool(|| all_prints(&setting, effort, most_kept, progress))
}

/// All computing is done by the pool's threads, so that there is no more of it at a time than there are threads.
fn in_pool<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    rayon::join(work, || ()).0
}

/// The prints of a point and what they gave.
///
/// With an adaptive number, prints come in rounds of fixed size and each round is judged as a whole, so that threads do not matter. Looking
/// at the interval after each round makes it cover a little less than 95 %.
fn all_prints(
    setting: &Setting,
    effort: Effort,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<PointStats, RunError> {
    let inputs = setting.inputs;
    let bench = setting.bench_use();
    let measurer = Measurer::new(inputs, setting.measuring, &setting.regions, bench);
    let (round, most) = match effort.prints {
        PointPrints::Fixed(prints) => (prints.max(1), prints.max(1)),
        PointPrints::Adaptive { round, most, .. } => (round.max(1), most.max(1)),
    };
    let mut per_print: Vec<Figures> = Vec::with_capacity(round as usize);
    let mut cautions = Vec::new();
    let mut too_many = false;
    loop {
        let made = per_print.len() as u32;
        let count = round.min(most - made);
        let (figures, ids, fullest) = prints(setting, &measurer, most_kept, made, count, progress)?;
        per_print.extend(figures);
        cautions.extend(ids);
        too_many |= measurer.needs_particles() && fullest > most_kept as u64;
        if too_many {
            measurer.forget_joins(&mut per_print);
        }
        let (limits, verdict) = statistics::judge(inputs, measurer.places(), &per_print);
        if per_print.len() as u32 >= most || enough(effort, verdict.share_interval) {
            if too_many {
                cautions.push(CautionKind::TooManyParticles);
            }
            let mut stats = PointStats {
                prints: verdict.n,
                met: verdict.met,
                met_each: limits.iter().map(|outcome| outcome.met).collect(),
                figures: figures_over_prints(measurer.places(), &per_print),
                margin_sd: None,
                cautions,
                print_time: bench.print_time,
                ink_used: bench.ink_used,
                droplets: setting.expected_droplets(),
            };
            stats.margin_sd = stats.tightest(&inputs.acceptance.limits, measurer.places()).map(|t| t.sd);
            return Ok(stats);
        }
    }
}

/// Figures of a print, in the order of the places.
type Figures = Vec<Option<Measured>>;

/// Figures of some prints, cautions of print 0, and the particles that landed in the fullest of them.
type Round = (Vec<Figures>, Vec<CautionKind>, u64);

/// Figures of prints `first` to `first + count`, the cautions if print 0 is among them, and the particles that landed in the fullest print.
///
/// Each thread makes a few runs of prints one after another on one canvas; which thread made a print does not show in it.
fn prints(
    setting: &Setting,
    measurer: &Measurer,
    most_kept: usize,
    first: u32,
    count: u32,
    progress: &dyn Progress,
) -> Result<Round, RunError> {
    let runs = (2 * rayon::current_num_threads() as u32).min(count).max(1);
    let start = |run: u32| first + (u64::from(count) * u64::from(run) / u64::from(runs)) as u32;
    let parts: Vec<Option<Round>> = (0..runs)
        .into_par_iter()
        .map(|run| {
            // Single particles cost time and are kept only if a limit asks for what touches what.
            let matter = measurer.needs_particles() && measurer.particles_matter();
            let keep = if matter { Keep::FiguresAndParticles } else { Keep::Figures };
            let mut printer = Printer::keeping(setting, keep).at_most(most_kept);
            let (mut lists, mut figures, mut ids, mut fullest) = (Lists::default(), Vec::new(), Vec::new(), 0);
            for print in start(run)..start(run + 1) {
                let outcome = printer.make(print, progress)?;
                figures.push(measurer.measure_joined(outcome, measurer.joined(outcome, print, &mut lists).as_ref()));
                fullest = fullest.max(outcome.landed_particles());
                if print == 0 {
                    ids = cautions::cautions(setting, outcome, &[]).iter().map(|caution| caution.kind).collect();
                    ids.dedup();
                }
            }
            Some((figures, ids, fullest))
        })
        .collect();
    let (mut all, mut ids, mut fullest) = (Vec::with_capacity(count as usize), Vec::new(), 0);
    for part in parts {
        let (figures, more, most) = part.ok_or(RunError::Cancelled)?;
        all.extend(figures);
        ids.extend(more);
        fullest = fullest.max(most);
    }
    Ok((all, ids, fullest))
}

/// Whether the pass probability is known well enough, or clearly on one side of the wanted share.
fn enough(effort: Effort, [low, high]: [f64; 2]) -> bool {
    match effort.prints {
        PointPrints::Fixed(_) => true,
        PointPrints::Adaptive { half_width, .. } => {
            0.5 * (high - low) <= half_width || low > effort.wanted_share || high < effort.wanted_share
        }
    }
}

fn figures_over_prints(places: &[FigureAt], per_print: &[Figures]) -> Vec<Option<FigureStats>> {
    let rows = statistics::estimates_only(places, per_print);
    rows.into_iter()
        .map(|row| {
            let e = row.estimate?;
            Some(FigureStats {
                mean: e.mean,
                // Of a lower bound no upper end is known.
                interval: e.interval.unwrap_or([e.mean, if e.at_least > 0 { f64::INFINITY } else { e.mean }]),
                sd: e.sd.unwrap_or(0.0),
                n: e.n,
                extremes: e.extremes,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_adaptive_point_stops_when_it_knows() {
        let effort = |prints| Effort { prints, wanted_share: 0.9 };
        let adaptive = effort(PointPrints::Adaptive { round: 10, most: 100, half_width: 0.05 });
        assert!(enough(effort(PointPrints::Fixed(3)), [0.0, 1.0]));
        assert!(!enough(adaptive, [0.7, 0.95]));
        assert!(enough(adaptive, [0.86, 0.94]), "narrow");
        assert!(enough(adaptive, [0.5, 0.89]), "below");
        assert!(enough(adaptive, [0.901, 1.0]) && enough(adaptive, [0.91, 1.0]), "above");
    }
}
