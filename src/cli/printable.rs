//! Text that steers no terminal.

use std::borrow::Cow;

/// A text without what would steer a terminal: control characters, and signs that turn the direction of writing, are written out. Colours
/// stay where the program itself sets them.
pub(crate) fn printable(text: &str, coloured: bool) -> Cow<'_, str> {
    let steers = |c: char| {
        c.is_control() && !matches!(c, '\n' | '\t')
            || ('\u{202a}'..='\u{202e}').contains(&c)
            || ('\u{2066}'..='\u{2069}').contains(&c)
    };
    if !text.contains(steers) {
        return text.into();
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let colour = if coloured { colour_length(rest) } else { 0 };
        if colour > 0 {
            out.push_str(&rest[..colour]);
            rest = &rest[colour..];
            continue;
        }
        if steers(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
        rest = &rest[c.len_utf8()..];
    }
    out.into()
}

/// Length of the sign for a colour or weight at the begin of a text; 0 if there is none.
fn colour_length(text: &str) -> usize {
    let Some(code) = text.strip_prefix("\u{1b}[") else { return 0 };
    let digits = code.find(|c: char| !c.is_ascii_digit() && c != ';').unwrap_or(code.len());
    if code[digits..].starts_with('m') { digits + 3 } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_steers_the_terminal() {
        assert_eq!(printable("a\tb\nµm²", false), "a\tb\nµm²");
        assert_eq!(printable("x\u{1b}[2Jy\u{7}\u{9b}1m\u{202e}z", false), "x\\u{1b}[2Jy\\u{7}\\u{9b}1m\\u{202e}z");
        assert_eq!(
            printable("\u{1b}[1;31merror\u{1b}[0m \u{1b}]0;title", true),
            "\u{1b}[1;31merror\u{1b}[0m \\u{1b}]0;title"
        );
        assert_eq!(printable("\u{1b}[1;31merror", false), "\\u{1b}[1;31merror");
    }
}
