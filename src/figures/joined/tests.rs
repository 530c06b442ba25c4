use super::*;
use crate::stack::Pile;
use motefall_physics::inputs::{Conduction, Outline};
use motefall_physics::map::{Particle, outline};
use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
use std::f64::consts::PI;

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
    let look = |balls: Vec<Particle>| {
        electrodes.joined(&balls, &SOLIDS, Rules::default(), Contacts::InSpace, &mut Lists::default())
    };
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
    let over = found.active.as_deref().expect("dropped");
    assert_eq!((over[0].particles, over[0].joined), (4, 2));
    assert!((over[0].joined_capacity / (2.0 * grain) - 1.0).abs() < 1e-12);
    assert!((over[0].capacity / (4.0 * grain) - 1.0).abs() < 1e-12);
    assert_eq!((over[1].particles, over[1].joined), (2, 2));
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
    let over =
        |i: usize| (0..electrodes.len()).find(|e| outline::contains(&electrodes[*e], [particles[i].x, particles[i].y]));
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
        if conducting.iter().any(|i| over(*i) == Some(a) && reaches(*i, b) || over(*i) == Some(b) && reaches(*i, a)) {
            return true;
        }
        let bare: Vec<usize> = conducting.iter().copied().filter(|i| over(*i).is_none()).collect();
        let mut seen: Vec<usize> = bare.iter().copied().filter(|i| reaches(*i, a)).collect();
        let mut next = 0;
        while next < seen.len() {
            let more: Vec<usize> = bare.iter().copied().filter(|j| !seen.contains(j) && meet(seen[next], *j)).collect();
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
    for (seed, count, spread) in [(1, 400, 30e-6), (2, 900, 30e-6), (3, 700, 25e-6), (4, 500, 400e-6), (5, 60, 30e-6)] {
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
        let quick = prepared.joined(particles, &SOLIDS, Rules::default(), Contacts::InSpace, &mut lists);
        let flat = prepared.joined(particles, &SOLIDS, Rules::default(), Contacts::FromAbove, &mut lists);
        assert_eq!(flat, Joined { active: None, ..quick.clone() }, "seed {seed}");
        let (active, bridges) = plainly(&pile, &electrodes, TOUCH);
        let over = quick.active.as_deref().expect("dropped");
        assert_eq!(over.iter().map(|a| [a.particles, a.joined]).collect::<Vec<_>>(), active, "seed {seed}");
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
    assert_eq!(none.active, Some(vec![ActiveShare::default(); 2]));
    assert!(none.bridges.is_empty() && none.clusters == [GapCluster::default()]);
    assert_eq!(joined(&[ball(1, 0.0, 0.0)], &SOLIDS, &[], Rules::default()).active, Some(vec![]));
}
