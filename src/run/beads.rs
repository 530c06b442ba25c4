//! Which lines of a layer become wet beads, and how wide.

use super::line_width::{LandedClass, landed_classes, landed_reach, width_at_half_height};
use super::setting::LayerSetting;
use super::spread::most;
use crate::deposit::Spreading;
use crate::deposit::bead::{Across, Bead, Remap, Ring, areas_by_pass, drying_rates, mean_footprint, segment_width};
use crate::droplet::Finder;
use crate::head::drying::equilibrium_pressures;
use crate::head::mist::MistTable;
use crate::inputs::{BeadRule, Inputs, Layer, PathItem, Shape, SolventPart, VariedInput};
use crate::map::outline::{bounds_of_shape, turned};
use crate::path::motion::{Piece, Timeline};
use crate::source::atomiser::DropletSizes;

/// Share of the landed liquid that belongs to a line; the rest lies beside it and is left aside.
const OWN_SHARE: f64 = 0.99;
/// Deviations of the noise of the mist output up to which beads are looked ahead for.
const MOST_NOISE: f64 = 4.0;

/// A line, or the parallel lines of a filled area, that carry more liquid than holds where it lands.
#[derive(Debug, Clone)]
pub struct WetLine {
    /// Path item.
    pub item: String,
    /// Cross-section of the liquid, with its solids, after the wettest pass, m^2.
    pub area: f64,
    /// Cross-section that one pass brings, m^2.
    pub per_pass: f64,
    /// Lines side by side that share a bead.
    pub lines: usize,
    /// Time from one pass to the next, s.
    pub interval: f64,
    /// Width that the mist wets as it lands, m: of one line that at half height, of lines side by side that of 99 % of their liquid.
    pub band: f64,
    /// Largest cross-section whose bead is no wider than this band, m^2.
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
    /// Largest cross-section so far, m^2, after each pass at the set amount of liquid: the contact line does not come back.
    areas: Vec<f64>,
}

/// The beads of a layer.
#[derive(Debug, Clone, Default)]
pub struct Beads {
    /// Lines that are wet at the set amount of liquid, whether their landings are moved or not.
    pub wet: Vec<WetLine>,
    items: Vec<Option<ItemBead>>,
    /// Item and pass of each block of the path.
    blocks: Vec<(usize, usize)>,
    /// Distance from the axis of a stroke up to which mist lands, and up to which its bead runs, m.
    reach: [f64; 2],
}

/// How far from the lines of the path the mass of a print can lie, m: where mist lands at the set flows, how far beads run with the most
/// liquid that a print draws, and by how much the path itself may be shifted or turned.
pub fn reach(inputs: &Inputs, layers: &[LayerSetting<'_>]) -> f64 {
    let most = |input: VariedInput| {
        inputs.spread.iter().find(|v| v.input == input).map_or(0.0, |variation| variation.sd * most(variation.law))
    };
    let of_layer = |setting: &LayerSetting<'_>| {
        let noise = MOST_NOISE * setting.layer.output.noise_sd;
        let amount = (1.0 + most(VariedInput::Output)) * (1.0 + most(VariedInput::Carrier)) * noise.exp();
        let [landed, bead] = setting.beads.reach;
        landed.max(bead * amount.sqrt())
    };
    let mass = layers.iter().map(of_layer).fold(0.0, f64::max);
    let corners = inputs.items().flat_map(|item| bounds_of_shape(&item.shape));
    let farthest = corners.map(|[x, y]| x.hypot(y)).fold(0.0, f64::max);
    let shift = most(VariedInput::AlignmentX).hypot(most(VariedInput::AlignmentY));
    mass + shift + most(VariedInput::Rotation) * farthest
}

/// Moves landings across one block's line.
#[derive(Debug, Clone, Copy)]
pub struct Mover<'a> {
    remap: &'a Remap,
    bead: Bead,
    middle: [f64; 2],
    normal: [f64; 2],
}

impl Mover<'_> {
    /// Where a particle comes to lie that lands at a point.
    #[inline]
    pub fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [nx, ny] = self.normal;
        let across = (x - self.middle[0]) * nx + (y - self.middle[1]) * ny;
        let by = self.remap.moved(across, self.bead) - across;
        [x + by * nx, y + by * ny]
    }
}

impl Beads {
    /// Works out the beads of a layer; with [`BeadRule::Spread`] also where their landings go. Landing points, losses and drying are those
    /// of the setting: a print's own deviations change the amount of liquid only.
    pub fn new(
        layer: &Layer,
        timeline: &Timeline,
        blocks: &[Piece],
        finder: &Finder,
        mist: &MistTable,
        droplets: &DropletSizes,
        spreading: &Spreading,
    ) -> Self {
        let classes = landed_classes(layer, finder, mist, droplets, spreading);
        let mut beads = Self {
            blocks: places(blocks, timeline, &layer.path, layer.stage.shutter_open_delay),
            reach: [landed_reach(layer, finder, mist, droplets, spreading), 0.0],
            ..Self::default()
        };
        let Some(landed) = Landed::new(layer, mist, &classes) else { return beads };
        for (number, item) in layer.path.iter().enumerate() {
            if matches!(item.shape, Shape::Dot { .. }) {
                beads.items.push(None);
                continue;
            }
            let (bead, wet, beyond) = bead(layer, item, pass_time(timeline, number, item.passes), &landed);
            beads.wet.extend(wet);
            let spreads = layer.landing.bead == BeadRule::Spread;
            if spreads {
                beads.reach[1] = beads.reach[1].max(beyond);
            }
            beads.items.push(spreads.then_some(bead));
        }
        beads
    }

    /// Item of the path that a block belongs to.
    pub fn item_of(&self, block: usize) -> Option<usize> {
        self.blocks.get(block).map(|(item, _)| *item)
    }

    /// How many times the set amount of liquid each block brings, from its relative output: along a line its own; parallel lines that share
    /// a bead share their liquid, pass by pass.
    pub fn amounts(&self, blocks: &[Piece], output: &[f64]) -> Vec<f64> {
        let shared = |place: &(usize, usize)| {
            let bead = self.items.get(place.0).and_then(Option::as_ref);
            bead.is_some_and(|bead| matches!(bead.frame, Frame::Track(..)))
        };
        let mut amounts = output.to_vec();
        let mut first = 0;
        for run in self.blocks.chunk_by(|a, b| a == b) {
            let range = first..first + run.len();
            first = range.end;
            if shared(&run[0]) {
                let time: f64 = blocks[range.clone()].iter().map(|block| block.duration).sum();
                let brought: f64 = range.clone().map(|k| output[k] * blocks[k].duration).sum();
                amounts[range].fill(brought / time);
            }
        }
        amounts
    }

    /// Moves the landings of a block, as the print's stage made it, with so many times the set amount of liquid; `None`: they stay.
    pub fn mover(&self, block: usize, piece: &Piece, rotation: f64, shift: [f64; 2], amount: f64) -> Option<Mover<'_>> {
        let (item, pass) = *self.blocks.get(block)?;
        let bead = self.items.get(item)?.as_ref()?;
        let (middle, along) = match bead.frame {
            Frame::Stroke => (piece.from, piece.direction),
            Frame::Track(middle, along) => {
                let [x, y] = turned(middle, rotation);
                ([x + shift[0], y + shift[1]], turned(along, rotation))
            }
        };
        let area = bead.areas[pass.min(bead.areas.len() - 1)] * amount.max(0.0);
        let (remap, bead) = (&bead.remap, bead.remap.bead(area)?);
        Some(Mover { remap, bead, middle, normal: [-along[1], along[0]] })
    }
}

/// What lands wet.
struct Landed {
    /// How it is spread across a line.
    across: Across,
    /// Half of its width at half height, or of a droplet's footprint if that is larger, m.
    core: f64,
    /// A line's own volume of each solvent per time, m^3/s.
    solvents: Vec<f64>,
    /// The same of the solids that come with it.
    solids: f64,
}

impl Landed {
    /// `None` if nothing lands wet.
    fn new(layer: &Layer, mist: &MistTable, classes: &[LandedClass]) -> Option<Self> {
        let mut rings = Vec::new();
        // Per volume of ink atomised.
        let (mut liquid_landed, mut solids_landed) = (0.0, 0.0);
        for class in classes.iter().filter(|class| class.liquid > 0.0) {
            let volume = class.liquid + class.solids;
            rings.push(Ring { radius: class.radius, footprint: class.footprint, volume });
            liquid_landed += class.liquid;
            solids_landed += class.solids;
        }
        let rate = OWN_SHARE * layer.atomiser.mist_load * layer.flows.carrier.0;
        let left: Vec<f64> = layer
            .ink
            .solvents
            .iter()
            .zip(&mist.solvents_left)
            .map(|(part, left)| part.mass_fraction / part.solvent.density * left)
            .collect();
        let whole = left.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        (!rings.is_empty()).then(|| Self {
            across: Across::new(&rings),
            core: (0.5 * width_at_half_height(classes)).max(mean_footprint(&rings)),
            solvents: left.iter().map(|part| rate * liquid_landed * part / whole).collect(),
            solids: rate * solids_landed,
        })
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

/// The bead of an item; what is to be said if it is wet; and how far it runs beyond the axis of its outermost stroke, m. Lines of a fill
/// that run into each other are one bead across the whole fill, which takes the fill as long as it is where it is longest; ends and corners
/// are not rounded.
fn bead(layer: &Layer, item: &PathItem, interval: f64, landed: &Landed) -> (ItemBead, Option<WetLine>, f64) {
    let angle = layer.landing.contact_angle;
    let own_half = landed.across.half_width(OWN_SHARE);
    let one = (landed.solvents.iter().sum::<f64>() + landed.solids) / item.speed;
    let alone = segment_width(one, angle).max(2.0 * own_half);
    let side_by_side = parallel(&item.shape).filter(|(_, _, lines, spacing)| *lines > 1 && *spacing < alone);
    let (frame, lines, spacing) = match side_by_side {
        Some((middle, along, lines, spacing)) => (Frame::Track(middle, along), lines, spacing),
        None => (Frame::Stroke, 1, 0.0),
    };
    let apart = 0.5 * (lines as f64 - 1.0) * spacing;
    let whole = own_half + apart;
    // A line overflows from where it is wettest into its thin skirt. A fill is wet all over and its edge holds it, so that what lands there
    // stays until the fill as a whole holds no more.
    let band = if lines > 1 { whole } else { landed.core };
    let remap = Remap::new(&landed.across, lines, spacing, whole, band, angle);
    let wetted = |area: f64| 2.0 * remap.bead(area).map_or(band, |bead| bead.half_width);
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
        let landing = &layer.landing;
        drying_rates(
            wetted(largest),
            layer.flight.stand_off,
            &now,
            &around,
            landing.chip_temperature,
            layer.gas.pressure,
        )
    };
    let mut areas = areas_by_pass(&per_pass, landed.solids * over, item.passes, interval, drying);
    let one_pass = areas[0];
    // The contact line does not come back.
    for k in 1..areas.len() {
        areas[k] = areas[k].max(areas[k - 1]);
    }
    let wettest = areas.last().copied().unwrap_or(0.0);
    let half_width = |area: f64| remap.bead(area).map_or(0.0, |bead| bead.half_width);
    let wet = remap.bead(wettest).map(|_| WetLine {
        item: item.name.clone(),
        area: wettest,
        per_pass: one_pass,
        lines,
        interval,
        band: 2.0 * band,
        holds: remap.holds(band),
        widths: areas.iter().map(|area| 2.0 * half_width(*area)).collect(),
    });
    let beyond = half_width(wettest) - apart;
    (ItemBead { frame, remap, areas }, wet, beyond)
}

/// Item and pass that each block belongs to: those of the last stroke begun before its middle.
fn places(blocks: &[Piece], timeline: &Timeline, items: &[PathItem], open_delay: f64) -> Vec<(usize, usize)> {
    let of_stroke: Vec<(usize, usize)> = timeline
        .strokes
        .chunk_by(|a, b| a.item == b.item)
        .flat_map(|own| {
            let item = own[0].item;
            let per_pass = (own.len() / items[item].passes.max(1) as usize).max(1);
            (0..own.len()).map(move |k| (item, k / per_pass))
        })
        .collect();
    let of_block = |block: &Piece| {
        let number = timeline.stroke_at(block.time + 0.5 * block.duration, open_delay);
        of_stroke.get(number).copied().unwrap_or((0, 0))
    };
    blocks.iter().map(of_block).collect()
}
