//! What nobody has measured of a bench, and what is thought possible before a line is.

use motefall_scenario::{Knob, Turnable};
use statrs::distribution::{ContinuousCDF, Normal};

/// Standard deviations beyond which nothing is thought possible.
const FARTHEST: f64 = 3.0;
/// Standard normal deviate of the ends of an interval that holds 95 %.
const OF_95: f64 = 1.959_964;

/// How a value follows from its standard normal deviate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Scale {
    /// By a factor.
    Log,
    /// By a difference.
    Linear,
}

/// What is thought possible of a key before it is measured. All of these are estimates from memory of what benches differ by: common
/// practice, no source.
struct Usual {
    /// `[]` stands for each item of a list.
    key: &'static str,
    scale: Scale,
    /// Standard deviation, of the logarithm or in the unit of the key.
    sd: f64,
    /// What it may be at all, in the unit of the key.
    range: [f64; 2],
    free: Free,
}

/// When a key is free unless the user names others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Free {
    /// If it is an unverified default.
    Unverified,
    /// Always: it differs from day to day, or it stands for what the model lacks.
    Always,
    /// Only if asked for: each value takes gas jets of its own, or widths follow it as others that are free.
    Asked,
}

const fn usual(key: &'static str, scale: Scale, sd: f64, range: [f64; 2], free: Free) -> Usual {
    Usual { key, scale, sd, range, free }
}

/// In the order of the process.
const USUAL: [Usual; 21] = [
    usual("gas.carrier_saturation", Scale::Linear, 0.1, [0.0, 1.0], Free::Unverified),
    usual("flow.carrier_sccm", Scale::Log, 0.03, [0.5, 500.0], Free::Asked),
    usual("flow.sheath_sccm", Scale::Log, 0.03, [0.0, 2000.0], Free::Asked),
    usual("ink.powder[].mass_percent", Scale::Log, 0.1, [1e-4, 60.0], Free::Asked),
    usual("ink.powder[].packing_fraction", Scale::Linear, 0.08, [0.2, 0.74], Free::Unverified),
    usual("atomiser.droplet_median_um", Scale::Log, 0.3, [0.5, 20.0], Free::Unverified),
    usual("atomiser.droplet_gsd", Scale::Log, 0.08, [1.15, 2.2], Free::Unverified),
    usual("atomiser.mist_load_ul_per_l", Scale::Log, 0.5, [0.1, 200.0], Free::Always),
    usual("atomiser.retention_midpoint", Scale::Log, 0.3, [0.1, 1.0], Free::Unverified),
    usual("atomiser.retention_steepness", Scale::Log, 0.4, [2.0, 30.0], Free::Unverified),
    usual("head.half_angle_deg", Scale::Log, 0.3, [1.0, 30.0], Free::Asked),
    usual("head.land_um", Scale::Log, 0.5, [10.0, 20_000.0], Free::Asked),
    usual("flight.lift_factor", Scale::Linear, 0.3, [0.0, 1.0], Free::Asked),
    usual("flight.radius_factor", Scale::Log, 0.07, [0.5, 2.0], Free::Always),
    usual("landing.contact_angle_deg", Scale::Log, 0.35, [5.0, 120.0], Free::Unverified),
    usual("landing.rim_bias", Scale::Linear, 0.3, [0.0, 1.0], Free::Unverified),
    usual("landing.residue_packing", Scale::Linear, 0.06, [0.3, 0.74], Free::Unverified),
    usual("stage.shutter_open_ms", Scale::Log, 0.5, [0.1, 200.0], Free::Unverified),
    usual("stage.shutter_close_ms", Scale::Log, 0.5, [0.1, 200.0], Free::Unverified),
    usual("output.run_in_deficit_percent", Scale::Log, 0.5, [0.1, 60.0], Free::Unverified),
    usual("output.trend_percent_per_h", Scale::Linear, 3.0, [-30.0, 30.0], Free::Unverified),
];

/// Standard deviation of the logarithm of a key that the table does not have.
const OTHER_SD: f64 = 0.1;
/// Items of a list that are looked at.
const MOST_ITEMS: usize = 8;

/// Something that nobody has measured. Before lines are measured, its deviate follows a standard normal law, cut at [`Unknown::bounds`].
#[derive(Debug, Clone)]
pub(crate) struct Unknown {
    /// The number of the scenario.
    pub(crate) knob: Knob,
    scale: Scale,
    middle: f64,
    sd: f64,
    /// Least and largest deviate.
    pub(crate) bounds: [f64; 2],
}

impl Unknown {
    fn new(knob: Knob, scale: Scale, middle: f64, sd: f64, range: [f64; 2]) -> Self {
        let [low, high] = [range[0].max(knob.range[0]), range[1].min(knob.range[1])];
        let unbounded = Self { knob, scale, middle, sd, bounds: [-FARTHEST, FARTHEST] };
        let at = |value: f64| unbounded.deviate(value).clamp(-FARTHEST, FARTHEST);
        // What the user gave lies within, however unusual.
        let bounds = [at(low.min(middle)), at(high.max(middle))];
        Self { bounds, ..unbounded }
    }

    /// From what the table says of its key, or a usual uncertainty.
    fn usual(knob: Knob) -> Self {
        let found = USUAL.iter().find(|usual| is_key(usual.key, &knob.key));
        let (middle, range) = (knob.value, knob.range);
        match found {
            Some(usual) => Self::new(knob, usual.scale, middle, usual.sd, usual.range),
            None if middle > 0.0 => Self::new(knob, Scale::Log, middle, OTHER_SD, range),
            None => Self::new(knob, Scale::Linear, middle, OTHER_SD * (range[1] - range[0]), range),
        }
    }

    /// Of which 95 % is thought to lie between two values.
    fn between(knob: Knob, low: f64, high: f64) -> Self {
        let range = knob.range;
        match low > 0.0 {
            true => Self::new(knob, Scale::Log, (low * high).sqrt(), (high / low).ln() / (2.0 * OF_95), range),
            false => Self::new(knob, Scale::Linear, 0.5 * (low + high), (high - low) / (2.0 * OF_95), range),
        }
    }

    /// Whether it differs by a factor; if not, by a difference.
    pub(crate) fn is_by_factor(&self) -> bool {
        self.scale == Scale::Log
    }

    /// Whether it differs from day to day, or stands for what the model lacks.
    pub(crate) fn is_always_doubtful(&self) -> bool {
        USUAL.iter().any(|usual| usual.free == Free::Always && is_key(usual.key, &self.knob.key))
    }

    /// The value, in the unit of the key, at a deviate.
    pub(crate) fn value(&self, deviate: f64) -> f64 {
        match self.scale {
            Scale::Log => self.middle * (self.sd * deviate).exp(),
            Scale::Linear => self.middle + self.sd * deviate,
        }
        .clamp(self.knob.range[0], self.knob.range[1])
    }

    /// The deviate of a value.
    pub(crate) fn deviate(&self, value: f64) -> f64 {
        match self.scale {
            Scale::Log if value <= 0.0 => -FARTHEST,
            Scale::Log => (value / self.middle).ln() / self.sd,
            Scale::Linear => (value - self.middle) / self.sd,
        }
    }

    /// The deviate below which a share of what is thought possible lies, 0 to 1.
    pub(crate) fn at_share(&self, share: f64) -> f64 {
        let normal = Normal::standard();
        let [low, high] = self.bounds.map(|bound| normal.cdf(bound));
        normal.inverse_cdf(low + share * (high - low)).clamp(self.bounds[0], self.bounds[1])
    }

    /// Its spread before, as a standard deviation of the deviate: below 1 where it is cut.
    pub(crate) fn spread(&self) -> f64 {
        const STEPS: usize = 400;
        let at = |k: usize| self.at_share((k as f64 + 0.5) / STEPS as f64);
        let mean = (0..STEPS).map(at).sum::<f64>() / STEPS as f64;
        ((0..STEPS).map(|k| (at(k) - mean).powi(2)).sum::<f64>() / STEPS as f64).sqrt()
    }
}

/// Whether a key is one of a pattern's.
fn is_key(pattern: &str, key: &str) -> bool {
    match pattern.split_once("[]") {
        None => pattern == key,
        Some((list, rest)) => key.strip_prefix(list).is_some_and(|key| {
            key.strip_prefix('[').and_then(|key| key.split_once(']')).is_some_and(|(_, after)| after == rest)
        }),
    }
}

/// What the user frees: a key, or a key with the ends of what is thought possible, `KEY=LOW..HIGH`.
pub(crate) fn asked(scenario: &Turnable, wanted: &str) -> Result<Unknown, String> {
    let Some((key, range)) = wanted.split_once('=') else { return scenario.knob(wanted).map(Unknown::usual) };
    let knob = scenario.knob(key.trim())?;
    let ends = range.split_once("..").map(|(low, high)| [low, high].map(|end| end.trim().parse::<f64>().ok()));
    match ends {
        Some([Some(low), Some(high)]) if low < high && low >= knob.range[0] && high <= knob.range[1] => {
            Ok(Unknown::between(knob, low, high))
        }
        Some([Some(low), Some(high)]) if low < high => {
            Err(format!("`{wanted}`: {} to {} {} can be", knob.range[0], knob.range[1], knob.unit))
        }
        _ => Err(format!(
            "`{wanted}`: write KEY=LOW..HIGH, e.g. atomiser.mist_load_ul_per_l=5..40: 95 % of what you think possible"
        )),
    }
}

/// What is free unless the user names it: unverified defaults, the mist load, and how far the focus may differ from the computed one.
pub(crate) fn usual_unknowns(scenario: &Turnable) -> Vec<Unknown> {
    let keys =
        USUAL.iter().filter(|usual| usual.free != Free::Asked).flat_map(|usual| match usual.key.split_once("[]") {
            None => vec![(usual.key.to_owned(), usual.free)],
            Some((list, rest)) => (1..=MOST_ITEMS).map(|n| (format!("{list}[{n}]{rest}"), usual.free)).collect(),
        });
    let free = keys.filter_map(|(key, free)| {
        let knob = scenario.knob(&key).ok()?;
        (free == Free::Always || knob.is_unverified).then(|| Unknown::usual(knob))
    });
    free.filter(|unknown| unknown.bounds[1] > unknown.bounds[0]).collect()
}

/// Unverified defaults that are not free unless asked for, and why it costs.
pub(crate) fn left_as_they_are(scenario: &Turnable) -> Vec<String> {
    let asked = USUAL.iter().filter(|usual| usual.free == Free::Asked);
    asked
        .filter(|usual| scenario.knob(usual.key).is_ok_and(|knob| knob.is_unverified))
        .map(|usual| usual.key.to_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::first_line;

    #[test]
    fn what_is_thought_possible_is_what_was_asked_for() {
        let scenario = first_line();
        // 5 to 45 by a factor: the middle is 15, and 95 % lie between; the cut at three standard deviations takes 1.2 % off the ends.
        let load = asked(&scenario, "atomiser.mist_load_ul_per_l=5..45").expect("a range");
        let at = |share: f64| load.value(load.at_share(share));
        for (share, value) in [(0.025, 5.06), (0.5, 15.0), (0.975, 44.46)] {
            assert!((at(share) / value - 1.0).abs() < 2e-3, "{share}: {}", at(share));
        }
        assert!((load.deviate(load.value(0.7)) - 0.7).abs() < 1e-12);
        // A saturation is 1 at most: the law from 0 to 3 is left, of the mean (0.39894 - 0.00443)/0.49865 = 0.79116 and the mean square
        // 1 - 3 x 0.00443/0.49865 = 0.97334, so of the standard deviation 0.5894.
        let saturation = asked(&scenario, "gas.carrier_saturation").expect("a key");
        assert_eq!((saturation.bounds[1], saturation.value(saturation.at_share(1.0))), (0.0, 1.0));
        assert!((saturation.spread() - 0.5894).abs() < 1e-3, "{}", saturation.spread());
        for (wanted, told) in [
            ("atomiser.mist_load_ul_per_l=45..5", "KEY=LOW..HIGH"),
            ("atomiser.mist_load_ul_per_l=5-45", "KEY=LOW..HIGH"),
            ("atomiser.mist_load_ul_per_l=5..45000", "can be"),
            ("atomiser.mist_load", "mist_load_ul_per_l"),
            ("atomiser", "a section, not a number"),
        ] {
            let words = asked(&scenario, wanted).expect_err(wanted);
            assert!(words.contains(told), "{wanted}: {words}");
        }
    }

    #[test]
    fn what_nobody_measured_is_free() {
        let scenario = first_line();
        let keys: Vec<String> = usual_unknowns(&scenario).into_iter().map(|unknown| unknown.knob.key).collect();
        for key in [
            "atomiser.droplet_median_um",
            "atomiser.mist_load_ul_per_l",
            "flight.radius_factor",
            "landing.contact_angle_deg",
            "ink.powder[1].packing_fraction",
        ] {
            assert!(keys.iter().any(|own| own == key), "{key} of {keys:?}");
        }
        // Set by hand, and costly.
        assert!(keys.iter().all(|key| key != "flow.sheath_sccm" && key != "head.half_angle_deg"), "{keys:?}");
        // The droplet size that follows from the frequency.
        let median = asked(&scenario, "atomiser.droplet_median_um").expect("a key");
        assert!((median.value(0.0) - 2.68).abs() < 0.1 && median.knob.is_unverified, "{}", median.value(0.0));
    }
}
