//! Each stage alone, with numbers given in place of drawn ones.

use super::*;
use crate::Silent;
use motefall_physics::jet::store::FieldStore;
use motefall_physics::source::content::class_ends;
use rand::TryRng;
use std::collections::VecDeque;
use std::convert::Infallible;

/// Gives numbers from a list, and has none besides.
struct Script(VecDeque<u64>);

impl Script {
    /// Numbers even in 0 to 1.
    fn even(numbers: impl IntoIterator<Item = f64>) -> Self {
        Self(numbers.into_iter().map(word).collect())
    }

    fn is_over(&self) -> bool {
        self.0.is_empty()
    }
}

/// What a generator gives for a number even in 0 to 1.
fn word(number: f64) -> u64 {
    ((number * (1u64 << 53) as f64) as u64) << 11
}

impl TryRng for Script {
    type Error = Infallible;

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        Ok(self.0.pop_front().expect("a stage draws no more than it should"))
    }

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        unreachable!("stages draw whole words")
    }

    fn try_fill_bytes(&mut self, _: &mut [u8]) -> Result<(), Infallible> {
        unreachable!("stages draw whole words")
    }
}

/// A block of a made-up print, with what to change before.
fn with_block(change: impl FnOnce(&mut motefall_physics::inputs::Inputs), test: impl FnOnce(&Block<'_>)) {
    let mut inputs = crate::testing::inputs();
    change(&mut inputs);
    let setting = Setting::new(&inputs, &FieldStore::none(), &Silent).expect("it runs");
    let job = Job::new(&setting, 0);
    test(&Block::new(&job, setting.blocks() / 2));
}

fn tally() -> Tally {
    Tally::new(1, 2)
}

/// Droplets of a deviate and of particles of these diameters, m.
fn batch(block: &Block<'_>, droplets: &[(f64, &[f64])]) -> Batch {
    let mut batch = Batch::default();
    for (number, (deviate, diameters)) in droplets.iter().enumerate() {
        batch.push(number as u64, *deviate);
        batch.generated.push(block.generated(*deviate).1);
        batch.grains.extend(diameters.iter().map(|diameter| Grain::new(0, *diameter)));
        batch.ends.push(batch.grains.len());
    }
    batch
}

/// Numbers from which a point of the unit disc is drawn: its squared radius, and the share of its turn, which begins at [-1, 0].
fn disc([a, b]: [f64; 2]) -> [f64; 2] {
    [a * a + b * b, 0.5 + b.atan2(a) / (2.0 * std::f64::consts::PI)]
}

#[test]
fn drawn_droplets_pass_by_their_chance() {
    with_block(
        |_| {},
        |block| {
            // A share of the droplets that may pass; how many of these do by their chance at that place and by the density of deviates.
            let share = 0.4;
            let at = |pick: f64| block.screen().draw(block.mist, &mut Script::even([share, pick]));
            let deviate = at(0.0).0;
            let chance = block.screen().chance(class_of(deviate), block.mist.lost(deviate));
            assert!(chance > 0.01 && chance < 0.99, "{chance}");
            let passing = (1..10_000).take_while(|k| at(f64::from(*k) * 1e-4).1).count() as f64 * 1e-4;
            assert!(passing > 0.5 && passing < 1.0, "{passing}");
            // Surely, by a hair, not by a hair, surely not.
            let picks = [0.0, passing - 1e-4, passing + 2e-4, 1.0 - 1e-12];
            let mut script = Script::even(picks.iter().flat_map(|pick| [share, *pick]));
            let mut laden = Batch::default();
            block.draw(7..11, &mut script, &mut laden);
            assert!(script.is_over());
            assert_eq!((laden.number, laden.deviate), (vec![7, 8], vec![deviate; 2]));
        },
    );
}

#[test]
fn carried_droplets_keep_what_has_room_and_is_retained() {
    with_block(
        |_| {},
        |block| {
            let (mut some, mut none) = (Batch::default(), Batch::default());
            // In the middle of a class; then at the lower end of one in which the largest candidate is wider than the droplet.
            let middle = 0.5 * (class_ends(150)[0] + class_ends(150)[1]);
            let small = (0..256)
                .map(|class| class_ends(class)[0] + 1e-6)
                .find(|deviate| block.generated(*deviate).1 > 0.3e-6)
                .expect("a droplet as wide as the powder");
            for (number, deviate) in [middle, middle, small].into_iter().enumerate() {
                some.push(number as u64, deviate);
            }
            // Number of candidates: the least, 1. Size and retention of each: kept, not retained, no room.
            let mut script = Script::even([0.0, 0.5, 0.0, 0.0, 0.5, 1.0 - 1e-12, 0.0, 1.0 - 1e-12, 0.0]);
            let mut tally = tally();
            block.carry(&mut script, &mut some, Some(&mut none), &mut tally);
            assert!(script.is_over());
            assert_eq!((&some.number, &some.ends, some.grains.len()), (&vec![0], &vec![1], 1));
            assert_eq!((none.number, none.ends, none.grains.len()), (vec![1, 2], vec![0, 0], 0));
            assert_eq!(tally.generated.particles, [1]);
            assert_eq!(tally.droplet_sizes[0].0.iter().sum::<u64>(), 3);
            // Half of the powder is below its median, which the largest droplets bring whole.
            assert!((some.grains[0].diameter / 0.3e-6 - 1.0).abs() < 0.02, "{:?}", some.grains);
            assert!((some.generated[0] / block.generated(middle).1 - 1.0).abs() < 1e-12);
        },
    );
}

#[test]
fn droplets_dry_to_liquid_to_their_residue_or_to_nothing() {
    // A litre of liquid over a tenth of solids of 2500 kg/m^3: 1.1 m^3 of (1000 + 250)/1.1 = 1136.36 kg/m^3; d = (6 * 1.1/pi)^(1/3) = 1.28077.
    let wet = at_nozzle(1.0, 1000.0, 0.1, 250.0, 0.5);
    assert!(wet.wet && (wet.density - 1_136.363_6).abs() < 1e-3 && (wet.diameter - 1.280_77).abs() < 1e-4, "{wet:?}");
    assert!((wet.log_diameter - wet.diameter.ln()).abs() < 1e-9);
    // Less liquid than the pores of the residue hold: solids at half packing, 0.2 m^3 of 1250 kg/m^3; d = (1.2/pi)^(1/3) = 0.72557.
    let dry = at_nozzle(0.09, 1000.0, 0.1, 250.0, 0.5);
    assert!(!dry.wet && (dry.density - 1250.0).abs() < 1e-9 && (dry.diameter - 0.725_57).abs() < 1e-4, "{dry:?}");
    // Nothing left: the least diameter, and the density of the liquid that was.
    let gone = at_nozzle(0.0, 900.0, 0.0, 0.0, 0.5);
    assert!(!gone.wet && gone.density == 900.0 && (gone.diameter / LEAST_DIAMETER - 1.0).abs() < 1e-9, "{gone:?}");
    with_block(
        |_| {},
        |block| {
            let mut batch = batch(block, &[(1.0, &[0.2e-6, 0.3e-6]), (-2.0, &[]), (0.0, &[0.4e-6])]);
            block.dry(&mut batch);
            // Particles of each droplet, and of no other: pi/6 (0.008 + 0.027) um^3 in the first.
            let node = block.mist.at(1.0);
            let solids = sphere_volume(0.2e-6) + sphere_volume(0.3e-6);
            let liquid = (sphere_volume(block.generated(1.0).1) - solids) * node.liquid_left;
            let packing = block.setting.layer.landing.residue_packing;
            let alone = at_nozzle(liquid, node.liquid_density, solids, 2000.0 * solids, packing);
            assert_eq!(batch.at_nozzle.len(), 3);
            let (first, relative) = (batch.at_nozzle[0], |a: f64, b: f64| (a / b - 1.0).abs());
            assert!(first.wet == alone.wet && relative(first.diameter, alone.diameter) < 1e-12, "{first:?} {alone:?}");
            assert!(relative(first.density, alone.density) < 1e-12, "{first:?} {alone:?}");
            // Without particles: its liquid, or what stands for none.
            assert!(relative(batch.at_nozzle[1].density, block.mist.at(-2.0).liquid_density) < 1e-9);
        },
    );
}

#[test]
fn flown_droplets_land_hit_the_wall_escape_or_bounce() {
    let bounce = |inputs: &mut motefall_physics::inputs::Inputs| {
        inputs.layers[0].landing.bounce = Some(Bounce { above_speed: 1.0, probability: 0.5 });
    };
    with_block(bounce, |block| {
        // A droplet of each kind: its diameter and the share of the flow where it enters.
        let found = |wanted: fn(&Found) -> bool| {
            let all = (0..200).flat_map(|k| [0.04, 0.25, 0.81, 0.98].map(|q| (20e-9 * 1.04f64.powi(k), q)));
            all.map(|(d, q)| (d, q, block.finder.find(q, d, d.ln(), 1000.0)))
                .find(|(_, _, found)| wanted(found))
                .expect("there is one")
        };
        let wall = found(|found| *found == Found::Wall);
        let escaped = found(|found| *found == Found::Escaped);
        let fast = found(|found| matches!(found, Found::Landed { speed, .. } if *speed > 2.0));
        let Found::Landed { offset, speed } = fast.2 else { unreachable!("it landed") };
        // Wall, escaped, bounced, dry but lucky, wet: the last is not asked.
        let kinds = [(wall, false), (escaped, false), (fast, false), (fast, false), (fast, true)];
        let mut batch = batch(block, &[(0.0, &[0.2e-6] as &[f64]); 5]);
        batch.at_nozzle = kinds
            .iter()
            .map(|((diameter, ..), wet)| AtNozzle {
                diameter: *diameter,
                log_diameter: diameter.ln(),
                density: 1000.0,
                wet: *wet,
            })
            .collect();
        // A point of the disc on the axis y = 0 for each; then a time for those that land, and luck for those that may bounce.
        let mut numbers: Vec<f64> = kinds.iter().flat_map(|((_, q, _), _)| disc([q.sqrt(), 0.0])).collect();
        for (k, ((.., found), _)) in kinds.iter().enumerate() {
            if matches!(found, Found::Landed { .. }) {
                numbers.push(0.25);
            }
            if k == 2 || k == 3 {
                numbers.push(if k == 2 { 0.49 } else { 0.51 });
            }
        }
        let (mut script, mut tally) = (Script::even(numbers), tally());
        block.fly(&mut script, &mut batch, &mut tally);
        assert!(script.is_over());
        let lost = [fate::WALL, fate::ESCAPED, fate::BOUNCED].map(|fate| &tally.fates[fate]);
        assert!(lost.iter().all(|fate| (fate.droplets, fate.particles[0]) == (1, 1)), "{lost:?}");
        assert_eq!(batch.touching.iter().map(|touching| touching.droplet).collect::<Vec<_>>(), [3, 4]);
        let axis = block.piece.at(0.25 * block.piece.duration);
        let wander = block.job.course.wander_at(block.piece.time + 0.25 * block.piece.duration);
        for touching in &batch.touching {
            let wanted = [axis[0] + wander[0] + offset * fast.1.sqrt(), axis[1] + wander[1]];
            let off = (touching.center[0] - wanted[0]).hypot(touching.center[1] - wanted[1]);
            assert!(off < 1e-9 && (touching.speed / speed - 1.0).abs() < 1e-6, "{touching:?} {wanted:?}");
        }
    });
}

#[test]
fn laid_particles_are_counted_where_they_lie() {
    with_block(
        |_| {},
        |block| {
            // A dry residue of 1 um about the middle of the target, and one beside everything and one beyond the chip.
            let mut batch = batch(block, &[(0.0, &[0.4e-6, 0.2e-6] as &[f64]), (0.0, &[0.6e-6]), (0.0, &[0.3e-6])]);
            let residue = AtNozzle { diameter: 1e-6, log_diameter: 1e-6f64.ln(), density: 2000.0, wet: false };
            batch.at_nozzle = vec![residue; 3];
            let at = |droplet, center| Touching { droplet, center, speed: 1.0 };
            batch.touching = vec![at(0, [1e-6, 2e-6]), at(1, [100e-6, 0.0]), at(2, [0.6e-3, 0.0])];
            // At 0.8 of the room along x, then along y, then in the middle.
            let mut script =
                Script::even([[0.8, 0.0], [0.0, 0.8], [1e-7, 0.0], [1e-7, 0.0]].into_iter().flat_map(disc));
            block.lay(&mut script, &mut batch);
            assert!(script.is_over());
            // Room: 0.5 - 0.2 and 0.5 - 0.1 um.
            let wanted = [[1.24e-6, 2e-6], [1e-6, 2.32e-6], [100e-6, 0.0], [0.6e-3, 0.0]];
            let target = fate::FIRST_REGION + 1;
            let places = [target, target, fate::ELSEWHERE, fate::OFF_CHIP];
            for (landed, (point, place)) in batch.landed.iter().zip(wanted.into_iter().zip(places)) {
                let off = (landed.point[0] - point[0]).hypot(landed.point[1] - point[1]);
                assert!(off < 1e-12 && landed.place == place, "{landed:?} {point:?} {place}");
            }
            let mut counted = tally();
            block.count(&batch, &mut counted);
            block.tell(&batch, &mut counted, true);
            let number = |place: usize| (counted.fates[place].droplets, counted.fates[place].particles[0]);
            assert_eq!([target, fate::ELSEWHERE, fate::OFF_CHIP].map(number), [(1, 2), (1, 1), (1, 1)]);
            assert_eq!(counted.landed_sizes[0].0.iter().sum::<u64>(), 4);
            // The target is 10 um to each side: 90 um to the one beside.
            assert!((counted.fates[fate::ELSEWHERE].farthest().expect("a target") - 90e-6).abs() < 1e-9);
            assert_eq!(
                (counted.reach[0], counted.reach[180] + counted.reach[179]),
                (
                    u128::from(Grain::new(0, 0.4e-6).volume + Grain::new(0, 0.2e-6).volume),
                    u128::from(Grain::new(0, 0.6e-6).volume),
                )
            );
            for keep in [Keep::Particles, Keep::Maps, Keep::Figures, Keep::FiguresAndFarMap, Keep::FiguresAndParticles]
            {
                let mut worker = Worker::new(block.all, keep);
                block.stamp(&batch, &mut worker.outcome, keep);
                let outcome = worker.outcome;
                assert!(outcome.canvas.covered() > 0, "{keep:?}");
                assert_eq!(
                    outcome.picture.is_some_and(|picture| picture.covered() > 0),
                    keep.all_droplets(),
                    "{keep:?}"
                );
                assert_eq!(outcome.far.total(), if keep == Keep::Figures { 0 } else { 3 }, "{keep:?}");
                assert_eq!(outcome.particles.map(|all| all.len()), keep.particles().then_some(4), "{keep:?}");
            }
        },
    );
}
