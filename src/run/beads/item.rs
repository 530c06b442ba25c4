//! The bead of an item of the path.

use super::landed::{Landed, OWN_SHARE};
use super::passing::Passing;
use super::wind::{Wind, drying};
use motefall_physics::contours::{Bounds, turned};
use motefall_physics::deposit::bead::{Particles, PassBead, PassLoad, Remap, bead_by_pass, segment_width};
use motefall_physics::inputs::{Layer, PathItem, Shape};
use motefall_physics::path::fill::count_over;

/// A line may dry so many times as fast or as slowly as estimated. Our own estimate.
const DRYING_DOUBT: f64 = 2.0;

/// A line, or the parallel lines of a filled area, that carry more liquid than holds where it lands.
#[derive(Debug, Clone)]
pub struct WetLine {
    /// Path item.
    pub item: String,
    /// Cross-section of the liquid, with its solids, after the wettest pass, m^2.
    pub area: f64,
    /// Cross-section that one pass brings, m^2.
    pub(crate) per_pass: f64,
    /// Lines side by side that share a bead.
    pub(crate) lines: usize,
    /// Time from one pass to the next, s.
    pub(crate) interval: f64,
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
pub(super) enum Frame {
    /// Along the stroke itself.
    Stroke,
    /// Along parallel strokes: a point of the middle line, and their direction.
    Track([f64; 2], [f64; 2]),
}

#[derive(Debug, Clone)]
pub(super) struct ItemBead {
    pub(super) frame: Frame,
    pub(super) remap: Remap,
    /// Cross-section, m^2, at the set amount of liquid, of the bead in which the particles of each pass come to rest: the largest until it
    /// has dried so far that they stay.
    pub(super) areas: Vec<f64>,
}

/// Strokes side by side: a point of their middle line, direction, number, spacing.
fn parallel(shape: &Shape, from_line: Option<f64>) -> Option<([f64; 2], [f64; 2], usize, f64)> {
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
            let spacing = filled.spacing.with(from_line);
            Some((middle, turned([1.0, 0.0], filled.angle), count_over(high[1] - low[1], spacing), spacing))
        }
        Shape::Polyline(_) | Shape::Polylines(_) | Shape::Dot { .. } => None,
    }
}

/// What becomes of an item.
pub(super) struct ItemOutcome {
    pub(super) bead: ItemBead,
    /// What is to be said if it is wet, and if it nearly is.
    pub(super) wet: Option<WetLine>,
    pub(super) nearly_wet: Option<WetLine>,
    /// How far the bead runs beyond the axis of its outermost stroke, m.
    pub(super) beyond: f64,
}

/// A line, or lines of a fill that run into each other, while it takes up liquid and dries.
struct Growing<'a> {
    layer: &'a Layer,
    item: &'a PathItem,
    passing: &'a Passing,
    wind: &'a Wind<'a>,
    remap: Remap,
    /// Lines side by side.
    lines: usize,
    /// Width within which the mist wets the chip as it lands, to each side, m.
    band: f64,
    /// What a pass over all lines brings of each solvent, and of the solids that come with them, m^2.
    liquid: Vec<f64>,
    solids: f64,
}

impl Growing<'_> {
    /// The bead after each pass if it dries so many times as fast as estimated, and the cross-section after the first pass, m^2.
    fn at_pace(&self, pace: f64) -> (f64, Vec<PassBead>) {
        let wetted = |area: f64| 2.0 * self.remap.bead(area).map_or(self.band, |bead| bead.half_width);
        let rates = |nozzle, largest, liquid: &[f64]| {
            let mut rates = drying(self.wind, self.passing, nozzle, wetted(largest), liquid);
            rates.iter_mut().for_each(|rate| *rate *= pace);
            rates
        };
        let load = PassLoad {
            liquid: &self.liquid,
            solids: self.solids,
            pores: 1.0 / self.layer.landing.residue_packing - 1.0,
        };
        let mut beads = bead_by_pass(load, self.item.passes, self.passing.times, rates);
        let one_pass = beads[0].area;
        // The contact line does not come back.
        for k in 1..beads.len() {
            beads[k].area = beads[k].area.max(beads[k - 1].area);
        }
        (one_pass, beads)
    }

    fn half_width(&self, area: f64) -> f64 {
        self.remap.bead(area).map_or(0.0, |bead| bead.half_width)
    }

    /// Whether the line holds its liquid where it lands.
    fn holds(&self, beads: &[PassBead]) -> bool {
        self.remap.bead(last_area(beads)).is_none()
    }

    fn told(&self, (one_pass, beads): &(f64, Vec<PassBead>), drying: DryingMatters) -> WetLine {
        WetLine {
            item: self.item.name.clone(),
            area: last_area(beads),
            per_pass: *one_pass,
            lines: self.lines,
            interval: self.passing.times.above + self.passing.times.away,
            band: 2.0 * self.band,
            holds: self.remap.holds(self.band),
            widths: beads.iter().map(|bead| 2.0 * self.half_width(bead.area)).collect(),
            drying,
        }
    }
}

/// Cross-section after the last pass, m^2.
fn last_area(beads: &[PassBead]) -> f64 {
    beads.last().map_or(0.0, |bead| bead.area)
}

/// The bead of an item. Lines of a fill that run into each other are one bead across the whole fill, which takes the fill as long as it is where
/// it is longest; ends and corners are not rounded. All of it dries as its middle does.
pub(super) fn bead(
    layer: &Layer,
    item: &PathItem,
    spacing: Option<f64>,
    passing: &Passing,
    landed: &Landed,
    wind: &Wind,
) -> ItemOutcome {
    let angle = layer.landing.contact_angle;
    let own_half = landed.across.half_width(OWN_SHARE);
    let one = (landed.solvents.iter().sum::<f64>() + landed.solids) / item.speed;
    let alone = segment_width(one, angle).max(2.0 * own_half);
    let side_by_side = parallel(&item.shape, spacing).filter(|(_, _, lines, spacing)| *lines > 1 && *spacing < alone);
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
    let over = lines as f64 / item.speed;
    let liquid = landed.solvents.iter().map(|rate| rate * over).collect();
    let solids = landed.solids * over;
    let growing = Growing { layer, item, passing, wind, remap, lines, band, liquid, solids };
    let estimated = growing.at_pace(1.0);
    let (mut wet, mut nearly_wet) = (None, None);
    if growing.holds(&estimated.1) {
        let slower = growing.at_pace(1.0 / DRYING_DOUBT);
        nearly_wet = (!growing.holds(&slower.1)).then(|| growing.told(&slower, DryingMatters::Decides));
    } else {
        let decides = growing.holds(&growing.at_pace(DRYING_DOUBT).1);
        wet = Some(growing.told(&estimated, if decides { DryingMatters::Decides } else { DryingMatters::Aside }));
    }
    let beyond = growing.half_width(last_area(&estimated.1)) - apart;
    let areas = resting(&estimated.1);
    ItemOutcome { bead: ItemBead { frame, remap: growing.remap, areas }, wet, nearly_wet, beyond }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn particles_rest_in_the_bead_that_they_last_float_in() {
        let bead = |area, particles| PassBead { area, particles };
        let (afloat, settled) = (Particles::Afloat, Particles::Settled);
        let beads = [bead(1.0, afloat), bead(2.0, settled), bead(2.5, afloat), bead(3.0, afloat)];
        assert_eq!(resting(&beads), [2.0, 2.0, 3.0, 3.0]);
    }
}
