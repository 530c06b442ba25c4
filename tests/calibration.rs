//! The command `calibrate` on the shipped lines, and predictions that take what it learnt.

use assert_cmd::Command;
use predicates::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

fn scenario(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name)
}

fn motefall(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_motefall"));
    command.current_dir(folder).env("MOTEFALL_CACHE", folder.join("jets")).env_remove("COLUMNS");
    command
}

/// The worked example of the README. The invented lines were printed by the model itself with other values than the scenario has (mist load
/// 24, droplets of 2.4 µm by count and a GSD of 1.45, contact angle 25 degrees, landing radii 4 % wider, half of the particles riding at 0.30
/// of the droplet's diameter) and measured with noise, so the fit must find them.
#[test]
fn the_shipped_lines_teach_what_the_chip_does() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut calibrate = motefall(folder.path());
    calibrate.arg("calibrate").arg(scenario("first-line.toml"));
    calibrate.arg("--measured").arg(scenario("first-line-measured.csv"));
    let said = calibrate.assert().success().get_output().stdout.clone();
    let said = String::from_utf8(said).expect("text");
    assert!(
        said.contains("The model fits the lines.\nLearnt from 10 lines and a vial; 2 lines are kept for judging."),
        "{said}"
    );
    assert!(said.contains("Kept for judging: 5 of 5 values lie within their 95 % interval"), "{said}");

    let written = fs::read_to_string(folder.path().join("calibration/calibration.toml")).expect("it was written");
    let file: toml::Table = written.parse().expect("TOML");
    let truth = [
        ("atomiser.mist_load_ul_per_l", 24.0),
        ("atomiser.droplet_median_um", 2.4),
        ("atomiser.droplet_gsd", 1.45),
        ("landing.contact_angle_deg", 25.0),
        ("flight.radius_factor", 1.04),
        ("atomiser.retention_midpoint", 0.30),
    ];
    let mut found = 0;
    for unknown in file["unknown"].as_array().expect("a list") {
        let key = unknown["key"].as_str().expect("a key");
        let [low, high] = [0, 1].map(|k| unknown["interval"][k].as_float().expect("a number"));
        if let Some((_, value)) = truth.iter().find(|(known, _)| *known == key) {
            assert!((low..=high).contains(value), "{key}: {value} is not from {low} to {high}");
            found += 1;
        }
    }
    assert!(found >= 4, "{written}");

    let report = fs::read_to_string(folder.path().join("calibration/report.html")).expect("it was written");
    assert!(report.contains("Which further line would teach most") && report.contains("What was learnt"));

    // The chip at what is learnt: both spreads stand beside the figures with limits, and in what it differs from the lines is told.
    let expected = |arguments: &[&str]| {
        let mut predict = motefall(folder.path());
        predict.arg("predict").arg(scenario("sodium-chip.toml")).args(["--expected"]).args(arguments);
        String::from_utf8(predict.assert().success().get_output().stdout.clone()).expect("text")
    };
    let calibrated = expected(&["--calibration", "calibration/calibration.toml"]);
    assert!(calibrated.contains("Calibrated by calibration/calibration.toml (10 lines and a vial"), "{calibrated}");
    assert!(calibrated.contains("by what is unknown"), "{calibrated}");
    assert!(calibrated.replace("\n        ", " ").contains("nozzle 150 µm, lines 200 µm"), "{calibrated}");
    let json = expected(&["--calibration", "calibration/calibration.toml", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let coverage = json["figures"].as_array().expect("a list").iter().find(|row| row["figure"] == "coverage_percent");
    assert!(coverage.expect("it is told")["sd_from_unknown"].as_f64().expect("a number") > 0.5);

    // Prints draw what is unknown: they scatter more than without.
    let mut predict = motefall(folder.path());
    predict.arg("predict").arg(scenario("sodium-chip.toml")).args(["--prints", "24", "--out", "chip", "-q"]);
    predict.args(["--calibration", "calibration/calibration.toml"]);
    predict.assert().code(predicate::in_iter([0, 1]));
    let summary = fs::read_to_string(folder.path().join("chip/summary.json")).expect("it was written");
    let summary: serde_json::Value = serde_json::from_str(&summary).expect("JSON");
    let rows = summary["figures"].as_array().expect("a list");
    let coverage =
        rows.iter().find(|row| row["figure"] == "coverage_percent" && row["place"] == "target").expect("told");
    let [sd, unknown] = ["sd", "sd_unknown"].map(|key| coverage[key].as_f64().expect("a number"));
    assert_eq!(coverage["prints"], 24);
    assert!(unknown > 0.3 * sd && sd > 0.6 * unknown, "{sd} {unknown}");

    // An earlier result stays.
    let mut again = motefall(folder.path());
    again.arg("calibrate").arg(scenario("first-line.toml")).arg("--measured").arg(scenario("first-line-measured.csv"));
    again.assert().code(2).stderr(predicate::str::contains("--overwrite"));
}

#[test]
fn what_cannot_be_used_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let lines = folder.path().join("lines.csv");
    let calibrate = |more: &[&str]| {
        let mut command = motefall(folder.path());
        command.arg("calibrate").arg(scenario("first-line.toml")).args(["--measured", "lines.csv", "-q"]).args(more);
        command.assert().code(2)
    };
    fs::write(&lines, "name,item,edge_width_um,edge_width_sd_um\na,1 mm/s,0.066,0.002\nb,1 mm/s,66,\n")
        .expect("written");
    calibrate(&[])
        .stderr(predicate::str::contains("lines.csv, row 2: `edge_width_um` is 0.066 µm"))
        .stderr(predicate::str::contains("row 3: `edge_width_um` has no uncertainty"))
        .stderr(predicate::str::contains("2 faults; nothing was computed"));
    fs::write(&lines, "name,item,edge_width_um,edge_width_sd_um,held_out\na,1 mm/s,66,2,yes\n").expect("written");
    calibrate(&[]).stderr(predicate::str::contains("every line is held out"));
    fs::write(&lines, "name,item,edge_width_um,edge_width_sd_um\na,1 mm/s,66,2\n").expect("written");
    calibrate(&["--free", "atomiser.mist_lod_ul_per_l"]).stderr(predicate::str::contains("mist_load_ul_per_l"));
    calibrate(&["--free", "atomiser.mist_load_ul_per_l=40..5"])
        .stderr(predicate::str::contains("LOW, 40, is above HIGH, 5"));
    let picture = [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, 0xff, 0xfe];
    fs::write(&lines, picture).expect("written");
    calibrate(&[]).stderr(predicate::str::contains("motefall measure"));
    assert!(!folder.path().join("calibration").exists());

    let predict = |calibration: &str| {
        let mut command = motefall(folder.path());
        command.arg("predict").arg(scenario("sodium-chip.toml")).args(["--calibration", calibration, "--out", "chip"]);
        command.assert().code(2)
    };
    predict("nowhere.toml").stderr(predicate::str::contains("there is no such file"));
    let other = scenario("first-line.toml");
    predict(other.to_str().expect("a path")).stderr(predicate::str::contains("is no calibration"));
    assert!(!folder.path().join("chip").exists());
}

/// One value and one unknown: nothing is left over that could speak against the model, and no line that could differ from another.
#[test]
fn a_vial_alone_tests_nothing() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let table = "name,vial_minutes,vial_loss_mg,vial_loss_sd_mg\nvial,30,7.6,0.25\n";
    fs::write(folder.path().join("lines.csv"), table).expect("written");
    let mut calibrate = motefall(folder.path());
    calibrate.arg("calibrate").arg(scenario("first-line.toml")).args(["--measured", "lines.csv"]);
    let said = String::from_utf8(calibrate.assert().success().get_output().stdout.clone()).expect("text");
    assert!(said.contains("Nothing tests the model yet.\nLearnt from a vial.\n"), "{said}");
    assert!(!said.contains("fits") && !said.contains("model lacks about"), "{said}");
    let written = fs::read_to_string(folder.path().join("calibration/calibration.toml")).expect("it was written");
    assert!(written.contains("agreement = \"untested\""), "{written}");
}

/// The same line twice, with twice as much on it the second time.
#[test]
fn lines_that_contradict_are_named() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let calibrate = |odd: &str| {
        let table = "name,item,region,coverage_percent,coverage_sd_percent\n\
                     a,4 mm/s,strip at 4 mm/s,5.2,0.2\nb,4 mm/s,strip at 4 mm/s,5.3,0.2\n\
                     c,4 mm/s,strip at 4 mm/s,5.1,0.2\nodd,4 mm/s,strip at 4 mm/s,ODD,0.3\n";
        fs::write(folder.path().join("lines.csv"), table.replace("ODD", odd)).expect("written");
        let mut calibrate = motefall(folder.path());
        calibrate.arg("calibrate").arg(scenario("first-line.toml")).args(["--measured", "lines.csv"]);
        calibrate.assert()
    };
    // So far off that nothing goes with all of them.
    let words = predicate::str::contains("nothing that was thought possible fits these lines")
        .and(predicate::str::contains("coverage of \"odd\": measured 9.800"));
    calibrate("9.8").code(1).stdout(words);
    assert!(!folder.path().join("calibration").exists());
    let said = String::from_utf8(calibrate("8.4").success().get_output().stdout.clone()).expect("text");
    assert!(said.contains("The model does not fit the lines."), "{said}");
    assert!(said.replace('\n', " ").contains("\"odd\" (coverage +"), "{said}");
    let written = fs::read_to_string(folder.path().join("calibration/calibration.toml")).expect("it was written");
    assert!(written.contains("agreement = \"does not fit\""), "{written}");
}

#[test]
fn a_table_to_start_from_is_written_once() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let new = |code: i32| motefall(folder.path()).args(["new", "--measurements"]).assert().code(code);
    new(0).stdout(predicate::str::contains("Wrote lines.csv").and(predicate::str::contains("motefall calibrate")));
    let text = fs::read_to_string(folder.path().join("lines.csv")).expect("it was written");
    assert_eq!(text, motefall::lines::starter());
    new(2);
    // Nothing is learnt from it before something is measured.
    let mut calibrate = motefall(folder.path());
    calibrate.arg("calibrate").arg(scenario("first-line.toml")).args(["--measured", "lines.csv", "-q"]);
    calibrate.assert().code(2).stderr(predicate::str::contains("lines.csv: nothing is measured in it yet"));
}

/// A calibration that a scenario names is taken by everything that reads it, and by nothing that is to be calibrated.
#[test]
fn a_calibration_named_in_the_scenario_is_that_of_the_command_line() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = |name: &str| fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name));
    let plain = data("tiny-sweep.toml").expect("a file of the tests");
    let named = plain.replacen("note =", "calibration = \"bench/tiny.toml\"\nnote =", 1);
    fs::create_dir(folder.path().join("bench")).expect("made");
    fs::write(folder.path().join("bench/tiny.toml"), data("tiny-calibration.toml").expect("of the tests"))
        .expect("written");
    fs::write(folder.path().join("plain.toml"), &plain).expect("written");
    fs::write(folder.path().join("named.toml"), &named).expect("written");
    let said = |arguments: &[&str]| {
        let output = motefall(folder.path()).args(arguments).assert().success().get_output().stdout.clone();
        String::from_utf8(output).expect("text").replace("named.toml", "plain.toml")
    };
    let given = ["--calibration", "bench/tiny.toml"];
    for command in [["predict", "FILE", "--expected"].as_slice(), &["path", "FILE"], &["knobs", "FILE"]] {
        let with = |file: &'static str| {
            command.iter().map(|word| if *word == "FILE" { file } else { *word }).collect::<Vec<_>>()
        };
        assert_eq!(said(&with("named.toml")), said(&[with("plain.toml").as_slice(), &given].concat()), "{command:?}");
    }
    let checked = said(&["check", "named.toml"]);
    assert!(
        checked.contains("Calibrated by bench/tiny.toml (8 lines") && checked.contains("Sweep: 12 points"),
        "{checked}"
    );
    assert!(said(&["check", "plain.toml"]) != checked);
    let mut calibrate = motefall(folder.path());
    calibrate.args(["calibrate", "named.toml", "--measured", "lines.csv"]);
    calibrate.assert().code(2).stderr(predicate::str::contains("names a calibration already"));
}
