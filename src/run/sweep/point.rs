//! One point of a sweep: its prints, and what they gave.

use super::case::Case;
use crate::atlas::Atlas;
use crate::print::{Keep, MOST_KEPT, Printer};
use crate::setting::Setting;
use crate::{Progress, RunError, cautions};
use motefall_figures::joined::Lists;
use motefall_figures::measure::Measurer;
use motefall_figures::statistics::{self, FigureAt};
use motefall_figures::sweep::{FigureStats, PointStats};
use motefall_figures::{BenchUse, CautionKind, Measured, MeasuringGrid, judge};
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
        Self::in_atlas(Atlas::new(store))
    }

    /// The same for points whose prints differ in what is unknown of the bench.
    pub fn for_possible(store: &'a FieldStore) -> Self {
        Self::in_atlas(Atlas::for_like_droplets(store))
    }

    fn in_atlas(atlas: Atlas<'a>) -> Self {
        Self { atlas, turn: Mutex::new(()) }
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

/// Works out a point: its prints on all threads of the pool. The seed is that of the inputs. The outcome depends on the case and the
/// effort alone.
///
/// # Panics
///
/// On a thread of rayon's pool: points prepare one after another, on all threads, because neighbours need the same landing tables and would
/// all fly them; a thread of the pool that waited for its turn could hold up the point that has it.
pub fn run_point(
    case: &Case,
    effort: Effort,
    shared: &Shared,
    progress: &dyn Progress,
) -> Result<PointStats, RunError> {
    run_point_keeping(case, effort, shared, MOST_KEPT, progress)
}

/// The same; if more than `most_kept` particles land in a print, what touches what is unknown of the point.
pub fn run_point_keeping(
    case: &Case,
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
        in_pool(|| Setting::in_atlas(&case.inputs, &shared.atlas, progress))?
    };
    in_pool(|| all_prints(Bench { case, setting: &setting, atlas: &shared.atlas }, effort, most_kept, progress))
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
    bench: Bench<'_>,
    effort: Effort,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<PointStats, RunError> {
    let Bench { setting, case, .. } = bench;
    let inputs = setting.inputs;
    let measurer = setting.measurer();
    let (round, most) = match effort.prints {
        PointPrints::Fixed(prints) => (prints.max(1), prints.max(1)),
        PointPrints::Adaptive { round, most, .. } => (round.max(1), most.max(1)),
    };
    let mut per_print: Vec<Figures> = Vec::with_capacity(round as usize);
    let of_calibration = case.used.iter().flat_map(|used| cautions::calibration(used, &[]));
    let mut cautions: Vec<CautionKind> = of_calibration.map(|caution| caution.kind).collect();
    let mut too_many = false;
    loop {
        let made = per_print.len() as u32;
        let count = round.min(most - made);
        let round = prints(bench, &measurer, most_kept, case.first_print() + made, count, progress)?;
        per_print.extend(round.figures);
        if made == 0 {
            cautions.extend(round.cautions);
        }
        too_many |= measurer.needs_particles() && round.fullest > most_kept as u64;
        if too_many {
            measurer.forget_joins(&mut per_print);
        }
        let (limits, verdict) = judge(inputs, measurer.places(), &per_print);
        if per_print.len() as u32 >= most || enough(effort, verdict.share_interval) {
            if too_many {
                cautions.push(CautionKind::TooManyParticles);
            }
            let used = setting.bench_use();
            let mut stats = PointStats {
                prints: verdict.n,
                met: verdict.met,
                met_each: limits.iter().map(|outcome| outcome.met).collect(),
                figures: figures_over_prints(measurer.places(), &per_print),
                margin_sd: None,
                cautions,
                print_time: used.print_time,
                ink_used: used.ink_used,
                droplets: setting.expected_droplets(),
            };
            stats.margin_sd = stats.tightest(&inputs.acceptance.limits, measurer.places()).map(|t| t.sd);
            return Ok(stats);
        }
    }
}

/// Figures of a print, in the order of the places.
pub(crate) type Figures = Vec<Option<Measured>>;

/// What some prints gave.
#[derive(Default)]
struct Round {
    figures: Vec<Figures>,
    /// Cautions of the first of them.
    cautions: Vec<CautionKind>,
    /// Particles that landed in the fullest of them.
    fullest: u64,
}

impl Round {
    fn join(&mut self, other: Round) {
        self.figures.extend(other.figures);
        self.fullest = self.fullest.max(other.fullest);
    }

    /// Makes a print and measures it.
    fn add(
        &mut self,
        setting: &Setting,
        printer: &mut Printer<'_>,
        measurer: &Measurer,
        print: u32,
        lists: &mut Lists,
        progress: &dyn Progress,
    ) -> Result<(), RunError> {
        let outcome = printer.make(print, progress).ok_or(RunError::Cancelled)?;
        if self.figures.is_empty() {
            self.cautions = cautions::cautions(setting, outcome, &[]).iter().map(|caution| caution.kind).collect();
            self.cautions.dedup();
        }
        let joined = measurer.joined(outcome, print, lists);
        self.figures.push(measurer.measure_joined(outcome, joined.as_ref()));
        self.fullest = self.fullest.max(outcome.landed_particles());
        Ok(())
    }
}

/// What prints of a point are made of.
#[derive(Clone, Copy)]
struct Bench<'a> {
    case: &'a Case,
    setting: &'a Setting<'a>,
    atlas: &'a Atlas<'a>,
}

/// Prints `first` to `first + count`.
///
/// Each thread makes a few runs of prints one after another on one canvas; which thread made a print does not show in it.
fn prints(
    bench: Bench<'_>,
    measurer: &Measurer,
    most_kept: usize,
    first: u32,
    count: u32,
    progress: &dyn Progress,
) -> Result<Round, RunError> {
    let Bench { case, setting, atlas } = bench;
    let runs = (2 * rayon::current_num_threads() as u32).min(count).max(1);
    let start = |run: u32| first + (u64::from(count) * u64::from(run) / u64::from(runs)) as u32;
    let parts: Vec<Result<Round, RunError>> = (0..runs)
        .into_par_iter()
        .map(|run| {
            // Single particles cost time and are kept only if a limit asks for what touches what.
            let matter = measurer.needs_particles() && measurer.particles_matter();
            let keep = if matter { Keep::FiguresAndParticles } else { Keep::Figures };
            let mut shared = case.possible.is_empty().then(|| Printer::keeping(setting, keep).at_most(most_kept));
            let (mut all, mut lists) = (Round::default(), Lists::default());
            for print in start(run)..start(run + 1) {
                if let Some(printer) = &mut shared {
                    all.add(setting, printer, measurer, print, &mut lists, progress)?;
                    continue;
                }
                let own = Setting::in_atlas(case.of_print(print), atlas, progress)?;
                let mut printer = Printer::keeping(&own, keep).at_most(most_kept);
                all.add(&own, &mut printer, &own.measurer(), print, &mut lists, progress)?;
            }
            Ok(all)
        })
        .collect();
    let mut parts = parts.into_iter();
    let mut all = parts.next().unwrap_or_else(|| Ok(Round::default()))?;
    for part in parts {
        all.join(part?);
    }
    Ok(all)
}

/// Prints `from` to `from + count` of a case, on all threads: figures and places, and each print's figures.
pub(crate) fn single_prints(
    case: &Case,
    atlas: &Atlas<'_>,
    most_kept: usize,
    [from, count]: [u32; 2],
    progress: &dyn Progress,
) -> Result<(Vec<FigureAt>, Vec<Figures>), RunError> {
    let setting = Setting::in_atlas(&case.inputs, atlas, progress)?;
    let measurer = setting.measurer();
    let bench = Bench { case, setting: &setting, atlas };
    let mut round = prints(bench, &measurer, most_kept, case.first_print() + from, count, progress)?;
    if measurer.needs_particles() && round.fullest > most_kept as u64 {
        measurer.forget_joins(&mut round.figures);
    }
    Ok((measurer.places().to_vec(), round.figures))
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
