//! The picture of the window: over two axes, in panels over a third, and over every pair.

use super::curve::one_axis;
use super::judged::Judged;
use super::reading::{chosen, rule, unbounded};
use crate::numbers::share as percent;
use crate::page::{joined, note};
use crate::sweep::panel::{Panel, SLICE, key};
use maud::{Markup, PreEscaped, html};

/// Most panels over a further axis.
const MOST_PANELS: usize = 6;
/// Most pairs of axes drawn.
const MOST_PAIRS: usize = 28;

/// The window over the axes that matter most.
pub(super) fn section(sweep: &Judged) -> Result<Markup, png::EncodingError> {
    if sweep.ranking.is_empty() {
        return Ok(html! {});
    }
    let axes: Vec<usize> = sweep.influence.iter().map(|i| i.0).collect();
    let [a, b, rest @ ..] = axes.as_slice() else {
        return Ok(match axes.first() {
            None => note("No setting varies between the points, so there is no window to draw."),
            Some(only) => one_axis(sweep, *only),
        });
    };
    let panels = panels(sweep, [*a, *b], rest.first().copied())?;
    let bounded = panels.iter().any(|p| p.0.contains("class=\"contour"));
    let hatched = sweep.failed() > 0 || !sweep.space.is_grid();
    Ok(html! {
        (PreEscaped(key(sweep.result.plan.wanted_share, sweep.failed() > 0, hatched, true)))
        div class=(if rest.is_empty() { "" } else { "panels" }) { @for p in &panels { (p) } }
        p class="caption" { (caption(sweep, rest, bounded)) }
        p class="caption" { (rule(sweep)) }
        p class="caption" { (chosen(sweep)) }
    })
}

/// One panel, or one for each value of a further axis.
fn panels(sweep: &Judged, axes: [usize; 2], further: Option<usize>) -> Result<Vec<Markup>, png::EncodingError> {
    let slice = sweep.slice();
    let Some(c) = further else {
        let svg = panel(sweep, &slice, axes, [720.0, 520.0], "w0".into()).svg()?;
        return Ok(vec![html! { figure class="alone" { (PreEscaped(svg)) } }]);
    };
    let one = |(i, level): (usize, f64)| {
        let mut held = slice.clone();
        held[c] = level;
        let svg = panel(sweep, &held, axes, [400.0, 350.0], format!("w{i}")).svg()?;
        let is_best = (level - slice[c]).abs() < 1e-9 && sweep.best().is_some();
        Ok(html! { figure {
            p class="panel" {
                (sweep.setting(c, level))
                @if is_best { span class="here" { " ◎ as " (sweep.best_word()) } }
            }
            (PreEscaped(svg))
        } })
    };
    panel_levels(sweep, c, slice[c]).into_iter().enumerate().map(one).collect()
}

fn panel<'a>(sweep: &'a Judged, slice: &'a [f64], axes: [usize; 2], size: [f64; 2], id: String) -> Panel<'a> {
    Panel { result: sweep.result, space: &sweep.space, slice, axes, best: sweep.best(), size, id }
}

/// What the panels show; `rest` are the axes besides the two.
fn caption(sweep: &Judged, rest: &[usize], bounded: bool) -> Markup {
    let slice = sweep.slice();
    html! {
        b { "The operating window: share of prints that meet every limit. " }
        "Bright is good"
        @if bounded { "; inside the white line at least " (sweep.wanted()) " of the prints pass. " }
        @else { ". There is no white line, because " (unbounded(sweep)) ". " }
        "The ring is the " (sweep.best_word()) " setting. "
        @if let [c, held @ ..] = rest {
            "One panel per value of " (sweep.name(*c)) ". "
            @if !held.is_empty() {
                "Held at the " (sweep.best_word()) " setting: "
                (joined(", ", held.iter().map(|k| sweep.setting(*k, slice[*k])))) ". "
            }
            @if !sweep.space.is_grid() {
                "A point is drawn if its other settings are within " (percent(SLICE)) " of their axes' length of the panel's; for that reason and by chance its colour may differ from the field's. "
            }
        }
    }
}

/// Scaled values of the further axis, one per panel; the recommended one is among them.
fn panel_levels(sweep: &Judged, axis: usize, best: f64) -> Vec<f64> {
    let mut levels = match sweep.space.levels(axis) {
        Some(levels) if levels.len() <= MOST_PANELS => return levels.to_vec(),
        Some(levels) => {
            let last = levels.len() - 1;
            (0..MOST_PANELS).map(|i| levels[i * last / (MOST_PANELS - 1)]).collect::<Vec<f64>>()
        }
        None => vec![1.0 / 6.0, 0.5, 5.0 / 6.0],
    };
    if let Some(nearest) = levels.iter_mut().min_by(|a, b| (**a - best).abs().total_cmp(&(**b - best).abs())) {
        *nearest = best;
    }
    levels
}

/// The window over every pair of settings.
pub(super) fn pairs(sweep: &Judged) -> Result<Markup, png::EncodingError> {
    let axes: Vec<usize> = sweep.influence.iter().map(|i| i.0).collect();
    if axes.len() < 3 || sweep.ranking.is_empty() {
        return Ok(html! {});
    }
    let slice = sweep.slice();
    let pairs: Vec<[usize; 2]> =
        axes.iter().enumerate().flat_map(|(i, a)| axes[i + 1..].iter().map(move |b| [*a, *b])).collect();
    let (drawn, left_out) = pairs.split_at(pairs.len().min(MOST_PAIRS));
    let figures = drawn
        .iter()
        .map(|[a, b]| panel(sweep, &slice, [*a, *b], [400.0, 330.0], format!("p{a}_{b}")).svg())
        .collect::<Result<Vec<_>, _>>()?;
    Ok(html! {
        h2 { "The window over every pair of settings" }
        p class="caption" {
            "Cuts through the " (sweep.best_word()) " setting (ring): two settings vary, all others stay fixed. Colours, white line and marks as above; the most influential pairs first."
            @if !left_out.is_empty() { " " (left_out.len()) " more pairs are not drawn." }
        }
        div class="panels" { @for svg in figures { figure { (PreEscaped(svg)) } } }
    })
}
