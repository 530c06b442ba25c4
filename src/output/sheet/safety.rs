//! Cautions for people, as predictions raise them.

use super::contents::{Sheet, heading};
use crate::words::capital;
use maud::{Markup, html};
use motefall_figures::{Caution, CautionKind, Severity};

/// Characters of cautions of a print of one layer that are told whole, and by how many each further layer lessens them; those beyond are told
/// in their few words.
const MOST_TEXT: usize = 600;
const LESS_TEXT: usize = 180;
/// Longest caution that is told whole, characters.
const LONGEST: usize = 200;
/// Ends each caution, and stands once for all here.
const CLOSING: &str = "Local rules and licensed practice decide.";

/// The section.
pub(super) fn section(sheet: &Sheet<'_>) -> Markup {
    let mut room = MOST_TEXT + LESS_TEXT - LESS_TEXT * sheet.layers().count();
    let mut short: Vec<CautionKind> = vec![];
    let mut whole: Vec<String> = vec![];
    for caution in sheet.expected.cautions.iter().filter(|caution| caution.severity() == Severity::Safety) {
        let text = without_closing(caution);
        let length = text.chars().count();
        if length <= room.min(LONGEST) {
            room -= length;
            whole.push(text);
        } else if !short.contains(&caution.kind) {
            short.push(caution.kind);
        }
    }
    html! {
        section class="safety" {
            (heading("Cautions for this ink", ""))
            p {
                @for text in &whole { span { "▪\u{a0}" (text) " " } }
                @for kind in &short { span { "▪\u{a0}" (capital(kind.words())) ". " } }
                b { "This sheet replaces no risk assessment: safety data sheets, your local rules and licensed practice decide." }
            }
        }
    }
}

fn without_closing(caution: &Caution) -> String {
    caution.text.trim_end().trim_end_matches(CLOSING).trim_end().to_owned()
}
