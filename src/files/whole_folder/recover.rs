//! What ended runs have left beside a place.

use super::hidden::{LOCK, NEW, OLD, PREFIX};
use super::own;
use super::place::{Rename, beside, on_disk, resolve};
use crate::whole_file::folder_of;
use std::ffi::{OsStr, OsString};
use std::fs::{self, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

/// Finishes or removes what runs that were ended have left beside `dir`, and says what was done.
///
/// A result that was complete goes to its place, an earlier one that had moved aside comes back, the rest is removed.
/// Folders of runs that are alive, and those of other users, stay as they are.
pub fn recover(dir: &Path) -> Vec<String> {
    let Ok(dir) = resolve(dir) else { return vec![] };
    let Ok(entries) = fs::read_dir(folder_of(&dir)) else { return vec![] };
    let is_hidden = |name: &OsStr| name.to_string_lossy().starts_with(PREFIX);
    let mut names: Vec<OsString> = entries
        .flatten()
        .filter(|entry| is_hidden(&entry.file_name()) && entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.file_name())
        .collect();
    names.sort();
    names.iter().filter_map(|name| recover_one(&dir.with_file_name(name), &on_disk)).collect()
}

fn recover_one(root: &Path, rename: Rename) -> Option<String> {
    let lock = root.join(LOCK);
    let Ok(file) = OpenOptions::new().read(true).write(true).open(&lock) else {
        // Just made, or of another user, or not of this program. An empty one can go: its run makes another.
        let _ = fs::remove_dir(root);
        return None;
    };
    file.try_lock().ok()?;
    if !lock.exists() {
        return None;
    }
    let (new, old) = (only_folder(&root.join(NEW)), only_folder(&root.join(OLD)));
    let remark = match settle(root, new, old, rename) {
        Ok(remark) => {
            let _ = fs::remove_dir_all(root.join(NEW));
            let _ = fs::remove_dir(root.join(OLD));
            drop(file);
            let _ = fs::remove_file(&lock);
            let _ = fs::remove_dir(root);
            remark
        }
        Err(why) => {
            format!("{} holds what a run that was ended has left, and cannot be cleared: {why}", root.display())
        }
    };
    Some(remark)
}

/// The only thing in a folder, if it is a folder.
fn only_folder(folder: &Path) -> Option<PathBuf> {
    let mut entries = fs::read_dir(folder).ok()?.flatten();
    let first = entries.next().filter(|first| first.file_type().is_ok_and(|kind| kind.is_dir()));
    first.filter(|_| entries.next().is_none()).map(|entry| entry.path())
}

/// Finishes what was begun; afterwards nothing is left that is worth keeping.
fn settle(root: &Path, new: Option<PathBuf>, old: Option<PathBuf>, rename: Rename) -> io::Result<String> {
    let place = |folder: &Path| root.with_file_name(folder.file_name().unwrap_or_default());
    if let Some(new) = new.filter(|new| own::is_complete(new)) {
        let put = beside(&new, &place(&new), rename)?;
        let mut remark = format!("a run was ended when its result was complete: it is now in {}", put.display());
        if let Some(old) = old {
            if put == place(&old) {
                own::remove(&old)?;
            } else {
                remark += &format!(", and the result before it in {}", beside(&old, &place(&old), rename)?.display());
            }
        }
        return Ok(remark);
    }
    let Some(old) = old else {
        return Ok(format!("removed {}, left by a run that was ended before its result was complete", root.display()));
    };
    if own::is_complete(&place(&old)) {
        own::remove(&old)?;
        return Ok(format!("removed the earlier result, which {} has replaced", place(&old).display()));
    }
    let put = beside(&old, &place(&old), rename)?;
    Ok(format!("a run was ended while it tried or replaced a result: the earlier one is back in {}", put.display()))
}

#[cfg(test)]
mod tests {
    use super::super::hidden::Hidden;
    use super::super::testing::{names, ready, text_of};
    use super::*;

    /// As a kill leaves it: nothing is tidied, the lock is gone.
    fn kill(mut hidden: Hidden) {
        hidden.stays = true;
    }

    #[test]
    fn a_run_that_is_alive_is_left_alone_and_a_killed_one_is_tidied() {
        let (folder, dir, hidden) = ready(false);
        fs::remove_file(hidden.new_one().join("report.html")).expect("there");
        let before = names(folder.path());
        assert_eq!(recover(&dir), Vec::<String>::new());
        assert!(names(folder.path()) == before && hidden.new_one().exists());
        kill(hidden);
        let remarks = recover(&dir);
        assert!(remarks.len() == 1 && remarks[0].starts_with("removed"), "{remarks:?}");
        assert_eq!(names(folder.path()), Vec::<String>::new());
    }

    #[test]
    fn a_kill_at_any_step_of_replacing_loses_nothing() {
        // Complete, but the earlier one has not moved yet.
        let (folder, dir, hidden) = ready(true);
        kill(hidden);
        assert_eq!(recover(&dir).len(), 1);
        assert_eq!(names(folder.path()), ["result", "result-2"]);
        assert_eq!((text_of(&dir), text_of(&folder.path().join("result-2"))), ("earlier".into(), "new".into()));
        // Between the two renames.
        let (folder, dir, hidden) = ready(true);
        fs::rename(&dir, hidden.old_one()).expect("it moves");
        kill(hidden);
        assert_eq!(recover(&dir).len(), 1);
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));
        // The new one stands, the earlier one has been removed in part.
        let (folder, dir, hidden) = ready(true);
        fs::rename(&dir, hidden.old_one()).expect("it moves");
        fs::rename(hidden.new_one(), &dir).expect("it moves");
        fs::remove_file(hidden.old_one().join("report.html")).expect("there");
        kill(hidden);
        assert!(recover(&dir)[0].starts_with("removed the earlier result"));
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));
    }

    #[test]
    fn folders_with_such_a_name_that_are_not_ours_stay() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::create_dir(folder.path().join(".motefall-notes")).expect("writable");
        fs::write(folder.path().join(".motefall-notes/day-1.txt"), "x").expect("writable");
        assert_eq!(recover(&folder.path().join("result")), Vec::<String>::new());
        assert!(folder.path().join(".motefall-notes/day-1.txt").exists());
    }
}
