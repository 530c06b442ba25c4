//! A store open for writing.

use super::line::store_parts;
use super::lock::lock;
use super::reading::{DamagedLine, StoreReader, StoredLine};
use super::{FILE, Header, StoreError};
use motefall_files::whole_file::{self, remove_unfinished};
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// A store open for writing.
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    file: File,
    /// Length of what is complete.
    length: u64,
    /// Points that were not stored when it was opened, in the order of the design.
    missing: Vec<u64>,
    /// Points stored.
    stored: u64,
    order: Order,
    /// Dropped last: while it lives nobody else writes here.
    _lock: File,
}

/// Whether the lines of a store stand as in a sweep that ran straight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Order {
    Design,
    /// Points whose lines were damaged stand behind later ones.
    Mixed,
}

/// What was found when a store was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Opened {
    /// Nothing: a new store.
    New,
    /// Points of the same sweep.
    Same {
        /// How many.
        points: u64,
        /// Bytes of a last line that was not complete and has been cut off; 0 in general.
        cut: u64,
        /// Lines that did not count and have been taken out.
        damaged: Vec<DamagedLine>,
        /// Unfinished files of an ended run that have been removed.
        leftovers: usize,
    },
}

impl Store {
    /// Opens the store in a folder, or makes it. `who` tells others which process holds it.
    pub(crate) fn open(folder: &Path, header: &Header, who: &str) -> Result<(Self, Opened), StoreError> {
        let fault = |what, path: &Path, advice: &str| {
            let path = path.to_owned();
            let advice = advice.to_owned();
            move |source| StoreError::File { what, path, advice, source }
        };
        let choose = "choose another folder with --out";
        fs::create_dir_all(folder).map_err(fault("make the folder", folder, choose))?;
        let lock = lock(folder, who)?;
        let leftovers = remove_unfinished(folder);
        let path = folder.join(FILE);
        let is_new = !path.try_exists().map_err(fault("read", &path, choose))?;
        if is_new {
            whole_file::replace(&path, &[&header.line()])
                .map_err(|source| StoreError::Write { source, advice: choose.into() })?;
        }
        let mut reader = StoreReader::new(&path)?;
        reader.header.check(header, &path)?;
        if reader.header.shard != header.shard {
            let differences = vec![format!("--shard was {}, is now {}", reader.header.shard, header.shard)];
            return Err(StoreError::OtherSweep { path, differences });
        }
        let Survey { mut order, damaged, torn } = Survey::new(&mut reader)?;
        if !damaged.is_empty() {
            write_sound_lines(&path)?;
            order = Order::Design;
        }
        let opened = OpenOptions::new().read(true).write(true).open(&path);
        let mut file = opened.map_err(fault("open", &path, choose))?;
        if torn > 0 && damaged.is_empty() {
            let cut = file.set_len(reader.read - torn).and_then(|()| file.sync_all());
            cut.map_err(fault("repair", &path, "check its permissions"))?;
        }
        let length = file.seek(SeekFrom::End(0)).map_err(fault("read", &path, choose))?;
        let all = (0..header.shard.count(header.points)).map(|place| header.shard.point(place));
        let points = reader.points;
        let missing: Vec<u64> = all.filter(|point| !points.contains(point)).collect();
        if missing.first() < points.last() && !missing.is_empty() {
            order = Order::Mixed;
        }
        let stored = points.len() as u64;
        let found = if is_new { Opened::New } else { Opened::Same { points: stored, cut: torn, damaged, leftovers } };
        Ok((Self { path, file, length, missing, stored, order, _lock: lock }, found))
    }

    /// Points that were not stored when it was opened, in the order of the design.
    pub(crate) fn missing(&self) -> &[u64] {
        &self.missing
    }

    /// Points stored.
    pub(crate) fn stored(&self) -> u64 {
        self.stored
    }

    /// Puts the lines in the order of the design, when all points are stored.
    pub(crate) fn finish(self) -> Result<(), StoreError> {
        if self.order == Order::Mixed {
            write_sound_lines(&self.path)?;
        }
        Ok(())
    }

    /// Adds lines of points; when it returns they are on the disk.
    pub(crate) fn append(&mut self, lines: &[Vec<u8>]) -> Result<(), StoreError> {
        let bytes = lines.concat();
        if let Err(source) = whole_file::write_through(&mut self.file, &self.path, &[&bytes]) {
            // What does not fit is taken back as far as the system lets us; a rest is cut off on resuming.
            let _ = self.file.set_len(self.length);
            let _ = self.file.seek(SeekFrom::Start(self.length));
            let advice = format!(
                "{} points are safe there; free some space or fix the cause, then run the same command again: it goes on from there",
                self.stored
            );
            return Err(StoreError::Write { source, advice });
        }
        self.length += bytes.len() as u64;
        self.stored += lines.len() as u64;
        Ok(())
    }
}
/// Writes a store anew with the lines of it that count, in the order of the design.
fn write_sound_lines(path: &Path) -> Result<(), StoreError> {
    let mut reader = StoreReader::new(path)?;
    let header = reader.header.line();
    let mut lines = BTreeMap::new();
    while let Some(entry) = reader.next_line()? {
        if let StoredLine::Point(record, line) = entry {
            lines.insert(record.point, line);
        }
    }
    let advice = "nothing is lost: free some space or fix the cause, then run the same command again".to_owned();
    let written = whole_file::replace(path, &store_parts(&header, &lines));
    written.map_err(|source| StoreError::Write { source, advice })
}

/// What a store holds besides its points.
struct Survey {
    order: Order,
    damaged: Vec<DamagedLine>,
    torn: u64,
}

impl Survey {
    fn new(reader: &mut StoreReader) -> Result<Self, StoreError> {
        let mut survey = Self { order: Order::Design, damaged: Vec::new(), torn: 0 };
        while let Some(entry) = reader.next_line()? {
            match entry {
                StoredLine::Point(record, _) if reader.points.last() > Some(&record.point) => {
                    survey.order = Order::Mixed
                }
                StoredLine::Point(..) => {}
                StoredLine::Damaged(line) => survey.damaged.push(line),
                StoredLine::Torn(bytes) => survey.torn = bytes,
            }
        }
        Ok(survey)
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{all_lines, header, open, record, same};
    use super::super::{LOCK, point_line};
    use super::*;
    use motefall_figures::sweep::PointRecord;
    use serde_json::json;

    #[test]
    fn unfinished_files_of_an_ended_run_are_removed_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a folder");
        drop(open(folder.path(), json!({})).expect("a new store"));
        let at = |name: &str| folder.path().join(name);
        for name in [".motefall-part-Ab3dE", ".motefall-notes", "notes.txt"] {
            fs::write(at(name), "x").expect("writable");
        }
        fs::create_dir(at(".motefall-part-folder")).expect("writable");
        let (_store, found) = open(folder.path(), json!({})).expect("it is the same");
        assert_eq!(found, Opened::Same { points: 0, cut: 0, damaged: Vec::new(), leftovers: 1 });
        assert!(!at(".motefall-part-Ab3dE").exists());
        assert!([".motefall-notes", "notes.txt", ".motefall-part-folder"].iter().all(|name| at(name).exists()));
    }

    #[test]
    fn a_torn_line_is_cut() {
        let folder = tempfile::tempdir().expect("a folder");
        let lines: Vec<Vec<u8>> = (0..3).map(|point| point_line(&record(point))).collect();
        let (mut store, found) = open(folder.path(), json!({})).expect("a new store");
        assert_eq!(found, Opened::New);
        store.append(&lines[..2]).expect("room");
        store.append(&lines[2..]).expect("room");
        drop(store);
        let path = folder.path().join(FILE);
        let whole = fs::read(&path).expect("a file");
        assert_eq!(whole, [header(json!({})).line(), lines.concat()].concat());
        // Cut anywhere in the last line, even before its end only.
        for cut in [1, 2, 50, lines[2].len() - 1] {
            fs::write(&path, &whole[..whole.len() - cut]).expect("written");
            let (mut store, found) = open(folder.path(), json!({})).expect("repaired");
            assert_eq!(found, same(2, (lines[2].len() - cut) as u64));
            store.append(&lines[2..]).expect("room");
            drop(store);
            assert!(fs::read(&path).expect("a file") == whole);
        }
        // A disk that lost power may leave zeros.
        fs::write(&path, [&whole[..], &[0; 100]].concat()).expect("written");
        assert_eq!(open(folder.path(), json!({})).expect("repaired").1, same(3, 100));
        fs::write(&path, "something else\n").expect("written");
        assert!(open(folder.path(), json!({})).expect_err("no store").to_string().contains("line 1 of"));
        // A header without its end is no header, whatever follows.
        let cut = header(json!({})).line().len() - 1;
        for bytes in [&whole[..cut], &[&whole[..cut], &whole[cut + 1..]].concat()] {
            fs::write(&path, bytes).expect("written");
            let error = open(folder.path(), json!({})).expect_err("damaged").to_string();
            assert!(error.contains("line 1 of") && error.contains("restore the file from a copy"), "{error}");
            assert!(fs::read(&path).expect("a file") == bytes, "nothing is changed");
        }
    }

    /// Opens the store, adds what is missing, and gives what was found and what is there at the end.
    fn repaired(folder: &Path) -> Result<(Opened, Vec<u8>), StoreError> {
        let (mut store, found) = open(folder, json!({}))?;
        let lines: Vec<Vec<u8>> = store.missing().iter().map(|point| all_lines()[*point as usize].clone()).collect();
        store.append(&lines)?;
        assert_eq!(store.stored(), 6);
        store.finish()?;
        Ok((found, fs::read(folder.join(FILE)).expect("a file")))
    }

    #[test]
    fn damaged_lines_are_named_and_made_again() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(FILE);
        let (head, lines) = (header(json!({})).line(), all_lines());
        let whole = [&head[..], &lines.concat()].concat();
        // The ends of all lines, and bits here and there.
        let ends = (head.len()..whole.len()).filter(|at| whole[*at] == b'\n').map(|at| 8 * at);
        for bit in (head.len() * 8..whole.len() * 8).step_by(509).chain(ends) {
            let mut damaged = whole.clone();
            damaged[bit / 8] ^= 1 << (bit % 8);
            fs::write(&path, &damaged).expect("written");
            let (found, after) = repaired(folder.path()).expect("repaired");
            assert!(after == whole, "bit {bit}");
            assert!(!matches!(found, Opened::Same { cut: 0, damaged, .. } if damaged.is_empty()), "bit {bit}");
        }
        // Swapped lines are in the wrong order, a line that stands twice counts once, a point of another sweep not at all.
        let other = point_line(&PointRecord { values: vec![0.3, 0.5], ..record(4) });
        let [a, b, c] = [&lines[0][..], &lines[1], &lines[4]];
        for (changed, words) in [
            (vec![b, a], ""),
            (
                vec![a, b, b],
                "line 4 of {}, where point 2 belongs, is damaged and does not count: it holds point 1, which stands further up",
            ),
            (
                vec![a, &other, c],
                "line 3 of {}, where point 1 belongs, is damaged and does not count: its settings are not those of point 4",
            ),
        ] {
            fs::write(&path, [&head[..], &changed.concat()].concat()).expect("written");
            let (found, after) = repaired(folder.path()).expect("repaired");
            assert!(after == whole, "{words}");
            let Opened::Same { damaged, .. } = found else { panic!("it is not new") };
            let told: Vec<String> = damaged.iter().map(ToString::to_string).collect();
            assert_eq!(told.concat(), words.replace("{}", &path.display().to_string()));
        }
        // Stopped before the lines are in order, it goes on.
        fs::write(&path, [&head[..], b, a, c].concat()).expect("written");
        let (mut store, _) = open(folder.path(), json!({})).expect("sound");
        store.append(&[lines[2].clone()]).expect("room");
        drop(store);
        let (found, after) = repaired(folder.path()).expect("sound");
        assert_eq!(found, same(4, 0));
        assert!(after == whole);
    }

    #[cfg(unix)]
    #[test]
    fn what_is_no_plain_file_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let (own, place) = (folder.path().join("own.txt"), folder.path().join("a"));
        fs::create_dir(&place).expect("made");
        fs::write(&own, "kept").expect("written");
        let refused = |words: &str| {
            let error = open(&place, json!({})).expect_err("refused").to_string();
            assert!(error.contains(words), "{error}");
            assert_eq!(fs::read_to_string(&own).expect("there"), "kept");
        };
        std::os::unix::fs::symlink(&own, place.join(LOCK)).expect("made");
        refused("it is not a sweep's lock, but a link");
        fs::remove_file(place.join(LOCK)).expect("removed");
        fs::hard_link(&own, place.join(LOCK)).expect("made");
        refused("it is not a sweep's lock: it holds something else");
        fs::remove_file(place.join(LOCK)).expect("removed");
        for (target, words) in [("/dev/zero", "it is a device, not a file"), ("/", "it is a folder, not a file")] {
            std::os::unix::fs::symlink(target, place.join(FILE)).expect("made");
            refused(words);
            assert!(StoreReader::in_folder(&place).expect_err("refused").to_string().contains(words));
            fs::remove_file(place.join(FILE)).expect("removed");
        }
    }

    #[test]
    fn a_full_disk_takes_nothing_from_what_is_stored() {
        let folder = tempfile::tempdir().expect("a folder");
        let (mut store, _) = open(folder.path(), json!({})).expect("a new store");
        store.append(&[point_line(&record(0))]).expect("room");
        // A device that is always full stands in for the file.
        let Ok(full) = OpenOptions::new().write(true).open("/dev/full") else { return };
        let file = std::mem::replace(&mut store.file, full);
        let error = store.append(&[point_line(&record(1))]).expect_err("no room").to_string();
        assert!(
            error.contains("the disk is full: ") && error.contains("1 points are safe there; free some space"),
            "{error}"
        );
        store.file = file;
        store.append(&[point_line(&record(1))]).expect("room again");
        drop(store);
        assert_eq!(open(folder.path(), json!({})).expect("sound").1, same(2, 0));
    }
}
