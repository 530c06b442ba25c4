//! An advice on the terminal.

use super::serious;
use super::table::{Table, wrap};
use crate::advice::{
    blocked_lines, changed, costs_sentence, doubts_after, doubts_sentence, head, limit_rows, line_words,
    margin_sentence, margin_words, plan_sentences, rest, setting_words, shows_words, unsure_sentence, which,
};
use crate::numbers::duration;
use crate::words::capital;
use motefall_figures::advice::Advice;

/// The advice as text, no wider than `width` columns (at least 60).
pub fn advice(advice: &Advice, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &format!("{}: {}", advice.inputs.name, head(advice)), width);
    wrap(&mut out, "", "", &rest(advice), width);
    unsure_sentence(advice).into_iter().for_each(|sentence| wrap(&mut out, "", "", &sentence, width));
    let mut table = Table::new(["setting", "today", which(advice)]);
    changed(advice).into_iter().for_each(|[key, today, value, _]| table.add([key, today, value]));
    out.push('\n');
    table.print(&mut out, width, table.widths());
    if let Some(doubts) = advice.choices.first().and_then(|choice| doubts_sentence(advice, choice)) {
        out.push('\n');
        wrap(&mut out, "", "", &doubts, width);
    }
    if let (Some(choice), true) = (advice.choices.first(), advice.passes()) {
        out.push('\n');
        wrap(&mut out, "", "", &margin_sentence(advice, choice), width);
        let costs = capital(&costs_sentence(&choice.candidate.used));
        wrap(&mut out, "", "", &costs, width);
    }
    let mut table = Table::new(["limit", "required", "today", which(advice), "met in"]);
    limit_rows(advice).into_iter().for_each(|row| table.add(row));
    out.push('\n');
    table.print(&mut out, width, table.widths());
    if let Some(plan) = &advice.plan {
        out.push('\n');
        wrap(&mut out, "", "", &plan_sentences(advice, plan), width);
        let mut table = Table::new(["line", "expected", "go on if"]);
        for line in &plan.lines {
            table.add([line_words(line), String::new(), String::new()]);
            for shows in &line.shows {
                let [label, expected, go_on] = shows_words(shows);
                table.add([format!("  {label}"), expected, go_on]);
            }
        }
        table.print(&mut out, width, table.widths());
    }
    let others: Vec<String> = advice
        .choices
        .iter()
        .skip(1)
        .map(|choice| {
            let c = &choice.candidate;
            format!(
                "{}: {} of {} prints pass, margin {}, {}{}",
                setting_words(advice, c),
                c.met,
                c.prints,
                margin_words(choice),
                duration(c.used.print_time),
                doubts_after(advice, c)
            )
        })
        .collect();
    let lists =
        [("What stands in the way:", blocked_lines(advice)), ("Settings of another kind that pass, too:", others)];
    for (head, lines) in lists.into_iter().filter(|(_, lines)| !lines.is_empty()) {
        out.push('\n');
        wrap(&mut out, "", "", head, width);
        lines.iter().for_each(|line| wrap(&mut out, "  ", "    ", line, width));
    }
    serious(&mut out, advice.cautions.iter(), width);
    out.replace(['\u{a0}', '\u{202f}'], " ")
}
