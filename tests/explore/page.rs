//! What a person sees who turns dials, pins, saves and sweeps, in a real browser.

use super::browser::Page;
use super::server::{FILE, SCENARIO, Server, folder};
use serde_json::{Value, json};
use std::fs;

/// The figure of a limit as the page shows it.
fn limit(page: &Page, figure: &str) -> String {
    page.text(&format!("#limits tr[data-figure='{figure}'] td:nth-child(3)"))
}

/// The figure of a limit in a summary, in words as the page has them.
fn predicted(server: &Server, summary: &Value, figure: &str, values: &Value) -> String {
    let (status, told) = server.ask("prints", &json!({ "values": values, "ask": 1, "upto": 12 }));
    assert_eq!(status, 200, "{told}");
    let (status, told) = match told["prints"] == json!(12) {
        true => (status, told),
        false => server.ask("prints", &json!({ "values": values, "ask": 1, "upto": 12 })),
    };
    assert_eq!((status, &told["prints"]), (200, &json!(12)));
    let find = |list: &Value| {
        list.as_array().expect("a list").iter().find(|row| row["id"] == figure || row["figure"] == figure).cloned()
    };
    let (own, of_predict) = (find(&told["limits"]).expect("a limit"), find(&summary["limits"]).expect("a limit"));
    // Equal to all digits that a summary has, not to those shown.
    for (key, other) in [("mean", "mean"), ("met", "met"), ("n", "prints")] {
        let [own, other] = [&own[key], &of_predict[other]].map(|value| value.as_f64().expect("a number"));
        assert!((own - other).abs() <= 1e-11 * other.abs(), "{figure} {key}: {own} {other}");
    }
    own["text"].as_str().expect("text").replace('\u{a0}', " ")
}

#[test]
fn three_dials_change_map_and_figures_and_prints_are_those_of_predict() {
    let folder = folder();
    let server = Server::start(&folder);
    let page = Page::open(&server);
    assert_eq!(page.text("#name"), "a pad");
    page.wait("+document.body.dataset.prints === 12");
    let (before, map) = (limit(&page, "coverage_percent"), page.map());
    for (key, value) in [("path[1].speed_mm_s", "12"), ("ink.powder[1].mass_percent", "3"), ("flow.carrier_sccm", "10")]
    {
        let map = page.map();
        page.turn_and_wait(key, value);
        page.wait(&format!("document.querySelector('#map').toDataURL() !== {map:?}"));
    }
    page.wait("+document.body.dataset.prints === 12");
    assert_ne!(page.map(), map);
    let after = limit(&page, "coverage_percent");
    assert_ne!(after, before);

    let sets =
        ["--set", "path[1].speed_mm_s=12", "--set", "ink.powder[1].mass_percent=3", "--set", "flow.carrier_sccm=10"];
    let summary = server.predict(FILE, &sets);
    let values = json!({ "path[1].speed_mm_s": 12, "ink.powder[1].mass_percent": 3, "flow.carrier_sccm": 10 });
    for figure in ["coverage_percent", "mean_thickness_nm"] {
        assert_eq!(limit(&page, figure), predicted(&server, &summary, figure, &values));
    }
    let verdict = page.text("#verdict");
    let met = summary["verdict"]["met"].as_u64().expect("a number");
    assert!(verdict.contains(&format!("{met} of 12 prints met every limit")), "{verdict}");
    // What it did last stands at the dial.
    let did = page.text("[data-dial='flow.carrier_sccm'] .did").to_lowercase();
    assert!(did.contains("coverage"), "{did}");

    // Undone three times, everything is as it was, and it can be done again.
    for _ in 0..3 {
        page.click("#undo");
    }
    page.wait("document.body.dataset.state === 'ready' && +document.body.dataset.prints === 12");
    assert_eq!(limit(&page, "coverage_percent"), before);
    page.wait(&format!("document.querySelector('#map').toDataURL() === {map:?}"));
    page.click("#redo");
    page.wait("document.querySelector('input[data-key=\"path[1].speed_mm_s\"]').value === '12'");
}

#[test]
fn pins_stand_side_by_side_and_load() {
    let folder = folder();
    let server = Server::start(&folder);
    let page = Page::open(&server);
    page.keys("#pin-name", "slow");
    page.click("#pin");
    page.turn_and_wait("path[1].speed_mm_s", "24");
    page.wait("!document.querySelector('#pins-section').hidden");
    let table = page.text("#pins");
    assert!(table.contains("slow") && table.contains("now"), "{table}");
    // The pin is slower and covers more than the setting of now.
    let marked = page.tell("[...document.querySelectorAll('#pins b')].map((cell) => cell.textContent)");
    let marked: Vec<&str> = marked.as_array().expect("a list").iter().filter_map(Value::as_str).collect();
    assert!(marked.iter().any(|text| text.starts_with('▼') && text.contains("6")), "{marked:?}");
    assert!(marked.iter().any(|text| text.starts_with('▲') && text.contains('%')), "{marked:?}");
    page.click("#pins th[data-pin='slow'] button");
    page.wait("document.body.dataset.state === 'ready'");
    page.wait("document.querySelector('input[data-key=\"path[1].speed_mm_s\"]').value === '6'");
}

#[test]
fn what_is_saved_predicts_the_same_and_keeps_its_comments() {
    let folder = folder();
    let server = Server::start(&folder);
    let page = Page::open(&server);
    page.turn_and_wait("path[1].speed_mm_s", "9.5");
    page.turn_and_wait("landing.contact_angle_deg", "40");
    page.click("#save");
    page.fill("#save-name", "faster.toml");
    page.click("#save-form button[type=submit]");
    page.wait("document.querySelector('#save-told').textContent.includes('faster.toml')");
    let text = fs::read_to_string(folder.path().join("faster.toml")).expect("it was saved");
    let line = "speed_mm_s = 6          # slow enough";
    let kept = SCENARIO.replace(line, &line.replace('6', "9.5"));
    assert!(text.starts_with(kept.trim_end()), "{text}");
    assert!(text.contains("contact_angle_deg = 40"), "{text}");

    let set = server.predict(FILE, &["--set", "path[1].speed_mm_s=9.5", "--set", "landing.contact_angle_deg=40"]);
    let saved = server.predict("faster.toml", &[]);
    for part in ["verdict", "limits", "figures", "budget", "inputs"] {
        assert_eq!(set[part], saved[part], "{part}");
    }
}

#[test]
fn a_bad_value_is_told_as_check_tells_it() {
    let folder = folder();
    let server = Server::start(&folder);
    let page = Page::open(&server);
    page.wait("+document.body.dataset.prints === 12");
    let map = page.settled_map();
    page.turn("head.nozzle_um", "1200");
    page.wait("document.body.dataset.state === 'refused'");
    let shown = page.tell("document.body.innerText").as_str().expect("text").to_owned();
    let bad = SCENARIO.replace("nozzle_um = 150", "nozzle_um = 1200");
    fs::write(folder.path().join("bad.toml"), bad).expect("written");
    let (_, complained) = server.run(&["check", "bad.toml"]);
    let title = complained.lines().next().and_then(|line| line.split_once(": ")).expect("a title").1;
    assert!(shown.contains(title), "{title}\n{shown}");
    // The last good picture stays, and says so.
    assert!(page.settled_map() == map, "another map");
    assert_eq!(page.tell("document.querySelector('#stale').hidden"), json!(false));
    page.turn_and_wait("head.nozzle_um", "160");
    assert_eq!(page.tell("document.querySelector('#stale').hidden"), json!(true));
    // A comma is as good as a point, and a word is no number.
    page.turn_and_wait("head.nozzle_um", "162,5");
    let hundredths = json!({ "values": { "head.nozzle_um": 162.5 } });
    let (_, command) = server.ask("command", &hundredths);
    assert!(command["command"].as_str().is_some_and(|command| command.ends_with("head.nozzle_um=162.5")), "{command}");
    let stored = page.tell("Object.values(sessionStorage).join(' ')");
    assert!(stored.as_str().is_some_and(|text| text.contains("162.5")), "{stored}");
    page.turn("head.nozzle_um", "wide");
    assert!(page.text("[data-dial='head.nozzle_um'] .fault").contains("is not a number"));
}

#[test]
fn a_sweep_outlives_the_program() {
    let folder = folder();
    let mut server = Server::start(&folder);
    let page = Page::open(&server);
    page.click("#sweep");
    page.tell(
        "(() => { const field = document.querySelector('#sweep-axes fieldset'); const select = field.querySelector('select'); \
         select.value = 'path[1].speed_mm_s'; select.dispatchEvent(new Event('change', { bubbles: true })); \
         const [least, most, points] = field.querySelectorAll('input[inputmode=decimal]'); \
         least.value = 2; most.value = 30; points.value = 8; document.querySelector('#sweep-prints').value = 400; return true; })()",
    );
    page.click("#sweep-form button[type=submit]");
    page.wait("document.querySelector('#jobs progress') !== null || document.querySelector('#jobs [data-state=done]') !== null");
    // As soon as a setting is stored, the power fails.
    let store = folder.path().join("pad-sweep-1/sweep.jsonl");
    while fs::read_to_string(&store).map_or(0, |text| text.lines().count()) < 2 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    server.kill();
    drop(page);
    let stored = fs::read_to_string(&store).expect("it was begun");
    assert!(stored.lines().count() < 9, "the sweep was too quick to be stopped");

    let server = Server::start(&folder);
    let page = Page::open(&server);
    page.wait("document.querySelector('#jobs [data-state=stopped] [data-action=resume]') !== null");
    page.click("#jobs [data-action=resume]");
    page.wait("document.querySelector('#jobs [data-state=done]') !== null");
    let whole = fs::read_to_string(&store).expect("it is there");
    let whole_lines = stored.rsplit_once('\n').map_or("", |(whole, _)| whole);
    assert!(whole.starts_with(whole_lines) && whole.lines().count() == 9, "it went on from there");
    // The same as the command makes of the same file.
    server.run(&["sweep", "pad-sweep-1.toml", "--out", "straight", "-q"]);
    assert_eq!(whole, fs::read_to_string(folder.path().join("straight/sweep.jsonl")).expect("it ran"));

    // A point of the window is loaded by a click.
    page.click("#jobs [data-action=result]");
    page.wait("document.querySelectorAll('#result button.point').length === 8");
    page.click("#result button.point");
    page.wait("document.querySelector('input[data-key=\"path[1].speed_mm_s\"]').value === '2'");
}
