//! Bench sheets on paper.

use super::browser::pages_of;
use assert_cmd::Command;
use std::path::{Path, PathBuf};

/// Inches.
const A4: [f64; 2] = [210.0 / 25.4, 297.0 / 25.4];
const LETTER: [f64; 2] = [8.5, 11.0];
const HALF_A4: [f64; 2] = [210.0 / 25.4, 148.0 / 25.4];

/// The sheet of each shipped scenario is one page, on A4 and on letter. On half a page each is more: pages are counted indeed.
#[test]
fn a_sheet_is_one_page() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sheet = |name: &str| -> PathBuf {
        let (scenario, sheet) = (format!("scenarios/{name}.toml"), folder.path().join(format!("{name}.html")));
        Command::new(env!("CARGO_BIN_EXE_motefall"))
            .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")))
            .env("MOTEFALL_CACHE", env!("CARGO_TARGET_TMPDIR"))
            .args(["sheet", &scenario, "--quiet", "--out"])
            .arg(&sheet)
            .assert()
            .success();
        sheet
    };
    let sheets = ["first-line", "sodium-chip", "usual-mist-chip", "two-electrode-cell", "foil-coupon"].map(sheet);
    assert_eq!(pages_of(&sheets, A4), [1; 5]);
    assert_eq!(pages_of(&sheets, LETTER), [1; 5]);
    assert!(pages_of(&sheets, HALF_A4).iter().all(|pages| *pages > 1));
}
