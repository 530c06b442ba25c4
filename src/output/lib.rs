//! Writes a prediction down: report, summary, tables, maps, terminal text.
//!
//! A result is a folder:
//!
//! | file | what it holds |
//! |---|---|
//! | `report.html` | the report, one file that needs no network |
//! | `summary.json` | everything but the maps, for machines; described in [`summary`] |
//! | `figures.csv` | `figure, name, place, mean, low_95, high_95, sd_between_prints, prints, unit, note`; from 20 prints on `p5, p50, p95, tolerance_low, tolerance_high` (at least `tolerance_content_percent` of all prints with 95 % confidence), `tolerance_basis`; `low_95, high_95` of extremes are those of the median |
//! | `prints.csv` | from 20 prints on, one row a print: `print`, the deviation of each varied input (`stand_off_um`, ...), every figure (`coverage_percent [place]`) |
//! | `importance.csv` | if inputs vary: `figure, place, input, name, share_percent, low_95, high_95, direction`: which share of a figure's variance between prints each input explains; the last row of a figure is what none explains |
//! | `budget.csv` | `fate, region, droplets, solids_percent`, then per powder `particles_*` and `mass_pg_*`; the first row is what left the vial, the others add up to it |
//! | `sizes.csv` | `what, stage, lower_um, upper_um, count, share`: droplets by stage (counted, whatever their mass), each powder as received and as printed |
//! | `profile.csv` | `item, distance_um`, per powder `thickness_*_nm`, `thickness_total_nm, coverage_percent` |
//! | `landing.csv` | `diameter_um, landed_percent, radius_p5_um, radius_p50_um, radius_p95_um, impact_speed_m_s` |
//! | `maps/*.npy` | 32-bit floats, `array[row, column]`, row 0 at the lowest y: `thickness_<powder>_nm`, `height_nm`, `coverage` (0 to 1), `mean_free_paths` (depth for the beam, all layers together), `top_height_nm` if particles were kept |
//! | `maps/far_particles.npy` | 32-bit floats, particles per tile in a print, mean of the prints, over the whole chip; `maps/grid.json` says under `far` where the tiles lie |
//! | `maps/*.png` | the same as pictures, highest y on top; `maps/grid.json` names the value of the brightest colour |
//! | `maps/grid.json` | pitch, origin, axes, files, units |
//! | `particles.npz` | on request: `x_um, y_um, z_um, diameter_um, powder, droplet` |
//! | `run.json` | when and how long, `stages_s` by stage of the prints, added over all threads: the only file that differs when a run is repeated. `files` lists the other files of the result with length and checksum: these alone are removed when a result is replaced |
//!
//! The folder is put together beside its place and renamed, so it is complete or not there (see `place`).

mod arrays;
mod differences;
mod names;
pub mod numbers;
mod own;
pub mod path;
mod picture;
mod place;
pub mod plot;
mod report;
pub mod summary;
pub mod sweep;
mod tables;
pub mod terminal;

pub use place::{check_place, recover};

use motefall_figures::Prediction;
use rayon::prelude::*;
use serde_json::{Map, Value, json};
use std::fs;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Longest side of a picture in `maps/`, pixels; larger maps are averaged down for the picture, never for the array.
const LARGEST_PICTURE: usize = 4096;

/// What has been written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The folder.
    pub dir: PathBuf,
    /// The report in it.
    pub report: PathBuf,
    /// Every file, relative to the folder, in the order of writing.
    pub files: Vec<PathBuf>,
    /// Sum of their sizes, bytes.
    pub bytes: u64,
    /// What else the user has to know: what ended runs had left, what could not be removed.
    pub remarks: Vec<String>,
}

/// Why a result could not be written to its place. Nothing half-written is left behind.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The folder is there already.
    #[error("{} already exists; choose another folder with --out, or pass --overwrite to replace an earlier result", dir.display())]
    Exists {
        /// The folder.
        dir: PathBuf,
    },
    /// The folder is there and is not one of our results.
    #[error(
        "{} exists and is not a result of this program (no {} that lists the files of a result), so it is left alone; \
         choose another folder",
        dir.display(),
        own::LIST
    )]
    NotOurs {
        /// The folder.
        dir: PathBuf,
    },
    /// Not everything in the folder is the result's own.
    #[error(
        "{} holds more than the result that was written there: {}; only the result is ever replaced, so move the rest away, \
         or choose another folder",
        dir.display(),
        listed(others)
    )]
    NotOnlyOurs {
        /// The folder.
        dir: PathBuf,
        /// What else lies there.
        others: Vec<String>,
    },
    /// What stands at the place cannot be moved aside.
    #[error(
        "{} cannot be moved aside for a new result: {source}{}; choose another folder with --out, in a mount point a new \
         one such as {}",
        dir.display(),
        guess(source),
        dir.join("result").display()
    )]
    CannotMove {
        /// The folder.
        dir: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The result is complete, but not at its place.
    #[error("the result is complete, but not at its place: it is in {}. {reason}", kept.display())]
    Elsewhere {
        /// Where it is.
        kept: PathBuf,
        /// Why it is not where it should be.
        reason: Box<OutputError>,
    },
    /// What stood at the place moved aside, and neither the new result nor that itself could get there.
    #[error(
        "cannot rename to {}: {source}. Nothing is lost: what stood there is in {}{}. Mend the cause; \
         the next run into the same folder then puts it right",
        dir.display(),
        old.display(),
        new.as_ref().map(|new| format!(", the new result in {}", new.display())).unwrap_or_default()
    )]
    Stranded {
        /// The place.
        dir: PathBuf,
        /// Where that is which stood there.
        old: PathBuf,
        /// Where the new result is, if there is one.
        new: Option<PathBuf>,
        /// What the system said.
        source: io::Error,
    },
    /// The path names no folder that could be made.
    #[error("\"{}\" does not name a folder that can be made; give a name such as results/first-print", dir.display())]
    NoName {
        /// The path.
        dir: PathBuf,
    },
    /// The place refuses to be written to.
    #[error("cannot write to {}: {source}; choose a folder you may write to with --out", path.display())]
    NotWritable {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// No space left.
    #[error(
        "the disk is full: {} needs {}, and at least {} more must be freed; nothing was left behind",
        file.display(),
        size(*needed),
        size(*missing)
    )]
    DiskFull {
        /// The file that did not fit.
        file: PathBuf,
        /// Its size, bytes.
        needed: u64,
        /// How much of it did not fit, bytes; later files come on top.
        missing: u64,
    },
    /// A file could not be put into its format.
    #[error("cannot make {file}: {reason}")]
    Encode {
        /// The file.
        file: String,
        /// Why.
        reason: String,
    },
}

/// What usually stands behind a folder that cannot be renamed.
fn guess(source: &io::Error) -> &'static str {
    match source.kind() {
        ErrorKind::PermissionDenied => " (a protected folder, or one of another user?)",
        ErrorKind::ResourceBusy => " (a mount point?)",
        _ => "",
    }
}

/// The first few of several names.
fn listed(names: &[String]) -> String {
    const MOST: usize = 5;
    let more = names.len().saturating_sub(MOST);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", names[..names.len().min(MOST)].join(", "))
}

/// A number of bytes in words.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.2} GB", bytes as f64 / 1e9),
    }
}

/// How long a run took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Took {
    /// From begin to end.
    pub whole: Duration,
    /// Each stage of its prints by name, added over all threads.
    pub stages: Vec<(&'static str, Duration)>,
}

impl From<Duration> for Took {
    fn from(whole: Duration) -> Self {
        Self { whole, stages: Vec::new() }
    }
}

/// Writes a prediction into the folder `dir`.
///
/// `scenario` holds the resolved inputs in the scenario's own keys; `took` is how long the run took, if known. The
/// folder should not exist (or be empty), unless `overwrite` says that an earlier result may be replaced; that one is
/// removed only after the new one is in its place. A result is never thrown away for the sake of its place: if that
/// cannot be had, it goes beside it, and the error says where.
pub fn write(
    prediction: &Prediction,
    scenario: &Value,
    dir: &Path,
    overwrite: bool,
    took: Option<&Took>,
) -> Result<Written, OutputError> {
    let mut remarks = recover(dir);
    let (place, work) = place::begin(dir)?;
    let mut folder = Folder { root: work.new_one(), shown: dir.into(), written: vec![], own: vec![], bytes: 0 };
    fill(&mut folder, prediction, scenario, took)?;
    let (files, bytes) = folder.sync()?;
    remarks.extend(place::put(work, &place, overwrite, &place::on_disk)?);
    Ok(Written { dir: dir.into(), report: dir.join("report.html"), files, bytes, remarks })
}

/// The folder being filled.
struct Folder {
    root: PathBuf,
    /// Where it will be, for messages.
    shown: PathBuf,
    /// Name, open file and size of each file.
    written: Vec<(PathBuf, fs::File, u64)>,
    /// The same for the result's list of its own files.
    own: Vec<own::OwnFile>,
    bytes: u64,
}

impl Folder {
    fn add<E: std::fmt::Display>(&mut self, name: &str, content: Result<Vec<u8>, E>) -> Result<(), OutputError> {
        let bytes = content.map_err(|e| OutputError::Encode { file: name.into(), reason: e.to_string() })?;
        let file = write_file(&self.root.join(name), &self.shown.join(name), &bytes)?;
        self.written.push((name.into(), file, bytes.len() as u64));
        self.own.push(own::OwnFile::new(name, &bytes));
        self.bytes += bytes.len() as u64;
        Ok(())
    }

    /// Waits until everything is on the disk (one after the other would wait many times longer); names and size of all.
    fn sync(self) -> Result<(Vec<PathBuf>, u64), OutputError> {
        let mut names = vec![];
        for (name, file, needed) in self.written {
            file.sync_all().map_err(|e| write_error(&self.shown.join(&name), e, needed, needed))?;
            names.push(name);
        }
        Ok((names, self.bytes))
    }
}

/// Writes one file; `shown` is its name in messages.
fn write_file(path: &Path, shown: &Path, bytes: &[u8]) -> Result<fs::File, OutputError> {
    let mut done = 0;
    let result = (|| {
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        let mut file = fs::File::create(path)?;
        while done < bytes.len() {
            match file.write(&bytes[done..]) {
                Ok(0) => return Err(io::Error::from(ErrorKind::WriteZero)),
                Ok(n) => done += n,
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        Ok(file)
    })();
    result.map_err(|e| write_error(shown, e, bytes.len() as u64, (bytes.len() - done) as u64))
}

fn write_error(shown: &Path, source: io::Error, needed: u64, missing: u64) -> OutputError {
    match source.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            OutputError::DiskFull { file: shown.into(), needed, missing }
        }
        _ => OutputError::NotWritable { path: shown.into(), source },
    }
}

fn fill(folder: &mut Folder, p: &Prediction, scenario: &Value, took: Option<&Took>) -> Result<(), OutputError> {
    let slugs = names::slugs(p);
    let maps = names::maps(p);
    let (report, encoded) = rayon::join(
        || report::html(p, scenario),
        || maps.par_iter().map(|map| EncodedMap::new(p, map)).collect::<Vec<EncodedMap>>(),
    );
    folder.add("report.html", report.map(String::into_bytes))?;
    folder.add("summary.json", pretty(&summary::summary(p, scenario)))?;
    folder.add("figures.csv", tables::figures(p))?;
    if differences::are_known(p) {
        folder.add("prints.csv", tables::prints(p))?;
    }
    if p.figures.iter().any(|row| row.distribution.as_ref().is_some_and(|d| !d.explained.is_empty())) {
        folder.add("importance.csv", tables::importance(p))?;
    }
    folder.add("budget.csv", tables::budget(p, &slugs))?;
    folder.add("sizes.csv", tables::sizes(p))?;
    folder.add("profile.csv", tables::profile(p, &slugs))?;
    folder.add("landing.csv", tables::landing(p))?;

    let mut pictures = vec![];
    for (map, EncodedMap { npy, png, brightest }) in maps.iter().zip(encoded) {
        folder.add(&format!("maps/{}", map.npy()), npy)?;
        if let Some(png) = png {
            folder.add(&format!("maps/{}", map.png()), png)?;
            pictures.push(json!({
                "file": map.png(), "brightest_value": brightest, "darkest_value": 0.0, "bare": "black", "unit": map.unit
            }));
        }
    }
    folder.add("maps/far_particles.npy", arrays::far(&p.far))?;
    let mut grid = serde_json::to_value(summary::map_part(p)).unwrap_or_default();
    grid["pictures"] = Value::Array(pictures);
    folder.add("maps/grid.json", pretty(&grid))?;

    if p.inputs.map.write_particles {
        folder.add("particles.npz", arrays::particles_npz(&p.pile))?;
    }
    let seconds = |time: Duration| (time.as_secs_f64() * 1e3).round() / 1e3;
    let stages = |took: &Took| -> Map<String, Value> {
        took.stages.iter().map(|(name, time)| ((*name).to_owned(), seconds(*time).into())).collect()
    };
    let run = json!({
        "format": summary::FORMAT,
        "created": timestamp(SystemTime::now()),
        "took_s": took.map(|took| seconds(took.whole)),
        "stages_s": took.map(stages),
        "files": folder.own,
    });
    folder.add(own::LIST, pretty(&run))
}

/// A map as an array and as a picture, with the value of its brightest colour.
struct EncodedMap {
    npy: Result<Vec<u8>, String>,
    png: Option<Result<Vec<u8>, png::EncodingError>>,
    brightest: f64,
}

impl EncodedMap {
    fn new(p: &Prediction, map: &names::MapFile) -> Self {
        let top = if map.unit.is_empty() { 1.0 } else { picture::top_value(&map.map) };
        let whole = picture::View::of_grid(&p.maps.grid);
        let raster = picture::cut(&p.maps.grid, &map.map, &whole, LARGEST_PICTURE);
        Self {
            npy: arrays::npy(&map.map, map.factor).map_err(|error| error.to_string()),
            png: raster.map(|raster| picture::map_png(&raster.values, top)),
            brightest: numbers::tidy(top * map.factor),
        }
    }
}

fn pretty(value: &impl serde::Serialize) -> Result<Vec<u8>, serde_json::Error> {
    let mut bytes = serde_json::to_vec_pretty(value)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// The summary for `--json`: as in `summary.json`, with `dir` and `report` if a result was written.
pub fn json(prediction: &Prediction, scenario: &Value, written: Option<&Written>) -> Value {
    let mut value = serde_json::to_value(summary::summary(prediction, scenario)).unwrap_or_default();
    if let Some(written) = written {
        value["dir"] = written.dir.display().to_string().into();
        value["report"] = written.report.display().to_string().into();
    }
    value
}

/// Time in UTC as in ISO 8601, e.g. `2026-03-01T12:00:00Z`.
pub fn timestamp(time: SystemTime) -> String {
    let seconds = time.duration_since(SystemTime::UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (year, month, day) = civil_date(seconds / 86_400);
    let (hour, minute, second) = (seconds / 3600 % 24, seconds / 60 % 60, seconds % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

/// Year, month and day of a number of days since 1970-01-01, Gregorian calendar.
fn civil_date(mut days: u64) -> (u64, u64, u64) {
    let leap = |y: u64| y.is_multiple_of(4) && (!y.is_multiple_of(100) || y.is_multiple_of(400));
    let mut year = 1970;
    while days >= 365 + u64::from(leap(year)) {
        days -= 365 + u64::from(leap(year));
        year += 1;
    }
    let lengths = [31, 28 + u64::from(leap(year)), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut month = 0;
    while days >= lengths[month] {
        days -= lengths[month];
        month += 1;
    }
    (year, month as u64 + 1, days + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_follow_the_calendar() {
        // `date -u -d @951782400` gives 2000-02-29.
        let at = |s| timestamp(SystemTime::UNIX_EPOCH + Duration::from_secs(s));
        assert_eq!(at(0), "1970-01-01T00:00:00Z");
        assert_eq!(at(951_782_400 + 3_661), "2000-02-29T01:01:01Z");
        assert_eq!(at(1_798_761_599), "2026-12-31T23:59:59Z");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_named() {
        // The system's own always-full device.
        let error =
            write_file(Path::new("/dev/full"), Path::new("out/report.html"), &[0; 2_000]).expect_err("it is full");
        assert!(matches!(error, OutputError::DiskFull { needed: 2_000, missing: 2_000, .. }), "{error:?}");
        assert!(error.to_string().contains("out/report.html needs 2.0 kB"), "{error}");
    }
}
