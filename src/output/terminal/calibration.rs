//! What a calibration says, on the terminal.

use super::{Table, wrap};
use crate::calibration::{
    distance, fit_sentence, held_out_sentence, intervals, lacks_sentence, learnt_words, ruled_out_sentence, three,
};
use crate::numbers::percent;
use motefall_figures::calibration::{Calibration, Further};

/// What was learnt, no wider than `width` columns (at least 60).
pub fn calibration(calibration: &Calibration, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    let sentences = [
        Some(format!("Calibration of {}", calibration.scenario)),
        Some(fit_sentence(&calibration.fit)),
        Some(ruled_out_sentence(&calibration.fit)),
        Some(lacks_sentence(&calibration.fit)),
        held_out_sentence(calibration),
    ];
    sentences.into_iter().flatten().for_each(|sentence| wrap(&mut out, "", "", &sentence, width));
    unknowns(&mut out, calibration, width);
    lines(&mut out, calibration, width);
    let further: Vec<String> = calibration.further.iter().map(further_words).collect();
    let lists = [
        ("What these lines do not tell:", &calibration.untold),
        ("Further lines that would teach most:", &further),
        ("Remarks:", &calibration.remarks),
    ];
    for (head, items) in lists.into_iter().filter(|(_, items)| !items.is_empty()) {
        out.push('\n');
        wrap(&mut out, "", "", head, width);
        items.iter().for_each(|item| wrap(&mut out, "  ", "    ", item, width));
    }
    out.replace(['\u{a0}', '\u{202f}'], " ")
}

fn unknowns(out: &mut String, calibration: &Calibration, width: usize) {
    let mut table = Table::new(["unknown", "thought before (95 %)", "now (95 %)", "told by the lines"]);
    for learnt in &calibration.unknowns {
        let [before, after] = intervals(learnt);
        table.add([format!("  {}", learnt.key), before, after, learnt_words(learnt)]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
}

fn lines(out: &mut String, calibration: &Calibration, width: usize) {
    let mut line = "";
    let mut table = Table::new(["line", "measured", "as set", "calibrated", "off by, left out"]);
    for value in &calibration.values {
        if value.line != line {
            line = &value.line;
            let name = format!("{line}{}", if value.is_held_out { " (held out)" } else { "" });
            table.add([name, String::new(), String::new(), String::new(), String::new()]);
        }
        let [measured, before, after] = three(value);
        let left_out = value.left_out.map_or(String::new(), |left_out| format!(", {}", distance(left_out)));
        let off = format!("{}{left_out}", distance(value.distance));
        let unit = if value.quantity.unit.is_empty() { String::new() } else { format!(", {}", value.quantity.unit) };
        table.add([format!("  {}{unit}", value.quantity.label), measured, before, after, off]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
    let meaning = "Off by: measured less calibrated in standard deviations of all that is uncertain; left out: the same with the line left out of the fit.";
    wrap(out, "", "", meaning, width);
}

fn further_words(further: &Further) -> String {
    let (key, factor) = &further.most;
    let of_print = further
        .of_print
        .map_or(String::new(), |factor| format!("narrows what is unknown of your print to {}; ", percent(factor)));
    format!(
        "{}: {of_print}narrows the unknowns to {} on average, {key} to {}",
        further.line,
        percent(further.narrows),
        percent(*factor)
    )
}
