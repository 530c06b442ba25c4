//! What settings do to figures, on the terminal.

use super::serious;
use super::table::{Table, wrap};
use crate::knobs::{change_words, more_words, setting, told};
use motefall_figures::Severity;
use motefall_figures::knobs::Knobs;

/// What more of each setting does to figures with a limit, or to what lies on targets; no wider than `width` columns (at least 60).
pub fn knobs(knobs: &Knobs, width: usize) -> String {
    let width = width.clamp(60, 110);
    let mut out = String::new();
    wrap(&mut out, "", "", &knobs.expected.inputs.name, width);
    wrap(
        &mut out,
        "",
        "",
        "What turning a setting does to expected figures, all else as it is, if it goes on as within 2 %. What differs between prints is left out.",
        width,
    );
    for told in told(knobs) {
        out.push('\n');
        let changes = match &told.changes {
            Ok(changes) => changes,
            Err(why) => {
                wrap(&mut out, "", "  ", &format!("{}. What changes it: {why}", told.now), width);
                continue;
            }
        };
        let mut table = Table::new([told.now.as_str(), "now", "turned by", "does"]);
        for (effect, change) in changes {
            let mark = if effect.is_unverified { " ◆" } else { "" };
            table.add([format!("  {}{mark}", effect.key), setting(effect), more_words(effect), change_words(*change)]);
        }
        table.print(&mut out, width, table.widths());
        if changes.is_empty() {
            wrap(&mut out, "  ", "  ", "no setting changes it by more than 0.2 %", width);
        }
    }
    if knobs.effects.iter().any(|effect| effect.is_unverified) {
        out.push('\n');
        wrap(&mut out, "", "", "◆ a default that nobody has measured: what it does is what you do not know.", width);
    }
    let safety = knobs.expected.cautions.iter().filter(|caution| caution.severity() == Severity::Safety);
    serious(&mut out, safety, width);
    out.replace(['\u{a0}', '\u{202f}'], " ")
}
