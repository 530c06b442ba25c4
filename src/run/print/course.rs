//! What a layer of a print draws before its droplets.

use super::super::setting::LayerSetting;
use super::super::spread::Deviations;
use super::super::streams::{Purpose, stream};
use motefall_physics::inputs::OutputDrift;
use motefall_physics::path::motion::JITTER_TIME;
use rand_distr::{Distribution, StandardNormal};

/// What a layer of a print draws before its droplets: output and stage over time, from the start of the layer.
pub(crate) struct Course {
    /// Relative mist output of each block.
    pub(crate) output: Vec<f64>,
    /// The same of the bead that a block brings liquid to.
    pub(crate) liquid: Vec<f64>,
    /// Offset of the stage at each multiple of [`JITTER_TIME`], m.
    wander: Vec<[f64; 2]>,
}

impl Course {
    /// The first layer has number 0.
    pub(crate) fn new(
        setting: &LayerSetting<'_>,
        seed: u64,
        print: u32,
        number: usize,
        deviations: &Deviations,
    ) -> Self {
        let drift = &setting.layer.output;
        // Log-AR(1), stepped from block to block with the exact correlation of their distance in time.
        let mut rng = stream(seed, print, number as u64, Purpose::Output);
        let mut level: f64 = StandardNormal.sample(&mut rng);
        let mut before = 0.0;
        let output: Vec<f64> = setting
            .blocks
            .iter()
            .map(|block| {
                let time = block.time + 0.5 * block.duration;
                let correlation =
                    if drift.noise_time > 0.0 { (-(time - before) / drift.noise_time).exp() } else { 0.0 };
                let fresh: f64 = StandardNormal.sample(&mut rng);
                level = correlation * level + (1.0 - correlation * correlation).sqrt() * fresh;
                before = time;
                let noise = (drift.noise_sd * level - 0.5 * drift.noise_sd * drift.noise_sd).exp();
                mean_output(drift, time, deviations) * noise
            })
            .collect();
        let jitter = setting.layer.stage.jitter;
        let mut rng = stream(seed, print, number as u64, Purpose::Jitter);
        let nodes = (setting.timeline.duration / JITTER_TIME).ceil() as usize + 2;
        let mut normal = || -> f64 { jitter * Distribution::<f64>::sample(&StandardNormal, &mut rng) };
        let wander = if jitter > 0.0 { (0..nodes).map(|_| [normal(), normal()]).collect() } else { Vec::new() };
        Self { liquid: setting.beads.amounts(&setting.blocks, &output), output, wander }
    }

    /// Offset of the stage at a time, m.
    #[inline]
    pub(crate) fn wander_at(&self, time: f64) -> [f64; 2] {
        if self.wander.is_empty() {
            return [0.0; 2];
        }
        let place = time / JITTER_TIME;
        let node = (place as usize).min(self.wander.len() - 2);
        let f = place - node as f64;
        let (a, b) = (self.wander[node], self.wander[node + 1]);
        [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]
    }
}

/// Expected output at a time, set output 1: the noise has the mean 1.
pub(crate) fn mean_output(drift: &OutputDrift, time: f64, deviations: &Deviations) -> f64 {
    let run_in = if drift.run_in_time > 0.0 {
        let warm_up = (drift.warm_up + deviations.warm_up).max(0.0);
        1.0 - drift.run_in_deficit * (-(warm_up + time) / drift.run_in_time).exp()
    } else {
        1.0
    };
    run_in * deviations.output * (1.0 + (drift.trend + deviations.trend) * time).max(0.0)
}
