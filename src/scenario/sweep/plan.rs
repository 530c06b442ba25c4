//! The plan of a sweep: axes, design, prints of a point.

use super::axis::axis_values;
use super::target::{Place, named};
use crate::choices::DesignWord;
use crate::keys::MOST_POINTS;
use crate::reader::{Collector, Reader};
use motefall_physics::inputs::{Axis, AxisValues, Design, Inputs, PointPrints, SweepPlan};

/// The plan and where its values stand; `None` without `[sweep]`. Of use only if the collector has no faults.
pub(crate) fn plan(
    root: &Reader<'_>,
    collector: &Collector,
    file: &toml::Table,
    inputs: &Inputs,
) -> Option<(SweepPlan, Vec<Place>)> {
    let sweep = root.optional_table("sweep")?;
    let design = design(&sweep);
    let (mut axes, mut places) = (Vec::new(), Vec::<Place>::new());
    for section in sweep.tables("axis") {
        let Some((key, target)) = named(&section, collector, file) else { continue };
        if let Some(first) = places.iter().position(|place| *place == target.place) {
            section.fault(
                "key",
                format!("`{key}` is varied twice"),
                format!("axis {} varies it already", first + 1),
                "a setting can have only one value at a point",
                "remove one of the two axes",
            );
            continue;
        }
        if let Some(values) = axis_values(&section, collector, &key, &target, design) {
            axes.push(Axis { key, unit: target.unit.to_owned(), values });
            places.push(target.place);
        }
    }
    if design == Design::Grid {
        grid_size(&sweep, &axes);
    }
    let wanted_share = sweep.optional("wanted_share_percent").unwrap_or(inputs.acceptance.required_share);
    let prints = point_prints(&sweep, inputs);
    let chance = sweep.choice("chance");
    Some((SweepPlan { axes, design, prints, chance, wanted_share }, places))
}

fn design(sweep: &Reader<'_>) -> Design {
    let chosen = sweep.choice("design");
    let points = sweep.has("points").then(|| sweep.integer("points")).flatten().unwrap_or(1) as u32;
    let made = match chosen {
        DesignWord::Grid => Design::Grid,
        DesignWord::Sobol => Design::Sobol(points),
        DesignWord::LatinHypercube => Design::LatinHypercube(points),
    };
    if made == Design::Grid && sweep.has("points") {
        sweep.fault(
            "points",
            "`sweep.points` is given for a grid",
            "not for a grid",
            "a grid runs every combination of the axes' values, so the axes tell how many points there are",
            "remove it, or add `design = \"sobol\"` to spread so many points evenly",
        );
    }
    if made != Design::Grid && !sweep.has("points") {
        sweep.fault(
            "design",
            "`sweep.points` is missing",
            "how many points?",
            "such a design spreads a given number of points evenly over all axes",
            format!("add `points = ...`, a whole number from 1 to {MOST_POINTS}; powers of 2 spread best"),
        );
    }
    made
}

fn point_prints(sweep: &Reader<'_>, inputs: &Inputs) -> PointPrints {
    let prints = sweep.integer("prints").unwrap_or(2) as u32;
    let half_width = sweep.number("half_width_percent");
    if !sweep.has("most_prints") {
        if sweep.has("half_width_percent") {
            sweep.fault(
                "half_width_percent",
                "`sweep.half_width_percent` is given without `most_prints`",
                "of no effect",
                "without `most_prints` every point gets the same number of prints",
                "add `most_prints = ...`, or remove it",
            );
        }
        return PointPrints::Fixed(prints);
    }
    let most = sweep.integer("most_prints").unwrap_or(u64::MAX) as u32;
    if most < prints {
        sweep.fault(
            "most_prints",
            format!("`sweep.most_prints` is {most}, less than `prints`, {prints}"),
            "less than one round",
            "with `most_prints` a point gets rounds of `prints` prints until its pass probability is known well enough",
            format!("write {prints} or more, or lower `prints`"),
        );
    }
    if inputs.acceptance.limits.is_empty() {
        sweep.fault(
            "most_prints",
            "`sweep.most_prints` needs acceptance limits, and there are none",
            "no pass probability",
            "prints are added until the pass probability is known well enough; without limits there is none",
            "add an `[[acceptance.limit]]`, or remove `most_prints`",
        );
    }
    PointPrints::Adaptive { round: prints, most, half_width }
}

fn grid_size(sweep: &Reader<'_>, axes: &[Axis]) {
    let counts: Vec<u64> = axes
        .iter()
        .map(|axis| match &axis.values {
            AxisValues::List(values) => values.len() as u64,
            AxisValues::Linear { count, .. } | AxisValues::Log { count, .. } => u64::from(*count),
        })
        .collect();
    let points = counts.iter().fold(1, |product: u64, count| product.saturating_mul(*count));
    if points > MOST_POINTS {
        let product: Vec<String> = counts.iter().map(u64::to_string).collect();
        sweep.fault(
            "axis",
            format!("the grid has {} = {points} points, more than {MOST_POINTS}", product.join(" x ")),
            "too many combinations",
            "a grid runs every combination of the axes' values",
            "use fewer values, or `design = \"sobol\"` with `points = ...`",
        );
    }
}
