//! Which lines of a layer become wet beads, and how wide.

use super::line_width::landed_classes;
use crate::deposit::Spreading;
use crate::deposit::bead::{Remap, Ring, areas_by_pass, drying_rates, radius_of_share, segment_area, segment_width};
use crate::droplet::Finder;
use crate::head::drying::equilibrium_pressures;
use crate::head::mist::MistTable;
use crate::inputs::{BeadRule, Layer, PathItem, Shape, SolventPart};
use crate::map::outline::turned;
use crate::path::motion::{Piece, Timeline};
use crate::source::atomiser::DropletSizes;

/// Share of the landed liquid that belongs to a line's own width; the rest lies beside it.
const TRACK_SHARE: f64 = 0.99;

/// A line, or the parallel lines of a filled area, that carry more liquid than their width holds.
#[derive(Debug, Clone)]
pub struct WetLine {
    /// Path item.
    pub item: String,
    /// Cross-section after the wettest pass, m^2.
    pub area: f64,
    /// Cross-section that one pass brings, m^2.
    pub per_pass: f64,
    /// Lines side by side that share a bead.
    pub lines: usize,
    /// Time from one pass to the next, s.
    pub interval: f64,
    /// Width of the track, m.
    pub track: f64,
    /// Cross-section that this width holds at the contact angle, m^2.
    pub holds: f64,
    /// Contact width of the bead after each pass, m.
    pub widths: Vec<f64>,
}

/// Where a bead lies.
#[derive(Debug, Clone, Copy)]
enum Frame {
    /// Along the stroke itself.
    Stroke,
    /// Along parallel strokes: a point of the middle line, and their direction.
    Track([f64; 2], [f64; 2]),
}

#[derive(Debug, Clone)]
struct ItemBead {
    frame: Frame,
    remap: Remap,
    half_widths: Vec<f64>,
}

/// The beads of a layer.
#[derive(Debug, Clone, Default)]
pub struct Beads {
    /// Lines that carry more than they hold, whether their landings are moved or not.
    pub wet: Vec<WetLine>,
    items: Vec<Option<ItemBead>>,
    /// Item and pass of each block of the path; empty if no landing is moved.
    blocks: Vec<(usize, usize)>,
}

/// Moves landings across one block's line.
#[derive(Debug, Clone, Copy)]
pub struct Mover<'a> {
    remap: &'a Remap,
    half_width: f64,
    middle: [f64; 2],
    normal: [f64; 2],
}

impl Mover<'_> {
    /// Where a particle comes to lie that lands at a point.
    #[inline]
    pub fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [nx, ny] = self.normal;
        let across = (x - self.middle[0]) * nx + (y - self.middle[1]) * ny;
        let by = self.remap.moved(across, self.half_width) - across;
        [x + by * nx, y + by * ny]
    }
}

impl Beads {
    /// Works out which lines of a layer are wet; with [`BeadRule::Spread`] also where their landings go. Landing points, losses and drying
    /// are those of the setting: a print's own deviations change the amount of liquid only.
    pub fn new(
        layer: &Layer,
        timeline: &Timeline,
        blocks: &[Piece],
        finder: &Finder,
        mist: &MistTable,
        droplets: &DropletSizes,
        spreading: &Spreading,
    ) -> Self {
        let wet = Landed::new(layer, finder, mist, droplets, spreading);
        let mut beads = Self::default();
        if wet.rings.is_empty() {
            return beads;
        }
        for (number, item) in layer.path.iter().enumerate() {
            let bead = bead(layer, item, pass_time(timeline, number, item.passes), &wet);
            beads.items.push(bead.and_then(|(wet, bead)| {
                beads.wet.push(wet);
                bead
            }));
        }
        if beads.items.iter().any(Option::is_some) {
            let open_delay = layer.stage.shutter_open_delay;
            beads.blocks = blocks.iter().map(|block| place_of(block, timeline, &layer.path, open_delay)).collect();
        }
        beads
    }

    /// Moves the landings of a block, as the print's stage made it, with so many times the set amount of liquid; `None`: they stay.
    pub fn mover(&self, block: usize, piece: &Piece, rotation: f64, shift: [f64; 2], amount: f64) -> Option<Mover<'_>> {
        let (item, pass) = *self.blocks.get(block)?;
        let bead = self.items[item].as_ref()?;
        let (middle, along) = match bead.frame {
            Frame::Stroke => (piece.from, piece.direction),
            Frame::Track(middle, along) => {
                let [x, y] = turned(middle, rotation);
                ([x + shift[0], y + shift[1]], turned(along, rotation))
            }
        };
        let half_width = bead.half_widths[pass.min(bead.half_widths.len() - 1)] * amount.max(0.0).sqrt();
        Some(Mover { remap: &bead.remap, half_width, middle, normal: [-along[1], along[0]] })
    }
}

/// What lands wet.
struct Landed {
    /// Rings on which it lands.
    rings: Vec<Ring>,
    /// Volume of each solvent within the track per time, m^3/s.
    solvents: Vec<f64>,
    /// The same of the solids that come with it.
    solids: f64,
}

impl Landed {
    fn new(layer: &Layer, finder: &Finder, mist: &MistTable, droplets: &DropletSizes, spreading: &Spreading) -> Self {
        let mut rings = Vec::new();
        // Per volume of ink atomised.
        let (mut liquid_landed, mut solids_landed) = (0.0, 0.0);
        for class in
            landed_classes(layer, finder, mist, droplets, spreading).into_iter().filter(|class| class.liquid > 0.0)
        {
            let volume = class.liquid + class.solids;
            rings.push(Ring { radius: class.radius, footprint: class.footprint, volume });
            liquid_landed += class.liquid;
            solids_landed += class.solids;
        }
        let rate = TRACK_SHARE * layer.atomiser.mist_load * layer.flows.carrier.0;
        let left: Vec<f64> = layer
            .ink
            .solvents
            .iter()
            .zip(&mist.solvents_left)
            .map(|(part, left)| part.mass_fraction / part.solvent.density * left)
            .collect();
        let whole = left.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        Self {
            rings,
            solvents: left.iter().map(|part| rate * liquid_landed * part / whole).collect(),
            solids: rate * solids_landed,
        }
    }
}

/// Time from a place in one pass of an item to the same place in the next, s.
fn pass_time(timeline: &Timeline, item: usize, passes: u32) -> f64 {
    let own: Vec<_> = timeline.strokes.iter().filter(|stroke| stroke.item == item).collect();
    let (first, last) = (own.first().map_or(0.0, |s| s.commanded[0]), own.last().map_or(0.0, |s| s.commanded[1]));
    (last - first) / f64::from(passes.max(1))
}

/// Strokes side by side: a point of their middle line, direction, number, spacing.
fn parallel(shape: &Shape) -> Option<([f64; 2], [f64; 2], usize, f64)> {
    let count = |height: f64, spacing: f64| ((height / spacing) * (1.0 - 1e-12)).ceil().max(1.0) as usize;
    match shape {
        Shape::FilledRectangle { center, size, rotation, spacing } => {
            Some((*center, turned([1.0, 0.0], *rotation), count(size[1], *spacing), *spacing))
        }
        Shape::FilledDisc { center, radius, spacing } => {
            Some((*center, [1.0, 0.0], count(2.0 * radius, *spacing), *spacing))
        }
        Shape::Filled(filled) => {
            let [low, high] = filled.area.placed(-filled.angle, [0.0; 2]).bounds();
            let middle = turned([0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])], filled.angle);
            Some((middle, turned([1.0, 0.0], filled.angle), count(high[1] - low[1], filled.spacing), filled.spacing))
        }
        Shape::Polyline(_) | Shape::Polylines(_) | Shape::Dot { .. } => None,
    }
}

/// The bead of an item, if it carries more than its width holds. Lines of a fill that run into each other are one bead across the whole fill,
/// which takes the fill as long as it is where it is longest; ends and corners are not rounded.
fn bead(layer: &Layer, item: &PathItem, interval: f64, landed: &Landed) -> Option<(WetLine, Option<ItemBead>)> {
    if matches!(item.shape, Shape::Dot { .. }) {
        return None;
    }
    let angle = layer.landing.contact_angle;
    let radius = radius_of_share(&landed.rings, TRACK_SHARE);
    let one = (landed.solvents.iter().sum::<f64>() + landed.solids) / item.speed;
    let alone = segment_width(one, angle).max(2.0 * radius);
    let side_by_side = parallel(&item.shape).filter(|(_, _, lines, spacing)| *lines > 1 && *spacing < alone);
    let (frame, lines, spacing) = match side_by_side {
        Some((middle, along, lines, spacing)) => (Frame::Track(middle, along), lines, spacing),
        None => (Frame::Stroke, 1, 0.0),
    };
    let half = radius + 0.5 * (lines as f64 - 1.0) * spacing;
    // Per pass over all lines side by side.
    let over = lines as f64 / item.speed;
    let per_pass: Vec<f64> = landed.solvents.iter().map(|rate| rate * over).collect();
    let solvents = &layer.ink.solvents;
    let around: Vec<f64> = equilibrium_pressures(solvents, layer.gas.temperature)
        .iter()
        .map(|pressure| layer.gas.sheath_saturation * pressure)
        .collect();
    let drying = |largest: f64, liquid: &[f64]| {
        let mass = |(part, volume): (&SolventPart, &f64)| part.solvent.density * volume;
        let whole: f64 = solvents.iter().zip(liquid).map(mass).sum();
        let now: Vec<SolventPart> = solvents
            .iter()
            .zip(liquid)
            .map(|(part, volume)| SolventPart { mass_fraction: mass((part, volume)) / whole, ..part.clone() })
            .collect();
        let width = segment_width(largest, angle).max(2.0 * half);
        let landing = &layer.landing;
        drying_rates(width, layer.flight.stand_off, &now, &around, landing.chip_temperature, layer.gas.pressure)
    };
    let areas = areas_by_pass(&per_pass, landed.solids * over, item.passes, interval, drying);
    // The contact line does not come back.
    let mut widest: f64 = 0.0;
    let widths: Vec<f64> = areas
        .iter()
        .map(|area| {
            widest = widest.max(segment_width(*area, angle));
            widest
        })
        .collect();
    let holds = segment_area(2.0 * half, angle);
    let wettest = areas.iter().copied().fold(0.0, f64::max);
    (wettest > holds).then(|| {
        let bead = (layer.landing.bead == BeadRule::Spread).then(|| {
            let half_widths = widths.iter().map(|width| 0.5 * width).collect();
            ItemBead { frame, remap: Remap::new(&landed.rings, lines, spacing, half, angle), half_widths }
        });
        let wet = WetLine {
            item: item.name.clone(),
            area: wettest,
            per_pass: areas[0],
            lines,
            interval,
            track: 2.0 * half,
            holds,
            widths,
        };
        (wet, bead)
    })
}

/// Item and pass that a block belongs to: those of the last stroke begun before its middle.
fn place_of(block: &Piece, timeline: &Timeline, items: &[PathItem], open_delay: f64) -> (usize, usize) {
    let number = timeline.stroke_at(block.time + 0.5 * block.duration, open_delay);
    let Some(stroke) = timeline.strokes.get(number) else { return (0, 0) };
    let first = timeline.strokes.partition_point(|other| other.item < stroke.item);
    let own = timeline.strokes[first..].iter().take_while(|other| other.item == stroke.item).count();
    let per_pass = (own / items[stroke.item].passes.max(1) as usize).max(1);
    (stroke.item, (number - first) / per_pass)
}
