//! The prints along one figure: tolerance interval, percentiles, histogram, limits.

use crate::differences::{held, name};
use crate::numbers::{self, trimmed};
use crate::plot::{escape, nice_ticks, tick_label};
use crate::words::capital;
use motefall_figures::percentile::percentile;
use motefall_figures::{Distribution, FigureRow, LimitOutcome};
use std::fmt::Write;

/// Drawing size of a picture and its margins left and right.
const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 262.0;
const LEFT: f64 = 16.0;
const RIGHT: f64 = 16.0;
/// Heights of the two bars above, of the histogram's top and of its floor.
const TOLERANCE_Y: f64 = 24.0;
const PERCENTILES_Y: f64 = 58.0;
const TOP: f64 = 82.0;
const FLOOR: f64 = 212.0;
/// How far beyond the prints a limit is still drawn, in widths of the prints' range.
const LIMIT_REACH: f64 = 1.2;

/// One figure's prints, in the unit that suits them.
struct Prints {
    unit: String,
    /// Values in order.
    values: Vec<f64>,
    tolerance: [f64; 2],
    /// Percentiles 5, 50, 95.
    percentiles: [f64; 3],
    /// Least and largest value that a limit allows.
    bounds: [Option<f64>; 2],
    /// Ends of the axis.
    low: f64,
    high: f64,
}

/// The drawing; empty if no print has a value.
pub(super) fn drawing(row: &FigureRow, d: &Distribution, limit: Option<&LimitOutcome>) -> String {
    let Some(prints) = Prints::new(row, d, limit) else { return String::new() };
    let mut out = format!(
        r#"<svg class="plot prints" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escape(&format!("Histogram of the prints: {}", name(row)))
    );
    prints.where_a_print_fails(&mut out);
    // Very small values: a power of ten in the label instead of zeros on every tick.
    let exponent = prints.high.abs().max(prints.low.abs()).log10().floor() as i32;
    let power = if exponent < -2 { exponent } else { 0 };
    prints.ticks(&mut out, 10f64.powi(power));
    let most = prints.columns(&mut out);
    prints.intervals(&mut out, &format!("{} of all prints, with 95 % confidence", held(&d.tolerance)));
    prints.limits(&mut out);
    let unit = match power {
        0 => prints.unit.clone(),
        _ => format!("{}\u{a0}{}", numbers::ten_to(power), prints.unit).trim_end().to_string(),
    };
    let axis = capital(row.kind.label);
    let axis = if unit.is_empty() { axis } else { format!("{axis} ({unit})") };
    let _ = write!(
        out,
        r#"<text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text></svg>"#,
        0.5 * WIDTH,
        HEIGHT - 12.0,
        escape(&format!("{axis}; height: number of prints, up to {most}"))
    );
    out
}

impl Prints {
    fn new(row: &FigureRow, d: &Distribution, limit: Option<&LimitOutcome>) -> Option<Self> {
        let (suited, unit) = numbers::suited(row.kind, d.percentiles[2] * row.kind.per_si);
        let scale = row.kind.per_si * suited;
        let mut values: Vec<f64> = d.values.iter().filter(|v| v.is_finite()).map(|v| v * scale).collect();
        values.sort_by(f64::total_cmp);
        let (first, last) = (*values.first()?, *values.last()?);
        let tolerance = d.tolerance.interval.map(|v| v * scale);
        let bounds = [limit.and_then(|l| l.limit.min), limit.and_then(|l| l.limit.max)].map(|b| b.map(|b| b * scale));
        let near = |bound: &f64| is_near(*bound, first, last);
        let all = [first, last].into_iter().chain(tolerance).chain(bounds.into_iter().flatten().filter(near));
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        let pad = 0.04 * (high - low);
        let (low, high) = (if low >= 0.0 { (low - pad).max(0.0) } else { low - pad }, high + pad);
        let percentiles = d.percentiles.map(|v| v * scale);
        Some(Self { unit, values, tolerance, percentiles, bounds, low, high })
    }

    /// Place across.
    fn px(&self, value: f64) -> f64 {
        LEFT + ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT)
    }

    fn where_a_print_fails(&self, out: &mut String) {
        let [least, most] = self.bounds;
        for (from, to) in least.map(|b| (self.low, b)).into_iter().chain(most.map(|b| (b, self.high))) {
            let (from, to) = (self.px(from), self.px(to));
            if to > from {
                let _ = write!(
                    out,
                    r#"<rect class="beyond" x="{from:.1}" y="{TOP}" width="{:.1}" height="{:.1}"/>"#,
                    to - from,
                    FLOOR - TOP
                );
            }
        }
    }

    /// Ticks of the axis, in units of `factor`.
    fn ticks(&self, out: &mut String, factor: f64) {
        let ticks = nice_ticks([self.low, self.high], 7);
        let step = if ticks.len() > 1 { ticks[1] - ticks[0] } else { 1.0 };
        for tick in ticks {
            let x = self.px(tick);
            let _ = write!(
                out,
                r#"<path class="grid" d="M{x:.1} {TOP}V{FLOOR}"/><text class="tick" x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
                FLOOR + 16.0,
                tick_label(tick / factor, step / factor)
            );
        }
    }

    /// The histogram; gives the number of prints in its highest column.
    fn columns(&self, out: &mut String) -> f64 {
        let (edges, counts) = histogram(&self.values);
        let most = f64::from(counts.iter().copied().max().unwrap_or(1).max(1));
        for (pair, count) in edges.windows(2).zip(&counts).filter(|(_, count)| **count > 0) {
            let height = f64::from(*count) / most * (FLOOR - TOP - 6.0);
            let _ = write!(
                out,
                r#"<rect class="column" x="{:.1}" y="{:.1}" width="{:.1}" height="{height:.1}"><title>{count} prints</title></rect>"#,
                self.px(pair[0]) + 0.5,
                FLOOR - height,
                (self.px(pair[1]) - self.px(pair[0]) - 1.0).max(0.8)
            );
        }
        let _ = write!(out, r#"<path class="axis" d="M{LEFT} {FLOOR}H{:.1}"/>"#, WIDTH - RIGHT);
        most
    }

    /// Tolerance interval, with its words, and percentiles above the histogram.
    fn intervals(&self, out: &mut String, tolerance_words: &str) {
        let [a, b] = self.tolerance.map(|v| self.px(v));
        let _ = write!(
            out,
            r#"<path class="tolerance" d="M{a:.1} {0:.1}v10M{b:.1} {0:.1}v10M{a:.1} {TOLERANCE_Y}H{b:.1}"/>"#,
            TOLERANCE_Y - 5.0
        );
        words(out, 0.5 * (a + b), TOLERANCE_Y - 10.0, tolerance_words);
        let [p5, p50, p95] = self.percentiles.map(|v| self.px(v));
        let _ = write!(
            out,
            r#"<rect class="most" x="{p5:.1}" y="{:.1}" width="{:.1}" height="8"/><path class="middle" d="M{p50:.1} {:.1}v12"/>"#,
            PERCENTILES_Y - 4.0,
            (p95 - p5).max(1.0),
            PERCENTILES_Y - 6.0
        );
        words(out, 0.5 * (p5 + p95), PERCENTILES_Y - 12.0, "5 to 95 % of these prints; tick: median");
    }

    /// The limits, or arrows to those that lie far off.
    fn limits(&self, out: &mut String) {
        let (first, last) = (self.values[0], self.values[self.values.len() - 1]);
        for (bound, toward, word) in [(self.bounds[0], 1.0, "least"), (self.bounds[1], -1.0, "most")] {
            let Some(bound) = bound else { continue };
            let text = format!("{word} {}", trimmed(bound));
            let (x, anchor, text) = if is_near(bound, first, last) {
                let x = self.px(bound);
                let _ = write!(out, r#"<path class="limit" d="M{x:.1} {:.1}V{FLOOR}"/>"#, TOP - 6.0);
                // On the side where prints pass, unless there is no room.
                let no_room = (x < LEFT + 70.0 && toward < 0.0) || (x > WIDTH - RIGHT - 70.0 && toward > 0.0);
                let side = if no_room { -toward } else { toward };
                (x + 5.0 * side, if side > 0.0 { "start" } else { "end" }, text)
            } else if bound < self.low {
                (LEFT, "start", format!("← {text}"))
            } else {
                (WIDTH - RIGHT, "end", format!("{text} →"))
            };
            let _ = write!(
                out,
                r#"<text class="limit-word" x="{x:.1}" y="{:.1}" text-anchor="{anchor}">{text}</text>"#,
                TOP + 9.0
            );
        }
    }
}

/// Whether a limit lies near enough to the prints to be drawn.
fn is_near(bound: f64, first: f64, last: f64) -> bool {
    let reach = LIMIT_REACH * (last - first);
    bound > first - reach && bound < last + reach
}

/// Small words centred over a place, held inside the drawing.
fn words(out: &mut String, x: f64, y: f64, text: &str) {
    let half = 3.1 * text.chars().count() as f64;
    let x = x.clamp(LEFT + half, WIDTH - RIGHT - half);
    let _ = write!(out, r#"<text class="tick" x="{x:.1}" y="{y:.1}" text-anchor="middle">{text}</text>"#);
}

/// Edges and counts of sorted values. Bins are 2 IQR / n^(1/3) wide, and 8 to 40 of them.
///
/// Source: Freedman & Diaconis 1981, On the histogram as a density estimator: L2 theory, Z. Wahrscheinlichkeitstheorie 57:453.
fn histogram(sorted: &[f64]) -> (Vec<f64>, Vec<u32>) {
    let (first, last) = (sorted[0], sorted[sorted.len() - 1]);
    let wanted = 2.0 * (percentile(sorted, 0.75) - percentile(sorted, 0.25)) / (sorted.len() as f64).cbrt();
    let bins = ((last - first) / wanted).ceil();
    let bins = if bins.is_finite() { bins.clamp(8.0, 40.0) as usize } else { 40 };
    let edges: Vec<f64> = (0..=bins).map(|i| first + (last - first) * i as f64 / bins as f64).collect();
    let mut counts = vec![0; bins];
    for value in sorted {
        let bin = ((value - first) / (last - first) * bins as f64) as usize;
        counts[bin.min(bins - 1)] += 1;
    }
    (edges, counts)
}
