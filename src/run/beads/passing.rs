//! How the nozzle comes by an item.

use motefall_physics::deposit::bead::PassTimes;
use motefall_physics::deposit::wind::layer_growth;
use motefall_physics::path::motion::Timeline;
use std::collections::BTreeMap;

/// Times within a pass at which the nozzle's distance is looked at.
const MOMENTS: usize = 8192;
/// Classes of the layer's growth per factor e.
const GROWTH_CLASSES: f64 = 2.0;

/// How the nozzle comes by the middle of an item, pass by pass.
pub(super) struct Passing {
    /// Above: within a nozzle's radius.
    pub(super) times: PassTimes,
    /// While it is away: how much thicker the layer of still gas is than under the jet, and for which share of that time.
    pub(super) away: Vec<(f64, f64)>,
}

impl Passing {
    /// Looks at the item's first pass; the others are alike.
    pub(super) fn new(timeline: &Timeline, item: usize, passes: u32, nozzle_radius: f64) -> Self {
        let own: Vec<_> = timeline.strokes.iter().filter(|stroke| stroke.item == item).collect();
        let (Some(first), Some(last)) = (own.first(), own.last()) else {
            return Self { times: PassTimes { above: 0.0, away: 0.0 }, away: vec![] };
        };
        let begin = first.drawn[0];
        let interval = (last.drawn[1] - begin) / f64::from(passes.max(1));
        let [from, to] = own[own.len() / passes.max(1) as usize / 2].drawn;
        let nozzle_at = |time| timeline.at(time).unwrap_or_default();
        let middle = nozzle_at(0.5 * (from + to));
        let mut classes = BTreeMap::new();
        let mut above = 0;
        for moment in 0..MOMENTS {
            let [x, y] = nozzle_at(begin + interval * (moment as f64 + 0.5) / MOMENTS as f64);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use motefall_physics::inputs::Shape;

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
        let timeline = Timeline::new(&layer.path, &layer.stage, None);
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
