//! What is asked, and where its answer comes from.

use super::answer::{Answer, Refusal};
use super::place::Found;
use super::search::Search;
use super::session::Session;
use super::subject::{Subject, Values, put_new, shown_name};
use super::work::locked;
use super::{found, live};
use motefall::{Silent, Source};
use motefall_files::whole_file::folder_of;
use motefall_scenario::{Dial, STATIONS};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// Bench sheets that are kept to be opened.
const MOST_SHEETS: usize = 20;

#[derive(Debug, Deserialize)]
struct OfSetting {
    #[serde(default)]
    values: Values,
    #[serde(default)]
    name: String,
    #[serde(default)]
    prints: u32,
}

#[derive(Debug, Deserialize)]
struct OfJob {
    id: u64,
}

fn read<T: DeserializeOwned>(body: &[u8]) -> Result<T, Refusal> {
    let bad = |error: serde_json::Error| Refusal::Bad(error.to_string());
    let object: Map<String, Value> = serde_json::from_slice(body).map_err(bad)?;
    T::deserialize(Value::Object(object)).map_err(bad)
}

/// Answers what changes something or computes.
pub(super) fn ask(session: &Arc<Session>, what: &str, page: &str, body: &[u8]) -> Result<Answer, Refusal> {
    if live::is_live(what) {
        return live::answer(session, what, page, &read(body)?);
    }
    let subject = &session.subject;
    let answer = match what {
        "save" => save(subject, &read(body)?)?,
        "command" => json!({ "command": command(subject, &read::<OfSetting>(body)?.values) }),
        "sheet" => sheet(session, &read(body)?)?,
        "report" => {
            let OfSetting { values, prints, .. } = read(body)?;
            session.jobs.report(subject, &values, prints)?
        }
        "sweep" => session.jobs.search(subject, &Search::Sweep(read(body)?))?,
        "advice" => session.jobs.search(subject, &Search::Advice(read(body)?))?,
        "stop" => session.jobs.stop(read::<OfJob>(body)?.id)?,
        "resume" => session.jobs.resume(subject, read::<OfJob>(body)?.id)?,
        _ => return Err(Refusal::Unknown),
    };
    Ok(Answer::Json(answer))
}

/// Answers what only looks.
pub(super) fn look_up(session: &Session, path: &str) -> Result<Answer, Refusal> {
    let number = |text: &str| text.parse::<u64>().map_err(|_| Refusal::Unknown);
    match path.trim_start_matches('/').splitn(3, '/').collect::<Vec<_>>()[..] {
        ["api", "scenario"] => Ok(Answer::Json(scenario(&session.subject))),
        ["api", "lines"] => lines(&session.subject).map(Answer::Json),
        ["api", "jobs"] => Ok(Answer::Json(session.jobs.list())),
        ["api", "result", id] => {
            let found = session.jobs.place(number(id)?)?;
            let mut told = found::result(&session.subject, &found)?;
            told["open"] = json!(format!("/result/{id}/{}", found.kind.page()));
            Ok(Answer::Json(told))
        }
        ["sheet", id] => {
            let sheets = locked(&session.sheets);
            sheets.get(number(id)?.saturating_sub(1) as usize).cloned().map(Answer::Report).ok_or(Refusal::Unknown)
        }
        ["result", id, file] => result_file(&session.jobs.place(number(id)?)?, file),
        _ => Err(Refusal::Unknown),
    }
}

/// A file of a result's folder, and no other.
fn result_file(Found { folder, .. }: &Found, name: &str) -> Result<Answer, Refusal> {
    let is_plain = Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
    let place = folder.join(name);
    // A link could lead elsewhere.
    let inside = || Some(place.canonicalize().ok()?.starts_with(folder.canonicalize().ok()?));
    if !is_plain || name.contains(['\\', '%', '\0']) || inside() != Some(true) || !place.is_file() {
        return Err(Refusal::Unknown);
    }
    let content = std::fs::read(&place).map_err(|error| Refusal::Failed(format!("cannot read {name}: {error}")))?;
    let kind = match place.extension().and_then(|end| end.to_str()) {
        Some("html") => return Ok(Answer::Report(String::from_utf8_lossy(&content).into_owned())),
        Some("png") => "image/png",
        Some("csv" | "toml") => "text/plain; charset=utf-8",
        Some("json") => "application/json",
        _ => "application/octet-stream",
    };
    Ok(Answer::File { content, kind })
}

/// The table of measured lines that stands beside a calibration.
const LINES: &str = "lines.csv";

/// Measured lines and what the model makes of them, without and with what they taught.
fn lines(subject: &Subject) -> Result<Value, Refusal> {
    let place = subject.trial.calibration().map(|file| folder_of(file).join(LINES)).filter(|place| place.is_file());
    let place = place.ok_or(Refusal::Unknown)?;
    let unreadable = |error: csv::Error| Refusal::Failed(format!("cannot read {}: {error}", place.display()));
    let mut reader = csv::Reader::from_path(&place).map_err(unreadable)?;
    let rows: Vec<BTreeMap<String, String>> = reader.deserialize().collect::<Result<_, _>>().map_err(unreadable)?;
    Ok(json!({ "lines": rows }))
}

/// What the page needs to know of the scenario.
fn scenario(subject: &Subject) -> Value {
    let turnable = &subject.trial.written;
    let inputs = &turnable.scenario.inputs;
    let dials = &subject.dials;
    let used: Vec<Value> = STATIONS
        .iter()
        .filter(|station| dials.iter().any(|dial| dial.station == station.id))
        .map(|station| json!({ "id": station.id, "title": station.title }))
        .collect();
    let name = subject.file.file_name().unwrap_or_default().to_string_lossy().into_owned();
    json!({
        "name": inputs.name,
        "note": inputs.note,
        "file": name,
        "stem": subject.file.file_stem().unwrap_or_default().to_string_lossy(),
        "version": env!("CARGO_PKG_VERSION"),
        "calibration": subject.trial.calibration().map(|path| path.display().to_string()),
        "groups": used,
        "dials": dials.iter().map(dial).collect::<Vec<_>>(),
        "required": inputs.acceptance.required_share,
    })
}

fn dial(dial: &Dial) -> Value {
    let knob = &dial.knob;
    json!({
        "key": knob.key,
        "group": dial.station,
        "label": dial.label,
        "of": dial.of,
        "unit": knob.unit,
        "help": dial.help,
        "value": knob.value,
        "least": knob.range[0],
        "most": knob.range[1],
        "low": dial.slider[0],
        "high": dial.slider[1],
        "step": dial.step,
        "whole": knob.is_whole,
        "unverified": knob.is_unverified,
        "given": dial.is_given,
        "usual": dial.is_usual,
    })
}

/// The command that predicts a setting without a file of its own.
fn command(subject: &Subject, values: &Values) -> String {
    let sets = values.iter().map(|(key, value)| format!(" --set {}", quoted(&format!("{key}={value}"))));
    let given = subject.given.iter().map(|file| format!(" --calibration {}", quoted(&file.display().to_string())));
    let file = quoted(&subject.file.display().to_string());
    format!("motefall predict {file}{}{}", given.collect::<String>(), sets.collect::<String>())
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_=./,:+".contains(c);
    if word.chars().all(is_plain) { word.to_owned() } else { format!("'{}'", word.replace('\'', r"'\''")) }
}

/// A name that a file of the folder can have: no path, an end that says what it is.
fn file_name(name: &str) -> Result<String, Refusal> {
    let name = name.trim();
    let is_good = |c: char| c.is_alphanumeric() || "-_. ".contains(c);
    if name.is_empty() || name.len() > 100 || name.starts_with('.') || !name.chars().all(is_good) {
        return Err(Refusal::Bad("give the file a name of letters, numbers, - and _".to_owned()));
    }
    Ok(if name.ends_with(".toml") { name.to_owned() } else { format!("{name}.toml") })
}

/// Saves a setting as a scenario beside the file. What is there is never replaced.
fn save(subject: &Subject, OfSetting { values, name, .. }: &OfSetting) -> Result<Value, Refusal> {
    let name = file_name(name)?;
    subject.scenario(values)?;
    let text = subject.with(values, |values| Ok(subject.trial.written.text_kept(values)))?;
    let place = subject.folder().join(&name);
    put_new(&place, &text)?;
    Ok(json!({ "file": name, "command": format!("motefall predict {}", quoted(&place.display().to_string())) }))
}

/// Makes the bench sheet of a setting.
fn sheet(session: &Session, OfSetting { values, .. }: &OfSetting) -> Result<Value, Refusal> {
    let subject = &session.subject;
    let scenario = subject.scenario(values)?;
    let text = subject.with(values, |values| Ok(subject.trial.written.text_kept(values)))?;
    let changed = if values.is_empty() { String::new() } else { " with other numbers, not saved".to_owned() };
    let file = PathBuf::from(format!("{}{changed}", shown_name(&subject.file)));
    let page = motefall::sheet(&scenario, &Source::of(&file, text.as_bytes()), subject.jets, &Silent)?;
    let mut sheets = locked(&session.sheets);
    if sheets.len() >= MOST_SHEETS {
        return Err(Refusal::Bad("enough bench sheets were made; start the page anew for more".to_owned()));
    }
    sheets.push(page);
    Ok(json!({ "open": format!("/sheet/{}", sheets.len()) }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_the_folder() {
        assert_eq!(file_name(" a b-1 "), Ok("a b-1.toml".to_owned()));
        assert_eq!(file_name("x.toml"), Ok("x.toml".to_owned()));
        for bad in ["", "../x", "a/b", "a\\b", ".x", "a\0", "c:x", "..", "a\nb"] {
            assert!(file_name(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn words_are_quoted_for_a_shell() {
        assert_eq!(quoted("flow.sheath_sccm=60"), "flow.sheath_sccm=60");
        assert_eq!(quoted("path['a b'].x=1"), r"'path['\''a b'\''].x=1'");
    }

    #[test]
    fn files_of_a_result_and_no_others() {
        let folder = tempfile::tempdir().expect("a folder");
        let inside = folder.path().join("a");
        std::fs::create_dir(&inside).expect("a folder");
        std::fs::write(inside.join("report.html"), "x").expect("written");
        std::fs::write(folder.path().join("secret.html"), "x").expect("written");
        let place = Found { folder: inside.clone(), ..Found::default() };
        assert!(matches!(result_file(&place, "report.html"), Ok(Answer::Report(_))));
        for bad in [
            "../secret.html",
            "/etc/passwd",
            "..",
            "",
            "none.html",
            "%2e%2e/secret.html",
            "./../secret.html",
            "..\\secret.html",
        ] {
            assert!(result_file(&place, bad).is_err(), "{bad}");
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(folder.path().join("secret.html"), inside.join("link.html")).expect("a link");
            assert!(result_file(&place, "link.html").is_err());
        }
    }
}
