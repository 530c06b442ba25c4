//! The window of a single setting: a curve.

use super::judged::Judged;
use super::reading::rule;
use crate::plot::{Dash, Mark, Plot, PlotAxis, Scale, Series};
use crate::sweep::effects::ticks_through;
use crate::sweep::panel::{plot_axis, setting};
use crate::sweep::space::PassValue;
use maud::{Markup, PreEscaped, html};
use motefall_figures::statistics::wilson_95;

/// The figure, over axis `k`.
pub(super) fn one_axis(sweep: &Judged, k: usize) -> Markup {
    let axis = &sweep.space.axes[k];
    let x = plot_axis(axis);
    let wanted = sweep.result.plan.wanted_share * 100.0;
    let [bars, dots, crosses] = marks(sweep, k);
    let mut series = vec![
        line(
            &format!("wanted: {} %", setting(wanted)),
            0,
            Dash::Dashed,
            vec![[x.range[0], wanted], [x.range[1], wanted]],
        ),
        line("between the points", 2, Dash::Solid, curve(sweep, k)),
        line("95\u{a0}% interval of a point", 6, Dash::Solid, bars),
        line("", 6, Dash::Solid, ticks_through(&dots, &x)),
    ];
    if let Some(best) = sweep.best() {
        let at = axis.value(sweep.space.places[best.index][k]);
        series.push(line(sweep.best_word(), 3, Dash::Dotted, vec![[at, 0.0], [at, 104.0]]));
    }
    if !crosses.is_empty() {
        series.push(line("could not run (short strokes below)", 1, Dash::Solid, crosses));
    }
    let plot = Plot {
        size: [720.0, 420.0],
        x,
        y: PlotAxis::over("prints that pass every limit (%)", Scale::Linear, 0.0, 104.0),
        series,
        description: format!("Pass probability over {}", axis.label),
    };
    html! {
        figure class="alone" { (PreEscaped(plot.svg())) figcaption {
            b { "The operating window: share of prints that meet every limit. " }
            "Where the curve lies above the dashed line, at least " (sweep.wanted()) " of the prints pass. " (rule(sweep))
        } }
    }
}

fn line(name: &str, colour: usize, dash: Dash, points: Vec<[f64; 2]>) -> Series {
    Series { name: name.into(), colour, dash, mark: Mark::Line(points) }
}

/// Upright bars of the intervals, dots of the shares, and short strokes where a point could not run.
fn marks(sweep: &Judged, k: usize) -> [Vec<[f64; 2]>; 3] {
    let axis = &sweep.space.axes[k];
    let upright = |x: f64, low: f64, high: f64| [[x, low], [x, high], [f64::NAN, f64::NAN]];
    let mut order: Vec<usize> = (0..sweep.space.places.len()).collect();
    order.sort_by(|a, b| sweep.space.places[*a][k].total_cmp(&sweep.space.places[*b][k]).then(a.cmp(b)));
    let [mut bars, mut dots, mut crosses] = [const { Vec::new() }; 3];
    for i in order {
        let x = axis.value(sweep.space.places[i][k]);
        if sweep.space.shares[i].is_none() {
            crosses.extend(upright(x, 0.0, 6.0));
        }
        if let Ok(stats) = &sweep.result.points[i].outcome
            && stats.prints > 0
        {
            let [low, high] = wilson_95(stats.met.min(stats.prints), stats.prints);
            bars.extend(upright(x, low * 100.0, high * 100.0));
            dots.push([x, f64::from(stats.met) / f64::from(stats.prints) * 100.0]);
        }
    }
    [bars, dots, crosses]
}

/// Pass probability between the points, percent.
fn curve(sweep: &Judged, k: usize) -> Vec<[f64; 2]> {
    let at = |i: i32| {
        let place = f64::from(i) / 300.0;
        let share = match sweep.space.at(&[place]) {
            PassValue::Share(p) => p * 100.0,
            _ => f64::NAN,
        };
        [sweep.space.axes[k].value(place), share]
    };
    (0..=300).map(at).collect()
}
