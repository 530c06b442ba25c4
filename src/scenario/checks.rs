//! Checks across keys. A value that has a fault of its own is NaN here and trips no check: comparisons with NaN are false.

use super::key::{UM, show_number};
use super::limits;
use super::reader::{Reader, tidy};
use super::sections::{LayerSections, Sections};
use super::units;
use motefall_physics::contours::{Bounds, PairBudget, PolygonFault, polygon_fault};
use motefall_physics::head::drying::equilibrium_pressures;
use motefall_physics::head::profile;
use motefall_physics::inputs::{
    self, GasInputs, Ink, Inputs, Law, Layer, Outline, Powder, PrintCount, Role, Shape, VariedInput,
};
use motefall_physics::jet::exit::LARGEST_MACH;
use motefall_physics::map::compared::Compared;
use motefall_physics::map::grid::{Grid, MOST_MEASURED_PIXELS, MeasuringGrid};
use motefall_physics::map::outline;
use motefall_physics::materials::gas::GasState;
use motefall_physics::units::{StandardFlow, celsius};
use std::collections::HashMap;
use std::f64::consts::PI;

/// Memory that the maps may take, bytes.
pub(crate) const LARGEST_MAP_BYTES: f64 = 2.5e9;
/// Cores counted for memory, each of which collects a map of its own. A computer with more has more memory.
const COUNTED_CORES: usize = 4;
/// Memory of a map pixel: in each core's collection, and in the maps one thickness per powder and what all share, bytes.
fn bytes_per_pixel(powders: usize, cores: usize) -> f64 {
    (cores * (powders + 1) * 8 + powders * 8 + 64) as f64
}
/// Prints above which a run is long.
const MANY_PRINTS: u32 = 1000;
/// Most strokes of a drawn area: a bound on memory.
const MOST_STROKES: f64 = 1e6;
/// Largest gap between 100 % and the sum of the solvents' shares that counts as rounding.
const SHARE_ROUNDING: f64 = 2e-3;
/// Least extent of strokes, m: shorter ones are a slip of the unit.
const SHORTEST: f64 = 2e-7;
/// Largest mass fraction of solids that still flows as an ink; an estimate.
const LARGEST_SOLIDS: f64 = 0.6;

/// No two of a list may bear the same name, in whichever of the sections the list stands.
pub(crate) fn unique_names(parents: &[Reader<'_>], list: &str) {
    let mut named = Vec::new();
    for parent in parents {
        for (i, (name, section)) in parent.names_in(list).into_iter().enumerate() {
            named.push((format!("{}[{}]", parent.full(list), i + 1), name, section));
        }
    }
    let mut first_of: HashMap<&str, &str> = HashMap::new();
    for (place, name, section) in &named {
        let first = *first_of.entry(name).or_insert(place);
        if first != place {
            section.fault(
                "name",
                format!("`{first}` and `{place}` are both named \"{name}\""),
                "same name again",
                "names tell them apart in tables, maps and limits",
                "give one of them another name",
            );
        }
    }
}

/// The shares of the solvents add up to 100 %.
pub(crate) fn solvent_shares(solvents: &[Reader<'_>], fractions: &[f64]) {
    let sum: f64 = fractions.iter().sum();
    if (sum - 1.0).abs() > SHARE_ROUNDING {
        let Some(last) = solvents.last() else { return };
        last.fault(
            "mass_percent",
            format!("the solvents' `mass_percent` add up to {} %, not 100 %", show_number(tidy(sum * 100.0))),
            "the last of them",
            "they are shares of the liquid alone, without the powders",
            "correct one of them",
        );
    }
}

/// The ink is liquid where it is atomised.
pub(crate) fn ink_boils(section: &Reader<'_>, gas: &GasInputs, ink: &Ink) {
    let vapour: f64 = equilibrium_pressures(&ink.solvents, gas.temperature).iter().sum();
    if vapour >= gas.pressure {
        section.fault(
            "temperature_c",
            format!("the ink boils at {} C", show_number(tidy(celsius(gas.temperature)))),
            "too warm for this ink",
            format!(
                "its vapour has {:.0} kPa there, and the gas {} kPa (gas.pressure_kpa)",
                vapour * 1e-3,
                show_number(tidy(gas.pressure * 1e-3))
            ),
            "lower the temperature, or take a solvent that is less volatile",
        );
    }
}

/// The shares of the powders leave an ink that flows.
pub(crate) fn powder_shares(powders: &[Reader<'_>], fractions: &[f64]) {
    let sum: f64 = fractions.iter().sum();
    if sum > LARGEST_SOLIDS {
        let Some(last) = powders.last() else { return };
        last.fault(
            "mass_percent",
            format!("the powders' `mass_percent` add up to {} %", show_number(tidy(sum * 100.0))),
            "the last of them",
            format!("they are shares of the whole ink, and above {} % solids it does not flow", LARGEST_SOLIDS * 100.0),
            "correct one of them",
        );
    }
}

/// Everything that involves more than one section.
pub(crate) fn across(sections: &Sections<'_>, inputs: &Inputs, effort: &PairBudget) {
    for (own, layer) in sections.layers.iter().zip(&inputs.layers) {
        nozzle(&own.head, layer);
        if !sections.spread.is_empty() {
            spread(&sections.spread, inputs, layer);
        }
    }
    same_powders(&sections.layers, inputs);
    let strays = units::wrong_units(sections, inputs);
    let off_chip = |section: &Reader<'_>, key: &str, bounds: Bounds| {
        if !units::is_stray(&strays, section) {
            on_chip(section, key, bounds, inputs);
        }
    };
    for (section, item) in sections.paths().zip(inputs.items()) {
        spacing(section, &item.shape);
        match &item.shape {
            Shape::Polyline(points) if section.has("from_um") && points.len() == 2 => {
                for (key, end) in ["from_um", "to_um"].into_iter().zip(points) {
                    off_chip(section, key, Bounds::around([*end]));
                }
                length(section, "to_um", points);
            }
            Shape::Polyline(points) => {
                off_chip(section, "points_um", Bounds::around(points.iter().copied()));
                length(section, "points_um", points);
            }
            Shape::FilledRectangle { .. } | Shape::FilledDisc { .. } => {
                off_chip(section, "center_um", outline::bounds_of_shape(&item.shape))
            }
            Shape::Dot { .. } => off_chip(section, "at_um", outline::bounds_of_shape(&item.shape)),
            Shape::Filled(_) | Shape::Polylines(_) => off_chip(section, "file", outline::bounds_of_shape(&item.shape)),
        }
    }
    let mut sound = Vec::with_capacity(inputs.regions.len());
    for (section, region) in sections.regions.iter().zip(&inputs.regions) {
        let is_simple = match &region.outline {
            Outline::Area(area) => match area.contours.contours() {
                [] => false,
                [corners] if area.source.is_none() => polygon(section, corners, effort),
                _ => true,
            },
            Outline::Rectangle { .. } | Outline::Disc { .. } => true,
        };
        let bounds = outline::bounds(&region.outline);
        sound.push(is_simple && bounds.low.iter().chain(&bounds.high).all(|v| v.is_finite()));
        let key = ["points_um", "file"].into_iter().find(|key| section.has(key)).unwrap_or("center_um");
        off_chip(section, key, bounds);
    }
    // With shapes of another size, what follows would tell of the same slip again.
    if strays.is_empty() {
        overlaps(&sections.regions, inputs, &sound, effort);
        memory(&sections.map, inputs);
    }
    limits::never_judged(&sections.limits, inputs, effort);
}

/// Powders of the same name are the same powder, in whichever ink.
fn same_powders(sections: &[LayerSections<'_>], inputs: &Inputs) {
    let all = inputs.layers.iter().enumerate().flat_map(|(k, layer)| layer.ink.powders.iter().map(move |p| (k, p)));
    let all: Vec<(usize, &Powder)> = all.collect();
    for (i, (k, powder)) in all.iter().enumerate() {
        let Some((first, other)) = all[..i].iter().find(|(j, other)| j != k && other.name == powder.name) else {
            continue;
        };
        let unlike = |a: f64, b: f64| a != b && !a.is_nan() && !b.is_nan();
        let length = |path: Option<f64>| path.unwrap_or(0.0);
        let different: Vec<&str> = [
            ("density_g_cm3", unlike(powder.density, other.density)),
            ("sizes", powder.sizes != other.sizes),
            ("packing_fraction", unlike(powder.packing_fraction, other.packing_fraction)),
            ("capacity_mah_g", unlike(powder.capacity, other.capacity)),
            ("mean_free_path_nm", unlike(length(powder.mean_free_path), length(other.mean_free_path))),
            ("conducting", powder.conduction != other.conduction),
            ("hazards", powder.hazards != other.hazards),
        ]
        .into_iter()
        .filter_map(|(key, is_different)| is_different.then_some(key))
        .collect();
        if different.is_empty() {
            continue;
        }
        let named = sections[*k].ink.names_in("powder").into_iter().find(|(name, _)| *name == powder.name);
        let Some((_, section)) = named else { continue };
        section.fault(
            "name",
            format!(
                "the powder \"{}\" of layer \"{}\" is not that of layer \"{}\": it differs in {}",
                powder.name,
                inputs.layers[*k].name,
                inputs.layers[*first].name,
                different.join(", ")
            ),
            "same name, another powder",
            "powders of one name are one powder: they share maps, tables and figures",
            "give one of them another name, or both the same properties; only mass_percent may differ from ink to ink",
        );
    }
}

fn nozzle(head: &Reader<'_>, layer: &Layer) {
    let (nozzle, inlet) = (layer.head.nozzle, layer.head.inlet_bore);
    if nozzle >= inlet {
        head.fault(
            "nozzle_um",
            format!(
                "the nozzle ({} µm) is not narrower than the inlet bore ({} mm)",
                show_number(tidy(nozzle * 1e6)),
                show_number(tidy(inlet * 1e3))
            ),
            "wider than the bore before it",
            "the head tapers from `inlet_bore_mm` down to `nozzle_um`",
            "check both: one is in mm, the other in µm",
        );
        return;
    }
    let total = layer.flows.carrier.0 + layer.flows.sheath.0;
    let Some(ExitMach { least, most, words }) = exit_mach(layer, total) else { return };
    if least >= LARGEST_MACH {
        let bore = (nozzle * 1e6 * (most / LARGEST_MACH).sqrt()).ceil();
        let sccm = (total * 60.0 * 1e6 * LARGEST_MACH / most).floor();
        head.fault("nozzle_um", format!("the nozzle chokes: the gas would leave it at {words}, but at most {LARGEST_MACH} is computed"),
            format!("too narrow for {} sccm", show_number(tidy(total * 60.0 * 1e6))),
            "near the speed of sound the gas is compressed and its flow no longer follows the controllers; the model does not cover that",
            format!("use a nozzle above {bore} µm, or lower carrier and sheath together to below {sccm} sccm"));
    }
}

/// Mach number on the axis at the nozzle exit, as far as it is known before the bore is solved: between plug flow, on the axis as fast as
/// on average, and a developed profile, twice as fast.
struct ExitMach {
    least: f64,
    most: f64,
    words: String,
}

/// For a total standard flow (m^3/s).
fn exit_mach(layer: &Layer, total: f64) -> Option<ExitMach> {
    let (temperature, pressure, nozzle) = (layer.head.temperature, layer.gas.pressure, layer.head.nozzle);
    let given = layer.head.plug_blend;
    if [temperature, pressure, total, nozzle, given.unwrap_or(0.0)].iter().any(|v| v.is_nan()) {
        return None;
    }
    let actual = StandardFlow(total).actual(layer.flows.reference, temperature, pressure);
    let mean = actual / (0.25 * PI * nozzle * nozzle);
    let sound_speed = GasState::new(layer.gas.species, temperature, pressure).sound_speed;
    let least = mean / sound_speed * given.map_or(1.0, |blend| profile::speed(0.0, blend));
    let most = given.map_or(2.0 * least, |_| least);
    let words = match given {
        Some(_) => format!("Mach {least:.2} on the axis ({mean:.0} m/s on average)"),
        None => format!("Mach {least:.2} on average ({mean:.0} m/s), and faster on the axis"),
    };
    Some(ExitMach { least, most, words })
}

/// Every print must be possible, even the farthest from what was set.
/// Sections of inputs that differ between prints.
type Parts<'a> = [(VariedInput, Reader<'a>)];

fn part_of<'a, 'b>(parts: &'b Parts<'a>, input: VariedInput) -> &'b Reader<'a> {
    &parts.iter().find(|(own, _)| *own == input).expect("all are there").1
}

fn spread(parts: &Parts<'_>, inputs: &Inputs, layer: &Layer) {
    spread_of_stand_off(parts, inputs, layer);
    spread_of_warm_up(parts, inputs, layer);
    spread_of_solids(parts, inputs, layer);
    spread_of_flows(parts, inputs, layer);
}

fn spread_of_stand_off(parts: &Parts<'_>, inputs: &Inputs, layer: &Layer) {
    if let Some(v) = inputs.spread.iter().find(|v| v.input == VariedInput::StandOff)
        && v.sd > layer.flight.stand_off / 8.0
    {
        let part = part_of(parts, VariedInput::StandOff);
        part.fault(
            "sd_um",
            format!(
                "`{}` is {}, more than an eighth of the stand-off, {} mm",
                part.full("sd_um"),
                UM.show(tidy(UM.of_si(v.sd))),
                show_number(tidy(layer.flight.stand_off * 1e3))
            ),
            "too wide for this stand-off",
            "four standard deviations may take at most half of the stand-off: nearer, the nozzle touches",
            format!(
                "write {} or less, or 0 if it never differs",
                UM.show((UM.of_si(layer.flight.stand_off) / 8.0 * 10.0).floor() / 10.0)
            ),
        );
    }
}

fn spread_of_warm_up(parts: &Parts<'_>, inputs: &Inputs, layer: &Layer) {
    if inputs::farthest(&inputs.spread, VariedInput::WarmUp) > layer.output.warm_up {
        let part = part_of(parts, VariedInput::WarmUp);
        part.fault(
            "sd_s",
            format!(
                "the warm-up of {} s can differ by up to {} s: some prints would begin before the mist",
                show_number(tidy(layer.output.warm_up)),
                show_number(tidy(inputs::farthest(&inputs.spread, VariedInput::WarmUp)))
            ),
            "too wide for this warm-up",
            "the farthest deviation may take at most the whole of `output.warm_up_s`; a normal law reaches four standard deviations",
            format!(
                "write `warm_up = {{ sd_s = {} }}` or less, or 0 if it never differs",
                (layer.output.warm_up / Law::Normal.reach()).floor()
            ),
        );
    }
}

fn spread_of_solids(parts: &Parts<'_>, inputs: &Inputs, layer: &Layer) {
    let solids: f64 = layer.ink.powders.iter().map(|powder| powder.mass_fraction).sum();
    let most_solids = solids * (1.0 + inputs::farthest(&inputs.spread, VariedInput::Solids));
    if solids <= LARGEST_SOLIDS && most_solids > LARGEST_SOLIDS {
        part_of(parts, VariedInput::Solids).fault(
            "sd_percent",
            format!("some prints would have an ink of {:.0} % solids", most_solids * 100.0),
            "too wide for this ink",
            format!(
                "above {} % solids it does not flow; a normal law reaches four standard deviations",
                LARGEST_SOLIDS * 100.0
            ),
            "write a smaller `sd_percent`, or 0 if it never differs",
        );
    }
}

fn spread_of_flows(parts: &Parts<'_>, inputs: &Inputs, layer: &Layer) {
    let flows = layer.flows;
    let (carrier, sheath) =
        (inputs::farthest(&inputs.spread, VariedInput::Carrier), inputs::farthest(&inputs.spread, VariedInput::Sheath));
    let most = flows.carrier.0 * (1.0 + carrier) + flows.sheath.0 * (1.0 + sheath);
    if let (Some(ExitMach { least: set, words: as_set, .. }), Some(ExitMach { least, words, .. })) =
        (exit_mach(layer, flows.carrier.0 + flows.sheath.0), exit_mach(layer, most))
        && set < LARGEST_MACH
        && least >= LARGEST_MACH
        && layer.head.nozzle < layer.head.inlet_bore
    {
        let input = if flows.carrier.0 * carrier > flows.sheath.0 * sheath {
            VariedInput::Carrier
        } else {
            VariedInput::Sheath
        };
        part_of(parts, input).fault(
            "sd_percent",
            format!("the nozzle would choke in some prints: {words}, but at most {LARGEST_MACH} is computed"),
            "too wide for these flows",
            format!("as set, the gas leaves at {as_set}; a normal law reaches four standard deviations"),
            "write a smaller `sd_percent`, lower the flows, or use a wider nozzle",
        );
    }
}

fn spacing(section: &Reader<'_>, shape: &Shape) {
    let (spacing, smaller, what) = match shape {
        Shape::FilledRectangle { spacing, size, .. } => (*spacing, size[0].min(size[1]), "its smaller side"),
        Shape::FilledDisc { spacing, radius, .. } => (*spacing, 2.0 * radius, "its diameter"),
        Shape::Filled(filled) if filled.source.is_some() && (filled.angle + filled.spacing.with(None)).is_finite() => {
            let [_, across] = filled.area.placed(-filled.angle, [0.0; 2]).bounds().size();
            let spacing = filled.spacing.with(None);
            let strokes = across / spacing * filled.area.contours().len() as f64;
            if strokes > MOST_STROKES {
                section.fault(
                    "spacing_um",
                    format!("up to {strokes:.0} strokes would be needed, more than {MOST_STROKES:.0}"),
                    "too fine for this drawing",
                    "each shape is filled line by line",
                    "write a larger `spacing_um`, or divide the drawing into layers",
                );
            }
            // A spacing that was not given may be too wide: then one stroke runs through the middle.
            let most = if section.has("spacing_um") { across } else { f64::INFINITY };
            (spacing, most, "the drawing's extent across the strokes")
        }
        Shape::Filled(_) | Shape::Polylines(_) | Shape::Polyline(_) | Shape::Dot { .. } => return,
    };
    if spacing > smaller {
        let um = |v: f64| UM.show(tidy(UM.of_si(v)));
        section.fault(
            "spacing_um",
            format!("`{}` is {}, more than {what} ({})", section.full("spacing_um"), um(spacing), um(smaller)),
            "wider than the shape",
            "a filled shape is covered by strokes that lie this far apart",
            format!(
                "write less than {}, or print a line instead; if the shape is meant in mm, write it in µm",
                um(smaller)
            ),
        );
    }
}

fn length(section: &Reader<'_>, key: &str, points: &[[f64; 2]]) {
    if let Some(i) = points.windows(2).position(|pair| pair[0] == pair[1]) {
        section.fault(
            key,
            format!("points {} and {} of `{}` are the same", i + 1, i + 2, section.path()),
            "no way to go",
            "a stroke needs a length",
            "move one of them, or print a dot",
        );
    }
    let extent = Bounds::around(points.iter().copied()).size().into_iter().fold(0.0, f64::max);
    if extent > 0.0 && extent < SHORTEST {
        section.fault(
            key,
            format!("`{}` is {:.2} µm long, less than any stage tells", section.path(), extent * 1e6),
            "too short",
            "places on the chip are in µm",
            "write them in µm if they are meant in mm, or print a dot",
        );
    }
}

fn on_chip(section: &Reader<'_>, key: &str, bounds: Bounds, inputs: &Inputs) {
    let half = [0.5 * inputs.chip.width, 0.5 * inputs.chip.height];
    let beyond = bounds.beyond(half);
    // Rounding of the conversion from um, far below anything that can be printed.
    if beyond > 1e-9 {
        section.fault(
            key,
            format!(
                "`{}` reaches {} beyond the edge of the chip",
                section.full(key),
                UM.show((beyond * 1e8).round() / 100.0)
            ),
            "off the chip",
            format!(
                "the chip reaches from {} to {} µm in x and from {} to {} µm in y, with 0 at its centre",
                show_number(tidy(-half[0] * 1e6)),
                show_number(tidy(half[0] * 1e6)),
                show_number(tidy(-half[1] * 1e6)),
                show_number(tidy(half[1] * 1e6))
            ),
            "move it, make it smaller, or make the chip larger",
        );
    }
}

/// Whether the corners of a region are an outline.
fn polygon(section: &Reader<'_>, points: &[[f64; 2]], effort: &PairBudget) -> bool {
    let full = section.full("points_um");
    let (title, advice) = match polygon_fault(points, effort) {
        Ok(None) => return true,
        Ok(Some(PolygonFault::Repeated(i))) => {
            let next = i % points.len() + 1;
            (
                format!("corners {i} and {next} of `{full}` are the same"),
                "remove one; the last corner joins the first by itself",
            )
        }
        Ok(Some(PolygonFault::Crossing(i, j))) => (
            format!("`{full}` crosses itself: the edge from corner {i} meets the edge from corner {j}"),
            "list the corners in the order in which one walks around the area",
        ),
        Err(tangled) => (format!("`{full}`: {tangled}"), UNTANGLE),
    };
    section.fault("points_um", title, "not a simple outline", "the inside of such an outline is not defined", advice);
    false
}

/// What to do about shapes that cannot be checked.
pub(crate) const UNTANGLE: &str = "give fewer corners, or divide the shape into several";

/// Regions other than windows share no area. `sound` tells which have an outline to compare. One overlap is told of each region.
fn overlaps(sections: &[Reader<'_>], inputs: &Inputs, sound: &[bool], effort: &PairBudget) {
    let solid: Vec<(usize, Compared<'_>)> = (0..inputs.regions.len())
        .filter(|&i| inputs.regions[i].role != Role::Window && sound[i])
        .map(|i| (i, Compared::new(&inputs.regions[i].outline)))
        .collect();
    for (n, (j, later)) in solid.iter().enumerate() {
        let found = solid[..n].iter().find_map(|(i, earlier)| match earlier.overlaps(later, effort) {
            Ok(false) => None,
            Ok(true) => Some((i, Ok(()))),
            Err(tangled) => Some((i, Err(tangled))),
        });
        let Some((i, what)) = found else { continue };
        let (a, b) = (&inputs.regions[*i].name, &inputs.regions[*j].name);
        match what {
            Ok(()) => sections[*j].fault(
                "name",
                format!("the regions \"{a}\" and \"{b}\" overlap"),
                format!("overlaps \"{a}\""),
                "a particle must be counted in one region; only windows may lie under others",
                "move or shrink one, or make one a window",
            ),
            Err(tangled) => {
                let title = format!("whether \"{b}\" overlaps \"{a}\": {tangled}");
                let why = "a particle must be counted in one region, so that regions are compared";
                return sections[*j].fault("name", title, "too much to compare", why, UNTANGLE);
            }
        }
    }
}

/// Memory of maps and of what figures are measured on.
fn memory(map: &Reader<'_>, inputs: &Inputs) {
    if inputs.items().next().is_none() && inputs.regions.is_empty() {
        return;
    }
    let finite = |values: &[f64]| values.iter().all(|value| value.is_finite());
    let extent = extent_of(inputs).is_some_and(|e| finite(&e.low) && finite(&e.high));
    if !extent || !finite(&[inputs.map.pitch, inputs.map.margin, inputs.map.resolution]) {
        return;
    }
    let round_up = |value: f64| {
        let digits = 10f64.powf(1.0 - value.log10().floor());
        show_number(tidy((value * digits).ceil() / digits))
    };
    let (squares, coarsest) = MeasuringGrid::squares_needed(inputs);
    if squares > MOST_MEASURED_PIXELS {
        map.fault(
            "resolution_um",
            format!(
                "figures at this resolution take {:.0} million squares, more than {:.0} million",
                squares * 1e-6,
                MOST_MEASURED_PIXELS * 1e-6
            ),
            "too fine for this area",
            "regions and path are covered with squares of this edge, over which thickness is averaged",
            format!("write `resolution_um = {}` or more, or lessen the area", round_up(UM.of_si(coarsest))),
        );
    }
    let grid = Grid::of_maps(inputs);
    let powders = inputs.powders().len();
    let bytes = grid.pixels() * bytes_per_pixel(powders, COUNTED_CORES);
    if bytes > LARGEST_MAP_BYTES {
        let fits = UM.of_si(inputs.map.pitch) * (bytes / LARGEST_MAP_BYTES).sqrt();
        map.fault(
            "pitch_um",
            format!(
                "maps of {} x {} pixels need {:.1} GB of memory, more than {:.1} GB",
                grid.columns,
                grid.rows,
                bytes / 1e9,
                LARGEST_MAP_BYTES / 1e9
            ),
            "too fine for this area",
            format!(
                "they cover all regions and the path with a margin: {:.0} x {:.0} µm",
                grid.columns as f64 * grid.pitch * 1e6,
                grid.rows as f64 * grid.pitch * 1e6
            ),
            format!("write `pitch_um = {}` or more, or lessen the area or `margin_um`", round_up(fits)),
        );
    }
}

fn extent_of(inputs: &Inputs) -> Option<Bounds> {
    let regions = inputs.regions.iter().map(|region| outline::bounds(&region.outline));
    regions.chain(inputs.items().map(|item| outline::bounds_of_shape(&item.shape))).reduce(Bounds::and)
}

/// What a very long run takes.
pub(crate) fn many_prints(prints: PrintCount) -> Option<String> {
    match prints {
        PrintCount::Fixed(prints) if prints > MANY_PRINTS => Some(format!(
            "{prints} prints: a chip print takes some hundredths of a second to some tenths and a few kilobytes each. Stop when you like: \
             what was printed is kept"
        )),
        _ => None,
    }
}

/// Remarks about inputs that are allowed and unusual.
pub(crate) fn notes(inputs: &Inputs) -> Vec<String> {
    let mut notes = Vec::new();
    for layer in inputs.layers.iter().filter(|layer| layer.flows.sheath.0 == 0.0) {
        let of = if layer.name.is_empty() { String::new() } else { format!("in layer \"{}\" ", layer.name) };
        notes.push(format!(
            "{of}flow.sheath_sccm is 0: nothing focuses the mist, and it touches the wall of the nozzle"
        ));
    }
    if !inputs.regions.iter().any(|region| region.role.is_printed()) {
        notes.push("no region has the role \"target\": everything that lands counts as overspray".to_owned());
    }
    if inputs.acceptance.limits.is_empty() {
        notes.push("no acceptance limits: the run predicts, but does not decide".to_owned());
    }
    if let Some(remark) = many_prints(inputs.prints) {
        notes.push(remark);
    }
    if !inputs.acceptance.limits.is_empty() && inputs.prints == PrintCount::Fixed(1) {
        notes.push("prints is 1: one print says little about the share of prints that meet the limits".to_owned());
    }
    notes
}
