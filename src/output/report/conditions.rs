//! What follows from the inputs before any droplet flies.

use super::MOST_COLUMNS;
use crate::numbers;
use crate::page::{self, table};
use maud::{Markup, html};
use motefall_figures::{Conditions, Prediction};
use motefall_physics::inputs::Layer;

/// What follows from the inputs: a list, or a table with a column for each layer.
pub(super) fn section(p: &Prediction) -> Markup {
    let layers: Vec<(&Layer, Vec<(String, String)>)> =
        p.inputs.layers.iter().zip(&p.layers).map(|(layer, part)| (layer, facts(layer, &part.conditions))).collect();
    if let [(_, facts)] = &layers[..] {
        return page::facts("", facts.iter().map(|(name, value)| (name, value)));
    }
    let mut names: Vec<&str> = vec![];
    for (name, _) in layers.iter().flat_map(|(_, facts)| facts) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    html! {
        @for columns in layers.chunks(MOST_COLUMNS) {
            (table(
                "",
                html! { th { "condition" } @for (layer, _) in columns { th class="n" { (layer.name) } } },
                html! { @for name in &names { tr {
                    td { (name) }
                    @for (_, facts) in columns {
                        td class="n" { (facts.iter().find(|(other, _)| other == name).map_or("–", |(_, value)| value)) }
                    }
                } } },
            ))
        }
    }
}

fn facts(layer: &Layer, c: &Conditions) -> Vec<(String, String)> {
    let with = |v: f64, unit: &str| {
        format!("{}{}{unit}", numbers::significant(v, 3), if unit.is_empty() { "" } else { "\u{a0}" })
    };
    let mut facts = vec![
        ("Reynolds number at the nozzle", with(c.reynolds, "")),
        ("Mach number on the axis", with(c.mach, "")),
        ("Stand-off", format!("{} nozzle bores", numbers::significant(c.stand_off_ratio, 3))),
        ("Mean gas speed at the exit", with(c.exit_speed, "m/s")),
        ("Gas speed on the axis at the exit", with(c.centre_speed, "m/s")),
        ("Carrier flow in the head", with(c.carrier_flow * 6e7, "mL/min")),
        ("Sheath flow in the head", with(c.sheath_flow * 6e7, "mL/min")),
        ("Radius of the mist core at the exit", with(c.core_radius * 1e6, "µm")),
        ("Gas density", with(c.gas_density, "kg/m³")),
        ("Gas viscosity", with(c.gas_viscosity * 1e6, "µPa s")),
        ("Mean free path of the gas", with(c.mean_free_path * 1e9, "nm")),
        ("Time in the tube", with(c.tube_time, "s")),
        ("Time in the head, on the axis", with(c.head_time, "s")),
        ("Droplet median at the atomiser, by count", with(c.droplet_median * 1e6, "µm")),
        ("Droplet median at the atomiser, by mass", with(c.droplet_mass_median * 1e6, "µm")),
        ("Mean droplet volume", with(c.droplet_mean_volume * 1e18, "µm³")),
        ("Droplets made per second", with(c.droplet_rate, "")),
        ("Print time with moves", with(c.print_time, "s")),
        ("Time with the shutter open", with(c.open_time, "s")),
        ("Ink used", numbers::ink(c.ink_used)),
        ("Ink density", with(c.ink_density, "kg/m³")),
        ("Liquid left at the exit", numbers::percent(c.liquid_left)),
        ("Saturation at the exit", numbers::percent(c.exit_saturation)),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_string(), value))
    .collect::<Vec<_>>();
    if !layer.name.is_empty() {
        facts.push(("Pause before the layer".into(), with(layer.pause, "s")));
    }
    for (i, powder) in layer.ink.powders.iter().enumerate() {
        if let Some(n) = c.particles_per_droplet.get(i) {
            facts.push((format!("{}: particles per droplet", powder.name), with(*n, "")));
        }
        if let Some(path) = c.powder_mean_free_path.get(i) {
            facts.push((format!("{}: mean free path of the beam", powder.name), with(path * 1e9, "nm")));
        }
    }
    facts
}
