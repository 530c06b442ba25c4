//! Solved bores and jets kept on disk, one file each, named by their dimensionless numbers; and what is worked out of them, named by a
//! hash of the numbers that it follows from.
//!
//! A file is complete or absent: it is written beside its place and renamed, so runs may share a folder. A file that is
//! damaged or from another version counts as absent. What is read back is bit for bit what was solved.

use super::bore::grid::BoreGrid;
use super::bore::shape::Shape;
use super::bore::solver::{BoreSolution, layer_thickness, solve_bore};
use super::exit::ExitProfile;
use super::grid::Fineness;
use super::solver::{self, JetError, JetNumbers, Solution, Source, Surroundings};
use motefall_files::whole_file::{self, UNFINISHED, WriteError};
use std::collections::VecDeque;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Changes whenever the equations, the grid or the layout of the file change.
const VERSION: u32 = 6;
const MAGIC: &[u8; 8] = b"MOTEJET\0";
/// Files kept before the oldest are removed (about 250 kB each).
const MOST_FILES: usize = 2000;

/// Solutions of each kind kept in memory, about 250 kB each.
const MOST_RECENT: usize = 12;

/// Where solved bores and jets are kept.
#[derive(Debug, Clone, Default)]
pub struct FieldStore {
    folder: Option<PathBuf>,
    /// Without a folder: the last few solutions, so that a run solves none twice.
    jets: Recent<JetNumbers, Solution>,
    bores: Recent<(f64, Shape), BoreSolution>,
}

/// What was solved last, by what it is.
#[derive(Debug, Clone)]
struct Recent<K, T>(Arc<Mutex<List<K, T>>>);

type List<K, T> = VecDeque<(K, Arc<T>)>;

impl<K, T> Default for Recent<K, T> {
    fn default() -> Self {
        Self(Arc::default())
    }
}

impl<K: PartialEq, T> Recent<K, T> {
    fn obtain<E>(&self, key: K, solve: impl FnOnce() -> Result<T, E>) -> Result<(Arc<T>, Origin), E> {
        let list = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, found)) = list().iter().find(|(other, _)| *other == key) {
            return Ok((Arc::clone(found), Origin::Kept));
        }
        // No lock is held while solving.
        let found = Arc::new(solve()?);
        let mut list = list();
        list.push_back((key, Arc::clone(&found)));
        if list.len() > MOST_RECENT {
            list.pop_front();
        }
        Ok((found, Origin::Solved))
    }
}

/// A jet with the bore that it comes out of, if it comes out of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Flow {
    /// From the exit to the plate.
    pub jet: Arc<Solution>,
    /// From where the sheath joins to the exit.
    pub bore: Option<Arc<BoreSolution>>,
    /// Where the jet came from.
    pub(crate) origin: Origin,
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

    /// No folder: each jet is solved anew, and only the last few are kept, in memory.
    pub fn none() -> Self {
        Self::default()
    }

    /// The kept bore, or a new one, which is then kept. A store that cannot be written is no error.
    pub fn bore(&self, reynolds: f64, shape: Shape) -> Result<(Arc<BoreSolution>, Origin), JetError> {
        let (reynolds, shape) = (six(reynolds), rounded_shape(shape));
        let solve = || solve_bore(reynolds, shape, Fineness::Standard);
        let Some(folder) = &self.folder else {
            return Ok(self.bores.obtain((reynolds, shape), solve)?);
        };
        let path = folder.join(bore_file(reynolds, &shape));
        let grid = BoreGrid::new(&shape, layer_thickness(reynolds, &shape), Fineness::Standard);
        if let Some((newton_steps, psi, scaled_vorticity)) = read_fields(&path, grid.len()) {
            let kept = BoreSolution { reynolds, shape, grid, psi, scaled_vorticity, newton_steps };
            return Ok((Arc::new(kept), Origin::Kept));
        }
        let new = solve()?;
        keep(folder, &path, new.newton_steps, [&new.psi, &new.scaled_vorticity]);
        Ok((Arc::new(new), Origin::Solved))
    }

    /// The kept jet, or a new one, which is then kept; with the bore that it comes out of, if it comes out of one.
    pub fn obtain(&self, numbers: JetNumbers) -> Result<Flow, JetError> {
        solver::check_range(numbers)?;
        let bore = match numbers.exit {
            ExitProfile::Bore(shape) => Some(self.bore(numbers.reynolds, shape)?.0),
            ExitProfile::Blend(_) => None,
        };
        let numbers = rounded(numbers);
        let source = match (&bore, numbers.exit) {
            (Some(bore), _) => Source::Bore(bore),
            (None, ExitProfile::Blend(blend)) => Source::Blend(blend),
            (None, ExitProfile::Bore(_)) => unreachable!("a bore was obtained above"),
        };
        let (jet, origin) = self.jet(numbers, source)?;
        Ok(Flow { jet, bore, origin })
    }

    /// Numbers kept of a kind that follow from these others, all of which say the same bit for bit.
    pub(crate) fn kept(&self, kind: &str, from: &[f64]) -> Option<Vec<f64>> {
        let (_, mut values) = read(&self.folder.as_ref()?.join(file_of(kind, from)))?;
        let same = values.len() >= from.len() && values.iter().zip(from).all(|(a, b)| a.to_bits() == b.to_bits());
        same.then(|| values.split_off(from.len()))
    }

    /// Keeps such numbers. A store that cannot be written is no error.
    pub(crate) fn keep(&self, kind: &str, from: &[f64], values: &[f64]) {
        if let Some(folder) = &self.folder {
            keep(folder, &folder.join(file_of(kind, from)), 0, [from, values]);
        }
    }

    fn jet(&self, numbers: JetNumbers, source: Source<'_>) -> Result<(Arc<Solution>, Origin), JetError> {
        let solve = || solver::solve_jet(numbers, source, Fineness::Standard);
        let Some(folder) = &self.folder else {
            return self.jets.obtain(numbers, solve);
        };
        let path = folder.join(jet_file(numbers));
        let grid = solver::grid(numbers, Fineness::Standard);
        if let Some((newton_steps, psi, zeta)) = read_fields(&path, grid.len()) {
            let exit = source.on(&grid);
            return Ok((Arc::new(Solution { numbers, grid, exit, psi, zeta, newton_steps }), Origin::Kept));
        }
        let new = solve()?;
        keep(folder, &path, new.newton_steps, [&new.psi, &new.zeta]);
        Ok((Arc::new(new), Origin::Solved))
    }
}

/// Six digits: settings that differ by less share a solution, whichever was asked for first.
fn six(x: f64) -> f64 {
    format!("{x:.5e}").parse().unwrap_or(x)
}

fn rounded_shape(shape: Shape) -> Shape {
    let Shape { inlet_radius, slope, land, mixing_length } = shape;
    Shape { inlet_radius: six(inlet_radius), slope: six(slope), land: six(land), mixing_length: six(mixing_length) }
}

fn rounded(numbers: JetNumbers) -> JetNumbers {
    JetNumbers {
        reynolds: six(numbers.reynolds),
        stand_off_ratio: six(numbers.stand_off_ratio),
        exit: match numbers.exit {
            ExitProfile::Bore(shape) => ExitProfile::Bore(rounded_shape(shape)),
            ExitProfile::Blend(blend) => ExitProfile::Blend(six(blend)),
        },
        ..numbers
    }
}

fn shape_name(shape: &Shape) -> String {
    let Shape { inlet_radius, slope, land, mixing_length } = shape;
    format!("inlet{inlet_radius:.5e}-slope{slope:.5e}-land{land:.5e}-mixing{mixing_length:.5e}")
}

fn bore_file(reynolds: f64, shape: &Shape) -> String {
    format!("jet{VERSION}-bore-re{reynolds:.5e}-{}.bin", shape_name(shape))
}

fn jet_file(numbers: JetNumbers) -> String {
    let beside = match numbers.surroundings {
        Surroundings::Open => "open",
        Surroundings::Wall => "wall",
    };
    let exit = match numbers.exit {
        ExitProfile::Bore(shape) => shape_name(&shape),
        ExitProfile::Blend(blend) => format!("plug{blend:.5e}"),
    };
    format!("jet{VERSION}-re{:.5e}-standoff{:.5e}-{exit}-{beside}.bin", numbers.reynolds, numbers.stand_off_ratio)
}

fn file_of(kind: &str, from: &[f64]) -> String {
    let bytes: Vec<u8> = from.iter().flat_map(|value| value.to_le_bytes()).collect();
    format!("jet{VERSION}-{kind}-{:016x}.bin", checksum(&bytes))
}

fn keep(folder: &Path, path: &Path, newton_steps: usize, fields: [&[f64]; 2]) {
    if fs::create_dir_all(folder).is_ok() && write(path, newton_steps, fields).is_ok() {
        remove_oldest(folder);
    }
}

fn write(path: &Path, newton_steps: usize, fields: [&[f64]; 2]) -> Result<(), WriteError> {
    let mut bytes = Vec::with_capacity(16 * fields[0].len() + 32);
    bytes.extend_from_slice(MAGIC);
    bytes.extend_from_slice(&VERSION.to_le_bytes());
    bytes.extend_from_slice(&(newton_steps as u32).to_le_bytes());
    for value in fields.into_iter().flatten() {
        bytes.extend_from_slice(&value.to_le_bytes());
    }
    bytes.extend_from_slice(&checksum(&bytes).to_le_bytes());
    whole_file::replace(path, &[&bytes])
}

/// Newton steps and both fields of a file with a number of nodes.
fn read_fields(path: &Path, nodes: usize) -> Option<(usize, Vec<f64>, Vec<f64>)> {
    let (newton_steps, mut values) = read(path)?;
    if values.len() != 2 * nodes {
        return None;
    }
    let second = values.split_off(nodes);
    Some((newton_steps, values, second))
}

/// Newton steps and all values of a file.
fn read(path: &Path) -> Option<(usize, Vec<f64>)> {
    let bytes = fs::read(path).ok()?;
    let (body, sum) = bytes.split_at_checked(bytes.len().checked_sub(8)?)?;
    let (head, values) = body.split_at_checked(16)?;
    if sum != checksum(body).to_le_bytes() || &head[..8] != MAGIC || head[8..12] != VERSION.to_le_bytes() {
        return None;
    }
    let newton_steps = u32::from_le_bytes(head[12..16].try_into().ok()?) as usize;
    let (values, []) = values.as_chunks::<8>() else { return None };
    Some((newton_steps, values.iter().map(|value| f64::from_le_bytes(*value)).collect()))
}

/// FNV-1a, 64 bit (Fowler, Noll & Vo 1991): finds damage, not malice.
fn checksum(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

fn remove_oldest(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let mut files: Vec<_> = entries
        .flatten()
        .filter(|entry| {
            // What a run that was ended while it kept a jet has left goes too, when it is old.
            let name = entry.file_name();
            ["jet", UNFINISHED].iter().any(|begin| name.to_string_lossy().starts_with(begin))
        })
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

    const NUMBERS: JetNumbers = JetNumbers {
        reynolds: 30.0,
        stand_off_ratio: 4.0,
        exit: ExitProfile::Bore(Shape { inlet_radius: 3.0, slope: 0.2, land: 1.0, mixing_length: 2.0 }),
        surroundings: Surroundings::Open,
    };

    #[test]
    fn a_kept_solution_comes_back_bit_for_bit_and_damage_is_noticed() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = FieldStore::in_folder(folder.path().join("jets"));
        let first = store.obtain(NUMBERS).expect("solves");
        assert_eq!(first.origin, Origin::Solved);
        let second = store.obtain(NUMBERS).expect("reads");
        assert_eq!(second.origin, Origin::Kept);
        assert_eq!((first.jet, first.bore), (second.jet, second.bore));
        let path = folder.path().join("jets").join(jet_file(NUMBERS));
        let mut bytes = fs::read(&path).expect("the file is there");
        bytes[1000] ^= 1;
        fs::write(&path, &bytes).expect("writable");
        assert_eq!(store.obtain(NUMBERS).expect("solves again").origin, Origin::Solved);
        fs::write(&path, b"short").expect("writable");
        assert_eq!(store.obtain(NUMBERS).expect("solves again").origin, Origin::Solved);
        assert_eq!(store.obtain(NUMBERS).expect("reads").origin, Origin::Kept);
    }

    #[test]
    fn numbers_are_kept_by_what_they_follow_from() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let store = FieldStore::in_folder(folder.path().join("jets"));
        let (from, other) = ([1.0, f64::NAN, 3.0], [1.0, f64::NAN, 3.1]);
        assert_eq!(store.kept("tables", &from), None);
        store.keep("tables", &from, &[0.1, -0.0]);
        let kept = store.kept("tables", &from).expect("it is there");
        assert_eq!(kept.iter().map(|value| value.to_bits()).collect::<Vec<_>>(), [0.1_f64, -0.0].map(f64::to_bits));
        assert_eq!(store.kept("tables", &other), None);
        // Another list under the same name, as if two had the same hash.
        let folder = folder.path().join("jets");
        fs::rename(folder.join(file_of("tables", &from)), folder.join(file_of("tables", &other))).expect("renames");
        assert_eq!(store.kept("tables", &other), None);
        assert_eq!(FieldStore::none().kept("tables", &from), None);
    }

    #[test]
    fn a_store_that_cannot_be_made_is_no_error() {
        let store = FieldStore::in_folder(PathBuf::from("/proc/no-such-place"));
        assert_eq!(store.obtain(NUMBERS).expect("solves").origin, Origin::Solved);
    }
}
