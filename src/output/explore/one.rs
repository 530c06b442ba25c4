//! One print: its particles in a window, profiles, sizes, and where the solids went.

use super::figures::cautions;
use super::prints::of_row;
use crate::numbers;
use crate::words::fate_words;
use motefall_figures::{BudgetRow, Fate, Pile, Prediction, Profile};
use serde_json::{Value, json};

/// A part of the chip, m: low x, low y, high x, high y.
pub type Window = [f64; 4];

/// Most particles that are told.
const MOST_PARTICLES: usize = 60_000;

/// What is told of particles: how many lie in a window, and x, y (µm), height of the centre (nm), diameter (nm) and powder of each that is
/// told. Of too many, every so many is told.
pub fn particles(pile: &Pile, window: Option<Window>) -> (Value, Vec<Vec<f32>>) {
    let inside = |[x, y]: [f64; 2]| {
        window.is_none_or(|[low_x, low_y, high_x, high_y]| x >= low_x && x <= high_x && y >= low_y && y <= high_y)
    };
    let all: Vec<_> = pile.iter().filter(|(particle, _)| inside([particle.x, particle.y])).collect();
    let step = all.len().div_ceil(MOST_PARTICLES).max(1);
    let told: Vec<_> = all.iter().step_by(step).collect();
    let column = |of: &dyn Fn(&(&motefall_figures::Particle, f64)) -> f64| -> Vec<f32> {
        told.iter().map(|particle| of(particle) as f32).collect()
    };
    let arrays = vec![
        column(&|(particle, _)| particle.x * 1e6),
        column(&|(particle, _)| particle.y * 1e6),
        column(&|(_, height)| height * 1e9),
        column(&|(particle, _)| particle.diameter * 1e9),
        column(&|(particle, _)| f64::from(particle.powder)),
    ];
    (json!({ "count": all.len(), "shown": told.len(), "are_kept": !pile.is_empty() }), arrays)
}

/// Profiles, sizes, budget and figures of one print.
pub fn print(p: &Prediction) -> Value {
    json!({
        "powders": p.inputs.powders().iter().map(|powder| powder.name.as_str()).collect::<Vec<_>>(),
        "profiles": p.profiles.iter().map(profile).collect::<Vec<_>>(),
        "sizes": { "droplets": droplets(p), "particles": powders(p) },
        "budget": { "groups": budget(p), "text": numbers::mass(p.budget.mass.iter().sum()) },
        "figures": p.figures.iter().map(|row| of_row(&p.inputs, row)).collect::<Vec<_>>(),
        "cautions": cautions(&p.cautions),
    })
}

fn profile(profile: &Profile) -> Value {
    let total = |bin: usize| profile.thickness.iter().map(|powder| powder[bin]).sum::<f64>() * 1e9;
    json!({
        "item": profile.item,
        "across_um": profile.distance.iter().map(|distance| distance * 1e6).collect::<Vec<_>>(),
        "thickness_nm": (0..profile.distance.len()).map(total).collect::<Vec<_>>(),
        "coverage": profile.coverage,
        "length_um": profile.length * 1e6,
    })
}

/// Shares of a histogram in per cent per bin, without empty ends.
fn histogram(name: &str, edges: &[f64], counts: &[f64]) -> Option<Value> {
    let all: f64 = counts.iter().sum();
    let first = counts.iter().position(|count| *count > 0.0).filter(|_| all > 0.0)?;
    let last = counts.iter().rposition(|count| *count > 0.0)?;
    let edges: Vec<f64> = edges[first..=last + 1].iter().map(|edge| edge * 1e6).collect();
    let shares: Vec<f64> = counts[first..=last].iter().map(|count| count / all).collect();
    Some(json!({ "name": name, "edges": edges, "shares": shares }))
}

fn droplets(p: &Prediction) -> Vec<Value> {
    let of_layer = |(k, stages): (usize, &[Vec<u64>; 4])| {
        let layer = &p.inputs.layers[k].name;
        let title = if layer.is_empty() { "Droplets".to_owned() } else { format!("Droplets, {layer}") };
        let stage = |(name, counts): (&&str, &Vec<u64>)| {
            histogram(name, &p.sizes.droplet_edges, &counts.iter().map(|count| *count as f64).collect::<Vec<_>>())
        };
        let stages: Vec<Value> = motefall_figures::sizes::DROPLET_STAGES.iter().zip(stages).filter_map(stage).collect();
        json!({ "title": title, "unit": "µm", "stages": stages })
    };
    p.sizes.droplets.iter().enumerate().map(of_layer).collect()
}

fn powders(p: &Prediction) -> Vec<Value> {
    let of_powder = |(powder, sizes): (_, &motefall_figures::sizes::PowderSizes)| {
        let landed: Vec<f64> = sizes.landed_count.iter().map(|count| *count as f64).collect();
        let edges = &p.sizes.particle_edges;
        let stages: Vec<Value> = [
            histogram("as received, by number", edges, &sizes.received_number),
            histogram("landed, by number", edges, &landed),
        ]
        .into_iter()
        .flatten()
        .collect();
        json!({ "title": powder, "unit": "µm", "stages": stages })
    };
    let names: Vec<String> = p.inputs.powders().iter().map(|powder| powder.name.clone()).collect();
    names.iter().zip(&p.sizes.powders).map(of_powder).collect()
}

/// Where solids may end, in the order of a droplet's way.
const ENDS: [&str; 4] = ["lost in the tube", "lost in the head", "missed the chip", "landed on the chip"];

/// Which of these a fate is.
fn end_of(fate: &Fate) -> usize {
    match fate {
        Fate::TubeSettling | Fate::TubeDiffusion | Fate::TubeBend => 0,
        Fate::HeadWall => 1,
        Fate::Escaped | Fate::Bounced | Fate::OffChip => 2,
        Fate::Region(_) | Fate::Elsewhere => 3,
    }
}

/// Solids of all powders by where they ended, as shares of what left the vial.
fn budget(p: &Prediction) -> Vec<Value> {
    let all: f64 = p.budget.mass.iter().sum();
    let mass = |row: &BudgetRow| row.mass.iter().sum::<f64>();
    let part = |name: &str, mass: f64| json!({ "name": name, "share": if all > 0.0 { mass / all } else { 0.0 }, "text": numbers::mass(mass) });
    let group = |(end, name): (usize, &&str)| {
        let rows: Vec<&BudgetRow> = p.budget.rows.iter().filter(|row| end_of(&row.fate) == end).collect();
        let mut told = part(name, rows.iter().map(|row| mass(row)).sum());
        let row = |row: &&BudgetRow| {
            let name = match &row.fate {
                Fate::Region(region) => region,
                Fate::Elsewhere => "outside every region",
                fate => fate_words(fate).0,
            };
            part(name, mass(row))
        };
        told["rows"] = rows.iter().map(row).collect();
        (!rows.is_empty()).then_some(told)
    };
    ENDS.iter().enumerate().filter_map(group).collect()
}
