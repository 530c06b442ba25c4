//! How prints differ: prints along each deciding figure, and which varied input makes them differ.

use crate::differences::{
    are_known, basis_words, belongs, deciding, direction, held, holds_fewer, input_unit, limit_share, name, share_words,
};
use crate::numbers;
use crate::numbers::trimmed;
use crate::plot::{escape, nice_ticks, tick_label};
use crate::words::{capital, limit_words};
use maud::{Markup, PreEscaped, html};
use motefall_figures::importance::fewest_prints;
use motefall_figures::{Distribution, Explained, FigureKind, FigureRow, LimitOutcome, Prediction};
use motefall_physics::inputs::Law;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Figures that get a picture.
const MOST_PICTURES: usize = 6;
/// Causes shown in a picture.
const MOST_BARS: usize = 6;
/// Places whose figures are shown without a click.
const MOST_OPEN_PLACES: usize = 2;
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

/// The section; empty when the prints are too few to say how they differ.
pub fn section(p: &Prediction) -> Markup {
    if !are_known(p) {
        return html! {};
    }
    let deciding = deciding(p);
    html! {
        h2 id="differ" { "How prints differ" }
        (varied(p))
        div class="pair" {
            @for (row, distribution) in deciding.iter().take(MOST_PICTURES) { (card(p, row, distribution)) }
        }
        (table(p))
    }
}

/// What differs between the prints, in words.
fn varied(p: &Prediction) -> Markup {
    let n = p.verdict.n;
    let inputs = &p.draws.inputs;
    if inputs.is_empty() {
        return html! {
            p { "The " (n) " prints differ by chance alone: the same settings, other droplets. Real prints also differ in alignment, flows and ink; give those under " code { "spread" } " in the scenario to see what they do." }
        };
    }
    let law = |law: Law| match law {
        Law::Normal => "normal",
        Law::Uniform => "even",
        Law::Triangular => "triangular",
    };
    html! {
        p {
            "The " (n) " prints differ by chance and by what varies from print to print (standard deviation and law): "
            @for (i, input) in inputs.iter().enumerate() {
                @if i > 0 { "; " }
                (input.label(&p.inputs.layers))
                @if let Some(variation) = p.inputs.spread.iter().find(|v| v.input == input.input) {
                    " " (numbers::significant(variation.sd * input.input.per_si(), 2)) (input_unit(input.input)) " (" (law(variation.law)) ")"
                }
            }
            ". Each print and its draws are in " code { "prints.csv" } "."
            @if (n as usize) < fewest_prints(inputs) {
                " To say which of them matters takes at least " (fewest_prints(inputs)) " prints."
            }
        }
    }
}

fn card(p: &Prediction, row: &FigureRow, d: &Distribution) -> Markup {
    let limit = p.limits.iter().find(|l| belongs(l, row));
    let (value, unit) = shown(row, d);
    let unit = if unit.is_empty() { unit } else { format!("\u{a0}{unit}") };
    let [p5, p50, p95] = d.percentiles.map(&value);
    let missing = d.values.iter().filter(|v| v.is_nan()).count();
    html! {
        figure {
            h3 class="card" { (capital(&name(row))) }
            (PreEscaped(drawing(row, d, limit)))
            (causes(p, d))
            figcaption {
                @match tallied(row.kind, &d.values) {
                    Some(counts) => {
                        @for (i, (value, prints)) in counts.iter().enumerate() {
                            @if i > 0 { ", " }
                            (value) " in " (prints)
                            @if i == 0 { " of " (d.values.len() - missing) " prints" }
                        }
                        ". "
                    }
                    None => { "Half of the prints lie above " (p50) (unit) ", nine of ten between " (p5) " and " (p95) (unit) ". " }
                }
                @let t = d.tolerance;
                b { "At least " (held(&t)) " of all prints made like this lie between " (value(t.interval[0])) " and " (value(t.interval[1])) (unit) }
                ", at 95 % confidence (" (basis_words(&t)) "). "
                @if holds_fewer(&t) { "To say it of 95 % takes 93 prints. " }
                @if let Some(l) = limit {
                    (l.met) " of " (l.n) " prints meet the limit of " (limit_words(&l.limit))
                    @if let Some(share) = limit_share(l) { ": " (share) }
                    ". "
                }
                @if missing > 0 { (missing) " prints gave no value. " }
                @if d.unexplained.is_some() { "Bars: share of the differences between prints that each varied input explains, with 95 % interval." }
            }
        }
    }
}

/// How many prints have each value of a figure that counts something, if there are few different values.
fn tallied(kind: &FigureKind, values: &[f64]) -> Option<Vec<(u64, usize)>> {
    const MOST: usize = 6;
    let mut counts = BTreeMap::new();
    for value in values.iter().filter(|v| !v.is_nan()) {
        let whole = kind.unit.is_empty() && *value >= 0.0 && value.fract() == 0.0;
        *counts.entry(whole.then_some(*value as u64)?).or_insert(0) += 1;
    }
    (counts.len() <= MOST).then(|| counts.into_iter().collect())
}

/// Writes a value of this row with as many digits as its spread calls for; and its unit.
fn shown(row: &FigureRow, d: &Distribution) -> (impl Fn(f64) -> String + use<>, String) {
    let (factor, unit) = numbers::suited(row.kind, d.percentiles[2] * row.kind.per_si);
    let scale = row.kind.per_si * factor;
    // A percentile of some hundred prints is known to about a fifth of the standard deviation. Extremes have digits as everywhere.
    let precision = 0.2 * row.estimate.filter(|e| e.extremes.is_none()).and_then(|e| e.sd).unwrap_or(0.0) * scale;
    (move |value| numbers::at_precision(value * scale, precision), unit)
}

/// Bars of the causes.
fn causes(p: &Prediction, d: &Distribution) -> Markup {
    let Some(unexplained) = d.unexplained else { return html! {} };
    let bar = |share: [f64; 3], class: &str| {
        let [share, low, high] = share.map(|s| s * 100.0);
        html! {
            div class="track" {
                div class=(format!("bar {class}")) style=(format!("left:0;width:{share:.2}%")) {}
                div class="reach" style=(format!("left:{low:.2}%;width:{:.2}%", high - low)) {}
            }
        }
    };
    let clear: Vec<_> = d.explained.iter().filter(|e| e.share[1] > 0.0).take(MOST_BARS).collect();
    let label = |effect: &Explained| effect.input.label(&p.inputs.layers);
    let rest: Vec<String> =
        d.explained.iter().filter(|e| !clear.iter().any(|c| c.input == e.input)).map(label).collect();
    html! {
        div class="causes" {
            span class="head" { "what makes prints differ" } span class="head scale" { span { "0" } span { "50" } span { "100\u{a0}%" } } span class="n head" { "share of the variance" }
            @for effect in &clear {
                span { b { (capital(&label(effect))) } span class="why" { (direction(effect)) } }
                (bar(effect.share, "s2"))
                span class="n" { (share_words(effect.share)) }
            }
            span { "Chance and interplay" }
            (bar(unexplained, "s6"))
            span class="n" { (share_words(unexplained)) }
        }
        @if !rest.is_empty() { p class="note small" { "No clear effect: " (rest.join(", ")) "." } }
    }
}

/// The prints along one figure: tolerance interval, percentiles, histogram, limits.
fn drawing(row: &FigureRow, d: &Distribution, limit: Option<&LimitOutcome>) -> String {
    let (suited, unit) = numbers::suited(row.kind, d.percentiles[2] * row.kind.per_si);
    let scale = row.kind.per_si * suited;
    let mut values: Vec<f64> = d.values.iter().filter(|v| v.is_finite()).map(|v| v * scale).collect();
    values.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (values.first().copied(), values.last().copied()) else { return String::new() };
    let width = last - first;
    let [from, to] = d.tolerance.interval.map(|v| v * scale);
    let bounds = [limit.and_then(|l| l.limit.min), limit.and_then(|l| l.limit.max)].map(|b| b.map(|b| b * scale));
    let near = |bound: &f64| *bound > first - LIMIT_REACH * width && *bound < last + LIMIT_REACH * width;
    let all = || [first, last].into_iter().chain([from, to]).chain(bounds.into_iter().flatten().filter(near));
    let (low, high) = all().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
    let pad = 0.04 * (high - low);
    let (low, high) = (if low >= 0.0 { (low - pad).max(0.0) } else { low - pad }, high + pad);
    let px = |v: f64| LEFT + ((v - low) / (high - low)).clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT);

    let label = row.kind.label;
    // Very small values: a power of ten in the label instead of zeros on every tick.
    let exponent = high.abs().max(low.abs()).log10().floor() as i32;
    let factor = if exponent < -2 { 10f64.powi(exponent) } else { 1.0 };
    let unit = match factor < 1.0 {
        false => unit,
        true => format!("{}\u{a0}{unit}", numbers::ten_to(exponent)).trim_end().to_string(),
    };
    let mut out = format!(
        r#"<svg class="plot prints" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escape(&format!("Histogram of the prints: {}", name(row)))
    );
    // Where a print fails.
    for (bound, from, to) in [(bounds[0], low, bounds[0].unwrap_or(low)), (bounds[1], bounds[1].unwrap_or(high), high)]
    {
        if bound.is_some() && px(to) > px(from) {
            let _ = write!(
                out,
                r#"<rect class="beyond" x="{:.1}" y="{TOP}" width="{:.1}" height="{:.1}"/>"#,
                px(from),
                px(to) - px(from),
                FLOOR - TOP
            );
        }
    }
    let ticks = nice_ticks([low, high], 7);
    let step = if ticks.len() > 1 { ticks[1] - ticks[0] } else { 1.0 };
    for tick in ticks {
        let x = px(tick);
        let _ = write!(
            out,
            r#"<path class="grid" d="M{x:.1} {TOP}V{FLOOR}"/><text class="tick" x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            FLOOR + 16.0,
            tick_label(tick / factor, step / factor)
        );
    }
    let (edges, counts) = histogram(&values);
    let most = counts.iter().copied().max().unwrap_or(1).max(1) as f64;
    for (pair, count) in edges.windows(2).zip(&counts).filter(|(_, count)| **count > 0) {
        let height = *count as f64 / most * (FLOOR - TOP - 6.0);
        let _ = write!(
            out,
            r#"<rect class="column" x="{:.1}" y="{:.1}" width="{:.1}" height="{height:.1}"><title>{count} prints</title></rect>"#,
            px(pair[0]) + 0.5,
            FLOOR - height,
            (px(pair[1]) - px(pair[0]) - 1.0).max(0.8)
        );
    }
    let _ = write!(out, r#"<path class="axis" d="M{LEFT} {FLOOR}H{:.1}"/>"#, WIDTH - RIGHT);

    let (a, b) = (px(from), px(to));
    let _ = write!(
        out,
        r#"<path class="tolerance" d="M{a:.1} {0:.1}v10M{b:.1} {0:.1}v10M{a:.1} {TOLERANCE_Y}H{b:.1}"/>"#,
        TOLERANCE_Y - 5.0
    );
    let text = format!("{} of all prints, with 95 % confidence", held(&d.tolerance));
    words(&mut out, 0.5 * (a + b), TOLERANCE_Y - 10.0, &text);
    let [p5, p50, p95] = d.percentiles.map(|v| px(v * scale));
    let _ = write!(
        out,
        r#"<rect class="most" x="{p5:.1}" y="{:.1}" width="{:.1}" height="8"/><path class="middle" d="M{p50:.1} {:.1}v12"/>"#,
        PERCENTILES_Y - 4.0,
        (p95 - p5).max(1.0),
        PERCENTILES_Y - 6.0
    );
    words(&mut out, 0.5 * (p5 + p95), PERCENTILES_Y - 12.0, "5 to 95 % of these prints; tick: median");

    for (bound, beside, anchor, word) in [(bounds[0], 5.0, "start", "least"), (bounds[1], -5.0, "end", "most")] {
        let Some(bound) = bound else { continue };
        let text = format!("{word} {}", trimmed(bound));
        if near(&bound) {
            let x = px(bound);
            let inside = if (x < LEFT + 70.0 && beside < 0.0) || (x > WIDTH - RIGHT - 70.0 && beside > 0.0) {
                -1.0
            } else {
                1.0
            };
            let anchor = match (anchor, inside < 0.0) {
                ("start", true) => "end",
                ("end", true) => "start",
                (same, _) => same,
            };
            let _ = write!(
                out,
                r#"<path class="limit" d="M{x:.1} {:.1}V{FLOOR}"/><text class="limit-word" x="{:.1}" y="{:.1}" text-anchor="{anchor}">{text}</text>"#,
                TOP - 6.0,
                x + beside * inside,
                TOP + 9.0
            );
        } else {
            let (x, anchor, text) = if bound < low {
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
    let axis = if unit.is_empty() { capital(label) } else { format!("{} ({unit})", capital(label)) };
    let _ = write!(
        out,
        r#"<text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text></svg>"#,
        0.5 * WIDTH,
        HEIGHT - 12.0,
        escape(&format!("{axis}; height: number of prints, up to {most}"))
    );
    out
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
    use motefall_figures::spread::percentile;
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

/// Mean, spread, percentiles and tolerance of every figure that differs, place by place.
fn table(p: &Prediction) -> Markup {
    let mut places: Vec<Option<&str>> = vec![];
    for row in p.figures.iter().filter(|row| row.distribution.is_some()) {
        if !places.contains(&row.place.as_deref()) {
            places.push(row.place.as_deref());
        }
    }
    let causes = p.figures.iter().any(|row| row.distribution.as_ref().is_some_and(|d| d.unexplained.is_some()));
    // Places with a limit first.
    places.sort_by_key(|place| !p.limits.iter().any(|l| l.limit.place.as_deref() == *place));
    let (open, rest) = places.split_at(places.len().min(MOST_OPEN_PLACES));
    let of_place = |place: Option<&str>| {
        let rows = p.figures.iter().filter(|row| row.place.as_deref() == place);
        let rows: Vec<_> = rows.filter_map(|row| Some((row, row.distribution.as_ref()?))).collect();
        html! {
            h3 { (capital(place.unwrap_or("the whole print"))) }
            div class="scroll" { table class="spread" {
                thead { tr {
                    th { "figure" } th { "unit" } th class="n" { "mean" } th class="n" { "SD" } th class="n" { "5 %" } th class="n" { "median" } th class="n" { "95 %" } th class="n" { "largest" }
                    th class="n" { "holds 95 % of all prints" } @if causes { th { "prints differ because of" } }
                } }
                tbody {
                    @for (row, d) in &rows {
                        @let (value, unit) = shown(row, d);
                        @let extreme = row.kind.is_extreme();
                        tr {
                            td { (capital(&numbers::label_at(row.kind, p.inputs.map.resolution))) }
                            td { (unit) }
                            td class="n" { @if extreme { "–" } @else { (numbers::figure(row.estimate.as_ref(), row.kind).below(&unit)) } }
                            td class="n" { @if extreme { "–" } @else { (row.estimate.and_then(|e| e.sd).map_or_else(String::new, &value)) } }
                            @for percentile in d.percentiles { td class="n" { (value(percentile)) } }
                            td class="n" { (value(d.values.iter().copied().fold(0.0, f64::max))) }
                            td class="n" {
                                @let t = d.tolerance;
                                (value(t.interval[0])) " to " (value(t.interval[1])) @if !t.normal { "\u{2009}°" }
                                @if holds_fewer(&t) { " (" (held(&t)) ")" }
                            }
                            @if causes { td { (main_cause(p, d)) } }
                        }
                    }
                }
            } }
        }
    };
    html! {
        @for place in open { (of_place(*place)) }
        @if !rest.is_empty() {
            details {
                summary { "Spread of the figures of " (rest.len()) (if rest.len() == 1 { " more place" } else { " more places" }) }
                @for place in rest { (of_place(*place)) }
            }
        }
        p class="note" {
            "After ±: 95 % interval of the mean. SD: standard deviation between prints; mean and SD are left out for extremes, which a single print may set. 5 %, median, 95 %: percentiles of the prints (Hyndman & Fan 1996, definition 8). "
            "Holds 95 % of all prints: tolerance interval, of which one can be 95 % confident that at least 95 % of all prints made with these settings lie in it; "
            "by the normal law where nothing but chance differs between prints, many particles share in the figure and the prints do not contradict it at 5 % (Anderson & Darling 1954); else, marked °, between two ordered prints, whatever the law (Wilks 1941). That takes 93 prints; of fewer, the percentage behind it says of how many prints it holds. "
            @if !p.draws.inputs.is_empty() {
                "Causes: shares of the variance of the ranks of the prints by regression (Iman & Conover 1979), with 95 % intervals by resampling the prints; an effect that turns round within the drawn range counts as interplay, except for the alignment. "
            }
            "What does not differ between prints is left out."
        }
    }
}

/// The main cause in a few words.
fn main_cause(p: &Prediction, d: &Distribution) -> String {
    match (d.explained.first(), d.unexplained) {
        (Some(first), Some(rest)) if first.share[1] > 0.0 && first.share[0] > rest[0] => {
            format!(
                "{}, {:.0}\u{a0}% ({})",
                first.input.label(&p.inputs.layers),
                first.share[0] * 100.0,
                direction(first)
            )
        }
        (_, Some(rest)) => format!("chance and interplay, {:.0}\u{a0}%", rest[0] * 100.0),
        _ => "–".into(),
    }
}
