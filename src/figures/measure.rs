//! The figures of one print.

use super::beam_view::{self, AreaCounts};
use super::budget::{masses, masses_of};
use super::electrode_view::{self, HOUR};
use super::joined::{Electrodes, Joined, Lists, Rules, Solid};
use super::profile::{EDGE_WINDOW, END_SHARE, End, LEAST_EDGE_COVER, Smoothed, Strip};
use super::statistics::{Place, garwood};
use super::{Bridging, FigureKind, FigureRow, GapOutcome, Grid, KINDS, Measured, MeasuringGrid, Scope};
use crate::inputs::{Conduction, Inputs, Limit, Outline, PathItem, Region, Role, Shape};
use crate::map::PrintOutcome;
use crate::map::canvas::{Bits, Canvas, SUB};
use crate::map::outline::{bounds, contains};
use crate::map::regions::RegionIndex;
use crate::map::tally::{FateCount, REACH_BIN, REACH_BINS, SizeCounts, Tally};
use crate::units::CUBIC_NANOMETRE;
use std::f64::consts::PI;
use std::ops::Range;

/// Share of the landed solids that the reach of the overspray holds.
const REACH_SHARE: f64 = 0.99;
/// Bins in which thicknesses are first counted to find a percentile; the value itself is then exact.
const COARSE_BINS: usize = 4096;

/// Measures prints of one setting; prepared once.
///
/// Where regions overlap, two kinds of figures differ. Coverage, bare share, thickness and mean free paths are of the whole area
/// of a region, whatever lies on it. Mass, particles, capacity, largest particle and hits come from the counts, which give each
/// landing to one region, electrodes before windows: those of a window leave out what lies on its electrodes.
#[derive(Debug, Clone)]
pub struct Measurer {
    places: Vec<Place>,
    tasks: Vec<Task>,
    regions: Vec<RegionWork>,
    items: Vec<Result<Strip, &'static str>>,
    lines: Vec<bool>,
    shapes: Vec<Shape>,
    powders: Vec<PowderWork>,
    /// Regions that are printed on.
    targets: Vec<usize>,
    overlapped: Vec<bool>,
    /// Regions that reach beyond the fine grid.
    beyond: Vec<bool>,
    /// Conductors of the chip and their regions.
    electrodes: Electrodes,
    electrode_regions: Vec<usize>,
    solids: Vec<Solid>,
    inputs: Inputs,
    /// Thickness of the other layers in mean free paths.
    layers: f64,
    print_time: f64,
    ink_used: f64,
}

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Task {
    Region(usize),
    Item(usize),
    Print,
}

#[derive(Debug, Clone)]
struct PowderWork {
    capacity: f64,
    mean_free_path: f64,
}

/// A region on the measuring grid.
#[derive(Debug, Clone, Default)]
struct RegionWork {
    /// Sub-pixels inside.
    area: u64,
    /// Pixels along the edge of a square.
    per_square: usize,
    /// Runs of squares wholly inside: row, columns.
    whole: Vec<(usize, Range<usize>)>,
    /// Squares cut by the edge: row, column.
    cut: Vec<(usize, usize)>,
    /// For each pixel of each cut square, row after row: which sub-pixels are inside.
    inside: Vec<u64>,
}

/// What lies in a square of the measuring grid.
#[derive(Debug, Clone, Copy, Default)]
struct Square {
    /// Sub-pixels of the region in it.
    inside: u64,
    /// Covered sub-pixels of the region in it.
    covered_inside: u64,
    /// Covered sub-pixels, of the region or not.
    covered: u64,
    /// Solid volume, nm^3.
    volume: u64,
    /// Solid volume of each powder times what makes it mean free paths.
    paths: f64,
    /// The same two for the region's part of each pixel, by its share of the pixel's area.
    volume_inside: f64,
    paths_inside: f64,
}

impl Square {
    #[inline]
    fn add(&mut self, inside: u64, cover: u64, volumes: &[u64], to_paths: &[f64]) {
        let volume: u64 = volumes.iter().sum();
        let paths: f64 = volumes.iter().zip(to_paths).map(|(volume, to_paths)| *volume as f64 * to_paths).sum();
        let share = f64::from(inside.count_ones()) / f64::from(u64::BITS);
        self.covered_inside += u64::from((cover & inside).count_ones());
        self.covered += u64::from(cover.count_ones());
        self.volume += volume;
        self.paths += paths;
        self.volume_inside += share * volume as f64;
        self.paths_inside += share * paths;
    }

    fn is_empty(&self) -> bool {
        self.volume == 0 && self.covered == 0
    }
}

impl RegionWork {
    fn new(mask: &Bits, outline: &Outline, measuring: MeasuringGrid) -> Self {
        let MeasuringGrid { grid, per_square } = measuring;
        let full = per_square * per_square * SUB * SUB;
        let mut work = Self { per_square, ..Self::default() };
        let [corner, far_corner] = bounds(outline);
        let range = |k: usize, count: usize| {
            let square = |at: f64| ((at - grid.origin[k]) / (grid.pitch * per_square as f64)).floor();
            let first = square(corner[k]).max(0.0) as usize;
            first.min(count)..(square(far_corner[k]).max(-1.0) as isize + 1).cast_unsigned().min(count)
        };
        for row in range(1, grid.rows / per_square) {
            for column in range(0, grid.columns / per_square) {
                let before = work.inside.len();
                for y in row * per_square..(row + 1) * per_square {
                    work.inside.extend((column * per_square..(column + 1) * per_square).map(|x| mask.pixel(y, x)));
                }
                let inside: usize = work.inside[before..].iter().map(|bits| bits.count_ones() as usize).sum();
                work.area += inside as u64;
                if inside > 0 && inside < full {
                    work.cut.push((row, column));
                    continue;
                }
                work.inside.truncate(before);
                if inside == 0 {
                    continue;
                }
                if let Some((_, run)) = work.whole.last_mut().filter(|(at, run)| *at == row && run.end == column) {
                    run.end += 1;
                } else {
                    work.whole.push((row, column..column + 1));
                }
            }
        }
        work
    }

    /// Whether the middle of any of its pixels lies inside an outline.
    fn meets(&self, outline: &Outline, grid: Grid) -> bool {
        let n = self.per_square;
        let inside = |row: usize, column: usize| {
            contains(outline, [(column, 0), (row, 1)].map(|(at, k)| grid.origin[k] + (at as f64 + 0.5) * grid.pitch))
        };
        let any = |rows: Range<usize>, columns: Range<usize>| {
            rows.into_iter().any(|row| columns.clone().any(|column| inside(row, column)))
        };
        self.whole.iter().any(|(row, run)| any(row * n..(row + 1) * n, run.start * n..run.end * n))
            || self.cut.iter().zip(self.inside.chunks_exact(n * n)).any(|((row, column), bits)| {
                (0..n * n).any(|k| bits[k] != 0 && inside(row * n + k / n, column * n + k % n))
            })
    }

    /// Calls `f` for every square of the region that holds something.
    fn visit(&self, canvas: &Canvas, to_paths: &[f64], mut f: impl FnMut(&Square)) {
        let n = self.per_square;
        let full = (n * n * SUB * SUB) as u64;
        let mut squares = vec![];
        for (row, run) in &self.whole {
            if n == 1 {
                // A square is a pixel: no need to go through those that hold nothing.
                canvas.visit(*row, run.clone(), |_, cover, volumes| {
                    let mut square = Square { inside: full, ..Square::default() };
                    square.add(!0, cover, volumes, to_paths);
                    if !square.is_empty() {
                        f(&square);
                    }
                });
                continue;
            }
            squares.clear();
            squares.resize(run.len(), Square { inside: full, ..Square::default() });
            for y in row * n..(row + 1) * n {
                canvas.visit(y, run.start * n..run.end * n, |x, cover, volumes| {
                    squares[x / n - run.start].add(!0, cover, volumes, to_paths);
                });
            }
            squares.iter().filter(|square| !square.is_empty()).for_each(&mut f);
        }
        for ((row, column), bits) in self.cut.iter().zip(self.inside.chunks_exact(n * n)) {
            let inside = bits.iter().map(|bits| u64::from(bits.count_ones())).sum();
            let mut square = Square { inside, ..Square::default() };
            for y in 0..n {
                canvas.visit(row * n + y, column * n..(column + 1) * n, |x, cover, volumes| {
                    square.add(bits[y * n + x - column * n], cover, volumes, to_paths);
                });
            }
            if !square.is_empty() {
                f(&square);
            }
        }
    }
}

/// Thickness over a region.
struct Thickness {
    coverage: f64,
    mean: f64,
    /// Standard deviation over mean of the squares; `None` if nothing is there.
    unevenness: Option<f64>,
    percentiles: [f64; 4],
    too_thick: f64,
    usable: f64,
    mean_free_paths: f64,
}

/// Shares of the percentiles in [`Thickness::percentiles`].
const PERCENTILES: [f64; 4] = [0.05, 0.5, 0.95, 0.99];

impl Measurer {
    /// Prepares for all prints of a setting. `print_time` in s, `ink_used` in m^3.
    pub fn new(inputs: &Inputs, measuring: MeasuringGrid, index: &RegionIndex, print_time: f64, ink_used: f64) -> Self {
        let grid = measuring.grid;
        let limited = |kind: Option<&FigureKind>, place: Option<&str>| {
            inputs
                .acceptance
                .limits
                .iter()
                .any(|limit| kind.is_none_or(|kind| kind.id == limit.figure) && limit.place.as_deref() == place)
        };
        let path: Vec<&PathItem> = inputs.items().collect();
        let items: Vec<_> = (0..path.len()).map(|k| Strip::new(inputs, k, grid)).collect();
        let lines: Vec<bool> =
            path.iter().map(|item| matches!(item.shape, Shape::Polyline(_) | Shape::Polylines(_))).collect();
        // Places that a limit speaks of first, then by role.
        let mut region_order: Vec<usize> = (0..inputs.regions.len()).collect();
        region_order.sort_by_key(|k| {
            let region = &inputs.regions[*k];
            let rank = [Role::Target, Role::Counter, Role::Electrode, Role::KeepOut, Role::Window]
                .iter()
                .position(|r| *r == region.role);
            (!limited(None, Some(&region.name)), rank)
        });
        let mut item_order: Vec<usize> = (0..path.len()).collect();
        item_order.sort_by_key(|k| !limited(None, Some(&path[*k].name)));

        let beyond: Vec<bool> = inputs.regions.iter().map(|region| !grid.holds(&region.outline)).collect();
        let regions: Vec<RegionWork> = (0..inputs.regions.len())
            .map(|k| match beyond[k] {
                true => RegionWork::default(),
                false => RegionWork::new(&index.mask(k), &inputs.regions[k].outline, measuring),
            })
            .collect();
        // Where a chip has windows, the beam crosses it there only.
        let windows: Vec<&Region> = inputs.regions.iter().filter(|region| region.role == Role::Window).collect();
        let crossed =
            |k: usize| windows.is_empty() || beyond[k] || windows.iter().any(|w| regions[k].meets(&w.outline, grid));
        let (mut places, mut tasks) = (vec![], vec![]);
        let of = |scope: Scope| KINDS.iter().filter(move |kind| kind.scope == scope);
        for k in region_order {
            let region = &inputs.regions[k];
            for kind in of(Scope::Region) {
                let tells = tells_of_region(kind, region.role, inputs) && (!kind.is_of_beam() || crossed(k));
                if tells || limited(Some(kind), Some(&region.name)) {
                    places.push((kind, Some(region.name.clone())));
                    tasks.push(Task::Region(k));
                }
            }
        }
        for k in item_order {
            let name = &path[k].name;
            for kind in of(Scope::Item) {
                if tells_of_item(kind, &path[k].shape) || limited(Some(kind), Some(name)) {
                    places.push((kind, Some(name.clone())));
                    tasks.push(Task::Item(k));
                }
            }
        }
        for kind in of(Scope::Print) {
            if tells_of_print(kind, inputs) || limited(Some(kind), None) {
                places.push((kind, None));
                tasks.push(Task::Print);
            }
        }
        let by_role = |wanted: fn(Role) -> bool| -> Vec<usize> {
            (0..inputs.regions.len()).filter(|k| wanted(inputs.regions[*k].role)).collect()
        };
        let electrode_regions = by_role(Role::is_electrode);
        let covers = |other: usize, window: usize| {
            inputs.regions[other].role != Role::Window && regions[other].meets(&inputs.regions[window].outline, grid)
        };
        let overlapped = (0..regions.len())
            .map(|k| inputs.regions[k].role == Role::Window && (0..regions.len()).any(|other| covers(other, k)))
            .collect();
        Self {
            places,
            tasks,
            regions,
            items,
            lines,
            shapes: path.iter().map(|item| item.shape.clone()).collect(),
            powders: inputs
                .powders()
                .iter()
                .zip(beam_view::mean_free_paths(inputs))
                .map(|(powder, mean_free_path)| PowderWork { capacity: powder.capacity, mean_free_path })
                .collect(),
            targets: by_role(Role::is_printed),
            overlapped,
            beyond,
            electrodes: Electrodes::new(electrode_regions.iter().map(|k| inputs.regions[*k].outline.clone()).collect()),
            electrode_regions,
            solids: inputs
                .powders()
                .iter()
                .map(|powder| Solid { conduction: powder.conduction, capacity: powder.capacity * powder.density })
                .collect(),
            layers: beam_view::layers_depth(&inputs.beam),
            inputs: inputs.clone(),
            print_time,
            ink_used,
        }
    }

    /// Figures and places in the order of [`Measurer::measure`]: by place, deciding figures first; places with limits before others.
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// Inelastic mean free path of each powder at the beam's voltage, m.
    pub fn powder_mean_free_paths(&self) -> Vec<f64> {
        self.powders.iter().map(|powder| powder.mean_free_path).collect()
    }

    /// Whether a limit asks for a figure that takes the single particles of a print.
    pub fn needs_particles(&self) -> bool {
        let asked = |limit: &Limit| super::kinds::kind(&limit.figure).is_some_and(FigureKind::needs_particles);
        self.inputs.acceptance.limits.iter().any(asked)
    }

    /// What touches what in a print; `None` if its particles were not kept or the chip has no electrode. The lists serve print after print.
    pub fn joined(&self, outcome: &PrintOutcome, lists: &mut Lists) -> Option<Joined> {
        let kept = outcome.far.prints() > 0 && outcome.particles.len() as u64 == outcome.landed_particles();
        (kept && !self.electrodes.is_empty())
            .then(|| self.electrodes.joined(&outcome.particles, &self.solids, Rules::default(), lists))
    }

    /// Takes what touches what out of the figures of all prints. A mean over those prints alone whose particles were few enough to be kept
    /// would be that of the sparse ones.
    pub fn forget_joins(&self, per_print: &mut [Vec<Option<Measured>>]) {
        for print in per_print {
            for (value, (kind, _)) in print.iter_mut().zip(&self.places) {
                if kind.needs_particles() {
                    *value = None;
                }
            }
        }
    }

    /// Gaps between electrodes over prints; `None` if there is no gap or a print's particles were not kept.
    pub fn bridging(&self, per_print: &[Option<Joined>]) -> Option<Bridging> {
        let prints: Vec<&Joined> = per_print.iter().map(Option::as_ref).collect::<Option<_>>()?;
        let gaps = self.electrodes.gaps().iter().enumerate().map(|(k, gap)| {
            let largest = prints
                .iter()
                .map(|joined| joined.clusters[k])
                .max_by(|a, b| a.extent.total_cmp(&b.extent).then(a.particles.cmp(&b.particles)));
            GapOutcome {
                between: gap.between.map(|e| self.inputs.regions[self.electrode_regions[e]].name.clone()),
                width: gap.width,
                bridged: prints.iter().filter(|joined| joined.bridges.contains(&gap.between)).count() as u32,
                largest: largest.unwrap_or_default(),
                mean_spanned: prints.iter().map(|joined| joined.clusters[k].extent / gap.width).sum::<f64>()
                    / prints.len().max(1) as f64,
            }
        });
        let gaps: Vec<GapOutcome> = gaps.collect();
        (!gaps.is_empty() && !prints.is_empty()).then_some(Bridging { prints: prints.len() as u32, gaps })
    }

    /// All figures of a print, SI; `None` where there is nothing to measure ([`Measurer::annotate`] says why).
    pub fn measure(&self, outcome: &PrintOutcome) -> Vec<Option<Measured>> {
        self.measure_joined(outcome, self.joined(outcome, &mut Lists::default()).as_ref())
    }

    /// The same with [`Measurer::joined`] at hand.
    pub fn measure_joined(&self, outcome: &PrintOutcome, joined: Option<&Joined>) -> Vec<Option<Measured>> {
        let mut values = Vec::with_capacity(self.places.len());
        let mut scratch = vec![];
        let mut first = 0;
        while first < self.tasks.len() {
            let task = self.tasks[first];
            let last = first + self.tasks[first..].iter().take_while(|t| **t == task).count();
            let ids = self.places[first..last].iter().map(|(kind, _)| kind.id);
            let exactly = |all: Vec<Option<f64>>| all.into_iter().map(|value| value.map(Measured::Exactly));
            match task {
                Task::Region(k) => values.extend(exactly(self.region(k, outcome, joined, ids, &mut scratch))),
                Task::Item(k) => values.extend(self.item(k, outcome, ids)),
                Task::Print => {
                    let farther = outcome.tally.at_edge > 0;
                    let found = ids.clone().zip(exactly(self.print(&outcome.tally, joined, ids)));
                    // Where some land next to the edge of what is followed, others land beyond it.
                    values.extend(found.map(|(id, value)| match value {
                        Some(value) if farther && id == "farthest_stray_um" => Some(Measured::AtLeast(value.value())),
                        value => value,
                    }));
                }
            }
            first = last;
        }
        values
    }

    fn region<'a>(
        &self,
        k: usize,
        outcome: &PrintOutcome,
        joined: Option<&Joined>,
        ids: impl Iterator<Item = &'a str>,
        scratch: &mut Vec<(f64, u64)>,
    ) -> Vec<Option<f64>> {
        let work = &self.regions[k];
        let count = outcome.tally.region(k);
        let thickness = (work.area > 0).then(|| self.thickness(work, &outcome.canvas, scratch));
        let mass = masses(&self.inputs, count);
        let capacity: f64 = mass.iter().zip(&self.powders).map(|(mass, powder)| mass * powder.capacity).sum();
        let particles: u64 = count.particles.iter().sum();
        let active = self.active(count);
        let over = self.electrode_regions.iter().position(|region| *region == k);
        let share = joined.zip(over).map(|(joined, electrode)| joined.active[electrode]).filter(|a| a.particles > 0);
        let percentile = |k: usize| thickness.as_ref().map(|t| t.percentiles[k]);
        ids.map(|id| match id {
            "coverage_percent" => thickness.as_ref().map(|t| t.coverage),
            "bare_percent" => thickness.as_ref().map(|t| 1.0 - t.coverage),
            "mean_thickness_nm" => thickness.as_ref().map(|t| t.mean),
            "thickness_cv_percent" => thickness.as_ref().and_then(|t| t.unevenness),
            "thickness_p5_nm" => percentile(0),
            "thickness_p50_nm" => percentile(1),
            "thickness_p95_nm" => percentile(2),
            "thickness_p99_nm" => percentile(3),
            "too_thick_percent" => thickness.as_ref().map(|t| t.too_thick),
            "usable_percent" => thickness.as_ref().map(|t| t.usable),
            "mean_free_paths" => thickness.as_ref().map(|t| t.mean_free_paths),
            "mass_pg" => Some(mass.iter().sum()),
            "particles" => Some(particles as f64),
            "active_particles" => Some(active as f64),
            "capacity_nah" => Some(capacity),
            "current_1c_na" => Some(capacity / HOUR),
            "joined_percent" => share.map(|a| a.joined as f64 / a.particles as f64),
            "joined_capacity_percent" => share.map(|a| a.joined_capacity / a.capacity),
            "charge_per_particle_pc" => electrode_view::charge_per_particle(capacity, active),
            "farthest_particle_um" => count.farthest().filter(|_| particles > 0),
            "largest_particle_um" => Some(count.largest()),
            "coarse_particles" => Some(count.coarse as f64),
            "hit_probability" => Some(f64::from(particles > 0)),
            _ => unknown(id),
        })
        .collect()
    }

    fn active(&self, count: &FateCount) -> u64 {
        count.particles.iter().zip(&self.powders).filter(|(_, powder)| powder.capacity > 0.0).map(|(n, _)| n).sum()
    }

    /// Statistics of thickness over a region. Mean, coverage and bare share are those of the region's own area; percentiles, unevenness
    /// and what is too thick are those of squares of the resolution, each weighted by its share inside.
    fn thickness(&self, work: &RegionWork, canvas: &Canvas, values: &mut Vec<(f64, u64)>) -> Thickness {
        values.clear();
        let limit = self.inputs.beam.limit - self.layers;
        let layers_too_thick = limit < 0.0;
        let pixel = canvas.grid.pitch * canvas.grid.pitch;
        let to_thickness = CUBIC_NANOMETRE / pixel;
        let to_paths: Vec<f64> = self.powders.iter().map(|powder| to_thickness / powder.mean_free_path).collect();
        let pixels = (work.per_square * work.per_square) as f64;
        let (mut mean, mut paths, mut sum, mut most) = (0.0, 0.0, 0.0, 0.0f64);
        let mut area = AreaCounts::default();
        let (mut filled, mut covered) = (0u64, 0u64);
        work.visit(canvas, &to_paths, |square| {
            // The deposit of a square lies on its covered part.
            let on_covered = square.paths * (SUB * SUB) as f64 / square.covered.max(1) as f64;
            let bare = square.inside - square.covered_inside;
            area.add(square.covered_inside, bare, on_covered > limit, layers_too_thick);
            covered += square.covered_inside;
            if square.volume == 0 {
                return;
            }
            filled += square.inside;
            let here = square.volume as f64 * to_thickness / pixels;
            sum += square.inside as f64 * here;
            mean += square.volume_inside;
            paths += square.paths_inside;
            most = most.max(here);
            values.push((here, square.inside));
        });
        // Squares that hold nothing were not visited.
        area.add(0, work.area - area.total(), false, layers_too_thick);
        let bare = work.area - filled;
        let whole = work.area as f64;
        let of_squares = sum / whole;
        let squares: f64 = values.iter().map(|(t, w)| *w as f64 * (t - of_squares).powi(2)).sum::<f64>()
            + bare as f64 * of_squares * of_squares;
        // Sub-pixels to pixels: an average over the region's area.
        let per_area = (SUB * SUB) as f64 / whole;
        Thickness {
            coverage: covered as f64 / whole,
            mean: mean * to_thickness * per_area,
            unevenness: (of_squares > 0.0).then(|| (squares / whole).sqrt() / of_squares),
            percentiles: percentiles(values, bare, work.area, most),
            too_thick: area.too_thick as f64 / whole,
            usable: area.usable as f64 / whole,
            mean_free_paths: paths * per_area + self.layers,
        }
    }

    fn item<'a>(&self, k: usize, outcome: &PrintOutcome, ids: impl Iterator<Item = &'a str>) -> Vec<Option<Measured>> {
        let Ok(strip) = &self.items[k] else { return ids.map(|_| None).collect() };
        let pieces = strip.collect(&outcome.canvas);
        let profile = pieces.profile();
        let any = profile.iter().any(|t| *t > 0.0);
        let edges = if any && self.lines[k] { pieces.edges(&profile) } else { None };
        let kind = if self.lines[k] { Smoothed::Line } else { Smoothed::Filled };
        let line = outcome.lines.get(k).copied().unwrap_or_default();
        let even = bands_make_sense(&self.shapes[k]);
        let band = |share: f64| pieces.band(&profile, share, line).filter(|_| even);
        ids.map(|id| match id {
            "edge_width_um" => pieces.edge_width().filter(|_| even),
            "line_width_um" => edges.map(|edges| edges.width),
            "width_90_um" => band(0.9),
            "width_99_um" => band(0.99),
            "peak_thickness_nm" => any.then(|| pieces.peak(&profile, kind).into()),
            "edge_roughness_um" => edges.and_then(|edges| edges.roughness).map(Measured::Exactly),
            _ => unknown(id).map(Measured::Exactly),
        })
        .collect()
    }

    /// Widths between which that of a line of a single print lies at 95 %, m.
    fn width_interval(&self, item: usize, outcome: &PrintOutcome) -> Option<[f64; 2]> {
        let pieces = self.items[item].as_ref().ok()?.collect(&outcome.canvas);
        pieces.width_interval(&pieces.profile())
    }

    /// Capacity on regions of a role, C.
    fn capacity(&self, tally: &Tally, role: Role) -> f64 {
        let regions = self.targets.iter().filter(|k| self.inputs.regions[**k].role == role);
        regions
            .flat_map(|k| masses(&self.inputs, tally.region(*k)).into_iter().zip(&self.powders))
            .map(|(mass, powder)| mass * powder.capacity)
            .sum()
    }

    fn print<'a>(
        &self,
        tally: &Tally,
        joined: Option<&Joined>,
        ids: impl Iterator<Item = &'a str>,
    ) -> Vec<Option<f64>> {
        let mass = |count: &FateCount| masses(&self.inputs, count).iter().sum::<f64>();
        // The same in every print, whether it drew what the tube keeps or not.
        let left = masses_of(&self.inputs, &tally.kept_by_tube).iter().sum::<f64>()
            + tally.through_tube().map(mass).sum::<f64>();
        let landed: f64 = tally.landed().map(mass).sum();
        let on_target: f64 = self.targets.iter().map(|k| mass(tally.region(*k))).sum();
        let share = (landed > 0.0 && !self.targets.is_empty()).then(|| on_target / landed);
        ids.map(|id| match id {
            "landed_percent" => (left > 0.0).then(|| landed / left),
            "on_target_percent" => share,
            "overspray_percent" => share.map(|share| 1.0 - share),
            "overspray_reach_um" => {
                if self.targets.is_empty() {
                    None
                } else {
                    reach(&tally.reach)
                }
            }
            "farthest_stray_um" => {
                let farthest = tally.landed().map(FateCount::farthest).collect::<Option<Vec<f64>>>();
                farthest.filter(|_| landed > 0.0).map(|all| all.into_iter().fold(0.0, f64::max))
            }
            "bridge_probability" => {
                joined.filter(|_| self.electrodes.len() > 1).map(|joined| f64::from(!joined.bridges.is_empty()))
            }
            "capacity_ratio" => {
                electrode_view::capacity_ratio(self.capacity(tally, Role::Counter), self.capacity(tally, Role::Target))
            }
            "print_time_s" => Some(self.print_time),
            "ink_used_ul" => Some(self.ink_used),
            _ => unknown(id),
        })
        .collect()
    }

    /// Adds to the rows how a figure was measured, or why it could not be.
    pub fn annotate(&self, rows: &mut [FigureRow]) {
        // Edges are sampled at a quarter of the line's width; for the note, of its mean width.
        let widths: Vec<Option<f64>> = (0..self.items.len())
            .map(|k| {
                let width = |(row, task): (&FigureRow, &Task)| *task == Task::Item(k) && row.kind.id == "line_width_um";
                rows.iter().zip(&self.tasks).find(|pair| width(*pair)).and_then(|(row, _)| row.estimate).map(|e| e.mean)
            })
            .collect();
        for (row, task) in rows.iter_mut().zip(&self.tasks) {
            let text = match (task, row.estimate) {
                (Task::Region(_) | Task::Print, None) if row.kind.needs_particles() => {
                    Some(self.why_not_joined(row.kind))
                }
                (Task::Region(k), estimate) => self.region_note(*k, row.kind, estimate.is_some()),
                (Task::Item(k), Some(_)) => self.how_measured(*k, row.kind, widths[*k]),
                (Task::Item(k), None) => Some(self.why_not(*k, row.kind)),
                (Task::Print, Some(_)) => match row.kind.id {
                    "overspray_reach_um" => Some(format!("interpolated in steps of {} µm", REACH_BIN * 1e6)),
                    "bridge_probability" if !self.any_conducting() => Some("no powder of the ink conducts".into()),
                    _ => None,
                },
                (Task::Print, None) => Some(match row.kind.id {
                    "landed_percent" => "no solids left the vial".into(),
                    _ if self.targets.is_empty() => "no region has the role target".into(),
                    "capacity_ratio" => "no active particle on a target".into(),
                    "overspray_reach_um" => {
                        format!(
                            "nothing landed, or 1 % of it lies beyond {} mm",
                            REACH_BIN * (REACH_BINS - 1) as f64 * 1e3
                        )
                    }
                    _ => "nothing landed".into(),
                }),
            };
            if let Some(text) = text {
                row.note = Some(row.note.take().map_or(text.clone(), |note| format!("{note}; {text}")));
            }
        }
    }

    fn any_conducting(&self) -> bool {
        self.solids.iter().any(|solid| solid.conduction == Conduction::Conducting)
    }

    fn why_not_joined(&self, kind: &FigureKind) -> String {
        if kind.id == "bridge_probability" && self.electrodes.len() < 2 {
            "it takes two regions with the role target, counter or electrode".into()
        } else if self.solids.iter().all(|solid| solid.capacity <= 0.0) && kind.id != "bridge_probability" {
            "no powder of the ink is active".into()
        } else if kind.id == "bridge_probability" {
            "too many particles land to tell which of them touch".into()
        } else {
            "no active particle here, or too many particles land to tell which of them touch (a caution says so then)"
                .into()
        }
    }

    fn region_note(&self, k: usize, kind: &FigureKind, known: bool) -> Option<String> {
        let from_counts = matches!(
            kind.id,
            "mass_pg"
                | "particles"
                | "active_particles"
                | "capacity_nah"
                | "current_1c_na"
                | "charge_per_particle_pc"
                | "largest_particle_um"
                | "farthest_particle_um"
                | "coarse_particles"
                | "hit_probability"
        );
        match known {
            true if from_counts && self.overlapped[k] => {
                Some("without what lies on the regions over this window".into())
            }
            true => None,
            false if from_counts => Some("no such particle here".into()),
            false if self.beyond[k] => {
                Some("beyond the fine map, which would be too large with it; particles are counted all the same".into())
            }
            false if self.regions[k].area == 0 => {
                Some("smaller than the figures' pixels: choose a finer map.resolution_um".into())
            }
            false => Some("nothing landed here".into()),
        }
    }

    fn how_measured(&self, k: usize, kind: &FigureKind, width: Option<f64>) -> Option<String> {
        let strip = self.items[k].as_ref().ok()?;
        let (length, reach) = (strip.length() * 1e6, strip.reach() * 1e6);
        let end = match strip.lane().end() {
            End::Grid => "where the measured area ends",
            End::Neighbour => "half way to the next stroke",
        };
        match kind.id {
            "edge_width_um" => Some(format!(
                "over {length:.0} µm of length, covered share averaged over {} µm outwards; looked for within {reach:.0} µm of the axis, {end}",
                EDGE_WINDOW * 1e6
            )),
            "line_width_um" => Some(format!(
                "mean profile over {length:.0} µm ({:.0} % left out at each end); its height is that of the line's middle, or of a place that is clearly higher, from parts of the line that did not choose the place",
                END_SHARE * 100.0
            )),
            "width_90_um" | "width_99_um" => Some(format!("of the mass within {reach:.0} µm of the axis, {end}")),
            "edge_roughness_um" => Some(format!(
                "evaluated over {length:.0} µm of both edges, sampled every {:.2} µm; grains of powder count as roughness",
                strip.sampling(width?) * 1e6
            )),
            _ => None,
        }
    }

    fn why_not(&self, k: usize, kind: &FigureKind) -> String {
        let shape = &self.shapes[k];
        match &self.items[k] {
            Err(reason) => (*reason).into(),
            Ok(_) if !tells_of_item(kind, shape) => "given for lines only".into(),
            Ok(_) if kind.id == "edge_roughness_um" => {
                "the line is too sparse, or shorter than ten samples of a quarter of its width".into()
            }
            Ok(_) if kind.id == "line_width_um" => "too sparse: its height is not known to 25 %".into(),
            Ok(_) if kind.id == "edge_width_um" => format!(
                "particles cover less than {:.0} % of its length everywhere: there is no edge to see",
                LEAST_EDGE_COVER * 100.0
            ),
            Ok(_) => "nothing landed along it".into(),
        }
    }

    /// Gives rows of a single print an interval where counting allows one: particles, mass, capacity, current, width of a line. Call it after
    /// [`super::spread::summarise`] and before [`Measurer::annotate`].
    ///
    /// Droplets arrive as a Poisson process and each brings a Poisson number of particles in proportion to its volume, so for a sum S
    /// of w over particles, `var S = N E[w^2] + S^2 E[V^2]/(E[V]^2 D)`: N particles, D droplets that landed here, V droplet volume at
    /// the tube's exit, w mass (or capacity, or 1) of a particle. The interval is that of a Poisson count with the same relative
    /// error, scaled. It is the chance of this print alone: drift and alignment between prints come on top.
    ///
    /// Source: compound Poisson variance, Feller 1968, An introduction to probability theory and its applications, vol. 1, XII.2;
    /// scaled counts, Dobson et al. 1991, Confidence intervals for weighted sums of Poisson parameters, Stat. Med. 10:457 (memory).
    pub fn single_print(&self, outcome: &PrintOutcome, rows: &mut [FigureRow]) {
        let tally = &outcome.tally;
        let droplet_spread = volume_spread(&tally.droplet_sizes[1]).unwrap_or(1.0);
        let particle_spread: Vec<f64> =
            tally.landed_sizes.iter().map(|sizes| volume_spread(sizes).unwrap_or(1.0)).collect();
        for (row, task) in rows.iter_mut().zip(&self.tasks) {
            let Some(estimate) = &mut row.estimate else { continue };
            if estimate.n != 1 || estimate.mean <= 0.0 {
                continue;
            }
            if let (Task::Item(k), "line_width_um", 0) = (task, row.kind.id, estimate.at_least) {
                estimate.interval = self.width_interval(*k, outcome);
                row.note = Some("one print: interval from the scatter along the line".into());
            }
            let Task::Region(k) = task else { continue };
            let count = tally.region(*k);
            // Per powder: sum of w, and E[w^2]/E[w]^2.
            let parts: Vec<(f64, f64)> = masses(&self.inputs, count)
                .into_iter()
                .zip(&self.powders)
                .enumerate()
                .filter_map(|(k, (mass, powder))| match row.kind.id {
                    "particles" => Some((count.particles[k] as f64, 1.0)),
                    "active_particles" => {
                        Some((if powder.capacity > 0.0 { count.particles[k] as f64 } else { 0.0 }, 1.0))
                    }
                    "mass_pg" => Some((mass, particle_spread[k])),
                    "capacity_nah" | "current_1c_na" => Some((mass * powder.capacity, particle_spread[k])),
                    _ => None,
                })
                .collect();
            let sum: f64 = parts.iter().map(|(s, _)| s).sum();
            if parts.is_empty() || sum <= 0.0 {
                continue;
            }
            let from_particles: f64 = parts
                .iter()
                .zip(&count.particles)
                .filter(|(_, n)| **n > 0)
                .map(|((s, spread), n)| s * s * spread / *n as f64)
                .sum();
            let relative_variance = from_particles / (sum * sum) + droplet_spread / count.droplets.max(1) as f64;
            let effective = 1.0 / relative_variance;
            estimate.interval = Some(garwood(effective).map(|bound| estimate.mean * bound / effective));
            row.note = Some("one print: interval from counting droplets and particles alone".into());
        }
    }
}

/// Only reached if a figure is added to the list and not here.
fn unknown(id: &str) -> Option<f64> {
    debug_assert!(false, "no rule for {id}");
    None
}

/// Whether a figure says anything about a region of a role.
fn tells_of_region(kind: &FigureKind, role: Role, inputs: &Inputs) -> bool {
    match kind.id {
        "joined_percent" | "joined_capacity_percent" | "charge_per_particle_pc" => {
            role.is_printed() && inputs.powders().iter().any(|powder| powder.capacity > 0.0)
        }
        "farthest_particle_um" => !role.is_printed() && inputs.regions.iter().any(|region| region.role.is_printed()),
        _ => true,
    }
}

/// Whether a figure of the whole print says anything for this chip.
fn tells_of_print(kind: &FigureKind, inputs: &Inputs) -> bool {
    let count = |wanted: &dyn Fn(Role) -> bool| inputs.regions.iter().filter(|region| wanted(region.role)).count();
    match kind.id {
        "bridge_probability" => count(&Role::is_electrode) > 1,
        "capacity_ratio" => count(&|role| role == Role::Counter) > 0 && count(&|role| role == Role::Target) > 0,
        "farthest_stray_um" => count(&Role::is_printed) > 0,
        _ => true,
    }
}

/// Whether a figure of an item says anything about its shape.
pub fn tells_of_item(kind: &FigureKind, shape: &Shape) -> bool {
    match shape {
        Shape::Dot { .. } => false,
        Shape::Polyline(_) | Shape::Polylines(_) => true,
        _ => match kind.id {
            "peak_thickness_nm" => true,
            "edge_width_um" | "width_90_um" | "width_99_um" => bands_make_sense(shape),
            _ => false,
        },
    }
}

/// A disc has another width at each place.
fn bands_make_sense(shape: &Shape) -> bool {
    matches!(shape, Shape::Polyline(_) | Shape::Polylines(_) | Shape::FilledRectangle { .. })
}

/// `E[V^2]/E[V]^2` of sphere volumes from counts of diameters, each bin at its middle; `None` if nothing was counted.
fn volume_spread(sizes: &SizeCounts) -> Option<f64> {
    let edges = SizeCounts::edges();
    let (mut n, mut first, mut second) = (0.0, 0.0, 0.0);
    for (k, count) in sizes.0.iter().enumerate().filter(|(_, count)| **count > 0) {
        let (count, volume) = (*count as f64, PI / 6.0 * (edges[k] * edges[k + 1]).powf(1.5) / CUBIC_NANOMETRE);
        n += count;
        first += count * volume;
        second += count * volume * volume;
    }
    (n > 0.0).then(|| second * n / (first * first))
}

/// Weighted percentiles: the least thickness that a share of the area does not exceed.
///
/// Values are counted in coarse bins, then sorted inside the bin that holds the percentile.
fn percentiles(values: &[(f64, u64)], bare: u64, area: u64, most: f64) -> [f64; 4] {
    let mut out = [0.0; 4];
    if most <= 0.0 {
        return out;
    }
    let scale = (COARSE_BINS as f64 - 1e-6) / most;
    let mut coarse = vec![0u64; COARSE_BINS];
    let bin = |t: f64| ((t * scale) as usize).min(COARSE_BINS - 1);
    for (t, weight) in values {
        coarse[bin(*t)] += weight;
    }
    for (out, share) in out.iter_mut().zip(PERCENTILES) {
        let wanted = share * area as f64;
        let mut below = bare;
        if below as f64 >= wanted {
            continue;
        }
        let Some(found) = coarse.iter().position(|weight| {
            below += weight;
            below as f64 >= wanted
        }) else {
            *out = most;
            continue;
        };
        below -= coarse[found];
        let mut inside: Vec<(f64, u64)> = values.iter().filter(|(t, _)| bin(*t) == found).copied().collect();
        inside.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        *out = inside
            .iter()
            .find(|(_, weight)| {
                below += weight;
                below as f64 >= wanted
            })
            .map_or(most, |(t, _)| *t);
    }
    out
}

/// Distance from the nearest target edge within which 99 % of the landed solids lie, m, taken to lie evenly within a bin; `None` if nothing
/// landed or the last, open bin is needed.
fn reach(volumes: &[u128]) -> Option<f64> {
    let wanted = REACH_SHARE * volumes.iter().sum::<u128>() as f64;
    let mut below = 0;
    let bin = volumes.iter().position(|volume| {
        below += volume;
        wanted > 0.0 && below as f64 >= wanted
    })?;
    let missing = (below as f64 - wanted) / volumes[bin] as f64;
    (bin + 1 < volumes.len()).then(|| ((bin + 1) as f64 - missing) * REACH_BIN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::statistics::estimates_only;
    use crate::figures::testing;
    use crate::inputs::{BeamLayer, Powder};
    use crate::map::far::FarMap;
    use crate::map::tally::fate;
    use crate::source::content::Grain;
    use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
    use rand_distr::{Distribution, LogNormal, Normal, Poisson};

    struct Print {
        inputs: Inputs,
        index: RegionIndex,
        outcome: PrintOutcome,
    }

    impl Print {
        fn new(inputs: Inputs) -> Self {
            let grid = MeasuringGrid::new(&inputs, 20e-6).grid;
            let powders = inputs.powders().len();
            let outcome = PrintOutcome {
                far: FarMap::new(inputs.chip),
                canvas: Canvas::new(grid, powders),
                picture: None,
                tally: Tally::new(powders, inputs.regions.len()),
                layers: vec![],
                lines: vec![],
                particles: vec![],
                not_simulated: 0.0,
            };
            Self { index: RegionIndex::new(&inputs.regions, grid), inputs, outcome }
        }

        fn land(&mut self, x: f64, y: f64, diameter: f64, powder: usize) {
            let grain = Grain::new(powder as u16, diameter);
            self.outcome.canvas.stamp(x, y, &grain);
            let at = self.index.of([x, y]).map_or(fate::ELSEWHERE, |k| fate::FIRST_REGION + k);
            let tally = &mut self.outcome.tally;
            for count in [&mut tally.generated, &mut tally.fates[at]] {
                count.droplets += 1;
                count.add(&grain);
            }
            self.outcome.tally.landed_sizes[powder].add_log(diameter.ln());
            self.outcome.tally.droplet_sizes[1].add_log(2e-6f64.ln());
        }

        fn measurer(&self) -> Measurer {
            Measurer::new(&self.inputs, MeasuringGrid::new(&self.inputs, 20e-6), &self.index, 12.0, 3e-12)
        }

        fn get(&self, id: &str, place: Option<&str>) -> Option<f64> {
            let measurer = self.measurer();
            let at =
                measurer.places().iter().position(|(k, p)| k.id == id && p.as_deref() == place).expect("in the list");
            measurer.measure(&self.outcome)[at].map(Measured::value)
        }

        fn target(&self, id: &str) -> f64 {
            self.get(id, Some("target")).unwrap_or_else(|| panic!("no {id}"))
        }
    }

    fn second_powder(inputs: &mut Inputs) {
        let first: Powder = inputs.layers[0].ink.powders[0].clone();
        inputs.layers[0].ink.powders.push(Powder { name: "carbon".into(), capacity: 0.0, density: 1800.0, ..first });
    }

    #[test]
    fn counts_masses_and_capacity_by_hand() {
        let mut inputs = testing::inputs();
        second_powder(&mut inputs);
        let mut print = Print::new(inputs);
        print.land(0.0, 0.0, 0.6e-6, 0);
        print.land(5e-6, 5e-6, 0.4e-6, 0);
        print.land(-5e-6, 5e-6, 0.2e-6, 1);
        print.land(13e-6, 0.0, 0.2e-6, 1);
        // Volumes: 0.1130973, 0.0335103, 0.0041888 um^3. Mass 2000*(0.1466077e-18) + 1800*0.0041888e-18 = 2.93215e-16 + 7.5398e-18 kg
        assert!((print.target("mass_pg") / 3.007_552e-16 - 1.0).abs() < 1e-6);
        // 100 mAh/g of 2.932153e-16 kg: 360000 C/kg -> 1.0555752e-10 C, a 3600th of it as a current.
        assert!((print.target("capacity_nah") / 1.055_575e-10 - 1.0).abs() < 1e-6);
        assert!((print.target("current_1c_na") / (1.055_575e-10 / 3600.0) - 1.0).abs() < 1e-6);
        assert_eq!(print.target("particles"), 3.0);
        assert_eq!(print.target("active_particles"), 2.0);
        assert_eq!(print.target("coarse_particles"), 1.0);
        assert_eq!(print.target("largest_particle_um"), 0.6e-6);
        assert_eq!(print.target("hit_probability"), 1.0);
        // The window's counts leave out what lies on the target; its coverage does not.
        assert_eq!(print.get("particles", Some("window")), Some(1.0));
        let covered = print.target("coverage_percent") * 20.0 * 40.0;
        assert!((covered - std::f64::consts::FRAC_PI_4 * (0.36 + 0.16 + 0.04)).abs() < 0.05, "{covered}");
        assert!(print.get("coverage_percent", Some("window")).expect("an area") * 30.0 * 60.0 > covered + 0.01);
        assert!((print.target("bare_percent") + print.target("coverage_percent") - 1.0).abs() < 1e-15);
        // Landed by mass: all; on target: all but the last carbon grain, 7.5398e-18 of 3.0829506e-16.
        assert!((print.get("landed_percent", None).expect("landed") - 1.0).abs() < 1e-12);
        assert!((print.get("overspray_percent", None).expect("landed") - 0.024_456_4).abs() < 1e-6);
        assert_eq!(print.get("print_time_s", None), Some(12.0));
        assert_eq!(print.get("ink_used_ul", None), Some(3e-12));
    }

    #[test]
    fn thickness_statistics_weigh_squares_by_their_share_inside() {
        // Target from -10 to 10 um in x; squares of 0.8 um from the chip's centre, of 2 x 2 pixels, cut at its edge (12.5 squares each way).
        let mut inputs = testing::inputs();
        inputs.map.resolution = 0.8e-6;
        inputs.beam.layers = vec![BeamLayer { material: "film".into(), thickness: 50e-9, mean_free_path: 100e-9 }];
        inputs.beam.limit = 1.0;
        let mut print = Print::new(inputs);
        let mut random = Xoshiro256PlusPlus::seed_from_u64(3);
        for _ in 0..20_000 {
            // More and more towards the right.
            let x = (random.random::<f64>().sqrt() * 30.0 - 15.0) * 1e-6;
            let y = (random.random::<f64>() * 60.0 - 30.0) * 1e-6;
            print.land(x, y, 0.3e-6, 0);
        }
        let canvas = &print.outcome.canvas;
        let grid = canvas.grid;
        assert!((grid.pitch - 0.4e-6).abs() < 1e-15);
        // Thickness of each square, share inside, covered sub-pixels in all (of 256) and in the target.
        let mut squares: Vec<[f64; 4]> = vec![];
        let target = |x: f64, y: f64| x.abs() < 10e-6 && y.abs() < 20e-6;
        for row in (0..grid.rows).step_by(2) {
            for column in (0..grid.columns).step_by(2) {
                let [mut thickness, mut inside, mut covered, mut both] = [0.0; 4];
                for (row, column) in [(row, column), (row, column + 1), (row + 1, column), (row + 1, column + 1)] {
                    thickness += 0.25 * canvas.thickness_at(0, row, column);
                    for bit in 0..64 {
                        let x = grid.origin[0] + (column as f64 + ((bit % 8) as f64 + 0.5) / 8.0) * grid.pitch;
                        let y = grid.origin[1] + (row as f64 + ((bit / 8) as f64 + 0.5) / 8.0) * grid.pitch;
                        let [here, under] = [target(x, y), canvas.cover(row, column) >> bit & 1 == 1].map(f64::from);
                        inside += here;
                        covered += under;
                        both += here * under;
                    }
                }
                if inside > 0.0 {
                    squares.push([thickness, inside, covered, both]);
                }
            }
        }
        assert!(squares.iter().any(|s| s[1] == 128.0) && squares.iter().any(|s| s[1] == 256.0));
        squares.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let area: f64 = squares.iter().map(|s| s[1]).sum();
        let weighted = |f: &dyn Fn(&[f64; 4]) -> f64| squares.iter().map(|s| s[1] * f(s)).sum::<f64>() / area;
        let mean = weighted(&|s| s[0]);
        let sd = weighted(&|s| (s[0] - mean).powi(2)).sqrt();
        let percentile = |share: f64| {
            let mut below = 0.0;
            let found = squares.iter().find(|s| {
                below += s[1];
                below >= share * area
            });
            found.expect("some")[0]
        };
        assert!((print.target("thickness_cv_percent") / (sd / mean) - 1.0).abs() < 1e-9);
        for (id, share) in [
            ("thickness_p5_nm", 0.05),
            ("thickness_p50_nm", 0.5),
            ("thickness_p95_nm", 0.95),
            ("thickness_p99_nm", 0.99),
        ] {
            assert!((print.target(id) / percentile(share) - 1.0).abs() < 1e-9, "{id}");
        }
        // Layers 0.5 + deposit over 100 nm: above 1 where the deposit is thicker than 50 nm on the covered part of its square.
        let thick: f64 =
            squares.iter().filter(|s| s[0] * 256.0 / s[2].max(1.0) > 50e-9).map(|s| s[3]).sum::<f64>() / area;
        assert!(thick > 0.05 && thick < 0.95, "{thick}");
        assert!((print.target("too_thick_percent") - thick).abs() < 1e-9, "{thick}");
        let shares = ["too_thick_percent", "usable_percent", "bare_percent"].map(|id| print.target(id));
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{shares:?}");
        // The mean is that of the target's own area: pixels at its edge by their share.
        let mut inside = 0.0;
        for row in 0..grid.rows {
            for column in 0..grid.columns {
                let part = |low: f64, half: f64| ((low + grid.pitch).min(half) - low.max(-half)).max(0.0) / grid.pitch;
                let [x, y] = [(column, 0), (row, 1)].map(|(at, k)| grid.origin[k] + at as f64 * grid.pitch);
                inside += canvas.thickness_at(0, row, column) * part(x, 10e-6) * part(y, 20e-6);
            }
        }
        let mean = inside * grid.pitch * grid.pitch / (20e-6 * 40e-6);
        assert!((print.target("mean_thickness_nm") / mean - 1.0).abs() < 1e-9);
        assert!((print.target("mean_free_paths") - (0.5 + mean / 100e-9)).abs() < 1e-9);
    }

    #[test]
    fn an_empty_print_is_zero_or_none_with_a_reason() {
        let print = Print::new(testing::inputs());
        let measurer = print.measurer();
        let values = measurer.measure(&print.outcome);
        assert_eq!(values.len(), measurer.places().len());
        let mut rows = estimates_only(measurer.places(), &[values]);
        measurer.annotate(&mut rows);
        for row in &rows {
            assert!(row.estimate.is_some() || row.note.is_some(), "{} gives no reason", row.kind.id);
        }
        let find = |id: &str| rows.iter().find(|row| row.kind.id == id).expect("in the list");
        assert!(find("thickness_cv_percent").estimate.is_none());
        assert_eq!(find("thickness_p95_nm").estimate.expect("zero").mean, 0.0);
        assert!(find("line_width_um").note.as_deref().expect("a reason").contains("sparse"));
        assert!(find("landed_percent").note.as_deref().expect("a reason").contains("no solids"));
        let hit = find("hit_probability").estimate.expect("a bound");
        assert!((hit.mean - 0.95).abs() < 1e-12 && hit.interval == Some([0.0, hit.mean]));
    }

    #[test]
    fn figures_come_by_place_with_limits_first() {
        let mut inputs = testing::inputs();
        inputs.layers[0].path.push(testing::line("second", [30e-6, -50e-6], [30e-6, 50e-6]));
        let first = inputs.layers[0].path[0].clone();
        inputs.layers[0]
            .path
            .push(crate::inputs::PathItem { shape: Shape::Dot { at: [0.0, 0.0], dwell: 1.0 }, ..first });
        inputs.layers[0].path[2].name = "dot".into();
        inputs.acceptance.limits =
            vec![Limit { figure: "line_width_um".into(), place: Some("second".into()), min: None, max: Some(1e-5) }];
        let print = Print::new(inputs);
        let measurer = print.measurer();
        let places: Vec<&str> = measurer.places().iter().map(|(_, place)| place.as_deref().unwrap_or("")).collect();
        let mut order = places.clone();
        order.dedup();
        assert_eq!(order, ["target", "window", "second", "line", ""]);
        assert_eq!(measurer.places()[0].0.id, "coverage_percent");
    }

    #[test]
    fn reach_is_interpolated_within_a_bin() {
        let mut volumes = vec![0; REACH_BINS];
        assert_eq!(reach(&volumes), None);
        // 990 of 1000: 90 of the 95 in the fourth bin.
        (volumes[0], volumes[3], volumes[9]) = (900, 95, 5);
        let found = reach(&volumes).expect("inside");
        assert!((found / REACH_BIN - (3.0 + 90.0 / 95.0)).abs() < 1e-9, "{found:e}");
        volumes[REACH_BINS - 1] = 500;
        assert_eq!(reach(&volumes), None);
        // Distances of an exponential law: 99 % lie within ln 100 of its scale, here 12.43 um between two edges of bins.
        let scale = 2.7e-6;
        let below = |bin: usize| 1e15 * -(-(bin as f64) * REACH_BIN / scale).exp_m1();
        let volumes: Vec<u128> = (0..REACH_BINS).map(|bin| (below(bin + 1) - below(bin)) as u128).collect();
        let found = reach(&volumes).expect("inside");
        assert!((found - scale * 100f64.ln()).abs() < 0.05 * REACH_BIN, "{found:e}");
    }

    #[test]
    fn roughness_row_states_length_and_sampling() {
        let mut print = Print::new(testing::inputs());
        let mut random = Xoshiro256PlusPlus::seed_from_u64(9);
        let normal = Normal::new(0.0, 3e-6).expect("valid");
        for _ in 0..200_000 {
            let across = normal.sample(&mut random);
            print.land(across, (random.random::<f64>() * 100.0 - 50.0) * 1e-6, 0.2e-6, 0);
        }
        let measurer = print.measurer();
        let mut rows = estimates_only(measurer.places(), &[measurer.measure(&print.outcome)]);
        measurer.annotate(&mut rows);
        let find = |id: &str| rows.iter().find(|row| row.kind.id == id).expect("in the list");
        // 2.35482 * 3 um; by chance 0.5 % (1 sd).
        let width = find("line_width_um").estimate.expect("a width").mean;
        assert!((width / 7.0645e-6 - 1.0).abs() < 0.03, "{width}");
        let note = find("edge_roughness_um").note.as_deref().expect("a note");
        assert!(note.contains("over 80 µm") && note.contains("sampled every 2.0"), "{note}");
    }

    /// Region counts of 3000 made prints in which droplets bring Poisson numbers of particles in proportion to their volumes: the
    /// single-print interval holds the true mean in 95 % of them. Standard error of the share 0.4 %; allowed 93 to 97 %.
    #[test]
    fn single_print_interval_holds_the_truth_as_often_as_it_says() {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(21);
        let sizes = LogNormal::new(2e-6f64.ln(), 0.3).expect("valid");
        // Mean of d^3: median^3 exp(4.5 s^2) = 8e-18 * 1.4993; two particles per droplet on average, 300 droplets.
        let per_volume = 2.0 / (8e-18 * (4.5f64 * 0.09).exp());
        let arrivals = Poisson::new(300.0).expect("valid");
        let print = Print::new(testing::inputs());
        let measurer = print.measurer();
        let at = measurer
            .places()
            .iter()
            .position(|(k, p)| k.id == "particles" && p.as_deref() == Some("target"))
            .expect("there");
        let single = Measurer { tasks: vec![measurer.tasks[at]], ..measurer.clone() };
        let mut outcome = print.outcome.clone();
        let (mut held, mut held_by_particles) = (0, 0);
        for _ in 0..3000 {
            let mut tally = Tally::new(1, 2);
            for _ in 0..arrivals.sample(&mut random) as u64 {
                let diameter: f64 = sizes.sample(&mut random);
                tally.droplet_sizes[1].add_log(diameter.ln());
                let count = &mut tally.fates[fate::FIRST_REGION + 1];
                count.droplets += 1;
                for _ in 0..Poisson::new(per_volume * diameter.powi(3)).expect("valid").sample(&mut random) as u64 {
                    count.add(&Grain::new(0, 0.3e-6));
                    tally.landed_sizes[0].add_log(0.3e-6f64.ln());
                }
            }
            outcome.tally = tally;
            let particles: u64 = outcome.tally.region(1).particles.iter().sum();
            let mut rows = estimates_only(&measurer.places()[at..=at], &[vec![Some(particles as f64)]]);
            single.single_print(&outcome, &mut rows);
            let [low, high] = rows[0].estimate.and_then(|e| e.interval).expect("an interval");
            held += u32::from(low <= 600.0 && 600.0 <= high);
            let [low, high] = garwood(particles as f64);
            held_by_particles += u32::from(low <= 600.0 && 600.0 <= high);
        }
        assert!((0.93..0.97).contains(&(f64::from(held) / 3000.0)), "{held} of 3000");
        // Planted fault: counting particles as if they came singly fails.
        assert!(held_by_particles < 2500, "{held_by_particles} of 3000");
    }
}
