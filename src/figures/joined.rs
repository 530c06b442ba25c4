//! Which particles touch: what is joined to its electrode, and what joins two electrodes.
//!
//! Two rules. **Joining** follows contacts in space, at the heights at which the particles came to rest: a current takes this way. Each
//! ballistic particle rests on one other, so real deposits, pressed or drawn together, have more contacts: the joined share is a low
//! estimate. **Bridging** follows contacts seen from above, whatever the heights: it finds every bridge that could form, and some that
//! do not conduct: the probability of a bridge is a high estimate.

use super::cells::{Cells, Look};
use super::stack::Dropper;
use motefall_physics::inputs::{Conduction, Outline};
use motefall_physics::map::near::Near;
use motefall_physics::map::{Particle, outline};
use std::f64::consts::PI;

/// Gap between surfaces across which two particles still touch, m. An estimate: about as far as electrons tunnel.
pub const TOUCH: f64 = 1e-9;
/// Most gaps between electrodes that are looked at, the narrowest ones.
const MOST_GAPS: usize = 15;
/// A particle lies in a gap if its distances from both electrodes add up to at most so many times the gap.
const GAP_ZONE: f64 = 1.5;

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

/// Lists that serve print after print.
#[derive(Debug, Default)]
pub struct Lists {
    dropper: Dropper,
    cells: Cells,
    /// Electrode below each particle; only of those that conduct or are active.
    over: Vec<Option<u32>>,
    /// Sets of conducting particles and of electrodes, which follow the particles, by contacts in space.
    spatial: Sets,
    /// Active particles that do not conduct and conducting ones that touch them.
    leads: Vec<(u32, u32)>,
    /// Conducting particles of the bare chip, and those that may reach over the edge of the electrode that they lie over.
    open: Vec<u32>,
    /// Sets of these, by their places in the list, by contacts seen from above.
    flat: Sets,
    /// Those of the bare chip and electrodes that they touch, or touch conducting particles over.
    touches: Vec<(u32, u32)>,
    bridges: Vec<[usize; 2]>,
}

/// Joins and bridges of one print: [`Electrodes::new`] and [`Electrodes::joined`] in one.
///
/// `solids` by powder; particles in order of landing.
pub fn joined(particles: &[Particle], solids: &[Solid], electrodes: &[Outline], rules: Rules) -> Joined {
    Electrodes::new(electrodes.to_vec()).joined(particles, solids, rules, &mut Lists::default())
}

impl Solid {
    fn conducts(&self) -> bool {
        self.conduction == Conduction::Conducting
    }

    fn is_active(&self) -> bool {
        self.capacity > 0.0
    }
}

fn ordered(a: u32, b: u32) -> [usize; 2] {
    [a.min(b) as usize, a.max(b) as usize]
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

    /// Joins and bridges of one print, whose particles are dropped in the order given: their heights are not looked at.
    ///
    /// Conducting particles are sets that are united where they touch (union-find). Two particles touch where the gap between their surfaces
    /// is at most `rules.touch`: in space for joining, seen from above for bridging. A particle rests on an electrode if its lowest point
    /// touches the plane there; seen from above it touches an electrode that its disc overlaps.
    ///
    /// A bridge is a chain of conducting particles on the bare chip of which one end touches one electrode, or a conducting particle
    /// over it, and the other end the other. What lies over an electrode belongs to it; a way that leads over a third electrode is the
    /// bridges that it is made of. Electrodes do not overlap.
    pub fn joined(&self, particles: &[Particle], solids: &[Solid], rules: Rules, lists: &mut Lists) -> Joined {
        self.find_electrodes(particles, solids, rules, lists);
        let active = self.active(particles, solids, rules, lists);
        self.find_bridges(particles, rules, lists);
        let clusters = self.clusters(particles, lists);
        Joined { active, bridges: lists.bridges.clone(), clusters }
    }

    /// Electrodes under and beside the particles, bridges without a particle of the bare chip, and which particles may take part in others.
    fn find_electrodes(&self, particles: &[Particle], solids: &[Solid], rules: Rules, lists: &mut Lists) {
        let Lists { over, open, touches, bridges, .. } = lists;
        let solid = |p: &Particle| &solids[usize::from(p.powder)];
        over.clear();
        over.resize(particles.len(), None);
        open.clear();
        touches.clear();
        bridges.clear();
        let mut beside: Vec<u32> = Vec::new();
        for (k, p) in particles.iter().enumerate() {
            let (point, radius) = ([p.x, p.y], 0.5 * p.diameter);
            let reach = match (solid(p).conducts(), solid(p).is_active()) {
                (true, _) => radius + rules.touch,
                (false, true) => 0.0,
                (false, false) => continue,
            };
            beside.clear();
            for (electrode, outline) in (0..).zip(&self.outlines) {
                match outline.within(point, reach) {
                    None => {}
                    Some(distance) if distance > 0.0 => beside.push(electrode),
                    Some(_) => over[k] = Some(electrode),
                }
            }
            if !solid(p).conducts() {
                continue;
            }
            let Some(own) = over[k] else {
                touches.extend(beside.iter().map(|electrode| (open.len() as u32, *electrode)));
                open.push(k as u32);
                continue;
            };
            bridges.extend(beside.iter().map(|other| ordered(own, *other)));
            // Deeper inside than it is large: what it touches beyond the electrode touches the electrode itself.
            if self.outlines[own as usize].depth_at_least(point) <= radius + rules.touch.max(0.0) {
                open.push(k as u32);
            }
        }
    }

    /// Active particles over each electrode, and how many of them are joined to it.
    fn active(&self, particles: &[Particle], solids: &[Solid], rules: Rules, lists: &mut Lists) -> Vec<ActiveShare> {
        let Lists { dropper, over, spatial, leads, .. } = lists;
        let mut shares = vec![ActiveShare::default(); self.len()];
        let solid = |k: usize| &solids[usize::from(particles[k].powder)];
        if !over.iter().enumerate().any(|(k, over)| over.is_some() && solid(k).is_active()) {
            // Nobody asks for heights.
            return shares;
        }
        let node = |electrode: u32| particles.len() as u32 + electrode;
        spatial.separate(particles.len() + self.len());
        leads.clear();
        dropper.drop(particles, rules.touch, |later, earlier| {
            match (solid(later).conducts(), solid(earlier).conducts()) {
                (true, true) => spatial.unite(later as u32, earlier as u32),
                (false, true) => leads.push((later as u32, earlier as u32)),
                (true, false) => leads.push((earlier as u32, later as u32)),
                (false, false) => {}
            }
        });
        let rests = |k: usize| dropper.height(k) - 0.5 * particles[k].diameter <= rules.touch;
        for (k, over) in over.iter().enumerate() {
            if let Some(electrode) = over.filter(|_| solid(k).conducts() && rests(k)) {
                spatial.unite(k as u32, node(electrode));
            }
        }
        for &(active, conductor) in leads.iter() {
            if let Some(electrode) = over[active as usize]
                && spatial.same(conductor, node(electrode))
            {
                // It does not conduct and so leads no further: nothing else is united with it.
                spatial.unite(active, node(electrode));
            }
        }
        for (k, p) in particles.iter().enumerate() {
            let Some(electrode) = over[k].filter(|_| solid(k).is_active()) else { continue };
            let capacity = solid(k).capacity * PI / 6.0 * p.diameter.powi(3);
            let share = &mut shares[electrode as usize];
            share.particles += 1;
            share.capacity += capacity;
            if rests(k) || spatial.same(k as u32, node(electrode)) {
                share.joined += 1;
                share.joined_capacity += capacity;
            }
        }
        shares
    }

    /// Clusters of conducting particles of the bare chip, seen from above, and the pairs of electrodes that they join.
    fn find_bridges(&self, particles: &[Particle], rules: Rules, lists: &mut Lists) {
        let Lists { cells, over, open, flat, touches, bridges, .. } = lists;
        let disc = |k: u32| {
            let p = &particles[k as usize];
            ([p.x, p.y], 0.5 * p.diameter)
        };
        let margin = rules.touch.max(0.0);
        flat.separate(open.len());
        cells.lay(open.iter().map(|k| disc(*k)).map(|(middle, radius)| (middle, radius + margin)));
        for (one, k) in (0..).zip(open.iter()) {
            let (middle, radius) = disc(*k);
            let reach = cells.reach(middle, radius + margin);
            cells.visit(reach, |other, _| {
                let (place, other_radius) = disc(open[other as usize]);
                let (dx, dy) = (middle[0] - place[0], middle[1] - place[1]);
                let touching = radius + other_radius + rules.touch;
                if dx * dx + dy * dy <= touching * touching {
                    match (over[*k as usize], over[open[other as usize] as usize]) {
                        (None, None) => flat.unite(one, other),
                        (Some(electrode), None) => touches.push((other, electrode)),
                        (None, Some(electrode)) => touches.push((one, electrode)),
                        (Some(a), Some(b)) if a != b => bridges.push(ordered(a, b)),
                        (Some(_), Some(_)) => {}
                    }
                }
                Look::On
            });
            cells.insert(reach, one, 0.0);
        }
        // Electrodes that a cluster of the bare chip touches are joined by it, two by two.
        touches.iter_mut().for_each(|(particle, _)| *particle = flat.find(*particle));
        touches.sort_unstable();
        touches.dedup();
        for cluster in touches.chunk_by(|a, b| a.0 == b.0) {
            for (k, one) in cluster.iter().enumerate() {
                bridges.extend(cluster[k + 1..].iter().map(|other| ordered(one.1, other.1)));
            }
        }
        bridges.sort_unstable();
        bridges.dedup();
    }

    /// The cluster in each gap that spans most of it: conducting particles of the bare chip that touch one another, as far as they lie in
    /// the gap; a gap that is bridged is spanned as a whole.
    fn clusters(&self, particles: &[Particle], lists: &mut Lists) -> Vec<GapCluster> {
        let Lists { over, open, flat, bridges, .. } = lists;
        // Cluster, near and far end of a particle as distances from the gap's first electrode.
        let mut parts: Vec<Vec<(u32, f64, f64)>> = vec![vec![]; self.gaps.len()];
        let (mut at_least, mut distances) = (vec![0.0; self.len()], vec![None; self.len()]);
        for (one, k) in (0..).zip(open.iter()).filter(|(_, k)| over[**k as usize].is_none()) {
            let p = &particles[*k as usize];
            let (point, radius) = ([p.x, p.y], 0.5 * p.diameter);
            at_least.iter_mut().zip(&self.outlines).for_each(|(at_least, near)| *at_least = near.at_least(point));
            distances.fill(None);
            for (gap, parts) in self.gaps.iter().zip(&mut parts) {
                let zone = GAP_ZONE * gap.width;
                let [a, b] = gap.between;
                if at_least[a] + at_least[b] > zone {
                    continue;
                }
                let exact = |electrode: usize| outline::distance(self.outlines[electrode].outline(), point);
                let [near, far] =
                    gap.between.map(|electrode| *distances[electrode].get_or_insert_with(|| exact(electrode)));
                if near + far <= zone {
                    parts.push((flat.find(one), near - radius, near + radius));
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

/// Sets that are united two by two; the root of a set is its lowest number.
///
/// Source: Galler & Fischer 1964, An improved equivalence algorithm, Commun. ACM 7:301; paths are halved on the way (van Leeuwen & van der
/// Weide 1977, memory).
#[derive(Debug, Default)]
struct Sets(Vec<u32>);

impl Sets {
    /// So many sets of one each.
    fn separate(&mut self, count: usize) {
        self.0.clear();
        self.0.extend(0..count as u32);
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
    use crate::stack::Pile;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};

    const SOLIDS: [Solid; 3] = [
        Solid { conduction: Conduction::Insulating, capacity: 1e9 },
        Solid { conduction: Conduction::Conducting, capacity: 0.0 },
        Solid { conduction: Conduction::Conducting, capacity: 2e9 },
    ];

    fn square(x: f64) -> Outline {
        Outline::Rectangle { center: [x, 0.0], size: [10e-6, 10e-6], rotation: 0.0 }
    }

    fn ball(powder: u16, x: f64, y: f64) -> Particle {
        Particle { x: x * 1e-6, y: y * 1e-6, diameter: 1e-6, powder, droplet: 0 }
    }

    /// Three electrodes of 10 um in a row, 7 um of bare chip between each two: A from -22 um, C in the middle, B up to 22 um.
    #[test]
    fn a_third_electrode_and_what_lies_on_it_belong_to_no_cluster_of_a_gap() {
        let electrodes = Electrodes::new(vec![square(-17e-6), square(17e-6), square(0.0)]);
        // A to C and C to B are 7 um wide, A to B 24 um.
        let between: Vec<[usize; 2]> = electrodes.gaps().iter().map(|gap| gap.between).collect();
        assert_eq!(between, [[0, 2], [1, 2], [0, 1]]);
        let row = |from: f64, count: u32| (0..count).map(move |k| ball(1, from + f64::from(k), 0.0));
        let look = |balls: Vec<Particle>| electrodes.joined(&balls, &SOLIDS, Rules::default(), &mut Lists::default());
        let spans = |joined: &Joined| -> Vec<(f64, u64)> {
            joined.clusters.iter().map(|c| ((c.extent * 1e9).round() * 1e-3, c.particles)).collect()
        };
        // Three balls from the edge of A on, carbon all over C, two balls off C: no bridge; each gap has its own cluster.
        let pad = || (0..100).map(|k| ball(1, -4.5 + f64::from(k % 10), -4.5 + f64::from(k / 10)));
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
        let bow = (0..36).map(|k| ball(1, -17.5 + f64::from(k), 5.5));
        assert_eq!(look(bow.collect()).bridges, [[0, 1], [0, 2], [1, 2]]);
    }

    #[test]
    fn joins_and_bridges_by_hand() {
        // Electrodes from -12 to -2 um and from 2 to 12 um; balls of 1 um.
        let electrodes = [square(-7e-6), square(7e-6)];
        let mut balls = vec![
            ball(0, -8.0, 0.0), // rests on the first electrode: joined
            ball(0, -8.0, 0.0), // on an insulating grain: not joined
            ball(1, -5.0, 0.0), // carbon on the electrode
            ball(0, -5.0, 0.0), // on it: joined
            ball(0, -5.0, 0.0), // on the grain above: not joined
            ball(2, 7.0, 0.0),  // conducts and stores: joined
            ball(2, 7.0, 0.0),  // through it: joined
            ball(0, 0.0, 3.0),  // on no electrode: counts nowhere
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
            balls.push(ball(1, x, 0.0));
        }
        balls.push(ball(1, 0.0, -4.0));
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
        // On three grains, high above the chain: no contact in space, but seen from above it closes the gap.
        balls.extend([0, 0, 0, 1].map(|powder| ball(powder, 1.9, 0.0)));
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        assert_eq!(found.bridges, [[0, 1]]);
        assert!((found.clusters[0].extent - 4e-6).abs() < 1e-15 && found.clusters[0].particles == 5);
        // One that lies on the first electrode and leans over its edge leads to it: the chain behind it ends 0.2 um short.
        let chain = [-2.3, -1.3, -0.3, 0.7, 1.7].map(|x| ball(1, x, 0.0));
        assert_eq!(joined(&chain, &SOLIDS, &electrodes, Rules::default()).bridges, [[0, 1]]);
        assert_eq!(joined(&chain[1..], &SOLIDS, &electrodes, Rules::default()).bridges, Vec::<[usize; 2]>::new());
        // The same chain of grains that do not conduct bridges nothing.
        balls.iter_mut().for_each(|ball| ball.powder = 0);
        let found = joined(&balls, &SOLIDS, &electrodes, Rules::default());
        assert!(found.bridges.is_empty() && found.clusters[0] == GapCluster::default());
    }

    /// Every pair compared, sets by repeated relabelling.
    fn plainly(pile: &Pile, electrodes: &[Outline], touch: f64) -> (Vec<[u64; 2]>, Vec<[usize; 2]>) {
        let (particles, heights) = (pile.particles(), pile.heights());
        let n = particles.len();
        let apart = |i: usize, j: usize| {
            let (p, q) = (particles[i], particles[j]);
            ((p.x - q.x).powi(2) + (p.y - q.y).powi(2) + (heights[i] - heights[j]).powi(2)).sqrt()
        };
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
                    if apart(i, j) <= 0.5 * (p.diameter + q.diameter) + touch {
                        unite(&mut label, i, j);
                    }
                }
                for (e, outline) in electrodes.iter().enumerate() {
                    let distance = outline::distance(outline, [p.x, p.y]);
                    if distance == 0.0 && heights[i] - 0.5 * p.diameter <= touch {
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
                        spatial[j] == spatial[n + e] && apart(**i, j) <= 0.5 * (p.diameter + q.diameter) + touch
                    };
                    heights[**i] - 0.5 * p.diameter <= touch || (0..n).filter(|j| conducts(*j)).any(leads)
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
    fn cells_and_lists_change_nothing() {
        // The same lists serve all prints.
        let mut lists = Lists::default();
        let electrodes = [square(-8e-6), square(8e-6), Outline::Disc { center: [0.0, 12e-6], radius: 4e-6 }];
        let (mut some_joined, mut some_bridged) = (0, 0);
        for (seed, count, spread) in
            [(1, 400, 30e-6), (2, 900, 30e-6), (3, 700, 25e-6), (4, 500, 400e-6), (5, 60, 30e-6)]
        {
            let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
            // 40 nm to 4 um.
            let particles: Vec<Particle> = (0..count)
                .map(|_| Particle {
                    x: (random.random::<f64>() - 0.5) * spread,
                    y: (random.random::<f64>() - 0.5) * spread,
                    diameter: 40e-9 * 100f64.powf(random.random::<f64>().powi(2)),
                    powder: random.random_range(0..3u16),
                    droplet: 0,
                })
                .collect();
            let pile = Pile::of(particles);
            let particles = pile.particles();
            let prepared = Electrodes::new(electrodes.to_vec());
            let quick = prepared.joined(particles, &SOLIDS, Rules::default(), &mut lists);
            let (active, bridges) = plainly(&pile, &electrodes, TOUCH);
            assert_eq!(quick.active.iter().map(|a| [a.particles, a.joined]).collect::<Vec<_>>(), active, "seed {seed}");
            assert_eq!(quick.bridges, bridges, "seed {seed}");
            some_joined += active.iter().filter(|[on, joined]| joined < on && *joined > 0).count();
            some_bridged += bridges.len();
            // Planted fault: particles that count as touching across 5 um.
            if active.iter().any(|[on, _]| *on > 0) {
                assert_ne!(joined(particles, &SOLIDS, &electrodes, Rules { touch: 5e-6 }), quick);
            }
        }
        assert!(some_joined > 5 && some_bridged > 1, "{some_joined} {some_bridged}: the cases tell something");
    }

    #[test]
    fn nothing_there_gives_nothing() {
        let none = joined(&[], &SOLIDS, &[square(0.0), square(20e-6)], Rules::default());
        assert_eq!(none.active, vec![ActiveShare::default(); 2]);
        assert!(none.bridges.is_empty() && none.clusters == [GapCluster::default()]);
        assert!(joined(&[ball(1, 0.0, 0.0)], &SOLIDS, &[], Rules::default()).active.is_empty());
    }
}
