//! Tells early which droplets need not be followed.
//!
//! Most droplets are lost in the tube or are so small that no particle could ride in them. Whether a droplet passes the tube and has a
//! candidate particle is one draw against p(z) = (1 - lost(z)) (1 - exp(-candidates)), z its size as a standard normal deviate, candidates
//! those of the largest droplet of its class. For each class of z bounds of p are known, so that nearly always one comparison decides. The
//! law is the same as when both are drawn one after the other (thinning of a Poisson process).

use super::spread::Deviations;
use motefall_physics::head::mist::MistTable;
use motefall_physics::source::atomiser::{DropletSizes, sphere_volume};
use motefall_physics::source::content::{AboveZero, Allowance, CLASSES, Contents, class_ends, class_middle, class_of};
use rand::Rng;

/// For one print.
pub(crate) struct Screen {
    /// What droplets of each class may hold.
    allowances: Vec<Allowance>,
    /// Numbers of candidates of those that have one.
    candidates: AboveZero,
    /// Chance in each class that a droplet has a candidate particle.
    some: Vec<f64>,
    /// Bounds of the chance that it passes, too.
    bounds: Vec<[f64; 2]>,
    /// Per class and powder: solid volume expected in a droplet that does not pass, m^3.
    held: Vec<f64>,
    powders: usize,
}

impl Screen {
    /// For a print's losses and deviations; `droplets` are the setting's sizes.
    pub(crate) fn new(contents: &Contents, mist: &MistTable, droplets: &DropletSizes, deviations: &Deviations) -> Self {
        // The classes of contents count from the set median.
        let class_shift = deviations.droplet_median.ln() / droplets.gsd.ln();
        let diameter = |z: f64| droplets.at_deviate(z) * deviations.droplet_median;
        let mut screen = Self {
            allowances: vec![],
            candidates: AboveZero::default(),
            some: vec![],
            bounds: vec![],
            held: vec![],
            powders: contents.powders(),
        };
        for class in 0..CLASSES {
            let ends = class_ends(class);
            // One droplet in 10^12 is larger than the last class: it holds what its end may hold.
            let allowance = contents.allowance(
                class_of(ends[1] + class_shift - 1e-12),
                diameter(ends[1]) * (1.0 + 1e-9),
                deviations.solids,
            );
            let some = allowance.some();
            let [least, most] = mist.lost_between(ends);
            // The end classes stand for everything beyond.
            screen.bounds.push(if class == 0 || class + 1 == CLASSES {
                [0.0, 1.0]
            } else {
                // A little wider, for rounding at the edges of classes.
                [(1.0 - most) * some * (1.0 - 1e-9), (1.0 - least) * some * (1.0 + 1e-9)]
            });
            let middle = class_middle(class);
            let lost = mist.at(middle).lost;
            let rest = 1.0 - (1.0 - lost) * some;
            // Solids are held by those that the tube keeps; those that pass without a candidate have none.
            let share = if rest > 0.0 { lost / rest } else { 0.0 };
            let room = sphere_volume(diameter(middle)) * deviations.solids;
            screen.held.extend(contents.expected(class_of(middle + class_shift), room).map(|solids| solids * share));
            screen.allowances.push(allowance);
            screen.some.push(some);
        }
        screen.candidates = AboveZero::new(screen.allowances.iter().map(Allowance::mean));
        screen
    }

    /// What a droplet of a class may hold.
    #[inline]
    pub(crate) fn allowance(&self, class: usize) -> &Allowance {
        &self.allowances[class]
    }

    /// Chance that a droplet of a class passes the tube, of which a share is lost there, and has a candidate particle.
    #[inline]
    pub(crate) fn chance(&self, class: usize, lost: f64) -> f64 {
        (1.0 - lost) * self.some[class]
    }

    /// Number of candidates of a droplet of a class that has one.
    #[inline]
    pub(crate) fn candidates(&self, class: usize, rng: &mut impl Rng) -> u64 {
        self.candidates.draw(class, rng)
    }

    /// Whether a droplet of a class passes for a pick even in 0 to 1; `lost` tells the share of its like that is lost in the tube, if that
    /// must be looked at.
    #[inline]
    pub(crate) fn passes(&self, class: usize, pick: f64, lost: impl FnOnce() -> f64) -> bool {
        let [least, most] = self.bounds[class];
        // One test that nearly never holds, so that the processor need not guess who passes.
        if (pick >= least) & (pick < most) {
            return pick < self.chance(class, lost());
        }
        pick < least
    }

    /// Solid volume of each powder expected in so many droplets of each class that did not pass, m^3.
    pub(crate) fn held(&self, numbers: &[u32]) -> Vec<f64> {
        let mut sums = vec![0.0; self.powders];
        for (number, held) in numbers.iter().zip(self.held.chunks_exact(self.powders.max(1))) {
            if *number > 0 {
                sums.iter_mut().zip(held).for_each(|(sum, held)| *sum += f64::from(*number) * held);
            }
        }
        sums
    }
}
