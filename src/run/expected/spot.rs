//! What falls from a jet that rests, by distance from its axis.

use super::sample::{Fall, Sample};
use super::square::Square;
use std::f64::consts::PI;

/// Rings about the axis.
const RINGS: usize = 256;
/// Rings are even up to this part of the distance within which half of the particles fall, and grow with the distance beyond.
const EVEN_PART: f64 = 0.7;

/// What is asked of a place: numbers of amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Amounts {
    /// Powders of the print.
    pub(super) powders: usize,
    /// Whether squares are asked for, too.
    pub(super) squares: bool,
}

impl Amounts {
    /// How many there are.
    pub(super) fn len(self) -> usize {
        2 * self.powders + 5 + if self.squares { Square::ALL.len() } else { 0 }
    }

    /// Particles of a powder.
    pub(super) fn number(self, powder: usize) -> usize {
        powder
    }

    fn at_point(self, values: &[f64]) -> AtPoint {
        let all = |of: fn(Self, usize) -> usize| (0..self.powders).map(|powder| values[of(self, powder)]).sum();
        [values[self.covered()], values[self.alone()], all(Self::volume), all(Self::number)]
    }

    /// Solid volume of a powder, m^3.
    pub(super) fn volume(self, powder: usize) -> usize {
        self.powders + powder
    }

    /// Coarse particles.
    pub(super) fn coarse(self) -> usize {
        2 * self.powders
    }

    /// Droplets with particles, each in parts where its particles lie.
    pub(super) fn droplets(self) -> usize {
        2 * self.powders + 1
    }

    /// Area that droplets cover, each by itself, m^2: where it is the share x of an area, the share exp(-x) stays bare.
    pub(super) fn covered(self) -> usize {
        2 * self.powders + 2
    }

    /// Droplets with particles, each where its outermost particle lies: those that reach a place where hardly any come.
    pub(super) fn reached(self) -> usize {
        2 * self.powders + 4
    }

    /// What chance adds to the variance of a sum, if that is asked for.
    pub(super) fn square(self, square: Square) -> usize {
        2 * self.powders + 5 + square as usize
    }

    /// The same if particles of a droplet did not cover each other, m^2.
    pub(super) fn alone(self) -> usize {
        2 * self.powders + 3
    }
}

/// What is asked of a point: [`Amounts::covered`], [`Amounts::alone`], and the solid volume and number of particles of all powders.
pub(super) type AtPoint = [f64; 4];

/// Amounts that fall from a resting jet, per second of open shutter at the set output.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    pub(super) amounts: Amounts,
    /// Distance within which half of the particles fall, m.
    pub(super) half_within: f64,
    scale: Scale,
    /// By ring, of what is asked of points, per area, 1/m^2.
    rings: Vec<AtPoint>,
    /// By band and node along, of what is asked of points: integral along a line in a band beside the axis, from the point next to the axis,
    /// mean of the band's lines, 1/m.
    points: Vec<AtPoint>,
    /// The same by band, node and amount, summed over this band and all beyond it: integral over their widths.
    along: Vec<f64>,
    /// The same of the integral's integral along the line: what a jet leaves that moves along it, m.
    swept: Vec<f64>,
    /// All that falls, and all that left the vial: solid volume per powder, m^3/s.
    pub(super) totals: Vec<f64>,
    pub(super) generated: Vec<f64>,
    /// Squares of the mass that left the vial, droplet by droplet, kg^2/s.
    pub(super) generated_squares: f64,
}

/// Nodes by their distance from the axis: even near it, in a constant ratio far away. Rings lie between nodes, and so do bands on both sides
/// of an axis.
#[derive(Debug, Clone)]
struct Scale {
    /// Distances, m.
    nodes: Vec<f64>,
    /// Steps of the guide per length, 1/m, and the interval in which each step begins.
    per_metre: f64,
    guide: Vec<u16>,
}

/// Even steps for which the interval is known at once.
const GUIDES: usize = 4096;

impl Scale {
    fn new(even: f64, reach: f64) -> Self {
        let step = (reach / even).asinh() / RINGS as f64;
        let nodes: Vec<f64> = (0..=RINGS).map(|node| even * (node as f64 * step).sinh()).collect();
        let per_metre = GUIDES as f64 / nodes[RINGS];
        let interval = |k: usize| nodes.partition_point(|node| *node <= k as f64 / per_metre).saturating_sub(1) as u16;
        Self { guide: (0..GUIDES).map(interval).collect(), per_metre, nodes }
    }

    /// Number of the interval between nodes; that of the rings beyond the last node.
    #[inline]
    fn interval(&self, distance: f64) -> usize {
        let mut interval = match self.guide.get((distance * self.per_metre) as usize) {
            Some(first) => usize::from(*first),
            None => return RINGS,
        };
        while interval < RINGS && self.nodes[interval + 1] <= distance {
            interval += 1;
        }
        interval
    }
}

impl Spot {
    /// From a sample of a layer whose powders have these places among those of the print.
    pub(super) fn new(sample: &Sample, places: &[u16], amounts: Amounts) -> Self {
        let falls = &sample.falls;
        let mut by_distance: Vec<(f64, f64)> = falls.iter().map(|fall| (fall.radius, fall.number)).collect();
        by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
        let half = 0.5 * falls.iter().map(|fall| fall.number).sum::<f64>();
        let mut sum = 0.0;
        let middle = by_distance
            .iter()
            .find(|(_, number)| {
                sum += number;
                sum >= half
            })
            .map_or(1e-6, |(radius, _)| *radius);
        let farthest = falls.iter().map(|fall| fall.outermost.max(fall.covered_at)).fold(1e-6, f64::max);
        let even = EVEN_PART * middle.max(0.1e-6);
        let scale = Scale::new(even, farthest * (1.0 + 1e-9));
        let len = amounts.len();
        let (densities, totals) = rings(falls, places, &scale, amounts);
        let nodes = &scale.nodes;
        let mut generated = vec![0.0; amounts.powders];
        for (place, volume) in places.iter().zip(&sample.generated) {
            generated[usize::from(*place)] += volume;
        }
        let mut along = along(nodes, &densities, len);
        let mut swept = swept(nodes, &along, len);
        let points = along.chunks_exact(len).map(|node| amounts.at_point(node)).collect();
        for table in [&mut along, &mut swept] {
            sum_outwards(nodes, table, len);
        }
        Self {
            amounts,
            half_within: middle,
            scale,
            rings: densities.chunks_exact(len).map(|ring| amounts.at_point(ring)).collect(),
            along,
            points,
            swept,
            totals,
            generated,
            generated_squares: sample.generated_squares,
        }
    }

    /// Distance from the axis within which all falls, m.
    pub(super) fn reach(&self) -> f64 {
        self.scale.nodes[RINGS]
    }

    /// Distances of the nodes from the axis, m, between which rings and bands lie.
    pub(super) fn nodes(&self) -> &[f64] {
        &self.scale.nodes
    }

    /// What is asked of a point, per area and second, at a distance from the axis.
    pub(super) fn resting_at(&self, distance: f64) -> AtPoint {
        self.rings.get(self.scale.interval(distance)).copied().unwrap_or_default()
    }

    /// The same along a line at a distance from the axis, from the point next to the axis to `length` beyond it (m; negative backwards): between
    /// the middles of two bands.
    pub(super) fn along_at(&self, across: f64, length: f64) -> AtPoint {
        let band = self.scale.interval(across);
        if band >= RINGS {
            return AtPoint::default();
        }
        let middle = |band: usize| 0.5 * (self.scale.nodes[band] + self.scale.nodes[band + 1]);
        let low = if across < middle(band) { band.saturating_sub(1) } else { band };
        let high = (low + 1).min(RINGS - 1);
        let share =
            if high > low { ((across - middle(low)) / (middle(high) - middle(low))).clamp(0.0, 1.0) } else { 0.0 };
        let (node, along, _) = self.place(length.abs());
        let [near, far] = [low, high].map(|band| {
            let at = band * (RINGS + 1) + node;
            let (before, after) = (&self.points[at], &self.points[at + 1]);
            [0, 1, 2, 3].map(|k| before[k] + along * (after[k] - before[k]))
        });
        [0, 1, 2, 3].map(|k| (near[k] + share * (far[k] - near[k])) * length.signum())
    }

    /// What a jet at rest leaves along a stretch of a line beside its axis; places from the point next to the axis, m.
    pub(super) fn of_rest(&self, [a, b]: [f64; 2]) -> Terms {
        let mut terms = [Term::default(); TERMS];
        for (k, (length, sign)) in [(b, 1.0), (a, -1.0)].into_iter().enumerate() {
            let (node, share, _) = self.place(length.abs());
            let times = sign * length.signum();
            terms[2 * k] = Term { table: Table::Along, node, times: times * (1.0 - share) };
            terms[2 * k + 1] = Term { table: Table::Along, node: node + 1, times: times * share };
        }
        terms
    }

    /// What a jet leaves along a stretch of a line beside its way while it goes a length, m, over that length: from the integral's integral, so
    /// that differences are never negative and true far from the axis, where little falls. Places from the point next to where it starts, m.
    pub(super) fn of_way(&self, [a, b]: [f64; 2], length: f64) -> Terms {
        let mut terms = [Term::default(); TERMS];
        let ends = [(b, 1.0), (a, -1.0), (b - length, -1.0), (a - length, 1.0)];
        for (k, (place, sign)) in ends.into_iter().enumerate() {
            let (node, share, step) = self.place(place.abs());
            let times = sign / length;
            let part = share * step;
            let beyond = (place.abs() - self.reach()).max(0.0);
            terms[3 * k] = Term { table: Table::Swept, node, times };
            terms[3 * k + 1] = Term { table: Table::Along, node, times: times * part * (1.0 - 0.5 * share) };
            terms[3 * k + 2] =
                Term { table: Table::Along, node: node + 1, times: times * (0.5 * part * share + beyond) };
        }
        terms
    }

    /// Adds `times` what lies along a stretch between two distances from the axis, m.
    pub(super) fn add(&self, terms: &Terms, [near, far]: [f64; 2], times: f64, sums: &mut [f64]) {
        let (low, low_share) = self.row(near);
        let (high, high_share) = self.row(far);
        let mut add = |row: usize, share: f64| {
            if row >= RINGS || share == 0.0 {
                return;
            }
            for Term { table, node, times: own } in terms.iter().filter(|term| term.times != 0.0) {
                let table = match table {
                    Table::Along => &self.along,
                    Table::Swept => &self.swept,
                };
                let from = (row * (RINGS + 1) + node) * self.amounts.len();
                let (times, values) = (times * share * own, &table[from..from + self.amounts.len()]);
                sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += times * value);
            }
        };
        if low == high {
            add(low, low_share - high_share);
            add(low + 1, high_share - low_share);
        } else {
            add(low, low_share);
            add(low + 1, 1.0 - low_share);
            add(high, -high_share);
            add(high + 1, high_share - 1.0);
        }
    }

    /// The band of a distance from the axis, and the share of it that lies beyond.
    fn row(&self, distance: f64) -> (usize, f64) {
        let band = self.scale.interval(distance);
        match self.scale.nodes.get(band + 1) {
            Some(end) => (band, (end - distance) / (end - self.scale.nodes[band])),
            None => (RINGS, 0.0),
        }
    }

    /// Node before a length, share of the way to the next (1 beyond the last), and their distance, m.
    #[inline]
    fn place(&self, length: f64) -> (usize, f64, f64) {
        let node = self.scale.interval(length).min(RINGS - 1);
        let step = self.scale.nodes[node + 1] - self.scale.nodes[node];
        (node, ((length - self.scale.nodes[node]) / step).min(1.0), step)
    }
}

/// What falls into each ring per area, and in all.
fn rings(falls: &[Fall], places: &[u16], scale: &Scale, amounts: Amounts) -> (Vec<f64>, Vec<f64>) {
    let len = amounts.len();
    let (mut densities, mut totals) = (vec![0.0; RINGS * len], vec![0.0; len]);
    for fall in falls {
        let powder = usize::from(places[fall.powder]);
        let mut add = |at: f64, amount: usize, value: f64| {
            densities[scale.interval(at).min(RINGS - 1) * len + amount] += value;
            totals[amount] += value;
        };
        add(fall.radius, amounts.number(powder), fall.number);
        add(fall.radius, amounts.volume(powder), fall.volume);
        add(fall.radius, amounts.coarse(), fall.coarse);
        add(fall.radius, amounts.droplets(), fall.droplets);
        add(fall.outermost, amounts.reached(), fall.droplets);
        add(fall.covered_at, amounts.covered(), fall.covered);
        add(fall.covered_at, amounts.alone(), fall.alone);
        if amounts.squares {
            for square in Square::ALL {
                add(fall.radius, amounts.square(square), fall.squares[square as usize]);
            }
        }
    }
    for (ends, densities) in scale.nodes.windows(2).zip(densities.chunks_exact_mut(len)) {
        let area = PI * (ends[1] * ends[1] - ends[0] * ends[0]);
        densities.iter_mut().for_each(|amount| *amount /= area);
    }
    (densities, totals)
}

/// What a stretch takes of a spot's tables: which, at which node along, and how many times.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term {
    table: Table,
    node: usize,
    times: f64,
}

/// All that a stretch takes; those that count 0 times are not needed.
pub(super) type Terms = [Term; TERMS];
const TERMS: usize = 12;

/// A table by band and node.
#[derive(Debug, Clone, Copy)]
enum Table {
    Along,
    Swept,
}

impl Default for Term {
    fn default() -> Self {
        Self { table: Table::Along, node: 0, times: 0.0 }
    }
}

/// Puts in place of means of bands the sums over their widths, of each band and all beyond it: from outside, where little falls, inwards.
fn sum_outwards(nodes: &[f64], table: &mut [f64], len: usize) {
    let row = (RINGS + 1) * len;
    for band in (0..RINGS).rev() {
        let width = nodes[band + 1] - nodes[band];
        let (own, beyond) = table[band * row..].split_at_mut(row);
        own.iter_mut().for_each(|value| *value *= width);
        if band + 1 < RINGS {
            own.iter_mut().zip(beyond).for_each(|(value, beyond)| *value += *beyond);
        }
    }
}

/// Lines that stand for a band.
const LINES: usize = 3;

/// Integrals along lines: of even rings, so that they are sums of chords. Those of a band are made to add up to what the band holds.
fn along(nodes: &[f64], densities: &[f64], len: usize) -> Vec<f64> {
    let mut table = vec![0.0; RINGS * (RINGS + 1) * len];
    let mut inside = vec![0.0; len];
    // Of a quarter of a disc about the axis, up to each node, what lies nearer than the band.
    let mut quarters = vec![0.0; RINGS + 1];
    for (band, row) in table.chunks_exact_mut((RINGS + 1) * len).enumerate() {
        let [from, to] = [nodes[band], nodes[band + 1]];
        for line in 0..LINES {
            let across = from + (line as f64 + 0.5) / LINES as f64 * (to - from);
            let chord = |radius: f64| (radius * radius - across * across).max(0.0).sqrt();
            inside.fill(0.0);
            // The ring that the line is in, and the sums over rings passed before it.
            let (mut ring, mut entered, mut left) = (band, 0.0, chord(to));
            for (length, target) in nodes.iter().zip(row.chunks_exact_mut(len)) {
                while ring < RINGS && left <= *length {
                    add_to(&mut inside, &densities[ring * len..], left - entered);
                    ring += 1;
                    entered = left;
                    left = nodes.get(ring + 1).map_or(f64::INFINITY, |radius| chord(*radius));
                }
                add_to(target, &inside, 1.0 / LINES as f64);
                if ring < RINGS {
                    add_to(target, &densities[ring * len..], (length - entered) / LINES as f64);
                }
            }
        }
        let mut held = vec![0.0; len];
        let mut inner = 0.0;
        for ring in band..RINGS {
            // Of a quarter of a disc, what lies in the band.
            let (radius, before) = (nodes[ring + 1], quarters[ring + 1]);
            quarters[ring + 1] = quarter(radius, to);
            let outer = quarters[ring + 1] - before;
            add_to(&mut held, &densities[ring * len..], outer - inner);
            inner = outer;
        }
        let last = row[RINGS * len..].to_vec();
        let factor = |k: usize| if last[k] > 0.0 { held[k] / (last[k] * (to - from)) } else { 1.0 };
        let factors: Vec<f64> = (0..len).map(factor).collect();
        for values in row.chunks_exact_mut(len) {
            values.iter_mut().zip(&factors).for_each(|(value, factor)| *value *= factor);
        }
    }
    table
}

/// Area of what lies up to a distance across of a quarter of a disc.
fn quarter(radius: f64, across: f64) -> f64 {
    let sine = (across / radius).min(1.0);
    0.5 * radius * radius * (sine * (1.0 - sine * sine).sqrt() + sine.asin())
}

/// Adds `times` the first of the values to as many sums.
fn add_to(sums: &mut [f64], values: &[f64], times: f64) {
    sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += times * value);
}

/// Integrals of these integrals along the lines, which are straight between nodes.
fn swept(nodes: &[f64], along: &[f64], len: usize) -> Vec<f64> {
    let mut table = vec![0.0; along.len()];
    for band in 0..RINGS {
        for node in 1..=RINGS {
            let step = nodes[node] - nodes[node - 1];
            let here = (band * (RINGS + 1) + node) * len;
            for k in here..here + len {
                table[k] = table[k - len] + 0.5 * step * (along[k - len] + along[k]);
            }
        }
    }
    table
}
