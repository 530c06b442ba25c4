//! The electrodes of a chip, prepared once for all prints.

use super::outcome::Joined;
use super::rules::{Contacts, Rules, Solid};
use super::sets::Sets;
use crate::cells::Cells;
use crate::stack::Dropper;
use motefall_physics::inputs::Outline;
use motefall_physics::map::near::Near;
use motefall_physics::map::{Particle, outline};

/// Most gaps between electrodes that are looked at, the narrowest ones.
const MOST_GAPS: usize = 15;

/// Two electrodes and the least distance between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Numbers of the electrodes, the lower one first.
    pub(crate) between: [usize; 2],
    /// Least distance of their edges, m.
    pub(crate) width: f64,
}

/// Electrodes of a chip, prepared once for all prints.
#[derive(Debug, Clone)]
pub struct Electrodes {
    pub(super) outlines: Vec<Near>,
    pub(super) gaps: Vec<Gap>,
}

/// Lists that serve print after print.
#[derive(Debug, Default)]
pub struct Lists {
    pub(super) dropper: Dropper,
    pub(super) cells: Cells,
    /// Electrode below each particle; only of those that conduct or are active.
    pub(super) over: Vec<Option<u32>>,
    /// Sets of conducting particles and of electrodes, which follow the particles, by contacts in space.
    pub(super) spatial: Sets,
    /// Active particles that do not conduct and conducting ones that touch them.
    pub(super) leads: Vec<(u32, u32)>,
    /// Conducting particles of the bare chip, and those that may reach over the edge of the electrode that they lie over.
    pub(super) open: Vec<u32>,
    /// Sets of these, by their places in the list, by contacts seen from above.
    pub(super) flat: Sets,
    /// Those of the bare chip and electrodes that they touch, or touch conducting particles over.
    pub(super) touches: Vec<(u32, u32)>,
    pub(super) bridges: Vec<[usize; 2]>,
}

/// Joins and bridges of one print: `Electrodes::new` and [`Electrodes::joined`] in one.
///
/// `solids` by powder; particles in order of landing.
pub fn joined(particles: &[Particle], solids: &[Solid], electrodes: &[Outline], rules: Rules) -> Joined {
    Electrodes::new(electrodes.to_vec()).joined(particles, solids, rules, Contacts::InSpace, &mut Lists::default())
}

impl Electrodes {
    /// For these outlines.
    pub(crate) fn new(outlines: Vec<Outline>) -> Self {
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
    pub(crate) fn len(&self) -> usize {
        self.outlines.len()
    }

    /// Whether there is none.
    pub(crate) fn is_empty(&self) -> bool {
        self.outlines.is_empty()
    }

    /// Gaps between electrodes, narrowest first.
    pub(crate) fn gaps(&self) -> &[Gap] {
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
    pub fn joined(
        &self,
        particles: &[Particle],
        solids: &[Solid],
        rules: Rules,
        contacts: Contacts,
        lists: &mut Lists,
    ) -> Joined {
        self.find_electrodes(particles, solids, rules, lists);
        let active = match contacts {
            Contacts::InSpace => Some(self.active(particles, solids, rules, lists)),
            Contacts::FromAbove => None,
        };
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
}

pub(super) fn ordered(a: u32, b: u32) -> [usize; 2] {
    [a.min(b) as usize, a.max(b) as usize]
}
