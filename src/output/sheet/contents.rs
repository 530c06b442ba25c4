//! What a sheet is made of, and what of it fits on the page.

use maud::{Markup, html};
use motefall_figures::CautionKind;
use motefall_figures::expected::Expected;
use motefall_physics::inputs::{Inputs, Layer, PathItem};
use motefall_physics::path::motion::Timeline;

/// Most layers that are written out.
pub const MOST_LAYERS: usize = 3;
/// Most characters of a name in a list.
const LONGEST_NAME: usize = 26;

/// What a sheet is made of.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'a> {
    /// The expected deposit of the print, with its inputs.
    pub expected: &'a Expected,
    /// The motion of each layer.
    pub timelines: &'a [Timeline],
    /// The expected deposit of a test line for each of the first [`MOST_LAYERS`] layers: a straight line alone on a bare wafer, printed as
    /// that layer is.
    pub test_lines: &'a [Expected],
    /// Name of the scenario's file.
    pub file: &'a str,
    /// Checksum (CRC-32) of its content, by which it can be recognised.
    pub crc32: &'a str,
    /// The calibration that it takes, as the user calls it.
    pub calibration: Option<&'a str>,
}

impl<'a> Sheet<'a> {
    /// What is printed.
    pub(super) fn inputs(&self) -> &'a Inputs {
        &self.expected.inputs
    }

    /// Layers that are written out.
    pub(super) fn layers(&self) -> impl Iterator<Item = (usize, &'a Layer)> {
        self.inputs().layers.iter().take(MOST_LAYERS).enumerate()
    }

    /// What a layer is called in lists: with its number, so that names that begin alike are told apart. Empty if layers have no names.
    pub(super) fn called(&self, number: usize, most: usize) -> String {
        match self.inputs().layers[number].name.as_str() {
            "" => String::new(),
            name => cut(&format!("{}.\u{a0}{name}", number + 1), most),
        }
    }

    /// Layers that are not.
    pub(super) fn more_layers(&self) -> usize {
        self.inputs().layers.len().saturating_sub(MOST_LAYERS)
    }

    /// How many entries of a list of a print of one layer there is room for: each further layer takes two.
    pub(super) fn room(&self, most: usize) -> usize {
        most + 2 - 2 * self.layers().count()
    }

    /// Whether the bench is calibrated.
    pub(super) fn is_calibrated(&self) -> bool {
        self.expected.cautions.iter().any(|caution| caution.kind == CautionKind::Calibrated)
    }
}

/// The line that a test line is, and its layer.
pub(super) fn line_of(test_line: &Expected) -> (&Layer, &PathItem) {
    let layer = &test_line.inputs.layers[0];
    (layer, &layer.path[0])
}

/// A name for a list, cut where it is too long for one.
pub(super) fn name(text: &str) -> String {
    cut(text, LONGEST_NAME)
}

/// A text of so many characters at most.
pub(super) fn cut(text: &str, most: usize) -> String {
    match text.chars().count() > most {
        true => text.chars().take(most - 1).chain(['…']).collect(),
        false => text.to_owned(),
    }
}

/// `and 3 more, see motefall check`; nothing if all are there.
pub(super) fn and_more(more: usize, see: &str) -> Markup {
    html! { @if more > 0 { span class="more" { "and " (more) " more, see motefall " (see) } } }
}

/// A place to write on by hand.
pub(super) fn blank(label: &str) -> Markup {
    html! { span class="blank" { (label) i {} } }
}

/// Heading of a part.
pub(super) fn heading(words: &str, aside: &str) -> Markup {
    html! { h2 { (words) @if !aside.is_empty() { " " small { (aside) } } } }
}
