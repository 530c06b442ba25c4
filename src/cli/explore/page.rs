//! The page: files that the program holds.

use motefall_output::explore;

/// A file of the page and its kind.
pub(super) struct PageFile {
    pub(super) name: &'static str,
    pub(super) kind: &'static str,
    pub(super) text: &'static str,
}

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        &[$(PageFile { name: $name, kind: kind($name), text: include_str!(concat!("page/", $name)) }),*]
    };
}

/// What stands for the secret in the page.
const TOKEN: &str = "{{token}}";

const INDEX: &str = include_str!("page/index.html");

const FILES: &[PageFile] = files![
    "ask.js",
    "canvas.js",
    "charts.js",
    "colours.js",
    "details.js",
    "dials.js",
    "dom.js",
    "figures.js",
    "files.js",
    "jobs.js",
    "knobs.js",
    "limits.js",
    "lines.js",
    "main.js",
    "map-hand.js",
    "map-panel.js",
    "map.js",
    "page.css",
    "particles.js",
    "pins.js",
    "plans.js",
    "prints.js",
    "results.js",
    "state.js",
    "turned.js",
    "verdict.js",
    "words.js",
];

const fn kind(name: &str) -> &'static str {
    match name.as_bytes() {
        [.., b'c', b's', b's'] => "text/css; charset=utf-8",
        _ => "text/javascript; charset=utf-8",
    }
}

/// The page itself.
pub(super) fn index(token: &str) -> String {
    INDEX.replace(TOKEN, token)
}

/// The colours, which it shares with reports.
const COLOURS: PageFile = PageFile { name: "colours.css", kind: kind("colours.css"), text: explore::COLOURS };

/// A file of the page.
pub(super) fn file(name: &str) -> Option<&'static PageFile> {
    FILES.iter().chain([&COLOURS]).find(|file| file.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn every_file_of_the_page_is_held_and_every_module_that_is_asked_for() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/cli/explore/page");
        let names = std::fs::read_dir(folder).expect("the page").map(|entry| entry.expect("a file").file_name());
        for name in names.filter(|name| name != "index.html") {
            assert!(file(&name.to_string_lossy()).is_some(), "{name:?} is missing in FILES");
        }
        let asked = FILES.iter().flat_map(|file| file.text.split("from \"./").skip(1));
        for module in asked.filter_map(|rest| rest.split('"').next()) {
            assert!(file(module).is_some(), "there is no {module}");
        }
        assert!(index("abc").contains("content=\"abc\"") && !index("abc").contains(TOKEN));
    }
}
