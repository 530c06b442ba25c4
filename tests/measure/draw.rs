//! Draws made-up micrographs whose truth is known.

use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, RngExt, SeedableRng};
use rand_distr::{Distribution, LogNormal, Normal, Poisson};
use std::f64::consts::PI;

/// Places of a pixel along each side at which a picture is drawn.
const PARTS: usize = 4;

/// A disc, pixels.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Disc {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) radius: f64,
}

/// How a picture is taken.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Taken {
    /// Standard deviation of the blur, pixels.
    pub(crate) blur: f64,
    /// Standard deviation of the noise, as a share of the step from ground to particles.
    pub(crate) noise: f64,
    /// By how much the light differs from one side to the other, as a share of its mean.
    pub(crate) uneven: f64,
    /// Bright rows.
    pub(crate) streaks: usize,
    /// Particles are darker.
    pub(crate) dark: bool,
}

pub(crate) const PLAIN: Taken = Taken { blur: 1.0, noise: 0.05, uneven: 0.0, streaks: 0, dark: false };

/// A scene before it is taken.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    pub(crate) discs: Vec<Disc>,
}

pub(crate) fn generator(seed: u64) -> Xoshiro256PlusPlus {
    Xoshiro256PlusPlus::seed_from_u64(seed)
}

/// Radii of a lognormal law with a median and a geometric standard deviation.
fn radius(random: &mut impl Rng, median: f64, spread: f64) -> f64 {
    LogNormal::new(median.ln(), spread.ln()).expect("a law").sample(random)
}

impl Scene {
    /// Discs put at places that `place` draws until the covered share, without overlaps, is reached. Two keep a distance of `apart` times the
    /// sum of their radii: 1 lets them touch, 0 lie where they fall.
    fn fill(
        columns: usize,
        rows: usize,
        share: f64,
        apart: f64,
        random: &mut Xoshiro256PlusPlus,
        mut draw: impl FnMut(&mut Xoshiro256PlusPlus) -> Disc,
    ) -> Self {
        let mut discs: Vec<Disc> = Vec::new();
        let (mut area, wanted) = (0.0, share * (columns * rows) as f64);
        let mut tries = 0;
        while area < wanted {
            tries += 1;
            assert!(tries < 3_000_000, "so many discs do not fit");
            let disc = draw(random);
            let is_free = |other: &Disc| {
                let least = apart * (disc.radius + other.radius);
                (disc.x - other.x).powi(2) + (disc.y - other.y).powi(2) >= least * least
            };
            if discs.iter().all(is_free) {
                area += PI * disc.radius * disc.radius;
                discs.push(disc);
            }
        }
        Self { columns, rows, discs }
    }

    /// An even field.
    pub(crate) fn field(
        columns: usize,
        rows: usize,
        share: f64,
        apart: f64,
        median: f64,
        spread: f64,
        seed: u64,
    ) -> Self {
        let mut random = generator(seed);
        Self::fill(columns, rows, share, apart, &mut random, |random| {
            let radius = radius(random, median, spread);
            // Middles beyond the frame, too, so that discs are cut as often as they are in a larger field.
            let beyond = 4.0 * median;
            let x = random.random_range(-beyond..columns as f64 + beyond);
            let y = random.random_range(-beyond..rows as f64 + beyond);
            Disc { x, y, radius }
        })
    }

    /// Discs that lie where they fall, so many for a pixel on average, as a Poisson law has it.
    pub(crate) fn scattered(columns: usize, rows: usize, density: f64, median: f64, spread: f64, seed: u64) -> Self {
        let mut random = generator(seed);
        let beyond = 4.0 * median;
        let (width, height) = (columns as f64 + 2.0 * beyond, rows as f64 + 2.0 * beyond);
        let number = Poisson::new(density * width * height).expect("a law").sample(&mut random) as usize;
        let mut disc = |_| Disc {
            x: random.random_range(-beyond..columns as f64 + beyond),
            y: random.random_range(-beyond..rows as f64 + beyond),
            radius: radius(&mut random, median, spread),
        };
        Self { columns, rows, discs: (0..number).map(&mut disc).collect() }
    }

    /// A line through the middle of the picture at an angle from the rows, with a bell of a standard deviation across, and strays.
    pub(crate) fn line(
        columns: usize,
        rows: usize,
        angle: f64,
        sigma: f64,
        discs: usize,
        strays: usize,
        seed: u64,
    ) -> Self {
        let mut random = generator(seed);
        let across = Normal::new(0.0, sigma).expect("a law");
        let reach = (columns as f64).hypot(rows as f64);
        let mut scene = Self { columns, rows, discs: vec![] };
        for _ in 0..discs {
            let (along, across) = (random.random_range(-reach..reach), across.sample(&mut random));
            let x = along * angle.cos() - across * angle.sin() + 0.5 * columns as f64;
            let y = along * angle.sin() + across * angle.cos() + 0.5 * rows as f64;
            scene.discs.push(Disc { x, y, radius: radius(&mut random, 4.0, 1.15) });
        }
        for _ in 0..strays {
            let x = random.random_range(0.0..columns as f64);
            let y = random.random_range(0.0..rows as f64);
            scene.discs.push(Disc { x, y, radius: radius(&mut random, 4.0, 1.15) });
        }
        scene
    }

    /// A line along the rows, of discs of one size, with a bell of a standard deviation across.
    pub(crate) fn even_line(
        columns: usize,
        rows: usize,
        sigma: f64,
        discs: usize,
        radius: f64,
        random: &mut impl Rng,
    ) -> Self {
        let across = Normal::new(0.0, sigma).expect("a law");
        let reach = 0.5 * columns as f64 + 10.0;
        let disc = |_| Disc {
            x: random.random_range(-reach..reach) + 0.5 * columns as f64,
            y: across.sample(random) + 0.5 * rows as f64,
            radius,
        };
        Self { columns, rows, discs: (0..discs).map(disc).collect() }
    }

    /// Covered share of each pixel.
    pub(crate) fn cover(&self) -> Vec<f32> {
        let (width, height) = (self.columns * PARTS, self.rows * PARTS);
        let mut fine = vec![false; width * height];
        for disc in &self.discs {
            let [x, y, r] = [disc.x, disc.y, disc.radius].map(|v| v * PARTS as f64);
            let rows = (y - r).floor().max(0.0) as usize..((y + r).ceil().max(0.0) as usize).min(height);
            for row in rows {
                let half = r * r - (row as f64 + 0.5 - y).powi(2);
                if half <= 0.0 {
                    continue;
                }
                let half = half.sqrt();
                let from = (x - half - 0.5).ceil().max(0.0) as usize;
                let to = ((x + half - 0.5).floor() + 1.0).max(0.0) as usize;
                if from < to.min(width) {
                    fine[row * width + from..row * width + to.min(width)].fill(true);
                }
            }
        }
        let mut cover = vec![0.0; self.columns * self.rows];
        for (k, inside) in fine.iter().enumerate() {
            if *inside {
                cover[k / width / PARTS * self.columns + k % width / PARTS] += 1.0 / (PARTS * PARTS) as f32;
            }
        }
        cover
    }

    /// Discs whose middle lies in the picture.
    pub(crate) fn number(&self) -> usize {
        let is_in = |d: &&Disc| d.x >= 0.0 && d.y >= 0.0 && d.x < self.columns as f64 && d.y < self.rows as f64;
        self.discs.iter().filter(is_in).count()
    }

    /// Discs of which the picture shows the middle or, beyond its frame, more than so many pixels of the radius.
    pub(crate) fn shown(&self, least: f64) -> usize {
        let is_shown = |at: f64, radius: f64, length: usize| at + radius > least && at - radius < length as f64 - least;
        let is_shown = |d: &&Disc| is_shown(d.x, d.radius, self.columns) && is_shown(d.y, d.radius, self.rows);
        self.discs.iter().filter(is_shown).count()
    }

    /// Grey values from 0 to 255: ground at 60, particles at 180.
    pub(crate) fn taken(&self, taken: Taken, seed: u64) -> Vec<u8> {
        shade(&self.cover(), self.columns, taken, seed)
    }

    /// Grey values from 0 to 255 of grains of unlike brightness with relief on uneven ground: the ground is at 40 in one corner and 70 in the
    /// opposite one, a grain is above it by what `step` says, a third of its step lower where it has a dark stroke from its middle to its right edge, a
    /// tenth of its diameter wide. Discs must not lie on each other.
    pub(crate) fn unlike(&self, step: impl Fn(usize) -> f64, taken: Taken, seed: u64) -> Vec<u8> {
        let cover = self.cover();
        let mut grey = vec![0.0f32; self.columns * self.rows];
        for (place, cover) in cover.iter().enumerate().filter(|(_, cover)| **cover > 0.0) {
            let (x, y) = ((place % self.columns) as f64 + 0.5, (place / self.columns) as f64 + 0.5);
            let depth = |disc: &Disc| disc.radius - (x - disc.x).hypot(y - disc.y);
            let nearest = self.discs.iter().enumerate().max_by(|a, b| depth(a.1).total_cmp(&depth(b.1)));
            let (k, disc) = nearest.expect("what is covered has a disc");
            let is_stroke = x > disc.x && (y - disc.y).abs() < 0.1 * disc.radius;
            grey[place] = cover * (step(k) * if is_stroke { 0.65 } else { 1.0 }) as f32;
        }
        let grey = blurred(&grey, self.columns, self.rows, taken.blur);
        let mut random = generator(seed ^ 0x5eed);
        let noise = Normal::new(0.0, (120.0 * taken.noise).max(1e-9)).expect("a law");
        let shade = |(k, grey): (usize, &f32)| {
            let (x, y) =
                ((k % self.columns) as f64 / self.columns as f64, (k / self.columns) as f64 / self.rows as f64);
            let ground = 40.0 + 15.0 * (x + y);
            (ground + f64::from(*grey) + noise.sample(&mut random)).round().clamp(0.0, 255.0) as u8
        };
        grey.iter().enumerate().map(shade).collect()
    }

    /// A PNG of it.
    pub(crate) fn png(&self, taken: Taken, seed: u64) -> Vec<u8> {
        grey_png(&self.taken(taken, seed), self.columns, None)
    }
}

/// Grey values from 0 to 255 of covered shares: ground at 60, particles at 180.
fn shade(cover: &[f32], columns: usize, taken: Taken, seed: u64) -> Vec<u8> {
    let rows = cover.len() / columns;
    let cover = blurred(cover, columns, rows, taken.blur);
    let mut random = generator(seed ^ 0x5eed);
    let noise = Normal::new(0.0, (120.0 * taken.noise).max(1e-9)).expect("a law");
    let streaks: Vec<usize> = (0..taken.streaks).map(|_| random.random_range(8..rows - 8)).collect();
    let grey = |(k, cover): (usize, &f32)| {
        let (column, row) = (k % columns, k / columns);
        let (x, y) = (column as f64 / columns as f64 - 0.5, row as f64 / rows as f64 - 0.5);
        let light = 1.0 + taken.uneven * (x + 0.4 * y - 0.5 * (x * x - 0.08));
        let cover = if taken.dark { 1.0 - f64::from(*cover) } else { f64::from(*cover) };
        let streak = if streaks.contains(&row) { 45.0 } else { 0.0 };
        let value = (60.0 + 120.0 * cover) * light + streak + noise.sample(&mut random);
        value.round().clamp(0.0, 255.0) as u8
    };
    cover.iter().enumerate().map(grey).collect()
}

/// An ellipse, pixels; its long axis is turned from the rows by an angle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ellipse {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) long: f64,
    pub(crate) short: f64,
    pub(crate) angle: f64,
}

impl Ellipse {
    /// With half axes of 6 to 9 pixels across and up to 2.5 times as much along, in any direction.
    pub(crate) fn random(x: f64, y: f64, random: &mut impl Rng) -> Self {
        let short = random.random_range(6.0..9.0);
        let long = short * random.random_range(1.0..2.5);
        Self { x, y, long, short, angle: random.random_range(0.0..PI) }
    }

    fn holds(&self, x: f64, y: f64) -> bool {
        let (x, y, (sin, cos)) = (x - self.x, y - self.y, self.angle.sin_cos());
        ((x * cos + y * sin) / self.long).powi(2) + ((y * cos - x * sin) / self.short).powi(2) <= 1.0
    }

    /// Moved away from another one until the two touch.
    pub(crate) fn touching(mut self, other: &Self, direction: f64) -> Self {
        let outline = |of: &Self, k: usize| {
            let ((sin, cos), (s, c)) = ((k as f64 * PI / 180.0).sin_cos(), of.angle.sin_cos());
            (of.x + of.long * cos * c - of.short * sin * s, of.y + of.long * cos * s + of.short * sin * c)
        };
        (self.x, self.y) = (other.x, other.y);
        while (0..360).map(|k| outline(&self, k)).any(|(x, y)| other.holds(x, y))
            || (0..360).map(|k| outline(other, k)).any(|(x, y)| self.holds(x, y))
        {
            (self.x, self.y) = (self.x + 0.1 * direction.cos(), self.y + 0.1 * direction.sin());
        }
        self
    }
}

/// A PNG of ellipses.
pub(crate) fn ellipses_png(all: &[Ellipse], columns: usize, rows: usize, taken: Taken, seed: u64) -> Vec<u8> {
    let mut cover = vec![0.0f32; columns * rows];
    for ellipse in all {
        let range = |at: f64, most: usize| {
            (at - ellipse.long - 1.0).max(0.0) as usize..((at + ellipse.long + 2.0) as usize).min(most)
        };
        for row in range(ellipse.y, rows) {
            for column in range(ellipse.x, columns) {
                let is_in = |k: &usize| {
                    let part = |k: usize| (k as f64 + 0.5) / PARTS as f64;
                    ellipse.holds(column as f64 + part(k % PARTS), row as f64 + part(k / PARTS))
                };
                let inside = (0..PARTS * PARTS).filter(is_in).count() as f32 / (PARTS * PARTS) as f32;
                let cover = &mut cover[row * columns + column];
                *cover = (*cover + inside).min(1.0);
            }
        }
    }
    grey_png(&shade(&cover, columns, taken, seed), columns, None)
}

/// Blurred by a normal curve, with the ground going on beyond the frame as in a mirror.
fn blurred(values: &[f32], columns: usize, rows: usize, sigma: f64) -> Vec<f32> {
    if sigma == 0.0 {
        return values.to_vec();
    }
    let reach = (4.0 * sigma).ceil() as i64;
    let weights: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    let total: f64 = weights.iter().sum();
    let along = |values: &[f32], count: usize, length: usize, step: usize, next: usize| {
        let mut out = vec![0.0f32; values.len()];
        for line in 0..count {
            for at in 0..length {
                let sum: f64 = weights
                    .iter()
                    .enumerate()
                    .map(|(k, weight)| {
                        let place = (at as i64 + k as i64 - reach).rem_euclid(2 * length as i64) as usize;
                        let place = if place >= length { 2 * length - 1 - place } else { place };
                        weight * f64::from(values[line * next + place * step])
                    })
                    .sum();
                out[line * next + at * step] = (sum / total) as f32;
            }
        }
        out
    };
    let across = along(values, rows, columns, 1, columns);
    along(&across, columns, rows, columns, 1)
}

/// A grey PNG; `per_metre` goes into its resolution chunk.
pub(crate) fn grey_png(grey: &[u8], columns: usize, per_metre: Option<u32>) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, columns as u32, (grey.len() / columns) as u32);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    if let Some(per_metre) = per_metre {
        let unit = png::Unit::Meter;
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit }));
    }
    encoder.write_header().and_then(|mut writer| writer.write_image_data(grey)).expect("a picture");
    out
}
