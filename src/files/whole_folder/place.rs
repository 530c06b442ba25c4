//! Where a folder goes: what may stand there, and which name is free.

use super::{Earlier, FolderError, own};
use crate::whole_file::{folder_of, sync_folder};
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Most names `NAME-2`, `NAME-3`, ... that are tried.
const MOST_NAMES: u32 = 1000;

/// How folders are renamed; tests hand in one that fails.
pub(super) type Rename<'a> = &'a dyn Fn(&Path, &Path) -> io::Result<()>;

/// The usual one.
pub(super) fn on_disk(from: &Path, to: &Path) -> io::Result<()> {
    fs::rename(from, to)
}

/// The place itself: without a slash at its end, and where a link leads to.
pub(super) fn resolve(dir: &Path) -> Result<PathBuf, FolderError> {
    let name = dir.file_name().ok_or_else(|| FolderError::NoName { dir: dir.into() })?;
    let plain = dir.parent().unwrap_or(Path::new("")).join(name);
    match fs::symlink_metadata(&plain) {
        Ok(m) if m.is_symlink() => {
            fs::canonicalize(&plain).map_err(|source| FolderError::NotWritable { path: plain, source })
        }
        _ => Ok(plain),
    }
}

/// Whether something stands at the place that may be replaced; an error if it may not.
pub(super) fn stands(dir: &Path, earlier: Earlier) -> Result<bool, FolderError> {
    let refuse = |source| FolderError::NotWritable { path: dir.into(), source };
    match fs::symlink_metadata(dir) {
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(false),
        Err(source) => return Err(refuse(source)),
        Ok(m) if m.is_dir() && fs::read_dir(dir).map_err(refuse)?.next().is_none() => return Ok(true),
        Ok(_) if earlier == Earlier::Kept => return Err(FolderError::Exists { dir: dir.into() }),
        Ok(_) => {}
    }
    match own::look(dir).map_err(refuse)? {
        None => Err(FolderError::NotOurs { dir: dir.into() }),
        Some(contents) if contents.others.is_empty() => Ok(true),
        Some(contents) => Err(FolderError::NotOnlyOurs { dir: dir.into(), others: contents.others }),
    }
}

/// Renames a folder to its place, or to `NAME-2`, `NAME-3`, ... if that is taken.
pub(super) fn beside(folder: &Path, dir: &Path, rename: Rename) -> io::Result<PathBuf> {
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
    sync_folder(folder_of(dir));
    Ok(free)
}
