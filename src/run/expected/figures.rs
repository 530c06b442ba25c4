//! Figures from what lies where.

use super::across::{Across, OnItem, doubt_of_item, of_item};
use super::chance;
use super::on_region::{OnRegion, Together};
use super::places::{Place, Points, places};
use super::spot::Amounts;
use super::square::Square;
use super::swept::Swept;
use crate::setting::Setting;
use motefall_figures::BenchUse;
use motefall_figures::beam_view;
use motefall_figures::electrode_view::HOUR;
use motefall_figures::profile::ExactProfile;
use motefall_figures::statistics::FigureAt;
use motefall_physics::contours::Bounds;
use motefall_physics::figure_kinds::{Figure, PrintFigure, RegionFigure};
use motefall_physics::inputs::{Inputs, Powder, Region, Role};
use motefall_physics::map::outline;
use rayon::prelude::*;
use std::sync::Arc;

/// Part of what droplets that lie across a region's edge do to the number of hits that is taken to be in doubt.
const STRADDLING_DOUBT: f64 = 0.3;

/// What is prepared once for all deviations.
pub(super) struct Figures<'a> {
    inputs: &'a Inputs,
    asked: &'a [FigureAt],
    /// Where each figure is asked for.
    at: Vec<At>,
    /// Close and wide points of each region that is asked for.
    points: Vec<Option<[Vec<Place>; 2]>>,
    /// Where the profile of each item that is asked for is looked at.
    across: Vec<Option<Across>>,
    powders: Vec<Powder>,
    mean_free_paths: Vec<f64>,
    bench: BenchUse,
}

/// Where a figure is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    Region(usize),
    Item(usize),
    Print,
    /// Nowhere that is known.
    Nowhere,
}

/// What a layer leaves.
pub(super) struct OfLayer {
    /// By region and by item; `None` where nobody asks.
    regions: Vec<Option<OnRegion>>,
    items: Vec<Option<OnItem>>,
    /// All that landed, and all that left the vial: solid volume per powder, m^3.
    pub(super) landed: Vec<f64>,
    left: Vec<f64>,
    /// Squares of the mass that left the vial, droplet by droplet, kg^2.
    left_squares: f64,
}

/// All figures of a deposit, in the order of their places; `None` where only prints tell.
pub(super) type Values = Vec<Option<f64>>;

/// What all layers leave together.
pub(super) struct Deposit<'a> {
    figures: &'a Figures<'a>,
    amounts: Amounts,
    regions: Vec<Together>,
    profiles: Vec<Option<ExactProfile>>,
    /// Mass that landed and that left the vial, kg.
    landed: f64,
    left: f64,
    /// Squares of them, if they were asked for, kg^2.
    squares: Option<[f64; 2]>,
    /// What a particle covers on average, m^2.
    speck: f64,
}

impl<'a> Figures<'a> {
    pub(super) fn new(setting: &'a Setting<'_>, asked: &'a [FigureAt]) -> Self {
        let inputs = setting.inputs;
        let region = |name: &str| inputs.regions.iter().position(|region| region.name == name);
        let item = |name: &str| inputs.items().position(|item| item.name == name);
        let at = |(kind, place): &FigureAt| {
            let name = place.as_deref();
            match kind.figure {
                Figure::Region(_) => name.and_then(region).map_or(At::Nowhere, At::Region),
                Figure::Item(_) => name.and_then(item).map_or(At::Nowhere, At::Item),
                Figure::Print(_) => At::Print,
            }
        };
        let at: Vec<At> = asked.iter().map(at).collect();
        let points = |k: usize| {
            let is_asked = at.contains(&At::Region(k)) || inputs.regions[k].role.is_printed();
            is_asked.then(|| [Points::Close, Points::Wide].map(|points| places(&inputs.regions[k].outline, points)))
        };
        let across = |(k, lane): (usize, &Option<_>)| {
            let lane = lane.as_ref().filter(|_| at.contains(&At::Item(k)));
            lane.map(Across::new)
        };
        Self {
            points: (0..inputs.regions.len()).map(points).collect(),
            across: setting.lanes.iter().enumerate().map(across).collect(),
            at,
            inputs,
            asked,
            powders: inputs.powders().into_iter().cloned().collect(),
            mean_free_paths: beam_view::mean_free_paths(inputs),
            bench: setting.bench_use(),
        }
    }

    /// What a layer leaves, as points of a kind tell.
    pub(super) fn of_layer(&self, layer: &Swept<'_>, points: Points) -> OfLayer {
        let spot = layer.spot();
        let landed: Vec<f64> = spot.totals.iter().map(|total| layer.time * total).collect();
        let on_region = |(k, both): (usize, &Option<[Vec<Place>; 2]>)| {
            let points = &both.as_ref()?[points as usize];
            Some(OnRegion::new(layer, &self.inputs.regions, k, points, &landed))
        };
        let on_item = |across: &Option<Across>| across.as_ref().map(|across| across.of_layer(layer, points));
        OfLayer {
            regions: self.points.par_iter().enumerate().map(on_region).collect(),
            items: self.across.par_iter().map(on_item).collect(),
            left: spot.generated.iter().map(|volume| layer.time * volume).collect(),
            left_squares: layer.time * spot.generated_squares,
            landed,
        }
    }

    /// What layers leave together.
    pub(super) fn deposit(&self, layers: &[Arc<OfLayer>], points: Points, amounts: Amounts) -> Deposit<'_> {
        let on_region = |k: usize| {
            let Some(both) = &self.points[k] else { return Together::default() };
            let on: Vec<&OnRegion> = layers.iter().filter_map(|layer| layer.regions[k].as_ref()).collect();
            Together::new(&on, &both[points as usize])
        };
        let profile = |(k, across): (usize, &Option<Across>)| {
            let on: Vec<&OnItem> = layers.iter().filter_map(|layer| layer.items[k].as_ref()).collect();
            across.as_ref().map(|across| across.together(&on, points))
        };
        let all = |of: &dyn Fn(&OfLayer) -> f64| -> f64 { layers.iter().map(|layer| of(layer)).sum() };
        let left = |layer: &OfLayer| layer.left.iter().zip(&self.powders).map(|(v, p)| v * p.density).sum::<f64>();
        let squares = amounts
            .squares
            .then(|| [all(&|layer| layer.landed[amounts.square(Square::Mass)]), all(&|layer| layer.left_squares)]);
        let particles = all(&|layer| layer.landed[..self.powders.len()].iter().sum());
        Deposit {
            speck: if particles > 0.0 { all(&|layer| layer.landed[amounts.alone()]) / particles } else { 0.0 },
            figures: self,
            amounts,
            regions: (0..self.points.len()).map(on_region).collect(),
            profiles: self.across.iter().enumerate().map(profile).collect(),
            landed: all(&|layer| self.mass(&layer.landed, amounts)),
            left: all(&left),
            squares,
        }
    }

    fn mass(&self, of: &[f64], amounts: Amounts) -> f64 {
        self.powders.iter().enumerate().map(|(k, powder)| of[amounts.volume(k)] * powder.density).sum()
    }

    /// Bounds of where a figure is asked for; `None` of the whole print.
    pub(super) fn bounds(&self, figure: usize) -> Option<Bounds> {
        match self.at[figure] {
            At::Region(k) => Some(outline::bounds(&self.inputs.regions[k].outline)),
            At::Item(k) => self.across[k].as_ref().map(Across::bounds),
            At::Print | At::Nowhere => None,
        }
    }

    /// What a layer leaves where a figure is asked for, in some measure.
    pub(super) fn amount(&self, figure: usize, layer: &OfLayer) -> f64 {
        match self.at[figure] {
            At::Region(k) => layer.regions[k].as_ref().map_or(0.0, |on| on.solids(self.powders.len())),
            At::Item(k) => layer.items[k].as_ref().map_or(0.0, |on| on.iter().map(|[_, solids, _]| solids).sum()),
            At::Print | At::Nowhere => layer.landed[self.powders.len()..2 * self.powders.len()].iter().sum(),
        }
    }
}

impl Deposit<'_> {
    /// The figures; `None` where only prints tell.
    pub(super) fn values(&self) -> Values {
        let value = |((kind, _), at): (&FigureAt, &At)| match (kind.figure, at) {
            (Figure::Region(figure), At::Region(k)) => {
                self.of_region(figure, &self.regions[*k]).map(|value| value.max(0.0))
            }
            (Figure::Item(figure), At::Item(k)) => {
                let shape = &self.figures.inputs.items().nth(*k)?.shape;
                of_item(figure, shape, self.profiles[*k].as_ref()?)
            }
            (Figure::Print(figure), _) => self.of_print(figure),
            _ => None,
        };
        self.figures.asked.iter().zip(&self.figures.at).map(value).collect()
    }

    /// Variances of these figures that chance within a print brings about; `None` where it is not worked out.
    pub(super) fn variances(&self, values: &Values) -> Vec<Option<f64>> {
        let variance = |((kind, _), (at, value)): (&FigureAt, (&At, &Option<f64>))| match (kind.figure, at) {
            (Figure::Region(figure), At::Region(k)) => {
                let on = &self.regions[*k];
                chance::of_region(figure, on, self.amounts, (*value)?, self.active(&on.own))
            }
            (Figure::Print(figure), _) => self.chance_of_print(figure, (*value)?),
            _ => None,
        };
        self.figures.asked.iter().zip(self.figures.at.iter().zip(values)).map(variance).collect()
    }

    /// By how much each figure as prints tell it may differ from these: what is read off profiles, and hits by a part of a droplet.
    pub(super) fn doubts(&self) -> Vec<f64> {
        let doubt = |((kind, _), at): (&FigureAt, &At)| match (kind.figure, at) {
            (Figure::Item(figure), At::Item(k)) => {
                let length = self.figures.across[*k].as_ref().map_or(0.0, Across::length);
                self.profiles[*k].as_ref().map_or(0.0, |profile| doubt_of_item(figure, profile, self.speck, length))
            }
            (Figure::Region(RegionFigure::HitProbability), At::Region(k)) => {
                let Some([reached, parts]) = self.hits(&self.regions[*k]) else { return 0.0 };
                STRADDLING_DOUBT * (reached - parts).abs() * (-reached).exp()
            }
            _ => 0.0,
        };
        self.figures.asked.iter().zip(&self.figures.at).map(doubt).collect()
    }

    /// Droplets whose outermost particle lies on a region, and parts of droplets whose particles do.
    fn hits(&self, on: &Together) -> Option<[f64; 2]> {
        Some([*on.own.get(self.amounts.reached())?, *on.own.get(self.amounts.droplets())?])
    }

    fn mass(&self, of: &[f64]) -> f64 {
        self.figures.mass(of, self.amounts)
    }

    fn capacity(&self, of: &[f64]) -> f64 {
        let powders = self.figures.powders.iter().enumerate();
        powders.map(|(k, p)| of[self.amounts.volume(k)] * p.density * p.capacity).sum()
    }

    fn count(&self, of: &[f64], counts: fn(&Powder) -> bool) -> f64 {
        let powders = self.figures.powders.iter().enumerate().filter(|(_, powder)| counts(powder));
        powders.map(|(k, _)| of[self.amounts.number(k)]).sum()
    }

    fn active(&self, of: &[f64]) -> f64 {
        self.count(of, |powder| powder.capacity > 0.0)
    }

    fn of_region(&self, figure: RegionFigure, on: &Together) -> Option<f64> {
        let thickness = |k: usize| on.whole[self.amounts.volume(k)] / on.area;
        Some(match figure {
            RegionFigure::Coverage => 1.0 - on.bare / on.area,
            RegionFigure::Bare => (on.bare / on.area).min(1.0),
            RegionFigure::MeanThickness => (0..self.figures.powders.len()).map(thickness).sum(),
            RegionFigure::MeanFreePaths => {
                let depth = |(k, path): (usize, &f64)| thickness(k) / path;
                let deposit: f64 = self.figures.mean_free_paths.iter().enumerate().map(depth).sum();
                deposit + beam_view::layers_depth(&self.figures.inputs.beam)
            }
            RegionFigure::Mass => self.mass(&on.own),
            RegionFigure::Particles => self.count(&on.own, |_| true),
            RegionFigure::ActiveParticles => self.active(&on.own),
            RegionFigure::Capacity => self.capacity(&on.own),
            RegionFigure::CurrentAt1C => self.capacity(&on.own) / HOUR,
            RegionFigure::ChargePerParticle => {
                let active = self.active(&on.own);
                if active > 0.0 { self.capacity(&on.own) / active } else { return None }
            }
            RegionFigure::CoarseParticles => on.own[self.amounts.coarse()],
            RegionFigure::HitProbability => 1.0 - (-on.own[self.amounts.reached()]).exp(),
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
    }

    /// A sum over regions with what it takes of each.
    fn over(&self, wanted: impl Fn(&Region) -> bool, of: impl Fn(&[f64]) -> f64) -> f64 {
        let all = self.figures.inputs.regions.iter().zip(&self.regions);
        all.filter(|(region, on)| wanted(region) && on.area > 0.0).map(|(_, on)| of(&on.own)).sum()
    }

    fn of_role(&self, role: Role, of: impl Fn(&[f64]) -> f64) -> f64 {
        self.over(|region| region.role == role, of)
    }

    fn of_print(&self, figure: PrintFigure) -> Option<f64> {
        let on_target = || {
            let printed = self.figures.inputs.regions.iter().any(|region| region.role.is_printed());
            let share = || self.over(|region| region.role.is_printed(), |of| self.mass(of)) / self.landed;
            (self.landed > 0.0 && printed).then(share)
        };
        match figure {
            PrintFigure::Landed => (self.left > 0.0).then(|| self.landed / self.left),
            PrintFigure::OnTarget => on_target(),
            PrintFigure::Overspray => on_target().map(|share| 1.0 - share),
            PrintFigure::CapacityRatio => {
                let working = self.of_role(Role::Target, |of| self.capacity(of));
                (working > 0.0).then(|| self.of_role(Role::Counter, |of| self.capacity(of)) / working)
            }
            PrintFigure::PrintTime => Some(self.figures.bench.print_time),
            PrintFigure::InkUsed => Some(self.figures.bench.ink_used),
            PrintFigure::TimePerChip => Some(self.figures.bench.time_per_chip),
            PrintFigure::InkPerChip => Some(self.figures.bench.ink_per_chip),
            PrintFigure::ChipsPerFill => self.figures.bench.chips_per_fill,
            PrintFigure::Settled => self.figures.bench.settled,
            PrintFigure::OversprayReach | PrintFigure::FarthestStray | PrintFigure::Bridge => None,
        }
    }

    fn chance_of_print(&self, figure: PrintFigure, mean: f64) -> Option<f64> {
        let [landed, left] = self.squares?;
        let mass_squares = |of: &[f64]| of[self.amounts.square(Square::Mass)];
        match figure {
            PrintFigure::Landed => Some(chance::of_share(mean, [landed, left - landed], self.left)),
            PrintFigure::OnTarget | PrintFigure::Overspray => {
                let own = self.over(|region| region.role.is_printed(), mass_squares);
                let share = if figure == PrintFigure::OnTarget { mean } else { 1.0 - mean };
                Some(chance::of_share(share, [own, landed - own], self.landed))
            }
            PrintFigure::CapacityRatio => {
                let relative = |role: Role| {
                    let all = self.of_role(role, |of| self.capacity(of));
                    self.of_role(role, |of| of[self.amounts.square(Square::Capacity)]) / (all * all)
                };
                Some(mean * mean * (relative(Role::Target) + relative(Role::Counter)))
                    .filter(|square| square.is_finite())
            }
            PrintFigure::PrintTime
            | PrintFigure::InkUsed
            | PrintFigure::TimePerChip
            | PrintFigure::InkPerChip
            | PrintFigure::ChipsPerFill
            | PrintFigure::Settled => Some(0.0),
            PrintFigure::OversprayReach | PrintFigure::FarthestStray | PrintFigure::Bridge => None,
        }
    }
}
