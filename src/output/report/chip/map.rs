//! A map of the chip with outlines, path, scale bar and colour bar.

use super::labels::Labels;
use crate::picture::{self, View, data_address};
use crate::plot::{nice_ticks, tick_label};
use crate::report::drawing::{Fit, colour_bar, colour_tick, colour_words, outline, rings_data, scale_bar};
use maud::{Markup, PreEscaped, html};
use motefall_figures::Prediction;
use motefall_physics::inputs::Region;
use ndarray::Array2;
use std::fmt::Write;

/// Height below which labels do not fit into a map, drawing units.
const FLAT: f64 = 70.0;

/// A map at true aspect, fitted into `room`; `square` is a part that another picture shows.
pub(super) fn draw_map(
    p: &Prediction,
    total: &Array2<f64>,
    view: &View,
    room: [f64; 2],
    square: Option<&View>,
) -> Result<Markup, png::EncodingError> {
    let Some(raster) = picture::cut(&p.maps.grid, total, view, (1.2 * room[0]) as usize) else { return Ok(html! {}) };
    let top = picture::top_value(&raster.values);
    let view = &raster.view;
    let fit = Fit::new(view, room, 0.7);
    let [w, h] = fit.size;
    let flat = h < FLAT || w < FLAT;
    let (left, upper) = (fit.left, if flat { 22.0 } else { 0.0 });
    let png = picture::map_png(&raster.values, top)?;
    let crisp = if raster.values.dim().0.max(raster.values.dim().1) < 300 { " class=\"crisp\"" } else { "" };
    let mut regions: Vec<&Region> = p.inputs.regions.iter().collect();
    regions.sort_by_key(|r| r.role.is_printed()); // targets on top

    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {:.1} {:.1}" role="img" aria-label="Map of the chip"><image{crisp} href="{}" x="{left:.1}" y="{upper:.1}" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        fit.width,
        upper + h + 62.0,
        data_address(&png)
    );
    // A drawing of its own cuts everything off at the map's edge.
    let _ = write!(svg, r#"<svg x="{left:.1}" y="{upper:.1}" width="{w:.2}" height="{h:.2}" overflow="hidden">"#);
    path(&mut svg, p, view, fit.scale);
    for region in &regions {
        let d = rings_data(&region.outline, view, fit.scale, [0.0, 0.0]);
        if flat {
            // No room for a halo: it would hide the map.
            let _ = write!(svg, r#"<path class="outline" stroke-width="0.6" d="{d}"/>"#);
        } else {
            outline(&mut svg, region, &d, 1.0);
        }
    }
    if let Some(square) = square {
        frame(&mut svg, square, view, fit.scale);
    }
    svg.push_str("</svg>");
    Labels::new(view, &fit, upper, flat).write(&mut svg, &regions, square);
    rulers(&mut svg, &fit, upper + h + 16.0, top);
    svg.push_str("</svg>");
    Ok(html! { div style=(format!("max-width:{:.0}px;margin:0 auto", fit.width * 1.1)) { (PreEscaped(svg)) } })
}

/// The way of the nozzle.
fn path(svg: &mut String, p: &Prediction, view: &View, scale: f64) {
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
}

/// The part that another picture shows.
fn frame(svg: &mut String, square: &View, view: &View, scale: f64) {
    let (x, y) = ((square.x[0] - view.x[0]) * scale, (view.y[1] - square.y[1]) * scale);
    let [width, height] = [square.width(), square.height()].map(|side| (side * scale).max(4.0));
    let _ = write!(
        svg,
        r##"<rect x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" fill="none" stroke="#ffb454" stroke-width="1.6"/>"##
    );
}

/// Scale bar and colour bar below the map.
fn rulers(svg: &mut String, fit: &Fit, y: f64, top: f64) {
    scale_bar(svg, y, fit);
    if top <= 0.0 {
        return;
    }
    let [left, right] = [fit.width * 0.45, fit.width - 16.0];
    colour_bar(svg, [left, right], y - 8.0, picture::colour);
    let (factor, unit) = if top >= 2e-6 { (1e6, "µm") } else { (1e9, "nm") };
    let ticks = nice_ticks([0.0, top * factor], 6);
    let step = if ticks.len() > 1 { ticks[1] - ticks[0] } else { 1.0 };
    for tick in ticks {
        colour_tick(svg, left + (right - left) * tick / (top * factor), y, &tick_label(tick, step));
    }
    colour_words(svg, [left, right], y + 40.0, &format!("projected solid thickness ({unit})"));
}
