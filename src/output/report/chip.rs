//! Pictures of the chip: the map with outlines and path, the deposit at particle scale, every map by itself.

use crate::numbers;
use crate::picture::{self, View};
use crate::plot::{escape, nice_below, nice_ticks, tick_label};
use crate::words::capital;
use base64::Engine;
use maud::{Markup, PreEscaped, html};
use motefall_figures::{Particle, Prediction};
use motefall_physics::contours::Contours;
use motefall_physics::inputs::{Outline, Region, Role};
use ndarray::Array2;
use std::collections::BTreeSet;
use std::fmt::Write;

/// Length over breadth beyond which a map needs an enlarged part to be read.
const LONG: f64 = 8.0;
/// Height below which labels do not fit into a map, drawing units.
const FLAT: f64 = 70.0;
/// Most regions that get a label.
const MOST_LABELS: usize = 14;

/// A PNG as an address that needs no network.
pub fn data_address(png: &[u8]) -> String {
    format!("data:image/png;base64,{}", base64::engine::general_purpose::STANDARD.encode(png))
}

/// Sum of all powders' thickness maps.
pub fn total_thickness(p: &Prediction) -> Array2<f64> {
    let mut total = Array2::zeros(p.maps.coverage.dim());
    for map in &p.maps.thickness {
        total += map;
    }
    total
}

/// The region that is to be printed on, or the first one.
pub fn main_region(p: &Prediction) -> Option<&Region> {
    p.inputs.regions.iter().find(|r| r.role == Role::Target).or(p.inputs.regions.first())
}

/// Where the deposit is: its centre of mass within a view; the view's middle if it is bare.
fn centre_of_mass(p: &Prediction, total: &Array2<f64>, view: &View) -> [f64; 2] {
    let grid = &p.maps.grid;
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for ((row, column), v) in total.indexed_iter() {
        let px = grid.origin[0] + (column as f64 + 0.5) * grid.pitch;
        let py = grid.origin[1] + (row as f64 + 0.5) * grid.pitch;
        if *v > 0.0 && px >= view.x[0] && px <= view.x[1] && py >= view.y[0] && py <= view.y[1] {
            sum += v;
            x += v * px;
            y += v * py;
        }
    }
    if sum > 0.0 { [x / sum, y / sum] } else { [0.5 * (view.x[0] + view.x[1]), 0.5 * (view.y[0] + view.y[1])] }
}

/// The part that is enlarged: around the deposit on the target.
fn close_view(p: &Prediction, total: &Array2<f64>, width: f64, height: f64) -> View {
    let whole = View::of_grid(&p.maps.grid);
    let area = main_region(p)
        .map(|r| picture::bounds(&picture::corners(&r.outline)))
        .filter(|b| b.overlaps(&whole))
        .unwrap_or(whole);
    let [cx, cy] = centre_of_mass(p, total, &area);
    View { x: [cx - width / 2.0, cx + width / 2.0], y: [cy - height / 2.0, cy + height / 2.0] }
}

/// Width of the particle picture: the target with some margin, so that a middling particle stays visible.
fn close_width(p: &Prediction) -> f64 {
    let breadth = main_region(p).map_or(30e-6, |r| {
        let b = picture::bounds(&picture::corners(&r.outline));
        b.width().min(b.height())
    });
    let mut diameters: Vec<f64> = p.particles.iter().map(|p| p.diameter).collect();
    let visible = if diameters.is_empty() {
        40e-6
    } else {
        let middle = diameters.len() / 2;
        150.0 * *diameters.select_nth_unstable_by(middle, f64::total_cmp).1
    };
    (1.3 * breadth).min(visible).clamp(4e-6, 40e-6)
}

/// The figures at the head of the report.
pub struct Hero {
    /// Map, and for long chips its enlarged part.
    pub map: Markup,
    /// Particle picture or what stands for it.
    pub close: Markup,
    /// Whether the map takes the whole width.
    pub wide: bool,
}

/// Draws the head figures.
pub fn hero(p: &Prediction) -> Result<Hero, png::EncodingError> {
    let total = total_thickness(p);
    let whole = View::of_grid(&p.maps.grid);
    let aspect = whole.width() / whole.height();
    let side = close_width(p);
    let close = (!p.particles.is_empty()).then(|| close_view(p, &total, side, side));
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
    let outside: Vec<&str> = p
        .inputs
        .regions
        .iter()
        .filter(|r| !picture::bounds(&picture::corners(&r.outline)).overlaps(&whole))
        .map(|r| r.name.as_str())
        .collect();
    let n = p.verdict.n;
    let bare = total.iter().all(|v| *v <= 0.0);
    let map = html! {
        figure class=(if wide { "wide" } else { "" }) {
            (overview)
            @if let Some(part) = part {
                p class="note" style="margin:12px 0 4px" { "Part of the same map around the deposit, enlarged:" }
                (part)
            }
            figcaption {
                b { "Thickness map" }
                @if n > 1 { " of the first of " (n) " prints." } @else { "." }
                @if bare { " Nothing landed here." } @else {
                    " Colour: projected solid thickness, all powders together, as a beam from above meets it; the brightest \
                     colour stands for the end of the scale and more; black is bare."
                }
                " Solid outline: target or counter electrode; dashed: other electrode; dotted: window; dash-dot: keep-out. Faint white line: nozzle \
                 path, shutter open; grey dots: shutter closed."
                @if close.is_some() { " Square A: the picture at particle scale." }
                " " (numbers::length(whole.width())) " × " (numbers::length(whole.height())) ", one map pixel is "
                (numbers::length(p.maps.grid.pitch)) "."
                @if !outside.is_empty() { " Outside of this map: " (outside.join(", ")) "." }
            }
        }
    };
    let close = match close {
        Some(view) => close_figure(p, &view)?,
        None => replacement(p, &total)?,
    };
    Ok(Hero { map, close, wide })
}

/// The deposit at particle scale.
fn close_figure(p: &Prediction, view: &View) -> Result<Markup, png::EncodingError> {
    let png = picture::particles_png(&p.particles, &p.inputs.regions, view, 900)?;
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
    let in_view = |q: &&Particle| q.x >= view.x[0] && q.x <= view.x[1] && q.y >= view.y[0] && q.y <= view.y[1];
    let inside = p.particles.iter().filter(in_view).count();
    let powders_inside: BTreeSet<usize> = p.particles.iter().filter(in_view).map(|q| usize::from(q.powder)).collect();
    let where_ = main_region(p).map_or_else(
        || "the middle of the deposit".to_string(),
        |r| {
            let of = if inside == 0 { "" } else { "the deposit on " };
            format!("around the middle of {of}{}", r.name)
        },
    );
    Ok(html! {
        figure {
            (PreEscaped(svg))
            figcaption {
                b { "A: particle scale. " }
                "As an electron microscope would show it from above, drawn from the computed particles: "
                (numbers::length(view.width())) " × " (numbers::length(view.height())) " " (where_) ", "
                @if inside == 0 { "where no particle landed" } @else { (numbers::count(inside as u64)) (if inside == 1 { " particle" } else { " particles" }) }
                ". Lighter ground: electrode; darker: window and bare chip. Particles are drawn as spheres; real grains are not round."
                span style="display:block;height:6px" {}
                @for (i, powder) in p.inputs.powders().into_iter().enumerate().filter(|(i, _)| powders_inside.contains(i)) {
                    @let [r, g, b] = picture::powder_tint(i);
                    span class="key" { i style=(format!("background:rgb({r},{g},{b})")) {} (powder.name) }
                }
            }
        }
    })
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

/// Map section: every map by itself.
pub fn multiples(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let total = total_thickness(p);
    let deposit = picture::where_it_is(&p.maps.grid, &total).unwrap_or(View::of_grid(&p.maps.grid));
    let (long, short) = (deposit.width().max(deposit.height()), deposit.width().min(deposit.height()));
    let view = if long > LONG * short {
        let (w, h) = if deposit.width() > deposit.height() { (6.0 * short, short) } else { (short, 6.0 * short) };
        close_view(p, &total, w, h)
    } else {
        deposit
    };
    let aspect = view.width() / view.height();
    let mut figures = vec![];
    for map in crate::names::maps(p) {
        let Some(raster) = picture::cut(&p.maps.grid, &map.map, &view, 420) else { continue };
        let top = if map.unit.is_empty() { 1.0 } else { picture::top_value(&raster.values) };
        let png = picture::map_png(&raster.values, top)?;
        let (h, w) = raster.values.dim();
        let gradient: String = (0..=12)
            .map(|i| picture::colour(f64::from(i) / 12.0))
            .map(|[r, g, b]| format!(",rgb({r},{g},{b})"))
            .collect();
        figures.push(html! {
            figure {
                img src=(data_address(&png)) alt=(map.what) width=(w) height=(h)
                    style=(format!("display:block;width:100%;height:auto;max-height:420px;object-fit:contain;{}", if w < 200 { "image-rendering:pixelated" } else { "" }));
                div style=(format!("height:8px;margin-top:8px;border-radius:2px;background:linear-gradient(90deg{gradient})")) {}
                div style="display:flex;justify-content:space-between;font-size:12.5px" {
                    span { "0" }
                    span { @if map.unit == "lambda" { (numbers::significant(top, 2)) "\u{a0}λ" } @else if map.unit.is_empty() { "100 %" } @else if top > 0.0 { (numbers::length(top)) } @else { "0" } }
                }
                figcaption { (capital(&map.what)) }
            }
        });
    }
    Ok(html! {
        div class=(if aspect > 3.0 { "multiples long" } else { "multiples" }) { @for f in figures { (f) } }
    })
}

/// Path data of an outline, holes included.
pub fn rings_data(outline: &Outline, view: &View, scale: f64, offset: [f64; 2]) -> String {
    picture::rings(outline).iter().map(|ring| path_data(ring, view, scale, offset)).collect()
}

/// Path data of a polygon in drawing units, y up turned to y down.
fn path_data(points: &[[f64; 2]], view: &View, scale: f64, offset: [f64; 2]) -> String {
    let mut d = String::new();
    for (i, q) in points.iter().enumerate() {
        let (x, y) = (offset[0] + (q[0] - view.x[0]) * scale, offset[1] + (view.y[1] - q[1]) * scale);
        let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
    }
    if !d.is_empty() {
        d.push('Z');
    }
    d
}

/// A map at true aspect with outlines, path, scale bar and colour bar, fitted into `room`.
fn draw_map(
    p: &Prediction,
    total: &Array2<f64>,
    view: &View,
    room: [f64; 2],
    square: Option<&View>,
) -> Result<Markup, png::EncodingError> {
    let Some(raster) = picture::cut(&p.maps.grid, total, view, (1.2 * room[0]) as usize) else { return Ok(html! {}) };
    let top = picture::top_value(&raster.values);
    let view = &raster.view;
    let scale = (room[0] / view.width()).min(room[1] / view.height());
    let (w, h) = (view.width() * scale, view.height() * scale);
    let flat = h < FLAT || w < FLAT;
    let width = if w > room[0] * 0.7 { w } else { room[0] * 0.7 };
    let (x0, y0) = ((width - w) / 2.0, if flat { 22.0 } else { 0.0 });
    let bottom = y0 + h;
    let height = bottom + 62.0;
    let png = picture::map_png(&raster.values, top)?;
    let crisp = if raster.values.dim().0.max(raster.values.dim().1) < 300 { " class=\"crisp\"" } else { "" };

    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {width:.1} {height:.1}" role="img" aria-label="Map of the chip"><image{crisp} href="{}" x="{x0:.1}" y="{y0:.1}" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        data_address(&png)
    );
    // A drawing of its own cuts everything off at the map's edge.
    let _ = write!(svg, r#"<svg x="{x0:.1}" y="{y0:.1}" width="{w:.2}" height="{h:.2}" overflow="hidden">"#);
    let (mut open, mut closed) = (String::new(), String::new());
    for stroke in p.strokes() {
        let place = |q: [f64; 2]| ((q[0] - view.x[0]) * scale, (view.y[1] - q[1]) * scale);
        let ((ax, ay), (bx, by)) = (place(stroke.from), place(stroke.to));
        let _ = write!(if stroke.open { &mut open } else { &mut closed }, "M{ax:.1} {ay:.1}L{bx:.1} {by:.1}");
    }
    // Faint, and fainter the more there are: the deposit under them is what the map shows.
    let thin = if p.strokes().count() > 120 { 0.1 } else { 0.3 };
    let _ = write!(
        svg,
        r##"<path d="{closed}" fill="none" stroke="#b9c0c4" stroke-opacity="{thin}" stroke-width="1" stroke-dasharray="1 4"/>"##
    );
    let _ = write!(svg, r##"<path d="{open}" fill="none" stroke="#fff" stroke-opacity="{thin}" stroke-width="0.7"/>"##);
    let mut regions: Vec<&Region> = p.inputs.regions.iter().collect();
    regions.sort_by_key(|r| r.role.is_printed()); // targets on top
    for region in &regions {
        let d = rings_data(&region.outline, view, scale, [0.0, 0.0]);
        let (stroke_width, dash) = outline_style(region.role);
        if flat {
            // No room for a halo: it would hide the map.
            let _ = write!(svg, r#"<path class="outline" stroke-width="0.6" d="{d}"/>"#);
            continue;
        }
        let _ = write!(
            svg,
            r#"<path class="halo" stroke-width="{:.1}" d="{d}"/><path class="outline" stroke-width="{stroke_width}" stroke-dasharray="{dash}" d="{d}"><title>{}</title></path>"#,
            stroke_width + 2.0,
            escape(&region.name)
        );
    }
    if let Some(square) = square {
        let (sx, sy) = ((square.x[0] - view.x[0]) * scale, (view.y[1] - square.y[1]) * scale);
        let side = (square.width() * scale).max(4.0);
        let _ = write!(
            svg,
            r##"<rect x="{sx:.1}" y="{sy:.1}" width="{side:.1}" height="{:.1}" fill="none" stroke="#ffb454" stroke-width="1.6"/>"##,
            (square.height() * scale).max(4.0)
        );
    }
    svg.push_str("</svg>");
    labels(&mut svg, &regions, view, scale, [x0, y0, w, h], flat, square);
    rulers(&mut svg, scale, [bottom, width], top);
    svg.push_str("</svg>");
    Ok(html! { div style=(format!("max-width:{:.0}px;margin:0 auto", width * 1.1)) { (PreEscaped(svg)) } })
}

/// Width and dashes of a region's outline.
pub fn outline_style(role: Role) -> (f64, &'static str) {
    match role {
        Role::Target | Role::Counter => (2.0, ""),
        Role::Electrode => (1.6, "7 3"),
        Role::Window => (1.4, "1.5 3.5"),
        Role::KeepOut => (1.4, "8 3 1.5 3"),
    }
}

/// Names beside the outlines, where they do not cover each other.
fn labels(
    svg: &mut String,
    regions: &[&Region],
    view: &View,
    scale: f64,
    [x0, y0, w, h]: [f64; 4],
    flat: bool,
    square: Option<&View>,
) {
    let length_of = |text: &str| 7.0 * text.chars().count() as f64 + 4.0;
    let mut taken: Vec<[f64; 4]> = vec![];
    let mut put = |svg: &mut String, text: &str, spots: &[(f64, f64)]| {
        let length = length_of(text);
        let free =
            spots.iter().map(|(x, y)| (x.clamp(x0 + 4.0, (x0 + w - length).max(x0 + 4.0)), *y)).find(|(x, y)| {
                let fits = flat || (*y - 12.0 >= y0 && *y + 4.0 <= y0 + h);
                fits && taken.iter().all(|t| *x > t[2] || x + length < t[0] || y - 13.0 > t[3] || y + 4.0 < t[1])
            });
        if let Some((x, y)) = free {
            taken.push([x, y - 13.0, x + length, y + 4.0]);
            let class = if flat { "outlabel" } else { "inlabel" };
            let _ = write!(svg, r#"<text class="{class}" x="{x:.1}" y="{y:.1}">{}</text>"#, escape(text));
        }
    };
    let place = |b: &View| {
        let left = x0 + (b.x[0] - view.x[0]) * scale;
        let right = x0 + (b.x[1] - view.x[0]) * scale;
        let upper = y0 + (view.y[1] - b.y[1]) * scale;
        let lower = y0 + (view.y[1] - b.y[0]) * scale;
        (left, right, upper, lower)
    };
    for region in regions.iter().rev().filter(|r| is_seen(r, view)).take(MOST_LABELS) {
        let (left, right, upper, lower) = place(&picture::bounds(&picture::corners(&region.outline)));
        if flat {
            put(svg, &region.name, &[(left, 14.0)]);
            continue;
        }
        let upper_inside = upper.max(y0) + 17.0;
        // In line with the region's left edge, or over its middle if the name is wider.
        let start = left.min(0.5 * (left + right - length_of(&region.name)));
        let outside =
            [(start, upper - 6.0), (start, lower + 16.0), (right + 6.0, upper + 14.0), (left + 6.0, upper_inside)];
        let inside = [
            (left + 6.0, upper_inside),
            (left + 6.0, lower.min(y0 + h) - 8.0),
            (0.5 * (left + right - length_of(&region.name)), 0.5 * (upper + lower) + 4.0),
        ];
        // Inside where the name fits; on a target it would hide the deposit.
        let contours = Contours::new(picture::rings(&region.outline));
        let fits = |(x, y): &&(f64, f64)| {
            let corners = [(*x, y - 12.0), (x + length_of(&region.name), y - 12.0), (*x, y + 4.0)];
            let last = (x + length_of(&region.name), y + 4.0);
            corners
                .into_iter()
                .chain([last])
                .all(|(x, y)| contours.contains([view.x[0] + (x - x0) / scale, view.y[1] - (y - y0) / scale]))
        };
        let spots: Vec<(f64, f64)> = match region.role.is_printed() {
            true => outside.into(),
            false => inside.iter().filter(fits).chain(&outside).copied().collect(),
        };
        put(svg, &region.name, &spots);
    }
    if let Some(square) = square.filter(|s| s.overlaps(view) && !flat) {
        let (left, right, upper, lower) = place(square);
        put(svg, "A", &[(right + 5.0, upper + 12.0), (left - 14.0, lower), (left, upper - 5.0)]);
    }
}

/// Whether any of a region lies within a view: its edge, or the view inside of it.
fn is_seen(region: &Region, view: &View) -> bool {
    let contours = Contours::new(picture::rings(&region.outline));
    (0..=8).any(|i| {
        let y = view.y[0] + view.height() * f64::from(i) / 8.0;
        contours.spans(y).into_iter().any(|[left, right]| left < view.x[1] && right > view.x[0])
    }) || picture::corners(&region.outline)
        .iter()
        .any(|q| q[0] >= view.x[0] && q[0] <= view.x[1] && q[1] >= view.y[0] && q[1] <= view.y[1])
}

/// Scale bar and colour bar below the map.
fn rulers(svg: &mut String, scale: f64, [bottom, width]: [f64; 2], top: f64) {
    let bar = nice_below(width * 0.3 / scale);
    let length = bar * scale;
    let y = bottom + 16.0;
    let _ = write!(
        svg,
        r#"<path class="ruler" d="M0 {y:.1}h{length:.1}"/><text class="outlabel" x="0" y="{:.1}">{}</text>"#,
        y + 21.0,
        numbers::length(bar)
    );
    if top <= 0.0 {
        return;
    }
    let (left, right) = (width * 0.45, width - 16.0);
    let strip = (right - left) / 64.0;
    for i in 0..64 {
        let [r, g, b] = picture::colour((f64::from(i) + 0.5) / 64.0);
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="10" fill="rgb({r},{g},{b})" shape-rendering="crispEdges"/>"#,
            left + f64::from(i) * strip,
            y - 8.0,
            strip + 1.0
        );
    }
    let (factor, unit) = if top >= 2e-6 { (1e6, "µm") } else { (1e9, "nm") };
    let ticks = nice_ticks([0.0, top * factor], 6);
    let step = if ticks.len() > 1 { ticks[1] - ticks[0] } else { 1.0 };
    for tick in ticks {
        let x = left + (right - left) * tick / (top * factor);
        let _ = write!(
            svg,
            r#"<path class="tickline" d="M{x:.1} {:.1}v4"/><text class="small" x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            y + 2.0,
            y + 20.0,
            tick_label(tick, step)
        );
    }
    let _ = write!(
        svg,
        r#"<text class="small" x="{:.1}" y="{:.1}" text-anchor="middle">projected solid thickness ({unit})</text>"#,
        0.5 * (left + right),
        y + 40.0
    );
}
