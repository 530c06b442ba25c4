//! The bench sheet of a scenario.

use crate::expect;
use crate::test_line::test_line;
use motefall_calibrate::file::Source;
use motefall_output::sheet::{MOST_LAYERS, Sheet, page};
use motefall_physics::inputs::Layer;
use motefall_physics::jet::store::FieldStore;
use motefall_physics::path::motion::Timeline;
use motefall_run::atlas::Atlas;
use motefall_run::line_width::spacing_from_line;
use motefall_run::{Progress, RunError};
use motefall_scenario::Scenario;

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
