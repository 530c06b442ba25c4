//! Where a bead moves what falls beside a way.

use super::chords::Line;
use super::spot::Spot;
use crate::beads::Mover;
use std::ops::Range;

/// Width that a band has at least when it has moved, m.
pub(super) const LEAST_WIDTH: f64 = 1e-12;

/// Where a bead moves what falls in the bands beside a way.
#[derive(Debug, Clone)]
pub(super) struct Images {
    /// Ends of each band, moved, m to the left of the way: from the band farthest to the right to that farthest to the left.
    bands: Vec<[f64; 2]>,
    /// Bands in a row whose images lie in the same order: what lies beyond a bead stays where it fell, even if the bead runs out over it.
    runs: Vec<Range<usize>>,
}

/// Part of a band that its ends are looked at inside of it, so that a jump at the edge of a bead falls on one side.
const INSIDE: f64 = 1e-6;

/// Images of bands next to each other do so, too, if there is no more than this between them, m.
const GAP: f64 = 1e-11;

impl Images {
    pub(super) fn new(spot: &Spot, mover: &Mover<'_>, line: Line) -> Self {
        let image = |left: f64| {
            let [ax, ay] = line.along;
            line.place(mover.moved([line.from[0] - left * ay, line.from[1] + left * ax]))[1]
        };
        let right = spot.nodes().windows(2).rev().map(|ends| [-ends[1], -ends[0]]);
        let all = right.chain(spot.nodes().windows(2).map(|ends| [ends[0], ends[1]]));
        let moved = |[from, to]: [f64; 2]| {
            let ends = [from + INSIDE * (to - from), to - INSIDE * (to - from)].map(image);
            [ends[0].min(ends[1]), ends[0].max(ends[1])]
        };
        let bands: Vec<[f64; 2]> = all.map(moved).collect();
        let mut runs: Vec<Range<usize>> = Vec::new();
        for band in 0..bands.len() {
            let goes_on = band > 0 && (0..2).all(|k| bands[band][k] >= bands[band - 1][k]);
            match runs.last_mut().filter(|_| goes_on) {
                Some(run) => run.end = band + 1,
                None => runs.push(band..band + 1),
            }
        }
        Self { bands, runs }
    }

    /// Where a band lies, m to the left: of those to the left of the way, or to the right.
    pub(super) fn of_band(&self, band: usize, left: bool) -> [f64; 2] {
        let middle = self.bands.len() / 2;
        self.bands[if left { middle + band } else { middle - 1 - band }]
    }

    /// The bands of which something lies so far to the left, by number from the axis, and how wide their images are, m.
    pub(super) fn at(&self, left: f64) -> impl Iterator<Item = (usize, f64)> + '_ {
        let middle = self.bands.len() / 2;
        self.runs.iter().filter_map(move |run| {
            let band = run.start + self.bands[run.clone()].partition_point(|ends| ends[1] <= left);
            let [low, high] = *self.bands[run.clone()].get(band - run.start)?;
            let number = if band >= middle { band - middle } else { middle - 1 - band };
            (low <= left + GAP).then_some((number, high - low))
        })
    }
}

/// Where a part of a band lies: from and to so far from the axis, m, lies from `low` to `high` to the left.
#[derive(Debug, Clone, Copy)]
pub(super) struct Image {
    pub(super) ends: [f64; 2],
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Image {
    /// As much of the band as lies over a width to the left, m: which part of it does not matter.
    pub(super) fn fell(self, width: f64) -> [f64; 2] {
        [self.ends[0], self.ends[0] + width * self.closer()]
    }

    /// How many times closer particles lie than they fell.
    pub(super) fn closer(self) -> f64 {
        (self.ends[1] - self.ends[0]) / (self.high - self.low).max(LEAST_WIDTH)
    }
}
