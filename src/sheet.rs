//! The bench sheet of a scenario.

use crate::expect;
use motefall_calibrate::file::Source;
use motefall_output::sheet::{MOST_LAYERS, Sheet, page};
use motefall_physics::inputs::{Acceptance, Inputs, Layer, PathItem, Shape, VariedInput};
use motefall_physics::jet::store::FieldStore;
use motefall_physics::path::motion::Timeline;
use motefall_run::atlas::Atlas;
use motefall_run::line_width::spacing_from_line;
use motefall_run::{Progress, RunError};
use motefall_scenario::Scenario;

/// Name of the item that a test line is.
const TEST_LINE: &str = "test line";
/// Length of a test line, m: long beside its ends, short beside a wafer.
const LENGTH: f64 = 1e-3;
/// Least side of the wafer that it is printed on, m.
const WAFER: f64 = 4e-3;
/// Speed of a test line for a layer that only has dots, m/s: common practice, no source.
const USUAL_SPEED: f64 = 1e-3;

/// Makes the bench sheet of a scenario, one page of HTML to print: setting, path, order of steps, and what test line and print are expected
/// to be. `source` is the file it was read from. No print is made.
pub fn sheet(
    scenario: &Scenario,
    source: &Source,
    jets: &FieldStore,
    progress: &dyn Progress,
) -> Result<String, RunError> {
    let expected = expect(scenario, jets, progress)?;
    let layers = &scenario.inputs.layers;
    let atlas = Atlas::new(jets);
    let timeline = |layer: &Layer| {
        let spacing = spacing_from_line(layer, &atlas, progress)?;
        Ok(Timeline::new(&layer.path, &layer.stage, spacing))
    };
    let timelines = layers.iter().map(timeline).collect::<Result<Vec<_>, RunError>>()?;
    let lines = (0..layers.len().min(MOST_LAYERS)).map(|layer| expect(&test_line(scenario, layer), jets, progress));
    let test_lines = lines.collect::<Result<Vec<_>, RunError>>()?;
    Ok(page(&Sheet {
        expected: &expected,
        timelines: &timelines,
        test_lines: &test_lines,
        file: &source.file,
        crc32: &source.crc32,
        calibration: scenario.calibrated.as_ref().map(|calibrated| calibrated.used.name.as_str()),
    }))
}

/// A straight line alone on a bare wafer, printed as a layer, counted from 0, is: at the speed and with the passes of its first item that
/// moves. How the chip lies under the nozzle has no part in it.
pub fn test_line(scenario: &Scenario, layer: usize) -> Scenario {
    let mut line = scenario.clone();
    line.all_inputs().for_each(|inputs| *inputs = with_line(inputs, layer));
    line
}

fn with_line(inputs: &Inputs, layer: usize) -> Inputs {
    let mut only = inputs.layers[layer].clone();
    let moving = only.path.iter().find(|item| !matches!(item.shape, Shape::Dot { .. }));
    let (speed, passes) = moving.map_or((USUAL_SPEED, 1), |item| (item.speed, item.passes));
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
