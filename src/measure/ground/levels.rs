//! Grey values as shares of the way from ground to particles.

use super::blur::{median, noise, quantile, smoothed};
use super::brightness::Brightness;
use super::inner::{Side, inner};
use super::otsu::otsu;
use super::streaks::level_streaks;
use super::surface::{Fit, Surface};
use crate::error::MeasureError;
use crate::raster::Raster;

/// Where ground ends and particles begin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Separation {
    /// Midway between the two classes that Otsu's method finds.
    Found,
    /// At a grey value, in the file's own counts.
    Grey(f64),
}

/// A levelled picture.
#[derive(Debug, Clone)]
pub(crate) struct Levels {
    /// 0 on ground, 1 on particles.
    pub(crate) share: Raster<f32>,
    /// The share at which particles begin.
    pub(crate) threshold: f64,
    /// Grey value there, on average, in the file's counts.
    pub(crate) grey_threshold: f64,
    /// Step from ground to particles, in the file's counts; negative if particles are dark.
    pub(crate) step: f64,
    /// Standard deviation of the normal curve by which the picture was smoothed against its noise, pixels.
    pub(crate) smoothing: f64,
    /// Scatter of single pixels as read, in shares.
    pub(crate) noise: f64,
    /// By how much the ground differs over the picture, in shares.
    pub(crate) uneven: f64,
    /// Rows that were streaks.
    pub(crate) streaks: usize,
    /// Distance of the classes in standard deviations within them, after smoothing.
    pub(crate) distinct: f64,
    /// Scatter of the ground after smoothing, in shares.
    pub(crate) ground_scatter: f64,
}

/// Noise, in shares, that is left as it is.
const TOLERATED_NOISE: f64 = 0.08;
/// Strengths of smoothing to choose from, pixels.
const SMOOTHINGS: [f64; 6] = [0.0, 0.7, 1.0, 1.4, 2.0, 2.8];
/// How often at most ground and classes are found from each other.
const ROUNDS: usize = 5;
/// Change of the threshold, as a part of it, below which they have settled.
const SETTLED: f32 = 1e-3;
/// Most pixels that a surface is fitted to.
const MOST_FITTED: usize = 150_000;
/// Distance of two classes, in scatters of the ground, below which they are one: a normal law cut in its middle has 1.35/0.73 = 1.8 between
/// the medians of its halves (from memory: quantiles of the half normal curve 0.674 and 1.41), and up to 2.7 to the brightest third.
const LEAST_DISTINCT: f64 = 3.5;
/// Scatter of the particles' brightness, as a share of the step, from which on Otsu's threshold itself is taken.
const MOST_UNLIKE: f64 = 0.25;
/// Part of the scatter of a ground below which another one is taken.
const FAR_LESS: f64 = 0.6;
/// Standard deviations of ground above which a pixel is none of it.
const FAR_FROM_GROUND: f32 = 6.0;

/// Levels a picture.
pub(crate) fn levels(
    grey: &Raster<f32>,
    brightness: Brightness,
    separation: Separation,
) -> Result<Levels, MeasureError> {
    let sign = if brightness == Brightness::Dark { -1.0 } else { 1.0 };
    let mut bright = grey.map(|v| sign * v);
    let streaks = level_streaks(&mut bright);
    let noise = noise(&bright);
    // Smoothed by as much as the noise asks for; how much that is, shows once the classes are known.
    let first = Classes::find(&smoothed(&bright, SMOOTHINGS[2]), 0.3 * noise, separation, sign)?;
    let relative = noise / first.contrast;
    let smoothing = SMOOTHINGS.into_iter().find(|s| relative * noise_left(*s) <= TOLERATED_NOISE);
    let smoothing = smoothing.unwrap_or(SMOOTHINGS[SMOOTHINGS.len() - 1]);
    let smooth = smoothed(&bright, smoothing);
    let classes = Classes::find(&smooth, noise * noise_left(smoothing), separation, sign)?;
    Ok(classes.levels(
        &smooth,
        Levels {
            share: Raster::filled(0, 0, 0.0),
            threshold: 0.5,
            grey_threshold: 0.0,
            step: 0.0,
            smoothing,
            noise: noise / classes.contrast,
            uneven: 0.0,
            streaks,
            distinct: classes.distinct,
            ground_scatter: classes.ground_scatter,
        },
        separation,
        sign,
    ))
}

/// What smoothing by a normal curve leaves of a white noise: 1/(2 sqrt(pi) sigma), from 0.7 pixels on right to 2 %.
fn noise_left(smoothing: f64) -> f64 {
    if smoothing == 0.0 { 1.0 } else { 1.0 / (2.0 * std::f64::consts::PI.sqrt() * smoothing) }
}

/// Ground and particles of a picture in which particles are bright.
struct Classes {
    ground: Surface,
    /// Mean grey of the ground.
    mean_ground: f64,
    /// Grey of particles where the ground has its mean, above that mean.
    contrast: f64,
    /// How much brighter particles are where the ground is one count brighter.
    follows: f64,
    distinct: f64,
    /// Scatter of the ground, as a share of the step.
    ground_scatter: f64,
    uneven: f64,
    /// Where particles begin, as a share of the step, when none is given.
    threshold: f64,
}

impl Classes {
    /// From a first ground that follows uneven light. A line as wide as most of the picture misleads it: then a level one leaves a ground that
    /// scatters far less.
    fn find(grey: &Raster<f32>, noise: f64, separation: Separation, sign: f32) -> Result<Self, MeasureError> {
        let from = |ground| Self::find_from(ground, grey, noise, separation, sign);
        match (from(first_ground(grey, noise)), from(level_ground(grey))) {
            (Ok(uneven), Ok(level)) => {
                Ok(if level.ground_scatter < FAR_LESS * uneven.ground_scatter { level } else { uneven })
            }
            (Err(_), Ok(level)) => Ok(level),
            (uneven, Err(_)) => uneven,
        }
    }

    fn find_from(
        mut ground: Surface,
        grey: &Raster<f32>,
        noise: f64,
        separation: Separation,
        sign: f32,
    ) -> Result<Self, MeasureError> {
        let mut limit = 0.0;
        for _ in 0..ROUNDS {
            let above = above(grey, &ground);
            let earlier = limit;
            limit = match separation {
                Separation::Grey(given) => given as f32 * sign - mean_of(&ground, grey),
                Separation::Found => split(&above, noise as f32, sign)?,
            };
            ground = fitted_ground(grey, &above, limit).ok_or_else(|| one_class("one grey is found", sign))?;
            if (limit - earlier).abs() < SETTLED * limit.abs() {
                break;
            }
        }
        let above = above(grey, &ground);
        let below = above.values.iter().filter(|v| **v < limit).count();
        let bright = inner(&above, limit, Side::Above);
        if below < 50 || bright.len() < 12 {
            return Err(one_class("one grey is found", sign));
        }
        let (mean_ground, range) = range_of(&ground, grey);
        let (contrast, follows) = particle_level(grey, &ground, &bright, mean_ground, range);
        let mut high: Vec<f32> = bright.iter().map(|k| above.values[*k]).collect();
        // Particles may differ among themselves; what counts is how much the ground scatters, on the side where no particles are.
        let mut low: Vec<f32> = inner(&above, limit, Side::Below).into_iter().map(|k| above.values[k]).collect();
        let ground_scatter = f64::from(median(&mut low) - quantile(&mut low, 0.159)).max(noise);
        if contrast < LEAST_DISTINCT * ground_scatter && separation == Separation::Found || contrast <= 0.0 {
            return Err(one_class("its grey values make one class, not two", sign));
        }
        let scatter = (0.5 * (ground_scatter.powi(2) + spread(&mut high).powi(2))).sqrt();
        let distinct = contrast / scatter.max(0.25);
        // Where particles are of one brightness, their edges are midway; where they differ much, faint ones would be lost there.
        let threshold =
            if spread(&mut high) > MOST_UNLIKE * contrast { (f64::from(limit) / contrast).min(0.5) } else { 0.5 };
        Ok(Self {
            ground,
            mean_ground,
            contrast,
            follows,
            distinct,
            ground_scatter: ground_scatter / contrast,
            uneven: range / contrast,
            threshold,
        })
    }

    /// The picture in shares.
    fn levels(&self, grey: &Raster<f32>, found: Levels, separation: Separation, sign: f32) -> Levels {
        let mut share = grey.clone();
        for row in 0..grey.rows {
            for column in 0..grey.columns {
                let ground = self.ground.at(column as f64, row as f64);
                let contrast = self.contrast + (self.follows - 1.0) * (ground - self.mean_ground);
                // Where light is so dim that no contrast is left, a tenth of it stands in.
                let contrast = contrast.max(0.1 * self.contrast);
                let value = &mut share.values[row * grey.columns + column];
                *value = ((f64::from(*value) - ground) / contrast) as f32;
            }
        }
        let threshold = match separation {
            Separation::Found => self.threshold,
            Separation::Grey(given) => (given * f64::from(sign) - self.mean_ground) / self.contrast,
        };
        let grey_threshold = f64::from(sign) * (self.mean_ground + threshold * self.contrast);
        Levels { share, threshold, grey_threshold, step: f64::from(sign) * self.contrast, uneven: self.uneven, ..found }
    }
}

/// Particles are bright in what is looked at here, dark in the file if `sign` is negative.
fn one_class(what: &str, sign: f32) -> MeasureError {
    let brightness = if sign < 0.0 { Brightness::Dark } else { Brightness::Bright };
    MeasureError::OneClass { what: what.into(), brightness }
}

/// Half of the middle 68 % of values.
fn spread(values: &mut [f32]) -> f64 {
    0.5 * f64::from(quantile(values, 0.841) - quantile(values, 0.159))
}

/// A first ground that is level, at the grey of a fifth of the picture.
fn level_ground(grey: &Raster<f32>) -> Surface {
    let level = quantile(&mut grey.values.clone(), 0.2);
    let mut fit = Fit::new(grey.columns, grey.rows);
    lattice(grey).for_each(|(column, row)| fit.add(column, row, f64::from(level), 1.0));
    fit.solve()
}

/// A first ground: a surface through the dark parts of tiles, which leaves out tiles that are brighter than the rest.
fn first_ground(grey: &Raster<f32>, noise: f64) -> Surface {
    let side = (grey.columns.max(grey.rows) / 20).max(8);
    let mut tiles = Vec::new();
    for top in (0..grey.rows).step_by(side) {
        for left in (0..grey.columns).step_by(side) {
            let (bottom, right) = ((top + side).min(grey.rows), (left + side).min(grey.columns));
            let mut values: Vec<f32> =
                (top..bottom).flat_map(|row| grey.row(row)[left..right].iter().copied()).collect();
            let middle = (0.5 * (left + right) as f64, 0.5 * (top + bottom) as f64);
            tiles.push((middle, f64::from(quantile(&mut values, 0.2)), values.len() as f64));
        }
    }
    let mut weights = vec![1.0; tiles.len()];
    loop_fit(grey, &tiles, &mut weights, noise)
}

/// Fits again and again with less weight for what lies above.
fn loop_fit(grey: &Raster<f32>, tiles: &[((f64, f64), f64, f64)], weights: &mut [f64], noise: f64) -> Surface {
    let fit = |weights: &[f64]| {
        let mut fit = Fit::new(grey.columns, grey.rows);
        for (((x, y), value, size), weight) in tiles.iter().zip(weights) {
            fit.add(*x, *y, *value, weight * size);
        }
        fit.solve()
    };
    let mut surface = fit(weights);
    for _ in 0..20 {
        let residual: Vec<f64> = tiles.iter().map(|((x, y), value, _)| value - surface.at(*x, *y)).collect();
        let mut below: Vec<f32> = residual.iter().filter(|r| **r < 0.0).map(|r| -r as f32).collect();
        let scale = f64::from(median(&mut below)).max(noise).max(0.25);
        for (weight, residual) in weights.iter_mut().zip(&residual) {
            *weight = (1.0 + (residual.max(0.0) / scale).powi(2)).powi(-2);
        }
        surface = fit(weights);
    }
    surface
}

/// Grey above ground.
fn above(grey: &Raster<f32>, ground: &Surface) -> Raster<f32> {
    let mut above = grey.clone();
    for row in 0..grey.rows {
        for column in 0..grey.columns {
            above.values[row * grey.columns + column] -= ground.at(column as f64, row as f64) as f32;
        }
    }
    above
}

/// The value that splits ground from particles. Where particles are so few that Otsu's method cuts the noise of the ground in two, it is
/// midway to what lies far above the ground.
fn split(above: &Raster<f32>, noise: f32, sign: f32) -> Result<f32, MeasureError> {
    let limit = otsu(&above.values).ok_or_else(|| one_class("all of it has one grey", sign))?;
    let mut low: Vec<f32> = above.values.iter().copied().filter(|v| *v < limit).collect();
    let middle = median(&mut low);
    // The lower half of ground is free of particles.
    let scatter = ((middle - quantile(&mut low, 0.159)).max(noise)).max(0.1);
    if limit - middle >= 4.0 * scatter {
        return Ok(limit);
    }
    let far = middle + FAR_FROM_GROUND * scatter;
    let inner = inner(above, far, Side::Above);
    let mut high: Vec<f32> = inner.iter().map(|k| above.values[*k]).collect();
    if high.len() < 12 {
        return Ok(limit);
    }
    Ok(far.max(0.5 * (middle + median(&mut high))))
}

/// The ground fitted to what lies deep below the limit.
fn fitted_ground(grey: &Raster<f32>, above: &Raster<f32>, limit: f32) -> Option<Surface> {
    let places = inner(above, limit, Side::Below);
    let mut fit = Fit::new(grey.columns, grey.rows);
    let step = (places.len() / MOST_FITTED).max(1);
    for place in places.iter().step_by(step) {
        let (column, row) = (place % grey.columns, place / grey.columns);
        fit.add(column as f64, row as f64, f64::from(grey.values[*place]), 1.0);
    }
    (places.len() >= 50).then(|| fit.solve())
}

/// Places on a lattice over a picture.
fn lattice(grey: &Raster<f32>) -> impl Iterator<Item = (f64, f64)> {
    let (width, height) = (grey.columns as f64, grey.rows as f64);
    (0..=10).flat_map(move |i| (0..=10).map(move |j| (f64::from(i) / 10.0 * width, f64::from(j) / 10.0 * height)))
}

fn mean_of(ground: &Surface, grey: &Raster<f32>) -> f32 {
    range_of(ground, grey).0 as f32
}

/// Mean and range of a surface over a picture.
fn range_of(ground: &Surface, grey: &Raster<f32>) -> (f64, f64) {
    let values: Vec<f64> = lattice(grey).map(|(x, y)| ground.at(x, y)).collect();
    let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
    (values.iter().sum::<f64>() / values.len() as f64, high - low)
}

/// Grey of particles above the mean of the ground, and by how much it follows the ground: 1 where uneven light only adds, more where it
/// multiplies. A straight line through the inner pixels of particles against the ground at their places.
fn particle_level(grey: &Raster<f32>, ground: &Surface, inner: &[usize], mean: f64, range: f64) -> (f64, f64) {
    let points: Vec<(f64, f64)> = inner
        .iter()
        .map(|k| {
            (ground.at((k % grey.columns) as f64, (k / grey.columns) as f64) - mean, f64::from(grey.values[*k]) - mean)
        })
        .collect();
    let n = points.len() as f64;
    let (x, y) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let xx: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let xy: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    let is_uneven = range > 0.1 * (y - x).abs() && (xx / n).sqrt() > 0.1 * range;
    let follows = if is_uneven { (xy / xx).clamp(0.0, 4.0) } else { 1.0 };
    let mut levels: Vec<f32> = points.iter().map(|(x, y)| (y - follows * x) as f32).collect();
    (f64::from(median(&mut levels)), follows)
}
