//! The target in transmitted light.

use super::ROOM;
use crate::numbers;
use crate::picture::{self, View, data_address};
use crate::plot::escape;
use crate::report::chip::main_region;
use crate::report::drawing::{Fit, colour_bar, colour_words, rings_data, scale_bar};
use maud::{Markup, PreEscaped, html};
use motefall_figures::{Prediction, beam_view};
use motefall_physics::inputs::Region;
use ndarray::Array2;
use std::fmt::Write;

/// Longest side of a picture, pixels.
const PIXELS: f64 = 900.0;

/// The target in transmitted light, and how it was drawn.
pub(super) fn transmitted(p: &Prediction) -> Result<Option<Markup>, png::EncodingError> {
    let Some(region) = main_region(p) else { return Ok(None) };
    let Some((view, depth)) = depth(p, region) else { return Ok(None) };
    let open = beam_view::transmitted(beam_view::layers_depth(&p.inputs.beam));
    let png = picture::grey_png(&depth.mapv(beam_view::transmitted), open)?;
    let fit = Fit::new(&view, ROOM, 0.6);
    let svg = drawing(region, &view, &fit, &png, open);
    Ok(Some(html! {
        figure {
            div style=(format!("max-width:{:.0}px;margin:0 auto", fit.width)) { (PreEscaped(svg)) }
            figcaption {
                b { "The target as a transmission microscope would show it" }
                @if p.verdict.n > 1 { ", first of " (p.verdict.n) " prints" }
                ". Grey: share of electrons that pass without losing energy, exp(−t/λ); white is what passes "
                (if p.inputs.beam.layers.is_empty() { "without a deposit" } else { "the membranes and other layers alone" }) ". Blue line: edge of " (region.name) ". "
                @if p.pile.is_empty() { "Drawn from the map. " @if let Some(why) = p.too_many_particles() { (why) } @else { "No single particle is known." } } @else { "Drawn from the chords through single particles." }
                " Real pictures are darker still: a small aperture stops diffracted and scattered electrons."
            }
        }
    }))
}

/// Depth of what the beam crosses around a region, in mean free paths: of the single particles, or of the map where they are not known.
fn depth(p: &Prediction, region: &Region) -> Option<(View, Array2<f64>)> {
    let area = View::of_region(region);
    let margin = 0.08 * area.width().max(area.height());
    let view = View { x: [area.x[0] - margin, area.x[1] + margin], y: [area.y[0] - margin, area.y[1] + margin] };
    let beam = &p.inputs.beam;
    let paths = &p.powder_mean_free_paths();
    if p.pile.is_empty() {
        let map = beam_view::depth_map(&p.maps.thickness, paths, beam)?;
        let raster = picture::cut(&p.maps.grid, &map, &view, PIXELS as usize)?;
        return Some((raster.view, raster.values));
    }
    let pitch = view.width().max(view.height()) / PIXELS;
    let size = [view.height(), view.width()].map(|side| ((side / pitch).round() as usize).max(1));
    let depth = beam_view::depth_picture(p.pile.particles(), paths, beam, [view.x[0], view.y[1]], pitch, size);
    Some((view, depth))
}

/// The picture with the region's edge and the grey scale; `open` is what the brightest grey stands for.
fn drawing(region: &Region, view: &View, fit: &Fit, png: &[u8], open: f64) -> String {
    let [w, h] = fit.size;
    let mut svg = format!(
        r#"<svg class="map" viewBox="0 0 {:.1} {:.1}" role="img" aria-label="Transmitted picture of {}"><image href="{}" x="{:.1}" y="0" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        fit.width,
        h + 58.0,
        escape(&region.name),
        data_address(png),
        fit.left
    );
    let outline = rings_data(&region.outline, view, fit.scale, [fit.left, 0.0]);
    let _ = write!(
        svg,
        r##"<path d="{outline}" fill="none" stroke="#fff" stroke-width="2.4" stroke-opacity="0.7"/><path d="{outline}" fill="none" stroke="#14506a" stroke-width="1.1"/>"##
    );
    scale_bar(&mut svg, h + 14.0, fit);
    let [left, right] = [0.5 * fit.width, fit.width - 10.0];
    colour_bar(&mut svg, [left, right], h + 8.0, |share| [(255.0 * share).round() as u8; 3]);
    let _ = write!(
        svg,
        r#"<rect x="{left:.1}" y="{:.1}" width="{:.1}" height="10" fill="none" stroke="currentColor" stroke-width="0.6"/><text class="small" x="{left:.1}" y="{2:.1}">0</text><text class="small" x="{right:.1}" y="{2:.1}" text-anchor="end">{3}</text>"#,
        h + 8.0,
        right - left,
        h + 34.0,
        numbers::percent(open)
    );
    colour_words(&mut svg, [left, right], h + 50.0, "share transmitted");
    svg.push_str("</svg>");
    svg
}
