//! What all prints of a setting are measured with.

use crate::area::{Depths, RegionArea};
use crate::joined::{Contacts, Electrodes, HEIGHT_PRINTS, Joined, Lists, Rules, Solid};
use crate::places::{self, Work};
use crate::profile::Strip;
use crate::statistics::FigureAt;
use crate::{BenchUse, Bridging, GapOutcome, Measured, MeasuringGrid, beam_view};
use motefall_physics::inputs::{Inputs, PathItem, Role, Shape};
use motefall_physics::map::PrintOutcome;
use motefall_physics::map::regions::RegionIndex;

/// Measures prints of one setting; prepared once.
///
/// Where regions overlap, two kinds of figures differ. Coverage, bare share, thickness and mean free paths are of the whole area
/// of a region, whatever lies on it. Mass, particles, capacity, largest particle and hits come from the counts, which give each
/// landing to one region, electrodes before windows: those of a window leave out what lies on its electrodes.
#[derive(Debug, Clone)]
pub struct Measurer {
    pub(crate) places: Vec<FigureAt>,
    pub(crate) works: Vec<Work>,
    pub(crate) regions: Vec<RegionArea>,
    /// The strip along each item, or why it has none.
    pub(crate) items: Vec<Result<Strip, &'static str>>,
    pub(crate) shapes: Vec<Shape>,
    /// Theoretical capacity of each powder, C/kg; 0 if not active.
    pub(crate) capacities: Vec<f64>,
    pub(super) depths: Depths,
    /// Regions that are printed on.
    pub(crate) targets: Vec<usize>,
    /// Windows under other regions.
    pub(crate) overlapped: Vec<bool>,
    /// Regions that reach beyond the fine grid.
    pub(crate) beyond: Vec<bool>,
    /// Conductors of the chip and their regions.
    pub(crate) electrodes: Electrodes,
    pub(super) electrode_regions: Vec<usize>,
    pub(crate) solids: Vec<Solid>,
    pub(crate) inputs: Inputs,
    pub(super) bench: BenchUse,
}

impl Measurer {
    /// Prepares for all prints of a setting.
    pub fn new(inputs: &Inputs, measuring: MeasuringGrid, index: &RegionIndex, bench: BenchUse) -> Self {
        let grid = measuring.grid;
        let path: Vec<&PathItem> = inputs.items().collect();
        let beyond: Vec<bool> = inputs.regions.iter().map(|region| !grid.holds(&region.outline)).collect();
        let regions: Vec<RegionArea> = (0..inputs.regions.len())
            .map(|k| match beyond[k] {
                true => RegionArea::default(),
                false => RegionArea::new(&index.mask(k), &inputs.regions[k].outline, measuring),
            })
            .collect();
        let works = places::works(inputs);
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
        let powders = inputs.powders();
        let solid = |conduction, capacity| Solid { conduction, capacity };
        Self {
            places: places::places(inputs, &works),
            works,
            regions,
            items: (0..path.len()).map(|k| Strip::new(inputs, k, grid)).collect(),
            shapes: path.iter().map(|item| item.shape.clone()).collect(),
            capacities: powders.iter().map(|powder| powder.capacity).collect(),
            depths: Depths {
                layers: beam_view::layers_depth(&inputs.beam),
                limit: inputs.beam.limit,
                mean_free_paths: beam_view::mean_free_paths(inputs),
            },
            targets: by_role(Role::is_printed),
            overlapped,
            beyond,
            electrodes: Electrodes::new(electrode_regions.iter().map(|k| inputs.regions[*k].outline.clone()).collect()),
            electrode_regions,
            solids: powders.iter().map(|powder| solid(powder.conduction, powder.capacity * powder.density)).collect(),
            inputs: inputs.clone(),
            bench,
        }
    }

    /// Figures and places in the order of [`Measurer::measure`]: by place, deciding figures first; places with limits before others.
    pub fn places(&self) -> &[FigureAt] {
        &self.places
    }

    /// Whether a limit asks for a figure that takes the single particles of a print.
    pub fn needs_particles(&self) -> bool {
        self.inputs.acceptance.limits.iter().any(|limit| limit.figure.kind().needs_particles())
    }

    /// What touches what in the print of a number, from 0 on; `None` if its particles were not kept or the chip has no electrode. The lists
    /// serve print after print.
    pub fn joined(&self, outcome: &PrintOutcome, print: u32, lists: &mut Lists) -> Option<Joined> {
        let is_asked = || self.inputs.acceptance.limits.iter().any(|limit| limit.figure.kind().needs_heights());
        let contacts = if print < HEIGHT_PRINTS || is_asked() { Contacts::InSpace } else { Contacts::FromAbove };
        // Of what neither conducts nor is active, nobody asks where it lies.
        let particles = if self.particles_matter() { outcome.particles.as_deref()? } else { &[] };
        let joined = || self.electrodes.joined(particles, &self.solids, Rules::default(), contacts, lists);
        (!self.electrodes.is_empty()).then(joined)
    }

    /// Whether single particles matter to [`Measurer::joined`].
    pub fn particles_matter(&self) -> bool {
        !self.electrodes.is_empty() && self.solids.iter().any(|solid| solid.conducts() || solid.is_active())
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

    /// All figures of a print, SI; `None` where there is nothing to measure ([`Measurer::over_prints`] says why).
    pub fn measure(&self, outcome: &PrintOutcome) -> Vec<Option<Measured>> {
        self.measure_joined(outcome, self.joined(outcome, 0, &mut Lists::default()).as_ref())
    }

    /// The same with [`Measurer::joined`] at hand.
    pub fn measure_joined(&self, outcome: &PrintOutcome, joined: Option<&Joined>) -> Vec<Option<Measured>> {
        let mut values = Vec::with_capacity(self.places.len());
        let mut scratch = vec![];
        for work in &self.works {
            match work {
                Work::Region(k, figures) => {
                    let region = self.region(*k, outcome, joined, &mut scratch);
                    values.extend(figures.iter().map(|figure| region.value(*figure).map(Measured::Exactly)));
                }
                Work::Item(k, figures) => {
                    let item = self.item(*k, outcome);
                    values.extend(figures.iter().map(|figure| item.as_ref().and_then(|item| item.value(*figure))));
                }
                Work::Print(figures) => {
                    let print = self.print(outcome.tally(), joined);
                    values.extend(figures.iter().map(|figure| print.value(*figure)));
                }
            }
        }
        values
    }
}
