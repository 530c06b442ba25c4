//! From a parsed file to [`Inputs`]: section by section, then the checks across keys.
//!
//! Keys that fill a field by themselves are read by the table (`keys`); here is what several of them mean together.

use super::checks;
use super::drawn::Drawings;
use super::faults::did_you_mean;
use super::hazards::hazards_of;
use super::key::{Kind, Need};
use super::keys::{self, VARIED};
use super::memory::room;
use super::reader::Reader;
use super::sections::{LayerSections, Sections};
use super::side_files::SideFiles;
use super::sizes_csv;
use motefall_physics::contours::PairBudget;
use motefall_physics::figure_kinds::{FigureKind, KINDS, Scope, kind as figure_kind};
use motefall_physics::head::profile;
use motefall_physics::inputs::{
    Atomiser, Beam, BeamLayer, DropletMedian, Flows, GasInputs, Head, Ink, Inputs, Layer, Limit, Outline, PathItem,
    Powder, Region, Shape, SolventPart, Variation, VariedInput, implied_limits,
};
use motefall_physics::materials::beam;
use motefall_physics::materials::hazards::of_solvent;
use motefall_physics::materials::sizes::{LognormalMode, SizeDistribution};
use motefall_physics::materials::solvent::{Solvent, USUAL_VAPOUR_HEAT_CAPACITY};
use motefall_physics::units::{FlowReference, celsius};

/// Builds the inputs and remarks on them. They are of use only if the reader's collector has no faults: parts that could
/// not be built are left out. The assumed values are in the collector, too.
pub(crate) fn build(root: &Reader<'_>, files: &SideFiles) -> (Inputs, Vec<String>) {
    let parts = parts(root);
    let begun: Vec<Begun<'_>> = parts.iter().map(|part| begin_layer(part, files)).collect();
    let acceptance_section = root.table("acceptance");
    let sections = Sections {
        map: root.table("map"),
        layers: parts.iter().zip(&begun).map(|(part, begun)| begun.sections(part)).collect(),
        limits: acceptance_section.tables("limit"),
        regions: root.tables("region"),
        spread: root.optional_table("spread").map_or_else(Vec::new, |spread| spread_parts(&spread)),
    };
    let effort = PairBudget::default();
    let drawings = Drawings::new(files, &effort);
    checks::unique_names(&parts, "path");
    checks::unique_names(std::slice::from_ref(root), "layer");
    checks::unique_names(std::slice::from_ref(root), "region");
    let inputs_of = keys::root::read(root);
    let layers = begun.into_iter().zip(parts.iter().zip(&sections.layers));
    let layers = layers.map(|(begun, (part, sections))| layer(part, sections, begun, &drawings)).collect();
    let chip = keys::chip::read(&root.table("chip"));
    let regions: Vec<Region> = sections.regions.iter().map(|part| region(part, &drawings)).collect();
    let limits = limits(&sections.limits, root, &parts);
    let implied = implied_limits(&limits, &regions);
    let acceptance = keys::acceptance::read(&acceptance_section)(
        limits.into_iter().chain(implied.iter().cloned()).collect(),
        implied.len(),
    );
    let inputs = inputs_of(
        layers,
        chip,
        regions,
        keys::map::read(&sections.map),
        beam_section(&root.table("beam")),
        keys::cell::read(&root.table("cell")),
        acceptance,
        sections.spread.iter().zip(VARIED).map(variation).filter(|v| v.sd != 0.0).collect(),
        Vec::new(),
    );
    checks::across(&sections, &inputs, &effort);
    room(&sections, root, &inputs);
    let mut notes = checks::notes(&inputs);
    notes.extend(drawings.notes());
    (inputs, notes)
}

/// The layers; without any, the whole file is the only one.
fn parts<'a>(root: &Reader<'a>) -> Vec<Reader<'a>> {
    let Some(layers) = root.layers() else { return vec![root.clone()] };
    if root.has("path") {
        root.fault(
            "path",
            "`path` at the top of the file stands beside `layer`",
            "of which layer?",
            "in a print of layers every path belongs to one of them",
            "move it below its layer, under the header [[layer.path]]",
        );
    }
    layers
}

/// A layer as far as it can be read before the paths of any other.
struct Begun<'a> {
    gas: GasInputs,
    flows: Flows,
    ink: Ink,
    head_section: Reader<'a>,
    ink_section: Reader<'a>,
}

impl<'a> Begun<'a> {
    fn sections(&self, part: &Reader<'a>) -> LayerSections<'a> {
        LayerSections { head: self.head_section.clone(), ink: self.ink_section.clone(), paths: part.tables("path") }
    }
}

/// Gas, flows and ink of a layer.
fn begin_layer<'a>(part: &Reader<'a>, files: &SideFiles) -> Begun<'a> {
    let (gas_section, flow_section) = (part.table("gas"), part.table("flow"));
    let gas = keys::gas::read(&gas_section);
    let flows_at = keys::flow::read(&flow_section);
    let flows = flows_at(FlowReference::at_celsius(celsius(gas_section.number("flow_reference_c"))));
    let ink_section = part.table("ink");
    let ink = ink(&ink_section, gas.temperature, files);
    checks::ink_boils(&gas_section, &gas, &ink);
    Begun { gas, flows, ink, head_section: part.table("head"), ink_section }
}

fn layer(part: &Reader<'_>, sections: &LayerSections<'_>, begun: Begun<'_>, drawings: &Drawings<'_>) -> Layer {
    let Begun { gas, flows, ink, .. } = begun;
    let gas_temperature = gas.temperature;
    let head = keys::head::read(&sections.head, gas_temperature);
    let spacing = usual_spacing(&flows, &head);
    let (name, pause) = if part.is_layer() { (part.get("name"), part.get("pause_s")) } else { (String::new(), 0.0) };
    Layer {
        name,
        pause,
        head,
        gas,
        flows,
        ink,
        atomiser: atomiser(&part.table("atomiser")),
        tube: part.tables("tube").iter().map(keys::tube::read).collect(),
        flight: keys::flight::read(&part.table("flight")),
        landing: keys::landing::read(&part.table("landing"), gas_temperature),
        stage: keys::stage::read(&part.table("stage")),
        output: keys::output::read(&part.table("output")),
        path: sections.paths.iter().map(|item| path_item(item, drawings, spacing)).collect(),
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
        powders: powders.iter().filter_map(|part| powder(part, files)).collect(),
        settling: ink.optional("settling_percent_per_h"),
    }
}

/// Properties without which an unknown solvent cannot be used.
fn solvent_properties() -> impl Iterator<Item = &'static str> {
    let optional = keys::solvent::TABLE
        .keys
        .iter()
        .filter(|key| matches!((key.kind, key.need), (Kind::Number(_), Need::Optional)));
    optional.map(|key| key.name).filter(|name| *name != "flash_point_c")
}

fn solvent(part: &Reader<'_>, temperature: f64) -> Option<Solvent> {
    let name = part.text("name");
    let built_in = if temperature.is_nan() { None } else { Solvent::built_in(&name, temperature) };
    let is_known = built_in.is_some() || temperature.is_nan() || name.is_empty();
    let base = built_in.unwrap_or_else(|| without_properties(&name));
    let solvent = keys::solvent::read(part, &base)(
        base.name.clone(),
        base.vapour_heat_capacity,
        base.table,
        base.reproductive_toxicity,
    );
    let missing: Vec<&str> = solvent_properties().filter(|key| !part.has(key)).collect();
    if !is_known && !missing.is_empty() {
        unknown_solvent(part, &name, &missing);
        return None;
    }
    let pair = ["vapour_pressure_pa", "vapour_temperature_c"];
    for (given, other) in [(pair[0], pair[1]), (pair[1], pair[0])] {
        if part.has(given) && !part.has(other) {
            part.fault(
                given,
                format!("`{}` is given without `{other}`", part.full(given)),
                "half of a pair",
                "a vapour pressure means nothing without its temperature",
                format!("add `{other}`, or remove `{given}`"),
            );
        }
    }
    Some(solvent)
}

/// A solvent of which only the name is known.
fn without_properties(name: &str) -> Solvent {
    Solvent {
        name: name.to_owned(),
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
    }
}

fn unknown_solvent(part: &Reader<'_>, name: &str, missing: &[&str]) {
    let names = Solvent::built_in_names().join(", ");
    let hazard = of_solvent(name);
    // A solvent that is known to be another one is no slip of the pen.
    let label = match hazard {
        Some(_) => "not built in".to_owned(),
        None => did_you_mean(name, Solvent::built_in_names().iter().copied()),
    };
    let hazard = hazard.map_or_else(
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
}

fn powder(part: &Reader<'_>, files: &SideFiles) -> Option<Powder> {
    let powder_of = keys::powder::read(part);
    let mut powder = powder_of(sizes(part, files)?);
    powder.hazards = hazards_of(&powder.name, powder.hazards);
    Some(powder)
}

fn sizes(part: &Reader<'_>, files: &SideFiles) -> Option<SizeDistribution> {
    let weighting = part.choice("size_weighting");
    let modes = part.has("sizes").then(|| part.tables("sizes"));
    let csv: Option<String> = part.get("size_csv");
    match (modes, csv) {
        (Some(modes), None) => {
            let modes: Vec<LognormalMode> = modes.iter().map(|mode| keys::size::read(mode)(weighting)).collect();
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
    keys::atomiser::read(atomiser)(median)
}

/// The sections of `[spread]`, those left out among them.
fn spread_parts<'a>(spread: &Reader<'a>) -> Vec<(VariedInput, Reader<'a>)> {
    VARIED.iter().map(|part| (part.input, spread.table(part.section.name))).collect()
}

fn variation(((input, section), part): (&(VariedInput, Reader<'_>), &keys::SpreadPart)) -> Variation {
    Variation { input: *input, law: section.get("law"), sd: section.get(part.sd) }
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
        "line" => Shape::Polyline(vec![item.get("from_um"), item.get("to_um")]),
        "polyline" => Shape::Polyline(item.get("points_um")),
        "rectangle" => keys::path_rectangle::read(item),
        "disc" => keys::path_disc::read(item),
        "drawing" => drawings.path(item, spacing),
        _ => keys::path_dot::read(item),
    };
    // Dots do not move; any positive speed will do.
    let speed = if matches!(shape, Shape::Dot { .. }) { 1e-3 } else { item.get("speed_mm_s") };
    PathItem { name: item.get("name"), shape, speed, passes: item.get("passes") }
}

fn region(region: &Reader<'_>, drawings: &Drawings<'_>) -> Region {
    let outline = match region.kind() {
        "rectangle" => keys::region_rectangle::read(region),
        "disc" => keys::region_disc::read(region),
        "drawing" => drawings.region(region),
        _ => Outline::polygon(region.get("points_um")),
    };
    Region { name: region.get("name"), role: region.get("role"), outline }
}

fn beam_section(section: &Reader<'_>) -> Beam {
    let mut beam = keys::beam::read(section)(Vec::new());
    beam.layers = section.tables("layer").iter().map(|layer| beam_layer(layer, beam.voltage)).collect();
    beam
}

fn beam_layer(section: &Reader<'_>, voltage: f64) -> BeamLayer {
    let mut layer = keys::beam_layer::read(section)(f64::NAN);
    let material = layer.material.as_str();
    let density = section.optional("density_g_cm3").or_else(|| beam::built_in_density(material));
    let measured = section.optional("mean_free_path_nm");
    layer.mean_free_path = match (measured, density) {
        (Some(measured), _) => measured,
        (None, Some(density)) if density.is_nan() || voltage.is_nan() => f64::NAN,
        (None, Some(density)) => beam::mean_free_path(density, voltage),
        (None, None) => {
            if !material.is_empty() {
                section.fault(
                    "material",
                    format!("the layer material \"{material}\" is not built in"),
                    did_you_mean(material, beam::built_in_materials().iter().copied()),
                    format!("built in are: {}", beam::built_in_materials().join(", ")),
                    "choose one of these, or add `density_g_cm3` or `mean_free_path_nm`",
                );
            }
            f64::NAN
        }
    };
    layer
}

fn limits(sections: &[Reader<'_>], root: &Reader<'_>, layers: &[Reader<'_>]) -> Vec<Limit> {
    let regions: Vec<&str> = root.names_in("region").into_iter().map(|(name, _)| name).collect();
    let items: Vec<&str> = layers.iter().flat_map(|part| part.names_in("path")).map(|(name, _)| name).collect();
    sections.iter().filter_map(|limit| limit_of(limit, &regions, &items)).collect()
}

fn limit_of(limit: &Reader<'_>, regions: &[&str], items: &[&str]) -> Option<Limit> {
    let (figure, place): (String, Option<String>) = (limit.get("figure"), limit.get("place"));
    let (min, max) = (limit.optional("min"), limit.optional("max"));
    if figure.is_empty() {
        return None;
    }
    let Some(kind) = figure_kind(&figure) else {
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
    place_of_limit(limit, kind, place.as_deref(), regions, items);
    range_of_limit(limit, kind, min, max);
    let si = |value: f64| value / kind.per_si;
    Some(Limit { figure: kind.figure, place, min: min.map(si), max: max.map(si) })
}

/// A figure of a region or path item needs its name, one of the whole print none.
fn place_of_limit(limit: &Reader<'_>, kind: &FigureKind, place: Option<&str>, regions: &[&str], items: &[&str]) {
    let figure = kind.id;
    let (what, places): (&str, &[&str]) = match kind.scope {
        Scope::Region => ("region", regions),
        Scope::Item => ("path item", items),
        Scope::Print => ("whole print", &[]),
    };
    match (place, kind.scope) {
        (Some(place), Scope::Print) => limit.fault(
            "place",
            format!("\"{figure}\" is a figure of the whole print, not of \"{place}\""),
            "not needed",
            "",
            "remove `place`",
        ),
        (Some(place), _) if !places.contains(&place) => limit.fault(
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
}

/// A limit needs a least or a largest value, and one that can be met.
fn range_of_limit(limit: &Reader<'_>, kind: &FigureKind, min: Option<f64>, max: Option<f64>) {
    let (figure, unit) = (kind.id, kind.unit);
    match (min, max) {
        (None, None) => limit.fault(
            "figure",
            format!("the limit on \"{figure}\" has neither `min` nor `max`"),
            "limits nothing",
            "",
            format!(
                "add `min = ...` or `max = ...`{}",
                if unit.is_empty() { String::new() } else { format!(", in {unit}") }
            ),
        ),
        (Some(min), Some(max)) if min > max => limit.fault(
            "min",
            format!("the limit on \"{figure}\" has min {min} {unit} above max {max} {unit}"),
            "above max",
            "nothing can meet such a limit",
            "exchange them",
        ),
        _ => {}
    }
}
