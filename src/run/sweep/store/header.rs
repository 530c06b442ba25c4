//! The first line of a store: which sweep it is of.

use super::line::{known_figure, line};
use super::plan::{LimitText, PlanText};
use super::{Shard, StoreError};
use crate::sweep::design::Points;
use motefall_figures::statistics::FigureAt;
use motefall_figures::sweep::{PointRecord, PointStats, SweepResult};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::Path;

/// Says on the first line what the file is.
const FORMAT: &str = "motefall sweep";
/// Version of the layout described here.
const FORMAT_VERSION: u32 = 3;
/// Differences shown between two scenarios.
const MOST_DIFFERENCES: usize = 12;

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
    pub(crate) shard: Shard,
    /// Points of the whole design.
    pub(crate) points: u64,
    /// Seed of the scenario.
    pub(crate) seed: u64,
    /// Title.
    pub(crate) name: String,
    /// Note.
    pub(crate) note: String,
    plan: PlanText,
    limits: Vec<LimitText>,
    /// Figure and place.
    places: Vec<(String, Option<String>)>,
    /// What decides the results: the resolved scenario and the plan.
    identity: Value,
}

impl Header {
    /// Header of a sweep's store. The result's points are not looked at.
    pub(crate) fn new(result: &SweepResult, points: u64, shard: Shard, identity: Value) -> Self {
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
    pub(crate) fn result(&self) -> Result<SweepResult, String> {
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

    /// Reads the object of a first line.
    pub(super) fn read(object: &[u8], path: &Path) -> Result<Self, StoreError> {
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

    /// As the first line of the file.
    pub(crate) fn line(&self) -> Vec<u8> {
        line(self)
    }

    /// The header of the whole sweep instead of a shard's.
    pub(crate) fn of_whole(self) -> Self {
        Self { shard: Shard::WHOLE, ..self }
    }

    /// What a point says that cannot be in a sweep with this header.
    pub(super) fn check_point(&self, record: &PointRecord, design: &Points) -> Result<(), String> {
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
    pub(crate) fn check(&self, wanted: &Header, path: &Path) -> Result<(), StoreError> {
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

#[cfg(test)]
mod tests {
    use super::super::testing::{design, header, open, record};
    use super::super::{FILE, Store};
    use super::*;
    use serde_json::json;
    use std::fs;

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
}
