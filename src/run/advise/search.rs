//! From all settings to a few good ones.

use super::desk::{Chance, Desk, Means, OfPrint};
use super::judge::Judge;
use super::outlook::{FAR_ENOUGH, Outlook};
use super::tried::{self, Tried};
use super::{AdviseError, Asked, Values};
use crate::sweep::design::sobol_place;
use motefall_figures::advice::{Candidate, Freed, beyond};
use motefall_figures::statistics::wilson_95;
use motefall_figures::{BenchUse, CautionKind};
use motefall_physics::inputs::Limit;
use statrs::distribution::{ContinuousCDF, Normal};
use std::cmp::Ordering;

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
/// Prints that the scatter of other settings counts for beside a setting's own.
const OTHERS_COUNT: f64 = 8.0;
/// Prints from which on their mean stands in place of what is expected.
const ENOUGH: f64 = 32.0;
/// Settings of a front that are told.
const MOST_IN_FRONT: usize = 12;

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
    /// Doubts of the model that all raise that were looked at and can run.
    common_doubts: Option<Vec<CautionKind>>,
}

impl<'a> Search<'a> {
    pub(super) fn new(asked: &'a Asked<'a>, desk: &'a Desk<'a>, judge: Judge<'a>) -> Result<Self, AdviseError> {
        let today: Values = asked.freed.iter().map(|freed| freed.today).collect();
        let scatter = vec![0.1; judge.limits().len()];
        let (looked, tried, common_doubts) = (vec![], vec![], None);
        let mut search = Self { asked, desk, judge, today: today.clone(), scatter, looked, tried, common_doubts };
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
        let mut best = self.best_of(self.looked.clone(), half, 0.0)?;
        add_new(&mut best, self.least_doubted(self.looked.clone())?);
        self.print(&best, TRIED)?;
        let apart = self.best_of(self.looked.clone(), FIRST - half, OTHER_KIND)?;
        self.print(&apart, TRIED)
    }

    /// Looks around the best that were tried, closer and closer, and tries the best of what is found.
    pub(super) fn refine(&mut self) -> Result<(), AdviseError> {
        self.desk.begin("refining around the best", None);
        for round in 0..self.asked.effort.rounds {
            let size = BOX * SMALLER.powi(round);
            let mut bases = self.best_of(self.all_tried(), BASES, OTHER_KIND)?;
            // Where the best are in doubt, there may be one that is not, and not yet near enough to pass.
            add_new(&mut bases, self.least_doubted(self.all_tried())?);
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
        add_new(&mut racing, self.best_of(self.all_tried(), 2, 0.0)?);
        add_new(&mut racing, self.least_doubted(self.all_tried())?);
        for prints in RACE {
            self.desk.begin("printing the best against each other", Some(racing.len() as u64));
            self.print(&racing, prints)?;
            let mut told = vec![];
            for values in &racing {
                let candidate = self.printed(values)?;
                // Today's has more prints than the first round asks for.
                told.push((candidate.doubts.len(), wilson_95(candidate.met, candidate.prints)));
            }
            // One that is less in doubt is not out before it is clear that it fails.
            let is_out = |(doubts, [_, most]): &(usize, [f64; 2])| {
                let beaten = |(others, [least, _]): &(usize, [f64; 2])| {
                    least > most && (others <= doubts || *most < self.judge.required())
                };
                told.iter().any(beaten)
            };
            let mut keep = told.iter().map(|one| !is_out(one));
            racing.retain(|_| keep.next().unwrap_or(true));
        }
        let mut ranked = vec![];
        for values in racing {
            ranked.push((self.printed(&values)?, self.outlook(&values)?));
        }
        ranked.sort_by(|(a, x), (b, y)| {
            let by_doubts = less_in_doubt([a, b].map(|c| (self.judge.has_spare(c.share()), c.doubts.len())));
            let by_share = b.share().total_cmp(&a.share());
            by_doubts.then(by_share).then(y.room().total_cmp(&x.room())).then(time(x).total_cmp(&time(y)))
        });
        Ok(ranked.into_iter().map(|(_, outlook)| outlook.values).collect())
    }

    /// The order in which settings are looked into: those that should pass with room to spare before those that should not, of the former
    /// those less in doubt first, then by the distance from the limits and by time.
    fn order(&self, a: &Outlook, b: &Outlook) -> Ordering {
        let of = |outlook: &Outlook| (self.judge.has_spare(outlook.share), outlook.doubts.len());
        let by_doubts = less_in_doubt([of(a), of(b)]);
        by_doubts.then(b.room().total_cmp(&a.room())).then(time(a).total_cmp(&time(b)))
    }

    /// The best of those that are least in doubt.
    fn least_doubted(&self, all: Vec<Values>) -> Result<Option<Values>, AdviseError> {
        let mut outlooks = self.outlooks_of(all)?;
        let least = outlooks.iter().map(|outlook| outlook.doubts.len()).min();
        outlooks.retain(|outlook| Some(outlook.doubts.len()) == least);
        Ok(outlooks.into_iter().min_by(|a, b| self.order(a, b)).map(|outlook| outlook.values))
    }

    /// Doubts of the model that every setting raises that was looked at.
    pub(super) fn common_doubts(&self) -> Vec<CautionKind> {
        self.common_doubts.clone().unwrap_or_default()
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
        let told = self.desk.means(all)?;
        for (values, means) in all.iter().zip(told) {
            if let Ok(Means { doubts, .. }) = means {
                let common = self.common_doubts.get_or_insert_with(|| doubts.clone());
                common.retain(|kind| doubts.contains(kind));
            }
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
                let tried = Tried::new(values.clone(), self.places(values), &prints, drivers);
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
        let mut outlooks = self.outlooks_of(all)?;
        outlooks.sort_by(|a, b| self.order(a, b));
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
        self.outlooks_of(self.looked.clone())
    }

    /// What is expected of those that can run.
    fn outlooks_of(&self, all: Vec<Values>) -> Result<Vec<Outlook>, AdviseError> {
        let known = self.desk.means(&all)?;
        let runs = all.iter().zip(known).filter(|(_, means)| means.is_ok());
        runs.map(|(values, _)| self.outlook(values)).collect()
    }

    /// Doubts of the model at a setting that are not among others; none where it cannot run.
    pub(super) fn doubts_beyond(
        &self,
        values: &Values,
        others: &[CautionKind],
    ) -> Result<Vec<CautionKind>, AdviseError> {
        Ok(beyond(&self.outlook(values)?.doubts, others))
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
                let (used, doubts) = (BenchUse::default(), vec![]);
                return Ok(Outlook { values: values.clone(), means, deviates, share: 0.0, used, doubts });
            }
        };
        let (mut all, mut deviates, mut share) = (vec![], vec![], 1.0);
        let places = self.places(values);
        for (k, limit) in self.judge.limits().iter().enumerate() {
            let told = self.told(k, values, &means);
            let deviate = told.map(|[mean, sd]| self.judge.deviate(limit, mean, sd));
            // A print that cannot tell a figure does not meet its limit.
            let (normal, telling) = (Normal::standard(), tried::share_telling(&self.tried, k, &places));
            share *= telling * deviate.map_or(1.0, |z| normal.cdf(z));
            let deviate =
                deviate.map(|z| if telling < 1.0 { z.min(normal.inverse_cdf(telling)).max(-FAR_ENOUGH) } else { z });
            all.push(told.map(|[mean, _]| mean));
            deviates.push(deviate);
        }
        let (used, doubts) = (means.used(), means.doubts);
        Ok(Outlook { values: values.clone(), means: all, deviates, share, used, doubts })
    }

    /// Mean and standard deviation of the figure of a limit.
    fn told(&self, k: usize, values: &Values, means: &Means) -> Option<[f64; 2]> {
        let own = self.tried.iter().find(|tried| tried.values == *values).and_then(|tried| tried.moments[k]);
        let expected = match means.figures[k] {
            Some(mean) => Some(mean),
            None if own.is_none() => tried::by_neighbours(&self.tried, k, &self.places(values), self.driver(k, means)),
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

    /// Settings of which no other is at once more likely to pass, quicker, thriftier and less in doubt.
    pub(super) fn front(&self) -> Vec<Candidate> {
        let outlooks = self.outlooks().unwrap_or_default();
        let likely: Vec<&Outlook> = outlooks.iter().filter(|outlook| outlook.share >= 0.05).collect();
        let percent = |outlook: &Outlook| (100.0 * outlook.share).round();
        let beats = |a: &Outlook, b: &Outlook| {
            let [doubts, others] = [a, b].map(|outlook| outlook.doubts.len());
            let no_worse = percent(a) >= percent(b) && time(a) <= time(b) && ink(a) <= ink(b) && doubts <= others;
            no_worse && (percent(a) > percent(b) || time(a) < time(b) || ink(a) < ink(b) || doubts < others)
        };
        let mut front: Vec<&Outlook> =
            likely.iter().copied().filter(|one| !likely.iter().any(|other| beats(other, one))).collect();
        front.sort_by(|a, b| b.share.total_cmp(&a.share).then(time(a).total_cmp(&time(b))));
        let doubts = |outlook: &Outlook| outlook.doubts.len();
        let alike = |a: &Outlook, b: &Outlook| percent(a) == percent(b) && time(a) == time(b) && ink(a) == ink(b);
        front.dedup_by(|a, b| alike(a, b) && doubts(a) == doubts(b));
        front.truncate(MOST_IN_FRONT);
        front.iter().filter_map(|outlook| self.printed(&outlook.values).ok()).collect()
    }
}

/// Adds settings to a list that does not have them.
fn add_new(list: &mut Vec<Values>, more: impl IntoIterator<Item = Values>) {
    for values in more {
        if !list.contains(&values) {
            list.push(values);
        }
    }
}

/// Of two settings, each with whether it passes with room to spare and the number of its doubts: one that does comes first, and of two that do
/// the one that is less in doubt. Others are not ordered by doubts.
pub(super) fn less_in_doubt([(a_spare, a), (b_spare, b)]: [(bool, usize); 2]) -> Ordering {
    b_spare.cmp(&a_spare).then(if a_spare { a.cmp(&b) } else { Ordering::Equal })
}

/// Time of a print, s.
fn time(outlook: &Outlook) -> f64 {
    outlook.used.print_time
}

/// Ink that a chip takes, m^3.
fn ink(outlook: &Outlook) -> f64 {
    outlook.used.ink_per_chip
}
