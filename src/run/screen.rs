//! Tells early which droplets need not be followed.
//!
//! Most droplets are lost in the tube or are so small that no particle could ride in them. Whether a droplet passes the tube and has a
//! candidate particle is one draw against p(z) = (1 - lost(z)) (1 - exp(-candidates(z))), z its size as a standard normal deviate. For
//! each class of z bounds of p are known, so that nearly always one comparison decides. The law is the same as when both are drawn one
//! after the other (thinning of a Poisson process).

use super::spread::Deviations;
use motefall_physics::head::mist::MistTable;
use motefall_physics::source::atomiser::{DropletSizes, sphere_volume};
use motefall_physics::source::content::{CLASSES, Contents, class_ends, class_middle, class_of};

/// For one print.
pub struct Screen {
    /// Bounds of the chance in each class.
    bounds: Vec<[f64; 2]>,
    /// Per class and powder: solid volume expected in a droplet that does not pass, m^3.
    held: Vec<f64>,
    powders: usize,
    /// From the deviate to that which [`Contents`] counts its classes by.
    pub class_shift: f64,
}

/// Chance that a droplet passes the tube and has a candidate particle.
#[inline]
pub fn chance(lost: f64, candidates: f64) -> f64 {
    (1.0 - lost) * -(-candidates).exp_m1()
}

impl Screen {
    /// For a print's losses and deviations; `droplets` are the setting's sizes.
    pub fn new(contents: &Contents, mist: &MistTable, droplets: &DropletSizes, deviations: &Deviations) -> Self {
        // The classes of contents count from the set median.
        let class_shift = deviations.droplet_median.ln() / droplets.gsd.ln();
        let room = |z: f64| sphere_volume(droplets.at_deviate(z) * deviations.droplet_median) * deviations.solids;
        let (mut bounds, mut held) = (Vec::with_capacity(CLASSES), vec![]);
        for class in 0..CLASSES {
            let ends = class_ends(class);
            let candidates = ends.map(|z| contents.candidates(class_of(z + class_shift), room(z)));
            let [least, most] = mist.lost_between(ends);
            // The end classes stand for everything beyond.
            bounds.push(if class == 0 || class + 1 == CLASSES {
                [0.0, 1.0]
            } else {
                // A little wider, for rounding at the edges of classes.
                [chance(most, candidates[0]) * (1.0 - 1e-9), chance(least, candidates[1]) * (1.0 + 1e-9)]
            });
            let middle = class_middle(class);
            let lost = mist.at(middle).lost;
            let content = class_of(middle + class_shift);
            let rest = 1.0 - chance(lost, contents.candidates(content, room(middle)));
            // Solids are held by those that the tube keeps; those that pass without a candidate have none.
            let share = if rest > 0.0 { lost / rest } else { 0.0 };
            held.extend(contents.expected(content, room(middle)).map(|solids| solids * share));
        }
        let powders = held.len() / CLASSES;
        Self { bounds, held, powders, class_shift }
    }

    /// Whether a droplet of a class passes for a pick even in 0 to 1; `None` if its own chance must be looked at.
    #[inline]
    pub fn decides(&self, class: usize, pick: f64) -> Option<bool> {
        let [least, most] = self.bounds[class];
        match () {
            () if pick >= most => Some(false),
            () if pick < least => Some(true),
            () => None,
        }
    }

    /// Solid volume of each powder expected in so many droplets of each class that did not pass, m^3.
    pub fn held(&self, numbers: &[u32]) -> Vec<f64> {
        let mut sums = vec![0.0; self.powders];
        for (number, held) in numbers.iter().zip(self.held.chunks_exact(self.powders.max(1))) {
            if *number > 0 {
                sums.iter_mut().zip(held).for_each(|(sum, held)| *sum += f64::from(*number) * held);
            }
        }
        sums
    }
}
