//! What an advice says: page, terminal, files.

mod front;
mod page;
mod picture;
mod words;

pub(crate) use words::{
    blocked_lines, changed, costs_sentence, doubts_after, doubts_sentence, head, limit_rows, line_words,
    margin_sentence, margin_words, plan_sentences, rest, setting_words, shows_words, unsure_sentence, which,
};

use crate::OutputError;
use motefall_figures::advice::{Advice, Candidate, Choice, Doubted, OfLine, Room, TestLine};
use motefall_figures::{CautionKind, Figure};
use motefall_files::whole_file;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// The page of an advice, in its folder.
const PAGE: &str = "advice.html";
/// The recommended setting as a scenario, and its bench sheet.
pub const RECOMMENDED: &str = "recommended.toml";
/// See there.
pub const SHEET: &str = "sheet.html";

/// Writes an advice into its folder: the page, `advice.json` for programs, and the recommended setting as a scenario, if one passes; gives
/// the page.
pub fn write(advice: &Advice, recommended: Option<&str>, folder: &Path) -> Result<PathBuf, OutputError> {
    let page = folder.join(PAGE);
    let text = page::page(advice);
    whole_file::replace(&page, &[text.as_bytes()])?;
    let json = format!("{:#}\n", summary(advice));
    whole_file::replace(&folder.join("advice.json"), &[json.as_bytes()])?;
    match recommended {
        Some(scenario) => whole_file::replace(&folder.join(RECOMMENDED), &[scenario.as_bytes()])?,
        // What an earlier run recommended is not recommended any more.
        None => [RECOMMENDED, SHEET].into_iter().for_each(|name| drop(fs::remove_file(folder.join(name)))),
    }
    Ok(page)
}

/// Doubts of the model for programs.
fn doubts(kinds: &[CautionKind]) -> Vec<Value> {
    kinds.iter().map(|kind| json!({ "id": kind.id(), "words": kind.words() })).collect()
}

/// A choice, given its setting.
fn choice(choice: &Choice, setting: Value) -> Value {
    let doubted = |doubted: &Option<Doubted>| {
        doubted.as_ref().map(|doubted| json!({ "from": doubted.from, "doubts": doubts(&doubted.doubts) }))
    };
    let room = |room: &Room| {
        let missed = room.missed.map(|limit| limit.map(|k| k + 1));
        json!({ "range": room.range, "missed_limit": missed, "doubted": room.doubted.each_ref().map(doubted) })
    };
    let margin = &choice.margin;
    json!({
        "setting": setting, "margin_percent": 100.0 * margin.part, "undoubted_margin_percent": 100.0 * margin.undoubted,
        "margin_doubts": doubts(&margin.doubts), "rooms": choice.rooms.iter().map(room).collect::<Vec<_>>(),
    })
}

/// Everything for programs; figures in the unit of their kind.
fn summary(advice: &Advice) -> Value {
    let candidate = |c: &Candidate| {
        let per_limit = |k: usize| {
            let kind = advice.limits[k].figure.kind();
            let interval = c.printed[k].and_then(|printed| printed.interval);
            json!({
                "figure": kind.id, "place": advice.limits[k].place, "mean": c.means[k].map(|mean| mean * kind.per_si),
                "interval": interval.map(|ends| ends.map(|end| end * kind.per_si)), "met": c.met_each.get(k),
            })
        };
        json!({
            "values": c.values, "prints": c.prints, "met": c.met, "pass_interval": c.interval(), "expected_share": c.expected,
            "limits": (0..advice.limits.len()).map(per_limit).collect::<Vec<_>>(),
            "print_time_s": c.used.print_time, "ink_used_ul": c.used.ink_used * 1e9, "time_per_chip_s": c.used.time_per_chip,
            "ink_per_chip_ul": c.used.ink_per_chip * 1e9, "chips_per_fill": c.used.chips_per_fill,
            "doubts": doubts(&advice.own_doubts(c)),
        })
    };
    let freed: Vec<Value> = advice
        .freed
        .iter()
        .map(|f| json!({ "key": f.key, "unit": f.unit, "least": f.least, "most": f.most, "step": f.step, "today": f.today }))
        .collect();
    let blocked = advice.blocked.as_ref().map(|blocked| {
        let relaxations: Vec<Value> = blocked
            .relaxations
            .iter()
            .map(|r| {
                let kind = advice.limits[r.limit].figure.kind();
                let end = if r.is_max { "max" } else { "min" };
                json!({ "limit": r.limit + 1, "end": end, "to": r.to * kind.per_si, "setting": candidate(&r.candidate) })
            })
            .collect();
        json!({
            "never_met": blocked.never.iter().map(|k| k + 1).collect::<Vec<_>>(),
            "conflicts": blocked.conflicts.iter().map(|pair| pair.map(|k| k + 1)).collect::<Vec<_>>(),
            "relaxations": relaxations,
            "changes": blocked.changes.iter().map(|c| json!({ "key": c.key, "from": c.from, "to": c.to, "setting": candidate(&c.candidate) })).collect::<Vec<_>>(),
        })
    });
    let shows = |shows: &OfLine| {
        let kind = Figure::from(shows.figure).kind();
        let shown = |values: [f64; 2]| values.map(|value| value * kind.per_si);
        json!({ "figure": kind.id, "expected_and_sd": shown(shows.expected), "go_on": shows.go_on.map(shown) })
    };
    let plan = advice.plan.as_ref().map(|plan| {
        let line = |line: &TestLine| {
            let shows: Vec<Value> = line.shows.iter().map(shows).collect();
            json!({ "layer": line.layer, "changes": line.changes, "speed_mm_s": line.speed, "passes": line.passes, "shows": shows, "tells": line.tells })
        };
        json!({
            "deciding_limit": plan.deciding + 1, "passes_on": plan.passes_on, "benches_within": plan.within, "passes_within": plan.passes_within,
            "not_judged": plan.not_judged.iter().map(|k| k + 1).collect::<Vec<_>>(), "benches": plan.benches,
            "is_calibrated": plan.is_calibrated, "lines": plan.lines.iter().map(line).collect::<Vec<_>>(),
        })
    });
    json!({
        "cautions": advice.cautions.iter().map(|caution| json!({ "id": caution.kind.id(), "text": caution.text })).collect::<Vec<_>>(),
        "test_plan": plan, "name": advice.inputs.name, "free": freed, "required_share": advice.required, "passes": advice.passes(),
        "today": candidate(&advice.today), "choices": advice.choices.iter().map(|of| choice(of, candidate(&of.candidate))).collect::<Vec<_>>(),
        "common_doubts": doubts(&advice.common_doubts),
        "front": advice.front.iter().map(candidate).collect::<Vec<_>>(), "blocked": blocked,
        "screened": advice.screened, "printed": advice.printed, "prints": advice.prints,
    })
}
