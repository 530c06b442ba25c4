//! Limits that no print could ever be judged by.

use super::reader::Reader;
use motefall_figures::places::{is_met, tells_of_item};
use motefall_figures::{MeasuringGrid, profile};
use motefall_physics::contours::PairBudget;
use motefall_physics::figure_kinds::{Figure, FigureKind, ItemFigure, Need, Scope};
use motefall_physics::inputs::{Inputs, Limit, PathItem, Region, Role};
use motefall_physics::map::canvas::SUB;
use motefall_physics::map::compared::Compared;
use motefall_physics::map::grid::LEAST_MARGIN;
use motefall_physics::map::outline;

/// Why a figure is never measured, and what to do.
type Never = (String, &'static str);

/// Faults of the limits that were written, each against its own section.
pub(crate) fn never_judged(sections: &[Reader<'_>], inputs: &Inputs, effort: &PairBudget) {
    // With other faults in the limits, some of them were left out.
    if sections.len() != inputs.acceptance.stated().len() {
        return;
    }
    for (section, limit) in sections.iter().zip(inputs.acceptance.stated()) {
        if let Some((why, advice)) = never(inputs, limit, effort) {
            let of = limit.place.as_ref().map_or(String::new(), |place| format!(" of \"{place}\""));
            section.fault(
                "figure",
                format!("the limit on \"{}\"{of} can never be judged", limit.figure.kind().id),
                "never measured",
                why,
                advice,
            );
        }
    }
}

fn never(inputs: &Inputs, limit: &Limit, effort: &PairBudget) -> Option<Never> {
    let kind = limit.figure.kind();
    match limit.figure {
        Figure::Region(_) => {
            let region = inputs.regions.iter().find(|region| Some(&region.name) == limit.place.as_ref())?;
            lacking(inputs, kind, Some(region), effort).or_else(|| of_area(inputs, kind, region))
        }
        Figure::Item(figure) => {
            let (number, item) =
                inputs.items().enumerate().find(|(_, item)| Some(&item.name) == limit.place.as_ref())?;
            of_item(inputs, figure, number, item)
        }
        Figure::Print(_) => lacking(inputs, kind, None, effort),
    }
}

/// The first thing that a figure takes and the chip or the ink has not.
fn lacking(inputs: &Inputs, kind: &FigureKind, region: Option<&Region>, effort: &PairBudget) -> Option<Never> {
    let crossed = || region.is_none_or(|region| on_window(inputs, region, effort));
    let role = region.map(|region| region.role);
    let need = kind.needs.iter().find(|need| !is_met(**need, inputs, role, crossed))?;
    let (why, advice) = match need {
        Need::Electrode => (
            "particles are joined to an electrode, and this region is none",
            "limit an electrode (role target, counter or electrode), or remove the limit",
        ),
        Need::ActivePowder => {
            ("no powder has a capacity", "give the active powder its `capacity_mah_g`, or remove the limit")
        }
        Need::PrintedRegion => (
            "no region has the role target or counter",
            match kind.scope {
                Scope::Region | Scope::Item => "give a region the role target, or remove the limit",
                Scope::Print => "give the region that is printed the role target, or remove the limit",
            },
        ),
        Need::TwoElectrodes => (
            "a bridge takes two regions with the role target, counter or electrode",
            "add the other electrode as a region, or remove the limit",
        ),
        Need::TargetAndCounter => (
            "the ratio takes a region with the role target and one with the role counter",
            "give both roles, or remove the limit",
        ),
        Need::Fill => ("no vial's fill is given", "give `atomiser.fill_ml`, or remove the limit"),
        Need::Settling => ("no ink's settling is given", "give `ink.settling_percent_per_h`, or remove the limit"),
        Need::Beam => (
            "the region lies on no window, so no beam crosses it",
            "limit a region on a window, or a thickness in nm, or remove the limit",
        ),
    };
    Some((why.into(), advice))
}

/// Whether a region lies on a window, if there are any. Where it would take too long to tell, the limit stands.
fn on_window(inputs: &Inputs, region: &Region, effort: &PairBudget) -> bool {
    let own = Compared::new(&region.outline);
    let overlaps = |window: &Region| own.overlaps(&Compared::new(&window.outline), effort).unwrap_or(true);
    let mut windows = inputs.regions.iter().filter(|other| other.role == Role::Window).peekable();
    windows.peek().is_none() || windows.any(overlaps)
}

/// Whether the area of a region cannot be measured.
fn of_area(inputs: &Inputs, kind: &FigureKind, region: &Region) -> Option<Never> {
    if !kind.is_of_area() {
        return None;
    }
    let measuring = MeasuringGrid::new(inputs, 0.0);
    if !measuring.grid.holds(&region.outline) {
        return Some((
            "the region lies so far away that figures of its area are not computed; particles are counted all the same"
                .into(),
            "limit `particles` or `hit_probability` there, or write a larger `map.resolution_um`",
        ));
    }
    let [width, height] = outline::bounds(&region.outline).size();
    let narrow = width.min(height);
    (narrow < 2.0 * measuring.grid.pitch / SUB as f64).then(|| {
        (
            format!(
                "the region is {:.2} µm wide, too narrow for the resolution of {} µm",
                narrow * 1e6,
                inputs.map.resolution * 1e6
            ),
            "write its sides in µm if they are meant in mm; or a smaller `map.resolution_um`, or limit `particles` there",
        )
    })
}

fn of_item(inputs: &Inputs, figure: ItemFigure, number: usize, item: &PathItem) -> Option<Never> {
    if !tells_of_item(figure, &item.shape) {
        return Some((
            "it is a figure of lines, and this is none".into(),
            "limit coverage or thickness of the region that it fills, or remove the limit",
        ));
    }
    let measuring = MeasuringGrid::new(inputs, LEAST_MARGIN);
    let strip = profile::Strip::new(inputs, number, measuring.grid);
    strip.err().map(|why| (why.into(), "print a longer line, write a smaller `map.resolution_um`, or remove the limit"))
}
