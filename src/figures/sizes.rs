//! Sizes of droplets and particles by stage.

use motefall_physics::inputs::Inputs;
use motefall_physics::map::tally::{SizeCounts, Tally};

/// Histograms of sizes by stage. Bins are equal in the logarithm.
#[derive(Debug, Clone)]
pub struct Sizes {
    /// Edges of the droplet bins, m.
    pub droplet_edges: Vec<f64>,
    /// Per layer: droplet counts by stage, generated, tube exit, nozzle exit, landed.
    pub droplets: Vec<[Vec<u64>; 4]>,
    /// Edges of the particle bins, m.
    pub particle_edges: Vec<f64>,
    /// Per powder.
    pub powders: Vec<PowderSizes>,
}

/// Names of the droplet stages in [`Sizes::droplets`].
pub const DROPLET_STAGES: [&str; 4] = ["generated", "tube exit", "nozzle exit", "landed"];

/// Particle sizes of one powder.
#[derive(Debug, Clone)]
pub struct PowderSizes {
    /// Share of the number in each bin, powder as received.
    pub received_number: Vec<f64>,
    /// Share of the volume in each bin, powder as received.
    pub received_volume: Vec<f64>,
    /// Particles landed in each bin.
    pub landed_count: Vec<u64>,
}

/// Sizes by stage, and the powders as received in the same bins. The end bins hold everything beyond, for received and landed alike.
/// `layers`: the counts of each layer, which add up to `tally`.
pub fn sizes<'a>(inputs: &Inputs, tally: &Tally, layers: impl Iterator<Item = &'a Tally>) -> Sizes {
    let edges = SizeCounts::edges();
    let shares = |below: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let inner: Vec<f64> = edges[1..edges.len() - 1].iter().map(|edge| below(*edge)).collect();
        let starts = std::iter::once(0.0).chain(inner.iter().copied());
        let ends = inner.iter().copied().chain(std::iter::once(1.0));
        starts.zip(ends).map(|(start, end)| (end - start).max(0.0)).collect()
    };
    Sizes {
        droplets: layers.map(|tally| tally.droplet_sizes.each_ref().map(|counts| counts.0.clone())).collect(),
        powders: inputs
            .powders()
            .iter()
            .zip(&tally.landed_sizes)
            .map(|(powder, landed)| PowderSizes {
                received_number: shares(&|diameter| powder.sizes.number_below(diameter)),
                received_volume: shares(&|diameter| powder.sizes.volume_below(diameter)),
                landed_count: landed.0.clone(),
            })
            .collect(),
        particle_edges: edges.clone(),
        droplet_edges: edges,
    }
}
