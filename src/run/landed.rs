//! Where a layer's mist lands at the set flows and stand-off, and with how much liquid and solids.

use motefall_physics::deposit::Spreading;
use motefall_physics::droplet::Finder;
use motefall_physics::droplet::table::Found;
use motefall_physics::head::mist::MistTable;
use motefall_physics::inputs::Layer;
use motefall_physics::source::atomiser::{DropletSizes, ink_density};
use statrs::distribution::{ContinuousCDF, Normal};

/// Droplet sizes and shares of the flow that stand for all droplets.
const SIZES: usize = 24;
const FLOW_SHARES: usize = 24;

/// Droplets of one size that enter at one share of the flow and land. Volumes are per volume of ink atomised.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LandedClass {
    /// Distance from the axis, m.
    pub(crate) radius: f64,
    /// Radius of the footprint, m.
    pub(crate) footprint: f64,
    /// Volume of liquid; 0 if they land dry.
    pub(crate) liquid: f64,
    /// Volume of solids.
    pub(crate) solids: f64,
}

/// Shares between which droplets that land far out are told apart, by size and by flow: the fewer, the farther.
const TAIL_EDGES: [f64; 14] = [0.0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];
/// Share of the landed solids that may lie beyond the reach: half of what widths that hold 99 % of the mass may miss.
const BEYOND_REACH: f64 = 0.000_5;

/// Mist is taken to reach so many times as far: droplets that carry less than their share of the solids dry to less and land farther out
/// than these classes do. An estimate; what is still missed is counted in each print.
const MORE_REACH: f64 = 1.5;

/// A part of all droplets: the middle of its range of shares, and how large the range is.
type Part = (f64, f64);

/// The classes that stand for all droplets that land.
pub(crate) fn landed_classes(
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> Vec<LandedClass> {
    let even = |count: usize| -> Vec<Part> {
        (0..count).map(|k| ((k as f64 + 0.5) / count as f64, 1.0 / count as f64)).collect()
    };
    classes_of(&even(SIZES), &even(FLOW_SHARES), layer, finder, mist, droplets, spreading)
}

/// Distance from the axis within which all but a trace of the solids lands, by a wide margin, m; 0 if nothing does.
pub(crate) fn landed_reach(
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> f64 {
    // The smallest droplets, and those from the edge of the aerosol, land farthest.
    let small: Vec<Part> = TAIL_EDGES.windows(2).map(|e| (0.5 * (e[0] + e[1]), e[1] - e[0])).collect();
    let outer: Vec<Part> = small.iter().map(|(middle, share)| (1.0 - middle, *share)).collect();
    let mut classes = classes_of(&small, &outer, layer, finder, mist, droplets, spreading);
    let far = |class: &LandedClass| class.radius + class.footprint;
    classes.sort_by(|a, b| far(b).total_cmp(&far(a)));
    let most = BEYOND_REACH * classes.iter().map(|class| class.solids).sum::<f64>();
    let mut beyond = 0.0;
    let found = classes.iter().find(|class| {
        beyond += class.solids;
        beyond > most
    });
    MORE_REACH * found.map_or(0.0, far)
}

/// Classes by parts of the droplets' volume, smallest droplets first, and parts of the aerosol's flow, its axis first.
fn classes_of(
    sizes: &[Part],
    flows: &[Part],
    layer: &Layer,
    finder: &Finder,
    mist: &MistTable,
    droplets: &DropletSizes,
    spreading: &Spreading,
) -> Vec<LandedClass> {
    let ink = &layer.ink;
    let ink_density = ink_density(ink);
    let solids: f64 = ink.powders.iter().map(|powder| powder.mass_fraction * ink_density / powder.density).sum();
    let solid_mass: f64 = ink.powders.iter().map(|powder| powder.mass_fraction * ink_density).sum();
    let packing = layer.landing.residue_packing;
    let normal = Normal::standard();
    let mut classes = Vec::with_capacity(sizes.len() * flows.len());
    for (middle, part) in sizes {
        // Sizes by their share of the volume: their deviates lie three logarithms of the spread higher than those of the number.
        let deviate = normal.inverse_cdf(*middle) + 3.0 * droplets.gsd.ln();
        let node = mist.at(deviate);
        let liquid = (1.0 - solids) * node.liquid_left;
        let wet = liquid > solids * (1.0 / packing - 1.0);
        let (liquid, size, density) = if wet {
            (liquid, liquid + solids, node.liquid_density)
        } else {
            (0.0, solids / packing, packing * solid_mass / solids)
        };
        let diameter = droplets.at_deviate(deviate) * size.cbrt();
        for (share, of_flow) in flows {
            let through = (1.0 - node.lost) * part * of_flow;
            if let Found::Landed { offset, speed } = finder.find(*share, diameter, diameter.ln(), density) {
                let footprint = if wet { spreading.footprint(diameter, density, speed) } else { 0.5 * diameter };
                let radius = (offset * share.sqrt()).abs();
                classes.push(LandedClass { radius, footprint, liquid: through * liquid, solids: through * solids });
            }
        }
    }
    classes
}
