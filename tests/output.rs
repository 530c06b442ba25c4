//! What is written down: every file, its refusals, and the report on odd prints. All predictions here are made up (see
//! `output_fixture`). Set `KEEP_REPORTS` to a folder to look at the reports.

mod output_fixture;

use motefall_figures::*;
use motefall_files::whole_folder::{Earlier, FolderError, check_place};
use motefall_output::{self as output, OutputError, Written, terminal};
use motefall_physics::inputs::{Filled, Outline, PathItem, Region, Role, Shape, Spacing};
use output_fixture::{CHIP, Look, many_prints, prediction, scenario};
use serde_json::json;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::Duration;

fn write(p: &Prediction, dir: &Path) -> Written {
    output::write(p, &scenario(), dir, Earlier::Kept, Some(&Duration::from_millis(1_234).into()))
        .expect("it is written")
}

/// Writes into a folder that goes, or that stays if asked for, and gives the report's text back.
fn report(name: &str, p: &Prediction) -> String {
    let temporary = tempfile::tempdir().expect("a temporary folder");
    let keep = std::env::var_os("KEEP_REPORTS").map(std::path::PathBuf::from);
    let dir = keep.as_deref().unwrap_or(temporary.path()).join(name);
    let written = output::write(p, &scenario(), &dir, Earlier::Replaced, None).expect("it is written");
    let html = fs::read_to_string(written.report).expect("there is a report");
    for bad in ["NaN", ">inf<", "http://", "https://", "url("] {
        // Base64 may hold any letters, so pictures are cut out first.
        let text: String = html.split("data:image/png;base64,").map(|s| s.split_once('"').map_or(s, |x| x.1)).collect();
        assert!(!text.contains(bad), "{name}: the report holds {bad}");
    }
    html
}

fn small() -> Look {
    Look { particles: 3_000, pitch: 0.5e-6, ..CHIP }
}

/// All files under a folder with their content.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    for entry in fs::read_dir(dir).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            for (name, bytes) in files(&path) {
                out.insert(format!("{}/{name}", path.file_name().expect("named").to_string_lossy()), bytes);
            }
        } else {
            out.insert(path.file_name().expect("named").to_string_lossy().into(), fs::read(&path).expect("readable"));
        }
    }
    out
}

#[test]
fn a_repeated_run_gives_the_same_bytes() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let p = prediction(small());
    write(&p, &dir.path().join("one"));
    // Archives may carry the time in steps of two seconds.
    std::thread::sleep(Duration::from_millis(2_100));
    write(&prediction(small()), &dir.path().join("two"));
    let (mut one, mut two) = (files(&dir.path().join("one")), files(&dir.path().join("two")));
    assert_ne!(one.remove("run.json"), two.remove("run.json"), "run.json holds the time");
    assert_eq!(one.keys().collect::<Vec<_>>(), two.keys().collect::<Vec<_>>());
    for (name, bytes) in &one {
        assert!(bytes == &two[name], "{name} differs");
    }
    let expected = [
        "budget.csv",
        "figures.csv",
        "landing.csv",
        "maps/coverage.npy",
        "maps/coverage.png",
        "maps/far_particles.npy",
        "maps/grid.json",
        "maps/height_nm.npy",
        "maps/height_nm.png",
        "maps/mean_free_paths.npy",
        "maps/mean_free_paths.png",
        "maps/thickness_Na3V2_PO4_3_nm.npy",
        "maps/thickness_Na3V2_PO4_3_nm.png",
        "maps/thickness_carbon_black_nm.npy",
        "maps/thickness_carbon_black_nm.png",
        "maps/top_height_nm.npy",
        "maps/top_height_nm.png",
        "particles.npz",
        "profile.csv",
        "report.html",
        "sizes.csv",
        "summary.json",
    ];
    assert_eq!(one.keys().map(String::as_str).collect::<Vec<_>>(), expected);
    assert!(fs::read_dir(dir.path()).expect("a folder").count() == 2, "nothing temporary stays");
}

#[test]
fn arrays_come_back_as_they_were() {
    use ndarray_npy::{NpzReader, ReadNpyExt};
    let dir = tempfile::tempdir().expect("a temporary folder");
    let p = prediction(small());
    let out = dir.path().join("r");
    write(&p, &out);
    let map = ndarray::Array2::<f32>::read_npy(
        fs::File::open(out.join("maps/thickness_carbon_black_nm.npy")).expect("there"),
    )
    .expect("a map");
    assert_eq!(map.dim(), (p.maps.grid.rows, p.maps.grid.columns));
    for (a, b) in map.iter().zip(&p.maps.thickness[1]) {
        assert!((f64::from(*a) - b * 1e9).abs() <= 1e-6 * b * 1e9);
    }
    let mut npz = NpzReader::new(fs::File::open(out.join("particles.npz")).expect("there")).expect("an archive");
    let x: ndarray::Array1<f32> = npz.by_name("x_um").expect("x");
    let powder: ndarray::Array1<u16> = npz.by_name("powder").expect("powder");
    let droplet: ndarray::Array1<u64> = npz.by_name("droplet").expect("droplet");
    assert_eq!((x.len(), powder.len(), droplet.len()), (3_000, 3_000, 3_000));
    assert!((f64::from(x[17]) - p.pile.particles()[17].x * 1e6).abs() < 1e-4);
    let grid: serde_json::Value =
        serde_json::from_slice(&fs::read(out.join("maps/grid.json")).expect("there")).expect("json");
    assert_eq!(grid["pitch_um"], 0.5);
    assert_eq!(grid["origin_um"][0], -90.0);
}

#[test]
fn names_from_the_scenario_are_no_formulas_in_a_table() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut p = prediction(small());
    let named: Vec<String> = p.figures.iter().filter_map(|row| row.place.clone()).collect();
    for row in &mut p.figures {
        row.place = row.place.take().map(|place| format!("=HYPERLINK({place})"));
    }
    for profile in &mut p.profiles {
        profile.item = format!("+{}", profile.item);
    }
    let out = dir.path().join("r");
    write(&p, &out);
    let column = |name: &str, column: usize| -> Vec<String> {
        let mut rows = csv::Reader::from_path(out.join(name)).expect("there");
        rows.records().map(|row| row.expect("even rows")[column].to_owned()).collect()
    };
    let places: Vec<String> = column("figures.csv", 2).into_iter().filter(|place| !place.is_empty()).collect();
    assert_eq!(places, named.iter().map(|place| format!("'=HYPERLINK({place})")).collect::<Vec<_>>());
    assert!(column("profile.csv", 0).iter().all(|item| item.starts_with("'+")));
    // Numbers below zero stay numbers.
    assert!(column("profile.csv", 1).iter().all(|cell| cell.parse::<f64>().is_ok()));
    assert!(column("profile.csv", 1).iter().any(|cell| cell.starts_with('-')));
}

#[test]
fn tables_add_up_and_round_trip() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let p = prediction(small());
    let out = dir.path().join("r");
    write(&p, &out);
    let rows = |name: &str| -> Vec<csv::StringRecord> {
        csv::Reader::from_path(out.join(name)).expect("there").records().map(|r| r.expect("even rows")).collect()
    };
    let budget = rows("budget.csv");
    let number = |r: &csv::StringRecord, i: usize| r[i].parse::<f64>().expect("a number");
    for column in [3, 6, 7] {
        let parts: f64 = budget[1..].iter().map(|r| number(r, column)).sum();
        assert!((parts / number(&budget[0], column) - 1.0).abs() < 1e-9, "column {column}: {parts}");
    }
    let figures = rows("figures.csv");
    assert_eq!(figures.len(), p.figures.len());
    let coverage = figures.iter().find(|r| &r[0] == "coverage_percent" && &r[2] == "working electrode").expect("there");
    assert_eq!((&coverage[3], &coverage[8], &coverage[7]), ("71.3", "%", "20"));
    let missing = figures.iter().find(|r| &r[0] == "line_width_um" && &r[2] == "left stroke").expect("there");
    assert_eq!((&missing[3], &missing[4], &missing[9]), ("", "", "no half-height crossing was found"));
    let landing = rows("landing.csv");
    assert!(landing[0][2].is_empty() && &landing[0][1] == "0", "nothing lands at the small end");
    let profile = rows("profile.csv");
    assert_eq!(profile.len(), 2 * 241);
    let middle = profile.iter().find(|r| &r[1] == "0").expect("the axis");
    assert!((number(middle, 2) + number(middle, 3) - number(middle, 4)).abs() < 1e-9);
    let sizes = rows("sizes.csv");
    assert_eq!(sizes.len(), 4 * 48 + 2 * 3 * 40);

    let text = fs::read(out.join("summary.json")).expect("there");
    let summary: serde_json::Value = serde_json::from_slice(&text).expect("json");
    assert_eq!(summary["format"], "motefall-result");
    assert_eq!(summary["inputs"], scenario());
    assert_eq!(summary["verdict"]["accepted"], false);
    assert_eq!(summary["cautions"][0]["severity"], "safety");
    assert_eq!(summary["map"]["files"].as_array().expect("a list").len(), 6);
    assert_eq!(summary["map"]["far"]["prints"], 1);
    assert_eq!(summary["bridging"]["gaps"][0]["width_um"], 65.0);
    let currents = &summary["electrodes"][0]["currents"];
    // Made-up capacity of 0.000213 nAh.
    assert_eq!((&currents[1]["c_rate"], &currents[1]["current_na"]), (&json!(1.0), &json!(0.000_213)));
    assert_eq!(currents[2]["current_na"], 0.002_13);
    let json = output::json(&p, &scenario(), None);
    assert_eq!(json, summary);
}

#[test]
fn earlier_results_are_safe() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let p = prediction(Look { particles: 200, pitch: 1e-6, ..CHIP });
    let place = dir.path().join("deep/er/result");
    write(&p, &place);
    let before = files(&place);

    let refused = check_place(&place, Earlier::Kept).expect_err("it exists");
    assert!(matches!(refused, FolderError::Exists { .. }), "{refused:?}");
    assert!(refused.to_string().contains("--overwrite"), "{refused}");
    assert_eq!(files(&place), before);

    // Anything that the result did not write itself makes it stay.
    let refused = |what: &str| {
        let before = files(&place);
        let refused = check_place(&place, Earlier::Replaced).expect_err(what);
        assert!(matches!(refused, FolderError::NotOnlyOurs { .. }), "{refused:?}");
        assert!(refused.to_string().contains(what), "{refused}");
        assert_eq!(files(&place), before);
    };
    fs::write(place.join("maps/notes.txt"), "x").expect("writable");
    refused("maps/notes.txt");
    fs::remove_file(place.join("maps/notes.txt")).expect("there");
    fs::create_dir(place.join("empty")).expect("writable");
    refused("empty/");
    fs::remove_dir(place.join("empty")).expect("there");
    write(&p, &place.join("inside"));
    refused("inside/");
    fs::remove_dir_all(place.join("inside")).expect("there");
    let figures = fs::read_to_string(place.join("figures.csv")).expect("there");
    fs::write(place.join("figures.csv"), figures.replacen(',', ";", 1)).expect("writable");
    refused("figures.csv (changed since it was written)");

    let mut other = p.clone();
    other.inputs.seed = 8;
    fs::remove_file(place.join("figures.csv")).expect("there");
    check_place(&place, Earlier::Replaced).expect("a file that was moved away is no hindrance");
    output::write(&other, &scenario(), &place, Earlier::Replaced, None).expect("ours may be replaced");
    assert_ne!(files(&place)["summary.json"], before["summary.json"]);
    assert_eq!(fs::read_dir(dir.path().join("deep/er")).expect("a folder").count(), 1, "nothing temporary stays");

    let foreign = dir.path().join("thesis");
    fs::create_dir(&foreign).expect("writable");
    write(&p, &foreign.join("inside"));
    fs::write(foreign.join("summary.json"), "{\"format\": \"motefall-result\"}").expect("writable");
    for list in ["not json", "{\"format\": \"motefall-result\"}", "{\"format\": \"other\", \"files\": []}"] {
        fs::write(foreign.join("run.json"), list).expect("writable");
        let refused = check_place(&foreign, Earlier::Replaced).expect_err("it is not ours");
        assert!(matches!(refused, FolderError::NotOurs { .. }), "{refused:?}");
    }

    let file = dir.path().join("file");
    fs::write(&file, "x").expect("writable");
    assert!(matches!(check_place(&file, Earlier::Replaced), Err(FolderError::NotOurs { .. })));
    assert!(matches!(
        output::write(&p, &scenario(), Path::new("/"), Earlier::Replaced, None),
        Err(OutputError::Folder(FolderError::NoName { .. }))
    ));
    let below_a_file =
        output::write(&p, &scenario(), &file.join("x"), Earlier::Kept, None).expect_err("a file is no folder");
    assert!(matches!(below_a_file, OutputError::Folder(FolderError::NotWritable { .. })), "{below_a_file:?}");

    // When the run is over nothing is refused: the result goes beside its place.
    let beside = output::write(&p, &scenario(), &file, Earlier::Replaced, None).expect_err("there is a file");
    assert!(
        matches!(&beside, OutputError::Folder(FolderError::Elsewhere { kept, .. }) if kept.ends_with("file-2")),
        "{beside:?}"
    );
    assert!(dir.path().join("file-2/report.html").exists() && fs::read_to_string(&file).is_ok());

    let empty = dir.path().join("empty");
    fs::create_dir(&empty).expect("writable");
    write(&p, &empty);
}

#[test]
fn the_report_of_a_chip() {
    let html = report("chip", &prediction(CHIP));
    for words in [
        "Not accepted",
        "17 of 20\u{a0}prints",
        "212 ± 4",
        "below 0.14",
        "Where the solids went",
        "2 safety cautions apply",
        "Local rules",
        "Outside this map: seal",
        "droplet_gsd",
        "half of the liquid is in those above 3.60\u{a0}µm",
        "Droplet median at the atomiser, by count",
        "Droplet median at the atomiser, by mass",
        "not measured",
        "working electrode",
    ] {
        assert!(html.contains(words), "{words} is missing");
    }
    let place = |s: &str| html.find(s).unwrap_or_else(|| panic!("{s} is missing"));
    let order = [
        "✕ Not accepted",
        "Thickness map",
        "A: particle scale",
        "id=\"limits\"",
        "id=\"lines\"",
        "Sizes by stage",
        "id=\"landing\"",
        "id=\"budget\"",
        "id=\"figures\"",
        "id=\"cautions\"",
        "id=\"conditions\"",
        "id=\"inputs\"",
    ];
    assert!(order.windows(2).all(|w| place(w[0]) < place(w[1])), "pictures first, inputs last");
}

#[test]
fn the_contents_lead_to_sections() {
    for (name, p) in [("chip", prediction(CHIP)), ("many-prints", many_prints(small(), 60))] {
        let html = report(name, &p);
        let list = html.split("<nav").nth(1).and_then(|rest| rest.split("</nav>").next()).expect("a list");
        let targets: Vec<&str> = list.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        assert!(targets.len() >= 14 && targets.contains(&"differ") == (name == "many-prints"), "{targets:?}");
        for target in targets {
            assert_eq!(html.matches(&format!("id=\"{target}\"")).count(), 1, "{target} in {name}");
        }
    }
}

#[test]
fn extremes_are_shown_by_median_and_largest_and_one_figure_has_one_rounding() {
    let p = prediction(small());
    let html = report("extremes", &p);
    let text = terminal::summary(&p, None, 100);
    assert!(html.contains("median 62.1 (48.0 to 81.0), largest 889\u{a0}µm of the prints"), "strays");
    assert!(text.contains("median 62.1 (48.0 to 81.0), largest 889 µm"), "{text}");
    assert!(!html.contains("120 ± 110") && !text.contains("120 ± 110"));
    // The share of prints that meet a limit, in the verdict, in the table and on the terminal.
    let mut p = prediction(small());
    p.limits[0].met = 20;
    p.verdict = Verdict { accepted: Some(true), met: 20, n: 20, share_interval: [0.8389, 1.0] };
    let html = report("all-met", &p);
    assert!(html.contains("between 84 and 100\u{a0}%") && html.contains("100\u{a0}% (84 to 100\u{a0}%)"));
    assert!(terminal::summary(&p, None, 100).contains("20 of 20, 84 to 100 %"));
    assert!(!html.contains("(83.9"));
    // The mean of a figure over many prints, under Limits and in the table of how prints differ.
    let p = many_prints(small(), 60);
    let html = report("many", &p);
    let row =
        p.figures.iter().find(|r| r.kind.id == "mean_thickness_nm" && r.place.as_deref() == Some("working electrode"));
    let shown = output::numbers::figure(row.and_then(|r| r.estimate.as_ref()), row.expect("listed").kind);
    assert!(
        html.matches(&shown.value).count() >= 3,
        "{} under Limits, in the spread and among all figures",
        shown.value
    );
    // A tiny capacity has a unit that suits it.
    let html = report("tiny", &prediction(small()));
    assert!(html.contains("0.35 ± 0.07\u{a0}fAh") && !html.contains("0.00000035"), "the capacity on the reference");
    let dir = tempfile::tempdir().expect("a temporary folder");
    let out = dir.path().join("r");
    write(&prediction(small()), &out);
    let mut rows = csv::Reader::from_path(out.join("figures.csv")).expect("there");
    let head = rows.headers().expect("a head").clone();
    let column = |name: &str| head.iter().position(|c| c == name).expect(name);
    let stray = rows.records().map(|r| r.expect("even rows")).find(|r| &r[0] == "farthest_stray_um").expect("listed");
    assert_eq!((&stray[column("median")], &stray[column("largest")], &stray[column("unit")]), ("62.13", "889.2", "µm"));
}

#[test]
fn pictures_name_only_what_is_in_them() {
    let mut p = prediction(Look { powders: 3, ..small() });
    let um = |points: &[[f64; 2]]| points.iter().map(|q| q.map(|v| v * 1e-6)).collect::<Vec<_>>();
    // Around the map and nowhere on it, though the box about it is.
    let around =
        [[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0], [-300.0, -200.0], [-250.0, -200.0]];
    let back = [[-250.0, 250.0], [250.0, 250.0], [250.0, -250.0], [-300.0, -250.0]];
    let outline = Outline::polygon(um(&[&around[..], &back[..]].concat()));
    p.inputs.regions.push(Region { name: "frame".into(), role: Role::KeepOut, outline });
    // A quarter ring: a straight cut runs out of it.
    let arc = |radius: f64, i: u32| {
        let angle = std::f64::consts::FRAC_PI_2 * f64::from(i) / 20.0;
        [radius * angle.cos(), radius * angle.sin()]
    };
    let ring: Vec<[f64; 2]> = (0..=20).map(|i| arc(50.0, i)).chain((0..=20).rev().map(|i| arc(42.0, i))).collect();
    let fill = |points: &[[f64; 2]]| {
        let area = std::sync::Arc::new(motefall_physics::contours::Contours::new(vec![um(points)]));
        let turns = motefall_physics::inputs::Turns::Open;
        let edge = motefall_physics::inputs::EdgeStroke::Without;
        Shape::Filled(Filled { area, spacing: Spacing::Given(5e-6), angle: 0.0, turns, edge, source: None })
    };
    p.inputs.layers[0].path[0].shape = fill(&ring);
    p.inputs.layers[0].path[1].shape = fill(&[[-2.0, -60.0], [10.0, -60.0], [10.0, 60.0], [-2.0, 60.0]]);
    let html = report("named", &p);
    let caption =
        html.split("A: particle scale").nth(1).and_then(|rest| rest.split("</figure>").next()).expect("a caption");
    assert!(caption.contains("carbon black") && !caption.contains("TiO2"), "none of it lies in the picture: {caption}");
    assert!(html.contains(">reference</text>") && !html.contains(">frame</text>"));
    assert!(html.contains("a straight cut runs out of a curved shape: left stroke."));
    assert!(html.contains("Across right stroke: thickness") && !html.contains("Across left stroke: thickness"));
}

#[test]
fn many_prints_say_how_they_differ() {
    let p = many_prints(CHIP, 200);
    let html = report("many-prints", &p);
    for words in [
        "How prints differ",
        "stand-off 100\u{a0}µm (even)",
        "of all prints made like this lie between",
        "what makes prints differ",
        "falls off centre",
        "Chance and interactions",
        "No clear effect",
    ] {
        assert!(html.contains(words), "{words} is missing");
    }
    assert!(!report("few-prints", &prediction(CHIP)).contains("How prints differ"));
    // Enough for percentiles, too few to name causes: 4 (8 + 3 + 1) = 48.
    let html = report("some-prints", &many_prints(CHIP, 30));
    assert!(html.contains("takes at least 48 prints") && !html.contains("what makes prints differ"));
    let mut chance = many_prints(CHIP, 60);
    chance.draws = Draws::default();
    chance.figures.iter_mut().filter_map(|row| row.distribution.as_mut()).for_each(|d| {
        d.explained.clear();
        d.unexplained = None;
    });
    assert!(report("chance-only", &chance).contains("differ by chance alone"));

    let text = terminal::summary(&p, None, 80);
    assert!(text.contains("Prints differ mostly because of: mist output ("), "{text}");
    assert!(text.contains(&format!("{} of 200, ", p.limits[0].met)), "{text}");
}

#[test]
fn layers_stand_beside_each_other() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let mut p = many_prints(small(), 40);
    p.inputs.layers[0].name = "bed".into();
    let mut cover = p.inputs.layers[0].clone();
    cover.name = "cover <b>".into();
    cover.pause = 90.0;
    p.inputs.layers.push(cover);
    p.layers.push(p.layers[0].clone());
    p.layers[1].conditions.reynolds = 1234.0;
    p.sizes.droplets.push(p.sizes.droplets[0].clone());
    p.draws.inputs = p.inputs.varied()[..8].to_vec();
    let out = dir.path().join("r");
    write(&p, &out);
    let read = |name: &str| std::fs::read_to_string(out.join(name)).expect("there");
    let html = read("report.html");
    assert!(html.contains("cover &lt;b&gt;") && !html.contains("cover <b>"), "names are text");
    assert!(html.contains("bed: droplets by stage.") && html.contains("cover &lt;b&gt;: where a droplet lands."));
    assert!(html.contains("Pause before the layer") && html.contains("1230"), "conditions have a column for each");
    let summary: serde_json::Value = serde_json::from_str(&read("summary.json")).expect("it is JSON");
    assert!(summary.get("conditions").is_none() && summary["format_version"] == 3);
    assert_eq!(summary["layers"][1]["pause_s"], 90.0);
    assert_eq!(summary["layers"][1]["conditions"]["reynolds"], 1234.0);
    assert_eq!(summary["layers"][0]["budget"]["droplets"], summary["budget"]["droplets"]);
    assert!(read("landing.csv").starts_with("layer,diameter_um") && read("budget.csv").starts_with("layer,fate"));
    assert!(read("budget.csv").lines().any(|line| line.starts_with("cover <b>,left the vial")));
    assert!(read("sizes.csv").contains("droplets [cover <b>]"));
    let prints = read("prints.csv");
    assert!(prints.starts_with("print,alignment_x_um,alignment_y_um,rotation_deg,stand_off_um,sheath_percent [bed],"));
    let text = motefall_output::terminal::summary(&p, None, 80);
    assert!(text.contains("pause before") && text.lines().any(|line| line.starts_with("cover <b>")), "{text}");
}

#[test]
fn spread_goes_into_tables_and_summary() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let p = many_prints(small(), 200);
    let out = dir.path().join("r");
    write(&p, &out);
    let rows = |name: &str| -> Vec<csv::StringRecord> {
        csv::ReaderBuilder::new()
            .has_headers(false)
            .from_path(out.join(name))
            .expect("there")
            .records()
            .map(|r| r.expect("even rows"))
            .collect()
    };
    let prints = rows("prints.csv");
    assert_eq!(prints.len(), 201);
    let column = |name: &str| prints[0].iter().position(|c| c == name).unwrap_or_else(|| panic!("no column {name}"));
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let (stand_off, coverage) = (column("stand_off_um"), column("coverage_percent [working electrode]"));
    assert!((number(&prints[5][stand_off]) - p.draws.per_print[4][3] * 1e6).abs() < 1e-6);
    assert!(prints[1][column("print_time_s")] == prints[200][column("print_time_s")]);
    assert!(prints[0].iter().all(|c| !c.starts_with("hit_probability")), "a share has no value in one print");
    let mean: f64 = prints[1..].iter().map(|r| number(&r[coverage])).sum::<f64>() / 200.0;
    let figures = rows("figures.csv");
    let row = figures.iter().find(|r| &r[0] == "coverage_percent" && &r[2] == "working electrode").expect("there");
    assert!((number(&row[3]) - mean).abs() < 1e-9);
    assert!(number(&row[10]) < number(&row[11]) && number(&row[13]) < number(&row[10]), "{row:?}");
    assert!(["normal law", "order statistics"].contains(&&row[15]));

    let importance = rows("importance.csv");
    let own: Vec<_> =
        importance.iter().filter(|r| &r[0] == "coverage_percent" && &r[1] == "working electrode").collect();
    assert_eq!(own.len(), 9, "eight inputs and what none explains");
    assert_eq!((&own[0][2], &own[0][7], &own[8][2]), ("alignment_x_um", "falls off centre", "unexplained"));
    let sum: f64 = own.iter().map(|r| number(&r[4])).sum();
    assert!((sum - 100.0).abs() < 10.0, "shares add up to about the whole: {sum} %");

    let summary = output::json(&p, &scenario(), None);
    assert_eq!(summary["varied"][3], "stand_off_um");
    let figure = summary["figures"]
        .as_array()
        .and_then(|all| all.iter().find(|f| f["figure"] == "coverage_percent" && f["place"] == "working electrode"))
        .expect("listed");
    assert_eq!(figure["distribution"]["explained"][0]["input"], "alignment_x_um");
    assert!((figure["distribution"]["p50"].as_f64().expect("a number") - number(&row[11])).abs() < 1e-9);
    assert!(figure["distribution"].get("values").is_none());
    assert_eq!(summary["limits"][0]["share_interval_95"].as_array().map(Vec::len), Some(2));
    assert!(summary["limits"][2]["share_interval_95"].is_null(), "all prints decide together");
}

#[test]
fn odd_prints_still_report() {
    let mut one = prediction(Look { powders: 1, ..small() });
    one.inputs.acceptance.limits.clear();
    one.limits.clear();
    one.verdict = Verdict { accepted: None, met: 1, n: 1, share_interval: [0.0, 1.0] };
    one.inputs.name = "<script>alert(1)</script> & \"quotes\"".into();
    let html = report("one-powder", &one);
    assert!(html.contains("nothing is decided") && !html.contains("<script>"));

    let mut empty = prediction(Look { particles: 0, ..small() });
    empty.sizes.powders.iter_mut().for_each(|s| s.landed_count.fill(0));
    empty.profiles.iter_mut().for_each(|q| q.thickness.iter_mut().for_each(|t| t.fill(0.0)));
    empty.verdict.accepted = Some(false);
    assert!(report("empty", &empty).contains("No particle landed"));

    let mut missed = prediction(small());
    missed.pile = missed.pile.iter().map(|(q, z)| (Particle { x: q.x + 300e-6, ..*q }, z)).collect();
    missed.verdict = Verdict { accepted: Some(true), met: 20, n: 20, share_interval: [0.839, 1.0] };
    let html = report("missed", &missed);
    assert!(
        html.contains("around the middle of working electrode, where no particle landed")
            && html.contains("✓ Accepted")
    );

    let mut coupon =
        prediction(Look { particles: 60_000, powders: 1, pitch: 20e-6, map: [-7e-3, 7e-3, -7e-3, 7e-3], keep: false });
    coupon.inputs.regions = vec![Region {
        name: "disc".into(),
        role: Role::Target,
        outline: Outline::Disc { center: [0.0, 0.0], radius: 5e-3 },
    }];
    coupon.layers[0].conditions.strokes = (0..200)
        .map(|i| {
            let y = -5e-3 + f64::from(i) * 50e-6;
            let x = (25e-6 - y * y).max(0.0).sqrt();
            Stroke { from: [-x, y], to: [x, y], open: true }
        })
        .collect();
    coupon.budget.not_simulated = 1.2e8;
    assert!(report("coupon", &coupon).contains("were not kept one by one"));

    let mut long = prediction(Look { particles: 8_000, map: [-3e-3, 3e-3, -10e-6, 10e-6], pitch: 0.5e-6, ..CHIP });
    long.inputs.regions = vec![Region {
        name: "bar".into(),
        role: Role::Target,
        outline: Outline::Rectangle { center: [0.0, 0.0], size: [5.8e-3, 12e-6], rotation: 0.0 },
    }];
    assert!(report("long", &long).contains("enlarged"));

    let mut tall = prediction(Look { particles: 8_000, map: [-10e-6, 10e-6, -3e-3, 3e-3], pitch: 0.5e-6, ..CHIP });
    tall.inputs.regions = vec![Region {
        name: "bar".into(),
        role: Role::Target,
        outline: Outline::polygon(vec![[-6e-6, -2.9e-3], [6e-6, -2.9e-3], [6e-6, 2.9e-3], [-6e-6, 2.9e-3]]),
    }];
    assert!(report("tall", &tall).contains("enlarged"));

    let mut many = prediction(small());
    for i in 0..40 {
        let name = format!("line {i}");
        many.inputs.layers[0].path.push(PathItem {
            name: name.clone(),
            shape: Shape::Dot { at: [0.0, 0.0], dwell: 1.0 },
            speed: 1.0,
            passes: 1,
        });
        let mut profile = many.profiles[0].clone();
        profile.item = name.clone();
        many.profiles.push(profile);
        for kind in KINDS.iter().filter(|k| k.scope == Scope::Item) {
            many.figures.push(FigureRow {
                kind,
                place: Some(name.clone()),
                estimate: None,
                note: None,
                expected: None,
                controlled: None,
                from_unknown: None,
                distribution: None,
            });
        }
    }
    many.layers[0].landing_curve.iter_mut().for_each(|l| {
        l.landed = 0.0;
        l.radius = [f64::NAN; 3];
        l.impact_speed = f64::NAN;
    });
    assert!(report("many", &many).contains("The profiles of the other 38 items"));

    let mut bare = prediction(Look { keep: false, ..small() });
    bare.inputs.regions.clear();
    bare.figures.clear();
    bare.limits.clear();
    bare.profiles.clear();
    bare.layers[0].landing_curve.clear();
    bare.cautions.clear();
    bare.inputs.unverified.clear();
    bare.layers[0].conditions.strokes.clear();
    report("bare", &bare);
}

#[test]
fn the_terminal_says_it_in_short() {
    let p = prediction(small());
    for width in [60, 80, 100] {
        let text = terminal::summary(&p, Some(Path::new("results/report.html")), width);
        assert!(text.contains("Not accepted: 17 of 20 prints") || width < 80, "{text}");
        for words in ["212 ± 4 nm", "100 to 400 nm", "SAFETY", "Report: results/report.html", "up to 0.14"] {
            assert!(text.contains(words), "{words} is missing at {width}:\n{text}");
        }
        let widest = text.lines().map(|l| l.chars().count()).max().unwrap_or(0);
        assert!(widest <= width.max(72), "{widest} columns at {width}:\n{text}");
    }
}

#[test]
fn what_is_missing_because_too_much_landed_is_told_where_it_would_stand() {
    let mut p = prediction(Look { keep: false, ..small() });
    let why = "9.9 million particles land in a print, more than are kept";
    p.cautions.push(CautionKind::TooManyParticles.with(why));
    let folder = tempfile::tempdir().expect("a folder");
    let written = output::write(&p, &scenario(), &folder.path().join("r"), Earlier::Kept, None).expect("written");
    let report = fs::read_to_string(&written.report).expect("readable");
    // In the verdict, in the picture's place, in the transmitted picture's caption, where bridges would stand, among the cautions.
    assert!(report.contains("Joined particles and bridges between electrodes: not known"));
    assert_eq!(report.matches(why).count(), 5, "told where each would stand");
    assert!(terminal::summary(&p, None, 80).replace("\n        ", " ").contains("9.9 million"));
    // With the particles there, none of it.
    let p = prediction(small());
    let written = output::write(&p, &scenario(), &folder.path().join("s"), Earlier::Kept, None).expect("written");
    let report = fs::read_to_string(&written.report).expect("readable");
    assert!(!report.contains("not known") && report.contains("Bridges between electrodes: probability"));
}
