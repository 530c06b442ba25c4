//! How a result gets to its place: tried before the run, put together in a hidden folder beside it, and renamed.
//!
//! The hidden folder is `.motefall-*` beside the place. `new/NAME` is the result being put together, `old/NAME` what
//! stood at the place, and `lock` is locked as long as the run lives: the system lets go of it however the run ends, so
//! [`recover`] never touches the folder of a run that is alive. Renaming is the last step, and what stood there is
//! removed only after it.

use super::{OutputError, own};
use std::ffi::{OsStr, OsString};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

const PREFIX: &str = ".motefall-";
const LOCK: &str = "lock";
const NEW: &str = "new";
const OLD: &str = "old";
/// Most names `NAME-2`, `NAME-3`, ... that are tried.
const MOST_NAMES: u32 = 1000;

/// How folders are renamed; tests hand in one that fails.
pub(super) type Rename<'a> = &'a dyn Fn(&Path, &Path) -> io::Result<()>;

/// The usual one.
pub(super) fn on_disk(from: &Path, to: &Path) -> io::Result<()> {
    fs::rename(from, to)
}

/// Whether a result could be put at `dir`: call this before a long run.
///
/// An empty folder counts as free. The place is tried as it will be used: folders are made and renamed, what stands
/// there moves aside and back. Nothing is left behind.
pub fn check_place(dir: &Path, overwrite: bool) -> Result<(), OutputError> {
    let dir = resolve(dir)?;
    let stands = stands(&dir, overwrite)?;
    let _parents = MadeFolders::above(&dir)?;
    let work = Work::beside(&dir)?;
    attempt(work, &dir, stands, &on_disk)
}

fn attempt(work: Work, dir: &Path, stands: bool, rename: Rename) -> Result<(), OutputError> {
    if stands {
        return aside_and_back(work, dir, rename);
    }
    let refuse = |source| OutputError::NotWritable { path: dir.into(), source };
    fs::create_dir(work.new_one()).map_err(refuse)?;
    rename(&work.new_one(), dir).and_then(|()| fs::remove_dir(dir)).map_err(refuse)
}

fn aside_and_back(mut work: Work, dir: &Path, rename: Rename) -> Result<(), OutputError> {
    rename(dir, &work.old_one()).map_err(|source| OutputError::CannotMove { dir: dir.into(), source })?;
    rename(&work.old_one(), dir).map_err(|source| {
        work.stays = true;
        OutputError::Stranded { dir: dir.into(), old: work.old_one(), new: None, source }
    })
}

/// The place itself: without a slash at its end, and where a link leads to.
fn resolve(dir: &Path) -> Result<PathBuf, OutputError> {
    let name = dir.file_name().ok_or_else(|| OutputError::NoName { dir: dir.into() })?;
    let plain = dir.parent().unwrap_or(Path::new("")).join(name);
    match fs::symlink_metadata(&plain) {
        Ok(m) if m.is_symlink() => {
            fs::canonicalize(&plain).map_err(|source| OutputError::NotWritable { path: plain, source })
        }
        _ => Ok(plain),
    }
}

/// The folder that a path is in.
fn parent(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Whether something stands at the place that may be replaced; an error if it may not.
fn stands(dir: &Path, overwrite: bool) -> Result<bool, OutputError> {
    let refuse = |source| OutputError::NotWritable { path: dir.into(), source };
    match fs::symlink_metadata(dir) {
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(false),
        Err(source) => return Err(refuse(source)),
        Ok(m) if m.is_dir() && fs::read_dir(dir).map_err(refuse)?.next().is_none() => return Ok(true),
        Ok(_) if !overwrite => return Err(OutputError::Exists { dir: dir.into() }),
        Ok(_) => {}
    }
    match own::look(dir).map_err(refuse)? {
        None => Err(OutputError::NotOurs { dir: dir.into() }),
        Some(contents) if contents.others.is_empty() => Ok(true),
        Some(contents) => Err(OutputError::NotOnlyOurs { dir: dir.into(), others: contents.others }),
    }
}

/// Folders made for a trial; they go again.
struct MadeFolders(Vec<PathBuf>);

impl MadeFolders {
    fn above(dir: &Path) -> Result<Self, OutputError> {
        let mut made = Self(vec![]);
        let missing: Vec<&Path> =
            parent(dir).ancestors().take_while(|a| !a.as_os_str().is_empty() && !a.exists()).collect();
        for folder in missing.into_iter().rev() {
            fs::create_dir(folder).map_err(|source| OutputError::NotWritable { path: folder.into(), source })?;
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

/// The hidden folder of a run. It goes when dropped, unless what it holds has to stay.
pub(super) struct Work {
    root: PathBuf,
    name: OsString,
    lock: Option<File>,
    stays: bool,
}

impl Work {
    /// A new one beside the place, whose parent is there.
    pub(super) fn beside(dir: &Path) -> Result<Self, OutputError> {
        let refuse = |source| OutputError::NotWritable { path: parent(dir).into(), source };
        let name = dir.file_name().ok_or_else(|| OutputError::NoName { dir: dir.into() })?;
        // A run that cleans up at this very moment may take a folder for left over before it is locked.
        for _ in 0..100 {
            let mut builder = tempfile::Builder::new();
            // Temporary folders are private by default; a result is as open as any folder the user makes.
            #[cfg(unix)]
            builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
            let root = builder.prefix(PREFIX).tempdir_in(parent(dir)).map_err(refuse)?;
            if let Some(lock) = lock_new(root.path()).map_err(refuse)? {
                // As the user would name it, not from the root of the disk.
                let root = dir.with_file_name(root.keep().file_name().unwrap_or_default());
                let work = Self { root, name: name.into(), lock: Some(lock), stays: false };
                for folder in [NEW, OLD] {
                    fs::create_dir(work.root.join(folder)).map_err(refuse)?;
                }
                return Ok(work);
            }
        }
        Err(refuse(io::Error::other("the hidden folder for putting the result together disappears")))
    }

    /// Where the result is put together.
    pub(super) fn new_one(&self) -> PathBuf {
        self.root.join(NEW).join(&self.name)
    }

    /// Where that goes which stood at the place.
    fn old_one(&self) -> PathBuf {
        self.root.join(OLD).join(&self.name)
    }
}

impl Drop for Work {
    fn drop(&mut self) {
        if !self.stays {
            let _ = fs::remove_dir_all(self.root.join(NEW));
            // Never more than an empty folder.
            let _ = fs::remove_dir(self.root.join(OLD));
        }
        // Not every system removes a file that is open.
        self.lock = None;
        if !self.stays {
            let _ = fs::remove_file(self.root.join(LOCK));
            let _ = fs::remove_dir(&self.root);
        }
    }
}

/// Makes and locks the lock file; `None` if the folder was taken for left over meanwhile.
fn lock_new(root: &Path) -> io::Result<Option<File>> {
    let path = root.join(LOCK);
    let file = match File::create_new(&path) {
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(None),
        opened => opened?,
    };
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Ok(None),
        // Where the file system knows no locks, nobody else gets one either, and the folder is left alone.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(path.exists().then_some(file)),
    }
}

/// Makes the folders above the place, and the hidden one in which the result is put together.
pub(super) fn begin(dir: &Path) -> Result<(PathBuf, Work), OutputError> {
    let dir = resolve(dir)?;
    fs::create_dir_all(parent(&dir))
        .map_err(|source| OutputError::NotWritable { path: parent(&dir).into(), source })?;
    let work = Work::beside(&dir)?;
    Ok((dir, work))
}

/// Renames the complete result to its place; gives a remark if something is left.
///
/// What stood there moves aside, and is removed only when the new one stands in its place. If the place cannot be had,
/// the result goes beside it, and the error says where.
pub(super) fn put(mut work: Work, dir: &Path, overwrite: bool, rename: Rename) -> Result<Option<String>, OutputError> {
    work.stays = true;
    let (new, old) = (work.new_one(), work.old_one());
    let stood = match stands(dir, overwrite) {
        Ok(stands) => stands,
        Err(reason) => return Err(put_beside(work, dir, reason, rename)),
    };
    if stood && let Err(source) = rename(dir, &old) {
        let reason = OutputError::CannotMove { dir: dir.into(), source };
        return Err(put_beside(work, dir, reason, rename));
    }
    if let Err(source) = rename(&new, dir) {
        if stood && rename(&old, dir).is_err() {
            return Err(OutputError::Stranded { dir: dir.into(), old, new: Some(new), source });
        }
        let reason = OutputError::NotWritable { path: dir.into(), source };
        return Err(put_beside(work, dir, reason, rename));
    }
    sync(parent(dir));
    let left = if stood { own::remove(&old).err() } else { None };
    work.stays = left.is_some();
    Ok(left.map(|why| format!("the earlier result could not be removed and lies in {}: {why}", old.display())))
}

/// Puts the result at a name beside its place, and says where it is.
fn put_beside(mut work: Work, dir: &Path, reason: OutputError, rename: Rename) -> OutputError {
    let new = work.new_one();
    let kept = match beside(&new, dir, rename) {
        Ok(kept) => {
            work.stays = false;
            kept
        }
        Err(_) => new,
    };
    OutputError::Elsewhere { kept, reason: Box::new(reason) }
}

/// Renames a folder to its place, or to `NAME-2`, `NAME-3`, ... if that is taken.
fn beside(folder: &Path, dir: &Path, rename: Rename) -> io::Result<PathBuf> {
    let numbered = |n: u32| {
        let mut path = dir.as_os_str().to_owned();
        if n > 1 {
            path.push(format!("-{n}"));
        }
        PathBuf::from(path)
    };
    let is_free = |path: &PathBuf| fs::symlink_metadata(path).is_err_and(|e| e.kind() == ErrorKind::NotFound);
    let free = (1..=MOST_NAMES).map(numbered).find(is_free).ok_or_else(|| io::Error::other("no name is free"))?;
    rename(folder, &free)?;
    sync(parent(dir));
    Ok(free)
}

fn sync(folder: &Path) {
    // Some file systems cannot sync a folder; the result is complete either way.
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
}

/// Finishes or removes what runs that were ended have left beside `dir`, and says what was done.
///
/// A result that was complete goes to its place, an earlier one that had moved aside comes back, the rest is removed.
/// Folders of runs that are alive, and those of other users, stay as they are.
pub fn recover(dir: &Path) -> Vec<String> {
    let Ok(dir) = resolve(dir) else { return vec![] };
    let Ok(entries) = fs::read_dir(parent(&dir)) else { return vec![] };
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
    use super::super::{own, summary};
    use super::*;
    use std::cell::Cell;

    /// Something like a result, told apart by its text.
    fn result_at(dir: &Path, text: &str) {
        fs::create_dir_all(dir.join("maps")).expect("writable");
        let files = ["report.html", "maps/grid.json"].map(|name| {
            fs::write(dir.join(name), text).expect("writable");
            own::OwnFile::new(name, text.as_bytes())
        });
        let run = serde_json::json!({ "format": summary::FORMAT, "files": files });
        fs::write(dir.join(own::LIST), run.to_string()).expect("writable");
    }

    fn text_of(dir: &Path) -> String {
        assert!(own::is_complete(dir), "{} is whole", dir.display());
        fs::read_to_string(dir.join("report.html")).expect("there")
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder").flatten();
        let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// An earlier result at `result`, and a new one that is ready.
    fn ready(stands: bool) -> (tempfile::TempDir, PathBuf, Work) {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let dir = folder.path().join("result");
        if stands {
            result_at(&dir, "earlier");
        }
        let work = Work::beside(&dir).expect("writable");
        result_at(&work.new_one(), "new");
        (folder, dir, work)
    }

    /// Renames but for these calls, counted from 1: to those the disk is full.
    fn full_at<'a>(failing: &'a [u32], count: &'a Cell<u32>) -> impl Fn(&Path, &Path) -> io::Result<()> + 'a {
        |from: &Path, to: &Path| {
            count.set(count.get() + 1);
            if failing.contains(&count.get()) { Err(ErrorKind::StorageFull.into()) } else { fs::rename(from, to) }
        }
    }

    /// Puts the new result over the earlier one while these renames fail; gives the error, and what is where.
    fn put_with_failures(failing: &[u32]) -> (tempfile::TempDir, PathBuf, Option<OutputError>) {
        let (folder, dir, work) = ready(true);
        let error = put(work, &dir, true, &full_at(failing, &Cell::new(0))).err();
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
            assert!(matches!(error, Some(OutputError::Elsewhere { .. })), "{error:?}");
            assert_eq!(names(folder.path()), ["result", "result-2"]);
            assert_eq!((text_of(&dir), text_of(&folder.path().join("result-2"))), ("earlier".into(), "new".into()));
        }
        for failing in [&[1, 2][..], &[2, 4]] {
            let (folder, dir, error) = put_with_failures(failing);
            let Some(OutputError::Elsewhere { kept, .. }) = error else { panic!("{error:?}") };
            assert_eq!((text_of(&dir), text_of(&kept)), ("earlier".into(), "new".into()));
            assert_eq!(recover(&dir).len(), 1);
            assert_eq!(names(folder.path()), ["result", "result-2"], "the next run gives it a name");
        }
    }

    #[test]
    fn if_neither_result_gets_to_the_place_both_are_kept() {
        let (folder, dir, error) = put_with_failures(&[2, 3]);
        let Some(OutputError::Stranded { old, new: Some(new), .. }) = &error else { panic!("{error:?}") };
        assert_eq!((text_of(old), text_of(new)), ("earlier".into(), "new".into()));
        let remarks = recover(&dir);
        assert!(remarks.len() == 1 && remarks[0].contains("it is now in"), "{remarks:?}");
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));
    }

    #[test]
    fn a_place_that_was_taken_meanwhile_costs_no_result() {
        let (folder, dir, work) = ready(false);
        result_at(&dir, "of another run");
        let error = put(work, &dir, false, &on_disk).expect_err("taken").to_string();
        assert!(error.contains("result-2") && error.contains("already exists"), "{error}");
        assert_eq!(text_of(&folder.path().join("result-2")), "new");
        assert_eq!(text_of(&dir), "of another run");

        let (folder, dir, work) = ready(true);
        fs::write(dir.join("notes.txt"), "x").expect("writable");
        let error = put(work, &dir, true, &on_disk).expect_err("there are notes").to_string();
        assert!(error.contains("result-2") && error.contains("notes.txt"), "{error}");
        assert_eq!(names(folder.path()), ["result", "result-2"]);
    }

    #[test]
    fn what_cannot_be_moved_is_told_before_the_run() {
        let (folder, dir, work) = ready(true);
        drop(work);
        let refused = |failing: &[u32]| {
            let count = Cell::new(0);
            attempt(Work::beside(&dir).expect("writable"), &dir, true, &full_at(failing, &count)).err()
        };
        assert!(refused(&[]).is_none());
        let error = refused(&[1]).expect("it cannot be moved");
        assert!(matches!(error, OutputError::CannotMove { .. }), "{error}");
        assert!(error.to_string().contains("result/result"), "{error}");
        assert_eq!(names(folder.path()), ["result"]);
        // It moved aside and cannot come back: the next run brings it.
        assert!(matches!(refused(&[2]), Some(OutputError::Stranded { new: None, .. })));
        assert!(!dir.exists());
        let remarks = recover(&dir);
        assert!(remarks[0].contains("the earlier one is back in"), "{remarks:?}");
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "earlier".into()));

        let free = folder.path().join("free");
        let count = Cell::new(0);
        let error = attempt(Work::beside(&free).expect("writable"), &free, false, &full_at(&[1], &count));
        assert!(matches!(error, Err(OutputError::NotWritable { .. })), "{error:?}");
        assert_eq!(names(folder.path()), ["result"]);
    }

    /// As a kill leaves it: nothing is tidied, the lock is gone.
    fn kill(mut work: Work) {
        work.stays = true;
    }

    #[test]
    fn a_run_that_is_alive_is_left_alone_and_a_killed_one_is_tidied() {
        let (folder, dir, work) = ready(false);
        fs::remove_file(work.new_one().join("report.html")).expect("there");
        let before = names(folder.path());
        assert_eq!(recover(&dir), Vec::<String>::new());
        assert!(names(folder.path()) == before && work.new_one().exists());
        kill(work);
        let remarks = recover(&dir);
        assert!(remarks.len() == 1 && remarks[0].starts_with("removed"), "{remarks:?}");
        assert_eq!(names(folder.path()), Vec::<String>::new());
    }

    #[test]
    fn a_kill_at_any_step_of_replacing_loses_nothing() {
        // Complete, but the earlier one has not moved yet.
        let (folder, dir, work) = ready(true);
        kill(work);
        assert_eq!(recover(&dir).len(), 1);
        assert_eq!(names(folder.path()), ["result", "result-2"]);
        assert_eq!((text_of(&dir), text_of(&folder.path().join("result-2"))), ("earlier".into(), "new".into()));
        // Between the two renames.
        let (folder, dir, work) = ready(true);
        fs::rename(&dir, work.old_one()).expect("it moves");
        kill(work);
        assert_eq!(recover(&dir).len(), 1);
        assert_eq!((names(folder.path()), text_of(&dir)), (vec!["result".to_owned()], "new".into()));
        // The new one stands, the earlier one has been removed in part.
        let (folder, dir, work) = ready(true);
        fs::rename(&dir, work.old_one()).expect("it moves");
        fs::rename(work.new_one(), &dir).expect("it moves");
        fs::remove_file(work.old_one().join("report.html")).expect("there");
        kill(work);
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
