//! Results for tests.

use super::hidden::Hidden;
use super::own::{self, LIST, MARK};
use std::cell::Cell;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Something like a result, told apart by its text.
pub(super) fn result_at(dir: &Path, text: &str) {
    fs::create_dir_all(dir.join("maps")).expect("writable");
    let files = ["report.html", "maps/grid.json"].map(|name| {
        fs::write(dir.join(name), text).expect("writable");
        own::OwnFile::new(name, text.as_bytes())
    });
    let run = serde_json::json!({ "format": MARK, "files": files });
    fs::write(dir.join(LIST), run.to_string()).expect("writable");
}

pub(super) fn text_of(dir: &Path) -> String {
    assert!(own::is_complete(dir), "{} is whole", dir.display());
    fs::read_to_string(dir.join("report.html")).expect("there")
}

pub(super) fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder").flatten();
    let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// An earlier result at `result`, and a new one that is ready.
pub(super) fn ready(stands: bool) -> (tempfile::TempDir, PathBuf, Hidden) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dir = folder.path().join("result");
    if stands {
        result_at(&dir, "earlier");
    }
    let hidden = Hidden::beside(&dir).expect("writable");
    result_at(&hidden.new_one(), "new");
    (folder, dir, hidden)
}

/// Renames but for these calls, counted from 1: to those the disk is full.
pub(super) fn full_at<'a>(failing: &'a [u32], count: &'a Cell<u32>) -> impl Fn(&Path, &Path) -> io::Result<()> + 'a {
    |from: &Path, to: &Path| {
        count.set(count.get() + 1);
        if failing.contains(&count.get()) { Err(ErrorKind::StorageFull.into()) } else { fs::rename(from, to) }
    }
}
