//! Curves, and the plot that they are drawn in.

use super::axis::{LABEL_HEIGHT, PlotAxis, Scale, kept_labels, label_width};
use super::dots::{self, Dot};
use super::escape::escape;
use std::fmt::Write;

/// How a curve is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dash {
    /// Solid.
    Solid,
    /// Dashed.
    Dashed,
    /// Dotted.
    Dotted,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub(crate) enum Mark {
    /// A line through points; a gap where a value is not a number.
    Line(Vec<[f64; 2]>),
    /// A histogram's outline: edges, one more than values.
    Steps(Vec<f64>, Vec<f64>),
    /// A band between two curves: x, low, high.
    Band(Vec<[f64; 3]>),
    /// Dots, the most important first.
    Dots(Vec<Dot>),
}

/// One curve.
#[derive(Debug, Clone)]
pub(crate) struct Series {
    /// Name in the legend; empty: not in the legend.
    pub(crate) name: String,
    /// Colour number, 1 to 6 (0: grey).
    pub(crate) colour: usize,
    /// Dash.
    pub(crate) dash: Dash,
    /// What is drawn.
    pub(crate) mark: Mark,
}

/// A plot.
#[derive(Debug, Clone)]
pub(crate) struct Plot {
    /// Width and height in drawing units, about pixels on a wide screen.
    pub(crate) size: [f64; 2],
    /// Horizontal axis.
    pub(crate) x: PlotAxis,
    /// Vertical axis.
    pub(crate) y: PlotAxis,
    /// Curves, drawn in order.
    pub(crate) series: Vec<Series>,
    /// What the plot shows, for readers who cannot see it.
    pub(crate) description: String,
}

impl Dash {
    /// As it stands in a path.
    fn attribute(self) -> &'static str {
        match self {
            Self::Solid => "",
            Self::Dashed => r#" stroke-dasharray="7 4""#,
            Self::Dotted => r#" stroke-dasharray="1.5 4""#,
        }
    }
}

/// Where the curves are drawn: left, right, upper and lower edge, drawing units.
struct Field {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Field {
    fn across(&self, place: f64) -> f64 {
        self.left + place * (self.right - self.left)
    }

    fn up(&self, place: f64) -> f64 {
        self.bottom - place * (self.bottom - self.top)
    }
}

impl Plot {
    /// The drawing.
    pub(crate) fn svg(&self) -> String {
        let [width, height] = self.size;
        let (legend, legend_height) = self.legend(58.0, width - 14.0);
        let field = Field { left: 58.0, right: width - 14.0, top: 8.0 + legend_height, bottom: height - 46.0 };
        let mut out = format!(
            r#"<svg class="plot" viewBox="0 0 {width} {height}" role="img" aria-label="{}">"#,
            escape(&self.description)
        );
        out.push_str(&legend);
        self.grid(&mut out, &field);
        for series in &self.series {
            self.curve(&mut out, &field, series);
        }
        let Field { left, right, top, bottom } = field;
        let _ = write!(out, r#"<path class="axis" d="M{left:.1} {top:.1}V{bottom:.1}H{right:.1}"/>"#);
        let _ = write!(
            out,
            r#"<text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            field.across(0.5),
            height - 9.0,
            escape(&self.x.label)
        );
        let _ = write!(
            out,
            r#"<text class="label" transform="translate(14 {:.1}) rotate(-90)" text-anchor="middle">{}</text></svg>"#,
            field.up(0.5),
            escape(&self.y.label)
        );
        out
    }

    /// Lines across and up with their labels.
    fn grid(&self, out: &mut String, field: &Field) {
        let Field { left, right, top, bottom } = *field;
        let class = |label: &str| if label.is_empty() { "grid minor" } else { "grid" };
        for (x, label) in labelled(&self.x, (right - left) / 75.0, |p| field.across(p), label_width) {
            let _ = write!(out, r#"<path class="{}" d="M{x:.1} {top:.1}V{bottom:.1}"/>"#, class(&label));
            if !label.is_empty() {
                let y = bottom + 16.0;
                let _ = write!(out, r#"<text class="tick" x="{x:.1}" y="{y:.1}" text-anchor="middle">{label}</text>"#);
            }
        }
        for (y, label) in labelled(&self.y, (bottom - top) / 42.0, |p| field.up(p), |_| LABEL_HEIGHT) {
            let _ = write!(out, r#"<path class="{}" d="M{left:.1} {y:.1}H{right:.1}"/>"#, class(&label));
            if !label.is_empty() {
                let (x, y) = (left - 7.0, y + 4.0);
                let _ = write!(out, r#"<text class="tick" x="{x:.1}" y="{y:.1}" text-anchor="end">{label}</text>"#);
            }
        }
    }

    fn curve(&self, out: &mut String, field: &Field, series: &Series) {
        let (colour, dash) = (series.colour, series.dash.attribute());
        let point = |x: f64, y: f64| Some((field.across(self.x.place(x)?), field.up(self.y.place(y)?)));
        match &series.mark {
            Mark::Line(points) => {
                let path = polyline(points.iter().map(|p| point(p[0], p[1])));
                let _ = write!(out, r#"<path class="line s{colour}"{dash} d="{path}"/>"#);
            }
            Mark::Steps(edges, values) => {
                // An empty bin on a logarithmic axis stands on the floor.
                let on_floor = |value: f64| self.y.scale == Scale::Log && value <= 0.0;
                let shown = |value: f64| if on_floor(value) { self.y.range[0] } else { value };
                let bins = edges.windows(2).zip(values);
                let corners =
                    bins.flat_map(|(ends, value)| [point(ends[0], shown(*value)), point(ends[1], shown(*value))]);
                let path = polyline(corners);
                let _ = write!(out, r#"<path class="line s{colour}"{dash} d="{path}"/>"#);
            }
            Mark::Dots(all) => {
                let placed = |dot: &Dot| point(dot.at[0], dot.at[1]).map(|(x, y)| [x, y]);
                let placed: Vec<(&Dot, [f64; 2])> = all.iter().filter_map(|dot| Some((dot, placed(dot)?))).collect();
                dots::draw(out, &placed, colour, [field.left, field.top, field.right, field.bottom]);
            }
            Mark::Band(points) => {
                for run in points.split(|p| p.iter().any(|v| !v.is_finite())).filter(|r| r.len() > 1) {
                    let forth = run.iter().map(|p| point(p[0], p[1]));
                    let back = run.iter().rev().map(|p| point(p[0], p[2]));
                    let path = polyline(forth.chain(back));
                    let _ = write!(out, r#"<path class="band s{colour}" d="{path}Z"/>"#);
                }
            }
        }
    }

    /// The legend and its height.
    fn legend(&self, left: f64, right: f64) -> (String, f64) {
        let mut out = String::new();
        let (mut x, mut y) = (left, 14.0);
        for series in self.series.iter().filter(|s| !s.name.is_empty()) {
            let width = 46.0 + 7.1 * series.name.chars().count() as f64;
            if x + width > right && x > left {
                x = left;
                y += 18.0;
            }
            let colour = series.colour;
            let sample = match series.mark {
                Mark::Band(_) => {
                    format!(r#"<rect class="band s{colour}" x="{x:.1}" y="{:.1}" width="22" height="10"/>"#, y - 9.0)
                }
                _ => {
                    let dash = series.dash.attribute();
                    format!(r#"<path class="line s{colour}"{dash} d="M{x:.1} {:.1}h22"/>"#, y - 4.0)
                }
            };
            let _ = write!(
                out,
                r#"{sample}<text class="tick" x="{:.1}" y="{y:.1}">{}</text>"#,
                x + 28.0,
                escape(&series.name)
            );
            x += width;
        }
        let height = if out.is_empty() { 4.0 } else { y + 2.0 };
        (out, height)
    }
}

/// Ticks of an axis at their places in the drawing, with the labels that do not touch each other.
fn labelled(
    axis: &PlotAxis,
    wanted: f64,
    along: impl Fn(f64) -> f64,
    extent: impl Fn(&str) -> f64,
) -> Vec<(f64, String)> {
    let ticks = axis.ticks(wanted as usize).into_iter();
    let ticks: Vec<(f64, String)> =
        ticks.filter_map(|(value, label)| Some((along(axis.place(value)?), label))).collect();
    let all: Vec<(f64, f64, &str)> = ticks.iter().map(|(at, text)| (*at, extent(text), text.as_str())).collect();
    let kept = kept_labels(&all);
    let shown = |((at, text), kept)| (at, if kept { text } else { String::new() });
    ticks.into_iter().zip(kept).map(shown).collect()
}

/// Path data through points, broken where there is none.
fn polyline(points: impl Iterator<Item = Option<(f64, f64)>>) -> String {
    let mut out = String::new();
    let mut pen_down = false;
    for point in points {
        match point {
            Some((x, y)) => {
                let _ = write!(out, "{}{x:.1} {y:.1}", if pen_down { 'L' } else { 'M' });
                pen_down = true;
            }
            None => pen_down = false,
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_stays_a_gap_and_zero_has_no_place_on_a_logarithm() {
        assert_eq!(
            polyline([Some((0.0, 0.0)), None, Some((1.0, 1.0)), Some((2.0, 2.0))].into_iter()),
            "M0.0 0.0M1.0 1.0L2.0 2.0"
        );
        let log = PlotAxis::over("", Scale::Log, 1.0, 100.0);
        assert_eq!(log.place(0.0), None);
        assert_eq!(log.place(f64::NAN), None);
        assert!((log.place(10.0).expect("inside") - 0.5).abs() < 1e-12);
    }

    #[test]
    fn degenerate_ranges_still_draw() {
        let plot = Plot {
            size: [400.0, 300.0],
            x: PlotAxis::over("x (µm)", Scale::Log, 0.0, 0.0),
            y: PlotAxis::from_zero("a < b", [f64::NAN].into_iter()),
            series: vec![],
            description: "empty".into(),
        };
        let svg = plot.svg();
        assert!(svg.contains("a &lt; b") && !svg.contains("NaN") && !svg.contains("inf"));
    }
}
