//! What the reader has to know before trusting the numbers or touching the ink.

use crate::page::note;
use crate::words;
use maud::{Markup, html};
use motefall_figures::{Prediction, Severity};

/// Safety first.
pub(super) fn section(p: &Prediction) -> Markup {
    let all = words::cautions(p);
    let (safety, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|c| c.severity() == Severity::Safety);
    html! {
        @if !safety.is_empty() {
            div class="safety" {
                h3 { "⚠ Safety" }
                ul { @for c in &safety { li { (c.text) } } }
                p { "Work with extraction and the usual precautions for fine powders and solvents. Local rules and licensed practice decide how this ink may be handled; this page does not replace them." }
            }
        }
        @if others.is_empty() && safety.is_empty() { (note("None apply to this run.")) }
        ul class="cautions" {
            @for c in &others { li { (with_code(&c.text)) " " span class="tag" { "(" (if c.severity() == Severity::Note { "note" } else { "the prediction may be off" }) ")" } } }
        }
    }
}

/// Text in which commands stand between backticks.
fn with_code(text: &str) -> Markup {
    html! { @for (i, part) in text.split('`').enumerate() { @if i % 2 == 0 { (part) } @else { code { (part) } } } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_in_cautions_look_like_commands() {
        let text = with_code("`motefall check` says <how>").into_string();
        assert_eq!(text, "<code>motefall check</code> says &lt;how&gt;");
    }
}
