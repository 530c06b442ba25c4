//! Where the points of a sweep are kept: a folder with a text file that only grows, one line a point.
//!
//! `sweep.jsonl` holds a [`Header`] on its first line and then one JSON object a point, in the order of the design. A line is written by one
//! writer and is on the disk before it counts. Each line ends with a check of its own bytes, so that no damage passes for a result: a damaged
//! line does not count, its point is computed again, and at the end the lines are put in order. Numbers are in SI and as short as reads back
//! exactly; what is not finite is null. There is no time and no computer's name in the file, so that a sweep that was killed and resumed
//! leaves the same bytes as one that ran straight. `sweep.lock` is held while a sweep runs.

use crate::sweep::design::Points;
use motefall_figures::statistics::FigureAt;
use motefall_figures::sweep::{FigureStats, PointRecord, PointStats, SweepResult};
use motefall_figures::{CautionKind, FigureKind, kinds};
use motefall_files::plain_file::{self, FileError, UNFINISHED};
use motefall_physics::inputs::{Axis, AxisValues, Chance, Design, Limit, PointPrints, SweepPlan};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Name of the file of points.
pub const FILE: &str = "sweep.jsonl";
/// Name of the lock.
pub const LOCK: &str = "sweep.lock";
/// Says on the first line what the file is.
const FORMAT: &str = "motefall sweep";
/// Version of the layout described here.
const FORMAT_VERSION: u32 = 3;
/// Before the check at the end of a line.
const CHECK_KEY: &str = ",\"check\":\"";
/// Longest line that is read, bytes.
const LONGEST_LINE: u64 = 64_000_000;
/// Differences shown between two scenarios.
const MOST_DIFFERENCES: usize = 12;

/// Why a store cannot be used. Nothing that was stored is lost by any of these.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The folder or a file in it cannot be made, read or written.
    #[error("cannot {what} {}: {source}; {advice}", path.display())]
    File {
        /// What was tried.
        what: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What to do.
        advice: String,
        /// What the system says.
        source: io::Error,
    },
    /// Another sweep runs here.
    #[error("{} is in use by {holder}; wait for it, stop it, or choose another folder with --out", folder.display())]
    InUse {
        /// The folder.
        folder: PathBuf,
        /// Who holds it.
        holder: String,
    },
    /// There is no sweep in the folder.
    #[error("{} holds no sweep (there is no {FILE} in it); give the folder that a sweep wrote", folder.display())]
    NoStore {
        /// The folder.
        folder: PathBuf,
    },
    /// A file in the folder is something that it cannot be.
    #[error("{}: {reason}; remove it, or choose another folder", path.display())]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A line is damaged that cannot be made again from the rest.
    #[error("line {line} of {} is damaged: {reason}; restore the file from a copy, or start in another folder", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: u64,
        /// What is wrong.
        reason: String,
    },
    /// The store was written by another version of the program.
    #[error("{} was written by {stored}, this is {this}: results may differ between versions, so they are not mixed; go on with that version, or start in another folder with --out", path.display())]
    OtherVersion {
        /// The file.
        path: PathBuf,
        /// What wrote it.
        stored: String,
        /// What this is.
        this: String,
    },
    /// The store is of another sweep.
    #[error("{} is of another sweep:\n  {}\nput the scenario and its files back as they were to go on, or start in another folder with --out", path.display(), differences.join("\n  "))]
    OtherSweep {
        /// The file.
        path: PathBuf,
        /// What is different.
        differences: Vec<String>,
    },
}

/// First line of a store.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Header {
    format: String,
    format_version: u32,
    /// Version of the program.
    program: String,
    /// Random generator.
    generator: String,
    /// Which part of the points, e.g. 1 of 1.
    pub shard: Shard,
    /// Points of the whole design.
    pub points: u64,
    /// Seed of the scenario.
    pub seed: u64,
    /// Title.
    pub name: String,
    /// Note.
    pub note: String,
    plan: PlanText,
    limits: Vec<LimitText>,
    /// Figure and place.
    places: Vec<(String, Option<String>)>,
    /// What decides the results: the resolved scenario and the plan.
    identity: Value,
}

/// A part of the points of a design: those whose number from 0, divided by `of`, leaves `number - 1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shard {
    /// From 1.
    pub number: u64,
    /// Number of parts.
    pub of: u64,
}

impl Shard {
    /// Everything.
    pub const WHOLE: Self = Self { number: 1, of: 1 };

    /// Points of this part, of `points`.
    pub fn count(self, points: u64) -> u64 {
        (points + self.of - self.number) / self.of
    }

    /// Point at a place of this part, from 0.
    pub fn point(self, place: u64) -> u64 {
        self.number - 1 + place * self.of
    }
}

impl std::fmt::Display for Shard {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.number, self.of)
    }
}

impl Header {
    /// Header of a sweep's store. The result's points are not looked at.
    pub fn new(result: &SweepResult, points: u64, shard: Shard, identity: Value) -> Self {
        Self {
            format: FORMAT.into(),
            format_version: FORMAT_VERSION,
            program: env!("CARGO_PKG_VERSION").into(),
            generator: crate::streams::GENERATOR_NAME.into(),
            shard,
            points,
            seed: result.seed,
            name: result.name.clone(),
            note: result.note.clone(),
            plan: PlanText::of(&result.plan),
            limits: result.limits.iter().map(LimitText::of).collect(),
            places: result.places.iter().map(|(kind, place)| (kind.id.to_owned(), place.clone())).collect(),
            identity,
        }
    }

    /// Resolution of the figures, m, as it stands in the scenario unless it is swept.
    fn resolution(&self) -> Option<f64> {
        let is_swept = self.plan.plan().axes.iter().any(|axis| axis.key == "map.resolution_um");
        let written = self.identity.pointer("/scenario/map/resolution_um")?.as_f64()?;
        (!is_swept).then_some(written * 1e-6)
    }

    /// The result that it describes, without points; the reason if it cannot be one.
    pub fn result(&self) -> Result<SweepResult, String> {
        let place = |(id, place): &(String, Option<String>)| -> Result<FigureAt, String> {
            Ok((known_figure(id)?, place.clone()))
        };
        Ok(SweepResult {
            name: self.name.clone(),
            note: self.note.clone(),
            seed: self.seed,
            resolution: self.resolution(),
            plan: self.plan.plan(),
            limits: self.limits.iter().map(LimitText::limit).collect::<Result<_, _>>()?,
            places: self.places.iter().map(place).collect::<Result<_, _>>()?,
            points: Vec::new(),
        })
    }

    /// As the first line of the file.
    pub fn line(&self) -> Vec<u8> {
        line(self)
    }

    /// The header of the whole sweep instead of a shard's.
    pub fn of_whole(self) -> Self {
        Self { shard: Shard::WHOLE, ..self }
    }

    /// What a point says that cannot be in a sweep with this header.
    fn check_point(&self, record: &PointRecord, design: &Points) -> Result<(), String> {
        let (point, Shard { number, of }) = (record.point, self.shard);
        if point >= self.points || point % of != number - 1 {
            return Err(format!("it holds point {point}, which is none of this store's"));
        }
        if record.values != design.at(point) {
            return Err(format!("its settings are not those of point {point}"));
        }
        let Ok(PointStats { prints, met, met_each, figures, .. }) = &record.outcome else { return Ok(()) };
        if met_each.len() != self.limits.len() || figures.len() != self.places.len() {
            return Err("it has other limits or figures than the header".into());
        }
        let most = self.plan.most_prints.unwrap_or(self.plan.prints).max(1);
        let n = figures.iter().flatten().map(|figure| figure.n).max().unwrap_or(0);
        if !(1..=most).contains(prints) || n > *prints {
            return Err(format!(
                "it has {prints} prints and a figure of {n}, in a sweep of at most {most} prints a point"
            ));
        }
        if met_each.iter().any(|each| each > prints || met > each) || met > prints {
            return Err(format!("of {prints} prints {met} meet all limits, and {met_each:?} meet each"));
        }
        Ok(())
    }

    fn version(&self) -> String {
        format!("motefall {} (store format {}, {})", self.program, self.format_version, self.generator)
    }

    /// Whether a store with this header may hold points of a sweep with the header `wanted`.
    pub fn check(&self, wanted: &Header, path: &Path) -> Result<(), StoreError> {
        if self.version() != wanted.version() {
            return Err(StoreError::OtherVersion { path: path.into(), stored: self.version(), this: wanted.version() });
        }
        let mut differences = Vec::new();
        if self.seed != wanted.seed {
            differences.push(changed("seed", &self.seed.into(), &wanted.seed.into()));
        }
        compare("", &self.identity, &wanted.identity, &mut differences);
        if differences.is_empty() && (self.points != wanted.points || self.places != wanted.places) {
            differences.push("the design or the list of figures is not the same".into());
        }
        // The seed may stand in the scenario as well.
        differences.dedup();
        if differences.len() > MOST_DIFFERENCES {
            let more = differences.len() - MOST_DIFFERENCES;
            differences.truncate(MOST_DIFFERENCES);
            differences.push(format!("and {more} more differences"));
        }
        if differences.is_empty() { Ok(()) } else { Err(StoreError::OtherSweep { path: path.into(), differences }) }
    }
}

/// Notes where two values differ; lists count from 1 as in scenario keys.
fn compare(key: &str, was: &Value, is: &Value, differences: &mut Vec<String>) {
    match (was, is) {
        (Value::Object(a), Value::Object(b)) => {
            let names = a.keys().chain(b.keys().filter(|name| !a.contains_key(*name)));
            for name in names {
                // The scenario's own keys stand without a prefix.
                let inner = match key {
                    "" | "scenario" => name.clone(),
                    "files" => format!("the fingerprint of {name}"),
                    _ => format!("{key}.{name}"),
                };
                compare(&inner, a.get(name).unwrap_or(&Value::Null), b.get(name).unwrap_or(&Value::Null), differences);
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (k, (a, b)) in a.iter().zip(b).enumerate() {
                compare(&format!("{key}[{}]", k + 1), a, b, differences);
            }
        }
        (a, b) if a != b => differences.push(changed(key, a, b)),
        _ => {}
    }
}

fn changed(key: &str, was: &Value, is: &Value) -> String {
    match (was, is) {
        (Value::Null, is) => format!("{key} was not set, is now {is}"),
        (was, Value::Null) => format!("{key} was {was}, is now not set"),
        (was, is) => format!("{key} was {was}, is now {is}"),
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct PlanText {
    axes: Vec<AxisText>,
    design: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    points: Option<u32>,
    prints: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    most_prints: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    half_width: Option<f64>,
    common_chance: bool,
    wanted_share: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct AxisText {
    key: String,
    unit: String,
    #[serde(flatten)]
    values: ValuesText,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum ValuesText {
    List(Vec<f64>),
    Linear { from: f64, to: f64, count: u32 },
    Log { from: f64, to: f64, count: u32 },
}

impl PlanText {
    fn of(plan: &SweepPlan) -> Self {
        let (design, points) = match plan.design {
            Design::Grid => ("grid", None),
            Design::Sobol(n) => ("sobol", Some(n)),
            Design::LatinHypercube(n) => ("latin-hypercube", Some(n)),
        };
        let (prints, most_prints, half_width) = match plan.prints {
            PointPrints::Fixed(prints) => (prints, None, None),
            PointPrints::Adaptive { round, most, half_width } => (round, Some(most), Some(half_width)),
        };
        let values = |values: &AxisValues| match values {
            AxisValues::List(values) => ValuesText::List(values.clone()),
            AxisValues::Linear { from, to, count } => ValuesText::Linear { from: *from, to: *to, count: *count },
            AxisValues::Log { from, to, count } => ValuesText::Log { from: *from, to: *to, count: *count },
        };
        Self {
            axes: plan
                .axes
                .iter()
                .map(|axis| AxisText { key: axis.key.clone(), unit: axis.unit.clone(), values: values(&axis.values) })
                .collect(),
            design: design.into(),
            points,
            prints,
            most_prints,
            half_width,
            common_chance: plan.chance == Chance::Common,
            wanted_share: plan.wanted_share,
        }
    }

    fn plan(&self) -> SweepPlan {
        let values = |values: &ValuesText| match values {
            ValuesText::List(values) => AxisValues::List(values.clone()),
            ValuesText::Linear { from, to, count } => AxisValues::Linear { from: *from, to: *to, count: *count },
            ValuesText::Log { from, to, count } => AxisValues::Log { from: *from, to: *to, count: *count },
        };
        SweepPlan {
            axes: self
                .axes
                .iter()
                .map(|axis| Axis { key: axis.key.clone(), unit: axis.unit.clone(), values: values(&axis.values) })
                .collect(),
            design: match (self.design.as_str(), self.points) {
                ("sobol", Some(n)) => Design::Sobol(n),
                ("latin-hypercube", Some(n)) => Design::LatinHypercube(n),
                _ => Design::Grid,
            },
            prints: match (self.most_prints, self.half_width) {
                (Some(most), Some(half_width)) => PointPrints::Adaptive { round: self.prints, most, half_width },
                _ => PointPrints::Fixed(self.prints),
            },
            chance: if self.common_chance { Chance::Common } else { Chance::Own },
            wanted_share: self.wanted_share,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct LimitText {
    figure: String,
    place: Option<String>,
    min: Option<f64>,
    max: Option<f64>,
}

impl LimitText {
    fn of(limit: &Limit) -> Self {
        Self { figure: limit.figure.kind().id.into(), place: limit.place.clone(), min: limit.min, max: limit.max }
    }

    fn limit(&self) -> Result<Limit, String> {
        let figure = known_figure(&self.figure)?.figure;
        Ok(Limit { figure, place: self.place.clone(), min: self.min, max: self.max })
    }
}

/// A point as a line.
#[derive(Debug, Serialize, Deserialize)]
struct PointText {
    point: u64,
    values: Vec<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    cannot_run: Option<String>,
    #[serde(default, flatten, skip_serializing_if = "Option::is_none")]
    stats: Option<StatsText>,
}

#[derive(Debug, Serialize, Deserialize)]
struct StatsText {
    prints: u32,
    met: u32,
    met_each: Vec<u32>,
    margin_sd: Option<f64>,
    print_time_s: f64,
    ink_used_m3: f64,
    droplets: f64,
    cautions: Vec<String>,
    /// Mean, ends of the interval, standard deviation; prints.
    figures: Vec<Option<([Option<f64>; 4], u32)>>,
    /// Median and largest of the prints of figures that are extremes, by their place in `figures`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    extremes: Vec<(usize, [f64; 2])>,
}

/// A point as a line of the file, with its end.
pub fn point_line(record: &PointRecord) -> Vec<u8> {
    let finite = |x: f64| x.is_finite().then_some(x);
    let stats = record.outcome.as_ref().ok().map(|stats| StatsText {
        prints: stats.prints,
        met: stats.met,
        met_each: stats.met_each.clone(),
        margin_sd: stats.margin_sd.and_then(finite),
        print_time_s: stats.print_time,
        ink_used_m3: stats.ink_used,
        droplets: stats.droplets,
        cautions: stats.cautions.iter().map(|kind| kind.id().to_owned()).collect(),
        figures: stats
            .figures
            .iter()
            .map(|figure| figure.map(|f| ([f.mean, f.interval[0], f.interval[1], f.sd].map(finite), f.n)))
            .collect(),
        extremes: (0..).zip(&stats.figures).filter_map(|(i, figure)| Some((i, figure.as_ref()?.extremes?))).collect(),
    });
    line(&PointText {
        point: record.point,
        values: record.values.clone(),
        cannot_run: record.outcome.as_ref().err().cloned(),
        stats,
    })
}

/// A value as a line of the file: an object whose last key is a check of the object without it.
fn line(value: &impl Serialize) -> Vec<u8> {
    let mut line = serde_json::to_vec(value).expect("numbers, texts and lists can be written");
    let ending = ending(&line);
    line.pop();
    line.extend(ending);
    line
}

/// What stands in a line instead of the last bracket of an object. CRC-32 notices every single wrong bit and every run of wrong bits up to 32
/// (Peterson & Brown 1961, Cyclic codes for error detection, Proc. IRE 49:228).
fn ending(object: &[u8]) -> Vec<u8> {
    debug_assert!(object.ends_with(b"}"));
    format!("{CHECK_KEY}{:08x}\"}}\n", crc32fast::hash(object)).into_bytes()
}

/// The object of a line without its check; the reason if any byte is not as it was written.
fn checked(line: &[u8]) -> Result<Vec<u8>, &'static str> {
    if !line.ends_with(b"\n") {
        return Err("it has no end");
    }
    let at = line.len().saturating_sub(CHECK_KEY.len() + "01234567\"}\n".len());
    let (object, found) = line.split_at(at);
    let object = [object, b"}"].concat();
    if ending(&object) == found { Ok(object) } else { Err("its check does not fit what it says") }
}

fn known_figure(id: &str) -> Result<&'static FigureKind, String> {
    kinds::kind(id).ok_or_else(|| format!("there is no figure {id}"))
}

fn known_caution(id: &str) -> Result<CautionKind, String> {
    CautionKind::of_id(id).ok_or_else(|| format!("there is no caution {id}"))
}

/// Reads a line back.
pub fn read_point(line: &[u8]) -> Result<PointRecord, String> {
    let text: PointText = serde_json::from_slice(&checked(line)?).map_err(|error| error.to_string())?;
    let outcome = match (text.stats, text.cannot_run) {
        (None, Some(reason)) => Err(reason),
        (Some(stats), None) => Ok(PointStats {
            prints: stats.prints,
            met: stats.met,
            met_each: stats.met_each,
            figures: stats
                .figures
                .into_iter()
                .enumerate()
                .map(|(i, figure)| {
                    figure.map(|(values, n)| {
                        let [mean, low, high, sd] = values.map(|value| value.unwrap_or(f64::NAN));
                        let extremes = stats.extremes.iter().find(|(place, _)| *place == i).map(|(_, e)| *e);
                        FigureStats { mean, interval: [low, high], sd, n, extremes }
                    })
                })
                .collect(),
            margin_sd: stats.margin_sd,
            cautions: stats.cautions.iter().map(|id| known_caution(id)).collect::<Result<_, _>>()?,
            print_time: stats.print_time_s,
            ink_used: stats.ink_used_m3,
            droplets: stats.droplets,
        }),
        _ => return Err("it holds neither figures nor why the point cannot run".into()),
    };
    Ok(PointRecord { point: text.point, values: text.values, outcome })
}

/// A store open for writing.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    file: File,
    /// Length of what is complete.
    length: u64,
    /// Points that were not stored when it was opened, in the order of the design.
    missing: Vec<u64>,
    /// Points stored.
    stored: u64,
    order: Order,
    /// Dropped last: while it lives nobody else writes here.
    _lock: File,
}

/// Whether the lines of a store stand as in a sweep that ran straight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Order {
    Design,
    /// Points whose lines were damaged stand behind later ones.
    Mixed,
}

/// What was found when a store was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// Nothing: a new store.
    New,
    /// Points of the same sweep.
    Same {
        /// How many.
        points: u64,
        /// Bytes of a last line that was not complete and has been cut off; 0 in general.
        cut: u64,
        /// Lines that did not count and have been taken out.
        damaged: Vec<DamagedLine>,
        /// Unfinished files of an ended run that have been removed.
        leftovers: usize,
    },
}

/// A line that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DamagedLine {
    /// The file.
    pub path: PathBuf,
    /// Line, from 1.
    pub line: u64,
    /// Point whose place it is, if there is one.
    pub point: Option<u64>,
    /// What is wrong.
    pub reason: String,
}

impl std::fmt::Display for DamagedLine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { path, line, point, reason } = self;
        let place = point.map_or_else(String::new, |point| format!(", where point {point} belongs,"));
        write!(f, "line {line} of {}{place} is damaged and does not count: {reason}", path.display())
    }
}

impl Store {
    /// Opens the store in a folder, or makes it. `who` tells others which process holds it.
    pub fn open(folder: &Path, header: &Header, who: &str) -> Result<(Self, Found), StoreError> {
        let fault = |what, path: &Path, advice: &str| {
            let path = path.to_owned();
            let advice = advice.to_owned();
            move |source| StoreError::File { what, path, advice, source }
        };
        let choose = "choose another folder with --out";
        fs::create_dir_all(folder).map_err(fault("make the folder", folder, choose))?;
        let lock = lock(folder, who)?;
        let leftovers = remove_leftovers(folder);
        let path = folder.join(FILE);
        let is_new = !path.try_exists().map_err(fault("read", &path, choose))?;
        if is_new {
            write_whole(&path, &[&header.line()]).map_err(fault("write", &path, choose))?;
        }
        let mut reader = Reader::new(&path)?;
        reader.header.check(header, &path)?;
        if reader.header.shard != header.shard {
            let differences = vec![format!("--shard was {}, is now {}", reader.header.shard, header.shard)];
            return Err(StoreError::OtherSweep { path, differences });
        }
        let Survey { mut order, damaged, torn } = Survey::new(&mut reader)?;
        if !damaged.is_empty() {
            write_sound_lines(&path)?;
            order = Order::Design;
        }
        let opened = OpenOptions::new().read(true).write(true).open(&path);
        let mut file = opened.map_err(fault("open", &path, choose))?;
        if torn > 0 && damaged.is_empty() {
            let cut = file.set_len(reader.read - torn).and_then(|()| file.sync_all());
            cut.map_err(fault("repair", &path, "check its permissions"))?;
        }
        let length = file.seek(SeekFrom::End(0)).map_err(fault("read", &path, choose))?;
        let all = (0..header.shard.count(header.points)).map(|place| header.shard.point(place));
        let points = reader.points;
        let missing: Vec<u64> = all.filter(|point| !points.contains(point)).collect();
        if missing.first() < points.last() && !missing.is_empty() {
            order = Order::Mixed;
        }
        let stored = points.len() as u64;
        let found = if is_new { Found::New } else { Found::Same { points: stored, cut: torn, damaged, leftovers } };
        Ok((Self { path, file, length, missing, stored, order, _lock: lock }, found))
    }

    /// Points that were not stored when it was opened, in the order of the design.
    pub fn missing(&self) -> &[u64] {
        &self.missing
    }

    /// Points stored.
    pub fn stored(&self) -> u64 {
        self.stored
    }

    /// Puts the lines in the order of the design, when all points are stored.
    pub fn finish(self) -> Result<(), StoreError> {
        if self.order == Order::Mixed {
            write_sound_lines(&self.path)?;
        }
        Ok(())
    }

    /// Adds lines of points; when it returns they are on the disk.
    pub fn append(&mut self, lines: &[Vec<u8>]) -> Result<(), StoreError> {
        let bytes = lines.concat();
        if let Err(source) = append(&mut self.file, &bytes) {
            // What does not fit is taken back as far as the system lets us; a rest is cut off on resuming.
            let _ = self.file.set_len(self.length);
            let _ = self.file.seek(SeekFrom::Start(self.length));
            let advice = format!(
                "{} points are safe there; make room or mend the cause, then run the same command again: it goes on from there",
                self.stored
            );
            return Err(StoreError::File { what: "add to", path: self.path.clone(), advice, source });
        }
        self.length += bytes.len() as u64;
        self.stored += lines.len() as u64;
        Ok(())
    }
}

/// Something that bytes can be written to for good.
trait Sink: Write {
    fn keep(&mut self) -> io::Result<()>;
}

impl Sink for File {
    fn keep(&mut self) -> io::Result<()> {
        self.sync_data()
    }
}

fn append(sink: &mut impl Sink, bytes: &[u8]) -> io::Result<()> {
    sink.write_all(bytes)?;
    sink.keep()
}

/// Removes what a run that was killed while writing a file has left; nobody else writes here while the lock is held. Their number.
fn remove_leftovers(folder: &Path) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    let is_left = |entry: &fs::DirEntry| {
        entry.file_name().to_string_lossy().starts_with(UNFINISHED)
            && entry.file_type().is_ok_and(|kind| kind.is_file())
    };
    entries.flatten().filter(is_left).filter(|entry| fs::remove_file(entry.path()).is_ok()).count()
}

/// Writes a file beside its place, and then puts it there.
pub fn write_whole(path: &Path, parts: &[&[u8]]) -> io::Result<()> {
    let folder = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    // Temporary files are private by default; this one is as open as any file the user makes.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.prefix(UNFINISHED).tempfile_in(folder)?;
    for part in parts {
        file.write_all(part)?;
    }
    file.as_file().sync_all()?;
    file.persist(path)?;
    if let Ok(folder) = File::open(folder) {
        // Some file systems cannot sync a folder; the file is complete either way.
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Writes a store anew with the lines of it that count, in the order of the design.
fn write_sound_lines(path: &Path) -> Result<(), StoreError> {
    let mut reader = Reader::new(path)?;
    let header = reader.header.line();
    let mut lines = BTreeMap::new();
    while let Some(entry) = reader.next_entry()? {
        if let Entry::Point(record, line) = entry {
            lines.insert(record.point, line);
        }
    }
    let parts: Vec<&[u8]> = std::iter::once(&header).chain(lines.values()).map(Vec::as_slice).collect();
    // A link stays a link.
    let written = path.canonicalize().and_then(|path| write_whole(&path, &parts));
    let advice = "nothing is lost: make room or mend the cause, then run the same command again";
    written.map_err(|source| StoreError::File { what: "repair", path: path.into(), advice: advice.into(), source })
}

/// How the text in the lock begins.
const HOLDER: &str = "process ";

fn lock(folder: &Path, who: &str) -> Result<File, StoreError> {
    let path = folder.join(LOCK);
    let fault = |what, source| StoreError::File {
        what,
        path: path.clone(),
        advice: "choose another folder with --out".into(),
        source,
    };
    let not_ours = |reason: &str| StoreError::NotOurs { path: path.clone(), reason: reason.into() };
    let options = || OpenOptions::new().read(true).write(true).clone();
    let opened = match options().create_new(true).open(&path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            // Behind a link lies a file of somebody else.
            let kind = path.symlink_metadata().map_err(|source| fault("read", source))?.file_type();
            if !kind.is_file() {
                return Err(not_ours("it is not a sweep's lock, but a link, a folder or a device"));
            }
            options().open(&path)
        }
        opened => opened,
    };
    let mut file = opened.map_err(|source| fault("write", source))?;
    let mut holder = Vec::new();
    match file.try_lock() {
        Ok(()) => {
            (&file).take(100).read_to_end(&mut holder).map_err(|source| fault("read", source))?;
            if !holder.is_empty() && !holder.starts_with(HOLDER.as_bytes()) {
                return Err(not_ours("it is not a sweep's lock: it holds something else"));
            }
            // Only for others to read: no harm if it cannot be written.
            let text = format!("{HOLDER}{who}\n");
            let written = file.set_len(0).and_then(|()| file.rewind()).and_then(|()| file.write_all(text.as_bytes()));
            let _ = written.and_then(|()| file.sync_data());
            Ok(file)
        }
        Err(TryLockError::WouldBlock) => {
            let _ = (&file).take(100).read_to_end(&mut holder);
            let holder = String::from_utf8_lossy(&holder);
            let holder = if holder.trim().is_empty() { "another sweep" } else { holder.trim() };
            Err(StoreError::InUse { folder: folder.into(), holder: holder.into() })
        }
        Err(TryLockError::Error(source)) => Err(fault("lock", source)),
    }
}

/// What stands in a store behind its header.
#[derive(Debug)]
pub enum Entry {
    /// A point, with its line.
    Point(PointRecord, Vec<u8>),
    /// A line that is not as it was written.
    Damaged(DamagedLine),
    /// So many bytes at the end that are no complete line: the rest of a write that was cut short.
    Torn(u64),
}

/// Reads the lines of a store one after another and checks what they say.
#[derive(Debug)]
pub struct Reader {
    /// Header.
    pub header: Header,
    /// Bytes read so far.
    read: u64,
    /// Points read so far.
    points: BTreeSet<u64>,
    path: PathBuf,
    design: Points,
    lines: BufReader<File>,
    /// Lines read so far.
    count: u64,
}

impl Reader {
    /// Opens the store in a folder.
    pub fn in_folder(folder: &Path) -> Result<Self, StoreError> {
        Self::new(&folder.join(FILE))
    }

    fn new(path: &Path) -> Result<Self, StoreError> {
        let file = plain_file::open(path).map_err(|error| match error {
            FileError::Missing => StoreError::NoStore { folder: path.parent().unwrap_or(path).into() },
            FileError::Unreadable(source) => unreadable(path, source),
            error => StoreError::NotOurs { path: path.into(), reason: error.to_string() },
        })?;
        let mut lines = BufReader::new(file);
        let (first, read) = read_line(&mut lines).map_err(|source| unreadable(path, source))?;
        let damaged = |reason: String| StoreError::Damaged { path: path.into(), line: 1, reason };
        let header = match checked(&first) {
            Ok(object) => read_header(&object, path)?,
            // Stores of the first version had no checks.
            Err(reason) => match serde_json::from_slice::<Value>(&first) {
                Ok(value) if value["format_version"] == 1 => read_header(&first, path)?,
                _ if first.starts_with(b"{\"format\":\"motefall") => return Err(damaged(reason.into())),
                _ => return Err(damaged("it is not the beginning of a sweep's store".into())),
            },
        };
        let plan = header.result().map_err(damaged)?.plan;
        let design = Points::new(&plan, header.seed).map_err(damaged)?;
        let Shard { number, of } = header.shard;
        if number == 0 || number > of || header.points != design.count() {
            return Err(damaged("its points are not those of its plan".into()));
        }
        Ok(Self { header, read, points: BTreeSet::new(), path: path.into(), design, lines, count: 1 })
    }

    /// What is next; `None` at the end.
    pub fn next_entry(&mut self) -> Result<Option<Entry>, StoreError> {
        let (line, length) = read_line(&mut self.lines).map_err(|source| unreadable(&self.path, source))?;
        if length == 0 {
            return Ok(None);
        }
        self.read += length;
        self.count += 1;
        let is_last = self.lines.fill_buf().map_err(|source| unreadable(&self.path, source))?.is_empty();
        if is_last && !line.ends_with(b"\n") {
            return Ok(Some(Entry::Torn(length)));
        }
        let sound = if length > line.len() as u64 {
            Err(format!("it is longer than {} MB, the most that is read", LONGEST_LINE / 1_000_000))
        } else {
            read_point(&line).and_then(|record| self.header.check_point(&record, &self.design).map(|()| record))
        };
        let sound = sound.and_then(|record| match self.points.insert(record.point) {
            true => Ok(record),
            false => Err(format!("it holds point {}, which stands further up", record.point)),
        });
        Ok(Some(match sound {
            Ok(record) => Entry::Point(record, line),
            Err(reason) => {
                let Header { shard, points, .. } = self.header;
                let point = Some(shard.point(self.count - 2)).filter(|point| *point < points);
                Entry::Damaged(DamagedLine { path: self.path.clone(), line: self.count, point, reason })
            }
        }))
    }
}

/// A line with its end, and how many bytes it has; of a longer one than any of a store only the beginning.
fn read_line(lines: &mut BufReader<File>) -> io::Result<(Vec<u8>, u64)> {
    let mut line = Vec::new();
    let mut length = lines.take(LONGEST_LINE).read_until(b'\n', &mut line)? as u64;
    if length == LONGEST_LINE && !line.ends_with(b"\n") {
        length += lines.skip_until(b'\n')? as u64;
    }
    Ok((line, length))
}

fn read_header(object: &[u8], path: &Path) -> Result<Header, StoreError> {
    let damaged = |reason: String| StoreError::Damaged { path: path.into(), line: 1, reason };
    let value: Value = serde_json::from_slice(object).map_err(|error| damaged(error.to_string()))?;
    if value["format"] != FORMAT {
        return Err(damaged("it is not the beginning of a sweep's store".into()));
    }
    // A store from another version may have other fields.
    if value["format_version"] != FORMAT_VERSION {
        let text = |key: &str| value[key].as_str().unwrap_or("?").to_owned();
        return Err(StoreError::OtherVersion {
            path: path.into(),
            stored: format!("motefall {} (store format {})", text("program"), value["format_version"]),
            this: format!("motefall {} (store format {FORMAT_VERSION})", env!("CARGO_PKG_VERSION")),
        });
    }
    serde_json::from_value(value).map_err(|error| damaged(error.to_string()))
}

fn unreadable(path: &Path, source: io::Error) -> StoreError {
    StoreError::File { what: "read", path: path.into(), advice: "check its permissions".into(), source }
}

/// What a store holds besides its points.
struct Survey {
    order: Order,
    damaged: Vec<DamagedLine>,
    torn: u64,
}

impl Survey {
    fn new(reader: &mut Reader) -> Result<Self, StoreError> {
        let mut survey = Self { order: Order::Design, damaged: Vec::new(), torn: 0 };
        while let Some(entry) = reader.next_entry()? {
            match entry {
                Entry::Point(record, _) if reader.points.last() > Some(&record.point) => survey.order = Order::Mixed,
                Entry::Point(..) => {}
                Entry::Damaged(line) => survey.damaged.push(line),
                Entry::Torn(bytes) => survey.torn = bytes,
            }
        }
        Ok(survey)
    }
}

/// The whole result in a folder; points that are not there yet are left out.
pub fn read_result(folder: &Path) -> Result<SweepResult, StoreError> {
    let mut reader = Reader::in_folder(folder)?;
    let damaged = |line, reason| StoreError::Damaged { path: folder.join(FILE), line, reason };
    let mut result = reader.header.result().map_err(|reason| damaged(1, reason))?;
    while let Some(entry) = reader.next_entry()? {
        match entry {
            Entry::Point(record, _) => result.points.push(record),
            Entry::Damaged(DamagedLine { line, reason, .. }) => return Err(damaged(line, reason)),
            Entry::Torn(_) => {}
        }
    }
    Ok(result)
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::RegionFigure;
    use serde_json::json;

    fn result() -> SweepResult {
        let axis = |key: &str, values| Axis { key: key.into(), unit: "µm".into(), values };
        SweepResult {
            name: "n".into(),
            note: "invented".into(),
            seed: 3,
            resolution: Some(0.5e-6),
            plan: SweepPlan {
                axes: vec![
                    axis("a.b", AxisValues::List(vec![0.1, 2.0])),
                    axis("c", AxisValues::Log { from: 0.5, to: 8.0, count: 3 }),
                ],
                design: Design::Grid,
                prints: PointPrints::Adaptive { round: 5, most: 20, half_width: 0.05 },
                chance: Chance::Own,
                wanted_share: 0.9,
            },
            limits: vec![Limit {
                figure: RegionFigure::Coverage.into(),
                place: Some("t".into()),
                min: Some(0.3),
                max: None,
            }],
            places: vec![(RegionFigure::Coverage.kind(), Some("t".into()))],
            points: Vec::new(),
        }
    }

    fn header(identity: Value) -> Header {
        Header::new(&result(), 6, Shard::WHOLE, identity)
    }

    fn design() -> Points {
        Points::new(&result().plan, 3).expect("a design")
    }

    fn record(point: u64) -> PointRecord {
        let figure = FigureStats {
            mean: 0.1 + 0.2,
            interval: [1.0 / 3.0, 5e-324],
            sd: 1e23 / 7.0,
            n: 5,
            extremes: Some([0.1 + 0.7, 1e-5 / 3.0]),
        };
        PointRecord {
            point,
            values: design().at(point),
            outcome: Ok(PointStats {
                prints: 5,
                met: 4,
                met_each: vec![4],
                figures: vec![Some(figure)],
                margin_sd: Some(-0.1),
                cautions: vec![CautionKind::LangRange],
                print_time: 1.2345678901234567,
                ink_used: 1.1e-10 / 3.0,
                droplets: 1234.5,
            }),
        }
    }

    #[test]
    fn what_is_read_is_what_was_written() {
        let back = header(json!({"scenario": {"x": 0.1}})).result().expect("a result");
        assert_eq!((back.plan, back.places.len(), back.limits[0].min), (result().plan, 1, Some(0.3)));
        let same = |record: &PointRecord| assert_eq!(read_point(&point_line(record)).as_ref(), Ok(record));
        same(&record(5));
        same(&PointRecord { outcome: Err("the jet is choked:\n\"quotes\" and all".into()), ..record(0) });
        // Any number reads back exactly.
        let mut rng = crate::streams::stream(1, 0, 0, crate::streams::Purpose::Design);
        for _ in 0..20_000 {
            let x = f64::from_bits(rand::Rng::next_u64(&mut rng));
            if x.is_finite() {
                same(&PointRecord { values: vec![x], outcome: Err(String::new()), point: 0 });
            }
        }
        let mut odd = record(0);
        if let Ok(PointStats { figures, .. }) = &mut odd.outcome {
            figures[0] =
                Some(FigureStats { mean: f64::NAN, interval: [0.0, f64::INFINITY], sd: 0.0, n: 1, extremes: None });
        }
        let line = String::from_utf8(point_line(&odd)).expect("text");
        assert!(line.contains("[[null,0.0,null,0.0],1]"), "{line}");
        assert!(read_point(line.as_bytes()).is_ok());
    }

    fn open(folder: &Path, identity: Value) -> Result<(Store, Found), StoreError> {
        Store::open(folder, &header(identity), "1, since noon")
    }

    fn same(points: u64, cut: u64) -> Found {
        Found::Same { points, cut, damaged: Vec::new(), leftovers: 0 }
    }

    #[test]
    fn unfinished_files_of_an_ended_run_are_removed_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a folder");
        drop(open(folder.path(), json!({})).expect("a new store"));
        let at = |name: &str| folder.path().join(name);
        for name in [".motefall-part-Ab3dE", ".motefall-notes", "notes.txt"] {
            fs::write(at(name), "x").expect("writable");
        }
        fs::create_dir(at(".motefall-part-folder")).expect("writable");
        let (_store, found) = open(folder.path(), json!({})).expect("it is the same");
        assert_eq!(found, Found::Same { points: 0, cut: 0, damaged: Vec::new(), leftovers: 1 });
        assert!(!at(".motefall-part-Ab3dE").exists());
        assert!([".motefall-notes", "notes.txt", ".motefall-part-folder"].iter().all(|name| at(name).exists()));
    }

    #[test]
    fn a_torn_line_is_cut() {
        let folder = tempfile::tempdir().expect("a folder");
        let lines: Vec<Vec<u8>> = (0..3).map(|point| point_line(&record(point))).collect();
        let (mut store, found) = open(folder.path(), json!({})).expect("a new store");
        assert_eq!(found, Found::New);
        store.append(&lines[..2]).expect("room");
        store.append(&lines[2..]).expect("room");
        drop(store);
        let path = folder.path().join(FILE);
        let whole = fs::read(&path).expect("a file");
        assert_eq!(whole, [header(json!({})).line(), lines.concat()].concat());
        // Cut anywhere in the last line, even before its end only.
        for cut in [1, 2, 50, lines[2].len() - 1] {
            fs::write(&path, &whole[..whole.len() - cut]).expect("written");
            let (mut store, found) = open(folder.path(), json!({})).expect("repaired");
            assert_eq!(found, same(2, (lines[2].len() - cut) as u64));
            store.append(&lines[2..]).expect("room");
            drop(store);
            assert!(fs::read(&path).expect("a file") == whole);
        }
        // A disk that lost power may leave zeros.
        fs::write(&path, [&whole[..], &[0; 100]].concat()).expect("written");
        assert_eq!(open(folder.path(), json!({})).expect("repaired").1, same(3, 100));
        fs::write(&path, "something else\n").expect("written");
        assert!(open(folder.path(), json!({})).expect_err("no store").to_string().contains("line 1 of"));
        // A header without its end is no header, whatever follows.
        let cut = header(json!({})).line().len() - 1;
        for bytes in [&whole[..cut], &[&whole[..cut], &whole[cut + 1..]].concat()] {
            fs::write(&path, bytes).expect("written");
            let error = open(folder.path(), json!({})).expect_err("damaged").to_string();
            assert!(error.contains("line 1 of") && error.contains("restore the file from a copy"), "{error}");
            assert!(fs::read(&path).expect("a file") == bytes, "nothing is changed");
        }
    }

    /// Lines of all points of the design; one cannot run, and its reason holds letters that a flipped bit turns into the end of a line.
    fn all_lines() -> Vec<Vec<u8>> {
        let odd = PointRecord { outcome: Err("J*J".into()), ..record(2) };
        (0..6).map(|point| if point == 2 { point_line(&odd) } else { point_line(&record(point)) }).collect()
    }

    /// Opens the store, adds what is missing, and gives what was found and what is there at the end.
    fn repaired(folder: &Path) -> Result<(Found, Vec<u8>), StoreError> {
        let (mut store, found) = open(folder, json!({}))?;
        let lines: Vec<Vec<u8>> = store.missing().iter().map(|point| all_lines()[*point as usize].clone()).collect();
        store.append(&lines)?;
        assert_eq!(store.stored(), 6);
        store.finish()?;
        Ok((found, fs::read(folder.join(FILE)).expect("a file")))
    }

    #[test]
    fn no_flipped_bit_is_taken_for_a_result() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(FILE);
        let (head, lines) = (header(json!({})).line(), all_lines());
        let whole = [&head[..], &lines.concat()].concat();
        for bit in 0..whole.len() * 8 {
            let mut damaged = whole.clone();
            damaged[bit / 8] ^= 1 << (bit % 8);
            fs::write(&path, &damaged).expect("written");
            let Ok(mut reader) = Reader::new(&path) else {
                assert!(bit / 8 < head.len(), "bit {bit} is not in the header");
                continue;
            };
            assert!(bit / 8 >= head.len(), "bit {bit} of the header is taken");
            let (mut sound, mut noticed) = (0, 0);
            while let Some(entry) = reader.next_entry().expect("readable") {
                match entry {
                    Entry::Point(record, line) => {
                        assert!(line == lines[record.point as usize], "bit {bit} is taken");
                        sound += 1;
                    }
                    Entry::Damaged(_) | Entry::Torn(_) => noticed += 1,
                }
            }
            // The end of a line that is gone makes two lines one.
            assert!(noticed > 0 && sound >= 4, "bit {bit}: {sound} points, {noticed} lines noticed");
        }
    }

    #[test]
    fn damaged_lines_are_named_and_made_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(FILE);
        let (head, lines) = (header(json!({})).line(), all_lines());
        let whole = [&head[..], &lines.concat()].concat();
        // The ends of all lines, and bits here and there.
        let ends = (head.len()..whole.len()).filter(|at| whole[*at] == b'\n').map(|at| 8 * at);
        for bit in (head.len() * 8..whole.len() * 8).step_by(509).chain(ends) {
            let mut damaged = whole.clone();
            damaged[bit / 8] ^= 1 << (bit % 8);
            fs::write(&path, &damaged).expect("written");
            let (found, after) = repaired(folder.path()).expect("repaired");
            assert!(after == whole, "bit {bit}");
            assert!(!matches!(found, Found::Same { cut: 0, damaged, .. } if damaged.is_empty()), "bit {bit}");
        }
        // Swapped lines are in the wrong order, a line that stands twice counts once, a point of another sweep not at all.
        let other = point_line(&PointRecord { values: vec![0.3, 0.5], ..record(4) });
        let [a, b, c] = [&lines[0][..], &lines[1], &lines[4]];
        for (changed, words) in [
            (vec![b, a], ""),
            (
                vec![a, b, b],
                "line 4 of {}, where point 2 belongs, is damaged and does not count: it holds point 1, which stands further up",
            ),
            (
                vec![a, &other, c],
                "line 3 of {}, where point 1 belongs, is damaged and does not count: its settings are not those of point 4",
            ),
        ] {
            fs::write(&path, [&head[..], &changed.concat()].concat()).expect("written");
            let (found, after) = repaired(folder.path()).expect("repaired");
            assert!(after == whole, "{words}");
            let Found::Same { damaged, .. } = found else { panic!("it is not new") };
            let told: Vec<String> = damaged.iter().map(ToString::to_string).collect();
            assert_eq!(told.concat(), words.replace("{}", &path.display().to_string()));
        }
        // Stopped before the lines are in order, it goes on.
        fs::write(&path, [&head[..], b, a, c].concat()).expect("written");
        let (mut store, _) = open(folder.path(), json!({})).expect("sound");
        store.append(&[lines[2].clone()]).expect("room");
        drop(store);
        let (found, after) = repaired(folder.path()).expect("sound");
        assert_eq!(found, same(4, 0));
        assert!(after == whole);
    }

    #[test]
    fn a_point_that_cannot_be_does_not_count() {
        let header = header(json!({}));
        let with = |change: &dyn Fn(&mut PointStats)| {
            let mut record = record(1);
            change(record.outcome.as_mut().expect("it ran"));
            header.check_point(&record, &design()).err().unwrap_or_default()
        };
        assert_eq!(with(&|_| ()), "");
        assert!(with(&|stats| stats.met = 6).contains("of 5 prints 6 meet all limits"));
        assert!(with(&|stats| stats.met_each = vec![6]).contains("[6] meet each"));
        assert!(with(&|stats| stats.met_each = vec![3]).contains("[3] meet each"), "all limits in 4, one of them in 3");
        assert!(with(&|stats| stats.met_each = vec![4, 4]).contains("other limits"));
        assert!(with(&|stats| stats.figures.push(None)).contains("other limits or figures"));
        assert!(with(&|stats| stats.prints = 21).contains("at most 20 prints"));
        assert!(with(&|stats| stats.figures[0].as_mut().expect("there").n = 6).contains("a figure of 6"));
        let of = |record: PointRecord| header.check_point(&record, &design()).expect_err("refused");
        assert!(of(PointRecord { point: 6, ..record(1) }).contains("point 6, which is none of this store's"));
        assert!(of(PointRecord { point: 2, ..record(1) }).contains("settings are not those of point 2"));
    }

    #[cfg(unix)]
    #[test]
    fn what_is_no_plain_file_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let (own, place) = (folder.path().join("own.txt"), folder.path().join("a"));
        fs::create_dir(&place).expect("made");
        fs::write(&own, "kept").expect("written");
        let refused = |words: &str| {
            let error = open(&place, json!({})).expect_err("refused").to_string();
            assert!(error.contains(words), "{error}");
            assert_eq!(fs::read_to_string(&own).expect("there"), "kept");
        };
        std::os::unix::fs::symlink(&own, place.join(LOCK)).expect("made");
        refused("it is not a sweep's lock, but a link");
        fs::remove_file(place.join(LOCK)).expect("removed");
        fs::hard_link(&own, place.join(LOCK)).expect("made");
        refused("it is not a sweep's lock: it holds something else");
        fs::remove_file(place.join(LOCK)).expect("removed");
        for (target, words) in [("/dev/zero", "it is a device, not a file"), ("/", "it is a folder, not a file")] {
            std::os::unix::fs::symlink(target, place.join(FILE)).expect("made");
            refused(words);
            assert!(Reader::in_folder(&place).expect_err("refused").to_string().contains(words));
            fs::remove_file(place.join(FILE)).expect("removed");
        }
    }

    #[test]
    fn another_sweep_or_version_is_refused_with_the_difference() {
        let folder = tempfile::tempdir().expect("a folder");
        let identity = |sheath: f64| json!({"scenario": {"flow": {"sheath_sccm": sheath}, "path": [{"speed_mm_s": 2.0}]}, "sweep": {"prints": 5}});
        drop(open(folder.path(), identity(40.0)).expect("a new store"));
        let error = open(folder.path(), identity(50.5)).expect_err("refused").to_string();
        assert!(error.contains("flow.sheath_sccm was 40.0, is now 50.5"), "{error}");
        let mut other = identity(40.0);
        other["scenario"]["path"][0]["speed_mm_s"] = json!(3);
        other["sweep"]["prints"] = json!(6);
        let error = open(folder.path(), other).expect_err("refused").to_string();
        assert!(error.contains("path[1].speed_mm_s was 2.0, is now 3\n  sweep.prints was 5, is now 6"), "{error}");
        let mut later = header(identity(40.0));
        later.program = "9.9.9".into();
        let error = Store::open(folder.path(), &later, "").expect_err("refused").to_string();
        assert!(error.contains("motefall 9.9.9") && error.contains("not mixed"), "{error}");
        let path = folder.path().join(FILE);
        // The first version had no checks at the ends of lines.
        let mut first = header(identity(40.0));
        first.format_version = 1;
        let mut text = serde_json::to_vec(&first).expect("it can be written");
        text.push(b'\n');
        for bytes in [text, first.line()] {
            fs::write(&path, bytes).expect("written");
            let error = open(folder.path(), identity(40.0)).expect_err("refused").to_string();
            assert!(error.contains("store format 1"), "{error}");
        }
    }

    #[test]
    fn one_writer_at_a_time() {
        let folder = tempfile::tempdir().expect("a folder");
        let first = open(folder.path(), json!({})).expect("a new store");
        let error = open(folder.path(), json!({})).expect_err("in use").to_string();
        assert!(error.contains("in use by process 1, since noon"), "{error}");
        drop(first);
        assert!(open(folder.path(), json!({})).is_ok());
    }

    #[test]
    fn a_full_disk_takes_nothing_from_what_is_stored() {
        let folder = tempfile::tempdir().expect("a folder");
        let (mut store, _) = open(folder.path(), json!({})).expect("a new store");
        store.append(&[point_line(&record(0))]).expect("room");
        // A device that is always full stands in for the file.
        let Ok(full) = OpenOptions::new().write(true).open("/dev/full") else { return };
        let file = std::mem::replace(&mut store.file, full);
        let error = store.append(&[point_line(&record(1))]).expect_err("no room").to_string();
        assert!(error.contains("1 points are safe") && error.contains("run the same command again"), "{error}");
        store.file = file;
        store.append(&[point_line(&record(1))]).expect("room again");
        drop(store);
        assert_eq!(open(folder.path(), json!({})).expect("sound").1, same(2, 0));
    }

    #[test]
    fn shards_share_the_points_out() {
        for (points, of) in [(10, 3), (16, 16), (2, 5), (0, 2)] {
            let mut all: Vec<u64> = (1..=of)
                .flat_map(|number| {
                    let shard = Shard { number, of };
                    (0..shard.count(points)).map(move |place| shard.point(place))
                })
                .collect();
            all.sort_unstable();
            assert_eq!(all, (0..points).collect::<Vec<_>>());
        }
    }
}
