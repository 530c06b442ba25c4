//! What is wrong with a scenario file, shown so that it can be put right.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::fmt;
use std::ops::Range;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where, as bytes of the file; `None` if the file could not be read at all.
    pub span: Option<Range<usize>>,
    /// What is wrong: key, value with unit, what is allowed.
    pub title: String,
    /// Short remark under the caret.
    pub label: String,
    /// Why it is so; may be empty.
    pub why: String,
    /// What to do.
    pub advice: String,
}

/// Everything that is wrong with one scenario file, in order of the lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    /// The faults; never empty.
    pub list: Vec<Fault>,
    file: String,
    text: String,
}

impl Faults {
    /// Sorts the faults by place.
    pub(super) fn new(mut list: Vec<Fault>, file: &str, text: &str) -> Self {
        list.sort_by_key(|fault| fault.span.as_ref().map_or(0, |span| span.start));
        Self { list, file: file.to_owned(), text: text.to_owned() }
    }

    /// The faults as text, with colours for a terminal or without.
    pub fn render(&self, style: Style) -> String {
        let renderer = match style {
            Style::Plain => Renderer::plain(),
            Style::Coloured => Renderer::styled(),
        };
        let mut shown: Vec<String> = self.list.iter().map(|fault| self.render_one(fault, &renderer)).collect();
        let n = self.list.len();
        let things = if n == 1 { "fault" } else { "faults" };
        shown.push(format!("{n} {things} in {}; nothing was computed", self.file));
        shown.join("\n\n")
    }

    fn render_one(&self, fault: &Fault, renderer: &Renderer) -> String {
        let mut group: Group<'_> = Level::ERROR.primary_title(fault.title.as_str()).elements(
            Vec::<Snippet<'_, _>>::from_iter(fault.span.clone().map(|span| {
                let mark = AnnotationKind::Primary.span(span).label(fault.label.as_str());
                Snippet::source(self.text.as_str()).path(self.file.as_str()).annotation(mark)
            })),
        );
        if !fault.why.is_empty() {
            group = group.element(Level::NOTE.message(fault.why.as_str()));
        }
        if !fault.advice.is_empty() {
            group = group.element(Level::HELP.message(fault.advice.as_str()));
        }
        renderer.render(&[group])
    }
}

/// How faults are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// For files and pipes.
    Plain,
    /// For a terminal.
    Coloured,
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(Style::Plain))
    }
}

impl std::error::Error for Faults {}

/// The candidate closest to a word, if any is close enough to be a slip of the pen.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Two thirds of the letters in place: chosen by trying common slips, not derived.
    const CLOSE_ENOUGH: f64 = 0.62;
    // From so many letters on, the beginning of a word tells which it is: `coverage` for `coverage_percent`.
    const TELLING: usize = 4;
    let word = word.to_lowercase();
    let candidates: Vec<&str> = candidates.into_iter().collect();
    let begun =
        candidates.iter().filter(|candidate| word.len() >= TELLING && candidate.to_lowercase().starts_with(&word));
    if let Some(shortest) = begun.min_by_key(|candidate| candidate.len()) {
        return Some(shortest);
    }
    candidates
        .into_iter()
        .map(|candidate| (strsim::normalized_damerau_levenshtein(&word, &candidate.to_lowercase()), candidate))
        .filter(|(closeness, _)| *closeness >= CLOSE_ENOUGH)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// `did you mean ...?`, or the list of what there is.
pub fn did_you_mean<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str> + Clone) -> String {
    if let Some(near) = nearest(word, candidates.clone()) {
        return format!("did you mean `{near}`?");
    }
    let all: Vec<String> = candidates.into_iter().map(|c| format!("`{c}`")).collect();
    match all.len() {
        0 => "none is defined in this file".to_owned(),
        1 => format!("there is only {}", all[0]),
        8.. => "not known".to_owned(),
        _ => format!("choose one of {}", all.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_words_are_found_and_far_ones_are_not() {
        let keys = ["nozzle_um", "inlet_bore_mm", "half_angle_deg"];
        assert_eq!(nearest("nozle_um", keys), Some("nozzle_um"));
        assert_eq!(nearest("Nozzle_um", keys), Some("nozzle_um"));
        assert_eq!(nearest("half_angle", keys), Some("half_angle_deg"));
        assert_eq!(nearest("colour", keys), None);
        assert_eq!(did_you_mean("colour", ["target"]), "there is only `target`");
        assert_eq!(did_you_mean("tarjet", ["target", "window"]), "did you mean `target`?");
    }
}
