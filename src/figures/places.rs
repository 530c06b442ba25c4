//! Which figures are given at which places.

use super::statistics::FigureAt;
use motefall_physics::contours::PairBudget;
use motefall_physics::figure_kinds::{Figure, ItemFigure, Need, On, PrintFigure, RegionFigure};
use motefall_physics::inputs::{Inputs, Role, Shape};
use motefall_physics::map::compared::Compared;

/// Figures of one place, deciding ones first.
#[derive(Debug, Clone)]
pub(super) enum Work {
    /// Of a region of the inputs.
    Region(usize, Vec<RegionFigure>),
    /// Of an item, counted over all layers.
    Item(usize, Vec<ItemFigure>),
    /// Of the whole print.
    Print(Vec<PrintFigure>),
}

/// One figure at one place.
#[derive(Debug, Clone, Copy)]
pub(super) enum Task {
    Region(usize, RegionFigure),
    Item(usize, ItemFigure),
    Print(PrintFigure),
}

impl Work {
    /// Figure by figure.
    pub(crate) fn tasks(&self) -> Vec<Task> {
        match self {
            Self::Region(k, figures) => figures.iter().map(|figure| Task::Region(*k, *figure)).collect(),
            Self::Item(k, figures) => figures.iter().map(|figure| Task::Item(*k, *figure)).collect(),
            Self::Print(figures) => figures.iter().map(|figure| Task::Print(*figure)).collect(),
        }
    }
}

impl Task {
    /// Its figure and the name of its place.
    fn place(self, inputs: &Inputs) -> FigureAt {
        match self {
            Self::Region(k, figure) => (figure.kind(), Some(inputs.regions[k].name.clone())),
            Self::Item(k, figure) => (figure.kind(), inputs.items().nth(k).map(|item| item.name.clone())),
            Self::Print(figure) => (figure.kind(), None),
        }
    }
}

/// Figures and places in the order of what is measured.
pub fn asked(inputs: &Inputs) -> Vec<FigureAt> {
    places(inputs, &works(inputs))
}

/// What is measured where: regions by role, items, the whole print; places with limits before others.
pub(super) fn works(inputs: &Inputs) -> Vec<Work> {
    // Where a chip has windows, the beam crosses it there only.
    let windows: Vec<Compared<'_>> = inputs
        .regions
        .iter()
        .filter(|region| region.role == Role::Window)
        .map(|window| Compared::new(&window.outline))
        .collect();
    let crossed = |k: usize| {
        let (own, effort) = (Compared::new(&inputs.regions[k].outline), PairBudget::default());
        windows.is_empty() || windows.iter().any(|window| own.overlaps(window, &effort).unwrap_or(true))
    };
    let limits = &inputs.acceptance.limits;
    let is_limited = |figure: Figure, place: Option<&str>| {
        limits.iter().any(|limit| limit.figure == figure && limit.place.as_deref() == place)
    };
    let is_named = |place: &str| limits.iter().any(|limit| limit.place.as_deref() == Some(place));
    let of_region = |k: usize| {
        let region = &inputs.regions[k];
        let is_told = |figure: RegionFigure| {
            let kind = figure.kind();
            let is_met = |need: &Need| is_met(*need, inputs, Some(region.role), || crossed(k));
            includes(kind.on, region.role) && kind.listed.iter().all(is_met)
        };
        let wanted = |figure: &RegionFigure| is_told(*figure) || is_limited((*figure).into(), Some(&region.name));
        Work::Region(k, RegionFigure::ALL.iter().copied().filter(wanted).collect())
    };
    let mut regions: Vec<usize> = (0..inputs.regions.len()).collect();
    regions.sort_by_key(|k| (!is_named(&inputs.regions[*k].name), rank(inputs.regions[*k].role)));

    let items: Vec<_> = inputs.items().collect();
    let of_item = |k: usize| {
        let item = items[k];
        let wanted =
            |figure: &ItemFigure| tells_of_item(*figure, &item.shape) || is_limited((*figure).into(), Some(&item.name));
        Work::Item(k, ItemFigure::ALL.iter().copied().filter(wanted).collect())
    };
    let mut item_order: Vec<usize> = (0..items.len()).collect();
    item_order.sort_by_key(|k| !is_named(&items[*k].name));

    let is_told = |figure: PrintFigure| figure.kind().listed.iter().all(|need| is_met(*need, inputs, None, || true));
    let wanted = |figure: &PrintFigure| is_told(*figure) || is_limited((*figure).into(), None);
    let print = Work::Print(PrintFigure::ALL.iter().copied().filter(wanted).collect());
    let works = regions.into_iter().map(of_region).chain(item_order.into_iter().map(of_item)).chain([print]);
    works.filter(|work| !work.tasks().is_empty()).collect()
}

/// Figures and places in the order of what is measured.
pub(super) fn places(inputs: &Inputs, works: &[Work]) -> Vec<FigureAt> {
    works.iter().flat_map(Work::tasks).map(|task| task.place(inputs)).collect()
}

/// Order in which regions are told.
fn rank(role: Role) -> usize {
    match role {
        Role::Target => 0,
        Role::Counter => 1,
        Role::Electrode => 2,
        Role::KeepOut => 3,
        Role::Window => 4,
    }
}

/// Whether a region of a role is among these.
pub fn includes(on: On, role: Role) -> bool {
    match on {
        On::Everywhere => true,
        On::Printed => role.is_printed(),
        On::Unprinted => !role.is_printed(),
        On::Clean => matches!(role, Role::Electrode | Role::KeepOut),
    }
}

/// Whether chip and ink have what a figure takes; `role` of the region that it is of, `crossed` whether a beam crosses that.
pub fn is_met(need: Need, inputs: &Inputs, role: Option<Role>, crossed: impl Fn() -> bool) -> bool {
    let count = |wanted: fn(Role) -> bool| inputs.regions.iter().filter(|region| wanted(region.role)).count();
    match need {
        Need::Electrode => role.is_some_and(Role::is_electrode),
        Need::ActivePowder => inputs.powders().iter().any(|powder| powder.capacity > 0.0),
        Need::PrintedRegion => count(Role::is_printed) > 0,
        Need::TwoElectrodes => count(Role::is_electrode) > 1,
        Need::TargetAndCounter => count(|role| role == Role::Target) > 0 && count(|role| role == Role::Counter) > 0,
        Need::Fill => inputs.layers.iter().any(|layer| layer.atomiser.fill.is_some()),
        Need::Settling => inputs.layers.iter().any(|layer| layer.ink.settling.is_some()),
        Need::Beam => crossed(),
    }
}

/// Whether a figure of an item says anything about its shape.
pub fn tells_of_item(figure: ItemFigure, shape: &Shape) -> bool {
    match figure {
        ItemFigure::LineWidth | ItemFigure::EdgeRoughness => is_line(shape),
        ItemFigure::EdgeWidth | ItemFigure::Width90 | ItemFigure::Width99 => is_even(shape),
        ItemFigure::PeakThickness => !matches!(shape, Shape::Dot { .. }),
    }
}

/// Whether a shape is a line.
pub fn is_line(shape: &Shape) -> bool {
    matches!(shape, Shape::Polyline(_) | Shape::Polylines(_))
}

/// Whether a shape is as wide everywhere, so that bands make sense: a disc has another width at each place.
pub fn is_even(shape: &Shape) -> bool {
    is_line(shape) || matches!(shape, Shape::FilledRectangle { .. })
}
