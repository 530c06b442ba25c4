//! The figures at the head of the report: the map, and the deposit at particle scale.

use super::LONG;
use super::map::draw_map;
use super::view::{close_view, close_width, main_region, total_thickness};
use crate::numbers;
use crate::picture::{self, View, data_address};
use crate::plot::nice_below;
use crate::report::drawing::rings_data;
use maud::{Markup, PreEscaped, html};
use motefall_figures::{Particle, Prediction};
use motefall_physics::inputs::Role;
use ndarray::Array2;
use std::collections::BTreeSet;
use std::fmt::Write;

/// The figures at the head of the report.
pub(crate) struct Hero {
    /// Map, and for long chips its enlarged part.
    pub(crate) map: Markup,
    /// Particle picture or what stands for it.
    pub(crate) close: Markup,
    /// Whether the map takes the whole width.
    pub(crate) wide: bool,
}

/// Draws the head figures.
pub(crate) fn hero(p: &Prediction) -> Result<Hero, png::EncodingError> {
    let total = total_thickness(p);
    let whole = View::of_grid(&p.maps.grid);
    let aspect = whole.width() / whole.height();
    let side = close_width(p);
    let close = (!p.pile.is_empty()).then(|| close_view(p, &total, side, side));
    let wide = aspect > 2.2;

    let room = if wide { [1170.0, 700.0] } else { [600.0, 640.0] };
    let overview = draw_map(p, &total, &whole, room, close.as_ref())?;
    let long = !(1.0 / LONG..=LONG).contains(&aspect);
    let part = if long {
        let short = whole.width().min(whole.height());
        let (w, h) = if aspect > 1.0 { (6.0 * short, short) } else { (short, 6.0 * short) };
        let view = close_view(p, &total, w.min(whole.width()), h.min(whole.height()));
        Some(draw_map(p, &total, &view, room, close.as_ref())?)
    } else {
        None
    };
    let map = html! {
        figure class=(if wide { "wide" } else { "" }) {
            (overview)
            @if let Some(part) = part {
                p class="note" style="margin:12px 0 4px" { "Part of the same map around the deposit, enlarged:" }
                (part)
            }
            figcaption { (map_caption(p, &whole, &total, close.is_some())) }
        }
    };
    let close = match close {
        Some(view) => close_figure(p, &view)?,
        None => replacement(p, &total)?,
    };
    Ok(Hero { map, close, wide })
}

/// What the map shows.
fn map_caption(p: &Prediction, whole: &View, total: &Array2<f64>, has_close: bool) -> Markup {
    let outside: Vec<&str> =
        p.inputs.regions.iter().filter(|r| !View::of_region(r).overlaps(whole)).map(|r| r.name.as_str()).collect();
    html! {
        b { "Thickness map" }
        @if p.verdict.n > 1 { " of the first of " (p.verdict.n) " prints." } @else { "." }
        @if total.iter().all(|v| *v <= 0.0) { " Nothing landed here." } @else {
            " Colour: projected solid thickness (seen from above, all powders together); values beyond the scale have the \
             brightest colour; black is bare."
        }
        " Solid outline: target or counter electrode; dashed: other electrode; dotted: window; dash-dot: keep-out. Faint white line: nozzle \
         path, shutter open; grey dots: shutter closed."
        @if has_close { " Square A is shown at particle scale." }
        " " (numbers::length(whole.width())) " × " (numbers::length(whole.height())) "; map pixel "
        (numbers::length(p.maps.grid.pitch)) "."
        @if !outside.is_empty() { " Outside this map: " (outside.join(", ")) "." }
    }
}

/// The deposit at particle scale.
fn close_figure(p: &Prediction, view: &View) -> Result<Markup, png::EncodingError> {
    let png = picture::particles_png(&p.pile, &p.inputs.regions, view, 900)?;
    let side = 600.0;
    let scale = side / view.width();
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {side} {side}" role="img" aria-label="Deposit from above at particle scale"><image href="{}" width="{side}" height="{side}"/>"#,
        data_address(&png)
    );
    for region in &p.inputs.regions {
        let d = rings_data(&region.outline, view, scale, [0.0, 0.0]);
        if region.role != Role::Window {
            let _ = write!(svg, r#"<path class="outline" stroke-opacity="0.55" stroke-width="1" d="{d}"/>"#);
        }
    }
    let bar = nice_below(view.width() * 0.25);
    let length = bar * scale;
    let _ = write!(
        svg,
        r##"<rect x="14" y="{:.1}" width="{:.1}" height="34" rx="4" fill="#101418" fill-opacity="0.72"/><path d="M24 {:.1}h{length:.1}" stroke="#fff" stroke-width="3"/><text x="24" y="{:.1}" style="fill:#fff;font-size:13px">{}</text></svg>"##,
        side - 48.0,
        length.max(44.0) + 20.0,
        side - 22.0,
        side - 30.0,
        numbers::length(bar)
    );
    Ok(html! { figure { (PreEscaped(svg)) figcaption { (close_caption(p, view)) } } })
}

/// What the particle picture shows.
fn close_caption(p: &Prediction, view: &View) -> Markup {
    let in_view = |q: &&Particle| q.x >= view.x[0] && q.x <= view.x[1] && q.y >= view.y[0] && q.y <= view.y[1];
    let inside = p.pile.particles().iter().filter(in_view).count();
    let powders_inside: BTreeSet<usize> =
        p.pile.particles().iter().filter(in_view).map(|q| usize::from(q.powder)).collect();
    let place = main_region(p).map_or_else(
        || "the middle of the deposit".to_string(),
        |r| {
            let of = if inside == 0 { "" } else { "the deposit on " };
            format!("around the middle of {of}{}", r.name)
        },
    );
    html! {
        b { "A: particle scale. " }
        "The deposit from above, as an electron microscope would show it, drawn from the computed particles: "
        (numbers::length(view.width())) " × " (numbers::length(view.height())) " " (place) ", "
        @if inside == 0 { "where no particle landed" } @else { (numbers::counted(inside as u64, "particle", "particles")) }
        ". Lighter background: electrode; darker: window and bare chip. Particles are drawn as spheres; real grains are not round."
        span style="display:block;height:6px" {}
        @for (i, powder) in p.inputs.powders().into_iter().enumerate().filter(|(i, _)| powders_inside.contains(i)) {
            @let [r, g, b] = picture::powder_tint(i);
            span class="key" { i style=(format!("background:rgb({r},{g},{b})")) {} (powder.name) }
        }
    }
}

/// What stands in the particle picture's place.
fn replacement(p: &Prediction, total: &Array2<f64>) -> Result<Markup, png::EncodingError> {
    let landed: u64 = p.sizes.powders.iter().flat_map(|s| &s.landed_count).sum();
    if landed == 0 || total.iter().all(|v| *v <= 0.0) {
        return Ok(html! {
            figure { p style="margin:24px 8px" { "No particle landed, so there is no picture at particle scale. The mass budget below shows where the mist went." } }
        });
    }
    let pitch = p.maps.grid.pitch;
    let whole = View::of_grid(&p.maps.grid);
    let side = (80.0 * pitch).min(whole.width()).min(whole.height());
    let view = close_view(p, total, side, side);
    let map = draw_map(p, total, &view, [600.0, 600.0], None)?;
    Ok(html! {
        figure {
            (map)
            figcaption {
                b { "Part of the map, enlarged. " }
                "The " (numbers::count(landed)) " particles of this print were not kept one by one, so instead of a picture at \
                 particle scale this shows single map pixels of " (numbers::length(pitch)) " around the middle of the deposit."
                @if let Some(why) = p.too_many_particles() { " " (why) }
            }
        }
    })
}
