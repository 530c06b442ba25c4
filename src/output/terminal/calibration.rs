//! What a calibration says, on the terminal.

use super::table::{Table, wrap};
use crate::calibration::{
    agreement_words, distance, further_words, intervals, nothing_further, now_over_before, sentences, three,
};
use motefall_figures::calibration::Calibration;

/// What was learnt, no wider than `width` columns (at least 60).
pub fn calibration(calibration: &Calibration, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &format!("Calibration of {}", calibration.scenario), width);
    wrap(&mut out, "", "", &format!("{}.", agreement_words(calibration.agreement())), width);
    sentences(calibration).iter().for_each(|sentence| wrap(&mut out, "", "", sentence, width));
    unknowns(&mut out, calibration, width);
    lines(&mut out, calibration, width);
    let further = match &calibration.further[..] {
        [] => vec![nothing_further(calibration)],
        further => further.iter().map(further_words).collect(),
    };
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
    let mut table = Table::new(["unknown", "thought before (95 %)", "now (95 %)", "now / before"]);
    for learnt in &calibration.unknowns {
        let [before, after] = intervals(learnt);
        table.heading(format!("{}, {}", learnt.name, learnt.key));
        table.add([String::new(), before, after, now_over_before(learnt)]);
    }
    out.push('\n');
    table.print(out, width, table.widths());
    let meaning =
        "Now / before: how wide the interval of 95 % is now, as a part of what it was before any line was measured.";
    wrap(out, "", "", meaning, width);
}

fn lines(out: &mut String, calibration: &Calibration, width: usize) {
    let mut line = "";
    let mut table = Table::new(["line", "measured", "as set", "calibrated", "off by, left out"]);
    for value in &calibration.values {
        if value.line != line {
            line = &value.line;
            table.heading(format!("{line}{}", if value.is_held_out { " (held out)" } else { "" }));
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
