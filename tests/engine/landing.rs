//! The landing table against droplets tracked one by one, and what follows from it for whole prints.

use crate::common::{Case, setting};
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::Found;
use motefall_physics::source::atomiser::sphere_volume;
use motefall_physics::source::content::{class_of, uniform};
use motefall_run::setting::{LEAST_DIAMETER, Setting};
use motefall_run::streams::{Purpose, stream};
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// A droplet at the nozzle: share of the flow where it enters, diameter (m), density (kg/m^3).
pub(super) type Droplet = (f64, f64, f64);

/// Droplets as they come out of the head. The arithmetic of a print is repeated here, so that a slip there shows as a difference.
pub(super) fn droplets(setting: &Setting, count: usize) -> Vec<Droplet> {
    let mut rng = stream(setting.inputs.seed, 0, 0, Purpose::Droplets);
    let mut grains = Vec::new();
    let mut list = Vec::with_capacity(count);
    let packing = setting.inputs.layers[0].landing.residue_packing;
    while list.len() < count {
        let deviate: f64 = StandardNormal.sample(&mut rng);
        let diameter = setting.layers[0].droplets.at_deviate(deviate);
        let volume = sphere_volume(diameter);
        let contents = &setting.layers[0].contents;
        grains.clear();
        contents.draw(&contents.allowance(class_of(deviate), diameter, 1.0), diameter, &mut rng, &mut grains);
        let node = setting.layers[0].mist.at(deviate);
        if uniform(&mut rng) < node.lost {
            continue;
        }
        let part = |grain: &motefall_physics::source::content::Grain| sphere_volume(grain.diameter);
        let solids: f64 = grains.iter().map(part).sum();
        let density_of = |powder: u16| setting.inputs.layers[0].ink.powders[usize::from(powder)].density;
        let solid_mass: f64 = grains.iter().map(|grain| part(grain) * density_of(grain.powder)).sum();
        let liquid = (volume - solids).max(0.0) * node.liquid_left;
        let residue = solids / packing;
        let (size, mass) = if liquid + solids > residue {
            (liquid + solids, solid_mass + liquid * node.liquid_density)
        } else {
            (residue, solid_mass)
        };
        let (diameter, density) = if size > sphere_volume(LEAST_DIAMETER) {
            ((size * 6.0 / std::f64::consts::PI).cbrt(), mass / size)
        } else {
            (LEAST_DIAMETER, node.liquid_density)
        };
        list.push((uniform(&mut rng), diameter, density));
    }
    list
}

/// How the table compares with direct tracking.
#[derive(Debug, Default)]
struct Comparison {
    droplets: usize,
    landed: usize,
    walls: usize,
    other_fate: usize,
    /// Of those that land either way: radius off by more than both 0.25 um and 1 %.
    off: usize,
    /// Largest difference of a landing radius where it exceeds 1 %, m, and the droplet.
    worst: f64,
    worst_droplet: Droplet,
    /// Largest relative difference of the impact speed.
    worst_speed: f64,
    /// Some with another fate: droplet, by the table, directly.
    examples: Vec<(Droplet, Found, Found)>,
}

fn compare(case: Case, count: usize) -> Comparison {
    let by_table = case.inputs();
    let directly = case.set("flight.landing", "direct").inputs();
    let (by_table, directly) = (setting(&by_table), setting(&directly));
    assert!(
        matches!(by_table.layers[0].finder, Finder::Table(_)) && matches!(directly.layers[0].finder, Finder::Direct(_))
    );
    let find = |setting: &Setting, (q, d, density): Droplet| setting.layers[0].finder.find(q, d, d.ln(), density);
    let pairs: Vec<(Droplet, Found, Found)> = droplets(&by_table, count)
        .into_par_iter()
        .map(|droplet| (droplet, find(&by_table, droplet), find(&directly, droplet)))
        .collect();
    let mut comparison = Comparison { droplets: count, ..Comparison::default() };
    for (droplet, table, direct) in pairs {
        comparison.walls += usize::from(direct == Found::Wall);
        match (table, direct) {
            (Found::Landed { offset: a, speed: u }, Found::Landed { offset: b, speed: v }) => {
                comparison.landed += 1;
                let root = droplet.0.sqrt();
                let (gap, radius) = ((a - b).abs() * root, b.abs() * root);
                if gap > 0.01 * radius && gap > comparison.worst {
                    (comparison.worst, comparison.worst_droplet) = (gap, droplet);
                }
                comparison.worst_speed = comparison.worst_speed.max((u / v - 1.0).abs());
                comparison.off += usize::from(gap > 0.25e-6 && gap > 0.01 * radius);
            }
            (a, b) if a == b => {}
            _ => {
                comparison.other_fate += 1;
                if comparison.examples.len() < 12 {
                    comparison.examples.push((droplet, table, direct));
                }
            }
        }
    }
    println!("{comparison:?}");
    comparison
}

/// Asserts that fates agree for 99.9 % of the droplets, and radii to 0.25 um or 1 % for all but a share of the landed.
fn agree(comparison: &Comparison, share_off: f64) {
    let (n, landed) = (comparison.droplets as f64, comparison.landed as f64);
    assert!((comparison.other_fate as f64) < 1e-3 * n, "{comparison:#?}");
    assert!((comparison.off as f64) < share_off * landed, "{comparison:#?}");
}

#[test]
fn table_and_tracking_agree_on_the_sodium_chip() {
    agree(&compare(Case::shipped("sodium-chip").without("spread"), 100_000), 1e-3);
}

#[test]
fn table_and_tracking_agree_without_sheath_where_droplets_hit_the_wall() {
    // A steep taper and coarse droplets; the coarsest are wider than the nozzle.
    let case = Case::shipped("sodium-chip")
        .without("spread")
        .set("flow.sheath_sccm", 0)
        .set("flow.carrier_sccm", 40)
        .set("head.half_angle_deg", 25)
        .set("atomiser.droplet_median_um", 8.0);
    let comparison = compare(case, 10_000);
    // Mist that touches the bore lands steeply outward with its place: two in a thousand are off, all within the outer 3 % of the flow
    // or at the least size that lands (1.5 um at most when this was written, on 50 um). With a sheath no mist is there.
    agree(&comparison, 3e-3);
    assert!(comparison.walls > 50, "{comparison:#?}");
}

#[test]
fn table_and_tracking_agree_with_a_flatter_exit_profile() {
    agree(&compare(Case::shipped("sodium-chip").without("spread").set("head.plug_blend", 0.5), 10_000), 1e-3);
}
