//! Whether a picture holds a line, a spot or an even field.

use super::profile::half_height;
use super::strip::Strip;
use motefall_figures::profile::{smooth, smoothing};

/// What a picture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A line that crosses the picture.
    Line,
    /// A spot with ground all around.
    Spot,
    /// Particles all over.
    Field,
}

/// Parts of a picture that are compared, along and across.
const PARTS: usize = 20;
/// Unevenness of the parts, over that of grains that lie by chance, up to which a field is even.
const CHANCE: f64 = 4.0;
/// Correlation of the profiles of both halves of a line from which on it is none of chance, however large what covers it is.
const ALIKE: f64 = 0.9;
/// How much less than the most the least covered part of a line may hold.
const LEAST_FALL: f64 = 0.4;

/// What a picture was found to show.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Look {
    /// What it shows.
    pub(crate) kind: Kind,
    /// On which sides the profile falls to half.
    pub(crate) falls: [bool; 2],
    /// How many ends of a line it shows.
    pub(crate) ends: usize,
    /// Whether what is covered rises to half of its peak again beside the line.
    pub(crate) rises_again: bool,
}

/// Looks at what is covered across and along a direction; `grain` is the area of the grain, pixels, that a covered
/// place belongs to on average.
pub(crate) fn look(strip: &Strip, grain: f64) -> Look {
    let all = 0..strip.pieces;
    let profile = strip.profile(&all);
    let across = parts(&profile.iter().enumerate().map(|(bin, v)| (*v, strip.length(bin))).collect::<Vec<_>>());
    let half = half_height(&profile);
    let falls = half.map_or([false; 2], |half| half.ends.map(|end| end.is_some()));
    let field = Look { kind: Kind::Field, falls, ends: 0, rises_again: false };
    if unevenness(&across, grain) <= CHANCE && likeness(strip) < ALIKE || fall(&across) < LEAST_FALL {
        return field;
    }
    let Some([left, right]) = half.and_then(|half| half.both()) else {
        return if falls == [false; 2] { field } else { Look { kind: Kind::Line, ..field } };
    };
    if rises_again(&profile, [left, right]) {
        return Look { rises_again: true, ..field };
    }
    let (middle, quarter) = (0.5 * (left + right), 0.25 * (right - left));
    let inner = (middle - quarter).max(0.0) as usize..((middle + quarter).ceil() as usize + 1).min(strip.bins);
    let along = parts(&strip.lengthwise(inner));
    let most = along.windows(3).map(|w| (w[0].0 + w[1].0 + w[2].0) / 3.0).fold(0.0, f64::max);
    let is_end = |a: usize, b: usize| 0.5 * (along[a].0 + along[b].0) < 0.35 * most;
    let last = along.len() - 1;
    let ends = usize::from(is_end(0, 1)) + usize::from(is_end(last, last - 1));
    let kind = if ends == 2 { Kind::Spot } else { Kind::Line };
    Look { kind, falls, ends, rises_again: false }
}

/// Whether a profile, smoothed, rises to half of its peak somewhere beyond a quarter of the line's width from its edges.
fn rises_again(profile: &[f64], [left, right]: [f64; 2]) -> bool {
    let smoothed = smooth(profile, smoothing(profile));
    let peak = smoothed.iter().copied().fold(0.0, f64::max);
    let margin = 0.25 * (right - left);
    let is_beside = |bin: usize| (bin as f64) < left - margin || bin as f64 > right + margin;
    smoothed.iter().enumerate().any(|(bin, share)| is_beside(bin) && *share > 0.5 * peak)
}

/// Covered share and pixels of equal parts of a profile; parts of which the picture shows little go.
fn parts(profile: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let per_part = profile.len().div_ceil(PARTS).max(1);
    let part = |values: &[(f64, f64)]| {
        let pixels: f64 = values.iter().map(|v| v.1).sum();
        (values.iter().map(|v| v.0 * v.1).sum::<f64>() / pixels.max(1e-9), pixels)
    };
    let mut parts: Vec<(f64, f64)> = profile.chunks(per_part).map(part).collect();
    let least = 0.25 * parts.iter().map(|p| p.1).fold(0.0, f64::max);
    parts.retain(|part| part.1 >= least);
    parts
}

/// Variance of parts over what chance makes of it.
fn unevenness(parts: &[(f64, f64)], grain: f64) -> f64 {
    let pixels: f64 = parts.iter().map(|p| p.1).sum();
    let mean = parts.iter().map(|p| p.0 * p.1).sum::<f64>() / pixels;
    let chance = mean * (1.0 - mean) * grain;
    if chance <= 0.0 {
        return 0.0;
    }
    parts.iter().map(|p| (p.0 - mean).powi(2) * p.1 / chance).sum::<f64>() / (parts.len() as f64 - 1.0).max(1.0)
}

/// Correlation of the profiles of the two halves along the direction, by parts.
fn likeness(strip: &Strip) -> f64 {
    let half = strip.pieces / 2;
    let [a, b] = [0..half, half..strip.pieces].map(|pieces| -> Vec<f64> {
        let profile = strip.profile(&pieces);
        let per_part = profile.len().div_ceil(PARTS).max(1);
        profile.chunks(per_part).map(|part| part.iter().sum::<f64>() / part.len() as f64).collect()
    });
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (ma, mb) = (mean(&a), mean(&b));
    let product =
        |x: &[f64], mx: f64, y: &[f64], my: f64| x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum::<f64>();
    let both = (product(&a, ma, &a, ma) * product(&b, mb, &b, mb)).sqrt();
    if both > 0.0 { product(&a, ma, &b, mb) / both } else { 0.0 }
}

/// By how much, as a share, the least is less than the most.
fn fall(parts: &[(f64, f64)]) -> f64 {
    let (low, high) = parts.iter().fold((f64::MAX, 0.0f64), |(low, high), p| (low.min(p.0), high.max(p.0)));
    if high > 0.0 { 1.0 - low / high } else { 0.0 }
}

/// Where a side across a direction lies in the picture.
pub(crate) fn side_words(angle: f64, side: usize) -> &'static str {
    // Across points downward for a line along the rows, to the left for one along the columns.
    let is_along_rows = angle.cos().abs() >= angle.sin().abs();
    let forward = if is_along_rows { angle.cos() > 0.0 } else { angle.sin() < 0.0 };
    match (is_along_rows, (side == 1) == forward) {
        (true, true) => "towards the bottom",
        (true, false) => "towards the top",
        (false, true) => "towards the right",
        (false, false) => "towards the left",
    }
}
