//! The page of `motefall explore`: who is answered, and what a person sees who turns its dials, in a real browser.

mod explore {
    mod browser;
    mod guard;
    mod page;
    mod server;
}
