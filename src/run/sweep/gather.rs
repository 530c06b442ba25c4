//! Joins the stores of a sweep's shards into the store of the whole.

use super::store::{DamagedLine, FILE, Header, Shard, StoreError, StoreReader, StoredLine, store_parts};
use motefall_files::plain_file;
use motefall_files::whole_file::{self, WriteError};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Why shards cannot be joined. Nothing is written then.
#[derive(Debug, thiserror::Error)]
pub enum GatherError {
    /// A store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Two stores disagree.
    #[error("point {point} is not the same in {} and {}: they come from different runs or a file was changed; run one of the two again in a new folder", first.display(), second.display())]
    Unequal {
        /// The point.
        point: u64,
        /// Where it was met first.
        first: PathBuf,
        /// Where it differs.
        second: PathBuf,
    },
    /// The folder for the result holds another store.
    #[error("{} is there already and is not what these shards give; choose another folder with --out", path.display())]
    Taken {
        /// The file.
        path: PathBuf,
    },
    /// It cannot be written.
    #[error("{0}; choose another folder with --out, or free some space")]
    Write(#[from] WriteError),
}

/// What shards hold together.
#[derive(Debug)]
pub struct Gathered {
    header: Header,
    /// Lines by point.
    lines: BTreeMap<u64, Vec<u8>>,
    /// Points met more than once, equal each time.
    pub doubled: Vec<u64>,
    /// Folders with a last line that is not complete: a shard that is still running or was killed.
    pub torn: Vec<PathBuf>,
    /// Lines that do not count.
    pub damaged: Vec<DamagedLine>,
    /// Shards that were given.
    pub(crate) shards: Vec<(Shard, PathBuf)>,
}

/// Reads shards of the same sweep. Shards may still be running: what they have so far counts.
pub fn read(folders: &[PathBuf]) -> Result<Gathered, GatherError> {
    let mut gathered: Option<Gathered> = None;
    let mut from: BTreeMap<u64, usize> = BTreeMap::new();
    for (index, folder) in folders.iter().enumerate() {
        let mut reader = StoreReader::in_folder(folder)?;
        let whole = gathered.get_or_insert_with(|| Gathered {
            header: reader.header.clone().of_whole(),
            lines: BTreeMap::new(),
            doubled: Vec::new(),
            torn: Vec::new(),
            damaged: Vec::new(),
            shards: Vec::new(),
        });
        reader.header.check(&whole.header, &folder.join(FILE))?;
        whole.shards.push((reader.header.shard, folder.clone()));
        while let Some(entry) = reader.next_line()? {
            let (record, line) = match entry {
                StoredLine::Point(record, line) => (record, line),
                StoredLine::Damaged(line) => {
                    whole.damaged.push(line);
                    continue;
                }
                StoredLine::Torn(_) => {
                    whole.torn.push(folder.clone());
                    continue;
                }
            };
            match whole.lines.get(&record.point) {
                Some(known) if *known != line => {
                    let first = folders[from[&record.point]].clone();
                    return Err(GatherError::Unequal { point: record.point, first, second: folder.clone() });
                }
                Some(_) => whole.doubled.push(record.point),
                None => {
                    from.insert(record.point, index);
                    whole.lines.insert(record.point, line);
                }
            }
        }
    }
    let mut gathered = gathered.ok_or_else(|| StoreError::NoStore { folder: PathBuf::from(".") })?;
    gathered.doubled.sort_unstable();
    gathered.doubled.dedup();
    Ok(gathered)
}

/// A shard whose points are not all there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// Which.
    pub shard: Shard,
    /// Its folder, if one was given.
    pub folder: Option<PathBuf>,
    /// Its missing points.
    pub points: Vec<u64>,
}

impl Gathered {
    /// Points of the whole design.
    pub fn points(&self) -> u64 {
        self.header.points
    }

    /// What is missing, by shard; the shards are counted as in the first folder given.
    pub fn missing(&self) -> Vec<Missing> {
        let of = self.shards.first().map_or(1, |(shard, _)| shard.of);
        let mut missing: BTreeMap<u64, Vec<u64>> = BTreeMap::new();
        for point in (0..self.header.points).filter(|point| !self.lines.contains_key(point)) {
            missing.entry(point % of + 1).or_default().push(point);
        }
        missing
            .into_iter()
            .map(|(number, points)| {
                let shard = Shard { number, of };
                let folder = self.shards.iter().find(|(known, _)| *known == shard).map(|(_, folder)| folder.clone());
                Missing { shard, folder, points }
            })
            .collect()
    }

    /// Writes the store of the whole: the same bytes as a sweep that ran straight.
    pub fn write(&self, folder: &Path) -> Result<(), GatherError> {
        debug_assert!(self.missing().is_empty());
        let path = folder.join(FILE);
        std::fs::create_dir_all(folder).map_err(|source| StoreError::File {
            what: "make the folder",
            path: folder.into(),
            advice: "choose another folder with --out".into(),
            source,
        })?;
        let header = self.header.line();
        let parts = store_parts(&header, &self.lines);
        match whole_file::create(&path, &parts) {
            Err(WriteError::Exists { .. }) => {
                let whole = parts.concat();
                let same = plain_file::read(&path, whole.len() as u64).is_ok_and(|there| there == whole);
                if same { Ok(()) } else { Err(GatherError::Taken { path }) }
            }
            written => Ok(written?),
        }
    }
}
