//! Lines of a store: points in words, with a check of their own bytes.

use motefall_figures::sweep::{FigureStats, PointRecord, PointStats};
use motefall_figures::{CautionKind, FigureKind, kinds};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Before the check at the end of a line.
const CHECK_KEY: &str = ",\"check\":\"";

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
pub(super) fn line(value: &impl Serialize) -> Vec<u8> {
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
pub(super) fn checked(line: &[u8]) -> Result<Vec<u8>, &'static str> {
    if !line.ends_with(b"\n") {
        return Err("it has no end");
    }
    let at = line.len().saturating_sub(CHECK_KEY.len() + "01234567\"}\n".len());
    let (object, found) = line.split_at(at);
    let object = [object, b"}"].concat();
    if ending(&object) == found { Ok(object) } else { Err("its check does not fit what it says") }
}

pub(super) fn known_figure(id: &str) -> Result<&'static FigureKind, String> {
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

/// Parts of a store's file: its first line, and the lines of points in the order of the design.
pub fn store_parts<'a>(header: &'a [u8], lines: &'a BTreeMap<u64, Vec<u8>>) -> Vec<&'a [u8]> {
    std::iter::once(header).chain(lines.values().map(Vec::as_slice)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::testing::{header, record, result};
    use super::*;
    use serde_json::json;

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
}
