//! Why nothing is measured.

use crate::ground::Brightness;
use crate::line::Along;

/// What to do if particles were looked for on the wrong side of the ground.
fn one_class_remedy(brightness: Brightness) -> &'static str {
    match brightness {
        Brightness::Bright => "give --dark if particles are darker than ground",
        Brightness::Dark => "give --bright if particles are brighter than ground",
    }
}

/// What to do if there is no line.
fn no_line_remedy(along: Option<Along>) -> &'static str {
    match along {
        None => "give --of spot or --of field, or a picture with the line across it and bare ground on both sides",
        Some(Along::X) => {
            "leave --along x out, so that its direction is found, or give --along y for a line from top to bottom"
        }
        Some(Along::Y) => {
            "leave --along y out, so that its direction is found, or give --along x for a line from left to right"
        }
    }
}

/// What is wrong, why it matters, what to do. Completes a sentence that begins with the name of the file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MeasureError {
    /// It is something else, or cannot be decoded.
    #[error("{what}; pictures are read as PNG or TIFF of 8 or 16 bit, so {remedy}")]
    NotAPicture {
        /// What it is.
        what: String,
        /// What to do.
        remedy: &'static str,
    },
    /// It would fill the memory.
    #[error("it has {columns} x {rows} pixels, and at most {} million are read, so that they fit into memory; cut the part that matters out of it, or save it smaller and give the new --nm-per-px", most / 1_000_000)]
    TooLarge {
        /// Pixels across.
        columns: u64,
        /// Pixels down.
        rows: u64,
        /// Most pixels.
        most: u64,
    },
    /// Too few pixels are left to measure.
    #[error("{columns} x {rows} pixels are left to measure, and a side needs at least {least}; crop less")]
    TooSmall {
        /// Pixels across.
        columns: usize,
        /// Pixels down.
        rows: usize,
        /// Fewest pixels of a side.
        least: usize,
    },
    /// `--crop` leaves the picture.
    #[error(
        "--crop {crop} leaves nothing of {columns} x {rows} pixels, or reaches beyond them; count pixels from the top left corner"
    )]
    Crop {
        /// As given.
        crop: String,
        /// Pixels across.
        columns: usize,
        /// Pixels down.
        rows: usize,
    },
    /// Nobody says how large a pixel is.
    #[error(
        "it is not known how large a pixel is ({why}), and without it nothing has a size; give --nm-per-px, such as 12.5, from the scale bar: its length in nm divided by its length in pixels"
    )]
    NoScale {
        /// What the file says and why that is not taken.
        why: String,
    },
    /// One grey class.
    #[error("{what}, so nothing can be told apart: the picture is all ground or all particles; take one that shows both, with more contrast; {}, or --threshold with the grey value between them", one_class_remedy(*brightness))]
    OneClass {
        /// What was found.
        what: String,
        /// What particles were taken to be.
        brightness: Brightness,
    },
    /// Particles may be the dark part.
    #[error(
        "its bright part makes up {percent} % of the picture's frame, so it may be the ground; say which part particles are: --dark or --bright"
    )]
    WhichIsGround {
        /// Percent of the frame that is bright.
        percent: u32,
    },
    /// Asked for a line, and there is none.
    #[error(
        "it holds no line: {why}; {}", no_line_remedy(*along)
    )]
    NoLine {
        /// What was found.
        why: String,
        /// Along which direction it was looked for, if that was given.
        along: Option<Along>,
    },
    /// The line is cut by the picture.
    #[error(
        "the line leaves the picture: what is covered does not fall to half of its peak {side}; take a picture with bare ground on both sides of the line, or measure the coverage alone with --of field"
    )]
    LineLeaves {
        /// On which side.
        side: &'static str,
    },
    /// A trace that cannot be read.
    #[error("{place}: {what}; {remedy}")]
    Trace {
        /// Line of the file or column.
        place: String,
        /// What is wrong and why.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// A trace without a line.
    #[error("no line is found in the trace: {why}; {remedy}")]
    NoPeak {
        /// What was found.
        why: String,
        /// What to do.
        remedy: &'static str,
    },
    /// A measurements file that a row does not fit into.
    #[error("{what}; {remedy}")]
    Rows {
        /// What is wrong.
        what: String,
        /// What to do.
        remedy: String,
    },
    /// A picture could not be written.
    #[error("the overlay cannot be made ({0}); give --no-overlay")]
    Overlay(String),
}
