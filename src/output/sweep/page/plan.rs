//! What was asked of the sweep, and what it cost.

use super::judged::Judged;
use crate::numbers::{self, duration, ink, share as percent, significant};
use crate::page::{facts as page_facts, joined, note, table};
use crate::sweep::panel::setting;
use crate::sweep::space;
use crate::words::{limit_name, limit_words};
use maud::{Markup, html};
use motefall_figures::sweep::PointStats;
use motefall_physics::inputs::{AxisValues, Chance, Design, PointPrints};

pub(super) fn cost(sweep: &Judged) -> Markup {
    let span = |value: &dyn Fn(&PointStats) -> f64| {
        sweep
            .ran()
            .map(value)
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
    };
    let sum = |value: &dyn Fn(&PointStats) -> f64| -> f64 { sweep.ran().map(value).filter(|v| v.is_finite()).sum() };
    if sweep.ran().next().is_none() {
        return note("No point could run.");
    }
    let (short, long) = span(&|s| s.print_time);
    let (least, most) = span(&|s| s.ink_used);
    let prints: u64 = sweep.ran().map(|s| u64::from(s.prints)).sum();
    let range = |a: String, b: String| if a == b { a } else { format!("{a} to {b}") };
    let mut facts = vec![
        ("Points", numbers::count(sweep.result.points.len() as u64)),
        ("Points that ran", numbers::count(sweep.ran().count() as u64)),
        ("Prints simulated", numbers::count(prints)),
        ("Droplets simulated (about)", significant(sum(&|s| s.droplets * f64::from(s.prints)), 3)),
        ("Time per print, over the points", range(duration(short), duration(long))),
        ("Ink per print, over the points", range(ink(least), ink(most))),
        ("Bench time for all these prints", duration(sum(&|s| s.print_time * f64::from(s.prints)))),
        ("Ink for all these prints", ink(sum(&|s| s.ink_used * f64::from(s.prints)))),
    ];
    if let Some(stats) = sweep.best().and_then(|b| sweep.stats(b)) {
        let of = if sweep.best_word() == "best" {
            ("Best point: time per print", "Best point: ink per print")
        } else {
            ("Recommended: time per print", "Recommended: ink per print")
        };
        facts.push((of.0, duration(stats.print_time)));
        facts.push((of.1, ink(stats.ink_used)));
    }
    page_facts("wide", facts)
}

/// What was swept, how, and what it is judged by.
pub(super) fn section(sweep: &Judged) -> Markup {
    let plan = &sweep.result.plan;
    let limits = joined(
        "; ",
        sweep.result.limits.iter().map(|l| {
            html! {
                (limit_name(l, sweep.result.resolution)) " " (limit_words(l))
            }
        }),
    );
    html! {
        (table("",
            html! { th { "setting" } th { "scenario key" } th { "values" } th { "unit" } th { "rounded to" } },
            html! { @for axis in &plan.axes { tr {
                td { (space::name(axis)) } td { code { (axis.key) } } td { (values_words(&axis.values, plan.design)) } td { (axis.unit) }
                td { @match axis.step(plan.design) { Some(step) => { (setting(step)) }, None => "as listed" } }
            } } },
        ))
        p class="caption" { "Values between the ends are rounded to what a controller can set; the rounded values were simulated." }
        (page_facts("plan", [
            ("Design", html! { (design_words(plan.design)) }),
            ("Prints", html! { (prints_words(&plan.prints)) }),
            ("Random numbers", html! { (chance_words(plan.chance)) }),
            ("Wanted share of passing prints", html! { (sweep.wanted()) }),
            ("Limits", if sweep.result.limits.is_empty() { html! { "none" } } else { limits }),
            ("Seed", html! { (sweep.result.seed) }),
            ("Program", html! { "motefall " (env!("CARGO_PKG_VERSION")) }),
        ]))
    }
}

fn design_words(design: Design) -> String {
    match design {
        Design::Grid => "full grid: every combination".into(),
        Design::Sobol(n) => format!("Sobol sequence of {n} points, spread evenly over all axes"),
        Design::LatinHypercube(n) => format!("Latin hypercube of {n} points, even on each axis"),
    }
}

fn prints_words(prints: &PointPrints) -> String {
    match prints {
        PointPrints::Fixed(n) => format!("{n} at every point"),
        PointPrints::Adaptive { round, most, half_width } => format!(
            "in rounds of {round}, at most {most}, until the pass probability is known to ± {} or certainly lies above or below the wanted share",
            percent(*half_width)
        ),
    }
}

fn chance_words(chance: Chance) -> &'static str {
    match chance {
        Chance::Common => {
            "print k uses the same random numbers at every point, so differences between points show sooner"
        }
        Chance::Own => "every point uses its own random numbers",
    }
}

fn values_words(values: &AxisValues, design: Design) -> String {
    match (values, design) {
        (AxisValues::List(list), _) => list.iter().map(|v| setting(*v)).collect::<Vec<_>>().join(", "),
        (AxisValues::Linear { from, to, count }, Design::Grid) => {
            format!("{} to {}, {count} values in even steps", setting(*from), setting(*to))
        }
        (AxisValues::Linear { from, to, .. }, _) => format!("{} to {}", setting(*from), setting(*to)),
        (AxisValues::Log { from, to, count }, Design::Grid) => {
            format!("{} to {}, {count} values in even ratios", setting(*from), setting(*to))
        }
        (AxisValues::Log { from, to, .. }, _) => {
            format!("{} to {}, even in the logarithm", setting(*from), setting(*to))
        }
    }
}
