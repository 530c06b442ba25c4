//! How a bench may be: values of what is unknown, each set as likely as any other.

use crate::file::{CalibrationFile, LACK_KEYS};
use crate::unknowns::{Unknown, usual_unknowns};
use motefall_scenario::{Knob, Turnable};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;

/// Values of numbers of a scenario, in their units.
pub type Bench = Vec<(Knob, f64)>;

/// So many benches as they may be before any line is measured: what is usual of everything that nobody has measured.
pub fn usual_benches(scenario: &Turnable, count: usize, seed: u64) -> Vec<Bench> {
    let unknowns = usual_unknowns(scenario);
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut draw = |unknown: &Unknown| {
        let deviate: f64 = random.sample(StandardNormal);
        (unknown.knob.clone(), unknown.value(deviate.clamp(unknown.bounds[0], unknown.bounds[1])))
    };
    (0..count).map(|_| unknowns.iter().map(&mut draw).collect()).collect()
}

impl CalibrationFile {
    /// So many benches as the lines leave them possible, at most as many as the file has draws.
    pub fn benches(&self, scenario: &Turnable, count: usize, seed: u64) -> Vec<Bench> {
        let found = self.found(scenario);
        let lacking: Vec<Knob> = LACK_KEYS.iter().filter_map(|key| scenario.knob(key).ok()).collect();
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        self.rows(count, &mut random)
            .into_iter()
            .map(|row| {
                let values = self.bench(&found, &lacking, row, &mut random);
                values.into_iter().map(|(knob, value)| (knob.clone(), value)).collect()
            })
            .collect()
    }
}
