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
        .stdout(complains("nozzle_um").and(complains("200 um")))
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
    let bad = text.replace("nozzle_um = 200", "nozle_um = 200").replace("stand_off_mm = 3", "stand_off_mm = -3");
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

#[test]
fn a_wrong_file_name_is_answered_with_what_is_there() {
    let bench = Bench::new();
    for command in ["check", "predict"] {
        bench.run(&[command, "my-pirnt.toml"]).code(BAD_INPUT).stderr(complains("did you mean my-print.toml?"));
        bench.run(&[command, "my-print"]).code(BAD_INPUT).stderr(complains("did you mean my-print.toml?"));
        bench.run(&[command, "xyz"]).code(BAD_INPUT).stderr(complains("scenario files there: my-print.toml"));
        bench.run(&[command, "."]).code(BAD_INPUT).stderr(complains(". is a folder; give one of the files in it"));
        bench.run(&[command, "no/such.toml"]).code(BAD_INPUT).stderr(complains("there is no folder no either"));
    }
    fs::create_dir(bench.path("empty")).expect("writable");
    bench.run(&["check", "empty"]).code(BAD_INPUT).stderr(complains("`motefall new` writes one"));
    bench.run(&["check", "empty/a.toml"]).code(BAD_INPUT).stderr(complains("`motefall new` writes one"));
    fs::write(bench.path("picture.toml"), [0xff, 0xd8, 0xff]).expect("writable");
    bench.run(&["check", "picture.toml"]).code(BAD_INPUT).stderr(complains("not a text file in UTF-8"));
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
fn a_result_that_is_in_use_as_home_of_the_scenario_is_not_overwritten() {
    let bench = Bench::new();
    fs::create_dir(bench.path("result")).expect("writable");
    fs::write(bench.path("result/summary.json"), r#"{ "format": "motefall-result" }"#).expect("writable");
    bench.run(&["new", "result/mine.toml"]).code(0);
    bench
        .run(&["predict", "result/mine.toml", "--out", "result", "--overwrite"])
        .code(BAD_INPUT)
        .stderr(complains("lies in result"));
    assert!(bench.path("result/mine.toml").exists());
}

#[cfg(unix)]
#[test]
fn a_reader_that_leaves_early_is_no_failure() {
    use std::process::{Command, Stdio};
    let bench = Bench::new();
    // The schema is longer than a pipe holds, so the writer meets the closed end.
    let mut child = Command::new(env!("CARGO_BIN_EXE_motefall"))
        .arg("schema")
        .current_dir(bench.0.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
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
