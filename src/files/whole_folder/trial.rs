//! Whether a result could be put at a place, tried before a long run.

use super::hidden::Hidden;
use super::place::{Rename, on_disk, resolve, stands};
use super::{Earlier, FolderError};
use crate::whole_file::folder_of;
use std::fs;
use std::path::{Path, PathBuf};

/// Whether a result could be put at `dir`: call this before a long run.
///
/// An empty folder counts as free. The place is tried as it will be used: folders are made and renamed, what stands
/// there moves aside and back. Nothing is left behind.
pub fn check_place(dir: &Path, earlier: Earlier) -> Result<(), FolderError> {
    let dir = resolve(dir)?;
    let stands = stands(&dir, earlier)?;
    let _parents = MadeFolders::above(&dir)?;
    let hidden = Hidden::beside(&dir)?;
    attempt(hidden, &dir, stands, &on_disk)
}

fn attempt(hidden: Hidden, dir: &Path, stands: bool, rename: Rename) -> Result<(), FolderError> {
    if stands {
        return aside_and_back(hidden, dir, rename);
    }
    let refuse = |source| FolderError::NotWritable { path: dir.into(), source };
    fs::create_dir(hidden.new_one()).map_err(refuse)?;
    rename(&hidden.new_one(), dir).and_then(|()| fs::remove_dir(dir)).map_err(refuse)
}

fn aside_and_back(mut hidden: Hidden, dir: &Path, rename: Rename) -> Result<(), FolderError> {
    rename(dir, &hidden.old_one()).map_err(|source| FolderError::CannotMove { dir: dir.into(), source })?;
    rename(&hidden.old_one(), dir).map_err(|source| {
        hidden.stays = true;
        FolderError::Stranded { dir: dir.into(), old: hidden.old_one(), new: None, source }
    })
}

/// Folders made for a trial; they go again.
struct MadeFolders(Vec<PathBuf>);

impl MadeFolders {
    fn above(dir: &Path) -> Result<Self, FolderError> {
        let mut made = Self(vec![]);
        let missing: Vec<&Path> =
            folder_of(dir).ancestors().take_while(|a| !a.as_os_str().is_empty() && !a.exists()).collect();
        for folder in missing.into_iter().rev() {
            fs::create_dir(folder).map_err(|source| FolderError::NotWritable { path: folder.into(), source })?;
            made.0.push(folder.into());
        }
        Ok(made)
    }
}

impl Drop for MadeFolders {
    fn drop(&mut self) {
        for folder in self.0.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::recover;
    use super::super::testing::{full_at, names, ready, text_of};
    use super::*;
    use std::cell::Cell;

    #[test]
    fn what_cannot_be_moved_is_told_before_the_run() {
        let (folder, dir, hidden) = ready(true);
        drop(hidden);
        let refused = |failing: &[u32]| {
            let count = Cell::new(0);
            attempt(Hidden::beside(&dir).expect("writable"), &dir, true, &full_at(failing, &count)).err()
        };
        assert!(refused(&[]).is_none());
        let error = refused(&[1]).expect("it cannot be moved");
        assert!(matches!(error, FolderError::CannotMove { .. }), "{error}");
        assert!(error.to_string().contains("result/result"), "{error}");
        assert_eq!(names(folder.path()), ["result"]);
        // It moved aside and cannot come back: the next run brings it.
        assert!(matches!(refused(&[2]), Some(FolderError::Stranded { new: None, .. })));
        assert!(!dir.exists());
        let remarks = recover(&dir);
        assert!(remarks[0].contains("the earlier one is back in"), "{remarks:?}");
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "earlier".into()));

        let free = folder.path().join("free");
        let count = Cell::new(0);
        let error = attempt(Hidden::beside(&free).expect("writable"), &free, false, &full_at(&[1], &count));
        assert!(matches!(error, Err(FolderError::NotWritable { .. })), "{error:?}");
        assert_eq!(names(folder.path()), ["result"]);
    }
}
