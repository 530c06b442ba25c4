//! Which particles touch: what is joined to its electrode, and what joins two electrodes.
//!
//! Two rules. **Joining** follows contacts in space, at the heights at which the particles came to rest: a current takes this way. Each
//! ballistic particle rests on one other, so real deposits, pressed or drawn together, have more contacts: the joined share is a low
//! estimate. **Bridging** follows contacts seen from above, whatever the heights: it finds every bridge that could form, and some that
//! do not conduct: the probability of a bridge is a high estimate.

use crate::inputs::{Conduction, Outline};
use crate::map::near::Near;
use crate::map::{Particle, outline};
use std::f64::consts::PI;

/// Gap between surfaces across which two particles still touch, m. An estimate: about as far as electrons tunnel.
pub const TOUCH: f64 = 1e-9;
/// Most gaps between electrodes that are looked at, the narrowest ones.
const MOST_GAPS: usize = 15;
/// A particle lies in a gap if its distances from both electrodes add up to at most so many times the gap.
const GAP_ZONE: f64 = 1.5;
/// Largest over smallest particle of a size class.
const CLASS_RATIO: f64 = 2.0;

/// What touches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Gap between surfaces across which two particles still touch, m.
    pub touch: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self { touch: TOUCH }
    }
}

/// The solid of a powder, as far as contacts ask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solid {
    /// Whether it conducts electrons.
    pub conduction: Conduction,
    /// Theoretical capacity, C/m^3 of solid; 0 if not active.
    pub capacity: f64,
}

/// What touches what in a print.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// Active particles over each electrode, in the order of the electrodes.
    pub active: Vec<ActiveShare>,
    /// Pairs of electrodes that conducting particles of the bare chip join seen from above, the lower number first.
    pub bridges: Vec<[usize; 2]>,
    /// Largest conducting cluster in each gap, in the order of [`Electrodes::gaps`].
    pub clusters: Vec<GapCluster>,
}

/// Active particles over an electrode.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ActiveShare {
    /// Active particles whose centre lies over it.
    pub particles: u64,
    /// Those that rest on it or on conducting particles that lead to it.
    pub joined: u64,
    /// Capacity of all, C.
    pub capacity: f64,
    /// Capacity of the joined ones, C.
    pub joined_capacity: f64,
}

/// Two electrodes and the least distance between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Numbers of the electrodes, the lower one first.
    pub between: [usize; 2],
    /// Least distance of their edges, m.
    pub width: f64,
}

/// The cluster that spans most of a gap.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct GapCluster {
    /// How much of the gap it spans, measured as distance from the first electrode, m; the gap's width if it bridges.
    pub extent: f64,
    /// Its particles in the gap.
    pub particles: u64,
}

/// Electrodes of a chip, prepared once for all prints.
#[derive(Debug, Clone)]
pub struct Electrodes {
    outlines: Vec<Near>,
    gaps: Vec<Gap>,
}

/// Joins and bridges of one print: [`Electrodes::new`] and [`Electrodes::joined`] in one.
///
/// `solids` by powder; particles in order of landing with their heights.
pub fn joined(particles: &[Particle], solids: &[Solid], electrodes: &[Outline], rules: Rules) -> Joined {
    Electrodes::new(electrodes.to_vec()).joined(particles, solids, rules)
}

impl Electrodes {
    /// For these outlines.
    pub fn new(outlines: Vec<Outline>) -> Self {
        let mut gaps: Vec<Gap> = (0..outlines.len())
            .flat_map(|b| (0..b).map(move |a| [a, b]))
            .map(|[a, b]| Gap { between: [a, b], width: outline::gap(&outlines[a], &outlines[b]) })
            .filter(|gap| gap.width > 0.0)
            .collect();
        gaps.sort_by(|a, b| a.width.total_cmp(&b.width).then(a.between.cmp(&b.between)));
        gaps.truncate(MOST_GAPS);
        Self { outlines: outlines.into_iter().map(Near::new).collect(), gaps }
    }

    /// Number of electrodes.
    pub fn len(&self) -> usize {
        self.outlines.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.outlines.is_empty()
    }

    /// Gaps between electrodes, narrowest first.
    pub fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// Joins and bridges of one print.
    ///
    /// Conducting particles are sets that are united where they touch (union-find). Two particles touch where the gap between their surfaces
    /// is at most `rules.touch`: in space for joining, seen from above for bridging. A particle rests on an electrode if its lowest point
    /// touches the plane there; seen from above it touches an electrode that its disc overlaps.
    ///
    /// A bridge is a chain of conducting particles on the bare chip of which one end touches one electrode, or a conducting particle
    /// over it, and the other end the other. What lies over an electrode belongs to it; a way that leads over a third electrode is the
    /// bridges that it is made of.
    pub fn joined(&self, particles: &[Particle], solids: &[Solid], rules: Rules) -> Joined {
        let classes = classes_of(particles, solids, rules.touch);
        let spheres: Vec<Sphere> = classes.iter().flat_map(|class| class.members.iter().copied()).collect();
        let mut spatial = Sets::new(spheres.len() + self.len());
        let electrode_node = |electrode: usize| (spheres.len() + electrode) as u32;

        // Electrodes under and beside the particles.
        let mut over = vec![None; spheres.len()];
        let mut rests = vec![false; spheres.len()];
        // Conducting particles of the bare chip and electrodes that they touch; electrodes that touch without one.
        let mut touches: Vec<(u32, u32)> = Vec::new();
        let mut bridges: Vec<[usize; 2]> = Vec::new();
        let ordered = |a: usize, b: usize| [a.min(b), a.max(b)];
        for (slot, sphere) in spheres.iter().enumerate() {
            let mut beside: Vec<usize> = Vec::new();
            for electrode in 0..self.len() {
                let Some(distance) = self.outlines[electrode].within([sphere.x, sphere.y], sphere.radius + rules.touch)
                else {
                    continue;
                };
                if distance > 0.0 {
                    beside.push(electrode);
                    continue;
                }
                over[slot] = Some(electrode as u32);
                rests[slot] = sphere.z - sphere.radius <= rules.touch;
                if rests[slot] && sphere.conducts {
                    spatial.unite(slot as u32, electrode_node(electrode));
                }
            }
            if sphere.conducts {
                match over[slot] {
                    Some(own) => bridges.extend(beside.into_iter().map(|other| ordered(own as usize, other))),
                    None => touches.extend(beside.into_iter().map(|electrode| (slot as u32, electrode as u32))),
                }
            }
        }

        let mut flat = Sets::new(spheres.len());
        let mut leads: Vec<(u32, u32)> = Vec::new();
        each_contact(&classes, rules.touch, |a, b, distance_squared, touch_squared| {
            let (one, other) = (&spheres[a as usize], &spheres[b as usize]);
            if one.conducts && other.conducts {
                match (over[a as usize], over[b as usize]) {
                    (None, None) => flat.unite(a, b),
                    (Some(electrode), None) => touches.push((b, electrode)),
                    (None, Some(electrode)) => touches.push((a, electrode)),
                    (Some(one), Some(other)) if one != other => bridges.push(ordered(one as usize, other as usize)),
                    (Some(_), Some(_)) => {}
                }
            }
            let dz = one.z - other.z;
            if distance_squared + dz * dz <= touch_squared {
                match (one.conducts, other.conducts) {
                    (true, true) => spatial.unite(a, b),
                    (false, true) => leads.push((a, b)),
                    (true, false) => leads.push((b, a)),
                    (false, false) => {}
                }
            }
        });

        for &(active, conductor) in &leads {
            if let Some(electrode) = over[active as usize]
                && spatial.same(conductor, electrode_node(electrode as usize))
            {
                rests[active as usize] = true;
            }
        }
        let mut active = vec![ActiveShare::default(); self.len()];
        for (slot, sphere) in spheres.iter().enumerate() {
            let Some(electrode) = over[slot].filter(|_| sphere.capacity > 0.0) else { continue };
            let electrode = electrode as usize;
            let share = &mut active[electrode];
            share.particles += 1;
            share.capacity += sphere.capacity;
            if rests[slot] || sphere.conducts && spatial.same(slot as u32, electrode_node(electrode)) {
                share.joined += 1;
                share.joined_capacity += sphere.capacity;
            }
        }
        // Electrodes that a cluster of the bare chip touches are joined by it, two by two.
        let mut touched: Vec<(u32, u32)> =
            touches.into_iter().map(|(slot, electrode)| (flat.find(slot), electrode)).collect();
        touched.sort_unstable();
        touched.dedup();
        for cluster in touched.chunk_by(|a, b| a.0 == b.0) {
            for (k, one) in cluster.iter().enumerate() {
                bridges.extend(cluster[k + 1..].iter().map(|other| ordered(one.1 as usize, other.1 as usize)));
            }
        }
        bridges.sort_unstable();
        bridges.dedup();
        let clusters = self.clusters(&spheres, &over, &mut flat, &bridges);
        Joined { active, bridges, clusters }
    }

    /// The cluster in each gap that spans most of it: conducting particles of the bare chip that touch one another, as far as they lie in
    /// the gap. `over` is the electrode below each particle; `flat` the clusters; a gap that is bridged is spanned as a whole.
    fn clusters(
        &self,
        spheres: &[Sphere],
        over: &[Option<u32>],
        flat: &mut Sets,
        bridges: &[[usize; 2]],
    ) -> Vec<GapCluster> {
        // Cluster, near and far end of a particle as distances from the gap's first electrode.
        let mut parts: Vec<Vec<(u32, f64, f64)>> = vec![vec![]; self.gaps.len()];
        let mut distances = vec![f64::NAN; self.len()];
        let bare = |slot: usize, sphere: &Sphere| sphere.conducts && over[slot].is_none();
        for (slot, sphere) in spheres.iter().enumerate().filter(|(slot, sphere)| bare(*slot, sphere)) {
            let point = [sphere.x, sphere.y];
            distances.fill(f64::NAN);
            for (gap, parts) in self.gaps.iter().zip(&mut parts) {
                let zone = GAP_ZONE * gap.width;
                let [one, other] = gap.between;
                let at_least = |electrode: usize| self.outlines[electrode].at_least(point);
                if at_least(one) + at_least(other) > zone {
                    continue;
                }
                let [near, far] = [one, other].map(|electrode| {
                    if distances[electrode].is_nan() {
                        distances[electrode] = outline::distance(self.outlines[electrode].outline(), point);
                    }
                    distances[electrode]
                });
                if near + far <= zone {
                    parts.push((flat.find(slot as u32), near - sphere.radius, near + sphere.radius));
                }
            }
        }
        let largest = |gap: &Gap, mut parts: Vec<(u32, f64, f64)>| {
            parts.sort_unstable_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            let clusters = parts.chunk_by(|a, b| a.0 == b.0).map(|cluster| {
                let far = cluster.iter().map(|part| part.2).fold(0.0, f64::max).min(gap.width);
                GapCluster { extent: far - cluster[0].1.clamp(0.0, far), particles: cluster.len() as u64 }
            });
            let largest = clusters.max_by(|a, b| a.extent.total_cmp(&b.extent).then(a.particles.cmp(&b.particles)));
            let largest = largest.unwrap_or_default();
            if bridges.contains(&gap.between) { GapCluster { extent: gap.width, ..largest } } else { largest }
        };
        self.gaps.iter().zip(parts).map(|(gap, parts)| largest(gap, parts)).collect()
    }
}

/// A particle as the search needs it.
#[derive(Debug, Clone, Copy)]
struct Sphere {
    x: f64,
    y: f64,
    z: f64,
    radius: f64,
    /// Theoretical capacity, C; 0 if not active.
    capacity: f64,
    conducts: bool,
}

/// Particles of similar size, sorted by cell.
///
/// Far places share cells (the table wraps round), which costs a comparison and changes nothing.
struct Class {
    /// No particle of the class is larger, m.
    largest_radius: f64,
    /// Edge of a cell, m: as wide as any particle of the class or of a smaller one reaches.
    cell: f64,
    /// Lower left corner of the first cell, m.
    corner: [f64; 2],
    /// Cells along x and y, powers of two.
    size: [usize; 2],
    /// Number of the class's first particle among all.
    first: u32,
    /// Where each cell's particles begin, and the end.
    starts: Vec<u32>,
    members: Vec<Sphere>,
}

impl Class {
    fn cell_of(&self, at: f64, axis: usize) -> i64 {
        ((at - self.corner[axis]) / self.cell).floor() as i64
    }

    /// Row and first column of the cells, wrapped.
    fn wrapped(&self, cell: i64, axis: usize) -> usize {
        cell.rem_euclid(self.size[axis] as i64) as usize
    }

    fn new(
        spheres: &[Sphere],
        first: u32,
        largest_radius: f64,
        corner: [f64; 2],
        extent: [f64; 2],
        touch: f64,
    ) -> Self {
        let cell = 2.0 * largest_radius + touch;
        let most = (2 * spheres.len()).next_power_of_two().max(64);
        let mut size = extent.map(|length| ((length / cell).min(1e6) as usize + 1).next_power_of_two());
        while size[0] * size[1] > most {
            let longer = usize::from(size[1] > size[0]);
            size[longer] /= 2;
        }
        let mut class = Self { largest_radius, cell, corner, size, first, starts: vec![], members: vec![] };
        let places: Vec<u32> = spheres
            .iter()
            .map(|s| {
                let (row, column) = (class.cell_of(s.y, 1), class.cell_of(s.x, 0));
                (class.wrapped(row, 1) * size[0] + class.wrapped(column, 0)) as u32
            })
            .collect();
        let mut starts = vec![0u32; size[0] * size[1] + 1];
        for place in &places {
            starts[*place as usize + 1] += 1;
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut order = vec![0u32; spheres.len()];
        for (k, place) in places.iter().enumerate() {
            order[next[*place as usize] as usize] = k as u32;
            next[*place as usize] += 1;
        }
        class.members = order.iter().map(|k| spheres[*k as usize]).collect();
        class.starts = starts;
        class
    }

    /// Calls `f` with ranges of members that hold all whose centre may lie within `reach` of a point.
    #[inline]
    fn around(&self, [x, y]: [f64; 2], reach: f64, mut f: impl FnMut(std::ops::Range<usize>)) {
        let range = |at: f64, axis: usize| {
            let first = self.cell_of(at - reach, axis);
            // Never round the table twice.
            (first, self.cell_of(at + reach, axis).min(first + self.size[axis] as i64 - 1))
        };
        let ((left, right), (low, high)) = (range(x, 0), range(y, 1));
        let (left, count) = (self.wrapped(left, 0), (right - left) as usize + 1);
        // Cells of a row lie together, save where the table wraps round.
        let straight = count.min(self.size[0] - left);
        for row in low..=high {
            let row = self.wrapped(row, 1) * self.size[0];
            let cells = |from: usize, to: usize| self.starts[row + from] as usize..self.starts[row + to] as usize;
            f(cells(left, left + straight));
            if count > straight {
                f(cells(0, count - straight));
            }
        }
    }
}

/// Conducting and active particles in classes of size, smallest first.
fn classes_of(particles: &[Particle], solids: &[Solid], touch: f64) -> Vec<Class> {
    let spheres: Vec<Sphere> = particles
        .iter()
        .filter_map(|p| {
            let solid = solids[usize::from(p.powder)];
            let conducts = solid.conduction == Conduction::Conducting;
            let capacity = solid.capacity * PI / 6.0 * p.diameter.powi(3);
            (conducts || capacity > 0.0).then_some(Sphere {
                x: p.x,
                y: p.y,
                z: p.z,
                radius: 0.5 * p.diameter,
                capacity,
                conducts,
            })
        })
        .collect();
    if spheres.is_empty() {
        return vec![];
    }
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for s in &spheres {
        for (k, at) in [s.x, s.y].into_iter().enumerate() {
            low[k] = low[k].min(at);
            high[k] = high[k].max(at);
        }
    }
    // The first class holds the smallest third; each further one reaches up to a fixed multiple of the one before.
    let mut radii: Vec<f64> = spheres.iter().map(|s| s.radius).collect();
    let third = radii.len() / 3;
    let first_limit = *radii.select_nth_unstable_by(third, f64::total_cmp).1;
    let class_of = |radius: f64| {
        let (mut class, mut limit) = (0, first_limit);
        while radius > limit {
            limit *= CLASS_RATIO;
            class += 1;
        }
        class
    };
    let mut sorted: Vec<Vec<Sphere>> = vec![];
    for sphere in spheres {
        let class: usize = class_of(sphere.radius);
        if class >= sorted.len() {
            sorted.resize(class + 1, vec![]);
        }
        sorted[class].push(sphere);
    }
    let extent = [high[0] - low[0], high[1] - low[1]];
    let mut first = 0;
    sorted
        .into_iter()
        .enumerate()
        .filter(|(_, spheres)| !spheres.is_empty())
        .map(|(k, spheres)| {
            let class = Class::new(&spheres, first, first_limit * CLASS_RATIO.powi(k as i32), low, extent, touch);
            first += spheres.len() as u32;
            class
        })
        .collect()
}

/// Calls `f(one, other, squared distance seen from above, squared distance of touching)` once for each pair of particles that touch seen
/// from above; particles are numbered as the classes hold them.
fn each_contact(classes: &[Class], touch: f64, mut f: impl FnMut(u32, u32, f64, f64)) {
    for (k, class) in classes.iter().enumerate() {
        for (i, one) in class.members.iter().enumerate() {
            for (j, larger) in classes[k..].iter().enumerate() {
                let reach = one.radius + larger.largest_radius + touch;
                // Within its own class each particle meets those after it.
                let least = if j == 0 { i + 1 } else { 0 };
                larger.around([one.x, one.y], reach, |range| {
                    for other in range.start.max(least)..range.end {
                        let sphere = &larger.members[other];
                        let (dx, dy) = (one.x - sphere.x, one.y - sphere.y);
                        let apart = dx * dx + dy * dy;
                        let touching = one.radius + sphere.radius + touch;
                        if apart <= touching * touching {
                            f(class.first + i as u32, larger.first + other as u32, apart, touching * touching);
                        }
                    }
                });
            }
        }
    }
}

/// Sets that are united two by two; the root of a set is its lowest number.
///
/// Source: Galler & Fischer 1964, An improved equivalence algorithm, Commun. ACM 7:301; paths are halved on the way (van Leeuwen & van der
/// Weide 1977, memory).
struct Sets(Vec<u32>);

impl Sets {
    fn new(count: usize) -> Self {
        Self((0..count as u32).collect())
    }

    #[inline]
    fn find(&mut self, mut node: u32) -> u32 {
        loop {
            let above = self.0[node as usize];
            if above == node {
                return node;
            }
            let next = self.0[above as usize];
            self.0[node as usize] = next;
            node = next;
        }
    }

    #[inline]
    fn unite(&mut self, a: u32, b: u32) {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b) as usize] = a.min(b);
    }

    fn same(&mut self, a: u32, b: u32) -> bool {
        self.find(a) == self.find(b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::stack;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};

    const SOLIDS: [Solid; 3] = [
        Solid { conduction: Conduction::Insulating, capacity: 1e9 },
        Solid { conduction: Conduction::Conducting, capacity: 0.0 },
        Solid { conduction: Conduction::Conducting, capacity: 2e9 },
    ];

    fn square(x: f64) -> Outline {
        Outline::Rectangle { center: [x, 0.0], size: [10e-6, 10e-6], rotation: 0.0 }
    }

    fn ball(powder: u16, x: f64, y: f64, z: f64) -> Particle {
        Particle { x: x * 1e-6, y: y * 1e-6, z: z * 1e-6, diameter: 1e-6, powder, droplet: 0 }
    }

    /// Three electrodes of 10 um in a row, 7 um of bare chip between each two: A from -22 um, C in the middle, B up to 22 um.
    #[test]
    fn a_third_electrode_and_what_lies_on_it_belong_to_no_cluster_of_a_gap() {
        let electrodes = Electrodes::new(vec![square(-17e-6), square(17e-6), square(0.0)]);
        // A to C and C to B are 7 um wide, A to B 24 um.
        let between: Vec<[usize; 2]> = electrodes.gaps().iter().map(|gap| gap.between).collect();
        assert_eq!(between, [[0, 2], [1, 2], [0, 1]]);
        let row = |from: f64, count: u32| (0..count).map(move |k| ball(1, from + f64::from(k), 0.0, 0.5));
        let look = |balls: Vec<Particle>| electrodes.joined(&balls, &SOLIDS, Rules::default());
        let spans = |joined: &Joined| -> Vec<(f64, u64)> {
            joined.clusters.iter().map(|c| ((c.extent * 1e9).round() * 1e-3, c.particles)).collect()
        };
        // Three balls from the edge of A on, carbon all over C, two balls off C: no bridge; each gap has its own cluster.
        let pad = || (0..100).map(|k| ball(1, -4.5 + f64::from(k % 10), -4.5 + f64::from(k / 10), 0.5));
        let loose: Vec<Particle> = row(-11.5, 3).chain(pad()).chain(row(5.5, 2)).collect();
        let found = look(loose.clone());
        assert_eq!(found.bridges, Vec::<[usize; 2]>::new());
        assert_eq!(spans(&found), [(3.0, 3), (2.0, 2), (3.0, 3)]);
        // Without the carbon on C nothing changes: it lies on an electrode.
        let bare: Vec<Particle> = row(-11.5, 3).chain(row(5.5, 2)).collect();
        assert_eq!(look(bare), found);
        // Less carbon in the gap: a smaller cluster.
        let less = look(row(-11.5, 1).chain(pad()).collect());
        assert_eq!(spans(&less), [(1.0, 1), (0.0, 0), (1.0, 1)]);
        // Whole rows: A to C and C to B are bridged, and that is what a way from A to B is made of.
        let whole = look(row(-11.5, 7).chain(pad()).chain(row(5.5, 7)).collect());
        assert_eq!(whole.bridges, [[0, 2], [1, 2]]);
        assert_eq!(spans(&whole)[..2], [(7.0, 7), (7.0, 7)]);
        assert!((spans(&whole)[2].0 - 7.0).abs() < 1e-9, "no more than its own row: {:?}", spans(&whole)[2]);
        // A bow around C from A to B is a bridge of its own.
        let bow = (0..36).map(|k| ball(1, -17.5 + f64::from(k), 5.5, 0.5));
        assert_eq!(look(bow.collect()).bridges, [[0, 1], [0, 2], [1, 2]]);
    }

    #[test]
    fn joins_and_bridges_by_hand() {
        // Electrodes from -12 to -2 um and from 2 to 12 um; balls of 1 um.
        let electrodes = [square(-7e-6), square(7e-6)];
        let mut balls = vec![
            ball(0, -8.0, 0.0, 0.5), // rests on the first electrode: joined
            ball(0, -8.0, 0.0, 1.5), // on an insulating grain: not joined
            ball(1, -5.0, 0.0, 0.5), // carbon on the electrode
            ball(0, -5.0, 0.0, 1.5), // on it: joined
            ball(0, -5.0, 0.0, 2.5), // on the grain above: not joined
            ball(2, 7.0, 0.0, 0.5),  // conducts and stores: joined
            ball(2, 7.0, 0.0, 1.5),  // through it: joined
            ball(0, 0.0, 3.0, 0.5),  // on no electrode: counts nowhere
        ];
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        let grain = 1e9 * PI / 6.0 * 1e-18;
        assert_eq!((found.active[0].particles, found.active[0].joined), (4, 2));
        assert!((found.active[0].joined_capacity / (2.0 * grain) - 1.0).abs() < 1e-12);
        assert!((found.active[0].capacity / (4.0 * grain) - 1.0).abs() < 1e-12);
        assert_eq!((found.active[1].particles, found.active[1].joined), (2, 2));
        assert_eq!(found.bridges, Vec::<[usize; 2]>::new());
        assert_eq!(found.clusters, [GapCluster::default()]);

        // A chain from the first electrode over 3.9 of the 4 um.
        for x in [-1.6, -0.6, 0.4, 1.4] {
            balls.push(ball(1, x, 0.0, 0.5));
        }
        balls.push(ball(1, 0.0, -4.0, 0.5));
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        assert!(found.bridges.is_empty());
        assert!((found.clusters[0].extent - 3.9e-6).abs() < 1e-12);
        assert_eq!(found.clusters[0].particles, 4);
        // Half a nanometre short of touching still touches; two do not.
        for (short, touches) in [(0.5e-9, true), (2e-9, false)] {
            let mut chain = balls.clone();
            chain[11].x = 1.5e-6 - short;
            chain[10].x = chain[11].x - 1e-6;
            chain[9].x = chain[10].x - 1e-6;
            chain[8].x = chain[9].x - 1e-6;
            assert_eq!(!joined(&chain, &SOLIDS, &electrodes, Rules::default()).bridges.is_empty(), touches);
        }
        // High above the chain: no contact in space, but seen from above it closes the gap.
        balls.push(ball(1, 1.9, 0.0, 50.0));
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        assert_eq!(found.bridges, [[0, 1]]);
        assert!((found.clusters[0].extent - 4e-6).abs() < 1e-15 && found.clusters[0].particles == 5);
        // The same chain of grains that do not conduct bridges nothing.
        balls.iter_mut().for_each(|ball| ball.powder = 0);
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        assert!(found.bridges.is_empty() && found.clusters[0] == GapCluster::default());
    }

    /// Every pair compared, sets by repeated relabelling.
    fn plainly(particles: &[Particle], electrodes: &[Outline], touch: f64) -> (Vec<[u64; 2]>, Vec<[usize; 2]>) {
        let n = particles.len();
        let conducts = |i: usize| SOLIDS[particles[i].powder as usize].conduction == Conduction::Conducting;
        let spatial = {
            let mut label: Vec<usize> = (0..n + electrodes.len()).collect();
            let unite = |label: &mut Vec<usize>, a: usize, b: usize| {
                let (from, to) = (label[a].max(label[b]), label[a].min(label[b]));
                label.iter_mut().filter(|l| **l == from).for_each(|l| *l = to);
            };
            for i in (0..n).filter(|i| conducts(*i)) {
                let p = particles[i];
                for j in (0..i).filter(|j| conducts(*j)) {
                    let q = particles[j];
                    let apart = ((p.x - q.x).powi(2) + (p.y - q.y).powi(2) + (p.z - q.z).powi(2)).sqrt();
                    if apart <= 0.5 * (p.diameter + q.diameter) + touch {
                        unite(&mut label, i, j);
                    }
                }
                for (e, outline) in electrodes.iter().enumerate() {
                    let distance = outline::distance(outline, [p.x, p.y]);
                    if distance == 0.0 && p.z - 0.5 * p.diameter <= touch {
                        unite(&mut label, i, n + e);
                    }
                }
            }
            label
        };
        let active = electrodes
            .iter()
            .enumerate()
            .map(|(e, outline)| {
                let on: Vec<usize> = (0..n)
                    .filter(|i| {
                        SOLIDS[particles[*i].powder as usize].capacity > 0.0
                            && outline::contains(outline, [particles[*i].x, particles[*i].y])
                    })
                    .collect();
                let joined = on.iter().filter(|i| {
                    let p = particles[**i];
                    let leads = |j: usize| {
                        let q = particles[j];
                        let apart = ((p.x - q.x).powi(2) + (p.y - q.y).powi(2) + (p.z - q.z).powi(2)).sqrt();
                        spatial[j] == spatial[n + e] && apart <= 0.5 * (p.diameter + q.diameter) + touch
                    };
                    p.z - 0.5 * p.diameter <= touch || (0..n).filter(|j| conducts(*j)).any(leads)
                });
                [on.len() as u64, joined.count() as u64]
            })
            .collect();
        // Bridges by walking from each electrode over the bare chip.
        let over = |i: usize| {
            (0..electrodes.len()).find(|e| outline::contains(&electrodes[*e], [particles[i].x, particles[i].y]))
        };
        let meet = |i: usize, j: usize| {
            let (p, q) = (particles[i], particles[j]);
            (p.x - q.x).hypot(p.y - q.y) <= 0.5 * (p.diameter + q.diameter) + touch
        };
        let conducting: Vec<usize> = (0..n).filter(|i| conducts(*i)).collect();
        let reaches = |i: usize, e: usize| {
            outline::distance(&electrodes[e], [particles[i].x, particles[i].y]) <= 0.5 * particles[i].diameter + touch
                || conducting.iter().any(|j| over(*j) == Some(e) && meet(i, *j))
        };
        let bridged = |a: usize, b: usize| {
            if conducting.iter().any(|i| over(*i) == Some(a) && reaches(*i, b) || over(*i) == Some(b) && reaches(*i, a))
            {
                return true;
            }
            let bare: Vec<usize> = conducting.iter().copied().filter(|i| over(*i).is_none()).collect();
            let mut seen: Vec<usize> = bare.iter().copied().filter(|i| reaches(*i, a)).collect();
            let mut next = 0;
            while next < seen.len() {
                let more: Vec<usize> =
                    bare.iter().copied().filter(|j| !seen.contains(j) && meet(seen[next], *j)).collect();
                seen.extend(more);
                next += 1;
            }
            seen.iter().any(|i| reaches(*i, b))
        };
        let mut bridges = vec![];
        for b in 0..electrodes.len() {
            bridges.extend((0..b).filter(|a| bridged(*a, b)).map(|a| [a, b]));
        }
        bridges.sort_unstable();
        (active, bridges)
    }

    #[test]
    fn cells_and_classes_change_nothing() {
        let electrodes = [square(-8e-6), square(8e-6), Outline::Disc { center: [0.0, 12e-6], radius: 4e-6 }];
        let (mut some_joined, mut some_bridged) = (0, 0);
        for (seed, count, spread) in
            [(1, 400, 30e-6), (2, 900, 30e-6), (3, 700, 25e-6), (4, 500, 400e-6), (5, 60, 30e-6)]
        {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
            // 40 nm to 4 um.
            let mut particles: Vec<Particle> = (0..count)
                .map(|_| Particle {
                    x: (random.random::<f64>() - 0.5) * spread,
                    y: (random.random::<f64>() - 0.5) * spread,
                    z: 0.0,
                    diameter: 40e-9 * 100f64.powf(random.random::<f64>().powi(2)),
                    powder: random.random_range(0..3u16),
                    droplet: 0,
                })
                .collect();
            stack::stack(&mut particles);
            let quick = joined(&particles, &SOLIDS, &electrodes, Rules::default());
            let (active, bridges) = plainly(&particles, &electrodes, TOUCH);
            assert_eq!(quick.active.iter().map(|a| [a.particles, a.joined]).collect::<Vec<_>>(), active, "seed {seed}");
            assert_eq!(quick.bridges, bridges, "seed {seed}");
            some_joined += active.iter().filter(|[on, joined]| joined < on && *joined > 0).count();
            some_bridged += bridges.len();
            // Planted fault: particles that count as touching across 5 um.
            if active.iter().any(|[on, _]| *on > 0) {
                assert_ne!(joined(&particles, &SOLIDS, &electrodes, Rules { touch: 5e-6 }), quick);
            }
        }
        assert!(some_joined > 5 && some_bridged > 1, "{some_joined} {some_bridged}: the cases tell something");
    }

    #[test]
    fn nothing_there_gives_nothing() {
        let none = joined(&[], &SOLIDS, &[square(0.0), square(20e-6)], Rules::default());
        assert_eq!(none.active, vec![ActiveShare::default(); 2]);
        assert!(none.bridges.is_empty() && none.clusters == [GapCluster::default()]);
        assert!(joined(&[ball(1, 0.0, 0.0, 0.5)], &SOLIDS, &[], Rules::default()).active.is_empty());
    }
}
