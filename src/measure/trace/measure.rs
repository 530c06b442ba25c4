//! A trace across a line: levelled, then read.

use super::{Trace, read};
use crate::error::MeasureError;
use crate::figure::{Figure, Value, Values};
use crate::line::half_height;
use motefall_figures::profile::{smooth, smoothing};

/// Most points that a trace is resampled to.
const MOST_POINTS: usize = 20_000;
/// How far from the middle of the line, in its widths at half height, ground begins: a bell has fallen to 0.2 % of its peak there. The
/// others are tried, too, to see what the choice does.
const GROUND_FROM: [f64; 3] = [1.5, 1.25, 2.0];
/// Least part of the trace that must be ground on each side.
const LEAST_GROUND: f64 = 0.05;
/// Least height of a peak over the noise of the smoothed ground.
const LEAST_PEAK: f64 = 5.0;

/// A measured trace.
#[derive(Debug, Clone)]
pub struct TraceMeasured {
    /// Figures.
    pub values: Values,
    /// Tilt that was levelled, m per m.
    pub tilt: f64,
    /// Scatter of the ground about its straight line, m.
    pub noise: f64,
    /// Length over which the peak was smoothed, m.
    pub smoothed_over: f64,
    /// Distance between points, m.
    pub step: f64,
}

/// How well a profilometer is calibrated: standard deviations, as shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibrated {
    /// Of distances.
    pub distance: f64,
    /// Of heights.
    pub height: f64,
}

/// Measures a trace.
pub fn measure_trace(bytes: &[u8], calibrated: Calibrated) -> Result<TraceMeasured, MeasureError> {
    let (heights, step) = even(&read(bytes)?);
    let read = levelled(&heights, GROUND_FROM[0])?;
    let shapes: Vec<Shape> = GROUND_FROM
        .iter()
        .filter_map(|from| levelled(&heights, *from).ok())
        .filter_map(|levelled| Shape::of(&levelled, 1.0))
        .collect();
    let shape = Shape::of(&read, 1.0).ok_or_else(|| no_peak("it does not fall to half on both sides"))?;
    let smoothings: Vec<Shape> = [0.5, 2.0].iter().filter_map(|factor| Shape::of(&read, *factor)).collect();
    // Grains make the line itself rougher than the ground.
    let single = read.noise.max(shape.scatter);
    let noise = single / ((2 * shape.half_window + 1) as f64).sqrt();
    if shape.peak < LEAST_PEAK * noise {
        return Err(no_peak("nothing stands out of the noise of the ground"));
    }
    let value = |of: fn(&Shape) -> f64, chance: f64, unit: f64, calibration: f64| {
        let range = |all: &[Shape]| {
            let values = || all.iter().map(of).chain([of(&shape)]);
            0.5 * (values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)) / 3f64.sqrt() * unit
        };
        Value {
            value: of(&shape) * unit,
            chance: chance * unit,
            threshold: range(&shapes),
            focus: range(&smoothings),
            scale: calibration * of(&shape) * unit,
            overlap: 0.0,
            at_least: false,
        }
    };
    // An edge moves by the noise over its slope; the peak, half of which is the level, by as much again.
    let width_chance = noise / shape.slope * (2.0 + 0.5f64).sqrt();
    let points = shape.points as f64;
    let ground = read.ground as f64;
    // Each point by its own noise, and all by that of the ground's line.
    let section_chance = (single * single * points + (read.noise * points).powi(2) / ground).sqrt();
    let values = Values::from([
        (Figure::WidthHalf, value(|s| s.width, width_chance, step, calibrated.distance)),
        (Figure::PeakHeight, value(|s| s.peak, noise, 1.0, calibrated.height)),
        (Figure::Section, value(|s| s.section, section_chance, step, calibrated.distance.hypot(calibrated.height))),
    ]);
    Ok(TraceMeasured {
        values,
        tilt: read.tilt / step,
        noise: read.noise,
        smoothed_over: (2 * shape.half_window + 1) as f64 * step,
        step,
    })
}

fn no_peak(why: &str) -> MeasureError {
    MeasureError::NoPeak {
        why: why.into(),
        remedy: "trace across the line, from bare ground to bare ground, for at least four times its width",
    }
}

/// Heights at even distances, and the distance between them, m.
fn even(trace: &Trace) -> (Vec<f64>, f64) {
    let last = trace.distance.len() - 1;
    let length = trace.distance[last] - trace.distance[0];
    let mut steps: Vec<f64> = trace.distance.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let count = ((length / steps[steps.len() / 2]).round() as usize).clamp(10, MOST_POINTS - 1);
    let step = length / count as f64;
    let mut below = 0;
    let at = |k: usize| {
        let distance = (trace.distance[0] + k as f64 * step).min(trace.distance[last]);
        while below + 2 < trace.distance.len() && trace.distance[below + 1] < distance {
            below += 1;
        }
        let (a, b) = (trace.distance[below], trace.distance[below + 1]);
        let share = (distance - a) / (b - a);
        trace.height[below] + share * (trace.height[below + 1] - trace.height[below])
    };
    ((0..=count).map(at).collect(), step)
}

/// Heights above ground.
struct Levelled {
    heights: Vec<f64>,
    /// Middle and width at half height, points.
    middle: f64,
    width: f64,
    tilt: f64,
    noise: f64,
    /// Points of ground.
    ground: usize,
}

/// Levels by the straight line through what lies farther from the line's middle than so many of its widths, which is found again and again.
fn levelled(raw: &[f64], from: f64) -> Result<Levelled, MeasureError> {
    let n = raw.len();
    let end = (n / 10).max(3);
    let mut is_ground: Vec<bool> = (0..n).map(|k| k < end || k >= n - end).collect();
    let mut found = None;
    for _ in 0..6 {
        let (tilt, offset) = straight(raw, &is_ground);
        let heights: Vec<f64> = raw.iter().enumerate().map(|(k, h)| h - offset - tilt * k as f64).collect();
        let half = half_height(&heights).ok_or_else(|| no_peak("nothing rises above its ends"))?;
        let sides = half.ends.map(|end| end.is_some());
        let Some([left, right]) = half.both() else {
            let side = if sides[0] { "at its end" } else { "at its begin" };
            return Err(no_peak(&format!("it does not fall to half of its peak {side}")));
        };
        let (middle, width) = (0.5 * (left + right), right - left);
        is_ground = (0..n).map(|k| (k as f64 - middle).abs() > from * width).collect();
        let [before, after] = [(0..middle as usize), (middle as usize..n)]
            .map(|part| part.filter(|k| is_ground[*k]).count() as f64 / n as f64);
        if before < LEAST_GROUND || after < LEAST_GROUND {
            return Err(no_peak("there is too little bare ground beside it to level by"));
        }
        let ground = is_ground.iter().filter(|ground| **ground).count();
        let squares: f64 = heights.iter().zip(&is_ground).filter(|(_, ground)| **ground).map(|(h, _)| h * h).sum();
        let noise = (squares / (ground as f64 - 2.0).max(1.0)).sqrt();
        found = Some(Levelled { heights, middle, width, tilt, noise, ground });
    }
    found.ok_or_else(|| no_peak("it cannot be levelled"))
}

/// Slope and offset of the best-fit straight line.
fn straight(raw: &[f64], is_used: &[bool]) -> (f64, f64) {
    let points =
        || raw.iter().zip(is_used).enumerate().filter(|(_, (_, used))| **used).map(|(k, (h, _))| (k as f64, *h));
    let n = points().count() as f64;
    let (x, y) = (points().map(|p| p.0).sum::<f64>() / n, points().map(|p| p.1).sum::<f64>() / n);
    let xx: f64 = points().map(|p| (p.0 - x).powi(2)).sum();
    let xy: f64 = points().map(|p| (p.0 - x) * (p.1 - y)).sum();
    let slope = if xx > 0.0 { xy / xx } else { 0.0 };
    (slope, y - slope * x)
}

/// What is read off a levelled trace, in points and m.
struct Shape {
    width: f64,
    peak: f64,
    /// Sum of heights, m.
    section: f64,
    /// Steepness at half height, m per point.
    slope: f64,
    half_window: usize,
    points: usize,
    /// Scatter about the smoothed trace within the line, m.
    scatter: f64,
}

impl Shape {
    /// `factor` widens the smoothing that the peak is read with.
    fn of(levelled: &Levelled, factor: f64) -> Option<Self> {
        let reach = GROUND_FROM[0] * levelled.width;
        let last = levelled.heights.len() - 1;
        let from = (levelled.middle - reach).floor().max(0.0) as usize;
        let to = ((levelled.middle + reach).ceil() as usize).min(last);
        let part = &levelled.heights[from..=to];
        let half_window = ((smoothing(part) as f64 * factor).round() as usize).max(1);
        let smoothed = smooth(part, half_window);
        let peak = smoothed.iter().copied().fold(f64::MIN, f64::max);
        // The level is half of this peak, so the width follows the smoothing.
        let above = |pair: &[f64]| {
            let (a, b) = (pair[0] - 0.5 * peak, pair[1] - 0.5 * peak);
            match (a >= 0.0, b >= 0.0) {
                (true, true) => 1.0,
                (false, false) => 0.0,
                _ => a.max(b) / (a - b).abs(),
            }
        };
        let width: f64 = part.windows(2).map(above).sum();
        let slope = peak / width.max(1.0);
        let squares: f64 = part.iter().zip(&smoothed).map(|(h, s)| (h - s).powi(2)).sum();
        let scatter = (squares / part.len() as f64).sqrt();
        (width > 0.0 && peak > 0.0).then(|| Self {
            width,
            peak,
            section: part.iter().sum(),
            slope,
            half_window,
            points: part.len(),
            scatter,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bell of 800 nm, 30 µm wide (standard deviation), on a tilted ground with ripples.
    fn trace(ripple: f64, to: f64) -> Vec<u8> {
        let mut text = "distance_um,height_nm\n".to_owned();
        for k in 0..(to / 0.5) as usize {
            let x = 0.5 * k as f64;
            let bell = 800.0 * (-0.5 * ((x - 200.0) / 30.0).powi(2)).exp();
            let noise = ripple * ((1.7 * k as f64).sin() + (2.9 * k as f64).cos());
            text.push_str(&format!("{x},{}\n", bell + noise + 120.0 + 0.9 * x));
        }
        text.into_bytes()
    }

    #[test]
    fn a_bell_on_a_slope() {
        let found = measure_trace(&trace(10.0, 420.0), Calibrated { distance: 0.03, height: 0.04 }).expect("a line");
        let near = |figure, truth: f64, share: f64| {
            let value: Value = found.values[&figure];
            assert!((value.value / truth - 1.0).abs() < share, "{figure:?}: {value:?}");
            assert!((value.value - truth).abs() < 3.0 * value.sd(), "{figure:?}: {value:?}");
        };
        // 2.35482 * 30 µm; sqrt(2 pi) * 0.8 µm * 30 µm = 60.16 µm².
        near(Figure::WidthHalf, 70.64e-6, 0.02);
        near(Figure::PeakHeight, 0.8e-6, 0.02);
        near(Figure::Section, 60.16e-12, 0.02);
        // By calibration 3 % of the width, 4 % of the height and, of distances times heights, 5 % of the section.
        for (figure, share) in [(Figure::WidthHalf, 0.03), (Figure::PeakHeight, 0.04), (Figure::Section, 0.05)] {
            let value = found.values[&figure];
            assert!((value.scale / value.value - share).abs() < 1e-12, "{figure:?}: {value:?}");
        }
        // 0.9 nm per µm.
        assert!((found.tilt / 0.9e-3 - 1.0).abs() < 0.02, "{}", found.tilt);
        assert!((found.step - 5e-7).abs() < 1e-9);
    }

    #[test]
    fn traces_without_a_whole_line_are_refused() {
        let exact = Calibrated { distance: 0.0, height: 0.0 };
        let words = |bytes: &[u8]| measure_trace(bytes, exact).expect_err("refused").to_string();
        assert!(words(&trace(10.0, 210.0)).contains("no line is found"), "{}", words(&trace(10.0, 210.0)));
        let flat: String = (0..300).map(|k| format!("{k},{}\n", (k * 7919 % 101) as f64)).collect();
        let flat = format!("distance_um,height_nm\n{flat}");
        assert!(words(flat.as_bytes()).contains("no line is found"));
    }
}
