//! Active particles that are joined to the electrode that they lie over.

use super::electrodes::{Electrodes, Lists};
use super::outcome::ActiveShare;
use super::rules::{Rules, Solid};
use motefall_physics::map::Particle;
use std::f64::consts::PI;

impl Electrodes {
    /// Active particles over each electrode, and how many of them are joined to it.
    pub(super) fn active(
        &self,
        particles: &[Particle],
        solids: &[Solid],
        rules: Rules,
        lists: &mut Lists,
    ) -> Vec<ActiveShare> {
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
}
