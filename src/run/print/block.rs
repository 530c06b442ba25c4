//! The droplets of one block, stage by stage: drawn, carried, dried, flown, landed, stamped.
//!
//! A few hundred droplets at a time go through a stage, column by column, and those that are lost are left out of the next. Droplets that
//! bring no particle to the nozzle have a stream of their own, so that those that do are the same whether the others are followed or not.

use super::super::beads::Mover;
use super::super::screen::Screen;
use super::super::setting::{LEAST_DIAMETER, LayerSetting, Setting};
use super::super::streams::{Purpose, stream};
use super::{Job, Keep, LayerJob, Stage, Stopwatch, Worker, droplet_number};
use motefall_figures::profile::Lane;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::Found;
use motefall_physics::droplet::track::{ESCAPE_RADIUS, NEAR_ESCAPE};
use motefall_physics::head::mist::MistTable;
use motefall_physics::inputs::Bounce;
use motefall_physics::map::near::distance_to_nearest;
use motefall_physics::map::tally::{FateCount, REACH_BIN, REACH_BINS, Tally, fate};
use motefall_physics::map::{Particle, PrintOutcome};
use motefall_physics::path::motion::Piece;
use motefall_physics::quick;
use motefall_physics::source::atomiser::sphere_volume;
use motefall_physics::source::content::{Grain, class_of, in_discs, poisson, uniform};
use motefall_physics::units::CUBIC_NANOMETRE;
use rand::Rng;
use std::ops::Range;

/// Droplets that go from stage to stage together.
const TOGETHER: u64 = 256;
/// ln(6/pi): log of the cube on a sphere's diameter over the sphere's volume.
const LOG_CUBE_PER_SPHERE: f64 = 0.647_029_583_378_654_8;

/// Numbers of droplets, some at a time.
fn together(numbers: Range<u64>) -> impl Iterator<Item = Range<u64>> {
    let end = numbers.end;
    numbers.step_by(TOGETHER as usize).map(move |first| first..(first + TOGETHER).min(end))
}

/// Droplets under way, column by column; a stage fills its columns for the droplets that it lets through.
#[derive(Default)]
pub(crate) struct Batch {
    /// Number within the block.
    number: Vec<u64>,
    /// Size at the atomiser as a standard normal deviate.
    deviate: Vec<f64>,
    /// Diameter at the atomiser, m.
    generated: Vec<f64>,
    /// Particles of all droplets, and where those of each end.
    grains: Vec<Grain>,
    ends: Vec<usize>,
    at_nozzle: Vec<AtNozzle>,
    /// Points of the unit disc: where droplets enter the flow, then where particles lie in their footprints.
    points: Vec<[f64; 2]>,
    touching: Vec<Touching>,
    landed: Vec<Landed>,
}

/// A droplet at the nozzle.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct AtNozzle {
    /// Diameter, m, and its logarithm.
    pub(crate) diameter: f64,
    pub(crate) log_diameter: f64,
    /// Density, kg/m^3.
    pub(crate) density: f64,
    pub(crate) wet: bool,
}

/// A droplet on contact.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Touching {
    droplet: usize,
    center: [f64; 2],
    speed: f64,
}

/// A particle on the chip plane.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Landed {
    grain: Grain,
    point: [f64; 2],
    /// Number of its droplet within the block.
    droplet: u64,
    /// Where it lies, as a fate.
    place: usize,
}

impl Batch {
    fn clear(&mut self) {
        self.number.clear();
        self.deviate.clear();
        self.generated.clear();
        self.grains.clear();
        self.ends.clear();
        self.at_nozzle.clear();
        self.touching.clear();
        self.landed.clear();
    }

    fn push(&mut self, number: u64, deviate: f64) {
        self.number.push(number);
        self.deviate.push(deviate);
    }

    fn grains_of(&self, droplet: usize) -> &[Grain] {
        let first = if droplet == 0 { 0 } else { self.ends[droplet - 1] };
        &self.grains[first..self.ends[droplet]]
    }
}

/// What a worker keeps from block to block.
#[derive(Default)]
pub(crate) struct Batches {
    /// Droplets with particles.
    laden: Batch,
    /// Droplets without.
    empty: Batch,
}

/// A block about to be landed.
pub(crate) struct Block<'a> {
    all: &'a Setting<'a>,
    setting: &'a LayerSetting<'a>,
    job: &'a LayerJob,
    finder: &'a Finder,
    mist: &'a MistTable,
    /// Counted over all layers.
    number: usize,
    layer: usize,
    piece: Piece,
    bead: Option<Mover<'a>>,
    lane: Option<(usize, &'a Lane)>,
    print: u32,
    /// Droplets expected in the mist.
    mean: f64,
    log_median: f64,
    log_gsd: f64,
    half_chip: [f64; 2],
    /// Squared radius about the axis beyond which a landing is told.
    edge_squared: f64,
}

impl<'a> Block<'a> {
    pub(crate) fn new(job: &'a Job<'a>, number: usize) -> Self {
        let all = job.setting;
        let layer = all.layer_of(number);
        let (setting, of_layer) = (&all.layers[layer], &job.layers[layer]);
        let LayerJob { state, course, .. } = of_layer;
        let within = number - setting.first_block;
        let deviations = &state.deviations;
        let piece = setting.blocks[within].displaced(deviations.rotation, deviations.shift);
        let amount = deviations.carrier * course.liquid[within];
        let chip = all.inputs.chip;
        Self {
            all,
            setting,
            job: of_layer,
            finder: state.finder.as_ref().unwrap_or(&setting.finder),
            mist: state.mist.as_ref().unwrap_or(&setting.mist),
            number,
            layer,
            bead: setting.beads.mover(within, &piece, deviations.rotation, deviations.shift, amount),
            lane: all.lane_of(layer, within),
            print: job.print,
            mean: of_layer.droplets(setting, within),
            piece,
            log_median: (setting.droplets.median * deviations.droplet_median).ln(),
            log_gsd: setting.droplets.gsd.ln(),
            half_chip: [0.5 * chip.width, 0.5 * chip.height],
            edge_squared: (NEAR_ESCAPE * ESCAPE_RADIUS * 0.5 * setting.layer.head.nozzle).powi(2),
        }
    }

    fn screen(&self) -> &Screen {
        &self.job.state.screen
    }

    /// Draws the droplets and carries them to the chip.
    pub(crate) fn land(&self, worker: &mut Worker, watch: &mut Stopwatch<'_>) {
        let seed = self.all.inputs.seed;
        let mut rng = stream(seed, self.print, self.number as u64, Purpose::Droplets);
        let mut aside = stream(seed, self.print, self.number as u64, Purpose::Aside);
        let Worker { outcome, batches: Batches { laden, empty }, keep } = worker;
        let every = keep.all_droplets();
        let may_pass = poisson(self.mean * self.screen().may_pass(), &mut rng);
        let rest = poisson(self.mean * self.screen().rest(), &mut aside);
        for numbers in together(0..may_pass) {
            laden.clear();
            empty.clear();
            let tally = outcome.tallies.layer_mut(self.layer);
            self.draw(numbers, &mut rng, laden);
            tally.generated.droplets += laden.number.len() as u64;
            watch.lap(Stage::Draw);
            self.carry(&mut rng, laden, every.then_some(&mut *empty), tally);
            watch.lap(Stage::Carry);
            self.dry(laden);
            watch.lap(Stage::Dry);
            self.fly(&mut rng, laden, tally);
            watch.lap(Stage::Fly);
            self.lay(&mut rng, laden);
            self.tell(laden, tally, every);
            if every {
                self.count(laden, tally);
                self.follow_empty(&mut aside, empty, tally);
            }
            watch.lap(Stage::Count);
            self.stamp(laden, outcome, *keep);
            watch.lap(Stage::Stamp);
        }
        let tally = outcome.tallies.layer_mut(self.layer);
        tally.generated.droplets += rest;
        if every {
            for numbers in together(may_pass..may_pass + rest) {
                empty.clear();
                numbers.for_each(|number| empty.push(number, self.screen().draw_rest(self.mist, &mut aside)));
                self.carry_empty(&mut aside, empty, tally);
                self.follow_empty(&mut aside, empty, tally);
            }
        }
        watch.lap(Stage::Count);
    }

    /// Counts what is expected in the droplets of the whole layer that do not pass.
    pub(crate) fn count_kept(&self, tally: &mut Tally) {
        let mut rng = stream(self.all.inputs.seed, self.print, self.layer as u64, Purpose::Kept);
        let blocks = 0..self.setting.blocks.len();
        let droplets = blocks.map(|block| self.job.droplets(self.setting, block)).sum();
        for (powder, solids) in self.setting.powders.iter().zip(self.screen().held(droplets, &mut rng)) {
            tally.kept_by_tube[usize::from(*powder)] += (solids * (1.0 / CUBIC_NANOMETRE) + 0.5) as u128;
        }
    }

    /// Draws sizes of droplets that may pass the tube with a candidate particle, and which of them do.
    fn draw(&self, numbers: Range<u64>, rng: &mut impl Rng, laden: &mut Batch) {
        // All are written, one after the last that passed: whether one passes is no branch.
        let mut passed = 0;
        laden.number.resize((numbers.end - numbers.start) as usize, 0);
        laden.deviate.resize(laden.number.len(), 0.0);
        for number in numbers {
            let (deviate, passes) = self.screen().draw(self.mist, rng);
            (laden.number[passed], laden.deviate[passed]) = (number, deviate);
            passed += usize::from(passes);
        }
        laden.number.truncate(passed);
        laden.deviate.truncate(passed);
    }

    /// Brings droplets without particles from the tube's exit to the chip, and counts them.
    fn follow_empty(&self, rng: &mut impl Rng, empty: &mut Batch, tally: &mut Tally) {
        self.dry(empty);
        self.fly(rng, empty, tally);
        self.count(empty, tally);
    }

    /// Carries droplets that do not pass with a candidate particle: through the tube, or not.
    fn carry_empty(&self, rng: &mut impl Rng, batch: &mut Batch, tally: &mut Tally) {
        let mut passed = 0;
        for droplet in 0..batch.number.len() {
            let (number, deviate) = (batch.number[droplet], batch.deviate[droplet]);
            let (log_diameter, diameter) = self.generated(deviate);
            tally.droplet_sizes[0].add_log(log_diameter);
            let (class, node) = (class_of(deviate), self.mist.at(deviate));
            let pick = uniform(rng) * (1.0 - self.screen().chance(class, node.lost));
            if pick < node.lost {
                let cause = match () {
                    () if pick < node.settled => fate::SETTLED,
                    () if pick < node.diffused => fate::DIFFUSED,
                    () => fate::BEND,
                };
                batch.grains.clear();
                self.setting.contents.draw(self.screen().allowance(class), diameter, rng, &mut batch.grains);
                self.setting.place_powders(&mut batch.grains);
                batch.grains.iter().for_each(|grain| tally.generated.add(grain));
                lose(&mut tally.fates[cause], &batch.grains);
                continue;
            }
            tally.droplet_sizes[1].add_log(log_diameter + node.tube_ratio_log);
            (batch.number[passed], batch.deviate[passed]) = (number, deviate);
            batch.generated.push(diameter);
            batch.ends.push(0);
            passed += 1;
        }
        batch.grains.clear();
        batch.number.truncate(passed);
        batch.deviate.truncate(passed);
    }

    /// Logarithm of the diameter at the atomiser, m, and the diameter.
    #[inline]
    fn generated(&self, deviate: f64) -> (f64, f64) {
        let log_diameter = self.log_median + self.log_gsd * deviate;
        (log_diameter, quick::exp(log_diameter))
    }

    /// Draws the particles of droplets that have a candidate. Those that turn out to have none go to the others, if somebody wants these.
    fn carry(&self, rng: &mut impl Rng, batch: &mut Batch, mut rest: Option<&mut Batch>, tally: &mut Tally) {
        batch.generated.extend(batch.deviate.iter().map(|deviate| self.generated(*deviate).1));
        batch.ends.resize(batch.number.len(), 0);
        let mut laden = 0;
        for droplet in 0..batch.number.len() {
            let (number, deviate, diameter) = (batch.number[droplet], batch.deviate[droplet], batch.generated[droplet]);
            let before = batch.grains.len();
            let class = class_of(deviate);
            let candidates = self.screen().candidates(class, rng);
            self.setting.contents.keep(self.screen().allowance(class), diameter, candidates, rng, &mut batch.grains);
            let some = batch.grains.len() > before;
            if let Some(rest) = &mut rest {
                let (log_diameter, _) = self.generated(deviate);
                tally.droplet_sizes[0].add_log(log_diameter);
                tally.droplet_sizes[1].add_log(log_diameter + self.mist.at(deviate).tube_ratio_log);
                if !some {
                    rest.push(number, deviate);
                    rest.generated.push(diameter);
                    rest.ends.push(0);
                }
            }
            (batch.number[laden], batch.deviate[laden], batch.generated[laden]) = (number, deviate, diameter);
            batch.ends[laden] = batch.grains.len();
            laden += usize::from(some);
        }
        batch.number.truncate(laden);
        batch.deviate.truncate(laden);
        batch.generated.truncate(laden);
        batch.ends.truncate(laden);
        self.setting.place_powders(&mut batch.grains);
        batch.grains.iter().for_each(|grain| tally.generated.add(grain));
    }

    /// What is left of the liquid at the nozzle, but never less than the residue with its pores.
    fn dry(&self, batch: &mut Batch) {
        let packing = self.setting.layer.landing.residue_packing;
        let mut first = 0;
        for droplet in 0..batch.number.len() {
            let node = self.mist.at(batch.deviate[droplet]);
            let (mut solids, mut solid_mass) = (0.0, 0.0);
            let end = batch.ends[droplet];
            for grain in &batch.grains[first..end] {
                let part = sphere_volume(grain.diameter);
                solids += part;
                solid_mass += part * self.all.densities[usize::from(grain.powder)];
            }
            first = end;
            let liquid = (sphere_volume(batch.generated[droplet]) - solids).max(0.0) * node.liquid_left;
            batch.at_nozzle.push(at_nozzle(liquid, node.liquid_density, solids, solid_mass, packing));
        }
    }

    /// Through the jet to the chip plane. The entry point is even over the aerosol flow: a point in the unit disc, its squared radius the
    /// share.
    fn fly(&self, rng: &mut impl Rng, batch: &mut Batch, tally: &mut Tally) {
        in_discs(batch.number.len(), rng, &mut batch.points);
        for droplet in 0..batch.number.len() {
            let AtNozzle { diameter, log_diameter, density, wet } = batch.at_nozzle[droplet];
            let entry = batch.points[droplet];
            let share = entry[0] * entry[0] + entry[1] * entry[1];
            let (offset, speed) = match self.finder.find(share, diameter, log_diameter, density) {
                Found::Landed { offset, speed } => (offset, speed),
                Found::Wall => {
                    lose(&mut tally.fates[fate::WALL], batch.grains_of(droplet));
                    continue;
                }
                Found::Escaped => {
                    lose(&mut tally.fates[fate::ESCAPED], batch.grains_of(droplet));
                    continue;
                }
            };
            let time = uniform(rng) * self.piece.duration;
            if let (false, Some(Bounce { above_speed, probability })) = (wet, self.setting.layer.landing.bounce)
                && speed > above_speed
                && uniform(rng) < probability
            {
                lose(&mut tally.fates[fate::BOUNCED], batch.grains_of(droplet));
                continue;
            }
            if !batch.grains_of(droplet).is_empty() && offset * offset * share > self.edge_squared {
                tally.at_edge += 1;
            }
            let axis = self.piece.at(time);
            let wander = self.job.course.wander_at(self.piece.time + time);
            let center = [axis[0] + wander[0] + offset * entry[0], axis[1] + wander[1] + offset * entry[1]];
            batch.touching.push(Touching { droplet, center, speed });
        }
    }

    /// Counts droplets that landed, and sizes at the nozzle and of these.
    fn count(&self, batch: &Batch, tally: &mut Tally) {
        batch.at_nozzle.iter().for_each(|droplet| tally.droplet_sizes[2].add_log(droplet.log_diameter));
        for Touching { droplet, center, .. } in &batch.touching {
            tally.droplet_sizes[3].add_log(batch.at_nozzle[*droplet].log_diameter);
            tally.fates[self.fate_at(*center)].droplets += 1;
        }
    }

    /// Where on the chip plane a point lies.
    #[inline]
    fn fate_at(&self, point: [f64; 2]) -> usize {
        if point[0].abs() > self.half_chip[0] || point[1].abs() > self.half_chip[1] {
            return fate::OFF_CHIP;
        }
        self.all.regions.of(point).map_or(fate::ELSEWHERE, |region| fate::FIRST_REGION + region)
    }

    /// Lays the particles of droplets down. A particle lies inside the footprint, its edge at most touching the footprint's.
    fn lay(&self, rng: &mut impl Rng, batch: &mut Batch) {
        let spreading = &self.setting.spreading;
        let particles = batch.touching.iter().map(|touching| batch.grains_of(touching.droplet).len()).sum();
        in_discs(particles, rng, &mut batch.points);
        let mut points = batch.points.iter();
        for Touching { droplet, center, speed } in &batch.touching {
            let AtNozzle { diameter, density, wet, .. } = batch.at_nozzle[*droplet];
            let footprint = if wet { spreading.footprint(diameter, density, *speed) } else { 0.5 * diameter };
            let first = if *droplet == 0 { 0 } else { batch.ends[*droplet - 1] };
            for (grain, point) in batch.grains[first..batch.ends[*droplet]].iter().zip(&mut points) {
                let room = (footprint - 0.5 * grain.diameter).max(0.0);
                let [a, b] = spreading.place(*point);
                let point = [center[0] + room * a, center[1] + room * b];
                batch.landed.push(Landed { grain: *grain, point, droplet: batch.number[*droplet], place: 0 });
            }
        }
        if let Some(bead) = &self.bead {
            batch.landed.iter_mut().for_each(|landed| landed.point = bead.moved(landed.point));
        }
        batch.landed.iter_mut().for_each(|landed| landed.place = self.fate_at(landed.point));
    }

    /// Counts the particles that landed.
    fn tell(&self, batch: &Batch, tally: &mut Tally, sizes: bool) {
        for Landed { grain, point, place, .. } in &batch.landed {
            let distance = distance_to_printed(self.all, *place, *point);
            tally.fates[*place].add(grain);
            tally.fates[*place].note_distance(distance);
            tally.reach[((distance * (1.0 / REACH_BIN)) as usize).min(REACH_BINS - 1)] += u128::from(grain.volume);
        }
        if sizes {
            for Landed { grain, .. } in &batch.landed {
                tally.landed_sizes[usize::from(grain.powder)].add_log(quick::ln(grain.diameter));
            }
        }
    }

    /// Adds the particles that landed to maps and lists.
    fn stamp(&self, batch: &Batch, outcome: &mut PrintOutcome, keep: Keep) {
        let landed = &batch.landed;
        landed.iter().for_each(|Landed { grain, point, .. }| outcome.canvas.stamp(point[0], point[1], grain));
        if let Some((item, lane)) = self.lane {
            let line = &mut outcome.lines[item];
            landed.iter().for_each(|Landed { grain, point, .. }| lane.count(*point, grain.volume, line));
        }
        if let Some(picture) = &mut outcome.picture {
            landed.iter().for_each(|Landed { grain, point, .. }| picture.stamp(point[0], point[1], grain));
        }
        if keep.far_map() {
            landed.iter().for_each(|landed| outcome.far.add(landed.point));
        }
        if let Some(particles) = &mut outcome.particles {
            particles.extend(landed.iter().map(|Landed { grain, point, droplet, .. }| Particle {
                x: point[0],
                y: point[1],
                diameter: grain.diameter,
                powder: grain.powder,
                droplet: droplet_number(self.number, *droplet),
            }));
        }
    }
}

/// A droplet at the nozzle: liquid that is left (m^3) and its density (kg/m^3), solids (m^3) and their mass (kg), share of a dry residue
/// that is solid.
#[inline]
pub(crate) fn at_nozzle(liquid: f64, liquid_density: f64, solids: f64, solid_mass: f64, packing: f64) -> AtNozzle {
    let wet = liquid > solids * (1.0 / packing - 1.0);
    let size = if wet { liquid + solids } else { solids / packing };
    let mass = solid_mass + if wet { liquid * liquid_density } else { 0.0 };
    let least = sphere_volume(LEAST_DIAMETER);
    // The diameter by way of its logarithm, which the table wants anyway.
    let log_diameter = (quick::ln(size.max(least)) + LOG_CUBE_PER_SPHERE) * (1.0 / 3.0);
    let density = if size > least { mass / size } else { liquid_density };
    AtNozzle { diameter: quick::exp(log_diameter), log_diameter, density, wet }
}

fn lose(fate: &mut FateCount, grains: &[Grain]) {
    fate.droplets += 1;
    for grain in grains {
        fate.add(grain);
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
mod tests;
