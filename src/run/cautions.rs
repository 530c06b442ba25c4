//! What a result must say when it applies: relations out of range, model limits, unverified inputs, hazards.

use super::beads::{DryingMatters, WetLine};
use super::line_width::{LiftEffect, Tried, WidthDoubts};
use super::ranges::{self, capital};
use super::setting::{LayerSetting, Setting};
use crate::deposit::SPLASH_LIMIT;
use crate::droplet::track::ESCAPE_RADIUS;
use crate::figures::budget::masses;
use crate::figures::cautions::{STOPPED, TOO_MANY_PARTICLES, words};
use crate::figures::electrode_view::{self, BULK_PARTICLES};
use crate::figures::kinds;
use crate::figures::{Bridging, Caution, FigureRow, LimitOutcome, Severity};
use crate::head::drying::STEP_TOLERANCE;
use crate::inputs::{BeadRule, DrawnArea, FlightModel, Inputs, Layer, Outline, PathItem, Role, Shape};
use crate::map::tally::{FateCount, Tally, fate};
use crate::map::{PrintOutcome, outline};
use crate::materials::gas::GasSpecies;
use crate::materials::hazards::{GROUPS, of_solvent};
use crate::path::motion::Timeline;
use crate::units::celsius;

/// Temperature of the chip above which a solvent leaves it much faster than on a bench, K. An estimate.
const WARM: f64 = 313.15;

/// Mach number above which compressibility is not negligible.
const MACH_CAUTION: f64 = 0.3;

/// Share of an item's open path outside of its shape above which the result says so. An estimate.
const SHARE_OUTSIDE: f64 = 0.2;
/// Places at which each piece of motion is looked at, and how far beyond the edge a stroke counts as outside, m.
const PLACES_PER_PIECE: usize = 64;
const EDGE_PLAY: f64 = 0.5e-6;

/// Share of the solids that land below which the result says where they go. An estimate.
const LITTLE: f64 = 0.05;

/// Share of joined active particles below which the result says so. An estimate.
const LOW_JOINED: f64 = 0.5;

/// Limits on a probability that so few prints cannot show to be met, though the share of them meets it.
fn bounds_above_limits(limits: &[LimitOutcome]) -> Vec<Caution> {
    let mut list = Vec::new();
    for outcome in limits {
        let Some(share) = outcome.share.filter(|share| !share.meets(&outcome.limit)) else { continue };
        let Some(needed) = share.prints_to_show(&outcome.limit) else { continue };
        let (limit, [low, high]) = (&outcome.limit, share.bounds);
        let beyond = match (limit.min, limit.max) {
            (_, Some(max)) if high > max => format!("up to {high:.2}, above the limit of {max}"),
            (min, _) => format!("down to {low:.2}, below the limit of {}", min.unwrap_or(0.0)),
        };
        let counted = match share.hits {
            0 => "in none of them".into(),
            hits => format!("in {hits} of them"),
        };
        let place = outcome.limit.place.as_ref().map_or(String::new(), |place| format!(", {place}"));
        list.push(Caution {
            severity: Severity::Caution,
            id: "too-few-prints",
            text: format!(
                "{} prints are too few for the limit on the {}{place}: it happened {counted}, which leaves a probability of {beyond}. Judged is \
                 that bound, at 95 %, so no print counts as accepted. At least {needed} prints are needed if it stays so rare or so frequent \
                 (prints or --prints).",
                share.n, outcome.kind.label,
            ),
        });
    }
    list
}

/// Nozzle diameters over which a free jet stays laminar: 40 below Re 600, 20 near Re 1500, in between by straight line.
///
/// Source: Feng 2019, Aerosol Sci. Technol. 53:45 (two points read; the line between them and beyond is our estimate).
pub fn laminar_length(reynolds: f64) -> f64 {
    let slope = (20.0 - 40.0) / (1500.0 - 600.0);
    (40.0 + slope * (reynolds - 600.0).max(0.0)).clamp(5.0, 40.0)
}

/// All cautions of a prediction, safety first.
/// `doubts`: what line widths would be in each layer with other values of what is not known, if it was worked out.
pub fn cautions(setting: &Setting, outcome: &PrintOutcome, doubts: &[Option<WidthDoubts>]) -> Vec<Caution> {
    let mut list = Vec::new();
    let inputs = setting.inputs;
    let mut layers: Vec<Vec<Caution>> = vec![];
    for (number, layer) in setting.layers.iter().enumerate() {
        let mut own = Vec::new();
        safety(layer.layer, &mut own);
        let doubts = doubts.get(number).and_then(Option::as_ref);
        own.extend(ranges::cautions(layer, inputs));
        physics(layer, !inputs.spread.is_empty(), doubts, &mut own);
        powders(layer, &mut own);
        layers.push(own);
    }
    gather(inputs, layers, &mut list);
    print(setting, outcome, &mut list);
    let inputs = setting.inputs;
    if inputs.beam.layers.is_empty() && inputs.regions.iter().any(|region| region.role == Role::Window) {
        list.push(Caution {
            severity: Severity::Note,
            id: "no-membrane",
            text: "The chip has a window, but no membrane or liquid stands under [[beam.layer]]: depths for the beam are those of the \
                   deposit alone."
                .into(),
        });
    }
    if !setting.inputs.unverified.is_empty() {
        let keys: Vec<&str> = setting.inputs.unverified.iter().map(|u| u.key.as_str()).collect();
        let of_layers = inputs.layers.iter().zip(doubts).filter_map(|(layer, doubts)| {
            let words = nozzle_words(layer, doubts.as_ref()?)?;
            Some(if layer.name.is_empty() { words } else { format!(" Layer \"{}\":{words}", layer.name) })
        });
        list.push(Caution {
            severity: Severity::Caution,
            id: "unverified-defaults",
            text: format!(
                "{} inputs are defaults that nobody has measured here: {}. `motefall check` says how to measure each.{}",
                keys.len(),
                keys.join(", "),
                of_layers.collect::<String>()
            ),
        });
    }
    list.sort_by_key(|caution| std::cmp::Reverse(caution.severity));
    debug_assert!(
        list.iter().all(|caution| words(caution.id).is_some()),
        "each caution has words in figures::cautions"
    );
    list
}

/// Cautions that follow from what all prints gave.
pub fn of_figures(
    inputs: &Inputs,
    figures: &[FigureRow],
    limits: &[LimitOutcome],
    bridging: Option<&Bridging>,
) -> Vec<Caution> {
    let mut list = Vec::new();
    for electrode in electrode_view::electrodes(inputs, figures) {
        if electrode.is_individual() {
            list.push(Caution {
                severity: Severity::Caution,
                id: "few-particles",
                text: format!(
                    "{} holds {:.0} active particles on average. Below about {BULK_PARTICLES:.0} a cell responds particle by particle and \
                     not as a bulk electrode (Kang et al. 2023, ACS Nano 17:21493): compare single particles, not curves.",
                    electrode.region,
                    electrode.active.map_or(0.0, |active| active.mean)
                ),
            });
        }
        if let Some(joined) = electrode.joined.filter(|joined| joined.mean < LOW_JOINED) {
            list.push(Caution {
                severity: Severity::Note,
                id: "not-joined",
                text: format!(
                    "Only {:.0} % of the active particles on {} rest on it or on conducting particles that lead to it. Contacts are those \
                     of grains that stick where they first touch, so this is a low estimate; but the capacity given counts all of them.",
                    100.0 * joined.mean,
                    electrode.region
                ),
            });
        }
    }
    list.extend(keep_outs(inputs, figures));
    list.extend(bounds_above_limits(limits));
    for gap in bridging.iter().flat_map(|bridging| &bridging.gaps).filter(|gap| gap.bridged > 0) {
        list.push(Caution {
            severity: Severity::Caution,
            id: "bridge",
            text: format!(
                "Conducting particles, seen from above, join {} and {} in {} of {} prints: the electrodes may be short-circuited. Heights \
                 are not looked at, so this is a high estimate.",
                gap.between[0],
                gap.between[1],
                gap.bridged,
                bridging.map_or(0, |bridging| bridging.prints)
            ),
        });
    }
    list
}

/// Keep-out regions on which particles land although no limit asks about them.
fn keep_outs(inputs: &Inputs, figures: &[FigureRow]) -> Option<Caution> {
    let limits = &inputs.acceptance.limits;
    let hits: Vec<String> = inputs
        .regions
        .iter()
        .filter(|region| region.role == Role::KeepOut)
        .filter(|region| !limits.iter().any(|limit| limit.place.as_ref() == Some(&region.name)))
        .filter_map(|region| {
            let mean = |id: &str| {
                let row = figures.iter().find(|row| row.kind.id == id && row.place.as_ref() == Some(&region.name))?;
                Some(row.estimate?.mean)
            };
            (mean("particles")? > 0.0).then_some(())?;
            Some(format!("{} in {:.0} % of the prints", region.name, 100.0 * mean("hit_probability")?))
        })
        .collect();
    (!hits.is_empty()).then(|| Caution {
        severity: Severity::Caution,
        id: "keep-out-unlimited",
        text: format!(
            "Particles land on a keep-out region, and nothing is decided because the scenario sets no limits: {}. With any limit set, \
             a print with a particle there does not pass, unless a limit on that region says otherwise.",
            hits.join(", ")
        ),
    })
}

/// The cautions of all layers: what is said of each alike once, the rest with the name of its layer.
fn gather(inputs: &Inputs, layers: Vec<Vec<Caution>>, list: &mut Vec<Caution>) {
    if layers.len() == 1 {
        list.extend(layers.into_iter().flatten());
        return;
    }
    let all = |caution: &Caution| layers.iter().all(|own| own.contains(caution));
    let mut ids: Vec<&str> = vec![];
    for id in layers.iter().flatten().map(|caution| caution.id) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    for id in ids {
        for (layer, own) in inputs.layers.iter().zip(&layers) {
            for caution in own.iter().filter(|caution| caution.id == id) {
                if !all(caution) {
                    let text = format!("Layer \"{}\": {}", layer.name, caution.text);
                    list.push(Caution { text, ..caution.clone() });
                } else if !list.contains(caution) {
                    list.push(caution.clone());
                }
            }
        }
    }
}

fn safety(layer: &Layer, list: &mut Vec<Caution>) {
    let mut say = |id, text: String| list.push(Caution { severity: Severity::Safety, id, text });
    let closing = "Local rules and licensed practice decide.";
    if !layer.ink.powders.is_empty() {
        say(
            "mist-and-powder",
            format!(
                "The mist and the dry powder can be breathed: print in an enclosure with extraction, weigh powders in a glove \
                 bag or hood, and wear what your safety data sheets ask for. {closing}"
            ),
        );
    }
    for group in &GROUPS {
        let with = layer.ink.powders.iter().filter(|powder| powder.hazards.contains(&group.hazard));
        let names: Vec<&str> = with.map(|powder| powder.name.as_str()).collect();
        let why = match names[..] {
            [] => continue,
            [name] if group.why.starts_with(name) => capital(group.why),
            _ => format!("{}: {}", names.join(", "), group.why),
        };
        say(group.hazard.word(), format!("{why}. Keep it wetted or enclosed. {closing}"));
    }
    let gas = match layer.gas.species {
        GasSpecies::Nitrogen => Some("Nitrogen"),
        GasSpecies::Argon => Some("Argon"),
        GasSpecies::Air => None,
    };
    if let Some(gas) = gas {
        say(
            "inert-gas",
            format!(
                "{gas} goes into the room or the enclosure. It displaces air without a smell: in a small closed room or a glove box with \
                 a leak it can suffocate. Ventilate, lead the exhaust away, and have an oxygen alarm where your rules ask for one. \
                 {closing}"
            ),
        );
    }
    let warm = layer.landing.chip_temperature > WARM;
    for part in &layer.ink.solvents {
        let solvent = &part.solvent;
        let toxic = of_solvent(&solvent.name);
        if solvent.reproductive_toxicity {
            say(
                "reproductive-toxicity",
                format!(
                    "The solvent {} may harm the unborn child and passes the skin: gloves and extraction. {closing}",
                    solvent.name
                ),
            );
        } else if let Some(toxic) = toxic {
            say(
                "toxic-solvent",
                format!("The solvent {} {}: gloves and extraction. {closing}", solvent.name, toxic.why),
            );
        }
        if warm && (toxic.is_some() || solvent.reproductive_toxicity || solvent.flash_point.is_some()) {
            say(
                "warm-solvent",
                format!(
                    "The chip at {:.0} C drives off {} as vapour, much faster than at room temperature, right where you look: extraction \
                     at the stage, and no hot spot that could light it. {closing}",
                    celsius(layer.landing.chip_temperature),
                    solvent.name
                ),
            );
        }
        // 60 C: upper flash point of liquids classed as flammable (UN GHS, category 3).
        if let Some(flash) = solvent.flash_point.filter(|flash| celsius(*flash) <= 60.0) {
            say(
                "flammable",
                format!(
                    "The solvent {} is flammable (flash point about {:.0} C) and leaves the printer as vapour: no ignition source near the \
                     exhaust. {closing}",
                    solvent.name,
                    celsius(flash)
                ),
            );
        }
    }
}

fn physics(setting: &LayerSetting<'_>, spread: bool, doubts: Option<&WidthDoubts>, list: &mut Vec<Caution>) {
    let layer = setting.layer;
    let c = &setting.conditions;
    let mut say = |severity, id, text: String| list.push(Caution { severity, id, text });
    if setting.mist.drying_tolerance > STEP_TOLERANCE {
        say(
            Severity::Note,
            "drying-tolerance",
            format!(
                "Drying was too stiff to follow closely; sizes at the nozzle carry a step tolerance of {:.1e}.",
                setting.mist.drying_tolerance
            ),
        );
    }
    if !spread {
        say(
            Severity::Note,
            "chance-only",
            "Prints differ here by chance and by the noise of the mist output alone. Real prints also differ in alignment, flows, \
             stand-off and ink: add a section [spread] to count that in."
                .into(),
        );
    } else if setting.landings.is_some() {
        say(
            Severity::Note,
            "mixed-tables",
            "Landing points of prints with other flows or stand-off are interpolated between solved jets: to 0.3 µm or 1.5 % of the \
             landing radius, save for one or two droplets in 1000 that nearly miss the chip."
                .into(),
        );
    }
    if c.mach > MACH_CAUTION {
        say(
            Severity::Caution,
            "mach",
            format!(
                "The gas leaves the nozzle at Mach {:.2} on the axis. The jet is solved as incompressible, which holds below about 0.3.",
                c.mach
            ),
        );
    }
    match layer.flight.model {
        FlightModel::Straight => say(
            Severity::Caution,
            "straight-flight",
            "Droplets fly straight down from the exit: a check of the arithmetic, not a prediction.".into(),
        ),
        FlightModel::SolvedJet => {
            let length = laminar_length(c.reynolds);
            if c.stand_off_ratio > length {
                say(
                    Severity::Caution,
                    "jet-length",
                    format!(
                        "The stand-off is {:.1} nozzle diameters. At Reynolds number {:.0} the jet stays laminar for about {length:.0}; \
                         beyond that real prints are wider and less sharp than shown.",
                        c.stand_off_ratio, c.reynolds
                    ),
                );
            }
            if c.reynolds > 1500.0 {
                say(
                    Severity::Caution,
                    "reynolds",
                    format!(
                        "Reynolds number {:.0} is above 1500: a real jet of this kind is likely to be unsteady, which the model does not \
                         know.",
                        c.reynolds
                    ),
                );
            }
        }
    }
    if layer.flight.model == FlightModel::SolvedJet {
        let (severity, id) = match layer.flight.lift_factor > 0.0 {
            true => (Severity::Caution, "lift-on"),
            false => (Severity::Note, "lift-off"),
        };
        say(severity, id, lift_words(layer, doubts));
    }
    if setting.flows.head_sheath == 0.0 {
        say(
            Severity::Caution,
            "no-sheath",
            "There is no sheath gas: nothing focuses the mist and nothing keeps it off the nozzle's wall.".into(),
        );
    }
    if let Some(bounce) = layer.landing.bounce {
        say(
            Severity::Caution,
            "bounce",
            format!(
                "Dry grains hitting above {} m/s bounce off with probability {}: an assumption of the scenario.",
                bounce.above_speed, bounce.probability
            ),
        );
    }
    let splash = setting
        .landing_curve
        .iter()
        .filter(|p| p.landed > 0.0 && p.diameter <= setting.droplets.at_deviate(2.0))
        .map(|p| setting.spreading.splash(p.diameter, c.ink_density, p.impact_speed))
        .fold(0.0, f64::max);
    if splash > SPLASH_LIMIT && c.liquid_left > 0.05 {
        say(
            Severity::Caution,
            "splash",
            format!(
                "Large wet droplets hit with a splash parameter of {splash:.0}; above {SPLASH_LIMIT} they may splash and scatter \
                 satellites, which the model does not know."
            ),
        );
    }
    for wet in &setting.beads.wet {
        say(Severity::Caution, "bead", wet_line(wet, layer));
    }
    for nearly in &setting.beads.nearly_wet {
        say(Severity::Caution, "bead-drying", nearly_wet_line(nearly, layer));
    }
    for (item, missed) in layer.path.iter().zip(missed(layer, &setting.timeline)) {
        if missed.share() > SHARE_OUTSIDE || missed.strokes > 0 {
            say(Severity::Caution, "strokes-outside", strokes_outside(item, missed, layer));
        }
    }
    // Entrance length of laminar pipe flow, about 0.06 Re D (Shah & London 1978): half of it taken as the point to speak up.
    let head_reynolds = c.reynolds * layer.head.nozzle / layer.head.inlet_bore;
    let short = layer.head.mixing_length < 0.03 * head_reynolds * layer.head.inlet_bore;
    if short && layer.head.plug_blend.is_none() && setting.flows.core_share() < 1.0 {
        say(
            Severity::Note,
            "entrance-length",
            "The head is short for its flow: how aerosol and sheath come together still shows at the nozzle, and here they are taken to join \
             at one even speed. Lines tell: fit head.plug_blend to one."
                .into(),
        );
    }
}

/// What is known of shear lift at this setting.
fn lift_words(layer: &Layer, doubts: Option<&WidthDoubts>) -> String {
    let factor = layer.flight.lift_factor;
    let state = match factor > 0.0 {
        true => format!("Shear lift acts with a factor of {factor:.2}"),
        false => "Shear lift is off".to_owned(),
    };
    let effect = doubts.and_then(|doubts| doubts.lift.as_ref()).map_or(String::new(), |lift| {
        format!(
            " Here the band that holds 90 % of a dry line's solids is {} µm wide without lift, and {} µm with a factor of {}: it {}.",
            micro(lift.without),
            in_row(&lift.with, " and ", |tried| micro(tried.width)),
            in_row(&lift.with, " and ", |tried| tried.value.to_string()),
            lift_does(lift)
        )
    });
    format!(
        "{state}: no published law is known to hold for droplets in such jets. Whether it narrows or widens a line depends on the setting, \
         because droplets cross the axis.{effect} Fit flight.lift_factor last, to lines at two stand-offs or more, when all else is measured."
    )
}

/// Change of a width, relative, below which nothing is said of its sign: about what these widths may be wrong by. An estimate.
const SLIGHT: f64 = 0.1;

/// What lift does to the width of lines.
fn lift_does(lift: &LiftEffect) -> &'static str {
    let narrows = lift.with.iter().any(|tried| tried.width < lift.without * (1.0 - SLIGHT));
    let widens = lift.with.iter().any(|tried| tried.width > lift.without * (1.0 + SLIGHT));
    match (narrows, widens) {
        (false, false) => "hardly matters for the width of lines",
        (false, true) => "widens lines",
        (true, false) => "narrows lines",
        (true, true) => "narrows lines with one factor and widens them with another",
    }
}

/// How far line widths depend on the shape of the nozzle, where that is assumed.
fn nozzle_words(layer: &Layer, doubts: &WidthDoubts) -> Option<String> {
    let part = |tried: &[Tried], name: &str, unit: &str, set: f64, shown: f64| {
        let values = in_row(tried, " or ", |tried| format!("{:.0}", tried.value * shown));
        let widths = in_row(tried, " or ", |tried| micro(tried.width));
        let set = set * shown;
        let words = format!("; with a {name} of {values} {unit} instead of {set:.0} it would be {widths} µm wide");
        if tried.is_empty() { String::new() } else { words }
    };
    let head = &layer.head;
    let angles = part(&doubts.half_angle, "half angle of the taper", "degrees", head.half_angle, 1f64.to_degrees());
    let lands = part(&doubts.land, "land", "µm", head.land, 1e6);
    (!doubts.half_angle.is_empty() || !doubts.land.is_empty()).then(|| {
        format!(
            " Line widths depend on the shape of the nozzle: the band that holds 90 % of a dry line's solids is {} µm wide here{angles}{lands}.",
            micro(doubts.set)
        )
    })
}

fn micro(length: f64) -> String {
    format!("{:.1}", length * 1e6)
}

/// `a, b and c`.
fn in_row(all: &[Tried], last_joined_by: &str, word: impl Fn(&Tried) -> String) -> String {
    let words: Vec<String> = all.iter().map(word).collect();
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{}{last_joined_by}{last}", rest.join(", ")),
        _ => words.concat(),
    }
}

/// What an item prints outside of its own shape.
#[derive(Debug, Clone, Copy, Default)]
struct Missed {
    /// Length of path with mist on the chip, and of this the part outside, m.
    length: f64,
    outside: f64,
    /// Times that the shutter opens, and of these those without any path inside.
    openings: usize,
    strokes: usize,
}

impl Missed {
    fn share(self) -> f64 {
        if self.length > 0.0 { self.outside / self.length } else { 0.0 }
    }
}

/// For each item: how much of its open path lies outside of its shape. Lines and dots miss nothing.
fn missed(layer: &Layer, timeline: &Timeline) -> Vec<Missed> {
    let shapes: Vec<Option<Outline>> = layer.path.iter().map(|item| filled_shape(&item.shape)).collect();
    let mut all = vec![Missed::default(); layer.path.len()];
    if shapes.iter().all(Option::is_none) {
        return all;
    }
    let delay = layer.stage.shutter_open_delay;
    for [opens, closes] in &timeline.open {
        let number = timeline.stroke_at(0.5 * (opens + closes), delay);
        let Some(item) = timeline.strokes.get(number).map(|stroke| stroke.item) else { continue };
        let Some(shape) = &shapes[item] else { continue };
        let (mut length, mut outside) = (0.0, 0.0);
        let first = timeline.pieces.partition_point(|piece| piece.time + piece.duration <= *opens);
        for piece in timeline.pieces[first..].iter().take_while(|piece| piece.time < *closes) {
            let (from, to) = ((opens - piece.time).max(0.0), (closes - piece.time).min(piece.duration));
            let mut before = piece.at(from);
            for k in 1..=PLACES_PER_PIECE {
                let here = piece.at(from + (to - from) * k as f64 / PLACES_PER_PIECE as f64);
                let step = (here[0] - before[0]).hypot(here[1] - before[1]);
                let middle = [0.5 * (before[0] + here[0]), 0.5 * (before[1] + here[1])];
                length += step;
                // A stroke along the edge itself is not outside.
                outside += if outline::distance(shape, middle) > EDGE_PLAY { step } else { 0.0 };
                before = here;
            }
        }
        let of = &mut all[item];
        (of.length, of.outside, of.openings) = (of.length + length, of.outside + outside, of.openings + 1);
        of.strokes += usize::from(length > 0.0 && outside >= length * (1.0 - 1e-9));
    }
    all
}

/// The area that an item covers with strokes.
fn filled_shape(shape: &Shape) -> Option<Outline> {
    match shape {
        Shape::FilledRectangle { center, size, rotation, .. } => {
            Some(Outline::Rectangle { center: *center, size: *size, rotation: *rotation })
        }
        Shape::FilledDisc { center, radius, .. } => Some(Outline::Disc { center: *center, radius: *radius }),
        Shape::Filled(filled) => Some(Outline::Shape(DrawnArea { contours: filled.area.clone(), source: None })),
        Shape::Polyline(_) | Shape::Polylines(_) | Shape::Dot { .. } => None,
    }
}

/// How far the strokes of an item miss its shape, and what helps.
fn strokes_outside(item: &PathItem, missed: Missed, layer: &Layer) -> String {
    let [open, close] = [layer.stage.shutter_open_delay, layer.stage.shutter_close_delay];
    let none = match missed.strokes {
        0 => String::new(),
        n => format!(", and {n} of {} strokes miss the shape altogether", missed.openings),
    };
    format!(
        "{:.0} % of the path that {} prints with open shutter lies outside of its own shape{none}. The shutter opens {:.0} ms and closes \
         {:.0} ms after the stage asks for it, so strokes begin {:.0} µm late and end {:.0} µm late at {:.1} mm/s; a run-up does not \
         change that. Print slower, take a quicker shutter, lay the strokes along the shape's longer side, or leave the shutter open on \
         turns.",
        100.0 * missed.share(),
        item.name,
        open * 1e3,
        close * 1e3,
        open * item.speed * 1e6,
        close * item.speed * 1e6,
        item.speed * 1e3,
    )
}

/// How a line would run out that holds its liquid only because it dries so fast.
fn nearly_wet_line(nearly: &WetLine, layer: &Layer) -> String {
    format!(
        "{} stays where its mist lands only because its liquid dries under the nozzle and between passes as fast as estimated, which is good \
         to a factor of two. If it dries half as fast, it runs out to a bead of {:.0} µm from edge to edge. Print a test line first; a \
         warmer chip (landing.chip_c, now {:.0} C), more time between passes or a thinner mist is safer. A thin membrane is as cool as the \
         gas that blows on it and dries more slowly than the chip around it.",
        nearly.item,
        nearly.widths.last().copied().unwrap_or(0.0) * 1e6,
        celsius(layer.landing.chip_temperature),
    )
}

/// What a wet line becomes, why, and what keeps it narrow.
fn wet_line(wet: &WetLine, layer: &Layer) -> String {
    let [band, bead] = [wet.band, wet.widths.last().copied().unwrap_or(0.0)].map(|width| width * 1e6);
    let where_it_lands = if wet.lines > 1 { "in which 99 % of its mist lands" } else { "at half height of its mist" };
    let times = |area: f64| {
        let times = area / wet.holds;
        if times < 10.0 { format!("{times:.1}") } else { format!("{times:.0}") }
    };
    let becomes = match layer.landing.bead {
        BeadRule::Spread => {
            format!("it runs out to a bead of {bead:.0} µm from edge to edge, and its particles with it")
        }
        BeadRule::Keep => format!(
            "a real one would run out to a bead of {bead:.0} µm from edge to edge; with landing.bead = \"keep\" its particles stay where \
             they landed"
        ),
    };
    let chip = celsius(layer.landing.chip_temperature);
    let remedy = if wet.per_pass > wet.holds {
        let apart = if wet.lines > 1 { "set its lines farther apart, " } else { "" };
        format!(
            "To keep it as narrow as its mist, bring less liquid at a time: print more than {} times as fast, in more passes, {apart}or \
             take a thinner mist with more powder in the ink or a solvent that dries sooner. Passes must dry one by one: a warm chip \
             (landing.chip_c, now {chip:.0} C) helps.",
            times(wet.per_pass)
        )
    } else {
        format!(
            "Each pass fits by itself, but does not dry in the {:.2} s until the next. To keep it narrow, warm the chip \
             (landing.chip_c, now {chip:.0} C), or print fewer passes with more powder in the ink.",
            wet.interval
        )
    };
    let drying = match wet.drying {
        DryingMatters::Decides => {
            " That hangs on how fast it dries, which is estimated to a factor of two: if it dries twice as fast, it stays where its mist lands."
        }
        DryingMatters::Aside => "",
    };
    let odd = layer.path.iter().any(|item| item.name == wet.item && matches!(item.shape, Shape::Filled(_)));
    let odd = match layer.landing.bead {
        BeadRule::Spread if odd => {
            " A wet fill is taken as one band as wide as the whole shape: do not believe where it lies if the shape has arms, bends or holes."
        }
        _ => "",
    };
    format!(
        "{} is printed wet: at the set output {:.0} µm² of liquid in its cross-section, {} times what the {band:.0} µm {where_it_lands} hold at the \
         contact angle of {:.0} degrees, so that {becomes}. That width follows from the liquid: more sheath makes the mist \
         narrower, not the bead. {remedy}{drying}{odd}",
        wet.item,
        wet.area * 1e12,
        times(wet.area),
        layer.landing.contact_angle.to_degrees(),
    )
}

fn powders(setting: &LayerSetting<'_>, list: &mut Vec<Caution>) {
    let mut say = |severity, id, text: String| list.push(Caution { severity, id, text });
    for (powder, share) in setting.layer.ink.powders.iter().zip(&setting.conditions.printable_share) {
        if *share < 0.5 {
            say(
                Severity::Caution,
                "coarse-powder",
                format!(
                    "Only {:.0} % of the mass of {} is fine enough to ride in the droplets; the rest stays in the vial, and the ink's \
                     composition drifts as it is used up. The cut follows from the retention curve, which is an assumption.",
                    100.0 * share,
                    powder.name
                ),
            );
        }
    }
}

/// What a run that was stopped holds.
pub fn stopped(made: u32, asked: u32) -> Caution {
    Caution {
        severity: Severity::Caution,
        id: STOPPED,
        text: format!(
            "Stopped early: this is what {made} of {asked} prints gave. Nothing else is missing, but intervals are wider than they would be \
             and the share of prints that pass is less sure."
        ),
    }
}

/// What of the solids is carried farther than droplets are followed.
fn not_followed(inputs: &Inputs, tally: &Tally) -> Option<String> {
    let mass = |count: &FateCount| masses(inputs, count).iter().sum::<f64>();
    let carried = mass(&tally.fates[fate::ESCAPED]);
    let landed: f64 = tally.landed().map(mass).sum();
    if carried <= 0.0 {
        return None;
    }
    let percent = 100.0 * carried / (carried + landed);
    let share = if percent < 0.1 { "Less than 0.1".to_owned() } else { format!("{percent:.1}") };
    let radius = |layer: &Layer| ESCAPE_RADIUS * 0.5 * layer.head.nozzle;
    let farthest = inputs.layers.iter().map(radius).fold(f64::INFINITY, f64::min);
    let reach = match tally.at_edge {
        0 => "",
        _ => " Some land just within that distance, so the farthest stray particle is given as 'at least'.",
    };
    Some(format!(
        "{share} % of the solids that come out of the nozzle are carried farther than {:.1} mm from its axis ({ESCAPE_RADIUS:.0} nozzle radii) and \
         are not followed from there. Most of them leave with the gas; what settles farther out, on the chip or its seal, is in no \
         figure.{reach}",
        1e3 * farthest,
    ))
}

/// Where most of the solids go if hardly any land, and what helps.
fn little_lands(inputs: &Inputs, tally: &Tally) -> Option<String> {
    let mass = |count: &FateCount| masses(inputs, count).iter().sum::<f64>();
    let left = mass(&tally.generated);
    let landed: f64 = tally.landed().map(mass).sum();
    if left <= 0.0 || landed >= LITTLE * left {
        return None;
    }
    let ways = [
        (fate::SETTLED, "settle in the mist tube: make it shorter, steeper or narrower, or use more carrier gas"),
        (
            fate::DIFFUSED,
            "diffuse to the wall of the mist tube: make it shorter, or use more carrier gas or larger droplets",
        ),
        (fate::BEND, "hit the bends of the mist tube: use wider bends or less carrier gas"),
        (fate::WALL, "hit the wall of the head: use more sheath gas or a gentler taper"),
        (
            fate::ESCAPED,
            "are carried away past the chip: use a narrower nozzle, more gas, or droplets that dry less (a solvent of low vapour pressure)",
        ),
    ];
    let (most, way) =
        ways.map(|(at, way)| (mass(&tally.fates[at]), way)).into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(format!(
        "Only {:.1} % of the solids that leave the vial land. {:.0} % {way}.",
        100.0 * landed / left,
        100.0 * most / left
    ))
}

/// What is said of single particles: of `kept` ones of the first print, and of the fullest print's number where more land than
/// `most_kept`, so that what touches what is not worked out.
pub fn of_particles(inputs: &Inputs, kept: usize, fullest: Option<u64>, most_kept: usize) -> Option<Caution> {
    if let Some(landed) = fullest {
        let text = too_many_particles(inputs, kept, landed, most_kept);
        return Some(Caution { severity: Severity::Caution, id: TOO_MANY_PARTICLES, text });
    }
    (inputs.map.write_particles && kept == 0).then(|| Caution {
        severity: Severity::Note,
        id: "particles-not-listed",
        text: "The list of single particles was asked for, but none landed; no list was written.".into(),
    })
}

/// What is not known because so many particles land in a print.
fn too_many_particles(inputs: &Inputs, kept: usize, landed: u64, most_kept: usize) -> String {
    let limits = inputs.acceptance.limits.iter();
    let asked: Vec<&str> = limits
        .filter_map(|limit| kinds::kind(&limit.figure))
        .filter(|k| k.needs_particles())
        .map(|k| k.label)
        .collect();
    let undecided = match asked.is_empty() {
        true => String::new(),
        false => format!(" No print can meet the limits on {}, since nothing is known of them.", asked.join(", ")),
    };
    let missing = match (kept > 0, inputs.map.write_particles) {
        (true, _) => "which of them touch and bridges between electrodes are not given.",
        (false, false) => {
            "which of them touch, bridges between electrodes, heights of single particles and the picture of particles are not given."
        }
        (false, true) => {
            "which of them touch, bridges between electrodes, heights of single particles, their list and the picture of particles are \
             not given."
        }
    };
    let million = |particles: f64| format!("{:.1} million", particles * 1e-6);
    format!(
        "{} particles land in the fullest print. With more than {}, {missing}{undecided} To see them, predict a part of the print: fewer \
         passes, a shorter path or a smaller area.",
        million(landed as f64),
        million(most_kept as f64)
    )
}

fn print(setting: &Setting, outcome: &PrintOutcome, list: &mut Vec<Caution>) {
    let mut say = |severity, id, text: String| list.push(Caution { severity, id, text });
    if outcome.not_simulated > 0.0 {
        let whole = setting.expected_droplets();
        say(
            Severity::Caution,
            "droplet-budget",
            format!(
                "The print has {whole:.2e} droplets, more than the droplet_budget of {:.2e}. Only {:.1} % were simulated, drawn evenly \
                 over the print: masses, counts and thicknesses are that share of the print's.",
                setting.inputs.droplet_budget,
                100.0 * (1.0 - outcome.not_simulated / whole)
            ),
        );
    }
    if let Some(text) = little_lands(setting.inputs, &outcome.tally) {
        say(Severity::Caution, "little-lands", text);
    }
    if let Some(text) = not_followed(setting.inputs, &outcome.tally) {
        say(Severity::Note, "not-followed", text);
    }
    let off_chip = outcome.tally.fates[crate::map::tally::fate::OFF_CHIP].droplets;
    if off_chip > 0 {
        say(
            Severity::Note,
            "off-chip",
            format!("{off_chip} droplets landed beyond the chip's edge; they count in the budget and on no map."),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::testing;
    use crate::materials::hazards::Hazard;
    use crate::materials::solvent::Solvent;
    use crate::source::content::Grain;

    fn raised(layer: &Layer) -> Vec<Caution> {
        let mut list = vec![];
        safety(layer, &mut list);
        assert!(list.iter().all(|caution| caution.severity == Severity::Safety && words(caution.id).is_some()));
        list
    }

    fn ids(layer: &Layer) -> Vec<&'static str> {
        raised(layer).iter().map(|caution| caution.id).collect()
    }

    #[test]
    fn every_hazard_group_raises_its_caution_and_only_then() {
        let mut layer = testing::inputs().layers.remove(0);
        for group in GROUPS {
            layer.ink.powders[0].hazards = vec![group.hazard];
            let own: Vec<Caution> =
                raised(&layer).into_iter().filter(|c| GROUPS.iter().any(|g| g.hazard.word() == c.id)).collect();
            assert_eq!(own.len(), 1, "{:?}", group.hazard);
            assert_eq!(own[0].id, group.hazard.word());
            assert!(
                own[0].text.contains(group.why) && own[0].text.contains("Local rules and licensed practice decide")
            );
        }
    }

    #[test]
    fn a_powder_that_is_the_hazard_is_named_once() {
        let mut layer = testing::inputs().layers.remove(0);
        let mut told = |name: &str| {
            layer.ink.powders.truncate(1);
            layer.ink.powders[0].name = name.into();
            layer.ink.powders[0].hazards = vec![Hazard::CarbonBlack];
            raised(&layer).into_iter().find(|c| c.id == "carbon-black").expect("raised").text
        };
        assert!(told("carbon black").starts_with("Carbon black is possibly carcinogenic"));
        assert!(told("soot").starts_with("soot: carbon black is possibly carcinogenic"));
    }

    #[test]
    fn gases_solvents_and_a_warm_chip_raise_theirs() {
        let mut layer = testing::inputs().layers.remove(0);
        layer.ink.powders[0].hazards = vec![Hazard::FinePowder];
        layer.landing.chip_temperature = 298.15;
        let solvent = |name: &str| Solvent::built_in(name, 295.15).expect("built in");
        layer.ink.solvents.truncate(1);
        layer.ink.solvents[0].solvent = solvent("water");
        layer.gas.species = GasSpecies::Air;
        assert_eq!(ids(&layer), ["mist-and-powder"]);
        for species in [GasSpecies::Nitrogen, GasSpecies::Argon] {
            layer.gas.species = species;
            assert_eq!(ids(&layer), ["mist-and-powder", "inert-gas"]);
        }
        layer.gas.species = GasSpecies::Air;
        for (name, expected) in [
            ("nmp", &["reproductive-toxicity"][..]),
            ("ethylene glycol", &["toxic-solvent"]),
            ("ethanol", &["flammable"]),
            ("isopropanol", &["flammable"]),
            ("water", &[]),
        ] {
            layer.ink.solvents[0].solvent = solvent(name);
            layer.landing.chip_temperature = 298.15;
            assert_eq!(ids(&layer)[1..], *expected, "{name}");
            layer.landing.chip_temperature = 353.15;
            assert_eq!(ids(&layer).contains(&"warm-solvent"), name != "water", "{name}");
        }
        // Somebody's own solvent of a listed name, with all properties given.
        layer.ink.solvents[0].solvent = Solvent { name: "Methanol".into(), ..solvent("ethanol") };
        assert!(raised(&layer).iter().any(|c| c.id == "toxic-solvent" && c.text.contains("it is not ethanol")));
    }

    #[test]
    fn lift_is_told_with_the_sign_that_was_computed() {
        let mut layer = testing::inputs().layers.remove(0);
        let mut told = |factor: f64, without: f64, with: &[(f64, f64)]| {
            layer.flight.lift_factor = factor;
            let with = with.iter().map(|(value, width)| Tried { value: *value, width: width * 1e-6 }).collect();
            let lift = Some(LiftEffect { without: without * 1e-6, with });
            lift_words(&layer, Some(&WidthDoubts { set: 0.0, lift, half_angle: vec![], land: vec![] }))
        };
        let text = told(0.25, 9.6, &[(0.25, 20.5)]);
        assert!(text.starts_with("Shear lift acts with a factor of 0.25"), "{text}");
        assert!(
            text.contains("9.6 µm wide without lift, and 20.5 µm with a factor of 0.25: it widens lines."),
            "{text}"
        );
        assert!(told(0.25, 28.7, &[(0.25, 21.9)]).contains("it narrows lines."));
        let text = told(0.0, 9.6, &[(0.1, 9.8), (0.25, 20.5), (1.0, 23.7)]);
        assert!(text.starts_with("Shear lift is off") && text.contains("it widens lines."), "{text}");
        assert!(text.contains("9.8, 20.5 and 23.7 µm with a factor of 0.1, 0.25 and 1"), "{text}");
        assert!(
            told(0.0, 10.0, &[(0.1, 8.0), (1.0, 14.0)]).contains("narrows lines with one factor and widens them with")
        );
        assert!(told(0.0, 10.0, &[(0.1, 9.5), (1.0, 10.5)]).contains("it hardly matters"));
    }

    #[test]
    fn an_assumed_nozzle_is_told_with_what_it_does() {
        let mut layer = testing::inputs().layers.remove(0);
        (layer.head.half_angle, layer.head.land) = (6f64.to_radians(), 150e-6);
        let tried = |value: f64, width: f64| Tried { value, width };
        let half_angle = vec![tried(3f64.to_radians(), 21.1e-6), tried(15f64.to_radians(), 29.3e-6)];
        let land = vec![tried(0.0, 11.7e-6), tried(450e-6, 11.2e-6)];
        let mut doubts = WidthDoubts { set: 11.4e-6, lift: None, half_angle, land };
        let text = nozzle_words(&layer, &doubts).expect("both are assumed");
        assert!(
            text.contains("half angle of the taper of 3 or 15 degrees instead of 6 it would be 21.1 or 29.3 µm"),
            "{text}"
        );
        assert!(text.contains("11.4 µm wide here") && text.contains("land of 0 or 450 µm instead of 150"), "{text}");
        doubts.half_angle.clear();
        assert!(!nozzle_words(&layer, &doubts).expect("the land is assumed").contains("half angle"));
        doubts.land.clear();
        assert_eq!(nozzle_words(&layer, &doubts), None);
    }

    #[test]
    fn hardly_anything_landed_is_told_with_what_helps() {
        let inputs = testing::inputs();
        let grain = Grain::new(0, 0.3e-6);
        let with = |landed: u32, at: usize| {
            let mut tally = Tally::new(1, inputs.regions.len());
            for k in 0..100 {
                tally.generated.add(&grain);
                tally.fates[if k < landed { fate::ELSEWHERE } else { at }].add(&grain);
            }
            little_lands(&inputs, &tally)
        };
        assert_eq!(with(6, fate::SETTLED), None);
        let text = with(4, fate::SETTLED).expect("told");
        assert!(text.contains("Only 4.0 %") && text.contains("96 % settle in the mist tube"), "{text}");
        assert!(with(0, fate::ESCAPED).expect("told").contains("past the chip"));
        assert_eq!(little_lands(&inputs, &Tally::new(1, 0)), None);
    }

    #[test]
    fn what_is_carried_away_is_told_with_how_far_it_was_followed() {
        let mut inputs = testing::inputs();
        inputs.layers[0].head.nozzle = 150e-6;
        let grain = Grain { diameter: 300e-9, volume: 14_137_167, powder: 0 };
        let mut tally = Tally::new(1, 0);
        (0..39).for_each(|_| tally.fates[fate::ELSEWHERE].add(&grain));
        assert_eq!(not_followed(&inputs, &tally), None);
        tally.fates[fate::ESCAPED].add(&grain);
        let text = not_followed(&inputs, &tally).expect("told");
        assert!(
            text.starts_with("2.5 % of the solids") && text.contains("1.5 mm") && !text.contains("at least"),
            "{text}"
        );
        tally.at_edge = 1;
        assert!(not_followed(&inputs, &tally).expect("told").contains("at least"));
    }
}
