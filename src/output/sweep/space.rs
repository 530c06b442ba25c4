//! The settings of a sweep scaled to a unit cube, and the pass probability between its points.

use crate::plot::Scale;
use motefall_figures::sweep::SweepResult;
use motefall_physics::inputs::{Axis, AxisValues};
use statrs::distribution::{ContinuousCDF, Normal};

/// A list is spaced by its logarithm from this ratio of its largest to its smallest value on.
const LOG_FROM: f64 = 10.0;
/// Points that a local plane rests on, per coefficient.
const POINTS_PER_COEFFICIENT: usize = 3;
/// A place is too far from any point beyond so many usual distances between neighbours.
const REACH: f64 = 2.5;
/// Weight of a flat plane against the points' slopes, relative; keeps the plane sound where points lie in a row.
const FLATNESS: f64 = 1e-3;

/// An axis that really varies, scaled so that its lowest value is 0 and its highest 1.
#[derive(Debug, Clone)]
pub(crate) struct Scaled {
    /// Number in the plan.
    pub(crate) axis: usize,
    /// Words with the unit, e.g. `sheath flow, sccm`.
    pub(crate) label: String,
    /// Unit of its values.
    pub(crate) unit: String,
    /// Linear or logarithmic.
    pub(crate) scale: Scale,
    /// Lowest and highest value, in the axis's unit.
    pub(crate) range: [f64; 2],
    /// Distance between neighbouring points along the axis, scaled.
    pub(crate) step: f64,
}

impl Scaled {
    /// From the axis's unit to 0..1.
    pub(crate) fn scaled(&self, value: f64) -> f64 {
        let [low, high] = self.range;
        match self.scale {
            Scale::Linear => (value - low) / (high - low),
            Scale::Log => (value / low).ln() / (high / low).ln(),
        }
    }

    /// From 0..1 to the axis's unit.
    pub(crate) fn value(&self, place: f64) -> f64 {
        let [low, high] = self.range;
        match self.scale {
            Scale::Linear => low + place * (high - low),
            Scale::Log => low * (high / low).powf(place),
        }
    }
}

/// Words for an axis with its unit: `sheath flow, sccm`.
pub(crate) fn label(axis: &Axis) -> String {
    let name = name(axis);
    if axis.unit.is_empty() { name } else { format!("{name}, {}", axis.unit) }
}

/// One part of a key: its words, and which item of a list is meant, by name or as `path 2`.
fn part(text: &str) -> (String, Option<String>) {
    let (word, item) = text.split_once('[').map_or((text, None), |(word, item)| (word, Some(item)));
    let word = word.replace('_', " ");
    let item = item.and_then(|item| item.split(']').next()).map(|item| match item.parse::<u32>() {
        Ok(number) => format!("{word} {number}"),
        Err(_) => item.trim_matches(['\'', '"']).to_string(),
    });
    (word, item)
}

/// The parts of a key; names of items in brackets stay whole.
fn parts(key: &str) -> Vec<&str> {
    let mut depth = 0;
    key.split(|c: char| {
        depth += i32::from(c == '[') - i32::from(c == ']');
        c == '.' && depth == 0
    })
    .collect()
}

/// Words for an axis without the unit: what it is, then of what.
pub(crate) fn name(axis: &Axis) -> String {
    let ending: String = axis
        .unit
        .replace('µ', "u")
        .chars()
        .map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '_' })
        .collect();
    let ending = if axis.unit == "%" { "percent".to_string() } else { ending };
    let key = axis.key.as_str();
    let bare = if ending.is_empty() { key } else { key.strip_suffix(&format!("_{ending}")).unwrap_or(key) };
    let all: Vec<(String, Option<String>)> = parts(bare).into_iter().map(part).collect();
    let (layer, rest) = match &all[..] {
        [(first, layer), rest @ ..] if first == "layer" => (layer.as_deref(), rest),
        rest => (None, rest),
    };
    let (words, of) = match rest {
        [.., (section, _), (what, _)] if section == "flow" => (format!("{what} flow"), None),
        [.., (section, _), (what, _)] if section == "flight" && what == "stand off" => ("stand-off".into(), None),
        [.., (section, Some(powder)), (what, _)] if section == "powder" && what == "mass" => {
            (format!("{powder} in the ink"), None)
        }
        [.., (section, Some(item)), (what, _)] if section == "path" && what == "speed" => {
            ("print speed".into(), Some(item.as_str()))
        }
        [(first, _), (input, _), (what, _)] if first == "spread" && what == "sd" => {
            (format!("spread of {input}"), None)
        }
        [.., (section, item), (what, entry)] => {
            (entry.as_ref().unwrap_or(what).clone(), Some(item.as_ref().unwrap_or(section).as_str()))
        }
        [(what, entry)] => (entry.as_ref().unwrap_or(what).clone(), None),
        [] => (bare.into(), None),
    };
    let of: Vec<&str> = [of, layer].into_iter().flatten().collect();
    if of.is_empty() { words } else { format!("{words} ({})", of.join(", ")) }
}

/// Every combination of values is there once.
#[derive(Debug, Clone)]
pub(crate) struct FullGrid {
    /// Values per axis of the plan, ascending, in the axis's unit.
    pub(crate) levels: Vec<Vec<f64>>,
    /// Index of the point at each place, the last axis fastest.
    pub(crate) point_at: Vec<usize>,
}

/// The grid, if the points fill one.
pub(crate) fn full_grid(result: &SweepResult) -> Option<FullGrid> {
    let axes = result.plan.axes.len();
    if axes == 0 || result.plan.design != motefall_physics::inputs::Design::Grid || result.points.is_empty() {
        return None;
    }
    let mut levels = vec![];
    for i in 0..axes {
        let mut values = vec![];
        for point in &result.points {
            values.push(*point.values.get(i).filter(|v| v.is_finite())?);
        }
        values.sort_by(f64::total_cmp);
        values.dedup();
        levels.push(values);
    }
    let size = levels.iter().try_fold(1usize, |n, l| n.checked_mul(l.len()))?;
    if size != result.points.len() {
        return None;
    }
    let mut point_at = vec![usize::MAX; size];
    for (index, point) in result.points.iter().enumerate() {
        let mut place = 0;
        for (values, value) in levels.iter().zip(&point.values) {
            place = place * values.len() + values.binary_search_by(|v| v.total_cmp(value)).ok()?;
        }
        if point_at[place] != usize::MAX {
            return None;
        }
        point_at[place] = index;
    }
    Some(FullGrid { levels, point_at })
}

/// Pass probability at a place between the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum PassValue {
    /// 0 to 1.
    Share(f64),
    /// The nearest point could not run.
    CannotRun,
    /// Too far from any point.
    Unknown,
}

/// The points in the unit cube of the axes that vary.
#[derive(Debug)]
pub(crate) struct Space {
    /// Axes that vary.
    pub(crate) axes: Vec<Scaled>,
    /// Place of each point.
    pub(crate) places: Vec<Vec<f64>>,
    /// The same, axis by axis.
    columns: Vec<Vec<f64>>,
    /// Share of prints that pass; `None` where the point could not run.
    pub(crate) shares: Vec<Option<f64>>,
    /// The same as deviates of the normal law, between which it is drawn straight; see [`deviate`].
    deviates: Vec<Option<f64>>,
    /// Scaled values per axis and index of the point at each place, if it is a full grid.
    grid: Option<(Vec<Vec<f64>>, Vec<usize>)>,
    /// Points that a local plane rests on.
    pub(crate) neighbours: usize,
    /// Largest distance to the nearest point at which a value is given.
    pub(crate) reach: f64,
}

impl Space {
    /// The points of a sweep.
    pub(crate) fn new(result: &SweepResult) -> Self {
        let grid = full_grid(result);
        let count = result.points.len();
        let mut axes = vec![];
        for (i, axis) in result.plan.axes.iter().enumerate() {
            let planned = match &axis.values {
                AxisValues::List(values) => values.clone(),
                AxisValues::Linear { from, to, .. } | AxisValues::Log { from, to, .. } => vec![*from, *to],
            };
            let met = result.points.iter().filter_map(|p| p.values.get(i).copied());
            let (low, high) = planned
                .into_iter()
                .chain(met)
                .filter(|v| v.is_finite())
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
            let varies = high > low && result.points.iter().any(|p| p.values.get(i) != result.points[0].values.get(i));
            if !varies {
                continue;
            }
            let scale = match axis.values {
                AxisValues::Log { .. } if low > 0.0 => Scale::Log,
                AxisValues::List(_) if low > 0.0 && high / low >= LOG_FROM => Scale::Log,
                _ => Scale::Linear,
            };
            let (label, unit) = (label(axis), axis.unit.clone());
            axes.push(Scaled { axis: i, label, unit, scale, range: [low, high], step: 1.0 });
        }
        let dimensions = axes.len();
        for axis in &mut axes {
            axis.step = match &grid {
                Some(grid) => 1.0 / (grid.levels[axis.axis].len() - 1) as f64,
                None => (count as f64).powf(-1.0 / dimensions as f64),
            };
        }
        let places: Vec<Vec<f64>> = result
            .points
            .iter()
            .map(|p| axes.iter().map(|a| p.values.get(a.axis).map_or(f64::NAN, |v| a.scaled(*v))).collect())
            .collect();
        let counts = || result.points.iter().map(|p| p.outcome.as_ref().ok().filter(|s| s.prints > 0));
        let shares = counts().map(|s| s.map(|s| f64::from(s.met) / f64::from(s.prints))).collect();
        let deviates = counts().map(|s| s.map(|s| deviate(s.met, s.prints, result.plan.wanted_share))).collect();
        let scaled_grid = grid.map(|g| {
            let levels = axes.iter().map(|a| g.levels[a.axis].iter().map(|v| a.scaled(*v)).collect()).collect();
            (levels, g.point_at)
        });
        let reach = if scaled_grid.is_some() { f64::INFINITY } else { REACH * usual_distance(&places) };
        let neighbours = POINTS_PER_COEFFICIENT * (dimensions + 1);
        let columns = (0..dimensions).map(|k| places.iter().map(|p| p[k]).collect()).collect();
        Self { axes, places, columns, shares, deviates, grid: scaled_grid, neighbours, reach }
    }

    /// Whether the points fill a grid.
    pub(crate) fn is_grid(&self) -> bool {
        self.grid.is_some()
    }

    /// Scaled values along an axis of the grid.
    pub(crate) fn levels(&self, axis: usize) -> Option<&[f64]> {
        self.grid.as_ref().map(|(levels, _)| levels[axis].as_slice())
    }

    /// The next point of the grid from a point along an axis, downward or upward: the axis's value there, and its pass probability.
    pub(crate) fn next(&self, point: usize, axis: usize, way: f64) -> Option<(f64, Option<f64>)> {
        let (levels, point_at) = self.grid.as_ref()?;
        let mut index = 0;
        let mut value = 0.0;
        for (k, values) in levels.iter().enumerate() {
            let mut here = values.iter().position(|v| *v == self.places[point][k])?;
            if k == axis {
                here = if way < 0.0 { here.checked_sub(1)? } else { here + 1 };
                value = self.axes[k].value(*values.get(here)?);
            }
            index = index * values.len() + here;
        }
        Some((value, self.shares[point_at[index]]))
    }

    /// Pass probability at a place of the unit cube.
    pub(crate) fn at(&self, place: &[f64]) -> PassValue {
        match &self.grid {
            Some((levels, point_at)) => self.between_levels(levels, point_at, place),
            None => self.local_plane(place),
        }
    }

    /// Linear in each scaled axis between the deviates of the grid's points; corners that could not run are left out unless nearest.
    fn between_levels(&self, levels: &[Vec<f64>], point_at: &[usize], place: &[f64]) -> PassValue {
        let cell: Vec<(usize, f64)> = levels
            .iter()
            .zip(place)
            .map(|(values, at)| {
                let upper = values.partition_point(|v| v < at).clamp(1, values.len() - 1);
                let (a, b) = (values[upper - 1], values[upper]);
                (upper - 1, ((at - a) / (b - a)).clamp(0.0, 1.0))
            })
            .collect();
        let (mut sum, mut weights, mut largest, mut nearest) = (0.0, 0.0, -1.0, None);
        for corner in 0..1usize << levels.len() {
            let (mut weight, mut index) = (1.0, 0);
            for (i, (lower, part)) in cell.iter().enumerate() {
                let up = corner >> i & 1;
                weight *= if up == 1 { *part } else { 1.0 - part };
                index = index * levels[i].len() + lower + up;
            }
            if weight <= 0.0 {
                continue;
            }
            let deviate = self.deviates[point_at[index]];
            if weight > largest {
                (largest, nearest) = (weight, deviate);
            }
            if let Some(deviate) = deviate {
                sum += weight * deviate;
                weights += weight;
            }
        }
        if nearest.is_none() { PassValue::CannotRun } else { PassValue::Share(share(sum / weights)) }
    }

    /// Plane through the deviates of the nearest points that ran, by least squares with weights (1 - (distance/farthest)^3)^3, taken at
    /// the place.
    fn local_plane(&self, place: &[f64]) -> PassValue {
        // The nearest points that ran, nearest first, one more than the plane rests on.
        let mut near: Vec<(f64, usize)> = Vec::with_capacity(self.neighbours + 2);
        let (mut closest, mut closest_ran) = (f64::INFINITY, false);
        let mut squared = vec![0.0; self.places.len()];
        for (column, at) in self.columns.iter().zip(place) {
            squared.iter_mut().zip(column).for_each(|(sum, p)| *sum += (p - at) * (p - at));
        }
        let mut farthest = f64::INFINITY;
        for (i, d) in squared.into_iter().enumerate() {
            if d >= farthest {
                continue;
            }
            let ran = self.shares[i].is_some();
            if d < closest {
                (closest, closest_ran) = (d, ran);
            }
            if ran {
                near.insert(near.partition_point(|n| n.0 <= d), (d, i));
                near.truncate(self.neighbours + 1);
                if near.len() > self.neighbours {
                    farthest = near[self.neighbours].0;
                }
            }
        }
        if closest.sqrt() > self.reach {
            return PassValue::Unknown;
        }
        if !closest_ran {
            return PassValue::CannotRun;
        }
        // The farthest sets the width and has no weight itself; with few points all of them count.
        let width = near.last().map_or(1.0, |n| n.0.sqrt()) * if near.len() > self.neighbours { 1.0 } else { 1.2 };
        let size = place.len() + 1;
        let mut normal = vec![vec![0.0; size + 1]; size];
        let mut row = vec![1.0; size];
        for (d, i) in near {
            let weight = if width > 0.0 { (1.0 - (d.sqrt() / width).powi(3)).max(0.0).powi(3) } else { 1.0 };
            let deviate = self.deviates[i].unwrap_or_default();
            for k in 1..size {
                row[k] = self.places[i][k - 1] - place[k - 1];
            }
            for a in 0..size {
                for b in 0..size {
                    normal[a][b] += weight * row[a] * row[b];
                }
                normal[a][size] += weight * row[a] * deviate;
            }
        }
        let flat = FLATNESS * normal[0][0] * width * width;
        for (k, line) in normal.iter_mut().enumerate().skip(1) {
            line[k] += flat.max(1e-12);
        }
        match solve(normal) {
            Some(plane) => PassValue::Share(share(plane[0])),
            None => PassValue::Unknown,
        }
    }
}

/// Deviate of the normal law below which a share of `met` of `prints` lies. None and all count as half a print from it, or 2 % if that is
/// less; and all as nearer to 1 than to the `wanted` share.
///
/// A figure whose mean moves evenly with a setting, and that varies normally with the same spread, crosses its limit so that the deviate
/// of the pass probability moves evenly, too, while the probability itself falls as an S: drawn straight between 98 % and 60 %, it would
/// put the fall to 90 % far too near.
fn deviate(met: u32, prints: u32, wanted: f64) -> f64 {
    let end = (0.5 / f64::from(prints)).min(0.02).min(0.5 * (1.0 - wanted)).max(1e-9);
    Normal::standard().inverse_cdf((f64::from(met) / f64::from(prints)).clamp(end, 1.0 - end))
}

/// Share below a deviate.
fn share(deviate: f64) -> f64 {
    Normal::standard().cdf(deviate)
}

/// Median distance from a point to its nearest neighbour; from a share of the points if there are many.
fn usual_distance(places: &[Vec<f64>]) -> f64 {
    let every = places.len().div_ceil(500).max(1);
    let mut nearest: Vec<f64> = places
        .iter()
        .enumerate()
        .step_by(every)
        .filter_map(|(i, p)| {
            let others = places.iter().enumerate().filter(|(j, _)| *j != i);
            others.map(|(_, q)| p.iter().zip(q).map(|(a, b)| (a - b) * (a - b)).sum::<f64>()).min_by(f64::total_cmp)
        })
        .map(f64::sqrt)
        .collect();
    nearest.sort_by(f64::total_cmp);
    nearest.get(nearest.len() / 2).copied().unwrap_or(f64::INFINITY)
}

/// Solves a small symmetric system by elimination with pivots; the right side is the last column.
fn solve(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = rows.len();
    for k in 0..n {
        let pivot = (k..n).max_by(|a, b| rows[*a][k].abs().total_cmp(&rows[*b][k].abs()))?;
        rows.swap(k, pivot);
        if rows[k][k].abs() < 1e-300 || rows[k][k].is_nan() {
            return None;
        }
        let (above, below) = rows.split_at_mut(k + 1);
        for row in below {
            let factor = row[k] / above[k][k];
            row[k..].iter_mut().zip(&above[k][k..]).for_each(|(a, b)| *a -= factor * b);
        }
    }
    let mut out = vec![0.0; n];
    for k in (0..n).rev() {
        let rest: f64 = (k + 1..n).map(|j| rows[k][j] * out[j]).sum();
        out[k] = (rows[k][n] - rest) / rows[k][k];
    }
    out.iter().all(|v| v.is_finite()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_have_words_and_not_keys() {
        let axis =
            |key: &str, unit: &str| Axis { key: key.into(), unit: unit.into(), values: AxisValues::List(vec![]) };
        for (key, unit, words) in [
            ("flow.sheath_sccm", "sccm", "sheath flow, sccm"),
            ("path[1].speed_mm_s", "mm/s", "print speed (path 1), mm/s"),
            ("path['electrode fill'].speed_mm_s", "mm/s", "print speed (electrode fill), mm/s"),
            ("layer['bed'].path['a.b'].passes", "", "passes (a.b, bed)"),
            ("layer[2].flow.carrier_sccm", "sccm", "carrier flow (layer 2), sccm"),
            ("flight.stand_off_mm", "mm", "stand-off, mm"),
            ("ink.powder['Na3V2(PO4)3'].mass_percent", "%", "Na3V2(PO4)3 in the ink, %"),
            ("ink.powder[1].density_g_cm3", "g/cm3", "density (powder 1), g/cm3"),
            ("spread.stand_off.sd_um", "µm", "spread of stand off, µm"),
            ("atomiser.droplet_gsd", "", "droplet gsd (atomiser)"),
            ("tube[1].bends_deg[2]", "deg", "bends deg 2 (tube 1), deg"),
        ] {
            assert_eq!(label(&axis(key, unit)), words);
        }
    }

    #[test]
    fn shares_and_deviates_by_hand() {
        // 97.5 % lie below 1.959964; 39 of 40 is 97.5 %, and 40 of 40 counts as 39.5: 98.75 %, 2.241403 (from memory).
        assert!((deviate(39, 40, 0.9) - 1.959_964).abs() < 1e-6);
        assert!((deviate(40, 40, 0.9) - 2.241_403).abs() < 1e-6);
        assert!((deviate(0, 40, 0.9) + 2.241_403).abs() < 1e-6);
        assert!((share(deviate(36, 40, 0.9)) - 0.9).abs() < 1e-10, "{:e}", share(deviate(36, 40, 0.9)) - 0.9);
        // One print that passes, and a wanted share closer to 1 than half a print.
        assert!((share(deviate(1, 1, 0.9)) - 0.98).abs() < 1e-10);
        assert!((share(deviate(40, 40, 0.99)) - 0.995).abs() < 1e-10);
    }

    #[test]
    fn elimination_by_hand() {
        // 2x + y = 5, x + 3y = 10: x = 1, y = 3.
        let x = solve(vec![vec![2.0, 1.0, 5.0], vec![1.0, 3.0, 10.0]]).expect("regular");
        assert!((x[0] - 1.0).abs() < 1e-12 && (x[1] - 3.0).abs() < 1e-12);
        assert!(solve(vec![vec![0.0, 0.0, 1.0], vec![0.0, 0.0, 1.0]]).is_none());
    }
}
