//! From a parsed file to [`Inputs`]: section by section, then the checks across keys.

use super::checks::{self, LayerSections, Sections};
use super::drawn::Drawings;
use super::faults::did_you_mean;
use super::hazards::hazards_of;
use super::keys::{
    BEAD_RULES, FLIGHT_MODELS, GASES, HAZARDS, LAND_ADVICE, LANDING_METHODS, LAWS, ROLES, SPREAD, SPREAD_RULES, UM,
    USUAL_RATES, VARIED, WEIGHTINGS, sd_key,
};
use super::reader::{Reader, tidy};
use super::room::room;
use super::side_files::SideFiles;
use super::sizes_csv;
use crate::contours::Effort;
use crate::figures::{KINDS, Scope, kinds};
use crate::inputs::{
    Acceptance, Atomiser, Beam, BeamLayer, Bounce, Cell, Chip, Conduction, DropletMedian, Flight, Flows, GasInputs,
    Head, Ink, Inputs, Landing, Layer, Limit, MapInputs, Outline, OutputDrift, PathItem, Powder, PrintCount, Region,
    Shape, SolventPart, Stage, TubePiece, Variation, VariedInput,
};
use crate::jet::profile;
use crate::materials::beam;
use crate::materials::hazards::of_solvent;
use crate::materials::sizes::{LognormalMode, SizeDistribution};
use crate::materials::solvent::{Solvent, USUAL_VAPOUR_HEAT_CAPACITY};
use crate::units::{FlowReference, StandardFlow, celsius};

/// Builds the inputs and remarks on them. They are of use only if the reader's collector has no faults: parts that could
/// not be built are left out. The assumed values are in the collector, too.
pub fn build(root: &Reader<'_>, files: &SideFiles) -> (Inputs, Vec<String>) {
    let given = root.layers();
    if given.is_some() && root.has("path") {
        root.fault(
            "path",
            "`path` at the top of the file stands beside `layer`",
            "of which layer?",
            "in a print of layers every path belongs to one of them",
            "move it below its layer, under the header [[layer.path]]",
        );
    }
    // Without layers the whole file is the only one.
    let parts = given.unwrap_or_else(|| vec![root.clone()]);
    let begun: Vec<(GasInputs, Flows, Ink, LayerSections<'_>)> =
        parts.iter().map(|part| begin_layer(part, files)).collect();
    let map_section = root.table("map");
    let (begun, layer_sections): (Vec<_>, Vec<_>) = begun
        .into_iter()
        .zip(&parts)
        .map(|((gas, flows, ink, sections), part)| {
            ((gas, flows, ink), LayerSections { paths: part.tables("path"), ..sections })
        })
        .unzip();
    let acceptance_section = root.table("acceptance");
    let sections = Sections {
        layers: layer_sections,
        map: map_section,
        regions: root.tables("region"),
        limits: acceptance_section.tables("limit"),
        spread: root.optional_table("spread").map_or_else(Vec::new, |spread| spread_parts(&spread)),
    };
    let effort = Effort::default();
    let drawings = Drawings::new(files, &effort);
    checks::unique_names(&parts, "path");
    checks::unique_names(std::slice::from_ref(root), "layer");
    checks::unique_names(std::slice::from_ref(root), "region");
    let mut inputs = Inputs {
        name: root.text("name"),
        note: root.text("note"),
        seed: root.integer("seed").unwrap_or_default(),
        layers: begun
            .into_iter()
            .zip(parts.iter().zip(&sections.layers))
            .map(|((gas, flows, ink), (part, sections))| layer(part, sections, &drawings, gas, flows, ink))
            .collect(),
        chip: chip(&root.table("chip")),
        regions: sections.regions.iter().map(|part| region(part, &drawings)).collect(),
        map: map(&sections.map),
        beam: beam_section(&root.table("beam")),
        cell: cell(&root.table("cell")),
        acceptance: acceptance(&acceptance_section, &sections.limits, root, &parts),
        prints: root.integer("prints").map_or(PrintCount::Automatic, |n| PrintCount::Fixed(n as u32)),
        droplet_budget: root.number("droplet_budget"),
        spread: sections
            .spread
            .iter()
            .zip(VARIED)
            .map(|(part, input)| variation(part, input))
            .filter(|v| v.sd != 0.0)
            .collect(),
        unverified: Vec::new(),
    };
    inputs.acceptance.imply(&inputs.regions);
    checks::across(&sections, &inputs, &effort);
    room(&sections, root, &inputs);
    let mut notes = checks::notes(&inputs);
    notes.extend(drawings.notes());
    (inputs, notes)
}

/// Gas, flows and ink of a layer, and its sections without the path.
fn begin_layer<'a>(part: &Reader<'a>, files: &SideFiles) -> (GasInputs, Flows, Ink, LayerSections<'a>) {
    let (gas_section, flow) = (part.table("gas"), part.table("flow"));
    let gas = gas(&gas_section);
    let flows = Flows {
        carrier: StandardFlow(flow.number("carrier_sccm")),
        sheath: StandardFlow(flow.number("sheath_sccm")),
        reference: FlowReference::at_celsius(celsius(gas_section.number("flow_reference_c"))),
    };
    let ink_section = part.table("ink");
    let ink = ink(&ink_section, gas.temperature, files);
    checks::ink_boils(&gas_section, &gas, &ink);
    (gas, flows, ink, LayerSections { head: part.table("head"), ink: ink_section, paths: Vec::new() })
}

fn layer(
    part: &Reader<'_>,
    sections: &LayerSections<'_>,
    drawings: &Drawings<'_>,
    gas: GasInputs,
    flows: Flows,
    ink: Ink,
) -> Layer {
    let gas_temperature = gas.temperature;
    let head = head(&sections.head, gas_temperature);
    let spacing = usual_spacing(&flows, &head);
    let named = part.section().key("pause_s").is_some();
    Layer {
        name: if named { part.text("name") } else { String::new() },
        pause: if named { part.number("pause_s") } else { 0.0 },
        head,
        gas,
        flows,
        ink,
        atomiser: atomiser(&part.table("atomiser")),
        tube: part.tables("tube").iter().map(tube_piece).collect(),
        flight: flight(&part.table("flight")),
        landing: landing(&part.table("landing"), gas_temperature),
        stage: stage(&part.table("stage")),
        output: output(&part.table("output")),
        path: sections.paths.iter().map(|item| path_item(item, drawings, spacing)).collect(),
    }
}

fn gas(gas: &Reader<'_>) -> GasInputs {
    GasInputs {
        species: gas.choice("kind", &GASES),
        temperature: gas.number("temperature_c"),
        pressure: gas.number("pressure_kpa"),
        carrier_saturation: gas.number("carrier_saturation"),
        sheath_saturation: gas.number("sheath_saturation"),
    }
}

fn ink(ink: &Reader<'_>, temperature: f64, files: &SideFiles) -> Ink {
    let (solvents, powders) = (ink.tables("solvent"), ink.tables("powder"));
    let shares = |parts: &[Reader<'_>]| -> Vec<f64> { parts.iter().map(|part| part.number("mass_percent")).collect() };
    let (liquid, solids) = (shares(&solvents), shares(&powders));
    checks::unique_names(std::slice::from_ref(ink), "solvent");
    checks::unique_names(std::slice::from_ref(ink), "powder");
    checks::solvent_shares(&solvents, &liquid);
    checks::powder_shares(&powders, &solids);
    let total: f64 = liquid.iter().sum();
    let part = |(part, share): (&Reader<'_>, &f64)| {
        solvent(part, temperature).map(|solvent| SolventPart { mass_fraction: share / total, solvent })
    };
    Ink {
        solvents: solvents.iter().zip(&liquid).filter_map(part).collect(),
        powders: powders.iter().zip(solids).filter_map(|(part, share)| powder(part, share, files)).collect(),
    }
}

/// Properties without which an unknown solvent cannot be used.
pub(super) const SOLVENT_PROPERTIES: [&str; 8] = [
    "molar_mass_g_mol",
    "density_g_cm3",
    "viscosity_mpa_s",
    "surface_tension_mn_m",
    "latent_heat_kj_kg",
    "vapour_pressure_pa",
    "vapour_temperature_c",
    "diffusivity_mm2_s",
];

fn solvent(part: &Reader<'_>, temperature: f64) -> Option<Solvent> {
    let name = part.text("name");
    let built_in = if temperature.is_nan() { None } else { Solvent::built_in(&name, temperature) };
    let known = built_in.is_some() || temperature.is_nan() || name.is_empty();
    let missing: Vec<&str> = SOLVENT_PROPERTIES.into_iter().filter(|key| !part.has(key)).collect();
    let flash_point = part.optional("flash_point_c");
    let [
        molar_mass,
        density,
        viscosity,
        surface_tension,
        latent_heat,
        vapour_pressure,
        vapour_temperature,
        diffusivity,
    ] = SOLVENT_PROPERTIES.map(|key| part.optional(key));
    if !known && !missing.is_empty() {
        let names = Solvent::built_in_names().join(", ");
        // A solvent that is known to be another one is no slip of the pen.
        let label = match of_solvent(&name) {
            Some(_) => "not built in".to_owned(),
            None => did_you_mean(&name, Solvent::built_in_names().iter().copied()),
        };
        let hazard = of_solvent(&name).map_or_else(
            || "a name that is nearly the same may be another substance with other hazards".to_owned(),
            |hazard| format!("{name} {}", hazard.why),
        );
        part.fault(
            "name",
            format!("the solvent \"{name}\" is not built in, and its properties are not all given"),
            label,
            format!("built in are: {names}; {hazard}"),
            format!("choose one of these, or add {}", missing.join(", ")),
        );
        return None;
    }
    if vapour_pressure.is_some() != vapour_temperature.is_some() {
        let (given, other) = if vapour_pressure.is_some() {
            ("vapour_pressure_pa", "vapour_temperature_c")
        } else {
            ("vapour_temperature_c", "vapour_pressure_pa")
        };
        part.fault(
            given,
            format!("`{}` is given without `{other}`", part.full(given)),
            "half of a pair",
            "a vapour pressure means nothing without its temperature",
            format!("add `{other}`, or remove `{given}`"),
        );
    }
    let base = built_in.unwrap_or(Solvent {
        name: name.clone(),
        molar_mass: f64::NAN,
        density: f64::NAN,
        viscosity: f64::NAN,
        surface_tension: f64::NAN,
        latent_heat: f64::NAN,
        vapour_pressure: f64::NAN,
        vapour_temperature: f64::NAN,
        vapour_heat_capacity: USUAL_VAPOUR_HEAT_CAPACITY,
        table: None,
        diffusivity: f64::NAN,
        flash_point: None,
        reproductive_toxicity: false,
    });
    Some(Solvent {
        molar_mass: molar_mass.unwrap_or(base.molar_mass),
        density: density.unwrap_or(base.density),
        viscosity: viscosity.unwrap_or(base.viscosity),
        surface_tension: surface_tension.unwrap_or(base.surface_tension),
        latent_heat: latent_heat.unwrap_or(base.latent_heat),
        vapour_pressure: vapour_pressure.unwrap_or(base.vapour_pressure),
        vapour_temperature: vapour_temperature.unwrap_or(base.vapour_temperature),
        diffusivity: diffusivity.unwrap_or(base.diffusivity),
        flash_point: flash_point.or(base.flash_point),
        ..base
    })
}

fn powder(part: &Reader<'_>, mass_fraction: f64, files: &SideFiles) -> Option<Powder> {
    let name = part.text("name");
    let hazards = hazards_of(&name, part.choices("hazards", &HAZARDS));
    let density = part.number("density_g_cm3");
    let (packing_fraction, capacity) = (part.number("packing_fraction"), part.number("capacity_mah_g"));
    let mean_free_path = part.optional("mean_free_path_nm");
    let conduction = if part.flag("conducting") { Conduction::Conducting } else { Conduction::Insulating };
    let sizes = sizes(part, files)?;
    Some(Powder {
        name,
        mass_fraction,
        density,
        sizes,
        packing_fraction,
        capacity,
        mean_free_path,
        conduction,
        hazards,
    })
}

fn sizes(part: &Reader<'_>, files: &SideFiles) -> Option<SizeDistribution> {
    let weighting = part.choice("size_weighting", &WEIGHTINGS);
    let modes = part.has("sizes").then(|| part.tables("sizes"));
    let csv = part.has("size_csv").then(|| part.text("size_csv"));
    match (modes, csv) {
        (Some(modes), None) => {
            let modes: Vec<LognormalMode> = modes
                .iter()
                .map(|mode| LognormalMode {
                    share: mode.number("share"),
                    median: mode.number("median_um"),
                    gsd: mode.number("gsd"),
                    weighting,
                })
                .collect();
            if modes.iter().any(|mode| mode.share.is_nan() || mode.median.is_nan() || mode.gsd.is_nan()) {
                return None;
            }
            let built = SizeDistribution::from_modes(&modes);
            built
                .map_err(|error| {
                    part.fault(
                        "sizes",
                        format!("`{}`: {error}", part.full("sizes")),
                        "not a size distribution",
                        "",
                        "write e.g. `sizes = [{ median_um = 0.4, gsd = 1.8 }]`",
                    )
                })
                .ok()
        }
        (None, Some(file)) => {
            let read = sizes_csv::read(&files.read(&file, sizes_csv::LARGEST_FILE), weighting);
            read.map_err(|error| {
                part.fault("size_csv", format!("\"{file}\": {}", error.what), "this file", error.why, error.advice)
            })
            .ok()
        }
        (modes, csv) => {
            let what = if modes.is_some() && csv.is_some() { "both" } else { "neither" };
            part.fault(
                if csv.is_some() { "size_csv" } else { "name" },
                format!("`{}` has {what} of `sizes` and `size_csv`", part.path()),
                "give one of them",
                "the powder's particle sizes as received are needed once",
                "write e.g. `sizes = [{ median_um = 0.4, gsd = 1.8 }]`, or `size_csv = \"file.csv\"`",
            );
            None
        }
    }
}

fn atomiser(atomiser: &Reader<'_>) -> Atomiser {
    let median = match (atomiser.optional("frequency_mhz"), atomiser.optional("droplet_median_um")) {
        (_, Some(median)) if !atomiser.has("frequency_mhz") => DropletMedian::Measured(median),
        (Some(frequency), None) => DropletMedian::Ultrasonic(frequency),
        (both, _) => {
            let what = if both.is_some() { "both" } else { "neither" };
            if atomiser.is_given() {
                atomiser.fault(
                    "droplet_median_um",
                    format!("`atomiser` has {what} of `frequency_mhz` and `droplet_median_um`"),
                    "give one of them",
                    "the droplet size is either measured or estimated from the ultrasonic frequency",
                    "keep `droplet_median_um` if you measured it, `frequency_mhz` otherwise",
                );
            }
            DropletMedian::Measured(f64::NAN)
        }
    };
    Atomiser {
        median,
        gsd: atomiser.number("droplet_gsd"),
        mist_load: atomiser.number("mist_load_ul_per_l"),
        retention_midpoint: atomiser.number("retention_midpoint"),
        retention_steepness: atomiser.number("retention_steepness"),
    }
}

fn tube_piece(piece: &Reader<'_>) -> TubePiece {
    TubePiece {
        length: piece.number("length_mm"),
        bore: piece.number("bore_mm"),
        inclination: piece.number("inclination_deg"),
        bends: piece.numbers("bends_deg"),
    }
}

fn head(head: &Reader<'_>, gas_temperature: f64) -> Head {
    let (nozzle, half_angle) = (head.number("nozzle_um"), head.number("half_angle_deg"));
    let land = head.optional("land_um").unwrap_or_else(|| {
        head.assume("land_um", UM.show(tidy(UM.from_si(nozzle))), LAND_ADVICE);
        nozzle
    });
    Head {
        temperature: head.optional("temperature_c").unwrap_or(gas_temperature),
        inlet_bore: head.number("inlet_bore_mm"),
        mixing_length: head.number("mixing_length_mm"),
        nozzle,
        half_angle,
        land,
        plug_blend: head.optional("plug_blend"),
    }
}

fn flight(flight: &Reader<'_>) -> Flight {
    Flight {
        stand_off: flight.number("stand_off_mm"),
        model: flight.choice("model", &FLIGHT_MODELS),
        lift_factor: flight.number("lift_factor"),
        landing: flight.choice("landing", &LANDING_METHODS),
    }
}

fn landing(landing: &Reader<'_>, gas_temperature: f64) -> Landing {
    let bounce = landing.optional_table("bounce");
    Landing {
        contact_angle: landing.number("contact_angle_deg"),
        spread: landing.choice("spread", &SPREAD_RULES),
        rim_bias: landing.number("rim_bias"),
        bounce: bounce.map(|b| Bounce { above_speed: b.number("above_m_s"), probability: b.number("probability") }),
        residue_packing: landing.number("residue_packing"),
        bead: landing.choice("bead", &BEAD_RULES),
        chip_temperature: landing.optional("chip_c").unwrap_or(gas_temperature),
    }
}

fn stage(stage: &Reader<'_>) -> Stage {
    Stage {
        acceleration: stage.number("acceleration_m_s2"),
        travel_speed: stage.number("travel_mm_s"),
        shutter_open_delay: stage.number("shutter_open_ms"),
        shutter_close_delay: stage.number("shutter_close_ms"),
        jitter: stage.number("jitter_um"),
        run_up: stage.number("run_up_um"),
    }
}

fn output(output: &Reader<'_>) -> OutputDrift {
    OutputDrift {
        warm_up: output.number("warm_up_s"),
        run_in_time: output.number("run_in_s"),
        run_in_deficit: output.number("run_in_deficit_percent"),
        trend: output.number("trend_percent_per_h"),
        noise_sd: output.number("noise_percent"),
        noise_time: output.number("noise_time_s"),
    }
}

/// The sections of `[spread]` in the order of [`VARIED`], those left out among them.
fn spread_parts<'a>(spread: &Reader<'a>) -> Vec<Reader<'a>> {
    SPREAD.keys.iter().map(|key| spread.table(key.name)).collect()
}

fn variation(part: &Reader<'_>, input: VariedInput) -> Variation {
    let sd = sd_key(part.section());
    Variation { input, law: part.choice("law", &LAWS), sd: part.number(sd) }
}

fn chip(chip: &Reader<'_>) -> Chip {
    Chip { width: chip.number("width_mm"), height: chip.number("height_mm") }
}

fn map(map: &Reader<'_>) -> MapInputs {
    MapInputs {
        resolution: map.number("resolution_um"),
        pitch: map.number("pitch_um"),
        margin: map.number("margin_um"),
        write_particles: map.flag("write_particles"),
    }
}

/// Distance between the strokes of a drawn area, m, before anything is computed and if none is given: half the diameter of the mist core
/// at the nozzle, to 0.01 um.
fn usual_spacing(flows: &Flows, head: &Head) -> f64 {
    let core =
        profile::radius_of_flow(flows.carrier.0 / (flows.carrier.0 + flows.sheath.0), head.plug_blend.unwrap_or(0.0));
    if core.is_nan() { f64::NAN } else { (0.5 * core * head.nozzle * 1e8).round().max(50.0) * 1e-8 }
}

fn path_item(item: &Reader<'_>, drawings: &Drawings<'_>, spacing: f64) -> PathItem {
    let shape = match item.kind() {
        "line" => Shape::Polyline(vec![item.point("from_um"), item.point("to_um")]),
        "polyline" => Shape::Polyline(item.points("points_um")),
        "rectangle" => Shape::FilledRectangle {
            center: item.point("center_um"),
            size: item.point("size_um"),
            rotation: item.number("rotation_deg"),
            spacing: item.number("spacing_um"),
        },
        "disc" => Shape::FilledDisc {
            center: item.point("center_um"),
            radius: item.number("radius_um"),
            spacing: item.number("spacing_um"),
        },
        "drawing" => drawings.path(item, spacing),
        _ => Shape::Dot { at: item.point("at_um"), dwell: item.number("dwell_s") },
    };
    // Dots do not move; any positive speed will do.
    let speed = if matches!(shape, Shape::Dot { .. }) { 1e-3 } else { item.number("speed_mm_s") };
    PathItem { name: item.text("name"), shape, speed, passes: item.integer("passes").unwrap_or(1) as u32 }
}

fn region(region: &Reader<'_>, drawings: &Drawings<'_>) -> Region {
    let outline = match region.kind() {
        "rectangle" => Outline::Rectangle {
            center: region.point("center_um"),
            size: region.point("size_um"),
            rotation: region.number("rotation_deg"),
        },
        "disc" => Outline::Disc { center: region.point("center_um"), radius: region.number("radius_um") },
        "drawing" => drawings.region(region),
        _ => Outline::Polygon(region.points("points_um")),
    };
    Region { name: region.text("name"), role: region.choice("role", &ROLES), outline }
}

fn beam_section(section: &Reader<'_>) -> Beam {
    let voltage = section.number("voltage_kv");
    let layers = section.tables("layer").iter().map(|layer| beam_layer(layer, voltage)).collect();
    Beam { voltage, layers, limit: section.number("limit_mean_free_paths") }
}

fn cell(section: &Reader<'_>) -> Cell {
    let rates = section.numbers("c_rates");
    Cell { rates: if section.has("c_rates") { rates } else { USUAL_RATES.to_vec() } }
}

fn beam_layer(layer: &Reader<'_>, voltage: f64) -> BeamLayer {
    let material = layer.text("material");
    let density = layer.optional("density_g_cm3").or_else(|| beam::built_in_density(&material));
    let measured = layer.optional("mean_free_path_nm");
    let mean_free_path = match (measured, density) {
        (Some(measured), _) => measured,
        (None, Some(density)) if density.is_nan() || voltage.is_nan() => f64::NAN,
        (None, Some(density)) => beam::mean_free_path(density, voltage),
        (None, None) => {
            if !material.is_empty() {
                layer.fault(
                    "material",
                    format!("the layer material \"{material}\" is not built in"),
                    did_you_mean(&material, beam::built_in_materials().iter().copied()),
                    format!("built in are: {}", beam::built_in_materials().join(", ")),
                    "choose one of these, or add `density_g_cm3` or `mean_free_path_nm`",
                );
            }
            f64::NAN
        }
    };
    BeamLayer { material, thickness: layer.number("thickness_nm"), mean_free_path }
}

fn acceptance(section: &Reader<'_>, limits: &[Reader<'_>], root: &Reader<'_>, layers: &[Reader<'_>]) -> Acceptance {
    let regions: Vec<&str> = root.names_in("region").into_iter().map(|(name, _)| name).collect();
    let items: Vec<&str> = layers.iter().flat_map(|part| part.names_in("path")).map(|(name, _)| name).collect();
    Acceptance {
        required_share: section.number("required_share_percent"),
        limits: limits.iter().filter_map(|limit| limit_of(limit, &regions, &items)).collect(),
        implied: 0,
    }
}

fn limit_of(limit: &Reader<'_>, regions: &[&str], items: &[&str]) -> Option<Limit> {
    let figure = limit.text("figure");
    let place = limit.has("place").then(|| limit.text("place"));
    let (min, max) = (limit.optional("min"), limit.optional("max"));
    if figure.is_empty() {
        return None;
    }
    let Some(kind) = kinds::kind(&figure) else {
        let ids = || KINDS.iter().map(|kind| kind.id);
        limit.fault(
            "figure",
            format!("there is no figure \"{figure}\""),
            did_you_mean(&figure, ids()),
            "",
            format!("write one of {}", ids().collect::<Vec<_>>().join(", ")),
        );
        return None;
    };
    let (what, places): (&str, &[&str]) = match kind.scope {
        Scope::Region => ("region", regions),
        Scope::Item => ("path item", items),
        Scope::Print => ("whole print", &[]),
    };
    match (&place, kind.scope) {
        (Some(place), Scope::Print) => limit.fault(
            "place",
            format!("\"{figure}\" is a figure of the whole print, not of \"{place}\""),
            "not needed",
            "",
            "remove `place`",
        ),
        (Some(place), _) if !places.contains(&place.as_str()) => limit.fault(
            "place",
            format!("there is no {what} \"{place}\""),
            did_you_mean(place, places.iter().copied()),
            format!("\"{figure}\" is a figure of one {what}"),
            format!("write the name of a {what}"),
        ),
        (None, Scope::Region | Scope::Item) => limit.fault(
            "figure",
            format!("the limit on \"{figure}\" needs a place"),
            format!("for which {what}?"),
            format!("\"{figure}\" is a figure of one {what}"),
            "add `place = \"...\"`",
        ),
        _ => {}
    }
    match (min, max) {
        (None, None) => limit.fault(
            "figure",
            format!("the limit on \"{figure}\" has neither `min` nor `max`"),
            "limits nothing",
            "",
            format!(
                "add `min = ...` or `max = ...`{}",
                if kind.unit.is_empty() { String::new() } else { format!(", in {}", kind.unit) }
            ),
        ),
        (Some(min), Some(max)) if min > max => limit.fault(
            "min",
            format!("the limit on \"{figure}\" has min {min} {unit} above max {max} {unit}", unit = kind.unit),
            "above max",
            "nothing can meet such a limit",
            "exchange them",
        ),
        _ => {}
    }
    let si = |value: f64| value / kind.per_si;
    Some(Limit { figure: kind.figure, place, min: min.map(si), max: max.map(si) })
}
