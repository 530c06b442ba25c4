//! The mist from the atomiser to the nozzle: what each droplet size loses in the tube and to the gas.

use super::drying::{DryingResult, DryingStage, MistClass, MistClasses, VapourShare, dry, equilibrium_pressures};
use crate::head::profile;
use crate::inputs::{Layer, SolventPart};
use crate::materials::gas::GasState;
use crate::source::atomiser::{DropletSizes, ink_density, liquid_density};
use crate::source::content::DEVIATE_LIMIT;
use crate::source::tube;
use std::f64::consts::PI;

/// Classes in which drying is computed, even in the deviate over plus and minus [`DRYING_LIMIT`].
const DRYING_CLASSES: usize = 61;
/// The same where only the difference between two tables counts.
const COARSE_CLASSES: usize = 15;
const DRYING_LIMIT: f64 = 4.5;
/// Nodes of the table that droplets are looked up in, even in the deviate over plus and minus [`DEVIATE_LIMIT`].
const NODES: usize = 513;

/// Flows and gas in tube and head.
#[derive(Debug, Clone)]
pub struct Flows {
    /// Gas in atomiser and tube.
    pub tube_gas: GasState,
    /// Gas in head and jet.
    pub head_gas: GasState,
    /// Carrier flow at tube conditions, m^3/s.
    pub tube_carrier: f64,
    /// Carrier flow at head conditions, m^3/s.
    pub head_carrier: f64,
    /// Sheath flow at head conditions, m^3/s.
    pub head_sheath: f64,
}

impl Flows {
    /// From the controllers' settings.
    pub fn new(layer: &Layer) -> Self {
        let gas = &layer.gas;
        let tube_gas = GasState::new(gas.species, gas.temperature, gas.pressure);
        let head_gas = GasState::new(gas.species, layer.head.temperature, gas.pressure);
        let reference = layer.flows.reference;
        Self {
            tube_carrier: layer.flows.carrier.actual(reference, tube_gas.temperature, tube_gas.pressure),
            head_carrier: layer.flows.carrier.actual(reference, head_gas.temperature, head_gas.pressure),
            head_sheath: layer.flows.sheath.actual(reference, head_gas.temperature, head_gas.pressure),
            tube_gas,
            head_gas,
        }
    }

    /// Share of the head's flow that carries mist, 0 to 1.
    pub fn core_share(&self) -> f64 {
        self.head_carrier / (self.head_carrier + self.head_sheath)
    }

    /// Whole flow at head conditions, m^3/s.
    pub fn total(&self) -> f64 {
        self.head_carrier + self.head_sheath
    }
}

/// What happens to droplets of one size on their way to the nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MistNode {
    /// Share that settles in the tube.
    pub settled: f64,
    /// The same plus the share that diffuses to its wall.
    pub diffused: f64,
    /// The same plus the share that hits its bends: everything lost in the tube.
    pub lost: f64,
    /// Logarithm of the diameter at the tube's exit relative to that generated.
    pub tube_ratio_log: f64,
    /// Volume of liquid at the nozzle relative to that generated.
    pub liquid_left: f64,
    /// Density of that liquid, kg/m^3.
    pub liquid_density: f64,
}

/// Table over droplet sizes.
#[derive(Debug, Clone)]
pub struct MistTable {
    nodes: Vec<MistNode>,
    /// Residence time in the tube, s.
    pub tube_time: f64,
    /// Mean residence time of the aerosol core in the head with its taper, s.
    pub head_time: f64,
    /// Share of the mist's liquid that is left at the nozzle.
    pub liquid_left: f64,
    /// The same of each solvent, in the ink's order.
    pub solvents_left: Vec<f64>,
    /// Saturation of the gas among the droplets at the nozzle, per solvent, relative to the ink as generated.
    pub saturation: Vec<f64>,
    /// Vapour pressures at the nozzle, Pa, per solvent: in the gas among the droplets.
    pub vapour: Vec<f64>,
    /// The same in all of the gas once it has mixed.
    pub mixed_vapour: Vec<f64>,
    /// Largest shares of vapour on the way, in the tube and in the head.
    pub vapour_shares: [VapourShare; 2],
    /// Loosest step tolerance that drying needed.
    pub drying_tolerance: f64,
}

impl MistTable {
    /// Computes losses and drying for droplets of these sizes.
    pub fn new(layer: &Layer, flows: &Flows, droplets: &DropletSizes) -> Self {
        Self::in_classes(layer, flows, droplets, DRYING_CLASSES)
    }

    /// Computes them roughly and three times quicker: only for differences to another such table.
    pub fn coarse(layer: &Layer, flows: &Flows, droplets: &DropletSizes) -> Self {
        Self::in_classes(layer, flows, droplets, COARSE_CLASSES)
    }

    /// This table moved along differences between pairs of coarse ones: each pair lies at minus and plus one unit of some input, and
    /// the third part says by how many units that input is off.
    pub fn moved(&self, changes: &[(&Self, &Self, f64)]) -> Self {
        let mut moved = self.clone();
        for (k, node) in moved.nodes.iter_mut().enumerate() {
            for (minus, plus, units) in changes {
                let (a, b) = (&minus.nodes[k], &plus.nodes[k]);
                let add = |value: &mut f64, low: f64, high: f64| *value += 0.5 * units * (high - low);
                add(&mut node.settled, a.settled, b.settled);
                add(&mut node.diffused, a.diffused, b.diffused);
                add(&mut node.lost, a.lost, b.lost);
                add(&mut node.tube_ratio_log, a.tube_ratio_log, b.tube_ratio_log);
                add(&mut node.liquid_left, a.liquid_left, b.liquid_left);
                add(&mut node.liquid_density, a.liquid_density, b.liquid_density);
            }
            node.lost = node.lost.clamp(0.0, 1.0);
            node.diffused = node.diffused.clamp(0.0, node.lost);
            node.settled = node.settled.clamp(0.0, node.diffused);
            node.tube_ratio_log = node.tube_ratio_log.min(0.0);
            node.liquid_left = node.liquid_left.clamp(0.0, 1.0);
        }
        moved
    }

    fn in_classes(layer: &Layer, flows: &Flows, droplets: &DropletSizes, classes: usize) -> Self {
        let solvents = &layer.ink.solvents;
        let deviates: Vec<f64> = (0..classes).map(|k| DRYING_LIMIT * at(k, classes)).collect();
        let weights: Vec<f64> = deviates.iter().map(|z| (-0.5 * z * z).exp()).collect();
        let weight: f64 = weights.iter().sum();
        // Droplets per volume of carrier in the tube, so that the classes together hold the mist load.
        let load = layer.atomiser.mist_load * layer.flows.carrier.0 / flows.tube_carrier;
        let volumes = deviates.iter().map(|&z| crate::source::atomiser::sphere_volume(droplets.at_deviate(z)));
        let mean_volume: f64 = volumes.zip(&weights).map(|(v, w)| v * w / weight).sum();
        let sizes =
            deviates.iter().zip(&weights).map(|(&z, w)| (droplets.at_deviate(z), load / mean_volume * w / weight));
        let mut mist = MistClasses::generated(sizes, solvents.len());

        let equilibrium = equilibrium_pressures(solvents, flows.tube_gas.temperature);
        let scaled = |saturation: f64| -> Vec<f64> { equilibrium.iter().map(|p| saturation * p).collect() };
        let tube_time = tube::residence_time(&layer.tube, flows.tube_carrier);
        let in_tube = dry(
            &mist,
            &DryingStage {
                solvents,
                gas: &flows.tube_gas,
                carrier_vapour: &scaled(layer.gas.carrier_saturation),
                sheath_vapour: &vec![0.0; solvents.len()],
                sheath_ratio: 0.0,
                mixing_radius: 0.0,
                duration: tube_time,
            },
        );

        let density = ink_density(&layer.ink);
        let losses: Vec<tube::TubeShares> = deviates
            .iter()
            .enumerate()
            .map(|(k, &z)| {
                // Mean of the sizes at both ends.
                let d = droplets.at_deviate(z) * 0.5 * (1.0 + in_tube.liquid_left[k].max(0.0).cbrt());
                tube::shares(&layer.tube, flows.tube_carrier, &flows.tube_gas, d.max(1e-9), density)
            })
            .collect();
        for (k, class) in mist.0.iter_mut().enumerate() {
            let MistClass { number, left, .. } = class;
            *number *= losses[k].through * flows.tube_gas.temperature / flows.head_gas.temperature;
            left.clone_from(&in_tube.left[k]);
        }
        // Liquid as generated of the droplets that reach the head; any unit.
        let generated: Vec<f64> = mist.0.iter().map(|class| class.number * class.diameter.powi(3)).collect();
        let head_time = head_time(layer, flows);
        let in_head = dry(
            &mist,
            &DryingStage {
                solvents,
                gas: &flows.head_gas,
                carrier_vapour: &in_tube.vapour,
                sheath_vapour: &scaled(layer.gas.sheath_saturation),
                sheath_ratio: flows.head_sheath / flows.head_carrier,
                mixing_radius: 0.5 * layer.head.inlet_bore,
                duration: head_time,
            },
        );

        let dried = Dried { tube: &in_tube, head: &in_head, density };
        let nodes = (0..NODES).map(|k| dried.node(layer, flows, droplets, DEVIATE_LIMIT * at(k, NODES))).collect();
        Self {
            nodes,
            tube_time,
            head_time,
            liquid_left: in_head.mist_left,
            solvents_left: solvents_left(&in_head, &generated),
            saturation: in_head.saturation,
            vapour: in_head.vapour,
            mixed_vapour: in_head.mixed_vapour,
            vapour_shares: [in_tube.vapour_share, in_head.vapour_share],
            drying_tolerance: in_tube.tolerance.max(in_head.tolerance),
        }
    }

    /// What happens to a droplet of a standard normal deviate.
    #[inline]
    pub fn at(&self, deviate: f64) -> MistNode {
        let place =
            ((deviate + DEVIATE_LIMIT) * ((NODES - 1) as f64 / (2.0 * DEVIATE_LIMIT))).clamp(0.0, (NODES - 1) as f64);
        let node = (place as usize).min(NODES - 2);
        let f = place - node as f64;
        let (a, b) = (&self.nodes[node], &self.nodes[node + 1]);
        let mix = |a: f64, b: f64| a + f * (b - a);
        MistNode {
            settled: mix(a.settled, b.settled),
            diffused: mix(a.diffused, b.diffused),
            lost: mix(a.lost, b.lost),
            tube_ratio_log: mix(a.tube_ratio_log, b.tube_ratio_log),
            liquid_left: mix(a.liquid_left, b.liquid_left),
            liquid_density: mix(a.liquid_density, b.liquid_density),
        }
    }

    /// Share of droplets of a standard normal deviate that the tube keeps.
    #[inline]
    pub fn lost(&self, deviate: f64) -> f64 {
        self.at(deviate).lost
    }

    /// Least and largest share lost in the tube between two deviates.
    pub fn lost_between(&self, [low, high]: [f64; 2]) -> [f64; 2] {
        let ends = [self.at(low).lost, self.at(high).lost];
        // Straight between nodes, so the extremes lie at nodes or at the ends.
        let node = |z: f64| (z + DEVIATE_LIMIT) * ((NODES - 1) as f64 / (2.0 * DEVIATE_LIMIT));
        let inside = (node(low).max(0.0).ceil() as usize)..(node(high).max(0.0) as usize + 1).min(NODES);
        ends.into_iter()
            .chain(inside.map(|k| self.nodes[k].lost))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[least, most], lost| [least.min(lost), most.max(lost)])
    }

    /// Least and largest density of the liquid at the nozzle, kg/m^3.
    pub fn density_range(&self) -> [f64; 2] {
        self.nodes.iter().fold([f64::INFINITY, 0.0], |[low, high], node| {
            [low.min(node.liquid_density), high.max(node.liquid_density)]
        })
    }
}

/// Density of what liquid is left in a class, kg/m^3; `None` if it is dry.
fn left_density(solvents: &[SolventPart], result: &DryingResult, class: usize) -> Option<f64> {
    let (mut mass, mut volume) = (0.0, 0.0);
    for (part, left) in solvents.iter().zip(&result.left[class]) {
        mass += part.mass_fraction * left.max(0.0);
        volume += part.mass_fraction * left.max(0.0) / part.solvent.density;
    }
    (volume > 1e-12).then(|| mass / volume)
}

/// Share of each solvent that is left in classes that held these amounts of liquid.
fn solvents_left(result: &DryingResult, generated: &[f64]) -> Vec<f64> {
    let whole: f64 = generated.iter().sum();
    let solvents = result.left.first().map_or(0, Vec::len);
    let of = |i: usize| result.left.iter().zip(generated).map(|(left, liquid)| left[i].max(0.0) * liquid).sum::<f64>();
    (0..solvents).map(|i| of(i) / whole).collect()
}

/// Mean residence time of the aerosol core in the head's straight bore, cone and land, s: the core's volume over its flow.
///
/// The core keeps the share of the cross-section, s^2, that it has in developed flow: most of the time passes in the straight bore.
fn head_time(layer: &Layer, flows: &Flows) -> f64 {
    let head = &layer.head;
    let (inlet, exit) = (0.5 * head.inlet_bore, 0.5 * head.nozzle);
    let cone = (inlet - exit) / head.half_angle.tan();
    let volume = PI
        * (inlet * inlet * head.mixing_length
            + cone * (inlet * inlet + inlet * exit + exit * exit) / 3.0
            + exit * exit * head.land);
    let core = profile::radius_of_flow(flows.core_share(), head.plug_blend.unwrap_or(0.0)).powi(2);
    volume * core / flows.head_carrier
}

/// Place of one of so many nodes that are even from -1 to 1.
fn at(node: usize, nodes: usize) -> f64 {
    2.0 * node as f64 / (nodes - 1) as f64 - 1.0
}

/// The mist in its classes, dried in tube and head.
struct Dried<'a> {
    tube: &'a DryingResult,
    head: &'a DryingResult,
    /// Density of the ink, kg/m^3.
    density: f64,
}

impl Dried<'_> {
    /// A node of the table. Tube losses are smooth and cheap: they are computed here. Drying is interpolated between its classes.
    fn node(&self, layer: &Layer, flows: &Flows, droplets: &DropletSizes, z: f64) -> MistNode {
        let classes = self.tube.liquid_left.len();
        let place = ((z + DRYING_LIMIT) / (2.0 * DRYING_LIMIT) * (classes - 1) as f64).clamp(0.0, (classes - 1) as f64);
        let class = (place as usize).min(classes - 2);
        let f = place - class as f64;
        let mix = |a: f64, b: f64| a + f * (b - a);
        let tube_ratio = mix(self.tube.liquid_left[class], self.tube.liquid_left[class + 1]).max(0.0).cbrt();
        let d = droplets.at_deviate(z) * 0.5 * (1.0 + tube_ratio);
        let shares = tube::shares(&layer.tube, flows.tube_carrier, &flows.tube_gas, d.max(1e-9), self.density);
        let base_density = liquid_density(&layer.ink);
        let liquid = |class: usize| left_density(&layer.ink.solvents, self.head, class).unwrap_or(base_density);
        MistNode {
            settled: shares.settling,
            diffused: shares.settling + shares.diffusion,
            lost: 1.0 - shares.through,
            tube_ratio_log: tube_ratio.max(1e-6).ln(),
            liquid_left: mix(self.head.liquid_left[class], self.head.liquid_left[class + 1]).max(0.0),
            liquid_density: mix(liquid(class), liquid(class + 1)),
        }
    }
}
