//! Landing points looked up instead of flown.
//!
//! For one setting a flight is fixed by where the droplet enters (share of the aerosol flow, q) and by its size and
//! density. The table holds, for rows of diameters at the least and the largest density, the share of the flow from
//! which they land and the landing radius and speed in between. Another density is turned into the diameters that have
//! the same relaxation time at these two, and the two answers are mixed.

use super::track::{Arrival, Flyer, Sphere};
use crate::jet::store::FieldStore;
use crate::materials::drag;
use rayon::prelude::*;

/// Row intervals in each zone of diameters: below the first landing, partly landing, just all landing, all landing, ever more on the
/// wall, mostly on the wall.
const ZONE_ROWS: [usize; ZONES] = [6, 48, 16, 40, 64, 16];
const ZONES: usize = 6;
/// Length of the third zone in log-diameter: there the landing radius changes fast.
const EDGE_ZONE: f64 = 0.3;
/// Shares of the flow that miss the wall where the fifth zone begins and ends. In between droplets begin to hit the wall across the axis,
/// and the share falls fast.
const WALL_ZONE: [f64; 2] = [0.985, 0.3];
/// Flow nodes per diameter, spaced finer towards the edge of what lands.
const FLOW_NODES: usize = 25;
/// Every second row, and every second node of a row, is taken from a cubic through its neighbours where that differs from a straight line
/// by less than a share of the largest value around it: the cubic is then some ten times closer than that. Elsewhere it is flown. For what
/// lies between rows, for their shares of the flow, which decide fates, and between the nodes of a row.
const SMOOTH_ROW: f64 = 0.01;
const SMOOTH_SHARE: f64 = 0.001;
const SMOOTH_NODE: f64 = 0.003;
/// A cubic goes through four of every second.
const _: () = {
    assert!(FLOW_NODES % 2 == 1 && FLOW_NODES >= 7);
    let mut zone = 0;
    while zone < ZONES {
        assert!(ZONE_ROWS[zone].is_multiple_of(2) && ZONE_ROWS[zone] >= 6);
        zone += 1;
    }
};
/// Relative accuracy of the share of the flow that lands.
const EDGE_TOLERANCE: f64 = 1e-4;
/// Share of the flow below which nothing counts as landing.
const LEAST_SHARE: f64 = 1e-6;
/// Slip speed, in mean exit speeds, at which two densities are made equivalent. An estimate of the slip on impact.
const EQUIVALENCE_SLIP: f64 = 0.6;
/// Nodes of the equivalence map along diameter and density.
const EQUIVALENCE_NODES: [usize; 2] = [64, 9];

/// What the table says of a droplet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// Lands at `offset * (a, b)` from the axis, where (a, b) is the entry point in the unit disc with a^2 + b^2 = q.
    Landed {
        /// Landing radius over sqrt(q), m; signed.
        offset: f64,
        /// Impact speed, m/s.
        speed: f64,
    },
    /// On the wall of the taper.
    Wall,
    /// Swept past the chip.
    Escaped,
}

/// Rows of one diameter.
#[derive(Debug, Clone)]
struct Row {
    /// Share of the flow that lands.
    landing_share: f64,
    /// Share of the flow inside which no droplet hits the wall.
    wall_share: f64,
    /// Landing radius over sqrt(q), m, and impact speed, m/s, at the flow nodes.
    nodes: [[f32; 2]; FLOW_NODES],
}

/// Even nodes in the logarithm of a diameter.
#[derive(Debug, Clone, Copy)]
struct Zone {
    start: f64,
    per_unit: f64,
    first_row: usize,
    intervals: usize,
}

impl Zone {
    /// Length in the logarithm of a diameter.
    fn length(&self) -> f64 {
        if self.per_unit > 0.0 { self.intervals as f64 / self.per_unit } else { 0.0 }
    }
}

/// The rows flown at one density.
#[derive(Debug, Clone)]
struct Level {
    rows: Vec<Row>,
    zones: [Zone; ZONES],
    equivalence: Equivalence,
}

/// A place between two rows of a level.
struct Between<'a> {
    low: &'a Row,
    high: &'a Row,
    fraction: f64,
}

/// The table of one setting: rows at the least and at the largest density, between which is interpolated.
#[derive(Debug, Clone)]
pub struct LandingTable {
    light: Level,
    /// Missing when all droplets have nearly the same density.
    dense: Option<Level>,
    densities: [f64; 2],
    /// Share of the flow the table was flown for that the aerosol takes: 1 unless tables were mixed for another share.
    share: f64,
    /// What landing radii are multiplied by: the root of this share, and the user's factor.
    widening: f64,
}

/// Relative density above the lightest up to which the light rows serve alone, and the span below which one level does.
const SAME_DENSITY: f64 = 0.02;

/// How tables are kept, and their layout: it changes whenever flights, rows or nodes do.
const KIND: &str = "landing";
const LAYOUT: f64 = 1.0;

impl LandingTable {
    /// Flies the rows. Diameters (m) and densities (kg/m^3) give the range of the droplets to come.
    pub fn new(flyer: &Flyer, diameters: [f64; 2], densities: [f64; 2]) -> Self {
        let level = |reference| Level::new(flyer, diameters, densities, reference);
        let dense = Self::has_dense(densities).then(|| level(densities[1]));
        Self { light: level(densities[0]), dense, densities, share: 1.0, widening: 1.0 }
    }

    /// The same with landing radii multiplied by a factor.
    pub fn widened(self, factor: f64) -> Self {
        Self { widening: self.widening * factor, ..self }
    }

    /// The table of a setting that `from` describes whole: kept in the store, or flown by what `flyer` gives, and then kept.
    pub fn kept<E>(
        store: &FieldStore,
        from: &[f64],
        [diameters, densities]: [[f64; 2]; 2],
        flyer: impl FnOnce() -> Result<Flyer, E>,
    ) -> Result<Self, E> {
        let from: Vec<f64> = [&[LAYOUT][..], from, &diameters, &densities].concat();
        if let Some(kept) = store.kept(KIND, &from).and_then(|values| Self::from_numbers(densities, &values)) {
            return Ok(kept);
        }
        let new = Self::new(&flyer()?, diameters, densities);
        store.keep(KIND, &from, &new.numbers());
        Ok(new)
    }

    /// All that a table that was flown holds, besides its densities.
    fn numbers(&self) -> Vec<f64> {
        let mut numbers = self.light.numbers();
        self.dense.iter().for_each(|dense| numbers.extend(dense.numbers()));
        numbers
    }

    fn from_numbers(densities: [f64; 2], numbers: &[f64]) -> Option<Self> {
        let mut levels = numbers.chunks_exact(Level::NUMBERS);
        let light = Level::from_numbers(levels.next()?)?;
        let dense = levels.next().map(Level::from_numbers);
        let wanted = usize::from(Self::has_dense(densities)) + 1;
        (numbers.len() == wanted * Level::NUMBERS).then_some(())?;
        let dense = if let Some(dense) = dense { Some(dense?) } else { None };
        Some(Self { light, dense, densities, share: 1.0, widening: 1.0 })
    }

    /// Whether droplets of these densities take more than one level.
    fn has_dense(densities: [f64; 2]) -> bool {
        densities[1] > densities[0] * (1.0 + SAME_DENSITY)
    }

    /// A table between others of the same densities and diameters, each with its weight; the weights sum to 1. `share` is what the
    /// aerosol takes of the flow that they were flown for, above 0 to 1.
    ///
    /// Rows are mixed at the same place between the edges of what lands, and the edges themselves are mixed, so the mixture stays
    /// sharp where the landing radius changes fast.
    pub fn mixed(parts: &[(&Self, f64)], share: f64) -> Self {
        let level = |of: fn(&Self) -> Option<&Level>| -> Option<Level> {
            let levels: Option<Vec<(&Level, f64)>> =
                parts.iter().map(|(table, weight)| of(table).map(|level| (level, *weight))).collect();
            levels.map(|levels| Level::mixed(&levels))
        };
        Self {
            light: level(|table| Some(&table.light)).expect("every table has light rows"),
            dense: level(|table| table.dense.as_ref()),
            densities: parts[0].0.densities,
            share,
            widening: share.sqrt(),
        }
    }

    /// Looks a droplet up: share of the aerosol flow `q`, logarithm of the diameter (m), density (kg/m^3).
    #[inline]
    pub fn find(&self, q: f64, log_diameter: f64, density: f64) -> Found {
        let q = q * self.share;
        let light = self.light.between(log_diameter, density);
        match &self.dense {
            Some(dense) if density > self.densities[0] * (1.0 + SAME_DENSITY) => {
                let dense = dense.between(log_diameter, density);
                let weight = ((density - self.densities[0]) / (self.densities[1] - self.densities[0])).min(1.0);
                let mix = |a: f64, b: f64| a + weight * (b - a);
                let share = mix(light.landing_share(), dense.landing_share());
                if q >= share {
                    return lost(q, mix(light.wall_share(), dense.wall_share()));
                }
                let place = FlowPlace::new(q / share);
                let ([a, u], [b, v]) = (light.at(place), dense.at(place));
                Found::Landed { offset: mix(a, b) * self.widening, speed: mix(u, v) }
            }
            _ => {
                let share = light.landing_share();
                if q >= share {
                    return lost(q, light.wall_share());
                }
                let [offset, speed] = light.at(FlowPlace::new(q / share));
                Found::Landed { offset: offset * self.widening, speed }
            }
        }
    }
}

#[inline]
fn lost(q: f64, wall_share: f64) -> Found {
    if q >= wall_share { Found::Wall } else { Found::Escaped }
}

/// Place between two flow nodes, from the share of the landing flow inside.
#[derive(Clone, Copy)]
struct FlowPlace {
    node: usize,
    along: f32,
}

impl FlowPlace {
    #[inline]
    fn new(inside: f64) -> Self {
        let t = (1.0 - (1.0 - inside).max(0.0).sqrt()) * (FLOW_NODES - 1) as f64;
        let node = (t as usize).min(FLOW_NODES - 2);
        Self { node, along: (t - node as f64) as f32 }
    }
}

impl Between<'_> {
    #[inline]
    fn landing_share(&self) -> f64 {
        self.low.landing_share + self.fraction * (self.high.landing_share - self.low.landing_share)
    }

    #[inline]
    fn wall_share(&self) -> f64 {
        self.low.wall_share + self.fraction * (self.high.wall_share - self.low.wall_share)
    }

    /// Landing radius over sqrt(q) and impact speed.
    #[inline]
    fn at(&self, place: FlowPlace) -> [f64; 2] {
        let fraction = self.fraction as f32;
        let along = |row: &Row, k: usize| {
            let (before, after) = (row.nodes[place.node][k], row.nodes[place.node + 1][k]);
            before + place.along * (after - before)
        };
        let mix = |k: usize| {
            let (low, high) = (along(self.low, k), along(self.high, k));
            f64::from(low + fraction * (high - low))
        };
        [mix(0), mix(1)]
    }
}

impl Level {
    const ROWS: usize = {
        let (mut rows, mut zone) = (0, 0);
        while zone < ZONES {
            rows += ZONE_ROWS[zone] + 1;
            zone += 1;
        }
        rows
    };
    const NUMBERS: usize =
        2 * ZONES + Self::ROWS * (2 + 2 * FLOW_NODES) + 6 + EQUIVALENCE_NODES[0] * EQUIVALENCE_NODES[1];

    /// Start and nodes per unit of zones, rows, equivalence.
    fn numbers(&self) -> Vec<f64> {
        let Equivalence { range, diameters, densities, shift } = &self.equivalence;
        let mut numbers: Vec<f64> = self.zones.iter().flat_map(|zone| [zone.start, zone.per_unit]).collect();
        for Row { landing_share, wall_share, nodes } in &self.rows {
            numbers.extend([*landing_share, *wall_share]);
            numbers.extend(nodes.iter().flatten().map(|value| f64::from(*value)));
        }
        numbers.extend([range, diameters, densities].into_iter().flatten());
        numbers.extend(shift);
        numbers
    }

    fn from_numbers(numbers: &[f64]) -> Option<Self> {
        let mut numbers = (numbers.len() == Self::NUMBERS).then(|| numbers.iter().copied())?;
        let mut next = || numbers.next().unwrap_or(f64::NAN);
        let mut first_row = 0;
        let zones = ZONE_ROWS.map(|intervals| {
            let zone = Zone { start: next(), per_unit: next(), first_row, intervals };
            first_row += intervals + 1;
            zone
        });
        let mut rows = Vec::with_capacity(Self::ROWS);
        for _ in 0..Self::ROWS {
            let (landing_share, wall_share) = (next(), next());
            let nodes = [(); FLOW_NODES].map(|()| [next() as f32, next() as f32]);
            rows.push(Row { landing_share, wall_share, nodes });
        }
        let mut pair = || [next(), next()];
        let (range, diameters, densities) = (pair(), pair(), pair());
        let shift = (0..EQUIVALENCE_NODES[0] * EQUIVALENCE_NODES[1]).map(|_| next()).collect();
        Some(Self { rows, zones, equivalence: Equivalence { range, diameters, densities, shift } })
    }

    fn new(flyer: &Flyer, diameters: [f64; 2], densities: [f64; 2], reference: f64) -> Self {
        let equivalence = Equivalence::new(flyer, diameters, densities, reference);
        let range = equivalence.range;
        let sphere = |log: f64| Sphere { diameter: log.exp(), density: reference };
        // The two diameters between which the landing share rises from nothing to all. What hits the wall does not escape: the largest
        // droplets may be wider than the nozzle, and then none of them lands.
        let some = |log: f64| flyer.fly(2e-3, sphere(log)) != Arrival::Escaped;
        let all = |log: f64| {
            let wall = wall_share(flyer, sphere(log));
            wall == 0.0 || lands(flyer, wall * (1.0 - 1e-9), sphere(log))
        };
        let first = edge(range, some);
        let full = edge([first, range[1]], all);
        let mut logs = Vec::new();
        let even = (full + EDGE_ZONE).min(range[1]);
        let wall = |from: f64, share: f64| edge([from, range[1]], |log| wall_share(flyer, sphere(log)) < share);
        let touching = wall(even, WALL_ZONE[0]);
        let mostly = wall(touching, WALL_ZONE[1]);
        let bounds = [range[0], first, full, even, touching, mostly, range[1]];
        let zones = std::array::from_fn(|k| {
            let (rows, length) = (ZONE_ROWS[k], bounds[k + 1] - bounds[k]);
            let first_row = logs.len();
            logs.extend((0..=rows).map(|i| bounds[k] + length * i as f64 / rows as f64));
            Zone {
                start: bounds[k],
                per_unit: if length > 0.0 { rows as f64 / length } else { 0.0 },
                first_row,
                intervals: rows,
            }
        });
        let mut rows = Self::rows(&zones, &logs, |log| Row::new(flyer, sphere(log)));
        // A row from which nothing lands takes the shape of the next larger: only its share (zero) matters.
        for k in (0..rows.len() - 1).rev() {
            if rows[k].landing_share == 0.0 {
                rows[k].nodes = rows[k + 1].nodes;
            }
        }
        Self { rows, zones, equivalence }
    }

    /// The rows of zones: every second is flown, the others where they do not follow from these.
    fn rows(zones: &[Zone; ZONES], logs: &[f64], fly: impl Fn(f64) -> Row + Sync) -> Vec<Row> {
        // Zones without length have many rows of one diameter, and a zone begins where the one before ends.
        let place_in_zone = |zone: &Zone, row: usize| row - zone.first_row;
        let zone_of = |row: usize| &zones[zones.partition_point(|zone| zone.first_row <= row) - 1];
        let mut firsts: Vec<f64> = (0..logs.len())
            .filter(|row| place_in_zone(zone_of(*row), *row).is_multiple_of(2))
            .map(|row| logs[row])
            .collect();
        firsts.dedup();
        let firsts: Vec<(f64, Row)> = firsts.into_par_iter().map(|log| (log, fly(log))).collect();
        let flown = |log: f64| {
            let place = firsts.partition_point(|(other, _)| *other < log);
            firsts.get(place).filter(|(other, _)| *other == log).map(|(_, row)| row)
        };
        let at = |row: usize| flown(logs[row]).expect("every second row is flown");
        (0..logs.len())
            .into_par_iter()
            .map(|row| {
                let (zone, log) = (zone_of(row), logs[row]);
                if let Some(row) = flown(log) {
                    return row.clone();
                }
                let (first, weights) = halfway(place_in_zone(zone, row), zone.intervals);
                let around = [0, 1, 2, 3].map(|k| at(zone.first_row + first + 2 * k));
                Row::between(around, weights).unwrap_or_else(|| fly(log))
            })
            .collect()
    }

    fn mixed(parts: &[(&Self, f64)]) -> Self {
        let mut level = parts[0].0.clone();
        let sum = |of: &dyn Fn(&Self) -> f64| parts.iter().map(|(part, weight)| weight * of(part)).sum::<f64>();
        for (k, zone) in level.zones.iter_mut().enumerate() {
            let length = sum(&|part| part.zones[k].length()).max(0.0);
            zone.start = sum(&|part| part.zones[k].start);
            zone.per_unit = if length > 0.0 { zone.intervals as f64 / length } else { 0.0 };
        }
        for (k, row) in level.rows.iter_mut().enumerate() {
            // Equal shares stay exactly what they are: all of the flow is 1, whatever the rounding of the weights.
            let share = |of: fn(&Row) -> f64| {
                let first = of(&parts[0].0.rows[k]);
                if parts.iter().all(|(part, _)| of(&part.rows[k]) == first) {
                    return first;
                }
                parts.iter().map(|(part, weight)| weight * of(&part.rows[k])).sum::<f64>().clamp(0.0, 1.0)
            };
            row.landing_share = share(|row| row.landing_share);
            row.wall_share = share(|row| row.wall_share).max(row.landing_share);
            row.nodes = [[0.0; 2]; FLOW_NODES];
            for (part, weight) in parts {
                let weight = *weight as f32;
                for (node, other) in row.nodes.iter_mut().zip(&part.rows[k].nodes) {
                    node[0] += weight * other[0];
                    node[1] += weight * other[1];
                }
            }
        }
        for (k, shift) in level.equivalence.shift.iter_mut().enumerate() {
            *shift = sum(&|part| part.equivalence.shift[k]);
        }
        level
    }

    #[inline]
    fn between(&self, log_diameter: f64, density: f64) -> Between<'_> {
        let log = self.equivalence.log_diameter(log_diameter, density);
        let zone = &self.zones[(1..ZONES).map(|k| usize::from(log >= self.zones[k].start)).sum::<usize>()];
        let place = ((log - zone.start) * zone.per_unit).clamp(0.0, zone.intervals as f64);
        let step = (place as usize).min(zone.intervals - 1);
        let row = zone.first_row + step;
        Between { low: &self.rows[row], high: &self.rows[row + 1], fraction: place - step as f64 }
    }
}

fn lands(flyer: &Flyer, q: f64, sphere: Sphere) -> bool {
    matches!(flyer.fly(q, sphere), Arrival::Landed { .. })
}

/// Share of the flow inside which no droplet of this size hits the taper's wall.
fn wall_share(flyer: &Flyer, sphere: Sphere) -> f64 {
    let hits = |q: f64| flyer.hits_wall(q, sphere);
    if !hits(1.0) {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while high - low > EDGE_TOLERANCE * high {
        let middle = 0.5 * (low + high);
        if hits(middle) {
            high = middle
        } else {
            low = middle
        }
        if high < LEAST_SHARE {
            return 0.0;
        }
    }
    low
}

/// Smallest log-diameter in the range at which the predicate holds, or the upper end.
fn edge(range: [f64; 2], holds: impl Fn(f64) -> bool) -> f64 {
    if holds(range[0]) {
        return range[0];
    }
    if !holds(range[1]) {
        return range[1];
    }
    let (mut low, mut high) = (range[0], range[1]);
    while high - low > 1e-4 {
        let middle = 0.5 * (low + high);
        if holds(middle) { high = middle } else { low = middle }
    }
    high
}

/// For an odd one of an even number of intervals: the first of the four even places around it, and their weights in the cubic through
/// them.
fn halfway(odd: usize, intervals: usize) -> (usize, [f64; 4]) {
    const INSIDE: [f64; 4] = [-0.0625, 0.5625, 0.5625, -0.0625];
    const FIRST: [f64; 4] = [0.3125, 0.9375, -0.3125, 0.0625];
    const LAST: [f64; 4] = [0.0625, -0.3125, 0.9375, 0.3125];
    if odd == 1 {
        (0, FIRST)
    } else if odd + 1 == intervals {
        (odd - 5, LAST)
    } else {
        (odd - 3, INSIDE)
    }
}

/// The cubic's value, if it differs by at most a share of the largest value from a straight line between the two nearest.
fn smooth(around: [f64; 4], weights: [f64; 4], most: f64) -> Option<f64> {
    let cubic: f64 = (0..4).map(|k| weights[k] * around[k]).sum();
    // The two nearest have the largest weights.
    let near = if weights[0] > 0.1 {
        [0, 1]
    } else if weights[3] > 0.1 {
        [2, 3]
    } else {
        [1, 2]
    };
    let straight = 0.5 * (around[near[0]] + around[near[1]]);
    let largest = around.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
    ((cubic - straight).abs() <= most * largest).then_some(cubic)
}

/// The same for what a node holds; not where one of the four did not land.
fn smooth_node(around: [&[f32; 2]; 4], weights: [f64; 4], most: f64) -> Option<[f32; 2]> {
    let value = |k: usize| smooth(around.map(|node| f64::from(node[k])), weights, most);
    let landed = around.iter().all(|node| node[1] > 0.0);
    Some([value(0).filter(|_| landed)? as f32, value(1)? as f32])
}

impl Row {
    fn new(flyer: &Flyer, sphere: Sphere) -> Self {
        let wall_share = wall_share(flyer, sphere);
        let landing_share = Self::landing_share(flyer, sphere, wall_share);
        let mut nodes = [[0.0; 2]; FLOW_NODES];
        if landing_share > 0.0 {
            let fly = |k: usize| {
                let t = k as f64 / (FLOW_NODES - 1) as f64;
                let q = (landing_share * (1.0 - (1.0 - t) * (1.0 - t))).clamp(1e-4 * landing_share, landing_share);
                match flyer.fly(q, sphere) {
                    Arrival::Landed { radius, speed, .. } => [(radius / q.sqrt()) as f32, speed as f32],
                    Arrival::Wall | Arrival::Escaped => [0.0; 2],
                }
            };
            for k in (0..FLOW_NODES).step_by(2) {
                nodes[k] = fly(k);
            }
            for k in (1..FLOW_NODES).step_by(2) {
                let (first, weights) = halfway(k, FLOW_NODES - 1);
                let around = [0, 1, 2, 3].map(|m| &nodes[first + 2 * m]);
                nodes[k] = smooth_node(around, weights, SMOOTH_NODE).unwrap_or_else(|| fly(k));
            }
            // A node on the very edge may just miss: it takes its neighbour's value.
            for k in 1..FLOW_NODES {
                if nodes[k][1] == 0.0 {
                    nodes[k] = nodes[k - 1];
                }
            }
        }
        Self { landing_share, wall_share, nodes }
    }

    /// Between two of four rows at even steps, if all that they say is smooth there.
    fn between(around: [&Self; 4], weights: [f64; 4]) -> Option<Self> {
        let share = |of: fn(&Self) -> f64| {
            let all = around.map(of);
            // Equal shares stay exactly what they are.
            if all.iter().all(|share| *share == all[0]) { Some(all[0]) } else { smooth(all, weights, SMOOTH_SHARE) }
        };
        let wall_share = share(|row| row.wall_share)?.clamp(0.0, 1.0);
        let landing_share = share(|row| row.landing_share)?.clamp(0.0, wall_share);
        let mut nodes = [[0.0; 2]; FLOW_NODES];
        for (k, node) in nodes.iter_mut().enumerate() {
            *node = smooth_node(around.map(|row| &row.nodes[k]), weights, SMOOTH_ROW)?;
        }
        Some(Self { landing_share, wall_share, nodes })
    }

    /// Share of the flow that lands, found from below: every share up to it lands.
    fn landing_share(flyer: &Flyer, sphere: Sphere, wall_share: f64) -> f64 {
        if wall_share == 0.0 || lands(flyer, wall_share * (1.0 - 1e-9), sphere) {
            return wall_share;
        }
        if !lands(flyer, LEAST_SHARE, sphere) {
            return 0.0;
        }
        let (mut low, mut high) = (LEAST_SHARE, wall_share);
        while high - low > EDGE_TOLERANCE * high {
            // Geometric steps while the edge is far off in scale, halves when near.
            let middle = if high > 2.0 * low { (low * high).sqrt() } else { 0.5 * (low + high) };
            if lands(flyer, middle, sphere) { low = middle } else { high = middle }
        }
        low
    }
}

/// Turns diameter and density into the diameter of the same effective relaxation time at the reference density.
#[derive(Debug, Clone)]
struct Equivalence {
    /// Log-diameters at the reference density.
    range: [f64; 2],
    /// Start and nodes per unit of the log-diameter.
    diameters: [f64; 2],
    /// Start and nodes per unit of the density.
    densities: [f64; 2],
    /// `[diameter][density]`, shift of the log-diameter.
    shift: Vec<f64>,
}

impl Equivalence {
    fn new(flyer: &Flyer, diameters: [f64; 2], densities: [f64; 2], reference: f64) -> Self {
        let gas = &flyer.gas;
        let relaxation = |log: f64, density: f64| {
            let d: f64 = log.exp();
            let slip = drag::slip_correction(d, gas.mean_free_path);
            let reynolds = drag::sphere_reynolds(EQUIVALENCE_SLIP * flyer.exit_speed, d, gas.density, gas.viscosity);
            drag::relaxation_time(d, density, gas.viscosity, slip) / drag::schiller_naumann(reynolds)
        };
        let [nd, nr] = EQUIVALENCE_NODES;
        let logs = [diameters[0].ln(), diameters[1].ln()];
        let log_at = |i: usize| logs[0] + (logs[1] - logs[0]) * i as f64 / (nd - 1) as f64;
        let density_at = |j: usize| densities[0] + (densities[1] - densities[0]) * j as f64 / (nr - 1) as f64;
        let mut shift = vec![0.0; nd * nr];
        for i in 0..nd {
            for j in 0..nr {
                let target = relaxation(log_at(i), density_at(j));
                let (mut low, mut high) = (log_at(i) - 4.0, log_at(i) + 4.0);
                for _ in 0..50 {
                    let middle = 0.5 * (low + high);
                    if relaxation(middle, reference) < target { low = middle } else { high = middle }
                }
                shift[i * nr + j] = 0.5 * (low + high) - log_at(i);
            }
        }
        let per = |range: [f64; 2], nodes: usize| {
            let length = range[1] - range[0];
            [range[0], if length > 0.0 { (nodes - 1) as f64 / length } else { 0.0 }]
        };
        let range = [
            logs[0] + shift[..nr].iter().copied().fold(0.0, f64::min),
            logs[1] + shift[(nd - 1) * nr..].iter().copied().fold(0.0, f64::max),
        ];
        Self { range, diameters: per(logs, nd), densities: per(densities, nr), shift }
    }

    #[inline]
    fn log_diameter(&self, log: f64, density: f64) -> f64 {
        let [nd, nr] = EQUIVALENCE_NODES;
        let u = ((log - self.diameters[0]) * self.diameters[1]).clamp(0.0, (nd - 1) as f64);
        let v = ((density - self.densities[0]) * self.densities[1]).clamp(0.0, (nr - 1) as f64);
        let (i, j) = ((u as usize).min(nd - 2), (v as usize).min(nr - 2));
        let (fu, fv) = (u - i as f64, v - j as f64);
        let at = |di: usize, dj: usize| self.shift[(i + di) * nr + j + dj];
        let low = at(0, 0) + fv * (at(0, 1) - at(0, 0));
        let high = at(1, 0) + fv * (at(1, 1) - at(1, 0));
        log + low + fu * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jet::bore::field::BoreField;
    use crate::jet::bore::shape::Shape;
    use crate::jet::exit::ExitProfile;
    use crate::jet::field::Field;
    use crate::jet::grid::Fineness;
    use crate::jet::solver::{JetNumbers, Surroundings, solve};
    use crate::materials::gas::{GasSpecies, GasState};

    /// A nozzle of 75 um radius at 20 m/s.
    fn flyer() -> Flyer {
        let numbers = JetNumbers {
            reynolds: 200.0,
            stand_off_ratio: 5.0,
            exit: ExitProfile::Blend(0.0),
            surroundings: Surroundings::Open,
        };
        let shape = Shape { inlet_radius: 6.0, slope: 0.105, land: 1.0, mixing_length: 5.0 };
        Flyer {
            field: Some(Field::new(&solve(numbers, Fineness::Coarse).expect("converges"))),
            bore: BoreField::similar(&shape, 0.0),
            gas: GasState::new(GasSpecies::Nitrogen, 293.15, 101_325.0),
            nozzle_radius: 75e-6,
            exit_speed: 20.0,
            core_share: 0.2,
            lift_factor: 0.0,
            radius_factor: 1.0,
            refinement: 1.0,
        }
    }

    #[test]
    fn a_table_is_kept_whole_and_by_all_that_makes_it() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = FieldStore::in_folder(folder.path().join("jets"));
        let ranges = [[20e-9, 8e-6], [900.0, 2500.0]];
        let flown = || -> Result<Flyer, ()> { Ok(flyer()) };
        let unasked = || -> Result<Flyer, ()> { panic!("it is kept") };
        let new = LandingTable::kept(&store, &[1.0], ranges, flown).expect("it flies");
        let kept = LandingTable::kept(&store, &[1.0], ranges, unasked).expect("it reads");
        assert_eq!(format!("{new:?}"), format!("{kept:?}"));
        let (q, log) = (0.4, (2.5e-6_f64).ln());
        assert_eq!(new.find(q, log, 1300.0), kept.find(q, log, 1300.0));
        assert!(matches!(new.find(q, log, 1300.0), Found::Landed { .. }));
        for (from, ranges) in [(2.0, ranges), (1.0, [ranges[0], [900.0, 2400.0]]), (1.0, [[20e-9, 7e-6], ranges[1]])] {
            assert_eq!(LandingTable::kept(&store, &[from], ranges, || Err("asked")).err(), Some("asked"));
        }
        // One level only, and numbers that do not make a table.
        let one = LandingTable::new(&flyer(), ranges[0], [1000.0; 2]);
        assert!(LandingTable::from_numbers([1000.0; 2], &one.numbers()).is_some());
        assert!(LandingTable::from_numbers(ranges[1], &one.numbers()).is_none());
        assert!(LandingTable::from_numbers([1000.0; 2], &one.numbers()[1..]).is_none());
    }

    /// Kept tables must not outlive the flights that made them: if this sum changes, flights or rows have changed, and so must [`LAYOUT`].
    #[test]
    fn another_flight_takes_another_layout() {
        let table = LandingTable::new(&flyer(), [20e-9, 8e-6], [1000.0; 2]);
        let sum: f64 = table.light.rows.iter().map(|row| row.landing_share + row.wall_share).sum();
        let radii: f64 = table.light.rows.iter().flat_map(|row| row.nodes).map(|node| f64::from(node[0])).sum();
        assert_eq!(LAYOUT, 1.0);
        assert!((sum - 341.274_322).abs() < 1e-5 && (radii - 11.471_815).abs() < 1e-5, "{sum} {radii:e}");
    }
}
