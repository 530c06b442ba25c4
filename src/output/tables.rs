//! Tables as CSV, in the units of the bench. Empty cells mean: no value.
//!
//! Spreadsheets take a cell that begins with =, +, - or @ for a formula. Names come from the scenario, so that such a text gets an
//! apostrophe before it; numbers are left as they are.

use super::differences;
use super::numbers::tidy;
use super::words::fate_words;
use motefall_figures::calibration::Calibration;
use motefall_figures::knobs::Knobs;
use motefall_figures::{Budget, DROPLET_STAGES, FigureRow, Prediction};
use std::borrow::Cow;

/// Cell of a number; empty if it is not one.
pub(super) fn cell(value: f64) -> String {
    if value.is_finite() { tidy(value).to_string() } else { String::new() }
}

pub(super) fn optional(value: Option<f64>) -> String {
    value.map_or_else(String::new, cell)
}

/// A table of rows. Every table with names from the scenario is made here.
pub(super) fn table(rows: impl Iterator<Item = Vec<String>>) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.iter().map(|cell| as_text(cell).into_owned()))?;
    }
    writer.into_inner().map_err(|e| csv::Error::from(std::io::Error::other(e.to_string())))
}

/// A cell that no spreadsheet takes for a formula.
fn as_text(cell: &str) -> Cow<'_, str> {
    // A line break or a tab at the beginning is passed over, and so are spaces.
    let begins_formula = cell.trim_start().starts_with(['=', '+', '-', '@']);
    let begins_oddly = cell.starts_with(['\t', '\r', '\n']);
    let is_number = || cell.parse::<f64>().is_ok_and(f64::is_finite);
    if begins_oddly || (begins_formula && !is_number()) { Cow::Owned(format!("'{cell}")) } else { Cow::Borrowed(cell) }
}

fn header(columns: &[&str]) -> Vec<String> {
    columns.iter().map(|c| (*c).to_string()).collect()
}

/// `figures.csv`: every figure at every place, in the unit of its row. Extremes of a print have `median` and `largest` of the prints besides.
pub(crate) fn figures(p: &Prediction) -> Result<Vec<u8>, csv::Error> {
    let head = header(&[
        "figure",
        "name",
        "place",
        "mean",
        "low_95",
        "high_95",
        "sd_between_prints",
        "prints",
        "unit",
        "note",
        "p5",
        "p50",
        "p95",
        "tolerance_low",
        "tolerance_high",
        "tolerance_basis",
        "resolution_um",
        "lower_bound_prints",
        "median",
        "largest",
        "tolerance_content_percent",
        "expected",
        "sd_unknown",
        "control_variate_mean",
        "control_variate_low_95",
        "control_variate_high_95",
        "variance_saved_percent",
    ]);
    table(std::iter::once(head).chain(p.figures.iter().map(|row| {
        let scale = row.kind.per_si;
        let e = row.estimate;
        let percentiles = row.distribution.as_ref().map(|d| d.percentiles);
        let tolerance = row.distribution.as_ref().map(|d| d.tolerance);
        vec![
            row.kind.id.into(),
            row.kind.label.into(),
            row.place.clone().unwrap_or_default(),
            optional(e.map(|e| e.mean * scale)),
            optional(e.and_then(|e| e.interval).map(|i| i[0] * scale)),
            optional(e.and_then(|e| e.interval).map(|i| i[1] * scale)),
            optional(e.and_then(|e| e.sd).map(|s| s * scale)),
            e.map_or_else(String::new, |e| e.n.to_string()),
            row.kind.unit.into(),
            row.note.clone().unwrap_or_default(),
            optional(percentiles.map(|q| q[0] * scale)),
            optional(percentiles.map(|q| q[1] * scale)),
            optional(percentiles.map(|q| q[2] * scale)),
            optional(tolerance.map(|t| t.interval[0] * scale)),
            optional(tolerance.map(|t| t.interval[1] * scale)),
            tolerance.map_or_else(String::new, |t| differences::basis(&t).into()),
            optional(row.kind.is_of_squares().then_some(p.inputs.map.resolution * 1e6)),
            e.map_or_else(String::new, |e| e.at_least.to_string()),
            optional(e.and_then(|e| e.extremes).map(|e| e[0] * scale)),
            optional(e.and_then(|e| e.extremes).map(|e| e[1] * scale)),
            optional(tolerance.map(|t| t.content * 100.0)),
            optional(row.expected.as_ref().map(|expected| expected.mean * scale)),
            optional(row.from_unknown.map(|sd| sd * scale)),
            optional(row.controlled.map(|c| c.mean * scale)),
            optional(row.controlled.map(|c| c.interval[0] * scale)),
            optional(row.controlled.map(|c| c.interval[1] * scale)),
            optional(row.controlled.map(|c| c.saved * 100.0)),
        ]
    })))
}

/// `prints.csv`: one row a print: the drawn deviations, then every figure that belongs to single prints.
pub(crate) fn prints(p: &Prediction) -> Result<Vec<u8>, csv::Error> {
    // What is the same in every print has no distribution.
    let constant = |row: &FigureRow| row.estimate.filter(|e| e.sd == Some(0.0) && e.n == p.verdict.n).map(|e| e.mean);
    let rows: Vec<&FigureRow> =
        p.figures.iter().filter(|row| row.distribution.is_some() || constant(row).is_some()).collect();
    let mut head = header(&["print"]);
    head.extend(p.draws.inputs.iter().map(|input| input.key(&p.inputs.layers)));
    head.extend(rows.iter().map(|row| match &row.place {
        Some(place) => format!("{} [{place}]", row.kind.id),
        None => row.kind.id.into(),
    }));
    let line = |print: usize| {
        let mut cells = vec![(print + 1).to_string()];
        let drawn = p.draws.per_print.get(print);
        cells.extend(p.draws.inputs.iter().enumerate().map(|(k, input)| {
            optional(drawn.and_then(|d| d.get(k)).map(|deviation| deviation * input.input.per_si()))
        }));
        cells.extend(rows.iter().map(|row| {
            let own = row.distribution.as_ref().and_then(|d| d.values.get(print)).copied();
            optional(own.or(constant(row)).map(|value| value * row.kind.per_si))
        }));
        cells
    };
    table(std::iter::once(head).chain((0..p.verdict.n as usize).map(line)))
}

/// `importance.csv`: which share of a figure's variance between prints each varied input explains.
pub(crate) fn importance(p: &Prediction) -> Result<Vec<u8>, csv::Error> {
    let mut rows =
        vec![header(&["figure", "place", "input", "name", "share_percent", "low_95", "high_95", "direction"])];
    for row in &p.figures {
        let Some(distribution) = &row.distribution else { continue };
        let mut add = |input: &str, name: &str, share: [f64; 3], direction: &str| {
            let mut cells = vec![row.kind.id.into(), row.place.clone().unwrap_or_default(), input.into(), name.into()];
            cells.extend(share.map(|s| cell(s * 100.0)));
            cells.push(direction.into());
            rows.push(cells);
        };
        for effect in &distribution.explained {
            let layers = &p.inputs.layers;
            add(&effect.input.key(layers), &effect.input.label(layers), effect.share, differences::direction(effect));
        }
        if let Some(share) = distribution.unexplained {
            add("unexplained", "chance within the print and interplay", share, "");
        }
    }
    table(rows.into_iter())
}

/// `knobs.csv`: by how much a figure grows per unit of each setting, the power of it that it follows, and what more of the setting does to it.
pub(crate) fn knobs(knobs: &Knobs) -> Result<Vec<u8>, csv::Error> {
    let head = header(&[
        "figure",
        "place",
        "setting",
        "unit",
        "value",
        "unverified",
        "per_unit",
        "power",
        "more",
        "change_percent",
    ]);
    let sure = knobs.expected.figures.iter().enumerate().filter(|(_, row)| super::knobs::is_sure(row));
    let rows = sure.flat_map(|(k, row)| {
        knobs.effects.iter().filter_map(move |effect| {
            let per_unit = effect.slopes[k]? * row.kind.per_si;
            let mean = row.value.as_ref().map_or(0.0, |value| value.mean);
            Some(vec![
                row.kind.id.to_owned(),
                row.place.clone().unwrap_or_default(),
                effect.key.clone(),
                effect.unit.to_owned(),
                cell(effect.value),
                effect.is_unverified.to_string(),
                cell(per_unit),
                effect.powers[k].map_or(String::new(), cell),
                cell(effect.more),
                super::knobs::change(effect, k, mean).map_or(String::new(), |change| cell(100.0 * change)),
            ])
        })
    });
    table(std::iter::once(head).chain(rows))
}

/// `lines.csv` of a calibration: what was measured, and what the model gives before and after.
pub(crate) fn calibration(calibration: &Calibration) -> Result<Vec<u8>, csv::Error> {
    let head = header(&[
        "line",
        "quantity",
        "unit",
        "measured",
        "measured_sd",
        "as_set",
        "calibrated",
        "calibrated_sd",
        "off_by",
        "off_by_left_out",
        "held_out",
    ]);
    let rows = calibration.values.iter().map(|value| {
        let shown = |si: f64| cell(si * value.quantity.per_si);
        vec![
            value.line.clone(),
            value.quantity.label.to_owned(),
            value.quantity.unit.to_owned(),
            shown(value.measured[0]),
            shown(value.measured[1]),
            shown(value.before),
            shown(value.after[0]),
            shown(value.after[1]),
            cell(value.distance),
            optional(value.left_out),
            if value.is_held_out { "yes" } else { "" }.to_owned(),
        ]
    });
    table(std::iter::once(head).chain(rows))
}

/// `budget.csv`: where droplets, particles and solids went; the first row is what left the vial, the others add up to it. A print of
/// layers has a first column for them: empty for the whole print, then each layer.
pub(crate) fn budget(p: &Prediction, slugs: &[String]) -> Result<Vec<u8>, csv::Error> {
    let mut head = header(&["fate", "region", "droplets", "solids_percent"]);
    if p.inputs.is_layered() {
        head.insert(0, "layer".into());
    }
    head.extend(slugs.iter().map(|s| format!("particles_{s}")));
    head.extend(slugs.iter().map(|s| format!("mass_pg_{s}")));
    // Without layers that have names there is one budget; otherwise that of the whole print first, then each layer's.
    let parts = p.inputs.layers.iter().zip(&p.layers).map(|(layer, part)| (layer.name.as_str(), &part.budget));
    let budgets: Vec<_> = std::iter::once(("", &p.budget)).chain(parts.filter(|(name, _)| !name.is_empty())).collect();
    let lines = budgets.iter().flat_map(|(name, budget)| {
        budget_lines(budget).into_iter().map(|mut cells| {
            if p.inputs.is_layered() {
                cells.insert(0, (*name).into());
            }
            cells
        })
    });
    table(std::iter::once(head).chain(lines))
}

/// The rows of one budget, the first being what left the vial.
fn budget_lines(budget: &Budget) -> Vec<Vec<String>> {
    let all: f64 = budget.mass.iter().sum();
    let row = |fate: String, region: String, droplets: u64, particles: &[u64], mass: &[f64]| {
        let share = if all > 0.0 { mass.iter().sum::<f64>() / all * 100.0 } else { f64::NAN };
        let mut cells = vec![fate, region, droplets.to_string(), cell(share)];
        cells.extend(particles.iter().map(u64::to_string));
        cells.extend(mass.iter().map(|m| cell(m * 1e15)));
        cells
    };
    let first = row("left the vial".into(), String::new(), budget.droplets, &budget.particles, &budget.mass);
    let rows = budget.rows.iter().map(|r| {
        let (fate, region) = fate_words(&r.fate);
        row(fate.into(), region.unwrap_or_default().into(), r.droplets, &r.particles, &r.mass)
    });
    std::iter::once(first).chain(rows).collect()
}

/// `sizes.csv`, long: droplets by stage, then each powder as received (shares) and as printed (counts and shares).
pub(crate) fn sizes(p: &Prediction) -> Result<Vec<u8>, csv::Error> {
    let layered = p.inputs.is_layered();
    let mut rows = vec![header(&["what", "stage", "lower_um", "upper_um", "count", "share"])];
    let mut add = |what: &str, stage: &str, edges: &[f64], count: Option<&[u64]>, share: &[f64]| {
        for (i, edge) in edges.windows(2).enumerate() {
            rows.push(vec![
                what.into(),
                stage.into(),
                cell(edge[0] * 1e6),
                cell(edge[1] * 1e6),
                count.and_then(|c| c.get(i)).map_or_else(String::new, u64::to_string),
                optional(share.get(i).copied()),
            ]);
        }
    };
    for (layer, droplets) in p.inputs.layers.iter().zip(&p.sizes.droplets) {
        let what = if layered { format!("droplets [{}]", layer.name) } else { "droplets".into() };
        for (stage, counts) in DROPLET_STAGES.iter().zip(droplets) {
            add(&what, stage, &p.sizes.droplet_edges, Some(counts), &shares(counts));
        }
    }
    for (powder, sizes) in p.inputs.powders().into_iter().zip(&p.sizes.powders) {
        let edges = &p.sizes.particle_edges;
        add(&powder.name, "received, by number", edges, None, &sizes.received_number);
        add(&powder.name, "received, by volume", edges, None, &sizes.received_volume);
        add(&powder.name, "printed, by number", edges, Some(&sizes.landed_count), &shares(&sizes.landed_count));
    }
    table(rows.into_iter())
}

/// Counts as shares of their sum; empty if there are none.
pub(crate) fn shares(counts: &[u64]) -> Vec<f64> {
    let total: u64 = counts.iter().sum();
    if total == 0 { vec![] } else { counts.iter().map(|c| *c as f64 / total as f64).collect() }
}

/// `profile.csv`: thickness across each printed item.
pub(crate) fn profile(p: &Prediction, slugs: &[String]) -> Result<Vec<u8>, csv::Error> {
    let mut head = header(&["item", "distance_um"]);
    head.extend(slugs.iter().map(|s| format!("thickness_{s}_nm")));
    head.extend(header(&["thickness_total_nm", "coverage_percent"]));
    let rows = p.profiles.iter().flat_map(|profile| {
        profile.distance.iter().enumerate().map(|(i, distance)| {
            let layers: Vec<f64> = profile.thickness.iter().map(|t| t.get(i).copied().unwrap_or(f64::NAN)).collect();
            let mut cells = vec![profile.item.clone(), cell(distance * 1e6)];
            cells.extend(layers.iter().map(|t| cell(t * 1e9)));
            cells.push(cell(layers.iter().sum::<f64>() * 1e9));
            cells.push(optional(profile.coverage.get(i).map(|c| c * 100.0)));
            cells
        })
    });
    table(std::iter::once(head).chain(rows))
}

/// `landing.csv`: landing radius and fate against droplet diameter at the nozzle exit; layers by their first column.
pub(crate) fn landing(p: &Prediction) -> Result<Vec<u8>, csv::Error> {
    let head = header(&[
        "diameter_um",
        "landed_percent",
        "radius_p5_um",
        "radius_p50_um",
        "radius_p95_um",
        "impact_speed_m_s",
    ]);
    let layered = p.inputs.is_layered();
    let head = if layered { [vec!["layer".to_string()], head].concat() } else { head };
    let parts = p.inputs.layers.iter().zip(&p.layers);
    let points = parts.flat_map(|(layer, part)| part.landing_curve.iter().map(move |point| (layer, point)));
    table(std::iter::once(head).chain(points.map(|(layer, l)| {
        let mut cells = if layered { vec![layer.name.clone()] } else { vec![] };
        cells.extend([cell(l.diameter * 1e6), cell(l.landed * 100.0)]);
        cells.extend(l.radius.iter().map(|r| cell(r * 1e6)));
        cells.push(cell(l.impact_speed));
        cells
    })))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_no_formulas_and_numbers_stay_numbers() {
        for text in
            ["=1+1", "+cmd", "-a", "@sum", "\tx", "\r=x", " =x", "-inf", "=HYPERLINK(\"http://a\",\"b\")", "-", "--3"]
        {
            assert_eq!(as_text(text), format!("'{text}"));
        }
        for cell in ["", "a", "-3", "+3.5", "-1e-7", "3", "a=b", "pad 1", "\"=x\"", "'=x"] {
            assert_eq!(as_text(cell), cell);
        }
        let written = table([vec!["=a,b".to_string(), "-2".to_string()]].into_iter()).expect("a table");
        assert_eq!(String::from_utf8(written).expect("text"), "\"'=a,b\",-2\n");
    }
}
