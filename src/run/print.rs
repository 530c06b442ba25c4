//! One print: every droplet drawn, carried and landed.

use super::setting::{LEAST_DIAMETER, LayerSetting, PrintState, Setting};
use super::spread::{self, Deviations};
use super::streams::{Purpose, stream};
use super::{Progress, RunError, screen};
use motefall_physics::droplet::table::Found;
use motefall_physics::droplet::track::{ESCAPE_RADIUS, NEAR_ESCAPE};
use motefall_physics::inputs::Bounce;
use motefall_physics::map::canvas::Canvas;
use motefall_physics::map::far::FarMap;
use motefall_physics::map::near::distance_to_nearest;
use motefall_physics::map::tally::{FateCount, REACH_BIN, REACH_BINS, Tallies, fate};
use motefall_physics::map::{LineVolume, Particle, PrintOutcome};
use motefall_physics::path::motion::JITTER_TIME;
use motefall_physics::source::atomiser::sphere_volume;
use motefall_physics::source::content::{CLASSES, Grain, class_of, poisson, uniform};
use motefall_physics::units::CUBIC_NANOMETRE;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// ln(6/pi): log of the cube on a sphere's diameter over the sphere's volume.
const LOG_CUBE_PER_SPHERE: f64 = 0.647_029_583_378_654_8;

/// Whether single particles are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Keep them.
    Particles,
    /// Maps and counts only.
    Maps,
    /// What the figures need, and faster: same particles on the chip and same figures, but no fates and sizes of droplets.
    Figures,
    /// The same, and the particles, and the coarse map.
    FiguresAndParticles,
}

impl Keep {
    /// Whether particles are kept.
    fn particles(self) -> bool {
        matches!(self, Self::Particles | Self::FiguresAndParticles)
    }

    /// Whether droplets are followed of which no figure asks.
    fn all_droplets(self) -> bool {
        matches!(self, Self::Particles | Self::Maps)
    }
}

/// What a layer of a print draws before its droplets: output and stage over time, from the start of the layer.
struct Course {
    /// Relative mist output of each block.
    output: Vec<f64>,
    /// The same of the bead that a block brings liquid to.
    liquid: Vec<f64>,
    /// Offset of the stage at each multiple of [`JITTER_TIME`], m.
    wander: Vec<[f64; 2]>,
}

impl Course {
    /// The first layer has number 0.
    fn new(setting: &LayerSetting<'_>, seed: u64, print: u32, number: usize, deviations: &Deviations) -> Self {
        let drift = &setting.layer.output;
        let trend = drift.trend + deviations.trend;
        let warm_up = (drift.warm_up + deviations.warm_up).max(0.0);
        // Log-AR(1), stepped from block to block with the exact correlation of their distance in time.
        let mut rng = stream(seed, print, number as u64, Purpose::Output);
        let mut level: f64 = StandardNormal.sample(&mut rng);
        let mut before = 0.0;
        let output: Vec<f64> = setting
            .blocks
            .iter()
            .map(|block| {
                let time = block.time + 0.5 * block.duration;
                let correlation =
                    if drift.noise_time > 0.0 { (-(time - before) / drift.noise_time).exp() } else { 0.0 };
                let fresh: f64 = StandardNormal.sample(&mut rng);
                level = correlation * level + (1.0 - correlation * correlation).sqrt() * fresh;
                before = time;
                let run_in = if drift.run_in_time > 0.0 {
                    1.0 - drift.run_in_deficit * (-(warm_up + time) / drift.run_in_time).exp()
                } else {
                    1.0
                };
                let noise = (drift.noise_sd * level - 0.5 * drift.noise_sd * drift.noise_sd).exp();
                run_in * deviations.output * (1.0 + trend * time).max(0.0) * noise
            })
            .collect();
        let jitter = setting.layer.stage.jitter;
        let mut rng = stream(seed, print, number as u64, Purpose::Jitter);
        let nodes = (setting.timeline.duration / JITTER_TIME).ceil() as usize + 2;
        let mut normal = || -> f64 { jitter * Distribution::<f64>::sample(&StandardNormal, &mut rng) };
        let wander = if jitter > 0.0 { (0..nodes).map(|_| [normal(), normal()]).collect() } else { Vec::new() };
        Self { liquid: setting.beads.amounts(&setting.blocks, &output), output, wander }
    }

    /// Offset of the stage at a time, m.
    #[inline]
    fn wander_at(&self, time: f64) -> [f64; 2] {
        if self.wander.is_empty() {
            return [0.0; 2];
        }
        let place = time / JITTER_TIME;
        let node = (place as usize).min(self.wander.len() - 2);
        let f = place - node as f64;
        let (a, b) = (self.wander[node], self.wander[node + 1]);
        [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]
    }
}

/// Collects what a thread lands.
struct Worker {
    outcome: PrintOutcome,
    grains: Vec<Grain>,
    /// Droplets of a block, by size class, that were not followed.
    screened: Vec<u32>,
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
            particles: Vec::new(),
            not_simulated: Thinning::new(setting).left_out(setting),
        };
        Self { outcome, grains: Vec::new(), screened: vec![0; CLASSES], keep }
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
    let parts: Vec<Part> = (0..rayon::current_num_threads().min(setting.blocks().max(1)))
        .into_par_iter()
        .map(|_| {
            let mut worker = Worker::new(setting, keep);
            let mut kept = Vec::new();
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks || stopped.load(Ordering::Relaxed) {
                    return (worker.outcome, kept);
                }
                job.land(block, &mut worker);
                if keep.particles() {
                    let particles = std::mem::take(&mut worker.outcome.particles);
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
    if landed.into_inner() > most_kept {
        listed = Vec::new();
    }
    // With the room they need: a list that grows takes up to twice as much.
    whole.particles = Vec::with_capacity(listed.iter().map(|(_, particles)| particles.len()).sum());
    listed.into_iter().for_each(|(_, particles)| whole.particles.extend(particles));
    whole.far.begin_print();
    Ok(whole)
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
    pub fn at_most(self, most_kept: usize) -> Self {
        Self { most_kept, ..self }
    }

    /// Makes a print; the outcome stands until the next. `None` if the user wants to stop.
    pub fn make(&mut self, print: u32, progress: &dyn Progress) -> Option<&PrintOutcome> {
        let job = Job::new(self.setting, print);
        self.worker.outcome.canvas.clear();
        self.worker.outcome.picture.iter_mut().for_each(Canvas::clear);
        self.worker.outcome.tallies.clear();
        self.worker.outcome.lines.fill(LineVolume::default());
        if self.worker.keep != Keep::Figures {
            self.worker.outcome.far.clear();
            self.worker.outcome.far.begin_print();
            self.worker.outcome.particles.clear();
        }
        let mut too_many = false;
        for block in 0..self.setting.blocks() {
            if block % CANCEL_BLOCKS == 0 && progress.cancelled() {
                return None;
            }
            job.land(block, &mut self.worker);
            let particles = &mut self.worker.outcome.particles;
            if too_many || particles.len() > self.most_kept {
                too_many = true;
                *particles = Vec::new();
            }
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
}

/// A print about to be made.
struct Job<'a> {
    setting: &'a Setting<'a>,
    layers: Vec<LayerJob>,
    thinning: Thinning,
    print: u32,
}

impl<'a> Job<'a> {
    fn new(setting: &'a Setting, print: u32) -> Self {
        let (varied, drawn) = (setting.inputs.varied(), spread::draw(setting.inputs, print));
        let layer = |(number, layer): (usize, &LayerSetting<'_>)| {
            let deviations = Deviations::new(&varied, &drawn, number);
            let course = Course::new(layer, setting.inputs.seed, print, number, &deviations);
            LayerJob { state: PrintState::new(layer, deviations), course }
        };
        let layers = setting.layers.iter().enumerate().map(layer).collect();
        Self { setting, layers, thinning: Thinning::new(setting), print }
    }

    /// Lands the droplets of one block, counted over all layers.
    fn land(&self, block: usize, worker: &mut Worker) {
        let Self { setting: all, layers, thinning, print } = self;
        let number = all.layer_of(block);
        let (setting, LayerJob { state, course }) = (&all.layers[number], &layers[number]);
        let within = block - setting.first_block;
        let deviations = &state.deviations;
        let (finder, mist) =
            (state.finder.as_ref().unwrap_or(&setting.finder), state.mist.as_ref().unwrap_or(&setting.mist));
        let piece = &setting.blocks[within].displaced(deviations.rotation, deviations.shift);
        let (inputs, layer) = (all.inputs, setting.layer);
        let mut rng = stream(inputs.seed, *print, block as u64, Purpose::Droplets);
        // Droplets that bring no particle to the nozzle have a stream of their own, so that those that do are the same whether the others
        // are followed or not.
        let mut aside = stream(inputs.seed, *print, block as u64, Purpose::Aside);
        // Droplets of another size share the same mist load.
        let rate = setting.droplet_rate * deviations.carrier / deviations.droplet_median.powi(3);
        let mean = rate * piece.duration * course.output[within] * thinning.0;
        let count = poisson(mean, &mut rng);
        let log_median = (setting.droplets.median * deviations.droplet_median).ln();
        let log_gsd = setting.droplets.gsd.ln();
        let packing = layer.landing.residue_packing;
        let least_volume = sphere_volume(LEAST_DIAMETER);
        let edge_squared = (NEAR_ESCAPE * ESCAPE_RADIUS * 0.5 * layer.head.nozzle).powi(2);
        let half = [0.5 * inputs.chip.width, 0.5 * inputs.chip.height];
        let all_droplets = worker.keep.all_droplets();
        let amount = deviations.carrier * course.liquid[within];
        let bead = setting.beads.mover(within, piece, deviations.rotation, deviations.shift, amount);
        let Worker { outcome, grains, screened, keep } = worker;
        let PrintOutcome { canvas, picture, tallies, lines, far, particles, .. } = outcome;
        let lane = all.lane_of(number, within);
        let tally = tallies.layer_mut(number);
        screened.fill(0);

        for number in 0..count {
            // Generated; most droplets end here.
            let deviate: f64 = StandardNormal.sample(&mut rng);
            let pick = uniform(&mut rng);
            let size_class = class_of(deviate);
            tally.generated.droplets += 1;
            let decided = state.screen.decides(size_class, pick);
            if decided == Some(false) && !all_droplets {
                screened[size_class] += 1;
                continue;
            }
            let log_diameter = log_median + log_gsd * deviate;
            let diameter = log_diameter.exp();
            let volume = sphere_volume(diameter);
            let class = class_of(deviate + state.screen.class_shift);
            let room = volume * deviations.solids;
            let node = mist.at(deviate);
            let chance = || screen::chance(node.lost, setting.contents.candidates(class, room));
            let passes = decided.unwrap_or_else(|| pick < chance());
            debug_assert!(passes == (pick < chance()), "the bounds of class {size_class} hold its chances");
            if all_droplets {
                tally.droplet_sizes[0].add_log(log_diameter);
            }

            // Through the tube.
            if passes {
                setting.contents.draw_some(class, diameter, room, &mut rng, grains);
                setting.number(grains);
            } else if all_droplets {
                screened[size_class] += 1;
                grains.clear();
                let pick = uniform(&mut aside) * (1.0 - chance());
                if pick < node.lost {
                    let cause = if pick < node.settled {
                        fate::SETTLED
                    } else if pick < node.diffused {
                        fate::DIFFUSED
                    } else {
                        fate::BEND
                    };
                    setting.contents.draw(class, diameter, room, &mut aside, grains);
                    setting.number(grains);
                    grains.iter().for_each(|grain| tally.generated.add(grain));
                    lose(&mut tally.fates[cause], grains);
                    continue;
                }
            } else {
                screened[size_class] += 1;
                continue;
            }
            if grains.is_empty() && !all_droplets {
                continue;
            }
            if all_droplets {
                tally.droplet_sizes[1].add_log(log_diameter + node.tube_ratio_log);
            }
            let rng = if grains.is_empty() { &mut aside } else { &mut rng };
            let (mut solids, mut solid_mass) = (0.0, 0.0);
            for grain in grains.iter() {
                let part = sphere_volume(grain.diameter);
                solids += part;
                solid_mass += part * all.densities[usize::from(grain.powder)];
                tally.generated.add(grain);
            }

            // Through the head: what is left of the liquid, but never less than the residue with its pores.
            let liquid = (volume - solids).max(0.0) * node.liquid_left;
            let wet = liquid > solids * (1.0 / packing - 1.0);
            let size = if wet { liquid + solids } else { solids / packing };
            let mass = solid_mass + if wet { liquid * node.liquid_density } else { 0.0 };
            // The diameter by way of its logarithm, which the table wants anyway.
            let (log_diameter, diameter, density) = if size > least_volume {
                let log = (size.ln() + LOG_CUBE_PER_SPHERE) * (1.0 / 3.0);
                (log, log.exp(), mass / size)
            } else {
                (LEAST_DIAMETER.ln(), LEAST_DIAMETER, node.liquid_density)
            };
            if all_droplets {
                tally.droplet_sizes[2].add_log(log_diameter);
            }

            // Through the jet. The entry point is even over the aerosol flow: a point in the unit disc, its squared radius the share.
            let entry = in_disc(rng);
            let share = entry[0] * entry[0] + entry[1] * entry[1];
            let (offset, speed) = match finder.find(share, diameter, log_diameter, density) {
                Found::Landed { offset, speed } => (offset, speed),
                Found::Wall => {
                    lose(&mut tally.fates[fate::WALL], grains);
                    continue;
                }
                Found::Escaped => {
                    lose(&mut tally.fates[fate::ESCAPED], grains);
                    continue;
                }
            };
            let time = uniform(rng) * piece.duration;
            if let (false, Some(Bounce { above_speed, probability })) = (wet, layer.landing.bounce)
                && speed > above_speed
                && uniform(rng) < probability
            {
                lose(&mut tally.fates[fate::BOUNCED], grains);
                continue;
            }
            if all_droplets {
                tally.droplet_sizes[3].add_log(log_diameter);
            }

            // On the chip.
            if !grains.is_empty() && offset * offset * share > edge_squared {
                tally.at_edge += 1;
            }
            let axis = piece.at(time);
            let wander = course.wander_at(piece.time + time);
            let center = [axis[0] + wander[0] + offset * entry[0], axis[1] + wander[1] + offset * entry[1]];
            let place_fate = |point: [f64; 2]| {
                if point[0].abs() > half[0] || point[1].abs() > half[1] {
                    return fate::OFF_CHIP;
                }
                all.regions.of(point).map_or(fate::ELSEWHERE, |region| fate::FIRST_REGION + region)
            };
            if all_droplets {
                tally.fates[place_fate(center)].droplets += 1;
                if grains.is_empty() {
                    continue;
                }
            }
            let footprint = if wet { setting.spreading.footprint(diameter, density, speed) } else { 0.5 * diameter };
            for grain in grains.iter() {
                // A particle lies inside the footprint, its edge at most touching the footprint's.
                let room = (footprint - 0.5 * grain.diameter).max(0.0);
                let [a, b] = setting.spreading.place(in_disc(rng));
                let mut point = [center[0] + room * a, center[1] + room * b];
                if let Some(bead) = bead {
                    point = bead.moved(point);
                }
                let place = place_fate(point);
                tally.fates[place].add(grain);
                if all_droplets {
                    tally.landed_sizes[usize::from(grain.powder)].add_log(f64::from((grain.diameter as f32).ln()));
                }
                let distance = distance_to_printed(all, place, point);
                tally.fates[place].note_distance(distance);
                tally.reach[((distance / REACH_BIN) as usize).min(REACH_BINS - 1)] += u128::from(grain.volume);
                canvas.stamp(point[0], point[1], grain);
                if let Some((item, lane)) = lane {
                    lane.count(point, grain.volume, &mut lines[item]);
                }
                if let Some(picture) = picture {
                    picture.stamp(point[0], point[1], grain);
                }
                if *keep != Keep::Figures {
                    far.add(point);
                }
                if keep.particles() {
                    particles.push(Particle {
                        x: point[0],
                        y: point[1],
                        diameter: grain.diameter,
                        powder: grain.powder,
                        droplet: droplet_number(block, number),
                    });
                }
            }
        }
        for (powder, solids) in setting.powders.iter().zip(state.screen.held(screened)) {
            tally.kept_by_tube[usize::from(*powder)] += (solids * (1.0 / CUBIC_NANOMETRE) + 0.5) as u128;
        }
    }
}

fn lose(fate: &mut FateCount, grains: &[Grain]) {
    fate.droplets += 1;
    for grain in grains {
        fate.add(grain);
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

/// A point even in the unit disc.
#[inline]
fn in_disc(rng: &mut impl Rng) -> [f64; 2] {
    loop {
        let (a, b) = (2.0 * uniform(rng) - 1.0, 2.0 * uniform(rng) - 1.0);
        let s = a * a + b * b;
        if s < 1.0 && s > 0.0 {
            return [a, b];
        }
    }
}

/// Distance from the nearest printed electrode's edge, m; 0 on it, infinite if there is none.
#[inline]
fn distance_to_printed(setting: &Setting, place: usize, point: [f64; 2]) -> f64 {
    let regions = &setting.inputs.regions;
    if place >= fate::FIRST_REGION && regions[place - fate::FIRST_REGION].role.is_printed() {
        return 0.0;
    }
    distance_to_nearest(&setting.printed, point)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn droplets_of_large_blocks_have_numbers_of_their_own() {
        // A block of 4096 droplets holds hundreds of times more when output and droplet size deviate far.
        let numbers =
            [(0, 0), (0, 1 << 24), (1, 0), (1, 5), (2, 0)].map(|(block, within)| droplet_number(block, within));
        assert!(numbers.windows(2).all(|pair| pair[0] < pair[1]), "{numbers:?}");
    }
}
