//! One writer at a time.

use super::StoreError;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, Write};
use std::path::Path;

/// Name of the lock.
pub const LOCK: &str = "sweep.lock";
/// How the text in the lock begins.
const HOLDER: &str = "process ";

pub(super) fn lock(folder: &Path, who: &str) -> Result<File, StoreError> {
    let path = folder.join(LOCK);
    let fault = |what, source| StoreError::File {
        what,
        path: path.clone(),
        advice: "choose another folder with --out".into(),
        source,
    };
    let not_ours = |reason: &str| StoreError::NotOurs { path: path.clone(), reason: reason.into() };
    let options = || OpenOptions::new().read(true).write(true).clone();
    let opened = match options().create_new(true).open(&path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            // Behind a link lies a file of somebody else.
            let kind = path.symlink_metadata().map_err(|source| fault("read", source))?.file_type();
            if !kind.is_file() {
                return Err(not_ours("it is not a sweep's lock, but a link, a folder or a device"));
            }
            options().open(&path)
        }
        opened => opened,
    };
    let mut file = opened.map_err(|source| fault("write", source))?;
    let mut holder = Vec::new();
    match file.try_lock() {
        Ok(()) => {
            (&file).take(100).read_to_end(&mut holder).map_err(|source| fault("read", source))?;
            if !holder.is_empty() && !holder.starts_with(HOLDER.as_bytes()) {
                return Err(not_ours("it is not a sweep's lock: it holds something else"));
            }
            // Only for others to read: no harm if it cannot be written.
            let text = format!("{HOLDER}{who}\n");
            let written = file.set_len(0).and_then(|()| file.rewind()).and_then(|()| file.write_all(text.as_bytes()));
            let _ = written.and_then(|()| file.sync_data());
            Ok(file)
        }
        Err(TryLockError::WouldBlock) => {
            let _ = (&file).take(100).read_to_end(&mut holder);
            let holder = String::from_utf8_lossy(&holder);
            let holder = if holder.trim().is_empty() { "another sweep" } else { holder.trim() };
            Err(StoreError::InUse { folder: folder.into(), holder: holder.into() })
        }
        Err(TryLockError::Error(source)) => Err(fault("lock", source)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::open;
    use serde_json::json;

    #[test]
    fn one_writer_at_a_time() {
        let folder = tempfile::tempdir().expect("a folder");
        let first = open(folder.path(), json!({})).expect("a new store");
        let error = open(folder.path(), json!({})).expect_err("in use").to_string();
        assert!(error.contains("in use by process 1, since noon"), "{error}");
        drop(first);
        assert!(open(folder.path(), json!({})).is_ok());
    }
}
