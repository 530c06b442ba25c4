//! Works settings out and remembers them.

use super::asked::{Asked, Values};
use super::error::{AdviseError, DeskError};
use crate::atlas::Atlas;
use crate::cautions;
use crate::expected::means_of;
use crate::print::MOST_KEPT;
use crate::progress::Stoppable;
use crate::setting::Setting;
use crate::streams::point_seed;
use crate::sweep::point;
use crate::{Progress, RunError};
use motefall_figures::places;
use motefall_figures::statistics::FigureAt;
use motefall_figures::{BenchUse, CautionKind, Measured};
use motefall_physics::figure_kinds::{Figure, RegionFigure};
use motefall_physics::inputs::{Inputs, Law, Variation, VariedInput};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// File of what was asked and answered, in the folder of an advice.
pub const JOURNAL: &str = "tried.jsonl";
/// Seed of prints that take no part in choosing, as if it were a point of a sweep that has none of this number.
const FRESH_POINT: u64 = u64::MAX;
/// Standard deviation of the stand-off, m, with which settings whose flows and stand-off do not vary are worked out, too: so they share jets
/// with their neighbours, and nothing else comes of it.
const SHARING: f64 = 1e-9;
/// Settings worked out between two looks at whether the user wants to stop, and two writings.
const AT_ONCE: usize = 16;

/// Which prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Chance {
    /// Those by which settings are chosen: print k meets the same chance at every setting.
    Common,
    /// Others, by which the chosen ones are judged.
    Fresh,
}

/// What the expected deposit of a setting is as set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Means {
    /// Figures of the limits and then their drivers, in the order of [`Desk::figures`]; `None` where only prints tell.
    pub(super) figures: Vec<Option<f64>>,
    /// Time and ink of a print, and of a chip with warm-up and change: s, m^3.
    used: [f64; 4],
    /// Chips that a fill is enough for, if a fill is given.
    chips_per_fill: Option<f64>,
    /// What doubts the model there.
    #[serde(with = "ids")]
    pub(super) doubts: Vec<CautionKind>,
}

/// Cautions by their identifiers.
mod ids {
    use motefall_figures::CautionKind;
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(kinds: &[CautionKind], serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(kinds.iter().map(|kind| kind.id()))
    }

    pub(super) fn deserialize<'a, D: Deserializer<'a>>(deserializer: D) -> Result<Vec<CautionKind>, D::Error> {
        let known = |id: &String| CautionKind::of_id(id).ok_or_else(|| D::Error::custom("no such caution"));
        Vec::<String>::deserialize(deserializer)?.iter().map(known).collect()
    }
}

impl Means {
    /// What a chip takes.
    pub(super) fn used(&self) -> BenchUse {
        let [print_time, ink_used, time_per_chip, ink_per_chip] = self.used;
        let chips_per_fill = self.chips_per_fill;
        BenchUse { print_time, ink_used, time_per_chip, ink_per_chip, chips_per_fill, settled: None }
    }
}

/// Figures of a print, in the order of [`Desk::figures`]: the value, and whether it is a lower bound.
pub(super) type OfPrint = Vec<Option<(f64, bool)>>;

/// One answer.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Answer {
    Means(Means),
    Prints(Vec<OfPrint>),
    CannotRun(String),
}

/// A line of the file.
#[derive(Debug, Serialize, Deserialize)]
struct Line {
    values: Values,
    /// Of prints: which, and the first of them.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    chance: Option<Chance>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    first: Option<u32>,
    answer: Answer,
}

/// Numbers that can be compared and found again.
type Key = Vec<u64>;

fn key(values: &[f64]) -> Key {
    values.iter().map(|value| value.to_bits()).collect()
}

#[derive(Debug, Default)]
struct Known {
    means: BTreeMap<Key, Result<Means, String>>,
    prints: BTreeMap<(Key, Chance), Vec<OfPrint>>,
    /// What was asked for so far, and how many prints: what an earlier run made besides must not show.
    looked: BTreeSet<Key>,
    asked: BTreeMap<(Key, Chance), usize>,
    file: Option<File>,
}

/// Works settings out and remembers them.
pub(super) struct Desk<'a> {
    asked: &'a Asked<'a>,
    atlas: &'a Atlas<'a>,
    progress: &'a dyn Progress,
    /// Figures that are told of a setting: of each limit, and behind these of each limit the mean thickness at its place, if it has one.
    pub(super) figures: Vec<FigureAt>,
    /// Place in [`Self::figures`] of the mean thickness at the place of each limit.
    pub(super) drivers: Vec<Option<usize>>,
    known: Mutex<Known>,
    path: PathBuf,
}

impl<'a> Desk<'a> {
    pub(super) fn open(
        asked: &'a Asked<'a>,
        atlas: &'a Atlas<'a>,
        folder: Option<&Path>,
        progress: &'a dyn Progress,
    ) -> Result<Self, DeskError> {
        let places = places::asked(asked.inputs);
        let find = |figure: Figure, place: Option<&str>| {
            places.iter().find(|(kind, own)| kind.figure == figure && own.as_deref() == place).cloned()
        };
        let limits = &asked.inputs.acceptance.limits;
        // Every limit is of a figure that is measured there: the check of the scenario sees to it.
        let mut figures: Vec<FigureAt> =
            limits.iter().map(|limit| (limit.figure.kind(), limit.place.clone())).collect();
        let mut drivers = vec![];
        for limit in limits {
            let driver = find(RegionFigure::MeanThickness.into(), limit.place.as_deref());
            drivers.push(driver.map(|driver| {
                let at = figures.iter().position(|figure| *figure == driver);
                at.unwrap_or_else(|| {
                    figures.push(driver);
                    figures.len() - 1
                })
            }));
        }
        let path = folder.map(|folder| folder.join(JOURNAL)).unwrap_or_default();
        let known = Mutex::default();
        let desk = Self { asked, atlas, progress, figures, drivers, known, path };
        if folder.is_some() {
            desk.read()?;
        }
        Ok(desk)
    }

    /// Reads what is remembered, and keeps the file open for more. What stands behind the last whole line is cut off.
    fn read(&self) -> Result<(), DeskError> {
        let fault = |what| move |source| DeskError::File { what, path: self.path.clone(), source };
        let opened = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&self.path);
        let mut file = opened.map_err(fault("open"))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(DeskError::Busy(self.path.clone())),
            Err(TryLockError::Error(source)) => return Err(fault("lock")(source)),
        }
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(fault("read"))?;
        let head = json!({ "format": "motefall advice 2", "program": env!("CARGO_PKG_VERSION"), "question": self.asked.identity });
        let mut whole = 0;
        let mut known = self.known();
        for line in text.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
            if whole == 0 {
                let same = serde_json::from_str::<Value>(line).is_ok_and(|stored| stored == head);
                if !same {
                    return Err(DeskError::Other(self.path.clone()));
                }
            } else {
                let Ok(line) = serde_json::from_str::<Line>(line) else { break };
                known.take(line);
            }
            whole += line.len();
        }
        file.set_len(whole as u64).map_err(fault("mend"))?;
        file.seek(SeekFrom::End(0)).map_err(fault("read"))?;
        if whole == 0 {
            if !text.is_empty() && !text.starts_with("{\"format\"") {
                return Err(DeskError::Other(self.path.clone()));
            }
            writeln!(file, "{head}").map_err(fault("write"))?;
        }
        known.file = Some(file);
        Ok(())
    }

    /// Takes answers in, and writes them.
    fn take(&self, lines: Vec<Line>) -> Result<(), DeskError> {
        let mut known = self.known();
        let mut text = String::new();
        for line in lines {
            text += &format!("{}\n", serde_json::to_string(&line).expect("numbers and texts can be written"));
            known.take(line);
        }
        if let Some(file) = &mut known.file {
            let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_data());
            written.map_err(|source| DeskError::File { what: "write", path: self.path.clone(), source })?;
        }
        Ok(())
    }

    /// What is expected at settings; `Err` of one says why it cannot run.
    pub(super) fn means(&self, all: &[Values]) -> Result<Vec<Result<Means, String>>, AdviseError> {
        let mut missing: Vec<&Values> = vec![];
        for values in all {
            if !self.known().means.contains_key(&key(values)) && !missing.contains(&values) {
                missing.push(values);
            }
        }
        for some in missing.chunks(AT_ONCE) {
            self.go_on()?;
            let answers: Vec<Result<Answer, RunError>> =
                some.par_iter().map(|values| self.work_means(values)).collect();
            let line = |(values, answer): (&&Values, Result<Answer, RunError>)| -> Result<Line, RunError> {
                Ok(Line { values: (*values).clone(), chance: None, first: None, answer: answer? })
            };
            self.take(some.iter().zip(answers).map(line).collect::<Result<_, _>>()?)?;
            self.progress.advance(some.len() as u64);
        }
        let mut known = self.known();
        known.looked.extend(all.iter().map(|values| key(values)));
        Ok(all.iter().map(|values| known.means[&key(values)].clone()).collect())
    }

    /// At least so many prints of settings, of which the first so many are given; none of one that cannot run.
    pub(super) fn prints(&self, all: &[(Values, Chance, u32)]) -> Result<Vec<Vec<OfPrint>>, AdviseError> {
        let mut given = vec![];
        for (values, chance, count) in all {
            self.go_on()?;
            let found = (key(values), *chance);
            let made = self.known().prints.get(&found).map_or(0, Vec::len) as u32;
            if made < *count && self.means(std::slice::from_ref(values))?[0].is_ok() {
                let answer = self.work_prints(values, *chance, made, count - made)?;
                self.take(vec![Line { values: values.clone(), chance: Some(*chance), first: Some(made), answer }])?;
            }
            let mut known = self.known();
            let asked = known.asked.entry(found.clone()).or_default();
            *asked = (*asked).max(*count as usize);
            let prints = known.prints.get(&found);
            given.push(prints.map_or_else(Vec::new, |prints| prints.iter().take(*count as usize).cloned().collect()));
        }
        Ok(given)
    }

    /// Prints of a setting that were asked for.
    pub(super) fn known_prints(&self, values: &[f64], chance: Chance) -> Vec<OfPrint> {
        let (known, found) = (self.known(), (key(values), chance));
        let asked = known.asked.get(&found).copied().unwrap_or(0);
        known.prints.get(&found).map_or_else(Vec::new, |prints| prints.iter().take(asked).cloned().collect())
    }

    /// Tells what is done next.
    pub(super) fn begin(&self, what: &str, total: Option<u64>) {
        self.progress.begin(what, total);
    }

    /// Tells that so much of it is done.
    pub(super) fn advance(&self) {
        self.progress.advance(1);
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn go_on(&self) -> Result<(), RunError> {
        if self.progress.cancelled() { Err(RunError::Cancelled) } else { Ok(()) }
    }

    fn work_means(&self, values: &[f64]) -> Result<Answer, RunError> {
        let case = match (self.asked.case)(values, 0) {
            Ok(case) => case,
            Err(reason) => return Ok(Answer::CannotRun(reason)),
        };
        let (inputs, used) = (sharing(case.inputs), case.used);
        match Setting::in_atlas(&inputs, self.atlas, &Stoppable(self.progress)) {
            Ok(setting) => {
                let BenchUse { print_time, ink_used, time_per_chip, ink_per_chip, chips_per_fill, .. } =
                    setting.bench_use();
                Ok(Answer::Means(Means {
                    figures: means_of(&setting, &self.figures),
                    used: [print_time, ink_used, time_per_chip, ink_per_chip],
                    chips_per_fill,
                    doubts: cautions::doubts(&setting, used.as_ref()),
                }))
            }
            Err(RunError::Cancelled) => Err(RunError::Cancelled),
            Err(error) => Ok(Answer::CannotRun(error.to_string())),
        }
    }

    fn work_prints(&self, values: &[f64], chance: Chance, first: u32, count: u32) -> Result<Answer, RunError> {
        let mut case = match (self.asked.case)(values, first + count) {
            Ok(case) => case,
            Err(reason) => return Ok(Answer::CannotRun(reason)),
        };
        if chance == Chance::Fresh {
            case.reseed(|seed| point_seed(seed, FRESH_POINT));
        }
        let (places, prints) =
            point::single_prints(&case, self.atlas, MOST_KEPT, [first, count], &Stoppable(self.progress))?;
        let at: Vec<Option<usize>> =
            self.figures.iter().map(|figure| places.iter().position(|place| place == figure)).collect();
        let of_print = |print: Vec<Option<Measured>>| -> OfPrint {
            let told = |at: &Option<usize>| {
                let measured = print[(*at)?]?;
                Some((measured.value(), matches!(measured, Measured::AtLeast(_))))
            };
            at.iter().map(told).collect()
        };
        Ok(Answer::Prints(prints.into_iter().map(of_print).collect()))
    }

    /// Settings of which the expected deposit was asked for.
    pub(super) fn screened(&self) -> usize {
        self.known().looked.len()
    }

    /// Settings of which prints were asked for.
    pub(super) fn printed(&self) -> usize {
        let known = self.known();
        let mut keys: Vec<&Key> = known.asked.keys().map(|(key, _)| key).collect();
        keys.dedup();
        keys.len()
    }

    /// Prints that were asked for.
    pub(super) fn prints_made(&self) -> u64 {
        let known = self.known();
        let made = |(key, asked): (&(Key, Chance), &usize)| {
            known.prints.get(key).map_or(0, |all| all.len().min(*asked) as u64)
        };
        known.asked.iter().map(made).sum()
    }
}

impl Known {
    fn take(&mut self, line: Line) {
        let key = key(&line.values);
        match line.answer {
            Answer::Means(means) => drop(self.means.insert(key, Ok(means))),
            Answer::CannotRun(reason) => drop(self.means.insert(key, Err(reason))),
            Answer::Prints(prints) => {
                let known = self.prints.entry((key, line.chance.unwrap_or(Chance::Common))).or_default();
                // Only what follows on what is known.
                if line.first == Some(known.len() as u32) {
                    known.extend(prints);
                }
            }
        }
    }
}

/// Inputs whose jets are shared with neighbouring settings.
fn sharing(inputs: Inputs) -> Inputs {
    let of_jet = [VariedInput::StandOff, VariedInput::Carrier, VariedInput::Sheath];
    if inputs.spread.iter().any(|variation| of_jet.contains(&variation.input) && variation.sd > 0.0) {
        return inputs;
    }
    let mut inputs = inputs;
    inputs.spread.retain(|variation| variation.input != VariedInput::StandOff);
    inputs.spread.push(Variation { input: VariedInput::StandOff, law: Law::Normal, sd: SHARING });
    inputs
}
