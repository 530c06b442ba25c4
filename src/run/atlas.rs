//! Landing tables on a grid of total flow and stand-off, shared by prints and settings that differ in these.
//!
//! A flight depends on the whole flow through the nozzle (jet and speed), on the stand-off and on the share of the flow inside which
//! the droplet enters; how the flow divides into aerosol and sheath only decides how much of that share the aerosol takes. So two
//! coordinates do: the logarithms of total flow and of stand-off. Tables are flown at the nodes of a lattice that is the same for all
//! settings, so that neighbouring settings share them, and a print mixes six around it by quadratic interpolation: it costs no flight of
//! its own. The error is measured in the tests: see `LATTICE_STEP`.

use super::nozzle::Nozzle;
use super::{Progress, RunError};
use motefall_physics::droplet::table::LandingTable;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{Layer, Region, VariedInput};
use motefall_physics::jet::bore::shape::Shape;
use motefall_physics::jet::exit::ExitProfile;
use motefall_physics::jet::store::FieldStore;
use motefall_physics::map::Grid;
use motefall_physics::map::regions::RegionIndex;
use motefall_physics::source::atomiser::{DropletSizes, ink_density};
use rayon::prelude::*;
use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};

/// Distance of the lattice's nodes in the logarithms of total flow and stand-off. Landing radii then differ from those of tables
/// flown at the place itself by less than 0.3 um or 1.5 %, save for 1 or 2 droplets in 1000 at the very edge of what lands (see
/// tests/engine/atlas.rs; a smaller step does not mend these).
pub(crate) const LATTICE_STEP: f64 = 0.20;
/// Ratio between the shares of the flow for which tables are flown.
const SHARE_RATIO: f64 = 3.0;
/// Ratio between the largest diameters for which tables are flown.
const DIAMETER_RATIO: f64 = 1.5;
/// Step to which the densities of the droplets are widened, kg/m^3.
const DENSITY_STEP: f64 = 500.0;
/// Tables kept in memory (about 150 kB each); beyond, all are dropped and flown again when needed.
const MOST_TABLES: usize = 2000;
/// Losses and dryings kept (about 30 kB each), and the same for their changes (170 kB each).
const MOST_MISTS: usize = 512;
const MOST_CHANGES: usize = 128;

/// Everything that fixes a flight besides total flow and stand-off.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Family {
    nozzle: Nozzle,
    /// Share of the flow that tables are flown for.
    share: f64,
    diameters: [f64; 2],
    densities: [f64; 2],
}

impl Family {
    /// For a nozzle whose aerosol takes at most a share of the flow, with droplets of a range of diameters (m) and densities (kg/m^3);
    /// the ranges are widened to round numbers that neighbouring settings have in common.
    pub(crate) fn new(nozzle: Nozzle, share: f64, diameters: [f64; 2], densities: [f64; 2]) -> Self {
        let steps = |value: f64, ratio: f64| ratio.powf((value.ln() / ratio.ln() - 1e-9).ceil());
        Self {
            nozzle,
            share: steps(share, SHARE_RATIO).min(1.0),
            diameters: [diameters[0], diameters[0] * steps(diameters[1] / diameters[0], DIAMETER_RATIO)],
            densities: [
                ((densities[0] / DENSITY_STEP).floor() * DENSITY_STEP).max(DENSITY_STEP),
                (densities[1] / DENSITY_STEP).ceil() * DENSITY_STEP,
            ],
        }
    }

    /// The same for just this share.
    fn of_share(nozzle: Nozzle, share: f64, diameters: [f64; 2], densities: [f64; 2]) -> Self {
        Self { share, ..Self::new(nozzle, share, diameters, densities) }
    }

    /// The same for just this share, and these diameters and densities.
    pub(crate) fn exact(nozzle: Nozzle, share: f64, diameters: [f64; 2], densities: [f64; 2]) -> Self {
        Self { nozzle, share, diameters, densities }
    }

    /// What tells this family from others, besides diameters and densities.
    fn numbers(&self) -> [f64; 11] {
        // Tables are kept as tracked, whatever their landing radii are multiplied by.
        let Nozzle { gas, radius, bore, exit, lift_factor, radius_factor: _ } = &self.nozzle;
        let Shape { inlet_radius, slope, land, mixing_length } = *bore;
        [
            gas.density,
            gas.viscosity,
            gas.mean_free_path,
            *radius,
            inlet_radius,
            slope,
            land,
            mixing_length,
            exit.blend().unwrap_or(f64::NAN),
            *lift_factor,
            self.share,
        ]
    }

    fn key(&self) -> Vec<u64> {
        let all = self.numbers().into_iter().chain(self.diameters).chain(self.densities);
        all.map(f64::to_bits).collect()
    }

    /// The table at a total flow (m^3/s at the head) and a stand-off (m), flown unless the store has it.
    pub(crate) fn table(&self, total_flow: f64, stand_off: f64, store: &FieldStore) -> Result<LandingTable, RunError> {
        let flyer = || self.nozzle.flyer(total_flow, stand_off, self.share, store);
        LandingTable::kept(store, &self.described(total_flow, stand_off), [self.diameters, self.densities], flyer)
    }

    /// The same if the store has it.
    fn stored(&self, total_flow: f64, stand_off: f64, store: &FieldStore) -> Option<LandingTable> {
        let from = self.described(total_flow, stand_off);
        LandingTable::kept(store, &from, [self.diameters, self.densities], || Err(())).ok()
    }

    fn described(&self, total_flow: f64, stand_off: f64) -> Vec<f64> {
        self.numbers().into_iter().chain([total_flow, stand_off]).collect()
    }
}

/// A node of the lattice, in steps of the logarithms of total flow (m^3/s) and stand-off (m).
type Node = [i32; 2];

/// Place on the lattice, in steps, of a total flow (m^3/s) and a stand-off (m).
fn place(total_flow: f64, stand_off: f64) -> [f64; 2] {
    [total_flow.ln() / LATTICE_STEP, stand_off.ln() / LATTICE_STEP]
}

/// Tables by family and node.
type Tables = HashMap<(Vec<u64>, Node), Arc<LandingTable>>;

/// Tables flown so far. Which of them exist changes no result, but for what is looked at quickly ([`Atlas::for_a_look`]).
pub struct Atlas<'a> {
    store: &'a FieldStore,
    tables: Arc<Mutex<Tables>>,
    ranges: Ranges,
    /// Tables at settings, if ranges are rounded: by all that they depend on.
    at_settings: Mutex<HashMap<Vec<u64>, Arc<LandingTable>>>,
    /// Whether a setting is looked at quickly: by a mixed table if those around it are known, or else by one flown for itself, whichever of its
    /// inputs differ between prints.
    is_quick: bool,
    /// The last region index made, with the regions and grid it is for: settings of one chip share it.
    regions: Mutex<Option<(Vec<Region>, Arc<RegionIndex>)>>,
    /// Losses and drying made last.
    mists: Recent<MistTable>,
    /// How they change, made last.
    changes: Recent<MistChanges>,
}

/// For which droplets a setting's own table is flown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ranges {
    /// For those of the setting.
    Exact,
    /// For those of a range widened to round numbers.
    Rounded,
}

/// Losses and drying to each side of a setting, for each varied input that they depend on: what the input is, how far to each side, and
/// the two tables.
pub(crate) type MistChanges = Vec<(VariedInput, f64, [MistTable; 2])>;

/// All that losses and drying depend on, in words.
pub(crate) fn mist_key(layer: &Layer, droplets: &DropletSizes) -> String {
    let Layer { gas, flows, ink, atomiser, tube, head, .. } = layer;
    let density = ink_density(ink);
    format!("{gas:?} {flows:?} {:?} {density:?} {droplets:?} {:?} {tube:?} {head:?}", ink.solvents, atomiser.mist_load)
}

/// What was made last, by a key that says all that it depends on.
struct Recent<T> {
    most: usize,
    made: Mutex<VecDeque<(String, Arc<T>)>>,
}

impl<T> Recent<T> {
    fn new(most: usize) -> Self {
        Self { most, made: Mutex::default() }
    }

    fn get(&self, key: String, make: impl FnOnce() -> T) -> Arc<T> {
        let made = |list: &VecDeque<(String, Arc<T>)>| {
            list.iter().find(|(other, _)| *other == key).map(|(_, known)| Arc::clone(known))
        };
        if let Some(known) = made(&self.made.lock().unwrap_or_else(PoisonError::into_inner)) {
            return known;
        }
        // No lock is held while making.
        let new = Arc::new(make());
        let mut list = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        list.truncate(self.most - 1);
        list.push_front((key, Arc::clone(&new)));
        new
    }
}

impl<'a> Atlas<'a> {
    /// Without tables yet.
    pub fn new(store: &'a FieldStore) -> Self {
        Self {
            store,
            tables: Arc::default(),
            ranges: Ranges::Exact,
            is_quick: false,
            at_settings: Mutex::default(),
            regions: Mutex::default(),
            mists: Recent::new(MOST_MISTS),
            changes: Recent::new(MOST_CHANGES),
        }
    }

    /// The same tables for a quick look at settings without what differs between prints: a table is mixed if those around are known, within
    /// the error of mixing (0.3 µm or 1.5 % of a radius), so that what is seen may differ by that error with what was looked at before.
    pub fn for_a_look(&self) -> Self {
        Self { is_quick: true, tables: Arc::clone(&self.tables), ..Self::for_like_droplets(self.store) }
    }

    /// The same for many settings of like droplets: tables are flown for ranges of sizes and densities that they have in common, as for
    /// prints that differ.
    pub fn for_like_droplets(store: &'a FieldStore) -> Self {
        Self { ranges: Ranges::Rounded, ..Self::new(store) }
    }

    /// The table of a setting: total flow (m^3/s at the head), stand-off (m), share of the flow that the aerosol takes; for droplets of these
    /// diameters (m) and densities (kg/m^3).
    pub(crate) fn at_setting(
        &self,
        nozzle: Nozzle,
        [total_flow, stand_off, share]: [f64; 3],
        diameters: [f64; 2],
        densities: [f64; 2],
    ) -> Result<LandingTable, RunError> {
        if self.ranges == Ranges::Exact {
            return Family::exact(nozzle, share, diameters, densities).table(total_flow, stand_off, self.store);
        }
        let family = Family::of_share(nozzle, share, diameters, densities);
        let key = [family.key(), vec![total_flow.to_bits(), stand_off.to_bits()]].concat();
        let tables = || self.at_settings.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(table) = tables().get(&key) {
            return Ok(LandingTable::clone(table));
        }
        // No lock is held while flying.
        let table = family.table(total_flow, stand_off, self.store)?;
        let mut kept = tables();
        if kept.len() >= MOST_TABLES {
            kept.clear();
        }
        kept.insert(key, Arc::new(table.clone()));
        Ok(table)
    }

    /// For a quick look: the tables around a setting, if all of them are known.
    pub(crate) fn known_around(&self, family: &Family, nominal: [f64; 2]) -> Option<LandingGrid> {
        if !self.is_quick {
            return None;
        }
        let wanted = Around::new(nominal, nominal, nominal);
        let key = family.key();
        let mut known = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        let mut table = |node: Node| {
            if !wanted.takes(node) {
                return Some(None);
            }
            let [flow, stand_off] = node.map(|n| (f64::from(n) * LATTICE_STEP).exp());
            let key = (key.clone(), node);
            let found = match known.get(&key) {
                Some(table) => Arc::clone(table),
                None => Arc::new(family.stored(flow, stand_off, self.store)?),
            };
            known.insert(key, Arc::clone(&found));
            Some(Some(found))
        };
        let tables = wanted.nodes().into_iter().map(&mut table).collect::<Option<Vec<_>>>()?;
        let Around { first, count, corner } = wanted;
        Some(LandingGrid { first, count, corner, tables, share: family.share })
    }

    /// Where solved jets are kept.
    pub(crate) fn fields(&self) -> &'a FieldStore {
        self.store
    }

    /// Losses and drying in a layer, made anew unless they are among those made last.
    pub(crate) fn mist(&self, layer: &Layer, flows: &Flows, droplets: &DropletSizes) -> Arc<MistTable> {
        self.mists.get(mist_key(layer, droplets), || MistTable::new(layer, flows, droplets))
    }

    /// The same for their changes.
    pub(crate) fn mist_changes(&self, key: String, make: impl FnOnce() -> MistChanges) -> Arc<MistChanges> {
        self.changes.get(key, make)
    }

    /// The index of regions on a grid.
    pub(crate) fn regions(&self, regions: &[Region], grid: Grid) -> Arc<RegionIndex> {
        let mut kept = self.regions.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((of, index)) = &*kept
            && of == regions
            && index.grid() == grid
        {
            return Arc::clone(index);
        }
        let index = Arc::new(RegionIndex::new(regions, grid));
        *kept = Some((regions.to_vec(), Arc::clone(&index)));
        index
    }

    /// The tables for prints around a nominal total flow (m^3/s) and stand-off (m), with the least and the largest of each.
    ///
    /// One set of six serves all prints if none lies farther than a step from its middle: the middle, its four neighbours, and the corner
    /// on the side of the setting. Otherwise each print takes the six around its own place.
    pub(crate) fn around(
        &self,
        family: &Family,
        nominal: [f64; 2],
        least: [f64; 2],
        most: [f64; 2],
        progress: &dyn Progress,
    ) -> Result<LandingGrid, RunError> {
        let wanted = Around::new(nominal, least, most);
        let nodes = wanted.nodes();
        let key = family.key();
        let known = |node: &Node| {
            self.tables.lock().unwrap_or_else(PoisonError::into_inner).get(&(key.clone(), *node)).cloned()
        };
        let missing: Vec<Node> =
            nodes.iter().copied().filter(|node| wanted.takes(*node) && known(node).is_none()).collect();
        if !missing.is_empty() {
            progress.begin("solving jets and tracking droplets around the setting", Some(missing.len() as u64));
        }
        let fresh = self.fly_all(family, missing, progress)?;
        let mut tables = Vec::with_capacity(nodes.len());
        let mut kept = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        for node in nodes {
            if !wanted.takes(node) {
                tables.push(None);
                continue;
            }
            // Somebody else may have dropped what was known: then it is flown after all.
            let table = match fresh.get(&node).or_else(|| kept.get(&(key.clone(), node))) {
                Some(table) => Arc::clone(table),
                None => {
                    let [flow, stand_off] = node.map(|n| (f64::from(n) * LATTICE_STEP).exp());
                    Arc::new(family.table(flow, stand_off, self.store)?)
                }
            };
            tables.push(Some(table));
        }
        if kept.len() + fresh.len() > MOST_TABLES {
            kept.clear();
        }
        kept.extend(fresh.into_iter().map(|(node, table)| ((key.clone(), node), table)));
        drop(kept);
        let Around { first, count, corner } = wanted;
        Ok(LandingGrid { first, count, corner, tables, share: family.share })
    }

    /// Flies the tables of these nodes.
    fn fly_all(
        &self,
        family: &Family,
        nodes: Vec<Node>,
        progress: &dyn Progress,
    ) -> Result<HashMap<Node, Arc<LandingTable>>, RunError> {
        // Jets of one flow share its bore: solved once before them, and not by each that comes first.
        if let ExitProfile::Bore(shape) = family.nozzle.exit {
            let mut flows: Vec<i32> = nodes.iter().map(|node| node[0]).collect();
            flows.sort_unstable();
            flows.dedup();
            let bore =
                |flow: i32| self.store.bore(family.nozzle.reynolds((f64::from(flow) * LATTICE_STEP).exp()), shape);
            flows.into_par_iter().try_for_each(|flow| bore(flow).map(drop))?;
        }
        // No lock is held while flying.
        let flown: Vec<Result<Arc<LandingTable>, RunError>> = nodes
            .par_iter()
            .map(|node| {
                if progress.cancelled() {
                    return Err(RunError::Cancelled);
                }
                let [flow, stand_off] = node.map(|n| (f64::from(n) * LATTICE_STEP).exp());
                let table = family.table(flow, stand_off, self.store)?;
                progress.advance(1);
                Ok(Arc::new(table))
            })
            .collect();
        nodes.into_iter().zip(flown).map(|(node, table)| Ok((node, table?))).collect()
    }
}

/// Nodes around a setting.
struct Around {
    first: Node,
    count: [usize; 2],
    /// The one corner that is taken, as steps from the middle, if one set of six serves.
    corner: Option<[i32; 2]>,
}

impl Around {
    /// For prints around a nominal total flow (m^3/s) and stand-off (m), with the least and the largest of each.
    fn new(nominal: [f64; 2], least: [f64; 2], most: [f64; 2]) -> Self {
        let middle = place(nominal[0], nominal[1]).map(f64::round);
        let (low, high) = (place(least[0], least[1]), place(most[0], most[1]));
        let near = (0..2).all(|k| (low[k] - middle[k]).abs().max((high[k] - middle[k]).abs()) <= 1.0);
        let (from, to) = if near { (middle, middle) } else { (low.map(f64::round), high.map(f64::round)) };
        let first = from.map(|node| node as i32 - 1);
        let count = [0, 1].map(|k| (to[k] - from[k]) as usize + 3);
        let corner = near.then(|| {
            let set = place(nominal[0], nominal[1]);
            [0, 1].map(|k| side(set[k] - middle[k]))
        });
        Self { first, count, corner }
    }

    fn nodes(&self) -> Vec<Node> {
        let [rows, columns] = self.count.map(|count| count as i32);
        (0..rows).flat_map(|i| (0..columns).map(move |j| [self.first[0] + i, self.first[1] + j])).collect()
    }

    fn takes(&self, node: Node) -> bool {
        self.corner.is_none_or(|corner| {
            let from_middle = [0, 1].map(|k| node[k] - self.first[k] - 1);
            from_middle.contains(&0) || from_middle == corner
        })
    }
}

/// To which side of a node a place lies.
fn side(offset: f64) -> i32 {
    if offset < 0.0 { -1 } else { 1 }
}

/// Landing tables around one setting.
#[derive(Debug, Clone)]
pub(crate) struct LandingGrid {
    first: Node,
    count: [usize; 2],
    /// The one corner that all prints take, as steps from the middle.
    corner: Option<[i32; 2]>,
    /// Tables of the nodes; those of the other corners are missing.
    tables: Vec<Option<Arc<LandingTable>>>,
    share: f64,
}

impl LandingGrid {
    /// The table of a print with a total flow (m^3/s), a stand-off (m) and a share of the flow that the aerosol takes.
    pub(crate) fn at(&self, total_flow: f64, stand_off: f64, core_share: f64) -> LandingTable {
        let place = place(total_flow, stand_off);
        let mut middle = [0usize; 2];
        let mut offset = [0.0; 2];
        for k in 0..2 {
            let inside = place[k] - f64::from(self.first[k]);
            middle[k] = (inside.round().max(1.0) as usize).min(self.count[k] - 2);
            offset[k] = inside - middle[k] as f64;
        }
        let [x, y] = offset;
        let [i, j] = self.corner.unwrap_or([side(x), side(y)]);
        // The parabola along each coordinate through three nodes, and the product of both from the four around the corner.
        let twist = x * y * f64::from(i * j);
        let weights = [
            ([0, 0], 1.0 - x * x - y * y + twist),
            ([i, 0], 0.5 * x * (x + f64::from(i)) - twist),
            ([-i, 0], 0.5 * x * (x - f64::from(i))),
            ([0, j], 0.5 * y * (y + f64::from(j)) - twist),
            ([0, -j], 0.5 * y * (y - f64::from(j))),
            ([i, j], twist),
        ];
        let parts = weights.map(|([di, dj], weight)| {
            let node = [middle[0].wrapping_add_signed(di as isize), middle[1].wrapping_add_signed(dj as isize)];
            let table = self.tables[node[0] * self.count[1] + node[1]].as_ref().expect("a node that prints take");
            (&**table, weight)
        });
        debug_assert!(core_share <= self.share * (1.0 + 1e-9));
        LandingTable::mixed(&parts, (core_share / self.share).min(1.0))
    }
}
