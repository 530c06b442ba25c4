//! Every point as a line across its settings, its pass probability and its limited figures.

use super::panel::{css, setting};
use super::rank::{Class, Ranked};
use super::space::{self, Space};
use crate::page::note;
use crate::plot::{PlotAxis, Scale, escape};
use maud::{Markup, PreEscaped, html};
use motefall_figures::sweep::{PointRecord, PointStats, SweepResult};
use motefall_physics::inputs::Limit;
use std::fmt::Write;

/// Points from which on lines are thin and let others shine through.
const CROWD: usize = 300;
/// Most lines drawn.
const MOST_LINES: usize = 2000;

/// Distance of two uprights, drawing units, and letters that fit into a line above one.
const GAP: f64 = 134.0;
const LINE: usize = 18;

/// Reads a value off a point.
type Reading<'a> = dyn Fn(&PointRecord) -> Option<f64> + 'a;

/// One upright scale.
struct Upright<'a> {
    /// Words above, broken into lines.
    head: Vec<String>,
    scale: PlotAxis,
    /// Ticks: place and words.
    ticks: Vec<(f64, String)>,
    /// Accepted part, 0..1.
    accepted: Option<[f64; 2]>,
    value: Box<Reading<'a>>,
}

fn uprights<'a>(result: &'a SweepResult, space: &Space) -> Vec<Upright<'a>> {
    let mut out: Vec<Upright> = (0..space.axes.len()).map(|k| of_setting(result, space, k)).collect();
    out.push(of_share(result, "prints that pass, %", |stats| Some(stats.met)));
    let mut seen = vec![];
    for (number, limit) in result.limits.iter().enumerate() {
        let index = result.places.iter().position(|(k, at)| k.figure == limit.figure && *at == limit.place);
        let Some(index) = index.filter(|i| !seen.contains(i)) else { continue };
        seen.push(index);
        let kind = result.places[index].0;
        if kind.is_extreme() {
            // A mean would be set by single prints.
            let head = format!("within the limit: {}, %", kind.label);
            out.push(of_share(result, &head, move |stats| stats.met_each.get(number).copied()));
        } else {
            out.extend(of_figure(result, index, limit));
        }
    }
    out
}

fn of_setting<'a>(result: &SweepResult, space: &Space, k: usize) -> Upright<'a> {
    let scaled = &space.axes[k];
    let scale = PlotAxis { label: String::new(), scale: scaled.scale, range: scaled.range };
    let ticks = match space.levels(k) {
        Some(levels) if levels.len() <= 9 => levels.iter().map(|p| (*p, setting(scaled.value(*p)))).collect(),
        _ => ticks(&scale),
    };
    let number = scaled.axis;
    Upright {
        head: lines(&space::label(&result.plan.axes[number])),
        scale,
        ticks,
        accepted: None,
        value: Box::new(move |p| p.values.get(number).copied()),
    }
}

/// Share of a point's prints, percent.
fn of_share<'a>(result: &SweepResult, head: &str, met: impl Fn(&PointStats) -> Option<u32> + 'a) -> Upright<'a> {
    let scale = PlotAxis { label: String::new(), scale: Scale::Linear, range: [0.0, 100.0] };
    Upright {
        head: lines(head),
        ticks: ticks(&scale),
        scale,
        accepted: Some([result.plan.wanted_share, 1.0]),
        value: Box::new(move |p| {
            let stats = p.outcome.as_ref().ok().filter(|s| s.prints > 0)?;
            Some(100.0 * f64::from(met(stats)?) / f64::from(stats.prints))
        }),
    }
}

/// Mean of a figure that a limit is set on; `None` if no point has it.
fn of_figure<'a>(result: &'a SweepResult, index: usize, limit: &Limit) -> Option<Upright<'a>> {
    let (kind, at) = &result.places[index];
    let value = move |p: &PointRecord| {
        let f = p.outcome.as_ref().ok()?.figures.get(index).copied().flatten()?;
        Some(f.mean * kind.per_si).filter(|v| v.is_finite())
    };
    let same = || result.limits.iter().filter(|l| l.figure == limit.figure && l.place == limit.place);
    let min = same().filter_map(|l| l.min).fold(f64::NEG_INFINITY, f64::max) * kind.per_si;
    let max = same().filter_map(|l| l.max).fold(f64::INFINITY, f64::min) * kind.per_si;
    let bounds = [min, max].into_iter().filter(|v| v.is_finite());
    let all = result.points.iter().filter_map(value).chain(bounds);
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
    if high < low {
        return None;
    }
    let scale = PlotAxis::over("", Scale::Linear, low, high);
    let accepted = [min, max].map(|v| ((v - scale.range[0]) / (scale.range[1] - scale.range[0])).clamp(0.0, 1.0));
    let words = [kind.label, at.as_deref().unwrap_or_default(), kind.unit];
    let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
    Some(Upright {
        head: lines(&words.join(", ")),
        ticks: ticks(&scale),
        scale,
        accepted: Some(accepted),
        value: Box::new(value),
    })
}

/// Text broken at spaces into lines that fit between two uprights; a longer word stands alone.
fn lines(text: &str) -> Vec<String> {
    let mut out: Vec<String> = vec![];
    for word in text.split_whitespace() {
        match out.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= LINE => {
                line.push(' ');
                line.push_str(word);
            }
            _ => out.push(word.into()),
        }
    }
    out
}

fn ticks(scale: &PlotAxis) -> Vec<(f64, String)> {
    scale
        .ticks(5)
        .into_iter()
        .filter(|t| !t.1.is_empty())
        .filter_map(|(v, text)| Some((scale.place(v)?, text)))
        .collect()
}

/// The figure with its caption.
pub(super) fn figure(result: &SweepResult, space: &Space, best: Option<&Ranked>) -> Markup {
    if space.axes.is_empty() {
        return note("No setting varies between the points.");
    }
    let mut order: Vec<usize> = (0..result.points.len()).filter(|i| space.shares[*i].is_some()).collect();
    let ran = order.len();
    let every = ran.div_ceil(MOST_LINES).max(1);
    order = order.into_iter().step_by(every).collect();
    order.sort_by(|a, b| space.shares[*a].unwrap_or(0.0).total_cmp(&space.shares[*b].unwrap_or(0.0)).then(a.cmp(b)));
    let drawing = Drawing::new(uprights(result, space)).svg(result, space, &order, best);
    let failed = result.points.len() - ran;
    html! {
        figure { div class="wideplot" { (PreEscaped(drawing)) } figcaption {
            b { "Each line is one point. " }
            "Left to right: its settings, the share of its prints that pass, and the means of the figures that limits are set on (for the farthest and largest particle, the share of prints within the limit). Colour: pass probability, as in the window. "
            "White bars: what is required. "
            @if let Some(best) = best { "The line with the white edge is point " (result.points[best.index].point) ", the " (if best.class == Class::Below { "best" } else { "recommended one" }) ". " }
            @if every > 1 { "One in " (every) " of " (ran) " points is drawn. " }
            @if failed > 0 { (failed) " points that could not run are left out." }
        } }
    }
}

/// The uprights and where they stand, drawing units.
struct Drawing<'a> {
    uprights: Vec<Upright<'a>>,
    /// Lines of words above.
    head: usize,
    width: f64,
    height: f64,
    top: f64,
}

const SIDE: f64 = 64.0;
const BELOW: f64 = 16.0;

impl<'a> Drawing<'a> {
    fn new(uprights: Vec<Upright<'a>>) -> Self {
        let head = uprights.iter().map(|upright| upright.head.len()).max().unwrap_or(1);
        let width = (2.0 * SIDE + GAP * (uprights.len() - 1) as f64).max(640.0);
        let top = 14.0 + 16.0 * head as f64;
        Self { uprights, head, width, height: 374.0 + top, top }
    }

    fn x(&self, k: usize) -> f64 {
        SIDE + (self.width - 2.0 * SIDE) * k as f64 / (self.uprights.len() - 1).max(1) as f64
    }

    fn y(&self, place: f64) -> f64 {
        self.top + (1.0 - place) * (self.height - self.top - BELOW)
    }

    /// A point across the uprights.
    fn path(&self, point: &PointRecord) -> String {
        let mut path = String::new();
        for (k, upright) in self.uprights.iter().enumerate() {
            if let Some(place) = (upright.value)(point).and_then(|v| upright.scale.place(v)) {
                let _ =
                    write!(path, "{}{:.0} {:.1}", if path.is_empty() { 'M' } else { 'L' }, self.x(k), self.y(place));
            }
        }
        path
    }

    fn svg(&self, result: &SweepResult, space: &Space, order: &[usize], best: Option<&Ranked>) -> String {
        let (width, height) = (self.width, self.height);
        let mut out = format!(
            r#"<svg class="window lines" viewBox="0 0 {width:.0} {height}" style="min-width:{:.0}px" role="img" aria-label="Every point across its settings and figures"><rect class="night" x="0" y="{:.0}" width="{width:.0}" height="{:.0}" rx="6"/>"#,
            width * 0.86,
            self.top - 12.0,
            height - self.top + 12.0
        );
        let class = if order.len() > CROWD { "threads many" } else { "threads" };
        let _ = write!(out, r#"<g class="{class}">"#);
        for i in order {
            let colour = css(space.shares[*i].unwrap_or(0.0));
            let _ = write!(out, r#"<path style="stroke:{colour}" d="{}"/>"#, self.path(&result.points[*i]));
        }
        out.push_str("</g>");
        if let Some(best) = best {
            let (d, colour) = (self.path(&result.points[best.index]), css(best.share));
            let _ = write!(
                out,
                r#"<path class="thread under" d="{d}"/><path class="thread" style="stroke:{colour}" d="{d}"/>"#
            );
        }
        for (k, upright) in self.uprights.iter().enumerate() {
            self.upright(&mut out, k, upright);
        }
        out.push_str("</svg>");
        out
    }

    /// An upright with its words, ticks and what is accepted.
    fn upright(&self, out: &mut String, k: usize, upright: &Upright) {
        let at = self.x(k);
        let (text_x, anchor) = match k {
            0 => (at - 56.0, "start"),
            _ if k + 1 == self.uprights.len() => (at + 56.0, "end"),
            _ => (at, "middle"),
        };
        let first = self.head - upright.head.len();
        for (line, words) in upright.head.iter().enumerate() {
            let _ = write!(
                out,
                r#"<text class="label" x="{text_x:.1}" y="{:.0}" text-anchor="{anchor}">{}</text>"#,
                12.0 + 16.0 * (first + line) as f64,
                escape(words)
            );
        }
        if let Some([a, b]) = upright.accepted.map(|ends| ends.map(|place| self.y(place))) {
            let _ = write!(
                out,
                r#"<rect class="accepted" x="{:.1}" y="{b:.1}" width="8" height="{:.1}"/>"#,
                at - 4.0,
                (a - b).max(1.5)
            );
        }
        let _ = write!(out, r#"<path class="upright" d="M{at:.1} {:.1}V{:.1}"/>"#, self.y(1.0), self.y(0.0));
        for (place, words) in &upright.ticks {
            let (x, y) = (at - 7.0, self.y(*place) + 4.0);
            let _ = write!(out, r#"<text class="nighttick" x="{x:.1}" y="{y:.1}" text-anchor="end">{words}</text>"#);
        }
    }
}
