//! Draws the droplets that may bring a particle to the nozzle, and no others.
//!
//! Most droplets are lost in the tube or are so small that no particle could ride in them. A droplet passes the tube and has a candidate
//! particle with the chance p(z) = (1 - lost(z)) (1 - exp(-candidates)), z its size as a standard normal deviate, candidates those of the
//! largest droplet of its class. Droplets come as a Poisson process; so those that pass are one, too, its density phi(z) p(z), and the rest
//! are another one that knows nothing of it. Those that pass are drawn from a density that is even in each class of z and nowhere below
//! theirs, and thinned; in each class a least chance is known, so that nearly always one comparison decides.

use super::spread::Deviations;
use motefall_physics::head::mist::MistTable;
use motefall_physics::quick;
use motefall_physics::source::atomiser::{DropletSizes, sphere_volume};
use motefall_physics::source::content::{
    AboveZero, Allowance, CLASSES, Contents, class_ends, class_middle, class_of, poisson, uniform,
};
use motefall_physics::source::inverse::Inverse;
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Even shares of the droplets that may pass of which the class is known at once.
const GUIDES: usize = 1024;

/// For one print.
pub(crate) struct Screen {
    /// What droplets of each class may hold.
    allowances: Vec<Allowance>,
    /// Numbers of candidates of those that have one.
    candidates: AboveZero,
    /// Deviates of the droplets that may pass, by class.
    deviates: Inverse,
    /// Their number, of each droplet in the mist.
    may_pass: f64,
    classes: Vec<Class>,
    /// Per class and powder: solid volume expected in a droplet that does not pass, m^3.
    held: Vec<f64>,
    powders: usize,
}

/// Droplets of a class of deviates.
#[derive(Debug, Clone, Copy)]
struct Class {
    /// Chance that a droplet has a candidate particle.
    some: f64,
    /// Of all droplets: the density of deviates that may pass, the same all over the class, and the share of these that passes at least.
    density: f64,
    sure: f64,
    /// Share of all droplets that is of this class and does not pass.
    rest: f64,
}

/// Density of standard normal deviates.
#[inline]
fn normal(z: f64) -> f64 {
    const AT_0: f64 = 0.398_942_280_401_432_7;
    AT_0 * quick::exp(-0.5 * z * z)
}

impl Class {
    fn new(class: usize, some: f64, mist: &MistTable) -> Self {
        let [low, high] = class_ends(class);
        let [least, most] = mist.lost_between([low, high]);
        let (outer, inner) = (normal(low).min(normal(high)), normal(low).max(normal(high)));
        // A little wider, for rounding at the edges of classes.
        let density = inner * (1.0 - least) * some * (1.0 + 1e-9);
        let surely = outer * (1.0 - most) * some * (1.0 - 1e-9);
        // Simpson's rule over each half of the class, in which what is lost is straight: to 1e-11.
        let step = 0.25 * (high - low);
        let rest = (0..5).zip([1.0, 4.0, 2.0, 4.0, 1.0]).map(|(k, weight)| {
            let z = low + f64::from(k) * step;
            weight * normal(z) * (1.0 - (1.0 - mist.lost(z)) * some)
        });
        let rest = rest.sum::<f64>() * step / 3.0;
        Self { some, density, sure: if density > 0.0 { surely / density } else { 0.0 }, rest }
    }
}

impl Screen {
    /// For a print's losses and deviations; `droplets` are the setting's sizes.
    pub(crate) fn new(contents: &Contents, mist: &MistTable, droplets: &DropletSizes, deviations: &Deviations) -> Self {
        // The classes of contents count from the set median.
        let class_shift = deviations.droplet_median.ln() / droplets.gsd.ln();
        let diameter = |z: f64| droplets.at_deviate(z) * deviations.droplet_median;
        let (mut allowances, mut classes, mut held) = (vec![], vec![], vec![]);
        for class in 0..CLASSES {
            let largest = class_ends(class)[1];
            let allowance = contents.allowance(
                class_of(largest + class_shift - 1e-12),
                diameter(largest) * (1.0 + 1e-9),
                deviations.solids,
            );
            let some = allowance.some();
            let middle = class_middle(class);
            let lost = mist.lost(middle);
            let rest = 1.0 - (1.0 - lost) * some;
            // Solids are held by those that the tube keeps; those that pass without a candidate have none.
            let share = if rest > 0.0 { lost / rest } else { 0.0 };
            let room = sphere_volume(diameter(middle)) * deviations.solids;
            held.extend(contents.expected(class_of(middle + class_shift), room).map(|solids| solids * share));
            classes.push(Class::new(class, some, mist));
            allowances.push(allowance);
        }
        let (deviates, may_pass) = that_may_pass(&classes);
        let candidates = AboveZero::new(allowances.iter().map(Allowance::mean));
        Self { allowances, candidates, deviates, may_pass, classes, held, powders: contents.powders() }
    }

    /// What a droplet of a class may hold.
    #[inline]
    pub(crate) fn allowance(&self, class: usize) -> &Allowance {
        &self.allowances[class]
    }

    /// Chance that a droplet of a class passes the tube, of which a share is lost there, and has a candidate particle.
    #[inline]
    pub(crate) fn chance(&self, class: usize, lost: f64) -> f64 {
        (1.0 - lost) * self.classes[class].some
    }

    /// Number of candidates of a droplet of a class that has one.
    #[inline]
    pub(crate) fn candidates(&self, class: usize, rng: &mut impl Rng) -> u64 {
        self.candidates.draw(class, rng)
    }

    /// Droplets that may pass, of each in the mist.
    pub(crate) fn may_pass(&self) -> f64 {
        self.may_pass
    }

    /// Deviate of a droplet that may pass, and whether it does.
    #[inline]
    pub(crate) fn draw(&self, mist: &MistTable, rng: &mut impl Rng) -> (f64, bool) {
        let (class, deviate) = self.deviates.at(uniform(rng));
        let pick = uniform(rng);
        let Class { density, sure, .. } = self.classes[class];
        let chance = || self.chance(class, mist.lost(deviate));
        (deviate, pick < sure || pick * density < normal(deviate) * chance())
    }

    /// Droplets that do not pass, of each in the mist.
    pub(crate) fn rest(&self) -> f64 {
        self.classes.iter().map(|class| class.rest).sum()
    }

    /// Deviate of a droplet that does not pass.
    pub(crate) fn draw_rest(&self, mist: &MistTable, rng: &mut impl Rng) -> f64 {
        loop {
            let deviate: f64 = StandardNormal.sample(rng);
            if uniform(rng) >= self.chance(class_of(deviate), mist.lost(deviate)) {
                return deviate;
            }
        }
    }

    /// Solid volume of each powder expected in droplets that do not pass, m^3, of which a number of each class is drawn; of so many droplets
    /// in the mist on average.
    pub(crate) fn held(&self, droplets: f64, rng: &mut impl Rng) -> Vec<f64> {
        let mut sums = vec![0.0; self.powders];
        for (class, held) in self.classes.iter().zip(self.held.chunks_exact(self.powders.max(1))) {
            let number = poisson(droplets * class.rest, rng) as f64;
            sums.iter_mut().zip(held).for_each(|(sum, held)| *sum += number * held);
        }
        sums
    }
}

/// Deviates of droplets that may pass, and their number of each droplet.
fn that_may_pass(classes: &[Class]) -> (Inverse, f64) {
    let number = |class: usize| {
        let [low, high] = class_ends(class);
        classes[class].density * (high - low)
    };
    let all: f64 = (0..CLASSES).map(number).sum();
    let mut below = 0.0;
    let mut edges = vec![[0.0, class_ends(0)[0]]];
    edges.extend((0..CLASSES).map(|class| {
        below += number(class);
        [if all > 0.0 { below / all } else { 1.0 }, class_ends(class)[1]]
    }));
    edges[CLASSES][0] = 1.0;
    (Inverse::new(edges, GUIDES), all)
}
