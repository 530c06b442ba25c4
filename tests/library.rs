//! The library gives what the program gives, to the byte. All inks are invented.

use assert_cmd::Command;
use motefall::{Earlier, FieldStore, Silent};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// A square of a drawing, filled at a spacing that nobody gave; straight flight, so that no jet is solved.
const FILL: &str = r#"
name = "a fill"
note = "Invented."
seed = 4
prints = 3
tube = [{ length_mm = 100, bore_mm = 3, inclination_deg = 90 }]
region = [
    { kind = "rectangle", name = "pad", role = "target", center_um = [0, 0], size_um = [200, 200] },
    { kind = "rectangle", name = "rim", role = "keep-out", center_um = [0, 400], size_um = [200, 40] },
]
flow = { carrier_sccm = 8, sheath_sccm = 24 }
head = { inlet_bore_mm = 1, mixing_length_mm = 10, half_angle_deg = 6, nozzle_um = 150, land_um = 150 }
flight = { stand_off_mm = 1.5, model = "straight" }
chip = { width_mm = 2, height_mm = 2 }
map = { pitch_um = 2, margin_um = 40, write_particles = true }
ink.solvent = [{ name = "water" }]
atomiser = { droplet_median_um = 2.2, droplet_gsd = 1.2, mist_load_ul_per_l = 10 }
spread.output.sd_percent = 5
"#;

const INK: &str =
    "[{ name = 'alumina', mass_percent = 6, density_g_cm3 = 3.95, sizes = [{ median_um = 0.5, gsd = 1.2 }] }]";
const SQUARE: &str = "[{ kind = 'drawing', name = 'square', file = 'square.svg', speed_mm_s = 20 }]";

/// The same as one layer of two, the other a line of another ink.
fn layers() -> String {
    format!(
        "{FILL}
[[layer]]
name = 'bed'
ink.powder = {INK}
path = {SQUARE}

[[layer]]
name = 'top'
pause_s = 60
flow.sheath_sccm = 40
ink.powder = [{{ name = 'silver', mass_percent = 4, density_g_cm3 = 10.5, sizes = [{{ median_um = 0.4, gsd = 1.2 }}] }}]
path = [{{ kind = 'line', name = 'cover', from_um = [-20, 0], to_um = [20, 0], speed_mm_s = 8 }}]
"
    )
}

/// Every file below a folder, by its path from there.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder_here) = open.pop() {
        for entry in fs::read_dir(&folder_here).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("below it").to_string_lossy().into_owned();
                found.insert(name, fs::read(&path).expect("readable"));
            }
        }
    }
    found
}

/// `run.json` without what it says of times.
fn timeless(bytes: &[u8]) -> Value {
    let mut run: Value = serde_json::from_slice(bytes).expect("JSON");
    for key in ["created", "took_s", "stages_s"] {
        assert!(run.as_object_mut().expect("a section").remove(key).is_some(), "{key} is there");
    }
    run
}

/// Predicts a scenario by both and compares every file; gives those of the library.
fn compared(text: &str) -> BTreeMap<String, Vec<u8>> {
    let bench = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| bench.path().join(name);
    fs::write(at("print.toml"), text).expect("written");
    let drawing = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/drawings/square.svg");
    fs::copy(drawing, at("square.svg")).expect("copied");

    let program = Command::new(env!("CARGO_BIN_EXE_motefall"))
        .current_dir(bench.path())
        .args(["predict", "print.toml", "--out", "program", "--no-cache", "--threads", "2"])
        .assert();
    program.code(0);
    let scenario = motefall::load(&at("print.toml")).unwrap_or_else(|faults| panic!("{faults}"));
    let asked = format!("{:?}", scenario.inputs);
    let prediction = motefall::predict(&scenario, &FieldStore::none(), &Silent).expect("runs");
    assert_eq!(format!("{:?}", scenario.inputs), asked, "the inputs stay as they are");
    motefall::write(&prediction, &at("library"), Earlier::Kept, None).expect("written");

    let (mut program, mut library) = (files(&at("program")), files(&at("library")));
    assert!(program.keys().eq(library.keys()), "{:?} {:?}", program.keys(), library.keys());
    assert!(library.contains_key("particles.npz") && library.len() > 8, "{:?}", library.keys());
    let [ours, theirs] = [&mut library, &mut program].map(|files| files.remove("run.json").expect("there"));
    assert_eq!(timeless(&ours), timeless(&theirs));
    for (name, bytes) in &library {
        assert!(*bytes == program[name], "{name} differs");
    }
    library
}

fn spacing(files: &BTreeMap<String, Vec<u8>>, place: &str) -> f64 {
    let summary: Value = serde_json::from_slice(&files["summary.json"]).expect("JSON");
    summary.pointer(place).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {place}: {:#}", summary["inputs"]))
}

#[test]
fn a_fill_whose_spacing_is_left_out_is_predicted_alike_by_library_and_program() {
    let files = compared(&format!("{FILL}ink.powder = {INK}\npath = {SQUARE}\n"));
    // About half of 75 um, the mist's width; the estimate before anything is computed is half the core at the nozzle.
    let found = spacing(&files, "/inputs/path/0/spacing_um");
    assert!((5.0..60.0).contains(&found), "{found}");
}

#[test]
fn layers_are_predicted_alike_by_library_and_program() {
    let files = compared(&layers());
    assert!(spacing(&files, "/inputs/layer/0/path/0/spacing_um") > 5.0);
}

/// A line across a pad, its ends beside it: the solids on it go with mist load and solids in the ink, and against the speed.
#[test]
fn knobs_turn_figures_as_they_must() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let line = "[{ kind = 'line', name = 'line', from_um = [-300, 0], to_um = [300, 0], speed_mm_s = 4 }]";
    let text = format!("{FILL}landing.bead = 'keep'\nink.powder = {INK}\npath = {line}\n");
    let file = folder.path().join("line.toml");
    fs::write(&file, text).expect("writable");
    let turnable = motefall::load_turnable(&file, None).expect("a good file");
    let turned = motefall::turn(&turnable, &FieldStore::none(), &Silent).expect("it runs");
    let mass = |row: &motefall::ExpectedRow| row.kind.id == "mass_pg" && row.place.as_deref() == Some("pad");
    let place = turned.expected.figures.iter().position(mass).expect("the mass on the pad is told");
    let power = |key: &str| {
        let effect = turned.effects.iter().find(|effect| effect.key == key);
        effect.unwrap_or_else(|| panic!("{key}")).powers[place].unwrap_or_else(|| panic!("{key} is known"))
    };
    assert!((power("path[1].speed_mm_s") + 1.0).abs() < 2e-3, "{}", power("path[1].speed_mm_s"));
    assert!((power("atomiser.mist_load_ul_per_l") - 1.0).abs() < 2e-3, "{}", power("atomiser.mist_load_ul_per_l"));
    // 6 % of mass in the ink are less of its volume, and more of them make it denser: a little above 1.
    assert!((power("ink.powder[1].mass_percent") - 1.03).abs() < 0.03, "{}", power("ink.powder[1].mass_percent"));
    // Per unit: of what is in proportion, the value by the setting; of a temperature there is no power.
    let effect = |key: &str| turned.effects.iter().find(|effect| effect.key == key).unwrap_or_else(|| panic!("{key}"));
    let load = effect("atomiser.mist_load_ul_per_l");
    let mean = turned.expected.figures[place].value.as_ref().expect("it is told").mean;
    let per_unit = load.slopes[place].expect("it is known");
    assert!((per_unit * load.value / mean - 1.0).abs() < 5e-3, "{per_unit:e} {mean:e}");
    let head = effect("head.temperature_c");
    assert!(head.powers[place].is_none() && head.slopes[place].is_some() && head.more == 1.0, "{head:?}");
    // Straight flight knows no stand-off.
    assert!(power("flight.stand_off_mm").abs() < 1e-6, "{}", power("flight.stand_off_mm"));

    let told =
        Command::new(env!("CARGO_BIN_EXE_motefall")).arg("knobs").arg(&file).arg("--no-cache").output().expect("runs");
    let told = String::from_utf8(told.stdout).expect("text");
    assert!(told.contains("+10 %") && told.contains("path[1].speed_mm_s") && told.contains("−9.1 %"), "{told}");

    // The same in a report, with its bars and its table.
    let out = folder.path().join("result");
    let mut predict = Command::new(env!("CARGO_BIN_EXE_motefall"));
    let done =
        predict.args(["predict", "--knobs", "--prints", "2", "--no-cache", "--quiet", "--out"]).arg(&out).arg(&file);
    assert!(done.output().expect("runs").status.success());
    let report = fs::read_to_string(out.join("report.html")).expect("written");
    assert!(report.contains("Which setting to turn") && report.contains("What more of each setting does:"));
    let table = fs::read_to_string(out.join("knobs.csv")).expect("written");
    let speed = table.lines().find_map(|line| line.strip_prefix("mass_pg,pad,path[1].speed_mm_s,mm/s,4,false,"));
    let told: Vec<f64> = speed.expect("it is there").split(',').map(|cell| cell.parse().expect("a number")).collect();
    let [per_unit, power, more, change] = told[..] else { panic!("{told:?}") };
    assert!(per_unit < 0.0 && (power + 1.0).abs() < 2e-3 && more == 0.4 && (change + 100.0 / 11.0).abs() < 0.02);
}
