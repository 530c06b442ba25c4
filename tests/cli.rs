//! The program as a user meets it: exit codes, messages, what is written and what is not.

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use predicates::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const ACCEPTED: i32 = 0;
const BAD_INPUT: i32 = 2;
const FAILED: i32 = 3;

/// A folder with a starter scenario in it.
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        let bench = Self(tempfile::tempdir().expect("a temporary folder"));
        bench.run(&["new", "my-print.toml"]).code(ACCEPTED);
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, arguments: &[&str]) -> Assert {
        motefall(self.0.path()).args(arguments).assert()
    }

    /// Names in the folder, hidden ones too.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).expect("readable").flatten();
        let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

/// The program, with a cache folder that is not the user's.
fn motefall(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_motefall"));
    command.current_dir(folder).env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR")).env_remove("COLUMNS");
    command
}

/// Standard error holds the text.
fn complains(text: &str) -> predicates::str::ContainsPredicate {
    predicate::str::contains(text)
}

#[test]
fn help_says_what_and_how_to_begin() {
    let bench = Bench::new();
    bench.run(&["--help"]).code(0).stdout(complains("motefall new my-print.toml").and(complains("Exit codes")));
    bench.run(&["predict", "--help"]).code(0).stdout(complains("Examples").and(complains("Ctrl-C")));
    bench.run(&[]).code(BAD_INPUT);
    bench.run(&["predict"]).code(BAD_INPUT).stderr(complains("FILE"));
    // Nothing is so wide that a window of 100 columns breaks it.
    for command in ["predict", "check", "new", "schema"] {
        let output = bench.run(&[command, "--help"]).get_output().stdout.clone();
        let text = String::from_utf8(output).expect("help is text");
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    }
}

#[test]
fn a_new_scenario_passes_its_check() {
    let bench = Bench::new();
    bench
        .run(&["check", "my-print.toml"])
        .code(0)
        .stdout(complains("nozzle_um").and(complains("200 µm")))
        .stdout(complains("* unverified default").and(complains("my-print.toml: no faults, with")))
        .stderr("");
    assert_eq!(bench.names(), ["my-print.toml"], "check writes nothing");
    bench.run(&["new"]).code(BAD_INPUT).stderr(complains("my-print.toml already exists and is left as it is"));
    bench.run(&["new", "sub/a.toml"]).code(BAD_INPUT).stderr(complains("the folder sub is not there"));
    let printed = bench.run(&["new", "-"]).code(0).get_output().stdout.clone();
    assert_eq!(printed, fs::read(bench.path("my-print.toml")).expect("it was written"));
}

#[test]
fn new_leaves_a_file_alone_that_is_there() {
    let bench = Bench::new();
    fs::write(bench.path("mine.toml"), "mine").expect("writable");
    bench.run(&["new", "mine.toml"]).code(BAD_INPUT).stderr(complains("already exists"));
    assert_eq!(fs::read_to_string(bench.path("mine.toml")).expect("readable"), "mine");
    assert_eq!(bench.names(), ["mine.toml", "my-print.toml"]);
}

#[cfg(unix)]
#[test]
fn a_file_that_does_not_fit_is_not_there() {
    let bench = Bench::new();
    let new = |before: &str| {
        let limited = format!("{before} ulimit -f 1; exec {} new full.toml", env!("CARGO_BIN_EXE_motefall"));
        std::process::Command::new("sh").current_dir(bench.0.path()).args(["-c", &limited]).output().expect("it runs")
    };
    // The signal is ignored, so that writing beyond the limit fails like on a full disk.
    let refused = new("trap '' XFSZ;");
    let words = String::from_utf8_lossy(&refused.stderr);
    assert!(refused.status.code() == Some(BAD_INPUT) && words.contains("cannot write full.toml"), "{words}");
    assert_eq!(bench.names(), ["my-print.toml"]);
    // Ended by the signal while it writes.
    assert_eq!(new("").status.code(), None);
    assert!(!bench.path("full.toml").exists());
    bench.run(&["new", "full.toml"]).code(0);
}

#[test]
fn the_schema_is_json_printed_or_written() {
    let bench = Bench::new();
    let printed = bench.run(&["schema"]).code(0).get_output().stdout.clone();
    let schema: serde_json::Value = serde_json::from_slice(&printed).expect("it is JSON");
    assert!(schema["properties"]["head"].is_object());
    bench.run(&["schema", "s.json"]).code(0);
    assert_eq!(fs::read(bench.path("s.json")).expect("it was written"), printed);
    bench.run(&["schema", "s.json"]).code(BAD_INPUT).stderr(complains("already exists"));
}

#[test]
fn faults_of_a_scenario_are_all_told_and_nothing_is_written() {
    let bench = Bench::new();
    let text = fs::read_to_string(bench.path("my-print.toml")).expect("readable");
    let bad = text.replace("nozzle_um = 150", "nozle_um = 150").replace("stand_off_mm = 3", "stand_off_mm = -3");
    fs::write(bench.path("bad.toml"), bad).expect("writable");
    for command in [&["check", "bad.toml"][..], &["predict", "bad.toml"], &["predict", "bad.toml", "--out", "result"]] {
        bench
            .run(command)
            .code(BAD_INPUT)
            .stdout("")
            .stderr(complains("did you mean `nozzle_um`?").and(complains("flight.stand_off_mm")))
            .stderr(complains("faults in bad.toml; nothing was computed"))
            .stderr(complains("\u{1b}").not());
    }
    assert_eq!(bench.names(), ["bad.toml", "my-print.toml"]);
}

/// The least scenario with a slow line of 0.1 mm, over and over, in a mist so thin that few droplets fly.
fn slow_line(passes: u32) -> String {
    include_str!("scenarios/good/least.toml")
        .replace("speed_mm_s = 1 }", &format!("speed_mm_s = 0.001, passes = {passes} }}"))
        .replace("droplet_median_um = 2.2", "droplet_median_um = 2.2\nmist_load_ul_per_l = 0.001")
}

#[test]
fn a_print_that_would_not_fit_is_told_before_it_begins() {
    let bench = Bench::new();
    fs::write(bench.path("long.toml"), slow_line(10_000)).expect("writable");
    for command in [&["check", "long.toml"][..], &["predict", "long.toml"], &["path", "long.toml"]] {
        let run = bench.run(command).code(BAD_INPUT).stdout("");
        run.stderr(
            complains("`path[1]` takes 277.8 h").and(complains("GB of memory")).and(complains("lower `passes`")),
        );
    }
    assert_eq!(bench.names(), ["long.toml", "my-print.toml"]);
}

/// A day's print is the longest that the check lets pass.
#[test]
#[cfg(target_os = "linux")]
fn a_print_that_passes_the_check_fits_into_4_gb() {
    let bench = Bench::new();
    let least_too_long = (1..100).map(|k| 100 * k).find(|passes| {
        fs::write(bench.path("long.toml"), slow_line(*passes)).expect("writable");
        motefall(bench.0.path()).args(["check", "long.toml"]).output().expect("it runs").status.code()
            == Some(BAD_INPUT)
    });
    let passes = least_too_long.expect("some are") - 100;
    assert!(passes >= 800, "{passes} passes of 100 s");
    fs::write(bench.path("day.toml"), slow_line(passes)).expect("writable");
    let program = env!("CARGO_BIN_EXE_motefall");
    let line =
        format!("ulimit -v 4000000 && exec '{program}' predict day.toml --prints 2 --threads 2 --quiet --out day");
    let mut shell = Command::new("sh");
    shell.current_dir(bench.0.path()).env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR")).args(["-c", &line]);
    shell.assert().code(ACCEPTED).stdout(complains("report.html"));
}

#[test]
fn a_wrong_file_name_is_answered_with_what_is_there() {
    let bench = Bench::new();
    for command in ["check", "predict"] {
        bench.run(&[command, "my-pirnt.toml"]).code(BAD_INPUT).stderr(complains("did you mean my-print.toml?"));
        bench.run(&[command, "my-print"]).code(BAD_INPUT).stderr(complains("did you mean my-print.toml?"));
        bench.run(&[command, "xyz"]).code(BAD_INPUT).stderr(complains("TOML files there: my-print.toml"));
        bench.run(&[command, "."]).code(BAD_INPUT).stderr(complains(". is a folder; give one of the files in it"));
        bench.run(&[command, "no/such.toml"]).code(BAD_INPUT).stderr(complains("there is no folder no either"));
    }
    fs::create_dir(bench.path("empty")).expect("writable");
    bench.run(&["check", "empty"]).code(BAD_INPUT).stderr(complains("`motefall new` writes one"));
    bench.run(&["check", "empty/a.toml"]).code(BAD_INPUT).stderr(complains("`motefall new` writes one"));
    fs::write(bench.path("picture.toml"), [0xff, 0xd8, 0xff]).expect("writable");
    bench
        .run(&["check", "picture.toml"])
        .code(BAD_INPUT)
        .stderr(complains("picture.toml is a picture, not a scenario"));
}

#[test]
fn options_outside_their_range_are_refused() {
    let bench = Bench::new();
    for (option, value, message) in [
        ("--threads", "0", "a whole number from 1 to 1024"),
        ("--threads", "many", "a whole number from 1 to 1024"),
        ("--prints", "0", "1..=1000"),
        ("--seed", "-1", "invalid value '-1' for '--seed"),
        ("--prints", "-3", "1..=1000"),
    ] {
        bench.run(&["predict", "my-print.toml", option, value]).code(BAD_INPUT).stderr(complains(message));
    }
    bench.run(&["predict", "my-print.toml", "--overwrite"]).code(BAD_INPUT).stderr(complains("--out"));
    assert_eq!(bench.names(), ["my-print.toml"]);
}

#[test]
fn a_place_that_cannot_take_the_result_is_refused_before_the_run() {
    let bench = Bench::new();
    let refused = |out: &str, more: &[&str], message: &str| {
        let arguments = [&["predict", "my-print.toml", "--out", out], more].concat();
        bench.run(&arguments).code(BAD_INPUT).stderr(complains(message));
    };
    fs::create_dir(bench.path("notes")).expect("writable");
    fs::write(bench.path("notes/day-1.txt"), "measured").expect("writable");
    refused("notes", &[], "notes already exists; choose another folder with --out, or pass --overwrite");
    refused("notes", &["--overwrite"], "is not a result of this program");
    refused("my-print.toml", &["--overwrite"], "is not a result of this program");
    refused("my-print.toml/result", &[], "cannot write to my-print.toml/result");
    refused(".", &[], "does not name a folder that can be made");
    assert_eq!(bench.names(), ["my-print.toml", "notes"]);
    assert_eq!(fs::read_to_string(bench.path("notes/day-1.txt")).expect("still there"), "measured");
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_may_not_be_written_to_is_refused_before_the_run() {
    // Nobody, not even the administrator, may make files there.
    let bench = Bench::new();
    bench
        .run(&["predict", "my-print.toml", "--out", "/proc/result"])
        .code(BAD_INPUT)
        .stderr(complains("cannot write to /proc").and(complains("choose a folder you may write to")));
}

#[test]
fn a_reader_that_leaves_early_is_no_failure() {
    let bench = Bench::new();
    for arguments in [&["schema"][..], &["check", "my-print.toml"]] {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_motefall"))
            .args(arguments)
            .current_dir(bench.0.path())
            .stdout(writer)
            .stderr(std::process::Stdio::piped())
            .output()
            .expect("it runs");
        assert_eq!(output.status.code(), Some(0));
        assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
    }
}

#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_printed_is_a_failure() {
    let bench = Bench::new();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").expect("the always-full device");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_motefall"))
        .args(["new", "-"])
        .current_dir(bench.0.path())
        .stdout(full)
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(FAILED));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot print the result"));
}

/// A short line, so that a run takes a moment only.
fn short(bench: &Bench, limit: &str) {
    let text = fs::read_to_string(bench.path("my-print.toml")).expect("readable");
    let (rest, _) = text.split_once("[[acceptance.limit]]").expect("the starter has limits");
    let rest = rest.replace("[-400, 0]", "[-60, 0]").replace("[400, 0]", "[60, 0]").replace("\"auto\"", "2");
    fs::write(bench.path("short.toml"), format!("{rest}{limit}")).expect("writable");
}

const MET: &str = "[[acceptance.limit]]\nfigure = \"landed_percent\"\nmin = 0\n";
const NOT_MET: &str = "[[acceptance.limit]]\nfigure = \"landed_percent\"\nmin = 100\n";
const NOT_ACCEPTED: i32 = 1;

/// Every file under a folder but the clock's, with its content.
fn contents(folder: &Path) -> std::collections::BTreeMap<PathBuf, Vec<u8>> {
    let mut found = std::collections::BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(here) = folders.pop() {
        for entry in fs::read_dir(&here).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.file_name().is_some_and(|name| name != "run.json") {
                let name = path.strip_prefix(folder).expect("it is inside").to_path_buf();
                found.insert(name, fs::read(&path).expect("readable"));
            }
        }
    }
    found
}

#[test]
fn the_exit_code_tells_the_verdict() {
    let bench = Bench::new();
    for (limit, code, words) in [
        // Two prints of two leave open whether nine of ten would do.
        (MET, ACCEPTED, "Accepted, but not yet for certain: 2 of 2"),
        (NOT_MET, NOT_ACCEPTED, "Not accepted: 0 of 2"),
        ("", ACCEPTED, "No limits"),
    ] {
        short(&bench, limit);
        let folder = format!("result-{code}-{}", limit.len());
        bench
            .run(&["predict", "short.toml", "--out", &folder])
            .code(code)
            .stdout(complains(words).and(complains("Report: ")).and(complains("Means over 2 prints")));
        assert!(bench.path(&folder).join("report.html").exists());
    }
}

#[test]
fn without_out_the_folder_is_named_after_scenario_and_time() {
    let bench = Bench::new();
    short(&bench, MET);
    // Twice at once: the second finds the name taken, in this second or in the next.
    let printed: Vec<String> = (0..2)
        .map(|_| bench.run(&["predict", "short.toml", "--quiet"]).code(ACCEPTED).stderr("").get_output().stdout.clone())
        .map(|bytes| String::from_utf8(bytes).expect("a path").trim_end().to_owned())
        .collect();
    assert_ne!(printed[0], printed[1]);
    for path in printed {
        let pattern = r"^motefall-short-20\d\d-\d\d-\d\d-\d{6}(-\d+)?.report\.html$";
        assert!(predicate::str::is_match(pattern).expect("a pattern").eval(&path), "{path}");
        assert!(bench.path(&path).exists());
    }
}

#[test]
fn means_are_told_without_a_print() {
    let bench = Bench::new();
    let before = bench.names();
    let told = complains("Expected deposit").and(complains("mean solid thickness")).and(complains("Only prints tell"));
    bench.run(&["predict", "my-print.toml", "--expected"]).code(0).stdout(told);
    let json = bench.run(&["predict", "my-print.toml", "--expected", "--json"]).code(0).get_output().stdout.clone();
    let value: serde_json::Value = serde_json::from_slice(&json).expect("JSON");
    let figures = value["figures"].as_array().expect("a list");
    let known = figures.iter().filter(|figure| figure["mean"].as_f64().is_some_and(|mean| mean >= 0.0)).count();
    assert!(known > 10, "{known} of {}", figures.len());
    // Nothing is written, and what belongs to prints is refused.
    assert_eq!(bench.names(), before);
    bench
        .run(&["predict", "my-print.toml", "--expected", "--prints", "5"])
        .code(BAD_INPUT)
        .stderr(complains("--expected"));
}

#[test]
fn json_is_for_machines() {
    let bench = Bench::new();
    short(&bench, NOT_MET);
    let arguments =
        ["predict", "short.toml", "--out", "deep/result", "--json", "--seed", "5", "--prints", "3", "--particles"];
    let printed = bench.run(&arguments).code(NOT_ACCEPTED).get_output().stdout.clone();
    let value: serde_json::Value = serde_json::from_slice(&printed).expect("it is JSON");
    assert_eq!(value["format"], "motefall-result");
    assert_eq!(value["seed"], 5);
    assert_eq!((&value["verdict"]["accepted"], &value["verdict"]["prints"]), (&false.into(), &3.into()));
    assert_eq!(value["inputs"]["map"]["write_particles"], true);
    assert_eq!(Path::new(value["dir"].as_str().expect("a folder")), Path::new("deep/result"));
    assert!(bench.path("deep/result/particles.npz").exists());
}

#[test]
fn an_earlier_result_is_replaced_only_on_request() {
    let bench = Bench::new();
    short(&bench, MET);
    bench.run(&["predict", "short.toml", "--out", "result"]).code(ACCEPTED);
    let first = contents(&bench.path("result"));
    bench
        .run(&["predict", "short.toml", "--out", "result", "--seed", "9"])
        .code(BAD_INPUT)
        .stderr(complains("--overwrite"));
    assert_eq!(contents(&bench.path("result")), first, "the earlier result is untouched");
    bench.run(&["predict", "short.toml", "--out", "result", "--seed", "9", "--overwrite"]).code(ACCEPTED);
    assert_ne!(contents(&bench.path("result")), first, "another seed gives another print");
    assert_eq!(bench.names(), ["my-print.toml", "result", "short.toml"]);

    // What is not the result's own keeps the folder as it is: here the scenario itself.
    fs::copy(bench.path("short.toml"), bench.path("result/short.toml")).expect("writable");
    let before = contents(&bench.path("result"));
    bench
        .run(&["predict", "result/short.toml", "--out", "result", "--overwrite"])
        .code(BAD_INPUT)
        .stderr(complains("result holds more than the result that was written there: short.toml;"));
    assert_eq!(contents(&bench.path("result")), before);
}

#[test]
fn what_an_ended_run_has_left_is_put_right_by_the_next() {
    let bench = Bench::new();
    short(&bench, MET);
    bench.run(&["predict", "short.toml", "--out", "result"]).code(ACCEPTED);
    let first = contents(&bench.path("result"));
    let hidden = |name: &str| {
        let root = bench.path(name);
        fs::create_dir_all(root.join("new")).expect("writable");
        fs::create_dir(root.join("old")).expect("writable");
        fs::File::create_new(root.join("lock")).expect("writable")
    };
    // Ended between the renames of --overwrite, before the new result was complete; and a run that is alive.
    drop(hidden(".motefall-ended"));
    fs::create_dir(bench.path(".motefall-ended/new/result")).expect("writable");
    fs::rename(bench.path("result"), bench.path(".motefall-ended/old/result")).expect("it moves");
    let alive = hidden(".motefall-alive");
    alive.lock().expect("it is free");
    bench
        .run(&["predict", "short.toml", "--out", "result"])
        .code(BAD_INPUT)
        .stderr(complains("the earlier one is back in result\n").and(complains("result already exists")));
    assert_eq!(contents(&bench.path("result")), first);
    assert_eq!(bench.names(), [".motefall-alive", "my-print.toml", "result", "short.toml"]);
    drop(alive);
    bench
        .run(&["predict", "short.toml", "--out", "other", "--quiet"])
        .code(ACCEPTED)
        .stderr(complains("note: removed .motefall-alive, left by a run"));
    assert_eq!(bench.names(), ["my-print.toml", "other", "result", "short.toml"]);
}

#[cfg(unix)]
#[test]
fn a_link_as_the_place_means_what_it_leads_to() {
    let bench = Bench::new();
    short(&bench, MET);
    fs::create_dir(bench.path("disk")).expect("writable");
    std::os::unix::fs::symlink("disk", bench.path("link")).expect("writable");
    std::os::unix::fs::symlink("nowhere", bench.path("broken")).expect("writable");
    bench
        .run(&["predict", "short.toml", "--out", "broken/"])
        .code(BAD_INPUT)
        .stderr(complains("cannot write to broken"));
    for options in [&["--out", "link/"][..], &["--out", "link/", "--overwrite"], &["--out", "link", "--overwrite"]] {
        bench.run(&[&["predict", "short.toml"], options].concat()).code(ACCEPTED).stdout(complains("link/report.html"));
        assert!(fs::symlink_metadata(bench.path("link")).expect("there").is_symlink());
        assert!(bench.path("disk/report.html").exists());
    }
    assert_eq!(bench.names(), ["broken", "disk", "link", "my-print.toml", "short.toml"]);
}

#[test]
fn a_name_that_cannot_be_had_is_refused_before_the_run() {
    let bench = Bench::new();
    let long = "x".repeat(300);
    for out in [long.clone(), format!("new/{long}"), format!("{long}/new")] {
        bench.run(&["predict", "my-print.toml", "--out", &out]).code(BAD_INPUT).stderr(complains("cannot write to"));
    }
    assert_eq!(bench.names(), ["my-print.toml"], "folders made for the trial are gone");
}

#[test]
fn threads_and_cache_change_nothing() {
    let bench = Bench::new();
    let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/sodium-chip.toml");
    let result = |folder: &str, options: &[&str]| {
        let assert = motefall(bench.0.path())
            .env("MOTEFALL_CACHE", bench.path("cache"))
            .args(["predict", "--out", folder, "--particles", "--prints", "3", "--quiet"])
            .args(options)
            .arg(&scenario)
            .assert();
        let code = assert.get_output().status.code();
        assert!(matches!(code, Some(ACCEPTED | NOT_ACCEPTED)), "{:?}", assert.get_output());
        contents(&bench.path(folder))
    };
    let one = result("one", &["--threads", "1", "--no-cache"]);
    assert!(!bench.path("cache").exists(), "--no-cache keeps nothing");
    assert!(one.len() > 10, "{:?}", one.keys());
    for (folder, threads) in [("two", "2"), ("three", "3"), ("seven", "7"), ("again", "7")] {
        let other = result(folder, &["--threads", threads]);
        assert_eq!(other.keys().collect::<Vec<_>>(), one.keys().collect::<Vec<_>>());
        for (name, bytes) in &other {
            assert!(*bytes == one[name], "{} differs with {threads} threads ({folder})", name.display());
        }
    }
    let kept = fs::read_dir(bench.path("cache")).expect("jets were kept").count();
    assert!(kept > 0);
}

#[cfg(unix)]
#[test]
fn ctrl_c_half_way_leaves_nothing_behind() {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};
    let bench = Bench::new();
    let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/foil-coupon.toml");
    let mut child = Command::new(env!("CARGO_BIN_EXE_motefall"))
        .args(["predict", "--out", "result"])
        .arg(scenario)
        .current_dir(bench.0.path())
        .env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    // The run takes minutes: after this it is in the middle of it.
    std::thread::sleep(Duration::from_secs(4));
    assert!(child.try_wait().expect("it can be asked").is_none(), "the run ended before it could be stopped");
    let asked = Instant::now();
    let kill = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill is there");
    assert!(kill.success());
    let output = child.wait_with_output().expect("it ends");
    let took = asked.elapsed();
    let message = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(FAILED), "{message}");
    assert!(message.contains("stopping; press Ctrl-C again to end at once"), "{message}");
    assert!(message.contains("nothing was written"), "{message}");
    assert!(output.stdout.is_empty());
    assert_eq!(bench.names(), ["my-print.toml"]);
    assert!(took < Duration::from_secs(10), "it took {took:?} to stop");
}

#[cfg(unix)]
#[test]
fn a_long_run_that_is_ended_keeps_what_it_printed() {
    use std::process::{Command, Stdio};
    use std::time::Duration;
    let bench = Bench::new();
    let mut child = Command::new(env!("CARGO_BIN_EXE_motefall"))
        .args(["predict", "my-print.toml", "--out", "result", "--prints", "900000"])
        .current_dir(bench.0.path())
        .env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    // Twenty prints take a second or two, all of them hours.
    std::thread::sleep(Duration::from_secs(8));
    assert!(child.try_wait().expect("it can be asked").is_none(), "the run ended before it could be stopped");
    let kill = Command::new("kill").args(["-TERM", &child.id().to_string()]).status().expect("kill is there");
    assert!(kill.success());
    let output = child.wait_with_output().expect("it ends");
    let message = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(FAILED), "{message}");
    assert!(message.contains("stopped after") && message.contains("result"), "{message}");
    let summary: serde_json::Value =
        serde_json::from_slice(&fs::read(bench.path("result/summary.json")).expect("written")).expect("JSON");
    let prints = summary["verdict"]["prints"].as_u64().expect("a number");
    assert!((2..900_000).contains(&prints), "{prints}");
    assert!(summary["cautions"].as_array().expect("a list").iter().any(|c| c["id"] == "stopped-early"));
    let report = fs::read_to_string(bench.path("result/report.html")).expect("written");
    assert!(report.contains(&format!("{prints} of 900000 prints")));
}

#[test]
fn names_do_not_steer_the_terminal() {
    let bench = Bench::new();
    let text = fs::read_to_string(bench.path("my-print.toml")).expect("readable");
    let hostile = text
        .replace("name = \"strip\"", r#"name = "str\u001b[2Jip""#)
        .replace("place = \"strip\"", r#"place = "str\u001b[2Jip""#);
    assert_ne!(hostile, text);
    fs::write(bench.path("hostile.toml"), &hostile).expect("writable");
    fs::write(bench.path("fault.toml"), hostile.replace("role = \"target\"", r#"role = "tar\u001b]0;get""#))
        .expect("writable");
    for arguments in [
        &["check", "hostile.toml"][..],
        &["predict", "hostile.toml", "--prints", "1"],
        &["check", "fault.toml"],
        &["check", "no\u{1b}[31mfile.toml"],
    ] {
        let done = bench.run(arguments);
        let output = done.get_output();
        for bytes in [&output.stdout, &output.stderr] {
            assert!(!bytes.contains(&0x1b), "{arguments:?}: {}", String::from_utf8_lossy(bytes));
        }
    }
}

#[test]
fn the_path_is_listed_and_written_for_other_programs() {
    let bench = Bench::new();
    let arguments = ["path", "my-print.toml", "--csv", "path.csv", "--dxf", "path.dxf", "--picture", "path.html"];
    bench
        .run(&arguments)
        .code(0)
        .stdout(complains("openings").and(complains("of travel")).and(complains("Wrote path.dxf")));
    let csv = fs::read_to_string(bench.path("path.csv")).expect("written");
    assert!(csv.starts_with("time_s,x_um,y_um,speed_mm_s,shutter\n") && csv.lines().count() > 3, "{csv}");
    assert!(fs::read_to_string(bench.path("path.html")).expect("written").contains("<svg class=\"path\""));
    assert!(fs::read_to_string(bench.path("path.dxf")).expect("written").ends_with("EOF\n"));
    // Nothing is replaced.
    bench.run(&arguments).code(BAD_INPUT).stderr(complains("already exists"));
    bench.run(&["path", "my-print.toml", "--csv", "-"]).code(0).stdout(predicate::str::starts_with("time_s"));
}

#[test]
fn a_shutter_that_is_told_earlier_is_listed_with_what_that_changes() {
    let bench = Bench::new();
    let text = fs::read_to_string(bench.path("my-print.toml")).expect("written");
    let led = text.replacen("[stage]\n", "[stage]\nshutter_lead = \"compensated\"\n", 1);
    fs::write(bench.path("led.toml"), led).expect("writable");
    // 200 µm of run-up at 1 mm/s take longer than 10 ms, of which 10 µm; nothing waits.
    bench
        .run(&["path", "led.toml"])
        .code(0)
        .stdout(complains("told to open").and(complains("10 µm, 10.0 ms")).and(complains("at -410.0, 0.0 µm")))
        .stdout(complains("waits").not());
    bench.run(&["path", "my-print.toml"]).code(0).stdout(complains("told").not());
    let header = "item,open_s,open_x_um,open_y_um,close_s,close_x_um,close_y_um,mist_from_s,mist_from_x_um";
    bench.run(&["path", "led.toml", "--commands", "-"]).code(0).stdout(predicate::str::starts_with(header));
    bench.run(&["path", "led.toml", "--csv", "-"]).code(0).stdout(complains("speed_mm_s,shutter,told\n"));
    bench.run(&["path", "led.toml", "--picture", "led.html"]).code(0);
    assert!(fs::read_to_string(bench.path("led.html")).expect("written").contains("Shutter lead"));
}
