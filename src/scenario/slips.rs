//! Everyday slips after which a file is no scenario: what to write instead, rather than what the language expected.

use super::faults::{Fault, MOST_KEPT};
use super::key::show_number;
use super::keys::anywhere;
use super::reader::{Worded, number_spec, plain_sign, worded_number};
use motefall_files::file_kind::FileKind;
use std::collections::HashSet;
use std::ops::Range;

/// Longest line that is shown again as it should be, bytes.
const LONGEST_SHOWN: usize = 80;

/// A file that is something else than a scenario.
pub(crate) fn wrong_kind(file_name: &str, kind: FileKind) -> Fault {
    let advice = match kind {
        FileKind::Dxf | FileKind::Svg => {
            "give the scenario; it names the drawing with `file = \"...\"` in a [[region]] or [[path]] of the kind \"drawing\""
        }
        FileKind::Table => {
            "give the scenario; it names a table of sizes with `size_csv = \"...\"` in its [[ink.powder]]"
        }
        FileKind::Dwg | FileKind::Gdsii | FileKind::Oasis => {
            "give the scenario; to use the drawing, save it as DXF and name it in a [[region]] or [[path]] of the kind \"drawing\""
        }
        FileKind::Utf16 => "save it as UTF-8; editors ask for the encoding under \"Save as\"",
        _ => "give a scenario, a text file with the ending .toml; `motefall new` writes one to start from",
    };
    let wanted = if kind == FileKind::Utf16 { "in UTF-8" } else { "a scenario" };
    Fault::of_file(format!("{file_name} is {}, not {wanted}", kind.words()), advice.to_owned())
}

/// What an everyday slip is, where in its line, and what to write instead.
struct Slip {
    place: Range<usize>,
    what: String,
    label: &'static str,
    advice: String,
}

/// Faults of a text that is no TOML, given what its reader found, and how many were not kept: one a line, since one slip upsets the rest of
/// its line.
pub(crate) fn syntax<'a>(
    text: &str,
    errors: impl Iterator<Item = (Option<Range<usize>>, &'a str)>,
) -> (Vec<Fault>, usize) {
    let mut lines = HashSet::new();
    let mut faults = Vec::new();
    for (span, message) in errors {
        let at = span.as_ref().map_or(text.len(), |span| span.start).min(text.len());
        let begin = text[..at].rfind('\n').map_or(0, |place| place + 1);
        if !lines.insert(begin) || faults.len() == MOST_KEPT {
            continue;
        }
        let line = text[begin..].lines().next().unwrap_or_default();
        let slip = strange_signs(line).or_else(|| value_slip(line));
        faults.push(match slip {
            Some(Slip { place, what, label, advice }) => Fault {
                span: Some(begin + place.start..begin + place.end),
                title: what,
                label: label.to_owned(),
                why: String::new(),
                advice,
            },
            None => Fault {
                span,
                title: format!("the file is not valid TOML: {message}"),
                label: "here".to_owned(),
                why: String::new(),
                advice: "a line is `key = value`, a text stands in quotes, a section begins with [name], and no key or section stands twice".to_owned(),
            },
        });
    }
    let left_out = lines.len() - faults.len();
    (faults, left_out)
}

/// Of each sign of a line whether it stands neither in straight quotes nor behind #.
fn bare(line: &str) -> impl Iterator<Item = (char, bool)> + '_ {
    let (mut quote, mut is_remark) = (None, false);
    line.chars().map(move |c| {
        let is_bare = quote.is_none() && !is_remark && !['#', '"', '\''].contains(&c);
        match quote {
            Some(open) if c == open => quote = None,
            None if c == '#' => is_remark = true,
            None if !is_remark && (c == '"' || c == '\'') => quote = Some(c),
            _ => {}
        }
        (c, is_bare)
    })
}

/// Signs of word processors in place of those of a keyboard.
fn strange_signs(line: &str) -> Option<Slip> {
    let plain: String = bare(line).map(|(c, is_bare)| if is_bare { plain_sign(c) } else { c }).collect();
    let (at, strange) =
        line.char_indices().zip(plain.chars()).find_map(|((at, a), b)| (a != b).then_some((at, (a, b))))?;
    let what = match strange {
        (sign, '"' | '\'') => format!("the quote {sign} is not the straight one of the keyboard"),
        (sign, 'u') => format!("{sign} cannot stand in a key: there µ is written u"),
        (sign, '-') => format!("{sign} is not the minus sign of the keyboard"),
        _ => "a space here is not the plain one of the keyboard".to_owned(),
    };
    let label = if strange.1 == ' ' { "a special space" } else { "not a plain sign" };
    let place = at..at + strange.0.len_utf8();
    let advice = match plain.trim() {
        line if line.len() <= LONGEST_SHOWN => format!("write `{line}`"),
        _ if strange.1 == ' ' => "write a plain space there".to_owned(),
        _ => format!("write {} there", strange.1),
    };
    Some(Slip { place, what, label, advice })
}

/// A value that is no value: a decimal comma, a number with its unit, a text without quotes.
fn value_slip(line: &str) -> Option<Slip> {
    // Strings and remarks out of the way, with every byte in its place.
    let hide = |(c, is_bare): (char, bool)| if is_bare { c.to_string() } else { "\"".repeat(c.len_utf8()) };
    let hidden: String = bare(line).map(hide).collect();
    hidden.match_indices('=').find_map(|(at, _)| {
        let key = line[..at].trim_end().rsplit([' ', '{', ',', '.']).next()?;
        let rest = &hidden[at + 1..];
        let value = rest[..value_length(rest)].trim();
        let begin = at + 1 + rest.len() - rest.trim_start().len();
        slip_of(key, value, begin..begin + value.len())
    })
}

/// Length of a value: up to the next comma, bracket or remark, but over a comma between digits.
fn value_length(rest: &str) -> usize {
    let bytes = rest.as_bytes();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    (0..bytes.len())
        .find(|&at| match bytes[at] {
            b',' => !(at > 0 && is_digit(at - 1) && is_digit(at + 1)),
            b'}' | b']' | b'[' | b'{' | b'"' => true,
            _ => false,
        })
        .unwrap_or(bytes.len())
}

fn slip_of(key: &str, value: &str, place: Range<usize>) -> Option<Slip> {
    if value.parse::<f64>().is_ok() || value.is_empty() {
        return None;
    }
    let slip = |what: String, label: &'static str, advice: String| Some(Slip { place, what, label, advice });
    if let Some(word) = [("true", ["true", "yes", "on"]), ("false", ["false", "no", "off"])]
        .into_iter()
        .find_map(|(word, forms)| forms.iter().any(|form| form.eq_ignore_ascii_case(value)).then_some(word))
        .filter(|word| *word != value)
    {
        return slip(format!("`{value}` is not known"), "yes or no?", format!("write `{key} = {word}`"));
    }
    if !value.starts_with(|c: char| c.is_ascii_digit() || "+-.,".contains(c)) {
        let is_text = value.starts_with(char::is_alphabetic);
        let advice = format!("write `{key} = \"{value}\"`");
        return if is_text {
            slip(format!("the text `{value}` stands without quotes"), "needs quotes", advice)
        } else {
            None
        };
    }
    let comma = value.split_once(',').filter(|(_, rest)| rest.starts_with(|c: char| c.is_ascii_digit()));
    let spec = anywhere(key).and_then(number_spec);
    let written = match spec.and_then(|spec| worded_number(&spec, value)) {
        Some(Worded::Number(number)) => format!("write `{key} = {}`", show_number(number)),
        _ => match comma {
            Some((whole, rest)) if !whole.contains('.') && rest.bytes().all(|byte| byte.is_ascii_digit()) => {
                format!("write `{key} = {whole}.{rest}`")
            }
            _ => format!("write `{key} = ...` with the number alone, in the unit that the key names"),
        },
    };
    match comma {
        Some((whole, rest)) if rest.len() == 3 && rest.bytes().all(|byte| byte.is_ascii_digit()) => slip(
            format!("`{value}` has a comma, but numbers are written with a decimal point"),
            "decimal comma?",
            format!("{written}, or `{key} = {whole}{rest}` if thousands were meant"),
        ),
        Some(_) => slip(
            format!("`{value}` has a decimal comma, but numbers are written with a decimal point"),
            "decimal comma",
            written,
        ),
        None if spec.is_some() => {
            slip(format!("`{value}` has more than a number, but the key names the unit"), "the number alone", written)
        }
        None => None,
    }
}
