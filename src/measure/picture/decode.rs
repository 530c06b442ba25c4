//! From the bytes of a file to grey values.

use super::pixels::Picture;
use super::{png_file, tiff_file};
use crate::error::MeasureError;
use motefall_files::file_kind::FileKind;

/// Reads a PNG or a TIFF.
pub(crate) fn decode(bytes: &[u8]) -> Result<Picture, MeasureError> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        return png_file::decode(bytes);
    }
    if [&b"II*\0"[..], b"MM\0*", b"II+\0", b"MM\0+"].iter().any(|start| bytes.starts_with(start)) {
        return tiff_file::decode(bytes);
    }
    let (what, remedy) = match FileKind::of(bytes) {
        _ if bytes.is_empty() => ("it is empty".into(), "save the picture again"),
        Some(FileKind::Picture) if bytes.starts_with(b"\xff\xd8\xff") => (
            "it is a JPEG, which changes grey values near every edge".into(),
            "save the picture anew from the microscope as one of these",
        ),
        Some(FileKind::Picture) => ("it is a picture of another format".into(), "save it as one of these"),
        Some(FileKind::Table) => (
            "it is a table, not a picture".into(),
            "give a trace of a profilometer a name that ends with .csv, and a picture as a picture",
        ),
        Some(kind) => (format!("it is {}, not a picture", kind.words()), "export the picture itself"),
        None => ("it is no picture".into(), "save the picture as one of these"),
    };
    Err(MeasureError::NotAPicture { what, remedy })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_files_are_called_by_their_name() {
        let words = |bytes: &[u8]| decode(bytes).expect_err("no picture").to_string();
        assert!(words(b"").starts_with("it is empty"));
        assert!(words(b"\xff\xd8\xff\xe0").contains("JPEG"));
        assert!(words(b"%PDF-1.7").contains("it is a PDF, not a picture"));
        assert!(words(b"a,b\n1,2\n").contains("table"));
        assert!(words(b"hello").contains("it is no picture"));
    }
}
