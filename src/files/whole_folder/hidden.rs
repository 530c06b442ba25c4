//! The hidden folder in which a result is put together.

use super::FolderError;
use crate::whole_file::folder_of;
use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// How its name begins.
pub(super) const PREFIX: &str = ".motefall-";
/// What it holds.
pub(super) const LOCK: &str = "lock";
pub(super) const NEW: &str = "new";
pub(super) const OLD: &str = "old";

/// The hidden folder of a run. It goes when dropped, unless what it holds has to stay.
#[derive(Debug)]
pub(super) struct Hidden {
    root: PathBuf,
    name: OsString,
    lock: Option<File>,
    pub(super) stays: bool,
}

impl Hidden {
    /// A new one beside the place, whose parent is there.
    pub(super) fn beside(dir: &Path) -> Result<Self, FolderError> {
        let refuse = |source| FolderError::NotWritable { path: folder_of(dir).into(), source };
        let name = dir.file_name().ok_or_else(|| FolderError::NoName { dir: dir.into() })?;
        // A run that cleans up at this very moment may take a folder for left over before it is locked.
        for _ in 0..100 {
            let mut builder = tempfile::Builder::new();
            // Temporary folders are private by default; a result is as open as any folder the user makes.
            #[cfg(unix)]
            builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
            let root = builder.prefix(PREFIX).tempdir_in(folder_of(dir)).map_err(refuse)?;
            if let Some(lock) = lock_new(root.path()).map_err(refuse)? {
                // As the user would name it, not from the root of the disk.
                let root = dir.with_file_name(root.keep().file_name().unwrap_or_default());
                let hidden = Self { root, name: name.into(), lock: Some(lock), stays: false };
                for folder in [NEW, OLD] {
                    fs::create_dir(hidden.root.join(folder)).map_err(refuse)?;
                }
                return Ok(hidden);
            }
        }
        Err(refuse(io::Error::other("the hidden folder for putting the result together disappears")))
    }

    /// Where the result is put together.
    pub(super) fn new_one(&self) -> PathBuf {
        self.root.join(NEW).join(&self.name)
    }

    /// Where that goes which stood at the place.
    pub(super) fn old_one(&self) -> PathBuf {
        self.root.join(OLD).join(&self.name)
    }
}

impl Drop for Hidden {
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
