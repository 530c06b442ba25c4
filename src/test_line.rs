//! Test lines: straight lines alone on a bare wafer.

use motefall_physics::inputs::{Acceptance, Inputs, PathItem, Shape, VariedInput};
use motefall_scenario::Scenario;

/// Name of the item that a test line is.
pub(crate) const TEST_LINE: &str = "test line";
/// Length of a test line, m: long beside its ends, short beside a wafer.
pub(crate) const LENGTH: f64 = 1e-3;
/// Least side of the wafer that it is printed on, m.
const WAFER: f64 = 4e-3;
/// Speed of a test line for a layer that only has dots, m/s: common practice, no source.
const USUAL_SPEED: f64 = 1e-3;

/// A test line printed as a layer, counted from 0, is: at the speed and with the passes of its first item that moves.
pub fn test_line(scenario: &Scenario, layer: usize) -> Scenario {
    let mut line = scenario.clone();
    line.all_inputs().for_each(|inputs| {
        let [speed, passes] = pace(inputs, layer);
        *inputs = with_line(inputs, layer, speed, passes as u32);
    });
    line
}

/// Speed, m/s, and passes of the first item of a layer that moves.
pub(crate) fn pace(inputs: &Inputs, layer: usize) -> [f64; 2] {
    let moving = inputs.layers[layer].path.iter().find(|item| !matches!(item.shape, Shape::Dot { .. }));
    moving.map_or([USUAL_SPEED, 1.0], |item| [item.speed, f64::from(item.passes)])
}

/// The inputs with a line at a speed (m/s) alone in place of the print. How the chip lies under the nozzle has no part in it.
pub(crate) fn with_line(inputs: &Inputs, layer: usize, speed: f64, passes: u32) -> Inputs {
    let mut only = inputs.layers[layer].clone();
    let shape = Shape::Polyline(vec![[-0.5 * LENGTH, 0.0], [0.5 * LENGTH, 0.0]]);
    only.path = vec![PathItem { name: TEST_LINE.into(), shape, speed, passes }];
    let mut line = Inputs { layers: vec![only], regions: vec![], ..inputs.clone() };
    line.acceptance = Acceptance { limits: vec![], implied: 0, ..line.acceptance };
    let of_chip = [VariedInput::AlignmentX, VariedInput::AlignmentY, VariedInput::Rotation];
    line.spread.retain(|variation| !of_chip.contains(&variation.input));
    line.chip.width = line.chip.width.max(WAFER);
    line.chip.height = line.chip.height.max(WAFER);
    line
}
