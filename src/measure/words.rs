//! What was found and assumed, in sentences.

use crate::grains::SizeBin;
use crate::image::ImageMeasured;
use crate::line::Kind;
use crate::picture::ScaleFrom;
use crate::trace::TraceMeasured;
use motefall_figures::profile::LEAST_EDGE_COVER;

/// A number with three digits, as on a bench.
fn three(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".into();
    }
    let decimals = (2 - value.abs().log10().floor() as i32).max(0) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

/// A length, m.
fn length(metres: f64) -> String {
    let size = metres.abs();
    if size < 1e-6 { format!("{} nm", three(metres * 1e9)) } else { format!("{} µm", three(metres * 1e6)) }
}

/// Blur, pixels, below which its size says nothing.
const SHARP: f64 = 0.3;
/// Least share of the picture that is told as put back, percent.
const LEAST_RESTORED: f64 = 0.05;

/// Least share of hidden particles that is told, percent.
const LEAST_HIDDEN: f64 = 1.0;

/// A length with two digits, m.
fn two_digits(metres: f64) -> String {
    let rounded = format!("{metres:.1e}").parse().unwrap_or(metres);
    length(rounded)
}

impl ImageMeasured {
    /// What the picture shows.
    pub fn found(&self) -> String {
        match (self.kind, &self.line) {
            (Kind::Line, Some(line)) => {
                let turned = three(line.degrees.abs());
                let is_along_rows = line.degrees.abs() <= 45.0;
                let lies = match (is_along_rows, line.offset >= 0.0) {
                    (true, true) => "above",
                    (true, false) => "below",
                    (false, true) => "right of",
                    (false, false) => "left of",
                };
                format!(
                    "a line, {turned}° {} from the picture's rows, {} {lies} its middle, {} of its length",
                    if line.degrees >= 0.0 { "counter-clockwise" } else { "clockwise" },
                    length(line.offset.abs()),
                    length(line.length)
                )
            }
            (Kind::Spot, _) => "a spot with ground around it, no line".into(),
            (Kind::Field, _) => "an even field, no line".into(),
            (Kind::Line, None) => "a line".into(),
        }
    }

    /// How the figures came about.
    pub fn assumed(&self) -> Vec<String> {
        let mut all = vec![self.scale_words(), self.threshold_words()];
        let light = &self.light;
        if light.uneven > 0.1 {
            let share = 100.0 * light.uneven;
            all.push(format!(
                "Uneven light was levelled: the ground differs by {share:.0} % of the step to particles."
            ));
        }
        if light.streaks > 0 {
            let rows = if light.streaks == 1 { "1 row".into() } else { format!("{} rows", light.streaks) };
            all.push(format!("Bright or dark streaks (charging) were levelled: {rows}."));
        }
        let smoothed = match light.smoothing {
            0.0 => "not smoothed".into(),
            by => format!("smoothed by {by} pixels against noise"),
        };
        let edges = match self.blur / self.scale.pixel {
            ..SHARP => "Edges are as sharp as pixels can show".into(),
            _ => format!("Edges are blurred by {} (standard deviation)", two_digits(self.blur)),
        };
        let restored = match 100.0 * self.restored.abs() {
            ..LEAST_RESTORED => String::new(),
            share if self.restored > 0.0 => {
                format!("; the area that this takes from outlines was put back: {share:.1} % of the picture")
            }
            share => format!("; the area that this adds within holes was taken off: {share:.1} % of the picture"),
        };
        all.push(format!("The picture was {smoothed}. {edges}{restored}."));
        if !self.network.is_one() {
            all.push(format!(
                "{} particles were found, {} of them cut by the frame: these count as covered, but have no size; the count makes up for them (Miles-Lantuéjoul). Specks below {} were left out.",
                self.grains,
                self.cut,
                length(self.smallest)
            ));
        }
        let hidden = 100.0 * self.hidden;
        if !self.network.is_one() && hidden >= LEAST_HIDDEN {
            all.push(format!(
                "If particles lie by chance, about {hidden:.0} % of them lie so much on others that both are counted as one: the count is low by that, and its interval holds it. Particles that avoid each other are not hidden."
            ));
        }
        all.extend(self.line_words());
        all
    }

    /// Why the width from edge to edge does not go into a row, if it does not: predictions take the edges of sparse lines otherwise.
    pub fn why_edges_are_not_compared(&self) -> Option<String> {
        let [cover, _] = self.line?.edges?;
        (cover < LEAST_EDGE_COVER).then(|| {
            format!(
                "The width from edge to edge is not in the row: its edges are where {} % is covered, and predictions look for no edge where less than {} % is, so theirs is narrower.",
                three(100.0 * cover),
                three(100.0 * LEAST_EDGE_COVER)
            )
        })
    }

    fn scale_words(&self) -> String {
        let pixel = length(self.scale.pixel);
        match &self.scale.from {
            ScaleFrom::File => format!("Scale: {pixel} per pixel, as the file says. Compare with the scale bar once."),
            ScaleFrom::Given(None) => format!("Scale: {pixel} per pixel, as given."),
            ScaleFrom::Given(Some(own)) => {
                format!("Scale: {pixel} per pixel, as given; the file says {} and is not followed.", length(*own))
            }
        }
    }

    fn threshold_words(&self) -> String {
        let own = match self.threshold_given {
            true => " as given",
            false => ", and those that are brighter or fainter than most midway between the ground and their own grey",
        };
        format!(
            "Particles begin at grey {} of the levelled picture{own}. This is sure to {:.0} % of the step between ground and particles (standard deviation): by how level both are, and by how alike edges fall on both sides of their middle.",
            three(self.grey_threshold),
            100.0 * self.threshold_unsure
        )
    }

    fn line_words(&self) -> Vec<String> {
        let Some(line) = &self.line else { return vec![] };
        let mut all = vec![
            "Width at half height is that of the profile of the covered share across the line; 99 % are of what is covered within the picture, about its centre.".to_owned(),
        ];
        all.extend(line.edges.map(|[cover, smoothed_over]| {
            let smoothed = match smoothed_over {
                0.0 => String::new(),
                over => format!(" Particles are so few that the profile was smoothed over {} for that.", length(over)),
            };
            format!(
                "Its edges are the outermost places beyond which, over the next micrometre, particles cover less than a tenth of what they cover most: {} %.{smoothed}",
                three(100.0 * cover)
            )
        }));
        all.push(match line.roughness_over {
            Some([over, sampling]) => format!(
                "Edge roughness was taken over {} of the line in samples of {}; rougher at longer waves it may be, and particles themselves add to it.",
                length(over),
                length(sampling)
            ),
            None => "Edge roughness is not given: the line is too short in the picture (fewer than ten samples of a quarter of its width) or too sparse.".to_owned(),
        });
        all.push(match line.strays {
            Some([count, area]) => format!(
                "{} counted farther from the line's middle than 1.5 times its edges, on {} µm² of ground.",
                if count == 1.0 { "1 stray was".into() } else { format!("{} strays were", three(count)) },
                three(area * 1e12)
            ),
            None => "Strays are not counted: too little ground is seen beside the line, or particles do not end within the picture.".to_owned(),
        });
        all
    }
}

impl TraceMeasured {
    /// How the figures came about.
    pub fn assumed(&self) -> Vec<String> {
        vec![
            format!(
                "A tilt of {} nm per µm was levelled by the ground farther from the line's middle than 1.5 of its widths; the ground scatters by {}.",
                three(self.tilt * 1e3),
                length(self.noise)
            ),
            format!(
                "The peak is that of the trace smoothed over {} (points every {}).",
                length(self.smoothed_over),
                length(self.step)
            ),
            "How the line differs along its length, one trace cannot tell: give several.".into(),
        ]
    }
}

/// Grains of all pictures by size.
pub fn size_histogram(all: &[ImageMeasured]) -> Vec<SizeBin> {
    let grains: Vec<_> = all.iter().flat_map(|image| image.single.iter().copied()).collect();
    crate::grains::histogram(&grains)
}

/// A histogram as a table that a scenario can name, with the number of particles in each class.
pub fn sizes_csv(bins: &[SizeBin]) -> String {
    let rows = bins.iter().map(|bin| format!("{:.5},{:.5},{}\n", bin.lower * 1e6, bin.upper * 1e6, three(bin.amount)));
    let head = "# Diameters of discs of the same area, measured in pictures; amounts are numbers of particles.\nlower_um,upper_um,amount\n";
    head.to_owned() + &rows.collect::<String>()
}
