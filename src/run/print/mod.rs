//! One print: every droplet drawn, carried and landed.

mod block;
mod course;
mod stages;
mod stopwatch;

pub(crate) use self::block::{AtNozzle, at_nozzle};
use self::block::{Batches, Block};
use self::course::Course;
pub(crate) use self::course::mean_output;
pub use self::stages::{Stage, StageTimes};
pub use self::stopwatch::Stopwatch;
use super::setting::{LayerSetting, PrintState, Setting};
use super::spread::{self, Deviations};
use super::{Progress, RunError};
use motefall_figures::memory::{self, THREADS};
use motefall_physics::map::canvas::Canvas;
use motefall_physics::map::far::FarMap;
use motefall_physics::map::tally::Tallies;
use motefall_physics::map::{LineVolume, Particle, PrintOutcome};
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Whether single particles are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Keep them.
    Particles,
    /// Maps and counts only.
    Maps,
    /// What the figures need, and faster: same particles on the chip and same figures, but no fates and sizes of droplets.
    Figures,
    /// The same, and the coarse map.
    FiguresAndFarMap,
    /// The same, and the coarse map and the particles.
    FiguresAndParticles,
}

impl Keep {
    /// Whether particles are kept.
    fn particles(self) -> bool {
        matches!(self, Self::Particles | Self::FiguresAndParticles)
    }

    /// Whether the coarse map is kept.
    fn far_map(self) -> bool {
        self != Self::Figures
    }

    /// Whether droplets are followed of which no figure asks.
    fn all_droplets(self) -> bool {
        matches!(self, Self::Particles | Self::Maps)
    }
}

/// Collects what a thread lands.
struct Worker {
    outcome: PrintOutcome,
    batches: Batches,
    keep: Keep,
}

impl Worker {
    fn new(setting: &Setting, keep: Keep) -> Self {
        let (powders, regions) = (setting.densities.len(), setting.inputs.regions.len());
        let outcome = PrintOutcome {
            canvas: Canvas::new(setting.measuring.grid, powders),
            picture: keep.all_droplets().then(|| Canvas::new(setting.grid, powders)),
            tallies: Tallies::new(setting.layers.len(), powders, regions),
            lines: vec![LineVolume::default(); setting.lanes.len()],
            far: FarMap::new(setting.inputs.chip),
            particles: keep.particles().then(Vec::new),
            not_simulated: Thinning::new(setting).left_out(setting),
        };
        Self { outcome, batches: Batches::default(), keep }
    }
}

/// Makes one print on all threads of the pool. If more than `most_kept` particles land, none is kept; the coarse map counts them all the same.
///
/// Blocks of the path are handed to whichever thread is free; each has its own random stream and everything collected is an integer,
/// so the outcome does not depend on the number of threads.
pub fn print_parallel(
    setting: &Setting,
    print: u32,
    keep: Keep,
    most_kept: usize,
    progress: &dyn Progress,
) -> Result<PrintOutcome, RunError> {
    let job = Job::new(setting, print);
    let blocks = setting.blocks();
    let next = AtomicUsize::new(0);
    // Particles landed so far: their final number, on which it depends whether they are kept, is the same for any number of threads.
    let landed = AtomicUsize::new(0);
    let stopped = AtomicBool::new(false);
    // Each thread's outcome, and the particles of its blocks.
    type Part = (PrintOutcome, Vec<(usize, Vec<Particle>)>);
    let parts: Vec<Part> = (0..printing_threads(setting).min(setting.blocks().max(1)))
        .into_par_iter()
        .map(|_| {
            let mut watch = Stopwatch::new(progress);
            let mut worker = Worker::new(setting, keep);
            let mut kept = Vec::new();
            watch.lap(Stage::Prepare);
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks || stopped.load(Ordering::Relaxed) {
                    return (worker.outcome, kept);
                }
                job.land(block, &mut worker, &mut watch);
                if let Some(particles) = worker.outcome.particles.replace(Vec::new()).filter(|_| keep.particles()) {
                    let so_far = landed.fetch_add(particles.len(), Ordering::Relaxed) + particles.len();
                    if so_far <= most_kept {
                        kept.push((block, particles));
                    } else {
                        kept = Vec::new();
                    }
                }
                progress.advance(1);
                if block.is_multiple_of(CANCEL_BLOCKS) && progress.cancelled() {
                    stopped.store(true, Ordering::Relaxed);
                }
            }
        })
        .collect();
    if stopped.load(Ordering::Relaxed) || progress.cancelled() {
        return Err(RunError::Cancelled);
    }
    let mut parts = parts.into_iter();
    let (mut whole, mut listed) = parts.next().expect("there is a thread");
    for (outcome, kept) in parts {
        whole.canvas.join(&outcome.canvas);
        whole.picture.iter_mut().zip(&outcome.picture).for_each(|(a, b)| a.join(b));
        whole.tallies.join(&outcome.tallies);
        whole.far.join(&outcome.far);
        whole.lines.iter_mut().zip(&outcome.lines).for_each(|(a, b)| a.join(*b));
        listed.extend(kept);
    }
    // Layers follow each other, and so do their blocks: later ones come to rest on earlier ones.
    listed.sort_by_key(|(block, _)| *block);
    whole.particles = (keep.particles() && landed.into_inner() <= most_kept).then(|| {
        // With the room they need: a list that grows takes up to twice as much.
        let mut all = Vec::with_capacity(listed.iter().map(|(_, particles)| particles.len()).sum());
        listed.into_iter().for_each(|(_, particles)| all.extend(particles));
        all
    });
    whole.far.begin_print();
    Ok(whole)
}

/// Memory that what threads collect may take together where more threads than [`THREADS`] print, bytes.
const MOST_COLLECTED: f64 = 3e9;

/// Threads that print at once: as many as there are, up to those that the check of memory counts with; more of them only as long as what they
/// collect, each on its own, fits into [`MOST_COLLECTED`]. So what a scenario was checked for is a bound on any computer.
pub(crate) fn printing_threads(setting: &Setting) -> usize {
    let powders = setting.densities.len();
    let canvases = Canvas::bytes(setting.measuring.grid, powders) + Canvas::bytes(setting.grid, powders);
    let each = canvases + memory::counts(setting.inputs) / THREADS;
    rayon::current_num_threads().min((MOST_COLLECTED / each).max(THREADS) as usize).max(1)
}

/// Most particles of a print that are kept one by one unless another number is asked for (48 bytes each).
pub const MOST_KEPT: usize = 4_000_000;

/// Makes prints on the calling thread, one after another, for many prints at once. Keeps what the figures need.
pub struct Printer<'a> {
    setting: &'a Setting<'a>,
    worker: Worker,
    most_kept: usize,
}

impl<'a> Printer<'a> {
    /// A printer whose canvas serves print after print.
    pub fn new(setting: &'a Setting) -> Self {
        Self::keeping(setting, Keep::Figures)
    }

    /// The same, keeping more.
    pub fn keeping(setting: &'a Setting, keep: Keep) -> Self {
        Self { setting, worker: Worker::new(setting, keep), most_kept: MOST_KEPT }
    }

    /// The same, but of a print of which more than so many particles land none is kept.
    #[must_use]
    pub(crate) fn at_most(self, most_kept: usize) -> Self {
        Self { most_kept, ..self }
    }

    /// Makes a print; the outcome stands until the next. `None` if the user wants to stop.
    pub fn make(&mut self, print: u32, progress: &dyn Progress) -> Option<&PrintOutcome> {
        let mut watch = Stopwatch::new(progress);
        let job = Job::new(self.setting, print);
        self.worker.outcome.canvas.clear();
        self.worker.outcome.picture.iter_mut().for_each(Canvas::clear);
        self.worker.outcome.tallies.clear();
        self.worker.outcome.lines.fill(LineVolume::default());
        if self.worker.keep.far_map() {
            self.worker.outcome.far.clear();
            self.worker.outcome.far.begin_print();
        }
        if self.worker.keep.particles() {
            self.worker.outcome.particles.get_or_insert_default().clear();
        }
        watch.lap(Stage::Prepare);
        for block in 0..self.setting.blocks() {
            if block % CANCEL_BLOCKS == 0 && progress.cancelled() {
                return None;
            }
            job.land(block, &mut self.worker, &mut watch);
            self.worker.outcome.particles.take_if(|particles| particles.len() > self.most_kept);
        }
        Some(&self.worker.outcome)
    }
}

/// Blocks between two looks at whether the user wants to stop.
const CANCEL_BLOCKS: usize = 64;

/// Share of the droplets that is simulated.
#[derive(Debug, Clone, Copy)]
struct Thinning(f64);

impl Thinning {
    fn new(setting: &Setting) -> Self {
        Self((setting.inputs.droplet_budget / setting.expected_droplets()).min(1.0))
    }

    /// Droplets expected but not simulated.
    fn left_out(self, setting: &Setting) -> f64 {
        setting.expected_droplets() * (1.0 - self.0)
    }
}

/// What one layer of a print drew.
struct LayerJob {
    state: PrintState,
    course: Course,
    /// Droplets simulated per time at the set output, 1/s.
    droplet_rate: f64,
}

impl LayerJob {
    /// Droplets expected in the mist of a block of the layer.
    fn droplets(&self, setting: &LayerSetting<'_>, block: usize) -> f64 {
        self.droplet_rate * setting.blocks[block].duration * self.course.output[block]
    }
}

/// A print about to be made.
struct Job<'a> {
    setting: &'a Setting<'a>,
    layers: Vec<LayerJob>,
    print: u32,
}

impl<'a> Job<'a> {
    fn new(setting: &'a Setting, print: u32) -> Self {
        let (varied, drawn) = (setting.inputs.varied(), spread::draw(setting.inputs, print));
        let Thinning(simulated) = Thinning::new(setting);
        let layer = |(number, layer): (usize, &LayerSetting<'_>)| {
            let deviations = Deviations::new(&varied, &drawn, number);
            let course = Course::new(layer, setting.inputs.seed, print, number, &deviations);
            // Droplets of another size share the same mist load.
            let droplet_rate = simulated * layer.droplet_rate * deviations.carrier / deviations.droplet_median.powi(3);
            LayerJob { state: PrintState::new(layer, deviations), course, droplet_rate }
        };
        let layers = setting.layers.iter().enumerate().map(layer).collect();
        Self { setting, layers, print }
    }

    /// Lands the droplets of one block, counted over all layers.
    fn land(&self, block: usize, worker: &mut Worker, watch: &mut Stopwatch<'_>) {
        let landing = Block::new(self, block);
        landing.land(worker, watch);
        let layer = self.setting.layer_of(block);
        if block == self.setting.layers[layer].first_block {
            landing.count_kept(worker.outcome.tallies.layer_mut(layer));
        }
    }
}

/// Number of a droplet of the print: no two have the same, and they grow in the order in which droplets fly.
#[inline]
fn droplet_number(block: usize, within: u64) -> u64 {
    let halves = (u32::try_from(block), u32::try_from(within));
    let (Ok(block), Ok(within)) = halves else {
        unreachable!("2^32 blocks have no room in memory, and 2^32 droplets of one block take hours");
    };
    u64::from(block) << 32 | u64::from(within)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Silent;
    use motefall_physics::jet::store::FieldStore;

    #[test]
    fn many_threads_do_not_take_more_memory_than_was_checked() {
        let on = |threads: usize, setting: &Setting| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            pool.install(|| printing_threads(setting))
        };
        let inputs = crate::testing::inputs();
        let mut setting = Setting::new(&inputs, &FieldStore::none(), &Silent).expect("it runs");
        assert_eq!([1, 3, 20].map(|threads| on(threads, &setting)), [1, 3, 20]);
        // 5000 x 5000 pixels of 16 bytes are 0.4 GB: 3 GB hold seven.
        (setting.measuring.grid.columns, setting.measuring.grid.rows) = (5000, 5000);
        let few = on(20, &setting);
        assert!((6..=7).contains(&few) && on(5, &setting) == 5, "{few}");
        // 6 GB each: those that were counted with.
        setting.measuring.grid.columns = 75_000;
        assert_eq!([2, 4, 20].map(|threads| on(threads, &setting)), [2, 4, 4]);
    }

    #[test]
    fn droplets_of_large_blocks_have_numbers_of_their_own() {
        // A block of 4096 droplets holds hundreds of times more when output and droplet size deviate far.
        let numbers =
            [(0, 0), (0, 1 << 24), (1, 0), (1, 5), (2, 0)].map(|(block, within)| droplet_number(block, within));
        assert!(numbers.windows(2).all(|pair| pair[0] < pair[1]), "{numbers:?}");
    }
}
