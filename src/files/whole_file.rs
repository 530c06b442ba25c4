//! Writing of files that are complete or not there.
//!
//! A file is made beside its place, brought onto the disk and renamed. However the program ends, the place holds what stood there before or all
//! of the new file. What is left beside it then has a name by which [`remove_unfinished`] knows it.

use crate::plain_file::not_a_file;
use std::fs::{self, DirEntry, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// How the names of files begin that are not yet under their own.
pub const UNFINISHED: &str = ".motefall-part-";

/// Why a file cannot be written. Nothing of it is left, and what stood at its place still stands there.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// Something has the name already.
    #[error("{} already exists", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The folder for it is not there.
    #[error("cannot write {}: the folder {} is not there", path.display(), folder_of(path).display())]
    NoFolder {
        /// The file.
        path: PathBuf,
    },
    /// Something else than a file stands there.
    #[error("cannot write {}: it is {what}, not a file", path.display())]
    NotAFile {
        /// The file.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// No space left.
    #[error("the disk is full: {} needs {}, and at least {} more must be freed", path.display(), size(*needed), size(*missing))]
    DiskFull {
        /// The file.
        path: PathBuf,
        /// What was to be written, bytes.
        needed: u64,
        /// How much of it did not fit, bytes.
        missing: u64,
    },
    /// The system refuses.
    #[error("cannot write {}: {source}", path.display())]
    Refused {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
}

impl WriteError {
    pub(crate) fn new(path: &Path, source: io::Error, needed: u64, missing: u64) -> Self {
        let path = path.into();
        match source.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => Self::DiskFull { path, needed, missing },
            ErrorKind::AlreadyExists => Self::Exists { path },
            _ => Self::Refused { path, source },
        }
    }
}

/// A number of bytes in words.
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.2} GB", bytes as f64 / 1e9),
    }
}

/// The folder that a path is in.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes a file that must not exist yet.
pub fn create(path: &Path, parts: &[&[u8]]) -> Result<(), WriteError> {
    if path.symlink_metadata().is_ok() {
        return Err(WriteError::Exists { path: path.into() });
    }
    let Prepared { file, place, shown } = Prepared::at(path.into(), path, parts)?;
    put_down(file.persist_noclobber(&place).map(drop), &place, &shown)
}

/// Writes a file, in place of what stood there. A link stays a link: the file that it leads to is replaced.
pub fn replace(path: &Path, parts: &[&[u8]]) -> Result<(), WriteError> {
    Prepared::new(path, parts)?.put()
}

/// A file that is on the disk with all it holds, but not yet under its name. Dropped, it is gone.
#[derive(Debug)]
#[must_use]
pub struct Prepared {
    file: NamedTempFile,
    /// Where it goes.
    place: PathBuf,
    /// The same as the user names it.
    shown: PathBuf,
}

impl Prepared {
    /// Writes the parts one behind the other.
    pub fn new(path: &Path, parts: &[&[u8]]) -> Result<Self, WriteError> {
        let refused = |source| WriteError::Refused { path: path.into(), source };
        let is_link = path.symlink_metadata().is_ok_and(|found| found.is_symlink());
        let place = if is_link { path.canonicalize().map_err(refused)? } else { path.into() };
        match place.metadata() {
            Ok(found) if !found.is_file() => {
                Err(WriteError::NotAFile { path: path.into(), what: not_a_file(found.file_type()) })
            }
            _ => Self::at(place, path, parts),
        }
    }

    fn at(place: PathBuf, shown: &Path, parts: &[&[u8]]) -> Result<Self, WriteError> {
        let mut builder = tempfile::Builder::new();
        // Temporary files are private by default; this one is as open as any file that the user makes.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let made = builder.prefix(UNFINISHED).tempfile_in(folder_of(&place));
        let needed = length(parts);
        let mut file = made.map_err(|error| match error.kind() {
            ErrorKind::NotFound => WriteError::NoFolder { path: shown.into() },
            _ => WriteError::new(shown, error, needed, needed),
        })?;
        write_through(file.as_file_mut(), shown, parts)?;
        Ok(Self { file, place, shown: shown.into() })
    }

    /// Puts it to its place.
    pub fn put(self) -> Result<(), WriteError> {
        put_down(self.file.persist(&self.place).map(drop), &self.place, &self.shown)
    }
}

/// The end of a renaming.
fn put_down(renamed: Result<(), tempfile::PersistError>, place: &Path, shown: &Path) -> Result<(), WriteError> {
    renamed.map_err(|refused| WriteError::new(shown, refused.error, 0, 0))?;
    sync_folder(folder_of(place));
    Ok(())
}

fn length(parts: &[&[u8]]) -> u64 {
    parts.iter().map(|part| part.len() as u64).sum()
}

/// Writes the parts into an open file, one behind the other, and waits until they are on the disk.
pub fn write_through(file: &mut File, shown: &Path, parts: &[&[u8]]) -> Result<(), WriteError> {
    write_parts(file, shown, parts)?;
    sync(file, shown, length(parts))
}

/// Waits until an open file of so many bytes is on the disk.
pub(crate) fn sync(file: &File, shown: &Path, size: u64) -> Result<(), WriteError> {
    file.sync_all().map_err(|error| WriteError::new(shown, error, size, size))
}

/// Writes the parts into an open file, one behind the other; `shown` is its name in messages.
pub(crate) fn write_parts(file: &mut File, shown: &Path, parts: &[&[u8]]) -> Result<(), WriteError> {
    let needed = length(parts);
    let mut missing = needed;
    for part in parts {
        let mut rest = *part;
        while !rest.is_empty() {
            let written = match file.write(rest) {
                Ok(0) => Err(ErrorKind::WriteZero.into()),
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                written => written,
            };
            let written = written.map_err(|error| WriteError::new(shown, error, needed, missing))?;
            rest = &rest[written..];
            missing -= written as u64;
        }
    }
    Ok(())
}

/// Waits until a folder's list of names is on the disk.
pub(crate) fn sync_folder(folder: &Path) {
    // Some file systems cannot sync a folder; what is in it is complete either way.
    let _ = File::open(folder).and_then(|folder| folder.sync_all());
}

/// Removes from a folder what runs have left that were ended while they wrote a file, and gives their number. Call it only while nobody else
/// writes there.
pub fn remove_unfinished(folder: &Path) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    let is_left = |entry: &DirEntry| {
        entry.file_name().to_string_lossy().starts_with(UNFINISHED)
            && entry.file_type().is_ok_and(|kind| kind.is_file())
    };
    entries.flatten().filter(is_left).filter(|entry| fs::remove_file(entry.path()).is_ok()).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::TempDir;

    fn names(folder: &TempDir) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder").flatten();
        let mut names: Vec<String> = entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_that_stands_there_is_left_or_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a");
        create(&path, &[b"one ", b"two"]).expect("it is new");
        assert!(matches!(create(&path, &[b"x"]), Err(WriteError::Exists { .. })));
        assert_eq!(fs::read(&path).expect("there"), b"one two");
        replace(&path, &[b"three"]).expect("it goes");
        assert_eq!((fs::read(&path).expect("there").as_slice(), names(&folder)), (&b"three"[..], vec!["a".to_owned()]));
        // Somebody else took the name meanwhile.
        let Prepared { file, place, shown } = Prepared::at(path.clone(), &path, &[b"late"]).expect("it is prepared");
        let taken = put_down(file.persist_noclobber(&place).map(drop), &place, &shown);
        assert!(matches!(taken, Err(WriteError::Exists { .. })), "{taken:?}");
        assert_eq!((fs::read(&path).expect("there").as_slice(), names(&folder)), (&b"three"[..], vec!["a".to_owned()]));
    }

    #[test]
    fn what_is_ended_before_its_end_leaves_the_place_as_it_was() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a");
        create(&path, &[b"old"]).expect("it is new");
        drop(Prepared::new(&path, &[b"new"]).expect("it is prepared"));
        assert_eq!(names(&folder), ["a"]);
        // As a kill leaves it: nothing is tidied.
        let Prepared { file, .. } = Prepared::new(&path, &[b"new"]).expect("it is prepared");
        file.keep().expect("it stays");
        for other in [".motefall-notes", "notes.txt"] {
            fs::write(folder.path().join(other), "x").expect("writable");
        }
        fs::create_dir(folder.path().join(".motefall-part-folder")).expect("writable");
        assert_eq!(fs::read(&path).expect("there"), b"old");
        assert_eq!((names(&folder).len(), remove_unfinished(folder.path())), (5, 1));
        assert_eq!(names(&folder), [".motefall-notes", ".motefall-part-folder", "a", "notes.txt"]);
    }

    #[test]
    fn a_folder_that_is_not_there_is_named() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("below").join("a");
        for error in [create(&path, &[b"x"]), replace(&path, &[b"x"])] {
            let error = error.expect_err("there is no folder").to_string();
            assert!(
                error.ends_with(&format!("the folder {} is not there", folder.path().join("below").display())),
                "{error}"
            );
        }
        let itself = replace(folder.path(), &[b"x"]).expect_err("refused").to_string();
        assert!(itself.ends_with("it is a folder, not a file"), "{itself}");
        assert_eq!(names(&folder), Vec::<String>::new());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().expect("a folder");
        let [file, link, broken, device] = ["a", "link", "broken", "device"].map(|name| folder.path().join(name));
        fs::write(&file, "old").expect("writable");
        symlink("a", &link).expect("made");
        symlink("nowhere", &broken).expect("made");
        symlink("/dev/null", &device).expect("made");
        replace(&link, &[b"new"]).expect("it is written");
        assert!(link.is_symlink());
        assert_eq!(fs::read(&file).expect("there"), b"new");
        for taken in [&link, &broken] {
            assert!(matches!(create(taken, &[b"x"]), Err(WriteError::Exists { .. })));
        }
        assert!(matches!(replace(&broken, &[b"x"]), Err(WriteError::Refused { .. })));
        let error = replace(&device, &[b"x"]).expect_err("refused").to_string();
        assert!(error.ends_with("it is a device, not a file"), "{error}");
        assert_eq!(names(&folder), ["a", "broken", "device", "link"]);
    }

    #[cfg(unix)]
    #[test]
    fn it_is_as_open_as_any_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().expect("a folder");
        let [ours, any] = ["ours", "any"].map(|name| folder.path().join(name));
        create(&ours, &[b"x"]).expect("it is new");
        fs::write(&any, "x").expect("writable");
        let mode = |path| fs::metadata(path).expect("there").permissions().mode() & 0o777;
        assert_eq!(mode(ours), mode(any));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told_with_what_is_missing() {
        // The system's own device that is always full.
        let mut full = fs::OpenOptions::new().write(true).open("/dev/full").expect("Linux has it");
        let error =
            write_through(&mut full, Path::new("out/a.csv"), &[&[0; 1_500], &[0; 500]]).expect_err("it is full");
        assert_eq!(
            error.to_string(),
            "the disk is full: out/a.csv needs 2.0 kB, and at least 2.0 kB more must be freed"
        );
    }
}
