//! Why a drawing could not be read.

use motefall_physics::units::LengthUnit;
use std::fmt;

/// Where in a file something is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilePlace {
    /// Line, counted from 1.
    Line(usize),
    /// Byte of a binary file, counted from 0.
    Byte(usize),
}

impl fmt::Display for FilePlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(line) => write!(f, "line {line}"),
            Self::Byte(byte) => write!(f, "byte {byte}"),
        }
    }
}

/// Why a drawing could not be read: what is wrong, why it matters, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{what}", place.map_or(String::new(), |place| format!("{place}: ")))]
pub struct DrawingError {
    /// What kind of fault it is.
    pub kind: ErrorKind,
    /// Where, if at one place.
    pub place: Option<FilePlace>,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub advice: String,
}

/// Kinds of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// Something is not as the format wants it.
    Broken,
    /// The file ends before its end.
    Truncated,
    /// It is too large, too many, too deep, or without end.
    TooMuch,
    /// It does not say how long its unit is.
    NoUnit,
    /// It uses something that is not read and cannot be left out.
    Unsupported,
}

impl DrawingError {
    pub(super) fn new(
        kind: ErrorKind,
        place: Option<FilePlace>,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Self { kind, place, what: what.into(), advice: advice.into() }
    }

    /// `or`: what helps besides, with a semicolon before it.
    pub(super) fn no_unit(what: impl Into<String>, or: &str) -> Self {
        let words: Vec<String> = LengthUnit::WORDS.iter().map(|word| format!("\"{word}\"")).collect();
        let advice = format!("say how long one unit of the drawing is: {}{or}", words.join(", "));
        Self::new(ErrorKind::NoUnit, None, what, advice)
    }

    pub(super) fn broken(place: FilePlace, what: impl Into<String>) -> Self {
        Self::new(ErrorKind::Broken, Some(place), what, "repair it in the drawing program and save it again")
    }

    pub(super) fn too_much(place: Option<FilePlace>, what: impl Into<String>) -> Self {
        Self::new(
            ErrorKind::TooMuch,
            place,
            what,
            "save a drawing that holds only the outlines that are needed, without text, pictures and fillings",
        )
    }
}
