//! Which lines of a layer become wet beads, and how wide.

use super::line_width::{LandedClass, landed_classes, landed_reach, width_at_half_height};
use super::setting::LayerSetting;
use motefall_physics::contours::{Bounds, turned};
use motefall_physics::deposit::Spreading;
use motefall_physics::deposit::bead::{
    Across, Around, Bead, BeadSolvents, Heat, LIQUID_CONDUCTIVITY, Nozzle, Particles, PassBead, PassLoad, PassTimes,
    Remap, Ring, bead_by_pass, mean_footprint, segment_width,
};
use motefall_physics::deposit::wind::{layer_growth, stagnation_layer, strain_rate, strip_conductance};
use motefall_physics::droplet::Finder;
use motefall_physics::head::mist::{Flows, MistTable};
use motefall_physics::inputs::{BeadRule, Inputs, Layer, PathItem, Shape, SolventPart, VariedInput, farthest};
use motefall_physics::map::outline::bounds_of_shape;
use motefall_physics::materials::gas::GasState;
use motefall_physics::path::fill::count_over;
use motefall_physics::path::motion::{Piece, Timeline};
use motefall_physics::source::atomiser::DropletSizes;
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Share of the landed liquid that belongs to a line; the rest lies beside it and is left aside.
const OWN_SHARE: f64 = 0.99;
/// A line may dry so many times as fast or as slowly as estimated. Our own estimate.
const DRYING_DOUBT: f64 = 2.0;
/// Times within a pass at which the nozzle's distance is looked at.
const MOMENTS: usize = 8192;
/// Classes of the layer's growth per factor e.
const GROWTH_CLASSES: f64 = 2.0;
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
    /// Whether it would hold its liquid if that dried twice as fast.
    pub drying: DryingMatters,
}

/// Whether the estimate of a line's drying decides if the line is wet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DryingMatters {
    /// It does.
    Decides,
    /// The line is wet even if it dries twice as fast.
    Aside,
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
    /// Cross-section, m^2, at the set amount of liquid, of the bead in which the particles of each pass come to rest: the largest until it
    /// has dried so far that they stay.
    areas: Vec<f64>,
}

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
pub fn reach(inputs: &Inputs, layers: &[LayerSetting<'_>]) -> f64 {
    let most = |input| farthest(&inputs.spread, input);
    let of_layer = |setting: &LayerSetting<'_>| {
        let noise = MOST_NOISE * setting.layer.output.noise_sd;
        let amount = (1.0 + most(VariedInput::Output)) * (1.0 + most(VariedInput::Carrier)) * noise.exp();
        let [landed, bead] = setting.beads.reach;
        landed.max(bead * amount.sqrt())
    };
    let mass = layers.iter().map(of_layer).fold(0.0, f64::max);
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
    pub fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [nx, ny] = self.normal;
        let across = (x - self.middle[0]) * nx + (y - self.middle[1]) * ny;
        let by = self.remap.moved(across, self.bead) - across;
        [x + by * nx, y + by * ny]
    }
}

/// What arrives on the chip.
#[derive(Clone, Copy)]
pub struct Arriving<'a> {
    /// Where droplets land.
    pub finder: &'a Finder,
    /// Losses and drying.
    pub mist: &'a MistTable,
    /// Sizes in the vial's mist.
    pub droplets: &'a DropletSizes,
    /// What droplets do on contact.
    pub spreading: &'a Spreading,
    /// Gas speed on the axis of the exit, m/s.
    pub centre_speed: f64,
}

impl Beads {
    /// Works out the beads of a layer; with [`BeadRule::Spread`] also where their landings go. Landing points, losses and drying are those
    /// of the setting: a print's own deviations change the amount of liquid only.
    pub fn new(layer: &Layer, timeline: &Timeline, blocks: &[Piece], arriving: Arriving<'_>) -> Self {
        let Arriving { finder, mist, droplets, spreading, centre_speed } = arriving;
        let classes = landed_classes(layer, finder, mist, droplets, spreading);
        let mut beads = Self {
            blocks: places(blocks, timeline, &layer.path, layer.stage.shutter_open_delay),
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
            let ItemOutcome { bead, wet, nearly_wet, beyond } = bead(layer, item, &passing, &landed, &wind);
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

/// How the nozzle comes by the middle of an item, pass by pass.
struct Passing {
    /// Above: within a nozzle's radius.
    times: PassTimes,
    /// While it is away: how much thicker the layer of still gas is than under the jet, and for which share of that time.
    away: Vec<(f64, f64)>,
}

impl Passing {
    /// Looks at the item's first pass; the others are alike.
    fn new(timeline: &Timeline, item: usize, passes: u32, nozzle_radius: f64) -> Self {
        let own: Vec<_> = timeline.strokes.iter().filter(|stroke| stroke.item == item).collect();
        let (Some(first), Some(last)) = (own.first(), own.last()) else {
            return Self { times: PassTimes { above: 0.0, away: 0.0 }, away: vec![] };
        };
        let begin = first.commanded[0];
        let interval = (last.commanded[1] - begin) / f64::from(passes.max(1));
        let [from, to] = own[own.len() / passes.max(1) as usize / 2].commanded;
        let middle = nozzle_at(timeline, 0.5 * (from + to));
        let mut classes = BTreeMap::new();
        let mut above = 0;
        for moment in 0..MOMENTS {
            let [x, y] = nozzle_at(timeline, begin + interval * (moment as f64 + 0.5) / MOMENTS as f64);
            let growth = layer_growth((x - middle[0]).hypot(y - middle[1]), nozzle_radius);
            if growth == 1.0 {
                above += 1;
            } else {
                let class = classes.entry((growth.ln() * GROWTH_CLASSES) as i64).or_insert((0.0, 0));
                *class = (class.0 + growth.ln(), class.1 + 1);
            }
        }
        let share = |moments: usize| moments as f64 / MOMENTS as f64;
        let of_class = |&(logs, moments): &(f64, usize)| {
            ((logs / moments as f64).exp(), moments as f64 / (MOMENTS - above) as f64)
        };
        Self {
            times: PassTimes { above: share(above) * interval, away: share(MOMENTS - above) * interval },
            away: classes.values().map(of_class).collect(),
        }
    }
}

/// Where the nozzle is at a time, s.
fn nozzle_at(timeline: &Timeline, time: f64) -> [f64; 2] {
    let number = timeline.pieces.partition_point(|piece| piece.time <= time).saturating_sub(1);
    timeline.pieces.get(number).map_or([0.0; 2], |piece| piece.at((time - piece.time).clamp(0.0, piece.duration)))
}

/// The gas of the nozzle as it dries what lies on the chip.
///
/// Vapour and heat go through a layer of gas: thin under the jet, thicker away from it, at most as thick as the stand-off. Under the jet the
/// chip is swept by the gas that the mist came in, which holds its vapour; elsewhere by all of the gas, mixed. The chip keeps its temperature,
/// which a thin membrane does not.
struct Wind<'a> {
    solvents: BeadSolvents<'a>,
    /// Thickness of the layer under the jet for each solvent's vapour, m.
    layers: Vec<f64>,
    /// The same for heat.
    heat_layer: f64,
    /// Their largest thickness anywhere, m.
    thickest: f64,
    /// Vapour pressures under the jet, Pa, per solvent.
    above: &'a [f64],
    /// Vapour pressures elsewhere.
    away: &'a [f64],
    gas: GasState,
    chip_temperature: f64,
}

impl<'a> Wind<'a> {
    /// `centre_speed` is that of the gas on the axis of the exit, m/s.
    fn new(layer: &'a Layer, mist: &'a MistTable, centre_speed: f64) -> Self {
        let flows = Flows::new(layer);
        let (nozzle, gas) = (layer.head.nozzle, flows.head_gas);
        let exit_speed = flows.total() / (PI * 0.25 * nozzle * nozzle);
        let strain = strain_rate(exit_speed, centre_speed / exit_speed, nozzle);
        let thickness = |diffusivity: f64| stagnation_layer(strain, gas.viscosity / gas.density, diffusivity);
        let chip_temperature = layer.landing.chip_temperature;
        let film = 0.5 * (chip_temperature + gas.temperature);
        let solvents = &layer.ink.solvents;
        let of_vapour = |part: &SolventPart| thickness(part.solvent.vapour_diffusivity(film, gas.pressure));
        Self {
            solvents: BeadSolvents::new(solvents, gas.pressure),
            layers: solvents.iter().map(of_vapour).collect(),
            heat_layer: thickness(gas.heat_conductivity / (gas.density * gas.heat_capacity)),
            thickest: layer.flight.stand_off,
            above: &mist.vapour,
            away: &mist.mixed_vapour,
            gas,
            chip_temperature,
        }
    }

    /// What a strip of a width (m) gives off through a layer of this thickness (m) under the jet, over these growths of the layer and their
    /// shares of the time.
    fn conductance(&self, layer: f64, width: f64, growths: &[(f64, f64)]) -> f64 {
        growths
            .iter()
            .map(|(growth, share)| share * strip_conductance(width, (layer * growth).min(self.thickest)))
            .sum()
    }
}

/// Strokes side by side: a point of their middle line, direction, number, spacing.
fn parallel(shape: &Shape) -> Option<([f64; 2], [f64; 2], usize, f64)> {
    match shape {
        Shape::FilledRectangle { center, size, rotation, spacing } => {
            Some((*center, turned([1.0, 0.0], *rotation), count_over(size[1], *spacing), *spacing))
        }
        Shape::FilledDisc { center, radius, spacing } => {
            Some((*center, [1.0, 0.0], count_over(2.0 * radius, *spacing), *spacing))
        }
        Shape::Filled(filled) => {
            let Bounds { low, high } = filled.area.placed(-filled.angle, [0.0; 2]).bounds();
            let middle = turned([0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])], filled.angle);
            Some((
                middle,
                turned([1.0, 0.0], filled.angle),
                count_over(high[1] - low[1], filled.spacing),
                filled.spacing,
            ))
        }
        Shape::Polyline(_) | Shape::Polylines(_) | Shape::Dot { .. } => None,
    }
}

/// What becomes of an item.
struct ItemOutcome {
    bead: ItemBead,
    /// What is to be said if it is wet, and if it nearly is.
    wet: Option<WetLine>,
    nearly_wet: Option<WetLine>,
    /// How far the bead runs beyond the axis of its outermost stroke, m.
    beyond: f64,
}

/// The bead of an item. Lines of a fill that run into each other are one bead across the whole fill, which takes the fill as long as it is where
/// it is longest; ends and corners are not rounded. All of it dries as its middle does.
fn bead(layer: &Layer, item: &PathItem, passing: &Passing, landed: &Landed, wind: &Wind) -> ItemOutcome {
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
    let at_pace = |pace: f64| {
        let rates = |nozzle, largest, liquid: &[f64]| {
            let mut rates = drying(wind, passing, nozzle, wetted(largest), liquid);
            rates.iter_mut().for_each(|rate| *rate *= pace);
            rates
        };
        let load = PassLoad {
            liquid: &per_pass,
            solids: landed.solids * over,
            pores: 1.0 / layer.landing.residue_packing - 1.0,
        };
        let mut beads = bead_by_pass(load, item.passes, passing.times, rates);
        let one_pass = beads[0].area;
        // The contact line does not come back.
        for k in 1..beads.len() {
            beads[k].area = beads[k].area.max(beads[k - 1].area);
        }
        (one_pass, beads)
    };
    let half_width = |area: f64| remap.bead(area).map_or(0.0, |bead| bead.half_width);
    let last = |beads: &[PassBead]| beads.last().map_or(0.0, |bead| bead.area);
    let holds = |beads: &[PassBead]| remap.bead(last(beads)).is_none();
    let line = |per_pass: f64, beads: &[PassBead], drying| WetLine {
        item: item.name.clone(),
        area: last(beads),
        per_pass,
        lines,
        interval: passing.times.above + passing.times.away,
        band: 2.0 * band,
        holds: remap.holds(band),
        widths: beads.iter().map(|bead| 2.0 * half_width(bead.area)).collect(),
        drying,
    };
    let (one_pass, beads) = at_pace(1.0);
    let (mut wet, mut nearly_wet) = (None, None);
    if holds(&beads) {
        let (one_pass, slower) = at_pace(1.0 / DRYING_DOUBT);
        nearly_wet = (!holds(&slower)).then(|| line(one_pass, &slower, DryingMatters::Decides));
    } else {
        let decides = holds(&at_pace(DRYING_DOUBT).1);
        wet = Some(line(one_pass, &beads, if decides { DryingMatters::Decides } else { DryingMatters::Aside }));
    }
    let beyond = half_width(last(&beads)) - apart;
    ItemOutcome { bead: ItemBead { frame, remap, areas: resting(&beads) }, wet, nearly_wet, beyond }
}

/// For each pass the cross-section of the bead in which its particles come to rest: that of the last pass before they settle.
fn resting(beads: &[PassBead]) -> Vec<f64> {
    let mut rest = 0.0;
    let mut areas: Vec<f64> = beads
        .iter()
        .enumerate()
        .rev()
        .map(|(pass, bead)| {
            if bead.particles == Particles::Settled || pass + 1 == beads.len() {
                rest = bead.area;
            }
            rest
        })
        .collect();
    areas.reverse();
    areas
}

/// What a bead of a width (m) that holds these cross-sections of each solvent (m^2) loses of them, m^2/s.
fn drying(wind: &Wind, passing: &Passing, nozzle: Nozzle, width: f64, liquid: &[f64]) -> Vec<f64> {
    let (growths, vapour) = match nozzle {
        Nozzle::Above => (&[(1.0, 1.0)][..], wind.above),
        Nozzle::Away => (&passing.away[..], wind.away),
    };
    let conductances: Vec<f64> = wind.layers.iter().map(|layer| wind.conductance(*layer, width, growths)).collect();
    let height = liquid.iter().sum::<f64>() / width;
    let around = Around {
        conductances: &conductances,
        vapour,
        chip: Heat { conductance: LIQUID_CONDUCTIVITY * width / height, temperature: wind.chip_temperature },
        gas: Heat {
            conductance: wind.gas.heat_conductivity * wind.conductance(wind.heat_layer, width, growths),
            temperature: wind.gas.temperature,
        },
    };
    wind.solvents.rates(liquid, &around)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;

    #[test]
    fn particles_rest_in_the_bead_that_they_last_float_in() {
        let bead = |area, particles| PassBead { area, particles };
        let (afloat, settled) = (Particles::Afloat, Particles::Settled);
        let beads = [bead(1.0, afloat), bead(2.0, settled), bead(2.5, afloat), bead(3.0, afloat)];
        assert_eq!(resting(&beads), [2.0, 2.0, 3.0, 3.0]);
    }

    /// A line of 1 mm at 1 mm/s and back, a nozzle of 150 µm: above its middle for 0.15 s of each pass. It ends 0.5 mm away, but for the run-up,
    /// where the layer is (0.5/0.075)^(5/4) = 10.7 times as thick. Its logarithm, 5/4 ln(r/R), has with r evenly
    /// passed the mean 5/4 (0.5 ln(0.5/0.075) - 0.425)/0.425 = 1.540.
    #[test]
    fn the_nozzle_passes_over_a_line() {
        let mut layer = testing::inputs().layers.remove(0);
        layer.stage.acceleration = 100.0;
        layer.stage.run_up = 0.0;
        layer.path.truncate(1);
        layer.path[0].shape = Shape::Polyline(vec![[-0.5e-3, 0.0], [0.5e-3, 0.0]]);
        layer.path[0].speed = 1e-3;
        layer.path[0].passes = 4;
        let timeline = Timeline::new(&layer.path, &layer.stage);
        let passing = Passing::new(&timeline, 0, 4, 75e-6);
        let PassTimes { above, away } = passing.times;
        assert!((above - 0.15).abs() < 1e-3 && (above + away - 1.0).abs() < 1e-3, "{:?}", passing.times);
        let whole: f64 = passing.away.iter().map(|(_, share)| share).sum();
        assert!((whole - 1.0).abs() < 1e-9);
        assert!(passing.away.iter().all(|(growth, _)| (1.0..10.8).contains(growth)), "{:?}", passing.away);
        let mean: f64 = passing.away.iter().map(|(growth, share)| growth.ln() * share).sum();
        assert!((mean - 1.540).abs() < 0.01, "{mean}");
    }
}
