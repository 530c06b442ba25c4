//! Plots of the report: profiles, sizes by stage, landing, mass budget.

use crate::numbers;
use crate::plot::{Dash, Mark, Plot, PlotAxis, Scale, Series};
use crate::tables::shares;
use crate::words::{capital, fate_words};
use maud::{Markup, PreEscaped, html};
use motefall_figures::{
    Budget, BudgetRow, Conditions, DROPLET_STAGES, Fate, ItemFigure, LandingPoint, Prediction, Profile,
};
use motefall_physics::inputs::{Layer, Shape};

/// Share of its box that an area must fill for a cut across it to be drawn: a disc fills 0.79. A judgement.
const LEAST_FILLED: f64 = 0.7;
/// Profiles drawn; the others are in the table file.
const MOST_PROFILES: usize = 4;
/// Drawing size of a plot in a row of two.
const SIZE: [f64; 2] = [560.0, 330.0];

fn line(name: &str, colour: usize, dash: Dash, points: Vec<[f64; 2]>) -> Series {
    Series { name: name.into(), colour, dash, mark: Mark::Line(points) }
}

fn steps(name: &str, colour: usize, dash: Dash, edges: &[f64], values: Vec<f64>) -> Series {
    Series { name: name.into(), colour, dash, mark: Mark::Steps(edges.to_vec(), values) }
}

fn figure(plot: &Plot, caption: &Markup) -> Markup {
    html! { figure { (PreEscaped(plot.svg())) figcaption { (caption) } } }
}

/// Sum over powders at each distance, m.
fn total(profile: &Profile) -> Vec<f64> {
    (0..profile.distance.len())
        .map(|i| profile.thickness.iter().filter_map(|t| t.get(i)).filter(|v| v.is_finite()).sum())
        .collect()
}

/// Distance from the axis that holds nearly all of the deposit, m.
fn reach(profile: &Profile, total: &[f64], share: f64) -> f64 {
    let mut order: Vec<(f64, f64)> = profile.distance.iter().map(|d| d.abs()).zip(total.iter().copied()).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = total.iter().sum();
    let mut sum = 0.0;
    for (distance, value) in &order {
        sum += value;
        if sum >= share * all {
            return *distance;
        }
    }
    order.last().map_or(1e-6, |o| o.0)
}

/// Profiles across the printed items.
pub(super) fn profiles(p: &Prediction) -> Markup {
    let (curved, straight): (Vec<&Profile>, Vec<&Profile>) = p.profiles.iter().partition(|q| is_curved(p, &q.item));
    let drawn: Vec<(&Profile, Vec<f64>)> =
        straight.into_iter().map(|q| (q, total(q))).filter(|(_, t)| t.iter().any(|v| *v > 0.0)).collect();
    if drawn.is_empty() && curved.is_empty() {
        return html! { p class="note" { "No printed item has a profile: nothing landed on one, or the path has no lines." } };
    }
    html! {
        @for (profile, total) in drawn.iter().take(MOST_PROFILES) {
            div class="pair" style="margin-bottom:18px" { (profile_pair(p, profile, total)) }
        }
        @if !curved.is_empty() {
            p class="note" {
                "Not drawn, because a straight cut runs out of a curved shape: "
                @for (i, profile) in curved.iter().enumerate() { @if i > 0 { ", " } (profile.item) }
                ". The numbers are in " code { "profile.csv" } "; look at the map instead."
            }
        }
        @if drawn.len() > MOST_PROFILES {
            p class="note" { "The profiles of the other " (drawn.len() - MOST_PROFILES) " items are in " code { "profile.csv" } "." }
        }
    }
}

/// Widths of an item in words, the one that a micrograph shows first; over all prints.
fn widths(p: &Prediction, item: &str) -> String {
    let shown: Vec<String> = [ItemFigure::EdgeWidth, ItemFigure::LineWidth, ItemFigure::Width99]
        .iter()
        .filter_map(|f| {
            p.figures.iter().find(|row| row.kind.figure == (*f).into() && row.place.as_deref() == Some(item))
        })
        .filter(|row| row.estimate.is_some())
        .map(|row| format!("{} {}", row.kind.label, numbers::figure(row.estimate.as_ref(), row.kind)))
        .collect();
    if shown.is_empty() { String::new() } else { format!("{}. ", capital(&shown.join(", "))) }
}

/// Whether an item is an area of a drawing that fills little of the box along its strokes, such as an arc: the average over a straight strip
/// then mixes the deposit with what lies beside it.
fn is_curved(p: &Prediction, item: &str) -> bool {
    let shape = p.inputs.items().find(|printed| printed.name == item).map(|printed| &printed.shape);
    let Some(Shape::Filled(filled)) = shape else { return false };
    let flat = filled.area.placed(-filled.angle, [0.0; 2]);
    let [width, height] = flat.bounds().size();
    flat.area() < LEAST_FILLED * width * height
}

fn profile_pair(p: &Prediction, profile: &Profile, total: &[f64]) -> Markup {
    let near = 1.4 * reach(profile, total, 0.98) * 1e6;
    let distance: Vec<f64> = profile.distance.iter().map(|d| d * 1e6).collect();
    let (least, most) = distance.iter().fold((0.0, 0.0), |(a, b): (f64, f64), d| (a.min(*d), b.max(*d)));
    let curve = |values: &[f64]| -> Vec<[f64; 2]> {
        distance.iter().zip(values).filter(|(d, _)| d.abs() <= near).map(|(d, v)| [*d, v * 1e9]).collect()
    };
    let mut series = vec![];
    let several = profile.thickness.iter().filter(|t| t.iter().any(|v| *v > 0.0)).count() > 1;
    if several {
        series.push(line("all powders", 0, Dash::Solid, curve(total)));
    }
    let powders = p.inputs.powders().into_iter().zip(&profile.thickness).enumerate();
    for (i, (powder, thickness)) in powders.filter(|(_, (_, t))| t.iter().any(|v| *v > 0.0)) {
        series.push(line(
            &powder.name,
            1 + i % 6,
            if i % 2 == 0 { Dash::Solid } else { Dash::Dashed },
            curve(thickness),
        ));
    }
    let thickness = Plot {
        size: SIZE,
        x: PlotAxis::over("distance from the axis (µm)", Scale::Linear, (-near).max(least), near.min(most)),
        y: PlotAxis::from_zero("projected solid thickness (nm)", total.iter().map(|t| t * 1e9)),
        series,
        description: format!("Thickness across {}", profile.item),
    };
    let coverage: Vec<[f64; 2]> = distance
        .iter()
        .zip(&profile.coverage)
        .map(|(d, c)| [*d, if *c > 0.0 { c * 100.0 } else { f64::NAN }])
        .collect();
    let floor = coverage.iter().map(|c| c[1]).filter(|c| *c > 0.0).fold(100.0, f64::min);
    let stray = Plot {
        size: SIZE,
        x: PlotAxis::over("distance from the axis (µm)", Scale::Linear, least, most),
        y: PlotAxis::over("covered share (%)", Scale::Log, 10f64.powf(floor.log10().floor()).clamp(1e-4, 10.0), 100.0),
        series: vec![line("", 2, Dash::Solid, coverage)],
        description: format!("Coverage across {}", profile.item),
    };
    let length = numbers::length(profile.length);
    let widths = widths(p, &profile.item);
    html! {
        (figure(&thickness, &html! {
            b { "Across " (profile.item) ": thickness. " } (widths)
            "Solids per area, as a beam meets them, averaged over " (length) " of the stroke. A film that dries without pores would be this thick."
        }))
        (figure(&stray, &html! {
            b { "Across " (profile.item) ": coverage. " }
            "Share of the stroke's length that lies under at least one particle. The logarithmic scale shows the stray particles beside the line; a gap means none."
        }))
    }
}

/// First and last bin edge worth drawing.
fn used_range(edges: &[f64], histograms: &[&[f64]]) -> (f64, f64) {
    let used = |i: &usize| {
        histograms.iter().any(|h| {
            let top = h.iter().copied().fold(0.0, f64::max);
            h.get(*i).is_some_and(|v| *v > 1e-3 * top)
        })
    };
    let bins = edges.len().saturating_sub(1);
    let first = (0..bins).find(used).unwrap_or(0).saturating_sub(1);
    let last = (0..bins).rev().find(used).map_or(bins, |i| (i + 2).min(bins));
    match (edges.get(first), edges.get(last)) {
        (Some(a), Some(b)) => (a * 1e6, b * 1e6),
        _ => (0.1, 10.0),
    }
}

/// Sizes by stage: droplets of each layer, then each powder.
pub(crate) fn sizes(p: &Prediction) -> Markup {
    html! {
        div class="pair" {
            @for ((layer, part), counts) in p.inputs.layers.iter().zip(&p.layers).zip(&p.sizes.droplets) { (droplet_sizes(p, layer, &part.conditions, counts)) }
            @for (i, powder) in p.inputs.powders().into_iter().enumerate() {
                @if let Some(sizes) = p.sizes.powders.get(i) { (powder_sizes(p, i, &powder.name, sizes)) }
            }
        }
    }
}

/// The beginning of a caption: with the name of the layer before it, if it has one.
fn of_layer(layer: &Layer, words: &str) -> String {
    if layer.name.is_empty() { capital(words) } else { format!("{}: {words}", layer.name) }
}

fn droplet_sizes(p: &Prediction, layer: &Layer, conditions: &Conditions, counts: &[Vec<u64>; 4]) -> Markup {
    let [by_count, by_mass] =
        [conditions.droplet_median, conditions.droplet_mass_median].map(|d| numbers::significant(d * 1e6, 3));
    let droplets: Vec<Vec<f64>> = counts.iter().map(|d| d.iter().map(|c| *c as f64).collect()).collect();
    let edges: Vec<f64> = p.sizes.droplet_edges.iter().map(|e| e * 1e6).collect();
    let top = droplets.iter().flatten().copied().fold(0.0, f64::max);
    let (factor, words) = if top >= 2e6 {
        (1e-6, "million droplets per bin")
    } else if top >= 2e3 {
        (1e-3, "thousand droplets per bin")
    } else {
        (1.0, "droplets per bin")
    };
    let (low, high) = used_range(&p.sizes.droplet_edges, &droplets.iter().map(Vec::as_slice).collect::<Vec<_>>());
    let styles = [(6, Dash::Dotted), (4, Dash::Dashed), (2, Dash::Solid), (3, Dash::Solid)];
    let plot = Plot {
        size: SIZE,
        x: PlotAxis::over("droplet diameter (µm)", Scale::Log, low, high),
        y: PlotAxis::from_zero(words, droplets.iter().flatten().map(|c| c * factor)),
        series: DROPLET_STAGES
            .iter()
            .zip(&droplets)
            .zip(styles)
            .map(|((stage, counts), (colour, dash))| {
                steps(stage, colour, dash, &edges, counts.iter().map(|c| c * factor).collect())
            })
            .collect(),
        description: "Droplet sizes by stage".into(),
    };
    figure(
        &plot,
        &html! {
            b { (of_layer(layer, "droplets by stage. ")) }
            "Droplets are counted here, not weighed: at the atomiser half of them are larger than " (by_count) "\u{a0}µm, and half of the liquid is in those above " (by_mass) "\u{a0}µm. The difference between the first two outlines is what the tube removes; drying moves the outline to the left; the last lacks what the gas carries past the chip."
            @if counts.iter().any(|stage| stage.first().is_some_and(|smallest| *smallest > 0)) {
                " The step at the left end holds all droplets that have dried to less."
            }
        },
    )
}

fn powder_sizes(p: &Prediction, index: usize, name: &str, sizes: &motefall_figures::PowderSizes) -> Markup {
    let edges: Vec<f64> = p.sizes.particle_edges.iter().map(|e| e * 1e6).collect();
    let printed = shares(&sizes.landed_count);
    // The volume in a bin is taken at its geometric middle.
    let volumes: Vec<f64> = edges.windows(2).zip(&printed).map(|(e, s)| s * (e[0] * e[1]).powf(1.5)).collect();
    let all: f64 = volumes.iter().sum();
    let printed_volume: Vec<f64> = volumes.iter().map(|v| if all > 0.0 { v / all } else { 0.0 }).collect();
    let percent = |values: &[f64]| values.iter().map(|v| v * 100.0).collect::<Vec<_>>();
    let parts = [&sizes.received_number, &sizes.received_volume, &printed, &printed_volume];
    let (low, high) = used_range(&p.sizes.particle_edges, &parts.map(|v| v.as_slice()));
    let colour = 1 + index % 6;
    let mut series = vec![
        steps("received, by number", 6, Dash::Solid, &edges, percent(&sizes.received_number)),
        steps("received, by volume", 6, Dash::Dashed, &edges, percent(&sizes.received_volume)),
    ];
    if !printed.is_empty() {
        series.push(steps("printed, by number", colour, Dash::Solid, &edges, percent(&printed)));
        series.push(steps("printed, by volume", colour, Dash::Dashed, &edges, percent(&printed_volume)));
    }
    let plot = Plot {
        size: SIZE,
        x: PlotAxis::over("particle diameter (µm)", Scale::Log, low, high),
        y: PlotAxis::from_zero("share per bin (%)", parts.iter().flat_map(|v| v.iter()).map(|v| v * 100.0)),
        series,
        description: format!("Sizes of {name}"),
    };
    let share = p.printable_share(index);
    figure(
        &plot,
        &html! {
            b { (name) ": as received and as printed. " }
            "Coarse particles do not fit into droplets or their droplets do not pass the tube; fine droplets miss the chip. "
            @if let Some(share) = share { (numbers::percent(share)) " of this powder's mass can ride in droplets at all. " }
            @if printed.is_empty() { "None of it landed." }
            @else { (numbers::count(sizes.landed_count.iter().sum())) " particles landed." }
        },
    )
}

/// Landing radius and fate against droplet size, layer by layer.
pub(crate) fn landing(p: &Prediction) -> Markup {
    html! {
        @for (i, (layer, part)) in p.inputs.layers.iter().zip(&p.layers).enumerate() {
            @if i > 0 { div style="height:18px" {} }
            (landing_of(layer, &part.landing_curve))
        }
    }
}

fn landing_of(layer: &Layer, curve: &[LandingPoint]) -> Markup {
    if curve.is_empty() {
        return html! { p class="note" { "No landing curve was computed." } };
    }
    let micrometres = |v: f64| v * 1e6;
    let (low, high) = curve.iter().fold((f64::INFINITY, 0.0f64), |(a, b), l| (a.min(l.diameter), b.max(l.diameter)));
    let x = PlotAxis::over("droplet diameter at the nozzle exit (µm)", Scale::Log, micrometres(low), micrometres(high));
    // Fine droplets may land ten times farther out than the bulk: then a logarithm keeps both readable.
    let radii = || curve.iter().flat_map(|l| l.radius).map(micrometres).filter(|r| r.is_finite() && *r > 0.0);
    let (nearest, farthest) = radii().fold((f64::INFINITY, 0.0f64), |(a, b), r| (a.min(r), b.max(r)));
    let y = if farthest > 12.0 * nearest {
        PlotAxis::over("landing radius (µm)", Scale::Log, nearest.max(farthest / 1e3) * 0.8, farthest * 1.2)
    } else {
        PlotAxis::from_zero("landing radius (µm)", radii())
    };
    let radius = Plot {
        size: SIZE,
        x: x.clone(),
        y,
        series: vec![
            Series {
                name: "5 to 95 % of the landed flow".into(),
                colour: 2,
                dash: Dash::Solid,
                mark: Mark::Band(
                    curve.iter().map(|l| [l.diameter, l.radius[0], l.radius[2]].map(micrometres)).collect(),
                ),
            },
            line(
                "half lands within",
                2,
                Dash::Solid,
                curve.iter().map(|l| [l.diameter, l.radius[1]].map(micrometres)).collect(),
            ),
        ],
        description: "Landing radius against droplet diameter".into(),
    };
    let fate = Plot {
        size: SIZE,
        x,
        y: PlotAxis::over("share that lands (%)", Scale::Linear, 0.0, 104.0),
        series: vec![line(
            "",
            4,
            Dash::Solid,
            curve.iter().map(|l| [micrometres(l.diameter), l.landed * 100.0]).collect(),
        )],
        description: "Share that lands against droplet diameter".into(),
    };
    html! {
        div class="pair" {
            (figure(&radius, &html! {
                b { (of_layer(layer, "where a droplet lands. ")) }
                "Distance from the nozzle axis. Heavy droplets keep their course; light ones follow the gas outward before they touch. The curve ends where none lands."
            }))
            (figure(&fate, &html! {
                b { (of_layer(layer, "whether it lands. ")) }
                "Share of the mist flow from which droplets of this size reach the chip; the rest is carried past it by the gas or has hit the head's wall."
            }))
        }
    }
}

/// Order in which solids get lost or land.
fn rank(p: &Prediction, fate: &Fate) -> u32 {
    match fate {
        Fate::TubeSettling => 0,
        Fate::TubeDiffusion => 1,
        Fate::TubeBend => 2,
        Fate::HeadWall => 3,
        Fate::Escaped => 4,
        Fate::Bounced => 5,
        Fate::OffChip => 6,
        Fate::Elsewhere => 7,
        Fate::Region(name) if p.inputs.regions.iter().any(|r| r.name == *name && r.role.is_printed()) => 9,
        Fate::Region(_) => 8,
    }
}

/// Mass budget as a staircase: each loss takes its piece from the right, what is left is the print.
pub(super) fn budget(p: &Prediction) -> Markup {
    html! {
        (budget_of(p, &p.budget, None))
        @if p.layers.len() > 1 {
            details {
                summary { "The same for each layer" }
                @for (layer, part) in p.inputs.layers.iter().zip(&p.layers) {
                    div style="height:12px" {}
                    (budget_of(p, &part.budget, Some(&layer.name)))
                }
            }
        }
    }
}

/// One step of the staircase.
struct BudgetStep {
    name: String,
    is_target: bool,
    /// Powder, where its bar begins and how wide it is, as shares of the whole.
    bars: Vec<(usize, f64, f64)>,
    /// Where the step begins.
    start: f64,
    /// kg.
    mass: f64,
    droplets: u64,
}

/// The steps from what is lost first to the print; `all` is what left the vial, kg.
fn budget_lines(p: &Prediction, budget: &Budget, all: f64) -> Vec<BudgetStep> {
    let mass = |row: &BudgetRow| row.mass.iter().sum::<f64>();
    let mut rows: Vec<&BudgetRow> =
        budget.rows.iter().filter(|r| r.droplets > 0 || mass(r) > 0.0 || matches!(r.fate, Fate::Region(_))).collect();
    rows.sort_by_key(|r| rank(p, &r.fate));
    let mut end = 1.0;
    let step = |row: &BudgetRow| {
        let start = (end - mass(row) / all).max(0.0);
        end = start;
        let mut at = start;
        let mut bars = vec![];
        for (i, share) in row.mass.iter().map(|m| m / all).enumerate().filter(|(_, share)| *share > 0.0) {
            bars.push((i, at, share));
            at += share;
        }
        let (words, region) = fate_words(&row.fate);
        let name = capital(&region.map_or_else(|| words.to_string(), |r| format!("{words} {r}")));
        let is_target = rank(p, &row.fate) == 9;
        BudgetStep { name, is_target, bars, start, mass: mass(row), droplets: row.droplets }
    };
    rows.into_iter().map(step).collect()
}

fn budget_of(p: &Prediction, budget: &Budget, layer: Option<&str>) -> Markup {
    let all: f64 = budget.mass.iter().sum();
    if all <= 0.0 {
        return html! { p class="note" { "No solids left the vial while the shutter was open." } };
    }
    let lines = budget_lines(p, budget, all);
    let powders = p.inputs.powders();
    html! {
        figure {
            div class="budget" {
                span class="head" { "what became of it" } span {} span class="n head" { "solids" } span class="n head" { "share" }
                span class="first" { "Left the vial" }
                div class="track" {
                    @for (i, m) in budget.mass.iter().enumerate() {
                        (bar(i, budget.mass[..i].iter().sum::<f64>() / all, m / all))
                    }
                }
                span class="n" { (numbers::mass(all)) } span class="n" { "100\u{a0}%" }
                @for line in &lines {
                    span class=(if line.is_target { "target" } else { "" }) title=(format!("{} droplets", numbers::count(line.droplets))) { (line.name) }
                    div class="track" {
                        @for (i, at, width) in &line.bars { (bar(*i, *at, *width)) }
                        div class="end" style=(format!("left:{:.3}%", line.start * 100.0)) {}
                    }
                    span class="n" { (numbers::mass(line.mass)) } span class="n" { (numbers::percent(line.mass / all)) }
                }
            }
            figcaption {
                b { (layer.map_or("Where the solids went".into(), |layer| format!("{layer}: where the solids went"))) } " while the shutter was open. Each loss takes its piece from the right; what is left at the bottom is the print. "
                @for (i, powder) in powders.iter().enumerate() {
                    span style="color:var(--ink);margin-right:12px;white-space:nowrap" { span class=(format!("keybox s{}", 1 + i % 6)) {} (powder.name) }
                }
                br;
                "A particle counts where its own centre came to rest. The rows add up to the whole to within "
                (numbers::significant(budget.closure.max(1e-16), 1)) " of it"
                @if budget.not_simulated > 0.0 {
                    "; about " (numbers::count(budget.not_simulated.round() as u64)) " further droplets were expected but not simulated, because of the droplet budget"
                }
                "."
            }
        }
    }
}

fn bar(powder: usize, at: f64, share: f64) -> Markup {
    html! { div class=(format!("bar s{}", 1 + powder % 6)) style=(format!("left:{:.3}%;width:{:.3}%", at * 100.0, share * 100.0)) {} }
}
