//! `window.html`: the operating window first, then the settings to choose from, then what each setting does.

use super::Extra;
use super::effects::{self, Basis};
use super::panel::{Panel, SLICE, key, setting};
use super::parallel;
use super::rank::{Class, Drift, End, Ranked, SD_PER_AXIS, ranked_in, room};
use super::space::{self, Space, Value};
use crate::numbers::{self, share as percent, significant};
use crate::plot::{Axis, Dash, Mark, Plot, Scale, Series};
use crate::terminal::limit_words;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use motefall_figures::CautionKind;
use motefall_figures::cautions::Bearing;
use motefall_figures::statistics::wilson_95;
use motefall_figures::sweep::{PointStats, SweepResult};
use motefall_physics::inputs::{AxisValues, Chance, Design, Limit, PointPrints};
use std::collections::BTreeMap;

const STYLE: &str = include_str!("../report/style.css");
const MORE_STYLE: &str = include_str!("style.css");
/// Most panels over a further axis.
const MOST_PANELS: usize = 6;
/// Most pairs of axes drawn.
const MOST_PAIRS: usize = 28;

/// What the page is made from.
struct Page<'a> {
    result: &'a SweepResult,
    space: Space,
    ranking: Vec<Ranked>,
    /// Axes that vary, most influential first, with their share of the variation.
    influence: Vec<(usize, f64)>,
    basis: Basis,
}

impl Page<'_> {
    fn best(&self) -> Option<&Ranked> {
        self.ranking.first()
    }

    fn stats(&self, ranked: &Ranked) -> Option<&PointStats> {
        self.result.points[ranked.index].outcome.as_ref().ok()
    }

    fn wanted(&self) -> String {
        format!("{}\u{a0}%", setting(self.result.plan.wanted_share * 100.0))
    }

    fn number_of(&self, index: usize) -> u64 {
        self.result.points[index].point
    }

    fn ran(&self) -> impl Iterator<Item = &PointStats> {
        self.result.points.iter().filter_map(|p| p.outcome.as_ref().ok()).filter(|s| s.prints > 0)
    }

    fn failed(&self) -> usize {
        self.result.points.len() - self.ran().count()
    }

    /// Scaled settings of the best point, or the middle of the sweep.
    fn slice(&self) -> Vec<f64> {
        self.best().map_or_else(|| vec![0.5; self.space.axes.len()], |b| self.space.places[b.index].clone())
    }
}

/// The page.
pub fn html(result: &SweepResult, extra: &Extra) -> Result<String, png::EncodingError> {
    let space = Space::new(result);
    let ranking = ranked_in(result, &space);
    let (influence, basis) = effects::influence(result, &space);
    let page = Page { result, space, ranking, influence, basis };
    let window = window(&page)?;
    let pairs = pairs(&page)?;
    let title = if result.name.is_empty() { "Sweep" } else { result.name.as_str() };
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(concat!("motefall ", env!("CARGO_PKG_VERSION")));
                title { (title) ": operating window" }
                style { (PreEscaped(STYLE)) (PreEscaped(MORE_STYLE)) }
            }
            body {
                main {
                    h1 { (title) ": operating window" }
                    @if !result.note.is_empty() { p class="note" { (result.note) } }
                    (verdict(&page, extra))
                    (window)
                    @if !page.ranking.is_empty() {
                        h2 { "The best settings" }
                        (best_settings(&page, extra))
                        h2 { "What prints fail on" }
                        (failures(&page))
                        (pairs)
                        h2 { "What each setting does" }
                        (main_effects(&page))
                        h2 { "All points at a glance" }
                        (parallel::figure(result, &page.space, page.best()))
                        h2 { "Cost" }
                        (cost(&page))
                    }
                    h2 { "Points that could not run" }
                    (could_not_run(&page))
                    h2 { "Cautions" }
                    (cautions(&page))
                    h2 { "The plan" }
                    (plan(&page))
                    footer {
                        "motefall " (env!("CARGO_PKG_VERSION")) " · seed " (result.seed)
                        " · the same scenario, version and seed give the same numbers again. Files beside this one: "
                        code { "sweep.csv" } " (one row a point), " code { "sweep.npz" } " (the same as arrays)."
                    }
                }
            }
        }
    };
    Ok(markup.into_string())
}

fn plural(n: usize, one: &str, many: &str) -> String {
    format!("{}\u{a0}{}", numbers::count(n as u64), if n == 1 { one } else { many })
}

/// `48 of 50 prints pass: 96 % (87 to 99 %)`.
fn pass_words(stats: &PointStats) -> String {
    let [low, high] = wilson_95(stats.met.min(stats.prints), stats.prints);
    let share = f64::from(stats.met) / f64::from(stats.prints.max(1));
    let bare = |p: f64| percent(p).replace("\u{a0}%", "");
    format!("{} of {} prints pass: {} ({} to {})", stats.met, stats.prints, percent(share), bare(low), percent(high))
}

/// Settings of a point in words.
fn settings(page: &Page, index: usize) -> Markup {
    let point = &page.result.points[index];
    html! {
        @for (i, (axis, value)) in page.result.plan.axes.iter().zip(&point.values).enumerate() {
            @if i > 0 { ", " }
            (space::name(axis)) " " b { (setting(*value)) @if !axis.unit.is_empty() { "\u{a0}" (axis.unit) } }
        }
    }
}

/// The fewest prints whose interval can lie above the wanted share: all pass, n/(n + z^2) >= wanted.
fn fewest_prints(wanted: f64) -> Option<u32> {
    (1..=100_000).find(|n| wilson_95(*n, *n)[0] >= wanted)
}

fn counted(page: &Page) -> (usize, usize) {
    let wanted = page.result.plan.wanted_share;
    let likely = page.ran().filter(|s| f64::from(s.met) / f64::from(s.prints) + 1e-9 >= wanted).count();
    let sure = page.ran().filter(|s| wilson_95(s.met.min(s.prints), s.prints)[0] + 1e-9 >= wanted).count();
    (sure, likely)
}

fn verdict(page: &Page, extra: &Extra) -> Markup {
    let Some(best) = page.best() else {
        return html! {
            div class="verdict no" { p { strong { "✕ No point could run" } br; "Each point says why further down; the settings of the whole sweep lie outside what the program can compute." } }
        };
    };
    let limits = !page.result.limits.is_empty();
    let (sure, likely) = counted(page);
    let all = page.ran().count();
    let (class, head) = match best.class {
        _ if !limits => ("verdict", "No limits set".to_string()),
        Class::Sure => ("verdict yes", "✓ There is a window".into()),
        Class::Likely => ("verdict", "? A window is likely, not yet certain".into()),
        Class::Below => ("verdict no", format!("✕ No point passes in {} of its prints", page.wanted())),
    };
    let most_prints = page.ran().map(|s| s.prints).max().unwrap_or(0);
    let best_words = if best.class == Class::Below { "The best is point " } else { "Recommended: point " };
    html! {
        div class=(class) {
            p {
                strong { (head) } br;
                @if !limits { "Every print counts as passing. Set limits under " code { "acceptance" } " to find a window. " }
                @else if best.class == Class::Below {
                    "None of " (plural(all, "point that ran", "points that ran")) " lets " (page.wanted()) " of its prints through. "
                } @else {
                    "At " (likely) " of " (plural(all, "point", "points")) " at least " (page.wanted()) " of the prints pass; at "
                    @if sure == 0 { "none" } @else { (sure) }
                    " of them surely so (even the lower end of the 95\u{a0}% interval reaches " (page.wanted()) "). "
                }
                br;
                (best_words) (page.number_of(best.index)) ", " (settings(page, best.index))
                @if let Some(stats) = page.stats(best) { ". " (pass_words(stats)) "." }
                @if limits && best.class == Class::Likely {
                    @if let Some(n) = fewest_prints(page.result.plan.wanted_share).filter(|n| *n > most_prints) {
                        br; "With " (plural(most_prints as usize, "print", "prints")) " a point cannot do better: the interval lies above " (page.wanted()) " from " (n) " prints on, if all pass. Ask for more prints."
                    } @else { br; "More prints at the best points would tell." }
                }
                @let doubts = doubts(page.stats(best));
                @if !doubts.is_empty() {
                    br; "With caution: "
                    @for (i, words) in doubts.iter().enumerate() { @if i > 0 { "; " } (words) }
                    "."
                }
                @if let Some(link) = &extra.best_report { br; a href=(link) { "Report of a print at this setting" } }
            }
        }
    }
}

/// Why the model may be off at a point, in a few words each.
fn doubts(stats: Option<&PointStats>) -> Vec<&'static str> {
    let here = stats.map_or(&[][..], |stats| &stats.cautions);
    let of_model = CautionKind::ALL.iter().filter(|kind| kind.bearing() == Bearing::Model);
    of_model.filter(|kind| here.contains(kind)).map(|kind| kind.words()).collect()
}

/// How the pass probability between the points was found.
fn rule(page: &Page) -> String {
    let space = &page.space;
    let middle = {
        let mut prints: Vec<u32> = page.ran().map(|s| s.prints).collect();
        prints.sort_unstable();
        prints.get(prints.len() / 2).copied().unwrap_or(0)
    };
    let met = (f64::from(middle) * page.result.plan.wanted_share).round() as u32;
    let [low, high] = wilson_95(met.min(middle), middle);
    let chance = if page.result.limits.is_empty() || middle == 0 {
        String::new()
    } else {
        format!(
            " Near the contour, {} pin the pass probability of a point to between {} and {} only, so a dent of the contour within that is chance.",
            plural(middle as usize, "print", "prints"),
            percent(low).replace("\u{a0}%", ""),
            percent(high)
        )
    };
    let between = if space.is_grid() {
        "Between the points of the grid nothing was simulated: the pass probability is drawn as if the limited figures went straight from point to point (as a normal deviate, straight in the logarithm on logarithmic axes). Where neighbours differ much, a finer sweep tells where the edge really is."
            .to_string()
    } else {
        format!(
            "Every place shows the height of a plane fitted to the {} nearest points (to their pass probabilities as normal deviates; distances in axes scaled to 0 to 1, near points weigh more). That smooths: a window looks somewhat narrower than it is, and steep edges softer. Hatched: farther than {} of an axis's length from any point, so nobody knows.",
            space.neighbours,
            significant(space.reach, 2)
        )
    };
    let gaps =
        if page.failed() > 0 { " Where the nearest point could not run the picture is hatched, too." } else { "" };
    format!("{between}{gaps}{chance}")
}

/// How the two axes were chosen.
fn chosen(page: &Page) -> Markup {
    let what = match page.basis {
        Basis::Pass => "pass probability",
        Basis::Margin => "margin (every point passes equally often)",
        Basis::Order => {
            return html! { "The axes stand in the order of the scenario: nothing differs between the points." };
        }
    };
    html! {
        "The axes are those that matter most. Share of the variation of the " (what) " between the points that each setting explains by itself: "
        @for (i, (k, share)) in page.influence.iter().enumerate() {
            @if i > 0 { ", " }
            (space::name(&page.result.plan.axes[page.space.axes[*k].axis])) " " (percent(*share))
        }
        "; the rest is interplay and chance."
    }
}

fn hatched(page: &Page) -> bool {
    page.failed() > 0 || !page.space.is_grid()
}

fn window(page: &Page) -> Result<Markup, png::EncodingError> {
    if page.ranking.is_empty() {
        return Ok(html! {});
    }
    let axes: Vec<usize> = page.influence.iter().map(|i| i.0).collect();
    Ok(match axes.as_slice() {
        [] => html! { p class="note" { "No setting varies between the points, so there is no window to draw." } },
        [only] => one_axis(page, *only),
        [a, b, rest @ ..] => {
            let slice = page.slice();
            let levels: Vec<f64> = match rest.first() {
                None => vec![f64::NAN],
                Some(c) => panel_levels(page, *c, slice[*c]),
            };
            let single = rest.is_empty();
            let size = if single { [720.0, 520.0] } else { [400.0, 350.0] };
            let mut panels = vec![];
            for (i, level) in levels.iter().enumerate() {
                let mut held = slice.clone();
                if let Some(c) = rest.first() {
                    held[*c] = *level;
                }
                let panel = Panel {
                    result: page.result,
                    space: &page.space,
                    slice: &held,
                    axes: [*a, *b],
                    best: page.best(),
                    size,
                    id: format!("w{i}"),
                };
                let here = rest.first().is_some_and(|c| (level - slice[*c]).abs() < 1e-9);
                let svg = panel.svg()?;
                panels.push(html! {
                    figure class=(if single { "alone" } else { "" }) {
                        @if let Some(c) = rest.first() {
                            p class="panel" {
                                (space::name(&page.result.plan.axes[page.space.axes[*c].axis])) " " b { (setting(page.space.axes[*c].value(*level))) "\u{a0}" (page.space.axes[*c].unit) }
                                @if here && page.best().is_some() { span class="here" { " ◎ as " (best_word(page)) } }
                            }
                        }
                        (PreEscaped(svg))
                    }
                });
            }
            let bounded = panels.iter().any(|p| p.0.contains("class=\"contour"));
            let held: Vec<usize> = rest.iter().skip(1).copied().collect();
            html! {
                (PreEscaped(key(page.result.plan.wanted_share, page.failed() > 0, hatched(page), true)))
                div class=(if single { "" } else { "panels" }) { @for p in &panels { (p) } }
                p class="caption" {
                    b { "The operating window: share of prints that meet every limit. " }
                    "Bright is good"
                    @if bounded { "; inside the white line at least " (page.wanted()) " of the prints pass. " }
                    @else { ". There is no white line, because " (unbounded(page)) ". " }
                    "The ring is the " (best_word(page)) " setting. "
                    @if let Some(c) = rest.first() {
                        "One panel per value of " (space::name(&page.result.plan.axes[page.space.axes[*c].axis])) ". "
                    }
                    @if !held.is_empty() {
                        "Held as at the " (best_word(page)) " setting: "
                        @for (i, k) in held.iter().enumerate() {
                            @if i > 0 { ", " }
                            (space::name(&page.result.plan.axes[page.space.axes[*k].axis])) " " (setting(page.space.axes[*k].value(slice[*k]))) "\u{a0}" (page.space.axes[*k].unit)
                        }
                        ". "
                    }
                    @if !page.space.is_grid() && !rest.is_empty() {
                        "A point is drawn where its other settings are within " (percent(SLICE)) " of their axes of the panel's; its own colour may differ from the field's for that reason and by chance. "
                    }
                }
                p class="caption" { (rule(page)) }
                p class="caption" { (chosen(page)) }
            }
        }
    })
}

/// Why no contour is seen.
fn unbounded(page: &Page) -> String {
    let wanted = page.wanted();
    let at_best = page.best().map(|b| page.space.at(&page.space.places[b.index]));
    match page.best().map(|b| b.class) {
        _ if page.result.limits.is_empty() => "without limits every print passes".into(),
        None | Some(Class::Below) => format!("nowhere here do {wanted} of the prints pass"),
        Some(_) if !matches!(at_best, Some(Value::Share(p)) if p + 1e-9 >= page.result.plan.wanted_share) => {
            format!(
                "taken together with their neighbours nowhere here do {wanted} of the prints pass, though single points do"
            )
        }
        Some(_) if matches!(at_best, Some(Value::Share(p)) if p <= page.result.plan.wanted_share + 1e-9) => {
            format!("nowhere here do more than {wanted} of the prints pass")
        }
        Some(_) => format!(
            "{wanted} of the prints pass wherever the settings are known: the window reaches beyond the sweep, and wider axes would find its edges"
        ),
    }
}

fn best_word(page: &Page) -> &'static str {
    match page.best().map(|b| b.class) {
        Some(Class::Below) => "best",
        _ => "recommended",
    }
}

/// Scaled values of the further axis, one per panel; the recommended one is among them.
fn panel_levels(page: &Page, axis: usize, best: f64) -> Vec<f64> {
    let mut levels = match page.space.levels(axis) {
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

/// A curve for a single axis.
fn one_axis(page: &Page, k: usize) -> Markup {
    let axis = &page.space.axes[k];
    let mut order: Vec<usize> = (0..page.space.places.len()).collect();
    order.sort_by(|a, b| page.space.places[*a][k].total_cmp(&page.space.places[*b][k]).then(a.cmp(b)));
    let mut bars = vec![];
    let mut dots = vec![];
    for i in &order {
        let Ok(stats) = &page.result.points[*i].outcome else { continue };
        if stats.prints == 0 {
            continue;
        }
        let x = axis.value(page.space.places[*i][k]);
        let [low, high] = wilson_95(stats.met.min(stats.prints), stats.prints);
        bars.extend([[x, low * 100.0], [x, high * 100.0], [f64::NAN, f64::NAN]]);
        dots.push([x, f64::from(stats.met) / f64::from(stats.prints) * 100.0]);
    }
    let curve: Vec<[f64; 2]> = (0..=300)
        .map(|i| {
            let place = f64::from(i) / 300.0;
            let share = match page.space.at(&[place]) {
                Value::Share(p) => p * 100.0,
                _ => f64::NAN,
            };
            [axis.value(place), share]
        })
        .collect();
    let x = super::panel::plot_axis(axis);
    let wanted = page.result.plan.wanted_share * 100.0;
    let line = |name: &str, colour: usize, dash: Dash, points: Vec<[f64; 2]>| Series {
        name: name.into(),
        colour,
        dash,
        mark: Mark::Line(points),
    };
    let mut series = vec![
        line(
            &format!("wanted: {} %", setting(wanted)),
            0,
            Dash::Dashed,
            vec![[x.range[0], wanted], [x.range[1], wanted]],
        ),
        line("between the points", 2, Dash::Solid, curve),
        line("95\u{a0}% interval of a point", 6, Dash::Solid, bars),
        line("", 6, Dash::Solid, effects::ticks_through(&dots, &x)),
    ];
    if let Some(best) = page.best() {
        let at = axis.value(page.space.places[best.index][k]);
        series.push(line(best_word(page), 3, Dash::Dotted, vec![[at, 0.0], [at, 104.0]]));
    }
    let crosses: Vec<f64> = order
        .iter()
        .filter(|i| page.space.shares[**i].is_none())
        .map(|i| axis.value(page.space.places[*i][k]))
        .collect();
    if !crosses.is_empty() {
        let marks = crosses.iter().flat_map(|v| [[*v, 0.0], [*v, 6.0], [f64::NAN, f64::NAN]]).collect();
        series.push(line("could not run (short strokes below)", 1, Dash::Solid, marks));
    }
    let plot = Plot {
        size: [720.0, 420.0],
        x,
        y: Axis::over("prints that pass every limit (%)", Scale::Linear, 0.0, 104.0),
        series,
        description: format!("Pass probability over {}", axis.label),
    };
    html! {
        figure class="alone" { (PreEscaped(plot.svg())) figcaption {
            b { "The operating window: share of prints that meet every limit. " }
            "Where the curve lies above the dashed line, at least " (page.wanted()) " of the prints pass. " (rule(page))
        } }
    }
}

fn pairs(page: &Page) -> Result<Markup, png::EncodingError> {
    let axes: Vec<usize> = page.influence.iter().map(|i| i.0).collect();
    if axes.len() < 3 || page.ranking.is_empty() {
        return Ok(html! {});
    }
    let slice = page.slice();
    let mut figures = vec![];
    let mut left_out = 0;
    for (i, a) in axes.iter().enumerate() {
        for b in &axes[i + 1..] {
            if figures.len() >= MOST_PAIRS {
                left_out += 1;
                continue;
            }
            let panel = Panel {
                result: page.result,
                space: &page.space,
                slice: &slice,
                axes: [*a, *b],
                best: page.best(),
                size: [400.0, 330.0],
                id: format!("p{a}_{b}"),
            };
            let svg = panel.svg()?;
            figures.push(html! { figure { (PreEscaped(svg)) } });
        }
    }
    Ok(html! {
        h2 { "The window over every pair of settings" }
        p class="caption" {
            "Cuts through the " (best_word(page)) " setting (ring): two settings vary, all others stay as there. Colours, white line and marks as above; the most influential pairs first."
            @if left_out > 0 { " " (left_out) " more pairs are not drawn." }
        }
        div class="panels" { @for f in &figures { (f) } }
    })
}

/// Room to drift; `next` is the next point of a grid on that side and its pass probability.
fn drift_words(drift: &Drift, value: f64, arrow: &str, tightest: bool, next: Option<(f64, Option<f64>)>) -> Markup {
    let relative = if value.abs() > 0.0 {
        format!(" ({}\u{a0}%)", significant(100.0 * drift.distance / value.abs(), 2))
    } else {
        String::new()
    };
    let least = if drift.end == End::Unknown { "≥\u{a0}" } else { "" };
    let end = if drift.end == End::CannotRun { " ✕" } else { "" };
    let text = if drift.end == End::Unknown && drift.scaled < 1e-9 {
        format!("{arrow}\u{a0}edge of the sweep")
    } else {
        format!("{arrow}\u{a0}{least}{}{relative}{end}", significant(drift.distance, 2))
    };
    let next = match next {
        Some((at, Some(share))) if drift.end == End::Fails => format!("; at {}: {}", setting(at), percent(share)),
        _ => String::new(),
    };
    html! { span class=(if tightest { "drift tight" } else { "drift" }) { (text) (next) } }
}

/// The tightest limit: how many prints miss it, else how far it is.
fn margin_words(result: &SweepResult, stats: &PointStats) -> Markup {
    let Some(tightest) = stats.tightest(&result.limits, &result.places) else { return html! { "–" } };
    let word = match tightest.sd {
        m if m < 0.0 => "beyond the limit",
        m if m < 1.0 => "hardly inside",
        m if m < 2.0 => "narrow",
        m if m < 3.0 => "fair",
        _ => "wide",
    };
    html! {
        @if tightest.missed > 0 { (tightest.missed) " of " (stats.prints) " miss it" }
        @else { (significant(tightest.sd, 2)) "\u{a0}SD, " (word) }
        span class="why" { (limit_name(&result.limits[tightest.limit], result.resolution)) }
    }
}

fn limit_name(limit: &Limit, resolution: Option<f64>) -> String {
    let kind = limit.figure.kind();
    let name = resolution.map_or(kind.label.into(), |resolution| numbers::label_at(kind, resolution));
    limit.place.as_ref().map_or(name.clone(), |place| format!("{name}, {place}"))
}

fn best_settings(page: &Page, extra: &Extra) -> Markup {
    if page.ranking.is_empty() {
        return html! { p class="note" { "No point could run." } };
    }
    let axes = &page.result.plan.axes;
    let below = page.ranking.iter().all(|r| r.class == Class::Below);
    html! {
        p {
            "First come points that pass in at least " (page.wanted()) " of their prints for sure (lower end of the 95\u{a0}% interval), then those that seem to, then the others. "
            "Among equals the one stands higher that forgives more: each is judged by its most delicate setting, or by its margin to a limit if that is tighter (" (setting(0.1 * SD_PER_AXIS)) " SD counts as much as a tenth of a setting's range)."
        }
        div class="scroll ranks" { table {
            thead { tr {
                th { "rank" } th { "point" }
                @for axis in axes { th { (space::label(axis)) } }
                th { "prints that pass" } th { "margin to the tightest limit" } th class="n" { "time" } th class="n" { "ink" }
            } }
            tbody {
                @for (i, r) in page.ranking.iter().enumerate() {
                    @let point = &page.result.points[r.index];
                    @if let Some(stats) = page.stats(r) {
                        tr class=(if i == 0 { "first" } else { "" }) {
                            td { (i + 1) @if i == 0 { " ◎" } }
                            td { (point.point) @if i == 0 && let Some(link) = &extra.best_report { br; a href=(link) { "report" } } }
                            @for (axis, value) in point.values.iter().enumerate() {
                                td class="set" {
                                    b { (setting(*value)) }
                                    @if let Some(Some(both)) = r.drifts.get(axis) {
                                        @let scaled = page.space.axes.iter().position(|a| a.axis == axis);
                                        @let step = scaled.map_or(0.0, |k| page.space.axes[k].step);
                                        @for (d, (arrow, way)) in both.iter().zip([("↓", -1.0), ("↑", 1.0)]) {
                                            @let tight = room(d, step).is_some_and(|here| r.rooms.first().is_some_and(|least| here <= least + 1e-9));
                                            (drift_words(d, *value, arrow, tight, scaled.and_then(|k| page.space.next(r.index, k, way))))
                                        }
                                    }
                                }
                            }
                            td class="pass" {
                                (stats.met) " of " (stats.prints) ": " b { (percent(r.share)) }
                                span class="why" { (percent(r.interval[0]).replace("\u{a0}%", "")) " to " (percent(r.interval[1])) br; (class_words(r.class)) }
                            }
                            td { (margin_words(page.result, stats)) }
                            td class="n" { (duration(stats.print_time)) }
                            td class="n" { (ink(stats.ink_used)) }
                        }
                    }
                }
            }
        } }
        p class="caption" {
            @if !below {
                b { "Room to drift. " }
                "↓ ↑: how far this setting alone can go down or up, the others as in the row, before fewer than " (page.wanted())
                " of the prints pass; in the setting's unit and in percent of its value, read from the picture above, so between points it is an estimate"
                @if page.space.is_grid() { "; the next point and its pass probability stand behind it" }
                ". "
                "≥: the sweep ends there and the window does not, so the room is at least that (in the ranking it counts as half a step more, at most a tenth of the axis, and not at all for settings with two values). ✕: beyond it the print cannot run. Underlined: the tightest of the row. "
            } @else { "No point reaches " (page.wanted()) ", so there is no room to drift to tell of. " }
            b { "Margin. " } "The limit that most prints of the point miss. Where none misses any: the limit that the mean of its figure is nearest to, in standard deviations (SD) between prints; 2 SD is about 2 prints in 100 beyond, if prints vary normally. Counts of a few particles, the farthest and the largest particle do not, and have no such distance. In the ranking, missed prints count as the distance at which a normal figure misses as many. "
            "Time and ink are of one print with all moves."
        }
    }
}

fn class_words(class: Class) -> &'static str {
    match class {
        Class::Sure => "surely enough",
        Class::Likely => "perhaps enough",
        Class::Below => "too few",
    }
}

fn failures(page: &Page) -> Markup {
    let limits = &page.result.limits;
    if limits.is_empty() {
        return html! { p class="note" { "The scenario sets no acceptance limits." } };
    }
    let best = page.best().and_then(|b| page.stats(b));
    let missed = |s: &PointStats, i: usize| s.met_each.get(i).map(|m| s.prints.saturating_sub(*m));
    let prints: u64 = page.ran().map(|s| u64::from(s.prints)).sum();
    let mut rows: Vec<(usize, Option<u32>, u64)> = (0..limits.len())
        .map(|i| {
            let all = page.ran().filter_map(|s| missed(s, i)).map(u64::from).sum();
            (i, best.and_then(|s| missed(s, i)), all)
        })
        .collect();
    rows.sort_by(|a, b| b.1.cmp(&a.1).then(b.2.cmp(&a.2)).then(a.0.cmp(&b.0)));
    let share = |n: f64, of: f64| if of > 0.0 { percent(n / of) } else { "–".into() };
    let worst = rows.first().filter(|r| r.1.unwrap_or(0) > 0);
    html! {
        @if page.best().is_some_and(|b| b.class == Class::Below) {
            @if let (Some((i, Some(n), _)), Some(best)) = (worst, best) {
                p { "At the best point most prints fail on " b { (limit_name(&limits[*i], page.result.resolution)) } ": " (n) " of " (best.prints) " miss it. Look there first: change what drives that figure (see the plots below), widen the sweep, or relax the limit." }
            }
        }
        div class="scroll limits" { table {
            thead { tr { th { "limit" } th { "asked" } th { "prints that miss it, " (best_word(page)) " point" } th { "prints that miss it, whole sweep" } } }
            tbody { @for (i, at_best, all) in &rows {
                tr {
                    td { (limit_name(&limits[*i], page.result.resolution)) span class="why" { (limits[*i].figure.kind().meaning) } }
                    td { (limit_words(&limits[*i])) }
                    td { @if let (Some(n), Some(s)) = (at_best, best) { (n) " of " (s.prints) } @else { "–" } }
                    td { (share(*all as f64, prints as f64)) }
                }
            } }
        } }
        p class="caption" { "A print can miss several limits, so the shares may add up to more than the failed prints." }
    }
}

fn main_effects(page: &Page) -> Markup {
    if page.space.axes.is_empty() {
        return html! { p class="note" { "No setting varies." } };
    }
    let rows = effects::rows(page.result, &page.space);
    html! {
        p class="caption" {
            "Means over all points at one value of the setting, whatever the others are: "
            @if page.space.is_grid() { "one dot per value of the grid; the bar is the 95\u{a0}% interval from the chance between prints. " }
            @else { "points gathered in eight even parts of the axis; the bar is the 95\u{a0}% interval of the mean over these points (their other settings differ). " }
            "Dashed: the limit, or the wanted share. A flat row of dots says that this setting hardly matters on the average; a window that leans across two settings is seen in the picture above, not here."
        }
        @for row in &rows {
            h3 { (row.title) }
            div class="effects" { @for plot in &row.plots { figure { (PreEscaped(plot.svg())) } } }
        }
    }
}

fn duration(seconds: f64) -> String {
    match seconds {
        s if s < 120.0 => format!("{}\u{a0}s", significant(s, 3)),
        s if s < 7200.0 => format!("{}\u{a0}min", significant(s / 60.0, 3)),
        s if s < 48.0 * 3600.0 => format!("{}\u{a0}h", significant(s / 3600.0, 3)),
        s => format!("{}\u{a0}days", significant(s / 86400.0, 3)),
    }
}

fn ink(cubic_metres: f64) -> String {
    let microlitres = cubic_metres * 1e9;
    if microlitres >= 1000.0 {
        format!("{}\u{a0}mL", significant(microlitres / 1e3, 3))
    } else if microlitres < 0.1 {
        format!("{}\u{a0}nL", significant(microlitres * 1e3, 3))
    } else {
        format!("{}\u{a0}µL", significant(microlitres, 3))
    }
}

fn cost(page: &Page) -> Markup {
    let span = |value: &dyn Fn(&PointStats) -> f64| {
        page.ran()
            .map(value)
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
    };
    let sum = |value: &dyn Fn(&PointStats) -> f64| -> f64 { page.ran().map(value).filter(|v| v.is_finite()).sum() };
    if page.ran().next().is_none() {
        return html! { p class="note" { "No point could run." } };
    }
    let (short, long) = span(&|s| s.print_time);
    let (least, most) = span(&|s| s.ink_used);
    let prints: u64 = page.ran().map(|s| u64::from(s.prints)).sum();
    let range = |a: String, b: String| if a == b { a } else { format!("{a} to {b}") };
    let mut facts = vec![
        ("Points", numbers::count(page.result.points.len() as u64)),
        ("Points that ran", numbers::count(page.ran().count() as u64)),
        ("Prints simulated", numbers::count(prints)),
        ("Droplets simulated, about", significant(sum(&|s| s.droplets * f64::from(s.prints)), 3)),
        ("Time of a print, over the points", range(duration(short), duration(long))),
        ("Ink of a print, over the points", range(ink(least), ink(most))),
        ("All these prints on the bench: time", duration(sum(&|s| s.print_time * f64::from(s.prints)))),
        ("All these prints on the bench: ink", ink(sum(&|s| s.ink_used * f64::from(s.prints)))),
    ];
    if let Some(stats) = page.best().and_then(|b| page.stats(b)) {
        let of = if best_word(page) == "best" {
            ("Best point: time of a print", "Best point: ink of a print")
        } else {
            ("Recommended: time of a print", "Recommended: ink of a print")
        };
        facts.push((of.0, duration(stats.print_time)));
        facts.push((of.1, ink(stats.ink_used)));
    }
    html! { dl class="facts wide" { @for (name, value) in &facts { div { dt { (name) } dd { (value) } } } } }
}

/// Text with its numbers taken out, so that reasons that differ by a value only fall together.
fn without_numbers(text: &str) -> String {
    let mut out = String::new();
    let mut in_number = false;
    for c in text.chars() {
        let digit = c.is_ascii_digit() || (in_number && matches!(c, '.' | 'e'));
        if digit && !in_number {
            out.push('#');
        } else if !digit {
            out.push(c);
        }
        in_number = digit;
    }
    out
}

fn could_not_run(page: &Page) -> Markup {
    let mut groups: BTreeMap<String, (String, Vec<u64>)> = BTreeMap::new();
    for point in &page.result.points {
        let why = match &point.outcome {
            Err(why) => why.clone(),
            Ok(stats) if stats.prints == 0 => "no print was made".into(),
            Ok(_) => continue,
        };
        groups.entry(without_numbers(&why)).or_insert_with(|| (why, vec![])).1.push(point.point);
    }
    if groups.is_empty() {
        return html! { p class="note" { "None: every point ran." } };
    }
    let mut groups: Vec<(String, Vec<u64>)> = groups.into_values().collect();
    groups.sort_by(|a, b| b.1.len().cmp(&a.1.len()).then(a.1.cmp(&b.1)));
    html! {
        p { (plural(page.failed(), "point", "points")) " of " (page.result.points.len()) " could not run. Their settings and reasons are in " code { "sweep.csv" } ", column " code { "cannot_run" } "." }
        div class="scroll" { table {
            thead { tr { th class="n" { "points" } th { "reason (of the first of them)" } th { "which" } } }
            tbody { @for (why, points) in &groups { tr {
                td class="n" { (points.len()) }
                td { (why) }
                td { @for (i, p) in points.iter().take(8).enumerate() { @if i > 0 { ", " } (p) } @if points.len() > 8 { ", …" } }
            } } }
        } }
    }
}

fn cautions(page: &Page) -> Markup {
    let mut groups: BTreeMap<&str, (CautionKind, Vec<u64>)> = BTreeMap::new();
    for point in &page.result.points {
        if let Ok(stats) = &point.outcome {
            for kind in &stats.cautions {
                groups.entry(kind.id()).or_insert((*kind, vec![])).1.push(point.point);
            }
        }
    }
    if groups.is_empty() {
        return html! { p class="note" { "None apply to these points." } };
    }
    // The more points the sooner, then by identifier.
    let mut groups: Vec<(CautionKind, Vec<u64>)> = groups.into_values().collect();
    groups.sort_by_key(|(_, points)| std::cmp::Reverse(points.len()));
    let all = page.ran().count();
    let best = page.best().map(|b| page.number_of(b.index));
    html! {
        div class="scroll" { table {
            thead { tr { th { "caution" } th { "points" } th { (best_word(page)) " point" } } }
            tbody { @for (kind, points) in &groups { tr {
                td { (kind.words()) }
                td { @if points.len() == all { "all" } @else {
                    (points.len()) " of " (all) ": "
                    @for (i, p) in points.iter().take(8).enumerate() { @if i > 0 { ", " } (p) } @if points.len() > 8 { ", …" }
                } }
                td { (if best.is_some_and(|b| points.contains(&b)) { "applies" } else { "–" }) }
            } } }
        } }
        p class="caption" { "In short; the full sentences with their numbers stand in the report of a single print at the setting. Safety cautions about the ink hold for every point." }
    }
}

fn plan(page: &Page) -> Markup {
    let plan = &page.result.plan;
    let design = match plan.design {
        Design::Grid => "full grid: every combination".to_string(),
        Design::Sobol(n) => format!("Sobol sequence of {n} points, spread evenly over all axes"),
        Design::LatinHypercube(n) => format!("Latin hypercube of {n} points, even on each axis"),
    };
    let prints = match plan.prints {
        PointPrints::Fixed(n) => format!("{n} at every point"),
        PointPrints::Adaptive { round, most, half_width } => format!(
            "in rounds of {round}, at most {most}, until the pass probability is known to ± {} or is surely above or below the wanted share",
            percent(half_width)
        ),
    };
    let chance = match plan.chance {
        Chance::Common => {
            "print k meets the same chance at every point, so that differences between points show sooner"
        }
        Chance::Own => "every point has its own chance",
    };
    let values = |v: &AxisValues| match v {
        AxisValues::List(list) => list.iter().map(|v| setting(*v)).collect::<Vec<_>>().join(", "),
        AxisValues::Linear { from, to, count } => match plan.design {
            Design::Grid => format!("{} to {}, {count} values in even steps", setting(*from), setting(*to)),
            _ => format!("{} to {}", setting(*from), setting(*to)),
        },
        AxisValues::Log { from, to, count } => match plan.design {
            Design::Grid => format!("{} to {}, {count} values in even ratios", setting(*from), setting(*to)),
            _ => format!("{} to {}, even in the logarithm", setting(*from), setting(*to)),
        },
    };
    html! {
        div class="scroll" { table {
            thead { tr { th { "setting" } th { "scenario key" } th { "values" } th { "unit" } th { "rounded to" } } }
            tbody { @for axis in &plan.axes { tr {
                td { (space::name(axis)) } td { code { (axis.key) } } td { (values(&axis.values)) } td { (axis.unit) }
                td { @match axis.step(plan.design) { Some(step) => { (setting(step)) }, None => "as listed" } }
            } } }
        } }
        p class="caption" { "Values between the ends are rounded so that a controller takes them; the rounded ones were judged." }
        dl class="facts plan" {
            div { dt { "Design" } dd { (design) } }
            div { dt { "Prints" } dd { (prints) } }
            div { dt { "Chance" } dd { (chance) } }
            div { dt { "Wanted share of prints that pass" } dd { (page.wanted()) } }
            div { dt { "Limits" } dd {
                @if page.result.limits.is_empty() { "none" }
                @for (i, l) in page.result.limits.iter().enumerate() {
                    @if i > 0 { "; " }
                    (limit_name(l, page.result.resolution)) " " (limit_words(l))
                }
            } }
            div { dt { "Seed" } dd { (page.result.seed) } }
            div { dt { "Program" } dd { "motefall " (env!("CARGO_PKG_VERSION")) } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_that_differ_by_a_number_fall_together() {
        assert_eq!(without_numbers("Mach 0.97 at 12.5e3 Pa"), without_numbers("Mach 1.2 at 9 Pa"));
        assert_ne!(without_numbers("Mach 0.97"), without_numbers("bore 0.97"));
    }

    #[test]
    fn fewest_prints_by_hand() {
        // n/(n + z^2) >= 0.9: n >= 9 * 3.8415 = 34.57.
        assert_eq!(fewest_prints(0.9), Some(35));
    }
}
