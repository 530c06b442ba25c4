//! What is known of the scenario that is explored, shared by all questions.

use super::jobs::Jobs;
use super::subject::Subject;
use super::work::{Pages, Printed};
use motefall::{Atlas, Prediction};
use std::sync::{Arc, Mutex};

/// A print that was made for its pictures: setting, number, print.
pub(super) type Shown = Option<(String, u32, Arc<Prediction>)>;

/// What all questions share.
pub(super) struct Session {
    pub(super) subject: Arc<Subject>,
    /// Landing tables as prints take them, and for a quick look.
    pub(super) atlas: Atlas<'static>,
    pub(super) quick: Atlas<'static>,
    pub(super) pages: Pages,
    pub(super) printed: Printed,
    pub(super) shown: Mutex<Shown>,
    pub(super) sheets: Mutex<Vec<String>>,
    pub(super) jobs: Jobs,
}

impl Session {
    pub(super) fn new(subject: Subject) -> Self {
        let atlas = match subject.trial.calibration() {
            Some(_) => Atlas::for_like_droplets(subject.jets),
            None => Atlas::new(subject.jets),
        };
        Self {
            jobs: Jobs::found(&subject.file),
            subject: Arc::new(subject),
            quick: atlas.for_a_look(),
            atlas,
            pages: Pages::default(),
            printed: Printed::default(),
            shown: Mutex::default(),
            sheets: Mutex::default(),
        }
    }
}
