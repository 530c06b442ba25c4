//! `sweep.csv` and `sweep.npz`.
//!
//! Columns of `sweep.csv`: `point`; one per axis, headed by its scenario key; `cannot_run` (why; empty if it ran); `prints`,
//! `met` (prints that met every limit), `pass_probability` with `pass_low_95` and `pass_high_95` (0 to 1, Wilson),
//! `margin_sd`, `cautions` (identifiers), `print_time_min`, `ink_ul`, `droplets`; then per figure and place its mean, ends of
//! the interval of the mean and standard deviation between prints: `target.coverage_percent`, `target.coverage_percent_low_95`,
//! `..._high_95`, `..._sd`; extremes of a print besides `..._median` and `..._largest` of the prints, and their interval is that of the median. Figures of the whole print have no place before the point.
//!
//! `sweep.npz` holds the same columns as arrays of the same names, 64-bit floats, NaN for no value (words are left to the
//! table). On a full grid every array has one dimension per axis, in the order of the plan, and `axis.<key>` holds the values along
//! it, ascending; otherwise all are flat, in the order of the points, `axis.<key>` too.

use super::space::full_grid;
use crate::numbers::tidy;
use crate::tables::{cell, table};
use motefall_figures::FigureKind;
use motefall_figures::statistics::{FigureAt, wilson_95};
use motefall_figures::sweep::{PointRecord, PointStats, SweepResult};
use ndarray::{ArrayD, IxDyn};
use ndarray_npy::{NpzWriter, WriteNpzError};
use std::io::Cursor;

/// Name of a figure's column.
fn column((kind, place): &FigureAt) -> String {
    place.as_ref().map_or_else(|| kind.id.to_string(), |place| format!("{place}.{}", kind.id))
}

/// Columns of numbers that every point has.
const NUMBERS: [&str; 5] = ["prints", "met", "pass_probability", "pass_low_95", "pass_high_95"];
/// Columns of numbers after the cautions.
const COST: [&str; 3] = ["print_time_min", "ink_ul", "droplets"];
/// What stands behind the name of a figure in its columns; the last two only for extremes.
const PARTS: [&str; 6] = ["", "_low_95", "_high_95", "_sd", "_median", "_largest"];

/// The parts of a figure.
fn parts(kind: &FigureKind) -> &'static [&'static str] {
    if kind.is_extreme() { &PARTS } else { &PARTS[..4] }
}

/// The stats of a point, if it ran.
fn stats(point: &PointRecord) -> Option<&PointStats> {
    point.outcome.as_ref().ok()
}

/// Prints, prints that passed, share and its interval.
fn pass(stats: Option<&PointStats>) -> [f64; 5] {
    let Some(s) = stats.filter(|s| s.prints > 0) else { return [f64::NAN; 5] };
    let [low, high] = wilson_95(s.met.min(s.prints), s.prints);
    [f64::from(s.prints), f64::from(s.met), f64::from(s.met) / f64::from(s.prints), low, high]
}

fn cost(stats: Option<&PointStats>) -> [f64; 3] {
    stats.map_or([f64::NAN; 3], |s| [s.print_time / 60.0, s.ink_used * 1e9, s.droplets])
}

/// Mean, low, high, sd, and median and largest in the figure's unit.
fn figure(stats: Option<&PointStats>, index: usize, kind: &FigureKind) -> [f64; 6] {
    stats.and_then(|s| s.figures.get(index).copied().flatten()).map_or([f64::NAN; 6], |f| {
        let [median, largest] = f.extremes.unwrap_or([f64::NAN; 2]);
        [f.mean, f.interval[0], f.interval[1], f.sd, median, largest].map(|v| tidy(v * kind.per_si))
    })
}

/// The table.
pub(crate) fn csv(result: &SweepResult) -> Result<Vec<u8>, csv::Error> {
    let mut head = vec!["point".to_string()];
    head.extend(result.plan.axes.iter().map(|a| a.key.clone()));
    head.push("cannot_run".into());
    head.extend(NUMBERS.map(String::from));
    head.extend(["margin_sd".to_string(), "cautions".to_string()]);
    head.extend(COST.map(String::from));
    for place in &result.places {
        head.extend(parts(place.0).iter().map(|part| column(place) + part));
    }
    let rows = result.points.iter().map(|point| {
        let stats = stats(point);
        let mut row = vec![point.point.to_string()];
        row.extend((0..result.plan.axes.len()).map(|i| cell(point.values.get(i).copied().unwrap_or(f64::NAN))));
        row.push(point.outcome.as_ref().err().cloned().unwrap_or_default());
        row.extend(pass(stats).map(cell));
        row.push(stats.and_then(|s| s.margin_sd).map_or_else(String::new, cell));
        row.push(
            stats.map_or_else(String::new, |s| s.cautions.iter().map(|kind| kind.id()).collect::<Vec<_>>().join("; ")),
        );
        row.extend(cost(stats).map(cell));
        for (i, (kind, _)) in result.places.iter().enumerate() {
            row.extend(figure(stats, i, kind).into_iter().take(parts(kind).len()).map(cell));
        }
        row
    });
    table(std::iter::once(head).chain(rows))
}

/// The arrays.
pub(crate) fn npz(result: &SweepResult) -> Result<Vec<u8>, WriteNpzError> {
    let points = &result.points;
    let grid = full_grid(result);
    let (shape, order) = match &grid {
        Some(grid) => (grid.levels.iter().map(Vec::len).collect::<Vec<_>>(), grid.point_at.clone()),
        None => (vec![points.len()], (0..points.len()).collect()),
    };
    let mut npz = NpzWriter::new(Cursor::new(Vec::new()));
    for (i, axis) in result.plan.axes.iter().enumerate() {
        let values: Vec<f64> = match &grid {
            Some(grid) => grid.levels[i].clone(),
            None => points.iter().map(|p| p.values.get(i).copied().unwrap_or(f64::NAN)).collect(),
        };
        npz.add_array(format!("axis.{}", axis.key), &ndarray::Array1::from(values))?;
    }
    let mut add = |name: &str, value: &dyn Fn(&PointRecord) -> f64| {
        let values = order.iter().map(|i| value(&points[*i])).collect();
        let array = ArrayD::from_shape_vec(IxDyn(&shape), values).expect("one point at every place of the shape");
        npz.add_array(name, &array)
    };
    add("point", &|p| p.point as f64)?;
    for (i, name) in NUMBERS.iter().enumerate() {
        add(name, &|p| pass(stats(p))[i])?;
    }
    add("margin_sd", &|p| stats(p).and_then(|s| s.margin_sd).unwrap_or(f64::NAN))?;
    for (i, name) in COST.iter().enumerate() {
        add(name, &|p| cost(stats(p))[i])?;
    }
    for (i, place) in result.places.iter().enumerate() {
        for (k, part) in parts(place.0).iter().enumerate() {
            add(&(column(place) + part), &|p| figure(stats(p), i, place.0)[k])?;
        }
    }
    Ok(npz.finish()?.into_inner())
}
