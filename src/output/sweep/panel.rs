//! One picture of the window: pass probability over two axes, the others held.

use super::rank::{Class, Ranked};
use super::space::{PassValue, Scaled, Space};
use crate::picture::{self, data_address};
use crate::plot::{LABEL_HEIGHT, PlotAxis, Scale, escape, kept_labels, label_width};
use motefall_figures::sweep::SweepResult;
use rayon::prelude::*;
use std::fmt::Write;

/// Pixels along an edge of the colour field.
const PIXELS: usize = 72;
/// The same for designs of many points, where each pixel costs a search through the points.
const FEW_PIXELS: usize = 48;
/// Points from which on fewer pixels are drawn.
const MANY_POINTS: usize = 300;
/// A point is drawn when it lies no farther than this from the held settings, scaled, on each of the other axes.
pub(crate) const SLICE: f64 = 0.15;

/// Pass probability over two axes, on the middles of even cells; `[row][column]`, row 0 at the lowest.
pub(crate) struct Field {
    /// Values.
    pub(crate) values: Vec<Vec<PassValue>>,
}

impl Field {
    /// Over axes `a` (across) and `b` (up) through `slice`.
    pub(crate) fn new(space: &Space, slice: &[f64], a: usize, b: usize) -> Self {
        let pixels = if space.places.len() > MANY_POINTS && !space.is_grid() { FEW_PIXELS } else { PIXELS };
        let middle = |i: usize| (i as f64 + 0.5) / pixels as f64;
        let values = (0..pixels)
            .into_par_iter()
            .map(|row| {
                let mut place = slice.to_vec();
                place[b] = middle(row);
                (0..pixels)
                    .map(|column| {
                        place[a] = middle(column);
                        space.at(&place)
                    })
                    .collect()
            })
            .collect();
        Self { values }
    }

    /// Pieces of the line where the pass probability is `level`, in scaled coordinates.
    pub(crate) fn contour(&self, level: f64) -> Vec<[[f64; 2]; 2]> {
        let n = self.values.len();
        let middle = |i: usize| (i as f64 + 0.5) / n as f64;
        let share = |row: usize, column: usize| match self.values[row][column] {
            // A hair below, so that a field that is exactly at the level counts as inside it.
            PassValue::Share(p) => Some(p - (level - 1e-9)),
            _ => None,
        };
        let mut out = vec![];
        for row in 0..n - 1 {
            for column in 0..n - 1 {
                let corners = [(row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column)];
                let Some(values) = corners.iter().map(|(r, c)| share(*r, *c)).collect::<Option<Vec<f64>>>() else {
                    continue;
                };
                let mut crossings = vec![];
                for k in 0..4 {
                    let m = (k + 1) % 4;
                    let (p, q) = (values[k], values[m]);
                    if (p >= 0.0) != (q >= 0.0) {
                        let t = p / (p - q);
                        let along = |i: usize, j: usize| middle(i) + t * (middle(j) - middle(i));
                        crossings.push([along(corners[k].1, corners[m].1), along(corners[k].0, corners[m].0)]);
                    }
                }
                for pair in crossings.chunks_exact(2) {
                    out.push([pair[0], pair[1]]);
                }
            }
        }
        out
    }

    /// The colours as a picture, highest row on top, clear where there is no value.
    fn png(&self) -> Result<Vec<u8>, png::EncodingError> {
        let n = self.values.len();
        let mut pixels = Vec::with_capacity(n * n * 4);
        for value in self.values.iter().rev().flatten() {
            match value {
                PassValue::Share(p) => {
                    pixels.extend(picture::colour(*p));
                    pixels.push(255);
                }
                _ => pixels.extend([0; 4]),
            }
        }
        let mut bytes = vec![];
        let mut encoder = png::Encoder::new(&mut bytes, n as u32, n as u32);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.write_header()?.write_image_data(&pixels)?;
        Ok(bytes)
    }
}

/// What a panel shows.
pub(crate) struct Panel<'a> {
    /// The sweep.
    pub(crate) result: &'a SweepResult,
    /// Its space.
    pub(crate) space: &'a Space,
    /// Held settings, scaled.
    pub(crate) slice: &'a [f64],
    /// PlotAxis across and axis up.
    pub(crate) axes: [usize; 2],
    /// The recommended point.
    pub(crate) best: Option<&'a Ranked>,
    /// Width and height in drawing units.
    pub(crate) size: [f64; 2],
    /// Unique on the page.
    pub(crate) id: String,
}

/// Colour of a share as a CSS colour.
pub(crate) fn css(share: f64) -> String {
    let [r, g, b] = picture::colour(share);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A setting with up to four digits.
pub(crate) fn setting(value: f64) -> String {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    rounded.to_string().replace('-', "−")
}

/// Ticks of an axis: the values of the grid if they are few, else round values; place and words, which are left out where they would touch.
fn ticks(space: &Space, axis: usize, room: f64, extent: &dyn Fn(&str) -> f64) -> Vec<(f64, String)> {
    let scaled = &space.axes[axis];
    let all: Vec<(f64, String)> = match space.levels(axis) {
        Some(levels) if levels.len() <= 9 => levels.iter().map(|p| (*p, setting(scaled.value(*p)))).collect(),
        _ => {
            let scale = PlotAxis { label: String::new(), scale: scaled.scale, range: scaled.range };
            let marks = scale.ticks((room / 55.0).max(2.0) as usize);
            marks.into_iter().filter_map(|(v, text)| Some((scale.place(v)?, text))).collect()
        }
    };
    let placed: Vec<(f64, f64, &str)> = all.iter().map(|(at, text)| (at * room, extent(text), text.as_str())).collect();
    let kept = kept_labels(&placed);
    all.iter().zip(kept).map(|((at, text), kept)| (*at, if kept { text.clone() } else { String::new() })).collect()
}

impl Panel<'_> {
    /// Points in this slice: index and place across and up.
    pub(crate) fn points(&self) -> Vec<(usize, [f64; 2])> {
        let [a, b] = self.axes;
        let others = |p: &[f64]| {
            (0..p.len()).filter(|k| *k != a && *k != b).all(|k| {
                let apart = (p[k] - self.slice[k]).abs();
                apart <= if self.space.is_grid() { 1e-9 } else { SLICE }
            })
        };
        let places = self.space.places.iter().enumerate();
        places.filter(|(_, p)| others(p)).map(|(i, p)| (i, [p[a], p[b]])).collect()
    }

    /// The drawing.
    pub(crate) fn svg(&self) -> Result<String, png::EncodingError> {
        let [width, height] = self.size;
        let across_and_up = self.axes.map(|axis| escape(&self.space.axes[axis].label));
        let [across, up] = &across_and_up;
        let frame = Frame { left: 70.0, top: 14.0, width: width - 86.0, height: height - 66.0 };
        let Frame { left, top, width: inner_width, height: inner_height } = frame;
        let field = Field::new(self.space, self.slice, self.axes[0], self.axes[1]);
        let id = &self.id;
        let mut out = format!(
            r#"<svg class="window" viewBox="0 0 {width} {height}" role="img" aria-label="Pass probability over {across} and {up}"><defs><pattern id="{id}" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V7"/></pattern><clipPath id="{id}c"><rect x="{left}" y="{top}" width="{inner_width}" height="{inner_height}"/></clipPath></defs>"#
        );
        let _ = write!(
            out,
            r#"<rect x="{left}" y="{top}" width="{inner_width}" height="{inner_height}" fill="url(#{id})"/><image x="{left}" y="{top}" width="{inner_width}" height="{inner_height}" preserveAspectRatio="none" style="image-rendering:pixelated" href="{}"/>"#,
            data_address(&field.png()?)
        );
        self.contour(&mut out, &frame, &field);
        self.ticks(&mut out, &frame);
        let _ = write!(
            out,
            r#"<rect class="frame" x="{left}" y="{top}" width="{inner_width}" height="{inner_height}"/><text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">{across}</text><text class="label" transform="translate(12 {:.1}) rotate(-90)" text-anchor="middle">{up}</text>"#,
            frame.x(0.5),
            height - 8.0,
            frame.y(0.5)
        );
        self.dots(&mut out, &frame);
        self.ring(&mut out, &frame);
        out.push_str("</svg>");
        Ok(out)
    }

    /// The line where as many prints pass as are wanted.
    fn contour(&self, out: &mut String, frame: &Frame, field: &Field) {
        let mut path = String::new();
        for [p, q] in field.contour(self.result.plan.wanted_share) {
            let [x0, y0, x1, y1] = [frame.x(p[0]), frame.y(p[1]), frame.x(q[0]), frame.y(q[1])];
            let _ = write!(path, "M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}");
        }
        if !path.is_empty() {
            let id = &self.id;
            let _ = write!(
                out,
                r#"<g clip-path="url(#{id}c)"><path class="contour under" d="{path}"/><path class="contour" d="{path}"/></g>"#
            );
        }
    }

    fn ticks(&self, out: &mut String, frame: &Frame) {
        let [a, b] = self.axes;
        for (place, text) in ticks(self.space, a, frame.width, &label_width) {
            let (x, y) = (frame.x(place), frame.y(0.0));
            let _ = write!(out, r#"<path class="axis" d="M{x:.1} {y:.1}v5"/>"#);
            if !text.is_empty() {
                let y = y + 21.0;
                let _ = write!(out, r#"<text class="tick" x="{x:.1}" y="{y:.1}" text-anchor="middle">{text}</text>"#);
            }
        }
        for (place, text) in ticks(self.space, b, frame.height, &|_| LABEL_HEIGHT) {
            let (x, y) = (frame.left, frame.y(place));
            let _ = write!(out, r#"<path class="axis" d="M{x:.1} {y:.1}h-5"/>"#);
            if !text.is_empty() {
                let (x, y) = (x - 11.0, y + 4.0);
                let _ = write!(out, r#"<text class="tick" x="{x:.1}" y="{y:.1}" text-anchor="end">{text}</text>"#);
            }
        }
    }

    /// The points of this slice: a dot in the colour of its share, or a cross where none could run.
    fn dots(&self, out: &mut String, frame: &Frame) {
        let points = self.points();
        let radius = match points.len() {
            0..=60 => 5.0,
            61..=250 => 3.6,
            _ => 2.4,
        };
        for (index, [p, q]) in points {
            let point = &self.result.points[index];
            let (x, y) = (frame.x(p), frame.y(q));
            let number = point.point;
            if let (Ok(stats), Some(share)) = (&point.outcome, self.space.shares[index]) {
                let class = if share + 1e-9 >= self.result.plan.wanted_share { "dot good" } else { "dot" };
                let _ = write!(
                    out,
                    r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="{radius}" style="fill:{}"><title>point {number}: {} of {} prints pass</title></circle>"#,
                    css(share),
                    stats.met,
                    stats.prints
                );
                continue;
            }
            let why = point.outcome.as_ref().err().map_or("no prints", String::as_str);
            let s = radius + 0.5;
            let (left, upper, lower, w) = (x - s, y - s, y + s, 2.0 * s);
            let d = format!("M{left:.1} {upper:.1}l{w} {w}M{left:.1} {lower:.1}l{w} -{w}");
            let _ = write!(
                out,
                r#"<g class="crossed"><title>point {number} cannot run: {}</title><path class="cross under" d="{d}"/><path class="cross" d="{d}"/></g>"#,
                escape(why)
            );
        }
    }

    /// The ring around the recommended point, where it lies in this panel.
    fn ring(&self, out: &mut String, frame: &Frame) {
        let Some(best) = self.best else { return };
        let [a, b] = self.axes;
        let place = &self.space.places[best.index];
        // In this panel itself, not its shadow where another setting differs.
        if !(0..place.len()).all(|k| k == a || k == b || (place[k] - self.slice[k]).abs() < 1e-9) {
            return;
        }
        let (x, y) = (frame.x(place[a]), frame.y(place[b]));
        let word = if best.class == Class::Below { "best so far" } else { "recommended" };
        let (dx, anchor) = if place[a] > 0.7 { (-14.0, "end") } else { (14.0, "start") };
        let dy = if place[b] > 0.93 { 16.0 } else { -8.0 };
        let _ = write!(
            out,
            r#"<circle class="ring under" cx="{x:.1}" cy="{y:.1}" r="9"/><circle class="ring" cx="{x:.1}" cy="{y:.1}" r="9"/><text class="inlabel" x="{:.1}" y="{:.1}" text-anchor="{anchor}">{word}</text>"#,
            x + dx,
            y + dy
        );
    }
}

/// Where a panel's colours lie, drawing units.
struct Frame {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

impl Frame {
    fn x(&self, place: f64) -> f64 {
        self.left + place * self.width
    }

    fn y(&self, place: f64) -> f64 {
        self.top + (1.0 - place) * self.height
    }
}

/// The colours' key with the wanted share marked.
pub(crate) fn key(wanted: f64, cannot_run: bool, hatched: bool, points: bool) -> String {
    let mut out = String::from(
        r#"<svg class="window key" viewBox="0 0 760 58" role="img" aria-label="Colours of the pass probability">"#,
    );
    key_scale(&mut out, wanted);
    let ground = format!(r#"<rect x="-2" y="-9" width="28" height="18" fill="{}"/>"#, css(0.5));
    let mut items = vec![(
        format!(r#"{ground}<path class="contour under" d="M0 0h24"/><path class="contour" d="M0 0h24"/>"#),
        format!("{} % pass", setting(wanted * 100.0)),
    )];
    if points {
        let dot = format!(r#"{ground}<circle class="dot good" cx="12" cy="0" r="5" style="fill:{}"/>"#, css(0.97));
        items.push((dot, "a point; white rim: enough pass".into()));
    }
    if cannot_run {
        items.push((
            r#"<path class="cross" d="M6.500 -5.500l11 11M6.500 5.500l11 -11"/>"#.into(),
            "could not run".into(),
        ));
    }
    if hatched {
        let hatch = r#"<defs><pattern id="hk" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V7"/></pattern></defs><rect class="frame" x="-2" y="-8" width="28" height="16" style="fill:url(#hk)"/>"#;
        items.push((hatch.into(), "not known".into()));
    }
    // Words go into a second row when the first is full.
    let (mut x, mut y) = (314.0, 16.0);
    for (mark, words) in items {
        let wide = 44.0 + 6.6 * words.chars().count() as f64;
        if x + wide > 760.0 {
            (x, y) = (314.0, 43.0);
        }
        let _ = write!(
            out,
            r#"<g transform="translate({x:.0} {y:.0})">{mark}</g><text class="tick" x="{:.0}" y="{:.0}">{words}</text>"#,
            x + 32.0,
            y + 4.0
        );
        x += wide;
    }
    out.push_str("</svg>");
    out
}

/// Colours from none to all prints.
fn key_scale(out: &mut String, wanted: f64) {
    let (left, width) = (14.0, 270.0);
    let steps = 54;
    for i in 0..steps {
        let x = left + width * f64::from(i) / f64::from(steps);
        let _ = write!(
            out,
            r#"<rect x="{x:.2}" y="18" width="{:.2}" height="14" fill="{}"/>"#,
            width / f64::from(steps) + 0.4,
            css((f64::from(i) + 0.5) / f64::from(steps))
        );
    }
    let _ = write!(out, r#"<text class="label" x="{left}" y="11">prints that pass every limit (%)</text>"#);
    for percent in [0, 25, 50, 75, 100] {
        let x = left + width * f64::from(percent) / 100.0;
        let _ = write!(
            out,
            r#"<path class="axis" d="M{x:.1} 32v4"/><text class="tick" x="{x:.1}" y="49" text-anchor="middle">{percent}</text>"#
        );
    }
    let x = left + width * wanted;
    let _ = write!(out, r#"<path class="contour under" d="M{x:.1} 16v18"/><path class="contour" d="M{x:.1} 16v18"/>"#);
}

/// A scale for small plots over a scaled axis.
pub(crate) fn plot_axis(scaled: &Scaled) -> PlotAxis {
    let [low, high] = scaled.range;
    match scaled.scale {
        Scale::Linear => {
            PlotAxis::over(&scaled.label, Scale::Linear, low - 0.04 * (high - low), high + 0.04 * (high - low))
        }
        Scale::Log => {
            let pad = (high / low).powf(0.04);
            PlotAxis::over(&scaled.label, Scale::Log, low / pad, high * pad)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn field(share: impl Fn(f64, f64) -> PassValue) -> Field {
        let middle = |i: usize| (i as f64 + 0.5) / 40.0;
        Field {
            values: (0..40).map(|row| (0..40).map(|column| share(middle(column), middle(row))).collect()).collect(),
        }
    }

    #[test]
    fn the_contour_of_a_cone_is_its_circle() {
        // 1 - r about (0.5, 0.4) is 0.7 on the circle of radius 0.3; between cells of 1/40 the straight line errs by (1/40)^2/(8 * 0.3) = 2.6e-4.
        let cone = field(|x, y| PassValue::Share(1.0 - (x - 0.5).hypot(y - 0.4)));
        let pieces = cone.contour(0.7);
        let mut length = 0.0;
        for [p, q] in &pieces {
            for end in [p, q] {
                assert!(((end[0] - 0.5).hypot(end[1] - 0.4) - 0.3).abs() < 5e-4, "{end:?}");
            }
            length += (p[0] - q[0]).hypot(p[1] - q[1]);
        }
        assert!((length / (2.0 * std::f64::consts::PI * 0.3) - 1.0).abs() < 0.01, "a closed circle: {length}");
    }

    #[test]
    fn no_contour_where_nothing_crosses_or_is_known() {
        assert!(field(|_, _| PassValue::Share(0.9)).contour(0.9).is_empty(), "at the level counts as inside");
        assert!(field(|_, _| PassValue::Unknown).contour(0.5).is_empty());
        let half = field(|x, _| if x < 0.5 { PassValue::Share(1.0) } else { PassValue::CannotRun });
        assert!(half.contour(0.5).is_empty(), "what cannot run is no contour");
    }
}
