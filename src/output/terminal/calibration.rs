//! What a calibration says, on the terminal.

use super::{Table, wrap};
use crate::calibration::{
    distance, fit_sentence, held_out_sentence, intervals, lacks_sentence, learnt_words, ruled_out_sentence, three,
};
use motefall_figures::calibration::Calibration;

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

    out.push('\n');
    let mut table = Table::new(["unknown", "thought before (95 %)", "now (95 %)", "told by the lines"]);
    for learnt in &calibration.unknowns {
        let [before, after] = intervals(learnt);
        table.add([format!("  {}", learnt.key), before, after, learnt_words(learnt)]);
    }
    table.print(&mut out, width, table.widths());

    let mut line = "";
    let mut table = Table::new(["line", "measured", "as set", "calibrated", "off by, left out"]);
    for value in &calibration.values {
        if value.line != line {
            line = &value.line;
            table.add([
                format!("{line}{}", if value.is_held_out { " (held out)" } else { "" }),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ]);
        }
        let [measured, before, after] = three(value);
        let off = if value.is_held_out {
            distance(value.distance)
        } else {
            format!("{}, {}", distance(value.distance), distance(value.left_out))
        };
        table.add([format!("  {}, {}", value.quantity.label, value.quantity.unit), measured, before, after, off]);
    }
    out.push('\n');
    table.print(&mut out, width, table.widths());
    let meaning = "Off by: measured less calibrated in standard deviations of all that is uncertain; left out: the same with the line left out of the fit.";
    wrap(&mut out, "", "", meaning, width);

    let mut list = |head: &str, items: &[String]| {
        if !items.is_empty() {
            out.push('\n');
            wrap(&mut out, "", "", head, width);
            items.iter().for_each(|item| wrap(&mut out, "  ", "    ", item, width));
        }
    };
    list("What these lines do not tell:", &calibration.untold);
    let further: Vec<String> = calibration
        .further
        .iter()
        .map(|further| {
            let (key, factor) = &further.most;
            let of_print = further.of_print.map_or(String::new(), |factor| {
                format!("narrows what is unknown of your print to {}; ", crate::numbers::percent(factor))
            });
            format!(
                "{}: {of_print}narrows the unknowns to {} on average, {key} to {}",
                further.line,
                crate::numbers::percent(further.narrows),
                crate::numbers::percent(*factor)
            )
        })
        .collect();
    list("Further lines that would teach most:", &further);
    list("Remarks:", &calibration.remarks);
    out.replace(['\u{a0}', '\u{202f}'], " ")
}
