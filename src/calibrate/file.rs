//! The file that a calibration is kept in, and what it makes of a scenario.

use crate::lines::Line;
use motefall_figures::calibration::{Agreement, Calibration, Counted, Used};
use motefall_files::plain_file;
use motefall_physics::inputs::{DropletMedian, Inputs, Layer};
use motefall_scenario::{Calibrated, Knob, Scenario, Turnable};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// First line of what the file says of itself.
const FORMAT: &str = "motefall calibration 2";
/// Largest file, bytes.
const LARGEST_FILE: u64 = 10_000_000;
/// Factor beyond the settings of the lines within which a calibration is still used without a word.
const ROOM: f64 = 1.2;
/// Keys that what the model lacks from line to line is put on: widths and amounts.
pub(crate) const LACK_KEYS: [&str; 2] = ["flight.radius_factor", "atomiser.mist_load_ul_per_l"];
/// Draws by which what is still unknown is told.
pub const DRAWS: usize = 200;

/// A calibration as it stands in its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CalibrationFile {
    format: String,
    /// Version of the program that made it.
    program: String,
    /// When, in UTC.
    created: String,
    scenario: Source,
    measured: Source,
    fit: FitPart,
    range: Range,
    unknown: Vec<UnknownPart>,
    draws: DrawsPart,
}

/// A file that it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Its name.
    pub file: String,
    /// Its checksum (CRC-32) and length, by which it can be recognised.
    pub crc32: String,
    /// Bytes.
    pub bytes: u64,
}

impl Source {
    /// A file by name and content.
    pub fn of(file: &Path, content: &[u8]) -> Self {
        let file = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        Self { file, crc32: format!("{:08x}", crc32fast::hash(content)), bytes: content.len() as u64 }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FitPart {
    /// Lines and vials that it learnt from, and those kept for judging.
    lines: usize,
    vials: usize,
    held_out: usize,
    misfit: f64,
    degrees_of_freedom: f64,
    probability: f64,
    /// A word of [`Agreement`].
    agreement: String,
}

/// Settings that the lines cover: least and largest, in the units of the keys.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Range {
    carrier_sccm: [f64; 2],
    sheath_sccm: [f64; 2],
    nozzle_um: [f64; 2],
    stand_off_mm: [f64; 2],
    /// 0 if the droplet size was given.
    frequency_mhz: f64,
    solvents: Vec<String>,
    powders: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct UnknownPart {
    key: String,
    unit: String,
    /// What the scenario of the lines says, whether that is a default, and whether what was learnt is a factor on it (or a difference).
    set: f64,
    was_default: bool,
    by_factor: bool,
    /// Median and the interval of 95 %.
    median: f64,
    interval: [f64; 2],
    before: [f64; 3],
    /// Width of the interval of 95 % over that before.
    narrowed_to: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DrawsPart {
    /// What the model lacks from line to line, of widths and of amounts, in each row.
    lacks: Vec<[f64; 2]>,
    /// Values of the unknowns in their order, in each row.
    values: Vec<Vec<f64>>,
}

impl CalibrationFile {
    /// From a calibration; `created` is the time in UTC.
    pub fn new(
        calibration: &Calibration,
        scenario: &Turnable,
        lines: &[Line],
        sources: [Source; 2],
        created: String,
    ) -> Self {
        let [scenario_source, measured] = sources;
        let fit = &calibration.fit;
        let unknown = calibration.unknowns.iter().map(|learnt| {
            let [median, low, high] = learnt.after;
            UnknownPart {
                key: by_name(&learnt.key, &scenario.scenario.inputs.layers[0]),
                unit: learnt.unit.clone(),
                set: learnt.set,
                was_default: learnt.was_default,
                by_factor: learnt.by_factor,
                median,
                interval: [low, high],
                before: learnt.before,
                narrowed_to: learnt.narrowed_to(),
            }
        });
        Self {
            format: FORMAT.to_owned(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            created,
            scenario: scenario_source,
            measured,
            fit: FitPart {
                lines: calibration.learnt_from.lines,
                vials: calibration.learnt_from.vials,
                held_out: calibration.held_out.lines + calibration.held_out.vials,
                misfit: fit.chi_square,
                degrees_of_freedom: fit.freedom,
                probability: fit.probability,
                agreement: calibration.agreement().word().to_owned(),
            },
            range: Range::of(scenario, lines),
            unknown: unknown.collect(),
            draws: DrawsPart { lacks: calibration.lacks.clone(), values: calibration.draws.clone() },
        }
    }

    /// When it was made, in UTC.
    pub fn created(&self) -> &str {
        &self.created
    }

    /// A checksum of all that it says.
    pub fn crc32(&self) -> String {
        format!("{:08x}", crc32fast::hash(self.text().as_bytes()))
    }

    /// The text of the file.
    pub fn text(&self) -> String {
        let head = "# What test lines taught about a bench. Predictions take it: motefall predict FILE --calibration THIS.\n\
                    # Each row of `draws` is as likely as any other; numbers are in the units at the ends of their keys.\n\n";
        format!("{head}{}", toml::to_string(self).expect("it holds nothing that cannot be written"))
    }

    /// Reads a calibration; otherwise why it cannot be used, and what to do.
    pub fn load(path: &Path) -> Result<Self, String> {
        let shown = path.display();
        let bytes = plain_file::read(path, LARGEST_FILE)
            .map_err(|error| format!("{shown}: {error}; give the calibration.toml that `motefall calibrate` wrote"))?;
        let not_one = |what: &str| format!("{shown} is no calibration: {what}; `motefall calibrate` writes one");
        let text = String::from_utf8(bytes).map_err(|_| not_one("it is not a text"))?;
        let format = text.parse::<toml::Table>().ok().and_then(|table| Some(table.get("format")?.as_str()?.to_owned()));
        if let Some(format) = format.filter(|format| format != FORMAT) {
            return Err(not_one(&format!("its format is \"{format}\", and this program reads \"{FORMAT}\"")));
        }
        let file: Self = toml::from_str(&text).map_err(|error| not_one(error.message()))?;
        let rows = &file.draws.values;
        let is_good = |row: &Vec<f64>| row.len() == file.unknown.len() && row.iter().all(|value| value.is_finite());
        match () {
            () if file.fit.agreement().is_none() => {
                Err(not_one(&format!("its `agreement` is none of: {}", Agreement::WORDS.join(", "))))
            }
            () if rows.is_empty() || rows.len() != file.draws.lacks.len() || !rows.iter().all(is_good) => {
                Err(not_one("its draws do not go with its unknowns; it was changed by hand"))
            }
            () => Ok(file),
        }
    }

    /// A scenario with what was learnt in place of its own values, to be turned further.
    pub fn central(&self, scenario: &Turnable) -> Result<Turnable, String> {
        let found = self.found(scenario);
        let medians: Vec<f64> = self.unknown.iter().map(|unknown| unknown.median).collect();
        scenario.put(&self.there(&found, &medians))
    }

    /// A scenario with what was learnt in place of its own values, and `draws` possible ones, at most [`DRAWS`]; the first of them are the
    /// same for any number. `name` is how the user calls the file.
    pub fn applied(&self, scenario: &Turnable, name: &str, draws: usize) -> Result<Scenario, String> {
        let found = self.found(scenario);
        let medians: Vec<f64> = self.unknown.iter().map(|unknown| unknown.median).collect();
        let mut central = scenario.scenario_with(&self.there(&found, &medians))?;
        let lacking: Vec<Knob> = LACK_KEYS.iter().filter_map(|key| scenario.knob(key).ok()).collect();
        let mut random = Xoshiro256PlusPlus::seed_from_u64(self.seed());
        let mut possible = vec![];
        for row in self.rows(draws, &mut random) {
            possible.push(scenario.with(&self.bench(&found, &lacking, row, &mut random))?);
        }
        let not_used = self.unknown.iter().zip(&found).filter(|(_, knob)| knob.is_none());
        let used = Used {
            name: name.to_owned(),
            created: self.created.clone(),
            learnt_from: Counted { lines: self.fit.lines, vials: self.fit.vials },
            // A file without such a word was refused when it was read.
            agreement: self.fit.agreement().unwrap_or(Agreement::Untested),
            not_used: not_used.map(|(unknown, _)| unknown.key.clone()).collect(),
            outside: self.range.outside(&central.inputs),
        };
        central.calibrated = Some(Calibrated { possible, used });
        Ok(central)
    }

    /// Seed of what is drawn of it: the same for the same draws, whenever they were made.
    fn seed(&self) -> u64 {
        let mut hasher = crc32fast::Hasher::new();
        self.draws.values.iter().flatten().for_each(|value| hasher.update(&value.to_le_bytes()));
        hasher.finalize().into()
    }

    /// Rows of the draws, spread over all and in an order by chance: they come as the walkers stood, and neighbours are alike.
    pub(crate) fn rows(&self, count: usize, random: &mut Xoshiro256PlusPlus) -> Vec<usize> {
        let mut rows: Vec<usize> = (0..DRAWS).map(|k| k * self.draws.values.len() / DRAWS).collect();
        shuffle(&mut rows, random);
        rows.truncate(count);
        rows
    }

    /// What a row of the draws, and what the model lacks, make of a scenario.
    pub(crate) fn bench<'a>(
        &self,
        found: &'a [Option<Knob>],
        lacking: &'a [Knob],
        row: usize,
        random: &mut Xoshiro256PlusPlus,
    ) -> Vec<(&'a Knob, f64)> {
        let mut values = self.there(found, &self.draws.values[row]);
        for (knob, lack) in lacking.iter().zip(self.draws.lacks[row]) {
            let factor = (lack * random.sample::<f64, _>(StandardNormal)).exp();
            let own = values.iter_mut().find(|(other, _)| other.key == knob.key);
            match own {
                Some((_, value)) => *value = (*value * factor).clamp(knob.range[0], knob.range[1]),
                None => values.push((knob, (knob.value * factor).clamp(knob.range[0], knob.range[1]))),
            }
        }
        values
    }

    /// The numbers of a scenario that something was learnt of, for each unknown.
    pub(crate) fn found(&self, scenario: &Turnable) -> Vec<Option<Knob>> {
        self.unknown.iter().map(|unknown| unknown.there().knob(scenario)).collect()
    }

    /// What values of the unknowns are in a scenario.
    fn there<'a>(&self, found: &'a [Option<Knob>], values: &[f64]) -> Vec<(&'a Knob, f64)> {
        let all = found.iter().zip(&self.unknown).zip(values);
        all.filter_map(|((knob, unknown), value)| {
            let knob = knob.as_ref()?;
            Some((knob, unknown.there().value(knob, *value)))
        })
        .collect()
    }
}

fn shuffle<T>(list: &mut [T], random: &mut Xoshiro256PlusPlus) {
    for k in (1..list.len()).rev() {
        list.swap(k, random.random_range(0..=k));
    }
}

impl FitPart {
    /// What the lines say of the model; `None` if the file has no such word.
    fn agreement(&self) -> Option<Agreement> {
        Agreement::ALL.iter().copied().find(|agreement| agreement.word() == self.agreement)
    }
}

impl UnknownPart {
    fn there(&self) -> There<'_> {
        There { key: &self.key, set: self.set, was_default: self.was_default, by_factor: self.by_factor }
    }
}

/// What was learnt of a number, for other scenarios.
pub(crate) struct There<'a> {
    /// Its key, powders by name.
    pub(crate) key: &'a str,
    /// What the scenario of the lines says, and whether that is a default.
    pub(crate) set: f64,
    pub(crate) was_default: bool,
    /// Whether what was learnt is a factor on it; if not, a difference.
    pub(crate) by_factor: bool,
}

impl There<'_> {
    /// The number of a scenario that it says something of. One that the scenario itself says is no default, and what was learnt of a default
    /// does not correct it.
    pub(crate) fn knob(&self, scenario: &Turnable) -> Option<Knob> {
        scenario.knob(self.key).ok().filter(|knob| knob.is_unverified || !self.was_default)
    }

    /// What a value learnt from the lines is in a scenario. One that the scenario itself says, such as the mist load at another power or a
    /// droplet size that follows from another ink, differs from what it says as that of the lines did from theirs.
    pub(crate) fn value(&self, knob: &Knob, value: f64) -> f64 {
        let is_default = knob.is_unverified && !knob.replaces();
        let here = match is_default {
            true => value,
            false if self.by_factor => knob.value * value / self.set,
            false => knob.value + value - self.set,
        };
        here.clamp(knob.range[0], knob.range[1])
    }
}

/// A key with the name of the powder in place of its number: another ink may list it elsewhere.
pub(crate) fn by_name(key: &str, layer: &Layer) -> String {
    let named = || {
        let (number, rest) = key.strip_prefix("ink.powder[")?.split_once(']')?;
        let name = &layer.ink.powders.get(number.parse::<usize>().ok()?.checked_sub(1)?)?.name;
        let quote = if name.contains('\'') { '"' } else { '\'' };
        Some(format!("ink.powder[{quote}{name}{quote}]{rest}"))
    };
    named().unwrap_or_else(|| key.to_owned())
}

impl Range {
    fn of(scenario: &Turnable, lines: &[Line]) -> Self {
        let layer = &scenario.scenario.inputs.layers[0];
        let ends = |key: &str| {
            let own = scenario.knob(key).map_or(f64::NAN, |knob| knob.value);
            let of =
                |line: &Line| line.settings.iter().find(|(other, _)| other == key).map_or(own, |(_, value)| *value);
            let taking_part = lines.iter().filter(|line| !line.is_held_out).map(of);
            taking_part.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)])
        };
        Self {
            carrier_sccm: ends("flow.carrier_sccm"),
            sheath_sccm: ends("flow.sheath_sccm"),
            nozzle_um: ends("head.nozzle_um"),
            stand_off_mm: ends("flight.stand_off_mm"),
            frequency_mhz: frequency(layer),
            solvents: layer.ink.solvents.iter().map(|part| part.solvent.name.clone()).collect(),
            powders: layer.ink.powders.iter().map(|powder| powder.name.clone()).collect(),
        }
    }

    /// In what a scenario differs from the lines, in words.
    fn outside(&self, inputs: &Inputs) -> Vec<String> {
        let mut all = vec![];
        for layer in &inputs.layers {
            let of = if inputs.is_layered() { format!(" in layer {}", layer.name) } else { String::new() };
            let numbers = [
                ("carrier flow", layer.flows.carrier.sccm(), self.carrier_sccm, "sccm"),
                ("sheath flow", layer.flows.sheath.sccm(), self.sheath_sccm, "sccm"),
                ("nozzle", layer.head.nozzle * 1e6, self.nozzle_um, "µm"),
                ("stand-off", layer.flight.stand_off * 1e3, self.stand_off_mm, "mm"),
            ];
            for (name, own, [low, high], unit) in numbers {
                if own < low / ROOM || own > high * ROOM {
                    let own = (own * 1e4).round() / 1e4;
                    let lines = if low == high { format!("{low}") } else { format!("{low} to {high}") };
                    all.push(format!("{name} {own} {unit}{of}, lines {lines} {unit}"));
                }
            }
            if frequency(layer) != self.frequency_mhz {
                all.push(format!("another atomiser{of}"));
            }
            let solvents: Vec<&str> = layer.ink.solvents.iter().map(|part| part.solvent.name.as_str()).collect();
            let powders: Vec<&str> = layer.ink.powders.iter().map(|powder| powder.name.as_str()).collect();
            let same = |own: &[&str], lines: &[String]| {
                own.len() == lines.len() && own.iter().all(|name| lines.iter().any(|l| l == name))
            };
            for (what, own, lines) in [("solvents", &solvents, &self.solvents), ("powders", &powders, &self.powders)] {
                if !same(own, lines) {
                    all.push(format!("{what} {}{of}, lines {}", own.join(" and "), lines.join(" and ")));
                }
            }
        }
        all
    }
}

/// In MHz; 0 where the droplet size is given.
fn frequency(layer: &Layer) -> f64 {
    match layer.atomiser.median {
        DropletMedian::Ultrasonic(frequency) => frequency.round() / 1e6,
        DropletMedian::Measured(_) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines;
    use crate::testing::{EXAMPLE, shipped};
    use motefall_figures::calibration::{Counted, Fit, Learnt, RankedBy};

    fn learnt(scenario: &Turnable, key: &str, median: f64) -> Learnt {
        let knob = scenario.knob(key).expect("a key");
        Learnt {
            name: key.to_owned(),
            key: key.to_owned(),
            unit: knob.unit.to_owned(),
            set: knob.value,
            was_default: knob.is_unverified,
            by_factor: true,
            before: [knob.value, 0.5 * knob.value, 2.0 * knob.value],
            after: [median, 0.9 * median, 1.1 * median],
            learnt: 0.9,
        }
    }

    /// Mist load 24 where the lines' scenario says 20; contact angle and packing in place of defaults. Two draws, without lacks.
    fn file() -> CalibrationFile {
        let scenario = shipped("first-line.toml");
        let lines = lines::parse(EXAMPLE, "lines.csv", &scenario).unwrap_or_else(|faults| panic!("{faults}")).lines;
        let unknowns = [
            ("atomiser.mist_load_ul_per_l", 24.0),
            ("landing.contact_angle_deg", 25.0),
            ("ink.powder[1].packing_fraction", 0.45),
            ("output.run_in_deficit_percent", 12.0),
        ];
        let calibration = Calibration {
            scenario: "lines".into(),
            learnt_from: Counted { lines: 10, vials: 1 },
            held_out: Counted { lines: 2, vials: 0 },
            unknowns: unknowns.iter().map(|(key, median)| learnt(&scenario, key, *median)).collect(),
            correlations: vec![],
            draws: vec![vec![22.0, 24.0, 0.44, 11.0], vec![26.0, 26.0, 0.46, 13.0]],
            lacks: vec![[0.0; 2]; 2],
            values: vec![],
            fit: Fit {
                values: 20,
                chi_square: 9.0,
                freedom: 10.0,
                probability: 0.5,
                not_ruled_out: 0.1,
                lacks: [Some(0.0); 2],
            },
            untold: vec![],
            ranked_by: RankedBy::Unknowns,
            further: vec![],
            remarks: vec![],
        };
        let sources =
            [("a.toml", "a"), ("b.csv", "b")].map(|(name, text)| Source::of(Path::new(name), text.as_bytes()));
        CalibrationFile::new(&calibration, &scenario, &lines, sources, "2026-11-29T08:00:00Z".into())
    }

    #[test]
    fn a_file_is_read_as_it_was_written() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("calibration.toml");
        let file = file();
        std::fs::write(&path, file.text()).expect("written");
        assert_eq!(CalibrationFile::load(&path), Ok(file.clone()));
        // CRC-32 of "a" (the usual check tool gives e8b7be43).
        assert!(file.text().contains("e8b7be43"), "{}", file.text());
        for (old, new, told) in [
            ("motefall calibration 2", "motefall calibration 1", "its format is \"motefall calibration 1\""),
            ("agreement = \"fits\"", "agreement = \"is fine\"", "its `agreement` is none of"),
            ("[26.0, ", "[", "changed by hand"),
            ("[fit]", "[fitt]", "is no calibration"),
            ("median =", "medium =", "is no calibration"),
        ] {
            let text = file.text();
            assert!(text.contains(old), "{old} is not in\n{text}");
            std::fs::write(&path, text.replacen(old, new, 1)).expect("written");
            let words = CalibrationFile::load(&path).expect_err(new);
            assert!(words.contains(told), "{words}");
        }
    }

    #[test]
    fn what_a_scenario_says_itself_stands() {
        let near = |found: f64, wanted: f64| assert!((found / wanted - 1.0).abs() < 1e-9, "{found} {wanted}");
        let file = file();
        // The lines' own scenario: medians in place of its values, and draws in turn.
        let lines = file.applied(&shipped("first-line.toml"), "c.toml", DRAWS).expect("it goes");
        let layer = &lines.inputs.layers[0];
        near(layer.atomiser.mist_load, 24e-6);
        near(layer.landing.contact_angle.to_degrees(), 25.0);
        near(layer.ink.powders[0].packing_fraction, 0.45);
        let Calibrated { possible, used } = lines.calibrated.as_ref().expect("put in");
        assert!(used.not_used.is_empty() && used.outside.is_empty(), "{used:?}");
        assert_eq!(possible.len(), DRAWS);
        let loads: Vec<f64> = possible.iter().map(|inputs| inputs.layers[0].atomiser.mist_load * 1e6).collect();
        assert!(loads.iter().all(|load| (load - 22.0).abs() < 1e-9 || (load - 26.0).abs() < 1e-9));
        assert_eq!(loads.iter().filter(|load| **load < 24.0).count(), DRAWS / 2);
        let unverified =
            |inputs: &Inputs| inputs.unverified.iter().map(|default| default.key.clone()).collect::<Vec<_>>();
        assert!(unverified(&shipped("first-line.toml").scenario.inputs).contains(&"landing.contact_angle_deg".into()));
        assert!(!unverified(&lines.inputs).contains(&"landing.contact_angle_deg".into()));
        // The chip says a mist load of 0.8, which is corrected by the same factor, and a contact angle, which stands; it has another powder, and
        // leaves the run-in to the default, which is replaced.
        let chip = file.applied(&shipped("sodium-chip.toml"), "c.toml", DRAWS).expect("it goes");
        let layer = &chip.inputs.layers[0];
        near(layer.atomiser.mist_load, 0.8e-6 * 24.0 / 20.0);
        near(layer.landing.contact_angle.to_degrees(), 25.0);
        near(layer.output.run_in_deficit, 0.12);
        let used = &chip.calibrated.as_ref().expect("put in").used;
        assert_eq!(used.not_used, ["landing.contact_angle_deg", "ink.powder['alumina'].packing_fraction"]);
        let outside = used.outside.join("\n");
        assert!(outside.contains("nozzle 150 µm, lines 200 µm") && outside.contains("alumina"), "{outside}");
        // Fewer draws are the first of them.
        let few = file
            .applied(&shipped("sodium-chip.toml"), "c.toml", 3)
            .expect("it goes")
            .calibrated
            .expect("put in")
            .possible;
        assert_eq!(format!("{few:?}"), format!("{:?}", &chip.calibrated.as_ref().expect("put in").possible[..3]));
        // Flows between those of the lines are no matter.
        assert!(!outside.contains("sheath"), "{outside}");
    }

    /// With a lack of 10 %, landing radii and mist loads of the draws scatter by as much: 200 draws tell it to 0.5 % (one sigma).
    #[test]
    fn what_the_model_lacks_is_drawn() {
        let mut file = file();
        file.draws.lacks = vec![[0.1, 0.0]; 2];
        let lines = file.applied(&shipped("first-line.toml"), "c.toml", DRAWS).expect("it goes");
        let possible = lines.calibrated.expect("put in").possible;
        let logs: Vec<f64> = possible.iter().map(|inputs| inputs.layers[0].flight.radius_factor.ln()).collect();
        let mean = logs.iter().sum::<f64>() / logs.len() as f64;
        let sd = (logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / logs.len() as f64).sqrt();
        assert!(mean.abs() < 0.03 && (sd - 0.1).abs() < 0.025, "{mean} {sd}");
    }
}
