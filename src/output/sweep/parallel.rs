//! Every point as a line across its settings, its pass probability and its limited figures.

use super::panel::{css, setting};
use super::rank::{Class, Ranked};
use super::space::{self, Space};
use crate::plot::{PlotAxis, Scale, escape};
use maud::{Markup, PreEscaped, html};
use motefall_figures::sweep::{PointRecord, SweepResult};
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
    let mut out: Vec<Upright> = vec![];
    for (k, scaled) in space.axes.iter().enumerate() {
        let axis = &result.plan.axes[scaled.axis];
        let scale = PlotAxis { label: String::new(), scale: scaled.scale, range: scaled.range };
        let ticks = match space.levels(k) {
            Some(levels) if levels.len() <= 9 => levels.iter().map(|p| (*p, setting(scaled.value(*p)))).collect(),
            _ => ticks(&scale),
        };
        let number = scaled.axis;
        out.push(Upright {
            head: lines(&space::label(axis)),
            scale,
            ticks,
            accepted: None,
            value: Box::new(move |p| p.values.get(number).copied()),
        });
    }
    let wanted = result.plan.wanted_share;
    let scale = PlotAxis { label: String::new(), scale: Scale::Linear, range: [0.0, 100.0] };
    out.push(Upright {
        head: lines("prints that pass, %"),
        ticks: ticks(&scale),
        scale,
        accepted: Some([wanted, 1.0]),
        value: Box::new(|p| {
            p.outcome.as_ref().ok().filter(|s| s.prints > 0).map(|s| 100.0 * f64::from(s.met) / f64::from(s.prints))
        }),
    });
    let mut seen = vec![];
    for (number, limit) in result.limits.iter().enumerate() {
        let index = result.places.iter().position(|(k, at)| k.figure == limit.figure && *at == limit.place);
        let Some(index) = index.filter(|i| !seen.contains(i)) else { continue };
        seen.push(index);
        let (kind, at) = &result.places[index];
        if kind.is_extreme() {
            // A mean would be set by single prints.
            let scale = PlotAxis { label: String::new(), scale: Scale::Linear, range: [0.0, 100.0] };
            out.push(Upright {
                head: lines(&format!("within the limit: {}, %", kind.label)),
                ticks: ticks(&scale),
                scale,
                accepted: Some([wanted, 1.0]),
                value: Box::new(move |p| {
                    let stats = p.outcome.as_ref().ok().filter(|s| s.prints > 0)?;
                    Some(100.0 * f64::from(*stats.met_each.get(number)?) / f64::from(stats.prints))
                }),
            });
            continue;
        }
        let value = move |p: &PointRecord| {
            let f = p.outcome.as_ref().ok()?.figures.get(index).copied().flatten()?;
            Some(f.mean * kind.per_si).filter(|v| v.is_finite())
        };
        let same = || result.limits.iter().filter(|l| l.figure == limit.figure && l.place == limit.place);
        let min = same().filter_map(|l| l.min).fold(f64::NEG_INFINITY, f64::max) * kind.per_si;
        let max = same().filter_map(|l| l.max).fold(f64::INFINITY, f64::min) * kind.per_si;
        let (low, high) = result
            .points
            .iter()
            .filter_map(value)
            .chain([min, max].into_iter().filter(|v| v.is_finite()))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        if high < low {
            continue;
        }
        let scale = PlotAxis::over("", Scale::Linear, low, high);
        let [a, b] = [min, max].map(|v| ((v - scale.range[0]) / (scale.range[1] - scale.range[0])).clamp(0.0, 1.0));
        let words = [kind.label, at.as_deref().unwrap_or_default(), kind.unit];
        let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
        out.push(Upright {
            head: lines(&words.join(", ")),
            ticks: ticks(&scale),
            scale,
            accepted: Some([a, b]),
            value: Box::new(value),
        });
    }
    out
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
pub fn figure(result: &SweepResult, space: &Space, best: Option<&Ranked>) -> Markup {
    if space.axes.is_empty() {
        return html! { p class="note" { "No setting varies between the points." } };
    }
    let uprights = uprights(result, space);
    let head = uprights.iter().map(|upright| upright.head.len()).max().unwrap_or(1) as f64;
    let (left, right, top, bottom) = (64.0, 64.0, 14.0 + 16.0 * head, 16.0);
    let width = (left + right + GAP * (uprights.len() - 1) as f64).max(640.0);
    let height = 374.0 + top;
    let x = |k: usize| left + (width - left - right) * k as f64 / (uprights.len() - 1).max(1) as f64;
    let y = |place: f64| top + (1.0 - place) * (height - top - bottom);
    let mut order: Vec<usize> = (0..result.points.len()).filter(|i| space.shares[*i].is_some()).collect();
    let ran = order.len();
    let every = ran.div_ceil(MOST_LINES).max(1);
    order = order.into_iter().step_by(every).collect();
    order.sort_by(|a, b| space.shares[*a].unwrap_or(0.0).total_cmp(&space.shares[*b].unwrap_or(0.0)).then(a.cmp(b)));
    let crowd = order.len() > CROWD;
    let path = |point: &PointRecord| {
        let mut path = String::new();
        for (k, upright) in uprights.iter().enumerate() {
            if let Some(place) = (upright.value)(point).and_then(|v| upright.scale.place(v)) {
                let _ = write!(path, "{}{:.0} {:.1}", if path.is_empty() { 'M' } else { 'L' }, x(k), y(place));
            }
        }
        path
    };
    let mut out = format!(
        r#"<svg class="window lines" viewBox="0 0 {width:.0} {height}" style="min-width:{:.0}px" role="img" aria-label="Every point across its settings and figures"><rect class="night" x="0" y="{:.0}" width="{width:.0}" height="{:.0}" rx="6"/>"#,
        width * 0.86,
        top - 12.0,
        height - top + 12.0
    );
    let _ = write!(out, r#"<g class="{}">"#, if crowd { "threads many" } else { "threads" });
    for i in &order {
        let share = space.shares[*i].unwrap_or(0.0);
        let _ = write!(out, r#"<path style="stroke:{}" d="{}"/>"#, css(share), path(&result.points[*i]));
    }
    out.push_str("</g>");
    if let Some(best) = best {
        let d = path(&result.points[best.index]);
        let _ = write!(
            out,
            r#"<path class="thread under" d="{d}"/><path class="thread" style="stroke:{}" d="{d}"/>"#,
            css(best.share)
        );
    }
    for (k, upright) in uprights.iter().enumerate() {
        let at = x(k);
        let anchor = if k == 0 {
            "start"
        } else if k + 1 == uprights.len() {
            "end"
        } else {
            "middle"
        };
        let text_x = if k == 0 {
            at - 56.0
        } else if k + 1 == uprights.len() {
            at + 56.0
        } else {
            at
        };
        let first = head as usize - upright.head.len();
        for (line, words) in upright.head.iter().enumerate() {
            let _ = write!(
                out,
                r#"<text class="label" x="{text_x:.1}" y="{:.0}" text-anchor="{anchor}">{}</text>"#,
                12.0 + 16.0 * (first + line) as f64,
                escape(words)
            );
        }
        if let Some([a, b]) = upright.accepted {
            let _ = write!(
                out,
                r#"<rect class="accepted" x="{:.1}" y="{:.1}" width="8" height="{:.1}"/>"#,
                at - 4.0,
                y(b),
                (y(a) - y(b)).max(1.5)
            );
        }
        let _ = write!(out, r#"<path class="upright" d="M{at:.1} {:.1}V{:.1}"/>"#, y(1.0), y(0.0));
        for (place, words) in &upright.ticks {
            let _ = write!(
                out,
                r#"<text class="nighttick" x="{:.1}" y="{:.1}" text-anchor="end">{words}</text>"#,
                at - 7.0,
                y(*place) + 4.0
            );
        }
    }
    out.push_str("</svg>");
    let failed = result.points.len() - ran;
    html! {
        figure { div class="wideplot" { (PreEscaped(out)) } figcaption {
            b { "Each line is one point. " }
            "Left to right: its settings, the share of its prints that pass, and the means of the figures that limits are set on (of the farthest and largest particle, the prints within the limit). Colour is the pass probability as in the window (bright passes). "
            "White bars: what is asked. "
            @if let Some(best) = best { "The line with the white edge is point " (result.points[best.index].point) ", the " (if best.class == Class::Below { "best" } else { "recommended one" }) ". " }
            @if every > 1 { "Of " (ran) " points every " (every) "th is drawn. " }
            @if failed > 0 { (failed) " points that could not run are left out." }
        } }
    }
}
