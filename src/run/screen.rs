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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setting::{PrintState, Setting};
    use crate::spread::{self, Deviations};
    use crate::testing;
    use motefall_physics::jet::store::FieldStore;
    use rand::SeedableRng;
    use rand::rngs::Xoshiro256PlusPlus;

    /// Standard errors beyond which a number is not by chance: 1e-6, on both sides.
    const SIGMAS: f64 = 4.9;
    const WIDE: usize = 16;

    /// Droplets drawn one after the other, each by its size and its chance: numbers in groups of [`WIDE`] classes of those that pass and of
    /// the rest.
    fn one_by_one(screen: &Screen, mist: &MistTable, droplets: u32) -> [Vec<f64>; 2] {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(5);
        let mut numbers = [(); 2].map(|()| vec![0.0; CLASSES / WIDE]);
        for _ in 0..droplets {
            let deviate: f64 = StandardNormal.sample(&mut rng);
            let class = class_of(deviate);
            let passes = uniform(&mut rng) < screen.chance(class, mist.lost(deviate));
            numbers[usize::from(!passes)][class / WIDE] += 1.0;
        }
        numbers
    }

    fn counted(deviates: impl Iterator<Item = f64>) -> Vec<f64> {
        let mut numbers = vec![0.0; CLASSES / WIDE];
        deviates.for_each(|deviate| numbers[class_of(deviate) / WIDE] += 1.0);
        numbers
    }

    /// Noticed are 0.4 % of those that pass and of the rest, and 2 to 4 % of either in each of the groups in the middle.
    #[test]
    fn droplets_drawn_at_once_are_those_that_pass_one_by_one() {
        let inputs = testing::inputs();
        let setting = Setting::new(&inputs, &FieldStore::none(), &crate::Silent).expect("it runs");
        let deviations = Deviations::new(&inputs.varied(), &spread::draw(&inputs, 3), 0);
        let layer = &setting.layers[0];
        let state = PrintState::new(layer, deviations);
        let (screen, mist) = (&state.screen, state.mist.as_ref().unwrap_or(&layer.mist));
        let droplets = 4_000_000;
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(6);
        let may_pass = poisson(f64::from(droplets) * screen.may_pass(), &mut rng);
        let rest = poisson(f64::from(droplets) * screen.rest(), &mut rng);
        let drawn: Vec<(f64, bool)> = (0..may_pass).map(|_| screen.draw(mist, &mut rng)).collect();
        let passing = counted(drawn.iter().filter(|(_, passes)| *passes).map(|(deviate, _)| *deviate));
        let others = counted((0..rest).map(|_| screen.draw_rest(mist, &mut rng)));
        let by_class = (0..CLASSES / WIDE).map(|group| {
            let classes = &screen.classes[group * WIDE..(group + 1) * WIDE];
            f64::from(droplets) * classes.iter().map(|class| class.rest).sum::<f64>()
        });
        let expected_rest: Vec<f64> = by_class.collect();
        let wanted = one_by_one(screen, mist, droplets);
        println!("passing {} of {may_pass}, rest {rest}", passing.iter().sum::<f64>());
        assert!(passing.iter().sum::<f64>() > 0.8 * may_pass as f64, "few are drawn in vain");
        let close = |a: f64, b: f64, variance: f64, what: &str| {
            assert!((a - b).abs() < SIGMAS * (variance + 10.0).sqrt(), "{what}: {a} and {b}");
        };
        for (found, wanted) in [(&passing, &wanted[0]), (&others, &wanted[1])] {
            let [all, those] = [found, wanted].map(|numbers| numbers.iter().sum::<f64>());
            close(all, those, 2.0 * those, "all");
            for (found, wanted) in found.iter().zip(wanted) {
                close(*found, *wanted, 2.0 * wanted, "by size");
            }
        }
        // What is counted of the rest without drawing them, too.
        for (expected, wanted) in expected_rest.iter().zip(&wanted[1]) {
            close(*expected, *wanted, *wanted, "expected");
        }
        let held = screen.held(f64::from(droplets), &mut rng);
        let mean: f64 = screen.classes.iter().zip(&screen.held).map(|(class, held)| class.rest * held).sum();
        assert!((held[0] / (mean * f64::from(droplets)) - 1.0).abs() < 0.02, "{held:?} {mean}");
    }
}
