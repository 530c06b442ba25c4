//! The folder of a prediction: which files it holds, in which order.

use crate::{OutputError, arrays, differences, names, numbers, picture, report, summary, tables, timestamp};
use motefall_figures::Prediction;
use motefall_figures::calibration::Calibration;
use motefall_files::whole_folder::{Earlier, LIST, MARK, WholeFolder};
use rayon::prelude::*;
use serde_json::{Map, Value, json};
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
    pub(crate) files: Vec<PathBuf>,
    /// Sum of their sizes, bytes.
    pub(crate) bytes: u64,
    /// What else the user has to know: what ended runs had left, what could not be removed.
    pub remarks: Vec<String>,
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
/// folder should not exist (or be empty), unless an earlier result is to be replaced; that one is
/// removed only after the new one is in its place. A result is never thrown away for the sake of its place: if that
/// cannot be had, it goes beside it, and the error says where.
pub fn write(
    prediction: &Prediction,
    scenario: &Value,
    dir: &Path,
    earlier: Earlier,
    took: Option<&Took>,
) -> Result<Written, OutputError> {
    let mut folder = Filling(WholeFolder::begin(dir)?);
    fill(&mut folder, prediction, scenario, took)?;
    let placed = folder.0.put(earlier)?;
    let report = dir.join("report.html");
    Ok(Written { dir: dir.into(), report, files: placed.files, bytes: placed.bytes, remarks: placed.remarks })
}

/// Writes a calibration into the folder `dir`: `file` is the text of its `calibration.toml`.
pub fn write_calibration(
    calibration: &Calibration,
    file: &str,
    dir: &Path,
    earlier: Earlier,
) -> Result<Written, OutputError> {
    let mut folder = Filling(WholeFolder::begin(dir)?);
    folder.add("report.html", Ok::<_, String>(report::calibration(calibration).into_bytes()))?;
    folder.add("calibration.toml", Ok::<_, String>(file.as_bytes().to_vec()))?;
    folder.add("lines.csv", tables::calibration(calibration))?;
    let run = json!({ "format": MARK, "created": timestamp(SystemTime::now()), "files": folder.0.own() });
    folder.add(LIST, pretty(&run))?;
    let placed = folder.0.put(earlier)?;
    let report = dir.join("report.html");
    Ok(Written { dir: dir.into(), report, files: placed.files, bytes: placed.bytes, remarks: placed.remarks })
}

/// The folder being filled.
struct Filling(WholeFolder);

impl Filling {
    fn add<E: std::fmt::Display>(&mut self, name: &str, content: Result<Vec<u8>, E>) -> Result<(), OutputError> {
        let bytes = content.map_err(|e| OutputError::Encode { file: name.into(), reason: e.to_string() })?;
        Ok(self.0.add(name, &bytes)?)
    }
}

fn fill(folder: &mut Filling, p: &Prediction, scenario: &Value, took: Option<&Took>) -> Result<(), OutputError> {
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
    if let Some(knobs) = &p.knobs {
        folder.add("knobs.csv", tables::knobs(knobs))?;
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
    let stages = |took: &Took| -> Map<_, _> {
        took.stages.iter().map(|(name, time)| ((*name).to_owned(), seconds(*time).into())).collect()
    };
    let run = json!({
        "format": MARK,
        "created": timestamp(SystemTime::now()),
        "took_s": took.map(|took| seconds(took.whole)),
        "stages_s": took.map(stages),
        "files": folder.0.own(),
    });
    folder.add(LIST, pretty(&run))
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
