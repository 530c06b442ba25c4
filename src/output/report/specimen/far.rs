//! Particles over the whole chip, on coarse tiles.

use super::ROOM;
use crate::numbers::{self, counted};
use crate::picture::{self, View, data_address};
use crate::report::drawing::{Fit, colour_bar, colour_tick, colour_words, outline, rings_data, scale_bar};
use maud::{Markup, PreEscaped, html};
use motefall_figures::Prediction;
use motefall_physics::contours::Bounds;
use motefall_physics::map::grid::Grid;
use motefall_physics::map::outline;
use ndarray::Array2;
use std::fmt::Write;

/// A logarithmic scale of densities, particles per mm^2 in a print.
struct Scale {
    /// A single particle on a tile in all prints: the dark end.
    least: f64,
    /// Powers of ten from there to the bright end.
    decades: f64,
}

impl Scale {
    /// Place of a density on it, 0 to 1.
    fn shade(&self, density: f64) -> f64 {
        (density / self.least).log10() / self.decades
    }

    /// Powers of ten on it, a few of them.
    fn powers(&self) -> impl Iterator<Item = i32> {
        let first = self.least.log10().ceil() as i32;
        let last = (self.least.log10() + self.decades + 1e-9).floor() as i32;
        let step = ((last - first) / 5 + 1).max(1);
        (first..=last).step_by(step as usize)
    }
}

/// Densities on a logarithm, with the regions; `None` if nothing landed.
pub(super) fn far_map(p: &Prediction) -> Result<Option<Markup>, png::EncodingError> {
    let grid = p.far.grid();
    let prints = f64::from(p.far.prints().max(1));
    let least = 1.0 / (prints * (grid.pitch * 1e3).powi(2));
    let density =
        Array2::from_shape_fn((grid.rows, grid.columns), |(row, column)| p.far.count(row, column) as f64 * least);
    let most = density.iter().copied().fold(0.0, f64::max);
    if most <= 0.0 {
        return Ok(None);
    }
    let Some(raster) = picture::cut(&grid, &density, &seen(p, &grid, &density), 4096) else { return Ok(None) };
    let scale = Scale { least, decades: (most / least).log10().max(1.0) };
    let png = picture::shades_png(&raster.values.mapv(|d| (d > 0.0).then(|| scale.shade(d))))?;
    let fit = Fit::new(&raster.view, ROOM, 0.7);
    let svg = drawing(p, &raster.view, &fit, &png, &scale);
    Ok(Some(html! {
        figure {
            div style=(format!("max-width:{:.0}px;margin:0 auto", fit.width)) { (PreEscaped(svg)) }
            figcaption {
                b { "All particles that landed on the chip" } ", on tiles of " (numbers::length(grid.pitch)) ". Colour: particles per area and print, on a logarithmic scale, mean of "
                (counted(p.far.prints().into(), "print", "prints")) "; the dark end is a single particle in all of them together, black is none. "
                "Outlines as in the thickness map: solid: printed; dashed: other electrode; dotted: window; dash-dot: keep-out. "
                "Shown: " (numbers::length(raster.view.width())) " × " (numbers::length(raster.view.height())) "; no particle landed beyond."
            }
        }
    }))
}

/// What there is to see: every region and every tile that holds a particle, with two tiles of margin.
fn seen(p: &Prediction, grid: &Grid, density: &Array2<f64>) -> View {
    let tiles = density.indexed_iter().filter(|(_, d)| **d > 0.0).flat_map(|((row, column), _)| {
        let low = [(column, 0), (row, 1)].map(|(at, k)| grid.origin[k] + at as f64 * grid.pitch);
        [low, low.map(|x| x + grid.pitch)]
    });
    let regions = p.inputs.regions.iter().map(|region| outline::bounds(&region.outline));
    let View { x, y } = View::of_bounds(regions.fold(Bounds::around(tiles), Bounds::and));
    let margin = 2.0 * grid.pitch;
    View { x: [x[0] - margin, x[1] + margin], y: [y[0] - margin, y[1] + margin] }
}

fn drawing(p: &Prediction, view: &View, fit: &Fit, png: &[u8], scale: &Scale) -> String {
    let [w, h] = fit.size;
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {:.1} {:.1}" role="img" aria-label="Density of all particles that landed on the chip"><image class="crisp" href="{}" x="{:.1}" y="0" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        fit.width,
        h + 62.0,
        data_address(png),
        fit.left
    );
    for region in &p.inputs.regions {
        outline(&mut svg, region, &rings_data(&region.outline, view, fit.scale, [fit.left, 0.0]), 0.8);
    }
    let y = h + 16.0;
    scale_bar(&mut svg, y, fit);
    let [left, right] = [0.45 * fit.width, fit.width - 18.0];
    colour_bar(&mut svg, [left, right], y - 8.0, picture::colour);
    for exponent in scale.powers() {
        let x = left + (right - left) * scale.shade(10f64.powi(exponent));
        colour_tick(&mut svg, x, y, &numbers::ten_to(exponent));
    }
    colour_words(&mut svg, [left, right], y + 40.0, "particles per mm² and print");
    svg.push_str("</svg>");
    svg
}
