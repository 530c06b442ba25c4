//! Scenario files: good ones are read, bad ones get exactly the message that they carry.
//!
//! A bad file ends with its expected message, each line behind `#= `.

use motefall_physics::inputs::{DropletMedian, Hazard, Law, Outline, PrintCount, Shape, VariedInput};
use motefall_scenario::{self as scenario, Fault, Faults, Scenario};
use proptest::prelude::*;
use std::path::{Path, PathBuf};

const MARK: &str = "#=";

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn toml_files(name: &str) -> Vec<PathBuf> {
    let entries =
        std::fs::read_dir(folder(name)).expect("the folder exists").map(|entry| entry.expect("readable").path());
    let mut files: Vec<PathBuf> = entries.filter(|path| path.extension().is_some_and(|e| e == "toml")).collect();
    files.sort();
    files
}

fn good(name: &str) -> Scenario {
    scenario::load(&folder("tests/scenarios/good").join(name)).unwrap_or_else(|faults| panic!("{faults}"))
}

fn parse(text: &str) -> Result<Scenario, Faults> {
    scenario::parse(text, "test.toml", &folder("tests/scenarios/good"))
}

fn least() -> String {
    std::fs::read_to_string(folder("tests/scenarios/good/least.toml")).expect("it exists")
}

/// The faults of the least scenario after one change.
fn faults_after(old: &str, new: &str) -> Vec<Fault> {
    let text = least();
    assert!(text.contains(old), "{old}");
    parse(&text.replace(old, new)).expect_err("the change makes it bad").list
}

#[test]
fn bad_files_get_the_message_they_carry() {
    let files = toml_files("tests/scenarios/bad");
    assert!(files.len() >= 35, "only {} bad files", files.len());
    let mut wrong = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("readable");
        let name = file.file_name().and_then(|name| name.to_str()).expect("a plain name");
        let lines =
            text.lines().filter_map(|line| line.strip_prefix(MARK)).map(|line| line.strip_prefix(' ').unwrap_or(line));
        let expected = lines.collect::<Vec<_>>().join("\n");
        let beside = folder("tests/scenarios/bad");
        // Sweeps are ignored when a single print is read.
        let read = if name.starts_with("sweep-") {
            scenario::parse(&text, name, &beside).unwrap_or_else(|faults| panic!("{faults}"));
            scenario::parse_sweep(&text, name, &beside).map(|sweep| sweep.scenario)
        } else {
            scenario::parse(&text, name, &beside)
        };
        let message = match read {
            Ok(_) => "no fault was found".to_owned(),
            Err(faults) => faults.to_string().lines().map(str::trim_end).collect::<Vec<_>>().join("\n"),
        };
        if message.trim() != expected.trim() {
            wrong.push(format!("--- {name}, expected:\n{expected}\n--- got:\n{message}\n"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn files_of_another_kind_get_the_message_beside_them() {
    let beside = folder("tests/scenarios/bad/files");
    let entries = std::fs::read_dir(&beside).expect("the folder exists").map(|entry| entry.expect("readable").path());
    let expected: Vec<PathBuf> = entries.filter(|path| path.extension().is_some_and(|e| e == "expected")).collect();
    assert!(expected.len() >= 8, "{expected:?}");
    for message in expected {
        let file = message.with_extension("");
        let faults = scenario::load(&file).expect_err("it is no scenario").to_string();
        let name = file.file_name().and_then(|name| name.to_str()).expect("a plain name");
        let told = faults.replace(&file.display().to_string(), name);
        let told: Vec<&str> = told.lines().map(str::trim_end).collect();
        let text = std::fs::read_to_string(&message).expect("readable");
        assert_eq!(told, text.lines().collect::<Vec<_>>(), "{name}");
    }
}

#[test]
fn shipped_scenarios_and_the_starter_are_good_and_say_that_they_are_invented() {
    let files = toml_files("scenarios");
    assert_eq!(files.len(), 7);
    for file in files {
        let read = scenario::load(&file).unwrap_or_else(|faults| panic!("{faults}"));
        if file.file_name().is_some_and(|name| name.to_string_lossy().contains("sweep")) {
            let sweep = scenario::load_sweep(&file).unwrap_or_else(|faults| panic!("{faults}"));
            assert!(!read.inputs.acceptance.limits.is_empty() && sweep.plan.axes.len() > 2);
            // Every input that differs is set, so none of them is an unverified default.
            assert_eq!(read.inputs.spread.len(), 11);
            assert!(read.inputs.unverified.iter().all(|u| !u.key.starts_with("spread")));
        }
        assert!(read.inputs.note.contains("Invented"), "{}", file.display());
    }
    let starter = parse(scenario::starter()).unwrap_or_else(|faults| panic!("{faults}"));
    assert!(starter.inputs.note.contains("Invented"));
    assert_eq!(starter.inputs.acceptance.limits.len(), 2);
    // The sections at its end that are switched off work when their # are removed.
    let (head, tail) = scenario::starter().split_once("# [spread]").expect("the starter shows it");
    let tail: String = tail.lines().map(|line| format!("{}\n", line.strip_prefix("# ").unwrap_or(line))).collect();
    let (spread, sweep) = tail.split_once("`motefall sweep FILE`").expect("the starter shows it");
    let sweep = &sweep[sweep.find("[sweep]").expect("the starter shows it")..];
    let text = format!("{head}[spread]{spread}\n{sweep}");
    let sweep =
        scenario::parse_sweep(&text, "starter.toml", Path::new(".")).unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(sweep.plan.axes.len(), 2);
    assert!(sweep.scenario.inputs.spread.len() > 3);
}

#[test]
fn keys_commented_out_in_the_starter_are_known() {
    // Removing the # of a commented key must give a file without unknown keys. `size_csv` and `droplet_median_um`
    // exclude their neighbours, so they are left alone. The sections at the end are looked at in a test of their own.
    let (head, _) = scenario::starter().split_once("# [spread]").expect("the starter shows it");
    let uncommented: Vec<String> = head
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.split_once(" = ").is_some_and(|(key, _)| !key.contains(' ') && key != "size_csv") => {
                rest.to_owned()
            }
            _ => line.to_owned(),
        })
        .collect();
    let read = parse(&uncommented.join("\n")).unwrap_or_else(|faults| panic!("{faults}"));
    let left: Vec<&str> = read.inputs.unverified.iter().map(|u| u.key.as_str()).collect();
    assert!(!left.contains(&"atomiser.droplet_gsd") && !left.contains(&"landing.contact_angle_deg"), "{left:?}");
}

#[test]
fn the_sodium_chip_has_its_electrodes_90_um_apart() {
    let chip = scenario::load(&folder("scenarios/sodium-chip.toml")).unwrap_or_else(|faults| panic!("{faults}"));
    let edges = |name: &str| {
        let region = chip.inputs.regions.iter().find(|region| region.name == name).expect("it is there");
        let Outline::Rectangle { center, size, .. } = region.outline else { panic!("a rectangle") };
        (center[0] - 0.5 * size[0], center[0] + 0.5 * size[0])
    };
    assert!((edges("reference").0 - edges("target").1 - 90e-6).abs() < 1e-12);
    assert_eq!(chip.inputs.layers[0].ink.powders.len(), 2);
    assert_eq!(chip.inputs.layers[0].ink.powders[1].hazards, [Hazard::CarbonBlack]);
}

#[test]
fn the_least_scenario_is_good_with_remarks_and_unverified_defaults() {
    let least = good("least.toml");
    assert_eq!(least.inputs.layers[0].flows.sheath.0, 0.0);
    assert!(least.notes.iter().any(|note| note.contains("sheath_sccm is 0")), "{:?}", least.notes);
    assert!(least.notes.iter().any(|note| note.contains("no acceptance limits")));
    assert_eq!(least.inputs.prints, PrintCount::Automatic);
    let unverified: Vec<&str> = least.inputs.unverified.iter().map(|u| u.key.as_str()).collect();
    for key in [
        "atomiser.droplet_gsd",
        "atomiser.mist_load_ul_per_l",
        "atomiser.retention_midpoint",
        "stage.shutter_open_ms",
        "stage.acceleration_m_s2",
        "stage.jitter_um",
        "output.noise_percent",
        "landing.contact_angle_deg",
        "ink.powder[1].packing_fraction",
        "head.land_um",
        "gas.carrier_saturation",
    ] {
        assert!(unverified.contains(&key), "{key} is not in {unverified:?}");
    }
    let echo = scenario::echo(&least);
    for line in echo.lines().filter(|line| line.trim_start().starts_with("droplet_gsd ")) {
        assert!(line.contains("unverified default"), "{line}");
    }
    assert!(!echo.lines().any(|line| line.contains("nozzle_um") && line.contains("unverified")), "{echo}");
}

#[test]
fn a_nozzle_of_unknown_shape_takes_unverified_defaults() {
    let read = good("nozzle-unknown.toml");
    let head = &read.inputs.layers[0].head;
    assert!((head.half_angle.to_degrees() - 6.0).abs() < 1e-9);
    assert!((head.land / 180e-6 - 1.0).abs() < 1e-9, "as long as the nozzle is wide: {}", head.land);
    for (key, value) in [("head.half_angle_deg", "6 deg"), ("head.land_um", "180 µm")] {
        let default = read.inputs.unverified_default(key).unwrap_or_else(|| panic!("{key} was left out"));
        assert_eq!(default.value, value);
        assert!(default.advice.contains("cast") && default.advice.contains("printed test line"), "{}", default.advice);
        let echo = scenario::echo(&read);
        let short = key.trim_start_matches("head.");
        let line = echo.lines().find(|line| line.trim_start().starts_with(short)).expect("it is in the echo");
        assert!(line.contains(value) && line.contains("unverified default"), "{line}");
    }
    // Layers with nozzles of their own have lands of their own.
    let all = good("layers.toml").inputs.unverified;
    let lands: Vec<(&str, &str)> =
        all.iter().filter(|u| u.key.ends_with("land_um")).map(|u| (u.key.as_str(), u.value.as_str())).collect();
    assert_eq!(lands, [("layer[1].head.land_um", "150 µm"), ("layer[2].head.land_um", "200 µm")]);
}

#[test]
fn a_spread_without_values_takes_unverified_defaults_and_none_at_all_is_none() {
    assert!(good("least.toml").inputs.spread.is_empty());
    let inputs = parse(&format!("{}\n[spread]\nsheath = {{ sd_percent = 0 }}\n", least())).expect("it is good").inputs;
    let order: Vec<VariedInput> = inputs.spread.iter().map(|v| v.input).collect();
    assert!(order.is_sorted() && order.len() == 10 && !order.contains(&VariedInput::Sheath), "{order:?}");
    assert!(inputs.spread.iter().all(|v| v.law == Law::Normal && v.sd > 0.0));
    let unverified: Vec<&str> = inputs.unverified.iter().map(|u| u.key.as_str()).collect();
    assert!(unverified.contains(&"spread.stand_off.sd_um") && !unverified.contains(&"spread.sheath.sd_percent"));
    let stand_off = inputs.spread.iter().find(|v| v.input == VariedInput::StandOff).expect("it differs");
    assert!((stand_off.sd / 30e-6 - 1.0).abs() < 1e-12);
    let echo = scenario::echo(&parse(&format!("{}\n[spread]\n", least())).expect("it is good"));
    assert!(echo.lines().any(|line| line.contains("sd_deg") && line.contains("* unverified default")), "{echo}");
}

#[test]
fn every_key_arrives_in_si() {
    let everything = good("everything.toml").inputs;
    assert!(everything.unverified.is_empty(), "all keys are set, yet {:?}", everything.unverified);
    let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-12, "{found} is not {expected}");
    assert_eq!(everything.cell.rates, [0.2, 5.0]);
    assert_eq!(everything.layers[0].stage.shutter_lead.word(), "compensated");
    near(everything.layers[0].atomiser.fill.expect("given"), 2e-6);
    near(everything.layers[0].ink.settling.expect("given"), 0.04 / 3600.0);
    assert_eq!((everything.layers[0].output.chips_per_warm_up, everything.layers[0].output.chip_change), (3, 120.0));
    near(everything.layers[0].gas.temperature, 298.15);
    near(everything.layers[0].gas.pressure, 95e3);
    near(everything.layers[0].flows.reference.temperature, 293.15);
    near(everything.layers[0].flows.carrier.0, 12.0 * 1e-6 / 60.0);
    near(everything.layers[0].ink.solvents[0].mass_fraction, 0.4);
    near(everything.layers[0].ink.solvents[0].solvent.density, 950.0);
    near(everything.layers[0].ink.solvents[0].solvent.viscosity, 1.3e-3);
    near(everything.layers[0].ink.solvents[0].solvent.surface_tension, 0.033);
    near(everything.layers[0].ink.solvents[0].solvent.vapour_temperature, 293.15);
    near(everything.layers[0].ink.solvents[0].solvent.diffusivity, 8e-6);
    near(everything.layers[0].ink.solvents[0].solvent.latent_heat, 4.2e5);
    near(everything.layers[0].ink.solvents[1].solvent.viscosity, 1.1e-3);
    near(everything.layers[0].ink.powders[0].capacity, 140.0 * 3600.0);
    assert_eq!(everything.layers[0].ink.powders[0].mean_free_path, Some(110.0 * 1e-9));
    assert_eq!(everything.layers[0].ink.powders[0].hazards, [Hazard::FinePowder, Hazard::Cobalt]);
    assert_eq!(everything.layers[0].atomiser.median, DropletMedian::Ultrasonic(2.4e6));
    near(everything.layers[0].atomiser.mist_load, 15e-6);
    near(everything.layers[0].tube[0].inclination, -std::f64::consts::PI / 9.0);
    near(everything.layers[0].head.nozzle, 180e-6);
    near(everything.layers[0].flight.stand_off, 2.4e-3);
    near(everything.layers[0].stage.shutter_close_delay, 9e-3);
    near(everything.layers[0].output.trend, -0.04 / 3600.0);
    near(everything.beam.voltage, 300e3);
    let spread: Vec<(VariedInput, Law, f64)> = everything.spread.iter().map(|v| (v.input, v.law, v.sd)).collect();
    let expected = [
        (VariedInput::AlignmentX, Law::Uniform, 4e-6),
        (VariedInput::AlignmentY, Law::Triangular, 5e-6),
        (VariedInput::Rotation, Law::Normal, 0.3 * std::f64::consts::PI / 180.0),
        (VariedInput::StandOff, Law::Normal, 40e-6),
        (VariedInput::Carrier, Law::Normal, 0.015),
        // Sheath is switched off.
        (VariedInput::Output, Law::Normal, 0.06),
        (VariedInput::Trend, Law::Normal, 0.04 / 3600.0),
        (VariedInput::WarmUp, Law::Normal, 20.0),
        (VariedInput::Solids, Law::Normal, 0.02),
        (VariedInput::DropletMedian, Law::Normal, 0.025),
    ];
    assert_eq!(spread.len(), expected.len());
    for ((input, law, sd), expected) in spread.into_iter().zip(expected) {
        assert_eq!((input, law), (expected.0, expected.1));
        near(sd, expected.2);
    }
    near(everything.beam.layers[1].mean_free_path, 250e-9);
    near(everything.acceptance.required_share, 0.8);
    near(everything.acceptance.limits[0].min.expect("given"), 0.4);
    near(everything.acceptance.limits[1].max.expect("given"), 60e-6);
    assert_eq!(everything.acceptance.limits[2].place, None);
    assert_eq!(everything.layers[0].path.len(), 5);
    assert!(matches!(&everything.layers[0].path[1].shape, Shape::Polyline(points) if points.len() == 3));
    assert_eq!(everything.layers[0].path[0].passes, 3);
}

/// A JSON value as TOML in one line.
fn inline(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Object(map) => {
            let pairs: Vec<String> =
                map.iter().filter(|(_, v)| !v.is_null()).map(|(k, v)| format!("{k} = {}", inline(v))).collect();
            format!("{{ {} }}", pairs.join(", "))
        }
        serde_json::Value::Array(items) => format!("[{}]", items.iter().map(inline).collect::<Vec<_>>().join(", ")),
        other => other.to_string(),
    }
}

#[test]
fn the_resolved_inputs_read_as_a_scenario_give_the_same_inputs() {
    for name in ["least.toml", "everything.toml"] {
        let first = good(name).inputs;
        let mut json = scenario::resolved(&first);
        // Sizes are echoed as percentiles, so put the distribution back before reading again.
        for powder in json["ink"]["powder"].as_array_mut().expect("a list") {
            let map = powder.as_object_mut().expect("a section");
            map.retain(|key, _| !key.ends_with("0_um"));
            let file = if name == "least.toml" { None } else { Some("sizes.csv") };
            match file {
                Some(file) => {
                    map.insert("size_csv".to_owned(), file.into());
                    map.insert("size_weighting".to_owned(), "number".into());
                }
                None => {
                    map.insert("sizes".to_owned(), serde_json::json!([{ "median_um": 0.3, "gsd": 1.5 }]));
                }
            }
        }
        let text: String =
            json.as_object().expect("sections").iter().map(|(k, v)| format!("{k} = {}\n", inline(v))).collect();
        let second = parse(&text).unwrap_or_else(|faults| panic!("{faults}")).inputs;
        assert!(second.unverified.is_empty());
        assert_eq!(scenario::resolved(&second), scenario::resolved(&first));
    }
}

#[test]
fn no_value_is_missing_in_what_was_understood() {
    // A value that should follow from another key, and does not, would be NaN here, which JSON writes as null.
    for file in toml_files("tests/scenarios/good").into_iter().chain(toml_files("scenarios")) {
        let read = scenario::load(&file).unwrap_or_else(|faults| panic!("{faults}"));
        let text = scenario::resolved(&read.inputs).to_string();
        assert!(!text.contains("null"), "{}: {text}", file.display());
    }
}

#[test]
fn a_layer_takes_from_the_top_what_it_leaves_out() {
    let read = good("layers.toml");
    let [bed, cover] = &read.inputs.layers[..] else { panic!("two layers") };
    let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-12, "{found} is not {expected}");
    assert!(read.inputs.is_layered() && (bed.name.as_str(), cover.name.as_str()) == ("bed", "cover"));
    assert_eq!(bed.pause, 0.0);
    near(cover.pause, 120.0);
    // A key of its own beside one from the top.
    near(bed.flows.sheath.sccm(), 40.0);
    near(cover.flows.sheath.sccm(), 60.0);
    near(cover.flows.carrier.sccm(), 10.0);
    near(cover.flows.reference.temperature, 293.15);
    assert_eq!((bed.gas.carrier_saturation, cover.gas.carrier_saturation), (1.0, 0.9));
    assert_eq!((bed.head.inlet_bore, cover.head.inlet_bore), (1e-3, 1e-3));
    near(cover.head.nozzle, 200e-6);
    // A measured droplet size replaces the frequency at the top, not its width.
    assert_eq!(bed.atomiser.median, DropletMedian::Ultrasonic(1.7e6));
    assert!(matches!(cover.atomiser.median, DropletMedian::Measured(d) if (d / 2.5e-6 - 1.0).abs() < 1e-12));
    assert_eq!((bed.atomiser.gsd, cover.atomiser.gsd), (1.4, 1.4));
    // A list is replaced as a whole, the other list of the section is not.
    assert_eq!((bed.ink.powders.len(), cover.ink.powders.len()), (1, 2));
    assert_eq!(cover.ink.solvents.len(), 2);
    let names: Vec<&str> = read.inputs.powders().iter().map(|powder| powder.name.as_str()).collect();
    assert_eq!(names, ["alumina", "carbon"]);
    assert_eq!(read.inputs.powder_places(cover), [1, 0]);
    assert_eq!(read.inputs.items().map(|item| item.name.as_str()).collect::<Vec<_>>(), ["bed", "cover"]);

    // A default that all layers take is listed once; one that a single layer takes, with its layer.
    let unverified: Vec<&str> = read.inputs.unverified.iter().map(|u| u.key.as_str()).collect();
    assert!(unverified.contains(&"stage.jitter_um") && unverified.contains(&"layer[1].gas.carrier_saturation"));
    assert!(!unverified.iter().any(|key| key.contains("jitter") && key.starts_with("layer")), "{unverified:?}");
    let echo = scenario::echo(&read);
    let lines: Vec<&str> = echo.lines().filter(|line| line.trim_start().starts_with("carrier_saturation")).collect();
    assert!(lines.len() == 2 && lines[0].contains("unverified") && !lines[1].contains("unverified"), "{lines:?}");
    assert_eq!(echo.lines().filter(|line| line.contains("jitter_um") && line.contains("unverified")).count(), 2);

    // What was understood, read again, is the same.
    let mut json = scenario::resolved(&read.inputs);
    for layer in json["layer"].as_array_mut().expect("a list") {
        for powder in layer["ink"]["powder"].as_array_mut().expect("a list") {
            let (median, gsd) = if powder["name"] == "carbon" { (0.1, 1.4) } else { (0.3, 1.5) };
            let map = powder.as_object_mut().expect("a section");
            map.retain(|key, _| !key.ends_with("0_um"));
            map.insert("sizes".to_owned(), serde_json::json!([{ "median_um": median, "gsd": gsd }]));
        }
    }
    let text: String =
        json.as_object().expect("sections").iter().map(|(k, v)| format!("{k} = {}\n", inline(v))).collect();
    let second = parse(&text).unwrap_or_else(|faults| panic!("{faults}")).inputs;
    assert!(second.unverified.is_empty());
    assert_eq!(scenario::resolved(&second), scenario::resolved(&read.inputs));

    // A single layer is one, too, and an empty list is none.
    let one = format!("{}\n[[layer]]\nname = \"only\"\n", least().replace("path = [", "layer_path = ["));
    let path = one.lines().find_map(|line| line.strip_prefix("layer_path = ")).expect("it was put there").to_owned();
    let one = one.lines().filter(|line| !line.starts_with("layer_path")).collect::<Vec<_>>().join("\n");
    let one = parse(&format!("{one}\npath = {path}\n")).unwrap_or_else(|faults| panic!("{faults}")).inputs;
    assert!(one.is_layered() && one.layers.len() == 1 && one.layers[0].path.len() == 1);
    let none = parse(&format!("layer = []\n{}", least())).expect_err("no layer");
    assert!(none.list.iter().any(|fault| fault.title == "`layer` is empty"), "{none}");
}

#[test]
fn slips_of_the_pen_get_a_suggestion() {
    for (old, new, label) in [
        ("nozzle_um", "nozle_um", "did you mean `nozzle_um`?"),
        ("nozzle_um = 150", "nozzle_mm = 0.15", "did you mean `nozzle_um`?"),
        ("stand_off_mm", "standoff_mm", "did you mean `stand_off_mm`?"),
        ("[chip]", "[chips]", "did you mean `chip`?"),
        ("\"water\"", "\"watr\"", "did you mean `water`?"),
        ("kind = \"line\"", "kind = \"lines\"", "did you mean `line`?"),
        ("[flow]", "[gas]\nkind = \"nitrogn\"\n[flow]", "did you mean `nitrogen`?"),
        ("limit = []", "limit = [{ figure = \"overspray_percnt\", max = 1 }]", "did you mean `overspray_percent`?"),
        ("limit = []", "limit = [{ figure = \"line_width_um\", place = \"A1\", max = 1 }]", "there is only `a`"),
        ("[map]", "[map]\nnozzle_um = 3", "belongs in [head]"),
    ] {
        let faults = faults_after(old, new);
        assert!(faults.iter().any(|fault| fault.label == label), "{new}: {faults:?}");
    }
}

#[test]
fn a_value_in_another_unit_is_recognised() {
    for (old, new, part) in [
        ("nozzle_um = 150", "nozzle_um = 0.15", "if 0.15 mm was meant, write `nozzle_um = 150`"),
        ("nozzle_um = 150", "nozzle_mm = 0.15", "write `nozzle_um = 150`"),
        ("nozzle_um = 150", "nozzle_um = \"0.15 mm\"", "write `nozzle_um = 150`, without quotes"),
        ("stand_off_mm = 2", "stand_off_mm = 2000", "if 2000 µm was meant, write `stand_off_mm = 2`"),
        ("[flow]", "[gas]\ntemperature_c = 295.15\n[flow]", "if 295.15 K was meant, write `temperature_c = 22`"),
        ("[flow]", "[gas]\npressure_kpa = 101325\n[flow]", "if 101325 Pa was meant, write `pressure_kpa = 101.325`"),
        ("nozzle_um = 150", "nozzle_um = \"0,15 mm\"", "write `nozzle_um = 150`, without quotes"),
        ("nozzle_um = 150", "nozzle_um = \"150 \u{3bc}m\"", "write `nozzle_um = 150`, without quotes"),
        ("nozzle_um = 150", "\"nozzle_\u{b5}m\" = 150", "rename it to `nozzle_um`"),
        ("[flow]", "[gas]\ntemperature_c = \"22 \u{b0}C\"\n[flow]", "write `temperature_c = 22`, without quotes"),
        ("[flow]", "[gas]\ncarrier_saturation = 90\n[flow]", "if 90 % was meant, write `carrier_saturation = 0.9`"),
    ] {
        let faults = faults_after(old, new);
        assert!(faults.iter().any(|fault| fault.advice.contains(part)), "{new}: {faults:?}");
    }
}

#[test]
fn all_faults_of_a_file_are_reported_at_once_in_order() {
    let text = least()
        .replace("nozzle_um = 150", "nozzle_um = -1")
        .replace("pitch_um = 1", "pitch_um = \"1\"")
        .replace("carrier_sccm = 10", "carier_sccm = 10");
    let faults = parse(&text).expect_err("it is bad").list;
    // The misspelt key counts once: the right one is not reported as missing as well.
    assert_eq!(faults.len(), 3, "{faults:#?}");
    let starts: Vec<usize> = faults.iter().map(|fault| fault.span.as_ref().expect("in the file").start).collect();
    assert!(starts.is_sorted());
}

/// The least scenario with more sections at its end.
fn least_with(sections: impl Iterator<Item = String>) -> String {
    least() + &sections.collect::<String>()
}

/// Squares of 20 um in rows of 32, so far apart, um.
fn squares(count: usize, apart: f64) -> impl Iterator<Item = String> {
    (0..count).map(move |k| {
        let [x, y] = [k % 32, k / 32].map(|n| -1500.0 + n as f64 * apart);
        format!(
            "[[region]]\nkind = \"rectangle\"\nname = \"r{k}\"\nrole = \"electrode\"\ncenter_um = [{x}, {y}]\nsize_um = [20, 20]\n"
        )
    })
}

#[test]
fn many_faults_are_told_in_few_words() {
    let without_path: String =
        least().lines().filter(|line| !line.starts_with("path")).map(|l| format!("{l}\n")).collect();
    let path = |k: usize| {
        format!("[[path]]\nkind = \"line\"\nname = \"p{k}\"\nfrom_um = [0, 0]\nto_um = [9, 0]\nspeed_mm_s = -1\n")
    };
    let faults = parse(&(without_path + &(0..8000).map(path).collect::<String>())).expect_err("they are bad");
    assert_eq!(faults.list.len(), 8000);
    let shown = faults.to_string();
    assert!(shown.len() < 30_000, "{} bytes", shown.len());
    assert!(shown.contains("8000 faults in test.toml, of which the first 50 are shown and 7950 more are not"));
    // Lines that are no TOML.
    let faults = parse(&(0..8000).map(|k| format!("a{k} = 2,5\n")).collect::<String>()).expect_err("they are bad");
    assert!(faults.list.len() == 8000 && faults.to_string().len() < 30_000);
    let faults = parse(&(0..100_000).map(|k| format!("a{k} = 2\n")).collect::<String>()).expect_err("they are bad");
    assert!(faults.list.len() == 10_000 && faults.to_string().len() < 50_000);
    let n = faults.to_string().lines().last().and_then(|line| line.split(" ").next()?.parse::<usize>().ok());
    assert!(n.is_some_and(|n| (100_000..100_020).contains(&n)), "{n:?}");
    // More sections than are read.
    let faults = parse(&least_with(squares(1001, 60.0))).expect_err("too many").list;
    assert_eq!(faults[0].title, "`region` stands 1001 times, but at most 1000 times");
    // One overlap is told of each region, though each overlaps many.
    let faults = parse(&least_with(squares(1000, 0.01))).expect_err("they overlap").list;
    assert_eq!(faults.len(), 999);
    assert_eq!(parse(&least_with(squares(1000, 60.0))).map(|read| read.inputs.regions.len()).ok(), Some(1000));
}

#[test]
fn stars_of_many_spikes_are_read_or_refused_but_not_for_ever() {
    let star = |spikes: u32| {
        let corner = |k: u32| {
            let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(spikes)).sin_cos();
            let r = if k.is_multiple_of(2) { 700.0 } else { 300.0 };
            format!("[{:.5}, {:.5}]", r * cos, r * sin)
        };
        let corners = (0..2 * spikes).map(corner).collect::<Vec<_>>().join(", ");
        let region =
            format!("[[region]]\nkind = \"polygon\"\nname = \"s\"\nrole = \"target\"\npoints_um = [{corners}]\n");
        parse(&least_with(std::iter::once(region)))
    };
    star(1500).unwrap_or_else(|faults| panic!("{faults}"));
    let faults = star(30_000).expect_err("it takes too long").list;
    assert_eq!(faults.len(), 1);
    assert!(faults[0].title.contains("more than 100000000 pairs"), "{}", faults[0].title);
}

#[test]
fn powders_of_all_inks_together_are_limited() {
    let powder = |k: usize| {
        format!(
            "{{ name = \"p{k}\", mass_percent = 0.01, density_g_cm3 = 4, sizes = [{{ median_um = 0.3, gsd = 1.5 }}] }}"
        )
    };
    let layer = |n: usize| {
        let powders: Vec<String> = (60 * n..60 * (n + 1)).map(powder).collect();
        format!(
            "[[layer]]\nname = \"l{n}\"\npath = [{{ kind = \"line\", name = \"a{n}\", from_um = [-50, 0], to_um = [50, 0], speed_mm_s = 1 }}]\nink.powder = [{}]\n",
            powders.join(", ")
        )
    };
    let without_path: String =
        least().lines().filter(|line| !line.starts_with("path")).map(|l| format!("{l}\n")).collect();
    let read = |layers: usize| parse(&(without_path.clone() + &(0..layers).map(layer).collect::<String>()));
    assert_eq!(read(1).map(|read| read.inputs.powders().len()).ok(), Some(60));
    let faults = read(2).expect_err("120 powders").list;
    assert!(faults[0].title.contains("120 powders together, but at most 100"), "{}", faults[0].title);
}

#[test]
fn a_terminal_gets_the_same_words_in_colour() {
    let faults = parse(&least().replace("nozzle_um = 150", "nozzle_um = 5")).expect_err("it is bad");
    let (plain, coloured) = (faults.render(scenario::Style::Plain), faults.render(scenario::Style::Coloured));
    assert!(!plain.contains('\u{1b}') && coloured.contains('\u{1b}'));
    assert!(plain.contains("5 µm") && coloured.contains("5 µm"));
}

#[test]
fn a_keep_out_implies_a_limit_unless_one_is_stated() {
    let region =
        "\n[[region]]\nkind = 'rectangle'\nname = 'rim'\nrole = 'keep-out'\ncenter_um = [0, 300]\nsize_um = [50, 50]\n";
    let with = |limits: &str| {
        let (before, _) =
            least().split_once("[acceptance]").map(|(a, b)| (a.to_owned(), b.to_owned())).expect("a section");
        let text = format!("{before}{region}\n[acceptance]\n{limits}");
        parse(&text).unwrap_or_else(|faults| panic!("{faults}")).inputs
    };
    let implied = with("limit = [{ figure = 'landed_percent', min = 1 }]");
    assert_eq!((implied.acceptance.limits.len(), implied.acceptance.implied), (2, 1));
    let rim = &implied.acceptance.limits[1];
    assert_eq!(
        (rim.figure.kind().id, rim.place.as_deref(), rim.min, rim.max),
        ("particles", Some("rim"), None, Some(0.0))
    );
    assert!(implied.acceptance.is_implied(1) && !implied.acceptance.is_implied(0));
    // It is not echoed as if somebody had written it, and follows again from what is echoed.
    let echoed = scenario::resolved(&implied);
    assert_eq!(echoed["acceptance"]["limit"].as_array().map(Vec::len), Some(1));
    // A limit of one's own on that place stands instead; without any limit nothing is decided.
    let own = with("limit = [{ figure = 'particles', place = 'rim', max = 7 }]");
    assert_eq!((own.acceptance.limits.len(), own.acceptance.implied), (1, 0));
    assert!(with("limit = []").acceptance.limits.is_empty());
}

#[test]
fn the_largest_allowed_map_is_allowed() {
    // The message for a pitch that is too fine names one that fits: it must be accepted.
    let wide = least().replace("[-50, 0]", "[-1900, -1900]").replace("[50, 0]", "[1900, 1900]");
    for (key, fine) in
        [("pitch_um", "pitch_um = 0.1\nresolution_um = 5"), ("resolution_um", "pitch_um = 5\nresolution_um = 0.1")]
    {
        let with = |lines: &str| parse(&wide.replace("pitch_um = 1", lines));
        let faults = with(fine).expect_err("too fine").list;
        assert_eq!(faults.len(), 1, "{faults:?}");
        let fits = faults[0].advice.split('`').nth(1).expect("a quoted key and value");
        assert!(fits.starts_with(key), "{fits}");
        let other = if key == "pitch_um" { "resolution_um = 5" } else { "pitch_um = 5" };
        with(&format!("{fits}\n{other}")).unwrap_or_else(|faults| panic!("{faults}"));
    }
}

#[test]
fn the_advice_against_a_choked_nozzle_helps() {
    let fast = least().replace("sheath_sccm = 0", "sheath_sccm = 60");
    let faults = parse(&fast.replace("nozzle_um = 150", "nozzle_um = 70")).expect_err("it chokes").list;
    // 70 sccm at 0 C are 70e-6/60 * 295.15/273.15 = 1.261e-6 m^3/s; over pi/4 (70 um)^2 that is 327.6 m/s on average;
    // the speed of sound in nitrogen at 22 C is sqrt(1.4 * 8.3145 * 295.15 / 0.0280134) = 350.2 m/s: Mach 0.94.
    assert!(faults[0].title.contains("Mach 0.94 on average"), "{}", faults[0].title);
    let bore = faults[0].advice.split("above ").nth(1).and_then(|rest| rest.split(" µm").next()).expect("a bore");
    parse(&fast.replace("nozzle_um = 150", &format!("nozzle_um = {bore}"))).unwrap_or_else(|faults| panic!("{faults}"));
}

#[test]
fn a_file_that_cannot_be_read_is_said_so() {
    let faults = scenario::load(Path::new("no such file.toml")).expect_err("it does not exist");
    assert!(faults.to_string().contains("cannot read no such file.toml"), "{faults}");
}

proptest! {
    #[test]
    fn units_survive_the_way_to_si_and_back(
        nozzle in 20.0..400.0f64, stand_off in 0.2..50.0f64, carrier in 0.5..20.0f64, temperature in 5.0..90.0f64,
        acceleration in 0.001..100.0f64, angle in 1.0..45.0f64, load in 0.001..500.0f64, trend in -90.0..90.0f64,
    ) {
        let text = least()
            .replace("nozzle_um = 150", &format!("nozzle_um = {nozzle}"))
            .replace("half_angle_deg = 6", &format!("half_angle_deg = {angle}"))
            .replace("inlet_bore_mm = 1", "inlet_bore_mm = 4")
            .replace("stand_off_mm = 2", &format!("stand_off_mm = {stand_off}"))
            .replace("carrier_sccm = 10", &format!("carrier_sccm = {}", carrier * (nozzle / 400.0).powi(2) + 0.5))
            .replace("droplet_median_um = 2.2", &format!("droplet_median_um = 2.2\nmist_load_ul_per_l = {load}"))
            + &format!("[gas]\ntemperature_c = {temperature}\n[stage]\nacceleration_m_s2 = {acceleration}\n[output]\ntrend_percent_per_h = {trend}\n");
        let read = parse(&text).unwrap_or_else(|faults| panic!("{faults}"));
        let json = scenario::resolved(&read.inputs);
        for (section, key, value) in [
            ("head", "nozzle_um", nozzle), ("head", "half_angle_deg", angle), ("flight", "stand_off_mm", stand_off),
            ("gas", "temperature_c", temperature), ("stage", "acceleration_m_s2", acceleration),
            ("atomiser", "mist_load_ul_per_l", load), ("output", "trend_percent_per_h", trend),
        ] {
            let back = json[section][key].as_f64().expect("a number");
            prop_assert!((back - value).abs() <= 1e-11 * value.abs().max(1e-2), "{key}: {back} is not {value}");
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "[a-z_=\\[\\]{}\"#.,0-9 \n-]{0,200}") {
        let _ = parse(&text);
    }

    #[test]
    fn no_damaged_line_makes_the_reader_panic(line in 0usize..40, value in "(-?[0-9]{1,25}|nan|-inf|true|\\[\\]|\\[1\\]|\\{\\}|\"x\"|1979-05-27)") {
        let text = std::fs::read_to_string(folder("tests/scenarios/good/everything.toml")).expect("it exists");
        for offset in [0, 40, 80, 120] {
            let damaged: Vec<String> = text.lines().enumerate().map(|(i, l)| match l.split_once(" = ") {
                Some((key, _)) if i == line + offset => format!("{key} = {value}"),
                _ => l.to_owned(),
            }).collect();
            let _ = parse(&damaged.join("\n"));
        }
    }
}
