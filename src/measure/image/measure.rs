//! From the bytes of a picture to figures with uncertainties.

use super::Reading;
use super::cautions::MOST_OF_FRAME;
use super::options::{ImageOptions, Sought};
use super::threshold::Cut;
use super::values::{LineReading, Plain, hidden, plain};
use crate::error::MeasureError;
use crate::figure::{Figure, Value, Values};
use crate::grains::{Grain, Network};
use crate::ground::{Brightness, Levels, Separation, levels, smoothed};
use crate::line::{Kind, Look, Strip, find_direction, look, side_words};
use crate::picture::{Picture, Scale, decode};
use crate::raster::Raster;

/// Least blur by which a picture is blurred once more, pixels.
const LEAST_BLUR: f64 = 0.5;

/// A measured picture.
#[derive(Debug, Clone)]
pub struct ImageMeasured {
    /// What it shows.
    pub kind: Kind,
    /// Figures.
    pub values: Values,
    /// The size of a pixel.
    pub scale: Scale,
    /// Whether it is a network and not grains.
    pub network: Network,
    /// Share of the grains that lie so much on others that both are counted as one, if they lie by chance.
    pub hidden: f64,
    /// Grains, and which are cut by the frame.
    pub grains: usize,
    /// Grains that the frame cuts.
    pub cut: usize,
    /// Diameter of the smallest grain that counts, m.
    pub smallest: f64,
    /// Blur of the edges as a standard deviation, m, with the smoothing against noise.
    pub blur: f64,
    /// Area that blur took from outlines and that was put back, as a share of the picture.
    pub restored: f64,
    /// Grey value at which particles begin, in the file's counts; where none is given, that of one as bright as most are.
    pub grey_threshold: f64,
    /// Standard deviation of the threshold, in steps from ground to particles.
    pub threshold_unsure: f64,
    /// Whether the threshold was given.
    pub threshold_given: bool,
    /// What was found of the light.
    pub light: Light,
    /// What is known of the line besides its figures.
    pub line: Option<LineFacts>,
    /// What the user should know, each a sentence.
    pub cautions: Vec<String>,
    pub(crate) single: Vec<(Grain, f64)>,
    pub(crate) seen: Seen,
}

/// What was found of the light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// By how much the ground differs over the picture, in steps from ground to particles.
    pub uneven: f64,
    /// Rows that were streaks and were levelled.
    pub streaks: usize,
    /// Scatter of single pixels, in steps from ground to particles.
    pub noise: f64,
    /// Smoothing against it, standard deviation in pixels.
    pub smoothing: f64,
}

/// What is known of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFacts {
    /// Direction, degrees from the rows, counter-clockwise.
    pub degrees: f64,
    /// Distance of its middle from the middle of the picture, m: up for a line along the rows, to the right for one along the columns.
    pub offset: f64,
    /// Length in the picture, m.
    pub length: f64,
    /// Covered share at the edges, and the length over which the profile was smoothed to find them, m.
    pub edges: Option<[f64; 2]>,
    /// Length over which the roughness was taken and the sampling, m.
    pub roughness_over: Option<[f64; 2]>,
    /// Strays counted, and the area that they were counted in, m^2.
    pub strays: Option<[f64; 2]>,
}

/// What an overlay shows.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    pub(crate) grey: Raster<f32>,
    pub(crate) labels: Raster<u32>,
    pub(crate) is_cut: Vec<bool>,
    pub(crate) line: Option<LineReading>,
}

/// Measures a picture.
pub fn measure_image(bytes: &[u8], options: &ImageOptions) -> Result<ImageMeasured, MeasureError> {
    let picture = decode(bytes)?;
    let scale = Scale::resolve(options.pixel, &picture.scale)?;
    let grey = options.crop.of(&picture.grey)?;
    let brightness = options.brightness.unwrap_or(Brightness::Bright);
    let levels = levels(&grey, brightness, options.separation)?;
    let Cut { share, threshold, unsure, smallest, blur } = Cut::of(&levels, options.separation);
    let reading = Reading::new(&share, threshold, smallest, blur);
    check_classes(&reading, brightness)?;
    check_brightness(&reading, options.brightness)?;
    let angle = find_direction(&reading.mask, options.along);
    let strip = Strip::collect(&reading.mask, angle, reading.blur);
    let look = settle(&reading, &strip, options)?;
    let (nominal, line) = plain(&reading, look.kind, Some(&strip), scale.pixel);
    let read = |reading: &Reading| {
        let strip = (look.kind == Kind::Line).then(|| Strip::collect(&reading.mask, angle, reading.blur));
        plain(reading, look.kind, strip.as_ref(), scale.pixel).0
    };
    let reach = unsure * 3f64.sqrt();
    let moved = [-reach, reach].map(|by| read(&Reading::new(&share, threshold + by, smallest, blur)));
    let again = blur.max(LEAST_BLUR);
    let blurred = smoothed(&share, again);
    let blurred = read(&Reading::new(&blurred, threshold, smallest, blur.hypot(again)));
    let hidden = hidden(&reading, line.is_some().then_some(&strip));
    let values = with_uncertainty(&nominal, &moved, &blurred, options.scale_error, hidden, line.as_ref());
    let is_given = options.separation != Separation::Found;
    Ok(assembled(Parts {
        brightness,
        picture,
        grey,
        levels,
        reading,
        look,
        line,
        strip,
        values,
        hidden,
        scale,
        smallest,
        unsure,
        is_given,
    }))
}

/// A picture must show both classes.
fn check_classes(reading: &Reading, brightness: Brightness) -> Result<(), MeasureError> {
    let what = if reading.grains.is_empty() {
        "nothing stands out that is larger than a few pixels"
    } else if reading.mask.values.iter().all(|covered| *covered) {
        "all of it is beyond the threshold"
    } else {
        return Ok(());
    };
    Err(MeasureError::OneClass { what: what.into(), brightness })
}

/// Ground goes on beyond a picture as a rule: if nobody says which of both particles are, what makes up most of the frame is not taken for them.
fn check_brightness(reading: &Reading, said: Option<Brightness>) -> Result<(), MeasureError> {
    let share = reading.frame_share();
    if said.is_none() && share > MOST_OF_FRAME {
        return Err(MeasureError::WhichIsGround { percent: (100.0 * share).round() as u32 });
    }
    Ok(())
}

/// What the picture shows, as found or as said.
fn settle(reading: &Reading, strip: &Strip, options: &ImageOptions) -> Result<Look, MeasureError> {
    let found = look(strip, reading.mean_grain);
    let kind = match options.sought {
        // Who says where the line runs says that there is one.
        Sought::Any if options.along.is_some() => Kind::Line,
        Sought::Any => found.kind,
        Sought::Only(kind) => kind,
    };
    if kind != Kind::Line {
        return Ok(Look { kind, ..found });
    }
    let no_line = |why: &str| MeasureError::NoLine { why: why.into(), along: options.along };
    if let Some(side) = found.falls.iter().position(|falls| !falls) {
        if found.falls == [false; 2] {
            return Err(no_line("what is covered falls to half of its peak on neither side"));
        }
        return Err(MeasureError::LineLeaves { side: side_words(strip.angle, side) });
    }
    if found.kind == Kind::Field && !found.rises_again {
        return Err(no_line("what is covered differs no more across it than it does by chance"));
    }
    Ok(Look { kind, ..found })
}

/// Puts uncertainties together: from the threshold, half the range that moving it over a rectangle of its own standard deviation makes (over the
/// root of 3); from focus, the change when the picture is blurred once more by as much as it is; of a count, from overlap, a rectangle between no grain
/// hidden and as many as there are if grains lie by chance, about the former.
///
/// Source of the rectangular distribution: JCGM 100:2008 (GUM), 4.3.7.
fn with_uncertainty(
    nominal: &Plain,
    moved: &[Plain; 2],
    blurred: &Plain,
    scale_error: f64,
    hidden: f64,
    line: Option<&LineReading>,
) -> Values {
    let value = |(figure, (value, chance)): (&Figure, &(f64, f64))| {
        let of = |plain: &Plain| plain.get(figure).map(|found| found.0);
        let ends: Vec<f64> = moved.iter().filter_map(of).chain([*value]).collect();
        let (low, high) = ends.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
        let is_cut = line.is_some_and(|line| line.read.band_is_cut) && *figure == Figure::Width99;
        let value = Value {
            value: *value,
            chance: *chance,
            threshold: 0.5 * (high - low) / 3f64.sqrt(),
            focus: of(blurred).map_or(0.0, |found| (found - value).abs()),
            scale: figure.power_of_scale().abs() * scale_error * value,
            overlap: if *figure == Figure::Density { hidden / (1.0 - hidden) / 3f64.sqrt() * value } else { 0.0 },
            at_least: is_cut,
        };
        (*figure, value)
    };
    nominal.iter().map(value).collect()
}

/// Everything that a result is made of.
struct Parts {
    brightness: Brightness,
    picture: Picture,
    grey: Raster<f32>,
    levels: Levels,
    reading: Reading,
    look: Look,
    line: Option<LineReading>,
    strip: Strip,
    values: Values,
    hidden: f64,
    scale: Scale,
    smallest: usize,
    unsure: f64,
    is_given: bool,
}

fn assembled(parts: Parts) -> ImageMeasured {
    let cautions = super::cautions::cautions(
        parts.brightness,
        &parts.picture,
        &parts.grey,
        &parts.levels,
        &parts.reading,
        &parts.look,
        parts.line.as_ref(),
    );
    let Parts { levels, reading, line, strip, scale, .. } = parts;
    let pixel = scale.pixel;
    let is_cut: Vec<bool> = reading.grains.iter().map(|grain| grain.weight.is_none()).collect();
    ImageMeasured {
        kind: parts.look.kind,
        values: parts.values,
        network: reading.network,
        hidden: parts.hidden,
        grains: reading.grains.len(),
        cut: is_cut.iter().filter(|cut| **cut).count(),
        smallest: 2.0 * (parts.smallest as f64 / std::f64::consts::PI).sqrt() * pixel,
        blur: reading.blur * pixel,
        restored: reading.restored,
        grey_threshold: levels.grey_threshold,
        threshold_unsure: parts.unsure,
        threshold_given: parts.is_given,
        light: Light {
            uneven: levels.uneven,
            streaks: levels.streaks,
            noise: levels.noise,
            smoothing: levels.smoothing,
        },
        line: line.as_ref().map(|line| facts(line, &strip, pixel)),
        cautions,
        single: reading.grains.iter().map(|grain| (*grain, pixel)).collect(),
        scale,
        seen: Seen { grey: parts.grey, labels: reading.labels, is_cut, line },
    }
}

fn facts(line: &LineReading, strip: &Strip, pixel: f64) -> LineFacts {
    let middle = line.first + 0.5 * (line.read.half[0] + line.read.half[1]);
    let is_along_rows = line.angle.cos().abs() >= line.angle.sin().abs();
    // Rows count downward. Across a line along the columns points to the left.
    let offset = if is_along_rows { -middle * line.angle.cos().signum() } else { -middle * line.angle.sin().signum() };
    LineFacts {
        degrees: (-line.angle.to_degrees() + 90.0).rem_euclid(180.0) - 90.0,
        offset: offset * pixel,
        length: strip.pieces as f64 * strip.piece_length * pixel,
        edges: line.edges.ok().map(|edges| [edges.cover, edges.smoothed_over as f64 * pixel]),
        roughness_over: line.roughness.as_ref().map(|found| [found.length * pixel, found.sampling * pixel]),
        strays: line.strays.map(|(count, area)| [count, area * pixel * pixel]),
    }
}
