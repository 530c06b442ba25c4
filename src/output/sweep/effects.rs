//! What each setting does on the average.

use super::panel::plot_axis;
use super::space::Space;
use crate::plot::{Dash, Mark, Plot, PlotAxis, Scale, Series};
use crate::words::capital;
use motefall_figures::statistics::{estimate, wilson_95};
use motefall_figures::sweep::{PointStats, SweepResult};

/// Parts of an axis in which the points of a space-filling design are gathered.
const PARTS: usize = 8;

/// What the influence of the axes was judged by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Basis {
    /// Pass probability.
    Pass,
    /// Margin: every point passes equally often.
    Margin,
    /// Nothing differs: order of the scenario.
    Order,
}

/// Points at one value, or in one part, of an axis: mean place and indices.
fn groups(space: &Space, axis: usize) -> Vec<(f64, Vec<usize>)> {
    let count = space.levels(axis).map_or(PARTS, <[f64]>::len);
    let mut out: Vec<Vec<usize>> = vec![vec![]; count];
    for (i, place) in space.places.iter().enumerate() {
        let at = place[axis];
        let group = match space.levels(axis) {
            Some(levels) => levels.partition_point(|v| *v < at),
            None => ((at * PARTS as f64) as usize).min(PARTS - 1),
        };
        if let Some(group) = out.get_mut(group) {
            group.push(i);
        }
    }
    out.into_iter()
        .filter(|g| !g.is_empty())
        .map(|g| (g.iter().map(|i| space.places[*i][axis]).sum::<f64>() / g.len() as f64, g))
        .collect()
}

/// Share of the variance between points that the mean over each axis alone explains, largest first.
pub(crate) fn influence(result: &SweepResult, space: &Space) -> (Vec<(usize, f64)>, Basis) {
    let margins = || {
        let of = |p: &motefall_figures::sweep::PointRecord| {
            p.outcome.as_ref().ok().and_then(|s| s.margin_sd).filter(|m| m.is_finite())
        };
        result.points.iter().map(of).collect::<Vec<_>>()
    };
    for (basis, values) in [(Basis::Pass, space.shares.clone()), (Basis::Margin, margins())] {
        let known: Vec<f64> = values.iter().filter_map(|v| *v).collect();
        if known.len() < 2 {
            continue;
        }
        let mean = known.iter().sum::<f64>() / known.len() as f64;
        let all: f64 = known.iter().map(|v| (v - mean).powi(2)).sum();
        if all < 1e-12 {
            continue;
        }
        let mut out: Vec<(usize, f64)> = (0..space.axes.len())
            .map(|axis| {
                let between: f64 = groups(space, axis)
                    .iter()
                    .map(|(_, members)| {
                        let here: Vec<f64> = members.iter().filter_map(|i| values[*i]).collect();
                        let n = here.len().max(1) as f64;
                        n * if here.is_empty() { 0.0 } else { (here.iter().sum::<f64>() / n - mean).powi(2) }
                    })
                    .sum();
                (axis, between / all)
            })
            .collect();
        out.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        return (out, basis);
    }
    ((0..space.axes.len()).map(|a| (a, 0.0)).collect(), Basis::Order)
}

/// One quantity over every axis.
pub(crate) struct EffectRow {
    /// What it is, with its unit.
    pub(crate) title: String,
    /// One plot per axis.
    pub(crate) plots: Vec<Plot>,
}

/// Short level strokes that mark points on a plot.
pub(crate) fn ticks_through(points: &[[f64; 2]], x: &PlotAxis) -> Vec<[f64; 2]> {
    let [low, high] = x.range;
    points
        .iter()
        .flat_map(|[at, value]| {
            let (a, b) = match x.scale {
                Scale::Linear => (at - 0.018 * (high - low), at + 0.018 * (high - low)),
                Scale::Log => (at / (high / low).powf(0.018), at * (high / low).powf(0.018)),
            };
            [[a, *value], [b, *value], [f64::NAN, f64::NAN]]
        })
        .collect()
}

/// A value of one point and half of its 95 % interval.
type Reading<'a> = dyn Fn(&PointStats) -> Option<(f64, f64)> + 'a;

/// Pass probability, then each limited figure, over every axis.
pub(crate) fn rows(result: &SweepResult, space: &Space) -> Vec<EffectRow> {
    let percent = |met: u32, prints: u32| {
        (prints > 0).then(|| {
            let [low, high] = wilson_95(met.min(prints), prints);
            (100.0 * f64::from(met) / f64::from(prints), 50.0 * (high - low))
        })
    };
    let wanted = [100.0 * result.plan.wanted_share];
    let pass = |s: &PointStats| percent(s.met, s.prints);
    let mut out =
        vec![row(result, space, "Prints that pass every limit", "pass (%)", &pass, &wanted, Some([0.0, 104.0]))];
    let mut seen = vec![];
    for (number, limit) in result.limits.iter().enumerate() {
        let place = result.places.iter().position(|(k, at)| k.figure == limit.figure && *at == limit.place);
        let Some(index) = place.filter(|i| !seen.contains(i)) else { continue };
        seen.push(index);
        let (kind, at) = &result.places[index];
        let reading = move |s: &PointStats| {
            let f = s.figures.get(index).copied().flatten()?;
            Some((f.mean * kind.per_si, 0.5 * (f.interval[1] - f.interval[0]) * kind.per_si))
                .filter(|r| r.0.is_finite() && r.1.is_finite())
        };
        let name = kind.label;
        let title = at.as_ref().map_or_else(|| capital(name), |at| format!("{}, {at}", capital(name)));
        if kind.is_extreme() {
            // A mean would be set by single prints.
            let meets = |s: &PointStats| percent(*s.met_each.get(number)?, s.prints);
            let title = format!("{title}: prints that meet the limit");
            out.push(row(result, space, &title, "prints (%)", &meets, &wanted, Some([0.0, 104.0])));
            continue;
        }
        let unit = kind.unit;
        let label = if unit.is_empty() { "mean".to_string() } else { format!("mean ({unit})") };
        let bounds: Vec<f64> = result
            .limits
            .iter()
            .filter(|l| l.figure == limit.figure && l.place == limit.place)
            .flat_map(|l| [l.min, l.max])
            .flatten()
            .map(|v| v * kind.per_si)
            .collect();
        out.push(row(result, space, &title, &label, &reading, &bounds, None));
    }
    out
}

/// Mean of several points' readings, and half of its 95 % interval.
fn mean_of(read: &[(f64, f64)], is_grid: bool) -> Option<(f64, f64)> {
    if read.is_empty() {
        return None;
    }
    let n = read.len() as f64;
    let mean = read.iter().map(|r| r.0).sum::<f64>() / n;
    // A grid is balanced in the other settings, so only the chance of the prints is left; elsewhere the points differ.
    let half = if is_grid || read.len() == 1 {
        read.iter().map(|r| r.1 * r.1).sum::<f64>().sqrt() / n
    } else {
        let values: Vec<f64> = read.iter().map(|r| r.0).collect();
        estimate(&values).and_then(|e| e.interval).map_or(0.0, |i| i[1] - mean)
    };
    Some((mean, half))
}

fn row(
    result: &SweepResult,
    space: &Space,
    title: &str,
    label: &str,
    reading: &Reading<'_>,
    bounds: &[f64],
    range: Option<[f64; 2]>,
) -> EffectRow {
    let mut low_high = bounds.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)));
    let mut curves = vec![];
    for axis in 0..space.axes.len() {
        let mut means = vec![];
        let mut bars = vec![];
        for (at, members) in groups(space, axis) {
            let here = members.iter().filter_map(|i| result.points[*i].outcome.as_ref().ok());
            let Some((mean, half)) = mean_of(&here.filter_map(reading).collect::<Vec<_>>(), space.is_grid()) else {
                continue;
            };
            let (mut a, mut b) = (mean - half, mean + half);
            if range.is_some() {
                (a, b) = (a.max(0.0), b.min(100.0));
            }
            let x = space.axes[axis].value(at);
            means.push([x, mean]);
            bars.extend([[x, a], [x, b], [f64::NAN, f64::NAN]]);
            low_high = (low_high.0.min(a), low_high.1.max(b));
        }
        curves.push((means, bars));
    }
    let [low, high] = range.unwrap_or_else(|| {
        let pad = 0.06 * (low_high.1 - low_high.0);
        [if low_high.0 >= 0.0 { (low_high.0 - pad).max(0.0) } else { low_high.0 - pad }, low_high.1 + pad]
    });
    let y = PlotAxis::over(label, Scale::Linear, low, high);
    let line = |colour: usize, dash: Dash, points: Vec<[f64; 2]>| Series {
        name: String::new(),
        colour,
        dash,
        mark: Mark::Line(points),
    };
    let plots = curves
        .into_iter()
        .enumerate()
        .map(|(axis, (means, bars))| {
            let x = plot_axis(&space.axes[axis]);
            let mut series: Vec<Series> =
                bounds.iter().map(|b| line(0, Dash::Dashed, vec![[x.range[0], *b], [x.range[1], *b]])).collect();
            let marks = ticks_through(&means, &x);
            series.push(line(2, Dash::Solid, means));
            series.push(line(2, Dash::Solid, bars));
            series.push(line(2, Dash::Solid, marks));
            Plot {
                size: [330.0, 220.0],
                x,
                y: y.clone(),
                series,
                description: format!("{title} over {}", space.axes[axis].label),
            }
        })
        .collect();
    EffectRow { title: title.into(), plots }
}
