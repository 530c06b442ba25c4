//! Solved jets kept on disk, one file each, named by their dimensionless numbers.
//!
//! A file is complete or absent: it is written beside its place and renamed, so runs may share a folder. A file that is
//! damaged or from another version counts as absent. What is read back is bit for bit what was solved.

use super::grid::{Fineness, Grid};
use super::solver::{self, JetError, JetNumbers, Solution, Surroundings};
use std::collections::VecDeque;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Changes whenever the equations, the grid or the layout of the file change.
const VERSION: u32 = 4;
const MAGIC: &[u8; 8] = b"MOTEJET\0";
/// Files kept before the oldest are removed (about 250 kB each).
const MOST_FILES: usize = 2000;

/// Solutions kept in memory, about 250 kB each.
const MOST_RECENT: usize = 12;

/// Where solved jets are kept.
#[derive(Debug, Clone, Default)]
pub struct FieldStore {
    folder: Option<PathBuf>,
    /// Without a folder: the last few solutions, so that a run solves none twice.
    recent: Arc<Mutex<VecDeque<Solution>>>,
}

/// Where a solution came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Solved now.
    Solved,
    /// Read from the store.
    Kept,
}

impl FieldStore {
    /// A store in a folder, which is made when first needed.
    pub fn in_folder(folder: PathBuf) -> Self {
        Self { folder: Some(folder), ..Self::default() }
    }

    /// No store: every jet is solved anew, once.
    pub fn none() -> Self {
        Self::default()
    }

    /// The kept solution, or a new one, which is then kept. A store that cannot be written is no error.
    pub fn obtain(&self, numbers: JetNumbers) -> Result<(Solution, Origin), JetError> {
        let numbers = rounded(numbers);
        if self.folder.is_some() {
            return self.read_or_solve(numbers);
        }
        let recent = || self.recent.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(found) = recent().iter().find(|solution| solution.numbers == numbers) {
            return Ok((found.clone(), Origin::Kept));
        }
        let found = self.read_or_solve(numbers)?;
        let mut recent = recent();
        recent.push_back(found.0.clone());
        if recent.len() > MOST_RECENT {
            recent.pop_front();
        }
        Ok(found)
    }

    fn read_or_solve(&self, numbers: JetNumbers) -> Result<(Solution, Origin), JetError> {
        let Some(folder) = &self.folder else {
            return solver::solve(numbers, Fineness::Standard).map(|solution| (solution, Origin::Solved));
        };
        let path = folder.join(file_name(numbers));
        if let Some(solution) = read(&path, numbers) {
            return Ok((solution, Origin::Kept));
        }
        let solution = solver::solve(numbers, Fineness::Standard)?;
        if fs::create_dir_all(folder).is_ok() && write(folder, &path, &solution).is_ok() {
            remove_oldest(folder);
        }
        Ok((solution, Origin::Solved))
    }
}

/// Six digits: settings that differ by less share a solution, whichever was asked for first.
fn rounded(numbers: JetNumbers) -> JetNumbers {
    let six = |x: f64| format!("{x:.5e}").parse().unwrap_or(x);
    JetNumbers {
        reynolds: six(numbers.reynolds),
        stand_off_ratio: six(numbers.stand_off_ratio),
        plug_blend: six(numbers.plug_blend),
        ..numbers
    }
}

fn file_name(numbers: JetNumbers) -> String {
    let beside = match numbers.surroundings {
        Surroundings::Open => "open",
        Surroundings::Wall => "wall",
    };
    format!(
        "jet{VERSION}-re{:.5e}-standoff{:.5e}-plug{:.5e}-{beside}.bin",
        numbers.reynolds, numbers.stand_off_ratio, numbers.plug_blend
    )
}

fn write(folder: &Path, path: &Path, solution: &Solution) -> std::io::Result<()> {
    let mut bytes = Vec::with_capacity(16 * solution.psi.len() + 32);
    bytes.extend_from_slice(MAGIC);
    bytes.extend_from_slice(&VERSION.to_le_bytes());
    bytes.extend_from_slice(&(solution.newton_steps as u32).to_le_bytes());
    for value in solution.psi.iter().chain(&solution.zeta) {
        bytes.extend_from_slice(&value.to_le_bytes());
    }
    bytes.extend_from_slice(&checksum(&bytes).to_le_bytes());
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(&bytes)?;
    file.as_file().sync_data()?;
    file.persist(path)?;
    Ok(())
}

fn read(path: &Path, numbers: JetNumbers) -> Option<Solution> {
    let bytes = fs::read(path).ok()?;
    let grid = Grid::new(2.0 * numbers.stand_off_ratio, numbers.plug_blend, Fineness::Standard);
    let nodes = grid.len();
    let (body, sum) = bytes.split_at_checked(16 + 16 * nodes)?;
    if sum != checksum(body).to_le_bytes() || &body[..8] != MAGIC || body[8..12] != VERSION.to_le_bytes() {
        return None;
    }
    let newton_steps = u32::from_le_bytes(body[12..16].try_into().ok()?) as usize;
    let values: Vec<f64> =
        body[16..].chunks_exact(8).map(|b| f64::from_le_bytes(b.try_into().expect("eight bytes"))).collect();
    let (psi, zeta) = values.split_at(nodes);
    Some(Solution { numbers, grid, psi: psi.to_vec(), zeta: zeta.to_vec(), newton_steps })
}

/// FNV-1a, 64 bit (Fowler, Noll & Vo 1991): finds damage, not malice.
fn checksum(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

fn remove_oldest(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let mut files: Vec<_> = entries
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("jet"))
        .filter_map(|entry| Some((entry.metadata().ok()?.modified().ok()?, entry.path())))
        .collect();
    if files.len() > MOST_FILES {
        files.sort();
        for (_, path) in &files[..files.len() - MOST_FILES] {
            let _ = fs::remove_file(path);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NUMBERS: JetNumbers =
        JetNumbers { reynolds: 30.0, stand_off_ratio: 4.0, plug_blend: 0.0, surroundings: Surroundings::Open };

    #[test]
    fn a_kept_solution_comes_back_bit_for_bit_and_damage_is_noticed() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = FieldStore::in_folder(folder.path().join("jets"));
        let (first, origin) = store.obtain(NUMBERS).expect("solves");
        assert_eq!(origin, Origin::Solved);
        let (second, origin) = store.obtain(NUMBERS).expect("reads");
        assert_eq!(origin, Origin::Kept);
        assert_eq!(first, second);
        let path = folder.path().join("jets").join(file_name(NUMBERS));
        let mut bytes = fs::read(&path).expect("the file is there");
        bytes[1000] ^= 1;
        fs::write(&path, &bytes).expect("writable");
        assert_eq!(store.obtain(NUMBERS).expect("solves again").1, Origin::Solved);
        fs::write(&path, b"short").expect("writable");
        assert_eq!(store.obtain(NUMBERS).expect("solves again").1, Origin::Solved);
        assert_eq!(store.obtain(NUMBERS).expect("reads").1, Origin::Kept);
    }

    #[test]
    fn a_store_that_cannot_be_made_is_no_error() {
        let store = FieldStore::in_folder(PathBuf::from("/proc/no-such-place"));
        assert_eq!(store.obtain(NUMBERS).expect("solves").1, Origin::Solved);
    }
}
