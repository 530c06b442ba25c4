//! Figures from what lies where.

use super::chords::{Chords, Line, earlier};
use super::places::{Place, Points, area, places};
use super::spot::Amounts;
use super::swept::Swept;
use motefall_figures::beam_view;
use motefall_figures::electrode_view::HOUR;
use motefall_figures::statistics::FigureAt;
use motefall_physics::figure_kinds::{Figure, PrintFigure, RegionFigure};
use motefall_physics::inputs::{Inputs, Powder, Region, Role};
use motefall_physics::map::outline;
use rayon::prelude::*;
use std::sync::Arc;

/// Covered share of a region below which droplets are taken never to meet.
const SPARSE: f64 = 1e-4;
/// Share of all that landed below which there is nothing on a region.
const NOTHING: f64 = 1e-12;

/// What is prepared once for all deviations.
pub(super) struct Figures<'a> {
    inputs: &'a Inputs,
    asked: &'a [FigureAt],
    /// Region of each figure that is of one.
    of_region: Vec<Option<usize>>,
    /// Close and wide points of each region that is asked for.
    points: Vec<Option<[Vec<Place>; 2]>>,
    mean_free_paths: Vec<f64>,
    amounts: Amounts,
    print_time: f64,
    ink_used: f64,
}

/// What a layer leaves.
pub(super) struct OfLayer {
    /// By region; `None` where nobody asks.
    regions: Vec<Option<OnRegion>>,
    /// All that landed, and all that left the vial: solid volume per powder, m^3.
    landed: Vec<f64>,
    left: Vec<f64>,
}

/// What a layer leaves on a region.
#[derive(Debug, Clone)]
struct OnRegion {
    /// Amounts over all of the area, and over the part whose landings are its own.
    whole: Vec<f64>,
    own: Vec<f64>,
    covered: Covered,
}

/// Covered area per area, each droplet's by itself.
#[derive(Debug, Clone)]
enum Covered {
    /// Hardly any, and the same everywhere.
    Sparse(f64),
    /// At each point.
    At(Vec<f64>),
}

/// What all layers leave on a region.
#[derive(Debug, Clone, Default)]
struct Together {
    area: f64,
    bare: f64,
    whole: Vec<f64>,
    own: Vec<f64>,
}

impl<'a> Figures<'a> {
    pub(super) fn new(inputs: &'a Inputs, asked: &'a [FigureAt], print_time: f64, ink_used: f64) -> Self {
        let number = |name: &str| inputs.regions.iter().position(|region| region.name == name);
        let is_region = |figure: Figure| matches!(figure, Figure::Region(_));
        let of_region: Vec<Option<usize>> =
            asked.iter().map(|(kind, place)| number(place.as_deref().filter(|_| is_region(kind.figure))?)).collect();
        let looked_at = |k: usize| of_region.contains(&Some(k)) || inputs.regions[k].role.is_printed();
        let points = (0..inputs.regions.len())
            .map(|k| {
                looked_at(k)
                    .then(|| [Points::Close, Points::Wide].map(|points| places(&inputs.regions[k].outline, points)))
            })
            .collect();
        Self {
            inputs,
            asked,
            of_region,
            points,
            mean_free_paths: beam_view::mean_free_paths(inputs),
            amounts: Amounts { powders: inputs.powders().len() },
            print_time,
            ink_used,
        }
    }

    /// What a layer leaves, as points of a kind tell.
    pub(super) fn of_layer(&self, layer: &Swept<'_>, points: Points) -> OfLayer {
        let spot = layer.spot();
        let landed: Vec<f64> = spot.totals.iter().map(|total| layer.time * total).collect();
        let regions = &self.inputs.regions;
        let on_region = |(k, both): (usize, &Option<[Vec<Place>; 2]>)| {
            let points = &both.as_ref()?[points as usize];
            let outline = &regions[k].outline;
            let sum = |chords: &(dyn Fn(Line) -> Chords + Sync)| {
                let mut sums = vec![0.0; landed.len()];
                layer.add_in(outline::bounds(outline), chords, &mut sums);
                // Differences of large numbers: what is less than their digits hold is nothing.
                let something = |sum: f64, most: f64| if sum < NOTHING * most { 0.0 } else { sum };
                sums.iter_mut().zip(&landed).for_each(|(sum, most)| *sum = something(*sum, *most));
                sums
            };
            let whole = sum(&|line| Chords::of_whole(regions, k, line));
            let is_overlapped = earlier(regions, k).next().is_some();
            let mean = whole[spot.amounts.covered()] / area(points);
            let at_points = || points.iter().map(|place| layer.covered_at(place.point)).collect();
            Some(OnRegion {
                own: if is_overlapped { sum(&|line| Chords::of_own(regions, k, line)) } else { whole.clone() },
                covered: if mean < SPARSE { Covered::Sparse(mean) } else { Covered::At(at_points()) },
                whole,
            })
        };
        let regions = self.points.par_iter().enumerate().map(on_region).collect();
        let left = spot.generated.iter().map(|volume| layer.time * volume).collect();
        OfLayer { regions, landed, left }
    }

    /// What layers leave together on a region.
    fn together(&self, k: usize, layers: &[Arc<OfLayer>], points: Points) -> Together {
        let Some(points) = self.points[k].as_ref().map(|both| &both[points as usize]) else {
            return Together::default();
        };
        let on: Vec<&OnRegion> = layers.iter().filter_map(|layer| layer.regions[k].as_ref()).collect();
        let add = |of: fn(&OnRegion) -> &Vec<f64>| -> Vec<f64> {
            let mut sums = vec![0.0; layers[0].landed.len()];
            on.iter().for_each(|on| sums.iter_mut().zip(of(on)).for_each(|(sum, amount)| *sum += amount));
            sums
        };
        let bare = |(n, place): (usize, &Place)| {
            let covered = |on: &&OnRegion| match &on.covered {
                Covered::Sparse(mean) => *mean,
                Covered::At(points) => points[n],
            };
            place.area * (-on.iter().map(covered).sum::<f64>()).exp()
        };
        Together {
            area: area(points),
            bare: points.iter().enumerate().map(bare).sum(),
            whole: add(|on| &on.whole),
            own: add(|on| &on.own),
        }
    }

    /// The figures of a deposit; `None` where only prints tell.
    pub(super) fn values(&self, layers: &[Arc<OfLayer>], points: Points) -> Vec<Option<f64>> {
        let amounts = self.amounts;
        let regions: Vec<Together> = (0..self.points.len()).map(|k| self.together(k, layers, points)).collect();
        let powders = self.inputs.powders();
        let mass =
            |of: &[f64]| -> f64 { powders.iter().enumerate().map(|(k, p)| of[amounts.volume(k)] * p.density).sum() };
        let capacity = |of: &[f64]| -> f64 {
            powders.iter().enumerate().map(|(k, p)| of[amounts.volume(k)] * p.density * p.capacity).sum()
        };
        let count = |of: &[f64], counts: fn(&Powder) -> bool| -> f64 {
            powders.iter().enumerate().filter(|(_, p)| counts(p)).map(|(k, _)| of[amounts.number(k)]).sum()
        };
        let is_active = |powder: &Powder| powder.capacity > 0.0;
        let of_region = |figure: RegionFigure, on: &Together| -> Option<f64> {
            let thickness = |k: usize| on.whole[amounts.volume(k)] / on.area;
            Some(match figure {
                RegionFigure::Coverage => 1.0 - on.bare / on.area,
                RegionFigure::Bare => on.bare / on.area,
                RegionFigure::MeanThickness => (0..powders.len()).map(thickness).sum(),
                RegionFigure::MeanFreePaths => {
                    let depth = |(k, path): (usize, &f64)| thickness(k) / path;
                    let deposit: f64 = self.mean_free_paths.iter().enumerate().map(depth).sum();
                    deposit + beam_view::layers_depth(&self.inputs.beam)
                }
                RegionFigure::Mass => mass(&on.own),
                RegionFigure::Particles => count(&on.own, |_| true),
                RegionFigure::ActiveParticles => count(&on.own, is_active),
                RegionFigure::Capacity => capacity(&on.own),
                RegionFigure::CurrentAt1C => capacity(&on.own) / HOUR,
                RegionFigure::ChargePerParticle => {
                    let active = count(&on.own, is_active);
                    if active > 0.0 { capacity(&on.own) / active } else { return None }
                }
                RegionFigure::CoarseParticles => on.own[amounts.coarse()],
                RegionFigure::HitProbability => 1.0 - (-on.own[amounts.droplets()]).exp(),
                RegionFigure::ThicknessCv
                | RegionFigure::ThicknessP5
                | RegionFigure::ThicknessP50
                | RegionFigure::ThicknessP95
                | RegionFigure::ThicknessP99
                | RegionFigure::TooThick
                | RegionFigure::Usable
                | RegionFigure::Joined
                | RegionFigure::JoinedCapacity
                | RegionFigure::FarthestParticle
                | RegionFigure::LargestParticle => return None,
            })
        };
        let landed: f64 = layers.iter().map(|layer| mass(&layer.landed)).sum();
        let left = |layer: &Arc<OfLayer>| layer.left.iter().zip(&powders).map(|(v, p)| v * p.density).sum::<f64>();
        let left: f64 = layers.iter().map(left).sum();
        let on = |wanted: &dyn Fn(&Region) -> bool, of: &dyn Fn(&[f64]) -> f64| -> f64 {
            let all = self.inputs.regions.iter().zip(&regions);
            all.filter(|(region, on)| wanted(region) && on.area > 0.0).map(|(_, on)| of(&on.own)).sum()
        };
        let on_target = || {
            let printed = self.inputs.regions.iter().any(|region| region.role.is_printed());
            (landed > 0.0 && printed).then(|| on(&|region| region.role.is_printed(), &mass) / landed)
        };
        let of_print = |figure: PrintFigure| match figure {
            PrintFigure::Landed => (left > 0.0).then(|| landed / left),
            PrintFigure::OnTarget => on_target(),
            PrintFigure::Overspray => on_target().map(|share| 1.0 - share),
            PrintFigure::CapacityRatio => {
                let of_role = |role: Role| on(&|region| region.role == role, &capacity);
                let working = of_role(Role::Target);
                (working > 0.0).then(|| of_role(Role::Counter) / working)
            }
            PrintFigure::PrintTime => Some(self.print_time),
            PrintFigure::InkUsed => Some(self.ink_used),
            PrintFigure::OversprayReach | PrintFigure::FarthestStray | PrintFigure::Bridge => None,
        };
        let value = |((kind, _), region): (&FigureAt, &Option<usize>)| match kind.figure {
            Figure::Region(figure) => of_region(figure, &regions[(*region)?]).map(|value| value.max(0.0)),
            Figure::Item(_) => None,
            Figure::Print(figure) => of_print(figure),
        };
        self.asked.iter().zip(&self.of_region).map(value).collect()
    }
}
