//! What a file is by its first bytes, so that a wrong one is called by its name and not taken for a broken right one.

/// Bytes of a file that are looked at.
const HEAD: usize = 4096;

/// Kinds of files that get mixed up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// PNG, JPEG, GIF, TIFF, BMP or WebP.
    Picture,
    /// PDF.
    Pdf,
    /// xlsx, docx, ods: they are all ZIP archives.
    Office,
    /// Compressed by gzip.
    Compressed,
    /// DWG.
    Dwg,
    /// GDSII stream.
    Gdsii,
    /// OASIS.
    Oasis,
    /// Text in UTF-16.
    Utf16,
    /// DXF, text or binary.
    Dxf,
    /// SVG.
    Svg,
    /// HTML, or XML that is not SVG.
    Xml,
    /// JSON.
    Json,
    /// Rows of values with commas, semicolons or tabs between them.
    Table,
}

/// Beginnings of binary files.
const BEGINNINGS: [(&[u8], FileKind); 18] = [
    (b"\x89PNG\r\n\x1a\n", FileKind::Picture),
    (b"\xff\xd8\xff", FileKind::Picture),
    (b"GIF8", FileKind::Picture),
    (b"II*\0", FileKind::Picture),
    (b"MM\0*", FileKind::Picture),
    (b"BM", FileKind::Picture),
    (b"RIFF", FileKind::Picture),
    (b"%PDF", FileKind::Pdf),
    (b"PK\x03\x04", FileKind::Office),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", FileKind::Office),
    (b"\x1f\x8b", FileKind::Compressed),
    (b"AC10", FileKind::Dwg),
    // A record of six bytes, the header, with a number of two bytes.
    (b"\0\x06\0\x02", FileKind::Gdsii),
    (b"%SEMI-OASIS", FileKind::Oasis),
    (b"\xff\xfe", FileKind::Utf16),
    (b"\xfe\xff", FileKind::Utf16),
    (b"AutoCAD Binary DXF", FileKind::Dxf),
    (b"{", FileKind::Json),
];

impl FileKind {
    /// From the bytes of a file; `None` if it is none of these, or no file at all.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let begins = BEGINNINGS.iter().find(|(beginning, _)| bytes.starts_with(beginning));
        let head = &bytes[..bytes.len().min(HEAD)];
        // Whole lines only.
        let end = head.iter().rposition(|byte| *byte == b'\n').filter(|_| bytes.len() > HEAD).unwrap_or(head.len());
        begins.map(|(_, kind)| *kind).or_else(|| Self::of_text(&head[..end]))
    }

    fn of_text(head: &[u8]) -> Option<Self> {
        let text = String::from_utf8_lossy(head);
        let text = text.trim_start_matches('\u{feff}').trim_start();
        let lower = text.to_ascii_lowercase();
        if lower.starts_with('<') {
            return Some(if lower.contains("<svg") { Self::Svg } else { Self::Xml });
        }
        // Pairs of lines: a number, and what it says. Remarks have the number 999.
        let rows = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
        let first = rows.clone().next()?;
        if ["0", "999"].contains(&first) && rows.clone().any(|line| line == "SECTION") {
            return Some(Self::Dxf);
        }
        let separator = [',', ';', '\t'].into_iter().find(|c| first.contains(*c))?;
        let cells = |row: &str| row.matches(separator).count();
        let is_table = rows.take(8).all(|row| !row.contains(['=', '[', '{']) && cells(row) == cells(first));
        is_table.then_some(Self::Table)
    }

    /// How it is called.
    pub fn words(self) -> &'static str {
        match self {
            Self::Picture => "a picture",
            Self::Pdf => "a PDF",
            Self::Office => "a spreadsheet or another office document",
            Self::Compressed => "a compressed file",
            Self::Dwg => "a drawing in DWG",
            Self::Gdsii => "a layout in GDSII",
            Self::Oasis => "a layout in OASIS",
            Self::Utf16 => "a text in UTF-16",
            Self::Dxf => "a drawing in DXF",
            Self::Svg => "a drawing in SVG",
            Self::Xml => "a page in HTML or XML",
            Self::Json => "JSON",
            Self::Table => "a table (CSV)",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_known_by_their_beginning() {
        let of = |bytes: &[u8]| FileKind::of(bytes);
        assert_eq!(of(b"\x89PNG\r\n\x1a\n\0\0"), Some(FileKind::Picture));
        assert_eq!(of(b"AC1032\0\0"), Some(FileKind::Dwg));
        assert_eq!(of(b"\0\x06\0\x02\x02X"), Some(FileKind::Gdsii));
        assert_eq!(of(b"PK\x03\x04\x14"), Some(FileKind::Office));
        assert_eq!(of(b"\xff\xfen\0a\0"), Some(FileKind::Utf16));
        assert_eq!(of(b"999\nremark\n  0\nSECTION\n  2\nHEADER\n"), Some(FileKind::Dxf));
        assert_eq!(of(b"<?xml version=\"1.0\"?>\n<svg xmlns=\"a\">"), Some(FileKind::Svg));
        assert_eq!(of(b"<!DOCTYPE html>"), Some(FileKind::Xml));
        assert_eq!(of(b"lower_um,upper_um,amount\n0.1,0.2,3\n"), Some(FileKind::Table));
        assert_eq!(of(b"# a remark\na;b\n1,5;2\n"), Some(FileKind::Table));
        for scenario in
            ["", "name = \"a, b\"\n", "# a, b\n[flow]\ncarrier_sccm = 10\n", "points = [1, 2]\n", "a, b = 3\n"]
        {
            assert_eq!(of(scenario.as_bytes()), None, "{scenario}");
        }
        // A table longer than what is looked at.
        let long: String = (0..2000).map(|k| format!("{k},{k},1\n")).collect();
        assert_eq!(of(long.as_bytes()), Some(FileKind::Table));
    }
}
