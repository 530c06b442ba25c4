//! Clusters of conducting particles between electrodes.

use super::electrodes::{Electrodes, Gap, Lists, ordered};
use super::outcome::GapCluster;
use super::rules::Rules;
use crate::cells::Look;
use motefall_physics::map::{Particle, outline};

/// A particle lies in a gap if its distances from both electrodes add up to at most so many times the gap.
const GAP_ZONE: f64 = 1.5;

impl Electrodes {
    /// Clusters of conducting particles of the bare chip, seen from above, and the pairs of electrodes that they join.
    pub(super) fn find_bridges(&self, particles: &[Particle], rules: Rules, lists: &mut Lists) {
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
    pub(super) fn clusters(&self, particles: &[Particle], lists: &mut Lists) -> Vec<GapCluster> {
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
