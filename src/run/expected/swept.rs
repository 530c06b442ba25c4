//! What a moving jet leaves: the spot of a resting one, carried along the path.

use super::chords::{Block, Chords, Line, Stretches};
use super::images::{Image, Images, LEAST_WIDTH};
use super::spot::{Spot, Terms};
use crate::print::mean_output;
use crate::setting::LayerSetting;
use crate::spread::Deviations;
use motefall_physics::contours::Bounds;
use motefall_physics::path::motion::Piece;
use std::collections::BTreeMap;

/// Pieces in a row are one if their outputs differ by no more than this.
const SAME_OUTPUT: f64 = 0.002;
/// Distance between the lines that stand for a part of a band, m, and most of them.
const LINES_APART: f64 = 1e-6;
const MOST_LINES: f64 = 16.0;
/// Width of the strips beside a way in which chords are looked at, m, growing by a part of the distance from it; fewest of an area.
const STRIP: f64 = 0.5e-6;
const STRIP_GROWTH: f64 = 1.0 / 24.0;
const FEWEST_STRIPS: f64 = 48.0;
/// Part of what a droplet covers that is left at least where a bead draws its particles together.
const LEAST_COVER: f64 = 0.3;
/// A piece that speeds up or slows down is taken in parts of even speed, of about this length, m, and at most so many.
const PART: f64 = 2e-6;
const MOST_PARTS: f64 = 8.0;
/// A way shorter than this part of the distance within which half of the particles fall is a rest in its middle: of a bell of that length the
/// error is below 1/24 of the square of it.
const SHORT: f64 = 0.25;
/// The way from stroke to stroke across a bead that they share is taken as rests, this far apart, m, at most so many.
const RESTS_APART: f64 = 0.5e-6;
const MOST_RESTS: f64 = 64.0;

/// What lies at a point: covered area per area, each droplet's by itself, solids, m, and particles per area, 1/m^2.
pub(super) type Lying = [f64; 3];

/// A straight way at even speed.
#[derive(Debug, Clone)]
struct Sweep {
    from: [f64; 2],
    direction: [f64; 2],
    /// Length, m; 0 for a stage at rest.
    length: f64,
    /// Time times output, s.
    time: f64,
    /// What the next piece must be like to be the same way.
    speed: f64,
    output: f64,
    /// Which bead it adds to, item and pass, and where that moves what falls beside the way; `None` if it stays.
    bead: Option<((usize, usize), Images)>,
}

impl Sweep {
    fn line(&self) -> Line {
        Line { from: self.from, along: self.direction }
    }

    fn end(&self) -> [f64; 2] {
        [0, 1].map(|k| self.from[k] + self.length * self.direction[k])
    }

    /// Whether a piece goes on with this way.
    fn goes_on_with(&self, next: &Self) -> bool {
        let end = self.end();
        let gap = (end[0] - next.from[0]).hypot(end[1] - next.from[1]);
        let turn = self.direction[0] * next.direction[0] + self.direction[1] * next.direction[1];
        let rests = self.length == 0.0 && next.length == 0.0;
        let same = self.speed == next.speed && (next.output - self.output).abs() <= SAME_OUTPUT * self.output;
        same && gap < 1e-9 && (rests || turn > 1.0 - 1e-12)
    }

    /// A way shorter than this, m, is a rest in its middle.
    fn rest_if_short(&mut self, short: f64) {
        if self.length < short {
            self.from = [0, 1].map(|k| self.from[k] + 0.5 * self.length * self.direction[k]);
            self.length = 0.0;
        }
    }

    /// The same way, longer, if a piece goes on with it.
    fn joined(&self, next: &Self) -> Option<Self> {
        let bead = |sweep: &Self| sweep.bead.as_ref().map(|(bead, _)| *bead);
        let is_one = self.goes_on_with(next) && bead(self) == bead(next);
        is_one.then(|| Self { length: self.length + next.length, time: self.time + next.time, ..self.clone() })
    }

    /// Where what falls in a band beside the way comes to lie, to its left, m; `left` tells on which side the band is.
    fn image(&self, band: usize, left: bool, ends: [f64; 2]) -> [f64; 2] {
        match (&self.bead, left) {
            (None, true) => ends,
            (None, false) => [-ends[1], -ends[0]],
            (Some((_, images)), _) => images.of_band(band, left),
        }
    }
}

/// Ends of a way, nm, and its bead.
type Way = ([[i64; 2]; 2], Option<(usize, usize)>);

/// Ways that are taken several times, whichever way round, as one.
fn once_each(sweeps: Vec<Sweep>) -> Vec<Sweep> {
    let nanometres = |point: [f64; 2]| point.map(|x| (x * 1e9).round() as i64);
    let mut once: BTreeMap<Way, Sweep> = BTreeMap::new();
    for sweep in sweeps {
        let mut ends = [sweep.from, sweep.end()].map(nanometres);
        ends.sort_unstable();
        let bead = sweep.bead.as_ref().map(|(bead, _)| *bead);
        once.entry((ends, bead)).and_modify(|one| one.time += sweep.time).or_insert(sweep);
    }
    once.into_values().collect()
}

/// A layer with the deviations of a print.
pub(super) struct Swept<'a> {
    spot: &'a Spot,
    sweeps: Vec<Sweep>,
    /// All time, weighted with the output, s.
    pub(super) time: f64,
}

impl<'a> Swept<'a> {
    pub(super) fn new(setting: &LayerSetting<'_>, deviations: &Deviations, spot: &'a Spot) -> Self {
        let mut sweeps: Vec<Sweep> = Vec::new();
        let mut time = 0.0;
        let drift = &setting.layer.output;
        let outputs: Vec<f64> = setting
            .blocks
            .iter()
            .map(|block| mean_output(drift, block.time + 0.5 * block.duration, deviations))
            .collect();
        let liquids = setting.beads.amounts(&setting.blocks, &outputs);
        for (number, (block, output)) in setting.blocks.iter().zip(&outputs).enumerate() {
            time += output * block.duration;
            let Deviations { rotation, shift, carrier, .. } = *deviations;
            let piece = block.displaced(rotation, shift);
            let mover = setting.beads.mover(number, &piece, rotation, shift, carrier * liquids[number]);
            let crossed = mover.as_ref().and_then(|mover| mover.crossed_by(piece.direction));
            for mut sweep in parts(&piece, *output, crossed) {
                let last = sweeps.last_mut();
                sweep.bead = mover.as_ref().zip(setting.beads.item_and_pass(number)).map(|(mover, bead)| {
                    let same = last.as_ref().and_then(|last| last.bead.as_ref()).filter(|(other, _)| *other == bead);
                    // What goes on with a way has its bead; it is worked out once.
                    let images = same.filter(|_| last.as_ref().is_some_and(|last| last.goes_on_with(&sweep)));
                    (bead, images.map_or_else(|| Images::new(spot, mover, sweep.line()), |(_, images)| images.clone()))
                });
                match last.and_then(|last| Some((last.joined(&sweep)?, last))) {
                    Some((joined, last)) => *last = joined,
                    None => sweeps.push(sweep),
                }
            }
        }
        let mut sweeps = once_each(sweeps);
        sweeps.iter_mut().for_each(|sweep| sweep.rest_if_short(SHORT * spot.half_within));
        Self { spot, sweeps, time }
    }

    pub(super) fn spot(&self) -> &Spot {
        self.spot
    }

    /// Length over which what lies changes, m: 0 where a bead has edges.
    pub(super) fn smooth_over(&self) -> f64 {
        if self.sweeps.iter().any(|sweep| sweep.bead.is_some()) { 0.0 } else { self.spot.half_within }
    }

    /// What lies at a point.
    pub(super) fn at(&self, point: [f64; 2]) -> Lying {
        let reach = self.spot.reach();
        let mut sums = Lying::default();
        for sweep in &self.sweeps {
            let [at, left] = sweep.line().place(point);
            if at < -reach || at > sweep.length + reach {
                continue;
            }
            let mut add = |fell: f64, closer: f64| {
                let fallen = self.fallen(sweep, at, fell, closer);
                sums = [0, 1, 2].map(|k| sums[k] + fallen[k]);
            };
            match &sweep.bead {
                None if left.abs() <= reach => add(left.abs(), 1.0),
                None => {}
                Some((_, images)) => {
                    for (band, width) in images.at(left) {
                        let [near, far] = [self.spot.nodes()[band], self.spot.nodes()[band + 1]];
                        add(0.5 * (near + far), (far - near) / width.max(LEAST_WIDTH));
                    }
                }
            }
        }
        sums
    }

    /// The same of a sweep at a place along it, of what fell at a distance from it and lies so many times closer now.
    fn fallen(&self, sweep: &Sweep, at: f64, fell: f64, closer: f64) -> Lying {
        let [covered, alone, solids, number] = if sweep.length == 0.0 {
            self.spot.resting_at(at.hypot(fell)).map(|rate| sweep.time * rate)
        } else {
            let [to, from] = [at, at - sweep.length].map(|length| self.spot.along_at(fell, length));
            [0, 1, 2, 3].map(|k| sweep.time / sweep.length * (to[k] - from[k]))
        };
        [closer * drawn(covered, alone, closer), closer * solids, closer * number]
    }

    /// Adds what lies in an area within a box; `chords` tells, for a line, where lines beside it are inside.
    pub(super) fn add_in(&self, bounds: Bounds, chords: impl Fn(Line) -> Chords, sums: &mut [f64]) {
        let reach = self.spot.reach();
        for sweep in &self.sweeps {
            let line = sweep.line();
            let corners = [0, 1, 2, 3].map(|k| {
                let of = |from: f64, to: f64, last: bool| if last { to } else { from };
                line.place([of(bounds.low[0], bounds.high[0], k % 2 == 1), of(bounds.low[1], bounds.high[1], k > 1)])
            });
            let ends = |k: usize| {
                let low = corners.iter().map(|corner| corner[k]).fold(f64::INFINITY, f64::min);
                [low, corners.iter().map(|corner| corner[k]).fold(f64::NEG_INFINITY, f64::max)]
            };
            let ([first, last], [right, left]) = (ends(0), ends(1));
            let is_far = sweep.bead.is_none() && (right > reach || left < -reach);
            if first > sweep.length + reach || last < -reach || is_far {
                continue;
            }
            let chords = chords(line);
            match (chords.blocks(), &sweep.bead) {
                (Some(blocks), None) => blocks.iter().for_each(|block| self.add_block(sweep, block, sums)),
                (Some(blocks), Some(_)) => blocks.iter().for_each(|block| self.add_block_of_bead(sweep, block, sums)),
                (None, None) => self.add_strips(sweep, &chords, [right, left], sums),
                (None, Some(_)) => self.add_bands(sweep, &chords, [right, left], sums),
            }
        }
    }

    /// Adds what lies on a rectangle along a sweep that no bead moves.
    fn add_block(&self, sweep: &Sweep, block: &Block, sums: &mut [f64]) {
        let terms = self.terms(sweep, block.at);
        let reach = self.spot.reach();
        let [right, left] = block.left;
        for [near, far] in [[right, left], [-left, -right]] {
            let (near, far) = (near.max(0.0), far.min(reach));
            if near < far {
                self.spot.add(&terms, [near, far], block.times * sweep.time, sums);
            }
        }
    }

    /// The same where a bead moves what fell.
    fn add_block_of_bead(&self, sweep: &Sweep, block: &Block, sums: &mut [f64]) {
        let terms = self.terms(sweep, block.at);
        self.each_image(sweep, block.left, |image, [from, to]| {
            self.add_image(image, sums, |sums| {
                self.spot.add(&terms, image.fell(to - from), block.times * sweep.time, sums);
            });
        });
    }

    /// Adds what lies in an area between two places to the left of a sweep that no bead moves, strip by strip along it, m.
    fn add_strips(&self, sweep: &Sweep, chords: &Chords, [right, left]: [f64; 2], sums: &mut [f64]) {
        let most = (left - right) / FEWEST_STRIPS;
        for side in [1.0, -1.0] {
            let (near, far) = if side > 0.0 { (right, left) } else { (-left, -right) };
            let (mut from, far) = (near.max(0.0), far.min(self.spot.reach()));
            let mut begun: Option<(f64, Stretches)> = None;
            let mut add = |(begin, stretches): (f64, Stretches), end: f64| {
                for ends in stretches {
                    self.spot.add(&self.terms(sweep, ends), [begin, end], sweep.time, sums);
                }
            };
            while from < far {
                let to = (from + (STRIP_GROWTH * from).max(STRIP).min(most)).min(far);
                let here = chords.at(side * 0.5 * (from + to));
                if begun.as_ref().is_none_or(|(_, before)| !same(before, &here))
                    && let Some(before) = begun.replace((from, here))
                {
                    add(before, from);
                }
                from = to;
            }
            if let Some(before) = begun {
                add(before, from);
            }
        }
    }

    /// Adds what lies in an area between two places to the left of a sweep along a bead, band by band.
    fn add_bands(&self, sweep: &Sweep, chords: &Chords, lefts: [f64; 2], sums: &mut [f64]) {
        self.each_image(sweep, lefts, |image, [from, to]| {
            let count = ((to - from) / LINES_APART).ceil().clamp(1.0, MOST_LINES);
            let step = (to - from) / count;
            self.add_image(image, sums, |sums| {
                for k in 0..count as usize {
                    for ends in chords.at(from + (k as f64 + 0.5) * step) {
                        self.spot.add(&self.terms(sweep, ends), image.fell(step), sweep.time, sums);
                    }
                }
            });
        });
    }

    /// Calls `f` for each band beside a sweep of which something lies between two places to the left, with where, m.
    fn each_image(&self, sweep: &Sweep, [right, left]: [f64; 2], mut f: impl FnMut(Image, [f64; 2])) {
        for is_left in [true, false] {
            for (band, ends) in self.spot.nodes().windows(2).enumerate() {
                let ends = [ends[0], ends[1]];
                let [low, high] = sweep.image(band, is_left, ends);
                let (from, to) = (low.max(right), high.min(left));
                if to > from {
                    f(Image { ends, low, high }, [from, to]);
                }
            }
        }
    }

    /// Adds amounts of a moved band, and draws together or apart what its particles cover.
    fn add_image(&self, image: Image, sums: &mut [f64], add: impl FnOnce(&mut [f64])) {
        let amounts = self.spot.amounts;
        let [covered, alone] = [amounts.covered(), amounts.alone()];
        let before = [sums[covered], sums[alone]];
        add(sums);
        let here = [sums[covered] - before[0], sums[alone] - before[1]];
        let (sign, here) = (here[1].signum(), here.map(f64::abs));
        sums[covered] = before[0] + sign * drawn(here[0], here[1], image.closer());
    }

    fn terms(&self, sweep: &Sweep, ends: [f64; 2]) -> Terms {
        if sweep.length == 0.0 { self.spot.of_rest(ends) } else { self.spot.of_way(ends, sweep.length) }
    }
}

/// What particles of droplets cover that lie so many times closer than they fell, from what they covered and would cover each by itself: they
/// cover each other less where a bead draws them apart.
fn drawn(covered: f64, alone: f64, closer: f64) -> f64 {
    (alone - (alone - covered) * closer).max(LEAST_COVER * covered)
}

/// Whether two lines are inside at the same places, to less than an atom.
fn same(one: &[[f64; 2]], other: &[[f64; 2]]) -> bool {
    let near = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-11;
    one.len() == other.len() && one.iter().flatten().zip(other.iter().flatten()).all(near)
}

/// A piece in parts of even speed; where it crosses a bead that runs along `crossed`, in rests: what falls is moved across the bead, which is
/// along the way there.
fn parts(piece: &Piece, output: f64, crossed: Option<[f64; 2]>) -> impl Iterator<Item = Sweep> + '_ {
    let way = |[from, to]: [f64; 2]| {
        let [from, to] = [from, to].map(|time| piece.at(time));
        (from, (to[0] - from[0]).hypot(to[1] - from[1]))
    };
    let (_, length) = way([0.0, piece.duration]);
    let (apart, most) = if crossed.is_some() { (RESTS_APART, MOST_RESTS) } else { (PART, MOST_PARTS) };
    let is_even = piece.acceleration == 0.0 && crossed.is_none();
    let count = if is_even { 1.0 } else { (length / apart).ceil().clamp(1.0, most) } as usize;
    let duration = piece.duration / count as f64;
    (0..count).map(move |k| {
        let (from, length) = way([k, k + 1].map(|k| k as f64 * duration));
        let speed = if piece.acceleration == 0.0 { piece.speed } else { f64::NAN };
        let sweep =
            Sweep { from, direction: piece.direction, length, time: output * duration, speed, output, bead: None };
        match crossed {
            Some(along) => Sweep {
                from: piece.at((k as f64 + 0.5) * duration),
                direction: along,
                length: 0.0,
                speed: 0.0,
                ..sweep
            },
            None => sweep,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::{Fall, Sample};
    use super::super::spot::Amounts;
    use super::super::square::Square;
    use super::*;
    use motefall_physics::inputs::{Outline, Region, Role};
    use motefall_physics::map::outline;
    use std::f64::consts::PI;

    const AMOUNTS: Amounts = Amounts { powders: 1, squares: false };

    /// One particle a second, its distance from the axis as a function of the share of them that falls nearer.
    fn spot(radius: impl Fn(f64) -> f64) -> Spot {
        let count = 200_000;
        let fall = |k: u32| {
            let (radius, number) = (radius((f64::from(k) + 0.5) / f64::from(count)), 1.0 / f64::from(count));
            let (volume, coarse, droplets) = (0.0, 0.0, 0.0);
            let (covered_at, covered, alone) = (radius, number, number);
            let squares = [0.0; Square::ALL.len()];
            Fall {
                radius,
                powder: 0,
                number,
                volume,
                coarse,
                droplets,
                outermost: radius,
                covered_at,
                covered,
                alone,
                squares,
            }
        };
        let sample = Sample { falls: (0..count).map(fall).collect(), generated: vec![0.0], generated_squares: 0.0 };
        Spot::new(&sample, &[0], AMOUNTS)
    }

    fn on(swept: &Swept<'_>, outline: Outline) -> f64 {
        let mut sums = vec![0.0; AMOUNTS.len()];
        let bounds = outline::bounds(&outline);
        let region = [Region { name: "r".into(), role: Role::Target, outline }];
        swept.add_in(bounds, |line| Chords::of_whole(&region, 0, line), &mut sums);
        sums[AMOUNTS.number(0)]
    }

    fn swept(spot: &Spot, piece: Piece) -> Swept<'_> {
        let sweeps: Vec<Sweep> = parts(&piece, 1.0, None).collect();
        Swept { spot, sweeps, time: piece.duration }
    }

    /// A line of 200 um at 1 mm/s and a disc of radius 10 um.
    #[test]
    fn a_disc_along_a_line_is_its_chord() {
        let disc = spot(|share| 10e-6 * share.sqrt());
        let piece = Piece {
            time: 0.0,
            duration: 0.2,
            from: [-100e-6, 0.0],
            direction: [1.0, 0.0],
            speed: 1e-3,
            acceleration: 0.0,
        };
        let line = swept(&disc, piece);
        // Far from the ends a point sees the disc for its chord over the speed: 2 sqrt(R^2 - y^2)/(pi R^2 v).
        for y in [0.0, 3e-6, -7e-6, 9e-6] {
            let here = line.at([13e-6, y])[0];
            let chord = 2.0 * (100e-12 - y * y).sqrt() / (PI * 100e-12 * 1e-3);
            assert!((here / chord - 1.0).abs() < 2e-3, "{y:e}: {}", here / chord - 1.0);
        }
        // Nothing is lost, nor of spots with ever sharper middles and wider skirts.
        let all = |line: &Swept<'_>, side: f64| {
            on(line, Outline::Rectangle { center: [0.0, 0.0], size: [side, side], rotation: 0.0 }) / 0.2 - 1.0
        };
        assert!(all(&line, 300e-6).abs() < 1e-9, "{:e}", all(&line, 300e-6));
        for p in [0.5, 0.7, 1.0, 1.5, 2.0] {
            let wide = spot(|share| 8e-6 * (-share.ln()).powf(p));
            let line = swept(&wide, piece);
            assert!(all(&line, 4e-3).abs() < 1e-9, "{p}: {:e}", all(&line, 4e-3));
        }
        // A strip of half the width holds 2/pi (asin u + u sqrt(1 - u^2)) = 0.608998, u = 1/2.
        let half = on(&line, Outline::Rectangle { center: [0.0, 0.0], size: [300e-6, 10e-6], rotation: 0.0 });
        assert!((half / 0.2 - 0.608_998).abs() < 1e-3, "{}", half / 0.2);
    }
}
