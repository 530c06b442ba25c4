//! Which files of a folder belong to a result: it lists them itself.
//!
//! Each file stands there with its length and checksum, so that one which somebody has changed since counts as
//! somebody's own.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The file that holds the list, under the key `files`. It is written last and removed last.
pub const LIST: &str = "run.json";
/// What stands in it under the key `format`: marks a folder as a result of this program.
pub const MARK: &str = "motefall-result";
/// Longest list that is read, bytes; a result has some twenty files.
const LONGEST_LIST: u64 = 1_000_000;

/// One file of a result.
#[derive(Debug, Serialize, Deserialize)]
pub struct OwnFile {
    /// Name relative to the folder, with `/` on every system.
    file: String,
    /// Its length.
    bytes: u64,
    /// CRC-32 of its content, in hexadecimal digits: finds changes, not malice.
    crc32: String,
}

impl OwnFile {
    pub(super) fn new(file: &str, content: &[u8]) -> Self {
        Self { file: file.to_owned(), bytes: content.len() as u64, crc32: checksum(content) }
    }
}

fn checksum(content: &[u8]) -> String {
    format!("{:08x}", crc32fast::hash(content))
}

/// What lies in a folder that holds a result.
#[derive(Debug)]
pub(super) struct Listing {
    /// The result's own files, relative to the folder.
    own: Vec<PathBuf>,
    /// Everything else, in words.
    pub(super) others: Vec<String>,
    /// Whether no file of the result is missing or changed.
    pub(super) is_complete: bool,
}

/// Looks into a folder; `None` if it does not hold a result with its list.
pub(super) fn look(dir: &Path) -> io::Result<Option<Listing>> {
    let Some(list) = list(dir) else { return Ok(None) };
    let mut listing = Listing { own: vec![], others: vec![], is_complete: false };
    walk(dir, Path::new(""), &list, &mut listing)?;
    // The list does not name itself.
    listing.is_complete = listing.own.len() == list.len() + 1;
    Ok(Some(listing))
}

/// Whether a folder holds all of a result, unchanged.
pub(super) fn is_complete(dir: &Path) -> bool {
    look(dir).is_ok_and(|listing| listing.is_some_and(|listing| listing.is_complete))
}

fn list(dir: &Path) -> Option<BTreeMap<PathBuf, OwnFile>> {
    #[derive(Deserialize)]
    struct Run {
        format: String,
        files: Vec<OwnFile>,
    }
    let path = dir.join(LIST);
    let is_list = fs::symlink_metadata(dir).ok()?.is_dir()
        && fs::symlink_metadata(&path).is_ok_and(|m| m.is_file() && m.len() <= LONGEST_LIST);
    let run: Run = if is_list { serde_json::from_slice(&fs::read(path).ok()?).ok()? } else { return None };
    (run.format == MARK).then(|| run.files.into_iter().map(|own| (PathBuf::from(&own.file), own)).collect())
}

fn walk(dir: &Path, under: &Path, list: &BTreeMap<PathBuf, OwnFile>, listing: &mut Listing) -> io::Result<()> {
    let mut entries = fs::read_dir(dir.join(under))?.collect::<Result<Vec<_>, _>>()?;
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let name = under.join(entry.file_name());
        let kind = entry.file_type()?;
        let holds_own = || list.keys().any(|own| *own != name && own.starts_with(&name));
        if kind.is_dir() {
            if holds_own() {
                walk(dir, &name, list, listing)?;
            } else {
                listing.others.push(format!("{}/", name.display()));
            }
            continue;
        }
        match list.get(&name) {
            _ if kind.is_file() && name == Path::new(LIST) => listing.own.push(name),
            Some(own) if kind.is_file() && is_unchanged(&entry, own)? => listing.own.push(name),
            Some(_) => listing.others.push(format!("{} (changed since it was written)", name.display())),
            None => listing.others.push(name.display().to_string()),
        }
    }
    Ok(())
}

fn is_unchanged(entry: &fs::DirEntry, own: &OwnFile) -> io::Result<bool> {
    // The length first: nothing longer than what was written is read.
    Ok(entry.metadata()?.len() == own.bytes && checksum(&fs::read(entry.path())?) == own.crc32)
}

/// Removes a result's own files, and its folders as far as they are empty then. With anything else in it nothing goes.
pub(super) fn remove(dir: &Path) -> io::Result<()> {
    let Some(listing) = look(dir)? else { return fs::remove_dir(dir) };
    if let Some(other) = listing.others.first() {
        return Err(io::Error::other(format!("{other} lies in it")));
    }
    let (list, files): (Vec<_>, Vec<_>) = listing.own.iter().partition(|name| *name == Path::new(LIST));
    for name in files.iter().chain(&list) {
        fs::remove_file(dir.join(name))?;
        // The last file of a folder takes the folder along.
        for folder in name.ancestors().skip(1).filter(|folder| !folder.as_os_str().is_empty()) {
            let _ = fs::remove_dir(dir.join(folder));
        }
    }
    fs::remove_dir(dir)
}
