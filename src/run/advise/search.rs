//! From all settings to a few good ones.

use super::desk::{Chance, Desk, Means, OfPrint};
use super::judge::Judge;
use super::{AdviseError, Asked, Values};
use crate::sweep::design::sobol_place;
use motefall_figures::BenchUse;
use motefall_figures::advice::{Candidate, Freed};
use motefall_figures::statistics::wilson_95;
use motefall_physics::inputs::Limit;
use statrs::distribution::{ContinuousCDF, Normal};

/// Prints of today's setting, and of each that is tried.
const OF_TODAY: u32 = 48;
const TRIED: u32 = 16;
/// Settings that are tried first: the best by what is expected, and others far from these.
const FIRST: usize = 12;
/// Distance, in ranges of a setting, from which on settings count as of another kind.
pub(super) const OTHER_KIND: f64 = 0.2;
/// Each round of refining looks within a smaller box around the best.
const BOX: f64 = 0.2;
const SMALLER: f64 = 0.65;
/// In a round: best settings that are looked around, settings looked at around each besides its neighbours, and settings tried.
const BASES: usize = 3;
const AROUND: u32 = 8;
const TRIED_IN_ROUND: usize = 4;
/// Settings in the race, and prints after each of its rounds.
const RACING: usize = 6;
const RACE: [u32; 3] = [32, 64, 128];
/// Deviates above which a setting is not preferred for being farther from its limits: nothing that prints could tell.
const FAR_ENOUGH: f64 = 6.0;
/// Prints that the scatter of other settings counts for beside a setting's own.
const OTHERS_COUNT: f64 = 8.0;
/// Prints from which on their mean stands in place of what is expected.
const ENOUGH: f64 = 32.0;
/// Settings of a front that are told.
const MOST_IN_FRONT: usize = 12;

/// What is expected of a setting.
#[derive(Debug, Clone)]
pub(super) struct Outlook {
    pub(super) values: Values,
    /// Of each limit: mean, and deviate from the limit; `None` where nothing tells it.
    pub(super) means: Vec<Option<f64>>,
    pub(super) deviates: Vec<Option<f64>>,
    /// Share of prints that meet all limits, taking these for independent.
    pub(super) share: f64,
    /// What a chip takes.
    pub(super) used: BenchUse,
}

impl Outlook {
    /// The limit that is nearest to being missed.
    pub(super) fn tightest(&self) -> Option<(usize, f64)> {
        let known = self.deviates.iter().enumerate().filter_map(|(k, z)| Some((k, (*z)?)));
        known.min_by(|(_, a), (_, b)| a.total_cmp(b))
    }

    /// By which settings are ordered.
    fn rank(&self) -> f64 {
        self.tightest().map_or(-FAR_ENOUGH, |(_, z)| z.min(FAR_ENOUGH))
    }
}

pub(super) struct Search<'a> {
    pub(super) asked: &'a Asked<'a>,
    pub(super) desk: &'a Desk<'a>,
    pub(super) judge: Judge<'a>,
    pub(super) today: Values,
    /// Scatter of the figure of each limit between prints, relative to its mean; of counts beyond that of chance.
    scatter: Vec<f64>,
    /// Settings that were looked at, and those that were printed, in order.
    looked: Vec<Values>,
    tried: Vec<Tried>,
}

/// A setting that was printed.
struct Tried {
    values: Values,
    places: Vec<f64>,
    /// Of the figure of each limit: mean and standard deviation over its prints, and their number.
    moments: Vec<Option<[f64; 3]>>,
    /// Of each limit: the expected mean thickness at its place.
    drivers: Vec<Option<f64>>,
}

impl<'a> Search<'a> {
    pub(super) fn new(asked: &'a Asked<'a>, desk: &'a Desk<'a>, judge: Judge<'a>) -> Result<Self, AdviseError> {
        let today: Values = asked.freed.iter().map(|freed| freed.today).collect();
        let scatter = vec![0.1; judge.limits().len()];
        let mut search = Self { asked, desk, judge, today: today.clone(), scatter, looked: vec![], tried: vec![] };
        if let Err(reason) = &search.desk.means(std::slice::from_ref(&today))?[0] {
            return Err(AdviseError::Today(reason.clone()));
        }
        search.print(&[today], OF_TODAY)?;
        Ok(search)
    }

    pub(super) fn freed(&self) -> &'a [Freed] {
        self.asked.freed
    }

    /// Values at places from 0 to 1.
    fn values(&self, places: impl Iterator<Item = f64>) -> Values {
        self.freed().iter().zip(places).map(|(freed, place)| freed.at(place)).collect()
    }

    pub(super) fn places(&self, values: &[f64]) -> Vec<f64> {
        self.freed().iter().zip(values).map(|(freed, value)| freed.place(*value)).collect()
    }

    /// Largest difference of two settings in ranges.
    pub(super) fn distance(&self, a: &[f64], b: &[f64]) -> f64 {
        self.places(a).iter().zip(self.places(b)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }

    /// Looks at settings spread over all, and tries the first of them.
    pub(super) fn screen(&mut self) -> Result<(), AdviseError> {
        self.desk.begin("screening settings by the expected deposit", Some(u64::from(self.asked.effort.spread)));
        let seed = self.asked.inputs.seed;
        let n = self.freed().len();
        let spread = (0..self.asked.effort.spread).map(|k| self.values((0..n).map(|axis| sobol_place(k, axis, seed))));
        let mut spread: Vec<Values> = spread.collect();
        // Today's values, where they can be set at all.
        spread.push(self.freed().iter().map(|freed| freed.on_step(freed.today)).collect());
        self.look(&spread)?;
        self.desk.begin("trying the promising ones", Some(FIRST as u64));
        let half = FIRST / 2;
        let best = self.best_of(self.looked.clone(), half, 0.0)?;
        self.print(&best, TRIED)?;
        let apart = self.best_of(self.looked.clone(), FIRST - half, OTHER_KIND)?;
        self.print(&apart, TRIED)
    }

    /// Looks around the best that were tried, closer and closer, and tries the best of what is found.
    pub(super) fn refine(&mut self) -> Result<(), AdviseError> {
        self.desk.begin("refining around the best", None);
        for round in 0..self.asked.effort.rounds {
            let size = BOX * SMALLER.powi(round);
            let bases = self.best_of(self.all_tried(), BASES, OTHER_KIND)?;
            let near: Vec<Values> = bases.iter().flat_map(|base| self.around(base, size, round)).collect();
            self.look(&near)?;
            let new =
                near.into_iter().filter(|values| !self.tried.iter().any(|tried| tried.values == *values)).collect();
            let best = self.best_of(new, TRIED_IN_ROUND, 0.0)?;
            self.print(&best, TRIED)?;
        }
        Ok(())
    }

    /// Settings around one: to each side along each setting, and some in the box.
    pub(super) fn around(&self, base: &[f64], size: f64, round: i32) -> Vec<Values> {
        let places = self.places(base);
        let mut all = vec![];
        for (k, freed) in self.freed().iter().enumerate() {
            for sign in [-1.0, 1.0] {
                let mut values = base.to_vec();
                let moved = freed.at(places[k] + sign * size);
                // At least a step.
                values[k] = if moved == values[k] { freed.on_step(values[k] + sign * freed.step) } else { moved };
                all.push(values);
            }
        }
        let seed = self.asked.inputs.seed.wrapping_add(round.unsigned_abs().into());
        for k in 0..AROUND {
            let offsets = (0..places.len()).map(|axis| size * (2.0 * sobol_place(k, axis, seed) - 1.0));
            all.push(self.values(places.iter().zip(offsets).map(|(place, offset)| place + offset)));
        }
        all
    }

    /// Prints the best of different kinds until it shows which are good; the best first.
    pub(super) fn race(&mut self) -> Result<Vec<Values>, AdviseError> {
        let mut racing = self.best_of(self.all_tried(), RACING, OTHER_KIND)?;
        // The very best and its like: its neighbour may do as well.
        for values in self.best_of(self.all_tried(), 2, 0.0)? {
            if !racing.contains(&values) {
                racing.push(values);
            }
        }
        for prints in RACE {
            self.desk.begin("printing the best against each other", Some(racing.len() as u64));
            self.print(&racing, prints)?;
            let mut met = vec![];
            for values in &racing {
                met.push(self.printed(values)?.met);
            }
            let bar = met.iter().map(|met| wilson_95(*met, prints)[0]).fold(0.0, f64::max);
            let keep: Vec<bool> = met.iter().map(|met| wilson_95(*met, prints)[1] >= bar).collect();
            let mut keep = keep.into_iter();
            racing.retain(|_| keep.next().unwrap_or(true));
        }
        let mut ranked = vec![];
        for values in racing {
            let candidate = self.printed(&values)?;
            ranked.push((f64::from(candidate.met) / f64::from(candidate.prints.max(1)), self.outlook(&values)?));
        }
        ranked.sort_by(|(a, x), (b, y)| {
            b.total_cmp(a).then(y.rank().total_cmp(&x.rank())).then(time(x).total_cmp(&time(y)))
        });
        Ok(ranked.into_iter().map(|(_, outlook)| outlook.values).collect())
    }

    /// A setting with the prints by which it is chosen.
    pub(super) fn printed(&self, values: &Values) -> Result<Candidate, AdviseError> {
        let prints = self.desk.known_prints(values, Chance::Common);
        Ok(self.judge.candidate(&self.outlook(values)?, &self.desk.figures, &prints))
    }

    /// A setting with these prints.
    pub(super) fn candidate(&self, values: &Values, prints: &[OfPrint]) -> Candidate {
        match self.outlook(values) {
            Ok(outlook) => self.judge.candidate(&outlook, &self.desk.figures, prints),
            Err(_) => unreachable!("it was looked at before it was printed"),
        }
    }

    /// Has the means of settings worked out.
    pub(super) fn look(&mut self, all: &[Values]) -> Result<(), AdviseError> {
        self.desk.means(all)?;
        for values in all {
            if !self.looked.contains(values) {
                self.looked.push(values.clone());
            }
        }
        Ok(())
    }

    /// Has settings printed, and learns how prints scatter.
    fn print(&mut self, all: &[Values], count: u32) -> Result<(), AdviseError> {
        self.look(all)?;
        for values in all {
            let prints = self.desk.prints(&[(values.clone(), Chance::Common, count)])?.remove(0);
            self.desk.advance();
            if let Ok(means) = &self.desk.means(std::slice::from_ref(values))?[0] {
                let drivers = (0..self.scatter.len()).map(|k| self.driver(k, means)).collect();
                let moments = (0..self.scatter.len()).map(|k| moments(&prints, k)).collect();
                let tried = Tried { values: values.clone(), places: self.places(values), moments, drivers };
                match self.tried.iter_mut().find(|other| other.values == *values) {
                    Some(known) => *known = tried,
                    None => self.tried.push(tried),
                }
            }
        }
        self.learn_scatter();
        Ok(())
    }

    /// Expected mean thickness at the place of a limit.
    fn driver(&self, k: usize, means: &Means) -> Option<f64> {
        self.desk.drivers[k].and_then(|at| means.figures[at]).filter(|mean| *mean > 0.0)
    }

    fn all_tried(&self) -> Vec<Values> {
        self.tried.iter().map(|tried| tried.values.clone()).collect()
    }

    /// The median scatter of all that was printed.
    fn learn_scatter(&mut self) {
        for k in 0..self.scatter.len() {
            let is_count = self.judge.limits()[k].figure.kind().is_count();
            let of = |tried: &Tried| {
                let [mean, sd, _] = tried.moments[k]?;
                let variance = if is_count { (sd * sd - mean).max(0.0) } else { sd * sd };
                (mean > 0.0).then(|| variance.sqrt() / mean)
            };
            let mut all: Vec<f64> = self.tried.iter().filter_map(of).collect();
            all.sort_by(f64::total_cmp);
            if let Some(middle) = all.get(all.len() / 2) {
                self.scatter[k] = *middle;
            }
        }
    }

    /// The best few by what is expected, each at least so far from those before it. Those that cannot run are left out.
    pub(super) fn best_of(&self, all: Vec<Values>, count: usize, apart: f64) -> Result<Vec<Values>, AdviseError> {
        let mut outlooks = vec![];
        for values in all {
            if self.desk.means(std::slice::from_ref(&values))?[0].is_ok() {
                outlooks.push(self.outlook(&values)?);
            }
        }
        outlooks.sort_by(|a, b| b.rank().total_cmp(&a.rank()).then(time(a).total_cmp(&time(b))));
        let mut best: Vec<Values> = vec![];
        for outlook in outlooks {
            let is_new =
                best.iter().all(|other| self.distance(other, &outlook.values) >= apart && *other != outlook.values);
            if best.len() < count && is_new {
                best.push(outlook.values);
            }
        }
        Ok(best)
    }

    /// What is expected of all that was looked at and can run.
    pub(super) fn outlooks(&self) -> Result<Vec<Outlook>, AdviseError> {
        let known = self.desk.means(&self.looked)?;
        let runs = self.looked.iter().zip(known).filter(|(_, means)| means.is_ok());
        runs.map(|(values, _)| self.outlook(values)).collect()
    }

    /// Mean and standard deviation of the figure of a limit at a setting.
    pub(super) fn told_of(&self, outlook: &Outlook, k: usize) -> Result<Option<[f64; 2]>, AdviseError> {
        match &self.desk.means(std::slice::from_ref(&outlook.values))?[0] {
            Ok(means) => Ok(self.told(k, &outlook.values, means)),
            Err(_) => Ok(None),
        }
    }

    /// A setting with these prints, judged with one limit in another's place.
    pub(super) fn candidate_with(
        &self,
        values: &Values,
        prints: &[OfPrint],
        k: usize,
        limit: Limit,
    ) -> Result<Candidate, AdviseError> {
        let mut inputs = self.asked.inputs.clone();
        inputs.acceptance.limits[k] = limit;
        Ok(Judge::new(&inputs).candidate(&self.outlook(values)?, &self.desk.figures, prints))
    }

    /// What is expected of a setting that can run.
    pub(super) fn outlook(&self, values: &Values) -> Result<Outlook, AdviseError> {
        let means = match self.desk.means(std::slice::from_ref(values))?.remove(0) {
            Ok(means) => means,
            Err(_) => {
                let none = vec![None; self.judge.limits().len()];
                let (means, deviates) = (none.clone(), vec![Some(-FAR_ENOUGH); none.len()]);
                return Ok(Outlook { values: values.clone(), means, deviates, share: 0.0, used: BenchUse::default() });
            }
        };
        let (mut all, mut deviates, mut share) = (vec![], vec![], 1.0);
        for (k, limit) in self.judge.limits().iter().enumerate() {
            let told = self.told(k, values, &means);
            let deviate = told.map(|[mean, sd]| self.judge.deviate(limit, mean, sd));
            share *= deviate.map_or(1.0, |z| Normal::standard().cdf(z));
            all.push(told.map(|[mean, _]| mean));
            deviates.push(deviate);
        }
        Ok(Outlook { values: values.clone(), means: all, deviates, share, used: means.used() })
    }

    /// Mean and standard deviation of the figure of a limit.
    fn told(&self, k: usize, values: &Values, means: &Means) -> Option<[f64; 2]> {
        let own = self.tried.iter().find(|tried| tried.values == *values).and_then(|tried| tried.moments[k]);
        let expected = match means.figures[k] {
            Some(mean) => Some(mean),
            None if own.is_none() => self.by_neighbours(k, values, means),
            None => None,
        };
        let mean = own.filter(|[_, _, n]| expected.is_none() || *n >= ENOUGH).map(|[mean, ..]| mean).or(expected)?;
        let kind = self.judge.limits()[k].figure.kind();
        let counted = if kind.is_count() { mean } else { 0.0 };
        let usual = (self.scatter[k] * mean).powi(2) + counted;
        let variance = match own {
            Some([_, sd, n]) if n > 1.0 => (n * sd * sd + OTHERS_COUNT * usual) / (n + OTHERS_COUNT),
            _ => usual,
        };
        Some([mean, variance.sqrt()])
    }

    /// A figure that only prints tell, of a setting that was not printed: by the nearest that were, in proportion to the mean thickness at
    /// its place if it has one.
    fn by_neighbours(&self, k: usize, values: &Values, means: &Means) -> Option<f64> {
        let (here, places) = (self.driver(k, means), self.places(values));
        let (mut sum, mut weights) = (0.0, 0.0);
        for other in &self.tried {
            let Some([mean, ..]) = other.moments[k].filter(|[mean, ..]| *mean > 0.0) else { continue };
            let scaled = match (here, other.drivers[k]) {
                (Some(here), Some(there)) => mean * here / there,
                _ => mean,
            };
            let distance: f64 = places.iter().zip(&other.places).map(|(a, b)| (a - b).powi(2)).sum();
            let weight = 1.0 / (distance + 1e-4).powi(2);
            sum += weight * scaled.ln();
            weights += weight;
        }
        (weights > 0.0).then(|| (sum / weights).exp())
    }

    /// Settings of which no other is at once more likely to pass, quicker and thriftier.
    pub(super) fn front(&self) -> Vec<Candidate> {
        let outlooks = self.outlooks().unwrap_or_default();
        let likely: Vec<&Outlook> = outlooks.iter().filter(|outlook| outlook.share >= 0.05).collect();
        let percent = |outlook: &Outlook| (100.0 * outlook.share).round();
        let beats = |a: &Outlook, b: &Outlook| {
            let no_worse = percent(a) >= percent(b) && time(a) <= time(b) && ink(a) <= ink(b);
            no_worse && (percent(a) > percent(b) || time(a) < time(b) || ink(a) < ink(b))
        };
        let mut front: Vec<&Outlook> =
            likely.iter().copied().filter(|one| !likely.iter().any(|other| beats(other, one))).collect();
        front.sort_by(|a, b| b.share.total_cmp(&a.share).then(time(a).total_cmp(&time(b))));
        front.dedup_by(|a, b| percent(a) == percent(b) && time(a) == time(b) && ink(a) == ink(b));
        front.truncate(MOST_IN_FRONT);
        front.iter().filter_map(|outlook| self.printed(&outlook.values).ok()).collect()
    }
}

/// Time of a print, s.
fn time(outlook: &Outlook) -> f64 {
    outlook.used.print_time
}

/// Ink that a chip takes, m^3.
fn ink(outlook: &Outlook) -> f64 {
    outlook.used.ink_per_chip
}

/// Mean and standard deviation of a figure over prints, and how many told it.
fn moments(prints: &[OfPrint], k: usize) -> Option<[f64; 3]> {
    let values: Vec<f64> = prints.iter().filter_map(|print| Some(print[k]?.0)).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (n > 1.0).then(|| [mean, (squares / (n - 1.0)).sqrt(), n])
}
