//! Which setting to turn: a bar for what more of each does to a figure.

use crate::knobs::{Told, change_words, more_words, setting, told};
use crate::plot::escape;
use maud::{Markup, PreEscaped, html};
use motefall_figures::knobs::{Effect, Knobs};
use std::fmt::Write;

/// Drawing size: width, height of a bar's row, and where bars begin and end.
const WIDTH: f64 = 560.0;
const ROW: f64 = 24.0;
const BARS: [f64; 2] = [300.0, 500.0];
/// Thickness of a bar.
const BAR: f64 = 12.0;

/// The section; empty if nobody asked for it.
pub(super) fn section(knobs: Option<&Knobs>) -> Markup {
    let Some(knobs) = knobs else { return html! {} };
    let told = told(knobs);
    html! {
        h2 id="knobs" { "Which setting to turn" }
        p {
            "What more of a setting does to figures with a limit, all else as it is, if it goes on as within 2 %: 10 % more; of temperatures, places \
             and counts one more; less of what can be no more. Expected figures, without what differs between prints. All settings are in knobs.csv."
            @if knobs.effects.iter().any(|effect| effect.is_unverified) {
                " ◆ marks a default that nobody has measured: what it does is what you do not know."
            }
        }
        div class="pair" {
            @for told in &told {
                div class="card" {
                    p { strong { (told.now) } }
                    @match &told.changes {
                        Err(why) => p class="note" { "What changes it: " (why) "." },
                        Ok(changes) if changes.is_empty() => p class="note" { "No setting changes it by more than 0.2 %." },
                        Ok(changes) => (PreEscaped(bars(told, changes))),
                    }
                }
            }
        }
    }
}

/// The bars of a figure.
fn bars(told: &Told<'_>, changes: &[(&Effect, f64)]) -> String {
    let most = changes.iter().map(|(_, change)| change.abs()).fold(f64::MIN_POSITIVE, f64::max);
    let has = |sign: f64| changes.iter().any(|(_, change)| change * sign > 0.0);
    // The zero lies where bars to both sides have room.
    let zero = match (has(-1.0), has(1.0)) {
        (true, true) => 0.5 * (BARS[0] + BARS[1]),
        (true, false) => BARS[1],
        _ => BARS[0],
    };
    let scale = (zero - BARS[0]).max(BARS[1] - zero) / most;
    let height = ROW * changes.len() as f64 + 8.0;
    let mut out = format!(
        r#"<svg class="plot prints" viewBox="0 0 {WIDTH} {height}" role="img" aria-label="{}">"#,
        escape(&format!("What more of each setting does: {}", told.now))
    );
    for (row, (effect, change)) in changes.iter().enumerate() {
        let middle = 4.0 + ROW * (row as f64 + 0.5);
        let mark = if effect.is_unverified { " ◆" } else { "" };
        let (from, to) = (zero.min(zero + change * scale), zero.max(zero + change * scale));
        let more = more_words(effect);
        let name = escape(&format!("{}{mark}, {more}", effect.key));
        let words = change_words(*change);
        // Beside the bar's end, away from the zero.
        let (x, anchor) = if *change < 0.0 { (from - 5.0, "end") } else { (to + 5.0, "start") };
        let _ = write!(
            out,
            r#"<text class="tick" x="0" y="{0:.1}">{name}</text><rect class="most" x="{from:.1}" y="{1:.1}" width="{2:.1}" height="{BAR}"><title>{name}: now {3}, then {words}</title></rect><text class="tick" x="{x:.1}" y="{0:.1}" text-anchor="{anchor}">{words}</text>"#,
            middle + 4.0,
            middle - 0.5 * BAR,
            (to - from).max(0.8),
            escape(&setting(effect)),
        );
    }
    let _ = write!(out, r#"<path class="axis" d="M{zero:.1} 2V{:.1}"/></svg>"#, height - 2.0);
    out
}
