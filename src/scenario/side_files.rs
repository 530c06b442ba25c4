//! Files that a scenario names: drawings and tables of sizes.

use crate::drawing;
use motefall_files::plain_file::{self, FileError};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Bytes of a file, or why there are none.
type Content = Result<Arc<[u8]>, Arc<FileError>>;

/// Files beside a scenario, each read once: whoever asks again, as every point of a sweep does, is given the same bytes, whatever has become
/// of the file.
#[derive(Debug)]
pub(crate) struct SideFiles {
    base_dir: PathBuf,
    /// By the name that stands in the scenario.
    read: Mutex<BTreeMap<String, Content>>,
}

impl SideFiles {
    /// Of a scenario in this folder; nothing is read yet.
    pub(crate) fn new(base_dir: &Path) -> Self {
        Self { base_dir: base_dir.to_owned(), read: Mutex::default() }
    }

    /// Where names count from.
    pub(crate) fn base_dir(&self) -> &Path {
        &self.base_dir
    }

    /// A file of at most so many bytes.
    pub(crate) fn read(&self, name: &str, most: u64) -> Content {
        let read = || plain_file::read(&self.base_dir.join(name), most).map(Arc::from).map_err(Arc::from);
        self.known().entry(name.to_owned()).or_insert_with(read).clone()
    }

    /// Tells one content of each file from another.
    pub(crate) fn fingerprints(&self) -> BTreeMap<String, String> {
        let known = self.known();
        let read = known.iter().filter_map(|(name, content)| Some((name, content.as_ref().ok()?)));
        read.map(|(name, bytes)| (name.clone(), drawing::fingerprint(bytes))).collect()
    }

    fn known(&self) -> MutexGuard<'_, BTreeMap<String, Content>> {
        self.read.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
