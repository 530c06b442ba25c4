//! Reading of files that the user names. What is no plain file may never end (a device) or never begin (a pipe), and one of any size would fill
//! the memory.

use std::fs::{self, File, FileType};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// Why a file cannot be read; completes a sentence that begins with the name of the file.
#[derive(Debug, thiserror::Error)]
pub enum FileError {
    /// It is not there.
    #[error("there is no such file")]
    Missing,
    /// It is something else than a plain file, or a link to one.
    #[error("it is {0}, not a file")]
    NotAFile(&'static str),
    /// It has too many bytes.
    #[error("it is larger than {} MB, the most that is read", most / 1_000_000)]
    TooLarge {
        /// How many are read, bytes.
        most: u64,
    },
    /// The system refuses.
    #[error("it cannot be read ({0})")]
    Unreadable(io::Error),
}

impl From<io::Error> for FileError {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            // Something above it in the path is a file.
            ErrorKind::NotFound | ErrorKind::NotADirectory => FileError::Missing,
            _ => FileError::Unreadable(error),
        }
    }
}

/// Opens a plain file, or one that a link leads to, for reading.
pub fn open(path: &Path) -> Result<File, FileError> {
    // Opening a pipe would wait for somebody to write, so it is looked at first.
    let kind = fs::metadata(path)?.file_type();
    if !kind.is_file() {
        return Err(FileError::NotAFile(not_a_file(kind)));
    }
    Ok(File::open(path)?)
}

/// Reads a plain file of at most so many bytes.
pub fn read(path: &Path, most: u64) -> Result<Vec<u8>, FileError> {
    let mut bytes = Vec::new();
    // It may grow while it is read.
    open(path)?.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(FileError::TooLarge { most }) } else { Ok(bytes) }
}

/// What a file is that is no plain one.
pub(crate) fn not_a_file(kind: FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if kind.is_fifo() {
            return "a pipe";
        }
        if kind.is_char_device() || kind.is_block_device() {
            return "a device";
        }
    }
    if kind.is_dir() { "a folder" } else { "something else" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_files_of_bounded_size_are_read() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a");
        let words = |path: &Path, most| read(path, most).expect_err("refused").to_string();
        assert_eq!(words(&path, 5), "there is no such file");
        fs::write(&path, "12345").expect("written");
        assert_eq!(read(&path, 5).expect("small enough"), b"12345");
        assert_eq!(words(&path, 4), "it is larger than 0 MB, the most that is read");
        assert_eq!(words(&path.join("below"), 5), "there is no such file");
        assert_eq!(words(folder.path(), 5), "it is a folder, not a file");
        if cfg!(unix) {
            assert_eq!(words(Path::new("/dev/zero"), 5), "it is a device, not a file");
        }
    }
}
