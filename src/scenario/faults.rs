//! What is wrong with a scenario file, shown so that it can be put right.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::borrow::Cow;
use std::fmt;
use std::ops::Range;
use std::path::Path;

/// Most faults that are shown; nobody reads more before putting these right.
const MOST_SHOWN: usize = 50;
/// Most faults that are kept; of others only the number. A file of millions of bad lines would fill the memory.
pub(crate) const MOST_KEPT: usize = 10_000;
/// Most letters of one part of a message: values may be of any length.
const MOST_LETTERS: usize = 1000;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Fault {
    /// Where, as bytes of the file; `None` if the file could not be read at all.
    pub span: Option<Range<usize>>,
    /// What is wrong: key, value with unit, what is allowed.
    pub title: String,
    /// Short remark under the caret.
    pub label: String,
    /// Why it is so; may be empty.
    pub(crate) why: String,
    /// What to do.
    pub advice: String,
}

impl Fault {
    /// Of a file as a whole.
    pub(crate) fn of_file(title: String, advice: String) -> Self {
        Self { span: None, title, label: String::new(), why: String::new(), advice }
    }
}

/// Everything that is wrong with one scenario file, in order of the lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    /// The faults; never empty. At most 10 000 of those that were found.
    pub list: Vec<Fault>,
    left_out: usize,
    file: String,
    text: String,
}

impl Faults {
    /// Sorts the faults by place.
    pub(super) fn new(mut list: Vec<Fault>, file: &str, text: &str) -> Self {
        list.sort_by_key(|fault| fault.span.as_ref().map_or(0, |span| span.start));
        Self { list, left_out: 0, file: file.to_owned(), text: text.to_owned() }
    }

    /// A fault of something that a scenario file needs besides itself.
    pub fn beside(title: String, advice: String, file: &Path) -> Self {
        Self::new(vec![Fault::of_file(title, advice)], &file.display().to_string(), "")
    }

    /// So many faults were found besides these.
    pub(super) fn and_more(self, left_out: usize) -> Self {
        Self { left_out, ..self }
    }

    /// The first faults as text, with colours for a terminal or without, and how many there are.
    pub fn render(&self, style: Style) -> String {
        let renderer = match style {
            Style::Plain => Renderer::plain(),
            Style::Coloured => Renderer::styled(),
        };
        let mut shown: Vec<String> =
            self.list.iter().take(MOST_SHOWN).map(|fault| self.render_one(fault, &renderer)).collect();
        let n = self.list.len() + self.left_out;
        let things = if n == 1 { "fault" } else { "faults" };
        let more = match n.saturating_sub(MOST_SHOWN) {
            0 => String::new(),
            more => format!(", of which the first {MOST_SHOWN} are shown and {more} more are not"),
        };
        shown.push(format!("{n} {things} in {}{more}; nothing was computed", self.file));
        shown.join("\n\n")
    }

    fn render_one(&self, fault: &Fault, renderer: &Renderer) -> String {
        let [title, label, why, advice] =
            [&fault.title, &fault.label, &fault.why, &fault.advice].map(|text| short(text));
        let mut group: Group<'_> = Level::ERROR.primary_title(title.as_ref()).elements(
            Vec::<Snippet<'_, _>>::from_iter(fault.span.as_ref().map(|span| {
                let (lines, first, span) = excerpt(&self.text, span);
                let mark = AnnotationKind::Primary.span(span).label(label.as_ref());
                Snippet::source(lines).line_start(first).path(self.file.as_str()).annotation(mark)
            })),
        );
        if !why.is_empty() {
            group = group.element(Level::NOTE.message(why.as_ref()));
        }
        if !advice.is_empty() {
            group = group.element(Level::HELP.message(advice.as_ref()));
        }
        renderer.render(&[group])
    }
}

/// The whole lines in which a span lies, the number of the first, and the span within them.
fn excerpt<'a>(text: &'a str, span: &Range<usize>) -> (&'a str, usize, Range<usize>) {
    let begin = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    let end = text[span.end..].find('\n').map_or(text.len(), |at| span.end + at);
    let first = text[..begin].bytes().filter(|byte| *byte == b'\n').count() + 1;
    (&text[begin..end], first, span.start - begin..span.end - begin)
}

/// A text cut where it is too long to be read.
fn short(text: &str) -> Cow<'_, str> {
    match text.char_indices().nth(MOST_LETTERS) {
        Some((end, _)) => Cow::Owned(format!("{} ...", &text[..end])),
        None => Cow::Borrowed(text),
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
    // A misspelt name among thousands is found by its owner.
    let candidates: Vec<&str> = candidates.into_iter().take(1000).collect();
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
    fn many_faults_and_long_ones_make_a_short_message() {
        let text: String = (0..9000).map(|k| format!("key{k} = 1\n")).collect();
        let starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).take(9000);
        let fault = |(k, start): (usize, usize)| Fault {
            span: Some(start..start + 3),
            title: format!("fault {k} {}", "µ".repeat(5000)),
            label: "here".into(),
            why: String::new(),
            advice: String::new(),
        };
        let faults = Faults::new(starts.enumerate().map(fault).collect(), "a.toml", &text);
        let shown = faults.to_string();
        assert!(shown.contains("error: fault 49 ") && !shown.contains("error: fault 50 "), "{shown}");
        assert!(shown.contains("--> a.toml:50:1") && shown.contains("50 | key49 = 1"), "{shown}");
        assert!(shown.ends_with(
            "9000 faults in a.toml, of which the first 50 are shown and 8950 more are not; nothing was computed"
        ));
        assert!(shown.len() < 50 * (2 * MOST_LETTERS + 300), "{} bytes", shown.len());
    }

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
