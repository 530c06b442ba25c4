//! What nobody has measured of a bench, and what is thought possible before a line is.

use motefall_physics::inputs::{Inputs, VariedInput};
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
    /// What it is, in words; `{}` stands for the name of the powder.
    name: &'static str,
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

const fn usual(key: &'static str, name: &'static str, scale: Scale, sd: f64, range: [f64; 2], free: Free) -> Usual {
    Usual { key, name, scale, sd, range, free }
}

/// In the order of the process.
const USUAL: [Usual; 21] = [
    usual("gas.carrier_saturation", "saturation of the carrier", Scale::Linear, 0.1, [0.0, 1.0], Free::Unverified),
    usual("flow.carrier_sccm", "carrier flow", Scale::Log, 0.03, [0.5, 500.0], Free::Asked),
    usual("flow.sheath_sccm", "sheath flow", Scale::Log, 0.03, [0.0, 2000.0], Free::Asked),
    usual("ink.powder[].mass_percent", "{} in the ink", Scale::Log, 0.1, [1e-4, 60.0], Free::Asked),
    usual("ink.powder[].packing_fraction", "packing of {}", Scale::Linear, 0.08, [0.2, 0.74], Free::Unverified),
    usual("atomiser.droplet_median_um", "median droplet diameter", Scale::Log, 0.3, [0.5, 20.0], Free::Unverified),
    usual("atomiser.droplet_gsd", "spread of droplet sizes (GSD)", Scale::Log, 0.08, [1.15, 2.2], Free::Unverified),
    usual("atomiser.mist_load_ul_per_l", "mist load", Scale::Log, 0.5, [0.1, 200.0], Free::Always),
    usual(
        "atomiser.retention_midpoint",
        "midpoint of particle retention",
        Scale::Log,
        0.3,
        [0.1, 1.0],
        Free::Unverified,
    ),
    usual(
        "atomiser.retention_steepness",
        "steepness of particle retention",
        Scale::Log,
        0.4,
        [2.0, 30.0],
        Free::Unverified,
    ),
    usual("head.half_angle_deg", "half angle of the nozzle", Scale::Log, 0.3, [1.0, 30.0], Free::Asked),
    usual("head.land_um", "straight end of the nozzle", Scale::Log, 0.5, [10.0, 20_000.0], Free::Asked),
    usual("flight.lift_factor", "share of the shear lift", Scale::Linear, 0.3, [0.0, 1.0], Free::Asked),
    usual("flight.radius_factor", "factor on landing radii", Scale::Log, 0.07, [0.5, 2.0], Free::Always),
    usual("landing.contact_angle_deg", "contact angle", Scale::Log, 0.35, [5.0, 120.0], Free::Unverified),
    usual("landing.rim_bias", "gathering at the rim", Scale::Linear, 0.3, [0.0, 1.0], Free::Unverified),
    usual("landing.residue_packing", "packing of dry residues", Scale::Linear, 0.06, [0.3, 0.74], Free::Unverified),
    usual("stage.shutter_open_ms", "delay of the opening shutter", Scale::Log, 0.5, [0.1, 200.0], Free::Unverified),
    usual("stage.shutter_close_ms", "delay of the closing shutter", Scale::Log, 0.5, [0.1, 200.0], Free::Unverified),
    usual("output.run_in_deficit_percent", "output missing at first", Scale::Log, 0.5, [0.1, 60.0], Free::Unverified),
    usual("output.trend_percent_per_h", "trend of the output", Scale::Linear, 3.0, [-30.0, 30.0], Free::Unverified),
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
    /// What it is, in words.
    pub(crate) name: String,
    scale: Scale,
    middle: f64,
    sd: f64,
    /// Least and largest deviate.
    pub(crate) bounds: [f64; 2],
}

impl Unknown {
    fn new(inputs: &Inputs, knob: Knob, scale: Scale, middle: f64, sd: f64, range: [f64; 2]) -> Self {
        let [low, high] = [range[0].max(knob.range[0]), range[1].min(knob.range[1])];
        let name = name(&knob, inputs);
        let unbounded = Self { knob, name, scale, middle, sd, bounds: [-FARTHEST, FARTHEST] };
        let at = |value: f64| unbounded.deviate(value).clamp(-FARTHEST, FARTHEST);
        // What the user gave lies within, however unusual.
        let bounds = [at(low.min(middle)), at(high.max(middle))];
        Self { bounds, ..unbounded }
    }

    /// From what the table says of its key, or a usual uncertainty.
    fn usual(inputs: &Inputs, knob: Knob) -> Self {
        let (middle, range) = (knob.value, knob.range);
        match entry(&knob.key) {
            Some(usual) => Self::new(inputs, knob, usual.scale, middle, usual.sd, usual.range),
            None if middle > 0.0 => Self::new(inputs, knob, Scale::Log, middle, OTHER_SD, range),
            None => Self::new(inputs, knob, Scale::Linear, middle, OTHER_SD * (range[1] - range[0]), range),
        }
    }

    /// Of which 95 % is thought to lie between two values.
    fn between(inputs: &Inputs, knob: Knob, low: f64, high: f64) -> Self {
        let range = knob.range;
        let (scale, middle, whole) = match low > 0.0 {
            true => (Scale::Log, (low * high).sqrt(), (high / low).ln()),
            false => (Scale::Linear, 0.5 * (low + high), high - low),
        };
        Self::new(inputs, knob, scale, middle, whole / (2.0 * OF_95), range)
    }

    /// Name and key, by which it can be freed.
    pub(crate) fn name_and_key(&self) -> String {
        format!("{} ({})", self.name, self.knob.key)
    }

    /// What another value of its number, such as one that a line states, is where this unknown has a value.
    pub(crate) fn changed(&self, own: f64, value: f64) -> f64 {
        let changed = if self.is_by_factor() { own * value / self.knob.value } else { own + value - self.knob.value };
        changed.clamp(self.knob.range[0], self.knob.range[1])
    }

    /// Whether it differs by a factor; if not, by a difference.
    pub(crate) fn is_by_factor(&self) -> bool {
        self.scale == Scale::Log && self.knob.value > 0.0
    }

    /// Whether it differs from day to day, or stands for what the model lacks.
    pub(crate) fn is_always_doubtful(&self) -> bool {
        entry(&self.knob.key).is_some_and(|usual| usual.free == Free::Always)
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

fn entry(key: &str) -> Option<&'static Usual> {
    let (_, key) = of_layer(key);
    USUAL.iter().find(|usual| is_key(usual.key, key))
}

/// The number of the layer, from 1, that a key is in, and the key in it; 1 where there are no layers.
fn of_layer(key: &str) -> (usize, &str) {
    let parts = key.strip_prefix("layer[").and_then(|rest| rest.split_once("]."));
    parts.and_then(|(number, key)| Some((number.parse().ok()?, key))).unwrap_or((1, key))
}

/// What a number is, in words.
fn name(knob: &Knob, inputs: &Inputs) -> String {
    let Some(usual) = entry(&knob.key) else { return plain(knob) };
    let powder = || {
        let (layer, key) = of_layer(&knob.key);
        let number: usize = key.split_once('[')?.1.split_once(']')?.0.parse().ok()?;
        let layer = inputs.layers.get(layer.checked_sub(1)?)?;
        Some(layer.ink.powders.get(number.checked_sub(1)?)?.name.as_str())
    };
    usual.name.replace("{}", powder().unwrap_or("the powder"))
}

/// A key without its unit, as words.
fn plain(knob: &Knob) -> String {
    let unit = knob.unit.replace('µ', "u").replace('%', "percent").replace('/', "_").to_lowercase();
    let key = knob.key.strip_suffix(&unit).filter(|_| !unit.is_empty()).unwrap_or(&knob.key);
    key.trim_end_matches('_').replace(['.', '_'], " ")
}

/// What the user frees: keys, or keys with the ends of what is thought possible, `KEY=LOW..HIGH`.
pub(crate) fn asked_for(scenario: &Turnable, free: &[String]) -> Result<Vec<Unknown>, String> {
    let mut all: Vec<Unknown> = vec![];
    for wanted in free {
        let unknown = asked(scenario, wanted)?;
        if all.iter().any(|other| other.knob.key == unknown.knob.key) {
            return Err(format!("`{}` is freed twice: name it once", unknown.knob.key));
        }
        all.push(unknown);
    }
    Ok(all)
}

/// One of them.
pub(crate) fn asked(scenario: &Turnable, wanted: &str) -> Result<Unknown, String> {
    let inputs = &scenario.scenario.inputs;
    let Some((key, range)) = wanted.split_once('=') else {
        return scenario.knob(wanted).map(|knob| Unknown::usual(inputs, knob));
    };
    let knob = scenario.knob(key.trim())?;
    let ends = range.split_once("..").map(|(low, high)| [low, high].map(|end| end.trim().parse::<f64>().ok()));
    let Some([Some(low), Some(high)]) = ends else {
        return Err(format!(
            "`{wanted}`: write KEY=LOW..HIGH, e.g. atomiser.mist_load_ul_per_l=5..40: 95 % of what you think possible"
        ));
    };
    let [least, most] = knob.range;
    match () {
        () if low > high => Err(format!("`{wanted}`: LOW, {low}, is above HIGH, {high}; write {key}={high}..{low}")),
        () if low == high => Err(format!(
            "`{wanted}`: LOW and HIGH are the same; give a range, or set the value in the scenario if it is known"
        )),
        () if !(low >= least && high <= most) => Err(format!("`{wanted}`: {least} to {most} {} can be", knob.unit)),
        () => Ok(Unknown::between(inputs, knob, low, high)),
    }
}

/// What it means to free a number that the scenario states, or that differs between prints; `None` of one that nobody has measured.
pub(crate) fn meaning(scenario: &Turnable, unknown: &Unknown) -> Option<String> {
    let Knob { key, unit, value, is_unverified, .. } = &unknown.knob;
    let is_stated = !is_unverified && !unknown.is_always_doubtful();
    let [low, high] = [0.025, 0.975].map(|share| three_digits(unknown.value(unknown.at_share(share))));
    let stated = is_stated.then(|| {
        let (change, taken) = match unknown.is_by_factor() {
            true => ("factor", "a factor on"),
            false => ("difference", "a difference from"),
        };
        format!(
            "{} ({key}): the scenario has {} {unit}, and the fit looks from {low} to {high} {unit} (95 %). Where a line states its own value, that \
             changes by the same {change}; a prediction takes what was learnt as {taken} its own value.",
            unknown.name,
            three_digits(*value),
        )
    });
    let variation = varied(key).and_then(|input| scenario.scenario.inputs.spread.iter().find(|own| own.input == input));
    let spread = variation.map(|variation| {
        let sd = three_digits(variation.sd * variation.input.per_si());
        format!(
            "{} ({key}) also differs between prints, by {sd} {} ([spread]): what is fitted is its mean, and each print still scatters about it.",
            unknown.name,
            variation.input.unit()
        )
    });
    let all: Vec<String> = stated.into_iter().chain(spread).collect();
    (!all.is_empty()).then(|| capital(&all.join(" ")))
}

fn three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// First letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The input of `[spread]` that makes a number differ between prints.
fn varied(key: &str) -> Option<VariedInput> {
    const VARIED: [(&str, VariedInput); 8] = [
        ("flow.carrier_sccm", VariedInput::Carrier),
        ("flow.sheath_sccm", VariedInput::Sheath),
        ("flight.stand_off_mm", VariedInput::StandOff),
        ("atomiser.mist_load_ul_per_l", VariedInput::Output),
        ("atomiser.droplet_median_um", VariedInput::DropletMedian),
        ("output.trend_percent_per_h", VariedInput::Trend),
        ("output.warm_up_s", VariedInput::WarmUp),
        ("ink.powder[].mass_percent", VariedInput::Solids),
    ];
    VARIED.iter().find(|(own, _)| is_key(own, key)).map(|(_, input)| *input)
}

/// What is free unless the user names it: unverified defaults, the mist load, and how far the focus may differ from the computed one. Of a
/// print of layers what the file gives for all of them is one unknown, and what it does not is one of each layer.
pub(crate) fn usual_unknowns(scenario: &Turnable) -> Vec<Unknown> {
    let inputs = &scenario.scenario.inputs;
    let knobs_of = |key: &str| -> Vec<Knob> {
        match scenario.knob(key) {
            Ok(knob) => vec![knob],
            Err(_) if inputs.is_layered() => {
                let of_layers = (1..=inputs.layers.len()).map(|layer| format!("layer[{layer}].{key}"));
                of_layers.filter_map(|key| scenario.knob(&key).ok()).collect()
            }
            Err(_) => vec![],
        }
    };
    let keys =
        USUAL.iter().filter(|usual| usual.free != Free::Asked).flat_map(|usual| match usual.key.split_once("[]") {
            None => vec![(usual.key.to_owned(), usual.free)],
            Some((list, rest)) => (1..=MOST_ITEMS).map(|n| (format!("{list}[{n}]{rest}"), usual.free)).collect(),
        });
    let free = keys.flat_map(|(key, free)| {
        let knobs = knobs_of(&key).into_iter().filter(move |knob| free == Free::Always || knob.is_unverified);
        knobs.map(|knob| Unknown::usual(inputs, knob))
    });
    free.filter(|unknown| unknown.bounds[1] > unknown.bounds[0]).collect()
}

/// Unverified defaults that are not free unless asked for, since it costs.
pub(crate) fn left_as_they_are(scenario: &Turnable) -> Vec<Unknown> {
    let asked = USUAL.iter().filter(|usual| usual.free == Free::Asked);
    let knobs = asked.filter_map(|usual| scenario.knob(usual.key).ok().filter(|knob| knob.is_unverified));
    knobs.map(|knob| Unknown::usual(&scenario.scenario.inputs, knob)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::first_line;
    use motefall_physics::inputs::{Law, Variation};

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
            ("atomiser.mist_load_ul_per_l=45..5", "LOW, 45, is above HIGH, 5; write atomiser.mist_load_ul_per_l=5..45"),
            ("atomiser.mist_load_ul_per_l=5..5", "the same"),
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

    #[test]
    fn names_are_words() {
        let scenario = first_line();
        let name = |key: &str| asked(&scenario, key).expect("a key").name;
        for (key, words) in [
            ("ink.powder[1].packing_fraction", "packing of alumina"),
            ("flight.radius_factor", "factor on landing radii"),
            ("tube[1].bore_mm", "tube[1] bore"),
            ("path[2].speed_mm_s", "path[2] speed"),
        ] {
            assert_eq!(name(key), words);
        }
    }

    /// 3 % at 40 sccm: 95 % lie within exp(1.96 x 0.03) = 1.0606. A line at 25 sccm then has 25 x 42/40 = 26.25.
    #[test]
    fn a_stated_number_is_freed_by_a_factor() {
        let mut scenario = first_line();
        let sheath = asked(&scenario, "flow.sheath_sccm").expect("a key");
        let words = meaning(&scenario, &sheath).expect("it is stated");
        assert!(words.starts_with("Sheath flow (flow.sheath_sccm): the scenario has 40 sccm"), "{words}");
        assert!(words.contains("from 37.7 to 42.4 sccm") && !words.contains("differs between prints"), "{words}");
        assert!((sheath.changed(25.0, 42.0) - 26.25).abs() < 1e-12);
        let variation = Variation { input: VariedInput::Sheath, law: Law::Normal, sd: 0.01 };
        scenario.scenario.inputs.spread.push(variation);
        let words = meaning(&scenario, &sheath).expect("it is stated");
        assert!(
            words.contains("also differs between prints, by 1 % ([spread]): what is fitted is its mean"),
            "{words}"
        );
        // What nobody has measured, and the mist load, need no word.
        for key in ["landing.contact_angle_deg", "atomiser.mist_load_ul_per_l"] {
            assert_eq!(meaning(&scenario, &asked(&scenario, key).expect("a key")), None);
        }
        let twice = ["flow.sheath_sccm", "flow.sheath_sccm=30..50"].map(str::to_owned);
        assert!(asked_for(&scenario, &twice).expect_err("twice").contains("freed twice"));
    }
}
