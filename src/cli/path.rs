//! The command `path`: what the stage will do, without a prediction.

use super::asked::{ScenarioFile, is_dash};
use super::failure::{Exit, Failure, OrFail};
use super::files::{load, write_new};
use super::predict::{failure, fields};
use super::say::say;
use anyhow::anyhow;
use clap::Args;
use motefall_output::path;
use motefall_physics::inputs::Layer;
use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_run::line_width::spacing_from_line;
use std::path::PathBuf;

/// Show the path of a print with its times, and write it for other programs
///
/// Lists the strokes of each item with length and time, the travel between them and how often
/// the shutter opens. Nothing is predicted. Files that exist are never replaced; - prints.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "Examples:\n  motefall path my-print.toml\n  \
    motefall path my-print.toml --picture path.html --dxf path.dxf --csv path.csv\n\n\
    The CSV has the columns time_s, x_um, y_um, speed_mm_s and shutter (1: from this row on mist\n    \
    reaches the chip: the shutter's delays have passed, it was told earlier). With\n    \
    stage.shutter_lead = \"compensated\" there is also told (1: told to open).\n\
    The commands have a row an opening: when the shutter is told to open and to close, from when\n    \
    to when mist reaches the chip, and where the nozzle is then.\n\
    The DXF has the layers open and closed; one unit is a micrometre."
)]
pub(super) struct Path {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Take what a calibration taught: spacings that follow from the width of a line follow it
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// Write a picture of the path: a page for the browser
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Write timed points
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write a drawing with the layers open and closed (the shutter)
    #[arg(long, value_name = "FILE")]
    dxf: Option<PathBuf>,
    /// Write when the shutter is told to open and to close, and where the nozzle is then
    #[arg(long, value_name = "FILE")]
    commands: Option<PathBuf>,
    /// Only this layer of a print of several; files are of one layer
    #[arg(long, value_name = "NAME")]
    layer: Option<String>,
}

impl Path {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let inputs = load(&self.scenario.file, self.calibration.as_deref())?.inputs;
        let names: Vec<&str> = inputs.layers.iter().map(|layer| layer.name.as_str()).collect();
        let layers: Vec<&Layer> =
            inputs.layers.iter().filter(|layer| self.layer.as_ref().is_none_or(|name| *name == layer.name)).collect();
        let Some(&layer) = layers.first() else {
            let advice = if inputs.is_layered() { names.join(", ") } else { "none, leave --layer out".to_owned() };
            return Err(Failure::BadInput(anyhow!("there is no such layer; the layers are: {advice}")));
        };
        let files = [&self.picture, &self.csv, &self.dxf, &self.commands];
        if layers.len() > 1 && files.iter().any(|file| file.is_some()) {
            return Err(Failure::BadInput(anyhow!(
                "a file holds the path of one layer: add --layer with one of {}",
                names.join(", ")
            )));
        }
        // What is printed for other programs stands alone.
        if !files.iter().any(|file| file.as_deref().is_some_and(is_dash)) {
            for layer in &layers {
                if inputs.is_layered() {
                    say(&format!("Layer {}\n", layer.name))?;
                }
                say(&path::text(&motion(layer)?))?;
            }
        }
        let motion = motion(layer)?;
        let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
        for (k, file) in files.into_iter().enumerate() {
            let Some(file) = file else { continue };
            let text = match k {
                0 => path::page(&inputs, &motion),
                1 => path::csv(&motion).map(text).or_failed()?,
                2 => path::dxf(&motion),
                _ => path::commands(&motion).map(text).or_failed()?,
            };
            if is_dash(file) {
                say(&text)?;
            } else {
                write_new(file, &text).or_bad_input()?;
                say(&format!("Wrote {}.\n", file.display()))?;
            }
        }
        Ok(Exit::Done)
    }
}

/// The motion of a layer. Fills whose spacing was left out take it from the layer's line, which takes its gas jet.
fn motion(layer: &Layer) -> Result<path::Motion<'_>, Failure> {
    let spacing = spacing_from_line(layer, &Atlas::new(&fields(false)), &Silent).map_err(failure)?;
    Ok(path::Motion::new(layer, spacing))
}
