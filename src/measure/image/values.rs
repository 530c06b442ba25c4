//! From readings to figures.

use super::Reading;
use crate::figure::Figure;
use crate::grains::{SizeMoments, hidden_share};
use crate::line::{EdgeReader, Edges, Height, Kind, LineRead, NoEdges, Roughness, Strip, read_line, roughness, turned};
use motefall_figures::profile::{smooth, smoothing};
use std::collections::BTreeMap;

/// A value and its chance, SI.
pub(super) type Plain = BTreeMap<Figure, (f64, f64)>;

/// Tiles along each side of a field, between which its coverage is compared.
const TILES: usize = 6;
/// Distance from the line's middle from which on grains are strays, in distances of its edges: nearer ones belong to its flanks. A bell that has
/// a tenth of its peak at its edges holds 0.1 % of it beyond.
const STRAYS_FROM: f64 = 1.5;
/// Least part of the picture beside a line in which strays are counted.
const LEAST_BESIDE: f64 = 0.05;

/// What is read of a line.
#[derive(Debug, Clone)]
pub(crate) struct LineReading {
    /// Widths, pixels.
    pub(crate) read: LineRead,
    /// Where particles end.
    pub(crate) edges: Result<Edges, NoEdges>,
    /// Edges.
    pub(crate) roughness: Option<Roughness>,
    /// Direction, radians from the rows.
    pub(crate) angle: f64,
    /// Distance of the first bin from the middle of the picture, pixels.
    pub(crate) first: f64,
    /// Grains beside it, and the area there, pixels.
    pub(crate) strays: Option<(f64, f64)>,
}

/// All figures of one reading; `pixel` in m, `line` the direction of a line.
pub(super) fn plain(reading: &Reading, kind: Kind, strip: Option<&Strip>, pixel: f64) -> (Plain, Option<LineReading>) {
    let mut plain = Plain::new();
    let line = strip.filter(|_| kind == Kind::Line).and_then(|strip| line(reading, strip, pixel, &mut plain));
    let chance = match (&line, strip) {
        (Some(_), Some(strip)) => {
            jackknifed(strip, |_, profile| Some([profile.iter().sum::<f64>() / profile.len() as f64]))
                .map_or(reading.by_count, |sd| sd[0].max(reading.by_count))
        }
        _ if reading.network.is_one() => between_tiles(reading),
        _ if kind == Kind::Field => reading.by_count.max(between_tiles(reading)),
        _ => reading.by_count,
    };
    plain.insert(Figure::Coverage, (reading.coverage, chance));
    if !reading.network.is_one() {
        sizes(reading, pixel, &mut plain);
    }
    (plain, line)
}

fn sizes(reading: &Reading, pixel: f64, plain: &mut Plain) {
    let moments = SizeMoments::of(reading.grains.iter());
    let area = reading.mask.area() as f64 * pixel * pixel;
    let (number, sd) = moments.number();
    plain.insert(Figure::Density, (number / area, sd.max(1.0) / area));
    for (figure, upper) in [(Figure::MeanByNumber, 1), (Figure::MeanBySurface, 3), (Figure::MeanByVolume, 4)] {
        if let Some((mean, sd)) = moments.mean(upper) {
            plain.insert(figure, (mean * pixel, sd * pixel));
        }
    }
}

fn line(reading: &Reading, strip: &Strip, pixel: f64, plain: &mut Plain) -> Option<LineReading> {
    let profile = strip.profile(&(0..strip.pieces));
    let half_window = smoothing(&profile);
    let height = Height::of(strip, |profile| smooth(profile, half_window));
    // A parabola swings above a flat top by up to 8 %.
    let whole = |share: f64| share.min(1.0);
    let read = read_line(&profile, half_window, height.as_ref().map(|height| whole(height.whole())))?;
    let chance = jackknifed(strip, |part, profile| {
        let read = read_line(profile, half_window, height.as_ref().map(|height| whole(height.without(part))))?;
        Some([read.width_half(), read.width_99(), read.peak])
    });
    // A line that only holds together as a whole: its width is as uncertain as it is wide.
    let [half, band, peak] = chance.unwrap_or([read.width_half(), read.width_99(), read.peak]);
    plain.insert(Figure::WidthHalf, (read.width_half() * pixel, half * pixel));
    plain.insert(Figure::Width99, (read.width_99() * pixel, band * pixel));
    plain.insert(Figure::PeakCoverage, (read.peak, peak));
    // The smoothing is a sixth of the width of the narrowest band that holds half, which chance moves less than the width at half height.
    let width = read.width_half().max(6.0 * half_window as f64);
    let grain = if reading.network.is_film() { strip.grain_at(read.half, width) } else { reading.mean_grain };
    let reader = EdgeReader::new(strip, grain, width, read.peak, pixel);
    let edges = reader.as_ref().map_err(|why| *why).and_then(|reader| reader.whole(&profile));
    if let (Ok(reader), Ok(Edges { ends: [left, right], .. })) = (&reader, edges) {
        let chance = jackknifed(strip, |part, profile| Some([reader.width_without(part, profile)?]));
        let chance = chance.map_or(right - left, |[chance]| chance);
        plain.insert(Figure::EdgeWidth, ((right - left) * pixel, chance * pixel));
    }
    let roughness = roughness(strip, &read);
    if let Some(found) = &roughness {
        let value = found.three_sigma * pixel;
        plain.insert(Figure::Roughness, (value, value / (2.0 * found.freedom).sqrt()));
    }
    let strays = strays(reading, strip, edges.ok().map(|edges| edges.ends));
    if let Some((count, area)) = strays {
        let area = area * pixel * pixel;
        plain.insert(Figure::Strays, (count / area, count.max(1.0).sqrt() / area));
    }
    Some(LineReading { read, edges, roughness, angle: strip.angle, first: strip.first, strays })
}

/// Grains whose middle lies well beyond the edges, those that the frame cuts as half, and the area there, pixels.
fn strays(reading: &Reading, strip: &Strip, edges: Option<[f64; 2]>) -> Option<(f64, f64)> {
    let edges = edges?;
    let (middle, reach) = (0.5 * (edges[0] + edges[1]), 0.5 * STRAYS_FROM * (edges[1] - edges[0]));
    let is_beside = |at: f64| (at - middle).abs() > reach;
    let area: f64 = (0..strip.bins).filter(|bin| is_beside(*bin as f64)).map(|bin| strip.length(bin)).sum();
    let mask = &reading.mask;
    if area < LEAST_BESIDE * mask.area() as f64 {
        return None;
    }
    let beside = reading.grains.iter().filter(|grain| {
        let (_, across) = turned(mask.columns, mask.rows, strip.angle, grain.middle);
        let bin = across - strip.first;
        is_beside(bin) && bin > -0.5 && bin < strip.bins as f64 - 0.5
    });
    Some((beside.map(|grain| if grain.weight.is_some() { 1.0 } else { 0.5 }).fold(0.0, |sum, one| sum + one), area))
}

/// Student's quantile over the normal one, at 97.5 % and 15 degrees of freedom (from memory: 2.131, 1.960), so that 1.96 standard deviations hold
/// 95 %.
const STUDENT: f64 = 1.087;

/// Standard deviations of what is read of a profile, from how it changes when parts of the line are left out one after the other
/// (jackknife: (n - 1)/n times the sum of squares). `None` if what is left does not always give it.
///
/// Source: Tukey 1958, Bias and confidence in not-quite large samples, Ann. Math. Stat. 29:614.
fn jackknifed<const N: usize>(strip: &Strip, read: impl Fn(usize, &[f64]) -> Option<[f64; N]>) -> Option<[f64; N]> {
    let parts = strip.parts();
    if parts.len() < 3 {
        return None;
    }
    let without = |(part, pieces)| read(part, &strip.profile_without(pieces));
    let all: Vec<[f64; N]> = parts.iter().enumerate().map(without).collect::<Option<_>>()?;
    let n = parts.len() as f64;
    Some(std::array::from_fn(|k| {
        let mean = all.iter().map(|values| values[k]).sum::<f64>() / n;
        STUDENT * ((n - 1.0) / n * all.iter().map(|values| (values[k] - mean).powi(2)).sum::<f64>()).sqrt()
    }))
}

/// Covered shares of tiles of a picture.
fn tiles(reading: &Reading) -> Vec<f64> {
    let mask = &reading.mask;
    let mut sums = vec![(0.0, 0.0); TILES * TILES];
    for (k, covered) in mask.values.iter().enumerate() {
        let (column, row) = (k % mask.columns * TILES / mask.columns, k / mask.columns * TILES / mask.rows);
        let sum = &mut sums[row * TILES + column];
        sum.0 += f64::from(u8::from(*covered));
        sum.1 += 1.0;
    }
    sums.iter().map(|(covered, pixels)| covered / f64::max(*pixels, 1.0)).collect()
}

/// Share of the grains that are counted into others if they lie by chance: on each side of a line by how much is covered there, else by tiles.
pub(super) fn hidden(reading: &Reading, strip: Option<&Strip>) -> f64 {
    let diameters: f64 = reading.grains.iter().map(|grain| grain.diameter).sum();
    let blur = 2.0 * reading.blur * reading.grains.len() as f64 / diameters.max(1.0);
    match strip {
        Some(strip) => {
            let profile = strip.profile(&(0..strip.pieces));
            hidden_share(profile.iter().enumerate().map(|(bin, covered)| (*covered, strip.length(bin))), blur)
        }
        None => hidden_share(tiles(reading).into_iter().map(|covered| (covered, 1.0)), blur),
    }
}

/// Standard error of the coverage of a field from how its tiles differ.
fn between_tiles(reading: &Reading) -> f64 {
    let shares = tiles(reading);
    let n = shares.len() as f64;
    let mean = shares.iter().sum::<f64>() / n;
    (shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt()
}
