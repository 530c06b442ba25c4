//! Drawings that were read in a unit that cannot be meant: told once of each drawing.

use super::key::show_number;
use super::reader::{Reader, tidy};
use super::sections::Sections;
use motefall_physics::contours::Bounds;
use motefall_physics::inputs::{DrawingSource, Inputs, Outline, Shape};
use motefall_physics::map::outline::{bounds, bounds_of_shape};
use motefall_physics::units::LengthUnit;

/// So many times as far as the chip's edge lies what was drawn in another unit: inches and centimetres differ by 2.54, all other units by 10 or
/// more, and the outermost shapes of a drawing lie near the edge of the chip.
const FAR: f64 = 5.0;

/// By how much two units of drawings differ, the likeliest first: mm for um, inches for mm, mm for nm.
const RATIOS: [f64; 6] = [1000.0, 25.4, 1e6, 10.0, 100.0, 25_400.0];

/// A drawing and the unit in which it was read.
type Read = (String, Option<LengthUnit>);

/// Whether a section takes its shape from a drawing that was told to have a wrong unit.
pub(crate) fn is_stray(strays: &[Read], section: &Reader<'_>) -> bool {
    section.has("file") && {
        let unit: Option<LengthUnit> = section.get("drawing_unit");
        strays.contains(&(section.text("file"), unit))
    }
}

/// Reports drawings that reach far beyond the chip, at the first section that uses each; gives them.
pub(crate) fn wrong_units(sections: &Sections<'_>, inputs: &Inputs) -> Vec<Read> {
    let half = [0.5 * inputs.chip.width, 0.5 * inputs.chip.height];
    let paths = sections.paths().zip(inputs.items()).filter_map(|(section, item)| {
        let source = match &item.shape {
            Shape::Filled(filled) => filled.source.as_ref()?,
            Shape::Polylines(drawn) => drawn.source.as_ref()?,
            _ => return None,
        };
        Some((section, source, bounds_of_shape(&item.shape)))
    });
    let regions = sections.regions.iter().zip(&inputs.regions).filter_map(|(section, region)| {
        let Outline::Area(area) = &region.outline else { return None };
        Some((section, area.source.as_ref()?, bounds(&region.outline)))
    });
    let mut drawings: Vec<(Read, &Reader<'_>, Bounds)> = Vec::new();
    for (section, source, extent) in paths.chain(regions) {
        let read = (source.file.clone(), source.unit);
        let own = from_its_zero(extent, source);
        match drawings.iter_mut().find(|(other, ..)| *other == read) {
            Some((_, _, all)) => *all = all.and(own),
            None => drawings.push((read, section, own)),
        }
    }
    let reach = |extent: &Bounds| {
        let along = |axis: usize| extent.high[axis].max(-extent.low[axis]) / half[axis];
        along(0).max(along(1))
    };
    drawings.retain(|(_, _, extent)| reach(extent) > FAR);
    for ((file, unit), section, extent) in &drawings {
        report(section, file, *unit, extent, half, reach(extent));
    }
    drawings.into_iter().map(|(read, ..)| read).collect()
}

/// The box of a drawn shape as it would lie with the drawing's zero at the chip's centre.
fn from_its_zero(extent: Bounds, source: &DrawingSource) -> Bounds {
    let back = |p: [f64; 2]| [p[0] - source.at[0], p[1] - source.at[1]];
    Bounds { low: back(extent.low), high: back(extent.high) }
}

fn report(section: &Reader<'_>, file: &str, unit: Option<LengthUnit>, extent: &Bounds, half: [f64; 2], reach: f64) {
    let mm = |v: f64| show_number(tidy((v * 1e5).round() / 1e2));
    let words: Vec<String> = LengthUnit::WORDS.iter().map(|word| format!("\"{word}\"")).collect();
    let ratio = RATIOS.into_iter().find(|ratio| reach / ratio <= 1.0 + 1e-6);
    let meant = unit.zip(ratio).and_then(|(unit, ratio)| {
        LengthUnit::ALL.iter().find(|other| (unit.metres() / ratio / other.metres() - 1.0).abs() < 1e-3)
    });
    let advice = match (meant, unit) {
        (Some(meant), _) => format!("write `drawing_unit = \"{}\"` wherever the drawing is used", meant.word()),
        (None, Some(_)) => format!("write the right `drawing_unit`, one of {}", words.join(", ")),
        (None, None) => format!(
            "the file states its unit itself; if it is wrong, write `drawing_unit = ...` wherever the drawing is used, one of {}",
            words.join(", ")
        ),
    };
    let times = ratio
        .map_or_else(String::new, |ratio| format!("; {} times smaller it would lie on the chip", show_number(ratio)));
    section.fault(
        if unit.is_some() { "drawing_unit" } else { "file" },
        format!(
            "\"{file}\" reaches far beyond the chip: the shapes taken from it extend from {} to {} mm in x and from {} to {} mm in y",
            mm(extent.low[0]),
            mm(extent.high[0]),
            mm(extent.low[1]),
            mm(extent.high[1])
        ),
        "wrong unit?",
        format!("the chip is {} x {} mm{times}", mm(2.0 * half[0]), mm(2.0 * half[1])),
        advice,
    );
}
