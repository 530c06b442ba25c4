//! Limits that no print could ever be judged by.

use super::geometry::{Compared, outline_extent};
use super::reader::Reader;
use crate::contours::Effort;
use crate::figures::{FigureKind, MeasuringGrid, Scope, kinds, measure, profile};
use crate::inputs::{Inputs, Limit, PathItem, Region, Role};
use crate::map::canvas::SUB;
use crate::map::grid::LEAST_MARGIN;

/// Why a figure is never measured, and what to do.
type Never = (String, &'static str);

/// Faults of the limits that were written, each against its own section.
pub fn never_judged(sections: &[Reader<'_>], inputs: &Inputs, effort: &Effort) {
    // With other faults in the limits, some of them were left out.
    if sections.len() != inputs.acceptance.stated().len() {
        return;
    }
    for (section, limit) in sections.iter().zip(inputs.acceptance.stated()) {
        if let Some((why, advice)) = never(inputs, limit, effort) {
            let of = limit.place.as_ref().map_or(String::new(), |place| format!(" of \"{place}\""));
            section.fault(
                "figure",
                format!("the limit on \"{}\"{of} can never be judged", limit.figure),
                "never measured",
                why,
                advice,
            );
        }
    }
}

fn never(inputs: &Inputs, limit: &Limit, effort: &Effort) -> Option<Never> {
    let kind = kinds::kind(&limit.figure)?;
    match kind.scope {
        Scope::Region => {
            let region = inputs.regions.iter().find(|region| Some(&region.name) == limit.place.as_ref())?;
            of_region(inputs, kind, region, effort)
        }
        Scope::Item => {
            let (number, item) =
                inputs.items().enumerate().find(|(_, item)| Some(&item.name) == limit.place.as_ref())?;
            of_item(inputs, kind, number, item)
        }
        Scope::Print => of_print(inputs, kind),
    }
}

fn any_region(inputs: &Inputs, wanted: impl Fn(Role) -> bool) -> bool {
    inputs.regions.iter().any(|region| wanted(region.role))
}

fn any_active(inputs: &Inputs) -> bool {
    inputs.powders().iter().any(|powder| powder.capacity > 0.0)
}

const NO_TARGET: &str = "no region has the role target or counter";
const NO_ACTIVE: &str = "no powder has a capacity";
const GIVE_CAPACITY: &str = "give the active powder its `capacity_mah_g`, or remove the limit";

fn of_region(inputs: &Inputs, kind: &FigureKind, region: &Region, effort: &Effort) -> Option<Never> {
    match kind.id {
        "joined_percent" | "joined_capacity_percent" if !region.role.is_electrode() => {
            return Some((
                "particles are joined to an electrode, and this region is none".into(),
                "limit an electrode (role target, counter or electrode), or remove the limit",
            ));
        }
        "joined_percent" | "joined_capacity_percent" | "charge_per_particle_pc" if !any_active(inputs) => {
            return Some((NO_ACTIVE.into(), GIVE_CAPACITY));
        }
        "farthest_particle_um" if !any_region(inputs, Role::is_printed) => {
            return Some((NO_TARGET.into(), "give a region the role target, or remove the limit"));
        }
        _ => {}
    }
    if kind.is_of_beam() {
        // Where it would take too long to tell, the limit stands.
        let own = Compared::new(&region.outline);
        let on_window = |window: &Region| own.overlaps(&Compared::new(&window.outline), effort).unwrap_or(true);
        let windows = || inputs.regions.iter().filter(|other| other.role == Role::Window);
        if windows().next().is_some() && !windows().any(on_window) {
            return Some((
                "the region lies on no window, so no beam crosses it".into(),
                "limit a region on a window, or a thickness in nm, or remove the limit",
            ));
        }
    }
    if kind.is_of_area() {
        let measuring = MeasuringGrid::new(inputs, 0.0);
        if !measuring.grid.holds(&region.outline) {
            return Some((
                "the region lies so far away that figures of its area are not computed; particles are counted all the same".into(),
                "limit `particles` or `hit_probability` there, or write a larger `map.resolution_um`",
            ));
        }
        let extent = outline_extent(&region.outline);
        let narrow = (0..2).map(|k| extent.high[k] - extent.low[k]).fold(f64::INFINITY, f64::min);
        if narrow < 2.0 * measuring.grid.pitch / SUB as f64 {
            return Some((
                format!(
                    "the region is {:.2} µm wide, too narrow for the resolution of {} µm",
                    narrow * 1e6,
                    inputs.map.resolution * 1e6
                ),
                "write a smaller `map.resolution_um`, or limit `particles` there",
            ));
        }
    }
    None
}

fn of_item(inputs: &Inputs, kind: &FigureKind, number: usize, item: &PathItem) -> Option<Never> {
    if !measure::tells_of_item(kind, &item.shape) {
        return Some((
            "it is a figure of lines, and this is none".into(),
            "limit coverage or thickness of the region that it fills, or remove the limit",
        ));
    }
    let measuring = MeasuringGrid::new(inputs, LEAST_MARGIN);
    let strip = profile::Strip::new(inputs, number, measuring.grid);
    strip.err().map(|why| (why.into(), "print a longer line, write a smaller `map.resolution_um`, or remove the limit"))
}

fn of_print(inputs: &Inputs, kind: &FigureKind) -> Option<Never> {
    let roles = |wanted: fn(Role) -> bool| inputs.regions.iter().filter(|region| wanted(region.role)).count();
    match kind.id {
        "on_target_percent" | "overspray_percent" | "overspray_reach_um" | "farthest_stray_um"
            if roles(Role::is_printed) == 0 =>
        {
            Some((NO_TARGET.into(), "give the region that is printed the role target, or remove the limit"))
        }
        "bridge_probability" if roles(Role::is_electrode) < 2 => Some((
            "a bridge takes two regions with the role target, counter or electrode".into(),
            "add the other electrode as a region, or remove the limit",
        )),
        "capacity_ratio" if roles(|role| role == Role::Counter) == 0 || roles(|role| role == Role::Target) == 0 => {
            Some((
                "the ratio takes a region with the role target and one with the role counter".into(),
                "give both roles, or remove the limit",
            ))
        }
        "capacity_ratio" if !any_active(inputs) => Some((NO_ACTIVE.into(), GIVE_CAPACITY)),
        _ => None,
    }
}
