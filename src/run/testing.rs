//! Inputs for the tests of this crate: one powder, one target, one line.

use motefall_physics::inputs::{Chip, Inputs, Outline, PathItem, Region, Role, Shape};
use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution, Weighting};

/// A 2000 kg/m^3 powder of 100 mAh/g, median 0.3 um; a 20 x 40 um target over a window; a line along y through its middle.
pub(crate) fn inputs() -> Inputs {
    let text = include_str!("../../tests/scenarios/good/least.toml");
    let mut inputs =
        motefall_scenario::parse(text, "least.toml", std::path::Path::new(".")).expect("a good file").inputs;
    inputs.layers[0].ink.powders.truncate(1);
    let powder = &mut inputs.layers[0].ink.powders[0];
    powder.density = 2000.0;
    powder.capacity = 100.0 * 3600.0;
    powder.packing_fraction = 0.5;
    powder.mean_free_path = Some(100e-9);
    let mode = LognormalMode { share: 1.0, median: 0.3e-6, gsd: 1.5, weighting: Weighting::Number };
    powder.sizes = SizeDistribution::from_modes(&[mode]).expect("a plain lognormal");
    inputs.chip = Chip { width: 1e-3, height: 1e-3 };
    let rectangle = |name: &str, role, size| Region {
        name: name.into(),
        role,
        outline: Outline::Rectangle { center: [0.0, 0.0], size, rotation: 0.0 },
    };
    inputs.regions =
        vec![rectangle("window", Role::Window, [30e-6, 60e-6]), rectangle("target", Role::Target, [20e-6, 40e-6])];
    inputs.layers[0].path = vec![line("line", [0.0, -50e-6], [0.0, 50e-6])];
    inputs.map.pitch = 0.5e-6;
    inputs.map.margin = 20e-6;
    inputs.beam.layers.clear();
    inputs.beam.limit = 2.0;
    inputs.acceptance.limits.clear();
    inputs
}

/// A two-point line.
pub(crate) fn line(name: &str, from: [f64; 2], to: [f64; 2]) -> PathItem {
    PathItem { name: name.into(), shape: Shape::Polyline(vec![from, to]), speed: 1e-3, passes: 1 }
}
