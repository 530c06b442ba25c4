//! Names of regions on a map, where they do not cover each other.

use crate::picture::View;
use crate::plot::escape;
use crate::report::drawing::Fit;
use motefall_physics::contours::Contours;
use motefall_physics::inputs::Region;
use motefall_physics::map::outline::as_contours;
use std::fmt::Write;

/// Most regions that get a label.
const MOST_LABELS: usize = 14;

/// Where labels may stand, and where some do already.
pub(super) struct Labels<'a> {
    view: &'a View,
    scale: f64,
    /// Left and upper edge, width and height of the map, drawing units.
    map: [f64; 4],
    /// The map is too flat for labels: they stand above it.
    flat: bool,
    taken: Vec<[f64; 4]>,
}

/// Left, right, upper and lower edge, drawing units.
type Edges = [f64; 4];

/// Length of a label, drawing units.
fn length_of(text: &str) -> f64 {
    7.0 * text.chars().count() as f64 + 4.0
}

impl<'a> Labels<'a> {
    pub(super) fn new(view: &'a View, fit: &Fit, upper: f64, flat: bool) -> Self {
        Self { view, scale: fit.scale, map: [fit.left, upper, fit.size[0], fit.size[1]], flat, taken: vec![] }
    }

    /// Names of the regions that are seen, and of the part that another picture shows.
    pub(super) fn write(mut self, svg: &mut String, regions: &[&Region], square: Option<&View>) {
        for region in regions.iter().rev().filter(|r| is_seen(r, self.view)).take(MOST_LABELS) {
            let spots = self.spots(region);
            self.put(svg, &region.name, &spots);
        }
        if let Some(square) = square.filter(|s| s.overlaps(self.view) && !self.flat) {
            let [left, right, upper, lower] = self.edges(square);
            self.put(svg, "A", &[(right + 5.0, upper + 12.0), (left - 14.0, lower), (left, upper - 5.0)]);
        }
    }

    fn edges(&self, bounds: &View) -> Edges {
        let [x0, y0, ..] = self.map;
        let across = |x: f64| x0 + (x - self.view.x[0]) * self.scale;
        let down = |y: f64| y0 + (self.view.y[1] - y) * self.scale;
        [across(bounds.x[0]), across(bounds.x[1]), down(bounds.y[1]), down(bounds.y[0])]
    }

    /// Where the name of a region may stand, best first.
    fn spots(&self, region: &Region) -> Vec<(f64, f64)> {
        let [left, right, upper, lower] = self.edges(&View::of_region(region));
        if self.flat {
            return vec![(left, 14.0)];
        }
        let [_, y0, _, h] = self.map;
        let length = length_of(&region.name);
        let upper_inside = upper.max(y0) + 17.0;
        // In line with the region's left edge, or over its middle if the name is wider.
        let middle = 0.5 * (left + right - length);
        let start = left.min(middle);
        let outside =
            [(start, upper - 6.0), (start, lower + 16.0), (right + 6.0, upper + 14.0), (left + 6.0, upper_inside)];
        if region.role.is_printed() {
            // On a target it would hide the deposit.
            return outside.into();
        }
        let inside =
            [(left + 6.0, upper_inside), (left + 6.0, lower.min(y0 + h) - 8.0), (middle, 0.5 * (upper + lower) + 4.0)];
        let contours = as_contours(&region.outline);
        inside.iter().filter(|spot| self.fits(&contours, **spot, length)).chain(&outside).copied().collect()
    }

    /// Whether a label lies inside of contours.
    fn fits(&self, contours: &Contours, (x, y): (f64, f64), length: f64) -> bool {
        let [x0, y0, ..] = self.map;
        [(x, y - 12.0), (x + length, y - 12.0), (x, y + 4.0), (x + length, y + 4.0)].into_iter().all(|(x, y)| {
            contours.contains([self.view.x[0] + (x - x0) / self.scale, self.view.y[1] - (y - y0) / self.scale])
        })
    }

    /// Writes a label at the first spot that is free.
    fn put(&mut self, svg: &mut String, text: &str, spots: &[(f64, f64)]) {
        let [x0, y0, w, h] = self.map;
        let length = length_of(text);
        let held = |x: f64| x.clamp(x0 + 4.0, (x0 + w - length).max(x0 + 4.0));
        let free = spots.iter().map(|(x, y)| (held(*x), *y)).find(|(x, y)| {
            let fits = self.flat || (*y - 12.0 >= y0 && *y + 4.0 <= y0 + h);
            fits && self.taken.iter().all(|t| *x > t[2] || x + length < t[0] || y - 13.0 > t[3] || y + 4.0 < t[1])
        });
        let Some((x, y)) = free else { return };
        self.taken.push([x, y - 13.0, x + length, y + 4.0]);
        let class = if self.flat { "outlabel" } else { "inlabel" };
        let _ = write!(svg, r#"<text class="{class}" x="{x:.1}" y="{y:.1}">{}</text>"#, escape(text));
    }
}

/// Whether any of a region lies within a view: its edge, or the view inside of it.
fn is_seen(region: &Region, view: &View) -> bool {
    let contours = as_contours(&region.outline);
    (0..=8).any(|i| {
        let y = view.y[0] + view.height() * f64::from(i) / 8.0;
        contours.spans(y).into_iter().any(|[left, right]| left < view.x[1] && right > view.x[0])
    }) || contours
        .contours()
        .iter()
        .flatten()
        .any(|q| q[0] >= view.x[0] && q[0] <= view.x[1] && q[1] >= view.y[0] && q[1] <= view.y[1])
}
