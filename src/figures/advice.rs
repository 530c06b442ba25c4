//! What an advice says: which setting to use, with what margin, and what stands in the way.

use crate::statistics::wilson_95;
use crate::{BenchUse, Caution, CautionKind, Estimate};
use motefall_physics::figure_kinds::ItemFigure;
use motefall_physics::inputs::{Inputs, Limit};

/// A setting that may be changed, in the unit of its key.
#[derive(Debug, Clone, PartialEq)]
pub struct Freed {
    /// Scenario key, e.g. `flow.sheath_sccm`.
    pub key: String,
    /// Unit as written after numbers; empty for plain numbers.
    pub unit: String,
    /// Least value.
    pub least: f64,
    /// Largest value.
    pub most: f64,
    /// Values are whole multiples of this.
    pub step: f64,
    /// Whether the key takes whole numbers only; such a setting does not drift.
    pub is_whole: bool,
    /// Value that the scenario says.
    pub today: f64,
}

/// Ratio of the ends from which on a setting is searched by ratios.
const BY_RATIO: f64 = 3.0;

impl Freed {
    /// The value at a place from 0 to 1 between the ends, on a step.
    pub fn at(&self, place: f64) -> f64 {
        let place = place.clamp(0.0, 1.0);
        let value = match self.is_by_ratio() {
            true => self.least * (self.most / self.least).powf(place),
            false => self.least + (self.most - self.least) * place,
        };
        self.on_step(value)
    }

    /// The nearest value on a step between the ends.
    pub fn on_step(&self, value: f64) -> f64 {
        let [first, last] = [(self.least / self.step - 1e-9).ceil(), (self.most / self.step + 1e-9).floor()];
        let steps = (value / self.step).round().clamp(first, last);
        // 0.3, not 0.30000000000000004.
        let value = steps * self.step;
        format!("{value:.11e}").parse().unwrap_or(value)
    }

    /// Where a value lies between the ends, 0 to 1.
    pub fn place(&self, value: f64) -> f64 {
        match self.is_by_ratio() {
            true => (value / self.least).ln() / (self.most / self.least).ln(),
            false => (value - self.least) / (self.most - self.least),
        }
    }

    /// The middle between two values: of equal parts to both where neither is 0 or below, since settings drift by parts of themselves.
    pub fn between(low: f64, high: f64) -> f64 {
        if low > 0.0 { (low * high).sqrt() } else { 0.5 * (low + high) }
    }

    /// Whether a value does not drift with the others: whole numbers, and 0, of which there are no parts.
    pub fn stays(&self, value: f64) -> bool {
        self.is_whole || value == 0.0
    }

    fn is_by_ratio(&self) -> bool {
        self.least > 0.0 && self.most / self.least >= BY_RATIO
    }
}

/// A setting that was looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Values of the freed settings, in their order.
    pub values: Vec<f64>,
    /// Mean of the figure of each limit, SI; `None` where nothing tells it.
    pub means: Vec<Option<f64>>,
    /// What its prints say of it; `None` without prints.
    pub printed: Vec<Option<Estimate>>,
    /// Share of prints that are expected to meet all limits.
    pub expected: f64,
    /// Limit that is nearest to being missed, and its distance in standard deviations between prints.
    pub tightest: Option<(usize, f64)>,
    /// Prints that were made of it for this decision.
    pub prints: u32,
    /// Those that met all limits.
    pub met: u32,
    /// Those that met each.
    pub met_each: Vec<u32>,
    /// What a print and a chip take.
    pub used: BenchUse,
    /// Cautions by which the model is in doubt there, so far as they are known without prints.
    pub doubts: Vec<CautionKind>,
}

impl Candidate {
    /// 95 % interval of the share of prints that pass; `None` without prints.
    pub fn interval(&self) -> Option<[f64; 2]> {
        (self.prints > 0).then(|| wilson_95(self.met, self.prints))
    }

    /// Share of its prints that met all limits; 0 without prints.
    pub fn share(&self) -> f64 {
        f64::from(self.met) / f64::from(self.prints.max(1))
    }

    /// Standard deviation between prints of the figure of a limit, SI; `None` without prints.
    pub fn sd(&self, limit: usize) -> Option<f64> {
        self.printed[limit]?.sd
    }
}

/// How far a setting may move alone before the share of passing prints falls below the required one.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// Lowest and highest value that still passes.
    pub range: [f64; 2],
    /// The limit that is missed beyond each end; `None` where the range of the setting ends first.
    pub missed: [Option<usize>; 2],
    /// Where, on the way to each end, the model comes to be in doubt for a reason that it is not where the setting stands.
    pub doubted: [Option<Doubted>; 2],
}

/// Where doubts of the model begin.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubted {
    /// The last value without them.
    pub from: f64,
    /// Which.
    pub doubts: Vec<CautionKind>,
}

/// Part of their values by which all settings together may drift, each up or down, but those that stay ([`Freed::stays`]).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Margin {
    /// So far, enough prints pass at every corner.
    pub part: f64,
    /// So far of it, no corner doubts the model for a reason that the setting itself does not.
    pub undoubted: f64,
    /// The doubts that corners raise beyond.
    pub doubts: Vec<CautionKind>,
}

/// A setting that is recommended, or would be in another's place.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The setting with fresh prints, which took no part in choosing it.
    pub candidate: Candidate,
    /// How far all settings together may drift.
    pub margin: Margin,
    /// Room of each setting alone.
    pub rooms: Vec<Room>,
}

/// Expected share of passing prints over two settings, the others as recommended.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Which settings, along and up.
    pub settings: [usize; 2],
    /// Values along and up.
    pub values: [Vec<f64>; 2],
    /// Expected share, row after row from the lowest; `None` where it cannot run.
    pub shares: Vec<Vec<Option<f64>>>,
    /// For each of them, the doubts of the model that the recommended setting does not raise.
    pub doubts: Vec<Vec<Vec<CautionKind>>>,
}

/// A limit moved so far that a setting passes, all others as they are.
#[derive(Debug, Clone, PartialEq)]
pub struct Relaxation {
    /// Which limit.
    pub limit: usize,
    /// To what its end has to be moved, SI.
    pub to: f64,
    /// Whether that is its largest value.
    pub is_max: bool,
    /// The setting that passes then, judged by the moved limit with fresh prints.
    pub candidate: Candidate,
}

/// Another nozzle, ink or mist with which a setting passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Key, and what it is changed from and to, in its unit.
    pub key: String,
    /// See there.
    pub unit: String,
    /// See there.
    pub from: f64,
    /// See there.
    pub to: f64,
    /// The setting that passes then, with fresh prints.
    pub candidate: Candidate,
}

/// What stands in the way where nothing passes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Blocked {
    /// Pairs of limits that some setting each meets, and none both.
    pub conflicts: Vec<[usize; 2]>,
    /// Limits that no setting meets.
    pub never: Vec<usize>,
    /// Smallest relaxations found, the smallest first.
    pub relaxations: Vec<Relaxation>,
    /// Changes of nozzle, ink or mist that help, each by itself.
    pub changes: Vec<Change>,
}

/// What a test line is expected to show.
#[derive(Debug, Clone, PartialEq)]
pub struct OfLine {
    /// Which figure of the line.
    pub figure: ItemFigure,
    /// What it is as the inputs are set, and its standard deviation by what is not known of the bench, SI.
    pub expected: [f64; 2],
    /// Between which values the recommended setting passes on the benches that are possible (nine in ten of those on which it does); `None` if
    /// it passes on hardly any.
    pub go_on: Option<[f64; 2]>,
}

/// A line to print on a bare wafer before the chip is touched.
#[derive(Debug, Clone, PartialEq)]
pub struct TestLine {
    /// The layer whose setting and ink it is printed with; empty if there is one.
    pub layer: String,
    /// In what it differs from the recommended setting: key, value, unit; nothing if it is printed just so.
    pub changes: Vec<(String, f64, String)>,
    /// Speed, mm/s, and passes.
    pub speed: f64,
    /// See there.
    pub passes: u64,
    /// What it is expected to show.
    pub shows: Vec<OfLine>,
    /// Share of the variance of what decides that this line and those before it tell, over the benches that are possible.
    pub tells: f64,
}

/// Which lines tell whether the recommended setting holds on a bench.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPlan {
    /// Benches on which all values lie in their ranges.
    pub within: usize,
    /// Length of the lines, m.
    pub length: f64,
    /// The limit whose figure decides.
    pub deciding: usize,
    /// Share of the benches that are possible on which the recommended setting passes.
    pub passes_on: f64,
    /// The same of those on which every line is where one goes on.
    pub passes_within: f64,
    /// Limits that could not be judged on the benches and count nowhere here.
    pub not_judged: Vec<usize>,
    /// Benches that were tried.
    pub benches: usize,
    /// Whether these are what a calibration leaves possible; if not, what is usual of everything that nobody has measured.
    pub is_calibrated: bool,
    /// Lines, the one that tells most first.
    pub lines: Vec<TestLine>,
}

/// An advice.
#[derive(Debug, Clone)]
pub struct Advice {
    /// Inputs as the scenario says.
    pub inputs: Inputs,
    /// Settings that may be changed.
    pub freed: Vec<Freed>,
    /// Limits.
    pub limits: Vec<Limit>,
    /// Share of prints that has to pass.
    pub required: f64,
    /// The scenario's own setting, with prints.
    pub today: Candidate,
    /// Choices, the recommended one first, then others of another kind. Where nothing passes, the nearest.
    pub choices: Vec<Choice>,
    /// Settings of which no other is at once more likely to pass, quicker, thriftier and less in doubt, by what is expected.
    pub front: Vec<Candidate>,
    /// The window cut through the recommended setting.
    pub cut: Option<Cut>,
    /// Which lines to print first; `None` where nothing passes or no line tells.
    pub plan: Option<TestPlan>,
    /// Doubts of the model that every setting raises that was looked at.
    pub common_doubts: Vec<CautionKind>,
    /// What is to be said of the first choice before it is printed, safety first.
    pub cautions: Vec<Caution>,
    /// What stands in the way; `None` if a setting passes.
    pub blocked: Option<Blocked>,
    /// Settings of which the expected deposit was worked out, those that were printed, and prints made.
    pub screened: usize,
    /// See there.
    pub printed: usize,
    /// See there.
    pub prints: u64,
    /// Prints at each corner by which margins were proved.
    pub at_corner: u32,
}

impl Advice {
    /// Whether the recommended setting passes.
    pub fn passes(&self) -> bool {
        self.blocked.is_none()
    }

    /// By what a setting doubts the model beyond what every setting does that was looked at.
    pub fn own_doubts(&self, candidate: &Candidate) -> Vec<CautionKind> {
        beyond(&candidate.doubts, &self.common_doubts)
    }
}

/// Those that are not among others.
pub fn beyond(doubts: &[CautionKind], others: &[CautionKind]) -> Vec<CautionKind> {
    doubts.iter().filter(|kind| !others.contains(kind)).copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_lie_on_steps_between_the_ends() {
        let freed = |least: f64, most: f64, step: f64| Freed {
            key: "any".into(),
            unit: String::new(),
            least,
            most,
            step,
            is_whole: false,
            today: least,
        };
        let sheath = freed(20.0, 80.0, 0.5);
        assert_eq!([0.0, 0.5, 1.0, 2.0].map(|place| sheath.at(place)), [20.0, 40.0, 80.0, 80.0]);
        assert_eq!(sheath.place(40.0), 0.5);
        assert_eq!(freed(0.05, 0.1, 0.1).on_step(0.08), 0.1);
        let plain = freed(0.25, 0.65, 0.1);
        assert_eq!([plain.at(0.0), plain.at(0.13), plain.at(1.0)], [0.3, 0.3, 0.6]);
        assert_eq!([Freed::between(20.0, 80.0), Freed::between(0.0, 80.0)], [40.0, 40.0]);
    }
}
