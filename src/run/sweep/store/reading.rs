//! Reading of a store, line by line, with what is wrong in it.

use super::line::{checked, read_point};
use super::{FILE, Header, Shard, StoreError};
use crate::sweep::design::Points;
use motefall_figures::sweep::{PointRecord, SweepResult};
use motefall_files::plain_file::{self, FileError};
use serde_json::Value;
use std::collections::BTreeSet;
use std::fmt;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

/// Longest line that is read, bytes.
const LONGEST_LINE: u64 = 64_000_000;

/// A line that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DamagedLine {
    /// The file.
    pub(crate) path: PathBuf,
    /// Line, from 1.
    pub(crate) line: u64,
    /// Point whose place it is, if there is one.
    pub(crate) point: Option<u64>,
    /// What is wrong.
    pub(crate) reason: String,
}

impl fmt::Display for DamagedLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { path, line, point, reason } = self;
        let place = point.map_or_else(String::new, |point| format!(", where point {point} belongs,"));
        write!(f, "line {line} of {}{place} is damaged and does not count: {reason}", path.display())
    }
}

/// What stands in a store behind its header.
#[derive(Debug)]
pub enum StoredLine {
    /// A point, with its line.
    Point(PointRecord, Vec<u8>),
    /// A line that is not as it was written.
    Damaged(DamagedLine),
    /// So many bytes at the end that are no complete line: the rest of a write that was cut short.
    Torn(u64),
}

/// Reads the lines of a store one after another and checks what they say.
#[derive(Debug)]
pub struct StoreReader {
    /// Header.
    pub(crate) header: Header,
    /// Bytes read so far.
    pub(super) read: u64,
    /// Points read so far.
    pub(super) points: BTreeSet<u64>,
    path: PathBuf,
    design: Points,
    lines: BufReader<File>,
    /// Lines read so far.
    count: u64,
}

impl StoreReader {
    /// Opens the store in a folder.
    pub(crate) fn in_folder(folder: &Path) -> Result<Self, StoreError> {
        Self::new(&folder.join(FILE))
    }

    pub(super) fn new(path: &Path) -> Result<Self, StoreError> {
        let file = plain_file::open(path).map_err(|error| match error {
            FileError::Missing => StoreError::NoStore { folder: path.parent().unwrap_or(path).into() },
            FileError::Unreadable(source) => unreadable(path, source),
            error => StoreError::NotOurs { path: path.into(), reason: error.to_string() },
        })?;
        let mut lines = BufReader::new(file);
        let (first, read) = read_line(&mut lines).map_err(|source| unreadable(path, source))?;
        let damaged = |reason: String| StoreError::Damaged { path: path.into(), line: 1, reason };
        let header = match checked(&first) {
            Ok(object) => Header::read(&object, path)?,
            // Stores of the first version had no checks.
            Err(reason) => match serde_json::from_slice::<Value>(&first) {
                Ok(value) if value["format_version"] == 1 => Header::read(&first, path)?,
                _ if first.starts_with(b"{\"format\":\"motefall") => return Err(damaged(reason.into())),
                _ => return Err(damaged("it is not the beginning of a sweep's store".into())),
            },
        };
        let plan = header.result().map_err(damaged)?.plan;
        let design = Points::new(&plan, header.seed).map_err(damaged)?;
        let Shard { number, of } = header.shard;
        if number == 0 || number > of || header.points != design.count() {
            return Err(damaged("its points are not those of its plan".into()));
        }
        Ok(Self { header, read, points: BTreeSet::new(), path: path.into(), design, lines, count: 1 })
    }

    /// What is next; `None` at the end.
    pub(crate) fn next_line(&mut self) -> Result<Option<StoredLine>, StoreError> {
        let (line, length) = read_line(&mut self.lines).map_err(|source| unreadable(&self.path, source))?;
        if length == 0 {
            return Ok(None);
        }
        self.read += length;
        self.count += 1;
        let is_last = self.lines.fill_buf().map_err(|source| unreadable(&self.path, source))?.is_empty();
        if is_last && !line.ends_with(b"\n") {
            return Ok(Some(StoredLine::Torn(length)));
        }
        let sound = if length > line.len() as u64 {
            Err(format!("it is longer than {} MB, the most that is read", LONGEST_LINE / 1_000_000))
        } else {
            read_point(&line).and_then(|record| self.header.check_point(&record, &self.design).map(|()| record))
        };
        let sound = sound.and_then(|record| match self.points.insert(record.point) {
            true => Ok(record),
            false => Err(format!("it holds point {}, which stands further up", record.point)),
        });
        Ok(Some(match sound {
            Ok(record) => StoredLine::Point(record, line),
            Err(reason) => {
                let Header { shard, points, .. } = self.header;
                let point = Some(shard.point(self.count - 2)).filter(|point| *point < points);
                StoredLine::Damaged(DamagedLine { path: self.path.clone(), line: self.count, point, reason })
            }
        }))
    }
}

/// A line with its end, and how many bytes it has; of a longer one than any of a store only the beginning.
fn read_line(lines: &mut BufReader<File>) -> io::Result<(Vec<u8>, u64)> {
    let mut line = Vec::new();
    let mut length = lines.take(LONGEST_LINE).read_until(b'\n', &mut line)? as u64;
    if length == LONGEST_LINE && !line.ends_with(b"\n") {
        length += lines.skip_until(b'\n')? as u64;
    }
    Ok((line, length))
}

fn unreadable(path: &Path, source: io::Error) -> StoreError {
    StoreError::File { what: "read", path: path.into(), advice: "check its permissions".into(), source }
}

/// The whole result in a folder; points that are not there yet are left out.
pub fn read_result(folder: &Path) -> Result<SweepResult, StoreError> {
    let mut reader = StoreReader::in_folder(folder)?;
    let damaged = |line, reason| StoreError::Damaged { path: folder.join(FILE), line, reason };
    let mut result = reader.header.result().map_err(|reason| damaged(1, reason))?;
    while let Some(entry) = reader.next_line()? {
        match entry {
            StoredLine::Point(record, _) => result.points.push(record),
            StoredLine::Damaged(DamagedLine { line, reason, .. }) => return Err(damaged(line, reason)),
            StoredLine::Torn(_) => {}
        }
    }
    Ok(result)
}

#[cfg(test)]
mod tests {
    use super::super::testing::{all_lines, header};
    use super::*;
    use serde_json::json;
    use std::fs;

    #[test]
    fn no_flipped_bit_is_taken_for_a_result() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(FILE);
        let (head, lines) = (header(json!({})).line(), all_lines());
        let whole = [&head[..], &lines.concat()].concat();
        for bit in 0..whole.len() * 8 {
            let mut damaged = whole.clone();
            damaged[bit / 8] ^= 1 << (bit % 8);
            fs::write(&path, &damaged).expect("written");
            let Ok(mut reader) = StoreReader::new(&path) else {
                assert!(bit / 8 < head.len(), "bit {bit} is not in the header");
                continue;
            };
            assert!(bit / 8 >= head.len(), "bit {bit} of the header is taken");
            let (mut sound, mut noticed) = (0, 0);
            while let Some(entry) = reader.next_line().expect("readable") {
                match entry {
                    StoredLine::Point(record, line) => {
                        assert!(line == lines[record.point as usize], "bit {bit} is taken");
                        sound += 1;
                    }
                    StoredLine::Damaged(_) | StoredLine::Torn(_) => noticed += 1,
                }
            }
            // The end of a line that is gone makes two lines one.
            assert!(noticed > 0 && sound >= 4, "bit {bit}: {sound} points, {noticed} lines noticed");
        }
    }
}
