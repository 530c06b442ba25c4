//! The beads of a layer, and where they move what lands.

use super::item::{Frame, ItemBead, ItemOutcome, WetLine, bead};
use super::landed::Landed;
use super::passing::Passing;
use super::wind::Wind;
use crate::landed::{landed_classes, landed_reach};
use motefall_physics::contours::{Bounds, turned};
use motefall_physics::deposit::Spreading;
use motefall_physics::deposit::bead::{Bead, Remap};
use motefall_physics::droplet::Finder;
use motefall_physics::head::mist::MistTable;
use motefall_physics::inputs::{BeadRule, Inputs, Layer, PathItem, Shape, VariedInput, farthest};
use motefall_physics::map::outline::bounds_of_shape;
use motefall_physics::path::motion::{Piece, Timeline};
use motefall_physics::source::atomiser::DropletSizes;

/// Deviations of the noise of the mist output up to which beads are looked ahead for.
const MOST_NOISE: f64 = 4.0;

/// Sine of the angle up to which a way is along a bead.
const ALONG: f64 = 1e-9;

/// The beads of a layer.
#[derive(Debug, Clone, Default)]
pub struct Beads {
    /// Lines that are wet at the set amount of liquid, whether their landings are moved or not.
    pub wet: Vec<WetLine>,
    /// Lines that hold their liquid only because it dries as fast as estimated, as they would be if it dried half as fast.
    pub nearly_wet: Vec<WetLine>,
    items: Vec<Option<ItemBead>>,
    /// Item and pass of each block of the path.
    blocks: Vec<(usize, usize)>,
    /// Distance from the axis of a stroke up to which mist lands, and up to which its bead runs, m.
    reach: [f64; 2],
}

/// How far from the lines of the path the mass of a print can lie, m: where mist lands at the set flows, how far beads run with the most
/// liquid that a print draws, and by how much the path itself may be shifted or turned.
pub(crate) fn reach<'a>(inputs: &Inputs, beads: impl Iterator<Item = &'a Beads>) -> f64 {
    let most = |input| farthest(&inputs.spread, input);
    let of_layer = |(layer, beads): (&Layer, &Beads)| {
        let noise = MOST_NOISE * layer.output.noise_sd;
        let amount = (1.0 + most(VariedInput::Output)) * (1.0 + most(VariedInput::Carrier)) * noise.exp();
        let [landed, bead] = beads.reach;
        landed.max(bead * amount.sqrt())
    };
    let mass = inputs.layers.iter().zip(beads).map(of_layer).fold(0.0, f64::max);
    let corners = inputs.items().map(|item| bounds_of_shape(&item.shape)).flat_map(|Bounds { low, high }| [low, high]);
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
    pub(crate) fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [nx, ny] = self.normal;
        let across = (x - self.middle[0]) * nx + (y - self.middle[1]) * ny;
        let by = self.remap.moved(across, self.bead) - across;
        [x + by * nx, y + by * ny]
    }

    /// The direction of the bead, if a way in this direction is not along it.
    pub(crate) fn crossed_by(&self, direction: [f64; 2]) -> Option<[f64; 2]> {
        let [nx, ny] = self.normal;
        ((direction[0] * nx + direction[1] * ny).abs() > ALONG).then_some([ny, -nx])
    }
}

/// What arrives on the chip.
#[derive(Clone, Copy)]
pub(crate) struct Arriving<'a> {
    /// Where droplets land.
    pub(crate) finder: &'a Finder,
    /// Losses and drying.
    pub(crate) mist: &'a MistTable,
    /// Sizes in the vial's mist.
    pub(crate) droplets: &'a DropletSizes,
    /// What droplets do on contact.
    pub(crate) spreading: &'a Spreading,
    /// Gas speed on the axis of the exit, m/s.
    pub(crate) centre_speed: f64,
}

impl Beads {
    /// Works out the beads of a layer; with [`BeadRule::Spread`] also where their landings go. Landing points, losses and drying are those
    /// of the setting: a print's own deviations change the amount of liquid only. `spacing` (m) is that of fills that have none of their own.
    pub(crate) fn new(
        layer: &Layer,
        spacing: Option<f64>,
        timeline: &Timeline,
        blocks: &[Piece],
        arriving: Arriving<'_>,
    ) -> Self {
        let Arriving { finder, mist, droplets, spreading, centre_speed } = arriving;
        let classes = landed_classes(layer, finder, mist, droplets, spreading);
        let mut beads = Self {
            blocks: items_and_passes(blocks, timeline, &layer.path),
            reach: [landed_reach(layer, finder, mist, droplets, spreading), 0.0],
            ..Self::default()
        };
        let Some(landed) = Landed::new(layer, mist, &classes) else { return beads };
        let wind = Wind::new(layer, mist, centre_speed);
        for (number, item) in layer.path.iter().enumerate() {
            if matches!(item.shape, Shape::Dot { .. }) {
                beads.items.push(None);
                continue;
            }
            let passing = Passing::new(timeline, number, item.passes, 0.5 * layer.head.nozzle);
            let ItemOutcome { bead, wet, nearly_wet, beyond } = bead(layer, item, spacing, &passing, &landed, &wind);
            beads.wet.extend(wet);
            beads.nearly_wet.extend(nearly_wet);
            let spreads = layer.landing.bead == BeadRule::Spread;
            if spreads {
                beads.reach[1] = beads.reach[1].max(beyond);
            }
            beads.items.push(spreads.then_some(bead));
        }
        beads
    }

    /// Item of the path that a block belongs to.
    pub(crate) fn item_of(&self, block: usize) -> Option<usize> {
        self.blocks.get(block).map(|(item, _)| *item)
    }

    /// Item of the path and pass that a block belongs to.
    pub(crate) fn item_and_pass(&self, block: usize) -> Option<(usize, usize)> {
        self.blocks.get(block).copied()
    }

    /// How many times the set amount of liquid each block brings, from its relative output: along a line its own; parallel lines that share
    /// a bead share their liquid, pass by pass.
    pub(crate) fn amounts(&self, blocks: &[Piece], output: &[f64]) -> Vec<f64> {
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

/// Item and pass that each block belongs to: those of the last stroke begun before its middle.
fn items_and_passes(blocks: &[Piece], timeline: &Timeline, items: &[PathItem]) -> Vec<(usize, usize)> {
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
        let number = timeline.stroke_at(block.time + 0.5 * block.duration);
        of_stroke.get(number).copied().unwrap_or((0, 0))
    };
    blocks.iter().map(of_block).collect()
}
