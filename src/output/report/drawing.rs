//! What the pictures of the chip share: how a part of it fits, outlines, scale bar, colour bar.

use crate::numbers;
use crate::picture::View;
use crate::plot::{escape, nice_below};
use motefall_physics::inputs::{Outline, Region, Role};
use motefall_physics::map::outline::rings;
use std::fmt::Write;

/// Pieces that a colour bar is made of.
const PIECES: u32 = 64;

/// How a part of the chip fits into a drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fit {
    /// Drawing units per metre.
    pub(crate) scale: f64,
    /// Size of the picture, drawing units.
    pub(crate) size: [f64; 2],
    /// Width of the drawing: a narrow picture leaves room for its scales.
    pub(crate) width: f64,
    /// Left edge of the picture.
    pub(crate) left: f64,
}

impl Fit {
    /// As large as the room allows; the drawing takes at least a share of its width.
    pub(crate) fn new(view: &View, room: [f64; 2], least: f64) -> Self {
        let scale = (room[0] / view.width()).min(room[1] / view.height());
        let size = [view.width() * scale, view.height() * scale];
        let width = size[0].max(least * room[0]);
        Self { scale, size, width, left: 0.5 * (width - size[0]) }
    }
}

/// Path data of an outline, holes included.
pub(crate) fn rings_data(outline: &Outline, view: &View, scale: f64, offset: [f64; 2]) -> String {
    rings(outline).iter().map(|ring| path_data(ring, view, scale, offset)).collect()
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

/// Width and dashes of a region's outline.
fn outline_style(role: Role) -> (f64, &'static str) {
    match role {
        Role::Target | Role::Counter => (2.0, ""),
        Role::Electrode => (1.6, "7 3"),
        Role::Window => (1.4, "1.5 3.5"),
        Role::KeepOut => (1.4, "8 3 1.5 3"),
    }
}

/// Outline of a region with a halo, so that it is seen on dark and bright.
pub(crate) fn outline(svg: &mut String, region: &Region, d: &str, thickness: f64) {
    let (width, dash) = outline_style(region.role);
    let width = thickness * width;
    let _ = write!(
        svg,
        r#"<path class="halo" stroke-width="{:.1}" d="{d}"/><path class="outline" stroke-width="{width:.1}" stroke-dasharray="{dash}" d="{d}"><title>{}</title></path>"#,
        width + 2.0,
        escape(&region.name)
    );
}

/// Scale bar with its length below it, at the left edge of a drawing.
pub(crate) fn scale_bar(svg: &mut String, y: f64, fit: &Fit) {
    let bar = nice_below(fit.width * 0.3 / fit.scale);
    let _ = write!(
        svg,
        r#"<path class="ruler" d="M0 {y:.1}h{:.1}"/><text class="outlabel" x="0" y="{:.1}">{}</text>"#,
        bar * fit.scale,
        y + 21.0,
        numbers::length(bar)
    );
}

/// Colours from one end of a scale to the other, from `left` to `right`.
pub(crate) fn colour_bar(svg: &mut String, [left, right]: [f64; 2], y: f64, colour: impl Fn(f64) -> [u8; 3]) {
    let piece = (right - left) / f64::from(PIECES);
    for i in 0..PIECES {
        let [r, g, b] = colour((f64::from(i) + 0.5) / f64::from(PIECES));
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{y:.1}" width="{:.1}" height="10" fill="rgb({r},{g},{b})" shape-rendering="crispEdges"/>"#,
            left + f64::from(i) * piece,
            piece + 0.6
        );
    }
}

/// A mark below a colour bar with its words.
pub(crate) fn colour_tick(svg: &mut String, x: f64, y: f64, words: &str) {
    let _ = write!(
        svg,
        r#"<path class="tickline" d="M{x:.1} {:.1}v4"/><text class="small" x="{x:.1}" y="{:.1}" text-anchor="middle">{words}</text>"#,
        y + 2.0,
        y + 20.0
    );
}

/// Words centred under a colour bar.
pub(crate) fn colour_words(svg: &mut String, [left, right]: [f64; 2], y: f64, words: &str) {
    let middle = 0.5 * (left + right);
    let _ = write!(svg, r#"<text class="small" x="{middle:.1}" y="{y:.1}" text-anchor="middle">{words}</text>"#);
}
