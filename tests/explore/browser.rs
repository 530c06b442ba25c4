//! A browser without a window, on the page.

use super::server::Server;
use headless_chrome::types::PrintToPdfOptions;
use headless_chrome::{Browser, LaunchOptions, Tab};
use serde_json::Value;
use std::ffi::OsStr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long a page may take for what it is waited for.
const PATIENCE: Duration = Duration::from_secs(90);

/// Where browsers of this kind lie on usual systems; MOTEFALL_BROWSER names another.
const PLACES: [&str; 6] = [
    "/usr/bin/chromium",
    "/usr/bin/chromium-browser",
    "/usr/bin/google-chrome",
    "/usr/local/bin/chromium",
    "/snap/bin/chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
];

/// A browser without a window.
fn browser() -> Browser {
    let named = std::env::var_os("MOTEFALL_BROWSER").map(PathBuf::from);
    let path = named.or_else(|| PLACES.map(PathBuf::from).into_iter().find(|place| place.exists()));
    let path =
        path.expect("these tests need Chromium; `.ci/run` installs it on Debian, MOTEFALL_BROWSER names another place");
    let options = LaunchOptions {
        path: Some(path),
        // Test machines are often containers, in which the browser's own sandbox cannot be set up.
        sandbox: false,
        window_size: Some((1280, 1400)),
        idle_browser_timeout: 2 * PATIENCE,
        args: vec![OsStr::new("--disable-dev-shm-usage")],
        ..LaunchOptions::default()
    };
    Browser::new(options).expect("the browser starts")
}

/// Prints files as pages of some width and height (inches): how many pages each takes.
pub(crate) fn pages_of(files: &[PathBuf], [width, height]: [f64; 2]) -> Vec<usize> {
    let browser = browser();
    let tab = browser.new_tab().expect("a tab");
    let paper = || PrintToPdfOptions { paper_width: Some(width), paper_height: Some(height), ..Default::default() };
    let pages = |file: &PathBuf| {
        let address = format!("file://{}", file.display());
        tab.navigate_to(&address).and_then(|tab| tab.wait_until_navigated()).expect("it opens");
        let printed = tab.print_to_pdf(Some(paper())).expect("it is printed");
        // Each page is an object of the type /Page; the list of them is /Pages.
        let kinds = printed.windows(12).filter(|part| part.starts_with(b"/Type /Page"));
        kinds.filter(|part| !part[11].is_ascii_alphabetic()).count()
    };
    files.iter().map(pages).collect()
}

/// The page in a browser.
pub(crate) struct Page {
    tab: Arc<Tab>,
    _browser: Browser,
}

impl Page {
    /// Opens the page of a server, and waits until it shows the scenario.
    pub(crate) fn open(server: &Server) -> Self {
        let browser = browser();
        let tab = browser.new_tab().expect("a tab");
        tab.set_default_timeout(PATIENCE);
        tab.navigate_to(&server.address()).expect("an address");
        let page = Self { tab, _browser: browser };
        page.wait("document.body?.dataset.state === 'ready'");
        page
    }

    /// What an expression gives.
    pub(crate) fn tell(&self, expression: &str) -> Value {
        // As text, so that objects arrive whole.
        let wrapped = format!("JSON.stringify(({expression}) ?? null)");
        let told = self.tab.evaluate(&wrapped, true).unwrap_or_else(|error| panic!("{expression}: {error}"));
        let text = told.value.as_ref().and_then(Value::as_str).unwrap_or_else(|| panic!("{expression}: {told:?}"));
        serde_json::from_str(text).expect("JSON")
    }

    /// The text of an element.
    pub(crate) fn text(&self, selector: &str) -> String {
        let told = self.tell(&format!("document.querySelector({selector:?})?.textContent"));
        told.as_str().unwrap_or_else(|| panic!("there is no {selector}")).replace('\u{a0}', " ")
    }

    /// Waits until an expression holds.
    pub(crate) fn wait(&self, expression: &str) {
        let began = Instant::now();
        while self.tell(expression) != Value::Bool(true) {
            let seen = || self.tell("document.body.innerText.slice(0, 1500)");
            assert!(began.elapsed() < PATIENCE, "waited in vain for {expression}; the page says: {}", seen());
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Types a value into a dial, as a person does.
    pub(crate) fn turn(&self, key: &str, value: &str) {
        let dial = format!("document.querySelector('input[data-key={key:?}]')");
        self.tell(&format!(
            "(() => {{ const dial = {dial}; dial.value = {value:?}; for (const kind of ['input', 'change']) \
             dial.dispatchEvent(new Event(kind, {{ bubbles: true }})); return true; }})()"
        ));
    }

    /// The same, and waits for map and figures.
    pub(crate) fn turn_and_wait(&self, key: &str, value: &str) {
        let asked = self.tell("+document.body.dataset.ask").as_f64().expect("a number");
        self.turn(key, value);
        self.wait(&format!("document.body.dataset.state === 'ready' && +document.body.dataset.ask > {asked}"));
    }

    /// Clicks an element.
    pub(crate) fn click(&self, selector: &str) {
        let told = self
            .tell(&format!("(document.querySelector({selector:?})?.click(), !!document.querySelector({selector:?}))"));
        assert_eq!(told, Value::Bool(true), "there is no {selector}");
    }

    /// Types a text into a field, key by key.
    pub(crate) fn keys(&self, selector: &str, text: &str) {
        let field = self.tab.find_element(selector).unwrap_or_else(|error| panic!("{selector}: {error}"));
        field.click().expect("it can be clicked");
        self.tab.type_str(text).expect("keys");
    }

    /// Puts a text into a field.
    pub(crate) fn fill(&self, selector: &str, text: &str) {
        self.tell(&format!(
            "(() => {{ const field = document.querySelector({selector:?}); field.value = {text:?}; \
             field.dispatchEvent(new Event('input', {{ bubbles: true }})); field.dispatchEvent(new Event('change', {{ bubbles: true }})); return true; }})()"
        ));
    }

    /// The same once it rests: a finer map, and the place of particles, come later.
    pub(crate) fn settled_map(&self) -> String {
        let began = Instant::now();
        let mut map = self.map();
        loop {
            std::thread::sleep(Duration::from_millis(1500));
            let next = self.map();
            if next == map {
                return map;
            }
            assert!(began.elapsed() < PATIENCE, "the map does not come to rest");
            map = next;
        }
    }

    /// Something that changes when the map does.
    pub(crate) fn map(&self) -> String {
        self.tell("document.querySelector('#map').toDataURL()").as_str().expect("a picture").to_owned()
    }
}
