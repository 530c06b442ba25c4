//! Which settings to use: pass probability first, then room to drift.

use super::space::{PassValue, Space};
use motefall_figures::statistics::wilson_95;
use motefall_figures::sweep::SweepResult;
use rayon::prelude::*;

/// Points in the ranking.
const MOST: usize = 10;
/// Candidates judged at a time.
const BLOCK: usize = 32;
/// Standard deviations between prints, from the tightest limit, that count as much in the ranking as room to drift over a whole axis: 2 of
/// them (a normal figure fails once in 44) as much as a fifth. Room to drift alone is read off noisy pass probabilities; this margin is
/// not. A judgement.
pub(super) const SD_PER_AXIS: f64 = 10.0;
/// What the edge of the sweep adds to the room of a point there, at most, scaled: beyond it nobody knows.
const BEYOND: f64 = 0.1;
/// Largest step of the search for the end of the window, scaled.
const STRIDE: f64 = 1.0 / 32.0;

/// How sure it is that a point reaches the wanted share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Its share of passing prints is below the wanted one.
    Below,
    /// Its share reaches the wanted one, the lower end of its interval does not: more prints would tell.
    Likely,
    /// The lower end of its interval reaches the wanted share.
    Sure,
}

/// Why a drift ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The pass probability falls below the wanted share.
    Fails,
    /// Settings that cannot run begin.
    CannotRun,
    /// The sweep ends, or its points are too far away: the margin is at least this.
    Unknown,
}

/// How far one setting can move alone, one way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Distance in the axis scaled to 0..1.
    pub scaled: f64,
    /// Distance in the axis's unit.
    pub distance: f64,
    /// Why it ends there.
    pub end: End,
}

/// A point of the ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// Index in [`SweepResult::points`].
    pub index: usize,
    /// How sure it is.
    pub class: Class,
    /// Share of prints that pass.
    pub(crate) share: f64,
    /// Its Wilson interval.
    pub(crate) interval: [f64; 2],
    /// Scaled room to drift over axes and ways, and the margin to the tightest limit on the same scale, smallest first. Where the sweep
    /// ends before the window does, half a step is added, at most a tenth of the axis; such ends of axes with two values do not count, for
    /// there is nothing between them.
    pub rooms: Vec<f64>,
    /// Per axis of the plan: room downward and upward; `None` for an axis that does not vary.
    pub drifts: Vec<Option<[Drift; 2]>>,
}

/// The ten best points, best first.
///
/// Points whose Wilson interval lies above the wanted share come first, then those whose share reaches it, then the rest. Among the
/// first two kinds the one with more room is better, to drift and from the tightest limit, whichever is less, so that the first sits
/// inside the window; among the rest, the one that passes more often.
pub fn ranked(result: &SweepResult) -> Vec<Ranked> {
    ranked_in(result, &Space::new(result))
}

pub(super) fn ranked_in(result: &SweepResult, space: &Space) -> Vec<Ranked> {
    let wanted = result.plan.wanted_share;
    let mut all: Vec<Ranked> = vec![];
    for (index, point) in result.points.iter().enumerate() {
        let Some(stats) = point.outcome.as_ref().ok().filter(|s| s.prints > 0) else { continue };
        let share = f64::from(stats.met) / f64::from(stats.prints);
        let interval = wilson_95(stats.met.min(stats.prints), stats.prints);
        // A billionth of slack: 0.9 is not a binary fraction.
        let class = match () {
            () if interval[0] + 1e-9 >= wanted => Class::Sure,
            () if share + 1e-9 >= wanted => Class::Likely,
            () => Class::Below,
        };
        let edges = space.axes.iter().zip(&space.places[index]).filter_map(|(axis, at)| {
            let edge = Drift { scaled: at.min(1.0 - at), distance: 0.0, end: End::Unknown };
            Some(room(&edge, axis.step)?.max(edge.scaled))
        });
        let most = edges.fold(1.0, f64::min);
        let rooms = if class == Class::Below { vec![] } else { vec![most] };
        all.push(Ranked { index, class, share, interval, rooms, drifts: vec![] });
    }
    let margin = |r: &Ranked| {
        let stats = result.points[r.index].outcome.as_ref().ok();
        stats.and_then(|s| s.margin_sd).filter(|m| !m.is_nan()).unwrap_or(f64::NEG_INFINITY)
    };
    let order = |a: &Ranked, b: &Ranked| {
        b.class
            .cmp(&a.class)
            .then(compare(&b.rooms, &a.rooms))
            .then(if a.class == Class::Below {
                b.share.total_cmp(&a.share)
            } else {
                b.interval[0].total_cmp(&a.interval[0])
            })
            .then(b.share.total_cmp(&a.share))
            .then(b.interval[0].total_cmp(&a.interval[0]))
            .then(margin(b).total_cmp(&margin(a)))
            .then(a.index.cmp(&b.index))
    };
    // Nothing can have more room than there is to the edges of the sweep: in that order, the search stops when the tenth is better
    // than anything that is left could be.
    all.sort_by(order);
    let mut best: Vec<Ranked> = vec![];
    for block in all.chunks(BLOCK) {
        if let (Some(last), Some(next)) = (best.get(MOST - 1), block.first())
            && (last.class > next.class
                || last.class == next.class && compare(&last.rooms[..last.rooms.len().min(1)], &next.rooms).is_gt())
        {
            break;
        }
        if best.len() >= MOST && block.iter().all(|r| r.class == Class::Below) {
            // Sorted by pass probability already.
            break;
        }
        let judged: Vec<Ranked> = block.par_iter().map(|r| with_drifts(r, result, space, wanted)).collect();
        best.extend(judged);
        best.sort_by(order);
        best.truncate(MOST);
    }
    best
}

fn with_drifts(ranked: &Ranked, result: &SweepResult, space: &Space, wanted: f64) -> Ranked {
    let mut out = ranked.clone();
    out.drifts = vec![None; result.plan.axes.len()];
    if out.class == Class::Below {
        return out;
    }
    let place = &space.places[out.index];
    out.rooms.clear();
    for (k, axis) in space.axes.iter().enumerate() {
        let both = [-1.0, 1.0].map(|way| drift(space, place, k, way, wanted));
        out.rooms.extend(both.iter().filter_map(|d| room(d, axis.step)));
        out.drifts[axis.axis] = Some(both);
    }
    let stats = result.points[out.index].outcome.as_ref().ok();
    out.rooms.extend(stats.and_then(|s| s.margin_sd).filter(|m| m.is_finite()).map(|m| m.max(0.0) / SD_PER_AXIS));
    out.rooms.sort_by(f64::total_cmp);
    out
}

/// Room that a drift counts for in the ranking, scaled; `None` if it does not count.
pub(super) fn room(drift: &Drift, step: f64) -> Option<f64> {
    match drift.end {
        End::Unknown if step > 0.75 => None,
        End::Unknown => Some(drift.scaled + (0.5 * step).min(BEYOND)),
        End::Fails | End::CannotRun => Some(drift.scaled),
    }
}

/// Smallest rooms first; those that differ by rounding only are equal.
fn compare(a: &[f64], b: &[f64]) -> std::cmp::Ordering {
    let rounded = |v: &[f64]| v.iter().map(|r| (r * 1e9).round() as i64).collect::<Vec<_>>();
    rounded(a).cmp(&rounded(b))
}

/// Goes from a point along one axis until the pass probability falls below the wanted share.
pub(super) fn drift(space: &Space, from: &[f64], axis: usize, way: f64, wanted: f64) -> Drift {
    let scaled = &space.axes[axis];
    let start = from[axis];
    let distance = |room: f64| (scaled.value(start + way * room) - scaled.value(start)).abs();
    let done = |room: f64, end: End| Drift { scaled: room, distance: distance(room), end };
    let mut place = from.to_vec();
    let mut at = |room: f64| {
        place[axis] = start + way * room;
        space.at(&place)
    };
    let good = |v: PassValue| matches!(v, PassValue::Share(p) if p + 1e-9 >= wanted);
    if !good(at(0.0)) {
        return done(0.0, End::Fails);
    }
    let to_edge = if way < 0.0 { start } else { 1.0 - start }.max(0.0);
    let stride = STRIDE.min(0.5 * scaled.step);
    let mut inside = 0.0;
    while inside < to_edge {
        let mut outside = (inside + stride).min(to_edge);
        let mut beyond = at(outside);
        if good(beyond) {
            inside = outside;
            continue;
        }
        for _ in 0..12 {
            let middle = 0.5 * (inside + outside);
            let value = at(middle);
            if good(value) {
                inside = middle;
            } else {
                (outside, beyond) = (middle, value);
            }
        }
        let end = match beyond {
            PassValue::Share(_) => End::Fails,
            PassValue::CannotRun => End::CannotRun,
            PassValue::Unknown => End::Unknown,
        };
        return done(inside, end);
    }
    done(to_edge, End::Unknown)
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::sweep::{PointRecord, PointStats};
    use motefall_physics::inputs::{Axis, AxisValues, Chance, Design, PointPrints, SweepPlan};

    /// Points scattered by a multiplicative generator over two axes, passing inside a disc; some cannot run.
    fn disc(points: u64) -> SweepResult {
        let axis = |key: &str| Axis {
            key: key.into(),
            unit: String::new(),
            values: AxisValues::Linear { from: 0.0, to: 1.0, count: 2 },
        };
        let mut state = 1u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let points = (0..points)
            .map(|point| {
                let values = vec![next(), next()];
                let r = (values[0] - 0.6).hypot(values[1] - 0.5);
                let met = (200.0 / (1.0 + ((r - 0.45) / 0.05).exp())).round() as u32;
                let stats = PointStats {
                    prints: 200,
                    met,
                    met_each: vec![],
                    figures: vec![],
                    margin_sd: None,
                    cautions: vec![],
                    print_time: 1.0,
                    ink_used: 1e-9,
                    droplets: 1.0,
                };
                PointRecord { point, outcome: if values[0] > 0.9 { Err("choked".into()) } else { Ok(stats) }, values }
            })
            .collect();
        SweepResult {
            name: String::new(),
            note: String::new(),
            seed: 1,
            resolution: Some(0.5e-6),
            plan: SweepPlan {
                axes: vec![axis("a"), axis("b")],
                design: Design::Sobol(300),
                prints: PointPrints::Fixed(200),
                chance: Chance::Common,
                wanted_share: 0.9,
            },
            limits: vec![],
            places: vec![],
            points,
        }
    }

    #[test]
    fn stopping_early_gives_the_same_ten() {
        let result = disc(300);
        let space = Space::new(&result);
        let early = ranked_in(&result, &space);
        let mut all: Vec<Ranked> = result
            .points
            .iter()
            .enumerate()
            .filter_map(|(index, p)| {
                let stats = p.outcome.as_ref().ok()?;
                let interval = wilson_95(stats.met, stats.prints);
                let share = f64::from(stats.met) / 200.0;
                let class = if interval[0] >= 0.9 { Class::Sure } else { return None };
                let bare = Ranked { index, class, share, interval, rooms: vec![], drifts: vec![] };
                Some(with_drifts(&bare, &result, &space, 0.9))
            })
            .collect();
        all.sort_by(|a, b| {
            compare(&b.rooms, &a.rooms).then(b.interval[0].total_cmp(&a.interval[0])).then(a.index.cmp(&b.index))
        });
        assert!(all.len() > 2 * BLOCK, "enough for the search to stop early: {}", all.len());
        let indices = |r: &[Ranked]| r.iter().map(|r| r.index).collect::<Vec<_>>();
        assert_eq!(indices(&early), indices(&all[..MOST]));
    }

    #[test]
    fn an_edge_of_the_sweep_counts_for_little() {
        let drift = |scaled, end| Drift { scaled, distance: 0.0, end };
        assert_eq!(room(&drift(0.2, End::Unknown), 0.5), Some(0.2 + BEYOND));
        assert_eq!(room(&drift(0.2, End::Unknown), 0.1), Some(0.25));
        assert_eq!(room(&drift(0.2, End::Fails), 0.5), Some(0.2));
        assert_eq!(room(&drift(0.0, End::Unknown), 1.0), None);
        assert_eq!(room(&drift(0.4, End::CannotRun), 1.0), Some(0.4));
    }
}
