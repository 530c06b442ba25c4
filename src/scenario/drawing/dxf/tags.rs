//! Tags of DXF, text or binary: a group code and a value, one after the other.

use crate::drawing::limits::LARGEST_NUMBER;
use crate::drawing::{DrawingError, ErrorKind, FilePlace};
use std::borrow::Cow;

/// First bytes of a binary file.
const BINARY: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\x00";

/// A value as it stands in the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum TagValue<'a> {
    /// Text, or a number as text.
    Text(&'a [u8]),
    /// A number of a binary file.
    Real(f64),
    /// A whole number of a binary file.
    Whole(i64),
}

/// A tag.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tag<'a> {
    /// Group code.
    pub(crate) code: i32,
    /// Value.
    pub(crate) value: TagValue<'a>,
    /// Where it stands.
    pub(crate) place: FilePlace,
}

impl<'a> Tag<'a> {
    /// The value as text.
    pub(super) fn text(&self) -> Cow<'a, str> {
        match self.value {
            TagValue::Text(bytes) => decoded(bytes),
            TagValue::Real(v) => v.to_string().into(),
            TagValue::Whole(v) => v.to_string().into(),
        }
    }

    /// Whether the value is this text.
    pub(crate) fn is(&self, text: &str) -> bool {
        matches!(self.value, TagValue::Text(bytes) if bytes == text.as_bytes())
    }

    /// The value as a number that can be a coordinate.
    pub(crate) fn number(&self) -> Result<f64, DrawingError> {
        let value = match self.value {
            TagValue::Real(v) => v,
            TagValue::Whole(v) => v as f64,
            TagValue::Text(bytes) => {
                let text = std::str::from_utf8(bytes).unwrap_or("").trim();
                text.parse().map_err(|_| {
                    DrawingError::broken(
                        self.place,
                        format!("\"{}\" stands where a number must stand", shown_text(&self.text())),
                    )
                })?
            }
        };
        if !value.is_finite() {
            return Err(DrawingError::broken(self.place, format!("{value} stands where a finite number must stand")));
        }
        if value.abs() > LARGEST_NUMBER {
            let what = format!("the number {value:e} is larger than any drawing needs (at most {LARGEST_NUMBER:e})");
            return Err(DrawingError::broken(self.place, what));
        }
        Ok(value)
    }

    /// The value as a whole number.
    pub(crate) fn whole(&self) -> Result<i64, DrawingError> {
        match self.value {
            TagValue::Whole(v) => Ok(v),
            TagValue::Real(v) => Ok(v as i64),
            TagValue::Text(bytes) => {
                let text = std::str::from_utf8(bytes).unwrap_or("").trim();
                text.parse().map_err(|_| {
                    let what = format!("\"{}\" stands where a whole number must stand", shown_text(&self.text()));
                    DrawingError::broken(self.place, what)
                })
            }
        }
    }
}

/// The beginning of a text, for messages.
pub(crate) fn shown_text(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST {
        text.to_owned()
    } else {
        format!("{}...", text.chars().take(MOST).collect::<String>())
    }
}

/// Text of a file: UTF-8 if it is, else Latin-1, the usual code page of old files; `\U+00B5` and the like are replaced.
fn decoded(bytes: &[u8]) -> Cow<'_, str> {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
    };
    if !text.contains("\\U+") {
        return text;
    }
    let mut out = String::new();
    let mut rest: &str = &text;
    while let Some(at) = rest.find("\\U+") {
        out.push_str(&rest[..at]);
        let code = rest.get(at + 3..at + 7).and_then(|hex| u32::from_str_radix(hex, 16).ok()).and_then(char::from_u32);
        match code {
            Some(c) => {
                out.push(c);
                rest = &rest[at + 7..];
            }
            None => {
                out.push_str("\\U+");
                rest = &rest[at + 3..];
            }
        }
    }
    out.push_str(rest);
    Cow::Owned(out)
}

/// How values are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Encoding {
    /// A code and a value on lines of their own.
    Lines,
    /// Binary; codes of one byte, 255 announcing two more.
    BytesOld,
    /// Binary; codes of two bytes.
    Bytes,
}

/// Reads tags one after the other.
#[derive(Debug, Clone)]
pub(crate) struct Tags<'a> {
    bytes: &'a [u8],
    at: usize,
    line: usize,
    encoding: Encoding,
    /// A tag that has been looked at and not taken.
    waiting: Option<Tag<'a>>,
}

impl<'a> Tags<'a> {
    /// From the bytes of a file.
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        let (at, encoding) = match bytes.strip_prefix(BINARY) {
            // The first tag is (0, SECTION): its second byte is 0 if codes have two bytes.
            Some([_, 0, ..]) => (BINARY.len(), Encoding::Bytes),
            Some(_) => (BINARY.len(), Encoding::BytesOld),
            // A byte order mark is no part of the text.
            None if bytes.starts_with(b"\xef\xbb\xbf") => (3, Encoding::Lines),
            None => (0, Encoding::Lines),
        };
        Self { bytes, at, line: 0, encoding, waiting: None }
    }

    fn place(&self) -> FilePlace {
        if self.encoding == Encoding::Lines { FilePlace::Line(self.line) } else { FilePlace::Byte(self.at) }
    }

    fn line(&mut self) -> Option<&'a [u8]> {
        let rest = &self.bytes[self.at.min(self.bytes.len())..];
        if rest.is_empty() {
            return None;
        }
        self.line += 1;
        let end = rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len());
        self.at += end + 1;
        let line = &rest[..end];
        Some(line.strip_suffix(b"\r").unwrap_or(line))
    }

    /// So many bytes of a binary file.
    fn take<const N: usize>(&mut self) -> Result<[u8; N], DrawingError> {
        let found = self.bytes.get(self.at..self.at + N).and_then(|slice| slice.try_into().ok());
        self.at += N;
        found.ok_or_else(|| ended(FilePlace::Byte(self.bytes.len())))
    }

    /// The next tag, which stays the next. An error at the end of the file: a drawing ends with the tag EOF before that.
    pub(crate) fn peek(&mut self) -> Result<Tag<'a>, DrawingError> {
        if let Some(tag) = self.waiting {
            return Ok(tag);
        }
        let tag = self.read()?;
        self.waiting = Some(tag);
        Ok(tag)
    }

    /// The next tag.
    pub(crate) fn next_tag(&mut self) -> Result<Tag<'a>, DrawingError> {
        match self.waiting.take() {
            Some(tag) => Ok(tag),
            None => self.read(),
        }
    }

    fn read(&mut self) -> Result<Tag<'a>, DrawingError> {
        loop {
            let tag = if self.encoding == Encoding::Lines { self.read_lines()? } else { self.read_bytes()? };
            // Comments.
            if tag.code != 999 {
                return Ok(tag);
            }
        }
    }

    fn read_lines(&mut self) -> Result<Tag<'a>, DrawingError> {
        let last = self.place();
        let code_line = self.line().ok_or_else(|| ended(last))?;
        let place = self.place();
        let code = std::str::from_utf8(code_line).ok().and_then(|text| text.trim().parse().ok());
        let Some(code) = code else {
            if code_line.trim_ascii().is_empty() && self.bytes[self.at.min(self.bytes.len())..].trim_ascii().is_empty()
            {
                return Err(ended(last));
            }
            let what = format!(
                "\"{}\" stands where a group code, a whole number, must stand",
                shown_text(&String::from_utf8_lossy(code_line))
            );
            return Err(DrawingError::new(
                ErrorKind::Broken,
                Some(place),
                what,
                "is it a DXF file? Save it again as DXF",
            ));
        };
        let value = self.line().ok_or_else(|| ended(place))?;
        // Texts may begin with blanks that matter; names and numbers do not.
        Ok(Tag { code, value: TagValue::Text(value.trim_ascii()), place: self.place() })
    }

    fn read_bytes(&mut self) -> Result<Tag<'a>, DrawingError> {
        let place = self.place();
        let code = match self.encoding {
            Encoding::Bytes => i32::from(i16::from_le_bytes(self.take()?)),
            _ => match self.take::<1>()?[0] {
                255 => i32::from(i16::from_le_bytes(self.take()?)),
                code => i32::from(code),
            },
        };
        let value = match code {
            10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => {
                TagValue::Real(f64::from_le_bytes(self.take()?))
            }
            60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => {
                TagValue::Whole(i64::from(i16::from_le_bytes(self.take()?)))
            }
            90..=99 | 420..=429 | 440..=459 | 1071 => TagValue::Whole(i64::from(i32::from_le_bytes(self.take()?))),
            160..=169 => TagValue::Whole(i64::from_le_bytes(self.take()?)),
            290..=299 => TagValue::Whole(i64::from(self.take::<1>()?[0])),
            310..=319 | 1004 => {
                let length = usize::from(self.take::<1>()?[0]);
                self.at += length;
                TagValue::Text(b"")
            }
            0..=9 | 100..=109 | 300..=309 | 320..=369 | 390..=399 | 410..=419 | 430..=439 | 470..=481 | 999..=1009 => {
                let rest = self.bytes.get(self.at..).unwrap_or(&[]);
                let length =
                    rest.iter().position(|b| *b == 0).ok_or_else(|| ended(FilePlace::Byte(self.bytes.len())))?;
                self.at += length + 1;
                TagValue::Text(&rest[..length])
            }
            _ => {
                return Err(DrawingError::broken(place, format!("the group code {code} is not known")));
            }
        };
        Ok(Tag { code, value, place })
    }
}

fn ended(place: FilePlace) -> DrawingError {
    DrawingError::new(
        ErrorKind::Truncated,
        Some(place),
        "the file ends here, before its end mark (EOF)",
        "it was cut off when it was saved or copied: copy or save it again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_become_tags_with_their_place_and_the_end_is_missed() {
        let mut tags = Tags::new(b"  0\r\nSECTION\r\n999\nremark\n 10\n 1.5e1\n 20\nnan\n");
        assert!(tags.next_tag().expect("a tag").is("SECTION"));
        let x = tags.next_tag().expect("a tag");
        assert_eq!((x.code, x.number(), x.place), (10, Ok(15.0), FilePlace::Line(6)));
        let y = tags.next_tag().expect("a tag").number().expect_err("not a number");
        assert_eq!(y.place, Some(FilePlace::Line(8)));
        assert_eq!(tags.next_tag().expect_err("the end").kind, ErrorKind::Truncated);
    }

    #[test]
    fn binary_tags_of_both_kinds() {
        let new = [BINARY, b"\x00\x00SECTION\x00\x0a\x00", &2.5f64.to_le_bytes(), b"\x46\x00\x07\x00"].concat();
        let old = [BINARY, b"\x00SECTION\x00\x0a", &2.5f64.to_le_bytes(), b"\x46\x07\x00"].concat();
        for file in [new, old] {
            let mut tags = Tags::new(&file);
            assert!(tags.next_tag().expect("a tag").is("SECTION"));
            assert_eq!(tags.next_tag().expect("a tag").number(), Ok(2.5));
            assert_eq!(tags.next_tag().expect("a tag").whole(), Ok(7));
            assert_eq!(tags.next_tag().expect_err("the end").kind, ErrorKind::Truncated);
        }
    }

    #[test]
    fn names_in_old_code_pages_and_with_escapes() {
        assert_eq!(decoded(b"Fl\xe4che"), "Fl\u{e4}che");
        assert_eq!(decoded(br"5 \U+00B5m \U+zz"), "5 \u{b5}m \\U+zz");
    }
}
