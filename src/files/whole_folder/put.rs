//! How a complete result gets to its place.

use super::hidden::Hidden;
use super::own;
use super::place::{Rename, beside, stands};
use super::{Earlier, FolderError};
use crate::whole_file::{folder_of, sync_folder};
use std::path::Path;

/// Renames the complete result to its place; gives a remark if something is left.
///
/// What stood there moves aside, and is removed only when the new one stands in its place. If the place cannot be had,
/// the result goes beside it, and the error says where.
pub(super) fn put(
    mut hidden: Hidden,
    dir: &Path,
    earlier: Earlier,
    rename: Rename,
) -> Result<Option<String>, FolderError> {
    hidden.stays = true;
    let (new, old) = (hidden.new_one(), hidden.old_one());
    let stood = match stands(dir, earlier) {
        Ok(stands) => stands,
        Err(reason) => return Err(put_beside(hidden, dir, reason, rename)),
    };
    if stood && let Err(source) = rename(dir, &old) {
        let reason = FolderError::CannotMove { dir: dir.into(), source };
        return Err(put_beside(hidden, dir, reason, rename));
    }
    if let Err(source) = rename(&new, dir) {
        if stood && rename(&old, dir).is_err() {
            return Err(FolderError::Stranded { dir: dir.into(), old, new: Some(new), source });
        }
        let reason = FolderError::NotWritable { path: dir.into(), source };
        return Err(put_beside(hidden, dir, reason, rename));
    }
    sync_folder(folder_of(dir));
    let left = if stood { own::remove(&old).err() } else { None };
    hidden.stays = left.is_some();
    Ok(left.map(|why| format!("the earlier result could not be removed and lies in {}: {why}", old.display())))
}

/// Puts the result at a name beside its place, and says where it is.
fn put_beside(mut hidden: Hidden, dir: &Path, reason: FolderError, rename: Rename) -> FolderError {
    let new = hidden.new_one();
    let kept = match beside(&new, dir, rename) {
        Ok(kept) => {
            hidden.stays = false;
            kept
        }
        Err(_) => new,
    };
    FolderError::Elsewhere { kept, reason: Box::new(reason) }
}

#[cfg(test)]
mod tests {
    use super::super::place::on_disk;
    use super::super::recover;
    use super::super::testing::{full_at, names, ready, result_at, text_of};
    use super::*;
    use std::cell::Cell;
    use std::fs;
    use std::path::PathBuf;

    /// Puts the new result over the earlier one while these renames fail; gives the error, and what is where.
    fn put_with_failures(failing: &[u32]) -> (tempfile::TempDir, PathBuf, Option<FolderError>) {
        let (folder, dir, hidden) = ready(true);
        let error = put(hidden, &dir, Earlier::Replaced, &full_at(failing, &Cell::new(0))).err();
        (folder, dir, error)
    }

    // The renames are 1 aside, 2 into place; after a failure of 2 also 3 back; then the name beside.

    #[test]
    fn an_earlier_result_goes_only_when_the_new_one_stands() {
        let (folder, dir, error) = put_with_failures(&[]);
        assert!(error.is_none(), "{error:?}");
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));

        for failing in [1, 2] {
            let (folder, dir, error) = put_with_failures(&[failing]);
            assert!(matches!(error, Some(FolderError::Elsewhere { .. })), "{error:?}");
            assert_eq!(names(folder.path()), ["result", "result-2"]);
            assert_eq!((text_of(&dir), text_of(&folder.path().join("result-2"))), ("earlier".into(), "new".into()));
        }
        for failing in [&[1, 2][..], &[2, 4]] {
            let (folder, dir, error) = put_with_failures(failing);
            let Some(FolderError::Elsewhere { kept, .. }) = error else { panic!("{error:?}") };
            assert_eq!((text_of(&dir), text_of(&kept)), ("earlier".into(), "new".into()));
            assert_eq!(recover(&dir).len(), 1);
            assert_eq!(names(folder.path()), ["result", "result-2"], "the next run gives it a name");
        }
    }

    #[test]
    fn if_neither_result_gets_to_the_place_both_are_kept() {
        let (folder, dir, error) = put_with_failures(&[2, 3]);
        let Some(FolderError::Stranded { old, new: Some(new), .. }) = &error else { panic!("{error:?}") };
        assert_eq!((text_of(old), text_of(new)), ("earlier".into(), "new".into()));
        let remarks = recover(&dir);
        assert!(remarks.len() == 1 && remarks[0].contains("it is now in"), "{remarks:?}");
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));
    }

    #[test]
    fn a_place_that_was_taken_meanwhile_costs_no_result() {
        let (folder, dir, hidden) = ready(false);
        result_at(&dir, "of another run");
        let error = put(hidden, &dir, Earlier::Kept, &on_disk).expect_err("taken").to_string();
        assert!(error.contains("result-2") && error.contains("already exists"), "{error}");
        assert_eq!(text_of(&folder.path().join("result-2")), "new");
        assert_eq!(text_of(&dir), "of another run");

        let (folder, dir, hidden) = ready(true);
        fs::write(dir.join("notes.txt"), "x").expect("writable");
        let error = put(hidden, &dir, Earlier::Replaced, &on_disk).expect_err("there are notes").to_string();
        assert!(error.contains("result-2") && error.contains("notes.txt"), "{error}");
        assert_eq!(names(folder.path()), ["result", "result-2"]);
    }
}
