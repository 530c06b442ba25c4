//! Particles as they come to lie below a jet that rests: a set that stands for all.
//!
//! Each sample is one particle in its droplet. It is chosen by the droplet's size (even in the standard normal deviate), by its own powder
//! and size (in even steps of number and volume together) and by the places at which the droplet enters the jet (a golden section from step to
//! step), and it weighs what its choice stands for. The droplet's other particles are drawn: given one particle, the others of a
//! Poisson number are as if it were not there (Mecke 1967, Stationaere zufaellige Masse auf lokalkompakten Abelschen Gruppen, Z. Wahrsch.
//! 9:36; from memory).

use super::square::{Square, Worth};
use crate::print::{AtNozzle, at_nozzle};
use crate::setting::{LayerSetting, PrintState};
use motefall_physics::droplet::table::Found;
use motefall_physics::inputs::{Bounce, Powder};
use motefall_physics::map::tally::COARSE;
use motefall_physics::source::atomiser::{Retention, ink_density, number_concentration, sphere_volume};
use motefall_physics::source::content::{Grain, class_of, in_disc, uniform};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::{PI, TAU};

/// Sizes of droplets, even in the deviate between these.
const DROPLET_SIZES: usize = 96;
const DEVIATES: [f64; 2] = [-5.0, 7.0];
/// Bins of a powder's sizes, even in the logarithm.
const POWDER_SIZES: usize = 384;
/// Fewest samples of a droplet size that matters at all.
const FEWEST: usize = 48;
/// Share of a layer's particles or of their volume below which a droplet size does not matter.
const NO_MATTER: f64 = 1e-11;
/// Places at which each droplet enters.
const ENTRIES: usize = 4;
/// Particles of a kind in a droplet below which there are none.
const NO_PARTICLES: f64 = 1e-15;
/// Particles of a droplet that are looked at to tell what it covers.
const MOST_LOOKED_AT: usize = 12;
/// Particles drawn for all samples of a droplet size, about at most.
const MOST_DRAWN: f64 = 1e5;
/// The golden section: steps of this size fill an interval evenly, however many there are.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// A particle that came to rest. Rates are per second of open shutter at the set output.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fall {
    /// Distance of its middle from the jet's axis, m.
    pub(super) radius: f64,
    /// Its powder's place among those of the ink.
    pub(super) powder: usize,
    /// Particles that it stands for, 1/s.
    pub(super) number: f64,
    /// Their solid volume, m^3/s.
    pub(super) volume: f64,
    /// Those of them that are coarse, 1/s.
    pub(super) coarse: f64,
    /// Droplets that it stands for, 1/s: with several particles, each stands for a part of the droplet.
    pub(super) droplets: f64,
    /// Distance of the droplet's outermost particle from the axis, m: where a droplet reaches that hardly does.
    pub(super) outermost: f64,
    /// Distance from the axis of a point that it covers, m.
    pub(super) covered_at: f64,
    /// Area that is covered so, m^2/s; where particles of one droplet cover a point together, each covers a part.
    pub(super) covered: f64,
    /// The same if each covered all by itself.
    pub(super) alone: f64,
    /// What it adds to the variances that chance brings about: it times all particles of its droplet, in the order of [`Square::ALL`].
    pub(super) squares: [f64; Square::ALL.len()],
}

/// What falls, and what left the vial for it.
#[derive(Debug, Clone, Default)]
pub(super) struct Sample {
    pub(super) falls: Vec<Fall>,
    /// Solids in droplets as generated, per powder of the ink, m^3/s.
    pub(super) generated: Vec<f64>,
    /// Squares of the mass of solids in droplets as generated, kg^2/s.
    pub(super) generated_squares: f64,
}

/// Particles of one powder and about one size, of which all sizes between two are as frequent.
#[derive(Debug, Clone, Copy)]
struct Kind {
    powder: u16,
    sizes: [f64; 2],
    /// Diameter, m, of the mean volume, and this volume, m^3.
    diameter: f64,
    volume: f64,
    /// Of them in a volume of ink, 1/m^3.
    number: f64,
}

/// Which samples are taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sampling<'a> {
    /// About how many.
    pub(super) count: usize,
    /// Number of one of several independent sets.
    pub(super) set: u64,
    /// Mean free path of each powder of the ink, m, if squares are asked for.
    pub(super) squares: Option<&'a [f64]>,
}

/// Samples what falls in a layer with the deviations of a print.
pub(super) fn sample(setting: &LayerSetting<'_>, state: &PrintState, sampling: Sampling<'_>) -> Sample {
    let Sampling { count, set, squares } = sampling;
    let layer = setting.layer;
    let kinds = kinds(&layer.ink.powders, ink_density(&layer.ink));
    let droplets = droplets(setting, state, &kinds, layer.ink.powders.len());
    let mut sample = Sample { generated: vec![0.0; layer.ink.powders.len()], ..Sample::default() };
    for droplet in &droplets {
        sample.generated.iter_mut().zip(&droplet.generated).for_each(|(sum, part)| *sum += droplet.rate * part);
        sample.generated_squares += droplet.rate * droplet.square_of_mass(&layer.ink.powders, &kinds);
    }
    // Of what matters more there are more samples, but not in proportion: rare droplets land far away, and that is asked, too.
    let most = droplets.iter().map(|droplet| droplet.matters).fold(0.0, f64::max);
    let roots: f64 = droplets.iter().map(|droplet| (droplet.matters / most).sqrt()).sum();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(0x6578_7065_6374 ^ set);
    for droplet in droplets.iter().filter(|droplet| droplet.matters > NO_MATTER * most) {
        let own = (count as f64 * (droplet.matters / most).sqrt() / roots) as usize;
        // Of droplets full of particles fewer tell as much.
        let own = own.min((MOST_DRAWN / droplet.numbers.iter().sum::<f64>()) as usize);
        Sampler { setting, state, droplet, kinds: &kinds, squares }.fill(
            own.max(FEWEST),
            &mut random,
            &mut sample.falls,
        );
    }
    sample
}

/// Sizes of all powders.
fn kinds(powders: &[Powder], ink_density: f64) -> Vec<Kind> {
    let of_powder = |(place, powder): (usize, &Powder)| {
        let (low, high) = powder.sizes.support();
        let step = (high / low).ln() / POWDER_SIZES as f64;
        let concentration = number_concentration(powder, ink_density);
        // One edge lies at the size from which particles count as coarse.
        let first = ((low / COARSE).ln() / step).floor();
        let edge = move |k: usize| COARSE * ((first + k as f64) * step).exp();
        let kind = move |k: usize| {
            let [from, to] = [edge(k), edge(k + 1)];
            let share = powder.sizes.number_below(to) - powder.sizes.number_below(from);
            let of_volume = powder.sizes.volume_below(to) - powder.sizes.volume_below(from);
            // Of the mean volume, if there are any to have one.
            let cube = powder.sizes.moment(3) * of_volume / share;
            let diameter = if share > 1e-12 { cube.cbrt().clamp(from, to) } else { (from * to).sqrt() };
            let number = concentration * share;
            Kind { powder: place as u16, sizes: [from, to], diameter, volume: sphere_volume(diameter), number }
        };
        (0..=POWDER_SIZES).map(kind).collect::<Vec<_>>()
    };
    powders.iter().enumerate().flat_map(of_powder).collect()
}

/// Droplets of one size.
struct Droplet {
    deviate: f64,
    diameter: f64,
    /// Of them generated, 1/s, and those that come through the tube.
    rate: f64,
    through: f64,
    /// Solids expected in one, per powder, m^3.
    generated: Vec<f64>,
    /// Sums over the kinds up to each, of number and volume together: from 0 to 1.
    up_to: Vec<f64>,
    /// Particles of each kind expected in one.
    numbers: Vec<f64>,
    /// How much of all particles and of all solids are in these.
    matters: f64,
}

impl Droplet {
    /// Expected square of the mass of the solids in one as generated, kg^2: numbers of each kind are Poisson.
    fn square_of_mass(&self, powders: &[Powder], kinds: &[Kind]) -> f64 {
        let mean: f64 = self.generated.iter().zip(powders).map(|(volume, powder)| volume * powder.density).sum();
        let mass = |kind: &Kind| kind.volume * powders[usize::from(kind.powder)].density;
        mean * mean + kinds.iter().zip(&self.numbers).map(|(kind, number)| number * mass(kind).powi(2)).sum::<f64>()
    }
}

fn droplets(setting: &LayerSetting<'_>, state: &PrintState, kinds: &[Kind], powders: usize) -> Vec<Droplet> {
    let deviations = &state.deviations;
    let retention = Retention::of(&setting.layer.atomiser);
    let mist = state.mist.as_ref().unwrap_or(&setting.mist);
    let rate = setting.droplet_rate * deviations.carrier / deviations.droplet_median.powi(3);
    let step = (DEVIATES[1] - DEVIATES[0]) / DROPLET_SIZES as f64;
    let mut droplets: Vec<Droplet> = (0..DROPLET_SIZES)
        .map(|k| {
            let deviate = DEVIATES[0] + (k as f64 + 0.5) * step;
            let diameter = setting.droplets.at_deviate(deviate) * deviations.droplet_median;
            let room = sphere_volume(diameter) * deviations.solids;
            let rate = rate * step * (-0.5 * deviate * deviate).exp() / TAU.sqrt();
            let number = |kind: &Kind| match kind.number * room {
                candidates if candidates > NO_PARTICLES => candidates * retention.probability(kind.diameter, diameter),
                _ => 0.0,
            };
            let numbers: Vec<f64> = kinds.iter().map(number).collect();
            let mut generated = vec![0.0; powders];
            for (kind, number) in kinds.iter().zip(&numbers) {
                generated[usize::from(kind.powder)] += number * kind.volume;
            }
            let through = rate * (1.0 - mist.at(deviate).lost);
            Droplet { deviate, diameter, rate, through, generated, up_to: Vec::new(), numbers, matters: 0.0 }
        })
        .collect();
    let in_one = |droplet: &Droplet| [droplet.numbers.iter().sum::<f64>(), droplet.generated.iter().sum::<f64>()];
    let all = droplets.iter().fold([0.0, 0.0], |all, droplet| {
        let own = in_one(droplet);
        [0, 1].map(|k| all[k] + droplet.through * own[k])
    });
    for droplet in &mut droplets {
        let own = in_one(droplet);
        if own[0] > 0.0 {
            droplet.matters = droplet.through * (own[0] / all[0]).max(own[1] / all[1]);
            let mut sum = 0.0;
            let measure = |(kind, number): (&Kind, &f64)| number * (0.5 / own[0] + 0.5 * kind.volume / own[1]);
            droplet.up_to = kinds
                .iter()
                .zip(&droplet.numbers)
                .map(|pair| {
                    sum += measure(pair);
                    sum
                })
                .collect();
        }
    }
    droplets
}

/// A droplet with its particles.
#[derive(Default)]
struct Drop {
    grains: Vec<Grain>,
    at_nozzle: AtNozzle,
    /// Where each lies in a unit footprint.
    places: Vec<[f64; 2]>,
    /// What the first covers, once it is known how far a droplet spreads.
    cover: Option<Cover>,
}

/// What a particle covers.
#[derive(Debug, Clone, Copy)]
struct Cover {
    /// A point of it, from its middle, m.
    point: [f64; 2],
    /// Its part of what its droplet covers, m^2.
    own: f64,
    /// In the order of [`Square::ALL`].
    squares: [f64; Square::ALL.len()],
}

/// How far from a droplet's middle a particle may lie, m.
fn room(footprint: f64, grain: &Grain) -> f64 {
    (footprint - 0.5 * grain.diameter).max(0.0)
}

/// Samples droplets of one size.
struct Sampler<'a> {
    setting: &'a LayerSetting<'a>,
    state: &'a PrintState,
    droplet: &'a Droplet,
    kinds: &'a [Kind],
    /// Mean free paths, if squares are asked for.
    squares: Option<&'a [f64]>,
}

impl Sampler<'_> {
    fn fill(&self, count: usize, random: &mut impl Rng, falls: &mut Vec<Fall>) {
        let Self { setting, state, droplet, kinds, .. } = self;
        let deviations = &state.deviations;
        let retention = Retention::of(&setting.layer.atomiser);
        let class = class_of(droplet.deviate + deviations.droplet_median.ln() / setting.droplets.gsd.ln());
        let allowance = setting.contents.allowance(class, droplet.diameter, deviations.solids);
        let whole = droplet.up_to.last().copied().unwrap_or(0.0);
        let shift = [uniform(random), uniform(random)];
        let (mut kind, mut drop) = (0, Drop::default());
        for k in 0..count {
            let place = whole * (k as f64 + shift[0]) / count as f64;
            while kind + 1 < kinds.len() && droplet.up_to[kind] <= place {
                kind += 1;
            }
            let before = if kind == 0 { 0.0 } else { droplet.up_to[kind - 1] };
            let (own, Kind { powder, sizes: [from, to], diameter: middle, .. }) =
                (droplet.up_to[kind] - before, kinds[kind]);
            let diameter = from + ((place - before) / own).clamp(0.0, 1.0) * (to - from);
            let rides = |size: f64| retention.probability(size, droplet.diameter);
            if rides(diameter) == 0.0 {
                continue;
            }
            let kept = rides(diameter) / rides(middle);
            let number = droplet.through * droplet.numbers[kind] * kept * whole / (own * count as f64);
            drop.grains.clear();
            drop.grains.push(Grain::new(powder, diameter));
            setting.contents.draw(&allowance, droplet.diameter, random, &mut drop.grains);
            self.lay_out(&mut drop, random);
            for entry in 0..ENTRIES {
                // Even over the radius of the core: of even over its area, few would land near the axis, where a line is looked at.
                let radius = (shift[1] + (ENTRIES * k + entry) as f64 * GOLDEN).fract();
                let number = number * 2.0 * radius / ENTRIES as f64;
                falls.extend(self.fall(radius, &mut drop, number, random));
            }
        }
    }

    /// What is the same wherever a droplet enters.
    fn lay_out(&self, drop: &mut Drop, random: &mut impl Rng) {
        let Self { setting, state, droplet, .. } = self;
        let node = state.mist.as_ref().unwrap_or(&setting.mist).at(droplet.deviate);
        let (mut solids, mut mass) = (0.0, 0.0);
        for grain in &drop.grains {
            let volume = sphere_volume(grain.diameter);
            solids += volume;
            // Counted in the ink, not in the print.
            mass += volume * setting.layer.ink.powders[usize::from(grain.powder)].density;
        }
        let liquid = (sphere_volume(droplet.diameter) - solids).max(0.0) * node.liquid_left;
        drop.at_nozzle = at_nozzle(liquid, node.liquid_density, solids, mass, setting.layer.landing.residue_packing);
        drop.places.clear();
        drop.places.extend(drop.grains.iter().map(|_| setting.spreading.place(in_disc(random))));
        drop.cover = None;
    }

    /// Where the first of a droplet's particles comes to lie, if it does; `entry` is the radius at which it enters the core, over the core's.
    fn fall(&self, entry: f64, drop: &mut Drop, number: f64, random: &mut impl Rng) -> Option<Fall> {
        let Self { setting, state, .. } = self;
        let AtNozzle { diameter, log_diameter, density, wet } = drop.at_nozzle;
        let finder = state.finder.as_ref().unwrap_or(&setting.finder);
        let Found::Landed { offset, speed } = finder.find(entry * entry, diameter, log_diameter, density) else {
            return None;
        };
        let stays = match setting.layer.landing.bounce {
            Some(Bounce { above_speed, probability }) if !wet && speed > above_speed => 1.0 - probability,
            _ => 1.0,
        };
        let footprint = if wet { setting.spreading.footprint(diameter, density, speed) } else { 0.5 * diameter };
        // The same places in the footprint, turned from entry to entry.
        drop.places.iter_mut().for_each(|[a, b]| (*a, *b) = (-*b, *a));
        let cover = *drop.cover.get_or_insert_with(|| self.cover(&drop.grains, &drop.places, footprint, random));
        let wander = self.wander(random);
        let distance = |[x, y]: [f64; 2]| {
            let [x, y] = [offset * entry + x + wander[0], y + wander[1]];
            (x * x + y * y).sqrt()
        };
        let middle = |k: usize| drop.places[k].map(|at| room(footprint, &drop.grains[k]) * at);
        let first = drop.grains[0];
        let ([x, y], radius) = (middle(0), distance(middle(0)));
        let number = number * stays;
        Some(Fall {
            radius,
            powder: usize::from(first.powder),
            number,
            volume: number * sphere_volume(first.diameter),
            coarse: if first.diameter > COARSE { number } else { 0.0 },
            droplets: number / drop.grains.len() as f64,
            outermost: (1..drop.grains.len()).map(|k| distance(middle(k))).fold(radius, f64::max),
            covered_at: distance([x + cover.point[0], y + cover.point[1]]),
            covered: number * cover.own,
            alone: number * area(&first),
            squares: cover.squares.map(|square| number * square),
        })
    }

    /// What the first of a droplet's particles covers of what all cover together, by a point of it chosen at random.
    fn cover<R: Rng>(&self, grains: &[Grain], places: &[[f64; 2]], footprint: f64, random: &mut R) -> Cover {
        let middle = |k: usize| places[k].map(|at| room(footprint, &grains[k]) * at);
        let covering = |point: [f64; 2]| {
            let covers = |k: &usize| {
                let [dx, dy] = [0, 1].map(|axis| middle(*k)[axis] - point[axis]);
                dx * dx + dy * dy <= 0.25 * grains[*k].diameter * grains[*k].diameter
            };
            (0..grains.len()).filter(covers).count().max(1) as f64
        };
        // A point of a particle, from its middle, and the particle's part of what it covers.
        let part = |k: usize, random: &mut R| {
            let ([x, y], point) = (middle(k), in_disc(random).map(|at| 0.5 * grains[k].diameter * at));
            (point, area(&grains[k]) / covering([x + point[0], y + point[1]]))
        };
        let (point, own) = part(0, random);
        let squares = self.squares.map_or([0.0; Square::ALL.len()], |mean_free_paths| {
            // What the droplet covers: particles by themselves, each of which covers a part of what they cover together. Some of many tell.
            let looked_at = grains.len().min(MOST_LOOKED_AT);
            let which = |k: usize, random: &mut R| match grains.len() > MOST_LOOKED_AT {
                true => (uniform(random) * grains.len() as f64) as usize,
                false => k,
            };
            let sum: f64 = (0..looked_at)
                .map(|k| {
                    let k = which(k, random);
                    part(k, random).1
                })
                .sum();
            let whole = sum * grains.len() as f64 / looked_at as f64;
            let worth = |grain: &Grain| Worth::of(grain, &self.setting.layer.ink.powders, mean_free_paths);
            let all = grains.iter().map(worth).fold(Worth::default(), Worth::plus);
            worth(&grains[0]).times(all, own * whole)
        });
        Cover { point, own, squares }
    }

    /// How far the stage is off, m: between two independent places, in proportion to the time from each.
    fn wander(&self, random: &mut impl Rng) -> [f64; 2] {
        let jitter = self.setting.layer.stage.jitter;
        if jitter == 0.0 {
            return [0.0; 2];
        }
        let share = uniform(random);
        let size = jitter * (share * share + (1.0 - share) * (1.0 - share)).sqrt();
        [(); 2].map(|()| size * Distribution::<f64>::sample(&StandardNormal, random))
    }
}

/// Area of a particle seen from above, m^2.
fn area(grain: &Grain) -> f64 {
    0.25 * PI * grain.diameter * grain.diameter
}
