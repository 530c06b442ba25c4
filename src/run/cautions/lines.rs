//! Lines that are printed wet, and strokes beside the shape that they should fill.

use crate::beads::{DryingMatters, WetLine};
use crate::setting::LayerSetting;
use motefall_figures::{Caution, CautionKind};
use motefall_physics::inputs::{Area, BeadRule, Layer, Outline, PathItem, Shape, ShutterLead};
use motefall_physics::map::outline;
use motefall_physics::path::motion::Timeline;
use motefall_physics::path::shutter::Opening;
use motefall_physics::units::celsius;

/// Share of an item's open path outside of its shape above which the result says so. An estimate.
const SHARE_OUTSIDE: f64 = 0.2;
/// Places at which each piece of motion is looked at, and how far beyond the edge a stroke counts as outside, m.
const PLACES_PER_PIECE: usize = 64;
const EDGE_PLAY: f64 = 0.5e-6;

/// Cautions of the items of a layer.
pub(super) fn cautions(setting: &LayerSetting<'_>) -> Vec<Caution> {
    let layer = setting.layer;
    let wet = setting.beads.wet.iter().map(|wet| CautionKind::Bead.with(wet_line(wet, layer)));
    let nearly = setting.beads.nearly_wet.iter().map(|line| CautionKind::BeadDrying.with(nearly_wet_line(line, layer)));
    let missed = layer.path.iter().zip(missed(layer, &setting.timeline));
    let outside = missed
        .filter(|(_, missed)| missed.share() > SHARE_OUTSIDE || missed.strokes > 0)
        .map(|(item, missed)| CautionKind::StrokesOutside.with(strokes_outside(item, missed, layer)));
    wet.chain(nearly).chain(outside).collect()
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
    for Opening { mist: [opens, closes], .. } in &timeline.openings {
        let number = timeline.stroke_at(0.5 * (opens + closes));
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
        Shape::Filled(filled) => Some(Outline::Area(Area { contours: filled.area.clone(), source: None })),
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
    let [why, lead] = match layer.stage.shutter_lead {
        ShutterLead::None => [
            format!(
                "The shutter opens {:.0} ms and closes {:.0} ms after the stage asks for it, so strokes begin {:.0} µm late and end {:.0} \
                 µm late at {:.1} mm/s; a run-up does not change that.",
                open * 1e3,
                close * 1e3,
                open * item.speed * 1e6,
                close * item.speed * 1e6,
                item.speed * 1e3,
            ),
            " Tell the shutter earlier (stage.shutter_lead = \"compensated\"), or print".into(),
        ],
        ShutterLead::Compensated => ["Its strokes are too short for the shutter.".into(), " Print".into()],
    };
    format!(
        "{:.0} % of the path that {} prints with open shutter lies outside of its own shape{none}. {why}{lead} slower, take a quicker \
         shutter, lay the strokes along the shape's longer side, or leave the shutter open on turns.",
        100.0 * missed.share(),
        item.name,
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
