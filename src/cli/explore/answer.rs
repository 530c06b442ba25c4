//! An answer, or why there is none.

use motefall::RunError;
use serde_json::{Value, json};

/// An answer.
pub(super) enum Answer {
    /// In JSON.
    Json(Value),
    /// In bulk.
    Frame(Vec<u8>),
    /// A page to be read.
    Report(String),
    /// A file of a result.
    File { content: Vec<u8>, kind: &'static str },
}

/// Why a question has no answer.
#[derive(Debug, PartialEq)]
pub(super) enum Refusal {
    /// A newer question of the same page is about another setting.
    Stale,
    /// The setting cannot be printed; why.
    Setting(String),
    /// The question makes no sense; why.
    Bad(String),
    /// Something is there already that is never replaced.
    Taken(String),
    /// There is no such thing.
    Unknown,
    /// Too much is asked at once.
    Busy,
    /// It failed.
    Failed(String),
}

impl Refusal {
    /// Its status in HTTP.
    pub(super) fn status(&self) -> u16 {
        match self {
            Self::Stale | Self::Taken(_) => 409,
            Self::Setting(_) => 422,
            Self::Bad(_) => 400,
            Self::Unknown => 404,
            Self::Busy => 503,
            Self::Failed(_) => 500,
        }
    }

    /// What the page is told.
    pub(super) fn body(&self) -> Value {
        let text = match self {
            Self::Stale => "stale",
            Self::Unknown => "there is no such thing here",
            Self::Busy => "too much is asked at once; try again in a moment",
            Self::Setting(text) | Self::Bad(text) | Self::Taken(text) | Self::Failed(text) => text,
        };
        match self {
            Self::Setting(text) => json!({ "error": text, "faults": [{ "key": null, "text": text }] }),
            _ => json!({ "error": text }),
        }
    }
}

impl From<RunError> for Refusal {
    fn from(error: RunError) -> Self {
        match error {
            RunError::Cancelled => Self::Stale,
            // The setting asks for a jet that the program does not cover, or that is not steady.
            RunError::Jet(_) | RunError::Choked { .. } => Self::Setting(error.to_string()),
        }
    }
}
