//! The sheet as a whole: its parts in order.

use super::contents::{Sheet, blank, cut, name};
use super::{expect, safety, seen, setting, steps, way};
use crate::page::{VERSION, document};
use crate::path;
use maud::{Markup, html};
use motefall_physics::inputs::{DrawingSource, Inputs, Outline, Shape};

const STYLE: &str = include_str!("sheet.css");
/// Longest title and note, characters.
const LONGEST_TITLE: usize = 72;
const LONGEST_NOTE: usize = 60;
/// Most drawings that are named.
const MOST_DRAWINGS: usize = 2;

/// The sheet as one file that needs no network. It is one page on A4 and on letter.
pub fn page(sheet: &Sheet<'_>) -> String {
    let body = html! { div class=(format!("sheet layers{}", sheet.layers().count())) {
        (head(sheet))
        div class="pair" { section { (setting::section(sheet)) } section { (way::section(sheet)) } }
        (steps::section(sheet))
        (expect::section(sheet))
        (seen::section())
        (safety::section(sheet))
    } };
    document(&format!("Bench sheet: {}", sheet.inputs().name), &[path::STYLE, STYLE], body)
}

fn head(sheet: &Sheet<'_>) -> Markup {
    let inputs = sheet.inputs();
    html! {
        header {
            h1 { (cut(&inputs.name, LONGEST_TITLE)) }
            p class="source" {
                "Bench sheet · " b { (name(sheet.file)) } " · CRC-32 " b { (sheet.crc32) } " · motefall " (VERSION)
                @if let Some(calibration) = sheet.calibration { " · calibrated by " (cut(calibration, 60)) }
                (drawings(inputs))
                @if !inputs.note.is_empty() { " · " (cut(&inputs.note, LONGEST_NOTE)) }
            }
            p class="blanks" { (blank("Date")) (blank("Operator")) (blank("Chip no.")) (blank("Ink no.")) (blank("Nozzle no.")) }
        }
    }
}

/// Drawings that the scenario rests on, with their fingerprints.
fn drawings(inputs: &Inputs) -> Markup {
    let of_items = inputs.items().filter_map(|item| match &item.shape {
        Shape::Filled(filled) => filled.source.as_ref(),
        Shape::Polylines(lines) => lines.source.as_ref(),
        _ => None,
    });
    let of_regions = inputs.regions.iter().filter_map(|region| match &region.outline {
        Outline::Area(area) => area.source.as_ref(),
        _ => None,
    });
    let mut all: Vec<&DrawingSource> = vec![];
    for source in of_items.chain(of_regions) {
        if !all.iter().any(|other| other.fingerprint == source.fingerprint) {
            all.push(source);
        }
    }
    html! {
        @for source in all.iter().take(MOST_DRAWINGS) { " · " (name(&source.file)) " " (source.fingerprint) }
        @if all.len() > MOST_DRAWINGS { " and " (all.len() - MOST_DRAWINGS) " more drawings" }
    }
}
