//! Sentences of an advice.

use crate::numbers::{self, significant, trimmed};
use crate::words::{capital, limit_name, limit_words};
use motefall_figures::BenchUse;
use motefall_figures::advice::{Advice, Candidate, Change, Choice, Freed, OfLine, Relaxation, TestLine, TestPlan};
use motefall_figures::{CautionKind, Figure};

/// A value of a setting with its unit.
pub(crate) fn shown_value(freed: &Freed, value: f64) -> String {
    format!("{}\u{a0}{}", trimmed(numbers::tidy(value)), freed.unit).trim_end().to_owned()
}

/// All values of a setting.
pub(crate) fn setting_words(advice: &Advice, candidate: &Candidate) -> String {
    let each = advice.freed.iter().zip(&candidate.values);
    each.map(|(freed, value)| format!("{} {}", freed.key, shown_value(freed, *value))).collect::<Vec<_>>().join(", ")
}

/// A share of prints that is expected, not counted: it tells nothing of fewer than one in a thousand.
pub(crate) fn expected_words(expected: f64) -> String {
    match expected {
        share if share > 0.9995 => format!("above {}", numbers::share(0.999)),
        share if share < 0.0005 => format!("below {}", numbers::share(0.001)),
        share => numbers::share(share),
    }
}

/// The answer in a few words.
pub(crate) fn head(advice: &Advice) -> &'static str {
    match (advice.passes(), advice.choices.is_empty()) {
        (true, _) => "A setting passes",
        (false, false) => "No setting passes; this one comes nearest",
        (false, true) => "No setting can run",
    }
}

/// What the first choice is called.
pub(crate) fn which(advice: &Advice) -> &'static str {
    if advice.passes() { "recommended" } else { "nearest" }
}

/// What follows the answer: how sure, and how it was found.
pub(crate) fn rest(advice: &Advice) -> String {
    let Some(choice) = advice.choices.first() else { return effort(advice) };
    let fresh = |c: &Candidate| {
        let interval = c
            .interval()
            .map_or(String::new(), |interval| format!(" ({}, at 95 % confidence)", numbers::shares(interval)));
        format!("{} of {} fresh prints{interval}", c.met, c.prints)
    };
    format!(
        "{} met every limit; at least {} must. Today's setting: {} of {}. {}",
        fresh(&choice.candidate),
        numbers::share(advice.required),
        advice.today.met,
        advice.today.prints,
        effort(advice)
    )
}

/// Doubts of the model in a few words each.
pub(crate) fn doubt_words(doubts: &[CautionKind]) -> String {
    doubts.iter().map(|kind| kind.words()).collect::<Vec<_>>().join("; ")
}

/// Why the model is in doubt at a choice, and what that says of others; `None` if nothing doubts it anywhere.
pub(crate) fn doubts_sentence(advice: &Advice, choice: &Choice) -> Option<String> {
    let own = advice.own_doubts(&choice.candidate);
    let here = match (own.is_empty(), advice.passes()) {
        (true, _) => None,
        (false, true) => Some(format!(
            "Here the model is in doubt: {}. No setting was found that passes with room to spare and is less in doubt.",
            doubt_words(&own)
        )),
        (false, false) => Some(format!("Here the model is in doubt: {}.", doubt_words(&own))),
    };
    let common = (!advice.common_doubts.is_empty()).then(|| {
        let also = if own.is_empty() {
            "Doubts of the model that no setting here avoids"
        } else {
            "Besides, whatever the setting"
        };
        format!("{also}: {}.", doubt_words(&advice.common_doubts))
    });
    let all: Vec<String> = here.into_iter().chain(common).collect();
    (!all.is_empty()).then(|| all.join(" "))
}

/// `; in doubt: ...` for the end of a sentence on a setting, where it is in doubt.
pub(crate) fn doubts_after(advice: &Advice, candidate: &Candidate) -> String {
    let own = advice.own_doubts(candidate);
    if own.is_empty() { String::new() } else { format!("; in doubt: {}", doubt_words(&own)) }
}

/// A part of a value in percent.
fn part_words(part: f64) -> String {
    trimmed(numbers::tidy(100.0 * part)) + "\u{a0}%"
}

/// By how much all settings may be off, beside other choices.
pub(crate) fn margin_words(choice: &Choice) -> String {
    let margin = &choice.margin;
    match (margin.part > 0.0, margin.doubts.is_empty()) {
        (false, _) => "none shown".to_owned(),
        (true, true) => part_words(margin.part),
        (true, false) => {
            format!("{} ({} without further doubts)", part_words(margin.part), part_words(margin.undoubted))
        }
    }
}

/// How far all settings may drift together.
pub(crate) fn margin_sentence(advice: &Advice, choice: &Choice) -> String {
    let margin = &choice.margin;
    let all = || advice.freed.iter().zip(&choice.candidate.values);
    let staying: Vec<&str> = all().filter(|(f, value)| f.stays(**value)).map(|(f, _)| f.key.as_str()).collect();
    if staying.len() == advice.freed.len() {
        return "Settings in whole numbers, or at 0, do not drift: there is no margin to show.".to_owned();
    }
    let besides = if staying.is_empty() { String::new() } else { format!(" ({} as it is)", staying.join(", ")) };
    if margin.part == 0.0 {
        return format!(
            "No margin was shown: with the settings 1 % off together{besides}, fewer than {} of prints may pass.",
            numbers::share(advice.required)
        );
    }
    let doubts = match (margin.doubts.is_empty(), margin.undoubted > 0.0) {
        (true, _) => String::new(),
        (false, true) => {
            format!(
                " Beyond {} the model is in doubt at some corners: {}.",
                part_words(margin.undoubted),
                doubt_words(&margin.doubts)
            )
        }
        (false, false) => {
            format!(" At some corners the model is in doubt, however small the step: {}.", doubt_words(&margin.doubts))
        }
    };
    format!(
        "All settings may be off by {} together, each up or down{besides}, and still at least {} of prints pass: {} prints at every corner.{doubts}",
        part_words(margin.part),
        numbers::share(advice.required),
        advice.at_corner
    )
}

/// What a print and a chip take.
pub(crate) fn costs_sentence(used: &BenchUse) -> String {
    let fill = used.chips_per_fill.map_or(String::new(), |chips| {
        format!("; a fill is enough for {}", numbers::counted(chips as u64, "chip", "chips"))
    });
    format!(
        "a print takes {}, a chip with warm-up and change {} and {} of ink{fill}.",
        numbers::duration(used.print_time),
        numbers::duration(used.time_per_chip),
        numbers::ink(used.ink_per_chip)
    )
}

/// Benches that pass below which ranges rest on few.
const FEW_BENCHES: usize = 20;

/// Benches on which the recommended setting passes.
fn passing_benches(plan: &TestPlan) -> usize {
    (plan.passes_on * plan.benches as f64).round() as usize
}

/// What the test lines are for.
pub(crate) fn plan_sentences(advice: &Advice, plan: &TestPlan) -> String {
    let known = match plan.is_calibrated {
        true => "what the calibration leaves possible",
        false => {
            "what is usual of all that nobody has measured here (estimates from memory; a calibration narrows them)"
        }
    };
    let left_out: Vec<String> = plan.not_judged.iter().map(|k| limit_name(&advice.limits[*k], None)).collect();
    let left_out = match left_out.is_empty() {
        true => String::new(),
        false => format!(" Not judged on benches: {}.", left_out.join("; ")),
    };
    let (lines, tell) = if plan.lines.len() == 1 { ("This line", "tells") } else { ("These lines", "tell") };
    let passing = passing_benches(plan);
    let few = if passing < FEW_BENCHES { ", which are few: take the ranges as rough" } else { "" };
    format!(
        "Nobody knows your bench exactly. Of {} benches drawn from {known}, the recommended setting passes on {passing}. What decides is {}. {lines}, \
         {} long on a bare wafer, {tell} the most about it; go on to the chip only if each shows a value within its range, in which nine in ten of these {passing} lie{few}. \
         Of the {} benches on which all values do, it passes on {}.{left_out}",
        plan.benches,
        limit_name(&advice.limits[plan.deciding], None),
        numbers::length(plan.length),
        plan.within,
        numbers::share(plan.passes_within)
    )
}

/// How a test line is printed.
pub(crate) fn line_words(line: &TestLine) -> String {
    let passes = numbers::counted(line.passes, "pass", "passes");
    let changes: String =
        line.changes.iter().map(|(key, value, unit)| format!(", {key} {}\u{a0}{unit}", trimmed(*value))).collect();
    let as_recommended = if changes.is_empty() { ", all else as recommended" } else { "" };
    let of_layer = if line.layer.is_empty() { String::new() } else { format!("{}: ", line.layer) };
    format!("{of_layer}{}\u{a0}mm/s, {passes}{changes}{as_recommended}", trimmed(line.speed))
}

/// What a line shows: figure, expected with what is unknown, where to go on.
pub(crate) fn shows_words(shows: &OfLine) -> [String; 3] {
    let kind = Figure::from(shows.figure).kind();
    let [mean, sd] = shows.expected.map(|value| value * kind.per_si);
    let go_on = shows.go_on.map_or("nothing told".to_owned(), |range| {
        let [low, high] = range.map(|value| significant(value * kind.per_si, 3));
        format!("{low} to {high}\u{a0}{}", kind.unit)
    });
    let expected = format!("{}\u{a0}{}", numbers::with_sd(mean, sd), kind.unit);
    [kind.label.to_owned(), expected, go_on]
}

/// What is not known for certain of the recommendation.
pub(crate) fn unsure_sentence(advice: &Advice) -> Option<String> {
    let on_benches = advice.plan.as_ref().filter(|_| advice.passes()).map(|plan| {
        format!(
            "That is for the bench as the scenario has it. Of {} benches as it may be, the setting passes on {}: the test lines tell whether yours \
             is one of them.",
            plan.benches,
            passing_benches(plan)
        )
    });
    let all: Vec<String> = few_prints(advice).into_iter().chain(on_benches).collect();
    (!all.is_empty()).then(|| all.join(" "))
}

/// Whether the prints that were made leave it open that it passes.
fn few_prints(advice: &Advice) -> Option<String> {
    let [low, _] = advice.choices.first()?.candidate.interval()?;
    (advice.passes() && low < advice.required).then(|| {
        format!(
            "Not yet for certain: the share that passes may be as low as {}. More prints would tell: motefall predict recommended.toml --prints 1000.",
            numbers::share(low)
        )
    })
}

/// What changes against today: setting, today, recommended, room.
pub(crate) fn changed(advice: &Advice) -> Vec<[String; 4]> {
    let Some(choice) = advice.choices.first() else { return vec![] };
    let row = |k: usize| {
        let freed = &advice.freed[k];
        let value = choice.candidate.values[k];
        let room = choice.rooms.get(k).map_or(String::new(), |room| {
            let side = |side: usize| {
                let end = match room.missed[side] {
                    Some(limit) => format!("then {}", limit_name(&advice.limits[limit], None)),
                    None => "end of what may be set".to_owned(),
                };
                let doubted = room.doubted[side].as_ref().map_or(String::new(), |doubted| {
                    format!(" (in doubt beyond {}: {})", shown(freed, doubted.from), doubt_words(&doubted.doubts))
                });
                format!("{}: {end}{doubted}", shown(freed, room.range[side]))
            };
            format!("from {}; to {}", side(0), side(1))
        });
        let mark = if value == freed.today { " (as today)" } else { "" };
        [freed.key.clone(), shown_value(freed, freed.today), format!("{}{mark}", shown_value(freed, value)), room]
    };
    (0..advice.freed.len()).map(row).collect()
}

fn shown(freed: &Freed, value: f64) -> String {
    let value = if freed.is_whole { trimmed(value) } else { significant(value, 3) };
    format!("{value}\u{a0}{}", freed.unit).trim_end().to_owned()
}

/// Limits: name, required, today, recommended, prints that met it.
pub(crate) fn limit_rows(advice: &Advice) -> Vec<[String; 5]> {
    let first = advice.choices.first().map(|choice| &choice.candidate);
    let row = |k: usize| {
        let limit = &advice.limits[k];
        let kind = limit.figure.kind();
        let mean = |c: &Candidate| match (c.printed.get(k).and_then(Option::as_ref), c.means[k]) {
            (Some(printed), _) => numbers::figure(Some(printed), kind).to_string(),
            (None, Some(mean)) => numbers::mean(mean, kind).to_string(),
            (None, None) => "not told".to_owned(),
        };
        let met =
            first.map_or(String::new(), |c| format!("{} of {}", c.met_each.get(k).copied().unwrap_or(0), c.prints));
        [
            limit_name(limit, Some(advice.inputs.map.resolution)),
            limit_words(limit),
            mean(&advice.today),
            first.map_or(String::new(), mean),
            met,
        ]
    };
    (0..advice.limits.len()).map(row).collect()
}

/// What stands in the way, a sentence each.
pub(crate) fn blocked_lines(advice: &Advice) -> Vec<String> {
    let Some(blocked) = &advice.blocked else { return vec![] };
    let name = |k: usize| {
        let limit = &advice.limits[k];
        format!("{} ({})", limit_name(limit, None), limit_words(limit))
    };
    let never =
        blocked.never.iter().map(|k| format!("No setting that was looked at meets {} in enough prints.", name(*k)));
    let pairs = blocked
        .conflicts
        .iter()
        .map(|[a, b]| format!("{} and {} conflict: settings meet each of them, and none both.", name(*a), name(*b)));
    let eased = blocked.relaxations.iter().map(|relaxation| relaxed(advice, relaxation));
    let changes = blocked.changes.iter().map(|change| changed_words(advice, change));
    let mut lines: Vec<String> = never.chain(pairs).chain(eased).chain(changes).map(|line| capital(&line)).collect();
    if blocked.relaxations.is_empty() && blocked.changes.is_empty() {
        lines.push(
            "No limit by itself could be moved so that a setting passes, and neither half nor twice the powder or the mist, nor a nozzle half as \
             wide again or two thirds as wide, would do: move several limits, or free more settings."
                .to_owned(),
        );
    }
    lines
}

fn changed_words(advice: &Advice, change: &Change) -> String {
    let shown = |value: f64| format!("{}\u{a0}{}", trimmed(numbers::tidy(value)), change.unit).trim_end().to_owned();
    let c = &change.candidate;
    format!(
        "With {} {} in place of {}, {}: {}{}.",
        change.key,
        shown(change.to),
        shown(change.from),
        passes(advice, c),
        setting_words(advice, c),
        doubts_after(advice, c)
    )
}

/// Whether a setting passes by its few prints, in words.
fn passes(advice: &Advice, c: &Candidate) -> String {
    let is_sure = c.interval().is_some_and(|[low, _]| low >= advice.required);
    format!("a setting {} ({} of {} fresh prints)", if is_sure { "passes" } else { "should pass" }, c.met, c.prints)
}

fn relaxed(advice: &Advice, relaxation: &Relaxation) -> String {
    let limit = &advice.limits[relaxation.limit];
    let kind = limit.figure.kind();
    let to = numbers::tidy(relaxation.to * kind.per_si);
    let end = if relaxation.is_max { "at most" } else { "at least" };
    let c = &relaxation.candidate;
    format!(
        "With {} of {end} {}, {}: {}{}.",
        limit_name(limit, None),
        format!("{}\u{a0}{}", trimmed(to), kind.unit).trim_end(),
        passes(advice, c),
        setting_words(advice, c),
        doubts_after(advice, c)
    )
}

/// How much was looked at.
fn effort(advice: &Advice) -> String {
    format!(
        "Looked at {}, printed {} of them, {} in all.",
        numbers::counted(advice.screened as u64, "setting", "settings"),
        numbers::count(advice.printed as u64),
        numbers::counted(advice.prints, "print", "prints")
    )
}
