//! The bench sheet: its numbers are those of `predict --expected`, `check` and `path`, and it harms no file. All inks are invented.

use assert_cmd::Command;
use motefall::{FieldStore, Silent, Source};
use motefall_figures::kinds::kind;
use motefall_output::numbers;
use predicates::prelude::*;
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A line over two regions, with limits; straight flight, so that no jet is solved.
const LINE: &str = r#"
name = "a line"
note = "Invented."
seed = 4
tube = [{ length_mm = 100, bore_mm = 3, inclination_deg = 90 }]
flow = { carrier_sccm = 8.125, sheath_sccm = 24 }
head = { inlet_bore_mm = 1, mixing_length_mm = 10, half_angle_deg = 6, nozzle_um = 150, land_um = 150 }
flight = { stand_off_mm = 1.5, model = "straight" }
chip = { width_mm = 4, height_mm = 4 }
map = { pitch_um = 2, margin_um = 40 }
stage = { run_up_um = 120, shutter_open_ms = 7, shutter_close_ms = 9 }
atomiser = { droplet_median_um = 2.2, droplet_gsd = 1.2, mist_load_ul_per_l = 10 }
spread = { output = { sd_percent = 5 }, stand_off = { sd_um = 30 }, alignment_x = { sd_um = 0 }, alignment_y = { sd_um = 0 }, rotation = { sd_deg = 0 } }
ink.solvent = [{ name = "water", mass_percent = 80 }, { name = "ethylene glycol", mass_percent = 20 }]
"#;
const INK: &str =
    "powder = [{ name = 'alumina', mass_percent = 6, density_g_cm3 = 3.95, sizes = [{ median_um = 0.5, gsd = 1.2 }] }]";
const PATH: &str =
    "path = [{ kind = 'line', name = 'way', from_um = [-500, 0], to_um = [500, 0], speed_mm_s = 2.5, passes = 3 }]";
const REGIONS: &str = r#"
region = [
    { kind = "rectangle", name = "strip", role = "target", center_um = [0, 0], size_um = [800, 40] },
    { kind = "rectangle", name = "rim", role = "keep-out", center_um = [0, 300], size_um = [800, 40] },
]
[[acceptance.limit]]
figure = "coverage_percent"
place = "strip"
min = 12.5
[[acceptance.limit]]
figure = "edge_width_um"
place = "way"
max = 80
"#;

/// A folder with a scenario in it.
struct Bench(TempDir);

impl Bench {
    fn new(scenario: &str) -> Self {
        let bench = Self(tempfile::tempdir().expect("a temporary folder"));
        fs::write(bench.0.path().join("print.toml"), scenario).expect("written");
        bench
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_motefall"));
        command.current_dir(self.0.path()).env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR")).args(arguments);
        command
    }

    /// What a command prints.
    fn says(&self, arguments: &[&str]) -> String {
        let output = self.command(arguments).assert().code(0).get_output().stdout.clone();
        String::from_utf8(output).expect("text")
    }

    /// Words of the sheet.
    fn sheet(&self) -> String {
        words(&self.says(&["sheet", "print.toml", "--quiet", "--out", "-"]))
    }

    fn expected(&self) -> Vec<Value> {
        let text = self.says(&["predict", "print.toml", "--expected", "--json", "--quiet"]);
        let json: Value = serde_json::from_str(&text).expect("JSON");
        json["figures"].as_array().expect("a list").clone()
    }
}

fn line() -> String {
    format!("{LINE}ink.{INK}\n{PATH}\n{REGIONS}")
}

/// Two layers, the second of another flow, speed and pause.
fn layers() -> String {
    let second = PATH.replace("way", "cover").replace("2.5", "5");
    format!(
        "{LINE}{REGIONS}\n[[layer]]\nname = 'bed'\nink.{INK}\n{PATH}\n
[[layer]]\nname = 'top'\npause_s = 75\nflow.sheath_sccm = 41\nink.{}\n{second}\n",
        INK.replace("alumina", "silver")
    )
}

/// A page's words without its marks, spaces as on a keyboard.
fn words(page: &str) -> String {
    let body = page.split_once("<body>").expect("a page").1;
    let mut text = String::new();
    for part in body.split('<') {
        text.push_str(part.split_once('>').map_or("", |(_, words)| words));
        text.push(' ');
    }
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
    text.replace(['\u{a0}', '\u{202f}'], " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn plain(text: String) -> String {
    text.replace(['\u{a0}', '\u{202f}'], " ")
}

/// Mean and spread of a figure as they should be shown: `17.9 µm`, `± 0.75`.
fn shown(row: &Value) -> [String; 2] {
    let kind = kind(row["figure"].as_str().expect("a name")).expect("known");
    let value = |key: &str| row[key].as_f64();
    let parts = ["sd_from_inputs", "sd_from_output_noise", "sd_from_unknown"].map(|key| value(key).expect("told"));
    let sd = value("sd").unwrap_or_else(|| parts.iter().map(|part| part * part).sum::<f64>().sqrt());
    let mean = numbers::mean(value("mean").expect("told") / kind.per_si, kind).to_string();
    let spread = if sd > 0.0 { format!(" ± {}", numbers::significant(sd, 2)) } else { String::new() };
    [plain(mean), plain(spread)]
}

fn find<'a>(rows: &'a [Value], figure: &str, place: &str) -> &'a Value {
    rows.iter().find(|row| row["figure"] == figure && row["place"] == place).expect("it is there")
}

#[test]
fn figures_with_a_limit_are_those_that_are_expected() {
    let bench = Bench::new(&line());
    let (sheet, rows) = (bench.sheet(), bench.expected());
    for (figure, place, name, limit) in [
        ("coverage_percent", "strip", "coverage, strip", "at least 12.5 %"),
        ("edge_width_um", "way", "width from edge to edge, way", "at most 80 µm"),
        ("particles", "rim", "particles, rim", "at most 0"),
    ] {
        let [mean, sd] = shown(find(&rows, figure, place));
        let row =
            sheet.split(&format!("{name} {mean}{sd} ")).nth(1).unwrap_or_else(|| panic!("{name} {mean}{sd}: {sheet}"));
        // Between them may stand the sign for chance left aside and the error of the arithmetic.
        let next: String = row.chars().take(limit.chars().count() + 12).collect();
        assert!(next.contains(limit), "{name}: {next}");
    }
}

/// The range is the mean and two standard deviations of prints and arithmetic to each side.
#[test]
fn the_test_line_is_that_line_alone_on_a_bare_wafer() {
    let sheet = Bench::new(&line()).sheet();
    let rows = Bench::new(&format!("{LINE}ink.{INK}\n{PATH}\n")).expected();
    for figure in ["edge_width_um", "line_width_um", "peak_thickness_nm"] {
        let row = find(&rows, figure, "way");
        let [mean, sd] = shown(row);
        let unit = kind(figure).expect("known").unit;
        let alone = mean.trim_end_matches(unit).trim();
        let rest = sheet.split(&format!("{alone}{sd} ")).nth(1).unwrap_or_else(|| panic!("{alone}{sd}: {sheet}"));
        let value = |key: &str| row[key].as_f64().unwrap_or_default();
        let parts = ["sd_from_inputs", "sd_from_output_noise", "sd_from_unknown", "sd_from_chance", "error"].map(value);
        let half = 2.0 * parts.iter().map(|part| part * part).sum::<f64>().sqrt();
        let numbers: Vec<f64> = rest.split_whitespace().take(5).filter_map(|word| word.parse().ok()).collect();
        let [low, high] = numbers[..2] else { panic!("{numbers:?} in {rest:.60}") };
        let ends = [(value("mean") - half).max(0.0), value("mean") + half];
        assert!((low - ends[0]).abs() < 0.11 * half && (high - ends[1]).abs() < 0.11 * half, "{low} {high} {ends:?}");
    }
    assert!(sheet.contains("Test line on a bare wafer at 22 °C: 1 mm, 2.5 mm/s, 3 passes"), "{sheet}");
    assert!(sheet.contains("Not calibrated:"), "{sheet}");
}

#[test]
fn settings_are_those_that_check_understood() {
    let bench = Bench::new(&line());
    let (sheet, check) = (bench.sheet(), bench.says(&["check", "print.toml"]));
    for (label, key) in [
        ("carrier", "carrier_sccm"),
        ("sheath", "sheath_sccm"),
        ("nozzle", "nozzle_um"),
        ("stand-off", "stand_off_mm"),
        ("chip", "chip_c"),
        ("mist load", "mist_load_ul_per_l"),
        ("mist on before", "warm_up_s"),
        ("stage acceleration", "acceleration_m_s2"),
        ("travel", "travel_mm_s"),
        ("shutter opens after", "shutter_open_ms"),
        ("shutter closes after", "shutter_close_ms"),
        ("run-up", "run_up_um"),
        ("sccm counted at", "flow_reference_c"),
    ] {
        let line = check.lines().find(|line| line.trim_start().starts_with(key)).expect("check tells it");
        let value = line.split_whitespace().nth(1).expect("a value");
        let at = sheet.find(&format!(" {label} {value} ")).unwrap_or_else(|| panic!("{label} {value}: {sheet}"));
        let rest: Vec<&str> = sheet[at..].split_whitespace().skip(label.split_whitespace().count()).take(4).collect();
        let is_marked = rest[2] == "◆" && rest[3] != "Default";
        assert_eq!(is_marked, line.contains("* unverified default"), "{label}: {rest:?}, {line}");
    }
    let count = check.split(", with ").last().and_then(|rest| rest.split(' ').next()).expect("a number");
    assert!(sheet.contains(&format!("{count} in all with those not shown")), "{count}");
    assert!(sheet.contains("alumina 6 %") && sheet.contains("water 80 %, ethylene glycol 20 %"), "{sheet}");
}

#[test]
fn layers_follow_each_other_with_their_times() {
    let bench = Bench::new(&layers());
    let (sheet, path) = (bench.sheet(), bench.says(&["path", "print.toml"]));
    let totals: Vec<&str> = path.lines().filter(|line| line.contains("with the shutter open")).collect();
    assert_eq!(totals.len(), 2, "{path}");
    for (name, total) in ["1. bed", "2. top"].iter().zip(totals) {
        assert!(sheet.contains(&format!("{name} {total}.")), "{name} {total}: {sheet}");
        let test_line = sheet.split("measured test line").next().unwrap_or(&sheet);
        assert!(test_line.contains(name));
    }
    for words in [
        "sheath 24 sccm 41 sccm",
        "powders, 1. bed alumina 6 %",
        "powders, 2. top silver 6 %",
        "Mist off; pause 75 s ; vial 2. top ; sheath 41 sccm",
        "way 2.5 mm/s 3",
        "cover 5 mm/s 3",
        "1 mm, 5 mm/s, 3 passes",
    ] {
        assert!(sheet.contains(words), "{words}: {sheet}");
    }
}

#[test]
fn names_are_text_and_long_lists_are_cut() {
    let hostile = "<script>alert(1)</script>\\\"&'";
    let limits: String = (0..20)
        .map(|k| format!("[[acceptance.limit]]\nfigure = 'coverage_percent'\nplace = 'strip'\nmin = {k}.5\n"))
        .collect();
    let text = line()
        .replace("\"a line\"", &format!("\"{hostile}\""))
        .replace("Invented.", hostile)
        .replace("'alumina'", &format!("\"{hostile}\""))
        .replace("'way'", &format!("\"{hostile}\""))
        .replace("\"way\"", &format!("\"{hostile}\""))
        .replace("\"strip\"", "'strip'")
        + &limits;
    let bench = Bench::new(&text);
    let page = bench.says(&["sheet", "print.toml", "--quiet", "--out", "-"]);
    assert!(!page.contains("<script") && page.contains("&lt;script&gt;"), "{page}");
    // 23 limits, of which 7 have room.
    assert!(words(&page).contains("and 16 more, see motefall predict --expected"), "{}", words(&page));
}

#[test]
fn a_file_is_never_replaced_and_the_library_gives_the_same() {
    let bench = Bench::new(&line());
    let file = bench.0.path().join("print-sheet.html");
    let wrote = predicate::str::contains("Wrote print-sheet.html");
    bench.command(&["sheet", "print.toml", "--quiet"]).assert().code(0).stdout(wrote);
    let page = fs::read_to_string(&file).expect("written");
    assert_eq!(page, bench.says(&["sheet", "print.toml", "--quiet", "--out", "-"]));
    fs::write(&file, "mine").expect("written");
    let kept = predicate::str::contains("print-sheet.html").and(predicate::str::contains("is left as it is"));
    bench.command(&["sheet", "print.toml", "--quiet"]).assert().code(2).stderr(kept);
    assert_eq!(fs::read_to_string(&file).expect("there"), "mine");

    let path = bench.0.path().join("print.toml");
    let content = fs::read(&path).expect("there");
    let scenario = motefall::load(&path).unwrap_or_else(|faults| panic!("{faults}"));
    let source = Source::of(Path::new("print.toml"), &content);
    assert_eq!(page, motefall::sheet(&scenario, &source, &FieldStore::none(), &Silent).expect("expected"));
    assert!(words(&page).contains(&format!("print.toml · CRC-32 {:08x}", crc32fast::hash(&content))));
}

#[test]
fn a_sheet_has_all_parts_and_forces_no_size_of_paper() {
    let page = Bench::new(&line()).says(&["sheet", "print.toml", "--quiet", "--out", "-"]);
    let text = words(&page);
    let parts = ["Setting", "Path", "Order of steps", "What to expect", "Out of range check", "Cautions for this ink"];
    let places: Vec<usize> = parts.iter().map(|part| text.find(part).unwrap_or_else(|| panic!("{part}"))).collect();
    assert!(places.is_sorted(), "{places:?}");
    let style = page.split("@page").nth(1).and_then(|rest| rest.split('}').next()).expect("a rule for the page");
    assert!(style.contains("margin") && !style.contains("size"), "{style}");
    assert!(!page.contains("prefers-color-scheme") && !page.contains("http"), "black on white, no network");
    assert!(text.contains("licensed practice decide"));
}
