//! Small line plots as SVG text: linear and logarithmic axes, lines, step histograms, bands, a legend.
//!
//! Colours come from the page's style sheet (`s1`, `s2`, ... and `currentColor`), so one drawing serves light, dark and
//! print.

use std::fmt::Write;

/// Scale of an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps.
    Linear,
    /// Equal ratios; values of zero and below are not drawn.
    Log,
}

/// One axis.
#[derive(Debug, Clone)]
pub struct PlotAxis {
    /// Quantity and unit, e.g. `distance (µm)`.
    pub label: String,
    /// Scale.
    pub scale: Scale,
    /// Lower and upper end.
    pub range: [f64; 2],
}

/// How a curve is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Solid.
    Solid,
    /// Dashed.
    Dashed,
    /// Dotted.
    Dotted,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub enum Mark {
    /// A line through points; a gap where a value is not a number.
    Line(Vec<[f64; 2]>),
    /// A histogram's outline: edges, one more than values.
    Steps(Vec<f64>, Vec<f64>),
    /// A band between two curves: x, low, high.
    Band(Vec<[f64; 3]>),
}

/// One curve.
#[derive(Debug, Clone)]
pub struct Series {
    /// Name in the legend; empty: not in the legend.
    pub name: String,
    /// Colour number, 1 to 6 (0: grey).
    pub colour: usize,
    /// Dash.
    pub dash: Dash,
    /// What is drawn.
    pub mark: Mark,
}

/// A plot.
#[derive(Debug, Clone)]
pub struct Plot {
    /// Width and height in drawing units, about pixels on a wide screen.
    pub size: [f64; 2],
    /// Horizontal axis.
    pub x: PlotAxis,
    /// Vertical axis.
    pub y: PlotAxis,
    /// Curves, drawn in order.
    pub series: Vec<Series>,
    /// What the plot shows, for readers who cannot see it.
    pub description: String,
}

impl PlotAxis {
    /// From zero to a little above the largest finite value.
    pub fn from_zero(label: &str, values: impl Iterator<Item = f64>) -> Self {
        let top = values.filter(|v| v.is_finite()).fold(0.0, f64::max);
        let top = if top > 0.0 { top * 1.06 } else { 1.0 };
        Self { label: label.into(), scale: Scale::Linear, range: [0.0, top] }
    }

    /// Over a range; an empty or reversed one is widened.
    pub fn over(label: &str, scale: Scale, low: f64, high: f64) -> Self {
        let range = match scale {
            Scale::Linear if !(low.is_finite() && high.is_finite()) => [0.0, 1.0],
            Scale::Linear if high <= low => [low - 0.5, low + 0.5],
            Scale::Linear => [low, high],
            Scale::Log if !(low > 0.0 && high.is_finite()) => [0.1, 10.0],
            Scale::Log if high <= low * 1.01 => [low / 2.0, low * 2.0],
            Scale::Log => [low, high],
        };
        Self { label: label.into(), scale, range }
    }

    /// Place of a value along the axis, 0 to 1, held within the axis; `None` where it cannot be drawn.
    pub fn place(&self, value: f64) -> Option<f64> {
        let [low, high] = self.range;
        let place = match self.scale {
            Scale::Linear => (value - low) / (high - low),
            Scale::Log if value > 0.0 => (value / low).ln() / (high / low).ln(),
            Scale::Log => return None,
        };
        place.is_finite().then(|| place.clamp(0.0, 1.0))
    }

    /// Ticks: value and label (empty for minor ones).
    pub fn ticks(&self, wanted: usize) -> Vec<(f64, String)> {
        match self.scale {
            Scale::Linear => {
                let values = nice_ticks(self.range, wanted);
                let step = if values.len() > 1 { values[1] - values[0] } else { 1.0 };
                values.into_iter().map(|v| (v, tick_label(v, step))).collect()
            }
            Scale::Log => log_ticks(self.range),
        }
    }
}

/// Round values (1, 2, 5 times a power of ten) inside a range.
pub fn nice_ticks([low, high]: [f64; 2], wanted: usize) -> Vec<f64> {
    let raw = (high - low) / wanted.max(1) as f64;
    if !(raw > 0.0 && raw.is_finite()) {
        return vec![];
    }
    let step = nice_step(raw);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// The smallest of 1, 2, 5 times a power of ten that is not below a value.
pub fn nice_step(raw: f64) -> f64 {
    let power = 10f64.powi(raw.log10().floor() as i32);
    let ratio = raw / power;
    let nice = [1.0, 2.0, 5.0, 10.0].into_iter().find(|n| *n >= ratio * (1.0 - 1e-9)).unwrap_or(10.0);
    nice * power
}

/// The largest of 1, 2, 5 times a power of ten that is not above a value.
pub fn nice_below(raw: f64) -> f64 {
    let power = 10f64.powi(raw.log10().floor() as i32);
    let ratio = raw / power;
    [5.0, 2.0, 1.0].into_iter().find(|n| *n <= ratio * (1.0 + 1e-9)).unwrap_or(1.0) * power
}

/// A tick's value with as many decimals as the step between ticks needs.
pub fn tick_label(value: f64, step: f64) -> String {
    let decimals = (-(step.abs().log10() + 1e-9).floor()).clamp(0.0, 9.0) as usize;
    let text = format!("{:.*}", decimals, if value.abs() < step * 1e-6 { 0.0 } else { value });
    text.replace('-', "−")
}

fn log_ticks([low, high]: [f64; 2]) -> Vec<(f64, String)> {
    let decades = (high / low).log10();
    let mut out = vec![];
    for exponent in low.log10().floor() as i32..=high.log10().ceil() as i32 {
        for digit in 1..10 {
            let value = digit as f64 * 10f64.powi(exponent);
            if value < low * (1.0 - 1e-9) || value > high * (1.0 + 1e-9) {
                continue;
            }
            let labelled = digit == 1 || (decades < 2.2 && matches!(digit, 2 | 5)) || (decades < 0.7);
            out.push((value, if labelled { tick_label(value, value) } else { String::new() }));
        }
    }
    out
}

/// Which labels of ticks can stand beside each other: place and extent along the axis, and words. Round ones come first; what would touch one
/// that stands is left out.
pub fn kept_labels(ticks: &[(f64, f64, &str)]) -> Vec<bool> {
    let rank = |text: &str| match text.trim_start_matches(['−', '0', '.']).chars().next() {
        Some('1') | None => 0,
        Some('5') => 1,
        Some('2') => 2,
        _ => 3,
    };
    let mut order: Vec<usize> = (0..ticks.len()).filter(|i| !ticks[*i].2.is_empty()).collect();
    order.sort_by_key(|i| (rank(ticks[*i].2), *i));
    let mut kept = vec![false; ticks.len()];
    for i in order {
        let (place, extent, _) = ticks[i];
        let touches = |j: usize| kept[j] && (ticks[j].0 - place).abs() < 0.5 * (ticks[j].1 + extent);
        kept[i] = !(0..ticks.len()).any(touches);
    }
    kept
}

/// Width of a tick's label with the space beside it, drawing units.
pub fn label_width(text: &str) -> f64 {
    7.0 * text.chars().count() as f64 + 5.0
}

/// Height of a tick's label with the space above it, drawing units.
pub const LABEL_HEIGHT: f64 = 15.0;

impl Plot {
    /// The drawing.
    pub fn svg(&self) -> String {
        let [width, height] = self.size;
        let (left, right, bottom) = (58.0, 14.0, 46.0);
        let (legend, legend_height) = self.legend(left, width - right);
        let top = 8.0 + legend_height;
        let (inner_width, inner_height) = (width - left - right, height - top - bottom);
        let mut out = String::new();
        let _ = write!(
            out,
            r#"<svg class="plot" viewBox="0 0 {width} {height}" role="img" aria-label="{}">"#,
            escape(&self.description)
        );
        out.push_str(&legend);
        let px = |place: f64| left + place * inner_width;
        let py = |place: f64| top + (1.0 - place) * inner_height;
        let placed = |axis: &PlotAxis, wanted: f64, along: &dyn Fn(f64) -> f64, extent: &dyn Fn(&str) -> f64| {
            let ticks: Vec<(f64, String)> = axis
                .ticks(wanted as usize)
                .into_iter()
                .filter_map(|(value, label)| Some((along(axis.place(value)?), label)))
                .collect();
            let all: Vec<(f64, f64, &str)> =
                ticks.iter().map(|(at, text)| (*at, extent(text), text.as_str())).collect();
            let kept = kept_labels(&all);
            ticks
                .into_iter()
                .zip(kept)
                .map(|((at, text), kept)| (at, if kept { text } else { String::new() }))
                .collect()
        };
        let (across, up): (Vec<_>, Vec<_>) = (
            placed(&self.x, inner_width / 75.0, &px, &label_width),
            placed(&self.y, inner_height / 42.0, &py, &|_| LABEL_HEIGHT),
        );
        for (x, label) in across {
            let class = if label.is_empty() { "grid minor" } else { "grid" };
            let _ = write!(out, r#"<path class="{class}" d="M{x:.1} {top:.1}V{:.1}"/>"#, py(0.0));
            if !label.is_empty() {
                let _ = write!(
                    out,
                    r#"<text class="tick" x="{x:.1}" y="{:.1}" text-anchor="middle">{label}</text>"#,
                    py(0.0) + 16.0
                );
            }
        }
        for (y, label) in up {
            let class = if label.is_empty() { "grid minor" } else { "grid" };
            let _ = write!(out, r#"<path class="{class}" d="M{left:.1} {y:.1}H{:.1}"/>"#, px(1.0));
            if !label.is_empty() {
                let _ = write!(
                    out,
                    r#"<text class="tick" x="{:.1}" y="{:.1}" text-anchor="end">{label}</text>"#,
                    left - 7.0,
                    y + 4.0
                );
            }
        }
        for series in &self.series {
            let dash = match series.dash {
                Dash::Solid => "",
                Dash::Dashed => r#" stroke-dasharray="7 4""#,
                Dash::Dotted => r#" stroke-dasharray="1.5 4""#,
            };
            let point = |x: f64, y: f64| Some((px(self.x.place(x)?), py(self.y.place(y)?)));
            match &series.mark {
                Mark::Line(points) => {
                    let path = polyline(points.iter().map(|p| point(p[0], p[1])));
                    let _ = write!(out, r#"<path class="line s{}"{dash} d="{path}"/>"#, series.colour);
                }
                Mark::Steps(edges, values) => {
                    let floor = self.y.range[0];
                    let mut corners = vec![];
                    for (i, value) in values.iter().enumerate().take(edges.len().saturating_sub(1)) {
                        // An empty bin on a logarithmic axis stands on the floor.
                        let shown = if self.y.scale == Scale::Log && *value <= 0.0 { floor } else { *value };
                        corners.push(point(edges[i], shown));
                        corners.push(point(edges[i + 1], shown));
                    }
                    let path = polyline(corners.into_iter());
                    let _ = write!(out, r#"<path class="line s{}"{dash} d="{path}"/>"#, series.colour);
                }
                Mark::Band(points) => {
                    for run in points.split(|p| p.iter().any(|v| !v.is_finite())).filter(|r| r.len() > 1) {
                        let forth = run.iter().map(|p| point(p[0], p[1]));
                        let back = run.iter().rev().map(|p| point(p[0], p[2]));
                        let path = polyline(forth.chain(back));
                        let _ = write!(out, r#"<path class="band s{}" d="{path}Z"/>"#, series.colour);
                    }
                }
            }
        }
        let _ = write!(out, r#"<path class="axis" d="M{left:.1} {top:.1}V{:.1}H{:.1}"/>"#, py(0.0), px(1.0));
        let _ = write!(
            out,
            r#"<text class="label" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            px(0.5),
            height - 9.0,
            escape(&self.x.label)
        );
        let _ = write!(
            out,
            r#"<text class="label" transform="translate(14 {:.1}) rotate(-90)" text-anchor="middle">{}</text>"#,
            py(0.5),
            escape(&self.y.label)
        );
        out.push_str("</svg>");
        out
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
            let sample = match (&series.mark, series.dash) {
                (Mark::Band(_), _) => format!(
                    r#"<rect class="band s{}" x="{x:.1}" y="{:.1}" width="22" height="10"/>"#,
                    series.colour,
                    y - 9.0
                ),
                (_, dash) => {
                    let dash = match dash {
                        Dash::Solid => "",
                        Dash::Dashed => r#" stroke-dasharray="7 4""#,
                        Dash::Dotted => r#" stroke-dasharray="1.5 4""#,
                    };
                    format!(r#"<path class="line s{}"{dash} d="M{x:.1} {:.1}h22"/>"#, series.colour, y - 4.0)
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

/// Text made safe for markup.
pub fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(nice_ticks([0.0, 10.0], 5), vec![0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(nice_ticks([-37.0, 41.0], 4), vec![-20.0, 0.0, 20.0, 40.0]);
        assert!(nice_ticks([1.0, 1.0], 5).is_empty());
        assert_eq!(nice_below(37.0), 20.0);
        assert_eq!(nice_step(37.0), 50.0);
        assert_eq!(tick_label(0.5, 0.5), "0.5");
        assert_eq!(tick_label(-20.0, 10.0), "−20");
        let labels: Vec<String> = log_ticks([0.5, 20.0]).into_iter().map(|t| t.1).filter(|l| !l.is_empty()).collect();
        assert_eq!(labels, ["0.5", "1", "2", "5", "10", "20"]);
    }

    #[test]
    fn labels_that_would_touch_are_left_out() {
        // 0.6 to 2.4 on 170 units, as on the window page: 0.7, 0.8 and 0.9 lie nearer to each other than they are wide.
        let axis = PlotAxis::over("", Scale::Log, 0.6, 2.4);
        let ticks = axis.ticks(5);
        let placed: Vec<(f64, f64, &str)> = ticks
            .iter()
            .map(|(v, text)| (170.0 * axis.place(*v).expect("inside"), label_width(text), text.as_str()))
            .collect();
        let kept: Vec<&(f64, f64, &str)> =
            placed.iter().zip(kept_labels(&placed)).filter(|(_, kept)| *kept).map(|(tick, _)| tick).collect();
        assert!(kept.iter().any(|t| t.2 == "1") && kept.iter().any(|t| t.2 == "2"), "{kept:?}");
        assert!(kept.len() < placed.iter().filter(|t| !t.2.is_empty()).count());
        assert!(kept.windows(2).all(|pair| pair[1].0 - pair[0].0 >= 0.5 * (pair[0].1 + pair[1].1)), "{kept:?}");
    }

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
