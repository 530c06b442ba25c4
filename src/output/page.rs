//! What all pages share: head, style, verdict box, tables, lists of facts, foot.

use maud::{DOCTYPE, Markup, PreEscaped, Render, html};

/// The colours of all pages, light and dark.
pub const COLOURS: &str = include_str!("colours.css");
const STYLE: &str = include_str!("page.css");
pub(crate) const VERSION: &str = env!("CARGO_PKG_VERSION");

/// A page.
pub(crate) struct Page<'a> {
    /// Stands above it and in the browser's tab.
    pub(crate) title: &'a str,
    /// Below the title; may be empty.
    pub(crate) note: &'a str,
    /// Style that no other page needs.
    pub(crate) style: &'a str,
    /// What it says.
    pub(crate) body: Markup,
    /// The small words at its end.
    pub(crate) foot: Markup,
}

impl Page<'_> {
    /// As one file that needs no network.
    pub(crate) fn html(&self) -> String {
        let body = html! {
            h1 { (self.title) }
            @if !self.note.is_empty() { (note(self.note)) }
            (self.body)
            footer { "motefall " (VERSION) (self.foot) }
        };
        document(self.title, &[COLOURS, STYLE, self.style], body)
    }
}

/// A file for the browser that needs no network.
pub(crate) fn document(title: &str, styles: &[&str], body: Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(format!("motefall {VERSION}"));
                title { (title) }
                style { @for style in styles { (PreEscaped(style)) } }
            }
            body { main { (body) } }
        }
    }
    .into_string()
}

/// Foot of a result: how to make it again, and what lies beside it.
pub(crate) fn foot(seed: u64, generator: Option<&str>, files: Markup) -> Markup {
    html! {
        " · seed " (seed)
        @if let Some(generator) = generator { " · random numbers: " (generator) }
        " · the same scenario, version and seed give the same numbers. Files beside this one: " (files) "."
    }
}

/// What the box at the head says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Decision {
    /// Good.
    Yes,
    /// Not good.
    No,
    /// Neither.
    Open,
}

impl Decision {
    /// As a word.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::Open => "open",
        }
    }
}

/// The box at the head.
pub(crate) fn verdict(decision: Decision, head: &str, rest: Markup) -> Markup {
    let class = match decision {
        Decision::Yes => "verdict yes",
        Decision::No => "verdict no",
        Decision::Open => "verdict",
    };
    html! { div class=(class) { p { strong { (head) } br; (rest) } } }
}

/// Words in the background.
pub(crate) fn note(words: impl Render) -> Markup {
    html! { p class="note" { (words) } }
}

/// A table that scrolls sideways where it is too wide: cells of its head, rows of its body.
pub(crate) fn table(class: &str, head: Markup, rows: Markup) -> Markup {
    let class = format!("scroll {class}");
    html! { div class=(class.trim_end()) { table { thead { tr { (head) } } tbody { (rows) } } } }
}

/// A key of a scenario, which breaks behind its points and underscores only.
pub(crate) fn key(key: &str) -> Markup {
    let parts = key.split_inclusive(['.', '_']);
    html! { code class="key-name" { @for part in parts { (part) wbr; } } }
}

/// A list of names with what belongs to them.
pub(crate) fn facts<N: Render, V: Render>(class: &str, facts: impl IntoIterator<Item = (N, V)>) -> Markup {
    let class = format!("facts {class}");
    html! { dl class=(class.trim_end()) { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } } }
}

/// Items with a mark between each and the next.
pub(crate) fn joined(mark: &str, items: impl IntoIterator<Item = Markup>) -> Markup {
    html! { @for (i, item) in items.into_iter().enumerate() { @if i > 0 { (mark) } (item) } }
}
