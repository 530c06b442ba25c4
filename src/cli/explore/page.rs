//! The page: files that the program holds.

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

const FILES: &[PageFile] = files!["page.css", "main.js"];

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

/// A file of the page.
pub(super) fn file(name: &str) -> Option<&'static PageFile> {
    FILES.iter().find(|file| file.name == name)
}
