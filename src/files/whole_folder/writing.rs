//! A result being put together.

use super::hidden::Hidden;
use super::place::{on_disk, resolve};
use super::put::put;
use super::{Earlier, FolderError, OwnFile, recover};
use crate::whole_file::{self, WriteError, folder_of};
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// A folder being put together. Dropped before it is put to its place, it is gone.
#[derive(Debug)]
pub struct WholeFolder {
    hidden: Hidden,
    /// Where it goes.
    place: PathBuf,
    /// The same as the user names it.
    shown: PathBuf,
    /// Name, open file and size of each that was written.
    written: Vec<(PathBuf, File, u64)>,
    own: Vec<OwnFile>,
    remarks: Vec<String>,
}

/// A folder at its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed {
    /// Every file, relative to the folder, in the order of writing.
    pub files: Vec<PathBuf>,
    /// Sum of their sizes, bytes.
    pub bytes: u64,
    /// What else the user has to know: what ended runs had left, what could not be removed.
    pub remarks: Vec<String>,
}

impl WholeFolder {
    /// Makes the folders above the place, and the hidden one in which the result is put together.
    pub fn begin(dir: &Path) -> Result<Self, FolderError> {
        let remarks = recover(dir);
        let place = resolve(dir)?;
        let above = folder_of(&place);
        fs::create_dir_all(above).map_err(|source| FolderError::NotWritable { path: above.into(), source })?;
        let hidden = Hidden::beside(&place)?;
        let shown = dir.into();
        Ok(Self { hidden, place, shown, written: vec![], own: vec![], remarks })
    }

    /// Adds a file; `name` is relative to the folder, with `/` on every system.
    pub fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), FolderError> {
        let (path, shown) = (self.hidden.new_one().join(name), self.shown.join(name));
        let made = fs::create_dir_all(folder_of(&path)).and_then(|()| File::create(&path));
        let size = bytes.len() as u64;
        let mut file = made.map_err(|error| FolderError::File(WriteError::new(&shown, error, size, size)))?;
        whole_file::write_parts(&mut file, &shown, &[bytes]).map_err(FolderError::File)?;
        self.written.push((name.into(), file, size));
        self.own.push(OwnFile::new(name, bytes));
        Ok(())
    }

    /// What was added so far, as it belongs into the list of the result's own files.
    pub fn own(&self) -> &[OwnFile] {
        &self.own
    }

    /// Waits until everything is on the disk and puts the folder to its place. A result is never thrown away for the sake of its place: if
    /// that cannot be had, it goes beside it, and the error says where.
    pub fn put(self, earlier: Earlier) -> Result<Placed, FolderError> {
        let Self { hidden, place, shown, written, mut remarks, .. } = self;
        let (mut files, mut bytes) = (vec![], 0);
        // To wait for each as it is written would take many times longer.
        for (name, file, size) in written {
            whole_file::sync(&file, &shown.join(&name), size).map_err(FolderError::File)?;
            files.push(name);
            bytes += size;
        }
        remarks.extend(put(hidden, &place, earlier, &on_disk)?);
        Ok(Placed { files, bytes, remarks })
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{names, text_of};
    use super::super::{LIST, MARK};
    use super::*;

    /// A result of one file, and a list that is added last.
    fn filled(dir: &Path, text: &str) -> WholeFolder {
        let mut folder = WholeFolder::begin(dir).expect("writable");
        folder.add("report.html", text.as_bytes()).expect("room");
        let list = serde_json::json!({ "format": MARK, "files": folder.own() });
        folder.add(LIST, list.to_string().as_bytes()).expect("room");
        folder
    }

    #[test]
    fn a_folder_is_there_when_it_is_complete() {
        let bench = tempfile::tempdir().expect("a temporary folder");
        let dir = bench.path().join("new/result");
        let folder = filled(&dir, "one");
        assert!(!dir.exists());
        let placed = folder.put(Earlier::Kept).expect("it is free");
        assert_eq!((placed.files.len(), names(&bench.path().join("new"))), (2, vec!["result".to_owned()]));
        assert_eq!((text_of(&dir), placed.bytes > 3), ("one".into(), true));
        drop(filled(&dir, "given up"));
        filled(&dir, "two").put(Earlier::Replaced).expect("the earlier one goes");
        assert_eq!((text_of(&dir), names(&bench.path().join("new"))), ("two".into(), vec!["result".to_owned()]));
    }

    #[test]
    fn a_file_that_cannot_be_written_leaves_nothing() {
        let bench = tempfile::tempdir().expect("a temporary folder");
        let dir = bench.path().join("result");
        let mut folder = WholeFolder::begin(&dir).expect("writable");
        folder.add("a", b"x").expect("room");
        let error = folder.add("a/below", b"x").expect_err("a file stands there").to_string();
        assert!(error.contains("result/a/below") && error.ends_with("nothing was left behind"), "{error}");
        drop(folder);
        assert_eq!(names(bench.path()), Vec::<String>::new());
    }
}
